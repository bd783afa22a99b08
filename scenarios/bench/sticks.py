"""The sticks on the bench: from stick to surface to how the plane turns, in what steps, and what is limited.

The plane is trimmed in level flight; each stick then stands alone, and what is found is steady: roll about the flight
path without sideslip, the pull or push of a level path at the speed held, the flat turn of a held rudder with the
wings level.  The throttle stays where the trim has it, the servos give as the air loads them.  Surfaces are told as on
the bench, through the linkages and without load.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq, root

from scenarios.cures.states import moments
from scenarios.manoeuvres import CannotFly, flyable
from scenarios.sticks import set_trims, sticks_for, switch_to, with_flaps, without_steps
from sim import layout as L
from sim.account import loads_of
from sim.build import Plane
from sim.description import Link, Setup
from sim.frames import G, quaternion_from_euler
from sim.servo import commanded_surfaces
from sim.transmitter import (
    EXPONENTIAL,
    FAR,
    LIMIT_POSITIVE,
    RATES,
    SHARE,
    STEP,
    STICK_STEP,
    STICKS,
    STOP_POSITIVE,
    transmit,
)
from sim.trim import LAPS, NoTrim, Trim, level_trim, relax_flow

SPEED, HEIGHT = 25.0, 100.0  # m/s, m
STOPS = (0.0, 0.25, 0.5, 0.75, 1.0)  # of a stick's travel
NEAR = 0.02  # of a stick's travel, over which slopes are taken
STALLED = 0.5  # share of the wing's area with the flow more than half separated: no steady pull is looked for beyond
MOST_ROLL = 40.0  # rad/s, beyond any roll
CLOSE = 0.02  # g or 10 rad/s2 left at most: where a strip's flow jumps (a fin at its stall), none is steadier
NOTHING = math.radians(0.05)  # of a surface


@dataclass(frozen=True)
class Place:
    """Where one stick stands (-1..1), and what comes of it.

    `surfaces` (left aileron, right aileron, elevator, rudder; rad, up and right positive) from where they stand at
    the centred stick; `rate` rad/s of the stick's own axis, `load` g along the body's vertical, `sideslip` rad (nose
    left of the path positive); None where no steady motion was found.
    """

    stick: float
    surfaces: tuple[float, float, float, float]
    rate: float | None
    load: float | None = None
    sideslip: float | None = None


@dataclass(frozen=True)
class Fineness:
    """Near one place of a stick, for 1 % of its travel from centre to end: `surface` rad and `rate` rad/s; and for the
    finest step: the larger of a step of the stick as it is read and of the control as it is sent (`from_link`)."""

    surface: float
    rate: float | None
    step_surface: float
    step_rate: float | None
    from_link: bool


@dataclass(frozen=True)
class Axis:
    """One stick: `places` from full negative to full positive, fineness at centre and at full stick (negative, positive).

    `stops_at` are the sticks (negative, positive side) from which throw or end point holds its own control, None where
    nothing does; `stalls_at` those at which the wing stalls.
    """

    stick: str
    share: float
    exponential: float
    places: tuple[Place, ...]
    centre: Fineness
    full: tuple[Fineness, Fineness]
    stops_at: tuple[float | None, float | None]
    stalls_at: tuple[float | None, float | None]


@dataclass(frozen=True)
class Corner:
    """Three sticks at their ends, the throttle as `throttle`: what the surfaces do (as in `Place`), and what they are asked."""

    sticks: tuple[float, float, float]
    throttle: float
    surfaces: tuple[float, float, float, float]
    asked: tuple[float, float, float, float]

    @property
    def limited(self) -> tuple[bool, ...]:
        """Which surfaces a throw or an end point holds back."""
        return tuple(abs(a - s) > NOTHING for a, s in zip(self.asked, self.surfaces))


@dataclass(frozen=True)
class Bench:
    """The sticks of a setup in one flight mode at one rate; `steps` of the link, `typical` where the setup names none."""

    setup: Setup
    mode: str
    rate: str
    speed: float
    throttle: float
    trims: tuple[float, float, float, float]  # as `Place.surfaces`, the sticks centred
    axes: tuple[Axis, ...]
    corners: tuple[Corner, ...]
    steps: int
    typical: bool

    @property
    def mixes(self) -> bool:
        """Whether a stick moves what is not its own control."""
        return any(abs(p.surfaces[k]) > NOTHING for a in self.axes for p in a.places for k in FOREIGN[a.stick]) or any(
            abs(p.surfaces[0] + p.surfaces[1]) > NOTHING for a in self.axes[1:] for p in a.places
        )


FOREIGN = {"aileron": (2, 3), "elevator": (3,), "rudder": (0, 1, 2)}  # surfaces that a mix alone moves


class _Sticks:
    """A plane trimmed level in one mode at one rate."""

    def __init__(self, setup: Setup, mode: str, rate: str, speed: float, link: Link):
        plane = flyable(replace(setup, link=link))
        switch_to(plane, mode, (rate,) * 3, "--mode")
        try:
            self.level = with_flaps(plane, lambda one: level_trim(one, speed, HEIGHT), at_trim=True)
        except NoTrim as stop:
            raise CannotFly(f"{setup.name}: {stop}") from None
        set_trims(plane, self.level)
        self.plane, self.chain = plane, without_steps(plane)
        self.free = self.chain.copy()  # nothing is limited
        self.free[LIMIT_POSITIVE : LIMIT_POSITIVE + 6] = FAR
        self.free[STOP_POSITIVE : STOP_POSITIVE + 6] = FAR
        self.centred = sticks_for(plane, self.level)
        self.neutral = self.sent(self.centred)

    def sent(self, sticks: np.ndarray, chain: np.ndarray | None = None) -> np.ndarray:
        """The command of four sticks, nothing in steps."""
        command = np.zeros(L.COMMAND)
        transmit(sticks, self.chain if chain is None else chain, command)
        return command

    def alone(self, axis: int, stick: float) -> np.ndarray:
        """One stick away from the centre."""
        sticks = self.centred.copy()
        sticks[axis] = stick
        return sticks

    def moved(self, sticks: np.ndarray, chain: np.ndarray | None = None) -> tuple[float, float, float, float]:
        """How far the surfaces stand from neutral, up and right positive."""
        command = self.sent(sticks, chain)
        held = self.sent(sticks)
        off = (
            self.at_rest(self.neutral) - self.at_rest(held) + (held - command)[: L.CONTROLS]
        )  # beyond a limit: straight on
        return float(off[0]), float(off[1]), float(off[2]), float(off[3])

    def at_rest(self, command: np.ndarray) -> np.ndarray:
        """Surfaces (rad) that a command brings on the bench, shape (CONTROLS,)."""
        return commanded_surfaces(self.plane.model, command[: L.CONTROLS])

    def own(self, axis: int, stick: float) -> float:
        """What a stick does to its own control, rad in its sense; of the ailerons the mean of both sides."""
        left, right, elevator, rudder = self.moved(self.alone(axis, stick))
        return (0.5 * (right - left), elevator, rudder)[axis]


def bench(
    setup: Setup, mode: str = "", rate: str = "high", speed: float = SPEED, stops: Sequence[float] = STOPS
) -> Bench:
    """Every stick of `setup` at the fractions `stops` of its travel, both ways.

    Raises `OptionError` for a mode that there is not, `CannotFly` when there is no level flight.
    """
    link = setup.link if setup.link and setup.link.steps else Link()
    at = _Sticks(setup, mode, rate, speed, link)
    axes = tuple(_axis(at, axis, stops) for axis in range(3))
    corners = []
    for sticks in itertools.product((1.0, -1.0), repeat=3):
        for throttle in (at.centred[3], 0.0, 1.0):
            four = np.array([*sticks, throttle])
            corners.append(Corner(sticks, float(throttle), at.moved(four), at.moved(four, at.free)))
    trims = -at.at_rest(at.neutral)
    return Bench(
        setup, mode or "normal", rate, speed, float(at.centred[3]), tuple(float(t) for t in trims), axes,
        tuple(corners), link.steps, not (setup.link and setup.link.steps),
    )  # fmt: skip


def _axis(at: _Sticks, axis: int, stops: Sequence[float]) -> Axis:
    places = {0.0: Place(0.0, at.moved(at.centred), 0.0, 1.0 if axis == 1 else None, 0.0 if axis == 2 else None)}
    stalls: list[float | None] = []
    for side in (-1.0, 1.0):
        guess, stalled = (0.0, 0.0), None
        for stop in sorted(s for s in stops if s > 0.0):
            sticks = at.alone(axis, side * stop)
            found = None if stalled is not None else _turns(at, axis, at.sent(sticks), guess)
            if axis == 1 and found is None and stalled is None:
                stalled = side * stop
            rate, load, slip, guess = found or (None, None, None, guess)
            places[side * stop] = Place(
                side * stop, at.moved(sticks), rate, load if axis == 1 else None, slip if axis == 2 else None
            )
        stalls.append(stalled)
    ends = []
    for side in (-1.0, 1.0):
        last = places[max(places) if side > 0.0 else min(places)]
        before = _turns(at, axis, at.sent(at.alone(axis, side * (1.0 - NEAR))), (0.0, 0.0)) if last.rate else None
        rate = abs(last.rate - before[0]) / NEAR if last.rate is not None and before else None
        ends.append(_fineness(at, axis, side * (1.0 - NEAR), side, rate))
    both = [_turns(at, axis, at.sent(at.alone(axis, side * NEAR)), (0.0, 0.0)) for side in (-1.0, 1.0)]
    rate = (both[1][0] - both[0][0]) / (2.0 * NEAR) if both[0] and both[1] else None
    return Axis(
        STICKS[axis],
        float(at.chain[SHARE + axis]),
        float(at.chain[EXPONENTIAL + axis]),
        tuple(places[s] for s in sorted(places)),
        _fineness(at, axis, -NEAR, NEAR, rate),
        (ends[0], ends[1]),
        (_stops_at(at, axis, -1.0), _stops_at(at, axis, 1.0)),
        (stalls[0], stalls[1]),
    )


def _fineness(at: _Sticks, axis: int, start: float, end: float, rate: float | None) -> Fineness:
    """Between two places of a stick; `rate` (rad/s) is that of a full travel of the stick as steep as there."""
    slope = abs((at.own(axis, end) - at.own(axis, start)) / (end - start))
    control = (L.AILERON_RIGHT, L.ELEVATOR, L.RUDDER)[axis]
    commands = [at.sent(at.alone(axis, stick))[control] for stick in (start, end)]
    asked = abs((commands[1] - commands[0]) / (end - start))
    leverage = slope / asked if asked > 1e-9 else 1.0  # of the linkage, surface over command
    read, sent = slope * float(at.plane.chain[STICK_STEP]), leverage * float(at.plane.chain[STEP + control])
    step = max(read, sent)
    per_surface = None if rate is None or slope < 1e-9 else rate / slope
    return Fineness(
        0.01 * slope,
        None if rate is None else 0.01 * rate,
        step,
        None if per_surface is None else per_surface * step,
        sent >= read,
    )


def _stops_at(at: _Sticks, axis: int, side: float) -> float | None:
    """The stick from which a limit holds its own control; None when none does."""
    for stick in side * np.linspace(0.01, 1.0, 100):
        four = at.alone(axis, float(stick))
        free, held = at.moved(four, at.free), at.moved(four)
        own = (0, 1) if axis == 0 else (axis + 1,)
        if any(abs(free[k] - held[k]) > NOTHING for k in own):
            return float(stick)
    return None


# ---- how the plane turns ------------------------------------------------------------------------


def _turns(
    at: _Sticks, axis: int, command: np.ndarray, guess: tuple[float, float]
) -> tuple[float, float | None, float | None, tuple[float, float]] | None:
    """Rate of the stick's own axis (rad/s), load factor, sideslip (rad), and where to begin the next search.

    None when there is no steady motion, or the wing has stalled.
    """
    if axis == 0:
        rate = roll_rate(at.plane, at.level, command)
        return None if rate is None else (rate, None, None, guess)
    return _curved(at, axis, command, guess)


def roll_rate(plane: Plane, state: Trim, command: np.ndarray) -> float | None:
    """Steady roll rate (rad/s) about the flight path with the surfaces where `command` sends them, without sideslip."""
    x = state.x.copy()
    alpha = math.atan2(x[L.VELOCITY + 2], x[L.VELOCITY])
    ca, sa = math.cos(alpha), math.sin(alpha)

    def roll(rate: float) -> float:
        x[L.RATES : L.RATES + 3] = rate * ca, 0.0, rate * sa
        out = moments(plane, x, command).sum(axis=0)
        return float(out[3] * ca + out[5] * sa)

    still = roll(0.0)
    end = math.copysign(MOST_ROLL, still)
    if abs(still) < 1e-9 or still * roll(end) > 0.0:
        return 0.0 if abs(still) < 1e-9 else None
    return float(brentq(roll, 0.0, end, xtol=1e-6))


def _curved(
    at: _Sticks, axis: int, command: np.ndarray, guess: tuple[float, float]
) -> tuple[float, float, float, tuple[float, float]] | None:
    """The steady curve of a held elevator (angle of attack and pitch rate found) or rudder (sideslip and yaw rate)."""
    model, table, level = at.plane.model, at.plane.table, at.level.x
    speed = float(np.linalg.norm(level[L.VELOCITY : L.VELOCITY + 3]))
    alpha0 = math.atan2(level[L.VELOCITY + 2], level[L.VELOCITY])
    beta0 = math.asin(level[L.VELOCITY + 1] / speed)
    x, dx = level.copy(), np.zeros(L.STATE)
    sent = at.level.command.copy()
    sent[: L.CONTROLS] = command[: L.CONTROLS]
    across, turning = (L.VELOCITY + 2, L.RATES + 1) if axis == 1 else (L.VELOCITY + 1, L.RATES + 2)

    def left_over(unknown: np.ndarray) -> np.ndarray:
        x[:] = level
        alpha, beta = (alpha0 + unknown[0], beta0) if axis == 1 else (alpha0, beta0 + unknown[0])
        x[L.VELOCITY] = speed * math.cos(alpha) * math.cos(beta)
        x[L.VELOCITY + 1] = speed * math.sin(beta)
        x[L.VELOCITY + 2] = speed * math.sin(alpha) * math.cos(beta)
        x[L.QUATERNION : L.QUATERNION + 4] = quaternion_from_euler(0.0, alpha, -beta)  # the path level and north
        x[turning] = unknown[1]
        x[L.SERVO : L.SERVO + L.CONTROLS] = sent[: L.CONTROLS]
        relax_flow(x, sent, model, table, dx, LAPS, True)
        return np.array([dx[across] / G, dx[turning] / 10.0])

    for start in dict.fromkeys((guess, (0.0, 0.0))):
        found = root(left_over, start, method="hybr", options={"xtol": 1e-8, "eps": 1e-4})
        if np.abs(left_over(found.x)).max() < CLOSE and _stalled(at.plane, x) < STALLED:
            loads = np.delete(loads_of(model), L.WEIGHT, axis=0).sum(axis=0)
            load = -float(loads[2]) / (at.plane.mass.mass * G)
            return float(x[turning]), load, float(found.x[0]), (float(found.x[0]), float(found.x[1]))
    return None


def _stalled(plane: Plane, x: np.ndarray) -> float:
    """Share of the wing's area with the flow more than half separated."""
    wing = plane.strips["wing"]
    area = plane.model[L.AREA + wing.start : L.AREA + wing.stop]
    separation = x[L.SEPARATION + wing.start : L.SEPARATION + wing.stop]
    return float(area[separation < 0.5].sum() / area.sum())


def curves(setup: Setup, mode: str, speed: float = SPEED, places: int = 8) -> dict[str, Bench]:
    """The bench at every rate, finer, for a picture: by rate."""
    stops = tuple(i / places for i in range(places + 1))
    return {rate: bench(setup, mode, rate, speed, stops) for rate in RATES}
