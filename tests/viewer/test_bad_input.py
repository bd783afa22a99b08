"""Every mistake of a user: exit code 2, one message, no traceback, nothing written."""

import os
import shutil
import subprocess
import sys

import pytest

import scenarios
from tests.viewer.conftest import MODELS


def refused(result, tmp_path, before, *words):
    code, out, err = result
    assert code == 2 and out == ""
    assert err.startswith("upline: ") and "Traceback" not in err
    for word in words:
        assert word in err, (word, err)
    assert sorted(p for p in tmp_path.rglob("*")) == before


def everything(tmp_path):
    return sorted(p for p in tmp_path.rglob("*"))


@pytest.mark.parametrize(
    "arguments, words",
    [
        (["balance", "nowhere.yaml"], ["nowhere.yaml", "no such file"]),
        (["balance", "slow3d"], ['"slow3d"', "try: slow-3d", "precision"]),
        (["fly", "stal", "--setup", "precision"], ['"stal"', "try: stall"]),
        (["fly", "stall"], ["--setup SETUP"]),
        (["fly", "stall", "--setup", "precision", "--why", "landing"], ['"landing"', '"released"']),
        (["compare", "precision"], ["one setup"]),
        (["compare", "precision", "precision"], ['"precision" a second time']),
        (["balanc", "precision"], ['"balanc"', "try: upline balance"]),
        (["list", "--planes"], ["--planes", "--help"]),
        (["balance"], ["SETUP", "upline balance --help"]),
        (["fly", "--why", "stall", "--setup", "precision"], ["no manoeuvre", "--why at the end"]),
        (["fly", "stall", "--setup", "precision", "--why", "recovry"], ['try: "recovery"']),
        (["fly", "stall", "--setup", "precision", "--save", ""], ["--save", "an empty text"]),
        (["fly", "--again", ""], ["--again", "an empty text"]),
        (
            ["fly", "stall", "--setup", "precision", "--cg", "-20mm"],
            ["battery at -951 mm", "its tray", "2359 g at the spinner"],
        ),
        (["balance", "pr\x1b[31mecision"], ['"pr\\x1b[31mecision"', "try: precision"]),
        (["balance", "precision", "--cg", "12"], ["--cg", '"12"', '"12 mm" or "12 %"']),
        (["balance", "precision", "--cg", "nan mm"], ["--cg"]),
        (["balance", "precision", "--cg", "150 kg"], ["--cg", "kg"]),
        (
            ["fly", "stall", "--setup", "precision", "--cg", "240 mm"],
            ["its tray", "CG from 140 to 223 mm", "mass: 105 g, at: [1300 mm, 0 mm, 0 mm]", "upline balance"],
        ),
        (["balance", "precision", "--cg", "240 mm", "--ballast-at", "tail pst"], ["tail pst", "try: tail post"]),
        (["balance", "precision", "--cg", "240 mm", "--ballast-at", "1250"], ["--ballast-at", "1250 mm"]),
        (["balance", "precision", "--cg", "240 mm", "--ballast-at", "motor"], ["-330 mm", "behind the wanted CG"]),
        (["balance", "precision", "--scales", "main 5.9 kg"], ["--scales", "main and tail", "left, right and tail"]),
        (["balance", "precision", "--scales", "mian 5 kg, tail 1 kg"], ['"mian"', "try: main"]),
        (["balance", "precision", "--scales", "main 5.9kg tail 620g"], ["a comma between the readings"]),
        (["balance", "precision", "--scales", "main 5.9, tail 620 g"], ["--scales, main", "without a unit"]),
        (["balance", "precision", "--scales", "main 5 kg, main 5 kg"], ['"main" a second time']),
        (["balance", "precision", "--scales", "main 0 g, tail 0 g"], ["no load"]),
        (["balance", "precision", "--scales", "main 5 kg, nose 1 kg"], ['"tail" instead of "nose"']),
        (["balance", "precision", "--tail-low", "8 deg"], ["--tail-low", "--scales"]),
        (["balance", "precision", "--scales", "main 5 kg, tail 1 kg", "--tail-low", "8"], ['"8 deg"']),
        (["balance", "precision", "--cg", "12", "--scales", "x", "--wheels", "main 5 mm"], ["--cg", "--wheels"]),
        (
            [
                "balance",
                "precision",
                "--scales",
                "main 5 kg, tail 1 kg",
                "--wheels",
                "main [50 mm, 230 mm, 0 mm], tail [20 mm, 0 mm, 0 mm]",
            ],
            ["--wheels, tail", "behind the main wheels"],
        ),
        (["fly", "--again", "nothing"], ["no flight record"]),
        (["fly", "--again", "nothing", "--setup", "precision"], ["--again"]),
    ],
)
def test_arguments(upline, tmp_path, arguments, words):
    before = everything(tmp_path)
    refused(upline(*arguments), tmp_path, before, *words)


