"""What to fly, in order, as a table to print: how, what shows that all is well, when to go back, what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from viewer.card.paper import PLAIN, SMALL, Paper, filled, pitch, width

Flight = tuple[str, str, str, str, tuple[str, ...]]  # title, how, well, back, what is written down
SHARES = (0.355, 0.23, 0.235, 0.18)  # of the page: what to fly, well, back, found
PAD = 2.0  # mm, between two columns
HEAD = 4.6  # mm
INDENT = 5.5  # mm, behind the number


@dataclass(frozen=True)
class Order:
    """The table, measured: `height` mm."""

    page: Paper
    flights: Sequence[Flight]
    cells: list[tuple[list[str], ...]]
    heights: list[float]
    heads: tuple[str, ...]

    @property
    def height(self) -> float:
        return HEAD + sum(self.heights)

    def draw(self, y: float) -> float:
        """Put it on the page from y; where it ends."""
        page, wide = self.page, self.page.right - self.page.left
        starts = [page.left + wide * sum(SHARES[:n]) for n in range(4)]
        for x, head in zip(starts, self.heads):
            page.text(x, y + 3.2, head, PLAIN, True)
        page.line(page.left, y + 4.3, page.right, y + 4.3, 0.9)
        y += HEAD
        for n, (flight, cells, tall) in enumerate(zip(self.flights, self.cells, self.heights), 1):
            page.text(page.left, y + pitch() - 0.4, f"{n}", PLAIN, True)
            page.text(page.left + INDENT, y + pitch() - 0.4, flight[0], SMALL, True)
            for x, lines in zip((starts[0] + INDENT, *starts[1:]), cells):
                for row, line in enumerate(lines, 1):
                    behind = _title_wide(flight[0]) if row == 1 and x == starts[0] + INDENT else 0.0
                    page.text(x + behind, y + pitch() * row - 0.4, line)
            for row, what in enumerate(flight[4], 1):
                at = y + pitch() * row - 0.4
                page.text(starts[3], at, what)
                page.line(starts[3] + width(what) + 1.0, at + 0.5, page.right, at + 0.5, 0.5)
            y += tall
            page.line(page.left, y, page.right, y, 0.3)
        return y


def order_table(page: Paper, flights: Sequence[Flight], first: str = "In the air, in this order") -> Order:
    """The table of `flights`, not yet drawn."""
    wide = page.right - page.left
    rooms = [share * wide - PAD for share in SHARES]
    cells = []
    for title, how, well, back, _ in flights:
        behind = filled(how, rooms[0] - INDENT, first=_title_wide(title))
        cells.append((behind, filled(well, rooms[1]), filled(back, rooms[2])))
    heights = [pitch() * max(len(lines) for lines in row) + 0.9 for row in cells]
    heights = [max(tall, pitch() * len(flight[4]) + 1.0) for tall, flight in zip(heights, flights)]
    return Order(page, flights, cells, heights, (first, "well", "go back, land", "found"))


def _title_wide(title: str) -> float:
    """How far behind a title its words begin, mm."""
    return width(title, SMALL, True) + 1.2
