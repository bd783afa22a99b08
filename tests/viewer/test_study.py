"""The command `upline study`: its table, document, picture, files and refusals."""

import csv
import io
import json
import xml.etree.ElementTree

import numpy as np
import pytest
from matplotlib.image import imread

LEVEL = ("study", "precision", "level-trim", "--draws", "40", "--workers", "1")
TWO = ("--only", "--uncertain", "cg: 2 mm, incidence of stabiliser: +- 0.3 deg")
QUICK = (*LEVEL, "--measure", "elevator_trim", *TWO)


def done(result):
    code, out, err = result
    assert code == 0, err
    return out


def test_a_table_a_pilot_can_read(upline):
    out = done(upline(*LEVEL))
    lines = out.splitlines()
    assert lines[0] == "precision on tarn-220: 40 draws from seed 1" and max(map(len, lines)) <= 80
    text = " ".join(out.split())
    assert "cg 2.0 mm; mass scale 0.5 %; incidence of wing 0.2 deg; incidence of stabiliser, fin 0.3 deg" in text
    assert "down, right thrust 0.5 deg; aileron up, aileron down," in text
    row = next(line for line in lines if line.startswith("elevator_trim")).split()
    nominal, five, half, most = map(float, row[2:6])
    assert five < nominal < most and five < half < most
    assert "mostly incidence of stabiliser (" in text and "With 40 draws, 5 % may be 0.6 to 17 % of all flights" in text
    assert "What to measure better" in out and "- incidence of stabiliser (0.3 deg):" in out
    assert (
        "clears nothing to fly" in out
        and "Halves of wing and elevator that are not alike, and how far the model" in text
    )


def test_the_document_holds_numbers_units_and_the_seed(upline):
    document = json.loads(done(upline(*QUICK, "--seed", "7", "--json")))
    assert document["seed"] == 7 and document["draws"] == 40 and document["confidence"] == 0.95
    assert document["uncertain"][0] == {
        "input": "cg", "kind": "normal", "how": "on a stand, level, ready to fly (on fingertips 5 mm)",
        "spread": {"value": 2.0, "unit": "mm"},
    }  # fmt: skip
    (manoeuvre,) = document["manoeuvres"]
    assert manoeuvre["endings"]["completed"]["draws"] == 40 and manoeuvre["nominal_ended"] == "completed"
    (measure,) = manoeuvre["measures"]
    five, half, most = measure["quantiles"]
    assert five["value"] < half["value"] < most["value"] and five["low"] is None and half["unit"] == "deg"
    assert measure["sd"]["value"] > 0.0 and measure["missing"]["draws"] == 0
    assert [one["input"] for one in measure["ranking"]["inputs"]] == ["incidence of stabiliser", "cg"]
    assert measure["ranking"]["inputs"][0]["per_sigma"]["unit"] == "deg"
    assert document["measure_better"][0]["input"] == "incidence of stabiliser"


def test_the_same_seed_is_the_same_study(upline):
    quick = (*QUICK, "--draws", "10", "--json")
    one, two, other = (done(upline(*quick, "--seed", seed)) for seed in ("3", "3", "4"))
    assert one == two != other


def test_variance_says_what_it_flew_and_agrees(upline):
    """Two inputs that add: first-order indices of 30 rows and shares from the draws hold each other in their bounds."""
    code, out, err = upline(*QUICK, "--draws", "60", "--variance", "--json")
    assert "--variance: 60 flights of each manoeuvre besides the draws" in err
    document = json.loads(done((code, out, err)))
    (measure,) = document["manoeuvres"][0]["measures"]
    assert document["more_flights_for_variance"] == 60 and measure["variance"]["rows"] == 30
    shares = {one["input"]: one["share"] for one in measure["ranking"]["inputs"]}
    for name, index in measure["variance"]["first"].items():
        assert index["low"] - 0.05 <= shares[name] <= index["high"] + 0.05


def test_wind_is_told(upline):
    out = done(upline(*QUICK[:-1], "cg: 2 mm", "--wind", "3m/s", "--draws", "30"))
    text = " ".join(out.split())
    assert (
        "set: wind 1.5 m/s, turbulence as the wind" in text
        and "wind +- 1.50 m/s; wind direction, turbulence seed any" in text
    )


