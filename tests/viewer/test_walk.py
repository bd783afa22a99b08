"""The commands `upline rearward` and `upline walk`: their text, files and refusals."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import subprocess

import pytest
from matplotlib.image import imread

from scenarios.walk.limits import NAMES, limits_of
from viewer.words import CAUTIONS

QUICK = [part for name in NAMES if name not in ("static margin", "hover") for part in ("--limit", f"{name}: off")]
AFT = ("rearward", "precision", "--by", "6 mm", "--draws", "3", "--workers", "1", *QUICK)


def done(result):
    code, out, err = result
    assert code == 0, err
    return out


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A folder in which the walk of these tests is kept, so that it is flown once."""
    return str(tmp_path_factory.mktemp("aft") / "walk")


def test_the_walk_in_words(upline, kept):
    out = done(upline(*AFT, "--folder", kept))
    assert max(map(len, out.splitlines())) <= 80
    flat = " ".join(out.split())
    assert "CG 170.9 mm is sound: 3 of 3 draws broke no limit, at least 37 % at 95 % confidence." in flat
    assert "CG 176.9 mm is not:" in flat
    assert "Stay where you are: only 12 mm are left before the first limit" in flat  # just the two steps back
    assert "What goes first: static margin" in flat and "3.3 % of MAC (13 mm of CG) less than this model says" in flat
    assert "Dive test: trimmed at cruise" in flat and "BACK: it tucks under" in flat and "Stalls:" not in flat
    assert "battery, mm" in out and "-133" in out
    assert "Switched off: time to double, corrections" in flat and "clears nothing to fly" in flat


def test_json_and_csv_hold_the_same_numbers(upline, kept, tmp_path):
    out = done(upline(*AFT, "--folder", kept, "--csv", "aft.csv", "--json"))
    document = json.loads(out)
    rows = list(csv.DictReader(io.StringIO((tmp_path / "aft.csv").read_text(encoding="utf-8"))))
    assert len(rows) == len(document["steps"]) and document["files"] == ["aft.csv"]
    for row, step in zip(rows, document["steps"]):
        assert float(row["cg (mm)"]) == float(step["value"].removesuffix(" mm"))
        margin = step["measures"]["dive-test stick_fixed_margin"]["value"]
        assert float(row["dive-test stick_fixed_margin (%)"]) == margin["value"] and margin["unit"] == "%"
        assert int(row["sound"]) == step["sound"] and int(row["draws"]) == step["draws"]
        assert float(row["moved item (mm)"]) == step["moved_item_at"]["value"]
    assert document["furthest_sound"]["value"] == "170.9 mm" and document["first_not_sound"]["step"] == 4
    assert document["limits"][0]["source"] == limits_of("precision")[0].source
    assert document["limits"][1]["bound"]["value"] is None and document["limits"][1]["written"] == "off"


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_the_picture_is_the_same_every_time(upline, kept, tmp_path, kind):
    for name in ("one", "two"):
        assert f"written: {name}.{kind}" in done(upline(*AFT, "--folder", kept, "--picture", f"{name}.{kind}"))
    one, two = ((tmp_path / f"{name}.{kind}").read_bytes() for name in ("one", "two"))
    assert one == two and len(one) > 5000
    if kind == "png":
        picture = imread(tmp_path / "one.png")[..., :3]
        coloured = picture[picture.max(axis=2) - picture.min(axis=2) > 0.6]  # limits, which are dashed besides
        assert len(coloured) > 100 and (coloured @ [0.299, 0.587, 0.114]).max() < 0.6  # as dark in grey (ITU-R BT.601)


def test_a_walk_of_a_list(upline):
    out = done(upline("walk", "precision", "cg: 31 %, 40 %", *AFT[4:]))
    assert "Sound: 31 %. Not sound: 40 %." in " ".join(out.split()) and "Field order" not in out


