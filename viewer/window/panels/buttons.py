"""Buttons that show their keys, so that they are the list of keys as well."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from viewer.window import theme
from viewer.window.layout import Box
from viewer.window.panels.panel import Panel


@dataclass(frozen=True)
class Button:
    """A key cap, what it does in words, and the name by which it is known."""

    cap: str
    words: str
    name: str


class ButtonsPanel(Panel):
    """Groups of buttons in `columns`, a heading over each group that has one; switched on, they are filled and ticked."""

    def __init__(self, columns: int = 2, tallest: float = 24.0) -> None:
        super().__init__()
        self.columns, self.tallest = columns, tallest
        self.groups: Sequence[tuple[str, Sequence[Button]]] = ()
        self._boxes: dict[str, Box] = {}

    def offer(self, groups: Sequence[tuple[str, Sequence[Button]]]) -> None:
        """Show these buttons, as (heading, buttons)."""
        self.groups = groups
        self.place(self.box, self.sizes)

    def name_at(self, x: float, y: float) -> str | None:
        """The button at a point."""
        if not self.visible:
            return None
        return next((name for name, box in self._boxes.items() if box.contains(x, y)), None)

    def lay_out(self) -> None:
        """Keys, words, frames."""
        sizes, sheet = self.sizes, self.sheet
        sheet.ground.rectangle(self.box, theme.PAPER)
        sheet.ground.rectangle(self.box.split_top(1)[0], theme.EDGE)
        self._boxes, self._labels, self._room, self._said = {}, {}, {}, {}
        inner = self.box.inset(sizes.gap, sizes.px(4))
        gap = sizes.px(3)
        rows = sum(-(-len(buttons) // self.columns) for _, buttons in self.groups)
        heading = sizes.px(14)
        headings = sum(bool(title) for title, _ in self.groups)
        fits = (inner.height - headings * heading) / max(1, rows) - gap
        height = max(1.0, min(sizes.px(self.tallest), fits))
        top = inner.top
        for title, buttons in self.groups:
            if title:
                sheet.words(title, inner.x, top - heading / 2, sizes.tiny, theme.FAINT_TEXT)
                top -= heading
            for i in range(0, len(buttons), self.columns):
                row = Box(inner.x, round(top - height), inner.width, height)
                for button, cell in zip(buttons[i : i + self.columns], row.columns(self.columns, gap)):
                    self._button(button, cell)
                top -= height + gap

    def _button(self, button: Button, cell: Box) -> None:
        sizes, sheet = self.sizes, self.sheet
        self._boxes[button.name] = cell
        size = min(sizes.small, 0.72 * cell.height)
        y = cell.centre[1]
        key = sheet.words(button.cap, cell.x + sizes.px(5), y, size, theme.FAINT_TEXT, bold=True)
        start = cell.x + sizes.px(5) + max(sizes.px(14), key.width + sizes.px(5))
        label = sheet.words(button.words, start, y, size, theme.TEXT, within=cell.right - start - sizes.px(2))
        self._room[button.name] = cell.right - start - sizes.px(2)
        self._labels[button.name] = (key, label)

    def relabel(self, name: str, words: str) -> None:
        """Say something else on a button."""
        if self.visible and name in self._labels:
            label, room = self._labels[name][1], self._room[name]
            if self._said.get(name) != words:
                self._said[name] = words
                label.say(words)
                label.fit(room)

    def show(self, on: Collection[str]) -> None:
        """Show which are switched on."""
        if not self.changed(frozenset(on)):
            return
        moving = self.sheet.moving
        moving.wipe()
        for name, box in self._boxes.items():
            lit = name in on
            moving.rectangle(box, theme.ON if lit else theme.PAPER_2)
            moving.frame(box, theme.ON if lit else theme.EDGE, 1)
            key, label = self._labels[name]
            key.tint(theme.ON_TEXT if lit else theme.FAINT_TEXT)
            label.tint(theme.ON_TEXT if lit else theme.TEXT)
        moving.lay()
