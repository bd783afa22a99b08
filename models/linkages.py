"""Linkages from their part of a setup file: estimates for what was left out, and whether they give the throws.

Estimates, all common practice without a source, each listed in `Linkage.estimated` where it was used:

- horn offset 0 mm and arm neutral 0 deg: hole over the hinge line, arm square to the chord
- servo to hinge: four times the horn's height
- hinge height: such that the rod lies along the chord at neutral
- servo travel 60 deg each way; rod play 0.1 mm; gear play 0.3 deg
- rod side: below; of a rudder, right
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator

import numpy as np

from models.errors import Refused
from models.fields import Location, key_of
from models.linkage_schema import LinkageChange, LinkagePart, Linkages
from models.units import written
from sim import linkage as four_bar
from sim.description import Linkage

SERVO_TO_HINGE = 4.0  # horn heights
SERVO_TRAVEL = math.radians(60.0)
ROD_PLAY = 1.0e-4  # m
GEAR_PLAY = math.radians(0.3)
SHORTEST_ROD = 5.0e-3  # m, hole to hole
PUSHES = {"above": 1.0, "below": -1.0, "right": 1.0, "left": -1.0}
# Signs of a surface's angle (trailing edge down or left positive) for the names of its throws.
THROWS = {
    "aileron": (("up", -1.0), ("down", 1.0)),
    "elevator": (("up", -1.0), ("down", 1.0)),
    "rudder": (("left", 1.0), ("right", -1.0)),
}
LEAST, LARGEST, STEP = 3.0e-3, 0.160, 0.5e-3  # m, arms and horns that are tried for advice
WORDS = {
    "servo": "where the servo's travel ends",
    "horn": "where horn and rod come into line",
    "arm": "where arm and rod come into line",
}


def linkage(part: LinkagePart) -> Linkage:
    """The linkage of `part`, with the keys of its estimated values.  Raises `Refused` for one that cannot be built."""
    estimated: list[str] = []

    def fill(field: str, estimate: float) -> float:
        value = getattr(part, field)
        if value is None:
            estimated.append(key_of(field))
        return estimate if value is None else value

    neutral = fill("arm_neutral", 0.0)
    offset = fill("horn_offset", 0.0)
    height = fill("hinge_height", part.servo_arm * math.cos(neutral) - part.horn_height)
    if part.rod_length is not None:
        rise = height + part.horn_height - part.servo_arm * math.cos(neutral)
        if abs(rise) >= part.rod_length:
            least = written(math.ceil(1000.0 * abs(rise) + 1.0) / 1000.0, "length", "mm", 0)
            found = f"{written(part.rod_length, 'length', 'mm')}, too short to reach the horn"
            raise Refused(found, f"a rod of at least {least} at this hinge height")
        distance = math.sqrt(part.rod_length**2 - rise**2) + part.servo_arm * math.sin(neutral) - offset
    else:
        distance = fill("servo_to_hinge", SERVO_TO_HINGE * part.horn_height)
    side = getattr(part, "rod_side", None)
    if side is None:
        side = "below" if hasattr(part, "other_half") else "right"
        estimated.append("rod side")
    made = Linkage(
        arm=part.servo_arm,
        horn=part.horn_height,
        distance=distance,
        height=height,
        horn_offset=offset,
        neutral=neutral,
        travel=fill("servo_travel", SERVO_TRAVEL),
        push=PUSHES[side],
        rod_play=fill("rod_play", ROD_PLAY),
        gear_play=fill("gear_play", GEAR_PLAY),
        estimated=tuple(estimated),
    )
    _check_neutral(made)
    if getattr(part, "other_half", None) is not None:
        made = dataclasses.replace(made, other_half=linkage(changed(part, part.other_half)))
    return made


def changed(part: LinkagePart, change: LinkageChange) -> LinkagePart:
    """`part` with the values of `change` that are there; the other half is left out."""
    new = {name: value for name, value in change if value is not None and name in LinkageChange.model_fields}
    if "servo_to_hinge" in new:
        new.setdefault("rod_length", None)
    if "rod_length" in new:
        new.setdefault("servo_to_hinge", None)
    if hasattr(part, "other_half"):
        new["other_half"] = None
    return part.model_copy(update=new)


def largest_throws(made: Linkage) -> tuple[float, float, str, str]:
    """The surface's angles (rad) at both ends of the way, low and high, and what ends it there."""
    ends = four_bar.way(made)
    low, high = four_bar.surface_angle(made, np.array([ends.low, ends.high]))
    return float(low), float(high), ends.low_end, ends.high_end


