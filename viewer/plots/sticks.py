"""The stick bench as a picture that also reads in grey: a column a stick, its surface above, its rate of turn below."""

from __future__ import annotations

import math
from typing import BinaryIO

import numpy as np
from matplotlib.figure import Figure

from scenarios.bench.sticks import Bench
from viewer.bench.sticks import DEG, TURNS, WAYS
from viewer.plots.style import NOUGHT, SERIES, foot, save, style, title

LOOKS = dict(zip(("high", "middle", "low"), SERIES))


def draw(by_rate: dict[str, Bench], file: BinaryIO, kind: str) -> None:
    """One page written to `file` as `kind`, "png", "svg" or "pdf": the three rates overlaid."""
    save(figure_of(by_rate), file, kind)


def figure_of(by_rate: dict[str, Bench], cautions: bool = True) -> Figure:
    """The figure of the benches by rate; `cautions`: with them and the version at the foot."""
    with style():
        return _page(by_rate, cautions)


def _page(by_rate: dict[str, Bench], cautions: bool) -> Figure:
    first = next(iter(by_rate.values()))
    figure = Figure(figsize=(11.0, 6.8), layout="constrained")
    panels = figure.subplots(2, 3, sharex="col")
    for n, stick in enumerate(WAYS):
        above, below = panels[:, n]
        for rate, b in by_rate.items():
            axis = b.axes[n]
            colour, line = LOOKS[rate].color, LOOKS[rate].linestyle
            at = np.array([100.0 * p.stick for p in axis.places])
            own = np.array([_own(stick, p.surfaces) for p in axis.places]) * DEG
            turn = np.array([math.nan if p.rate is None else p.rate for p in axis.places]) * DEG
            label = f"{rate}: {100.0 * axis.share:.0f} %, exponential {100.0 * axis.exponential:.0f} %"
            above.plot(at, own[:, 0], label=label, **LOOKS[rate].line(len(at), 0, 1.8))
            if stick == "aileron" and np.abs(own[:, 0] - own[:, 1]).max() > 0.1:  # differential, or unequal throws
                above.plot(at, own[:, 1], color=colour, linestyle=line, linewidth=0.8)
            below.plot(at, turn, **LOOKS[rate].line(len(at), 0, 1.8))
            beyond = ~np.isfinite(turn)
            if beyond.any():  # where no steady motion was found
                edge = below.get_xaxis_transform()
                height = 0.02 + 0.03 * list(by_rate).index(rate)
                below.plot(
                    at[beyond],
                    np.full(beyond.sum(), height),
                    "x",
                    color=colour,
                    markersize=5,
                    transform=edge,
                    clip_on=False,
                )
        for panel in (above, below):
            panel.axhline(0.0, **NOUGHT)
            panel.axvline(0.0, **NOUGHT)
            panel.set_xlim(-100.0, 100.0)
            panel.set_xticks(range(-100, 101, 50))
        above.set_title(stick, fontsize=11)
        above.legend(loc="upper left", fontsize=8, handlelength=3.2)
        above.set_ylabel(
            {"aileron": "right aileron, deg up", "elevator": "elevator, deg up"}.get(stick, "rudder, deg right")
        )
        below.set_ylabel(f"{TURNS[stick]}, deg/s")
        below.set_xlabel(f"stick, % ({WAYS[stick][0]} to {WAYS[stick][1]})")
    name = f"{first.setup.name} on {first.setup.airframe.name}"
    title(figure, f"sticks of {name}, {first.mode} mode, level at {first.speed:.0f} m/s")
    notes = ["Surfaces and rates from trimmed level flight; rates steady."]
    if any(abs(p.surfaces[0] + p.surfaces[1]) > 0.002 for b in by_rate.values() for p in b.axes[0].places):
        notes.append("Thin: the left aileron, turned over.")
    if any(p.rate is None for b in by_rate.values() for a in b.axes for p in a.places):
        notes.append("Crosses: no steady curve, the wing is stalled.")
    foot(figure, " ".join(notes), cautions=cautions)
    return figure


def _own(stick: str, surfaces: tuple[float, float, float, float]) -> tuple[float, float]:
    """The surface that stands for a stick; of the ailerons the right one, and the left one turned over."""
    left, right, elevator, rudder = surfaces
    return {"aileron": (right, -left), "elevator": (elevator, elevator)}.get(stick, (rudder, rudder))
