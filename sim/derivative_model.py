"""A plane given by published derivatives instead of geometry: the same small-motion models for handbook examples.

Non-dimensional coefficients fly by the full equations of motion and are linearised by the
same differences as a built plane; dimensional derivatives go straight into the matrix.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sim.frames import G
from sim.linearisation import RIGID, Linear, jacobian
from sim.stability_derivatives import COEFFICIENTS

CONTROLS = ("de", "da", "dr")
_BY = ("", "_u", "_alpha", "_beta", "_p", "_q", "_r", "_de", "_da", "_dr")
KNOWN = {force + by for force in COEFFICIENTS for by in _BY} | {"CL_alphadot", "Cm_alphadot"}


@dataclass(frozen=True)
class DerivativeModel:
    """Level flight of a rigid body with coefficients linear in alpha, beta, rates, controls and relative airspeed.

    Body axes are the stability axes of the steady state: x along the flight path.  `inertia`
    (3, 3) in these axes; `area`, `chord`, `span` are the reference lengths; `coefficients` by
    handbook symbol ("CL" and "CD" at the steady state, "Cm_q", ...), missing ones are zero.
    Rates are made non-dimensional by c/2V and b/2V, speed by V.  Thrust is constant and along x.
    Any consistent units: `gravity` and `density` carry them.  KeyError for unknown symbols.

    `added_mass` (6, 6), in these axes about the CG, is the air that moves along
    (`sim.added_mass`): it resists accelerations as mass and inertia do and has no weight.
    Published lists leave it out or have it in the slopes with the rate of alpha.
    """

    mass: float
    inertia: np.ndarray
    area: float
    chord: float
    span: float
    airspeed: float
    density: float
    coefficients: Mapping[str, float]
    gravity: float = G
    added_mass: np.ndarray | None = None

    def __post_init__(self):
        unknown = set(self.coefficients) - KNOWN
        if unknown:
            raise KeyError(f"no such derivative: {', '.join(sorted(unknown))}")

    def rates(self, y: np.ndarray, controls: np.ndarray) -> np.ndarray:
        """Rates of `y` = u v w p q r phi theta with `controls` = elevator, aileron, rudder (rad)."""
        u, v, w, p, q, r, phi, theta = y
        c = self.coefficients
        speed = math.sqrt(u * u + v * v + w * w)
        alpha, beta = math.atan2(w, u), math.asin(v / speed)
        half_chord, half_span = 0.5 * self.chord / self.airspeed, 0.5 * self.span / self.airspeed
        small = {
            "": 1.0, "_u": speed / self.airspeed - 1.0, "_alpha": alpha, "_beta": beta,
            "_p": p * half_span, "_q": q * half_chord, "_r": r * half_span,
            "_de": controls[0], "_da": controls[1], "_dr": controls[2],
        }  # fmt: skip
        cl, cd, cy, roll, pitch, yaw = (
            sum(c.get(f + by, 0.0) * size for by, size in small.items()) for f in COEFFICIENTS
        )
        force = 0.5 * self.density * speed * speed * self.area
        thrust = 0.5 * self.density * self.airspeed**2 * self.area * c.get("CD", 0.0)
        excess = 0.5 * self.density * self.airspeed**2 * self.area * c.get("CL", 0.0) - self.mass * self.gravity
        fx = force * (cl * math.sin(alpha) - cd * math.cos(alpha)) + thrust - self.mass * self.gravity * math.sin(theta)
        fy = force * cy + self.mass * self.gravity * math.cos(theta) * math.sin(phi)
        # printed lift and weight differ in the last digit: the difference is taken as carried
        fz = -force * (cl * math.cos(alpha) + cd * math.sin(alpha)) + excess
        fz += self.mass * self.gravity * math.cos(theta) * math.cos(phi)
        velocity, omega = np.array([u, v, w]), np.array([p, q, r])
        moment = force * np.array([self.span * roll, self.chord * pitch, self.span * yaw])
        loads = np.r_[
            np.array([fx, fy, fz]) - self.mass * np.cross(omega, velocity),
            moment - np.cross(omega, self.inertia @ omega),
        ]
        # loads with the rate of alpha hinder that rate itself, as mass does
        sine, cosine, per_rate = math.sin(alpha), math.cos(alpha), force * half_chord
        lift, turn = per_rate * c.get("CL_alphadot", 0.0), per_rate * c.get("Cm_alphadot", 0.0) * self.chord
        alpha_rate = np.array([-sine, 0.0, cosine, 0.0, 0.0, 0.0]) / speed
        matrix = np.outer([-lift * sine, 0.0, lift * cosine, 0.0, -turn, 0.0], alpha_rate)
        matrix[:3, :3] += self.mass * np.eye(3)
        matrix[3:, 3:] += self.inertia
        if self.added_mass is not None:
            matrix += self.added_mass
        moving = np.linalg.solve(matrix, loads)
        about = q * math.sin(phi) + r * math.cos(phi)
        return np.array([*moving, p + math.tan(theta) * about, q * math.cos(phi) - r * math.sin(phi)])

    def linearise(self) -> Linear:
        """The linear model about the steady level flight."""
        y, still = np.zeros(len(RIGID)), np.zeros(len(CONTROLS))
        y[0] = self.airspeed
        # the loads are linear in these: the step may be small and the difference is still good to 1e-8
        steps = 1e-5 * np.array([self.airspeed] * 3 + [1.0] * 5)
        a = jacobian(lambda other: self.rates(other, still), y, steps)
        b = jacobian(lambda moved: self.rates(y, moved), still, np.full(len(CONTROLS), 1e-5))
        return Linear(RIGID, a, CONTROLS, b)


def from_dimensional(slopes: Mapping[str, float], airspeed: float, pitch: float = 0.0, gravity: float = G) -> Linear:
    """The linear model of dimensional derivatives: accelerations per unit of each state, stability axes.

    `slopes` by handbook symbol: X_u X_w Z_u Z_w Z_q M_u M_w M_q and M_wdot (which is folded in),
    Y_v Y_p Y_r, L_v L_p L_r, N_v N_p N_r; forces over mass, moments over inertia, L and N with
    the product of inertia already in them; missing ones are zero.  `pitch` of the flight path in
    rad.  Nelson, Flight Stability and Automatic Control, equations 4.51 and 5.33 (from memory).
    """
    rows = {"X": "u", "Y": "v", "Z": "w", "L": "p", "M": "q", "N": "r"}
    known = {f"{row}_{state}" for row in rows for state in RIGID[:6]} | {"M_wdot"}
    unknown = set(slopes) - known
    if unknown:
        raise KeyError(f"no such derivative: {', '.join(sorted(unknown))}")
    at = {state: i for i, state in enumerate(RIGID)}
    a = np.zeros((len(RIGID), len(RIGID)))
    for symbol, value in slopes.items():
        if symbol != "M_wdot":
            row, state = symbol.split("_")
            a[at[rows[row]], at[state]] = value
    a[at["w"], at["q"]] += airspeed
    a[at["v"], at["r"]] -= airspeed
    a[at["u"], at["theta"]] = -gravity * math.cos(pitch)
    a[at["w"], at["theta"]] = -gravity * math.sin(pitch)
    a[at["v"], at["phi"]] = gravity * math.cos(pitch)
    a[at["q"]] += slopes.get("M_wdot", 0.0) * a[at["w"]]
    a[at["phi"], at["p"]] = a[at["theta"], at["q"]] = 1.0
    a[at["phi"], at["r"]] = math.tan(pitch)
    return Linear(RIGID, a)
