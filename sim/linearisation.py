"""Small motions about a steady state: the linear model of the rates, and the slopes of the loads.

Slopes are central differences.  The complex step, which needs no step size, is not to be
had: the kernels are compiled for real numbers and take magnitudes, limits (`min`, `max`,
`abs`), square roots of squares and table cells by comparison, none of which is analytic.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sim import layout as L
from sim.account import loads_of
from sim.atmosphere import density
from sim.build import Plane
from sim.equations_of_motion import derivatives
from sim.frames import body_to_earth, euler_angles, quaternion_from_euler
from sim.powerplant import PISTON, steady_throttle_state
from sim.trim import LAPS, Trim, blank_state, relax_flow

# Body axes; phi and theta are bank and pitch.  In the hover they are counted from the nose pointing up, so that nothing
# is singular: "lean" turns about the body z axis and "tilt" about the y axis, and the roll about the vertical is what
# heading is in level flight.
RIGID = ("u", "v", "w", "p", "q", "r", "phi", "theta")
RIGID_HOVER = ("u", "v", "w", "p", "q", "r", "lean", "tilt")
CONTROLS = ("elevator", "aileron", "rudder", "throttle")
# what a flight drifts through: nothing or little depends on it
PLACE = ("north", "east", "down", "psi", "turn", "charge")
LAG_ORDER = 2  # of the flow's lag behind the body: nearer to the whole state than 1, and higher ones drift (an asymptotic series)
NOSE_UP = math.radians(60.0)  # pitch beyond which attitude is counted from the vertical


@dataclass(frozen=True)
class Linear:
    """Rates of small motions: d(delta)/dt = `a` delta + `b` controls.

    `states` and `controls` name the columns (m/s, rad/s, rad; rotor rad/s; throttle 0..1);
    `alpha` (rad) is the angle of attack of the steady state, which turns u, w and p, r into
    stability axes; `wing_borne` whether the classical names of modes can apply.
    """

    states: tuple[str, ...]
    a: np.ndarray
    controls: tuple[str, ...] = ()
    b: np.ndarray | None = None
    alpha: float = 0.0
    wing_borne: bool = True

    def without(self, *held: str) -> Linear:
        """The model with the states `held` at their steady values (names that it does not have are passed over)."""
        kept = [i for i, state in enumerate(self.states) if state not in held]
        return replace(
            self,
            states=tuple(self.states[i] for i in kept),
            a=self.a[np.ix_(kept, kept)],
            b=None if self.b is None else self.b[kept],
        )

    def reduced(self, kept: tuple[str, ...], order: int = 0) -> Linear:
        """The model of the states `kept` alone, all others following them with their lag to the power `order`.

        Order 0 is quasi-steady: the others are at rest at every instant.  They then follow the kept states x as P x, and
        a motion that stays so has P (A11 + A12 P) = A21 + A22 P; every pass of A22^-1 through that equation takes one
        more power of the lags -A22^-1 (slow manifold of a system with fast states: Kokotovic, Khalil and O'Reilly,
        Singular Perturbation Methods in Control, chapter 2, from memory).  Controls stand still after a step.
        """
        k = [i for i, state in enumerate(self.states) if state in kept]
        f = [i for i, state in enumerate(self.states) if state not in kept]
        b = np.zeros((len(self.states), 0)) if self.b is None else self.b
        moved = np.hstack([self.a[:, k], b])  # what kept states and controls do to all rates
        own, others = moved[k], moved[f]
        back, lag = self.a[np.ix_(k, f)], self.a[np.ix_(f, f)]
        follow = -np.linalg.solve(lag, others)
        for _ in range(order):
            follow = np.linalg.solve(lag, follow[:, : len(k)] @ (own + back @ follow) - others)
        whole = own + back @ follow
        b = None if self.b is None else whole[:, len(k) :]
        return replace(self, states=tuple(self.states[i] for i in k), a=whole[:, : len(k)], b=b)


def jacobian(rates: Callable[[np.ndarray], np.ndarray], y: np.ndarray, steps: np.ndarray) -> np.ndarray:
    """Slopes of `rates` at `y` by central difference, shape (rates, y); error of second order in `steps`."""
    columns = []
    for i, step in enumerate(steps):
        ahead, behind = y.copy(), y.copy()
        ahead[i] += step
        behind[i] -= step
        columns.append((rates(ahead) - rates(behind)) / (2.0 * step))
    return np.array(columns).T


# ---- the whole plane -------------------------------------------------------------------------------------------------

# Steps of the settled model: far above what is left of the settling flow (1e-8), far below the curvature of the loads.
SETTLED_STEPS = {"velocity": 0.02, "rates": 0.005, "angle": 1e-3, "rotor": 0.2, "servo": 1e-3, "throttle": 1e-3}
# Steps of the free model, where only rounding counts: about the cube root of 1e-16, times the size of the state.  The
# separation point of attached flow lies just below its limit of 1.
FREE_STEPS = {
    "velocity": 2e-4, "rates": 1e-5, "angle": 1e-5, "rotor": 2e-3, "servo": 1e-5, "throttle": 1e-5,
    "position": 1.0, "charge": 1.0, "power": 1e-5, "circulation": 1e-5, "separation": 1e-6,
}  # fmt: skip


class NotSteady(ValueError):
    """The state is not steady, so that there are no small motions about it."""


class _Coordinates:
    """What the small motions of one plane are counted in: names, steps, and the way to the state vector and back."""

    def __init__(self, plane: Plane, trim: Trim, free: bool):
        self.plane, self.trim, self.free = plane, trim, free
        turn = np.array(body_to_earth(*trim.x[L.QUATERNION : L.QUATERNION + 4])).reshape(3, 3)
        pitch = math.asin(min(1.0, max(-1.0, -turn[2, 0])))
        self.hover = abs(pitch) > NOSE_UP
        # columns: the axes that bank, pitch and heading turn about, in body axes
        self.frame = np.array([[0.0, 0, -1], [0, 1, 0], [1, 0, 0]]) if self.hover else np.eye(3)
        seen = turn @ self.frame
        self.attitude = euler_angles(seen[0, 0], seen[1, 0], seen[2, 0], seen[2, 1], seen[2, 2])
        n = int(plane.model[L.N_STRIPS])
        places = [*range(L.VELOCITY, L.VELOCITY + 3), *range(L.RATES, L.RATES + 3), -1, -1, L.ROTOR]
        names = [*(RIGID_HOVER if self.hover else RIGID), "rotor"]
        kinds = ["velocity"] * 3 + ["rates"] * 3 + ["angle"] * 2 + ["rotor"]
        if free:
            servos = ("left aileron", "right aileron", "elevator", "rudder")
            for label, start, count, kind in (
                (("north", "east", "down"), L.POSITION, 3, "position"),
                (("turn" if self.hover else "psi",), -1, 1, "angle"),
                (("charge",), L.CHARGE, 1, "charge"),
                (("acting throttle",), L.POWER_LAG, int(plane.model[L.POWER_KIND] == PISTON), "power"),
                (tuple(f"{s} servo" for s in servos), L.SERVO, L.CONTROLS, "servo"),
                (tuple(f"circulation {i}" for i in range(n)), L.CIRCULATION, n, "circulation"),
                (tuple(f"separation {i}" for i in range(n)), L.SEPARATION, n, "separation"),
            ):
                names += label[:count]
                places += [start] * count if start < 0 else range(start, start + count)
                kinds += [kind] * count
        self.names = tuple(names)
        steps = FREE_STEPS if free else SETTLED_STEPS
        self.steps = np.array([steps[kind] for kind in kinds])
        self.command_steps = np.array([steps["servo"]] * 3 + [steps["throttle"]])
        self.places = np.array(places)
        self.plain = self.places >= 0
        self.angles = np.flatnonzero(~self.plain)

    def origin(self) -> np.ndarray:
        """The coordinates of the steady state."""
        y = np.zeros(len(self.names))
        y[self.plain] = self.trim.x[self.places[self.plain]]
        y[self.angles] = self.attitude[: len(self.angles)]
        return y

    def rates(self, y: np.ndarray, controls: np.ndarray) -> np.ndarray:
        """Rates of the coordinates at `y`, with `controls` (elevator, aileron, rudder, throttle) added to the trim's.

        Settled: surfaces and an engine's acting throttle stand where their commands bring them and the flow has come to rest.
        Free: servos, acting throttle and flow are states like all others.
        """
        x, command = self.trim.x.copy(), self.trim.command.copy()
        x[self.places[self.plain]] = y[self.plain]
        bank, pitch, heading = (*y[self.angles], self.attitude[2])[:3]
        x[L.QUATERNION : L.QUATERNION + 4] = _quaternion(bank, pitch, heading, self.hover)
        # ISO 1151: positive aileron rolls left, trailing edge of the right one down
        command[[L.ELEVATOR, L.AILERON_LEFT, L.AILERON_RIGHT, L.RUDDER, L.THROTTLE]] += controls[[0, 1, 1, 2, 3]] * (
            np.array([1.0, -1.0, 1.0, 1.0, 1.0])
        )
        dx = np.zeros(L.STATE)
        if self.free:
            derivatives(x, command, self.plane.model, self.plane.table, dx)
        else:
            x[L.SERVO : L.SERVO + L.CONTROLS] = command[: L.CONTROLS]
            x[L.POWER_LAG] = steady_throttle_state(self.plane.model, command[L.THROTTLE])
            relax_flow(x, command, self.plane.model, self.plane.table, dx, LAPS, True)
        out = np.zeros(len(y))
        out[self.plain] = dx[self.places[self.plain]]
        p, q, r = self.frame.T @ x[L.RATES : L.RATES + 3]
        about = q * math.sin(bank) + r * math.cos(bank)
        turning = (p + math.tan(pitch) * about, q * math.cos(bank) - r * math.sin(bank), about / math.cos(pitch))
        out[self.angles] = turning[: len(self.angles)]
        return out


def _quaternion(bank: float, pitch: float, heading: float, hover: bool) -> np.ndarray:
    """Body to earth; in the hover the body's nose points to where the frame of the angles has its top."""
    w, x, y, z = quaternion_from_euler(bank, pitch, heading)
    if not hover:
        return np.array([w, x, y, z])
    h = math.sqrt(0.5)  # then pitched up by a right angle
    return h * np.array([w - y, x - z, y + w, z + x])


