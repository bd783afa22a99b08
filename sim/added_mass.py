"""Added mass: the air that a light, large surface has to move along when it accelerates.

A strip accelerating along its normal carries rho pi/4 chord^2 per span, at mid-chord, times what
aspect ratio leaves of it, A / (A + 0.7) (flat plates: 0.58, 0.76, 0.87 at A 1, 2, 4; Newman, Marine
Hydrodynamics, 1977, from memory).  A fuselage slice carries its added-mass area times its
length.  Only the part that goes with acceleration is here: what goes with velocity is the
load on the three-quarter-chord point and the Munk force already.  For the built-in 2.2 m aeroplane it
adds 5 % to the mass in heave and a sixth to the inertia in roll.
"""

from __future__ import annotations

import math

import numpy as np

from sim import layout as L

SEA_LEVEL = 1.225  # kg/m3: density is taken as that, 2 % high at 200 m


def strips_carry(model: np.ndarray, aspect: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Air carried along by each strip: mass (n,) in kg, its middle (n, 3) in m from the CG, and the normal (n, 3) it goes with."""
    n = int(model[L.N_STRIPS])

    def points(*rows: int) -> np.ndarray:
        return np.stack([model[row : row + n] for row in rows], axis=1)

    middle = 0.5 * (points(L.X, L.Y, L.Z) + points(L.VX, L.VY, L.VZ))
    width = 2.0 * model[L.HALF_WIDTH : L.HALF_WIDTH + n]
    mass = SEA_LEVEL * math.pi / 4.0 * model[L.CHORD : L.CHORD + n] ** 2 * width * aspect / (aspect + 0.7)
    return mass, middle, points(L.NX, L.NY, L.NZ)


def added_mass(model: np.ndarray, aspect: np.ndarray) -> np.ndarray:
    """The added-mass matrix (6, 6) about the CG, body axes: kg, kg m, kg m2.

    `model` has its strips and bodies placed; `aspect` is the aspect ratio of each strip's surface, (strips,).
    """
    mass, middle, normal = strips_carry(model, aspect)
    n = int(model[L.N_FUSELAGE])
    places = np.stack([model[row : row + n] for row in (L.BODY_X, L.BODY_Y, L.BODY_Z)], axis=1)
    air = SEA_LEVEL * model[L.BODY_LENGTH : L.BODY_LENGTH + n]
    sides = [np.tile(axis, (n, 1)) for axis in ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0))]
    points, along = np.vstack([middle, places, places]), np.vstack([normal, *sides])
    carried = np.r_[
        mass, air * model[L.BODY_ADDED_L : L.BODY_ADDED_L + n], air * model[L.BODY_ADDED_V : L.BODY_ADDED_V + n]
    ]
    motion = np.hstack([along, np.cross(points, along)])
    return (motion * carried[:, None]).T @ motion


def set_mass(model: np.ndarray, mass: float, inertia: np.ndarray, added: np.ndarray | None = None) -> None:
    """Write mass (kg), inertia (3, 3; kg m2) and the inverse of the whole mass matrix into `model`."""
    matrix = np.zeros((6, 6)) if added is None else added.copy()
    matrix[:3, :3] += mass * np.eye(3)
    matrix[3:, 3:] += inertia
    model[L.MASS] = mass
    model[L.INERTIA : L.INERTIA + 9] = np.ravel(inertia)
    model[L.INVERSE_MASS : L.INVERSE_MASS + 36] = np.linalg.inv(matrix).ravel()
