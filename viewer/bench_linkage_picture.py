"""The linkage bench as a picture: surface over stick, and what is torque and play on the way; a row for each control."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure

from scenarios.bench.linkage import Bench, edge_travel
from viewer.bench_linkage import SIDES
from viewer.portrait_picture import STYLE, UNDATED

DARK, LIGHT = "#1b4f72", "0.55"


def draw(title: str, benches: list[Bench], file: BinaryIO, kind: str) -> None:
    """One page written to `file` as `kind`, "png", "svg" or "pdf"."""
    with rc_context(STYLE):
        _page(title, benches).savefig(file, format=kind, dpi=150, metadata=UNDATED[kind])


def _page(title: str, benches: list[Bench]) -> Figure:
    figure = Figure(figsize=(10.0, 0.9 + 3.5 * len(benches)), layout="constrained")
    panels = figure.subplots(len(benches), 2, squeeze=False)
    panels[0, 0].set_title("surface over stick", fontsize=10.5)
    panels[0, 1].set_title("leverage: torque at the surface over the servo's", fontsize=10.5)
    for (left, right), b in zip(panels, benches):
        _surface(left, b)
        _leverage(right, b)
    figure.get_layout_engine().set(wspace=0.06)
    figure.suptitle(title, fontsize=13)
    return figure


def _surface(panel, b: Bench) -> None:
    """Surface over stick with the linkage and without, and the trailing edge's way on the right-hand side."""
    stick = [100.0 * p.stick for p in b.points]
    panel.plot(stick, np.degrees([p.surface for p in b.points]), color=DARK, label="with the linkage")
    panel.plot(
        stick, np.degrees([p.straight for p in b.points]), color=LIGHT, linestyle="--", label="exponential alone"
    )
    _grid(panel, b)
    panel.set_ylabel(f"{b.control}, deg {SIDES[b.control][0]}")
    panel.legend(loc="upper left", frameon=False, fontsize=9)
    edge = panel.secondary_yaxis(
        "right",
        functions=(
            lambda angle: 1e3 * edge_travel(b.chord, np.radians(angle)),
            lambda way: np.degrees(2.0 * np.arcsin(np.clip(np.asarray(way) / (2e3 * b.chord), -1.0, 1.0))),
        ),
    )
    edge.set_ylabel("trailing edge, mm straight")


def _leverage(panel, b: Bench) -> None:
    """Torque at the surface over the servo's, over stick."""
    stick = [100.0 * p.stick for p in b.points]
    panel.plot(stick, [1.0 / p.rate for p in b.points], color=DARK)
    _grid(panel, b)
    panel.set_ylim(bottom=0.0)


def _grid(panel, b: Bench) -> None:
    up, down = SIDES[b.control]
    panel.set_xlim(-100.0, 100.0)
    panel.set_xticks(range(-100, 101, 50))
    panel.set_xlabel(f"stick, % ({down} to {up})")
    panel.axvline(0.0, color="0.85", linewidth=0.8, zorder=0)
    panel.axhline(0.0, color="0.85", linewidth=0.8, zorder=0)
    panel.spines[["top", "right"]].set_visible(False)
