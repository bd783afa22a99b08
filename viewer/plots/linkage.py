"""The linkage bench as a picture: surface over stick, and what is torque and play on the way; a row for each control."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np
from matplotlib.figure import Figure

from scenarios.bench.linkage import Bench, edge_travel
from viewer.bench.linkage import SIDES
from viewer.plots.style import NOUGHT, SERIES, foot, save, style, title


def draw(title: str, benches: list[Bench], file: BinaryIO, kind: str) -> None:
    """One page written to `file` as `kind`, "png", "svg" or "pdf"."""
    save(figure_of(title, benches), file, kind)


def figure_of(heading: str, benches: list[Bench], cautions: bool = True) -> Figure:
    """The figure of the benches under `heading`; `cautions`: with them and the version at the foot."""
    with style():
        return _page(heading, benches, cautions)


def _page(heading: str, benches: list[Bench], cautions: bool) -> Figure:
    figure = Figure(figsize=(10.0, 1.2 + 3.5 * len(benches)), layout="constrained")
    panels = figure.subplots(len(benches), 2, squeeze=False)
    panels[0, 0].set_title("surface over stick")
    panels[0, 1].set_title("leverage: torque at the surface over the servo's")
    for (left, right), b in zip(panels, benches):
        _surface(left, b)
        _leverage(right, b)
    figure.get_layout_engine().set(wspace=0.06)
    title(figure, heading)
    foot(figure, cautions=cautions)
    return figure


def _surface(panel, b: Bench) -> None:
    """Surface over stick with the linkage and without, and the trailing edge's way on the right-hand side."""
    stick = [100.0 * p.stick for p in b.points]
    panel.plot(stick, np.degrees([p.surface for p in b.points]), label="with the linkage", **SERIES[0].line(len(stick)))
    panel.plot(
        stick, np.degrees([p.straight for p in b.points]), label="exponential alone", **SERIES[1].line(len(stick), 2)
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
    panel.plot(stick, [1.0 / p.rate for p in b.points], **SERIES[0].line(len(stick)))
    _grid(panel, b)
    panel.set_ylim(bottom=0.0)


def _grid(panel, b: Bench) -> None:
    up, down = SIDES[b.control]
    panel.set_xlim(-100.0, 100.0)
    panel.set_xticks(range(-100, 101, 50))
    panel.set_xlabel(f"stick, % ({down} to {up})")
    panel.axvline(0.0, **NOUGHT)
    panel.axhline(0.0, **NOUGHT)
