"""Where everything of a window lies, and how large its text is, for any size; pure arithmetic in pixels.

Places count from the lower left corner of the framebuffer.  Sizes are given as they are at 1280x720 and grow a
little slower than the window, for a large screen stands further away.
"""

from __future__ import annotations

from dataclasses import dataclass

DESIGN = (1280, 720)
GROWTH = 0.85  # exponent of the scale over the window's size
SMALLEST, LARGEST = 0.78, 4.0
LEAST_WINDOW = (960, 600)  # what the window can be made to at least


@dataclass(frozen=True)
class Box:
    """A rectangle in pixels."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The right edge."""
        return self.x + self.width

    @property
    def top(self) -> float:
        """The upper edge."""
        return self.y + self.height

    @property
    def centre(self) -> tuple[float, float]:
        """The middle."""
        return self.x + self.width / 2, self.y + self.height / 2

    def contains(self, x: float, y: float) -> bool:
        """Whether the point lies in it."""
        return self.x <= x < self.right and self.y <= y < self.top

    def meets(self, other: Box) -> bool:
        """Whether the two lie over each other."""
        return self.x < other.right and other.x < self.right and self.y < other.top and other.y < self.top

    def inset(self, margin: float, vertical: float | None = None) -> Box:
        """What is left inside a margin; never of negative size."""
        v = margin if vertical is None else vertical
        return Box(self.x + margin, self.y + v, max(0.0, self.width - 2 * margin), max(0.0, self.height - 2 * v))

    def split_top(self, height: float) -> tuple[Box, Box]:
        """The upper `height` of it, and the rest."""
        height = min(height, self.height)
        return Box(self.x, self.top - height, self.width, height), Box(self.x, self.y, self.width, self.height - height)

    def split_left(self, width: float) -> tuple[Box, Box]:
        """The left `width` of it, and the rest."""
        width = min(width, self.width)
        return Box(self.x, self.y, width, self.height), Box(self.x + width, self.y, self.width - width, self.height)

    def columns(self, count: int, gap: float = 0.0) -> list[Box]:
        """`count` parts of one width beside each other."""
        width = (self.width - gap * (count - 1)) / count
        return [Box(self.x + i * (width + gap), self.y, width, self.height) for i in range(count)]

    def rows(self, count: int, gap: float = 0.0) -> list[Box]:
        """`count` parts of one height below each other, the upper one first."""
        height = (self.height - gap * (count - 1)) / count
        return [Box(self.x, self.top - height - i * (height + gap), self.width, height) for i in range(count)]


@dataclass(frozen=True)
class Sizes:
    """Sizes of text and lines in pixels; `px` makes any other from its size at 1280x720."""

    scale: float

    @staticmethod
    def of(width: float, height: float, ratio: float = 1.0) -> Sizes:
        """The sizes for a framebuffer of so many pixels, `ratio` of them to a pixel of the desktop."""
        grown = min(width / DESIGN[0] / ratio, height / DESIGN[1] / ratio) ** GROWTH
        return Sizes(ratio * min(LARGEST, max(SMALLEST, grown)))

    def px(self, size: float) -> float:
        """`size` at 1280x720, here, in whole pixels, at least 1."""
        return float(max(1, round(size * self.scale)))

    @property
    def text(self) -> float:
        """Height of text."""
        return self.px(14)

    @property
    def small(self) -> float:
        """Height of text in tables."""
        return self.px(12)

    @property
    def tiny(self) -> float:
        """Height of names beside a drawing, the smallest text."""
        return self.px(11)

    @property
    def title(self) -> float:
        """Height of a heading."""
        return self.px(15)

    @property
    def gap(self) -> float:
        """Space between things."""
        return self.px(8)

    @property
    def line(self) -> float:
        """Width of a line that is read."""
        return max(1.5, 1.7 * self.scale)


@dataclass(frozen=True)
class Places:
    """The parts of a window; a part that is not shown has no height or no width."""

    sizes: Sizes
    header: Box
    view: Box
    time_line: Box
    chart: Box
    buttons: Box
    sticks: Box
    surfaces: Box
    switches: Box
    plot_left: float  # x where time begins, in time line and chart alike
    plot_right: float


def arrange(width: float, height: float, ratio: float = 1.0, chart: bool = True, column: bool = True) -> Places:
    """The places for a framebuffer of `width` by `height` pixels, with or without chart and right-hand column.

    The view keeps at least a third of the height and half of the width: in a low window the chart is lower.
    """
    sizes = Sizes.of(width, height, ratio)
    whole = Box(0.0, 0.0, float(width), float(height))
    header, rest = whole.split_top(sizes.px(30))
    buttons_height = sizes.px(38)
    above, buttons = rest.split_top(rest.height - buttons_height)
    side_width = min(sizes.px(252), width / 2) if column else 0.0
    left, side = above.split_left(above.width - side_width)
    line_height = sizes.px(30)
    chart_height = min(0.30 * height, left.height - line_height - height / 3) if chart else 0.0
    view, under = left.split_top(left.height - line_height - max(0.0, chart_height))
    time_line, chart_box = under.split_top(line_height)
    sticks, below = side.split_top(min(sizes.px(212), 0.32 * side.height))
    surfaces, switches = below.split_top(min(sizes.px(164), 0.25 * side.height))
    plot_left = left.x + min(sizes.px(150), 0.25 * left.width)
    plot_right = left.right - min(sizes.px(92), 0.15 * left.width)
    return Places(sizes, header, view, time_line, chart_box, buttons, sticks, surfaces, switches, plot_left, plot_right)
