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
from scenarios.sticks import angle, beyond_throttle, mixed_by, set_trims, surfaces, throw
from sim.build import Plane
from sim.description import Setup
from sim.transmitter import STICKS
from sim.trim import NoTrim, Trim

SPEEDS = (25.0, 18.0, 32.0)  # m/s; the mix is set at the first
ELEVATOR = STICKS.index("elevator")
BELOW = 0.2  # throttle stick under which a mix for idle acts (common practice, no source)
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
    gain = asked / throw(plane, ELEVATOR, asked) / cruise
    at_idle = -asked / throw(plane, ELEVATOR, -asked)
    at_trim = moved(state.command, "elevator", asked)
    before, after = moments(plane, level.x, level.command), moments(plane, state.x, at_trim)
    cure.causes = [Cause("idle, nose down", part, m, *PITCHES) for part, m in changes_by_part(before, after, PITCH)]
    ways = (
        ("straight mix", gain, (), f"gain: {percent(gain)}", f"throttle to elevator {percent(gain)}"),
        (
            f"at idle alone, below {percent(BELOW)} throttle", at_idle, ((0.0, at_idle), (BELOW, 0.0)),
            f"gain: {percent(at_idle)}, only below: {percent(BELOW)}", f"idle to elevator {percent(at_idle)}",
        ),
    )  # fmt: skip
    planes = [plane]
    for label, share, points, written, change in ways:
        if abs(share) > 1.0:
            cure.notes.append(f"{label}: would need {percent(share)}, more than 100 % of the elevator throw.")
            continue
        edit = f"mixes > - {{from: throttle, to: elevator, {written}}}"
        numbers = (("gain", 100.0 * share, "%"), ("elevator at idle against cruise", -asked * DEG, "deg"))
        cure.options.append(Option(label, edit, change, numbers, 1))
        planes.append(flyable(with_mix(setup, "throttle", "elevator", 0.0 if points else share, points)))
    if not cure.options:
        cure.reason, cure.notes = " ".join(cure.notes), []
        return [cure]
    for one in planes:
        set_trims(one, level)
    for speed, line in lines.items():
        left = tuple(angle(p, ELEVATOR, float(beyond_throttle(p, line)[ELEVATOR])) * DEG for p in planes)
        cure.left.append(Row(f"{speed:.0f} m/s: elevator to hold", "deg", left, "up", "down"))
        flown = tuple(hands_off(p, level, line)[0] for p in planes)
        cure.left.append(Row(f"{speed:.0f} m/s: pitch rate hands off, 3 s", "deg/s", flown, *PITCHES))
    _price(cure, planes, level, cruise)
    cure.notes.append(
        "A straight mix also moves the elevator with more power than cruise "
        f"({100 * cruise:.0f} %, where the trim takes it up); one at idle alone costs nothing there, and comes in as the "
        "throttle closes."
    )
    return [cure]


def _price(cure: Cure, planes: list[Plane], level: Trim, cruise: float) -> None:
    mixed = (float((mixed_by(p, "throttle", 1.0) - mixed_by(p, "throttle", cruise))[ELEVATOR]) for p in planes)
    moved_up = tuple(angle(planes[0], ELEVATOR, share) * DEG for share in mixed)
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
