"""Panels of the hands-on window: the readings a pilot glances at, what can be turned, and the sheet over the view."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sim.recording import INDEX
from viewer.hands_on.knobs import Knob
from viewer.hands_on.wizard import Seen
from viewer.text import WIDTH, number
from viewer.window import theme
from viewer.window.layout import Box
from viewer.window.panels.panel import Panel

READINGS = ("airspeed", "height", "climb", "throttle", "alpha", "load")


def readings(row: np.ndarray) -> dict[str, str]:
    """What the readings say of a row of the record."""

    def value(name: str, factor: float = 1.0) -> float:
        return factor * float(row[INDEX[name]])

    degrees = math.degrees(1.0)
    return {
        "airspeed": f"{value('airspeed'):.1f} m/s",
        "height": f"{number(value('height'), 'm', 0)} m",
        "climb": _signed(value("climb rate"), 1, "m/s"),
        "throttle": f"{value('throttle', 100.0):.0f} %",
        "alpha": _signed(value("alpha", degrees), 1, "deg"),
        "load": _signed(value("load z"), 1, "g"),
    }


def _signed(value: float, decimals: int, unit: str) -> str:
    text = f"{value:+.{decimals}f}"
    return f"{'0.0' if float(text) == 0.0 else text} {unit}"


class ReadingsPanel(Panel):
    """Six numbers in a row, large enough to be read at a glance, and the time on the left."""

    def lay_out(self) -> None:
        """Names above, values below."""
        sizes, sheet = self.sizes, self.sheet
        sheet.ground.rectangle(self.box, theme.PAPER)
        sheet.ground.rectangle(self.box.split_top(1)[0], theme.EDGE)
        self._values = {}
        for name, cell in zip(("time", *READINGS), self.box.inset(sizes.gap, 0).columns(len(READINGS) + 1, sizes.gap)):
            upper, lower = cell.split_top(0.4 * cell.height)
            sheet.words(name, cell.x, upper.centre[1], sizes.tiny, theme.FAINT_TEXT)
            size = min(sizes.px(19), cell.width / 6.0)  # as wide as "+17.9 deg"
            self._values[name] = sheet.words("", cell.x, lower.centre[1], size, theme.TEXT, bold=True)

    def show(self, time: float, said: dict[str, str]) -> None:
        """Say them."""
        if not self.says or not self.changed((round(time, 1), tuple(said.items()))):
            return
        self._values["time"].say(f"{int(time // 60)}:{time % 60:04.1f}")
        for name, text in said.items():
            self._values[name].say(text)


class KnobsPanel(Panel):
    """What can be turned: a line each, the chosen one filled; switches below."""

    def __init__(self) -> None:
        super().__init__()
        self._rows: tuple[str, ...] = ()

    def _room(self) -> tuple[Box, float]:
        """Where the lines stand, and how high one is."""
        rest = self.box.inset(self.sizes.gap, self.sizes.px(4)).split_top(self.sizes.px(18))[1]
        return rest, min(self.sizes.px(19), rest.height / max(1, len(self._rows)))

    def lay_out(self) -> None:
        """The names."""
        sizes, sheet = self.sizes, self.sheet
        sheet.ground.rectangle(self.box, theme.PAPER)
        sheet.ground.rectangle(self.box.split_top(1)[0], theme.EDGE)
        rest, height = self._room()
        size = min(sizes.small, 0.75 * height)
        sheet.words("set up in flight", rest.x, rest.top + sizes.px(9), sizes.tiny, theme.FAINT_TEXT)
        self._lines = []
        for n, words in enumerate(self._rows):
            y = rest.top - (n + 0.5) * height
            label = sheet.words(words, rest.x + sizes.px(4), y, size, theme.TEXT, within=0.72 * rest.width)
            value = sheet.words("", rest.right - sizes.px(4), y, size, theme.TEXT, "right", bold=True)
            self._lines.append((label, value))

    def show(self, knobs: Sequence[Knob], chosen: int, switches: Sequence[tuple[str, str]]) -> None:
        """Show the knobs, and switches as (name, position)."""
        rows = (*(knob.words for knob in knobs), *(name for name, _ in switches))
        if rows != self._rows:
            self._rows = rows
            self.place(self.box, self.sizes)
        values = [*(knob.text for knob in knobs), *(at for _, at in switches)]
        if not self.changed((tuple(values), chosen)):
            return
        rest, height = self._room()
        self.sheet.moving.wipe()
        for n, (text, (label, value)) in enumerate(zip(values, self._lines)):
            lit = n == chosen and n < len(knobs)
            if lit:
                self.sheet.moving.rectangle(Box(rest.x, rest.top - (n + 1) * height, rest.width, height), theme.ON)
            value.say(text)
            for words in (label, value):
                words.tint(theme.ON_TEXT if lit else theme.TEXT)
        self.sheet.moving.lay()

    def knob_at(self, x: float, y: float, count: int) -> int | None:
        """The knob at a point."""
        if not self.visible or not self.box.contains(x, y):
            return None
        rest, height = self._room()
        at = int((rest.top - y) // height)
        return at if 0 <= at < count else None


class SheetOver(Panel):
    """A sheet of paper over the view: a heading, lines of text, pairs of key and words, small print; or nothing."""

    def __init__(self) -> None:
        super().__init__()
        self.over = Box(0.0, 0.0, 0.0, 0.0)

    def lay_out(self) -> None:
        """Drawn by `show`."""

    def place(self, box, sizes) -> None:
        """`box` is the view; the sheet takes what it needs of it."""
        self.over = box
        super().place(box, sizes)

    def show(
        self,
        heading: str,
        lines: Sequence[str] = (),
        keys: Sequence[tuple[str, str]] = (),
        small: str = "",
        bars: Sequence[Seen] = (),
    ) -> None:
        """Show a sheet; an empty heading takes it away."""
        shown = (
            heading,
            tuple(lines),
            tuple(keys),
            small,
            tuple((b.axis, round(b.travel, 2), round(b.place, 2)) for b in bars),
        )
        if not self.changed(shown):
            return
        sizes, sheet = self.sizes, self.sheet
        sheet.clear()
        if not heading:
            return
        pitch, text = sizes.px(19), sizes.text
        width = min(self.over.width - 2 * sizes.gap, sizes.px(660))
        letters = max(20, int((width - 4 * sizes.gap) / (0.56 * text)))
        body = [part for line in lines for part in _wrapped(line, letters)]
        print_ = _wrapped(small, max(20, int((width - 4 * sizes.gap) / (0.56 * sizes.tiny)))) if small else []
        columns = 3 if len(keys) > 6 else 2
        deep = -(-len(keys) // columns)
        height = (
            sizes.px(30)
            + pitch * (len(body) + deep + len(bars))
            + sizes.px(15) * len(print_)
            + (5 if print_ else 4) * sizes.gap
        )
        height = min(height, self.over.height)
        x0, y0 = self.over.centre[0] - width / 2, self.over.y  # below the middle, where the plane is
        box = Box(round(x0), round(y0), width, height)
        sheet.ground.rectangle(box, theme.PAPER)
        sheet.ground.frame(box, theme.FAINT_TEXT, max(1.0, sizes.px(2)))
        x, y = box.x + 2 * sizes.gap, box.top - sizes.gap - sizes.px(13)
        sheet.words(heading, x, y, sizes.px(18), theme.TEXT, bold=True, within=box.width - 4 * sizes.gap)
        y -= sizes.px(13) + sizes.gap
        for line in body:
            sheet.words(line, x, y - pitch / 2, text, theme.TEXT)
            y -= pitch
        for seen in bars:
            y = self._bar(seen, x, y, box, pitch)
        y -= sizes.gap / 2
        for n, (key, words) in enumerate(keys):
            column, row = divmod(n, deep)
            room = (box.width - 4 * sizes.gap) / columns
            at = x + column * room
            height = y - (row + 0.5) * pitch
            cap = sheet.words(key, at, height, sizes.small, theme.ON, bold=True)
            gap = max(sizes.px(46 if columns > 2 else 92), cap.width + sizes.gap)
            sheet.words(words, at + gap, height, sizes.small, theme.TEXT, within=room - gap - sizes.gap)
        y -= deep * pitch + sizes.gap
        for line in print_:
            sheet.words(line, x, y - sizes.px(7), sizes.tiny, theme.FAINT_TEXT)
            y -= sizes.px(15)
        sheet.ground.lay()

    def _bar(self, seen: Seen, x: float, y: float, box: Box, pitch: float) -> float:
        """One axis: its name, where it stands, how far it has moved."""
        sizes, sheet = self.sizes, self.sheet
        middle = y - pitch / 2
        sheet.words(f"axis {seen.axis}", x, middle, sizes.small, theme.TEXT)
        left, right = x + sizes.px(110), box.right - sizes.px(150)
        bar = Box(left, round(middle - sizes.px(5)), right - left, sizes.px(10))
        sheet.ground.rectangle(bar, theme.PAPER_2)
        sheet.ground.frame(bar, theme.EDGE, 1)
        at = left + (right - left) * min(1.0, max(0.0, seen.place))
        sheet.ground.disk(at, middle, sizes.px(7), theme.FIRST)
        sheet.words(f"moved {100 * seen.travel:.0f} %", right + 2 * sizes.gap, middle, sizes.small, theme.TEXT)
        return y - pitch


class NotePanel(Panel):
    """One line over the view, on a band of its own: what was just changed, or that time runs slower."""

    def lay_out(self) -> None:
        """Drawn by `show`."""

    def show(self, text: str, loud: bool = False) -> None:
        """Say `text`; "" takes the band away."""
        if not self.changed((text, loud)):
            return
        sizes, sheet = self.sizes, self.sheet
        sheet.clear()
        if not text:
            return
        box = self.box
        words = sheet.words(
            text, *box.centre, sizes.text, theme.TEXT, "center", bold=loud, within=box.width - sizes.px(20)
        )  # fmt: skip
        band = Box(
            round(box.centre[0] - words.width / 2 - sizes.gap), box.y, round(words.width + 2 * sizes.gap), box.height
        )
        sheet.ground.rectangle(band, theme.PAPER)
        sheet.ground.frame(band, theme.SECOND if loud else theme.EDGE, sizes.px(2))
        sheet.ground.lay()


def _wrapped(text: str, letters: int) -> list[str]:
    import textwrap

    return [line for part in text.split("\n") for line in textwrap.wrap(part, min(letters, 2 * WIDTH)) or [""]]
