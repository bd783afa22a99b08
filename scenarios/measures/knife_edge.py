"""Knife edge, held and let go."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scenarios.measures.registry import DEG, NotMeasured, mean, measure, turned, window
from sim import layout as L

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown


def _held_knife_edge(flown: Flown, phase: str = "held") -> slice:
    frames = window(flown, phase, 1.5)
    bank = mean(flown, "bank", frames) * DEG
    if abs(abs(bank) - 90.0) > 12.0:
        raise NotMeasured(f'knife edge not held: bank {bank:.0f} deg at the end of "{phase}"')
    climb = mean(flown, "climb rate", frames)
    if abs(climb) > 2.5:
        raise NotMeasured(f"knife edge not held: {'climbing' if climb > 0 else 'sinking'} at {abs(climb):.1f} m/s")
    turning = abs(mean(flown, "pitch rate", frames)) * DEG
    if turning > 4.0:
        raise NotMeasured(f"knife edge not held: still pitching at {turning:.0f} deg/s")
    return frames


@measure("deg", "elevator that holds knife edge, less level trim", "held", "up", "down", better="zero")
def elevator_to_hold(flown: Flown) -> float:
    return -(mean(flown, "elevator", _held_knife_edge(flown)) - flown.level.elevator) * DEG


@measure("deg", "body pitch 2 s after letting go of the elevator in knife edge", "elevator let go",
          "toward the canopy", "toward the gear", better="zero")  # fmt: skip
def pitch_coupling(flown: Flown) -> float:
    _held_knife_edge(flown)
    frames = window(flown, "elevator let go")
    return turned(flown, "pitch rate", frames) * DEG


@measure("deg", "angle of attack at the end of letting go of the elevator", "elevator let go")
def alpha_after(flown: Flown) -> float:
    _held_knife_edge(flown)
    return mean(flown, "alpha", window(flown, "elevator let go", 0.2, 0.1)) * DEG


@measure("deg", "roll 1 s after letting go of the ailerons in knife edge", "ailerons let go",
          "right wing down", "left wing down", better="zero")  # fmt: skip
def roll_coupling(flown: Flown) -> float:
    _held_knife_edge(flown, "held again")
    return turned(flown, "roll rate", window(flown, "ailerons let go")) * DEG


@measure("deg", "rudder that holds knife edge, less level trim", "held", "left", "right", better="zero")
def rudder_to_hold(flown: Flown) -> float:
    frames = _held_knife_edge(flown)
    return (mean(flown, "rudder", frames) - flown.level.x[L.SERVO + L.RUDDER]) * DEG


@measure("%", "share of the rudder throw left over in knife edge", "held", better="more")
def rudder_left(flown: Flown) -> float:
    used = abs(mean(flown, "rudder", _held_knife_edge(flown)))
    throw = flown.setup.throws["rudder"]
    return 100.0 * (1.0 - used / max(throw.positive, throw.negative))


@measure("deg", "aileron that holds knife edge, less level trim", "held", "right", "left", better="zero")
def aileron_to_hold(flown: Flown) -> float:
    frames = _held_knife_edge(flown)
    moved = mean(flown, "left aileron", frames) - mean(flown, "right aileron", frames)
    level = flown.level.x[L.SERVO + L.AILERON_LEFT] - flown.level.x[L.SERVO + L.AILERON_RIGHT]
    return 0.5 * (moved - level) * DEG


@measure("deg", "sideslip in held knife edge", "held", "wind from the right", "wind from the left", better="zero",
         source="definition: ISO 1151-1 (from memory)")  # fmt: skip
def sideslip(flown: Flown) -> float:
    return mean(flown, "beta", _held_knife_edge(flown)) * DEG


@measure("m/s", "airspeed in held knife edge", "held", better=("", "", "less"))
def knife_edge_speed(flown: Flown) -> float:
    return mean(flown, "airspeed", _held_knife_edge(flown))
