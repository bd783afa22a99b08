"""Thrust line: the down and right thrust at which elevator and rudder need no change with power on an up-line."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from scenarios.cures.flights import hands_off
from scenarios.cures.report import Cause, Cure, Option, Row
from scenarios.cures.states import (
    DEG,
    PITCH,
    YAW,
    changes_by_part,
    control_to_still,
    fastest_straight,
    moments,
    moved,
    speed_of,
    straight,
    with_throttle,
)
from scenarios.manoeuvres import flyable
from scenarios.sticks import angle, beyond_throttle, mixed_by, set_trims
from sim import layout as L
from sim.build import Plane
from sim.description import Setup
from sim.trim import NoTrim, Trim, level_trim

SPEED = 25.0  # m/s
STEP = math.radians(0.5)
LOW, FULL = 0.4, 1.0  # of the power that holds the line; and all of it
MOST = math.radians(15.0)  # what a setup file takes
STICKS_ASKED = 1, 2  # elevator and rudder among aileron, elevator, rudder
WORDS = ("up", "down"), ("right", "left")


def with_thrust(setup: Setup, down: float, right: float) -> Setup:
    """`setup` with its shaft turned by `down` and `right` (rad) beyond what it has."""
    line = setup.thrust_line or setup.airframe.thrust_line
    return replace(setup, thrust_line=replace(line, down=line.down + down, right=line.right + right))


class Line:
    """An up-line of one climb: where its sticks stand with low and with full throttle at one speed."""

    def __init__(self, name: str, climb: float, speed: float, throttle: float):
        self.name, self.climb, self.speed, self.throttle = name, climb, speed, throttle

    def states(self, plane: Plane, level: Trim) -> tuple[Trim, Trim]:
        """Straight flight with the throttle of the line lowered to `LOW` of it, and with full throttle."""
        low = straight(plane, level, self.speed, self.climb, throttle=LOW * self.throttle)
        return low, straight(plane, level, self.speed, self.climb, throttle=FULL)

    def change(self, plane: Plane, level: Trim) -> np.ndarray:
        """Elevator (up) and rudder (right) that full throttle asks for beyond low throttle and its own mixes, rad."""
        low, full = self.states(plane, level)
        set_trims(plane, low)
        before, after = beyond_throttle(plane, low), beyond_throttle(plane, full)
        return np.array([angle(plane, axis, after[axis]) - angle(plane, axis, before[axis]) for axis in STICKS_ASKED])


def thrust_cures(setup: Setup, plane: Plane, level: Trim) -> list[Cure]:
    """Down and right thrust for the 45-degree line, for the vertical line, and between them."""
    cure = Cure("thrust", "up-lines: pitch and yaw with power")
    lines = _lines(cure, plane, level)
    if not lines:
        cure.reason, cure.notes = "; ".join(cure.notes), []
        return [cure]
    turns = [_turn(setup, plane, level, line) for line in lines]
    labels = [line.name for line in lines]
    if len(turns) == 2:
        turns.append(0.5 * (turns[0] + turns[1]))
        labels.append("between them")
    shaft = setup.thrust_line or setup.airframe.thrust_line
    kept = []
    for label, (down, right) in zip(labels, turns):
        whole = shaft.down + down, shaft.right + right
        if max(map(abs, whole)) > MOST:
            cure.notes.append(
                f"{label}: {whole[0] * DEG:.0f} deg down, {whole[1] * DEG:.0f} right: more than a shaft is turned."
            )
            continue
        kept.append((down, right))
        edit = f"thrust line: {{down: {whole[0] * DEG:.1f} deg, right: {whole[1] * DEG:.1f} deg}}"
        amounts = (("down thrust added", float(down) * DEG, "deg"), ("right thrust added", float(right) * DEG, "deg"))
        change = f"down {round(down * DEG, 1) + 0.0:+.1f}, right {round(right * DEG, 1) + 0.0:+.1f} deg"
        made_for = 4 * labels.index(label) + 2 if label in [line.name for line in lines] else 2
        cure.options.append(Option(label, edit, change, amounts, made_for))
    if not kept:
        cure.reason, cure.notes = " ".join(cure.notes), []
        return [cure]
    planes = [plane, *(flyable(with_thrust(setup, *turn)) for turn in kept)]
    height = -float(level.x[L.POSITION + 2])
    levels = [level, *(level_trim(p, SPEED, height) for p in planes[1:])]
    for line in lines:
        _left_over(cure, line, planes, levels)
    low, full = lines[-1].states(plane, level)
    before = moments(plane, low.x, low.command)
    after = moments(plane, full.x, _surfaces_of(full, low))
    for column, turn, words in (
        (PITCH, "pitch", ("toward the canopy", "toward the gear")),
        (YAW, "yaw", ("right", "left")),
    ):
        parts = changes_by_part(before, after, column)
        cure.causes += [Cause(f"{turn} with power, {lines[-1].name}", part, m, *words) for part, m in parts]
    _price(cure, planes, levels)
    cure.notes.append(
        f"Change from {100 * LOW:.0f} % of the line's throttle to full at the same speed; the trims of level flight are set anew."
    )
    return [cure]


def _lines(cure: Cure, plane: Plane, level: Trim) -> list[Line]:
    lines = []
    for name, climb in (("45-degree up-line", 0.25 * math.pi), ("vertical up-line", 0.5 * math.pi)):
        try:
            if climb < 1.0:
                state = fastest_straight(plane, level, SPEED, climb, 0.0)
                line = Line(f"{name}, {speed_of(state):.0f} m/s", climb, speed_of(state), min(1.0, state.duty))
            else:
                line = Line(f"{name}, {SPEED:.0f} m/s", climb, SPEED, FULL)
            line.change(plane, level)
            lines.append(line)
        except NoTrim as stop:
            cure.notes.append(f"{name}: {stop}")
    return lines


def _turn(setup: Setup, plane: Plane, level: Trim, line: Line) -> np.ndarray:
    """Down and right thrust (rad) to add so that the line needs no change with power: Newton's rule, straight within a few deg."""
    turn = np.zeros(2)

    def change(turned: np.ndarray) -> np.ndarray:
        return line.change(flyable(with_thrust(setup, *turned)), level)

    for _ in range(2):
        here = change(turn)
        slopes = np.array([(change(turn + step) - here) / STEP for step in np.eye(2) * STEP]).T
        turn = turn - np.linalg.solve(slopes, here)
    return turn


