"""Steady states: level flight, a straight climb, and the hover, as a pilot would trim them.

Circulation and separation are relaxed to their steady values inside; the flight unknowns
are solved outside by Powell's hybrid method (scipy).  When there is no steady state, the
result says which limit stopped it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import root

from sim import layout as L
from sim.atmosphere import density
from sim.build import Plane
from sim.compiled import kernel
from sim.equations_of_motion import derivatives
from sim.frames import G, quaternion_from_euler
from sim.lifting_surfaces import CIRCULATION_LAG, SEPARATION_LAG
from sim.powerplant import steady_throttle_state, throttle_for_torque
from sim.propeller import COLUMNS, propeller_look_up
from sim.servo import CONTROLS, FASTEST, servo_loads
from sim.transmitter import STICKS, THROW_NEGATIVE, THROW_POSITIVE

SURELY_STALLED, SURELY_FAST = 1.4, 0.15  # lift coefficients: beyond any such plane; well above its level speed range
FLOW_FIRST = 40  # laps of circulation alone
SLOW = 0.1  # share of its step that separation takes
LAPS = 2000
CLOSE = 1e-6  # worst acceleration left, in g or 10 rad/s2


class NoTrim(ValueError):
    """There is no such steady state; the message says what stopped it."""


class NoRoom(NoTrim):
    """A control would have to go beyond its throw; `control` says which."""

    def __init__(self, control: str, message: str):
        super().__init__(message)
        self.control = control


Pose = Callable[[Plane, np.ndarray, np.ndarray, np.ndarray], None]  # of plane, state, command, unknowns


@dataclass
class Trim:
    """A steady state: `x` (STATE,), `command` (COMMAND,), and the worst acceleration left (m/s2 or rad/s2)."""

    x: np.ndarray
    command: np.ndarray
    residual: float
    rolls: bool = False  # the ailerons stand on their stop and the plane rolls all the same
    unknowns: np.ndarray | None = None  # what the search solved for: two angles, rotor speed / 500, surfaces
    pose: Pose | None = None  # writes them into a state and a command

    @property
    def elevator(self) -> float:
        """Elevator deflection in rad, trailing edge down positive, as the servo holds it."""
        return float(self.x[L.SERVO + L.ELEVATOR])

    @property
    def duty(self) -> float:
        """Throttle 0..1 that the transmitter sends: controller duty, or the carburettor's."""
        return float(self.command[L.THROTTLE])


@kernel
def relax(x, command, m, table, dx, limit, servos, first, slow):
    """Bring circulation and separation to their steady values for a frozen motion; returns the last change.

    With `servos` the surfaces go to where their servos hold them against the air; else they stay.  The `first` laps
    are circulation alone, and separation takes the share `slow` of its steps.
    """
    change = 0.0
    calm, before = np.ones((2, L.PAD)), np.zeros((2, L.PAD))  # share of its step that an unknown takes; its last step
    for lap in range(limit):
        derivatives(x, command, m, table, dx)
        change = 0.0
        for i in range(int(m[L.N_STRIPS])):
            step = CIRCULATION_LAG * dx[L.CIRCULATION + i] / (m[L.PACE + i] * m[L.FEEDBACK + i])
            step *= _calmed(step, calm, before, 0, i)
            x[L.CIRCULATION + i] += step
            change = max(change, abs(step))
            if lap >= first:
                step = slow * SEPARATION_LAG * dx[L.SEPARATION + i] / m[L.PACE + i]
                step *= _calmed(step, calm, before, 1, i)
                x[L.SEPARATION + i] += step
                change = max(change, abs(step))
        if servos:
            for c in range(L.CONTROLS):
                step = dx[L.SERVO + c] / FASTEST
                x[L.SERVO + c] += step
                change = max(change, abs(step))
        if change < 1e-9 and lap > first:
            break
    derivatives(x, command, m, table, dx)
    return change