def linkage_problems(linkages: Linkages, throws: dict[str, dict[str, float]]) -> Iterator[tuple[Location, Refused]]:
    """What is wrong with the linkages of a setup file, given its throws (rad) by control and side; where, and why."""
    for control, part in linkages:
        if part is None:
            continue
        here = ("linkages", control)
        both = [p for p in (part, getattr(part, "other_half", None)) if p is not None]
        twice = [p for p in both if p.rod_length is not None and p.servo_to_hinge is not None]
        if twice:
            where = here if twice[0] is part else (*here, "other half")
            yield (*where, "rod length"), Refused('"rod length" beside "servo to hinge"', "one of the two")
            continue
        for half, where in _halves(part, here):
            try:
                made = linkage(half)
            except Refused as refused:
                yield where, refused
                break
            name = "its linkage" if where == here else "the other half's linkage"
            wanted = {side: sign * throws[control][side] for side, sign in THROWS[control]}
            for side, throw in wanted.items():
                if not gives(half, throw):
                    yield ("throws", control, side), _beyond(half, made, throw, name, list(wanted.values()))


def _halves(part: LinkagePart, here: Location) -> Iterator[tuple[LinkagePart, Location]]:
    other = getattr(part, "other_half", None)
    yield changed(part, LinkageChange()), here
    if other is not None:
        yield changed(part, other), (*here, "other half")


def _check_neutral(made: Linkage) -> None:
    if four_bar.rod_length(made) < SHORTEST_ROD:
        found = f"a rod of {written(four_bar.rod_length(made), 'length', 'mm')} from hole to hole"
        raise Refused(found, f"at least {written(SHORTEST_ROD, 'length', 'mm', 0)}", "a larger servo to hinge")
    if not float(four_bar.rate(made, 0.0)) > 0.0:
        raise Refused(
            "an arm and a horn with which the rod is past its dead point at neutral",
            "holes that both stand off the rod's line on the same side at neutral",
            "less arm neutral or horn offset",
        )


def _beyond(part: LinkagePart, made: Linkage, throw: float, name: str, wanted: list[float]) -> Refused:
    """The refusal of a throw (rad, signed) that the linkage cannot give, with what would give all that are wanted."""
    low, high, low_end, high_end = largest_throws(made)
    most, end = (high, high_end) if throw > 0.0 else (-low, low_end)
    tenths = math.floor(math.degrees(most) * 10.0) / 10.0
    return Refused(
        f"{written(abs(throw), 'angle', 'deg')}, more than {name} gives",
        f"at most {tenths:.1f} deg, {WORDS[end]}",
        " or ".join(_what_gives(part, wanted)) or "arm and horn square to the rod at neutral, a servo with more travel",
    )


def _what_gives(part: LinkagePart, wanted: list[float]) -> Iterator[str]:
    """The least longer arm and the least shorter horn, in half millimetres, that give all of `wanted`, in words."""
    steps = np.arange(1, round(LARGEST / STEP))
    arms = STEP * (math.floor(part.servo_arm / STEP) + steps)
    horns = STEP * (math.ceil(part.horn_height / STEP) - steps)
    for field, tried, words in (("servo_arm", arms, "a servo arm"), ("horn_height", horns, "a horn height")):
        for value in tried[(tried >= LEAST) & (tried <= LARGEST)]:
            if all(gives(part.model_copy(update={field: float(value)}), throw) for throw in wanted):
                yield f"{words} of {written(float(value), 'length', 'mm')}"
                break


def gives(part: LinkagePart, throw: float) -> bool:
    """Whether a linkage can be built and gives the throw (rad, signed)."""
    try:
        low, high, _, _ = largest_throws(linkage(part))
    except Refused:
        return False
    return low <= throw <= high
