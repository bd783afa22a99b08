"""The one look of all pictures: fonts, lines told apart without colour, shades, and the foot with cautions and version.

Colours are those of Okabe and Ito, "Color Universal Design" (2008), which colour-blind people tell apart, less the ones
that are too light on paper, and a brown; every line has a dash and a marker of its own besides, so that it reads in grey.
"""

from __future__ import annotations

import io
import re
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, BinaryIO

import numpy as np
from matplotlib import colormaps, rc_context
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, ListedColormap
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font

from viewer.version import version
from viewer.words import CAUTIONS

WIDE = 8.3  # in, a page
EDGE = 0.15  # in, left free all round
MARKS = 8  # markers along a line
LINE_HEIGHT = 1.32  # of the font size
SMALL, FOOT = 7.0, 6.8  # pt

# what is meant by a colour; INK and ALARM also differ in dash or word wherever they are used
INK, GREY, FAINT, GRID, BAND = "#111111", "#5a5a5a", "#8c8c8c", "#e2e2e2", "#f1f0ec"
ALARM = "#b03a00"  # a limit, or what is beyond it
FILL, FILL_LIGHT, FILL_DARK = "#8fb3cc", "#c9dae6", "#1b4f72"  # bars: one blue, its order the same in grey
FOOT_INK = "#333333"
RANGE = "#c4ccd2"  # a band in which nine of ten lie

STYLE: dict[str, Any] = {
    "font.family": "sans-serif", "font.sans-serif": ["DejaVu Sans"], "font.size": 9.0, "text.color": INK,
    "axes.edgecolor": GREY, "axes.linewidth": 0.7, "axes.labelcolor": INK, "axes.labelsize": 8.5,
    "axes.spines.top": False, "axes.spines.right": False, "axes.titlesize": 9.5, "axes.titlelocation": "left",
    "axes.axisbelow": True, "axes.unicode_minus": False, "grid.color": GRID, "grid.linewidth": 0.6,
    "xtick.color": GREY, "ytick.color": GREY, "xtick.labelcolor": INK, "ytick.labelcolor": INK,
    "xtick.labelsize": 8.0, "ytick.labelsize": 8.0, "xtick.major.size": 2.5, "ytick.major.size": 2.5,
    "lines.linewidth": 1.5, "legend.frameon": False, "legend.fontsize": 8.5, "hatch.linewidth": 0.6,
    "path.simplify_threshold": 0.3, "svg.hashsalt": "upline", "svg.fonttype": "none", "pdf.fonttype": 42,
    "savefig.dpi": 150, "figure.dpi": 150,
}  # fmt: skip
UNDATED: dict[str, dict[str, None]] = {"png": {"Software": None}, "svg": {"Date": None}, "pdf": {"CreationDate": None}}

# how far the flow has left the surface: light to dark without a turn, so that grey says the same
SEPARATION = LinearSegmentedColormap.from_list("separation", ["#ffffff", "#f3cf9c", "#d55e00", "#4a1800"])
# for numbers over two inputs: cividis rises evenly in grey and looks alike to colour-blind eyes (Nunez, Anderton and
# Renslow 2018, from memory); its lighter part, so that black figures stand out on every shade and on paper
SHADES = ListedColormap(colormaps["cividis"](np.linspace(0.45, 1.0, 256)), name="shades")


