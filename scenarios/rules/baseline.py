"""A baseline: every measure of a check as it was accepted, and what has drifted from it since.

The file is YAML, a measure a line, so that a change shows as a line in a repository.  Numbers are written in full.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, ClassVar

from pydantic import Field

from models.errors import OptionError, Refused, quoted
from models.fields import Count, Document, Group, Location, OneOf, Text, Written
from models.reading import read_file
from scenarios.at_rest import BALANCE
from scenarios.rules.checking import Check, Conditions
from scenarios.rules.judging import share_of
from scenarios.rules.readings import FLOWN, Readings
from scenarios.rules.schema import FAILS, KNOWN, SUCCEEDS
from sim.compiled import kernels_version
from sim.pilot import SKILLS

OUTCOME = "outcome"  # stands beside the measures of a flight
NOT_MEASURED = "not measured"
SAME, DRIFTED, NEW, VANISHED = "same", "drifted", "new", "vanished"

# what a number may change by, at least: less than a pilot can see or measure (common practice, no source); time: two frames
LEAST = {
    "deg": 0.1, "deg/s": 0.2, "deg/s per deg": 0.05, "%": 0.1, "% half-span": 1.0, "m": 0.05, "mm": 0.2, "m/s": 0.05,
    "s": 0.02, "g": 0.01, "kg": 0.001, "N m": 0.05, "Hz": 0.01, "turns": 0.01, "1/s": 0.01, "kg m2": 0.0001,
    "kg/m2": 0.01, "": 0.005,
}  # fmt: skip
# share of a flown measure that integration may be off by: the budget of 0.5 % (tests/benchmarks/measures_error.py)
INTEGRATION = 0.005


@dataclass(frozen=True)
class Stored:
    """A number with its unit; None where the measure could not be taken."""

    value: float | None
    unit: str = ""


class StoredText(Written):
    """A number in full with its unit, "not measured", or what became of the flight."""

    description = f'a number with its unit, "{NOT_MEASURED}", or for the outcome "{SUCCEEDS}" or "{FAILS}"'

    @property
    def sample(self) -> str:
        return "1.5 deg"

    def read(self, value: object) -> Stored | str:
        text = value.strip() if isinstance(value, str) and len(value) <= 60 else ""
        if text == NOT_MEASURED:
            return Stored(None)
        if text in (SUCCEEDS, FAILS):
            return text
        match = re.fullmatch(r"([+-]?[0-9]+(?:\.[0-9]*)?(?:e[+-]?[0-9]{1,3})?)(?: (.*))?", text)
        if match is None or (match[2] or "") not in LEAST:
            raise Refused(quoted(value), self.description)
        return Stored(float(match[1]), match[2] or "")

    def json_schema(self) -> dict[str, Any]:
        return {"type": "string", "description": self.description}


class HeldText(Written):
    """(held, draws) from "96 of 100"."""

    description = "flights that held, of how many"

    @property
    def sample(self) -> str:
        return "96 of 100"

    def read(self, value: object) -> tuple[int, int]:
        match = re.fullmatch(r"([0-9]{1,7}) of ([0-9]{1,7})", value.strip()) if isinstance(value, str) else None
        if match is None or not int(match[1]) <= int(match[2]) or match[2].strip("0") == "":
            raise Refused(quoted(value), self.description, f'"{self.sample}"')
        return int(match[1]), int(match[2])

    def json_schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": "^[0-9]+ of [0-9]+$", "description": self.description}


Key = Annotated[str, Text(120)]


class SetupPart(Group):
    """One setup: fingerprints of the files it came from, and its measures by manoeuvre."""

    name: Annotated[str, Text(200)]
    files: Annotated[dict[Key, Annotated[str, Text(64)]], Field(max_length=10)]
    measures: dict[Key, dict[Key, Annotated[Any, StoredText()]]]
    sure: dict[Key, Annotated[tuple[int, int], HeldText()]] = {}


class BaselineFile(Document):
    """A check as it was accepted."""

    KIND: ClassVar[str] = "baseline"

    kind: Annotated[str, OneOf("baseline")]
    upline: Annotated[str, Text(60)]
    kernels: Annotated[str, Text(64)]
    pilot: Annotated[str, OneOf(*SKILLS)]
    draws: Annotated[int, Count(1, 9_999_999)]
    seed: Annotated[int, Count(0, 999_999_999)]
    manoeuvres: dict[Key, Annotated[str, Text(64)]]
    setups: Annotated[tuple[SetupPart, ...], Field(min_length=1, max_length=500)]

    def cross_check(self) -> Iterator[tuple[Location, Refused]]:
        names = [part.name for part in self.setups]
        for i, name in enumerate(names):
            if name in names[:i]:
                yield ("setups", i, "name"), Refused(f"{quoted(name)} a second time", "each setup once")


@dataclass(frozen=True)
class Drift:
    """A measure then and now: `state` of the four above; `was` and `now` None where not measured, words for outcomes.

    `allowed` is how far it may be off, in `unit`; None where no number is compared.
    """

    setup: str
    of: str
    measure: str
    unit: str
    state: str
    was: float | str | None = None
    now: float | str | None = None
    allowed: float | None = None

    @property
    def change(self) -> float | None:
        """Now less then."""
        numbers = isinstance(self.was, float) and isinstance(self.now, float)
        return self.now - self.was if numbers else None

    @property
    def counts(self) -> bool:
        """Whether it fails a check: what is only new does not."""
        return self.state in (DRIFTED, VANISHED)


# ---- writing ----------------------------------------------------------------------------------------------------------


def baseline_text(checks: list[Check], under: Conditions, version: str) -> str:
    """The file of `checks`, made under those conditions by `version` of the program."""
    flights = {rule.of: rule.flight.text for each in checks for rule in each.plan.rules if rule.flight}
    lines = [
        "format: 1",
        "kind: baseline",
        f"upline: {_quoted(version)}",
        f"kernels: {_kernels()}",
        f"pilot: {under.skill}",
        f"draws: {under.draws}",
        f"seed: {under.seed}",
        _group("manoeuvres", {name: fingerprint(text) for name, text in flights.items()}, 0),
        "setups:",
    ]
    for each in checks:
        lines += [f"  - name: {_quoted(each.name)}", _group("files", fingerprints(each.readings), 4), "    measures:"]
        for of, found in _found(each.readings).items():
            lines.append(_group(of, found, 6, quote=False))
        held = {j.rule.name: f"{j.share.held} of {j.share.draws}" for j in each.judgements if j.share}
        lines += [_group("sure", held, 4)] if held else []
    return "\n".join(lines) + "\n"


def fingerprint(text: str) -> str:
    """A short hash of a file's text; it begins with a letter, or some would read as numbers."""
    return f"sha-{hashlib.sha256(text.encode()).hexdigest()[:16]}"


