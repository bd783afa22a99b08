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
    assert manoeuvre_from_text(text) == manoeuvre
    table = compile_phases(manoeuvre)
    assert table.shape == (len(manoeuvre.phases), P.COLUMNS)
    assert np.isfinite(table).all()
    assert (table[:, P.LIMIT] > 0.0).all()


@pytest.mark.parametrize("name", NAMES)
def test_the_phases_that_the_measures_are_explained_by_exist(name):
    manoeuvre, _ = load_manoeuvre(name)
    phases = {phase.name for phase in manoeuvre.phases}
    assert manoeuvre.measures
    for measure in manoeuvre.measures:
        assert MEASURES[measure].phase in phases | {""}


def test_phases_compile_to_what_they_say():
    manoeuvre = manoeuvre_from_text(GOOD)
    table = compile_phases(manoeuvre)
    e = P.STICKS + 3
    assert list(table[0, e : e + 3]) == [P.MOVE, 0.25, 0.5]
    assert list(table[1, e : e + 3])[0] == P.KEEP  # the move is over, the stick stays
    assert table[0, P.LIMIT] == 2.0 and table[0, P.NEEDS_CONDITION] == 0.0
    assert table[1, P.LIMIT] == 5.0 and table[1, P.NEEDS_CONDITION] == 1.0
    assert table[1, P.JOIN] == 2.0
    assert table[1, P.CONDITION_A + 1] == 1.0 and table[1, P.CONDITION_A + 2] == pytest.approx(np.radians(30.0))
    assert table[1, P.CONDITION_B + 1] == -1.0 and table[1, P.CONDITION_B + 2] == -2.0


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
