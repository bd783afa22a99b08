"""The whole chain: a setup set up again from its own printed card flies as the setup did, within what the card rounds."""

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest
import yaml

import models
from models.entries import entries
from models.loader import known_setups, load
from scenarios.card import card, flap_chord, trailing_edge_travel, whole_file
from scenarios.manoeuvres import fly_manoeuvre, flyable, load_manoeuvre
from scenarios.measures import take_measures
from viewer.card.text import INCHES, LABEL, SET, TITLES, TRAVEL, card_text

MODELS = Path(models.__file__).parent
SETUPS = [name for name, _ in known_setups()]
# values that the card's digits do not hold
AWKWARD = """\
format: 1
kind: setup
name: awkward
airframe: tarn-220
way of flying: slow 3D
cg: 151.37 mm
moved item: battery
propeller: 20.5x12.75x3
propeller turns: anticlockwise
propeller mass: 83 g
blade family: broad-sport
throws:
  aileron: {up: 23.46 deg, down: 19.73 deg, exponential: 23.47 %}
  elevator: {up: 0.3 rad, down: 16.24 deg, exponential: 0.3333}
  rudder: {left: 31.07 deg, right: 33.33 deg}
servos:
  aileron: {speed: 420 deg/s, lag: 27 ms}
  elevator: {speed: 0.1234 s/60deg}
  rudder: {speed: 0.1111 s/60deg}
mixes:
  - {from: rudder, to: elevator, gain: -3.33 %}
  - {from: throttle, to: rudder, gain: 2.22 %}
throttle curve: [0 %, 33.333 %, 71.2345 %, 100 %]
thrust line: {down: 1.23 deg, right: -0.77 deg, at: [-462.3 mm, 0 mm, 21.7 mm]}
incidence: {wing: 0.37 deg, stabiliser: -0.23 deg}
linkages:
  elevator: {servo arm: 1 1/4 in, horn height: 36.3 mm, servo to hinge: 120 mm, rod side: below}
low rates: {aileron: 55.55 %, elevator: 44.44 %, rudder: 66.66 %}
trims: {elevator: 0.27 deg, rudder: -0.33 deg}
"""


def text_of(loaded, inches=False):
    return card_text(card(loaded, flyable(loaded.setup)), inches)


def rows_of(text: str) -> dict[str, str]:
    """Label and value of each row of a printed card; indented labels follow the row above."""
    rows, above = {}, ""
    body = text.split("\n\n", 1)[1].split("\n\nFound on the field")[0]
    for line in body.splitlines():
        if match := re.fullmatch(r"  (\S[^:]*): (.*?)(?:  [(_].*)?", line):
            label, value = match[1], match[2]
        else:
            label, value = line[:LABEL].rstrip(), line[LABEL + 2 : LABEL + 2 + SET].strip()
            above, label = (above, f"{above}{label}") if label.startswith("  ") else (label, label)
        if value and value != "found":
            rows[label] = value
    return rows


def setup_file(text: str, name: str, airframe: str) -> str:
    """A setup file from a printed card, by hand so to say: what a row is called leads to its key."""
    first, second = text.splitlines()[:2]
    rows = rows_of(text)
    file: dict = {"format": "1", "kind": "setup", "name": name, "airframe": airframe}
    file["way of flying"] = re.match(r"for ([^:]+)", second)[1]
    file["cg"] = rows["centre of gravity  as a share of MAC"]
    file["moved item"] = rows["item that is moved"]
    for key in ("propeller", "blade family", "propeller turns"):
        file[key] = rows[key]
    file["throttle curve"] = [f"{part} %" for part in rows["throttle curve"].removesuffix(" %").split(", ")]

    def put(value: str, *path: str) -> None:
        here = file
        for key in path[:-1]:
            here = here.setdefault(key, {})
        here[path[-1]] = value

    for label, value in rows.items():
        if match := re.fullmatch(r"(aileron|elevator|rudder) (up|down|left|right|exponential)", label):
            put(value, "throws", *match.groups())
        elif match := re.fullmatch(r"(aileron|elevator|rudder) (servo|low rate|trim)", label):
            control, what = match.groups()
            put(value, *{"servo": ("servos", control, "speed")}.get(what, (f"{what}s", control)))
        elif match := re.fullmatch(r"(down|right) thrust", label):
            put(value, "thrust line", match[1])
        elif match := re.fullmatch(r"(\S+) incidence", label):
            put(value, "incidence", match[1])
        elif match := re.fullmatch(r"mix (\S+) to (\S+)", label):
            file.setdefault("mixes", []).append({"from": match[1], "to": match[2], "gain": value})
        elif "  " in label:
            continue  # follows from others
        elif match := re.fullmatch(r"(aileron|elevator|rudder) (.+)", label):  # nothing else is called after a control
            put(value, "linkages", match[1], *match[2].split(", "))
        elif " > " in label or label == "propeller mass":
            put(
                [part.strip() for part in value[1:-1].split(",")] if value.startswith("[") else value,
                *label.split(" > "),
            )
    return json.dumps(file)


