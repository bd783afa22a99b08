"""One figure for each thing to see of one flight or up to four: the path, what varies over time, stall, moments."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from models.options import one_of
from sim.description import ElectricPower
from viewer.plots import moments, over_time, path, phases, stall
from viewer.plots.flights import Flight
from viewer.plots.style import (
    FOOT,
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
from viewer.plots.traces import GROUPS, group
from viewer.words import NO_TORQUE

WHAT = (
    "path",
    "speed",
    "attitude",
    "rates",
    "flow",
    "sticks",
    "surfaces",
    "loads",
    "stall",
    "moments",
    "power",
    "servos",
)
ABOUT = {
    "path": "The path, from the side and from above",
    "speed": "Speed and height",
    "attitude": "Attitude",
    "rates": "Rates of turn",
    "flow": "Angle of attack, sideslip, share of the wing that is stalled",
    "sticks": "Sticks",
    "surfaces": "Control surfaces",
    "loads": "Load factor",
    "stall": "Stall over the span",
    "moments": "Moments by part about the CG",
    "power": "Power",
    "servos": "What the air asks of the servos",
}
LEFT, RIGHT, EDGE = 0.7, 0.95, 0.15  # in: room for labels, for words, and all round
PANEL, BETWEEN = 1.12, 0.14  # in


def figure_of(what: str, flights: Sequence[Flight], foot: bool = True) -> Figure:
    """The figure of one of WHAT for one to four flights; `foot` with cautions and version.  Raises `OptionError`."""
    one_of("--of", what, WHAT)
    flights = list(flights)
    make = {"path": _path, "stall": _stall, "moments": _moments}.get(what, _over_time)
    with style():
        return make(what, flights, foot)


def heading(what: str, flights: Sequence[Flight]) -> str:
    """What is seen, and of which flights."""
    flown = list(dict.fromkeys(f.manoeuvre for f in flights))
    return f"{ABOUT[what]}: {flown_by(flights)}, {' and '.join(flown)}"


def flown_by(flights: Sequence[Flight]) -> str:
    """The setups and the planes that they are on."""
    planes = list(dict.fromkeys(f.plane.setup.airframe.name for f in flights))
    return f"{', '.join(dict.fromkeys(f.setup for f in flights))} on {' and '.join(planes)}"


# ---- what all have -------------------------------------------------------------------------------------------------


class Sheet:
    """A page that is filled from the top: heading, names of the flights, then panels, and the foot in the end."""

    def __init__(self, title: str, flights: Sequence[Flight], body: float, captions: Sequence[str], foot: bool) -> None:
        self.flights, self.wide = flights, WIDE
        lines = foot_lines(WIDE - 2.0 * EDGE, *captions, cautions=foot)
        heads = filled(title, WIDE - 2.0 * EDGE, 11.0)
        self.top = EDGE + height_of(heads, 11.0) + 0.06
        legend = 0.24 * (len(flights) > 1)
        below = height_of(lines) + 0.1 if lines else 0.0
        self.figure = page(WIDE, self.top + legend + body + below + EDGE)
        write(self.figure, EDGE, EDGE, "\n".join(heads), 11.0)
        tall = float(self.figure.get_size_inches()[1])
        if lines:
            write(self.figure, EDGE, tall - EDGE - height_of(lines), "\n".join(lines), FOOT, color="#333333")
        if legend:
            names(self.figure, flights, EDGE, self.top)
            self.top += legend


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


def _clock(flights: Sequence[Flight]) -> str:
    return (
        "time, s"
        if all(abs(f.time[0] - f.whole.start) < 1e-9 for f in flights)
        else "time from the instant they share, s"
    )


def _over_time(what: str, flights: list[Flight], foot: bool) -> Figure:
    traces = group(what, flights)
    strip = phases.ROW * len(flights)
    captions = [_reading(what, flights)]
    width = WIDE - LEFT - RIGHT - EDGE
    body = strip + 0.08 + len(traces) * PANEL + (len(traces) - 1) * BETWEEN + 0.5
    sheet = Sheet(heading(what, flights), flights, body, [_too_short(flights, width), *captions], foot)
    at, left = sheet.top, LEFT + EDGE
    phases.strip(place(sheet.figure, left, at, width, strip), flights, width)
    at += strip + 0.08
    first = None
    for n, trace in enumerate(traces):
        axes = place(sheet.figure, left, at, width, PANEL, sharex=first)
        first = first or axes
        over_time.draw(axes, trace, flights)
        axes.tick_params(labelbottom=n == len(traces) - 1)
        at += PANEL + BETWEEN
    axes.set_xlabel(_clock(flights))
    return sheet.figure


def _too_short(flights: Sequence[Flight], width: float) -> str:
    return phases.left_out(flights, width)


def _reading(what: str, flights: Sequence[Flight]) -> str:
    """How to read the panels of a group."""
    said = []
    if len(flights) > 1:
        said.append(f"Bands behind the lines: phases of {flights[0].name}.")
    if what == "surfaces" and len(flights) == 1:
        said.append("Thin dashes: where the surface was asked to go.")
    if what == "servos":
        said.append("Torque of the air on the servos, % of their stall torque in the setup file; where that is not given, the "
                    "hinge moment. " + NO_TORQUE.capitalize() + "." if not _all_torques(flights) else
                    "Torque of the air on the servos, % of the stall torque in the setup file.")  # fmt: skip
    if what == "loads":
        said.append("Force without weight over weight: 1 g in level flight.")
    if what == "power":
        powers = [f.plane.setup.airframe.power for f in flights]
        limits = sorted({power.current_limit for power in powers if isinstance(power, ElectricPower)})
        said += [f"Current limit of the airframe file: {', '.join(f'{one:g}' for one in limits)} A."] if limits else []
    return " ".join(said)


def _all_torques(flights: Sequence[Flight]) -> bool:
    return all(trace.unit == "%" for trace in group("servos", list(flights)))


# ---- path, stall, moments -------------------------------------------------------------------------------------------------


def _path(what: str, flights: list[Flight], foot: bool) -> Figure:
    captions = (
        "Bars with a point: the way the nose points, with the time; one scale in all directions. Heights are the flights' own; "
        "along and across, all go through 0 at 0 s." if len(flights) > 1 else
        "Bars with a point: the way the nose points, with the time; one scale in all directions."
    )  # fmt: skip
    width, tall = WIDE - LEFT - 2.0 * EDGE, 6.2
    probe = page(WIDE, 12.0)
    body = path.draw(probe, LEFT, 0.0, width, flights, tall)
    sheet = Sheet(heading(what, flights), flights, body + 0.65, [captions], foot)
    path.draw(sheet.figure, LEFT, sheet.top + 0.2, width, flights, tall)
    return sheet.figure


def _stall(what: str, flights: list[Flight], foot: bool) -> Figure:
    surfaces = stall.surfaces_of(flights)
    heights = [1.5 if name == "wing" else 0.85 for name in surfaces]
    many = len(flights) > 1
    each = phases.ROW + 0.08 + sum(heights) + BETWEEN * (len(surfaces) - 1) + 0.3 + 0.2 * many
    width = WIDE - LEFT - RIGHT - EDGE - 0.35
    caption = (
        "Share of the chord, by strip, behind the point where the flow leaves the surface; black line: half of it, from which on "
        "a strip counts as stalled. Span from the middle, right positive; fin from its root."
    )
    sheet = Sheet(
        heading(what, flights), flights[:1], each * len(flights) + 0.2, [_too_short(flights, width), caption], foot
    )
    at, left = sheet.top, LEFT + EDGE
    start, end = phases.span_of(flights)
    for flight in flights:
        if many:
            write(sheet.figure, EDGE, at, flight.name, 9.0, weight="bold")
            at += 0.2
        strip = place(sheet.figure, left, at, width, phases.ROW)
        phases.strip(strip, [flight], width, (start, end))
        top = at = at + phases.ROW + 0.08
        for name, height in zip(surfaces, heights):
            axes = place(sheet.figure, left, at, width, height)
            if name in flight.plane.strips:
                mesh = stall.draw(axes, flight, name)
            axes.set_xlim(start, end)
            axes.tick_params(labelbottom=name == surfaces[-1])
            at += height + BETWEEN
        bar = sheet.figure.colorbar(mesh, cax=place(sheet.figure, left + width + 0.72, top, 0.1, heights[0]))
        bar.outline.set_linewidth(0.4)
        bar.set_ticks([0, 50, 100])
        bar.set_label("separated, % of chord", fontsize=SMALL)
        bar.ax.tick_params(labelsize=SMALL)
        at += 0.3 - BETWEEN
    axes.set_xlabel(_clock(flights))
    return sheet.figure


def _moments(what: str, flights: list[Flight], foot: bool) -> Figure:
    many = len(flights) > 1
    strip = phases.ROW + 0.08
    each = 0.2 * many + strip + 3 * (1.35 + BETWEEN) + 0.3 - BETWEEN
    width = WIDE - LEFT - RIGHT - EDGE - 0.85
    caption = "Thick: all parts together. The parts with the largest moments have lines of their own, the rest are summed as the others."
    sheet = Sheet(
        heading(what, flights), flights[:1], each * len(flights) + 0.2, [_too_short(flights, width), caption], foot
    )
    at, left = sheet.top, LEFT + EDGE
    span, limits = phases.span_of(flights), {}
    panels: list[tuple[Axes, str]] = []
    named = {axis[0]: moments.largest(flights, axis[1]) for axis in moments.AXES}
    for flight in flights:
        if many:
            write(sheet.figure, EDGE, at, flight.name, 9.0, weight="bold")
            at += 0.2
        phases.strip(place(sheet.figure, left, at, width, phases.ROW), [flight], width, span)
        at += strip
        for axis in moments.AXES:
            axes = place(sheet.figure, left, at, width, 1.35)
            moments.draw(axes, flight, axis, named[axis[0]])
            axes.set_xlim(*span)
            axes.legend(
                loc="center left", bbox_to_anchor=(1.005, 0.5), fontsize=SMALL, handlelength=3.2, borderaxespad=0.2
            )
            low, high = axes.get_ylim()
            before = limits.get(axis[0], (low, high))
            limits[axis[0]] = (min(low, before[0]), max(high, before[1]))
            axes.tick_params(labelbottom=axis is moments.AXES[-1])
            panels.append((axes, axis[0]))
            at += 1.35 + BETWEEN
        at += 0.3 - BETWEEN
    for axes, name in panels:
        axes.set_ylim(*limits[name])
    axes.set_xlabel(_clock(flights))
    return sheet.figure


assert set(GROUPS) | {"path", "stall", "moments", "servos"} == set(WHAT) == set(ABOUT)