def test_a_walk_of_a_range_stops(upline):
    out = done(upline("walk", "precision", "cg: 33 % to 41 % by 2 %", *AFT[4:]))
    flat = " ".join(out.split())
    assert "CG 35 % is sound" in flat and "CG 37 % is not" in flat and max(map(len, out.splitlines())) <= 80


def test_a_start_that_is_not_sound_is_said(upline):
    out = done(upline(*AFT, "--limit", "static margin: 12 %"))
    assert "No step is sound: CG 158.9 mm, where the walk starts, breaks a limit already" in " ".join(out.split())


@pytest.mark.parametrize(
    "arguments, words",
    [
        (("rearward", "precise"), "precision"),
        (("rearward", "precision", "--by", "3 kg"), "--by: found"),
        (("rearward", "precision", "--draws", "0"), "--draws: found"),
        (("rearward", "precision", "--seed", "-1"), "--seed: found"),
        (("rearward", "precision", "--share", "120 %"), "--share: found"),
        (("rearward", "precision", "--limit", "margin: 5 %"), "static margin"),
        (("rearward", "precision", "--limits", "none.yaml"), "none.yaml"),
        (("rearward", "precision", "--picture", "aft.gif"), "--picture: found"),
        (("rearward", "precision", "--pilot", "ace"), "--pilot: found"),
        (("rearward", "precision", "--ballast-at", "nowhere"), "--ballast-at"),
        (("rearward", "precision", "--workers", "none"), "--workers: found"),
        (("walk", "precision", "elevator throw"), "INPUT: values"),
        (("walk", "precision", "elevator: 12 deg, 14 deg"), "elevator throw"),
        (("walk", "precision", "pilot: expert, learner"), "not of the air or the pilot"),
    ],
)
def test_wrong_input_is_refused_in_a_line(upline, arguments, words):
    code, out, err = upline(*arguments)
    assert code == 2 and not out and words in err and "Traceback" not in err


def test_all_that_is_wrong_is_said_at_once(upline, tmp_path):
    code, _, err = upline(
        "rearward", "precision", "--by", "3", "--draws", "x", "--limit", "spin: 2", "--csv", "a.txt", "--folder", "kept"
    )
    assert code == 2 and len(err.strip().splitlines()) == 4 and not (tmp_path / "kept").exists()


def test_the_card_of_the_walk(upline, kept, tmp_path):
    further = [*AFT, "--folder", kept, "--limit", "static margin: 1 %"]
    out = done(upline(*further, "--card", "aft.pdf", "--paper", "letter"))
    data = (tmp_path / "aft.pdf").read_bytes()
    assert out.count("written: aft.pdf") == 1 and b"/MediaBox [ 0 0 612 792 ]" in data
    assert len(re.findall(rb"/Type */Page\b", data)) == 1
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed (apt: poppler-utils)")
    page = subprocess.run(
        ["pdftotext", "-raw", "aft.pdf", "-"], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    text = " ".join(page.stdout.split())
    assert "CG aft: precision on tarn-220" in text and " ".join(CAUTIONS.split()) in text
    document = json.loads(done(upline(*further, "--json")))
    advised = next(n for n, s in enumerate(document["steps"]) if s["value"] == document["advised"]["value"])
    steps = document["steps"][: advised + 1]
    assert advised >= 1
    places = " ".join(step["value"].removesuffix(" mm") for step in steps)
    assert f"CG, mm behind the root leading edge {places} battery, mm behind it (- ahead)" in text
    for step in steps:
        assert f"{step['measures']['dive-test pitch_drift']['value']['value']:.1f} \N{PLUS-MINUS SIGN}" in text
    assert "BACK" not in text and "it tucks under" in text and "On any sign to go back: land, 2 steps forward" in text


def test_no_card_where_no_step_is_sound(upline, kept, tmp_path):
    out = done(upline(*AFT, "--folder", kept, "--limit", "static margin: 30 %", "--card", "aft.pdf"))
    assert "aft.pdf is not written: no step is sound" in out and not (tmp_path / "aft.pdf").exists()
