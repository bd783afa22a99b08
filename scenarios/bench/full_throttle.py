"""Straight flight with the throttle given: the speed is what comes out (top speed, climbs, the down-line at idle)."""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import root

from scenarios.steady import CLOSE, within_throws
from sim import layout as L
from sim.build import Plane
from sim.frames import G, body_to_earth, quaternion_from_euler
from sim.powerplant import steady_throttle_state
from sim.trim import LAPS, NoTrim, Trim, blank_state, relax_flow

Start = tuple[float, ...]  # tilt, lean, speed / 30 m/s, rotor / 500 rad/s, elevator, aileron, rudder
ROTOR_SCALE = 1000.0  # rad/s2


def start_of(trim: Trim) -> Start:
    """Where a search may begin: at another steady state, its nose along its path."""
    speed = float(np.linalg.norm(trim.x[L.VELOCITY : L.VELOCITY + 3]))
    roll = 0.5 * (trim.command[L.AILERON_LEFT] - trim.command[L.AILERON_RIGHT])
    return (0.02, 0.0, speed / 30.0, trim.x[L.ROTOR] / 500.0, trim.elevator, float(roll), float(trim.command[L.RUDDER]))


def flight_at_throttle(
    plane: Plane, throttle: float, climb: float, height: float, starts: tuple[Start, ...], what: str
) -> Trim:
    """Straight flight along a path `climb` rad above the horizon (to +-90 deg), `throttle` sent, canopy up or aft.

    Seven unknowns (nose over and beside the path, airspeed, rotor speed, three controls) for six accelerations and the
    rotor's.  `what` names it in the words of NoTrim.
    """
    x, command, dx = blank_state(height), np.zeros(L.COMMAND), np.zeros(L.STATE)
    path = np.array([math.cos(climb), 0.0, -math.sin(climb)])
    command[L.THROTTLE] = throttle
    x[L.POWER_LAG] = steady_throttle_state(plane.model, throttle)

    def left_over(unknown: np.ndarray) -> np.ndarray:
        tilt, lean, speed, rotor, elevator, aileron, rudder = unknown
        w, _, y, _ = quaternion_from_euler(0.0, climb + tilt, 0.0)
        c, s = math.cos(0.5 * lean), math.sin(0.5 * lean)
        x[L.QUATERNION : L.QUATERNION + 4] = w * c, y * s, y * c, w * s  # pitched, then yawed about the body's own axis
        turn = np.array(body_to_earth(*x[L.QUATERNION : L.QUATERNION + 4])).reshape(3, 3)
        x[L.VELOCITY : L.VELOCITY + 3] = max(speed, 0.01) * 30.0 * (path @ turn)
        x[L.ROTOR] = max(500.0 * rotor, 1.0)
        command[: L.THROTTLE] = aileron, -aileron, elevator, rudder
        x[L.SERVO : L.SERVO + L.CONTROLS] = command[: L.CONTROLS]
        relax_flow(x, command, plane.model, plane.table, dx, LAPS)
        linear, angular = dx[L.VELOCITY : L.VELOCITY + 3] / G, dx[L.RATES : L.RATES + 3] / 10.0
        return np.r_[linear, angular, dx[L.ROTOR] / ROTOR_SCALE]

    for start in starts:
        x[L.CIRCULATION : L.SEPARATION] = 0.0
        x[L.SEPARATION : L.SEPARATION + L.PAD] = 1.0
        found = root(left_over, start, method="hybr", options={"xtol": 1e-9, "eps": 1e-5})
        error = float(np.abs(left_over(found.x)).max())
        if error < CLOSE and found.x[2] > 0.0:
            within_throws(plane, command, what)
            return Trim(x.copy(), command.copy(), error)
    raise NoTrim(f"no steady state found for {what}")