def again(loaded, folder):
    """The setup of the loaded one's printed card."""
    path = folder / "again.yaml"
    path.write_text(setup_file(text_of(loaded), loaded.setup.name, loaded.documents["setup"].value.airframe), "utf-8")
    return load(path)


def states(setup, name="upline-45"):
    return fly_manoeuvre(setup, load_manoeuvre(name)[0]).flight.rows


@pytest.mark.parametrize("name", SETUPS)
def test_built_in_setups_fly_alike_from_their_printed_cards(name, tmp_path):
    # their values have no more digits than the card, so nothing is rounded: bit for bit
    loaded = load(name)
    rebuilt = again(loaded, tmp_path)
    assert np.array_equal(states(loaded.setup, "level-trim"), states(rebuilt.setup, "level-trim"), equal_nan=True)


@pytest.fixture
def awkward(tmp_path):
    (tmp_path / "awkward.yaml").write_text(AWKWARD, encoding="utf-8")
    return load(tmp_path / "awkward.yaml")


def test_what_the_card_rounds(awkward, tmp_path):
    """Every value within half of its last printed digit: 0.1 deg, 0.1 %, 1 ms/60deg, 0.05 % of MAC; others exact."""
    half = {"angle": math.radians(0.05), "ratio": 0.0005}
    before, after = (entries(one.documents["setup"]) for one in (awkward, again(awkward, tmp_path)))
    assert set(before) - {("about",)} == set(after) - {("about",)}
    for path, entry in before.items():
        value, other = entry.value, after[path].value
        if path == ("cg",):
            stations = [flyable(one.setup).cg_station for one in (awkward, load(tmp_path / "again.yaml"))]
            assert abs(stations[0] - stations[1]) <= 0.0005 * flyable(awkward.setup).mac
        elif path[0] == "servos" and path[-1] == "speed":
            seconds = [math.radians(60.0) / v for v in (value, other)]
            assert abs(seconds[0] - seconds[1]) <= 0.00051
        elif path == ("throttle curve",):
            assert value == pytest.approx(other, abs=5e-5)  # four digits
        elif isinstance(value, float) and hasattr(entry.kind, "dimension") and entry.kind.dimension in half:
            assert abs(value - other) <= half[entry.kind.dimension] * 1.01, path
        else:
            assert value == other, path


# What the rounding may do to a flight.  Throws: 0.05 deg of 16 deg, exponential 0.05 of 33 %, so 0.4 % of what a stick
# does.  CG: 0.05 % of MAC against a static margin of about 14 %, 0.4 % of what it takes to hold a trim, and as much of
# a drift that is the difference of two of them.  Trim and stabiliser incidence: here 0.03 deg each, together up to 0.08
# deg of elevator, at 10 deg/s per deg; the level trim takes them up.  Servos 1 %: within a tenth of a second alone.
MAY_CHANGE = {
    ("level-trim", "elevator_trim"): 0.1,  # deg
    ("level-trim", "alpha_trim"): 0.1,  # deg, wing incidence 0.05
    ("level-trim", "throttle_trim"): 0.3,  # % of stick, curve of four digits and thrust line
    ("level-trim", "pitch_response"): 0.15,  # deg/s per deg, of 10
    ("upline-45", "pitch_drift"): 0.8,  # deg/s
    ("stall", "stall_speed"): 0.1,  # m/s, of 11: 0.5 % of lift
    ("roll-high-rates-right", "steady_roll_rate"): 1.5,  # deg/s, 0.4 % of 390
}


@pytest.mark.parametrize("manoeuvre", sorted({name for name, _ in MAY_CHANGE}))
def test_an_awkward_setup_flies_alike_from_its_printed_card(awkward, tmp_path, manoeuvre):
    flown = [
        {t.measure.name: t.value for t in take_measures(fly_manoeuvre(one.setup, load_manoeuvre(manoeuvre)[0]))}
        for one in (awkward, again(awkward, tmp_path))
    ]
    for (where, measure), most in MAY_CHANGE.items():
        if where == manoeuvre:
            assert abs(flown[0][measure] - flown[1][measure]) <= most, (measure, flown)


@pytest.mark.parametrize("name", ["awkward", "precision-aft", "corrie-310-precision"])
def test_the_document_is_the_setup_to_the_last_bit(upline, awkward, tmp_path, name):
    argument = "awkward.yaml" if name == "awkward" else name
    code, out, _ = upline("card", argument, "--json")
    assert code == 0
    (tmp_path / "again.yaml").write_text(json.dumps(json.loads(out)["file"]), encoding="utf-8")
    loaded = awkward if name == "awkward" else load(name)
    rebuilt = load(tmp_path / "again.yaml")
    assert rebuilt.setup == loaded.setup
    assert np.array_equal(states(loaded.setup), states(rebuilt.setup), equal_nan=True)


def test_another_cg_is_on_the_card_and_in_its_file(upline, tmp_path):
    code, out, _ = upline("card", "precision", "--cg", "150 mm")
    assert code == 0 and "150 mm" in out
    got = json.loads(upline("card", "precision", "--cg", "150 mm", "--json")[1])
    assert got["file"]["cg"] == "150 mm" and got["rows"][0]["set"] == {"value": pytest.approx(150.0), "unit": "mm"}


