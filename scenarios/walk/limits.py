"""Abort limits: what a flight must not show, how much for which way of flying, and why.

A limit looks at one measure of one manoeuvre, flown to one side or both (the worse side counts).  What could not be
measured counts as broken, unless its reason is one of `harmless`: no stall is no height lost.  Numbers are common
practice without a published source unless one is named; each can be written otherwise (`with_limits`).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any, ClassVar

import numpy as np

from models.errors import OptionError, Refused, UserError, nearest, quoted
from models.fields import Document, Name, OneOf, Quantity, Text, Written
from models.reading import read_file
from models.units import written
from scenarios.accuracy import MODEL
from scenarios.measures import MEASURES, STYLES
from scenarios.measures.registry import DEG

PRACTICE = "common practice, no source"
LEAST, MOST, WITHIN = "at least", "at most", "within"  # which side of its limit a measure has to stay on
OFF = "off"
LN2 = math.log(2.0)


@dataclass(frozen=True)
class Limit:
    """`measure` of `manoeuvres` kept `side` of `value` (in the measure's unit), after `allowance` was taken off it.

    `written_as` is how people write the value, `dimension` of it the unit they use; `needed` says that nothing is
    sound where it is broken, else it is a figure that a plane may be unable to fly: broken at the start, it is set aside.
    `bound` is None where the limit is switched off.
    """

    name: str
    manoeuvres: tuple[str, ...]
    measure: str
    side: str
    bound: float | None
    written_as: Quantity
    unit: str
    about: str
    source: str
    retreat: str
    harmless: tuple[str, ...] = ()
    allowance: float = 0.0
    needed: bool = True

    @property
    def value(self) -> float:
        """The bound in the unit of the measure."""
        return _to_measure(self, self.bound)

    @property
    def text(self) -> str:
        """The bound as it is written."""
        if self.bound is None:
            return OFF
        if self.written_as.dimension == "number":
            return f"{self.bound:g}"
        return _tidy(written(self.bound, self.written_as.dimension, self.unit, 3))

    @property
    def measure_unit(self) -> str:
        """The unit that its headroom is in."""
        return MEASURES[self.measure].unit

    def headroom(self, values: np.ndarray) -> np.ndarray:
        """How far `values` of the measure stay off the limit, in its unit; negative is beyond it."""
        values = np.asarray(values, dtype=float) - self.allowance
        if self.side == LEAST:
            return values - self.value
        return self.value - (np.abs(values) if self.side == WITHIN else values)


def _to_measure(limit: Limit, bound: float) -> float:
    if limit.name == TIME_TO_DOUBLE:
        return LN2 / bound
    return bound * {"ratio": 100.0, "angle": DEG, "angular rate": DEG}.get(limit.written_as.dimension, 1.0)


def _tidy(text: str) -> str:
    """A number with its unit, without the noughts at its end."""
    return re.sub(r"\.?0+(?= |$)", "", text) if "." in text.split(" ")[0] else text


TIME_TO_DOUBLE = "time to double"
SPINS = ("spin-one-turn-right", "spin-one-turn-left")
EDGES = ("knife-edge-right", "knife-edge-left")
FREE = ("extreme", "slow 3D")

# name: manoeuvres, measure, side, (precision, extreme, slow 3D), how it is written, unit, about, source, sign, more
_TABLE: dict[str, tuple[Any, ...]] = {
    "static margin": (
        ("dive-test",), "stick_fixed_margin", LEAST, ("5 %", "3 %", "0 %"),
        Quantity("ratio", least="-30 %", most="40 %"), "%",
        f"neutral point behind the CG, of MAC, less the {100.0 * MODEL:.1f} % that this model may read too much",
        f"{PRACTICE}: below what is usually flown (8 to 15, 5 to 10, 0 to 6 %)",
        "nervous elevator; pitch overshoots", {"allowance": 100.0 * MODEL},
    ),
    TIME_TO_DOUBLE: (
        ("dive-test",), "pitch_growth_aft", MOST, ("6 s", "4 s", "2 s"),
        Quantity("duration", least="0.2 s", most="60 s"), "s",
        f"of anything that grows in pitch, hands off, the CG {100.0 * MODEL:.1f} % of MAC further aft than it is",
        "6 s: MIL-F-8785C 3.2.1.1, level 3 (from memory); less: " + PRACTICE,
        "cannot be left alone for a breath", {},
    ),
    "corrections": (
        ("slow-flight",), "corrections", MOST, ("4", "4", "4"), Quantity("number", least="0.1", most="50"), "",
        "stick turned back, a second, three sticks together, in light turbulence", PRACTICE,
        "constant correction", {},
    ),
    "stick work": (
        ("slow-flight",), "stick_work", MOST, ("1", "1", "1"), Quantity("number", least="0.01", most="50"), "",
        "stick travel a second, centre to stop 1, three sticks together, in light turbulence", PRACTICE,
        "constant correction", {},
    ),
    "dive": (
        ("dive-test",), "pitch_drift", LEAST, ("0 deg/s", "-2 deg/s", "-4 deg/s"),
        Quantity("angular rate", least="-200 deg/s", most="200 deg/s"), "deg/s",
        "pitch hands off in the dive test; negative tucks under", PRACTICE, "tucks under", {},
    ),
    "inverted": (
        ("inverted-flight",), "pitch_drift", LEAST, ("0 deg/s", "0 deg/s", "-5 deg/s"),
        Quantity("angular rate", least="-200 deg/s", most="200 deg/s"), "deg/s",
        "pitch with the elevator let go inverted; negative climbs", PRACTICE, "climbs inverted", {},
    ),
    "stall height": (
        ("stall",), "height_lost", MOST, ("15 m", "15 m", "15 m"), Quantity("length", least="0.1 m", most="300 m"), "m",
        "lost from the stall to level again", PRACTICE, "sinks on with the nose down",
        {"harmless": ("sank without stalling",)},
    ),
    "wing drop": (
        ("stall",), "wing_drop", WITHIN, ("45 deg", "60 deg", "60 deg"),
        Quantity("angle", least="1 deg", most="360 deg"), "deg",
        "in the level stall: further is the way into a spin", PRACTICE, "rolls over at the stall",
        {"harmless": ("sank without stalling",)},
    ),
    "spin recovery": (
        SPINS, "turns_to_stop", MOST, ("1", "1", "1"), Quantity("number", least="0.1", most="20"), "turns",
        "after a spin of one turn, sticks let go; no spin is no fault", PRACTICE, "recovery over one turn",
        {"harmless": ("not a spin",)},
    ),
    "knife edge": (
        EDGES, "rudder_left", LEAST, ("10 %", "10 %", "10 %"), Quantity("ratio", least="0 %", most="95 %"), "%",
        "rudder left over; what cannot be held has none", PRACTICE, "sinks or tucks with full rudder",
        {"needed": False},
    ),
    "hover": (
        ("hover",), "elevator_left", LEAST, (None, "30 %", "30 %"), Quantity("ratio", least="0 %", most="95 %"), "%",
        "elevator left over in the hover", PRACTICE, "nose falls out of the hover", {"needed": False},
    ),
}  # fmt: skip
NAMES = tuple(_TABLE)

# flown at every step, in the order that they are flown on the field (common practice, no source)
ORDER = ("slow-flight", "level-trim", "dive-test", "inverted-flight", "stall", *SPINS, *EDGES, "hover")


def limits_of(way: str) -> tuple[Limit, ...]:
    """The limits of a way of flying, one of `STYLES`."""
    found = []
    for name, (manoeuvres, measure, side, values, kind, unit, about, source, sign, more) in _TABLE.items():
        value = values[STYLES.index(way)]
        if value is not None:
            bound = kind.read(value)
            found.append(Limit(name, manoeuvres, measure, side, bound, kind, unit, about, source, sign, **more))
    return tuple(found)


def manoeuvres_of(limits: Iterable[Limit]) -> tuple[str, ...]:
    """What has to be flown for `limits`, level trim too, in the order of the field."""
    asked = {name for limit in limits if limit.bound is not None for name in limit.manoeuvres} | {"level-trim"}
    return tuple(name for name in ORDER if name in asked)


# ---- other numbers ---------------------------------------------------------------------------------------------------


class Bounds(Written):
    """Limits by name, as a group."""

    description = f'limits by name, each a value or "{OFF}": ' + ", ".join(NAMES)

    @property
    def sample(self) -> str:
        return "{static margin: 5 %}"

    def read(self, value: object) -> dict[str, str]:
        if not isinstance(value, dict) or not value:
            raise Refused(quoted(value), self.description, self.sample)
        for name, text in value.items():
            bound_of(str(name), text)
        return {str(name): str(text) for name, text in value.items()}

    def json_schema(self) -> dict[str, Any]:
        names = {name: {"type": ["string", "number"]} for name in NAMES}
        return {"type": "object", "properties": names, "additionalProperties": False, "description": self.description}


class LimitsFile(Document):
    """A file of abort limits."""

    KIND: ClassVar[str] = "limits"

    kind: Annotated[str, OneOf("limits")]
    name: Name
    about: Annotated[str, Text(200, least=0)] = ""
    limits: Annotated[dict[str, str], Bounds()]


def bound_of(name: str, text: object) -> float | None:
    """The bound that `text` stands for, in SI; None for "off".  Raises `Refused`."""
    if name not in _TABLE:
        raise Refused(quoted(name), "a limit: " + ", ".join(NAMES), " or ".join(nearest(name, NAMES)))
    if isinstance(text, str) and text.strip() == OFF:
        return None
    sample = next(value for value in _TABLE[name][3] if value is not None)
    try:
        return _TABLE[name][4].read(text)
    except Refused as refused:
        raise Refused(f"{name} of {refused.found}", f"{refused.allowed}, or {OFF}", f"{name}: {sample}") from None


def with_limits(limits: tuple[Limit, ...], file: str | None, options: Iterable[str]) -> tuple[Limit, ...]:
    """`limits` with the bounds of a `file` and then of `options` such as "static margin: 5 %".  Raises `UserError`."""
    bounds: dict[str, float | None] = {}
    if file is not None:
        bounds |= {name: bound_of(name, text) for name, text in read_file(Path(file), LimitsFile).value.limits.items()}
    wrong, seen = [], set()
    for option in options:
        name, colon, text = option.replace("\u2212", "-").partition(":")
        name = " ".join(name.split())
        try:
            if not colon:
                raise Refused(quoted(option), "NAME: value", '"static margin: 5 %"')
            if name in seen:
                raise Refused(f"{quoted(name)} a second time", "each limit once")
            bounds[name] = bound_of(name, text.strip())
            seen.add(name)
        except Refused as refused:
            wrong.append(str(OptionError("--limit", refused)))
    known = {limit.name for limit in limits}
    wrong += [
        str(OptionError("--limit", Refused(quoted(name), "a limit of this way of flying: " + ", ".join(known))))
        for name in bounds
        if name not in known
    ]
    if wrong:
        raise UserError("\n".join(wrong))
    found = tuple(
        replace(limit, bound=bounds[limit.name], source="as asked for") if limit.name in bounds else limit
        for limit in limits
    )
    if all(limit.bound is None for limit in found):
        raise OptionError("--limit", Refused("every limit off", "at least one that holds"))
    return found
