"""Rolls, snap rolls, loops and the stall turn."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import (
    DEG,
    NotMeasured,
    body_axes,
    from_to,
    gained,
    later_half,
    mean,
    measure,
    whole,
    window,
    wrapped,
)
from sim.integration import FRAME

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

ROLL = ("roll", "snap")
ADVERSE_TIME = 0.2  # s from the stick: the yaw is then the ailerons', not the weathercock's
ROLL_STOPPED = 20.0  # deg/s
SECTORS = 8  # of a loop, for its roundness


# ---- rolls and snap rolls -------------------------------------------------------------------------------


def _rolled(flown: Flown, frames: slice) -> np.ndarray:
    """Angle rolled since the first of `frames` in deg, the way it went positive."""
    angle = np.cumsum(flown.flight.channel("roll rate")[frames]) * FRAME * DEG
    return angle * _way(flown)


def _way(flown: Flown) -> float:
    """+1 for a roll to the right, -1 to the left."""
    return math.copysign(1.0, mean(flown, "roll rate", window(flown, ROLL)))


def _time_to(flown: Flown, angle: float) -> float:
    rolled = _rolled(flown, from_to(flown, ROLL, ("stop", *ROLL)))  # a stick let go early rolls on
    if rolled.max() < angle:
        raise NotMeasured(f"rolled only {rolled.max():.0f} deg")
    return float(np.argmax(rolled >= angle) + 1) * FRAME


@measure("s", "from the stick to 90 deg of roll", ROLL, better=("", "less", "less"))
def time_to_90(flown: Flown) -> float:
    return _time_to(flown, 90.0)


@measure("s", "from the stick to a whole turn of roll", ROLL, better=("", "less", ""))
def time_to_360(flown: Flown) -> float:
    return _time_to(flown, 360.0)


@measure("deg/s", "steady roll rate, mean of the later half of the roll, either way", ROLL, better=("", "more", "more"))
def steady_roll_rate(flown: Flown) -> float:
    return abs(mean(flown, "roll rate", later_half(flown, ROLL))) * DEG


@measure("deg/s", "largest roll rate, either way", ROLL, better=("", "more", ""))
def peak_roll_rate(flown: Flown) -> float:
    return float(np.abs(flown.flight.channel("roll rate")[window(flown, ROLL)]).max()) * DEG


@measure("deg", "half-angle of the cone that the nose makes about its mean direction in the roll", ROLL, better="less")
def roll_axis_wander(flown: Flown) -> float:
    nose = body_axes(flown, window(flown, ROLL))[:, 0]
    axis = nose.mean(axis=0)
    length = float(np.linalg.norm(axis))
    if length < 1e-6:
        raise NotMeasured("the nose pointed everywhere: no mean direction")
    return math.acos(max(-1.0, min(1.0, float((nose @ axis).min()) / length))) * DEG


@measure(
    "deg", "largest sideslip that the first 0.2 s of the roll add", ROLL, "adverse", "with the roll", better="zero"
)
def adverse_yaw(flown: Flown) -> float:
    frames = window(flown, ROLL)
    beta = flown.flight.channel("beta")[frames.start : frames.start + int(round(ADVERSE_TIME / FRAME)) + 1]
    change = (beta - beta[0]) * _way(flown)
    return float(change[np.argmax(np.abs(change))]) * DEG


def _stop(flown: Flown) -> tuple[slice, int]:
    """Frames from the stick to the end of "stop", and the frame at which the roll has stopped."""
    frames, stop = from_to(flown, ROLL, "stop"), window(flown, "stop", least=0.05)
    rate = np.abs(flown.flight.channel("roll rate")[stop]) * DEG
    if not (rate < ROLL_STOPPED).any():
        raise NotMeasured(f"did not stop: still rolling at {rate[-1]:.0f} deg/s")
    return frames, stop.start + int(np.argmax(rate < ROLL_STOPPED))


@measure("deg", "angle past (or short of) the nearest whole turn when the roll has stopped", "stop", "past", "short",
         better="zero")  # fmt: skip
def overshoot(flown: Flown) -> float:
    frames, at = _stop(flown)
    rolled = float(_rolled(flown, slice(frames.start, at + 1))[-1])
    if rolled < 180.0:
        raise NotMeasured(f"no whole turn: rolled {rolled:.0f} deg")
    return rolled - 360.0 * round(rolled / 360.0)


@measure("deg", "angle rolled from letting go until the roll has stopped", "stop", better="less")
def roll_to_stop(flown: Flown) -> float:
    stop, at = window(flown, "stop", least=0.05), _stop(flown)[1]
    return float(_rolled(flown, slice(stop.start, at + 1))[-1])


@measure("s", "from letting go until the roll has stopped", "stop", better="less")
def roll_stop_time(flown: Flown) -> float:
    return (_stop(flown)[1] - window(flown, "stop", least=0.05).start) * FRAME


@measure("deg", "largest angle of attack in the snap, either way", "snap")
def snap_alpha(flown: Flown) -> float:
    return float(np.abs(flown.flight.channel("alpha")[window(flown, "snap")]).max()) * DEG


@measure("deg", "heading of the nose after the roll less that before", ROLL, "right", "left", better="zero")
def roll_heading_error(flown: Flown) -> float:
    heading = flown.flight.channel("heading")[from_to(flown, ROLL, ("stop", *ROLL))]
    return wrapped(float(heading[-1] - heading[0])) * DEG


@measure("m", "highest less lowest height over the whole flight", better="less")
def height_wander(flown: Flown) -> float:
    return float(np.ptp(flown.flight.channel("height")[whole(flown)]))


@measure("deg", "largest departure of the track from that at the start over the whole flight", better="less")
def track_wander(flown: Flown) -> float:
    track = np.unwrap(flown.flight.channel("track")[whole(flown)])
    return float(np.abs(track - track[0]).max()) * DEG


# ---- loops -----------------------------------------------------------------------------------------------------


def _curve(flown: Flown) -> tuple[np.ndarray, np.ndarray]:
    """Length in m of each step along the loop and the angle in rad turned since its start, shape (frames - 1,)."""
    frames = window(flown, "loop", least=1.0)
    place = np.stack([flown.flight.channel(name)[frames] for name in ("north", "east", "height")], axis=1)
    step = np.diff(place, axis=0)
    length = np.linalg.norm(step, axis=1)
    if length.min() < 0.01:
        raise NotMeasured("stood still in the loop")
    way = step / length[:, None]
    # of the chords' difference, not of their product: exact for small angles
    angle = 2.0 * np.arcsin(np.clip(0.5 * np.linalg.norm(np.diff(way, axis=0), axis=1), 0.0, 1.0))
    turned = np.concatenate([[0.0], np.cumsum(angle)])
    if turned[-1] * DEG < 330.0:
        raise NotMeasured(f"no whole loop: the path turned {turned[-1] * DEG:.0f} deg")
    return length, turned


@measure("m", "mean radius of the loop: length of its path over the angle it turned", "loop")
def loop_radius(flown: Flown) -> float:
    length, turned = _curve(flown)
    return float(length[1:].sum() / turned[-1])


@measure("", "roundness of the loop: largest over least radius of its eighths", "loop", better=("less", "", ""))
def loop_roundness(flown: Flown) -> float:
    length, turned = _curve(flown)
    ends = np.linspace(0.0, turned[-1], SECTORS + 1)
    along = np.interp(ends, turned, np.concatenate([[0.0], np.cumsum(length[1:])]))
    radius = np.diff(along)
    return float(radius.max() / radius.min())


@measure("deg", "track after the loop less that before", "loop", "right", "left", better="zero")
def loop_heading_error(flown: Flown) -> float:
    _curve(flown)
    track = flown.flight.channel("track")[window(flown, "loop")]
    return wrapped(float(track[-1] - track[0])) * DEG


@measure("deg", "bank after the loop less that before", "loop", "right", "left", better="zero")
def loop_bank_error(flown: Flown) -> float:
    _curve(flown)
    bank = flown.flight.channel("bank")[window(flown, "loop")]
    return wrapped(float(bank[-1] - bank[0])) * DEG


@measure("m", "height after the loop less that before", "loop", "higher", "lower", better="zero")
def loop_height_error(flown: Flown) -> float:
    _curve(flown)
    return gained(flown, "height", window(flown, "loop"))


# ---- stall turn --------------------------------------------------------------------------------------------------


def _pivot(flown: Flown) -> tuple[slice, np.ndarray]:
    """Frames of the turn and the body axes over it.  Raises NotMeasured unless the nose went from up to down."""
    window(flown, "climb")
    frames = window(flown, "turn")
    axes = body_axes(flown, frames)
    through = math.acos(max(-1.0, min(1.0, float(axes[0, 0] @ axes[-1, 0])))) * DEG
    if through < 120.0:
        raise NotMeasured(f"did not turn round: the nose went through {through:.0f} deg")
    return frames, axes


@measure("m/s", "airspeed at which the stall turn is begun", "turn", better=("", "", "less"))
def turn_speed(flown: Flown) -> float:
    return float(flown.flight.channel("airspeed")[_pivot(flown)[0].start])


@measure("deg/s", "pivot rate of the stall turn: mean yaw rate, either way", "turn", better="more")
def pivot_rate(flown: Flown) -> float:
    return abs(mean(flown, "yaw rate", _pivot(flown)[0])) * DEG


@measure("deg", "angle between where the canopy pointed before the stall turn and after it", "turn", better="less")
def turn_error(flown: Flown) -> float:
    axes = _pivot(flown)[1]
    return math.acos(max(-1.0, min(1.0, float(axes[0, 2] @ axes[-1, 2])))) * DEG


@measure("m", "how far the plane moves over the ground from the start of the stall turn to its end", "turn",
         better=("less", "", ""))  # fmt: skip
def turn_width(flown: Flown) -> float:
    frames = _pivot(flown)[0]
    return math.hypot(gained(flown, "north", frames), gained(flown, "east", frames))
