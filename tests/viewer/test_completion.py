"""Shell completion: the words themselves, against what the commands accept, and the scripts in real shells."""

import os
import shlex
import shutil
import subprocess
import sys

import pytest

from models.loader import known_blade_families, known_setups
from scenarios.cures import GROUPS
from scenarios.manoeuvres import known_manoeuvres
from scenarios.measures import STYLES
from scenarios.rules import known_rules
from sim.pilot import SKILLS
from viewer.commands import COMMANDS, hands_on, schema
from viewer.commands.bench import PARTS
from viewer.completion import values
from viewer.completion.scripts import SCRIPTS
from viewer.completion.words import next_words
from viewer.parser import parser


def words(*typed):
    return [word for word, _ in next_words(parser(), list(typed))]


def test_names_are_those_that_the_readers_know():
    assert values.setups() == [name for name, _ in known_setups()]
    assert sorted(values.manoeuvres()) == sorted(name for name, _ in known_manoeuvres())
    assert values.blade_families() == [name for name, _ in known_blade_families()]
    assert sorted(values.rules()) == sorted(name for name, _ in known_rules())
    assert [way.replace(" 3D", "-3d") for way in STYLES] == list(values.WORDS["WAY"])
    assert list(SKILLS) == list(values.WORDS["SKILL"]) and schema.KINDS == values.WORDS["KIND"]
    assert hands_on.VIEWS == values.WORDS["VIEW"]
    assert list(values.WORDS["SHELL"]) == list(SCRIPTS) and set(values.WORDS["COUPLING"]) == set(GROUPS)


