"""A small vortex lattice whose legs follow the chord to the trailing edge and then the flow, for wings in sideslip.

The panel library of `tests.sim.lattice` lets every leg leave along body x, so it cannot
answer what sideslip does to a lifting wing.  Loads are Kutta and Joukowski's on the bound
vortices and on the legs along the chord, in the undisturbed flow: exact to first order in lift.
"""

from __future__ import annotations

import math

import numpy as np

from sim.description import Surface
from tests.sim.lattice import Cut, panels_of


def _leg(at, start, end):
    """Velocity (n, m, 3) at points (n, 3) from m straight unit vortices."""
    a, b, leg = at[:, None] - start, at[:, None] - end, end - start
    across = np.cross(a, b)
    size = np.maximum((across * across).sum(axis=2), 1e-14)
    turn = a / np.linalg.norm(a, axis=2)[..., None] - b / np.linalg.norm(b, axis=2)[..., None]
    return across * ((turn * leg).sum(axis=2) / size / (4.0 * math.pi))[..., None]


def _wake(at, start, along):
    """Velocity (n, m, 3) at points from m half-infinite unit vortices that leave `start` (m, 3) along a unit vector."""
    a = at[:, None] - start
    reach = np.linalg.norm(a, axis=2)
    return np.cross(along, a) / (reach * (reach - a @ along) * 4.0 * math.pi)[..., None]


def loads_in_sideslip(wing: Surface, cut: Cut, alpha: float, beta: float) -> np.ndarray:
    """Force and moment (6,) over dynamic pressure (m2, m3; body axes) of a wing in a stream at small angles (rad)."""
    rows = [row for side in (-1.0, 1.0) for row in panels_of(wing, side, cut)]
    left, right, normal, _, chord = (np.array(column) for column in list(zip(*rows))[:5])
    met = 0.5 * (left + right) - 0.5 * chord[:, None] * [1.0, 0.0, 0.0]

    def trailing_edge(point):
        share = np.abs(point[:, 1]) / wing.tip[1]
        end = wing.root[0] - wing.root_chord + share * (wing.tip[0] - wing.root[0] + wing.root_chord - wing.tip_chord)
        return np.c_[end, point[:, 1:]]

    left_end, right_end = trailing_edge(left), trailing_edge(right)
    moved = np.array([math.cos(alpha) * math.cos(beta), math.sin(beta), math.sin(alpha) * math.cos(beta)])
    along = -np.array([math.cos(beta), math.sin(beta), 0.0])
    velocity = _leg(met, left, right) + _leg(met, right, right_end) + _wake(met, right_end, along)
    velocity += _leg(met, left_end, left) - _wake(met, left_end, along)
    circulation = np.linalg.solve(np.einsum("ijk,ik->ij", velocity, normal), normal @ moved)
    total = np.zeros(6)
    for start, end in ((left, right), (right, right_end), (left_end, left)):
        force = 2.0 * np.cross(-moved, end - start) * circulation[:, None]
        total += np.r_[force.sum(axis=0), np.cross(0.5 * (start + end), force).sum(axis=0)]
    return total
