"""Full-throttle thrust and current (or rpm) over airspeed, a line for each propeller, told apart without colour."""

from __future__ import annotations

import textwrap
from typing import BinaryIO

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from scenarios.bench.propeller import Benched
from scenarios.bench.propeller_checks import MACH
from sim.description import ElectricPower, Setup
from viewer.map_plot import STYLE, UNDATED
from viewer.words import CAUTIONS

DASHES = ("-", (0, (6, 2)), (0, (1, 1.3)), (0, (6, 2, 1, 2)), (0, (3, 1.5)), (0, (8, 2, 1, 2, 1, 2)))
SHADES = ("0.0", "0.45")
MARKERS = "osD^vPX*"
OPEN = {"markeredgecolor": "black", "markerfacecolor": "white", "markersize": 6.5, "zorder": 4}


def draw(setup: Setup, found: list[Benched], file: BinaryIO, kind: str) -> None:
    """The picture written to `file` as `kind`: "png", "svg" or "pdf"."""
    running = [b for b in found if b.curve is not None]
    with rc_context(STYLE):
        figure = Figure(figsize=(8.3, 8.4), dpi=150, layout="constrained")
        upper, lower = figure.subplots(2, 1, sharex=True)
        electric = isinstance(setup.airframe.power, ElectricPower)
        names: list[Line2D] = []
        for n, b in enumerate(running):
            look = {
                "linestyle": DASHES[n % len(DASHES)], "color": SHADES[n // len(DASHES) % 2],
                "linewidth": 2.2 if b.own else 1.4,
            }  # fmt: skip
            fast, mark = b["top_speed"], MARKERS[n % len(MARKERS)]
            for panel, values in ((upper, b.curve.thrust), (lower, b.curve.drive)):
                panel.plot(b.curve.airspeed, values, **look)
                if fast is not None:
                    panel.plot([fast], [np.interp(fast, b.curve.airspeed, values)], mark, **OPEN)
            label = b.size + (" (in the setup)" if b.own else "")
            names.append(Line2D([], [], marker=mark, label=label, **look, **OPEN))
        upper.axhline(0.0, color="0.6", linewidth=0.6)
        upper.set_ylabel("thrust, N")
        upper.set_title("full throttle: thrust (the mark is at level top speed)")
        lower.set_title("full throttle: battery current, full pack" if electric else "full throttle: engine speed")
        lower.set_ylabel("current, A" if electric else "rpm")
        lower.set_xlabel("airspeed along the shaft, m/s")
        if electric:
            _limit(lower, setup.airframe.power.current_limit)
        _weight(upper, running)
        upper.legend(handles=names, fontsize=8.5, frameon=False, handlelength=5, ncols=2 if len(names) > 5 else 1)
        figure.suptitle(f"propellers for {setup.name} on {setup.airframe.name}", x=0.01, ha="left", fontsize=11.5)
        foot = f"Blade tips beyond Mach {MACH:g}: compressibility is left out. {CAUTIONS}"
        figure.supxlabel("\n".join(textwrap.wrap(foot, 125)), x=0.01, ha="left", fontsize=7.5)
        figure.savefig(file, format=kind, metadata=UNDATED[kind])


def _limit(panel: Axes, limit: float) -> None:
    """The current limit, where it is within sight."""
    if limit < 1.3 * panel.get_ylim()[1]:
        panel.axhline(limit, color="black", linewidth=0.8, linestyle=(0, (1, 3)))
        panel.annotate("current limit", (0.0, limit), xytext=(2, 3), textcoords="offset points", fontsize=8)
        panel.set_ylim(top=1.08 * max(limit, panel.get_ylim()[1]))


def _weight(panel: Axes, running: list[Benched]) -> None:
    """The plane's weight: where a line leaves it, a vertical climb without drag would end."""
    weights = [b["static_thrust"] / b["thrust_over_weight"] for b in running]
    if weights:
        panel.axhline(weights[0], color="0.4", linewidth=0.8, linestyle=(0, (1, 3)))
        panel.annotate("weight", (0.0, weights[0]), xytext=(2, 3), textcoords="offset points", fontsize=8)