def _kernels() -> str:
    return f"sha-{kernels_version()}"


def fingerprints(readings: Readings) -> dict[str, str]:
    """Those of the files that a setup came from, by kind."""
    return {kind: fingerprint(text) for kind, text in readings.loaded.texts.items()}


def _found(readings: Readings) -> dict[str, dict[str, str]]:
    """What was read, as it is written, by manoeuvre and measure."""
    found: dict[str, dict[str, str]] = {}
    for of, told in readings.flights.items():
        if told.state == FLOWN and told.was is not None:
            found.setdefault(of, {})[OUTCOME] = SUCCEEDS if told.was else FAILS
    for (of, name), reading in readings.measures.items():
        text = NOT_MEASURED if reading.value is None else f"{reading.value!r} {KNOWN[name].unit}".strip()
        found.setdefault(of, {})[name] = text
    return found


def _group(key: str, pairs: dict[str, str], indent: int, quote: bool = True) -> str:
    """A group of lines; texts in quotes unless they are plain."""
    space = " " * indent
    if not pairs:
        return f"{space}{_quoted(key)}: {{}}"
    inside = [f"{space}  {_quoted(name)}: {_quoted(text) if quote else text}" for name, text in pairs.items()]
    return "\n".join([f"{space}{_quoted(key)}:", *inside])


def _quoted(text: str) -> str:
    """Text as YAML takes it: bare where it is a plain word."""
    plain = re.fullmatch(r"[a-zA-Z][a-zA-Z0-9_ -]*[a-zA-Z0-9]", text) and text.lower() not in ("null", "nan", "inf")
    return text if plain else json.dumps(text, ensure_ascii=False)


# ---- comparing --------------------------------------------------------------------------------------------------------


def read_baseline(path: str | Path) -> BaselineFile:
    """The baseline in the file `path`.  Raises `UserError`."""
    return read_file(path, BaselineFile).value


def check_same(baseline: BaselineFile, names: Iterable[str], under: Conditions, file: str) -> None:
    """Raises `OptionError` where the baseline is of other setups, or of another pilot, than those checked."""
    known, names = [part.name for part in baseline.setups], list(names)
    missing = [name for name in names if name not in known]
    if missing:
        refused = Refused(
            f"in {file} a baseline of {_listed(known)}",
            f"one of {_listed(names)}",
            "--accept with another file, or a check of the setups that it is of",
        )
        raise OptionError("--baseline", refused)
    if under.skill != baseline.pilot:
        found = f"in {file} a baseline flown by the pilot {quoted(baseline.pilot)}"
        raise OptionError("--baseline", Refused(found, quoted(under.skill), f"--pilot {baseline.pilot}"))


