"""The stand-in for the measured 1.1 m model on its balance: loads as the tunnel gave them.

The data are those of tests/reference/rc_aerobatic_mxs_*.csv; the stand-in is
tests/models/files/tunnel-110.  Loads are in body axes (x forward, y right, z down) about the
load-cell point, angles in deg with the data's signs: positive elevator and aileron are
trailing edge up (aileron: the right one), positive rudder trailing edge left.
"""

from __future__ import annotations

import math
import pathlib
from functools import cache

import numpy as np

from models.loader import load_setup
from sim import layout as L
from sim.account import loads_of
from sim.build import Plane, build
from sim.mass_properties import MassProperties, mass_properties
from sim.trim import blank_state, relax_flow, settle
from tests.sim.reference import table

FILE = pathlib.Path(__file__).parents[1] / "models" / "files" / "tunnel-110" / "setup.yaml"
AREA, CHORD = 0.2625, 0.24  # m2, m: reference values of the data
# The load cell in body axes from the wing root leading edge, m.  Along x: at 30 % of the chord, where such a model is
# balanced and would be held (usual).  Below the thrust line by 43 mm: the rudder's dl/dY puts its load 0.085 to 0.09 m
# above the cell, and the hover's pitching moment per thrust without elevator is -0.04 m.
LOAD_CELL = np.array([-0.090, 0.0, 0.033])
PROPULSION = (L.THRUST, L.OBLIQUE, L.TORQUE, L.GYROSCOPIC)
FX, FY, FZ, ML, MM, MN = range(6)


@cache
def plane() -> Plane:
    """The stand-in, built once."""
    here = build(load_setup(FILE))
    here.model[L.WING_SPAN] = 0.0  # no ground under the balance
    return here


def other_aileron(delta: float) -> float:
    """Deflection (deg) of the other aileron where the run does not give it: the travel of the tunnel runs."""
    rows = table("rc_aerobatic_mxs_controls.csv", surface="aileron", V_mps=15.0, alpha_deg=0.0)
    line = sorted((row["delta_deg"], row["delta2_deg"]) for row in rows)
    (x0, y0), (x1, y1) = line[0], line[-1]
    if delta < x0:
        return y0 + (delta - x0) * (line[1][1] - y0) / (line[1][0] - x0)
    if delta > x1:
        return y1 + (delta - x1) * (line[-2][1] - y1) / (line[-2][0] - x1)
    return float(np.interp(delta, *zip(*line)))


def deflections(elevator: float = 0.0, rudder: float = 0.0, aileron: float = 0.0, aileron2: float | None = None):
    """Servo positions (rad, ISO 1151) of the data's angles (deg)."""
    servo = np.zeros(L.CONTROLS)
    servo[L.ELEVATOR], servo[L.RUDDER] = -elevator, rudder
    servo[L.AILERON_RIGHT] = -aileron
    servo[L.AILERON_LEFT] = -(other_aileron(aileron) if aileron2 is None and aileron else aileron2 or 0.0)
    return np.radians(servo)


def parts_on_balance(speed: float, alpha: float = 0.0, beta: float = 0.0, rpm: float = 0.0, **controls) -> np.ndarray:
    """Loads by part (N_PARTS, 6), N and N m about the load cell, weight left out.

    `speed` m/s, angles in deg, `controls` as for `deflections`.  `rpm` 0: propeller removed;
    else the motor holds that speed.
    """
    here = plane()
    x, command, dx = blank_state(0.0), np.zeros(L.COMMAND), np.zeros(L.STATE)
    a, b = math.radians(alpha), math.radians(beta)
    x[L.VELOCITY : L.VELOCITY + 3] = speed * np.array(
        [math.cos(a) * math.cos(b), math.sin(b), math.sin(a) * math.cos(b)]
    )
    command[: L.CONTROLS] = x[L.SERVO : L.SERVO + L.CONTROLS] = deflections(**controls)
    if rpm:
        x[L.ROTOR] = rpm * math.pi / 30.0
        relax_flow(x, command, here.model, here.table, dx, 4000)
        settle(x, command, here.model, here.table, dx)
    else:
        relax_flow(x, command, here.model, np.zeros_like(here.table), dx, 4000)
    loads = loads_of(here.model)
    loads[L.WEIGHT] = 0.0
    loads[:, 3:] += np.cross(here.mass.cg - LOAD_CELL, loads[:, :3])
    return loads


def on_balance(speed: float, alpha: float = 0.0, beta: float = 0.0, rpm: float = 0.0, **controls) -> np.ndarray:
    """As `parts_on_balance`, all parts together, (6,)."""
    return parts_on_balance(speed, alpha, beta, rpm, **controls).sum(axis=0)


def coefficients(loads: np.ndarray, speed: float) -> np.ndarray:
    """CX, CY, CZ, l/q, Cm, n/q of loads (..., 6) as the data give them (l and n in m3)."""
    q = 0.5 * 1.225 * speed**2
    return loads / (q * np.array([AREA, AREA, AREA, 1.0, AREA * CHORD, 1.0]))


def lift_drag_pitch(speed: float, alpha: float) -> np.ndarray:
    """CL, CD, Cm about the load cell at `alpha` deg, propeller removed, controls neutral."""
    c = coefficients(on_balance(speed, alpha), speed)
    s, k = math.sin(math.radians(alpha)), math.cos(math.radians(alpha))
    return np.array([c[FX] * s - c[FZ] * k, -c[FX] * k - c[FZ] * s, c[MM]])


def inertia(with_battery: bool) -> MassProperties:
    """Mass properties by items, as swung: battery where the setup puts it, or taken out."""
    items = plane().items
    return mass_properties(items if with_battery else tuple(i for i in items if i.name != "battery"))
