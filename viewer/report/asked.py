"""What a report is asked for, whole: the texts of every file, so that it can be made again from the page alone."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from models.errors import OptionError, Refused, UserError, printable
from models.loader import Loaded, loaded_from_texts
from scenarios import rules as R
from scenarios.manoeuvres import manoeuvre_from_text
from scenarios.schema import ManoeuvreFile
from sim.pilot import SKILLS

FORMAT, KIND = 1, "report"
LARGEST = 64 * 1024 * 1024  # bytes of a page that will be read
INPUTS, NUMBERS = "inputs", "numbers"  # the ids under which the page keeps them


@dataclass(frozen=True)
class Asked:
    """The setups, the manoeuvres with their texts, the rules of each setup (`plans`) and the texts of their files, who
    flies, and what else is wanted; `command` is the command line.
    """

    loaded: tuple[Loaded, ...]
    manoeuvres: tuple[tuple[ManoeuvreFile, str], ...]
    plans: tuple[R.Plan, ...]
    rule_texts: dict[str, str]
    pilot: str
    rearward: bool
    draws: int
    seed: int
    cures: bool
    command: str

    @property
    def names(self) -> list[str]:
        """The setups' names, no two alike."""
        return [one.setup.name for one in self.loaded]


def rule_text(name: str) -> str:
    """The text of a rule file by built-in name or path; it has been read before."""
    from models.reading import read_file
    from scenarios.rules.loading import built_in_rules
    from scenarios.rules.schema import RulesFile, is_path

    return read_file(Path(name), RulesFile).text if is_path(name) else built_in_rules(name).text


def _plans(loaded: list[Loaded], rules: list[list[str]], texts: dict[str, str]) -> tuple[R.Plan, ...]:
    """The rules by which each setup is checked, read from texts alone.  Raises `UserError`."""
    with tempfile.TemporaryDirectory() as folder:
        paths = {name: str(Path(folder) / f"{n}.yaml") for n, name in enumerate(texts)}
        for name, path in paths.items():
            Path(path).write_text(texts[name], encoding="utf-8")
        try:
            found = [R.plan(one, [paths[n] for n in names]) for one, names in zip(loaded, rules)]
        except UserError as error:
            raise UserError(f"--again: the rules of the page: {str(error).replace(folder, '(in the page)')}") from None
    return tuple(replace(plan, files=tuple(names)) for plan, names in zip(found, rules))


def inputs_document(asked: Asked) -> dict[str, Any]:
    """The document that `asked_again` reads; the versions are for people."""
    from scenarios.record import versions

    return {
        "format": FORMAT,
        "kind": KIND,
        "command": asked.command,
        "pilot": asked.pilot,
        "rearward": asked.rearward,
        "draws": asked.draws,
        "seed": asked.seed,
        "cures": asked.cures,
        "versions": versions(),
        "setups": [
            {"name": one.setup.name, "files": one.texts, "rules": list(plan.files)}
            for one, plan in zip(asked.loaded, asked.plans)
        ],
        "manoeuvres": {manoeuvre.name: text for manoeuvre, text in asked.manoeuvres},
        "rules": asked.rule_texts,
    }


# ---- from a page ----------------------------------------------------------------------------------------------------


class _Scripts(HTMLParser):
    """The JSON texts of a page, by the id of the script element that holds them."""

    def __init__(self) -> None:
        super().__init__()
        self.found: dict[str, str] = {}
        self.inside = ""

    def handle_starttag(self, tag, attrs) -> None:
        of = dict(attrs)
        self.inside = (of.get("id") or "") if tag == "script" and of.get("type") == "application/json" else ""

    def handle_endtag(self, tag) -> None:
        self.inside = ""

    def handle_data(self, data) -> None:
        if self.inside:
            self.found[self.inside] = self.found.get(self.inside, "") + data


def read_page(path: Path) -> tuple[dict[str, Any], dict[str, Any]]:
    """The inputs and the numbers that the page at `path` holds.  Raises `UserError` where it is no whole report."""
    import json

    shown, allowed = printable(str(path), 200), "a page that upline report has written"
    try:
        if path.stat().st_size > LARGEST:
            raise OptionError("--again", Refused(f"{shown}, {path.stat().st_size} bytes", f"at most {LARGEST}"))
        page = _Scripts()
        page.feed(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise OptionError("--again", Refused(f"{shown}: {error.strerror or error}", allowed)) from None
    except UnicodeDecodeError:
        raise OptionError("--again", Refused(f"{shown}, which is no text", allowed)) from None
    if INPUTS not in page.found:
        raise OptionError("--again", Refused(f"{shown}, which has no inputs of a report in it", allowed))
    try:
        inputs, numbers = (json.loads(page.found.get(name, "")) for name in (INPUTS, NUMBERS))
    except (ValueError, RecursionError):
        raise OptionError("--again", Refused(f"{shown}, which is cut short or damaged", allowed)) from None
    if not isinstance(inputs, dict) or inputs.get("kind") != KIND or not isinstance(numbers, dict):
        raise OptionError("--again", Refused(f"{shown}, another kind of page", allowed))
    if inputs.get("format") != FORMAT:
        found = f"{shown}, a report of format {printable(str(inputs.get('format')), 40)}"
        raise OptionError("--again", Refused(found, f"format {FORMAT}"))
    return inputs, numbers


def asked_again(inputs: dict[str, Any], path: Path, command: str) -> Asked:
    """What the page at `path` was asked for, from its `inputs`.  Raises `UserError`."""
    try:
        loaded, rules = [], []
        for entry in inputs["setups"]:
            one = loaded_from_texts(entry["files"])
            loaded.append(replace(one, setup=replace(one.setup, name=printable(str(entry["name"]), 200))))
            rules.append([str(name) for name in entry["rules"]])
        manoeuvres = tuple((manoeuvre_from_text(text, name), text) for name, text in inputs["manoeuvres"].items())
        texts = {name: text for name, text in inputs["rules"].items() if isinstance(text, str)}
        if inputs["pilot"] not in SKILLS or not loaded or any(name not in texts for each in rules for name in each):
            raise ValueError("inputs that do not belong together")
        return Asked(
            tuple(loaded), manoeuvres, _plans(loaded, rules, texts), texts, inputs["pilot"], bool(inputs["rearward"]),
            int(inputs["draws"]), int(inputs["seed"]), bool(inputs["cures"]), command,
        )  # fmt: skip
    except UserError:
        raise
    except (KeyError, TypeError, ValueError, AttributeError):
        found = f"{printable(str(path), 200)}, whose inputs are not those of a report"
        raise OptionError("--again", Refused(found, "a page that upline report has written")) from None