def linearise(plane: Plane, trim: Trim, free: bool = False) -> Linear:
    """The linear model of `plane` about the steady state `trim`.

    Settled (default): the rigid-body states u v w p q r phi theta and the rotor speed, the
    flow at rest at every instant (quasi-steady), surfaces where they are commanded.
    `free`: every state that moves, padding left out and the quaternion's four numbers as three
    angles; the settled model's states come first.  Both are rates of the equations of motion, the
    air that the plane carries along (`sim.added_mass`) in them.  Raises NotSteady for a hover that rolls.
    """
    if trim.rolls:
        raise NotSteady("the ailerons do not stop the roll: no steady state to look at small motions about")
    at = _Coordinates(plane, trim, free)
    y, still = at.origin(), np.zeros(len(CONTROLS))
    a = jacobian(lambda other: at.rates(other, still), y, at.steps)
    b = jacobian(lambda moved: at.rates(y, moved), still, at.command_steps)
    u, v, w = trim.x[L.VELOCITY : L.VELOCITY + 3]
    along = u > math.cos(math.radians(30.0)) * math.sqrt(u * u + v * v + w * w) and u > 0.0
    return Linear(at.names, a, CONTROLS, b, math.atan2(w, u) if along else 0.0, along and not at.hover)


# ---- slopes of the loads ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class PitchStability:
    """`neutral_point` station (m aft of the wing root leading edge), `static_margin` (fraction of MAC),
    `lift_slope` (per rad, on wing area), stick fixed, controls at the trim."""

    neutral_point: float
    static_margin: float
    lift_slope: float


