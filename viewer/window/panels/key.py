"""What the colours, patterns and arrows of the scene mean: a swatch and a sentence for each that is switched on."""

from __future__ import annotations

from viewer.scene.legend import GROUND, KEY, swatch
from viewer.window import theme
from viewer.window.layout import Box
from viewer.window.panels.panel import Panel

SENTENCES = {**KEY, "ground": GROUND}


class KeyPanel(Panel):
    """Laid out in the lower left corner of `box`, no larger than it needs to be."""

    def __init__(self) -> None:
        super().__init__()
        self.names: tuple[str, ...] = ()
        self.paper = self.box

    def name(self, names: tuple[str, ...]) -> None:
        """Explain these, in this order; the keys of `SENTENCES`."""
        if names != self.names:
            self.names = names
            self.place(self.box, self.sizes)

    def lay_out(self) -> None:
        """Paper, swatches, sentences."""
        sizes, sheet = self.sizes, self.sheet
        step, wide, gap = sizes.px(17), sizes.px(32), sizes.gap
        left, bottom = self.box.x + gap, self.box.y + gap
        width = 0.0
        for i, name in enumerate(reversed(self.names)):
            y = bottom + gap / 2 + (i + 0.5) * step
            words = sheet.words(SENTENCES[name], left + wide + 2 * gap, y, sizes.tiny, theme.TEXT)
            words.fit(self.box.width - wide - 5 * gap)
            width = max(width, wide + 3 * gap + words.width)
        self.paper = Box(left, bottom, width, len(self.names) * step + gap if self.names else 0.0)
        sheet.ground.rectangle(self.paper, (*theme.PAPER, 215))
        tall = sizes.px(11)
        for i, name in enumerate(reversed(self.names)):
            y = round(bottom + gap / 2 + (i + 0.5) * step - tall / 2)
            sheet.shapes(swatch(name, left + gap, y, wide, tall))
