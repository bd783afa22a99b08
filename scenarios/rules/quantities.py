"""A measure's number as people write it ("5 deg", "2.5 m", "1.5 turns"), in the unit of that measure."""

from __future__ import annotations

import re

from models.errors import Refused, quoted
from models.units import DIMENSIONS, in_unit, parse

LONGEST = 60  # characters
DIMENSION = {  # of the units that `models.units` knows
    "deg": "angle",
    "deg/s": "angular rate",
    "%": "ratio",
    "mm": "length",
    "m": "length",
    "m/s": "speed",
    "s": "duration",
    "g": "acceleration",
    "kg": "mass",
    "Hz": "frequency",
    "N m": "torque",
    "": "number",
}
OWN = {  # units that only measures have: the first spelling is offered
    "turns": ("turns", "turn"),
    "1/s": ("1/s", "/s"),
    "deg/s per deg": ("deg/s per deg",),
    "% half-span": ("% half-span", "%"),
    "kg/m2": ("kg/m2",),
    "kg m2": ("kg m2",),
}
_NUMBER = re.compile(r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?)\s*(.*)")


def read_quantity(text: str, unit: str) -> float:
    """The number of `text` in `unit`, a measure's.  Raises `Refused` for another kind of unit, or none where one is needed."""
    return _of_own_unit(text, unit) if unit in OWN else _of_dimension(text, unit)


def allowed(unit: str) -> str:
    """What may stand for a number in `unit`, in words."""
    return f"a number in {OWN[unit][0]}" if unit in OWN else DIMENSIONS[DIMENSION[unit]].in_words


def sample(unit: str) -> str:
    """A number that may stand for one in `unit`."""
    return f"2 {OWN[unit][0] if unit in OWN else unit}".strip()


def _of_dimension(text: str, unit: str) -> float:
    dimension = DIMENSION[unit]
    if dimension == "ratio":  # "60" would be taken for 6000 %
        match = _NUMBER.fullmatch(" ".join(text.split()[:4]))
        if match and not match[2]:
            raise Refused(f"{quoted(text)}, a number without a unit", "a share in %", f'"{match[1]} %"')
    try:
        value = parse(text, dimension)
    except Refused as refused:
        advice = f'"{sample(unit)}"' if refused.advice == f'"{DIMENSIONS[dimension].sample}"' else refused.advice
        raise Refused(refused.found, refused.allowed, advice) from None
    if unit:
        value = in_unit(value, dimension, unit)
    return float(f"{value:.12g}")  # the way to SI and back is not quite one: "15 deg" is 15


def _of_own_unit(text: str, unit: str) -> float:
    plain = " ".join(text[: LONGEST + 1].replace("\u2212", "-").split())
    match = _NUMBER.fullmatch(plain)
    if match is None or len(text) > LONGEST:
        raise Refused(quoted(text), allowed(unit), f'"{sample(unit)}"')
    if match[2] in OWN[unit]:
        return float(match[1])
    if not match[2]:
        found = f"{quoted(text)}, a number without a unit"
    else:
        kinds = [d.a_name for d in DIMENSIONS.values() if match[2] in d.spellings]
        found = f"{quoted(text)}, which is {kinds[0]}" if kinds else f"{quoted(text)}, with another unit"
    spelling = OWN[unit][-1] if unit == "turns" and match[1] in ("1", "-1") else OWN[unit][0]
    raise Refused(found, allowed(unit), f'"{match[1]} {spelling}"')
