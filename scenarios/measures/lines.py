"""Straight lines, hands off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import DEG, NotMeasured, drift_rate, mean, measure, window

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown


def _set_line(flown: Flown) -> None:
    frames = window(flown, "set the line", 0.5)
    path = mean(flown, "path angle", frames) * DEG
    if abs(path - 45.0) > 5.0:
        raise NotMeasured(f"the line was not set: path at {path:.0f} deg instead of 45")
    rate = abs(mean(flown, "pitch rate", frames)) * DEG
    if rate > 3.0:
        raise NotMeasured(f"the line was not steady: still turning at {rate:.0f} deg/s")


@measure(
    "deg/s", "body pitch rate hands-off on the line, mean of 3 s", "hands off", "toward the canopy", "toward the gear"
)
def pitch_drift(flown: Flown) -> float:
    _set_line(flown)
    return mean(flown, "pitch rate", window(flown, "hands off")) * DEG


@measure(
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


@measure("deg/s", "roll rate hands-off on the line, mean of 3 s", "hands off", "right", "left")
def roll_drift(flown: Flown) -> float:
    _set_line(flown)
    return mean(flown, "roll rate", window(flown, "hands off")) * DEG


@measure("deg/s", "turn of the track hands-off on the line", "hands off", "right", "left")
def heading_drift(flown: Flown) -> float:
    _set_line(flown)
    return drift_rate(flown, "track", window(flown, "hands off")) * DEG


@measure("m/s", "airspeed when the sticks are let go", "set the line")
def line_speed(flown: Flown) -> float:
    return mean(flown, "airspeed", window(flown, "set the line", 0.2, 0.1))


@measure("deg", "elevator that held the line, less level trim", "set the line", "up", "down")
def line_elevator(flown: Flown) -> float:
    _set_line(flown)
    held = mean(flown, "elevator", window(flown, "set the line", 0.5))
    return -(held - flown.level.elevator) * DEG
