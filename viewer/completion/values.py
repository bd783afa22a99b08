"""What an argument can be, by what the help calls it: built-in names, files, folders, words.

Names come from the folders of the built-in files; nothing is parsed, for a person waits between two key strokes.
"""

from __future__ import annotations

import argparse
import os
import re
from collections.abc import Iterable
from pathlib import Path

import models
import scenarios

YAML = (".yaml", ".yml")
FOLDERS = ("DIR", "FOLDER", "RECORD")
WORDS = {
    "WAY": ("precision", "extreme", "slow-3d"),
    "SKILL": ("expert", "practised", "learner"),
    "CONTROL": ("aileron", "elevator", "rudder"),
    "RATE": ("high", "middle", "low"),
    "PAPER": ("a4", "letter"),
    "KIND": ("airframe", "setup", "blade-family", "manoeuvre", "rules"),
    "VIEW": ("pilot", "chase", "tip", "top"),
    "SHELL": ("bash", "zsh", "fish"),
    "COUPLING": ("knife-edge", "rolls", "thrust", "down-line", "cg"),
}


def values_of(action: argparse.Action, begun: str) -> list[str]:
    """What may stand for `action`, and begins as `begun` does."""
    kind = action.metavar if isinstance(action.metavar, str) else ""
    if kind in NAMES:
        return [*_beginning(NAMES[kind](), begun), *files(begun, YAML)]
    if kind in FOLDERS:
        return files(begun, ())
    if kind == "FILE":
        return files(begun, tuple(dict.fromkeys(re.findall(r"\.[a-z0-9]{2,8}\b", action.help or ""))) or YAML)
    return _beginning(WORDS.get(kind, ()), begun)


def files(begun: str, endings: tuple[str, ...]) -> list[str]:
    """Paths that begin as `begun` does: folders with a stroke behind them, and files of these endings."""
    folder, _, name = begun.rpartition("/")
    above = f"{folder}/" if "/" in begun else ""
    try:
        with os.scandir(os.path.expanduser(above) or ".") as entries:
            found = [(entry.name, entry.is_dir()) for entry in entries]
    except OSError:
        return []
    shown = [(n, is_dir) for n, is_dir in sorted(found) if n.startswith(name) and (name or not n.startswith("."))]
    return [
        f"{above}{n}/" if is_dir else f"{above}{n}"
        for n, is_dir in shown
        if is_dir or n.lower().endswith(endings or "/")
    ]


def _beginning(words: Iterable[str], begun: str) -> list[str]:
    return [word for word in words if word.startswith(begun)]


def _built_in(package, folder: str) -> list[Path]:
    return sorted((Path(package.__file__).parent / folder).glob("*.yaml"), key=lambda path: path.stem)


def setups() -> list[str]:
    """The built-in setups."""
    return [path.stem for path in _built_in(models, "setups")]


def blade_families() -> list[str]:
    """The built-in blade families."""
    return [path.stem for path in _built_in(models, "parts")]


def rules() -> list[str]:
    """The built-in rule files."""
    return [path.stem for path in _built_in(scenarios, "rule_files")]


def manoeuvres() -> list[str]:
    """The built-in manoeuvres; those that are flown both ways by the names of both sides."""
    found = []
    for path in _built_in(scenarios, "manoeuvres"):
        both = re.search(r"^sides: both\b", path.read_text(encoding="utf-8"), re.M)
        found += [f"{path.stem}-left", f"{path.stem}-right"] if both else [path.stem]
    return found


NAMES = {"SETUP": setups, "MANOEUVRE": manoeuvres, "RULES": rules, "FAMILY": blade_families}
