"""From sticks to surface commands: rates, exponential, mixes, end points, trims, flight modes, and the link's steps.

Sticks are aileron, elevator, rudder (-1..1; positive rolls right, pulls, yaws right)
and throttle (0..1).  In this order, for each control:

1. the stick as it is read, in steps (`Link.steps`);
2. exponential, cubic: y = (1 - e) s + e s^3, slope 1 - e at the centre and 1 + 2 e at the end, full throw kept
   (common practice, no source); then the rate's share of full throw;
3. mixes, which take their sources after 2, as shares of the target's full throw.  "Flaps" move both ailerons down;
4. for each aileron, roll (less by the differential where it drops) and flaps together; then no further than full
   throw, or as far as an end point lets it where there is one; then the throw of the side it stands on;
5. trims, in rad; then the end points, which stop trims as well;
6. what is sent, in steps of the control's whole travel; `sim.flight` delays it.

The chain is one flat array: the block that acts, then one block for each flight mode (`select` copies).
"""

from __future__ import annotations

import math

import numpy as np

from sim import layout as L
from sim.compiled import kernel
from sim.description import Link, Mix, Mode, Rate, Setup

STICKS = ("aileron", "elevator", "rudder", "throttle")
TARGETS = ("aileron", "elevator", "rudder", "flaps")
AILERON_STICK, ELEVATOR_STICK, RUDDER_STICK, THROTTLE_STICK = range(4)
FLAPS = 3
RATES = ("high", "middle", "low")
NORMAL = "normal"  # the mode that is the setup as it stands
MIDDLE_RATES, LOW_RATES = 0.8, 0.6  # share of full throw unless the setup says (common practice, no source)
CURVE_POINTS = 17  # of the throttle
BENT_POINTS, MOST_BENT = 9, 20  # mixes that are not straight
FAR = 1.0e3  # rad or shares: no limit
# layout of a block
THROW_POSITIVE, THROW_NEGATIVE, EXPONENTIAL, SHARE = 0, 3, 6, 9  # the last two at the rates that are switched on
TRIM = 12  # rad in the stick's sense; flaps down positive
MIX = 16  # straight gains, sources in rows, targets in columns
CURVE_COUNT = 32
CURVE = 33
LIMIT_POSITIVE, LIMIT_NEGATIVE = CURVE + CURVE_POINTS, CURVE + CURVE_POINTS + 3  # shares of the throw, before trims
STOP_POSITIVE, STOP_NEGATIVE = LIMIT_POSITIVE + 6, LIMIT_POSITIVE + 9  # end points, rad, trims included
DIFFERENTIAL = STOP_NEGATIVE + 3
RATE_SHARE, RATE_EXPONENTIAL = DIFFERENTIAL + 1, DIFFERENTIAL + 10  # rates in rows, controls in columns
SWITCH_TIME = RATE_EXPONENTIAL + 9
MODE, RATE = SWITCH_TIME + 1, SWITCH_TIME + 2  # which mode acts, and which rate on each control
LATENCY, PERIOD, STICK_STEP, THROTTLE_STEP, STEP = (RATE + 3 + i for i in range(5))  # s; a step of each command last
BENT_COUNT = STEP + L.COMMAND
BENT = BENT_COUNT + 1  # source, target, points, then the points' sources, then what they add
BENT_SIZE = 3 + 2 * BENT_POINTS
SIZE = BENT + MOST_BENT * BENT_SIZE
LINK_FRAMES = 32  # longest latency that fits, in frames of flight


def modes_of(setup: Setup) -> tuple[str, ...]:
    """The names of the flight modes, the setup as it stands first."""
    return (NORMAL, *(mode.name for mode in setup.modes))


def transmitter_chain(setup: Setup) -> np.ndarray:
    """The chain of `setup`, shape (SIZE (2 + modes),): normal mode and high rates act; trims are the setup's own."""
    modes = (Mode(NORMAL), *setup.modes)
    chain = np.zeros(SIZE * (1 + len(modes)))
    for index, mode in enumerate(modes):
        _fill(setup, mode, chain[SIZE * (1 + index) : SIZE * (2 + index)])
    select(chain, 0, 0.0, 0.0, 0.0)
    return chain


def own_trims(setup: Setup, mode: int) -> np.ndarray:
    """What setup and mode add to the trims of level flight, rad, shape (4,)."""
    more = setup.modes[mode - 1].trims if mode else {}
    return np.array([setup.trims.get(name, 0.0) + more.get(name, 0.0) for name in TARGETS])


def rate_of(setup: Setup, rate: str, control: str, mode: Mode | None = None) -> tuple[float, float]:
    """Share of full throw and exponential of `control` on the `rate`: the mode's, the setup's, or the usual ones."""
    own = setup.rates.get(rate, {}).get(control, Rate())
    more = mode.rates.get(rate, {}).get(control, Rate()) if mode else Rate()
    usual = {"high": 1.0, "middle": MIDDLE_RATES, "low": setup.low_rates.get(control, LOW_RATES)}[rate]
    share = next(s for s in (more.share, own.share, usual) if s is not None)
    exponential = next(
        e for e in (more.exponential, own.exponential, setup.throws[control].exponential) if e is not None
    )
    return share, exponential


