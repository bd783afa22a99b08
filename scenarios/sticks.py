"""Where trims and sticks have to stand for given surfaces, mixes included: the transmitter's chain backwards.

It goes backwards through the rates and the flight mode that act (`switch_to`), within the limits of throws and end
points; `stopped_by` says which limit is in the way.  Steps and latency of the link are not looked at.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from models.errors import OptionError, Refused, nearest, quoted
from sim import layout as L
from sim.build import Plane
from sim.transmitter import (
    BENT_COUNT,
    CURVE,
    CURVE_COUNT,
    DIFFERENTIAL,
    EXPONENTIAL,
    FLAPS,
    MIX,
    MODE,
    RATE,
    RATES,
    SHARE,
    SIZE,
    STEP,
    STICK_STEP,
    STICKS,
    THROTTLE_STEP,
    THROW_NEGATIVE,
    THROW_POSITIVE,
    TRIM,
    mixed,
    modes_of,
    own_trims,
    select,
    transmit,
    unshaped,
)
from sim.trim import NoTrim, Trim

MOST_SHORT = math.radians(0.1)  # of a surface that the sticks cannot bring where it is wanted
LAPS = 60  # of Newton's rule over mixes that are not straight
UNDONE = "the setup's mixes undo one another: no place of the sticks gives the surfaces wanted"
SETTLED = 1e-5  # rad of flaps, between two laps


def surfaces(command: np.ndarray) -> np.ndarray:
    """Aileron (mean of both sides), elevator and rudder of a command, rad, shape (3,), with the signs of their sticks."""
    return np.array(
        [0.5 * (command[L.AILERON_LEFT] - command[L.AILERON_RIGHT]), -command[L.ELEVATOR], -command[L.RUDDER]]
    )


def both_down(command: np.ndarray) -> float:
    """How far both ailerons stand down together, rad."""
    return 0.5 * float(command[L.AILERON_LEFT] + command[L.AILERON_RIGHT])


def switch_to(plane: Plane, mode: str = "", rates: Sequence[str] = ("high",) * 3, option: str = "mode") -> None:
    """Switch the transmitter to a flight mode ("" the normal one) and a rate on each control.  Raises `OptionError`."""
    names = modes_of(plane.setup)
    select(plane.chain, mode_number(names, mode, option), *(float(RATES.index(rate)) for rate in rates))


def mode_number(names: Sequence[str], mode: str, option: str = "mode") -> float:
    """Which of the flight modes `names` is meant; "" is the normal one.  Raises `OptionError`."""
    if mode and mode not in names:
        near = " or ".join(nearest(mode, names))
        raise OptionError(option, Refused(quoted(mode), "a flight mode of the setup: " + ", ".join(names), near))
    return float(names.index(mode)) if mode else 0.0


def without_steps(plane: Plane) -> np.ndarray:
    """The chain as it acts, the steps of the link left out."""
    chain = plane.chain.copy()
    chain[STICK_STEP] = chain[THROTTLE_STEP] = 0.0
    chain[STEP : STEP + L.COMMAND] = 0.0
    return chain


def mix_gains(plane: Plane) -> np.ndarray:
    """Straight gains of each stick (rows: aileron, elevator, rudder, throttle) on each control (columns), shape (4, 3)."""
    return plane.chain[MIX : MIX + 16].reshape(4, 4)[:, :3]


def mixed_in(plane: Plane, own: Sequence[float], throttle: float) -> np.ndarray:
    """What mixes add to aileron, elevator, rudder and flaps, shares of full throw, shape (4,).

    `own` (3,) are the effects of the sticks themselves, after exponential and rate; `throttle` is the stick, 0..1.
    """
    a, e, r = own
    return np.array(mixed(float(a), float(e), float(r), float(throttle), plane.chain)) - np.array([a, e, r, 0.0])


def mixed_by(plane: Plane, source: str, at: float) -> np.ndarray:
    """What mixes add, as `mixed_in`, when one stick alone stands at `at` (after exponential and rate)."""
    sticks = np.zeros(4)
    sticks[STICKS.index(source)] = at
    return mixed_in(plane, sticks[:3], sticks[3])


def set_trims(plane: Plane, level: Trim) -> None:
    """Set the trims of level flight, the sticks centred and the throttle where it is: what it mixes in is trimmed out.

    All flight modes share them; a mode's own are added.
    """
    mixed_away = shown(plane, np.zeros(3), plane.throttle_for_duty(level.duty))
    off = surfaces(level.command) - mixed_away
    for block in range(plane.chain.size // SIZE):
        mode = int(plane.chain[MODE]) if block == 0 else block - 1
        trims = own_trims(plane.setup, mode)
        trims[:3] = off + trims[:3]
        plane.chain[SIZE * block + TRIM : SIZE * block + TRIM + 4] = trims


def effects_for(plane: Plane, trim: Trim) -> np.ndarray:
    """Share of full throw, shape (3,), that each control shows beyond its trim in `trim`, in the stick's sense."""
    off = surfaces(trim.command) - plane.chain[TRIM : TRIM + 3]
    return np.array([o / throw(plane, axis, o) if abs(o) > 1e-12 else 0.0 for axis, o in enumerate(off)])


