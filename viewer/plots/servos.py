"""The servo bench as a picture: hinge moments and where full stick brings the surface, over airspeed; a row a control."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np
from matplotlib.figure import Figure

from scenarios.bench.servos import SHARES, ControlBench, ServoBench
from viewer.plots.style import FAINT, GREY, LIMIT, SERIES, foot, save, style, title


def draw(result: ServoBench, file: BinaryIO, kind: str) -> None:
    """One page written to `file` as `kind`, "png", "svg" or "pdf"."""
    save(figure_of(result), file, kind)


def figure_of(result: ServoBench, cautions: bool = True) -> Figure:
    """The figure of the bench; `cautions`: with them and the version at the foot."""
    with style():
        figure = Figure(figsize=(10.0, 1.2 + 3.3 * len(result.controls)), layout="constrained")
        for (left, right), b in zip(figure.subplots(len(result.controls), 2, squeeze=False), result.controls):
            _moments(left, b)
            _reached(right, b, result)
        title(figure, f"servos of {result.setup.name} on {result.setup.airframe.name}")
        foot(figure, cautions=cautions)
        return figure


def _moments(panel, b: ControlBench) -> None:
    """Hinge moments at shares of full throw, and the stall torque as it reaches the surface at full throw."""
    for n, (share, column) in enumerate(zip(SHARES, np.abs(b.moments).T)):
        look = SERIES[len(SHARES) - 1 - n].line(len(b.speeds), n)
        panel.plot(b.speeds, column, **look, label=f"{100 * share:.0f} % of throw")
    panel.plot(b.speeds, np.abs(b.without_slipstream), color=GREY, linestyle=":", label="100 %, no slipstream")
    if b.loads is not None:
        holds = float(np.abs(b.moments[-1, -1]) / b.loads[-1])
        panel.axhline(holds, label="stall torque (setup file)", **LIMIT)
    panel.set_ylim(bottom=0.0)
    panel.set_ylabel(f"{b.control}: hinge moment, N m")
    _finish(panel)


def _reached(panel, b: ControlBench, result: ServoBench) -> None:
    """Where full stick brings the surface."""
    panel.axhline(np.degrees(b.full), color=FAINT, linewidth=1.0, linestyle="--", label="full throw")
    if b.reached is None:
        panel.text(0.5, 0.4, "servo torque not given", transform=panel.transAxes, ha="center")
    else:
        panel.plot(b.speeds, np.degrees(b.reached), label="reached at full stick", **SERIES[0].line(len(b.speeds)))
    panel.axvline(result.top_speed, color=FAINT, linewidth=0.9, zorder=0)
    panel.annotate(
        "level top speed", (result.top_speed, 0.02), xycoords=panel.get_xaxis_transform(), ha="right", fontsize=8
    )
    panel.set_ylim(0.0, 1.15 * np.degrees(b.full))
    panel.set_ylabel(f"{b.control}, deg")
    _finish(panel)


def _finish(panel) -> None:
    panel.set_xlim(left=0.0)
    panel.set_xlabel("airspeed, m/s")
    panel.legend(fontsize=8, handlelength=3.6)
