"""The stall and the way out of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import DEG, NotMeasured, measure, window
from sim import layout as L
from sim.integration import FRAME
from sim.recording import STATE_AT

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown


def _stalled(flown: Flown) -> slice:
    """Frames from the start of the slow-down to the end; checks that the plane did slow down to its stall."""
    frames = window(flown, "slow down")
    if flown.flight.channel("stalled")[frames].max() < 0.05:
        raise NotMeasured("sank without stalling: no part of the wing was separated")
    return frames


def _later(flown: Flown, first: str, second: str) -> slice:
    """Frames of the phase `second`.  Raises NotMeasured unless it comes after `first`."""
    frames = window(flown, second, least=0.05)
    if frames.start < window(flown, first).stop:
        raise NotMeasured(f'"{second}" does not come after "{first}"')
    return frames


def _break(flown: Flown) -> tuple[int, float]:
    """Frame and value of the least airspeed over the root of the load factor in the slow-down: the one-g stall."""
    frames = _stalled(flown)
    load, airspeed = flown.flight.channel("load z")[frames], flown.flight.channel("airspeed")[frames]
    speed = np.where(load > 0.5, airspeed / np.sqrt(np.maximum(load, 0.5)), np.inf)
    if not np.isfinite(speed).any():
        raise NotMeasured("never carried half its weight while slowing down")
    least = int(np.argmin(speed))
    return frames.start + least, float(speed[least])


@measure("m/s", "one-g stall speed: least airspeed over the root of the load factor", "slow down")
def stall_speed(flown: Flown) -> float:
    # the stall speed of the airworthiness code for large aeroplanes, 14 CFR 25.103 (from memory)
    return _break(flown)[1]


@measure("deg", "largest angle of attack of the stall", "slow down")
def stall_alpha(flown: Flown) -> float:
    start, stop = _stalled(flown).start, _later(flown, "slow down", "released").stop
    return float(flown.flight.channel("alpha")[start:stop].max()) * DEG


@measure("% half-span", "place on the wing that separates first, from the root", "slow down")
def first_separation(flown: Flown) -> float:
    frames = _stalled(flown)
    wing = flown.plane.strips["wing"]
    separation = flown.flight.rows[frames, STATE_AT + L.SEPARATION :][:, : L.PAD][:, wing]
    first = int(np.argmax((separation < 0.5).any(axis=1)))
    strip = int(np.argmin(separation[first]))
    y = flown.plane.model[L.Y + wing.start + strip] + flown.plane.mass.cg[1]
    return 100.0 * abs(float(y)) / (0.5 * flown.plane.span)


@measure("deg", "how far the nose falls after the release", "released")
def nose_drop(flown: Flown) -> float:
    _stalled(flown)
    pitch = flown.flight.channel("pitch")
    start = window(flown, "released").start
    return float(pitch[start] - pitch[start:].min()) * DEG


@measure("deg", "largest change of bank from the break to the end", "released", "right", "left")
def wing_drop(flown: Flown) -> float:
    _stalled(flown)
    bank = np.unwrap(flown.flight.channel("bank"))
    start = window(flown, "released").start
    change = bank[start:] - bank[start]
    return float(change[np.argmax(np.abs(change))]) * DEG


@measure("m", "height lost from the one-g stall to level again", "recovery")
def height_lost(flown: Flown) -> float:
    window(flown, "recovery", least=0.05)
    height, start = flown.flight.channel("height"), _break(flown)[0]
    return float(height[start] - height[start:].min())


@measure("s", "from the release to level again", "recovery")
def recovery_time(flown: Flown) -> float:
    _stalled(flown)
    frames = _later(flown, "released", "recovery")
    return (frames.stop - window(flown, "released").start) * FRAME
