"""Everything of a flight, or of up to four, on one page of A4: path, what varies over time, stall of the wing, moments."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure

from viewer.plots import moments, over_time, path, phases, stall
from viewer.plots import traces as T
from viewer.plots.figures import foot_at, names
from viewer.plots.flights import Flight
from viewer.plots.style import EDGE, SERIES, filled, foot_lines, height_of, page, place, style, write
from viewer.plots.words import clock, flown_by

A4 = (8.27, 11.69)  # in, ISO 216
COLUMNS: tuple[tuple[T.Trace, ...], ...] = (
    (T.AIRSPEED, T.HEIGHT, T.BANK, T.PITCH, T.HEADING, T.ALPHA, T.BETA, T.LOAD),
    (T.AILERON, T.ELEVATOR, T.RUDDER, T.THROTTLE, T.ROLL_RATE, T.PITCH_RATE, T.YAW_RATE, T.SIDE_LOAD),
    (*T.SURFACES, T.ROTOR, T.CURRENT, T.HARDEST, T.STALLED),
)
LEFT, GUTTER = 0.4, 0.42  # in: room for figures at the left of a column, between columns
PATH = 2.15  # in, the tallest
NAME, BETWEEN, AXIS = 0.15, 0.05, 0.3  # in: a panel's name, panels apart, time axis
MAP, MAP_OF_MANY = 0.55, 0.32  # in, of the wing's stall map
MOMENTS = 0.85  # in
SMALLEST = 5.8  # pt
FEWER = {
    "font_size": 6.5, "axes_labelsize": 6.5, "axes_titlesize": 6.5, "xtick_labelsize": SMALLEST, "ytick_labelsize": SMALLEST,
    "legend_fontsize": 6.0,
}  # fmt: skip


def sheet(flights: Sequence[Flight], foot: bool = True) -> Figure:
    """One page of one to four flights; `foot`: with cautions and version."""
    with style(**FEWER):
        return _sheet(list(flights), foot)


def _sheet(flights: list[Flight], foot: bool) -> Figure:
    figure = page(*A4)
    wide, many = A4[0] - 2.0 * EDGE, len(flights) > 1
    heads = filled(flown_by(flights), wide, 11.0)
    write(figure, EDGE, EDGE, "\n".join(heads), 11.0)
    top = EDGE + height_of(heads, 11.0) + 0.05
    if many:
        names(figure, flights, EDGE, top, 7.5)
        top += 0.2
    width = (wide - LEFT - 2.0 * GUTTER) / 3.0
    captions = [phases.left_out(flights, width), _captions(flights)]
    lines = foot_lines(wide, *captions, cautions=foot)
    bottom = A4[1] - EDGE - height_of(lines) - 0.06
    top += path.draw(figure, EDGE + LEFT + 0.1, top + 0.22, wide - LEFT - 0.1, flights, PATH) + 0.66
    below = _below(flights)
    rows = max(len(column) for column in COLUMNS)
    strip = phases.ROW * 0.8 * len(flights)
    each = (bottom - below - AXIS - top - strip) / rows - NAME - BETWEEN
    instead = {
        T.CURRENT: None if T.has_current(flights) else T.THRUST,
        T.HARDEST: None if T.has_torque(flights) else T.CLIMB,
    }
    for n, column in enumerate(COLUMNS):
        column = tuple(instead.get(trace) or trace for trace in column)
        left = EDGE + LEFT + n * (width + GUTTER)
        phases.strip(place(figure, left, top, width, strip), flights, width, None, SMALLEST)
        _column(figure, column, flights, left, top + strip + 0.02, width, each)
    at = bottom - below + 0.1
    _maps(figure, flights, EDGE + LEFT, at, wide - LEFT - 0.9)
    if not many:
        _moments(figure, flights[0], at + MAP + 0.5, width)
    foot_at(figure, lines)
    return figure


def _captions(flights: Sequence[Flight]) -> str:
    said = "Arrows along the path: the way the nose points. Crosses and words: where phases begin."
    if len(flights) > 1:
        return said + f" Bands: phases of {flights[0].name}. Moments by part: --of moments."
    return (
        said
        + " Thin dashes behind the surfaces: where they were asked to go. Stalled: more than half of a strip's chord."
    )


def _below(flights: Sequence[Flight]) -> float:
    """Room for the maps of stall and the moments below the columns, in."""
    if len(flights) == 1:
        return MAP + 0.5 + MOMENTS + 0.45
    return len(flights) * (MAP_OF_MANY + 0.06) + 0.45


def _column(figure: Figure, column: tuple[T.Trace, ...], flights: list[Flight], left, top, width, tall) -> None:
    for n, trace in enumerate(column):
        axes = place(figure, left, top + NAME, width, tall)
        over_time.draw(axes, trace, flights, width=0.9, ticks=3, small=True)
        last = n == len(column) - 1
        axes.tick_params(labelbottom=last, length=1.5, pad=1.5)
        if last:
            axes.set_xlabel(clock(flights), labelpad=1.0)
        top += NAME + tall + BETWEEN


def _maps(figure: Figure, flights: list[Flight], left: float, top: float, width: float) -> None:
    """The stall maps of the wings, one below the other."""
    many, span = len(flights) > 1, phases.span_of(flights)
    tall = MAP_OF_MANY if many else MAP
    for n, flight in enumerate(flights):
        axes = place(figure, left, top + 0.05, width, tall)
        mesh = stall.draw(axes, flight, "wing")
        axes.set_xlim(*span)
        axes.set_ylabel("span, m" if not many else "")
        if n == 0:
            axes.set_title("stall over the span of the wing: separated share of the chord, %", pad=2.0)
            bar = figure.colorbar(mesh, cax=place(figure, left + width + 0.5, top + 0.05, 0.07, tall))
            bar.set_ticks([0, 100], labels=["0 %", "100 %"])
            bar.outline.set_linewidth(0.4)
        if many:
            look = SERIES[n]
            axes.plot([-0.03], [0.5], look.marker, transform=axes.transAxes, color=look.color, markerfacecolor="white",
                      markersize=4.5, clip_on=False)  # fmt: skip
            axes.set_yticks([])
        axes.tick_params(labelbottom=n == len(flights) - 1, length=1.5, pad=1.5)
        top += tall + 0.06
    axes.set_xlabel(clock(flights), labelpad=1.0)


def _moments(figure: Figure, flight: Flight, top: float, width: float) -> None:
    for n, axis in enumerate(moments.AXES):
        axes = place(figure, EDGE + LEFT + n * (width + GUTTER), top, width, MOMENTS - 0.25)
        moments.draw(axes, flight, axis, moments.largest([flight], axis[1])[:3], 3, small=True)
        axes.legend(
            loc="upper center", bbox_to_anchor=(0.5, -0.16), ncols=3, fontsize=5.2, handlelength=2.6, columnspacing=0.8,
            borderaxespad=0.1, handletextpad=0.4, labelspacing=0.2,
        )  # fmt: skip
        axes.tick_params(length=1.5, pad=1.5)
