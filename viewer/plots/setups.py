"""Setups side by side over the manoeuvre set: a panel for each of the measures that differ most."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from scenarios.compare import Comparison, Row
from viewer.plots.figures import foot_at
from viewer.plots.style import (
    EDGE,
    GREY,
    NOUGHT,
    SERIES,
    SMALL,
    WIDE,
    filled,
    foot_lines,
    height_of,
    page,
    place,
    style,
    write,
)
from viewer.text import number
from viewer.words import meaning

SHOWN, OF_ONE, ACROSS = 12, 3, 3  # panels, of one manoeuvre, in a row
# what a pilot would notice, by unit: common practice, no source.  A difference counts in these, or in sixths of the larger
# number where that is more, so that 2 of 10 counts as much as 20 of 100.
NOTICED = {"deg": 2.0, "deg/s": 4.0, "deg/s per deg": 0.5, "%": 4.0, "m/s": 0.5, "m": 2.0, "g": 0.2, "s": 0.2, "1/s": 0.2,
           "% half-span": 10.0, "mm": 3.0, "turns": 0.3, "N m": 0.3, "% of MAC": 1.0}  # fmt: skip
ELSE, SHARE = 0.1, 1.0 / 6.0
LINE = 0.19  # in, of a setup in a panel
HEAD, AXIS = 0.42, 0.3  # in, over and below a panel
NUMBERS = 0.3  # of a panel's width, kept free for the numbers


def difference(row: Row) -> float:
    """How far apart the setups are in a measure, in what a pilot would notice; 0 where only one of them has it."""
    values = [value for value in row.values if value is not None]
    if len(values) < 2:
        return 0.0
    largest = max(abs(value) for value in values)
    return (max(values) - min(values)) / max(NOTICED.get(row.measure.unit, ELSE), SHARE * largest)


def differing_most(rows: Sequence[Row], most: int = SHOWN) -> list[Row]:
    """The rows that differ most, at most OF_ONE of a manoeuvre, in flying order."""
    kept: list[Row] = []
    for row in sorted(rows, key=lambda row: -difference(row)):
        if difference(row) > 0.0 and sum(row.manoeuvre == other.manoeuvre for other in kept) < OF_ONE:
            kept.append(row)
        if len(kept) == most:
            break
    return [row for row in rows if row in kept]


def description(comparison: Comparison) -> str:
    """An alternative text: what is shown, with the numbers."""
    said = []
    for row in differing_most(comparison.rows):
        numbers = ", ".join(f"{s} {number(v, row.measure.unit)}" for s, v in zip(comparison.setups, row.values))
        said.append(f"{row.measure.name} in {row.manoeuvre}, {row.measure.unit or 'no unit'}: {numbers}")
    return f"What differs most between {', '.join(comparison.setups)}. " + "; ".join(said) + "."


def figure_of(comparison: Comparison, foot: bool = True) -> Figure:
    """One page: a panel for each of the measures that differ most, a line from nought for each setup."""
    with style():
        return _figure(comparison, foot)


def _figure(comparison: Comparison, foot: bool) -> Figure:
    rows = differing_most(comparison.rows)
    setups, wide = comparison.setups, WIDE - 2.0 * EDGE
    heads = filled(f"What differs most: {', '.join(setups)}", wide, 11.0)
    caption = (
        f"{len(rows)} of {len(comparison.rows)} measures. They are chosen by how many times the difference is what a pilot would"
        " notice (common practice, no source), or a sixth of the larger number where that is more; upline list --measures"
        " explains them."
    )
    lines = foot_lines(wide, caption, cautions=foot)
    top = EDGE + height_of(heads, 11.0) + 0.05
    key = 0.26
    panel, each = LINE * len(setups) + 0.1, HEAD + LINE * len(setups) + 0.1 + AXIS
    down = max(1, -(-len(rows) // ACROSS))
    figure = page(WIDE, top + key + down * each + 0.12 + height_of(lines) + EDGE)
    write(figure, EDGE, EDGE, "\n".join(heads), 11.0)
    _key(figure, setups, top)
    if not rows:
        write(figure, EDGE, top + key, "Nothing that was measured for two of them differs.", 9.0)
    width = (wide - 0.3 * (ACROSS - 1) - 0.1) / ACROSS
    for n, row in enumerate(rows):
        at = top + key + n // ACROSS * each + HEAD
        axes = place(figure, EDGE + 0.05 + n % ACROSS * (width + 0.3), at, width, panel)
        _panel(axes, row, len(setups))
    foot_at(figure, lines)
    return figure


def look_of(n: int):
    """The look of a setup; beyond the SERIES they repeat."""
    return SERIES[n % len(SERIES)]


def _key(figure: Figure, setups: Sequence[str], top: float) -> None:
    handles = [
        Line2D([], [], color=look_of(n).color, linestyle=look_of(n).linestyle, marker=look_of(n).marker,
               markerfacecolor="white", label=name)
        for n, name in enumerate(setups)
    ]  # fmt: skip
    wide, tall = figure.get_size_inches()
    figure.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(EDGE / wide, 1.0 - (top - 0.04) / tall), ncols=len(setups),
        handlelength=3.6, borderaxespad=0.0, borderpad=0.2, columnspacing=1.8,
    )  # fmt: skip


def _panel(axes: Axes, row: Row, count: int) -> None:
    unit = row.measure.unit
    values = [value for value in row.values if value is not None]
    low, high = min(0.0, *values), max(0.0, *values)
    size = (high - low) or 1.0
    axes.axvline(0.0, **NOUGHT)
    for n, value in enumerate(row.values):
        look = look_of(n)
        if value is None:
            axes.text(0.0, n, "  not measured", va="center", fontsize=SMALL, color=GREY)
            continue
        axes.plot(
            [0.0, value], [n, n], color=look.color, linestyle=look.linestyle, linewidth=1.6, solid_capstyle="butt"
        )
        axes.plot(
            [value], [n], look.marker, color=look.color, markerfacecolor="white", markersize=5.5, markeredgewidth=1.2
        )
        words = " ".join(filter(None, (number(value, unit), meaning(row.measure, value))))
        axes.text(1.0, n, words, transform=axes.get_yaxis_transform(), ha="right", va="center", fontsize=SMALL,
                  bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.85}, zorder=4)  # fmt: skip
    longest = max(len(meaning(row.measure, value)) for value in row.values)
    free = min(0.62, NUMBERS + 0.017 * longest)
    axes.set_xlim(low - 0.06 * size, high + 0.06 * size + size * free / (1.0 - free))
    axes.set_ylim(count - 0.45, -0.55)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    ticks = MaxNLocator(4, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    axes.set_xticks([tick for tick in ticks if low - 1e-9 <= tick <= high + 0.3 * size])
    axes.tick_params(labelsize=SMALL, length=2.0, pad=1.5)
    name = row.measure.name.replace("_", " ")
    name = f"{name}, {unit}" if unit else name
    axes.set_title(f"{row.manoeuvre}\n{name}", fontsize=8.0, pad=3.0, linespacing=1.25)
