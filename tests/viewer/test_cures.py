"""What `upline cures` prints, for people and as JSON, and its exit codes."""

import json
import math
import re

import pytest


def test_cures_as_text_fit_a_terminal_and_end_with_the_cautions(upline):
    code, out, _ = upline("cures", "precision", "--only", "knife-edge")
    assert code == 0 and max(map(len, out.splitlines())) <= 80
    for words in ("in short", "cause, right knife edge", "left over", "price", "trust:", "clears nothing to fly"):
        assert words in out
    assert re.search(r"mixes > - \{from: rudder, to: elevator, gain: -?[\d.]+ %\}", out)
    assert "Rolls" not in out


def test_cures_document(upline):
    code, out, _ = upline("cures", "precision", "--json")
    assert code == 0
    got = json.loads(out, parse_constant=lambda word: pytest.fail(f"{word} in JSON"))
    assert got["setup"] == "precision" and [c["group"] for c in got["cures"]] == [
        "knife-edge", "knife-edge", "rolls", "thrust", "down-line", "cg",
    ]  # fmt: skip
    for cure in got["cures"]:
        assert cure["trust"] and cure["coupling"] and cure["reason"] is None
        assert len(cure["causes"]) >= 3
        for entry in (c["moment"] for c in cure["causes"]):
            assert entry["unit"] == "N m" and math.isfinite(entry["value"])
        for option in cure["options"]:
            assert option["setup_file"] and all(set(q) == {"value", "unit"} for q in option["amounts"].values())
        for row in (*cure["left_over"], *cure["price"]):
            assert len(row["under_each_option"]) == len(cure["options"]) and row["as_it_is"]["unit"]


def test_what_a_cure_says_can_be_written_into_the_setup_file(upline, own):
    got = json.loads(upline("cures", "precision", "--json")[1])
    edits = [option["setup_file"] for cure in got["cures"] for option in cure["options"]]
    mixes = [edit.removeprefix("mixes > - ") for edit in edits if edit.startswith("mixes")]
    own("setup.yaml", "servos:\n", "mixes: [" + ", ".join(mixes[:2]) + "]\nservos:\n")
    aileron = next(e for e in edits if e.startswith("throws > aileron"))
    own("setup.yaml", "aileron: {up: 14 deg, down: 14 deg, exponential: 20 %}", aileron.removeprefix("throws > "))
    thrust = next(e for e in edits if e.startswith("thrust line"))
    path = own("setup.yaml", "servos:\n", f"{thrust}\nservos:\n")
    path = own("setup.yaml", "cg: 31 %", next(e for e in edits if e.startswith("cg")))
    assert upline("balance", path)[0] == 0


def test_a_group_that_does_not_exist_is_refused_with_the_nearest(upline):
    code, _, err = upline("cures", "precision", "--only", "knife")
    assert code == 2 and "knife-edge" in err


def test_a_plane_that_cannot_fly_level_has_no_cures(upline, own):
    path = own("setup.yaml", "propeller: 20x13", "propeller: 8x3")
    code, out, err = upline("cures", path)
    assert code == 3 and not out and "cannot be flown" in err


def test_a_cure_that_cannot_be_computed_says_why(upline, own):
    path = own("setup.yaml", "rudder: {left: 30 deg, right: 30 deg", "rudder: {left: 6 deg, right: 6 deg")
    code, out, _ = upline("cures", path, "--only", "knife-edge")
    assert code == 0 and "No cure" in out and re.search(r"needs \d+ deg of rudder, more than its throw", out)
    assert max(map(len, out.splitlines())) <= 80
