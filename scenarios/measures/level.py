"""Level flight on the trims, how it swings, and what speed and power ask of the trims."""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING

import numpy as np

from scenarios.balance import own_modes
from scenarios.measures.registry import DEG, NotMeasured, gained, mean, measure, window
from sim import layout as L
from sim.integration import FRAME
from sim.modes import DUTCH_ROLL, PHUGOID, ROLL, SHORT_PERIOD, SPIRAL, Mode

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

MODES = "definition: MIL-F-8785C, {} (from memory)"


@measure("deg", "elevator that level flight needs", positive="up", negative="down", better=("zero", "", ""))
def elevator_trim(flown: Flown) -> float:
    return -flown.level.elevator * DEG


@measure("%", "throttle stick that level flight needs")
def throttle_trim(flown: Flown) -> float:
    return 100.0 * flown.plane.throttle_for_duty(flown.level.duty)


@measure("deg", "angle of attack in level flight", source="definition: ISO 1151-1 (from memory)")
def alpha_trim(flown: Flown) -> float:
    forward, down = flown.level.x[L.VELOCITY], flown.level.x[L.VELOCITY + 2]
    return math.atan2(down, forward) * DEG if math.isfinite(forward + down) else math.nan


@measure("m", "height gained hands-off", "hands off", better="zero")
def height_drift(flown: Flown) -> float:
    return gained(flown, "height", window(flown, "hands off"))


@measure("deg", "bank gained hands-off", "hands off", "right", "left", better="zero")
def bank_drift(flown: Flown) -> float:
    bank = np.unwrap(flown.flight.channel("bank")[window(flown, "hands off")])
    return float(bank[-1] - bank[0]) * DEG


@measure("deg/s per deg", "pitch rate 0.5 s after a small pull, per degree of elevator", "small pull",
         better=("less", "more", "more"))  # fmt: skip
def pitch_response(flown: Flown) -> float:
    frames = window(flown, "small pull", least=0.55)
    at = frames.start + int(round(0.5 / FRAME))
    moved = flown.flight.channel("elevator")[frames.start] - flown.flight.channel("elevator")[at]
    if abs(moved) < math.radians(0.02):
        raise NotMeasured("the small pull hardly moved the elevator")
    rate = flown.flight.channel("pitch rate")
    return float((rate[at] - rate[frames.start]) / moved)


# ---- trims at another speed and with power ------------------------------------------------------------------


def _start_speed(flown: Flown) -> None:
    start = flown.manoeuvre.start
    if start.from_ != "level flight":
        raise NotMeasured("the flight does not start in level flight")
    if start.airspeed == flown.manoeuvre.trim:
        raise NotMeasured(f"the flight starts at the speed that the trims are set at, {start.airspeed:.0f} m/s")


@measure("deg", "elevator that level flight at the start needs, less that at the speed of the trims",
         positive="up", negative="down", better="zero")  # fmt: skip
def trim_change_with_speed(flown: Flown) -> float:
    _start_speed(flown)
    return -float(flown.x0[L.SERVO + L.ELEVATOR] - flown.level.elevator) * DEG


@measure("%", "throttle stick that level flight at the start needs, less that at the speed of the trims")
def throttle_change_with_speed(flown: Flown) -> float:
    _start_speed(flown)
    return 100.0 * float(flown.sticks0[3] - flown.plane.throttle_for_duty(flown.level.duty))


@measure("deg", "elevator held at the end of full power, less that at the end of idle", "full power", "up", "down",
         better="zero")  # fmt: skip
def trim_change_with_power(flown: Flown) -> float:
    idle, power = (mean(flown, "elevator", window(flown, phase, 0.5)) for phase in ("idle", "full power"))
    return -(power - idle) * DEG


# ---- how it swings -----------------------------------------------------------------------------------------------


def _mode(flown: Flown, name: str) -> Mode:
    """The classical mode `name` at the level trim.  Raises NotMeasured with the modes that there are instead."""
    asked = ("own modes", flown.level.x.tobytes())
    if asked not in flown.plane.known:
        flown.plane.known[asked] = own_modes(flown.plane, flown.level)[0]
    modes = flown.plane.known[asked]
    for mode in modes:
        if mode.name == name:
            if not cmath.isfinite(mode.eigenvalue):
                raise NotMeasured(f"the {name} is not finite")
            return mode
    raise NotMeasured(f"no mode is a {name}; there are: " + ", ".join(mode.name for mode in modes))


@measure("Hz", "short period: undamped natural frequency at the level trim", better=("", "more", "more"),
         source=MODES.format("3.2.2.1"))  # fmt: skip
def short_period_frequency(flown: Flown) -> float:
    return _mode(flown, SHORT_PERIOD).natural_frequency / (2.0 * math.pi)


@measure("", "short period: damping over critical damping", better="more", source=MODES.format("3.2.2.1"))
def short_period_damping(flown: Flown) -> float:
    return _mode(flown, SHORT_PERIOD).damping_ratio


@measure("s", "phugoid: time of one swing of speed against height", source=MODES.format("3.2.1.2"))
def phugoid_period(flown: Flown) -> float:
    return _mode(flown, PHUGOID).period


@measure("", "phugoid: damping over critical damping", better=("more", "", ""), source=MODES.format("3.2.1.2"))
def phugoid_damping(flown: Flown) -> float:
    return _mode(flown, PHUGOID).damping_ratio


@measure("Hz", "Dutch roll: undamped natural frequency", better=("more", "", ""), source=MODES.format("3.3.1.1"))
def dutch_roll_frequency(flown: Flown) -> float:
    return _mode(flown, DUTCH_ROLL).natural_frequency / (2.0 * math.pi)


@measure("", "Dutch roll: damping over critical damping", better="more", source=MODES.format("3.3.1.1"))
def dutch_roll_damping(flown: Flown) -> float:
    return _mode(flown, DUTCH_ROLL).damping_ratio


@measure("s", "roll: time constant in which a started roll dies to 37 %", better="less", source=MODES.format("3.3.1.2"))
def roll_time_constant(flown: Flown) -> float:
    rate = -_mode(flown, ROLL).eigenvalue.real
    if rate <= 0.0:
        raise NotMeasured("a started roll does not die away")
    return 1.0 / rate


@measure("1/s", "spiral: rate at which a bank left alone grows (0.69 over it: seconds to double)", "", "bank grows",
         "levels itself", better="zero", source=MODES.format("3.3.1.3"))  # fmt: skip
def spiral_growth(flown: Flown) -> float:
    return _mode(flown, SPIRAL).eigenvalue.real
