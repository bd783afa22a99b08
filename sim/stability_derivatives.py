"""Non-dimensional stability and control derivatives of a plane about a steady state, in handbook symbols."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sim import layout as L
from sim.atmosphere import density
from sim.build import Plane
from sim.linearisation import jacobian, steady_loads
from sim.trim import Trim

# Steps: relative speed, rad, and rad of p b/2V, q c/2V, r b/2V.  What is left of the settling flow is below 1e-7 of the
# coefficients; the next power of the loads is worth 1e-3 of a slope at 0.5 deg.
STEPS = {
    "u": 0.01, "alpha": math.radians(0.5), "beta": math.radians(0.5), "p": 2e-3, "q": 1e-3, "r": 2e-3,
    "de": math.radians(0.5), "da": math.radians(0.5), "dr": math.radians(0.5),
}  # fmt: skip
COEFFICIENTS = ("CL", "CD", "CY", "Cl", "Cm", "Cn")


@dataclass(frozen=True)
class StabilityDerivatives:
    """`values` by symbol: the coefficients CL CD CY Cl Cm Cn of the steady state, and their slopes such as "Cm_q".

    Forces along and across the flight path, moments about the CG in stability axes (x along the
    steady flight path), on `area` (m2), `span` (m; Cl, Cn) and `chord` (m, MAC; Cm).  Slopes per
    rad of alpha, beta, p b/2V, q c/2V, r b/2V, elevator de, aileron da, rudder dr (ISO 1151:
    positive deflections give negative moments), and per relative change of airspeed for u.
    Flow settled: slopes with the rate of alpha are not in it.  `power`: propeller and
    slipstream included, rotor speed held; else the propeller does nothing.
    """

    values: dict[str, float]
    area: float
    chord: float
    span: float
    airspeed: float
    density: float
    power: bool


def stability_derivatives(plane: Plane, trim: Trim, power: bool = True) -> StabilityDerivatives:
    """All derivatives of `plane` at `trim` by central difference.

    The gyroscopic moment is no coefficient of the air and is left out, and so is weight.
    """
    u, v, w = trim.x[L.VELOCITY : L.VELOCITY + 3]
    airspeed = math.sqrt(u * u + v * v + w * w)
    alpha0, beta0 = math.atan2(w, u), math.asin(v / airspeed)
    rho = density(-float(trim.x[L.POSITION + 2]))
    to_stability = np.array(
        [[math.cos(alpha0), 0.0, math.sin(alpha0)], [0.0, 1.0, 0.0], [-math.sin(alpha0), 0.0, math.cos(alpha0)]]
    )
    out = (L.WEIGHT, L.GYROSCOPIC) if power else (L.WEIGHT, L.GYROSCOPIC, L.THRUST, L.OBLIQUE, L.TORQUE)
    table = plane.table if power else np.zeros_like(plane.table)
    area, chord, span = plane.wing_area, plane.mac, plane.span
    lengths = np.array([1.0, 1.0, 1.0, span, chord, span])

    def coefficients(moved: np.ndarray) -> np.ndarray:
        relative, alpha, beta = moved[0], alpha0 + moved[1], beta0 + moved[2]
        speed = airspeed * (1.0 + relative)
        x = trim.x.copy()
        x[L.VELOCITY : L.VELOCITY + 3] = speed * np.array(
            [math.cos(alpha) * math.cos(beta), math.sin(beta), math.sin(alpha) * math.cos(beta)]
        )
        x[L.RATES : L.RATES + 3] = to_stability.T @ (moved[3:6] * 2.0 * airspeed / lengths[3:])
        surfaces = [L.SERVO + c for c in (L.ELEVATOR, L.AILERON_LEFT, L.AILERON_RIGHT, L.RUDDER)]
        x[surfaces] += moved[[6, 7, 7, 8]] * [1.0, -1.0, 1.0, 1.0]
        loads = np.delete(steady_loads(plane, x, trim.command, table), out, axis=0).sum(axis=0)
        lift = loads[0] * math.sin(alpha) - loads[2] * math.cos(alpha)
        drag = -loads[0] * math.cos(alpha) - loads[2] * math.sin(alpha)
        return np.r_[lift, drag, loads[1], to_stability @ loads[3:]] / (0.5 * rho * airspeed**2 * area * lengths)

    still = np.zeros(len(STEPS))
    here = coefficients(still)
    slopes = jacobian(coefficients, still, np.array(list(STEPS.values())))
    # the slope with speed is of the coefficient, not of the load, which has twice the coefficient beside it
    slopes[:, 0] -= 2.0 * here
    values = {name: float(value) for name, value in zip(COEFFICIENTS, here)}
    for i, name in enumerate(COEFFICIENTS):
        values.update({f"{name}_{by}": float(slopes[i, k]) for k, by in enumerate(STEPS)})
    return StabilityDerivatives(values, area, chord, span, airspeed, rho, power)