def test_the_balance_is_studied_without_a_flight(upline):
    out = done(upline("study", "precision", "balance", "--measure", "static_margin", "--draws", "40"))
    assert "nothing is flown: the plane at rest" in out and "expert pilot" not in out
    row = next(line for line in out.splitlines() if line.startswith("static_margin"))
    assert row.split()[1:3] == ["%", "13.2"] and "mostly cg (-) 0.9" in row
    assert "every margin may read that much too large" in " ".join(out.split())
    for more, words in (
        (("--wind", "3m/s"), "--wind: found a wind where nothing is flown"),
        (("--set", "wind: 3 m/s"), '--set: found "wind" with balance'),
        (("--uncertain", "pilot delay: 5 ms"), '"pilot delay": found it with nothing flown'),
        (("--measure", "static_margn"), "try: static_margin"),
    ):
        code, _, err = upline("study", "precision", "balance", *more)
        assert code == 2 and words in err
    done(upline("study", "precision", "balance", "level-trim", "--wind", "3m/s", "--draws", "10"))


def test_few_draws_tell_nothing_apart(upline):
    out = done(upline(*LEVEL, "--draws", "12"))
    assert "not told apart: too few draws: 12, at least 38 are needed" in " ".join(out.split())
    assert "What to measure better: no input alone is worth it." in out