def _left_over(cure: Cure, line: Line, planes: list[Plane], levels: list[Trim]) -> None:
    changes = [line.change(p, level) * DEG for p, level in zip(planes, levels)]
    for axis, name in enumerate(("elevator", "rudder")):
        values = tuple(float(c[axis]) for c in changes)
        cure.left.append(Row(f"{line.name}: {name} that power asks for", "deg", values, *WORDS[axis]))
    flown = []
    for plane, level in zip(planes, levels):
        low, full = line.states(plane, level)
        flown.append(hands_off(plane, low, full))
    turns = ("pitch", ("toward the canopy", "toward the gear")), ("yaw", ("right", "left"))
    for axis, (turn, words) in enumerate(turns):
        cure.left.append(
            Row(f"{line.name}: {turn}, trimmed low, flown full", "deg/s", tuple(f[axis] for f in flown), *words)
        )


def _surfaces_of(state: Trim, other: Trim) -> np.ndarray:
    """The command of `state` with the surfaces of `other`."""
    command = state.command.copy()
    command[: L.CONTROLS] = other.command[: L.CONTROLS]
    return command


def _price(cure: Cure, planes: list[Plane], levels: list[Trim]) -> None:
    """Level flight: the trim, and what opening the throttle asks for at once."""
    trims = [-level.elevator * DEG for level in levels], [-float(level.x[L.SERVO + L.RUDDER]) * DEG for level in levels]
    for name, values, words in zip(("elevator", "rudder"), trims, WORDS):
        cure.price.append(Row(f"level, {SPEED:.0f} m/s: {name} trim", "deg", tuple(values), *words))
    asked = []
    for plane, level in zip(planes, levels):
        opened = with_throttle(plane, level, FULL)
        for axis, name in zip(STICKS_ASKED, ("elevator", "rudder")):  # the throttle's own mixes act at once
            here, there = (
                float(mixed_by(plane, "throttle", plane.throttle_for_duty(duty))[axis]) for duty in (level.duty, FULL)
            )
            opened.command = moved(opened.command, name, angle(plane, axis, there) - angle(plane, axis, here))
        asked.append(control_to_still(plane, opened.x, opened.command, {"elevator": PITCH, "rudder": YAW}))
    for name, words in zip(("elevator", "rudder"), WORDS):
        values = tuple(a[name] * DEG for a in asked)
        cure.price.append(Row(f"level, throttle opened: {name} asked for", "deg", values, *words))
