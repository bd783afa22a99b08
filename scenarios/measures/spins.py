"""Spins, upright, inverted, flat and knife-edge: whether it is one, how it turns and falls, and how it stops.

A spin is turning about the vertical one way, at `LEAST_TURN` or faster, with the nose `LEAST_ANGLE` or more off the
oncoming air, all through the second half of its phase (autorotation beyond the stall; the limits are common practice).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import (
    DEG,
    NotMeasured,
    flow_angle,
    later_half,
    mean,
    measure,
    turn_about_vertical,
    window,
)
from sim.integration import FRAME

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

SPIN = ("spin", "flat spin", "knife-edge spin")
LEAST_TURN = 60.0  # deg/s about the vertical
LEAST_ANGLE = 20.0  # deg
STOPPED = 30.0  # deg/s about the vertical: the spin has stopped


def _state(flown: Flown) -> tuple[slice, float, float]:
    """Frames of the later half of the spin, the slowest turn one way (deg/s) and the mean angle of the flow (deg)."""
    frames = later_half(flown, SPIN)
    turn = turn_about_vertical(flown, frames) * DEG
    way = np.sign(turn.mean())
    return frames, float((way * turn).min()), float(flow_angle(flown, frames).mean()) * DEG


def _spinning(flown: Flown) -> slice:
    frames, turn, angle = _state(flown)
    if turn < LEAST_TURN or angle < LEAST_ANGLE:
        raise NotMeasured(f"not a spin: turning at {turn:.0f} deg/s, nose {angle:.0f} deg off the air")
    return frames


@measure("", "1 if it spins, 0 if not: turning at 60 deg/s or more, nose 20 deg or more off the air, to the end", SPIN,
         better=("more", "more", ""))  # fmt: skip
def spins(flown: Flown) -> float:
    _, turn, angle = _state(flown)
    return float(turn >= LEAST_TURN and angle >= LEAST_ANGLE)


@measure("deg/s", "turn about the vertical in the settled spin", SPIN, "right seen from above", "left seen from above",
         better=("", "more", ""))  # fmt: skip
def spin_turn_rate(flown: Flown) -> float:
    return float(turn_about_vertical(flown, _spinning(flown)).mean()) * DEG


@measure("turns", "turns about the vertical from the start of the entry to the start of the recovery", SPIN)
def spin_turns(flown: Flown) -> float:
    _spinning(flown)
    first = window(flown, "enter", least=0.05).start if flown.phase("enter") >= 0 else window(flown, SPIN).start
    turn = turn_about_vertical(flown, slice(first, window(flown, SPIN).stop))
    return abs(float(turn.sum())) * FRAME * DEG / 360.0


@measure("m", "height lost in a turn of the settled spin", SPIN, better=("", "less", "less"))
def height_per_turn(flown: Flown) -> float:
    frames = _spinning(flown)
    turns = abs(float(turn_about_vertical(flown, frames).mean())) * DEG / 360.0  # a second
    return -mean(flown, "climb rate", frames) / turns


@measure("deg", "pitch in the settled spin", SPIN, "nose up", "nose down")
def spin_pitch(flown: Flown) -> float:
    return mean(flown, "pitch", _spinning(flown)) * DEG


@measure("deg", "angle of attack in the settled spin", SPIN, "upright", "inverted")
def spin_alpha(flown: Flown) -> float:
    return mean(flown, "alpha", _spinning(flown)) * DEG


def _stopping(flown: Flown) -> np.ndarray:
    """Turn about the vertical, rad/s, from the start of the recovery until it has stopped."""
    _spinning(flown)
    frames = window(flown, "recover", least=0.05)
    turn = turn_about_vertical(flown, frames)
    stopped = np.abs(turn) * DEG < STOPPED
    if not stopped.any():
        raise NotMeasured(f'still turning at {abs(turn[-1]) * DEG:.0f} deg/s at the end of "recover"')
    return turn[: int(np.argmax(stopped))]


@measure(
    "turns", "turns from the start of the recovery until the spin has stopped (30 deg/s)", "recover", better="less"
)
def turns_to_stop(flown: Flown) -> float:
    return abs(float(_stopping(flown).sum())) * FRAME * DEG / 360.0


@measure("s", "from the start of the recovery until the spin has stopped (30 deg/s)", "recover", better="less")
def time_to_stop(flown: Flown) -> float:
    return len(_stopping(flown)) * FRAME
