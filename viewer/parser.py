"""The parser of the command line, made from the commands' modules, and how their help is laid out."""

from __future__ import annotations

import argparse
import re
from types import ModuleType
from typing import NoReturn

from models.errors import UserError
from viewer.commands import COMMANDS
from viewer.text import WIDTH, wrapped


class Parser(argparse.ArgumentParser):
    """A parser whose complaint is a `UserError` like every other; options are written in full."""

    def __init__(self, **keywords) -> None:
        super().__init__(allow_abbrev=False, **keywords)

    def error(self, message: str) -> NoReturn:
        raise UserError(f"{message}; try: {self.prog} --help")


class _Layout(argparse.RawDescriptionHelpFormatter):
    """Descriptions and examples as they were laid out, everything within the width of a page."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=26, width=WIDTH - 1)


def parser() -> Parser:
    """The parser of `upline`."""
    made = Parser(
        prog="upline",
        description=wrapped("Fly setups of radio-controlled aerobatic aeroplanes in simulation and compare them."),
        epilog="examples of each command: upline COMMAND --help",
        formatter_class=_Layout,
    )
    made.add_argument("--version", action="store_true", help="print the version")
    commands = made.add_subparsers(dest="command", metavar="COMMAND")
    for name, module in COMMANDS.items():
        _add(commands, name, module)
    return made


def _add(commands: argparse._SubParsersAction, name: str, module: ModuleType) -> None:
    """The parser of one command, or of a group of them such as the benches."""
    notes = refilled(getattr(module, "NOTES", ""))
    sub = commands.add_parser(
        name,
        help=module.ABOUT,
        description=module.ABOUT + ".",
        epilog=(f"{notes}\n\n" if notes else "") + examples(module.EXAMPLES),
        formatter_class=_Layout,
    )
    if hasattr(module, "PARTS"):
        parts = sub.add_subparsers(dest="part", metavar="BENCH", required=True)
        for part, below in module.PARTS.items():
            _add(parts, part, below)
    else:
        sub.add_argument("--json", action="store_true", help="one JSON document on stdout, numbers with their units")
        module.add_to(sub)
        sub.set_defaults(run=module.run)
    sub.description = wrapped(sub.description)


def examples(lines: list[str]) -> str:
    """The examples of a command; one that is too wide goes on below, as a shell reads it."""
    shown = [line for example in lines for line in _example(example)]
    return f"example{'s' if len(lines) > 1 else ''}:\n" + "\n".join(shown)


def _example(example: str) -> list[str]:
    """A command line, broken ahead of an option or a value that stands alone."""
    words = re.findall(r"""(?:[^\s"']|"[^"]*"|'[^']*')+""", example)
    parts: list[str] = []
    for n, word in enumerate(words):
        if n and words[n - 1].startswith("--") and not word.startswith("-"):
            parts[-1] += f" {word}"
        else:
            parts.append(word)
    lines = [f"  {parts[0]}"]
    for part in parts[1:]:
        if len(lines[-1]) + 1 + len(part) > WIDTH - 2:
            lines[-1] += " \\"
            lines.append(f"      {part}")
        else:
            lines[-1] += f" {part}"
    return lines


def refilled(notes: str) -> str:
    """Notes, each line that begins a sentence or an option as a paragraph of its own, filled to the width of a page."""
    paragraphs: list[str] = []
    for line in notes.splitlines():
        goes_on = paragraphs and (line.startswith("  ") or not paragraphs[-1].endswith((".", ":")))
        if goes_on:
            paragraphs[-1] += f" {line.strip()}"
        else:
            paragraphs.append(line.strip())
    return "\n".join(wrapped(paragraph, "  ", "") for paragraph in paragraphs)
