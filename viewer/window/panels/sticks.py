"""Where the sticks stand: a square for either hand, and each stick in per cent and in the word for its side."""

from __future__ import annotations

from collections.abc import Sequence

from viewer.window import theme
from viewer.window.layout import Box
from viewer.window.panels.panel import Panel

NAMES = ("aileron", "elevator", "rudder", "throttle")
AILERON, ELEVATOR, RUDDER, THROTTLE = range(4)
# (left hand across, up), (right hand across, up): the four ways transmitters are laid out, modes 1 to 4
HANDS = {
    1: ((RUDDER, ELEVATOR), (AILERON, THROTTLE)),
    2: ((RUDDER, THROTTLE), (AILERON, ELEVATOR)),
    3: ((AILERON, ELEVATOR), (RUDDER, THROTTLE)),
    4: ((AILERON, THROTTLE), (RUDDER, ELEVATOR)),
}
_SIDES = {AILERON: ("right", "left"), ELEVATOR: ("pull", "push"), RUDDER: ("right", "left"), THROTTLE: ("", "")}


def in_words(stick: int, value: float) -> str:
    """Where a stick stands: "35 % pull"."""
    per_cent = round(100.0 * abs(value))
    side = _SIDES[stick][0 if value > 0.0 else 1] if per_cent else ""
    return f"{per_cent} % {side}".rstrip()


def place_in_square(stick: int, value: float) -> float:
    """-1..1 to the right or up: a stick that is pulled stands low, throttle runs from below to above."""
    value = {ELEVATOR: -value, THROTTLE: 2.0 * value - 1.0}.get(stick, value)
    return min(1.0, max(-1.0, value))


class SticksPanel(Panel):
    """Both hands' sticks; a second flight's as rings beside the first one's disks."""

    def __init__(self) -> None:
        super().__init__()
        self.hands = 2
        self._squares: list[Box] = []

    def hold(self, hands: int) -> None:
        """Which hand holds what, mode 1 to 4; the panel is laid out anew."""
        self.hands = hands
        self.place(self.box, self.sizes)

    def lay_out(self) -> None:
        """Squares, names of the axes, a row a stick."""
        sizes, ground, sheet = self.sizes, self.sheet.ground, self.sheet
        ground.rectangle(self.box, theme.PAPER)
        inner = self.box.inset(sizes.gap)
        row = min(sizes.px(16), 0.095 * inner.height)
        upper, rows = inner.split_top(inner.height - 4 * row)
        titles, squares = upper.split_top(sizes.px(24))
        names = sizes.px(14)
        side = min(squares.height - names - sizes.px(7), (inner.width - sizes.gap) / 2 - names)
        self._squares = []
        for cell, title, axes in zip(inner.columns(2, sizes.gap), ("left hand", "right hand"), HANDS[self.hands]):
            square = Box(round(cell.x + names), round(squares.top - side), round(side), round(side))
            self._squares.append(square)
            middle = square.centre
            sheet.words(title, middle[0], titles.top - sizes.px(7), sizes.small, theme.TEXT, "center", bold=True)
            ground.rectangle(square, theme.PAPER_2)
            for tenth in (-0.5, 0.0, 0.5):
                x, y = middle[0] + tenth * side, middle[1] + tenth * side
                shade = theme.EDGE if tenth == 0.0 else theme.GRID
                ground.rectangle(Box(round(x), square.y, 1, side), shade)
                ground.rectangle(Box(square.x, round(y), side, 1), shade)
            ground.frame(square, theme.FAINT_TEXT, max(1.0, sizes.scale))
            below = square.y - names / 2 - sizes.px(6)
            sheet.words(NAMES[axes[0]], middle[0], below, sizes.tiny, theme.FAINT_TEXT, "center")
            sheet.words(
                NAMES[axes[1]], square.x - names / 2 - 1, middle[1], sizes.tiny, theme.FAINT_TEXT, "center"
            ).turn_up()
        self._values = []
        for name, place in zip(NAMES, rows.rows(4)):
            y = place.centre[1]
            sheet.words(name, place.x, y, sizes.small, theme.TEXT)
            first = sheet.words("", place.x + 0.64 * place.width, y, sizes.small, theme.FIRST, "right", bold=True)
            second = sheet.words("", place.right, y, sizes.small, theme.SECOND, "right")
            self._values.append((first, second))

    def show(self, sticks: Sequence[float], second: Sequence[float] | None = None) -> None:
        """Show aileron, elevator, rudder (-1..1: right, pull, right) and throttle (0..1), of one or two flights."""
        flights = [[round(float(v), 3) for v in s] for s in (sticks, second) if s is not None]
        if not self.changed(flights):
            return
        sizes, moving = self.sizes, self.sheet.moving
        moving.wipe()
        for square, axes in zip(self._squares, HANDS[self.hands]):
            (x0, y0), half = square.centre, square.width / 2
            for i, flight in reversed(list(enumerate(flights))):
                x, y = (c + half * place_in_square(a, flight[a]) for c, a in zip((x0, y0), axes))
                if i:
                    moving.ring(x, y, sizes.px(7), theme.SECOND, sizes.line)
                else:
                    moving.line([(x0, y0), (x, y)], theme.FIRST, sizes.line)
                    moving.disk(x, y, sizes.px(5), theme.FIRST)
        moving.lay()
        for stick, words in enumerate(self._values):
            for i, shown in enumerate(words):
                self.say(shown, in_words(stick, flights[i][stick]) if i < len(flights) else "")
