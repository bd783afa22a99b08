"""Straight steady flight in any attitude (up-line, inverted, knife edge), and manoeuvres flown from it.

A pilot who has rehearsed a line enters it without a wobble.  Started from its steady state,
a measure shows the plane alone: no roll-in, no hunt for height, whatever the plane's size.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import root

from scenarios.compiler import compile_phases
from scenarios.manoeuvres import Flown
from scenarios.schema import ManoeuvreFile
from scenarios.sticks import set_trims, sticks_for
from sim import layout as L
from sim.build import Plane
from sim.flight import fly
from sim.frames import G, quaternion_from_euler
from sim.pilot import pilot_for
from sim.transmitter import modes_of
from sim.trim import NoTrim, Trim, blank_state, full_throw, settle

CLOSE = 1e-6  # worst acceleration left, in g or 10 rad/s2
SIDESLIPS = (0.2, 0.35, 0.1, 0.5)  # rad, where the search for a knife edge starts


def steady_flight(plane: Plane, level: Trim, airspeed: float, height: float, climb: float, bank: float) -> Trim:
    """Straight flight at `airspeed` m/s, the path `climb` rad above the horizon, wings at `bank` rad.

    `level` is the plane's level flight, where the search starts.  Raises NoTrim with what
    stopped it.
    """
    x, command = blank_state(height), np.zeros(L.COMMAND)

    def left_over(unknown: np.ndarray) -> np.ndarray:
        alpha, beta, rotor, elevator, aileron, rudder = unknown
        u = airspeed * math.cos(alpha) * math.cos(beta)
        v, w = airspeed * math.sin(beta), airspeed * math.sin(alpha) * math.cos(beta)
        x[L.VELOCITY : L.VELOCITY + 3] = u, v, w
        # climb rate u sin(pitch) - across cos(pitch), solved for the pitch angle
        across = v * math.sin(bank) + w * math.cos(bank)
        sine = airspeed * math.sin(climb) / math.hypot(u, across)
        pitch = math.asin(min(1.0, max(-1.0, sine))) + math.atan2(across, u)
        x[L.QUATERNION : L.QUATERNION + 4] = quaternion_from_euler(bank, pitch, 0.0)
        x[L.ROTOR] = max(500.0 * rotor, 1.0)
        command[: L.THROTTLE] = plane.flaps + aileron, plane.flaps - aileron, elevator, rudder
        x[L.SERVO : L.SERVO + L.CONTROLS] = command[: L.CONTROLS]
        dx = np.zeros(L.STATE)
        left_over.duty = settle(x, command, plane.model, plane.table, dx)
        return np.r_[dx[L.VELOCITY : L.VELOCITY + 3] / G, dx[L.RATES : L.RATES + 3] / 10.0]

    aside = math.sin(bank)
    what = f"straight flight at {airspeed:.0f} m/s, bank {math.degrees(bank):.0f} deg"
    what += f", {math.degrees(climb):.0f} deg up" if climb else ""
    for sideslip in SIDESLIPS if abs(aside) > 0.5 else (0.0,):
        start = (0.0, aside * sideslip, level.x[L.ROTOR] / 500.0 * 1.1, level.elevator, 0.0, 0.7 * aside * sideslip)
        x[L.CIRCULATION : L.SEPARATION] = 0.0
        x[L.SEPARATION : L.SEPARATION + L.PAD] = 1.0
        found = root(left_over, start, method="hybr", options={"xtol": 1e-10, "eps": 1e-5})
        error = float(np.abs(left_over(found.x)).max())
        if error < CLOSE:
            if left_over.duty > 1.0:
                raise NoTrim(f"{what} needs more than full throttle")
            within_throws(plane, command, what)
            return Trim(x.copy(), command.copy(), error)
    raise NoTrim(f"no steady state found for {what}")


def within_throws(plane: Plane, command: np.ndarray, what: str) -> None:
    """Raise NoTrim when `what` needs more of a control than its throw."""
    for name, at in (("elevator", L.ELEVATOR), ("aileron", L.AILERON_LEFT), ("rudder", L.RUDDER)):
        if abs(command[at]) > full_throw(plane, name):
            raise NoTrim(f"{what} needs {math.degrees(abs(command[at])):.0f} deg of {name}, more than its throw")


def fly_from(plane: Plane, level: Trim, state: Trim, manoeuvre: ManoeuvreFile) -> Flown:
    """`manoeuvre` flown from the steady `state`, the trims set for `level` flight; its own start is not looked at."""
    set_trims(plane, level)
    sticks = sticks_for(plane, state)
    table, pilot = compile_phases(manoeuvre, modes=modes_of(plane.setup)), pilot_for(plane, level)
    flight = fly(plane, state.x, sticks, table, pilot)
    return Flown(plane.setup, manoeuvre, plane, level, flight, state.x, sticks, table, pilot)
