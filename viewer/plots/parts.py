"""The parts that pages are made of: how tall each is, and how it is drawn from a place on a figure downward, in inches."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from viewer.plots import moments, over_time, path, phases, stall
from viewer.plots.flights import Flight
from viewer.plots.style import EDGE, SMALL, WIDE, page, place, write
from viewer.plots.traces import group
from viewer.plots.words import clock

LEFT, RIGHT = 0.85, 1.1  # in: room for labels, and for words at the right
KEY = 0.8  # in, for a key at the right besides
PANEL, MOMENTS, WING, SURFACE = 1.12, 1.35, 1.5, 0.85  # in, of a panel
BETWEEN, TICKS, NAME = 0.14, 0.3, 0.2  # in: panels apart, time axis, a flight's name
STRIP = phases.ROW + 0.08
PATH = 6.0  # in, the tallest


def tall(what: str, flights: Sequence[Flight]) -> float:
    """How much room one of words.WHAT takes on a page that is WIDE."""
    if what == "path":
        return path.draw(page(WIDE, 2.0 * PATH), LEFT, 0.0, WIDE - LEFT - EDGE, flights, PATH) + 0.65
    if what == "stall":
        surfaces = [_height(name) + BETWEEN for name in stall.surfaces_of(flights)]
        return _each(flights, sum(surfaces))
    if what == "moments":
        return _each(flights, len(moments.AXES) * (MOMENTS + BETWEEN))
    rows = len(group(what, list(flights)))
    return phases.ROW * len(flights) + 0.08 + rows * (PANEL + BETWEEN) + TICKS + 0.1


def _each(flights: Sequence[Flight], panels: float) -> float:
    many = len(flights) > 1
    return len(flights) * (NAME * many + STRIP + panels - BETWEEN + TICKS) + 0.2


def _height(surface: str) -> float:
    return WING if surface == "wing" else SURFACE


def fill(figure: Figure, what: str, flights: Sequence[Flight], top: float) -> None:
    """Draw one of words.WHAT on `figure` from `top` downward."""
    flights = list(flights)
    {"path": _path, "stall": _stall, "moments": _moments}.get(what, _over_time)(figure, what, flights, top)


def strip_width(what: str) -> float:
    """How wide the strip of phases over a part is, in inches; 0 where it has none."""
    return 0.0 if what == "path" else WIDE - LEFT - RIGHT - {"stall": 0.25, "moments": KEY}.get(what, 0.0)


def _path(figure: Figure, what: str, flights: list[Flight], top: float) -> None:
    path.draw(figure, LEFT, top + 0.2, WIDE - LEFT - EDGE, flights, PATH)


def _over_time(figure: Figure, what: str, flights: list[Flight], top: float) -> None:
    width, strip = strip_width(what), phases.ROW * len(flights)
    phases.strip(place(figure, LEFT, top, width, strip), flights, width)
    top += strip + 0.08
    traces = group(what, flights)
    for n, trace in enumerate(traces):
        axes = place(figure, LEFT, top, width, PANEL)
        over_time.draw(axes, trace, flights)
        axes.tick_params(labelbottom=n == len(traces) - 1)
        top += PANEL + BETWEEN
    axes.set_xlabel(clock(flights))


def _one(figure: Figure, flight: Flight, many: bool, width: float, span: tuple[float, float], top: float) -> float:
    """The name of a flight where there are several, and its phases; where its panels begin."""
    if many:
        write(figure, EDGE, top, flight.name, 9.0, weight="bold")
        top += NAME
    phases.strip(place(figure, LEFT, top, width, phases.ROW), [flight], width, span)
    return top + STRIP


def _stall(figure: Figure, what: str, flights: list[Flight], top: float) -> None:
    width, span, surfaces = strip_width(what), phases.span_of(flights), stall.surfaces_of(flights)
    for flight in flights:
        top = begun = _one(figure, flight, len(flights) > 1, width, span, top)
        for name in surfaces:
            axes = place(figure, LEFT, top, width, _height(name))
            if name in flight.plane.strips:
                mesh = stall.draw(axes, flight, name)
            axes.set_xlim(*span)
            axes.tick_params(labelbottom=name == surfaces[-1])
            top += _height(name) + BETWEEN
        bar = figure.colorbar(mesh, cax=place(figure, LEFT + width + 0.72, begun, 0.1, WING))
        bar.outline.set_linewidth(0.4)
        bar.set_ticks([0, 50, 100])
        bar.set_label("separated, % of chord", fontsize=SMALL)
        bar.ax.tick_params(labelsize=SMALL)
        top += TICKS - BETWEEN
    axes.set_xlabel(clock(flights))


def _moments(figure: Figure, what: str, flights: list[Flight], top: float) -> None:
    width, span = strip_width(what), phases.span_of(flights)
    named = {axis[0]: moments.largest(flights, axis[1]) for axis in moments.AXES}
    drawn: dict[str, list[Axes]] = {axis[0]: [] for axis in moments.AXES}
    for flight in flights:
        top = _one(figure, flight, len(flights) > 1, width, span, top)
        for axis in moments.AXES:
            axes = place(figure, LEFT, top, width, MOMENTS)
            moments.draw(axes, flight, axis, named[axis[0]])
            axes.set_xlim(*span)
            axes.legend(
                loc="center left", bbox_to_anchor=(1.005, 0.5), fontsize=SMALL, handlelength=3.2, borderaxespad=0.2
            )
            axes.tick_params(labelbottom=axis is moments.AXES[-1])
            drawn[axis[0]].append(axes)
            top += MOMENTS + BETWEEN
        top += TICKS - BETWEEN
    for same in drawn.values():  # one scale for all flights
        limits = [axes.get_ylim() for axes in same]
        for axes in same:
            axes.set_ylim(min(low for low, _ in limits), max(high for _, high in limits))
    axes.set_xlabel(clock(flights))
