"""What is said when a user's input is wrong: exceptions whose text is the whole message, in plain words.

Every class here that reaches a caller is a `UserError`; the command line prints it and
exits with code 2.  The parts of a message are always the same: what was found, what is
allowed, and what to try.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

MOST_PROBLEMS = 10
LONGEST_SHOWN = 60


class UserError(Exception):
    """The user's input is wrong; `str()` is the message to print."""

    exit_code = 2


class Refused(ValueError):
    """A value that is not allowed, before anyone knows which file or option it came from."""

    def __init__(self, found: str, allowed: str, advice: str = "") -> None:
        self.found = found
        self.allowed = allowed
        self.advice = advice
        super().__init__(message(found, allowed, advice))


class OptionError(UserError):
    """A value given outside a file, for example on the command line, is wrong."""

    def __init__(self, option: str, refused: Refused) -> None:
        super().__init__(f"{option}: {refused}")


class UnknownName(UserError):
    """A name of which there is no such thing; the nearest and all known names are offered."""

    def __init__(self, kind: str, name: str, known: Iterable[str], advice: str = "") -> None:
        refused = unknown_name(kind, name, known, advice)
        self.name = name
        super().__init__(f"{kind}: {refused}")


@dataclass(frozen=True)
class Problem:
    """One thing wrong in a file: where (line and column count from 1) and what."""

    file: str
    line: int
    column: int
    path: str
    refused: Refused

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}:{self.column}: " if self.line else f"{self.file}: "
        return f"{where}{self.path}: {self.refused}" if self.path else f"{where}{self.refused}"


class UserFileError(UserError):
    """A file is wrong; the message has one line for each problem, in file order."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        lines = [str(problem) for problem in self.problems[:MOST_PROBLEMS]]
        left = len(self.problems) - MOST_PROBLEMS
        if left > 0:
            lines.append(f"{self.problems[0].file}: and {left} more; mend these first")
        super().__init__("\n".join(lines))


def message(found: str, allowed: str, advice: str = "") -> str:
    """The one form that every message has."""
    return f"found {found}; allowed: {allowed}" + (f"; try: {advice}" if advice else "")


def unknown_name(kind: str, name: str, known: Iterable[str], advice: str = "") -> Refused:
    """The refusal of an unknown built-in name, with the nearest known ones."""
    from models.messages import refused  # which needs `Refused` from here

    names = sorted(known)
    near = advice or " or ".join(nearest(name, names))
    return refused("unknown name", name=quoted(name), kind=kind, known=", ".join(names), near=near)


def nearest(word: str, names: Iterable[str], most: int = 3) -> list[str]:
    """Up to `most` of `names` that look like `word`, best first; the comparison ignores case."""
    by_lower = {name.lower(): name for name in names}
    # Comparison time grows with the square of the length, and the word may come from a hostile file.
    found = difflib.get_close_matches(word[:LONGEST_SHOWN].lower(), by_lower, n=most, cutoff=0.55)
    return [by_lower[name] for name in found]


def printable(text: str, longest: int = LONGEST_SHOWN) -> str:
    """`text` on one line, cut to `longest` characters, with control characters escaped.

    A file may hold terminal escape sequences; they must not reach the terminal.
    """
    cut = text if len(text) <= longest else text[:longest] + "..."
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in cut)


def quoted(value: object) -> str:
    """`value` as a message shows it: text in quotes, groups and lists by their kind."""
    if value is None:
        return "nothing"
    if isinstance(value, str):
        return f'"{printable(value)}"' if value.strip() else "an empty text"
    if isinstance(value, dict):
        return "a group of keys"
    if isinstance(value, list | tuple):
        return "a list"
    return printable(str(value))
