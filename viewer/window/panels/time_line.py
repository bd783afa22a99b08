"""The time line: the whole flight as a bar, pulled with the mouse; where phases begin, and how far either flight reaches."""

from __future__ import annotations

from collections.abc import Sequence

from viewer.window import theme
from viewer.window.layout import Box
from viewer.window.panels.time_axis import TimeAxisPanel


class TimeLinePanel(TimeAxisPanel):
    """`mark` once, `show` every frame."""

    def __init__(self) -> None:
        super().__init__()
        self.spans: Sequence[tuple[float, float]] = ()
        self.marks: Sequence[float] = ()

    def mark(self, start: float, end: float, spans: Sequence[tuple[float, float]], marks: Sequence[float] = ()) -> None:
        """Time from `start` to `end`; each flight's (start, end); the times that phases begin at."""
        self.reach(start, end)
        self.spans, self.marks = spans, marks
        self.place(self.box, self.sizes)

    def lay_out(self) -> None:
        """The bar, the flights on it, the phases."""
        sizes, sheet, box = self.sizes, self.sheet, self.box
        ground = sheet.ground
        ground.rectangle(box, theme.PAPER)
        ground.rectangle(box.split_top(1)[0], theme.EDGE)
        left, right = self._plot
        y = box.centre[1]
        half = sizes.px(5)
        ground.rectangle(Box(left, round(y - half), right - left, 2 * half), theme.PAPER_2)
        for i, (start, end) in enumerate(self.spans):
            at = y if len(self.spans) == 1 else y + (half / 2 if i == 0 else -half / 2)
            colour, dash = ((theme.FIRST, 0.0), (theme.SECOND, sizes.px(6)))[min(i, 1)]
            ground.line([(self.x_at(start), at), (self.x_at(end), at)], colour, 1.2 * sizes.line, dash)
        ground.frame(Box(left, round(y - half), right - left, 2 * half), theme.EDGE, 1)
        for time in self.marks:
            ground.rectangle(Box(round(self.x_at(time)), round(y - half - 2), 1, 2 * half + 4), theme.FAINT_TEXT)
        self._time = sheet.words("", box.x + sizes.gap, y, sizes.title, theme.TEXT, bold=True)
        self._words = sheet.words("", box.right - sizes.gap, y, sizes.small, theme.TEXT, "right")

    def show(self, time: float, words: str = "") -> None:
        """Put the knob at `time` (s); `words` stand behind the line."""
        if not self.changed((round(float(time), 3), words)):
            return
        sizes, moving = self.sizes, self.sheet.moving
        x, y = self.x_at(time), self.box.centre[1]
        half = sizes.px(10)
        moving.wipe()
        moving.polygon([(x, y - half), (x + 0.7 * half, y), (x, y + half), (x - 0.7 * half, y)], theme.CURSOR)
        moving.lay()
        self.say(self._time, f"{time:.2f} s")
        self._words.say(words)
