"""Figures of one flight or up to four laid over one another: one thing to see, or several below one another."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from models.options import one_of
from viewer.plots import parts, phases
from viewer.plots.flights import Flight
from viewer.plots.style import EDGE, FOOT, FOOT_INK, SERIES, WIDE, filled, foot_lines, height_of, page, style, write
from viewer.plots.words import ABOUT, WHAT, caption, flown_by

TITLE, UNDER = 11.0, 9.5  # pt
HEAD = 0.26  # in, of a part's name
OWN_NAMES = ("stall", "moments")  # parts that name the flights themselves


def figure_of(what: str | Sequence[str], flights: Sequence[Flight], foot: bool = True) -> Figure:
    """The figure of one or more of WHAT for one to four flights; `foot`: with cautions and version.  Raises `OptionError`."""
    wanted = [what] if isinstance(what, str) else list(what)
    for one in wanted:
        one_of("--of", one, WHAT)
    with style():
        return _figure(wanted, list(flights), foot)


def _figure(wanted: list[str], flights: list[Flight], foot: bool) -> Figure:
    alone = len(wanted) == 1
    title = f"{ABOUT[wanted[0]]}: {flown_by(flights)}" if alone else flown_by(flights)
    heads = filled(title, WIDE - 2.0 * EDGE, TITLE)
    numbered = [phases.left_out(flights, parts.strip_width(what)) for what in wanted if parts.strip_width(what)]
    captions = [max(numbered, key=len, default=""), " ".join(dict.fromkeys(caption(what, flights) for what in wanted))]
    lines = foot_lines(WIDE - 2.0 * EDGE, *captions, cautions=foot)
    legend = 0.24 * (len(flights) > 1 and not all(what in OWN_NAMES for what in wanted))
    top = EDGE + height_of(heads, TITLE) + 0.06
    heights = [parts.tall(what, flights) + HEAD * (not alone) for what in wanted]
    figure = page(WIDE, top + legend + sum(heights) + height_of(lines) + 0.1 + EDGE)
    write(figure, EDGE, EDGE, "\n".join(heads), TITLE)
    if legend:
        names(figure, flights, EDGE, top)
    top += legend
    for what, height in zip(wanted, heights):
        if not alone:
            write(figure, EDGE, top, ABOUT[what], UNDER, weight="bold")
        parts.fill(figure, what, flights, top + HEAD * (not alone))
        top += height
    foot_at(figure, lines)
    return figure


def foot_at(figure: Figure, lines: list[str]) -> None:
    """The lines at the lower edge of the page."""
    tall = float(figure.get_size_inches()[1])
    write(figure, EDGE, tall - EDGE - height_of(lines), "\n".join(lines), FOOT, color=FOOT_INK)


def names(figure: Figure, flights: Sequence[Flight], left: float, top: float, size: float = 8.5) -> None:
    """The names of the flights with their lines, in a row."""
    wide, tall = figure.get_size_inches()
    handles = [
        Line2D([], [], color=look.color, linestyle=look.linestyle, marker=look.marker, markersize=4.0,
               markerfacecolor="white", label=flight.name)
        for look, flight in zip(SERIES, flights)
    ]  # fmt: skip
    figure.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(left / wide, 1.0 - (top - 0.06) / tall), ncols=len(flights),
        fontsize=size, handlelength=3.6, borderaxespad=0.0, borderpad=0.2, columnspacing=1.8,
    )  # fmt: skip


def said(flights: Sequence[Flight], wanted: Sequence[str] | None, picture: str) -> list[str]:
    """What a command says of the picture that it wrote."""
    what = ", ".join(wanted) if wanted else "everything on a page"
    lines = [f"drawn: {what}"]
    for flight in flights:
        lines.append(
            f"  {flight.name}: {flight.manoeuvre}, {flight.time[0]:.2f} to {flight.time[-1]:.2f} s, {flight.whole.ending}"
        )
    return [*lines, f"written: {picture}"]