@pytest.mark.parametrize(
    "file, old, new, words",
    [
        ("setup.yaml", "propeller: 20x13", "propeller: 21x", ["setup.yaml:9", "propeller", '"21x"']),
        ("setup.yaml", "cg: 31 %", "cg: 31 %\ncg: 32 %", ["setup.yaml:8", "cg"]),
        ("setup.yaml", "throws:\n  aileron", "throws:\n\taileron", ["setup.yaml:12", "tab"]),
        ("setup.yaml", "exponential: 20 %", "exponential: 20 mm", ["exponential", '"20 mm"']),
        ("setup.yaml", "about: forward", "about: !!python/object/apply:os.system [true] #", ["setup.yaml:4"]),
        ("setup.yaml", "cg: 31 %", "cg: .nan", ["setup.yaml:7", "cg"]),
        ("setup.yaml", "cg: 31 %", "cg: .inf mm", ["setup.yaml:7", "cg"]),
        ("setup.yaml", "cg: 31 %", "cg: 1e999 mm", ["setup.yaml:7", "cg"]),
        ("plane.yaml", "mass: 620 g", "mass: -620 g", ["plane.yaml:51:35", "mass", '"-620 g"']),
        ("plane.yaml", "chord: 500 mm", "chord: 0 mm", ["plane.yaml:11", "chord", '"0 mm"']),
        ("plane.yaml", "mass: 1.42 kg", "mass: heavy", ["mass", '"heavy"']),
        ("plane.yaml", "thickness: 13 %", "thicknes: 13 %", ["thicknes", "try: thickness"]),
    ],
)
def test_files(upline, own, tmp_path, file, old, new, words):
    setup = own(file, old, new)
    before = everything(tmp_path)
    refused(upline("balance", setup), tmp_path, before, *words)
    refused(upline("fly", "stall", "--setup", setup, "--save", "kept"), tmp_path, before, *words)


@pytest.mark.parametrize(
    "text, words",
    [
        ("", ["empty"]),
        ("[" * 100_000, ["setup.yaml"]),
        ("a: " * 3 + "\n", ["setup.yaml"]),
        ("about: x\n" * 1_200_000, ["setup.yaml"]),
        ("x: &a [1,2]\ny: *a\n", ["setup.yaml"]),
        ("\x00\x01\x02", ["setup.yaml"]),
        ("--- 1\n--- 2\n", ["setup.yaml"]),
    ],
    ids=["empty", "deep nesting", "not a mapping", "10 MB", "aliases", "binary", "two documents"],
)
def test_whole_files(upline, own, tmp_path, text, words):
    (own.folder / "setup.yaml").write_text(text, encoding="utf-8")
    before = everything(tmp_path)
    refused(upline("balance", own.folder / "setup.yaml"), tmp_path, before, *words)


