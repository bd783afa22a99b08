"""A line of text: what flies, drawn with the line that stands for it."""

from __future__ import annotations

from viewer.window import theme
from viewer.window.panels.panel import Panel


class HeadingPanel(Panel):
    """The names of one or two flights beside a piece of their line, and a note on the right."""

    def __init__(self) -> None:
        super().__init__()
        self.flights: list[str] = []
        self.note = ""

    def name(self, flights: list[str], note: str = "") -> None:
        """Say what flies; laid out at once."""
        self.flights, self.note = flights, note
        self.place(self.box, self.sizes)

    def lay_out(self) -> None:
        """Names from the left, the note to the right."""
        sizes, sheet, box = self.sizes, self.sheet, self.box
        sheet.ground.rectangle(box, theme.PAPER)
        sheet.ground.rectangle(box.split_top(box.height - 1)[1], theme.EDGE)
        y, sample = box.centre[1], sizes.px(34)
        note = sheet.words(
            self.note, box.right - sizes.gap, y, sizes.small, theme.FAINT_TEXT, "right", within=box.width / 3
        )
        room = (box.width - note.width - 3 * sizes.gap) / max(1, len(self.flights))
        x = box.x + sizes.gap
        for i, name in enumerate(self.flights):
            colour, dash = ((theme.FIRST, 0.0), (theme.SECOND, sizes.px(6)))[min(i, 1)]
            sheet.ground.line([(x, y), (x + sample, y)], colour, 2 * sizes.line, dash)
            start = x + sample + sizes.gap
            words = sheet.words(
                name, start, y, sizes.title, theme.TEXT, bold=True, within=room - sample - 2 * sizes.gap
            )
            x = start + words.width + 3 * sizes.gap
