"""`upline new`: options, dialogue over a pipe, wrong answers, files that are whole and never overwritten."""

import io
import json
import os
import subprocess
import sys

import pytest

from models.errors import UserError
from models.loader import load
from models.questions import BY_KEY, QUESTIONS, read_answer
from viewer.dialogue import ask_all

ENOUGH = ["--span", "2.2 m", "--weight", "6.5 kg", "--propeller", "20x13"]


def test_two_files_that_load_balance_and_say_what_to_measure(upline, tmp_path):
    code, out, err = upline("new", "--name", "mine", *ENOUGH, "--wing-root-chord", "19.7 in")
    assert code == 0, err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["mine-first.yaml", "mine.yaml"]
    assert "written: mine.yaml, mine-first.yaml" in out and "Measure first" in out and "clears nothing to fly" in out
    assert "upline balance mine-first.yaml" in out and max(map(len, out.splitlines())) <= 80
    setup = load(tmp_path / "mine-first.yaml").setup
    assert (setup.name, setup.airframe.name, setup.way_of_flying) == ("mine-first", "mine", "precision")
    assert sum(i.mass for i in setup.airframe.items) == pytest.approx(6.5, abs=6e-5)
    assert "surfaces > wing > root > chord" in setup.airframe.measured and "cg" in setup.estimated
    code, out, err = upline("balance", "mine-first.yaml")
    assert code == 0, err
    assert "What matters most" in out and "margin, % MAC" in out and max(map(len, out.splitlines())) <= 80
    lines = (tmp_path / "mine.yaml").read_text(encoding="utf-8").splitlines()
    assert all(len(line) <= 115 for line in lines if line.lstrip().startswith("#"))


def test_json(upline, tmp_path):
    code, out, err = upline(
        "new", "--span", "1.5 m", "--power", "piston", "--out", "small.yaml", "--defaults", "--json"
    )
    assert code == 0, err
    got = json.loads(out)
    assert got["files"] == {"airframe": "small.yaml", "setup": "small-first.yaml"} and got["power"] == "piston"
    assert got["static_margin"]["unit"] == "%" and 8.0 <= got["static_margin"]["value"] <= 20.0
    assert got["values"]["span"] == {"text": "1.5 m", "estimated": False, "rule": ""}
    assert got["values"]["displacement"]["estimated"] and got["values"]["displacement"]["rule"]
    assert {"path", "may_be_off_by", "cg", "static_margin"} <= set(got["estimates"][0])
    margins = [abs(e["static_margin"]["value"]) for e in got["estimates"]]
    assert margins == sorted(margins, reverse=True)
    assert got["next"][0] == "upline balance small-first.yaml"


@pytest.mark.parametrize(
    "arguments, words",
    [
        ([], ["--span", "the wing span", 'try: --span "2.2 m"']),
        (["--span", "2.2"], ['--span: found "2.2", a number without a unit', 'try: "2.2 m"']),
        (["--span", "20 m"], ["from 1 m to 4 m"]),
        (["--span", "2.2 m", "--weight", "3 g", "--cells", "40"], ["--weight", "--cells", "from 1 to 16"]),
        (["--span", "2.2 m", "--weight", "1 kg"], ["--weight", "kg/m2"]),
        (["--span", "2.2 m", "--cells", "12S", "--displacement", "60 cm3"], ["electric power only"]),
        (["--span", "2.2 m", "--power", "steam"], ["electric, piston"]),
        (["--span", "2.2 m", "--name", "My Plane"], ["--name", "try: my-plane"]),
        (["--span", "2.2 m", "--out", "plane.txt"], ["--out", "try: plane.yaml"]),
        (["--span", "2.2 m", "--out", "no/plane.yaml"], ["--out", "No such file"]),
        (["--span", "~"], ["--span", "found"]),
        (["--spam", "2.2 m"], ["--spam", "--help"]),
        (["--ask"], ["end of the answers"]),
    ],
)
def test_wrong_options_write_nothing(upline, tmp_path, monkeypatch, arguments, words):
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    code, out, err = upline("new", *arguments)
    assert code == 2 and out == "" and "Traceback" not in err
    for word in words:
        assert word in err, (word, err)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("there", ["plane.yaml", "plane-first.yaml"])
def test_nothing_is_overwritten(upline, tmp_path, there):
    (tmp_path / there).write_text("mine", encoding="utf-8")
    code, _, err = upline("new", *ENOUGH, "--out", "plane.yaml")
    assert code == 2 and f'"{there}", which is there already' in err
    assert [p.name for p in tmp_path.iterdir()] == [there] and (tmp_path / there).read_text() == "mine"


