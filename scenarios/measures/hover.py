"""The hover, held in place, and the torque roll."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import DEG, NotMeasured, mean, measure, window
from sim.frames import G
from sim.integration import FRAME
from sim.trim import static_thrust_ratio

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown


def _held_hover(flown: Flown) -> slice:
    frames = window(flown, "held", 3.0)
    pitch = flown.flight.channel("pitch")[frames].min() * DEG
    if pitch < 60.0:
        raise NotMeasured(f"hover not held: nose down to {pitch:.0f} deg above the horizon")
    climb = np.abs(flown.flight.channel("climb rate")[frames]).max()
    if climb > 3.0:
        raise NotMeasured(f"hover not held: climbing or sinking at {climb:.1f} m/s")
    return frames


@measure("%", "throttle stick that hovers, mean of 3 s", "held", better=("", "less", "less"))
def hover_throttle(flown: Flown) -> float:
    return 100.0 * mean(flown, "throttle", _held_hover(flown))


@measure("", "static thrust at full throttle over weight", "held", better="more")
def thrust_over_weight(flown: Flown) -> float:
    return static_thrust_ratio(flown.plane)


@measure("deg/s", "roll rate with the ailerons let go, mean of the last 3 s", "ailerons let go", "right", "left")
def torque_roll_rate(flown: Flown) -> float:
    _held_hover(flown)
    return mean(flown, "roll rate", window(flown, "ailerons let go", 3.0)) * DEG


@measure("deg", "aileron that holds the torque in the hover", "held", "right", "left", better="zero")
def aileron_to_stop_roll(flown: Flown) -> float:
    frames = _held_hover(flown)
    rolling = abs(mean(flown, "roll rate", frames)) * DEG
    if rolling > 8.0:
        raise NotMeasured(f"full aileron does not stop the torque roll ({rolling:.0f} deg/s)")
    return 0.5 * (mean(flown, "left aileron", frames) - mean(flown, "right aileron", frames)) * DEG


@measure("m", "furthest from the start place while held", "held", better="less")
def hover_drift(flown: Flown) -> float:
    _held_hover(flown)
    frames = window(flown, "held")
    north, east = flown.flight.channel("north")[frames], flown.flight.channel("east")[frames]
    return float(np.hypot(north - north[0], east - east[0]).max())


@measure("%", "share of the elevator throw not used while held", "held", better="more")
def elevator_left(flown: Flown) -> float:
    throw = flown.setup.throws["elevator"]
    used = np.abs(flown.flight.channel("elevator")[_held_hover(flown)]).max()
    return 100.0 * (1.0 - float(used) / max(throw.positive, throw.negative))


@measure("%", "share of the rudder throw not used while held", "held", better="more")
def hover_rudder_left(flown: Flown) -> float:
    throw = flown.setup.throws["rudder"]
    used = np.abs(flown.flight.channel("rudder")[_held_hover(flown)]).max()
    return 100.0 * (1.0 - float(used) / max(throw.positive, throw.negative))


@measure("g", "upward acceleration out of the hover, mean of the first second of the climb-out", "climb out",
         better="more")  # fmt: skip
def climb_out(flown: Flown) -> float:
    _held_hover(flown)
    frames = window(flown, "climb out", least=1.0)
    climb = flown.flight.channel("climb rate")
    return float(climb[frames.start + int(round(1.0 / FRAME)) - 1] - climb[frames.start]) / ((1.0 - FRAME) * G)
