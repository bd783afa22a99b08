"""`upline bench propeller`: what is printed, drawn and refused."""

from __future__ import annotations

import json

import pytest

from models.loader import load_setup
from scenarios.bench.propeller import Benched, Reading, rows_for
from viewer.bench.propeller import propeller_text, sentences

SETUP = "slow-3d"


@pytest.mark.parametrize("picture", [".png", ".svg"])
def test_table_and_picture(upline, tmp_path, picture):
    code, out, _ = upline("bench", "propeller", SETUP, "--propellers", "23x8, 22x9", "--picture", f"props{picture}")
    assert code == 0
    lines = out.split("\n")
    assert max(map(len, lines)) <= 80
    assert lines[0] == "propellers for slow-3d on tarn-220" and "23x8*" in lines[3] and "22x9" in lines[3]
    for row in rows_for(load_setup(SETUP)):
        assert any(line.startswith(row.heading.split("{")[0].rstrip()) for line in lines), row.heading
    assert "Most static thrust: 23x8" in out and "Most braking" in out and "Finest throttle" in out
    assert "19x12 of the same make" in out  # against what the family was held
    assert "clears nothing to fly" in out
    assert (tmp_path / f"props{picture}").stat().st_size > 10_000


def test_document(upline):
    code, out, err = upline("bench", "propeller", "corrie-310-precision", "--propellers", "31x12", "--json")
    assert code == 0 and "clears nothing to fly" in err
    document = json.loads(out)
    (only,) = document["propellers"]
    assert only["propeller"] == "31x12" and only["in_the_setup"] and only["blade_family"] == "stiff-wood"
    for row in rows_for(load_setup("corrie-310-precision")):
        assert only[row.name]["unit"] == row.unit and only[row.name]["value"] is not None
    assert "current" not in only and only["rpm_left"]["value"] > 0.0
    assert any("Mach" in text for text in only["not_checked"])
    assert any("11x7 wooden" in text for text in document["checked"])


def made(size: str, own: bool = False, **values: float) -> Benched:
    """A propeller with readings made by hand; what is not given is 1."""
    setup = load_setup(SETUP)
    known = {row.name: Reading(values.get(row.name, 1.0)) for row in rows_for(setup)}
    return Benched(size, setup.propeller, own, known, reynolds=3e5)


def test_sentences_say_what_to_watch():
    setup = load_setup(SETUP)
    found = [
        made("A", static_thrust=100.0, thrust_over_weight=1.8, current_left=-5.0, tip_mach=0.75),
        made("B", static_thrust=120.0, thrust_over_weight=0.9, current_left=5.0, tip_mach=0.65, tip_mach_fast=0.66),
    ]
    found[0].readings["top_speed"] = Reading(None, "no level flight")
    said = "\n".join(sentences(setup, found))
    assert "Most static thrust: B with 120.0 N (other end: A, 100.0)." in said
    assert "top speed" not in said.split("Watch")[0]  # one value is no comparison
    assert "more than the limit is asked for at full throttle by A." in said
    assert "within 10 % of the limit with B." in said
    assert "thrust is less than the plane weighs: B." in said
    assert "beyond Mach 0.7 with A:" in said and "which is loud (common practice), with B." in said
    assert "hover" not in said.split("Watch")[0].lower()  # where all are equal none is best
    text = propeller_text(setup, found, 25.0)
    assert "- (1)" in text and "(1) no level flight" in text


def test_a_propeller_that_cannot_run_is_a_column_of_its_own():
    setup = load_setup(SETUP)
    dead = Benched("40x30", setup.propeller, False, cannot_run="the engine cannot turn this propeller")
    text = propeller_text(setup, [made("23x8", own=True), dead], 25.0)
    assert "40x30 cannot be run: the engine cannot turn this propeller." in text
    assert max(map(len, text.split("\n"))) <= 80


@pytest.mark.parametrize(
    "arguments, said",
    [
        (("--propellers", "20x, 22x8x99, 22x8"), ('found "20x"', "99 blades")),
        (("--propellers", ""), ("found an empty text",)),
        (("--propellers", ",".join(f"{20 + n / 10}x10" for n in range(25))), ("found 25 propellers", "up to 24")),
        (("--airspeed", "25"), ("a number without a unit", '"25 m/s"')),
        (("--airspeed", "0 m/s"), ("an airspeed over 0",)),
        (("--sort", "topspeed"), ("try: top speed",)),
        (("--sort", "rpm left"), ("--sort",)),  # a row of piston engines alone
        (("--family", "thinlight"), ("try: thin-light",)),
        (("--picture", "x.jpg"), ("--picture", ".png")),
        (("--picture", "no/such/folder/x.png"), ("--picture", "No such file")),
    ],
)
def test_wrong_input_is_refused_at_once(upline, arguments, said):
    code, out, err = upline("bench", "propeller", SETUP, *arguments)
    assert code == 2 and out == "" and "Traceback" not in err
    for text in said:
        assert text in err


def test_sorting_and_families(upline):
    code, out, _ = upline(
        "bench", "propeller", SETUP, "--propellers", "23x8", "--family", "broad-sport", "--sort", "static thrust"
    )
    assert code == 0
    head = next(line for line in out.split("\n") if "23x8*" in line)
    assert head.split() == ["23x8", "23x8*"]  # broader blades pull more; the setup's own comes second
    assert "broad-sport  thin-light" in out