def test_a_file_of_ones_own_is_found_from_anywhere(upline, own, tmp_path):
    path = own("setup.yaml", "cg: 31 %", "cg: 32 %")
    got = json.loads(upline("card", path, "--json")[1])
    assert got["file"]["airframe"] == str((own.folder / "plane.yaml").resolve())


def test_travel_of_the_trailing_edge():
    # the chord of a circle: 60 degrees of a 100 mm flap is 100 mm, 90 is its diagonal
    assert trailing_edge_travel(0.1, math.radians(60)) == pytest.approx(0.1)
    assert trailing_edge_travel(0.1, math.radians(90)) == pytest.approx(0.1 * math.sqrt(2))
    wing = load("precision").setup.airframe.surfaces[0]
    # tarn-220, by hand: 500 - 0.08 * 230 = 481.6 mm of wing there, 28 + 0.08 * 6 = 28.48 % of it
    assert flap_chord(wing) == pytest.approx(0.4816 * 0.2848, abs=1e-6)


@pytest.mark.parametrize("name", [*SETUPS, "awkward.yaml"])
@pytest.mark.parametrize("more", [[], ["--also-inches"]])
def test_the_card_fits_the_page_and_says_what_matters(upline, awkward, name, more):
    code, out, err = upline("card", name, *more)
    assert code == 0 and err == ""
    assert max(map(len, out.splitlines())) <= 80
    assert "clears nothing to fly" in out and "Found on the field" in out and out.count("_______") > 10


def test_what_the_awkward_card_says(awkward):
    text = text_of(awkward)
    # full right rudder puts the elevator 3.33 % of 16.24 deg down
    assert re.search(r"mix rudder to elevator +-3\.3 %\s+right rudder: elevator 0\.5 deg\s+down", text)
    assert "Also in the setup" in text and re.search(r"servos > aileron > lag +27 ms", text)
    assert "thrust line > at: [-462.3 mm, 0 mm, 21.7 mm]" in text
    assert "propeller mass" in text and "83 g" in text
    assert re.search(r"  on low rates +7\.6 deg", text)  # 44.44 % of 17.19


def test_mixes_by_side_at_idle_and_to_the_flaps_are_told_and_read_back(tmp_path):
    mixes = (
        "mixes:\n  - {from: rudder, to: elevator, gain: {left: 5 %, right: -8 %}}\n"
        "  - {from: throttle, to: elevator, gain: -6 %, only below: 10 %}\n"
        "  - {from: elevator, to: flaps, gain: 25 %}\n"
        "rates: {middle: {aileron: {share: 75 %}}}\nmodes: [{name: calm, switch time: 1 s}]\n"
    )
    base = (MODELS / "setups" / "precision.yaml").read_text(encoding="utf-8")
    (tmp_path / "own.yaml").write_text(base + mixes, encoding="utf-8")
    text = text_of(load(tmp_path / "own.yaml"))
    # throws of 12 deg for the elevator and 14 for the ailerons
    for words in (
        r"full left rudder: elevator 0\.6 deg up", r"full right rudder: elevator 1\.0 deg down",
        r"throttle closed: elevator 0\.7 deg down", r"full pull: both ailerons 3\.5 deg down",
        r"only below: 10 %", r"middle aileron, share +75 %", r"calm switch time +1 s",
    ):  # fmt: skip
        assert re.search(words, " ".join(text.split())), words
    again = load(tmp_path / "own.yaml")
    (tmp_path / "again.yaml").write_text(yaml.safe_dump(whole_file(again, None)), encoding="utf-8")
    assert load(tmp_path / "again.yaml").setup == again.setup


def test_estimates_and_ballast_are_told(tmp_path):
    text = AWKWARD.replace("gain: 2.22 %", "gain: ~2.22 %").replace("down: 19.73 deg", "down: ~19.73 deg")
    text += "ballast:\n  - {name: tail weight, mass: ~50 g, at: [1200 mm, 0 mm, 0 mm]}\n"
    (tmp_path / "own.yaml").write_text(text, encoding="utf-8")
    loaded = load(tmp_path / "own.yaml")
    printed = text_of(loaded)
    assert re.search(r"aileron down +19\.7 deg +47 mm  _______  estimated", printed)
    assert re.search(r"Ballast +found\ntail weight mass +~50 g +_______  estimated\n", printed)
    assert "mass ready to fly               6.54 kg" in printed
    (tmp_path / "again.yaml").write_text(json.dumps(card(loaded, flyable(loaded.setup)).file), encoding="utf-8")
    assert load(tmp_path / "again.yaml").setup == loaded.setup


def test_columns_and_titles_agree():
    assert all(len(title) <= LABEL + SET + TRAVEL + 4 for title in TITLES.values())
    assert INCHES >= len("37 lb 10.8 oz")
    assert yaml.safe_load(AWKWARD)["name"] == "awkward"
