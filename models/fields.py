"""Types for the fields of a file: pydantic annotations that read text as people write it and refuse in plain words.

Use them in a model as `chord: Length`, or with bounds as
`chord: Annotated[float, Quantity("length", over="0 mm", most="3 m")]`.  Every type
carries its own JSON Schema.  A file's scalars arrive here as text, never as numbers that
YAML guessed, so "yes", "1:30" and "0x10" mean what they say.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import BaseModel, ConfigDict
from pydantic_core import core_schema

from models.errors import Refused, nearest, quoted
from models.units import DIMENSIONS, parse, parse_propeller

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler

Location = tuple[str | int, ...]


class Written:
    """Base of the types: `read` turns what stands in the file into a value, or raises `Refused`."""

    description = ""
    measured: ClassVar[bool] = False  # whether it is a number of the plane, which "~" can mark as an estimate

    def read(self, value: object) -> Any:
        raise NotImplementedError

    @property
    def sample(self) -> str:
        """A value that would be accepted, as it stands in a file."""
        raise NotImplementedError

    def json_schema(self) -> dict[str, Any]:
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {**self.json_schema(), "measured": True} if self.measured else self.json_schema()


@dataclass(frozen=True)
class Quantity(Written):
    """A number with a unit of one dimension, in SI; bounds are written with their unit.

    `over` and `under` are exclusive, `least` and `most` inclusive; None is no bound.
    """

    measured: ClassVar[bool] = True

    dimension: str
    least: str | None = None
    most: str | None = None
    over: str | None = None
    under: str | None = None
    description: str = ""

    @property
    def sample(self) -> str:
        return self.most if self.most and not self.least and not self.over else DIMENSIONS[self.dimension].sample

    def bounds_in_words(self) -> str:
        low = f"over {self.over}" if self.over else f"from {self.least}" if self.least else ""
        if self.most:
            return f"{low} to {self.most}" if self.least else f"{low} and at most {self.most}".removeprefix(" and ")
        high = f"under {self.under}" if self.under else ""
        return " and ".join(filter(None, (low, high)))

    @property
    def words(self) -> str:
        """What may be written, in words."""
        bounds = self.bounds_in_words()
        return DIMENSIONS[self.dimension].in_words + (f", {bounds}" if bounds else "")

    def read(self, value: object) -> float:
        try:
            number = parse(value, self.dimension)
        except Refused as refused:
            bounds = self.bounds_in_words()
            allowed = f"{refused.allowed}, {bounds}" if bounds else refused.allowed
            raise Refused(refused.found, allowed, refused.advice) from None
        if not self._within(number):
            advice = ""
            if self.dimension == "ratio" and isinstance(value, str) and "%" not in value:
                advice = f'"{value.strip()} %", if a percentage was meant'
            raise Refused(quoted(value), f"{DIMENSIONS[self.dimension].a_name} {self.bounds_in_words()}", advice)
        return number

    def _within(self, number: float) -> bool:
        def si(bound: str | None) -> float | None:
            return None if bound is None else parse(bound, self.dimension)

        least, most, over, under = si(self.least), si(self.most), si(self.over), si(self.under)
        if least is not None and most is not None and least > most:
            least, most = most, least  # a unit that divides: the longer time is the lower speed
        return not (
            (least is not None and number < least)
            or (most is not None and number > most)
            or (over is not None and number <= over)
            or (under is not None and number >= under)
        )

    def json_schema(self) -> dict[str, Any]:
        kind = DIMENSIONS[self.dimension]
        description = f"{self.description}: {self.words}" if self.description else self.words
        if not kind.spellings:
            return {"type": "number", "description": description}
        text = {"type": "string", "pattern": kind.pattern}
        shape: dict[str, Any] = {"anyOf": [text, {"type": "number"}]} if kind.bare else dict(text)
        return {**shape, "description": description, "examples": [kind.sample]}


@dataclass(frozen=True)
class Count(Written):
    """A whole number from `least` to `most`."""

    least: int
    most: int
    description: str = ""
    measured: bool = False

    @property
    def sample(self) -> str:
        return str(self.least)

    def read(self, value: object) -> int:
        text = value.strip() if isinstance(value, str) else str(value) if type(value) is int else ""
        allowed = f"a whole number from {self.least} to {self.most}"
        if not re.fullmatch(r"[+-]?[0-9]{1,9}", text) or not self.least <= int(text) <= self.most:
            raise Refused(quoted(value), allowed)
        return int(text)

    def json_schema(self) -> dict[str, Any]:
        return {"type": "integer", "minimum": self.least, "maximum": self.most, "description": self.description}


@dataclass(frozen=True)
class YesNo(Written):
    """A yes or a no."""

    description: str = ""

    @property
    def sample(self) -> str:
        return "yes"

    def read(self, value: object) -> bool:
        if isinstance(value, bool):
            return value
        word = value.strip().lower() if isinstance(value, str) else ""
        if word in ("yes", "true"):
            return True
        if word in ("no", "false"):
            return False
        raise Refused(quoted(value), "yes or no")

    def json_schema(self) -> dict[str, Any]:
        # "yes" is a truth value to some YAML readers and a word to others
        words = [{"type": "boolean"}, {"enum": ["yes", "no"]}]
        return {"anyOf": words, "description": self.description}


class OneOf(Written):
    """One of a few words."""

    def __init__(self, *words: str, description: str = "") -> None:
        self.words = words
        self.description = description

    @property
    def sample(self) -> str:
        return self.words[0]

    def read(self, value: object) -> str:
        if isinstance(value, str) and value.strip() in self.words:
            return value.strip()
        near = nearest(value, self.words) if isinstance(value, str) else []
        raise Refused(quoted(value), ", ".join(self.words), " or ".join(near))

    def json_schema(self) -> dict[str, Any]:
        return {"type": "string", "enum": list(self.words), "description": self.description}


@dataclass(frozen=True)
class Text(Written):
    """One line of printable text of `least` to `longest` characters."""

    longest: int
    least: int = 1
    description: str = ""

    @property
    def sample(self) -> str:
        return "some words"

    def read(self, value: object) -> str:
        text = value.strip() if isinstance(value, str) else None
        if text is None or len(text) < self.least:
            raise Refused(quoted(value), f"text of {self.least} to {self.longest} characters")
        if len(text) > self.longest:
            raise Refused(f"{quoted(text)} ({len(text)} characters)", f"text of at most {self.longest} characters")
        if not text.isprintable():
            raise Refused(quoted(text), "text on one line without control characters")
        return text

    def json_schema(self) -> dict[str, Any]:
        limits = {"minLength": self.least, "maxLength": self.longest}
        return {"type": "string", **limits, "description": self.description}


@dataclass(frozen=True)
class PlainName(Written):
    """A name of lower-case letters, digits and hyphens."""

    description: str = ""
    longest: ClassVar[int] = 60

    @property
    def sample(self) -> str:
        return "my-plane"

    def read(self, value: object) -> str:
        if isinstance(value, str) and len(value) <= self.longest and re.fullmatch(r"[a-z0-9-]+", value):
            return value
        near = re.sub(r"[^a-z0-9]+", "-", value[: self.longest].lower()).strip("-") if isinstance(value, str) else ""
        allowed = f"a name of lower-case letters a-z, digits and hyphens, at most {self.longest} characters"
        raise Refused(quoted(value), allowed, near)

    def json_schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": "^[a-z0-9-]+$", "maxLength": self.longest, "description": self.description}


class PropellerSize(Written):
    """(diameter m, pitch m, blades) from "21x13" or "21x13x3"."""

    measured: ClassVar[bool] = True

    description = "diameter x pitch in inches, and the blade count if it is not 2"

    @property
    def sample(self) -> str:
        return "21x13"

    def read(self, value: object) -> tuple[float, float, int]:
        return parse_propeller(value)

    def json_schema(self) -> dict[str, Any]:
        number = r"[0-9]{1,3}(\.[0-9]{1,3})?"
        pattern = rf"^ *{number} ?[xX\u00d7] ?{number}( ?[xX\u00d7] ?[0-9]{{1,2}})? *$"
        return {"type": "string", "pattern": pattern, "description": self.description, "examples": ["21x13", "21x13x3"]}


class CentreOfGravity(Written):
    """(fraction, "mac") from "33 %", or (m, "m") behind the wing root leading edge from "150 mm"."""

    measured: ClassVar[bool] = True
    description = "share of the mean aerodynamic chord (33 %) or distance behind the wing root leading edge (150 mm)"

    @property
    def sample(self) -> str:
        return "33 %"

    def read(self, value: object) -> tuple[float, str]:
        allowed = (
            'a share of the mean aerodynamic chord from -50 % to 150 %, such as "33 %",'
            ' or a distance behind the wing root leading edge from -1 m to 2 m, such as "150 mm"'
        )
        text = value.strip() if isinstance(value, str) else ""
        try:
            if text.endswith("%"):
                fraction = parse(text, "ratio")
                if -0.5 <= fraction <= 1.5:
                    return fraction, "mac"
            else:
                distance = parse(text, "length")
                if -1.0 <= distance <= 2.0:
                    return distance, "m"
        except Refused as refused:
            found = refused.found if text else quoted(value)
            advice = refused.advice
            if re.fullmatch(r"[+-]?[0-9.]{1,9}", text):
                advice = f'"{text} mm" or "{text} %"'
            elif advice == f'"{DIMENSIONS["length"].sample}"':
                advice = '"33 %" or "150 mm"'
            raise Refused(found, allowed, advice) from None
        raise Refused(quoted(value), allowed)

    def json_schema(self) -> dict[str, Any]:
        pattern = DIMENSIONS["length"].pattern + "|^[^a-z]*[0-9.] *% *$"
        return {"type": "string", "pattern": pattern, "description": self.description, "examples": ["33 %", "150 mm"]}


Length = Annotated[float, Quantity("length")]
Mass = Annotated[float, Quantity("mass")]
Angle = Annotated[float, Quantity("angle")]
Ratio = Annotated[float, Quantity("ratio")]
Number = Annotated[float, Quantity("number")]
Area = Annotated[float, Quantity("area")]
Force = Annotated[float, Quantity("force")]
Torque = Annotated[float, Quantity("torque")]
Duration = Annotated[float, Quantity("duration")]
Speed = Annotated[float, Quantity("speed")]
AngularRate = Annotated[float, Quantity("angular rate")]
Acceleration = Annotated[float, Quantity("acceleration")]
Frequency = Annotated[float, Quantity("frequency")]
Flag = Annotated[bool, YesNo()]
Name = Annotated[str, PlainName()]


def key_of(field_name: str) -> str:
    """The key in a file for a field's name in Python: spaces for underscores, `from` for `from_`."""
    return field_name.rstrip("_").replace("_", " ")


class Group(BaseModel):
    """Base of every group of keys in a file: unknown keys are refused, keys have spaces."""

    model_config = ConfigDict(extra="forbid", frozen=True, alias_generator=key_of)


class Document(Group):
    """Base of a whole file.  `KIND` is what stands in its `kind:` line, `FORMAT` the version that is read.

    Where `ESTIMATES`, a number may be marked as an estimate: "~620 g".
    """

    KIND: ClassVar[str] = ""
    FORMAT: ClassVar[int] = 1
    ESTIMATES: ClassVar[bool] = False

    format: Annotated[int, Count(1, 1, "version of this file format")]

    def cross_check(self) -> Iterator[tuple[Location, Refused]]:
        """What is wrong between fields that are each right: where (keys and list indices), and why."""
        return iter(())