def _fill(setup: Setup, mode: Mode, block: np.ndarray) -> None:
    block[TRIM : TRIM + 4] = own_trims(setup, modes_of(setup).index(mode.name))
    block[STOP_POSITIVE : STOP_POSITIVE + 6] = FAR
    block[LIMIT_POSITIVE : LIMIT_POSITIVE + 6] = 1.0
    widest = np.zeros(3)
    for axis, name in enumerate(STICKS[:3]):
        throw = setup.throws[name]
        block[THROW_POSITIVE + axis], block[THROW_NEGATIVE + axis] = throw.positive, throw.negative
        widest[axis] = max(throw.positive, throw.negative)
        if name in setup.end_points:
            stops = setup.end_points[name]
            block[STOP_POSITIVE + axis], block[STOP_NEGATIVE + axis] = stops
            block[LIMIT_POSITIVE + axis] = block[LIMIT_NEGATIVE + axis] = FAR
            widest[axis] = max(widest[axis], *stops)
        for n, rate in enumerate(RATES):
            share, exponential = rate_of(setup, rate, name, mode)
            # the way round that low rates have always been reckoned, to the last bit
            block[RATE_SHARE + 3 * n + axis] = 1.0 - (1.0 - share)
            block[RATE_EXPONENTIAL + 3 * n + axis] = exponential
    block[DIFFERENTIAL] = setup.differential
    block[SWITCH_TIME] = mode.switch_time
    for mix in setup.mixes if mode.mixes is None else mode.mixes:
        _put(mix, block)
    curve = mode.throttle_curve or setup.throttle_curve
    block[CURVE_COUNT] = len(curve)
    block[CURVE : CURVE + len(curve)] = curve
    link = setup.link or Link(0.0, 0.0, 0)
    block[LATENCY], block[PERIOD] = link.latency, link.period
    if link.steps:
        block[STICK_STEP], block[THROTTLE_STEP] = 2.0 / link.steps, 1.0 / link.steps
        block[STEP + L.AILERON_LEFT] = block[STEP + L.AILERON_RIGHT] = 2.0 * widest[0] / link.steps
        block[STEP + L.ELEVATOR], block[STEP + L.RUDDER] = 2.0 * widest[1:] / link.steps
        block[STEP + L.THROTTLE] = 1.0 / link.steps


def _put(mix: Mix, block: np.ndarray) -> None:
    source, target = STICKS.index(mix.source), TARGETS.index(mix.target)
    if not mix.points:
        block[MIX + 4 * source + target] += mix.gain
        return
    at = BENT + BENT_SIZE * int(block[BENT_COUNT])
    block[BENT_COUNT] += 1
    xs, ys = zip(*mix.points)
    block[at : at + 3] = source, target, len(xs)
    block[at + 3 : at + 3 + len(xs)] = xs
    block[at + 3 + BENT_POINTS : at + 3 + BENT_POINTS + len(ys)] = ys


@kernel
def select(chain, mode, aileron_rate, elevator_rate, rudder_rate):
    """Make one flight mode and one rate (0 high, 1 middle, 2 low) on each control those that act."""
    at = SIZE * (1 + int(mode))
    for i in range(SIZE):
        chain[i] = chain[at + i]
    chain[MODE] = mode
    chain[RATE], chain[RATE + 1], chain[RATE + 2] = aileron_rate, elevator_rate, rudder_rate
    for axis in range(3):
        row = 3 * int(chain[RATE + axis])
        chain[SHARE + axis] = chain[RATE_SHARE + row + axis]
        chain[EXPONENTIAL + axis] = chain[RATE_EXPONENTIAL + row + axis]


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
def _bent(source, chain, at):
    """What a mix of points adds, its block beginning `at`; beyond its ends it stays."""
    n = int(chain[at + 2])
    x, y = at + 3, at + 3 + BENT_POINTS
    if source <= chain[x]:
        return chain[y]
    for k in range(1, n):
        if source < chain[x + k]:
            share = (source - chain[x + k - 1]) / (chain[x + k] - chain[x + k - 1])
            return chain[y + k - 1] + share * (chain[y + k] - chain[y + k - 1])
    return chain[y + n - 1]


@kernel
def mixed(a, e, r, t, chain):
    """The effects on aileron, elevator, rudder and flaps, mixes included, of three own effects and the throttle stick."""
    effect_a = a + t * chain[MIX + 12] + r * chain[MIX + 8] + e * chain[MIX + 4] + a * chain[MIX]
    effect_e = e + t * chain[MIX + 13] + r * chain[MIX + 9] + a * chain[MIX + 1] + e * chain[MIX + 5]
    effect_r = r + t * chain[MIX + 14] + a * chain[MIX + 2] + e * chain[MIX + 6] + r * chain[MIX + 10]
    flaps = t * chain[MIX + 15] + r * chain[MIX + 11] + e * chain[MIX + 7] + a * chain[MIX + 3]
    for k in range(int(chain[BENT_COUNT])):
        at = BENT + BENT_SIZE * k
        source, target = chain[at], chain[at + 1]
        more = _bent(a if source == 0.0 else e if source == 1.0 else r if source == 2.0 else t, chain, at)
        effect_a += more if target == 0.0 else 0.0
        effect_e += more if target == 1.0 else 0.0
        effect_r += more if target == 2.0 else 0.0
        flaps += more if target == 3.0 else 0.0
    return effect_a, effect_e, effect_r, flaps


