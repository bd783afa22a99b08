"""Rule files by built-in name or by path, their manoeuvres and the setups they compare with read as well."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

from models.errors import OptionError, Problem, Refused, UserError, UserFileError, quoted, unknown_name
from models.loader import Loaded, load
from models.reading import Read, read_file, read_text
from scenarios.at_rest import BALANCE
from scenarios.manoeuvres import SIDES, load_manoeuvre, one_side
from scenarios.measures import STYLES, Measure
from scenarios.outcomes import JUDGES
from scenarios.rules.schema import KNOWN, RulePart, RulesFile, both_sides, is_path, measures_of, unknown_measure
from scenarios.schema import ManoeuvreFile


@dataclass(frozen=True)
class Flight:
    """A manoeuvre that is flown, one side of it, and the `text` of its file."""

    manoeuvre: ManoeuvreFile
    text: str

    @property
    def name(self) -> str:
        return self.manoeuvre.name


@dataclass(frozen=True)
class Rule:
    """A rule ready to judge by: what is written in it (`part`), of which file (`file`), one flight (None: the balance).

    `other` is the setup that it compares with; `name` has the side in it where both are flown.
    """

    part: RulePart
    name: str
    file: str
    flight: Flight | None
    other: Loaded | None = None

    @property
    def of(self) -> str:
        """The name of what is flown."""
        return self.flight.name if self.flight else BALANCE

    @property
    def measure(self) -> Measure | None:
        """The measure that is looked at; None where it is the outcome."""
        return KNOWN[self.part.measure] if self.part.measure else None


def rules_of_way(way: str) -> str:
    """The name of the built-in rules of a way of flying."""
    return way.replace(" ", "-").lower()


def known_rules() -> list[tuple[str, str]]:
    """(name, about) of every built-in rule file, a way of flying each."""
    return [(name, built_in_rules(name).value.about) for name in _built_in()]


def load_rules(name_or_path: str) -> tuple[Rule, ...]:
    """The rules of a built-in name or of a file, in the order that they stand in.  Raises `UserError`."""
    text = str(name_or_path)
    if is_path(text):
        read, folder = read_file(Path(text), RulesFile), Path(text).parent
    else:
        if text not in _built_in():
            raise UserError(f"rules: {unknown_name('rule file', text, _built_in())}")
        read, folder = built_in_rules(text), None
    rules: list[Rule] = []
    problems: list[Problem] = []
    for index, part in enumerate(read.value.rules):
        try:
            rules += _rules_of(read, folder, ("rules", index), part)
        except UserFileError as error:
            problems += error.problems
    if problems:
        raise UserFileError(problems)
    return tuple(rules)


def load_all(names: Iterable[str]) -> tuple[Rule, ...]:
    """The rules of several files together.  Raises `UserError` where two rules, or two manoeuvres, share a name."""
    rules = [rule for name in dict.fromkeys(names) for rule in load_rules(name)]
    seen: dict[str, str] = {}
    texts: dict[str, str] = {}
    for rule in rules:
        if rule.name in seen:
            files = f"in {seen[rule.name]} and in {rule.file}"
            raise OptionError("--rules", Refused(f"{quoted(rule.name)} {files}", "different names"))
        seen[rule.name] = rule.file
        if rule.flight and texts.setdefault(rule.of, rule.flight.text) != rule.flight.text:
            raise OptionError(
                "--rules",
                Refused(f"two manoeuvres of the name {quoted(rule.of)}", "different names for different files"),
            )
    return tuple(rules)


def _built_in() -> dict[str, Any]:
    """The built-in files by name, as readable resources: one for each way of flying."""
    folder = resources.files("scenarios") / "rule_files"
    return {name: folder / f"{name}.yaml" for name in map(rules_of_way, STYLES)}


def built_in_rules(name: str) -> Read[RulesFile]:
    """The built-in rule file of that name."""
    return read_text(_built_in()[name].read_text(encoding="utf-8"), f"{name}.yaml", RulesFile)


def _rules_of(read: Read[RulesFile], folder: Path | None, at: tuple[Any, ...], part: RulePart) -> Iterator[Rule]:
    """The rules that one part stands for: one for each side that is flown.  Raises `UserFileError`."""
    flights = [None] if part.of == BALANCE else _flights(read, folder, (*at, "of"), part.of)
    other = _other(read, folder, (*at, "against"), part.against) if part.against else None
    for flight in flights:
        if flight and part.measure and part.measure not in flight.manoeuvre.measures:
            own = measures_of(part.of, flight.manoeuvre)
            raise read.error((*at, "measure"), unknown_measure(part.measure, flight.name, own))
        if flight and part.outcome and both_sides(flight.name) not in JUDGES:
            found = f"{quoted(flight.name)}, whose outcome nothing here tells"
            raise read.error((*at, "of"), Refused(found, "a manoeuvre of the name " + ", ".join(sorted(JUDGES))))
        side = next((side for side in SIDES if flight and flight.name.endswith(f"-{side}")), "")
        yield Rule(
            part, f"{part.name}, {side}" if len(flights) > 1 else part.name, read.tree.sources[0].file, flight, other
        )


def _flights(read: Read[RulesFile], folder: Path | None, at: tuple[Any, ...], name: str) -> list[Flight]:
    """What a rule's manoeuvre is flown as: its two sides where it has two and the name says none."""
    try:
        manoeuvre, text = load_manoeuvre(_beside(folder, name))
        if manoeuvre.sides == "one" or any(name.endswith(f"-{side}") for side in SIDES):
            return [Flight(manoeuvre, text)]
        whole = manoeuvre.model_copy(update={"name": manoeuvre.name.removesuffix("-right")})
        return [Flight(one_side(whole, side), text) for side in SIDES]
    except UserFileError as error:
        raise _named(read, at, name, error) from None


def _other(read: Read[RulesFile], folder: Path | None, at: tuple[Any, ...], name: str) -> Loaded:
    """The setup that a rule compares with."""
    try:
        return load(_beside(folder, name))
    except UserFileError as error:
        raise _named(read, at, name, error) from None


def _beside(folder: Path | None, name: str) -> str:
    """A built-in name as it is, a path from the folder of the rule file."""
    return str((folder or Path()) / name) if is_path(name) else name


def _named(read: Read[RulesFile], at: tuple[Any, ...], name: str, error: UserFileError) -> UserFileError:
    """`error` as it is where it has a line of its own; else at the line of the rule file that names the file."""
    first = error.problems[0]
    if first.line:
        return error
    found = f"{quoted(name)}, which is {first.refused.found}"
    advice = (
        "" if first.refused.advice == read.tree.sources[0].file else first.refused.advice
    )  # these rules themselves are near
    return read.error(at, Refused(found, first.refused.allowed, advice))
