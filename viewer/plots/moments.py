"""Which part turned the plane: moments about the CG by part over time, from the loads of the record."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from sim import layout as L
from viewer.plots import over_time, phases
from viewer.plots.flights import Flight
from viewer.plots.style import GREY, INK, SERIES

AXES = (("roll", 3, "right", "left"), ("pitch", 4, "to canopy", "to gear"), ("yaw", 5, "nose right", "nose left"))
NAMED = 4  # parts with a line of their own; the others are summed
WING, OTHERS, ALL = "wing", "the others", "all together"
LEAST = 0.01  # of the largest: a part smaller than this has no line


def by_part(flight: Flight, column: int) -> dict[str, np.ndarray]:
    """Moments (n,) N m in a column of the loads, by part; the halves of the wing together, as they mostly cancel."""
    loads = flight.loads[:, :, column]
    parts = {WING: loads[:, L.WING_LEFT] + loads[:, L.WING_RIGHT]}
    return parts | {L.PARTS[n]: loads[:, n] for n in range(L.N_PARTS) if n not in (L.WING_LEFT, L.WING_RIGHT)}


def largest(flights: Sequence[Flight], column: int) -> list[str]:
    """The parts whose moments in `column` are largest (root mean square over all flights), most first."""
    tables = [by_part(flight, column) for flight in flights]
    size = {}
    for part in tables[0]:
        values = np.concatenate([table[part] for table in tables])
        size[part] = float(np.sqrt(np.mean(values[np.isfinite(values)] ** 2)))
    most = max(size.values())
    return [part for part in sorted(size, key=lambda part: -size[part]) if size[part] > LEAST * most][:NAMED]


def lines(flight: Flight, column: int, parts: Sequence[str]) -> dict[str, np.ndarray]:
    """The moments (n,) N m of `parts` by name, of all the others together, and of all, in a column of the loads."""
    table = by_part(flight, column)
    rest = [values for part, values in table.items() if part not in parts]
    return {
        **{part: table[part] for part in parts},
        OTHERS: np.sum(rest, axis=0),
        ALL: flight.loads[:, :, column].sum(axis=1),
    }


def draw(
    axes: Axes,
    flight: Flight,
    axis: tuple[str, int, str, str],
    parts: Sequence[str],
    ticks: int = 5,
    small: bool = False,
) -> None:
    """The moments of one axis on `axes`: the sum as a thick line, the parts with dashes and markers of their own."""
    name, column, up, down = axis
    phases.bands(axes, flight.phases)
    for n, (part, values) in enumerate(lines(flight, column, parts).items()):
        values = np.where(np.isfinite(values), values, np.nan)
        if part == ALL:
            look = {"color": INK, "linewidth": 1.2 if small else 2.0, "zorder": 3}
        elif part == OTHERS:
            look = {"color": GREY, "linewidth": 1.0, "linestyle": (0, (1, 2.2)), "zorder": 1.9}
        else:
            look = SERIES[n + 1].line(len(values), n, 0.8 if small else 1.1)
        axes.plot(flight.time, values, label=part, **look)
    over_time.finish(axes, [flight], ticks)
    over_time.name(axes, f"{name} moment, N m" if small else f"{name}, N m", up, down, small)
