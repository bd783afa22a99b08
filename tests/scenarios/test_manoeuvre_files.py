"""Manoeuvre files: the built-in ones load and compile; a wrong one is refused with its line and field."""

import numpy as np
import pytest

from models.errors import UserError
from scenarios.compiler import compile_phases
from scenarios.manoeuvres import known_manoeuvres, load_manoeuvre, manoeuvre_from_text
from scenarios.measures import MEASURES
from sim import phases as P

NAMES = [name for name, _ in known_manoeuvres()]


def test_there_are_manoeuvres():
    lines = {"level-trim", "upline-45", "upline-45-inverted", "knife-edge-left", "knife-edge-right", "stall", "hover"}
    assert lines <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_built_in_manoeuvre_loads_and_compiles(name):
    manoeuvre, text = load_manoeuvre(name)
    assert manoeuvre.name == name and manoeuvre.about
    assert manoeuvre_from_text(text, name) == manoeuvre
    table = compile_phases(manoeuvre, manoeuvre.mirrored)
    assert table.shape == (len(manoeuvre.phases), P.COLUMNS)
    assert np.isfinite(table).all()
    assert (table[:, P.LIMIT] > 0.0).all()


@pytest.mark.parametrize("name", NAMES)
def test_the_phases_that_the_measures_are_explained_by_exist(name):
    manoeuvre, _ = load_manoeuvre(name)
    phases = {phase.name for phase in manoeuvre.phases}
    assert manoeuvre.measures
    for measure in manoeuvre.measures:
        explained_by = MEASURES[measure].phases
        assert not explained_by or phases & set(explained_by)


def test_phases_compile_to_what_they_say():
    manoeuvre = manoeuvre_from_text(GOOD)
    table = compile_phases(manoeuvre)
    e = P.STICKS + P.STICK_COLUMNS
    assert list(table[0, e : e + 3]) == [P.MOVE, 0.25, 0.5]
    assert list(table[1, e : e + 3])[0] == P.KEEP  # the move is over, the stick stays
    assert table[0, P.LIMIT] == 2.0 and table[0, P.NEEDS_CONDITION] == 0.0
    assert table[1, P.LIMIT] == 5.0 and table[1, P.NEEDS_CONDITION] == 1.0
    assert table[1, P.JOIN] == 1.0  # any of them
    first, second = P.CONDITIONS, P.CONDITIONS + 3
    assert table[1, first + 1] == 1.0 and table[1, first + 2] == pytest.approx(np.radians(30.0))
    assert table[1, second + 1] == -1.0 and table[1, second + 2] == -2.0
    assert table[1, second + 4] == 0.0  # no third


GOOD = """format: 1
kind: manoeuvre
name: a-test
start: {from: level flight, airspeed: 25 m/s, height: 100 m}
phases:
  - {name: pull, elevator: 25 %, within: 0.5 s, for: 2 s}
  - name: after
    until: {bank: above 30 deg, climb rate: below -2 m/s}
    at most: 5 s
measures: [height_drift]
"""

WRONG = [
    # what is replaced once, by what, the line, what the message names
    (", for: 2 s", "", 6, ["phases", "no end", "for: 2 s"]),
    ("    at most: 5 s\n", "    at most: 5 s\n    for: 3 s\n", 7, ["phases", 'both "for" and "until"']),
    ("    at most: 5 s\n", "", 7, ["phases", '"until" without "at most"']),
    ("for: 2 s", "for: 2 s, at most: 3 s", 6, ["at most"]),
    ("bank: above", "bnk: above", 8, ["until", '"bnk"', "bank"]),
    ("above 30 deg", "over 30 deg", 8, ["until", '"over 30 deg"', "above or below"]),
    ("above 30 deg", "above 30", 8, ["until", "30", "unit"]),
    ("above 30 deg", "above 30 m", 8, ["until", "length"]),
    ("height_drift", "hight_drift", 10, ["measures", '"hight_drift"', "height_drift"]),
    ("elevator: 25 %", "elevator: 25 %, release: [elevator]", 6, ["elevator asked to do two things"]),
    ("elevator: 25 %", "elevator: 125 %", 6, ["elevator", "125 %", "100 %"]),
    ("elevator: 25 %", "flaps: 25 %", 6, ["flaps"]),
    ("for: 2 s", "for: 61 s", 6, ["for", "60 s"]),
    ("name: after", "name: pull", 7, ["name", '"pull"']),
    ("airspeed: 25 m/s, ", "", 4, ["start", "airspeed"]),
    ("from: level flight", "from: hover", 4, ["start", "airspeed"]),
    ("from: level flight", "from: the ground", 4, ["from", "the ground", "hover"]),
    ("within: 0.5 s", "within: -0.5 s", 6, ["within", "0 s"]),
    ("within: 0.5 s", "throttle: full", 6, ["throttle", '"full"', "as it is"]),
    ("within: 0.5 s", "pilot: [elevater]", 6, ["pilot", '"elevater"', "elevator"]),
    ("elevator: 25 %", "elevator: {doublet: 25 %}", 6, ["elevator", "doublet", "each"]),
    ("elevator: 25 %", "elevator: {doublet: 25 %, each: 0.3 m}", 6, ["elevator", "0.3 m"]),
    ("elevator: 25 %", "elevator: {sweep: 25 %, from: 0 Hz, to: 3 Hz}", 6, ["elevator", "0 Hz"]),
    ("elevator: 25 %", "elevator: {hold: alfa, at: 40 deg}", 6, ["elevator", '"alfa"', "alpha"]),
    ("elevator: 25 %", "elevator: {hold: alpha}", 6, ["elevator", '"at"']),
    ("elevator: 25 %", "elevator: {hold: alpha, at: 40 m}", 6, ["elevator", "40 m"]),
    ("elevator: 25 %", "elevator: {hold: height, at: 40 m}", 6, ["elevator", "start of the phase"]),
    ("elevator: 25 %", "rudder: {hold: alpha, at: 40 deg}", 6, ["rudder", "alpha", "elevator"]),
    ("within: 0.5 s", "rates: hihg", 6, ["rates", '"hihg"', "high, middle, low", "try: high"]),
    ("name: a-test", "name: a-test\nsides: left", 4, ["sides", '"left"', "both"]),
]


