"""Stalls and the way out of them: level, accelerated, in a turn, with aileron at the break.

The stall comes in the phase "pull", or "slow down", or "turn", whichever of them the manoeuvre has first in this order;
what follows it shows the nose and the wing drop.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import DEG, NotMeasured, from_to, furthest, measure, phase_index, window
from sim import layout as L
from sim.integration import FRAME
from sim.recording import STATE_AT

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

ENTRY = ("pull", "slow down", "turn")
AFTER = ("release", "released", "recover", "recovery")  # whose loads explain what follows the break
RECOVERY = ("recover", "recovery")
LEAST_LOAD = 0.5  # below it the plane is not carried by its wing
SEPARATED = 0.5  # separation point, 1 attached


def _stalled(flown: Flown) -> slice:
    """Frames of the phase in which the plane is stalled; checks that it did stall."""
    frames = window(flown, ENTRY)
    if flown.flight.channel("stalled")[frames].max() < 0.05:
        raise NotMeasured("sank without stalling: no part of the wing was separated")
    return frames


def _after(flown: Flown) -> slice:
    """Frames of the phase that follows the entry."""
    _stalled(flown)
    index = phase_index(flown, ENTRY) + 1
    if index == len(flown.manoeuvre.phases):
        raise NotMeasured("no phase follows the stall")
    return window(flown, index, least=0.05)


def _one_g_speed(flown: Flown, frames: slice) -> np.ndarray:
    """Airspeed over the root of the load factor in m/s; infinite where the wing does not carry the plane."""
    load, airspeed = flown.flight.channel("load z")[frames], flown.flight.channel("airspeed")[frames]
    return np.where(load > LEAST_LOAD, airspeed / np.sqrt(np.maximum(load, LEAST_LOAD)), np.inf)


def _break(flown: Flown) -> tuple[int, float]:
    """Frame and value of the least one-g speed while the stall is entered: the one-g stall."""
    frames = _stalled(flown)
    speed = _one_g_speed(flown, frames)
    if not np.isfinite(speed).any():
        raise NotMeasured("never carried half its weight while slowing down")
    least = int(np.argmin(speed))
    return frames.start + least, float(speed[least])


def _separation(flown: Flown, frames: slice) -> np.ndarray:
    """Separation points of the wing's strips, shape (frames, strips)."""
    wing = flown.plane.strips["wing"]
    return flown.flight.rows[frames, STATE_AT + L.SEPARATION : STATE_AT + L.SEPARATION + L.PAD][:, wing]


def _first_separated(flown: Flown) -> tuple[int, int]:
    """Frame and strip of the wing that separates first in the entry."""
    frames = _stalled(flown)
    separation = _separation(flown, frames)
    separated = (separation < SEPARATED).any(axis=1)
    if not separated.any():
        raise NotMeasured("no strip of the wing separated")
    first = int(np.argmax(separated))
    return frames.start + first, int(np.argmin(separation[first]))


@measure("m/s", "one-g stall speed: least airspeed over the root of the load factor", ENTRY, better="less",
         source="definition: 14 CFR 25.103 (from memory)")  # fmt: skip
def stall_speed(flown: Flown) -> float:
    return _break(flown)[1]


@measure("g", "load factor at the break, where the one-g stall speed is read", ENTRY,
         source="definition: 14 CFR 1.1, load factor (from memory)")  # fmt: skip
def stall_load(flown: Flown) -> float:
    return float(flown.flight.channel("load z")[_break(flown)[0]])


@measure("deg", "largest angle of attack of the stall", ENTRY, better=("", "", "more"))
def stall_alpha(flown: Flown) -> float:
    start, stop = _stalled(flown).start, _after(flown).stop
    return float(flown.flight.channel("alpha")[start:stop].max()) * DEG


@measure("% half-span", "place on the wing that separates first, from the root", ENTRY, better=("less", "", "less"))
def first_separation(flown: Flown) -> float:
    strip = _first_separated(flown)[1]
    y = flown.plane.model[L.Y + flown.plane.strips["wing"].start + strip] + flown.plane.mass.cg[1]
    return 100.0 * abs(float(y)) / (0.5 * flown.plane.span)


def _warned(flown: Flown) -> tuple[int, int]:
    """Frames of the first separation and of the break, the same one when nothing separates before the break."""
    at = _break(flown)[0]
    return min(_first_separated(flown)[0], at), at


@measure("m/s", "warning: one-g speed at the first separation on the wing less that at the break", ENTRY,
         better=("more", "", "more"))  # fmt: skip
def warning_speed(flown: Flown) -> float:
    first, at = _warned(flown)
    early = float(_one_g_speed(flown, slice(first, first + 1))[0])
    if not np.isfinite(early):
        raise NotMeasured("the wing carried less than half the weight at its first separation")
    return early - float(_one_g_speed(flown, slice(at, at + 1))[0])


@measure("deg", "warning: angle of attack at the break less that at the first separation on the wing", ENTRY,
         better=("more", "", "more"))  # fmt: skip
def warning_alpha(flown: Flown) -> float:
    first, at = _warned(flown)
    alpha = flown.flight.channel("alpha")
    return float(alpha[at] - alpha[first]) * DEG


@measure("deg", "how far the nose falls after the break", AFTER, better=("less", "", "less"))
def nose_drop(flown: Flown) -> float:
    start = _after(flown).start
    pitch = flown.flight.channel("pitch")
    return float(pitch[start] - pitch[start:].min()) * DEG


@measure("deg", "largest change of bank from the break to the end", AFTER, "right", "left", better="zero")
def wing_drop(flown: Flown) -> float:
    start = _after(flown).start
    bank = np.unwrap(flown.flight.channel("bank"))
    return furthest(bank[start:] - bank[start]) * DEG


@measure("m", "height lost from the one-g stall to level again", RECOVERY, better="less")
def height_lost(flown: Flown) -> float:
    _stalled(flown)
    from_to(flown, ENTRY, RECOVERY)
    height, start = flown.flight.channel("height"), _break(flown)[0]
    return float(height[start] - height[start:].min())


@measure("s", "from the end of the entry to level again", RECOVERY, better="less")
def recovery_time(flown: Flown) -> float:
    entry = _stalled(flown)
    return (from_to(flown, ENTRY, RECOVERY).stop - entry.stop) * FRAME
