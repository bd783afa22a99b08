"""A sheet of paper in millimetres from its upper left corner: text that is measured before it is set, lines, shapes."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import BinaryIO

from matplotlib import font_manager, rc_context
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Ellipse, Polygon, Wedge
from matplotlib.text import Text
from matplotlib.textpath import text_to_path
from matplotlib.transforms import Affine2D

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # mm: ISO 216; ANSI/ASME Y14.1 size A
MARGIN = 8.5  # mm that stay white on every side
SMALL, PLAIN, LARGE = 8.0, 9.0, 15.0  # pt; nothing on a sheet is set smaller than SMALL
MM = 25.4
POINT = MM / 72.0
PITCH = 1.2  # of the size of a font, from line to line
FAMILY = "DejaVu Sans"
_QUANTITY = re.compile(
    r"(?<=[0-9]) (?=(?:mm|m|g|kg|s|V|%|kg cm|N m)(?:[ ,;:.)]|$))"
)  # the space of one; no line ends there


class Paper:
    """One sheet: `wide` and `tall` in mm; x to the right, y down, both from the upper left corner."""

    def __init__(self, paper: str) -> None:
        self.wide, self.tall = PAPERS[paper]
        self.left, self.right = MARGIN, self.wide - MARGIN
        self.top, self.bottom = MARGIN, self.tall - MARGIN
        self.figure = Figure(figsize=(self.wide / MM, self.tall / MM))
        self._to_page = (
            Affine2D().scale(1.0 / MM, -1.0 / MM).translate(0.0, self.tall / MM) + self.figure.dpi_scale_trans
        )

    def text(
        self, x: float, y: float, words: str, size: float = SMALL, bold: bool = False, align: str = "left"
    ) -> None:
        """`words` with their baseline at y, beginning, centred or ending at x ("left", "center", "right")."""
        self.figure.add_artist(
            Text(x, y, shown(words), fontproperties=_font(size, bold), ha=align, va="baseline", transform=self._to_page,
                 parse_math=False, color="black", zorder=5)
        )  # fmt: skip

    def line(self, x0: float, y0: float, x1: float, y1: float, thick: float = 0.5, dashes=None) -> None:
        """A straight line, `thick` in pt; `dashes` in pt, on and off."""
        style = "-" if dashes is None else (0, dashes)
        self.figure.add_artist(
            Line2D(
                [x0, x1], [y0, y1], linewidth=thick, color="black", linestyle=style, transform=self._to_page, zorder=3
            )
        )

    def shape(
        self, points: Iterable[Sequence[float]], fill: str = "white", thick: float = 0.6, dashes=None, over=2
    ) -> None:
        """A closed shape; `fill` is a grey such as "0.85" or "none"."""
        style = "-" if dashes is None else (0, dashes)
        self.figure.add_artist(
            Polygon(list(points), closed=True, facecolor=fill, edgecolor="black", linewidth=thick, linestyle=style,
                    transform=self._to_page, zorder=over)
        )  # fmt: skip

    def disk(self, x: float, y: float, radius: float, fill: str = "white", thick: float = 0.6) -> None:
        """A circle."""
        self.figure.add_artist(
            Ellipse((x, y), 2.0 * radius, 2.0 * radius, facecolor=fill, edgecolor="black", linewidth=thick,
                    transform=self._to_page, zorder=4)
        )  # fmt: skip

    def wedge(self, x: float, y: float, radius: float, first: float, fill: str) -> None:
        """A quarter of a disk, from the angle `first` in deg."""
        self.figure.add_artist(
            Wedge((x, y), radius, first, first + 90.0, facecolor=fill, edgecolor="black", linewidth=0.6,
                  transform=self._to_page, zorder=4.5)
        )  # fmt: skip

    def save(self, file: BinaryIO, title: str, kind: str = "pdf") -> None:
        """The sheet, written to `file`; the same content gives the same bytes."""
        about = {"Title": shown(title), "CreationDate": None} if kind == "pdf" else None
        with rc_context({"pdf.fonttype": 3}), warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="Glyph")
            self.figure.savefig(file, format=kind, metadata=about)


@lru_cache(maxsize=32)
def _font(size: float, bold: bool) -> font_manager.FontProperties:
    return font_manager.FontProperties(family=FAMILY, size=size, weight="bold" if bold else "normal")


@lru_cache(maxsize=1)
def _letters() -> frozenset[int]:
    return frozenset(font_manager.get_font(font_manager.findfont(_font(SMALL, False))).get_charmap())


def shown(words: str) -> str:
    """`words` with the letters that the font does not have replaced."""
    return "".join(letter if ord(letter) in _letters() else "?" for letter in words)


@lru_cache(maxsize=4096)
def width(words: str, size: float = SMALL, bold: bool = False) -> float:
    """How wide `words` are, mm."""
    return text_to_path.get_text_width_height_descent(shown(words), _font(size, bold), False)[0] * POINT


def pitch(size: float = SMALL) -> float:
    """From one line to the next, mm."""
    return PITCH * size * POINT


def filled(words: str, room: float, size: float = SMALL, bold: bool = False, first: float = 0.0) -> list[str]:
    """`words` in lines of at most `room` mm, the first one `first` mm less; a word that is longer than a line is cut."""
    lines: list[str] = [""] if first else []
    for word in re.sub(_QUANTITY, "\N{NO-BREAK SPACE}", words.strip()).split(" "):
        before = first if len(lines) == 1 else 0.0
        if lines and before + width(f"{lines[-1]} {word}".strip(), size, bold) <= room:
            lines[-1] = f"{lines[-1]} {word}".strip()
            continue
        while width(word, size, bold) > room and len(word) > 1:
            fits = next(n for n in range(len(word) - 1, 0, -1) if n == 1 or width(word[:n], size, bold) <= room)
            lines.append(word[:fits])
            word = word[fits:]
        lines.append(word)
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def shortened(words: str, room: float, size: float = SMALL, bold: bool = False) -> str:
    """`words`, their end left out where they are wider than `room` mm."""
    if width(words, size, bold) <= room:
        return words
    while words and width(f"{words}...", size, bold) > room:
        words = words[:-1]
    return f"{words.rstrip()}..."
