"""From sticks to surface commands: exponential, mixes, rates (throws), trims.

Sticks are aileron, elevator, rudder (-1..1; positive rolls right, pulls, yaws right)
and throttle (0..1).  Exponential is cubic, y = (1 - e) s + e s^3: slope 1 - e at the
centre, full throw kept (common practice, no source).
"""

from __future__ import annotations

import numpy as np

from sim import layout as L
from sim.compiled import kernel
from sim.description import Setup

STICKS = ("aileron", "elevator", "rudder", "throttle")
AILERON_STICK, ELEVATOR_STICK, RUDDER_STICK, THROTTLE_STICK = range(4)
CURVE_POINTS = 9
LOW_RATES = 0.6  # share of full throw on low rates, unless the setup says (common practice, no source)
# layout of the chain's parameters
THROW_POSITIVE, THROW_NEGATIVE, EXPONENTIAL, TRIM, MIX, CURVE_COUNT, CURVE = 0, 3, 6, 9, 12, 24, 25
LOW_RATE = CURVE + CURVE_POINTS  # share of the throw on low rates, three axes; then 1 when they are switched on
LOW_SWITCH = LOW_RATE + 3
SIZE = LOW_SWITCH + 1


def transmitter_chain(setup: Setup) -> np.ndarray:
    """The chain's parameters, shape (SIZE,), of `setup`; trims in rad in the stick's sense."""
    chain = np.zeros(SIZE)
    for axis, name in enumerate(STICKS[:3]):
        throw = setup.throws[name]
        chain[THROW_POSITIVE + axis] = throw.positive
        chain[THROW_NEGATIVE + axis] = throw.negative
        chain[EXPONENTIAL + axis] = throw.exponential
        chain[TRIM + axis] = setup.trims.get(name, 0.0)
        chain[LOW_RATE + axis] = setup.low_rates.get(name, LOW_RATES)
    for mix in setup.mixes:
        chain[MIX + 3 * STICKS.index(mix.source) + STICKS.index(mix.target)] += mix.gain
    chain[CURVE_COUNT] = len(setup.throttle_curve)
    chain[CURVE : CURVE + len(setup.throttle_curve)] = setup.throttle_curve
    return chain


@kernel
def shaped(stick, exponential):
    """A stick after its exponential."""
    return stick * (1.0 - exponential + exponential * stick * stick)


@kernel
def unshaped(effect, exponential):
    """The stick whose exponential gives `effect`, -1..1 (Newton's rule, within 1e-6)."""
    goal = min(1.0, max(-1.0, effect))
    s = goal
    if exponential > 0.0:
        s = goal if exponential < 0.5 else np.cbrt(goal)
        for _ in range(8):
            slope = 1.0 - exponential + 3.0 * exponential * s * s
            s -= (s * (1.0 - exponential + exponential * s * s) - goal) / max(slope, 0.05)
    return min(1.0, max(-1.0, s))


@kernel
def transmit(sticks, chain, command):
    """Fill `command` (four surfaces in rad, then throttle 0..1) from four sticks."""
    a = shaped(sticks[0], chain[EXPONENTIAL])
    e = shaped(sticks[1], chain[EXPONENTIAL + 1])
    r = shaped(sticks[2], chain[EXPONENTIAL + 2])
    t = sticks[3]
    effect_a = a + t * chain[MIX + 9] + r * chain[MIX + 6] + e * chain[MIX + 3] + a * chain[MIX]
    effect_e = e + t * chain[MIX + 10] + r * chain[MIX + 7] + a * chain[MIX + 1] + e * chain[MIX + 4]
    effect_r = r + t * chain[MIX + 11] + a * chain[MIX + 2] + e * chain[MIX + 5] + r * chain[MIX + 8]
    low = chain[LOW_SWITCH]
    effect_a = min(1.0, max(-1.0, effect_a)) * (1.0 - low * (1.0 - chain[LOW_RATE]))
    effect_e = min(1.0, max(-1.0, effect_e)) * (1.0 - low * (1.0 - chain[LOW_RATE + 1]))
    effect_r = min(1.0, max(-1.0, effect_r)) * (1.0 - low * (1.0 - chain[LOW_RATE + 2]))
    up, down = chain[THROW_POSITIVE], chain[THROW_NEGATIVE]  # the aileron that rises, the one that drops
    trim = chain[TRIM]
    if effect_a >= 0.0:
        command[L.AILERON_LEFT] = effect_a * down + trim
        command[L.AILERON_RIGHT] = -effect_a * up - trim
    else:
        command[L.AILERON_LEFT] = effect_a * up + trim
        command[L.AILERON_RIGHT] = -effect_a * down - trim
    command[L.ELEVATOR] = -effect_e * (chain[THROW_POSITIVE + 1] if effect_e >= 0.0 else chain[THROW_NEGATIVE + 1])
    command[L.ELEVATOR] -= chain[TRIM + 1]
    command[L.RUDDER] = -effect_r * (chain[THROW_POSITIVE + 2] if effect_r >= 0.0 else chain[THROW_NEGATIVE + 2])
    command[L.RUDDER] -= chain[TRIM + 2]
    n = int(chain[CURVE_COUNT])
    at = min(1.0, max(0.0, t)) * (n - 1)
    k = min(int(at), n - 2)
    command[L.THROTTLE] = chain[CURVE + k] + (at - k) * (chain[CURVE + k + 1] - chain[CURVE + k])