@dataclass(frozen=True)
class Look:
    """How one of several lines is drawn: the dash and the marker say the same as the colour."""

    color: str
    linestyle: Any
    marker: str

    def line(self, points: int = 0, turn: int = 0, width: float = 1.5) -> dict[str, Any]:
        """What `Axes.plot` takes for a line of so many points; `turn` of several lines keeps their markers apart."""
        step = max(1, points // MARKS)
        return {
            "color": self.color, "linestyle": self.linestyle, "linewidth": width, "marker": self.marker,
            "markersize": 2.2 + 1.3 * width, "markerfacecolor": "white", "markeredgewidth": 0.9,
            "markevery": (turn * step // 4 % step, step),
        }  # fmt: skip


SERIES = (
    Look(INK, "-", "o"),
    Look("#d55e00", (0, (6, 1.8)), "s"),
    Look("#0072b2", (0, (1.2, 1.2)), "^"),
    Look("#009e73", (0, (7, 1.8, 1.2, 1.8)), "D"),
    Look("#cc79a7", (0, (3, 1.2)), "v"),
    Look("#7a5200", (0, (8, 1.5, 1.2, 1.5, 1.2, 1.5)), "P"),
)
LIMIT = {"color": ALARM, "linewidth": 1.2, "linestyle": (0, (4, 2))}
NOUGHT = {"color": GREY, "linewidth": 0.7, "zorder": 1}


def style(**more: Any) -> AbstractContextManager:
    """The look, for as long as a figure is made and saved; `more` as matplotlib's own settings, with _ for the dot."""
    return rc_context({**STYLE, **{name.replace("_", ".", 1): value for name, value in more.items()}})


def save(figure: Figure, file: BinaryIO, kind: str) -> None:
    """`figure` written to `file` as `kind`, "png", "svg" or "pdf": undated, the same bytes every time."""
    with style():
        figure.savefig(file, format=kind, metadata=UNDATED[kind])


def svg(figure: Figure, prefix: str = "") -> str:
    """`figure` as the text of one <svg> element for a page: text as text, as wide as its box, ids that start with `prefix`."""
    file = io.BytesIO()
    save(figure, file, "svg")
    text = file.getvalue().decode("utf-8")
    head, _, rest = text[text.index("<svg") :].strip().partition(">")
    text = re.sub(r'\s(width|height)="[^"]*"', "", head) + ">" + rest
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    if prefix:
        text = re.sub(r'\bid="', f'id="{prefix}-', text)
        text = re.sub(r'(href="#|url\(#)', rf"\1{prefix}-", text)
    return text


# ---- pages in inches ------------------------------------------------------------------------------------------------


def page(width: float, height: float) -> Figure:
    """An empty figure of that size in inches."""
    return Figure(figsize=(width, height))


def place(figure: Figure, left: float, top: float, width: float, height: float, **more: Any) -> Axes:
    """Axes on `figure`, all in inches, from its left and upper edge."""
    wide, tall = figure.get_size_inches()
    return figure.add_axes((left / wide, 1.0 - (top + height) / tall, width / wide, height / tall), **more)


def write(figure: Figure, left: float, top: float, text: str, size: float = 9.0, **more: Any) -> None:
    """Text on `figure`, its upper left corner in inches from the left and upper edge."""
    wide, tall = figure.get_size_inches()
    figure.text(left / wide, 1.0 - top / tall, text, fontsize=size, va="top", **{"linespacing": LINE_HEIGHT, **more})


@lru_cache(maxsize=1024)
def _advance(letter: str) -> float:
    """How far a letter of the pictures' font moves on, over its size."""
    font = get_font(findfont(FontProperties(family=STYLE["font.sans-serif"])))
    font.set_size(100.0, 72.0)
    return font.load_char(ord(letter)).linearHoriAdvance / 65536.0 / 100.0


def width_of(text: str, size: float) -> float:
    """How wide a line of text is, in inches, at `size` points."""
    return size / 72.0 * sum(_advance(letter) for letter in text)


def filled(text: str, width: float, size: float = FOOT) -> list[str]:
    """`text` in lines that fit `width` inches at `size` points."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def foot_lines(width: float, *captions: str, cautions: bool = True, size: float = FOOT) -> list[str]:
    """What stands below a picture: its captions, then the cautions and the version, filled to `width` inches."""
    texts = [caption for caption in captions if caption]
    if cautions:
        texts += [f"{CAUTIONS} upline {version()}."]
    return [line for text in texts for line in filled(text, width, size)]


def height_of(lines: list[str], size: float = FOOT) -> float:
    """How much room lines of text take, in inches."""
    return len(lines) * size * LINE_HEIGHT / 72.0


# ---- pages that lay themselves out ---------------------------------------------------------------------------------


def title(figure: Figure, text: str) -> None:
    """The heading of a figure with a layout of its own."""
    width = float(figure.get_size_inches()[0])
    figure.suptitle(
        "\n".join(line for one in text.split("\n") for line in filled(one, width - 2.0 * EDGE, 11.0)),
        x=EDGE / width,
        ha="left",
        fontsize=11.0,
    )


def foot(figure: Figure, *captions: str, cautions: bool = True) -> None:
    """The captions, cautions and version below a figure with a layout of its own."""
    width = float(figure.get_size_inches()[0])
    lines = foot_lines(width - 2.0 * EDGE, *captions, cautions=cautions)
    figure.supxlabel(
        "\n".join(lines), x=EDGE / width, ha="left", fontsize=FOOT, color=FOOT_INK, linespacing=LINE_HEIGHT
    )
