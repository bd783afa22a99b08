"""Inputs by name: applied, each is what a file with that value in it gives; and axes read from a pilot's words."""

import math
from dataclasses import replace

import pytest

from models.errors import OptionError, UserError
from models.loader import load, setup_from_texts
from scenarios.axes import read_axis
from scenarios.inputs import Case, inputs_of, named, with_inputs
from scenarios.manoeuvres import load_manoeuvre, manoeuvre_from_text
from sim.description import Item
from tests.scenarios.flying import HEAD, setup_of

SETUP, PLANE = "setup", "airframe"

# input, value, the file that it stands in, and the same in that file: old and new text
IN_FILES = [
    ("cg", "36 %", SETUP, "cg: 31 %", "cg: 36 %"),
    ("cg", "150 mm", SETUP, "cg: 31 %", "cg: 150 mm"),
    ("aileron throw", "20 deg", SETUP, "{up: 14 deg, down: 14 deg,", "{up: 20 deg, down: 20 deg,"),
    ("aileron up throw", "20 deg", SETUP, "{up: 14 deg, down", "{up: 20 deg, down"),
    ("aileron down throw", "20 deg", SETUP, "up: 14 deg, down: 14", "up: 14 deg, down: 20"),
    ("elevator throw", "20 deg", SETUP, "{up: 12 deg, down: 12 deg,", "{up: 20 deg, down: 20 deg,"),
    ("elevator up throw", "20 deg", SETUP, "{up: 12 deg, down", "{up: 20 deg, down"),
    ("elevator down throw", "20 deg", SETUP, "up: 12 deg, down: 12", "up: 12 deg, down: 20"),
    ("rudder throw", "20 deg", SETUP, "{left: 30 deg, right: 30 deg,", "{left: 20 deg, right: 20 deg,"),
    ("rudder left throw", "20 deg", SETUP, "left: 30 deg", "left: 20 deg"),
    ("rudder right throw", "20 deg", SETUP, "right: 30 deg", "right: 20 deg"),
    ("aileron exponential", "35 %", SETUP, "14 deg, exponential: 20 %", "14 deg, exponential: 35 %"),
    ("elevator exponential", "35 %", SETUP, "12 deg, exponential: 20 %", "12 deg, exponential: 35 %"),
    ("rudder exponential", "35 %", SETUP, "exponential: 15 %", "exponential: 35 %"),
    ("rudder low rate", "50 %", SETUP, "servos:", "low rates: {aileron: 60 %, elevator: 60 %, rudder: 50 %}\nservos:"),
    ("mix rudder to elevator", "-4 %", SETUP, "servos:",
     "mixes: [{from: rudder, to: elevator, gain: -4 %}]\nservos:"),
    ("down thrust", "1.5 deg", SETUP, "servos:", "thrust line: {down: 1.5 deg}\nservos:"),
    ("right thrust", "3 deg", SETUP, "servos:", "thrust line: {right: 3 deg}\nservos:"),
    ("incidence of stabiliser", "0.5 deg", PLANE, "thickness: 9 %", "thickness: 9 %\n    incidence: 0.5 deg"),
    ("propeller", "21x12x3", SETUP, "propeller: 20x13", "propeller: 21x12x3"),
    ("mass of battery", "1.3 kg", PLANE, "mass: 1.42 kg", "mass: 1.3 kg"),
]  # fmt: skip


def told(setup):
    """A setup with its numbers rounded, and without what was noted about how it was described."""

    def plain(value):
        if isinstance(value, float):
            return float(f"{value:.10g}")
        if isinstance(value, dict):
            return {k: plain(v) for k, v in value.items()}
        if isinstance(value, tuple):
            return tuple(plain(v) for v in value)
        return {k: plain(v) for k, v in vars(value).items()} if hasattr(value, "__dict__") else value

    airframe = replace(setup.airframe, estimated=(), measured=())
    low_rates = {"aileron": 0.6, "elevator": 0.6, "rudder": 0.6, **setup.low_rates}
    line = setup.thrust_line or airframe.thrust_line
    return plain(replace(setup, airframe=airframe, thrust_line=line, low_rates=low_rates))


@pytest.mark.parametrize("name, text, file, old, new", IN_FILES, ids=[f"{n}: {t}" for n, t, *_ in IN_FILES])
def test_an_input_is_what_the_file_says(name, text, file, old, new):
    loaded = load("precision")
    what = inputs_of(loaded.setup)[name]
    applied = what.apply(Case(loaded.setup), what.read(text)).setup
    assert old in loaded.texts[file]
    edited = setup_from_texts({**loaded.texts, file: loaded.texts[file].replace(old, new, 1)})
    assert told(applied) == told(edited) != told(loaded.setup)


def test_another_blade_family_and_size_in_any_order_is_what_the_file_says():
    loaded = load("precision")
    inputs = inputs_of(loaded.setup)
    pair = [(inputs[n], inputs[n].read(t)) for n, t in (("propeller", "23x8"), ("blade family", "thin-light"))]
    slow = setup_of("slow-3d").propeller
    for order in (pair, pair[::-1]):
        assert told(replace(loaded.setup, propeller=with_inputs(Case(loaded.setup), order).setup.propeller)) == told(
            replace(loaded.setup, propeller=slow)
        )


def test_mass_scale_scales_every_item():
    setup = setup_of("precision")
    what = inputs_of(setup)["mass scale"]
    scaled = what.apply(Case(setup), what.read("110 %")).setup
    for before, after in zip(setup.airframe.items, scaled.airframe.items):
        assert after == replace(before, mass=before.mass * 1.1)


