"""Level flight on the trims."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import DEG, NotMeasured, measure, window
from sim import layout as L
from sim.integration import FRAME

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown


@measure("deg", "elevator that level flight needs", positive="up", negative="down")
def elevator_trim(flown: Flown) -> float:
    return -flown.level.elevator * DEG


@measure("%", "throttle stick that level flight needs")
def throttle_trim(flown: Flown) -> float:
    return 100.0 * flown.plane.throttle_for_duty(flown.level.duty)


@measure("deg", "angle of attack in level flight")
def alpha_trim(flown: Flown) -> float:
    return math.atan2(flown.level.x[L.VELOCITY + 2], flown.level.x[L.VELOCITY]) * DEG


@measure("m", "height gained hands-off", "hands off")
def height_drift(flown: Flown) -> float:
    height = flown.flight.channel("height")[window(flown, "hands off")]
    return float(height[-1] - height[0])


@measure("deg", "bank gained hands-off", "hands off", "right", "left")
def bank_drift(flown: Flown) -> float:
    bank = np.unwrap(flown.flight.channel("bank")[window(flown, "hands off")])
    return float(bank[-1] - bank[0]) * DEG


@measure("deg/s per deg", "pitch rate 0.5 s after a small pull, per degree of elevator", "small pull")
def pitch_response(flown: Flown) -> float:
    frames = window(flown, "small pull", least=0.55)
    at = frames.start + int(round(0.5 / FRAME))
    moved = flown.flight.channel("elevator")[frames.start] - flown.flight.channel("elevator")[at]
    if abs(moved) < math.radians(0.02):
        raise NotMeasured("the small pull hardly moved the elevator")
    rate = flown.flight.channel("pitch rate")
    return float((rate[at] - rate[frames.start]) / moved)
