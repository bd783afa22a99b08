"""What every command puts on a terminal: tables within 80 columns, nothing but text where it is piped, progress apart."""

import os
import subprocess
import sys

import pytest

from models.loader import known_setups, load_setup
from viewer import text
from viewer.text import Progress, time_left

SETUPS = [name for name, _ in known_setups()]
FLOWN = ("knife-edge-left", "snap-roll-negative-right", "spin-inverted-left", "hover-climb-out", "slow-flight",
         "high-speed-pass", "stall-accelerated-right", "harrier-inverted")  # fmt: skip
# not here: `schema` and `completion` print what other programs read; rules, cures, portraits, studies and walks are held
# to the page in the tests of their own, beside what they say
ON_EACH = [
    ["balance", "{}", "--derivatives", "--also-inches"],
    ["card", "{}", "--also-inches"],
    ["bench", "sticks", "{}"],
    ["bench", "linkage", "{}"],
]
ON_TWO = [
    ["bench", "servos", "{}", "--at", "30 m/s", "--manoeuvre", "level-trim", "--pack", "2500 mAh"],
    ["bench", "propeller", "{}", "--propellers", "20x12x3"],
    ["study", "{}", "balance", "--draws", "10", "--workers", "1"],
]
ONCE = [
    *(["list", option] for option in ("--setups", "--airframes", "--manoeuvres", "--rules", "--measures")),
    ["bench", "linkage", "extreme", "--control", "elevator"],
    ["bench", "linkage", "precision", "--control", "rudder", "--wanted", "40 deg"],
    ["bench", "structure", "corrie-310-precision", "--manoeuvre", "high-speed-pass"],
    ["balance", "precision", "--cg", "240 mm"],
    ["balance", "precision", "--scales", "main 5.9 kg, tail 0.62 kg", "--also-inches"],
    ["compare", *SETUPS, "--manoeuvre", "stall", "--also-inches"],
    ["map", "scree-270-slow-3d", "balance", "static_margin", "time_to_double", "--vary", "cg: 28 % to 40 % by 1 %",
     "--vary", "elevator throw: 10 deg to 40 deg by 5 deg"],
    ["warm-up"],
]  # fmt: skip


def check_page(out):
    lines = out.splitlines()
    wide = [line for line in lines if len(line) > 80]
    assert not wide, wide[:3]
    assert len(lines) > 0 and all(letter.isprintable() for line in lines for letter in line)


@pytest.fixture(autouse=True)
def any_terminal(monkeypatch):
    monkeypatch.delenv("COLUMNS", raising=False)


@pytest.mark.parametrize(
    "command, name",
    [
        *((command, name) for command in ON_EACH for name in SETUPS),
        *((command, name) for command in ON_TWO for name in ("corrie-310-precision", "slow-3d")),
    ],
    ids=lambda value: value if isinstance(value, str) else " ".join(value[:2]).replace(" {}", ""),
)
def test_tables_of_every_setup_fit_the_page(upline, name, command):
    if command[1] == "linkage" and not load_setup(name).linkages:
        pytest.skip("a setup without linkages")
    code, out, err = upline(*[word.format(name) for word in command])
    assert (code, err) == (0, "")
    check_page(out)


@pytest.mark.parametrize("command", ONCE, ids=lambda command: " ".join(command[:3]))
def test_other_tables_fit_the_page(upline, command):
    code, out, err = upline(*command)
    assert (code, err) == (0, "")
    check_page(out)


@pytest.mark.parametrize("name, manoeuvre", list(zip(SETUPS, FLOWN)))
def test_flights_fit_the_page(upline, name, manoeuvre):
    code, out, err = upline("fly", manoeuvre, "--setup", name, "--why")
    assert code in (0, 3) and (err == "" or code == 3)
    check_page(out)


def program(*arguments, stderr):
    command = [sys.executable, "-m", "viewer.command_line", *arguments]
    environment = {**os.environ, "TERM": "xterm-256color", "FORCE_COLOR": "1"}
    return subprocess.run(command, stdout=subprocess.PIPE, stderr=stderr, text=True, env=environment)


def test_nothing_but_text_is_piped():
    done = program("balance", "precision", stderr=subprocess.PIPE)
    assert (done.returncode, done.stderr) == (0, "")
    check_page(done.stdout)


@pytest.mark.skipif(os.name == "nt", reason="terminals of another kind")
@pytest.mark.parametrize(
    "arguments, words",
    [
        (["map", "precision", "balance", "static_margin", "--vary", "cg: 28 % to 40 % by 1 %"], "left"),
        (["list", "--setups"], "reading"),
    ],
    ids=["map", "list"],
)
def test_progress_goes_to_the_person_and_the_table_to_the_pipe(arguments, words):
    person, screen = os.openpty()
    done = program(*arguments, stderr=screen)
    os.close(screen)
    said = os.read(person, 1 << 20).decode()
    os.close(person)
    assert done.returncode == 0 and "\r" not in done.stdout
    check_page(done.stdout)
    assert words in said and said.endswith("\r") and "\x1b" not in said
    assert max(len(part) for part in said.replace("\n", "\r").split("\r")) <= 80


def test_what_is_left_is_reckoned_from_the_pace(monkeypatch):
    clock, notes = [100.0], []
    monkeypatch.setattr(text.time, "monotonic", lambda: clock[0])
    monkeypatch.setattr(Progress, "note", lambda self, words: notes.append(words))
    progress = Progress()
    for done in (0, 1, 3, 4):
        progress.flights(done, 4, "stall")
        clock[0] += 10.0
    assert notes == [
        "flight 1 of 4: stall",  # nothing is known yet
        f"flight 2 of 4: stall, {time_left(30.0)}",
        f"flight 4 of 4: stall, {time_left(20.0 / 3.0)}",
        "",
    ]
    progress.counted(1, 2, "another round")  # begins anew
    assert notes[-1] == "another round"
