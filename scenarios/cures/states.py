"""Straight flight in any direction, level to vertical, and what moments a state leaves, part by part."""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import root

from sim import layout as L
from sim.account import loads_of
from sim.build import Plane
from sim.frames import G, quaternion_from_euler
from sim.powerplant import steady_throttle_state
from sim.trim import LAPS, NoTrim, Trim, blank_state, full_throw, relax_flow, settle

DEG = 180.0 / math.pi
ROTOR_PACE = 1000.0  # rad/s2, what a rotor's acceleration is measured by
CLOSE = 1e-6  # worst acceleration left, in g or 10 rad/s2; throttle as a share
STEP = math.radians(0.2)  # of a control, for its power: far above what is left of the settling flow
CONTROLS = {
    "aileron": ((L.AILERON_LEFT, 1.0), (L.AILERON_RIGHT, -1.0)),
    "elevator": ((L.ELEVATOR, -1.0),),
    "rudder": ((L.RUDDER, -1.0),),
}
ROLL, PITCH, YAW = 3, 4, 5  # columns of an account


def moved(command: np.ndarray, control: str, angle: float) -> np.ndarray:
    """`command` with `angle` (rad, sign of the stick: right, up, right) added to one control."""
    out = command.copy()
    for at, sign in CONTROLS[control]:
        out[at] += sign * angle
    return out


def straight(
    plane: Plane, level: Trim, airspeed: float, climb: float, roll: float = 0.0, throttle: float | None = None
) -> Trim:
    """A straight path at `airspeed` m/s, `climb` rad above the horizon (to +-90 deg), rolled by `roll` rad about the path.

    `throttle` is what the transmitter sends, 0..1: the speed then changes along the path as it
    will.  None: the speed is held, by whatever throttle that takes.  `level` is the plane's
    level flight, where the search starts.  Raises NoTrim with what stopped it.
    """
    height = -float(level.x[L.POSITION + 2])
    x, command = blank_state(height), np.zeros(L.COMMAND)
    path = quaternion_from_euler(roll, climb, 0.0)

    def left_over(unknown: np.ndarray) -> np.ndarray:
        alpha, beta, rotor, elevator, aileron, rudder = unknown
        ca, sa, cb, sb = math.cos(alpha), math.sin(alpha), math.cos(beta), math.sin(beta)
        along = np.array([ca * cb, sb, sa * cb])
        x[L.VELOCITY : L.VELOCITY + 3] = airspeed * along
        x[L.QUATERNION : L.QUATERNION + 4] = _product(path, quaternion_from_euler(0.0, alpha, -beta))
        x[L.ROTOR] = max(500.0 * rotor, 1.0)
        command[: L.THROTTLE] = plane.flaps + aileron, plane.flaps - aileron, elevator, rudder
        x[L.SERVO : L.SERVO + L.CONTROLS] = command[: L.CONTROLS]
        dx = np.zeros(L.STATE)
        if throttle is None:
            left_over.duty = settle(x, command, plane.model, plane.table, dx)
        else:
            run_at(plane, x, command, throttle, dx)
        gained = dx[L.VELOCITY : L.VELOCITY + 3] / G
        ahead = along @ gained if throttle is None else dx[L.ROTOR] / ROTOR_PACE
        aside = gained[0] * -ca * sb + gained[1] * cb + gained[2] * -sa * sb
        return np.r_[ahead, aside, -sa * gained[0] + ca * gained[2], dx[L.RATES : L.RATES + 3] / 10.0]

    left_over.duty = throttle
    what = f"a straight path at {airspeed:.0f} m/s, {climb * DEG:.0f} deg up"
    speeds = (1.0, 1.2, 0.8, 0.5) if throttle is None or throttle > 0.3 else (0.5, 0.7, 0.3, 1.0)
    for share in speeds:
        x[L.CIRCULATION : L.SEPARATION] = 0.0
        x[L.SEPARATION : L.SEPARATION + L.PAD] = 1.0
        start = (0.0, 0.0, share * level.x[L.ROTOR] / 500.0, level.elevator, 0.0, 0.0)
        found = root(left_over, start, method="hybr", options={"xtol": 1e-10, "eps": 1e-5})
        error = float(np.abs(left_over(found.x)).max())
        if error < CLOSE:
            if left_over.duty > 1.0 + CLOSE:
                raise NoTrim(f"{what} needs more than full throttle")
            check_throws(plane, command, what)
            return Trim(x.copy(), command.copy(), error)
    raise NoTrim(f"no steady state found for {what}")


