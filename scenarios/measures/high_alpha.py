"""Harrier, upright, inverted and rolling; wall, parachute, tumble: flight far beyond the stall."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import (
    DEG,
    NotMeasured,
    flow_angle,
    furthest,
    later_half,
    mean,
    measure,
    turned,
    window,
)
from sim.integration import FRAME

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

FIGURE = ("wall", "parachute", "flat spin", "tumble", "knife-edge spin", "spin")
LEAST_ALPHA, MOST_CLIMB = 25.0, 4.0  # deg, m/s: a harrier
ROLLING = 90.0  # deg of bank swept by a harrier that is rolled
VISIBLE = 0.5  # deg of wing rock that can be timed
UPRIGHT = 80.0  # deg of pitch: the wall stands


# ---- harrier -------------------------------------------------------------------------------------------


def _harrier(flown: Flown) -> slice:
    """Frames of the later half of the harrier.  Raises NotMeasured when it was not one."""
    frames = later_half(flown, "harrier")
    angle = float(flow_angle(flown, frames).mean()) * DEG
    if angle < LEAST_ALPHA:
        raise NotMeasured(f"harrier not held: nose {angle:.0f} deg off the air")
    climb = mean(flown, "climb rate", frames)
    if abs(climb) > MOST_CLIMB:
        raise NotMeasured(f"harrier not held: {'climbing' if climb > 0 else 'sinking'} at {abs(climb):.1f} m/s")
    return frames


@measure("deg", "angle between nose and oncoming air in the harrier, mean", "harrier", better=("", "", "more"))
def harrier_alpha(flown: Flown) -> float:
    return float(flow_angle(flown, _harrier(flown)).mean()) * DEG


@measure("m/s", "airspeed in the harrier, mean", "harrier", better=("", "", "less"))
def harrier_speed(flown: Flown) -> float:
    return mean(flown, "airspeed", _harrier(flown))


@measure("%", "throttle stick in the harrier, mean", "harrier", better=("", "less", "less"))
def harrier_throttle(flown: Flown) -> float:
    return 100.0 * mean(flown, "throttle", _harrier(flown))


@measure("m/s", "sinking speed in the harrier, mean", "harrier", "sinking", "climbing", better="zero")
def harrier_sink(flown: Flown) -> float:
    return -mean(flown, "climb rate", _harrier(flown))


def _rock(flown: Flown) -> np.ndarray:
    """Bank in the harrier in rad about its straight-line drift.  Raises NotMeasured when it is a rolling one."""
    bank = np.unwrap(flown.flight.channel("bank")[_harrier(flown)])
    if float(np.ptp(bank)) * DEG > ROLLING:
        raise NotMeasured(f"the bank went through {np.ptp(bank) * DEG:.0f} deg: rolling, not rocking")
    time = np.arange(len(bank))
    return bank - np.polyval(np.polyfit(time, bank, 1), time)


@measure("deg", "wing rock in the harrier: twice the standard deviation of the bank about its drift", "harrier",
         better="less")  # fmt: skip
def wing_rock(flown: Flown) -> float:
    return 2.0 * float(_rock(flown).std()) * DEG


@measure("Hz", "frequency of the wing rock: crossings of its middle over twice the time", "harrier")
def wing_rock_frequency(flown: Flown) -> float:
    rock = _rock(flown)
    if 2.0 * rock.std() * DEG < VISIBLE:
        raise NotMeasured("no wing rock to time")
    side = np.sign(rock[np.abs(rock) > 0.1 * rock.std()])  # a shiver about the middle is no crossing
    return float((np.diff(side) != 0).sum()) / (2.0 * len(rock) * FRAME)


def _rolling(flown: Flown) -> np.ndarray:
    """Roll rate in the rolling harrier, rad/s."""
    frames = _harrier(flown)
    angle = abs(turned(flown, "roll rate", frames)) * DEG
    if angle < ROLLING:
        raise NotMeasured(f"not a rolling harrier: rolled {angle:.0f} deg")
    return flown.flight.channel("roll rate")[frames]


@measure("deg/s", "roll rate in the rolling harrier, mean", "harrier", "right", "left")
def harrier_roll_rate(flown: Flown) -> float:
    return float(_rolling(flown).mean()) * DEG


@measure("%", "unevenness of the rolling harrier: standard deviation of the roll rate over its mean", "harrier",
         better="less")  # fmt: skip
def roll_unevenness(flown: Flown) -> float:
    rate = _rolling(flown)
    return 100.0 * float(rate.std() / abs(rate.mean()))


# ---- wall, parachute, flat spin, tumble, knife-edge spin ---------------------------------------------------


@measure("deg/s", "roll rate in the settled figure, mean", FIGURE, "right", "left")
def figure_roll_rate(flown: Flown) -> float:
    return mean(flown, "roll rate", later_half(flown, FIGURE)) * DEG


@measure("deg/s", "pitch rate in the settled figure, mean", FIGURE, "toward the canopy", "toward the gear")
def figure_pitch_rate(flown: Flown) -> float:
    return mean(flown, "pitch rate", later_half(flown, FIGURE)) * DEG


@measure("deg/s", "yaw rate in the settled figure, mean", FIGURE, "right", "left")
def figure_yaw_rate(flown: Flown) -> float:
    return mean(flown, "yaw rate", later_half(flown, FIGURE)) * DEG


@measure("deg/s", "largest pitch rate of the figure", (*FIGURE, "loop"), "toward the canopy", "toward the gear",
         better=("", "more", ""))  # fmt: skip
def peak_pitch_rate(flown: Flown) -> float:
    return furthest(flown.flight.channel("pitch rate")[window(flown, (*FIGURE, "loop"))]) * DEG


@measure("turns", "rotations about the wing in the figure", FIGURE, "toward the canopy", "toward the gear",
         better=("", "more", ""))  # fmt: skip
def tumble_turns(flown: Flown) -> float:
    return turned(flown, "pitch rate", window(flown, FIGURE)) * DEG / 360.0


@measure("m/s", "descent in the settled figure, mean", FIGURE, better=("", "", "less"))
def descent(flown: Flown) -> float:
    return -mean(flown, "climb rate", later_half(flown, FIGURE))


@measure("m", "distance over the ground until the wall stands (nose 80 deg up)", "wall", better=("", "less", "less"))
def wall_length(flown: Flown) -> float:
    frames = window(flown, "wall")
    standing = flown.flight.channel("pitch")[frames] * DEG > UPRIGHT
    if not standing.any():
        highest = flown.flight.channel("pitch")[frames].max() * DEG
        raise NotMeasured(f"the wall did not stand: nose up to {highest:.0f} deg")
    at = frames.start + int(np.argmax(standing))
    north, east = flown.flight.channel("north"), flown.flight.channel("east")
    return float(np.hypot(north[at] - north[frames.start], east[at] - east[frames.start]))


@measure("m", "height gained in the wall", "wall", better=("", "zero", "zero"))
def wall_height(flown: Flown) -> float:
    height = flown.flight.channel("height")[window(flown, "wall")]
    return float(height.max() - height[0])