def check_replaceable(path: Path, names: Iterable[str]) -> None:
    """Raises `UserError` where `path` is another kind of file, or a baseline of setups that would be lost."""
    if not path.exists():
        return
    known, names = [part.name for part in read_baseline(path).setups], list(names)
    lost = [name for name in known if name not in names]
    if lost:
        found = f"in {path} a baseline of {_listed(lost)} too, which would be lost"
        raise OptionError(
            "--accept", Refused(found, "a new file, or one of the same setups", "another --baseline FILE")
        )


def _listed(names: list[str]) -> str:
    return ", ".join(quoted(name) for name in names)


def changed(baseline: BaselineFile, each: Check, version: str) -> list[str]:
    """What is not as it was when the baseline was accepted, in words: why a measure may have drifted."""
    part = next(part for part in baseline.setups if part.name == each.name)
    now = fingerprints(each.readings)
    words = [f"the {kind} file" for kind, print_ in now.items() if part.files.get(kind) != print_]
    flights = {rule.of: rule.flight for rule in each.plan.rules if rule.flight}
    words += [
        f"the manoeuvre {name}"
        for name, flight in flights.items()
        if name in baseline.manoeuvres and baseline.manoeuvres[name] != fingerprint(flight.text)
    ]
    words += ["the flight kernels or numba"] if baseline.kernels != _kernels() else []
    return words + (["the version of upline"] if baseline.upline != version else [])


def drifts(baseline: BaselineFile, each: Check) -> list[Drift]:
    """Every measure of `each` against the baseline, in the order of the check, vanished ones last."""
    part = next(part for part in baseline.setups if part.name == each.name)
    own = _own_limits(each)
    found = []
    now = _now(each.readings)
    for (of, name), (value, unit) in now.items():
        stored = part.measures.get(of, {}).get(name)
        found.append(_compared(each.name, of, name, unit, stored, value, own.get((of, name))))
    for of, stored in part.measures.items():
        for name, was in stored.items():
            if (of, name) not in now:
                value, unit = (was.value, was.unit) if isinstance(was, Stored) else (was, "")
                found.append(Drift(each.name, of, name, unit, VANISHED, value))
    return found + _shares(part, each)


def allowed_drift(of: str, name: str, was: float) -> float:
    """How far a measure may be off without its rule saying so: what its unit makes of chance, or of the integration."""
    least = LEAST[KNOWN[name].unit]
    return least if of == BALANCE else max(least, INTEGRATION * abs(was))


def _own_limits(each: Check) -> dict[tuple[str, str], float]:
    """What rules themselves allow, the strictest of them."""
    own: dict[tuple[str, str], float] = {}
    for rule in each.plan.rules:
        if rule.part.drift is not None:
            key = (rule.of, rule.part.measure)
            own[key] = min(rule.part.drift, own.get(key, rule.part.drift))
    return own


def _now(readings: Readings) -> dict[tuple[str, str], tuple[float | str | None, str]]:
    """Value and unit of everything that a baseline holds."""
    outcomes = {
        (of, OUTCOME): (SUCCEEDS if told.was else FAILS, "")
        for of, told in readings.flights.items()
        if told.state == FLOWN and told.was is not None
    }
    measures = {key: (reading.value, KNOWN[key[1]].unit) for key, reading in readings.measures.items()}
    return {**outcomes, **measures}


def _compared(setup, of, name, unit, stored, value, own: float | None) -> Drift:
    if stored is None or (isinstance(stored, Stored) and stored.value is not None and stored.unit != unit):
        return Drift(setup, of, name, unit, NEW, None, value)
    was = stored.value if isinstance(stored, Stored) else stored
    if not isinstance(was, float) or not isinstance(value, float):
        return Drift(setup, of, name, unit, SAME if was == value else DRIFTED, was, value)
    allowed = allowed_drift(of, name, was) if own is None else own
    within = abs(value - was) <= allowed * (1.0 + 1e-9)  # the limit itself is allowed
    return Drift(setup, of, name, unit, SAME if within else DRIFTED, was, value, allowed)


def _shares(part: SetupPart, each: Check) -> list[Drift]:
    """The shares of draws that held; they may change by what another seed would change, as the interval of the old says."""
    found = []
    for one in each.judgements:
        if one.share is None or one.rule.name not in part.sure:
            continue
        held, draws = part.sure[one.rule.name]
        old = share_of([True] * held + [False] * (draws - held))
        same = old.low <= one.share.share <= old.high
        was, now = 100.0 * old.share, 100.0 * one.share.share
        allowed = 100.0 * max(old.share - old.low, old.high - old.share)
        found.append(Drift(each.name, one.rule.name, "share held", "%", SAME if same else DRIFTED, was, now, allowed))
    return found
