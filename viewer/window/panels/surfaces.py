"""How far the surfaces are deflected: each as a section seen from its side, turned about its hinge by the angle itself."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from viewer.window import theme
from viewer.window.panels.panel import Panel

NAMES = ("left aileron", "right aileron", "elevator", "rudder")
_RUDDER = 3
# a section of unit chord, nose to the left: upper and lower edge from the nose to the hinge, and the surface behind it
_HINGE = 0.58
_FIXED = np.array([(0.0, 0.0), (0.04, 0.05), (0.16, 0.085), (0.32, 0.09), (_HINGE, 0.06)])
_MOVING = np.array([(0.0, 0.06), (0.03, 0.055), (1.0 - _HINGE, 0.0), (0.03, -0.055), (0.0, -0.06), (-0.03, 0.0)])


def in_words(surface: int, degrees: float) -> str:
    """A deflection as pilots say it: "12.3 deg up", of the trailing edge."""
    size = f"{abs(degrees):.1f}"
    if float(size) == 0.0:
        return "0.0 deg"
    positive, negative = ("left", "right") if surface == _RUDDER else ("down", "up")
    return f"{size} deg {positive if degrees > 0.0 else negative}"


def turned(points: np.ndarray, degrees: float) -> np.ndarray:
    """Points (n, 2) about the hinge at 0, a positive deflection downwards on the picture."""
    s, c = math.sin(math.radians(-degrees)), math.cos(math.radians(-degrees))
    return points @ np.array([(c, s), (-s, c)])


class SurfacesPanel(Panel):
    """The four surfaces; the second flight's as a dashed line from the hinge."""

    def lay_out(self) -> None:
        """A section and its name for each, and room for the numbers."""
        sizes, sheet = self.sizes, self.sheet
        sheet.ground.rectangle(self.box, theme.PAPER)
        sheet.ground.rectangle(self.box.split_top(1)[0], theme.EDGE)
        inner = self.box.inset(sizes.gap, sizes.px(5))
        self._hinges, self._values = [], []
        for name, row in zip(NAMES, inner.rows(4)):
            picture, words = row.split_left(0.40 * row.width)
            chord = min(0.95 * picture.width, 2.0 * picture.height)
            nose = np.array([picture.x + sizes.px(2), picture.centre[1]])
            outline = np.concatenate([_FIXED, _FIXED[::-1] * (1, -1)])
            sheet.ground.polygon(nose + chord * outline, theme.SURFACE)
            hinge = nose + chord * np.array([_HINGE, 0.0])
            reach = chord * (1.0 - _HINGE)
            sheet.ground.line([hinge, hinge + (reach, 0.0)], theme.EDGE, 1.0, sizes.px(3))
            self._hinges.append((hinge, chord))
            upper, lower = words.inset(0.0, 0.06 * words.height).rows(2)
            seen = "rudder, from above" if name == "rudder" else name
            sheet.words(seen, upper.x, upper.centre[1], sizes.tiny, theme.TEXT, within=upper.width)
            y = lower.centre[1]
            first = sheet.words("", lower.x, y, sizes.tiny, theme.FIRST, bold=True)
            self._values.append((first, sheet.words("", lower.right, y, sizes.tiny, theme.SECOND, "right")))

    def show(self, degrees: Sequence[float], second: Sequence[float] | None = None) -> None:
        """Show left aileron, right aileron, elevator, rudder in degrees (ISO 1151 signs), of one or two flights."""
        flights = [[round(float(v), 1) for v in s] for s in (degrees, second) if s is not None]
        if not self.changed(flights):
            return
        moving, sizes = self.sheet.moving, self.sizes
        moving.wipe()
        for i, (hinge, chord) in enumerate(self._hinges):
            moving.polygon(hinge + turned(chord * _MOVING, flights[0][i]), theme.FIRST)
            moving.disk(*hinge, sizes.px(2), theme.TEXT)
            if len(flights) > 1:
                end = hinge + turned(chord * np.array([(1.06 - _HINGE, 0.0)]), flights[1][i])[0]
                moving.line([hinge, end], theme.SECOND, sizes.line, sizes.px(4))
            for shown, flight in zip(self._values[i], flights):
                text = in_words(i, flight[i])
                self.say(shown, text if len(flights) == 1 else text.replace(" deg", "\u00b0"))
        moving.lay()