@kernel
def _calmed(step, calm, before, kind, i):
    """The share to take of a step: less each time that it turns back, as separated strips in slow or reversed flow do."""
    calm[kind, i] = 0.5 * calm[kind, i] if step * before[kind, i] < 0.0 else min(1.0, 1.04 * calm[kind, i])
    before[kind, i] = step
    return calm[kind, i]


def relax_flow(x, command, m, table, dx, limit, servos=False) -> float:
    """As `relax`, circulation first and separation slowly behind, as in a motion that is entered gently: where two flows
    are possible, the attached one is found."""
    return relax(x, command, m, table, dx, limit, servos, FLOW_FIRST, SLOW)


def settle(x, command, m, table, dx) -> float:
    """Relax the flow and the surfaces, and set the throttle in `command` that keeps the rotor at its present speed; returns it."""
    relax_flow(x, command, m, table, dx, LAPS, True)
    return balance_rotor(x, command, m, table, dx)


def balance_rotor(x, command, m, table, dx) -> float:
    """Set the throttle in `command` that keeps the rotor at its present speed, after an evaluation there; returns it."""
    radius = m[L.DISK_RADIUS]
    rho = density(-x[L.POSITION + 2])
    torque = m[L.PROP_OUT + 1] * rho * m[L.PROP_OUT + COLUMNS] * radius * radius * radius
    duty = throttle_for_torque(m, torque, x[L.ROTOR], x[L.CHARGE])
    command[L.THROTTLE] = min(max(duty, 0.0), 1.0)
    x[L.POWER_LAG] = steady_throttle_state(m, command[L.THROTTLE])
    derivatives(x, command, m, table, dx)
    # the motor balances the rotor also where the power plant could not: the trim says so afterwards
    for axis in range(3):
        m[L.ACCOUNT + 6 * L.TORQUE + 3 + axis] += m[L.SENSE] * m[L.SHAFT + axis] * m[L.ROTOR_INERTIA] * dx[L.ROTOR]
    return duty


def blank_state(height: float) -> np.ndarray:
    """A state at rest at `height` m, attached flow, attitude level towards north."""
    x = np.zeros(L.STATE)
    x[L.POSITION + 2] = -height
    x[L.QUATERNION] = 1.0
    x[L.SEPARATION : L.SEPARATION + L.PAD] = 1.0
    return x


def _put_controls(plane: Plane, x: np.ndarray, command: np.ndarray, controls: np.ndarray) -> None:
    """Write rotor speed / 500, elevator, aileron (roll right) and rudder into a state and a command."""
    x[L.ROTOR] = max(500.0 * controls[0], 1.0)
    command[L.ELEVATOR], command[L.RUDDER] = controls[1], controls[3]
    command[L.AILERON_LEFT], command[L.AILERON_RIGHT] = controls[2] + plane.flaps, -controls[2] + plane.flaps
    x[L.SERVO : L.SERVO + L.CONTROLS] = command[: L.CONTROLS]


def accelerations(dx: np.ndarray) -> np.ndarray:
    """Six scaled accelerations, in g and 10 rad/s2."""
    return np.r_[dx[L.VELOCITY : L.VELOCITY + 3] / G, dx[L.RATES : L.RATES + 3] / 10.0]