def test_a_picture_opens_and_is_not_blank(upline, tmp_path):
    quick = (*LEVEL, "--draws", "22", *TWO)
    for ending in ("svg", "pdf", "png"):
        assert f"written: a.{ending}" in done(upline(*quick, "--picture", f"a.{ending}"))
    picture = imread(tmp_path / "a.png")[:, :, :3]
    height, width, _ = picture.shape
    assert width == 1245 and height > 800
    dark = picture.mean(axis=2) < 0.3
    for part in (
        dark[: height // 8],
        dark[:, : width // 4],
        dark[:, width // 4 : width // 2],
        dark[:, 3 * width // 4 :],
    ):
        assert 0.0005 < part.mean() < 0.4  # heading, names, draws, inputs
    coloured = picture[np.ptp(picture, axis=2) > 0.15]  # bars of the inputs: the darkest is the largest share
    grey = coloured @ [0.299, 0.587, 0.114]  # ITU-R BT.601
    assert grey.size > 50 and grey.max() < 0.6
    assert not dark[:, -6:].any() and not dark[:, :6].any()
    assert xml.etree.ElementTree.parse(tmp_path / "a.svg").getroot().tag.endswith("svg")
    assert (tmp_path / "a.pdf").read_bytes().startswith(b"%PDF")
    first = (tmp_path / "a.png").read_bytes()
    done(upline(*quick, "--picture", "b.png"))
    assert (tmp_path / "b.png").read_bytes() == first


BAD = [
    (["--uncertain", "cgg: 2 mm"], ["--uncertain", '"cgg"', "try: cg"]),
    (["--draws", "3"], ["--draws", '"3"', "a whole number from 10 to 100000"]),
    (["--draws", "many"], ["--draws", '"many"']),
    (["--seed", "-1"], ["--seed", "from 0 to 999999999"]),
    (["--workers", "0"], ["--workers", "from 1 to"]),
    (["--pilot", "ace"], ["--pilot", "expert, practised, learner"]),
    (["--measure", "stall_speeed"], ["--measure", "a measure of what is flown: elevator_trim"]),
    (["--measure", "elevator_trim", "--measure", "elevator_trim"], ["a second time"]),
    (["--wind", "3"], ["--wind", "a number without a unit"]),
    (["--wind", "90 m/s"], ["--wind", "at most 20 m/s"]),
    (["--set", "cg"], ["--set", "INPUT: VALUE"]),
    (["--set", "cg: 31 mmm"], ["--set", '"cg"', "unknown unit"]),
    (["--set", "cg: 31 %", "--set", "cg: 32 %"], ["--set", "a second time"]),
    (["--set", "cg: 90 %"], ["battery", "its tray"]),
    (["--only"], ["--uncertain", "nothing that is uncertain"]),
    (["--csv", "a.txt"], ["--csv", "ends in .csv"]),
    (["--picture", "a.gif"], ["--picture", "ends in .png"]),
    (["--draws", "x", "--seed", "y", "--uncertain", "cgg: 1 mm"], ["--draws", "--seed", '"cgg"']),
]


@pytest.mark.parametrize("more, words", BAD, ids=[" ".join(more)[:60] for more, _ in BAD])
def test_a_mistake_is_one_message_and_writes_nothing(upline, tmp_path, more, words):
    code, out, err = upline("study", "precision", "level-trim", *more)
    assert code == 2 and out == "" and err.startswith("upline: ") and err.count("upline: ") == 1, err
    for word in words:
        assert word in err, err
    assert list(tmp_path.iterdir()) == []


def test_manoeuvres_are_asked_for_once_and_must_exist(upline):
    for names, words in ((("stall", "stall"), "a second time"), (("stal",), "try: stall")):
        code, out, err = upline("study", "precision", *names)
        assert code == 2 and words in err
    code, out, err = upline("study", "precision", "stall", "level-trim", "--measure", "stall_speed")
    assert code == 2 and "without level-trim" in err


def test_nothing_that_can_be_flown_is_code_3(upline):
    code, out, err = upline(
        "study", "precision", "hover", "--set", "propeller: 10x4", "--draws", "10", "--workers", "1"
    )
    assert code == 3 and out == "" and err.startswith("upline: cannot be flown: hover with precision")


def test_progress_says_what_is_left_and_a_stop_what_is_kept(upline, monkeypatch):
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    code, out, err = upline(*QUICK, "--draws", "10")
    assert code == 0 and "draw 11 of 11, seed 1, about 0:00 left" in err
    from viewer.commands.study import _Flights

    monkeypatch.setattr(_Flights, "fly", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
    code, out, err = upline(*QUICK, "--draws", "10")
    assert code == 130 and out == "" and "stopped, seed 1; kept is what is flown with --folder" in err


def test_a_study_that_was_stopped_goes_on_from_its_folder(upline, tmp_path, monkeypatch):
    from viewer.text import Progress

    def stop(self, text):
        if "draw 100 of" in text:
            raise KeyboardInterrupt

    monkeypatch.setattr(Progress, "note", stop)
    code, out, err = upline(*QUICK, "--draws", "120", "--folder", "kept", "--csv", "a.csv")
    assert code == 130 and out == ""
    assert "stopped at draw 100 of 121, seed 1; the same command goes on from kept" in err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["kept"]
    notes = []
    monkeypatch.setattr(Progress, "note", lambda self, text: notes.append(text))
    gone_on = done(upline(*QUICK, "--draws", "120", "--folder", "kept", "--json"))
    assert any(note.startswith("draw 100 of 121, seed 1") for note in notes)  # the first that it says: they were there
    assert gone_on == done(upline(*QUICK, "--draws", "120", "--json", "--workers", "2"))
    code, out, err = upline(*QUICK, "--draws", "120", "--folder", "kept", "--seed", "5")
    assert code == 2 and "which differs in the seed (1 there, 5 here)" in err


def test_every_draw_goes_into_a_table(upline, tmp_path):
    """The figures of the study come out of its table again."""
    document = json.loads(done(upline(*QUICK, "--draws", "20", "--csv", "a.csv", "--parquet", "a.parquet", "--json")))
    rows = list(csv.DictReader(io.StringIO((tmp_path / "a.csv").read_text(encoding="utf-8"))))
    assert document["files"] == ["a.csv", "a.parquet"] and len(rows) == 21
    values = np.array([float(row["level-trim elevator_trim (deg)"]) for row in rows])
    (measure,) = document["manoeuvres"][0]["measures"]
    assert measure["nominal"]["value"] == values[0] and measure["mean"]["value"] == pytest.approx(values[1:].mean())
    assert float(rows[0]["error of cg (mm)"]) == 0.0 and rows[1]["level-trim ended"] == "completed"
    table = pytest.importorskip("pyarrow.parquet").read_table(tmp_path / "a.parquet")
    assert table.column("level-trim elevator_trim (deg)").to_pylist() == values.tolist()


def test_a_parquet_file_without_its_package_is_refused_before_the_flights(upline, monkeypatch, tmp_path):
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    code, out, err = upline(*QUICK, "--parquet", "a.parquet")
    assert code == 2 and "--parquet: found no pyarrow on this machine" in err and list(tmp_path.iterdir()) == []