def test_a_disk_that_is_full_half_way_leaves_nothing(upline, tmp_path, monkeypatch):
    import viewer.files

    whole, done = viewer.files.write_whole, []

    def once(option, path, write):
        if write and done:
            raise UserError("--out: No space left on device")
        whole(option, path, write)
        done.extend([path] if write else [])

    monkeypatch.setattr("viewer.files.write_whole", once)
    code, out, _ = upline("new", *ENOUGH)
    assert code == 2 and out == "" and list(tmp_path.iterdir()) == []


def piped(*lines: str):
    """Answers one a line, then the end."""
    stream = io.StringIO("".join(f"{line}\n" for line in lines))
    return stream.readline


def electric_questions() -> list[str]:
    return [q.key for q in QUESTIONS if q.kind != "piston"]


def test_a_dialogue_takes_answers_in_order_and_leaves_the_rest(capsys):
    said = {
        "name": "asked",
        "span": "2.2 m",
        "wing_root_chord": "19.7 in",
        "battery_mass": "50 oz",
        "weight": "~6.5 kg",
    }
    got = ask_all({}, piped(*(said.get(key, "") for key in electric_questions())))
    assert set(got) == set(said)
    assert got["wing_root_chord"].value == pytest.approx(0.50038) and got["weight"].estimated
    err = capsys.readouterr().err
    assert "wing chord at the tip [~270 mm]" in err  # what is taken for an empty line, from what was answered
    assert max(map(len, err.splitlines()[:4])) <= 80


def test_a_wrong_answer_is_explained_and_asked_again(capsys):
    lines = {"span": ["", "2.2", "2.2 m"], "weight": ["1 kg", "6.5 kg"], "stabiliser_at": ["300 mm", "1.1 m"],
             "wing_tip_chord": ["900 mm", ""], "wing_root_chord": ["500 mm"]}  # fmt: skip
    text = [line for key in electric_questions() for line in lines.get(key, [""])]
    got = ask_all({}, piped(*text))
    assert got["span"].value == 2.2 and got["weight"].value == 6.5 and got["stabiliser_at"].value == 1.1
    assert "wing_tip_chord" not in got
    err = " ".join(capsys.readouterr().err.split())
    for said in (
        "all estimates begin here",
        'try: "2.2 m"',
        "kg with that wing",
        "behind the wing",
        "at most 1.2 times",
    ):
        assert said in err


def test_back_changes_the_answer_before(capsys):
    text = ["", "2.2 m", "7.5 kg", "back", "6.5 kg"]
    got = ask_all({}, piped(*text, *[""] * 40))
    assert got["weight"].value == 6.5
    got = ask_all({}, piped("back", "", "back", "mine", "2.2 m", *[""] * 40))  # nothing before the first
    assert got["name"].value == "mine"


def test_only_what_was_not_given_is_asked(capsys):
    given = {
        key: read_answer(BY_KEY[key], text) for key, text in (("span", "3.1 m"), ("power", "piston"), ("name", "x"))
    }
    ask_all(given, piped(*[""] * 40))
    err = capsys.readouterr().err
    assert "displacement" in err and "cells in series" not in err and "wing span:" not in err


def test_answers_that_end_early_leave_nothing(upline, tmp_path, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("mine\n2.2 m\n"))
    code, out, err = upline("new", "--ask")
    assert code == 2 and out == "" and "end of the answers" in err and list(tmp_path.iterdir()) == []


def test_stopped_by_the_keyboard_leaves_nothing(upline, tmp_path, monkeypatch):
    class Stopped(io.StringIO):
        def readline(self, *_):
            raise KeyboardInterrupt

    monkeypatch.setattr("sys.stdin", Stopped())
    assert upline("new", "--ask")[0] == 130
    assert list(tmp_path.iterdir()) == []


def test_it_never_waits_where_nobody_can_answer(tmp_path):
    reading, writing = os.pipe()  # a pipe that nothing is written to, and that stays open
    command = [sys.executable, "-m", "viewer.command_line", "new"]
    try:
        done = subprocess.run(command, stdin=reading, capture_output=True, text=True, timeout=30)
    finally:
        os.close(writing)
        os.close(reading)
    assert done.returncode == 2 and "--span" in done.stderr


def test_a_whole_dialogue_over_a_pipe(upline, tmp_path, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("piped\n1.9 m\n\n" + "\n" * 40))
    code, out, err = upline("new", "--ask", "--json")
    assert code == 0, err
    assert json.loads(out)["airframe"] == "piped" and load(tmp_path / "piped-first.yaml").setup.airframe.name == "piped"