def test_the_file_that_the_wrong_ones_are_made_from_is_right():
    assert manoeuvre_from_text(GOOD).name == "a-test"


@pytest.mark.parametrize("old, new, line, words", WRONG)
def test_a_wrong_file_is_refused_by_line_and_field(old, new, line, words):
    assert GOOD.count(old) == 1
    with pytest.raises(UserError) as caught:
        manoeuvre_from_text(GOOD.replace(old, new))
    message = str(caught.value)
    assert message.startswith(f"recorded manoeuvre:{line}:"), message
    assert len(message.splitlines()) == 1, message
    for word in words:
        assert word in message, message


def test_an_unknown_manoeuvre_is_refused_with_the_nearest_name():
    with pytest.raises(UserError, match="upline-45") as caught:
        load_manoeuvre("uplin-45")
    assert len(str(caught.value).splitlines()) == 1
    with pytest.raises(UserError):
        load_manoeuvre("/no/such/folder/x.yaml")


WINDY = GOOD.replace(
    "height: 100 m}",
    "height: 100 m, wind: {speed: 5 m/s, from: 270 deg, turbulence: light, seed: 7,"
    " gust: {speed: 4 m/s, from: below, length: 20 m, after: 2 s}}}",
)

WRONG_WIND = [
    ("speed: 5 m/s, from", "speed: 5, from", ["wind > speed", '"5 m/s"']),
    ("speed: 5 m/s, from", "speed: 31 m/s, from", ["wind > speed", "30 m/s"]),
    ("from: 270 deg, ", "", ["wind", "without a direction", "from: 270 deg"]),
    ("from: 270 deg", "from: west", ["wind > from", '"west"']),
    ("from: 270 deg", "from: 400 deg", ["wind > from", "360 deg"]),
    ("turbulence: light", "turbulence: lihgt", ["wind > turbulence", '"lihgt"', "light"]),
    ("turbulence: light", "turbulence: 50 m/s", ["wind > turbulence", "30 m/s"]),
    ("speed: 5 m/s, from: 270 deg, turbulence: light", "turbulence: as the wind", ["turbulence", "without a wind"]),
    ("seed: 7", "seed: -1", ["wind > seed", "whole number"]),
    ("seed: 7", "sead: 7", ["sead", "seed"]),
    ("from: below", "from: beneath", ["gust > from", '"beneath"', "below"]),
    (", after: 2 s", "", ["gust", "no start", "after: 2 s"]),
    ("after: 2 s", "after: 2 s, after distance: 50 m", ["gust", "both"]),
    ("length: 20 m", "length: 0 m", ["gust > length", "1 m"]),
    ("speed: 4 m/s", "speed: -4 m/s", ["gust > speed", "0 m/s"]),
]


def test_wind_is_read_in_si():
    wind = manoeuvre_from_text(WINDY).start.wind
    assert wind.speed == 5.0 and wind.from_ == pytest.approx(np.radians(270.0)) and wind.at == 10.0
    assert wind.turbulence == pytest.approx(15.0 * 1852.0 / 3600.0)  # light, MIL-F-8785C
    assert wind.seed == 7 and wind.gust.from_ == (0.0, 0.0, -1.0) and wind.gust.after == 2.0
    sideways = manoeuvre_from_text(WINDY.replace("from: below", "from: 90 deg")).start.wind.gust.from_
    assert sideways == pytest.approx((0.0, -1.0, 0.0))  # from the east it blows towards the west


@pytest.mark.parametrize("old, new, words", WRONG_WIND)
def test_wrong_wind_is_refused_by_line_and_field(old, new, words):
    assert WINDY.count(old) == 1
    with pytest.raises(UserError) as caught:
        manoeuvre_from_text(WINDY.replace(old, new))
    message = str(caught.value)
    assert message.startswith("recorded manoeuvre:4:"), message
    assert len(message.splitlines()) == 1, message
    for word in words:
        assert word in message, message
