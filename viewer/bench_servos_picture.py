"""The servo bench as a picture: hinge moments and where full stick brings the surface, over airspeed; a row a control."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure

from scenarios.bench.servos import SHARES, ControlBench, ServoBench
from viewer.portrait_picture import STYLE, UNDATED

DARK = "#1b4f72"
GREYS = ("0.75", "0.6", "0.4", DARK)


def draw(result: ServoBench, file: BinaryIO, kind: str) -> None:
    """One page written to `file` as `kind`, "png", "svg" or "pdf"."""
    with rc_context(STYLE):
        figure = Figure(figsize=(10.0, 0.9 + 3.3 * len(result.controls)), layout="constrained")
        for (left, right), b in zip(figure.subplots(len(result.controls), 2, squeeze=False), result.controls):
            _moments(left, b)
            _reached(right, b, result)
        figure.suptitle(f"servos of {result.setup.name} on {result.setup.airframe.name}", fontsize=13)
        figure.savefig(file, format=kind, dpi=150, metadata=UNDATED[kind])


def _moments(panel, b: ControlBench) -> None:
    """Hinge moments at shares of full throw, and the stall torque as it reaches the surface at full throw."""
    for share, colour, column in zip(SHARES, GREYS, np.abs(b.moments).T):
        panel.plot(b.speeds, column, color=colour, label=f"{100 * share:.0f} % of throw")
    panel.plot(b.speeds, np.abs(b.without_slipstream), color=DARK, linestyle=":", label="100 %, no slipstream")
    if b.loads is not None:
        holds = float(np.abs(b.moments[-1, -1]) / b.loads[-1])
        panel.axhline(holds, color="black", linewidth=1.0, linestyle=(0, (4, 3)), label="stall torque")
    panel.set_ylim(bottom=0.0)
    panel.set_ylabel(f"{b.control}: hinge moment, N m")
    _finish(panel)


def _reached(panel, b: ControlBench, result: ServoBench) -> None:
    """Where full stick brings the surface."""
    panel.axhline(np.degrees(b.full), color="0.6", linewidth=1.0, linestyle="--", label="full throw")
    if b.reached is None:
        panel.text(0.5, 0.4, "servo torque not given", transform=panel.transAxes, ha="center")
    else:
        panel.plot(b.speeds, np.degrees(b.reached), color=DARK, marker="o", markersize=4, label="reached at full stick")
    panel.axvline(result.top_speed, color="0.8", linewidth=1.0, zorder=0)
    panel.annotate(
        "level top speed", (result.top_speed, 0.02), xycoords=panel.get_xaxis_transform(), ha="right", fontsize=8
    )
    panel.set_ylim(0.0, 1.15 * np.degrees(b.full))
    panel.set_ylabel(f"{b.control}, deg")
    _finish(panel)


def _finish(panel) -> None:
    panel.set_xlim(left=0.0)
    panel.set_xlabel("airspeed, m/s")
    panel.spines[["top", "right"]].set_visible(False)
    panel.legend(frameon=False, fontsize=8)
