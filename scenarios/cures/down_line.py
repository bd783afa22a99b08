"""Throttle to elevator: the mix that keeps a vertical down-line straight at idle."""

from __future__ import annotations

import math

from scenarios.cures.flights import hands_off
from scenarios.cures.knife_edge import with_mix
from scenarios.cures.report import Cause, Cure, Option, Row, percent
from scenarios.cures.states import (
    DEG,
    PITCH,
    changes_by_part,
    fastest_straight,
    moments,
    moved,
    speed_of,
    straight,
)
from scenarios.manoeuvres import flyable
from scenarios.sticks import angle, beyond_throttle, mix_gains, set_trims, surfaces, throw
from sim.build import Plane
from sim.description import Setup
from sim.transmitter import STICKS
from sim.trim import NoTrim, Trim

SPEEDS = (25.0, 18.0, 32.0)  # m/s; the mix is set at the first
THROTTLE, ELEVATOR = STICKS.index("throttle"), STICKS.index("elevator")
PITCHES = ("toward the canopy", "toward the gear")


def down_line_cures(setup: Setup, plane: Plane, level: Trim) -> list[Cure]:
    """Elevator at idle in a vertical down-line, as a mix from the throttle."""
    cure = Cure("down-line", "down-line at idle: pitch")
    set_trims(plane, level)
    idle = float(plane.setup.throttle_curve[0])
    lines: dict[float, Trim] = {}
    for speed in SPEEDS:
        try:
            lines[speed] = straight(plane, level, speed, -0.5 * math.pi, throttle=idle)
        except NoTrim as stop:
            cure.notes.append(str(stop))
    if SPEEDS[0] not in lines:
        cure.reason, cure.notes = "; ".join(cure.notes), []
        return [cure]
    state = lines[SPEEDS[0]]
    cruise = plane.throttle_for_duty(level.duty)
    # in cruise the trim holds back what the throttle mixes in, and that is what acts at idle
    asked = float((surfaces(level.command) - surfaces(state.command))[ELEVATOR]) + setup.trims.get("elevator", 0.0)
    gain, now = asked / throw(plane, ELEVATOR, asked) / cruise, float(mix_gains(plane)[THROTTLE, ELEVATOR])
    at_trim = moved(state.command, "elevator", asked)
    before, after = moments(plane, level.x, level.command), moments(plane, state.x, at_trim)
    cure.causes = [Cause("idle, nose down", part, m, *PITCHES) for part, m in changes_by_part(before, after, PITCH)]
    if abs(gain) > 1.0:
        cure.reason = f"the mix would need {percent(gain)}, more than 100 % of the elevator throw"
        return [cure]
    edit = f"mixes > - {{from: throttle, to: elevator, gain: {percent(gain)}}}"
    amounts = (("gain", 100.0 * gain, "%"), ("elevator at idle against cruise", -asked * DEG, "deg"))
    cure.options.append(Option("straight mix", edit, f"throttle to elevator {percent(gain)}", amounts, 1))
    planes = [plane, flyable(with_mix(setup, "throttle", "elevator", gain))]
    for one in planes:
        set_trims(one, level)
    for speed, line in lines.items():
        left = tuple(angle(p, ELEVATOR, float(beyond_throttle(p, line)[ELEVATOR])) * DEG for p in planes)
        cure.left.append(Row(f"{speed:.0f} m/s: elevator to hold", "deg", left, "up", "down"))
        flown = tuple(hands_off(p, level, line)[0] for p in planes)
        cure.left.append(Row(f"{speed:.0f} m/s: pitch rate hands off, 3 s", "deg/s", flown, *PITCHES))
    _price(cure, planes, (now, gain), level, cruise)
    cure.notes.append(
        "The setup file's mix is straight over the throttle, so that it also moves the elevator with more power than "
        f"cruise ({100 * cruise:.0f} %, where the trim takes it up). One that acts below cruise alone costs nothing there."
    )
    return [cure]


def _price(cure: Cure, planes: list[Plane], gains: tuple[float, float], level: Trim, cruise: float) -> None:
    moved_up = tuple(angle(planes[0], ELEVATOR, g * (1.0 - cruise)) * DEG for g in gains)
    cure.price.append(Row("full throttle: elevator mixed in", "deg", moved_up, "up", "down"))
    try:
        line = fastest_straight(planes[0], level, SPEEDS[0], 0.25 * math.pi, 0.0)
    except NoTrim as stop:
        cure.notes.append(f"45-degree up-line: {stop}")
        return
    flown = tuple(hands_off(p, level, line)[0] for p in planes)
    cure.price.append(
        Row(f"45-degree up-line, {speed_of(line):.0f} m/s: pitch rate hands off", "deg/s", flown, *PITCHES)
    )
