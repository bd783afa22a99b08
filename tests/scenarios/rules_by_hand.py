"""Rules from a few lines of text, and readings made by hand for them."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

from scenarios.rules import Reading, Readings, Rule, Told, load_rules
from scenarios.rules.readings import FLOWN

HEAD = "format: 1\nkind: rules\nname: a-test\nrules:\n"


def write(folder: Path, *lines: str, name: str = "rules.yaml") -> str:
    """A rule file of one-line rules (each given a reason); returns its path."""
    path = folder / name
    path.write_text(HEAD + "".join(f"  - {{{line}, reason: a test}}\n" for line in lines), encoding="utf-8")
    return str(path)


def rules(folder: Path, *lines: str) -> tuple[Rule, ...]:
    """The rules of those lines."""
    return load_rules(write(folder, *lines))


def readings(name: str = "mine", told: Told | None = None, **values: float | None | str) -> Readings:
    """Readings of level-trim; a number, or text for a reason why there is none."""
    measures = {
        ("level-trim", measure): (
            Reading(None, value, not value.startswith("not flown")) if isinstance(value, str) else Reading(value)
        )
        for measure, value in values.items()
    }
    loaded = SimpleNamespace(setup=SimpleNamespace(name=name), texts={"setup": name})
    return Readings(loaded, measures, {"level-trim": told or Told(FLOWN, True, "level flight: as it should be")})