@kernel
def _within(share, axis, chain):
    """A control's share of its throws, no further than throw or end point lets it."""
    return min(chain[LIMIT_POSITIVE + axis], max(-chain[LIMIT_NEGATIVE + axis], share))


@kernel
def _stopped(angle, axis, chain):
    """A deflection (rad, trims included) within the end points; up and positive stick are negative."""
    return min(chain[STOP_NEGATIVE + axis], max(-chain[STOP_POSITIVE + axis], angle))


@kernel
def _in_steps(value, step):
    return math.floor(value / step + 0.5) * step if step > 0.0 else value


@kernel
def read_sticks(sticks, chain, seen):
    """Fill `seen` (4,) with the sticks as the transmitter reads them, in steps."""
    for i in range(3):
        seen[i] = _in_steps(sticks[i], chain[STICK_STEP])
    seen[3] = _in_steps(sticks[3], chain[THROTTLE_STEP])


@kernel
def transmit(sticks, chain, command):
    """Fill `command` (four surfaces in rad, then throttle 0..1) from four sticks: what the transmitter wants to send."""
    a = min(1.0, max(-1.0, shaped(sticks[0], chain[EXPONENTIAL]))) * chain[SHARE]
    e = min(1.0, max(-1.0, shaped(sticks[1], chain[EXPONENTIAL + 1]))) * chain[SHARE + 1]
    r = min(1.0, max(-1.0, shaped(sticks[2], chain[EXPONENTIAL + 2]))) * chain[SHARE + 2]
    t = sticks[3]
    effect_a, effect_e, effect_r, flaps = mixed(a, e, r, t, chain)
    effect_e, effect_r = _within(effect_e, 1, chain), _within(effect_r, 2, chain)
    dropping = effect_a * (1.0 - max(0.0, chain[DIFFERENTIAL]))
    rising = effect_a * (1.0 + min(0.0, chain[DIFFERENTIAL]))
    left = -_within(-(dropping if effect_a >= 0.0 else rising) - flaps, 0, chain)
    right = -_within((rising if effect_a >= 0.0 else dropping) - flaps, 0, chain)
    up, down = chain[THROW_POSITIVE], chain[THROW_NEGATIVE]
    trim, both = chain[TRIM], chain[TRIM + FLAPS]
    left = left * (down if left >= 0.0 else up) + trim
    right = right * (down if right >= 0.0 else up) - trim
    command[L.AILERON_LEFT] = _stopped(left + both, 0, chain)
    command[L.AILERON_RIGHT] = _stopped(right + both, 0, chain)
    command[L.ELEVATOR] = -effect_e * (chain[THROW_POSITIVE + 1] if effect_e >= 0.0 else chain[THROW_NEGATIVE + 1])
    command[L.RUDDER] = -effect_r * (chain[THROW_POSITIVE + 2] if effect_r >= 0.0 else chain[THROW_NEGATIVE + 2])
    command[L.ELEVATOR] = _stopped(command[L.ELEVATOR] - chain[TRIM + 1], 1, chain)
    command[L.RUDDER] = _stopped(command[L.RUDDER] - chain[TRIM + 2], 2, chain)
    n = int(chain[CURVE_COUNT])
    at = min(1.0, max(0.0, t)) * (n - 1)
    k = min(int(at), n - 2)
    command[L.THROTTLE] = chain[CURVE + k] + (at - k) * (chain[CURVE + k + 1] - chain[CURVE + k])


@kernel
def through_link(wanted, sent, frame, frame_time, chain, command):
    """Fill `command` with what reaches the servos in `frame`, when the transmitter wants to send `wanted`.

    `sent` (LINK_FRAMES, COMMAND) holds what was sent in the frames before, by frame modulo LINK_FRAMES.  A latency
    between two frames takes its share of both, which is exact in the mean over a frame.
    """
    slot, before = frame % LINK_FRAMES, (frame - 1) % LINK_FRAMES
    period = chain[PERIOD]
    fresh = period <= frame_time or math.floor(frame * frame_time / period + 1e-9) > math.floor(
        (frame - 1) * frame_time / period + 1e-9
    )
    for i in range(L.COMMAND):
        sent[slot, i] = _in_steps(wanted[i], chain[STEP + i]) if fresh else sent[before, i]
    late = chain[LATENCY] / frame_time
    whole = int(late + 1e-9)
    part = max(0.0, late - whole)
    now, older = (frame - whole) % LINK_FRAMES, (frame - whole - 1) % LINK_FRAMES
    for i in range(L.COMMAND):
        command[i] = sent[now, i] if part < 1e-9 else (1.0 - part) * sent[now, i] + part * sent[older, i]