@pytest.mark.parametrize("setup", ["precision", "corrie-310-precision"])
def test_applying_what_an_input_says_it_is_changes_nothing(setup):
    case = Case(setup_of(setup), load_manoeuvre("stall")[0])
    shown = {name: what.now(case) for name, what in inputs_of(case.setup).items()}
    for name, what in inputs_of(case.setup).items():
        again = what.apply(case, what.read(what.now(case)))
        after = {name: what.now(again) for name, what in inputs_of(again.setup).items()}
        assert after == shown, name


def test_wind_is_what_the_manoeuvre_file_says():
    phases = "phases: [{name: a, for: 1 s}]\n"
    start = "start: {from: level flight, airspeed: 25 m/s, height: 100 m%s}\n"
    calm = manoeuvre_from_text(HEAD + start % "" + phases)
    wind = ", wind: {speed: 5 m/s, from: 270 deg, turbulence: light, seed: 7}"
    windy = manoeuvre_from_text(HEAD + start % wind + phases)
    inputs = inputs_of(setup_of("precision"))
    texts = {"wind": "5 m/s", "wind direction": "270 deg", "turbulence": "light", "turbulence seed": "7"}
    case = with_inputs(Case(setup_of("precision"), calm), [(inputs[n], inputs[n].read(t)) for n, t in texts.items()])
    assert case.manoeuvre.start.wind == windy.start.wind
    assert calm.start.wind is None


def test_a_wrong_name_lists_its_kind_and_the_nearest():
    inputs = inputs_of(setup_of("precision"))
    with pytest.raises(
        OptionError, match=r"--x: found \"mass of batery\"; allowed: an input: mass of .*; try: mass of ba"
    ):
        named(inputs, "mass of batery", "--x")
    with pytest.raises(OptionError, match=r"allowed: an input: cg, .*mass of ITEM; try: elevator throw"):
        named(inputs, "elevatr throw", "--x")


@pytest.mark.parametrize(
    "text, texts",
    [
        ("cg: 28% to 34% by 2%", ("28 %", "30 %", "32 %", "34 %")),
        ("cg: 28 to 34 % by 3", ("28 %", "31 %", "34 %")),
        ("cg: 28 % to 31.9 % by 2 %", ("28 %", "30 %")),
        ("cg: 150 mm to 150 mm by 1 mm", ("150 mm",)),
        ("down thrust: \u22120.3 deg to 0.3 deg by 0.1 deg",
         ("-0.3 deg", "-0.2 deg", "-0.1 deg", "0.0 deg", "0.1 deg", "0.2 deg", "0.3 deg")),
        ("turbulence seed: 1 to 3 by 1", ("1", "2", "3")),
        ("propeller: 20x12, 20x13,21x12", ("20x12", "20x13", "21x12")),
        ("turbulence: light, 4 m/s", ("light", "4 m/s")),
    ],
)  # fmt: skip
def test_an_axis_counts_in_decimals(text, texts):
    axis = read_axis(text, inputs_of(setup_of("precision")), "--vary")
    assert axis.texts == texts and len(axis.values) == len(texts)
    assert axis.values == tuple(axis.input.read(t) for t in texts)
    assert (axis.numbers is None) == any("x" in t or "light" in t for t in texts)


@pytest.mark.parametrize(
    "text, words",
    [
        ("cg", "INPUT: values"),
        ("cg:", "no values"),
        ("cg: 28 % to 40 %", "without a step"),
        ("cg: 28 % to 40 % by 0 %", "a step over 0"),
        ("cg: 28 % to 40 % by -2 %", "a step over 0"),
        ("cg: 40 % to 28 % by 2 %", "an empty range"),
        ("cg: 28 % to 40 mm by 2 %", "units % and mm"),
        ("cg: 20 % to 60 % by 0.01 %", "4001 values"),
        ("cg: 28 kg to 40 kg by 2 kg", "a mass"),
        ("cg: 28 % to 400 % by 2 %", "from -50 % to 150 %"),
        ("cg: 28 %, 28 %", "a second time"),
        ("cg: 28 %,, 29 %", "a range or a list"),
        ("cg: nan % to 40 % by 2 %", '"nan %"'),
        ("propeller: 20x12 to 22x12 by 1", '"20x12"'),
        ("blade family: oars", "a built-in blade family"),
        ("cg: " + "1 %, " * 400, "characters"),
    ],
)
def test_an_axis_that_makes_no_sense(text, words):
    with pytest.raises(UserError) as caught:
        read_axis(text, inputs_of(setup_of("precision")), "--vary")
    assert words in str(caught.value) and "allowed: " in str(caught.value)


def test_where_a_setup_stands_on_an_axis():
    case, inputs = Case(setup_of("precision")), inputs_of(setup_of("precision"))
    for text, place in (
        ("cg: 28 % to 40 % by 2 %", 31.0),
        ("cg: 150 mm to 170 mm by 5 mm", None),  # the setup says %
        ("cg: 35 % to 40 % by 1 %", None),
        ("mass of battery: 1.4 kg to 1.5 kg by 0.1 kg", 1.42),
        ("elevator throw: 0.1 rad to 0.3 rad by 0.1 rad", math.radians(12.0)),
        ("propeller: 20x13, 21x13", None),
    ):
        got = read_axis(text, inputs, "--vary").place(case)
        assert got == (None if place is None else pytest.approx(place, abs=1e-6)), text


def test_mass_scale_scales_ballast_too():
    setup = replace(setup_of("precision"), ballast=(Item("lead", 0.1, (-1.3, 0.0, 0.0)),))
    case = inputs_of(setup)["mass scale"].apply(Case(setup), 1.1)
    assert case.setup.ballast[0].mass == pytest.approx(0.11)
    assert sum(i.mass for i in case.setup.airframe.items) == pytest.approx(1.1 * 6.49)
