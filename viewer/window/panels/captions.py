"""Words over the scene: what either flight does now, and names that belong to places in it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from viewer.window import theme
from viewer.window.layout import Box
from viewer.window.panels.panel import Panel

if TYPE_CHECKING:
    from viewer.window.sheet import Words


class NowPanel(Panel):
    """In the upper left corner of `box`: the phase, and a line of numbers a flight."""

    def __init__(self, flights: int = 1) -> None:
        super().__init__()
        self.flights = flights
        self.paper = Box(0.0, 0.0, 0.0, 0.0)

    def fly(self, flights: int) -> None:
        """For so many flights."""
        if flights != self.flights:
            self.flights = flights
            self.place(self.box, self.sizes)

    def lay_out(self) -> None:
        """Paper and a sample of each flight's line."""
        sizes, sheet = self.sizes, self.sheet
        step, gap, sample = sizes.px(19), sizes.gap, sizes.px(26)
        left, top = self.box.x + gap, self.box.top - gap
        width = min(sizes.px(282), self.box.width - 2 * gap)
        paper = self.paper = Box(left, top - (self.flights + 2) * step - gap, width, (self.flights + 2) * step + gap)
        sheet.ground.rectangle(paper, (*theme.PAPER, 215))
        lines = [top - gap / 2 - (i + 0.5) * step for i in range(self.flights + 2)]
        self._phase = sheet.words("", left + gap, lines[0], sizes.title, theme.TEXT, bold=True)
        self._numbers = []
        for i, y in enumerate(lines[1:-1]):
            colour, dash = ((theme.FIRST, 0.0), (theme.SECOND, sizes.px(5)))[min(i, 1)]
            if self.flights > 1:
                sheet.ground.line([(left + gap, y), (left + gap + sample, y)], colour, 1.3 * sizes.line, dash)
            start = left + gap + (sample + gap if self.flights > 1 else 0.0)
            self._numbers.append(sheet.words("", start, y, sizes.text, theme.TEXT))
        self._seen = sheet.words("", left + gap, lines[-1], sizes.tiny, theme.FAINT_TEXT)

    def show(self, phase: str, numbers: Sequence[str], seen: str) -> None:
        """The phase, what is said of each flight, and where it is seen from."""
        if not self.changed((phase, tuple(numbers), seen)):
            return
        self._phase.say(phase)
        self._seen.say(seen)
        for i, words in enumerate(self._numbers):
            self.say(words, numbers[i] if i < len(numbers) else "")


class PlacesPanel(Panel):
    """Names at places of the scene, on slips of paper; one that would cover another, or leave the view, is left out."""

    def __init__(self) -> None:
        super().__init__()
        self._pool: list = []

    def lay_out(self) -> None:
        """Nothing stays."""
        self._pool = []

    def show(self, labels: Sequence, covered: Sequence[Box] = ()) -> None:
        """`labels` have x, y (pixels), text and colour; what lies in `covered` cannot be seen."""
        if not self.visible:
            return
        size = self.sizes.tiny
        taken: list[Box] = []
        moving = self.sheet.moving
        moving.wipe()
        for label in reversed(labels):  # forces, which come last, before marks on the ground
            slip = Box(label.x + 0.4 * size, label.y + 0.3 * size, 0.64 * size * len(label.text), 1.3 * size)
            inside = self.box.contains(slip.x, slip.y) and self.box.contains(slip.right, slip.top)
            if not inside or any(slip.meets(other) for other in (*taken, *covered)):
                continue
            words = self._words(len(taken), label, slip)
            slip = Box(slip.x, slip.y, words.width + 0.6 * size, slip.height)
            moving.rectangle(slip, (*theme.PAPER, 190))
            taken.append(slip)
        moving.lay()
        for words in self._pool[len(taken) :]:
            words.move(-1e4, -1e4)

    def _words(self, index: int, label, slip: Box) -> Words:
        if index == len(self._pool):
            self._pool.append(self.sheet.words("", 0, 0, self.sizes.tiny, theme.TEXT))
        words = self._pool[index]
        if self.says or words.text.split()[:1] != label.text.split()[:1]:
            words.say(label.text)
        words.move(slip.x + 0.3 * self.sizes.tiny, slip.centre[1])
        words.tint(label.colour)
        return words
