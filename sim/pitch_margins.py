"""What the linear model of a plane says of pitch: neutral point with power, manoeuvre point, elevator per g.

Loads follow from the rates of `sim.linearisation` through the whole mass matrix, added mass in it: flow at rest at
every instant, throttle held, the rotor at the speed that it then takes.  Positive is up, aft and nose up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sim import layout as L
from sim.build import Plane
from sim.frames import G
from sim.linearisation import CONTROLS, RIGID, Linear, linearise
from sim.trim import Trim


@dataclass(frozen=True)
class PitchMargins:
    """Distances behind the CG as fractions of the mean aerodynamic chord, stick fixed, throttle held.

    `power`: of the neutral point at one speed, where pitching moment does not change with lift.
    `speed`: of the CG at which elevator trim does not change with speed, in straight flight at that throttle; thrust
    that falls with speed and passes above or below the CG, and the slipstream, are in it.
    `manoeuvre`: of the CG at which a steady pull-up at one speed needs no elevator; exact in the linear model, for the
    loads of that pull-up do not know which point they are counted about.
    `elevator_per_g` in rad for one g more in that pull-up, ISO 1151: negative is trailing edge up, a pull.
    """

    power: float
    speed: float
    manoeuvre: float
    elevator_per_g: float


def pitch_margins(plane: Plane, trim: Trim, linear: Linear | None = None) -> PitchMargins:
    """The margins about the steady straight flight `trim`; `linear`, the settled model about it, saves finding it again.

    Etkin and Reid, Dynamics of Flight, chapters 2 and 3 (from memory): h_n - h = -Cm_alpha / CL_alpha, and
    h_m - h_n = -Cm_q / (2 mu - CL_q) with Cm_q and CL_q about h_m and mu = 2 m / (rho S c).
    """
    linear = linear or linearise(plane, trim)
    whole = np.linalg.inv(plane.model[L.INVERSE_MASS : L.INVERSE_MASS + 36].reshape(6, 6))
    u, v, w = trim.x[L.VELOCITY : L.VELOCITY + 3]
    airspeed = math.sqrt(u * u + v * v + w * w)
    return margins_of(linear.reduced(RIGID), whole, airspeed, math.atan2(w, u), plane.mass.mass * G, plane.mac)


def margins_of(
    linear: Linear,
    whole: np.ndarray,
    airspeed: float,
    alpha: float,
    weight: float,
    chord: float,
    gravity: float = G,
) -> PitchMargins:
    """As `pitch_margins`, from the rates of the eight rigid-body states and the whole mass matrix (6, 6).

    Any consistent units: `airspeed`, `weight` (force) and `chord` go with those of the matrices.
    """
    loads, moved = whole @ linear.a[:6], whole @ linear.b[:6]
    sine, cosine = math.sin(alpha), math.cos(alpha)

    def along(**rates: float) -> np.ndarray:
        """Force along the path, force up from it, pitching moment, for a motion away from the trim."""
        six = loads @ np.array([rates.get(state, 0.0) for state in linear.states])
        return in_path_axes(six)

    def in_path_axes(six: np.ndarray) -> np.ndarray:
        return np.array([six[0] * cosine + six[2] * sine, six[0] * sine - six[2] * cosine, six[4]])

    by_alpha = along(u=-airspeed * sine, w=airspeed * cosine)  # at one speed and attitude
    by_speed = along(u=cosine, w=sine)
    by_attitude = along(theta=1.0)
    by_elevator = in_path_axes(moved[:, CONTROLS.index("elevator")])

    # one m/s faster, straight: alpha and attitude keep force along and across the path at nothing
    across = np.array([by_alpha[:2], by_attitude[:2]]).T
    d_alpha, d_attitude = np.linalg.solve(across, -by_speed[:2])
    left_over = by_speed[2] + d_alpha * by_alpha[2] + d_attitude * by_attitude[2]

    # one g more at one speed, at the bottom of a loop: the path turns, with its inertia, and attitude goes with alpha
    turning = along(q=gravity / airspeed)
    pulled = by_alpha + by_attitude
    moment = turning[2] - pulled[2] * turning[1] / pulled[1]
    d_elevator = np.linalg.solve(np.array([pulled[1:], by_elevator[1:]]).T, -turning[1:])[1]
    return PitchMargins(
        power=float(-by_alpha[2] / by_alpha[1] / chord),
        speed=float(left_over * airspeed / (2.0 * weight * chord)),
        manoeuvre=float(-moment / (weight * chord)),
        elevator_per_g=float(d_elevator),
    )
