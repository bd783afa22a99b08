"""Aileron differential: the travel up over travel down at which a steady roll asks for no rudder."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from scipy.optimize import brentq

from scenarios.cures.flights import yawed_in_roll
from scenarios.cures.report import Cause, Cure, Option, Row, percent
from scenarios.cures.states import DEG, YAW, changes_by_part, moments, moved, speed_of, straight
from scenarios.manoeuvres import flyable
from scenarios.sticks import set_trims
from sim import layout as L
from sim.build import Plane
from sim.description import Setup
from sim.frames import G
from sim.trim import NoTrim, Trim, level_trim

SLOW, FAST = 18.0, 25.0  # m/s: high and low angle of attack in level flight
STEP = math.radians(1.0)  # of rudder, for its power
MOST_RATE = 40.0  # rad/s, beyond any roll
COMMON = 0.10  # of the larger travel (common practice, no source)
LIMIT = 0.9  # of the mean travel: the most that one side is given over the other


def with_throws(setup: Setup, up: float, down: float) -> Setup:
    """`setup` with other aileron throws (rad), and no differential besides."""
    aileron = replace(setup.throws["aileron"], positive=up, negative=down)
    return replace(setup, throws={**setup.throws, "aileron": aileron}, differential=0.0)


def rolling(plane: Plane, state: Trim, up: float, down: float, side: float) -> tuple[float, np.ndarray]:
    """Steady roll rate (rad/s, about the flight path) at full aileron toward `side` (+1 right), and the loads in it.

    Yaw and roll stand in axes along the path: columns 3 and 5 of the loads, shape (N_PARTS, 6).
    No sideslip, elevator and rudder as in `state`.
    """
    command, x = state.command.copy(), state.x.copy()
    left, right = (down, -up) if side > 0.0 else (-up, down)
    command[L.AILERON_LEFT] += left
    command[L.AILERON_RIGHT] += right
    alpha = math.atan2(x[L.VELOCITY + 2], x[L.VELOCITY])
    ca, sa = math.cos(alpha), math.sin(alpha)

    def loads(rate: float) -> np.ndarray:
        x[L.RATES : L.RATES + 3] = rate * ca, 0.0, rate * sa
        out = moments(plane, x, command)
        roll, yaw = out[:, 3].copy(), out[:, 5].copy()
        out[:, 3], out[:, 5] = roll * ca + yaw * sa, yaw * ca - roll * sa
        return out

    rate = float(brentq(lambda p: loads(p)[:, 3].sum(), 0.0, MOST_RATE * side, xtol=1e-6))
    return rate, loads(rate)


def rudder_asked(plane: Plane, state: Trim, up: float, down: float) -> float:
    """Rudder (rad, toward the roll positive) that would cancel the yaw of a steady roll at full aileron, mean of both sides."""
    right, left = (rolling(plane, state, up, down, side)[1][:, YAW].sum() for side in (1.0, -1.0))
    return -0.5 * float(right - left) / _rudder_power(plane, state)


def roll_cures(setup: Setup, plane: Plane, level: Trim) -> list[Cure]:
    """The differential for slow level flight, for fast level flight, and for a vertical line."""
    set_trims(plane, level)
    throws, uneven = setup.throws["aileron"], setup.differential
    now_up, now_down = throws.positive * (1.0 + min(0.0, uneven)), throws.negative * (1.0 - max(0.0, uneven))
    mean = 0.5 * (now_up + now_down)
    cure = Cure("rolls", "rolls: yaw with aileron")
    states: dict[str, Trim] = {}
    for name, find in (
        (f"level, {SLOW:.0f} m/s", lambda: level_trim(plane, SLOW, -float(level.x[L.POSITION + 2]))),
        (f"level, {FAST:.0f} m/s", lambda: level_trim(plane, FAST, -float(level.x[L.POSITION + 2]))),
        ("vertical line up", lambda: straight(plane, level, FAST, 0.5 * math.pi, throttle=1.0)),
    ):
        try:
            states[name] = find()
        except NoTrim as stop:
            cure.notes.append(f"{name}: {stop}")
    pairs = [(now_up, now_down)]
    for name, state in states.items():
        found = _differential(plane, state, mean)
        if found is None:
            now = rudder_asked(plane, state, *pairs[0]) * DEG
            cure.notes.append(
                f"{name}: no differential within the throws takes the yaw away ({now:.1f} deg of rudder)."
            )
            continue
        up, down = mean + found, mean - found
        pairs.append((up, down))
        exponential = f", exponential: {percent(throws.exponential)}" if throws.exponential else ""
        edit = f"throws > aileron: {{up: {up * DEG:.1f} deg, down: {down * DEG:.1f} deg{exponential}}}"
        share = 1.0 - min(up, down) / max(up, down)
        amounts = (
            ("up", up * DEG, "deg"),
            ("down", down * DEG, "deg"),
            ("up over down" if up >= down else "down over up", max(up, down) / min(up, down), ""),
            (f"less {'down' if up >= down else 'up'}", 100.0 * share, "%"),
        )
        change = f"aileron up {up * DEG:.1f}, down {down * DEG:.1f} deg"
        cure.options.append(Option(name, edit, change, amounts, 2 * list(states).index(name)))
    if states:
        first = next(iter(states))
        _causes(cure, plane, first, states[first], pairs[0])
    if not cure.options:
        cure.reason, cure.notes = " ".join(cure.notes) or "no steady flight to roll from", []
        return [cure]
    planes = [plane, *(flyable(with_throws(setup, *pair)) for pair in pairs[1:])]
    rolls = "with the roll", "against the roll"
    for name, state in states.items():
        asked = tuple(rudder_asked(plane, state, *pair) * DEG for pair in pairs)
        cure.left.append(Row(f"{name}: rudder a steady roll asks for", "deg", asked, *rolls))
        flown = tuple(0.5 * sum(yawed_in_roll(p, level, state, side) for side in ("right", "left")) for p in planes)
        cure.left.append(Row(f"{name}: yaw in the first 45 deg of roll", "deg", flown, *rolls))
    _price(cure, plane, level, pairs, rolls)
    now = {name: rudder_asked(plane, state, *pairs[0]) for name, state in states.items()}
    if min(now.values()) < 0.0 < max(now.values()):
        cure.notes.append(
            "With lift on the wing a roll yaws against the ailerons, without lift with them: a differential fits one speed."
        )
    unsure = [
        f"{_doubt(plane, state, *pairs[0]) * DEG:.1f} deg in {name}"
        for name, state in states.items()
        if "level" in name
    ]
    if any(max(pair) - min(pair) > COMMON * max(pair) for pair in pairs[1:]):
        cure.notes.append(
            f"More than {100 * COMMON:.0f} % is beyond common practice: rudder with the ailerons does it with less harm "
            "inverted and at other speeds."
        )
    if unsure:
        cure.notes.append(
            f"The yaw of a rolling wing is held to 0.02 of C_np/C_L: worth {' and '.join(unsure)}, in rudder. A cure "
            "smaller than that is not worth a change."
        )
    return [cure]


def _doubt(plane: Plane, state: Trim, up: float, down: float) -> float:
    """Rudder (rad) that 0.02 of C_np/C_L is worth in the roll at full aileron (lift is the weight)."""
    rate, _ = rolling(plane, state, up, down, 1.0)
    yaw = 0.02 * plane.mass.mass * G * plane.span * rate * plane.span / (2.0 * speed_of(state))
    return abs(yaw / _rudder_power(plane, state))


def _rudder_power(plane: Plane, state: Trim) -> float:
    """Yawing moment per rad of rudder, N m."""
    trimmed = moments(plane, state.x, state.command)[:, YAW].sum()
    return float(moments(plane, state.x, moved(state.command, "rudder", STEP))[:, YAW].sum() - trimmed) / STEP


def _differential(plane: Plane, state: Trim, mean: float) -> float | None:
    """Half of the travel up less the travel down (rad), their mean kept, at which a roll asks for no rudder; None: out of reach."""

    def asked(half: float) -> float:
        return rudder_asked(plane, state, mean + half, mean - half)

    low, high = -LIMIT * mean, LIMIT * mean
    if asked(low) * asked(high) > 0.0:
        return None
    return float(brentq(asked, low, high, xtol=1e-5))


def _causes(cure: Cure, plane: Plane, name: str, state: Trim, pair: tuple[float, float]) -> None:
    """Yaw by part in the steady roll to the right, against straight flight, less what both sides have in common."""
    right, left = (rolling(plane, state, *pair, side)[1] for side in (1.0, -1.0))
    parts = changes_by_part(0.5 * left, 0.5 * right, YAW)
    cure.causes = [Cause(f"{name}, full right roll", part, m, "with the roll", "against the roll") for part, m in parts]


def _price(cure: Cure, plane: Plane, level: Trim, pairs: list, rolls: tuple[str, str]) -> None:
    rates = tuple(abs(rolling(plane, level, *pair, 1.0)[0]) * DEG for pair in pairs)
    cure.price.append(Row(f"level, {FAST:.0f} m/s: steady roll rate, full aileron", "deg/s", rates))
    still = moments(plane, level.x, level.command)[:, 4].sum()
    pitch = tuple(float(rolling(plane, level, *pair, 1.0)[1][:, 4].sum() - still) for pair in pairs)
    inertia = plane.mass.inertia[1, 1]
    pitched = tuple(m / inertia * DEG for m in pitch)
    cure.price.append(Row("the same: pitch at once", "deg/s2", pitched, "toward the canopy", "toward the gear"))
    try:
        inverted = straight(plane, level, FAST, 0.0, math.pi)
    except NoTrim as stop:
        cure.notes.append(f"inverted: {stop}")
        return
    asked = tuple(rudder_asked(plane, inverted, *pair) * DEG for pair in pairs)
    # inverted, the same stick rolls the same way, and the differential stands the wrong way round
    cure.price.append(Row(f"inverted, {speed_of(inverted):.0f} m/s: rudder a roll asks for", "deg", asked, *rolls))
