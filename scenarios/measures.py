"""The numbers a pilot recognises, each computed from the record of a flight in one place.

A measure that could not be taken raises `NotMeasured` with the reason; there is no
silent number.  Signs: pitch positive toward the canopy, elevator positive up, roll and
yaw positive right.  Definitions are common practice, no source, unless one is named.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim import layout as L
from sim.integration import FRAME
from sim.recording import STATE_AT
from sim.trim import static_thrust_ratio

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

DEG = 180.0 / math.pi


class NotMeasured(Exception):
    """Why a measure could not be taken."""


@dataclass(frozen=True)
class Measure:
    """`name`, `unit` of the number, `about` its definition, `meaning` of its sign ("positive", "negative"),
    `phase` whose loads explain it, and `take`, which computes it."""

    name: str
    unit: str
    about: str
    take: Callable[[Flown], float]
    phase: str = ""
    positive: str = ""
    negative: str = ""


MEASURES: dict[str, Measure] = {}


def _measure(unit: str, about: str, phase: str = "", positive: str = "", negative: str = ""):
    def register(take):
        MEASURES[take.__name__] = Measure(take.__name__, unit, about, take, phase, positive, negative)
        return take

    return register


def window(flown: Flown, phase: str, last: float = 0.0, least: float = 0.2) -> slice:
    """Frames of `phase` (its `last` seconds, 0: all).  Raises NotMeasured when it was not flown to its end."""
    index = flown.phase(phase)
    if index < 0:
        raise NotMeasured(f'the manoeuvre has no phase "{phase}"')
    frames = flown.flight.frames_of(index)
    if frames.stop - frames.start == 0 or (flown.flight.ending != "completed" and flown.flight.phase <= index):
        where = flown.manoeuvre.phases[flown.flight.phase].name
        raise NotMeasured(f'{flown.flight.ending} in "{where}", before the end of "{phase}"')
    if last:
        frames = slice(max(frames.start, frames.stop - int(round(last / FRAME))), frames.stop)
    if (frames.stop - frames.start) * FRAME < least:
        raise NotMeasured(f'"{phase}" was too short')
    return frames


def _mean(flown: Flown, channel: str, frames: slice) -> float:
    return float(flown.flight.channel(channel)[frames].mean())


def _turned(flown: Flown, rate: str, frames: slice) -> float:
    return float(flown.flight.channel(rate)[frames].sum() * FRAME)


def _drift(flown: Flown, channel: str, frames: slice) -> float:
    angle = np.unwrap(flown.flight.channel(channel)[frames])
    return float((angle[-1] - angle[0]) / ((len(angle) - 1) * FRAME))


# ---- level flight ---------------------------------------------------------------------------------


@_measure("deg", "elevator that level flight needs", positive="up", negative="down")
def elevator_trim(flown: Flown) -> float:
    return -flown.level.elevator * DEG


@_measure("%", "throttle stick that level flight needs")
def throttle_trim(flown: Flown) -> float:
    return 100.0 * flown.plane.throttle_for_duty(flown.level.duty)


@_measure("deg", "angle of attack in level flight")
def alpha_trim(flown: Flown) -> float:
    return math.atan2(flown.level.x[L.VELOCITY + 2], flown.level.x[L.VELOCITY]) * DEG


@_measure("m", "height gained hands-off", "hands off")
def height_drift(flown: Flown) -> float:
    height = flown.flight.channel("height")[window(flown, "hands off")]
    return float(height[-1] - height[0])


@_measure("deg", "bank gained hands-off", "hands off", "right", "left")
def bank_drift(flown: Flown) -> float:
    bank = np.unwrap(flown.flight.channel("bank")[window(flown, "hands off")])
    return float(bank[-1] - bank[0]) * DEG


@_measure("deg/s per deg", "pitch rate 0.5 s after a small pull, per degree of elevator", "small pull")
def pitch_response(flown: Flown) -> float:
    frames = window(flown, "small pull", least=0.55)
    at = frames.start + int(round(0.5 / FRAME))
    moved = flown.flight.channel("elevator")[frames.start] - flown.flight.channel("elevator")[at]
    if abs(moved) < math.radians(0.02):
        raise NotMeasured("the small pull hardly moved the elevator")
    rate = flown.flight.channel("pitch rate")
    return float((rate[at] - rate[frames.start]) / moved)


# ---- 45-degree lines ------------------------------------------------------------------------------------


def _set_line(flown: Flown) -> None:
    frames = window(flown, "set the line", 0.5)
    path = _mean(flown, "path angle", frames) * DEG
    if abs(path - 45.0) > 5.0:
        raise NotMeasured(f"the line was not set: path at {path:.0f} deg instead of 45")
    rate = abs(_mean(flown, "pitch rate", frames)) * DEG
    if rate > 3.0:
        raise NotMeasured(f"the line was not steady: still turning at {rate:.0f} deg/s")


@_measure(
    "deg/s", "body pitch rate hands-off on the line, mean of 3 s", "hands off", "toward the canopy", "toward the gear"
)
def pitch_drift(flown: Flown) -> float:
    _set_line(flown)
    return _mean(flown, "pitch rate", window(flown, "hands off")) * DEG


@_measure(
    "g",
    "curvature of the path hands-off, as acceleration across it",
    "hands off",
    "toward the canopy",
    "toward the gear",
)
def path_curvature(flown: Flown) -> float:
    _set_line(flown)
    frames = window(flown, "hands off")
    weightless = np.cos(flown.flight.channel("pitch")[frames]) * np.cos(flown.flight.channel("bank")[frames])
    return float((flown.flight.channel("load z")[frames] - weightless).mean())


@_measure("deg/s", "roll rate hands-off on the line, mean of 3 s", "hands off", "right", "left")
def roll_drift(flown: Flown) -> float:
    _set_line(flown)
    return _mean(flown, "roll rate", window(flown, "hands off")) * DEG


@_measure("deg/s", "turn of the track hands-off on the line", "hands off", "right", "left")
def heading_drift(flown: Flown) -> float:
    _set_line(flown)
    return _drift(flown, "track", window(flown, "hands off")) * DEG


@_measure("m/s", "airspeed when the sticks are let go", "set the line")
def line_speed(flown: Flown) -> float:
    return _mean(flown, "airspeed", window(flown, "set the line", 0.2, 0.1))


@_measure("deg", "elevator that held the line, less level trim", "set the line", "up", "down")
def line_elevator(flown: Flown) -> float:
    _set_line(flown)
    held = _mean(flown, "elevator", window(flown, "set the line", 0.5))
    return -(held - flown.level.elevator) * DEG


# ---- knife edge -----------------------------------------------------------------------------------------------


def _held_knife_edge(flown: Flown, phase: str = "held") -> slice:
    frames = window(flown, phase, 1.5)
    bank = _mean(flown, "bank", frames) * DEG
    if abs(abs(bank) - 90.0) > 12.0:
        raise NotMeasured(f'knife edge not held: bank {bank:.0f} deg at the end of "{phase}"')
    climb = _mean(flown, "climb rate", frames)
    if abs(climb) > 2.5:
        raise NotMeasured(f"knife edge not held: {'climbing' if climb > 0 else 'sinking'} at {abs(climb):.1f} m/s")
    turning = abs(_mean(flown, "pitch rate", frames)) * DEG
    if turning > 4.0:
        raise NotMeasured(f"knife edge not held: still pitching at {turning:.0f} deg/s")
    return frames


@_measure("deg", "elevator that holds knife edge, less level trim", "held", "up", "down")
def elevator_to_hold(flown: Flown) -> float:
    return -(_mean(flown, "elevator", _held_knife_edge(flown)) - flown.level.elevator) * DEG


@_measure("deg", "body pitch 2 s after letting go of the elevator in knife edge", "elevator let go",
          "toward the canopy", "toward the gear")  # fmt: skip
def pitch_coupling(flown: Flown) -> float:
    _held_knife_edge(flown)
    frames = window(flown, "elevator let go")
    return _turned(flown, "pitch rate", frames) * DEG


@_measure("deg", "angle of attack at the end of letting go of the elevator", "elevator let go")
def alpha_after(flown: Flown) -> float:
    _held_knife_edge(flown)
    return _mean(flown, "alpha", window(flown, "elevator let go", 0.2, 0.1)) * DEG


@_measure("deg", "roll 1 s after letting go of the ailerons in knife edge", "ailerons let go",
          "right wing down", "left wing down")  # fmt: skip
def roll_coupling(flown: Flown) -> float:
    _held_knife_edge(flown, "held again")
    return _turned(flown, "roll rate", window(flown, "ailerons let go")) * DEG


@_measure("deg", "rudder that holds knife edge, less level trim", "held", "left", "right")
def rudder_to_hold(flown: Flown) -> float:
    frames = _held_knife_edge(flown)
    return (_mean(flown, "rudder", frames) - flown.level.command[L.RUDDER]) * DEG


@_measure("%", "share of the rudder throw left over in knife edge", "held")
def rudder_left(flown: Flown) -> float:
    used = abs(_mean(flown, "rudder", _held_knife_edge(flown)))
    throw = flown.setup.throws["rudder"]
    return 100.0 * (1.0 - used / max(throw.positive, throw.negative))


@_measure("deg", "aileron that holds knife edge, less level trim", "held", "right", "left")
def aileron_to_hold(flown: Flown) -> float:
    frames = _held_knife_edge(flown)
    moved = _mean(flown, "left aileron", frames) - _mean(flown, "right aileron", frames)
    return (0.5 * moved - flown.level.command[L.AILERON_LEFT]) * DEG


@_measure("deg", "sideslip in held knife edge", "held", "wind from the right", "wind from the left")
def sideslip(flown: Flown) -> float:
    return _mean(flown, "beta", _held_knife_edge(flown)) * DEG


@_measure("m/s", "airspeed in held knife edge", "held")
def knife_edge_speed(flown: Flown) -> float:
    return _mean(flown, "airspeed", _held_knife_edge(flown))


@_measure("1/s", "stick movement while held: sum over three sticks of travel a second", "held")
def stick_work(flown: Flown) -> float:
    frames = window(flown, "held")
    work = 0.0
    for stick in ("aileron stick", "elevator stick", "rudder stick"):
        work += float(np.abs(np.diff(flown.flight.channel(stick)[frames])).sum())
    return work / ((frames.stop - frames.start) * FRAME)


# ---- stall ----------------------------------------------------------------------------------------------------------


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


@_measure("m/s", "one-g stall speed: least airspeed over the root of the load factor", "slow down")
def stall_speed(flown: Flown) -> float:
    # the stall speed of the airworthiness code for large aeroplanes, 14 CFR 25.103 (from memory)
    return _break(flown)[1]


@_measure("deg", "largest angle of attack of the stall", "slow down")
def stall_alpha(flown: Flown) -> float:
    start, stop = _stalled(flown).start, _later(flown, "slow down", "released").stop
    return float(flown.flight.channel("alpha")[start:stop].max()) * DEG


@_measure("% half-span", "place on the wing that separates first, from the root", "slow down")
def first_separation(flown: Flown) -> float:
    frames = _stalled(flown)
    wing = flown.plane.strips["wing"]
    separation = flown.flight.rows[frames, STATE_AT + L.SEPARATION :][:, : L.PAD][:, wing]
    first = int(np.argmax((separation < 0.5).any(axis=1)))
    strip = int(np.argmin(separation[first]))
    y = flown.plane.model[L.Y + wing.start + strip] + flown.plane.mass.cg[1]
    return 100.0 * abs(float(y)) / (0.5 * flown.plane.span)


@_measure("deg", "how far the nose falls after the release", "released")
def nose_drop(flown: Flown) -> float:
    _stalled(flown)
    pitch = flown.flight.channel("pitch")
    start = window(flown, "released").start
    return float(pitch[start] - pitch[start:].min()) * DEG


@_measure("deg", "largest change of bank from the break to the end", "released", "right", "left")
def wing_drop(flown: Flown) -> float:
    _stalled(flown)
    bank = np.unwrap(flown.flight.channel("bank"))
    start = window(flown, "released").start
    change = bank[start:] - bank[start]
    return float(change[np.argmax(np.abs(change))]) * DEG


@_measure("m", "height lost from the one-g stall to level again", "recovery")
def height_lost(flown: Flown) -> float:
    window(flown, "recovery", least=0.05)
    height, start = flown.flight.channel("height"), _break(flown)[0]
    return float(height[start] - height[start:].min())


@_measure("s", "from the release to level again", "recovery")
def recovery_time(flown: Flown) -> float:
    _stalled(flown)
    frames = _later(flown, "released", "recovery")
    return (frames.stop - window(flown, "released").start) * FRAME


# ---- hover ------------------------------------------------------------------------------------------------------------


def _held_hover(flown: Flown) -> slice:
    frames = window(flown, "held", 3.0)
    pitch = flown.flight.channel("pitch")[frames].min() * DEG
    if pitch < 60.0:
        raise NotMeasured(f"hover not held: nose down to {pitch:.0f} deg above the horizon")
    climb = np.abs(flown.flight.channel("climb rate")[frames]).max()
    if climb > 3.0:
        raise NotMeasured(f"hover not held: climbing or sinking at {climb:.1f} m/s")
    return frames


@_measure("%", "throttle stick that hovers, mean of 3 s", "held")
def hover_throttle(flown: Flown) -> float:
    return 100.0 * _mean(flown, "throttle", _held_hover(flown))


@_measure("", "static thrust at full throttle over weight", "held")
def thrust_over_weight(flown: Flown) -> float:
    return static_thrust_ratio(flown.plane)


@_measure("deg/s", "roll rate with the ailerons let go, mean of the last 3 s", "ailerons let go", "right", "left")
def torque_roll_rate(flown: Flown) -> float:
    _held_hover(flown)
    return _mean(flown, "roll rate", window(flown, "ailerons let go", 3.0)) * DEG


@_measure("deg", "aileron that holds the torque in the hover", "held", "right", "left")
def aileron_to_stop_roll(flown: Flown) -> float:
    frames = _held_hover(flown)
    rolling = abs(_mean(flown, "roll rate", frames)) * DEG
    if rolling > 8.0:
        raise NotMeasured(f"full aileron does not stop the torque roll ({rolling:.0f} deg/s)")
    return 0.5 * (_mean(flown, "left aileron", frames) - _mean(flown, "right aileron", frames)) * DEG


@_measure("m", "furthest from the start place while held", "held")
def hover_drift(flown: Flown) -> float:
    _held_hover(flown)
    frames = window(flown, "held")
    north, east = flown.flight.channel("north")[frames], flown.flight.channel("east")[frames]
    return float(np.hypot(north - north[0], east - east[0]).max())


@_measure("%", "share of the elevator throw not used while held", "held")
def elevator_left(flown: Flown) -> float:
    throw = flown.setup.throws["elevator"]
    used = np.abs(flown.flight.channel("elevator")[_held_hover(flown)]).max()
    return 100.0 * (1.0 - float(used) / max(throw.positive, throw.negative))


@_measure("%", "share of the rudder throw not used while held", "held")
def hover_rudder_left(flown: Flown) -> float:
    throw = flown.setup.throws["rudder"]
    used = np.abs(flown.flight.channel("rudder")[_held_hover(flown)]).max()
    return 100.0 * (1.0 - float(used) / max(throw.positive, throw.negative))


@dataclass(frozen=True)
class Taken:
    """A measure of one flight: `value` in the measure's unit, or None and the `reason`."""

    measure: Measure
    value: float | None
    reason: str = ""


def take_measures(flown: Flown) -> list[Taken]:
    """Every measure that the manoeuvre asks for."""
    taken = []
    for name in flown.manoeuvre.measures:
        measure = MEASURES[name]
        try:
            value = float(measure.take(flown))
            taken.append(Taken(measure, value) if math.isfinite(value) else Taken(measure, None, "not a finite number"))
        except NotMeasured as reason:
            taken.append(Taken(measure, None, f"not measured: {reason}"))
    return taken
