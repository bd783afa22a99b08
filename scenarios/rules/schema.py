"""The schema of a rule file: what is measured, its limit, for whom, why, how strictly and how surely.

A rule reads from the top: its measure is looked up in its manoeuvre and its limit in the unit of its measure, so that one
reading finds the faults of all three.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, ClassVar

from pydantic import Field
from pydantic_core import core_schema

from models.errors import Refused, nearest, quoted, unknown_name
from models.fields import Document, Group, Location, Name, OneOf, Quantity, Text, Written
from models.loader import known_setups
from scenarios.at_rest import BALANCE, BALANCE_MEASURES, KNOWN
from scenarios.manoeuvres import known_manoeuvres, load_manoeuvre
from scenarios.measures import MEASURES, STYLES, Measure
from scenarios.outcomes import JUDGES
from scenarios.rules.limits import LEANING, PLAIN, Limit, read_limit
from scenarios.rules.quantities import read_quantity, sample
from scenarios.schema import ManoeuvreFile

UNSOURCED = "common practice, no source"
SUCCEEDS, FAILS = "succeeds", "does not succeed"
MUST, SHOULD = "must", "should"


def is_path(text: str) -> bool:
    """Whether a name is that of a file of one's own, one side of it perhaps, as in "mine.yaml-left"."""
    return both_sides(text.lower()).endswith((".yaml", ".yml")) or "/" in text or "\\" in text


def both_sides(name: str) -> str:
    """The name of a manoeuvre without its side."""
    return name.removesuffix("-right").removesuffix("-left")


@cache
def built_in(name: str) -> ManoeuvreFile | None:
    """The built-in manoeuvre of that name, its right side where it is flown both ways and none is said; None if there is none."""
    stem = both_sides(name)
    folder = resources.files("scenarios") / "manoeuvres"
    with resources.as_file(folder) as path:
        if not (Path(path) / f"{stem}.yaml").is_file():
            return None
    found = load_manoeuvre(stem)[0]  # the right side, where there are two
    return found if name == stem or found.sides == "both" else None


class _Looking(Written):
    """A field whose reading looks at the fields above it: `read_after(value, above)`."""

    def read_after(self, value: object, above: dict[str, Any]) -> Any:
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(lambda value, info: self.read_after(value, info.data))


class ManoeuvreName(Written):
    """A built-in manoeuvre, one side of it, the path of one's own, or "balance"."""

    description = (
        'a built-in manoeuvre (both sides, or one, as in "knife-edge-left"), a path that ends in .yaml, or "balance"'
    )

    @property
    def sample(self) -> str:
        return "upline-45"

    def read(self, value: object) -> str:
        text = value.strip() if isinstance(value, str) else ""
        if text == BALANCE or (text and (is_path(text) or built_in(text))):
            return text
        known = [name for name, _ in known_manoeuvres()]
        files = sorted({BALANCE, *(both_sides(name) for name in known)})
        allowed = unknown_name("manoeuvre", text, files).allowed
        raise Refused(quoted(value), allowed, " or ".join(nearest(text, sorted({*files, *known}))))

    def json_schema(self) -> dict[str, Any]:
        return {"type": "string", "description": self.description}


class MeasureName(_Looking):
    """A measure of the rule's manoeuvre."""

    description = "a measure of the manoeuvre, or of the balance"

    @property
    def sample(self) -> str:
        return "pitch_drift"

    def read_after(self, value: object, above: dict[str, Any]) -> str:
        text, of = value.strip() if isinstance(value, str) else "", above.get("of")
        own = measures_of(of, built_in(of)) if of and not is_path(of) else KNOWN
        if text in own:
            return text
        raise unknown_measure(text, of if own is not KNOWN else None, own)

    def json_schema(self) -> dict[str, Any]:
        return {"type": "string", "enum": sorted(KNOWN), "description": self.description}


def measures_of(of: str, manoeuvre: ManoeuvreFile | None) -> dict[str, Measure]:
    """The measures of a rule's manoeuvre by name; those of the balance where nothing is flown."""
    if manoeuvre is None:
        return BALANCE_MEASURES
    return {name: MEASURES[name] for name in manoeuvre.measures}


def unknown_measure(name: str, of: str | None, own: dict[str, Measure]) -> Refused:
    """The refusal of a measure that the manoeuvre `of` does not take."""
    found = quoted(name)
    if of is not None and name in KNOWN:
        found += ", which is not measured there"
    where = f" of {of}" if of is not None else ""
    return Refused(found, f"a measure{where}: {', '.join(own)}", " or ".join(nearest(name, own)))


class SetupName(Written):
    """A built-in setup or the path of a setup file."""

    description = "the setup that is compared with: a built-in name, or a path beside the rule file that ends in .yaml"

    @property
    def sample(self) -> str:
        return "precision"

    def read(self, value: object) -> str:
        text = value.strip() if isinstance(value, str) else ""
        if text and is_path(text):
            return text
        known = [name for name, _ in known_setups()]
        if text not in known:
            refused = unknown_name("setup", text, known)
            raise Refused(quoted(value), refused.allowed, refused.advice)
        return text

    def json_schema(self) -> dict[str, Any]:
        return {"type": "string", "description": self.description}