@pytest.mark.parametrize(
    "old, new, words",
    [
        ("for: 4 s", "", ["level-trim.yaml:", "no end"]),
        ("for: 4 s", "until: {bank: above 5 deg}", ['"until" without "at most"']),
        ("for: 4 s", "for: 4 m", ["4 m"]),
        ("for: 4 s", "for: 400 s", ["400 s", "60 s"]),
        ("elevator_trim", "elevator_trimm", ["elevator_trimm", "try: elevator_trim"]),
        ("airspeed: 25 m/s", "airspeed: -25 m/s", ["-25 m/s"]),
        ("elevator: 10 %", "elevator: 10 %, release: [elevator]", ["asked to do two things"]),
    ],
)
def test_manoeuvre_files(upline, tmp_path, old, new, words):
    source = MODELS.parent / "scenarios" / "manoeuvres" / "level-trim.yaml"
    assert scenarios.__file__.startswith(str(MODELS.parent))
    shutil.copy(source, tmp_path / "level-trim.yaml")
    text = source.read_text(encoding="utf-8")
    assert old in text
    (tmp_path / "level-trim.yaml").write_text(text.replace(old, new, 1), encoding="utf-8")
    before = everything(tmp_path)
    refused(upline("fly", tmp_path / "level-trim.yaml", "--setup", "precision"), tmp_path, before, *words)


def test_a_record_is_not_written_over(upline, tmp_path):
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept" / "mine.txt").write_text("mine")
    before = everything(tmp_path)
    refused(upline("fly", "stall", "--setup", "precision", "--save", "kept"), tmp_path, before, "--save", "kept")


def test_too_fast_to_trim_is_not_the_users_mistake(upline, tmp_path):
    text = (MODELS.parent / "scenarios" / "manoeuvres" / "level-trim.yaml").read_text(encoding="utf-8")
    (tmp_path / "fast.yaml").write_text(text.replace("airspeed: 25 m/s", "airspeed: 60 m/s"), encoding="utf-8")
    code, out, err = upline("fly", "fast.yaml", "--setup", "precision")
    assert code == 3 and out == "" and "60.0 m/s" in err and "Traceback" not in err


def test_two_manoeuvres_of_one_name(upline, tmp_path):
    shutil.copy(MODELS.parent / "scenarios" / "manoeuvres" / "stall.yaml", tmp_path / "mine.yaml")
    before = everything(tmp_path)
    arguments = ["compare", "precision", "slow-3d", "--manoeuvre", "stall", "--manoeuvre", "mine.yaml"]
    refused(upline(*arguments), tmp_path, before, "two manoeuvres", '"stall"')


def test_a_record_that_was_meddled_with(upline, tmp_path):
    assert upline("fly", "level-trim", "--setup", "precision", "--save", "kept")[0] == 0
    flight, inputs = tmp_path / "kept" / "flight.npz", tmp_path / "kept" / "inputs.json"
    whole = flight.read_bytes()
    flight.write_bytes(whole[: len(whole) // 2])
    before = everything(tmp_path)
    refused(upline("fly", "--again", "kept"), tmp_path, before, "cut short or damaged")
    flight.write_bytes(whole)
    text = inputs.read_text(encoding="utf-8")
    for old, new, word in (
        ('"format": 4', '"format": 3', "record format 3"),
        ("flight record", "diary", "another kind"),
        ("{", "[" * 100_000, "not a flight record"),
        ("cg: 31 %", "cg: 91 %", "its tray"),
    ):
        inputs.write_text(text.replace(old, new, 1), encoding="utf-8")
        refused(upline("fly", "--again", "kept"), tmp_path, before, word)


def test_stopped_by_the_keyboard(upline, monkeypatch):
    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("scenarios.balance.balance", stop)
    assert upline("balance", "precision") == (130, "", "upline: stopped\n")


def test_a_full_disk(upline, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("viewer.balance.balance_table", full)
    code, out, err = upline("balance", "precision")
    assert (code, out) == (2, "") and err == "upline: the output could not be written: No space left on device\n"


@pytest.mark.skipif(os.name == "nt", reason="pipes of the shell")
@pytest.mark.parametrize("arguments", [[], ["list"], ["balance", "precision", "--json"]])
def test_a_reader_that_has_gone(arguments):
    command = [sys.executable, "-m", "viewer.command_line", *arguments]
    reading, writing = os.pipe()
    os.close(reading)
    run = subprocess.run(command, stdout=writing, stderr=subprocess.PIPE, text=True)
    os.close(writing)
    assert (run.returncode, run.stderr) == (0, "")