def level_trim(plane: Plane, airspeed: float, height: float, climb: float = 0.0, rotor_guess: float = 450.0) -> Trim:
    """Straight flight at `airspeed` m/s and `height` m, wings level, path `climb` rad above the horizon, track north.

    Raises NoTrim when the speed cannot be held, with the limit that stopped it.
    """

    def pose(plane: Plane, x: np.ndarray, command: np.ndarray, unknown: np.ndarray) -> None:
        alpha, beta = unknown[0], unknown[1]
        x[L.VELOCITY] = airspeed * math.cos(alpha) * math.cos(beta)
        x[L.VELOCITY + 1] = airspeed * math.sin(beta)
        x[L.VELOCITY + 2] = airspeed * math.sin(alpha) * math.cos(beta)
        pitch = alpha + math.asin(max(-1.0, min(1.0, math.sin(climb) / math.cos(beta))))
        x[L.QUATERNION : L.QUATERNION + 4] = quaternion_from_euler(0.0, pitch, -beta)
        _put_controls(plane, x, command, unknown[2:])

    starts = [(0.05, 0.0, rotor_guess / 500.0, 0.0, 0.0, 0.0), (0.15, 0.0, 0.8, -0.1, 0.0, 0.0)]
    what = f"level flight at {airspeed:.1f} m/s"
    try:
        return _solve(plane, height, pose, starts, what)
    except NoRoom:
        raise
    except NoTrim as stop:
        pressure = 0.5 * density(height) * airspeed * airspeed
        needed = plane.mass.mass * G / (pressure * plane.wing_area)
        if needed > SURELY_STALLED:
            raise NoTrim(f"{what} is too slow: it asks for a lift coefficient of {needed:.1f}") from None
        if needed < SURELY_FAST and "full throttle" not in str(stop):
            raise NoTrim(f"{stop}: most likely too fast for the propeller and motor") from None
        raise


def hover_trim(plane: Plane, height: float) -> Trim:
    """Still hover, nose up, canopy towards south.  Raises NoTrim when the thrust or the tail does not suffice."""

    def pose(plane: Plane, x: np.ndarray, command: np.ndarray, unknown: np.ndarray) -> None:
        tilt, lean = unknown[0], unknown[1]
        up = quaternion_from_euler(0.0, math.pi / 2 + tilt, 0.0)
        x[L.QUATERNION : L.QUATERNION + 4] = _multiply(up, np.array([math.cos(lean / 2), 0.0, 0.0, math.sin(lean / 2)]))
        _put_controls(plane, x, command, unknown[2:])

    weight = plane.mass.mass * G
    disk = math.pi * (0.5 * plane.setup.propeller.diameter) ** 2
    guess = 32.0 * math.sqrt(weight / disk) / plane.setup.propeller.diameter  # tip speed scales with the induced speed
    starts = [
        (0.0, 0.0, guess * k / 500.0, e, a, r)
        for k in (1.0, 0.8, 1.25)
        for e, a, r in ((0.0, 0.1, 0.0), (-0.15, 0.2, -0.1))
    ]
    try:
        return _solve(plane, height, pose, starts, "the hover")
    except NoTrim as stop:
        if isinstance(stop, NoRoom) and stop.control != "aileron":
            raise

    # no ailerons stop the torque roll: hold nose and height, ailerons on their stop against it, roll left to itself
    def pose_rolling(plane: Plane, x: np.ndarray, command: np.ndarray, unknown: np.ndarray) -> None:
        pose(plane, x, command, np.r_[unknown[:4], aileron_against_torque(plane), unknown[4]])

    return _solve(plane, height, pose_rolling, [tuple(np.delete(s, 4)) for s in starts], "the hover", rolls=True)


def aileron_against_torque(plane: Plane) -> float:
    """Full aileron (rad, roll right) against the torque roll."""
    return math.copysign(full_throw(plane, "aileron"), plane.model[L.SENSE])