class LimitText(_Looking):
    """A limit in the unit of the rule's measure."""

    description = f"{PLAIN}; {LEANING}"

    @property
    def sample(self) -> str:
        return "at most 5 deg either way"

    def read_after(self, value: object, above: dict[str, Any]) -> Limit:
        return read_limit(value, unit_of(above), above.get("against") is not None or "against" not in above)

    def json_schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": "^ *(at least|at most|between) .+$", "description": self.description,
                "examples": [self.sample, "between 8 % and 15 %", "at least 90 % of it"]}  # fmt: skip


class DriftText(_Looking):
    """A number in the unit of the rule's measure, without a sign."""

    description = "how far the measure may be off its baseline"

    @property
    def sample(self) -> str:
        return "0.5 deg"

    def read_after(self, value: object, above: dict[str, Any]) -> float | None:
        unit = unit_of(above)
        if unit is None:
            return None  # the measure is faulty, and that is said there
        number = read_quantity(value if isinstance(value, str) else "", unit)
        if number < 0.0:
            raise Refused(quoted(value), "a number from 0", f'"{sample(unit)}"')
        return number

    def json_schema(self) -> dict[str, Any]:
        return {"type": "string", "description": self.description, "examples": [self.sample]}


def unit_of(above: dict[str, Any]) -> str | None:
    """The unit of a rule's measure; None where that is missing or faulty."""
    name = above.get("measure")
    return KNOWN[name].unit if name else None


class Ways(Written):
    """Some of the ways of flying, as a list or one of them."""

    description = "ways of flying that the rule is for (all of them where left out): " + ", ".join(STYLES)

    @property
    def sample(self) -> str:
        return "[precision]"

    def read(self, value: object) -> tuple[str, ...]:
        words = value if isinstance(value, list) else [value]
        if not words:
            raise Refused("an empty list", ", ".join(STYLES), "leave the line out for all of them")
        for word in words:
            if word not in STYLES:
                near = nearest(word, STYLES) if isinstance(word, str) else []
                raise Refused(quoted(word), ", ".join(STYLES), " or ".join(near))
        return tuple(dict.fromkeys(words))

    def json_schema(self) -> dict[str, Any]:
        one = {"enum": list(STYLES)}
        return {"anyOf": [one, {"type": "array", "items": one, "minItems": 1}], "description": self.description}


class RulePart(Group):
    """One rule: a measure and its limit, or an outcome."""

    name: Annotated[str, Text(40, description="what the rule is called in tables and reports")]
    of: Annotated[str, ManoeuvreName()]
    measure: Annotated[str, MeasureName()] | None = None
    against: Annotated[str, SetupName()] | None = None
    limit: Annotated[Limit, LimitText()] | None = None
    outcome: Annotated[
        str, OneOf(SUCCEEDS, FAILS, description="whether the flight must be the manoeuvre, instead of a measure")
    ] | None = None  # fmt: skip
    for_: Annotated[tuple[str, ...], Ways()] = STYLES
    severity: Annotated[str, OneOf(MUST, SHOULD, description="must: the check fails; should: a warning")] = MUST
    sure: Annotated[
        float, Quantity("ratio", over="0 %", most="100 %", description="share of flights with what nobody measures "
                        "exactly a little off that must hold; left out: the plane as written alone")
    ] | None = None  # fmt: skip
    drift: Annotated[float, DriftText()] | None = None
    reason: Annotated[str, Text(300, description="why, in a sentence a pilot understands")]
    source: Annotated[str, Text(200, description="where the limit comes from")] = UNSOURCED


class RulesFile(Document):
    """A set of rules that a setup is checked by."""

    KIND: ClassVar[str] = "rules"

    kind: Annotated[str, OneOf("rules")]
    name: Name
    about: Annotated[str, Text(200, least=0)] = ""
    rules: Annotated[tuple[RulePart, ...], Field(min_length=1, max_length=500)]

    def cross_check(self) -> Iterator[tuple[Location, Refused]]:
        seen: dict[str, int] = {}
        for i, rule in enumerate(self.rules):
            at: Location = ("rules", i)
            if rule.name in seen:
                yield (*at, "name"), Refused(f"{quoted(rule.name)} a second time", "a name that no other rule has")
            seen[rule.name] = i
            yield from ((at + place, refused) for place, refused in _of_one(rule))


def _of_one(rule: RulePart) -> Iterator[tuple[Location, Refused]]:
    """What does not go together in a rule, and where."""
    if (rule.measure is None) == (rule.outcome is None):
        found = "neither" if rule.measure is None else "both"
        yield (), Refused(f'{found} "measure" {"nor" if found == "neither" else "and"} "outcome"', "one of the two")
        return
    if rule.measure is not None and rule.limit is None:
        unit = KNOWN[rule.measure].unit
        yield (), Refused("a measure without a limit", PLAIN, f'add "limit: at most {sample(unit)}"')
    if rule.outcome is not None:
        for key in ("limit", "against", "drift"):
            if getattr(rule, key) is not None:
                yield (key,), Refused(f'"{key}" beside "outcome"', f'"{key}" with a measure')
        if rule.sure is not None:
            yield ("sure",), Refused('"sure" beside "outcome"', '"sure" with a measure')
        name = both_sides(rule.of)
        if not is_path(rule.of) and name not in JUDGES:
            known = sorted(JUDGES)
            found = f"{quoted(rule.of)}, whose outcome nothing here tells"
            yield ("of",), Refused(found, ", ".join(known), " or ".join(nearest(name, known)))