def steady_loads(plane: Plane, x: np.ndarray, command: np.ndarray, table: np.ndarray | None = None) -> np.ndarray:
    """Forces and moments by part, shape (N_PARTS, 6), with the flow settled at the motion in `x` (unchanged).

    `table` stands in for the propeller's.
    """
    state, dx = x.copy(), np.zeros(L.STATE)
    relax_flow(state, command, plane.model, plane.table if table is None else table, dx, LAPS)
    return loads_of(plane.model)


PROPULSION = (L.THRUST, L.OBLIQUE, L.TORQUE, L.GYROSCOPIC)


def pitch_stability(plane: Plane, trim: Trim, step: float = math.radians(0.5)) -> PitchStability:
    """Stick-fixed pitch stability about the angle of attack of `trim`, propeller off (no thrust, no slipstream).

    Central difference over +-`step` rad of alpha, flow settled at each.
    """
    height = -float(trim.x[L.POSITION + 2])
    airspeed = float(np.linalg.norm(trim.x[L.VELOCITY : L.VELOCITY + 3]))
    alpha0 = math.atan2(trim.x[L.VELOCITY + 2], trim.x[L.VELOCITY])
    still = np.zeros_like(plane.table)  # a propeller that does nothing
    rows = []
    for alpha in (alpha0 - step, alpha0 + step):
        x = blank_state(height)
        x[L.VELOCITY], x[L.VELOCITY + 2] = airspeed * math.cos(alpha), airspeed * math.sin(alpha)
        x[L.SERVO : L.SERVO + L.CONTROLS] = trim.x[L.SERVO : L.SERVO + L.CONTROLS]
        loads = steady_loads(plane, x, trim.command, still)
        loads = np.delete(loads, [L.WEIGHT, *PROPULSION], axis=0).sum(axis=0)
        lift = loads[0] * math.sin(alpha) - loads[2] * math.cos(alpha)
        rows.append((lift, loads[4]))
    d_lift, d_moment = np.subtract(rows[1], rows[0]) / (2.0 * step)
    margin = -d_moment / d_lift / plane.mac
    pressure = 0.5 * density(height) * airspeed**2
    return PitchStability(
        plane.cg_station + margin * plane.mac, float(margin), float(d_lift / (pressure * plane.wing_area))
    )