def beyond_throttle(plane: Plane, trim: Trim) -> np.ndarray:
    """Share of full throw, shape (3,), that has to come from the three sticks, by themselves or by their mixes."""
    return effects_for(plane, trim) - mixed_in(plane, (0.0, 0.0, 0.0), plane.throttle_for_duty(trim.duty))[:3]


def own_effects(plane: Plane, trim: Trim) -> np.ndarray:
    """What of `effects_for` the sticks themselves give (after exponential and rate), shape (3,); the rest is mixed in.

    Raises NoTrim when the mixes give no such place.
    """
    straight = np.eye(3) + mix_gains(plane)[:3].T
    try:
        own = np.linalg.solve(straight, beyond_throttle(plane, trim))
        if plane.chain[BENT_COUNT] or moves_flaps(plane):
            own = _refined(plane, own, trim)
    except np.linalg.LinAlgError:
        raise NoTrim(UNDONE) from None
    return own


def shown(plane: Plane, own: np.ndarray, throttle: float) -> np.ndarray:
    """Where own effects (3,) and the throttle stick bring the controls beyond their trims, as in `surfaces`, unlimited."""
    a, e, r, flaps = mixed(float(own[0]), float(own[1]), float(own[2]), float(throttle), plane.chain)
    aileron = angle(plane, 0, a)
    if flaps:  # each side has its own throw up and down
        travel, uneven = plane.setup.throws["aileron"], float(plane.chain[DIFFERENTIAL])
        dropping, rising = a * (1.0 - max(0.0, uneven)), a * (1.0 + min(0.0, uneven))
        left, right = (dropping + flaps, flaps - rising) if a >= 0.0 else (rising + flaps, flaps - dropping)
        left, right = (side * (travel.negative if side >= 0.0 else travel.positive) for side in (left, right))
        aileron = 0.5 * (left - right)
    return np.array([aileron, angle(plane, 1, e), angle(plane, 2, r)])


def _refined(plane: Plane, own: np.ndarray, trim: Trim) -> np.ndarray:
    """Newton's rule over what is not straight, exact once all sticks stand on the right pieces."""
    wanted, throttle = surfaces(trim.command) - plane.chain[TRIM : TRIM + 3], plane.throttle_for_duty(trim.duty)

    def left(at: np.ndarray) -> np.ndarray:
        return wanted - shown(plane, at, throttle)

    step, short = 1e-7, left(own)
    for _ in range(LAPS):
        if np.abs(short).max() < 1e-11:
            return own
        slopes = np.array([(short - left(own + step * unit)) / step for unit in np.eye(3)]).T
        move, share = np.linalg.solve(slopes, short), 1.0
        while share > 0.05 and np.abs(left(own + share * move)).max() >= np.abs(short).max():
            share *= 0.5
        own = own + share * move
        short = left(own)
    if np.abs(short).max() > 1e-7:
        raise NoTrim(UNDONE)
    return own


