"""Full-throttle thrust and current (or rpm) over airspeed, a line for each propeller, told apart without colour."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from scenarios.bench.propeller import Benched
from scenarios.bench.propeller_checks import MACH
from sim.description import ElectricPower, Setup
from viewer.plots.style import INK, LIMIT, NOUGHT, SERIES, WIDE, foot, save, style, title

DASHES = ("-", (0, (6, 2)), (0, (1, 1.3)), (0, (6, 2, 1, 2)), (0, (3, 1.5)), (0, (8, 2, 1, 2, 1, 2)))
MARKERS = "osD^vPX*"
OPEN = {"markeredgecolor": INK, "markerfacecolor": "white", "markersize": 6.5, "zorder": 4}


def draw(setup: Setup, found: list[Benched], file: BinaryIO, kind: str) -> None:
    """The picture written to `file` as `kind`: "png", "svg" or "pdf"."""
    save(figure_of(setup, found), file, kind)


def figure_of(setup: Setup, found: list[Benched], cautions: bool = True) -> Figure:
    """The figure of the propellers that ran; `cautions`: with them and the version at the foot."""
    running = [b for b in found if b.curve is not None]
    with style():
        figure = Figure(figsize=(WIDE, 8.4), layout="constrained")
        upper, lower = figure.subplots(2, 1, sharex=True)
        electric = isinstance(setup.airframe.power, ElectricPower)
        names: list[Line2D] = []
        for n, b in enumerate(running):
            look = {
                "linestyle": DASHES[n % len(DASHES)], "color": SERIES[n % len(SERIES)].color,
                "linewidth": 2.2 if b.own else 1.4,
            }  # fmt: skip
            fast, mark = b["top_speed"], MARKERS[n % len(MARKERS)]
            for panel, values in ((upper, b.curve.thrust), (lower, b.curve.drive)):
                panel.plot(b.curve.airspeed, values, **look)
                if fast is not None:
                    panel.plot([fast], [np.interp(fast, b.curve.airspeed, values)], mark, **OPEN)
            label = b.size + (" (in the setup)" if b.own else "")
            names.append(Line2D([], [], marker=mark, label=label, **look, **OPEN))
        upper.axhline(0.0, **NOUGHT)
        upper.set_ylabel("thrust, N")
        upper.set_title("full throttle: thrust (the mark is at level top speed)")
        lower.set_title("full throttle: battery current, full pack" if electric else "full throttle: engine speed")
        lower.set_ylabel("current, A" if electric else "rpm")
        lower.set_xlabel("airspeed along the shaft, m/s")
        if electric:
            _limit(lower, setup.airframe.power.current_limit)
        _weight(upper, running)
        upper.legend(handles=names, fontsize=8.5, frameon=False, handlelength=5, ncols=2 if len(names) > 5 else 1)
        title(figure, f"propellers for {setup.name} on {setup.airframe.name}")
        foot(figure, f"Blade tips beyond Mach {MACH:g}: compressibility is left out.", cautions=cautions)
        return figure


def _limit(panel: Axes, limit: float) -> None:
    """The current limit, where it is within sight."""
    if limit < 1.3 * panel.get_ylim()[1]:
        panel.axhline(limit, **LIMIT)
        panel.annotate(
            "current limit (airframe file)", (0.0, limit), xytext=(2, 3), textcoords="offset points", fontsize=8
        )
        panel.set_ylim(top=1.08 * max(limit, panel.get_ylim()[1]))


def _weight(panel: Axes, running: list[Benched]) -> None:
    """The plane's weight: where a line leaves it, a vertical climb without drag would end."""
    weights = [b["static_thrust"] / b["thrust_over_weight"] for b in running]
    if weights:
        panel.axhline(weights[0], color="0.4", linewidth=0.8, linestyle=(0, (1, 3)))
        panel.annotate("weight", (0.0, weights[0]), xytext=(2, 3), textcoords="offset points", fontsize=8)
