"""Surfaces as a vortex lattice of a general-purpose panel library: the second route for attached flow.

PanelAero (DLR-IB-AE-GO-2020-137) solves horseshoe vortices whose wakes run along body x and
whose boundary condition is met on the chord surface: linear theory, no thickness, no
viscosity, section slope 2 pi.  Panels are cut here from `sim.description` surfaces.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from sim.description import Surface

vortex_lattice = pytest.importorskip("panelaero.VLM")

TO_LIBRARY = np.array([-1.0, 1.0, -1.0])  # body axes to x aft, y right, z up


@dataclass(frozen=True)
class Cut:
    """How one surface is cut: span edges of a half (0..1), chordwise panels ahead of the hinge and on the flap."""

    span: np.ndarray
    ahead: int
    flap: int = 0


def even(count: int) -> np.ndarray:
    """Edges of `count` equal parts of 0..1."""
    return np.linspace(0.0, 1.0, count + 1)


class Lattice:
    """Panels of surfaces in body axes (m), and the pressures that a motion makes on them.

    Rows, one a panel: `left` and `right` end of the bound vortex, `bound` its middle,
    `met` the control point, `normal` as in `sim.lifting_surfaces`, `area`, `chord`,
    `fraction` (span fraction, negative to the left), `owner` (surface name), `on_flap`.
    """

    def __init__(self, surfaces: tuple[Surface, ...], cuts: dict[str, Cut]):
        rows = [
            row
            for surface in surfaces
            for side in ((-1.0, 1.0) if surface.symmetric else (1.0,))
            for row in panels_of(surface, side, cuts[surface.name])
        ]
        columns = [np.array(column) for column in zip(*rows)]
        self.left, self.right, self.normal, self.area, self.chord, self.fraction, self.owner, self.on_flap = columns
        self.bound = 0.5 * (self.left + self.right)
        self.met = self.bound - 0.5 * self.chord[:, None] * [1.0, 0.0, 0.0]
        grid = dict(
            offset_j=self.met * TO_LIBRARY,
            offset_P1=self.left * TO_LIBRARY,
            offset_P3=self.right * TO_LIBRARY,
            N=self.normal * TO_LIBRARY,
            A=self.area,
            l=self.chord,
            n=len(rows),
        )
        with np.errstate(
            divide="ignore", invalid="ignore"
        ):  # the library sets points in line with a vortex to zero later
            self.pressure_of_wash, _ = vortex_lattice.calc_Qjj(grid, 0.0)

    def pressure(self, velocity: Callable | np.ndarray) -> np.ndarray:
        """Pressure coefficients (n,) for the body's velocity over its speed, (3,) or a function of points (n, 3)."""
        moved = velocity(self.met) if callable(velocity) else np.asarray(velocity, float)
        return self.pressure_of_wash @ -(moved * self.normal).sum(axis=1)

    def pressure_of_flap(self, turn: np.ndarray) -> np.ndarray:
        """Pressure coefficients (n,) of flaps turned by `turn` rad (n,), trailing edge down positive."""
        return self.pressure_of_wash @ np.where(self.on_flap, turn, 0.0)

    def loads(self, pressure: np.ndarray, about=(0.0, 0.0, 0.0), name: str | None = None) -> np.ndarray:
        """Force and moment (6,) over dynamic pressure (m2, m3; body axes) of one surface, or of all."""
        force = (pressure * self.area)[:, None] * self.normal
        moment = np.cross(self.bound - np.asarray(about, float), force)
        chosen = np.ones(len(force), bool) if name is None else self.owner == name
        return np.r_[force[chosen].sum(axis=0), moment[chosen].sum(axis=0)]


def panels_of(surface: Surface, side: float, cut: Cut):
    """Rows of one half of a surface: left, right, normal, area, chord, fraction, owner, on_flap."""
    root, tip = np.array(surface.root), np.array(surface.tip)
    flap = surface.flap

    def edge(at: float):
        hinge = 1.0 if not cut.flap else 1.0 - flap.chord_root - at * (flap.chord_tip - flap.chord_root)
        share = (
            np.r_[even(cut.ahead) * hinge, hinge + even(cut.flap)[1:] * (1.0 - hinge)] if cut.flap else even(cut.ahead)
        )
        chord = surface.root_chord + at * (surface.tip_chord - surface.root_chord)
        return (root + at * (tip - root)) * [1.0, side, 1.0], chord * share

    for a, b in zip(cut.span[:-1], cut.span[1:]):
        (p, on_p), (q, on_q) = (edge(a), edge(b)) if side > 0.0 else (edge(b), edge(a))  # left, right
        across = np.array([0.0, *(q - p)[1:]])
        width = float(np.linalg.norm(across))
        across /= width
        middle = 0.5 * (a + b)
        angle = surface.incidence + middle * surface.twist
        forward = np.array([np.cos(angle), 0.0, 0.0]) + np.sin(angle) * np.cross(across, [1.0, 0.0, 0.0])
        normal = np.cross(across, forward)
        for i in range(cut.ahead + cut.flap):
            quarter_p = on_p[i] + 0.25 * (on_p[i + 1] - on_p[i])
            quarter_q = on_q[i] + 0.25 * (on_q[i + 1] - on_q[i])
            chord = 0.5 * (on_p[i + 1] - on_p[i] + on_q[i + 1] - on_q[i])
            on_flap = bool(i >= cut.ahead and flap.start < middle < flap.end)
            yield (
                p - [quarter_p, 0.0, 0.0], q - [quarter_q, 0.0, 0.0], normal, chord * width, chord,
                side * middle, surface.name, on_flap,
            )  # fmt: skip