def sticks_for(plane: Plane, trim: Trim) -> np.ndarray:
    """Where the sticks stand, shape (4,), to hold the surfaces of `trim` on the trims that are set, through all mixes."""
    chain = plane.chain
    own = [
        unshaped(e / chain[SHARE + axis], chain[EXPONENTIAL + axis]) if abs(e) > 1e-12 else 0.0
        for axis, e in enumerate(own_effects(plane, trim))
    ]
    return np.r_[own, plane.throttle_for_duty(trim.duty)]


def stopped_by(plane: Plane, trim: Trim) -> str:
    """What keeps the sticks from bringing the surfaces where `trim` has them; "" when they do, within 0.1 deg."""
    sticks, command = sticks_for(plane, trim), np.zeros(L.COMMAND)
    transmit(sticks, without_steps(plane), command)
    words = []
    for axis, (has, needs) in enumerate(zip(surfaces(command), surfaces(trim.command))):
        if abs(has - needs) > MOST_SHORT:
            name, rate = STICKS[axis], RATES[int(plane.chain[RATE + axis])]
            why = f"full stick on {rate} rates" if abs(sticks[axis]) >= 1.0 else "its throw or end point"
            words.append(f"{math.degrees(abs(needs)):.1f} deg of {name}, {math.degrees(abs(has)):.1f} is {why}")
    low, high = plane.chain[CURVE], plane.chain[CURVE + int(plane.chain[CURVE_COUNT]) - 1]
    if not low - 1e-3 <= trim.duty <= high + 1e-3:
        words.append(
            f"{100 * trim.duty:.0f} % throttle, and the throttle curve gives {100 * low:.0f} to {100 * high:.0f} %"
        )
    return "; ".join(words)


def with_flaps(plane: Plane, find: Callable[[Plane], Trim], at_trim: bool) -> Trim:
    """The steady state that `find` gives for a plane whose ailerons stand as the transmitter sends them.

    `at_trim`: the trims are set for that state.  Else they are set already, and the sticks hold it.  Mixes to the
    flaps move both ailerons with stick and throttle, so that the state is looked for again until nothing moves.
    """
    if not moves_flaps(plane):
        return find(plane)
    for _ in range(20):
        state = find(plane)
        if at_trim:
            set_trims(plane, state)
        command = np.zeros(L.COMMAND)
        transmit(sticks_for(plane, state), without_steps(plane), command)
        moved = both_down(command) - plane.flaps
        if abs(moved) < SETTLED:
            return state
        plane = replace(plane, flaps=plane.flaps + moved)
    raise NoTrim("no steady state found with the setup's mixes to the flaps")


def moves_flaps(plane: Plane) -> bool:
    """Whether anything moves both ailerons together: a trim, or a mix (straight or not)."""
    block = plane.chain[:SIZE]
    bent = any(mix.target == "flaps" for mix in plane.setup.mixes) or any(
        mix.target == "flaps" for mode in plane.setup.modes for mix in mode.mixes or ()
    )
    return bool(block[TRIM + FLAPS]) or bent


def angle(plane: Plane, axis: int, share: float) -> float:
    """What a share of full throw is in rad at the surface."""
    return share * throw(plane, axis, share)


def throw(plane: Plane, axis: int, effect: float) -> float:
    """Full throw in rad, as commands count, on the side of `effect`; of the ailerons, the mean of up and down,
    differential included."""
    positive, negative = float(plane.chain[THROW_POSITIVE + axis]), float(plane.chain[THROW_NEGATIVE + axis])
    if axis == 0:
        uneven = float(plane.chain[DIFFERENTIAL])
        return 0.5 * (positive * (1.0 + min(0.0, uneven)) + negative * (1.0 - max(0.0, uneven)))
    return positive if effect >= 0.0 else negative
