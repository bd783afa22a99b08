"""The help of every command: within the page, with examples at its end that can be typed as they stand."""

import re
import shlex
import subprocess
import sys

import pytest

from viewer.commands import COMMANDS
from viewer.parser import examples, parser, refilled

NAMES = [
    [name, *part] for name, module in COMMANDS.items() for part in ([], *([p] for p in getattr(module, "PARTS", {})))
]


def shown_examples(help_text: str) -> list[list[str]]:
    """The examples at the end of a help text, each as the words that a shell makes of it."""
    block = re.split(r"^examples?:\n", help_text, flags=re.M)[-1].replace("\\\n", " ")
    return [shlex.split(line, comments=True) for line in block.splitlines() if line.strip()]


def typed(words):
    """The arguments of `upline` in an example, without what belongs to the shell around it."""
    line = re.split(r" [>|] ", " ".join(words))[0]
    line = line[line.index("upline ") + 7 :] if "upline " in line else ""
    return words[1 : 1 + len(line.split())] if words[0] == "upline" and ">" not in words else line.strip(")").split()


@pytest.mark.parametrize("name", NAMES, ids=" ".join)
def test_help_fits_the_page_and_ends_with_examples_that_parse(upline, monkeypatch, name):
    monkeypatch.delenv("COLUMNS", raising=False)
    code, out, err = upline(*name, "--help")
    assert (code, err) == (0, "") and max(map(len, out.splitlines())) <= 80
    assert re.search(r"^examples?:\n  \S", out, re.M)
    found = shown_examples(out)
    commands = []
    for words in found:
        options = parser().parse_args(typed(words))  # raises where it is wrong
        assert callable(options.run)
        commands.append(options.command)
    assert name[0] in commands


def test_the_help_of_upline_names_every_command(upline):
    out = upline("--help")[1]
    assert max(map(len, out.splitlines())) <= 80
    assert all(re.search(rf"^    {name}\b", out, re.M) for name in COMMANDS)


def test_a_long_example_goes_on_below_and_reads_the_same():
    line = 'upline map precision upline-45 pitch_drift --vary "cg: 30 % to 38 % by 2 %" --vary "wind: 0 m/s to 6 m/s by 2 m/s"'
    shown = examples([line])
    assert len(shown.splitlines()) == 3 and max(map(len, shown.splitlines())) <= 80
    assert shown_examples(shown)[0][-2:] == ["--vary", "wind: 0 m/s to 6 m/s by 2 m/s"]


def test_notes_are_filled_by_paragraphs():
    assert (
        refilled("One\n  goes on.\nTwo is new,\nand goes on.\n--three is")
        == "One goes on.\nTwo is new, and goes on.\n--three is"
    )


def test_the_parser_needs_nothing_heavy():
    code = "import sys; from viewer.parser import parser; parser(); print(sorted(sys.modules))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert not [name for name in ("numpy", "numba", "scipy", "pydantic", "yaml", "rich") if f"'{name}'" in out]