def check_throws(plane: Plane, command: np.ndarray, what: str) -> None:
    """Raise NoTrim when a control would have to go beyond its throw."""
    for name, ((at, _), *_others) in CONTROLS.items():
        most = full_throw(plane, name)
        if abs(command[at]) > most + 1e-9:
            needed = f"{abs(command[at]) * DEG:.0f} deg of {name}"
            raise NoTrim(f"{what} needs {needed}, more than its throw of {most * DEG:.0f} deg")


def fastest_straight(plane: Plane, level: Trim, airspeed: float, climb: float, roll: float) -> Trim:
    """The straight line at `airspeed`, or at the greatest speed below it that full throttle holds.  Raises NoTrim."""
    stopped: NoTrim | None = None
    for speed in np.arange(airspeed, 0.55 * airspeed, -0.5):
        try:
            return straight(plane, level, float(speed), climb, roll)
        except NoTrim as stop:
            stopped = stopped or stop
    raise stopped or NoTrim("no speed to try")


def run_at(plane: Plane, x: np.ndarray, command: np.ndarray, throttle: float, dx: np.ndarray) -> None:
    """Rates `dx` of the state `x` with the flow settled and the power plant at `throttle`, at the rotor speed in `x`."""
    command[L.THROTTLE] = throttle
    x[L.POWER_LAG] = steady_throttle_state(plane.model, throttle)
    relax_flow(x, command, plane.model, plane.table, dx, LAPS, True)


def speed_of(trim: Trim) -> float:
    """Airspeed in m/s."""
    return float(np.linalg.norm(trim.x[L.VELOCITY : L.VELOCITY + 3]))


def with_throttle(plane: Plane, trim: Trim, throttle: float) -> Trim:
    """The same motion and surfaces with the rotor at the speed that `throttle` (0..1) brings it to in the end."""
    x, command, dx = trim.x.copy(), trim.command.copy(), np.zeros(L.STATE)
    low, high = 1.0, 3000.0
    for _ in range(40):
        x[L.ROTOR] = 0.5 * (low + high)
        run_at(plane, x, command, throttle, dx)
        low, high = (x[L.ROTOR], high) if dx[L.ROTOR] > 0.0 else (low, x[L.ROTOR])
    return Trim(x, command, trim.residual)


def moments(plane: Plane, x: np.ndarray, command: np.ndarray) -> np.ndarray:
    """Forces and moments by part, shape (N_PARTS, 6), flow settled, surfaces where `command` sends them, weight
    left out."""
    state, dx = x.copy(), np.zeros(L.STATE)
    state[L.SERVO : L.SERVO + L.CONTROLS] = command[: L.CONTROLS]
    relax_flow(state, command.copy(), plane.model, plane.table, dx, LAPS, True)
    loads = loads_of(plane.model)
    # the motor balances the rotor: what speeds it up is taken out of the torque on the plane
    loads[L.TORQUE, 3:] += (
        plane.model[L.SENSE] * plane.model[L.SHAFT : L.SHAFT + 3] * plane.model[L.ROTOR_INERTIA] * dx[L.ROTOR]
    )
    loads[L.WEIGHT] = 0.0
    return loads


def control_to_still(plane: Plane, x: np.ndarray, command: np.ndarray, rows: dict[str, int]) -> dict[str, float]:
    """Angle (rad, sign of the stick) to add to each control of `rows` so that the moments in its columns vanish.

    Newton's rule, two laps: the power of a control is straight within a few degrees.
    """
    names, columns = list(rows), list(rows.values())
    total, command = np.zeros(len(names)), command.copy()
    for _ in range(2):
        here = moments(plane, x, command).sum(axis=0)[columns]
        slopes = np.array(
            [(moments(plane, x, moved(command, name, STEP)).sum(axis=0)[columns] - here) / STEP for name in names]
        ).T
        step = -np.linalg.solve(slopes, here)
        total += step
        for name, angle in zip(names, step):
            command = moved(command, name, float(angle))
    return dict(zip(names, (float(t) for t in total)))


def changes_by_part(before: np.ndarray, after: np.ndarray, column: int) -> list[tuple[str, float]]:
    """The three parts whose moment in `column` changes most from `before` to `after`, largest first, N m."""
    change: dict[str, float] = {}
    for part, moment in zip(L.PARTS, after[:, column] - before[:, column]):
        name = part.removesuffix(" left").removesuffix(" right")  # the halves of the wing as one
        change[name] = change.get(name, 0.0) + float(moment)
    largest = sorted(change.items(), key=lambda one: -abs(one[1]))[:3]
    return [(part, moment) for part, moment in largest if abs(moment) > 5e-3]


def _product(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    w, v = a[0], a[1:]
    return np.r_[w * b[0] - v @ b[1:], w * b[1:] + b[0] * v + np.cross(v, b[1:])]