def _multiply(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    w, v = a[0], a[1:]
    return np.r_[w * b[0] - v @ b[1:], w * b[1:] + b[0] * v + np.cross(v, b[1:])]


def _solve(plane: Plane, height: float, pose: Pose, starts, what: str, rolls: bool = False) -> Trim:
    x, command, dx = blank_state(height), np.zeros(L.COMMAND), np.zeros(L.STATE)
    duty = math.nan

    def attached() -> None:
        x[L.CIRCULATION : L.SEPARATION] = 0.0
        x[L.SEPARATION : L.SEPARATION + L.PAD] = 1.0

    def left_over(unknown: np.ndarray) -> np.ndarray:
        nonlocal duty
        pose(plane, x, command, unknown)
        duty = settle(x, command, plane.model, plane.table, dx)
        left = accelerations(dx)
        return np.delete(left, 3) if rolls else left

    def afresh(unknown: np.ndarray) -> np.ndarray:
        attached()
        return left_over(unknown)

    def solved(residual, start) -> np.ndarray:
        return root(residual, start, method="hybr", options={"xtol": 1e-10, "eps": 1e-5}).x

    best, best_error = None, math.inf
    for start in starts:
        attached()
        found = solved(left_over, start)
        kept, error = (found, x.copy()), float(np.abs(left_over(found)).max())
        # where two flows are possible the search may have come by the other one: again from the one that began attached
        if error < CLOSE and np.abs(afresh(found)).max() > CLOSE:
            for residual in (left_over, afresh):
                found = solved(residual, found)
                again = float(np.abs(afresh(found)).max())
                if again < CLOSE:
                    kept, error = (found, x.copy()), again
                    break
        if error < best_error:
            best, best_error = kept, error
        if error < CLOSE:
            break
    if best is None or best_error > 1e-5:
        if best is not None:
            left_over(best[0])
        raise NoTrim(f"no steady state found for {what}{_blown_back(plane, x)}")
    x[:] = best[1]
    left_over(best[0])
    within_limits(plane, command, duty, what)
    return Trim(x.copy(), command.copy(), best_error, rolls, best[0], pose)


def within_limits(plane: Plane, command: np.ndarray, duty: float, what: str) -> None:
    """Raise NoTrim when `what` needs a throttle that there is not, NoRoom when it needs more of a control than its throw."""
    if duty > 1.0:
        raise NoTrim(f"{what} needs more than full throttle")
    if duty < 0.0:
        raise NoTrim(f"{what} needs more braking than the motor gives at idle")
    limits = (("elevator", L.ELEVATOR), ("aileron", L.AILERON_LEFT), ("rudder", L.RUDDER))
    for name, control in limits:
        most = full_throw(plane, name)
        turned = abs(command[control] - (plane.flaps if name == "aileron" else 0.0))
        if turned > most + 1e-9:
            needed = math.degrees(turned)
            raise NoRoom(
                name, f"{what} needs {needed:.0f} deg of {name}, more than its throw of {math.degrees(most):.0f} deg"
            )


def full_throw(plane: Plane, control: str) -> float:
    """The greatest command (rad) that the stick alone gives a control, either way."""
    axis = STICKS.index(control)
    return float(max(plane.chain[THROW_POSITIVE + axis], plane.chain[THROW_NEGATIVE + axis]))


def _blown_back(plane: Plane, x: np.ndarray) -> str:
    """Why a search may have failed: servos that the air holds at their stall torque where it came nearest; or ""."""
    hinges = plane.model[L.HINGE_MOMENT : L.HINGE_MOMENT + L.CONTROLS]
    loads = np.abs(servo_loads(plane.model, x[L.SERVO : L.SERVO + L.CONTROLS], hinges))
    names = dict.fromkeys(name for name, load in zip(CONTROLS, loads) if load > 0.999)
    return f": the air is stronger than the servo torque of {', '.join(names)}" if names else ""


def static_thrust_ratio(plane: Plane) -> float:
    """Static thrust at full throttle over weight, from the propeller and power model at rest."""
    m, radius, rho, out = plane.model, plane.model[L.DISK_RADIUS], density(0.0), np.zeros(COLUMNS + 1)
    low, high = 10.0, 3000.0
    for _ in range(40):
        speed = 0.5 * (low + high)
        propeller_look_up(plane.table, 0.0, 0.0, speed * radius, out)
        torque = out[1] * rho * out[COLUMNS] * radius**3
        low, high = (speed, high) if throttle_for_torque(m, torque, speed, 0.0) < 1.0 else (low, speed)
    return float(abs(out[0]) * rho * out[COLUMNS] * radius**2 / (plane.mass.mass * G))
