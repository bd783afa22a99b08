"""What the time line and the strip chart share: an axis of time between two pixel columns."""

from __future__ import annotations

from viewer.window.layout import Box, Sizes
from viewer.window.panels.panel import Panel


class TimeAxisPanel(Panel):
    """Time runs from `start` to `end` between two pixel columns."""

    def __init__(self) -> None:
        super().__init__()
        self.start, self.end = 0.0, 1.0
        self._plot = (0.0, 1.0)

    def place_plot(self, box: Box, sizes: Sizes, left: float, right: float) -> None:
        """Lay it out in `box`, time running from `left` to `right`."""
        self._plot = (left, right)
        self.place(box, sizes)

    def reach(self, start: float, end: float) -> None:
        """Time runs from `start` to `end`."""
        self.start, self.end = start, max(end, start + 1e-6)

    def x_at(self, time: float) -> float:
        """The pixel column of a time."""
        left, right = self._plot
        return left + (right - left) * (time - self.start) / (self.end - self.start)

    def time_at(self, x: float) -> float:
        """The time of a pixel column, within the axis."""
        left, right = self._plot
        return self.start + (self.end - self.start) * min(1.0, max(0.0, (x - left) / (right - left)))