def test_commands_options_and_names(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert words("") == list(COMMANDS) and words() == list(COMMANDS)
    assert words("ca") == ["card"] and words("bench", "") == list(PARTS)
    assert words("card", "prec") == ["precision", "precision-aft"] and words("card", "'prec")[0] == "precision"
    assert {"--to", "--paper", "--text", "--json", "--cg", "--help"} <= set(words("card", "precision", "--"))
    assert words("card", "precision", "--paper", "") == ["a4", "letter"]
    assert words("card", "--paper", "a4", "extr") == ["extreme"]
    assert "--paper" not in words("card", "--paper", "a4", "--")
    assert words("fly", "snap-roll-n") == ["snap-roll-negative-left", "snap-roll-negative-right"]
    assert words("fly", "stall", "--setup", "ext") == ["extreme"]
    assert words("study", "precision", "stall", "hov") == ["hover", "hover-climb-out"]
    assert words("check", "precision", "--rules", "s") == ["slow-3d"]
    assert words("check", "precision", "--rules", "slow-3d", "--rul") == ["--rules"]  # may be repeated
    assert words("bench", "propeller", "precision", "--family", "thin") == ["thin-light"]
    assert words("rearward", "precision", "--pilot", "l") == ["learner"]
    assert words("nothing", "") == [] and words("card", "precision", "--paper", "x") == []
    assert words("card", "precision", "")[0] == "--help"


def test_files_and_folders(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "planes").mkdir()
    for name in ("mine.yaml", "mine.pdf", "my notes.yaml", "planes/far.YML", ".hidden.yaml"):
        (tmp_path / name).write_text("")
    assert words("card", "m") == ["moor-220-precision", "mine.yaml", "my notes.yaml"]
    assert words("card", "planes/") == ["planes/far.YML"] and words("card", "pl") == ["planes/"]
    assert words("card", ".h") == [".hidden.yaml"] and words("card", "nowhere/") == []
    assert words("card", "precision", "--to", "m") == ["mine.pdf"]
    assert words("fly", "stall", "--save", "") == ["planes/"]


def test_every_argument_that_has_a_name_for_files_or_words_is_known():
    kinds = {*values.NAMES, *values.WORDS, *values.FOLDERS, "FILE"}
    found = set()
    for module in [*COMMANDS.values(), *PARTS.values()]:
        if hasattr(module, "add_to"):
            sub = parser().__class__(prog="x")
            module.add_to(sub)
            found |= {action.metavar for action in sub._actions if action.metavar}
    assert {kind for kind in kinds if kind not in found} <= {"RECORD"}


@pytest.fixture
def shell_home(tmp_path):
    """An environment in which `upline` is this one."""
    folder = tmp_path / "bin"
    folder.mkdir()
    command = folder / "upline"
    command.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m viewer.command_line "$@"\n')
    command.chmod(0o755)
    root = str(values.Path(values.models.__file__).parent.parent)
    return {
        **os.environ,
        "PATH": f"{folder}{os.pathsep}{os.environ['PATH']}",
        "PYTHONPATH": root,
        "HOME": str(tmp_path),
    }


def run(shell, script, home, cwd):
    done = subprocess.run([shell, *script], env=home, cwd=cwd, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0 and done.stderr == "", done.stderr
    return done.stdout.split("\n")[:-1]


def missing(shell):
    return pytest.mark.skipif(shutil.which(shell) is None, reason=f"{shell} is not installed")


@missing("bash")
def test_in_bash(shell_home, tmp_path):
    (tmp_path / "my notes.yaml").write_text("")
    (tmp_path / "planes").mkdir()
    ask = (
        'source <(upline completion bash); ask() { COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _upline;'
        ' echo "${COMPREPLY[*]}"; }; complete -p upline; ask upline car; ask upline card prec; ask upline card --paper "";'
        ' ask upline card my; ask upline card pl; ask upline card "\'sl"; ask upline card precision --'
    )
    out = run("bash", ["-c", ask], shell_home, tmp_path)
    assert out[0].endswith("-F _upline upline")
    assert out[1:7] == ["card", "precision precision-aft", "a4 letter", "my\\ notes.yaml", "planes/", "slow-3d"]
    assert "--to" in out[7].split() and "--json" in out[7].split()


@missing("zsh")
def test_in_zsh(shell_home, tmp_path):
    ask = (
        "autoload -U compinit; compinit -u -D; source <(upline completion zsh); "
        "compadd() { print -r -- folders ${@[-1]}; }; _describe() { print -rl -- ${(P)2}; }; "
        'words=(upline card prec); CURRENT=3; _upline; words=(upline card precision --paper ""); CURRENT=5; _upline; '
        "words=(upline card bi); CURRENT=3; _upline; print ${_comps[upline]}"
    )
    out = run("zsh", ["-f", "-c", ask], shell_home, tmp_path)
    assert out == ["precision:", "precision-aft:", "a4:", "letter:", "folders bin/", "_upline"]


@missing("fish")
def test_in_fish(shell_home, tmp_path):
    asked = ("upline card prec", "upline card precision --paper ", "upline ca")
    ask = "; ".join(["upline completion fish | source", *(f'complete -C "{line}"' for line in asked)])
    out = run("fish", ["--no-config", "-c", ask], shell_home, tmp_path)
    assert out[:4] == ["precision", "precision-aft", "a4", "letter"] and out[4].startswith("card\twhat it takes")


def test_it_is_quick_and_brings_nothing_heavy(shell_home, tmp_path):
    code = (
        "import sys, time; from viewer.command_line import main; main(['completion', 'words', '--', 'fly', 'sta']);"
        "print([n for n in ('numpy', 'numba', 'scipy', 'pydantic', 'yaml', 'matplotlib') if n in sys.modules]);"
        "print(time.process_time())"
    )
    done = subprocess.run([sys.executable, "-c", code], env=shell_home, cwd=tmp_path, capture_output=True, text=True)
    *words, heavy, seconds = done.stdout.splitlines()
    assert words[0] == "stall\t" and heavy == "[]"
    assert float(seconds) < 0.3  # of processor time, since the machine may be busy with other things


def test_the_command(upline):
    for shell in SCRIPTS:
        code, out, err = upline("completion", shell)
        assert (code, err) == (0, "") and out == SCRIPTS[shell]
    code, out, err = upline("completion", "bsh")
    assert (code, out) == (2, "") and 'shell: found "bsh"; allowed: bash, zsh, fish; try: bash' in err
    assert upline("completion", "words", "--", "card", "precision", "--pap")[1].startswith("--paper\tof the page")
