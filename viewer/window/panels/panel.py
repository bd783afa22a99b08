"""What every panel is: a place, a sheet, and nothing drawn again that has not changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from viewer.window.layout import Box, Sizes

if TYPE_CHECKING:
    from viewer.window.sheet import Words


class Panel:
    """`place` lays out what stays; a subclass's `show` moves what moves; `draw` draws both."""

    def __init__(self) -> None:
        from viewer.window.sheet import Sheet  # here, for it needs a screen as soon as it is imported

        self.sheet = Sheet()
        self.box = Box(0.0, 0.0, 0.0, 0.0)
        self.sizes = Sizes(1.0)
        self.says = True  # whether numbers follow: while a flight plays, ten times a second are enough to read
        self._shown: object = None

    def place(self, box: Box, sizes: Sizes) -> None:
        """Lay it out in `box`."""
        self.box, self.sizes, self._shown = box, sizes, None
        self.sheet.clear()
        if self.visible:
            self.lay_out()
            self.sheet.ground.lay()

    def lay_out(self) -> None:
        """Put what stays on the sheet."""
        raise NotImplementedError

    @property
    def visible(self) -> bool:
        """Whether it has a place."""
        return self.box.width >= 1.0 and self.box.height >= 1.0

    def changed(self, shown: object) -> bool:
        """Whether `shown` is other than at the last call since the panel was placed; False where it has no place."""
        if not self.visible or (shown, self.says) == self._shown:
            return False
        self._shown = (shown, self.says)
        return True

    def say(self, words: Words, text: str) -> None:
        """Let `words` say a number, where numbers follow now."""
        if self.says:
            words.say(text)

    def draw(self, size: tuple[float, float]) -> None:
        """Draw it into a framebuffer of `size` pixels."""
        if self.visible:
            self.sheet.draw(size)

    def delete(self) -> None:
        """Give its memory back."""
        self.sheet.delete()
