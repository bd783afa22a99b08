"""What the words of a manoeuvre file do in flight, and the page that explains them."""

import math
from pathlib import Path

import numpy as np
import pytest

from scenarios import language
from scenarios.compiler import MIRRORED_CHANNELS, compile_phases
from scenarios.manoeuvres import fly_manoeuvre, load_manoeuvre, manoeuvre_from_text
from scenarios.schema import ManoeuvreFile
from sim import phases as P
from sim.integration import FRAME
from sim.pilot import DELAY, SKILLS, crossover_law, pilot_for
from sim.recording import INDEX, NAMES
from sim.trim import level_trim
from tests.scenarios.flying import HEAD, LEVEL, manoeuvre, plane_of, setup_of

LEVEL_OUT = "{name: level, pilot: [aileron, elevator, rudder], hold: height, throttle: hold airspeed, for: 1 s}"


def fly(phases: str, start: str = LEVEL, setup: str = "precision", skill: str = "expert"):
    """Channels of a flight by name, those of its last phase, and the flight."""
    flown = fly_manoeuvre(setup_of(setup), manoeuvre(phases, start), skill=skill)
    return flown.flight


def test_a_doublet_goes_one_way_and_the_other_and_comes_back():
    flight = fly(f"{LEVEL_OUT}\n{{name: kick, elevator: {{doublet: 20 %, each: 0.3 s}}, for: 1 s}}")
    stick = flight.channel("elevator stick")[flight.frames_of(1)]
    base = flight.channel("elevator stick")[flight.frames_of(0)][-1]
    assert stick[:30] == pytest.approx(base + 0.2)
    assert stick[31:60] == pytest.approx(base - 0.2)
    assert stick[61:] == pytest.approx(base)


def test_a_sweep_runs_through_its_frequencies():
    flight = fly(f"{LEVEL_OUT}\n{{name: sweep, elevator: {{sweep: 10 %, from: 0.5 Hz, to: 4 Hz}}, for: 10 s}}")
    stick = flight.channel("elevator stick")[flight.frames_of(1)]
    stick = stick - stick[0]
    assert np.abs(stick).max() == pytest.approx(0.1, abs=0.002)
    ups = np.flatnonzero((stick[:-1] < 0.0) & (stick[1:] >= 0.0)) * FRAME
    periods = np.diff(ups)
    middle = 0.5 * (ups[1:] + ups[:-1])
    # closed form: f = 0.5 (4 / 0.5)^(t / 10)
    assert 1.0 / periods == pytest.approx(0.5 * 8.0 ** (middle / 10.0), rel=0.08)


@pytest.mark.parametrize(
    "stick, held, at, channel, wanted, band",
    [
        ("elevator", "alpha", "5 deg", "alpha", math.radians(5.0), 0.01),
        ("elevator", "pitch", "20 deg", "pitch", math.radians(20.0), 0.03),
        ("elevator", "path angle", "15 deg", "path angle", math.radians(15.0), 0.03),
        ("elevator", "pitch rate", "20 deg/s", "pitch rate", math.radians(20.0), 0.05),
        ("elevator", "airspeed", "20 m/s", "airspeed", 20.0, 1.5),
        ("aileron", "bank", "40 deg", "bank", math.radians(40.0), 0.03),
        ("aileron", "roll rate", "90 deg/s", "roll rate", math.radians(90.0), 0.15),
        ("rudder", "sideslip", "-8 deg", "beta", math.radians(-8.0), 0.03),
    ],
)
def test_a_stick_holds_what_it_is_told_to(stick, held, at, channel, wanted, band):
    seconds = {"pitch": 4, "path angle": 6, "pitch rate": 1.5, "airspeed": 25, "bank": 10}.get(held, 5)
    flight = fly(
        f"{LEVEL_OUT}\n{{name: held, {stick}: {{hold: {held}, at: {at}}}, throttle: as it is, for: {seconds} s}}",
        "start: {from: level flight, airspeed: 25 m/s, height: 300 m}\n",
    )
    assert flight.ending == "completed"
    assert flight.channel(channel)[-40:].mean() == pytest.approx(wanted, abs=band)


def test_rudder_holds_height_in_knife_edge():
    flight = fly(
        """{name: roll in, pilot: [aileron], rudder: -50 %, within: 0.5 s, aim: {bank: 90 deg, at: 180 deg/s}, for: 0.8 s}
        {name: held, pilot: [aileron, elevator], hold: attitude, rudder: {hold: height}, throttle: hold airspeed, for: 8 s}"""
    )
    height = flight.channel("height")[flight.frames_of(1)]
    # a pilot who has not rehearsed how much rudder this plane needs: within a twentieth of the 200 m flown
    assert abs(height[-1] - height[0]) < 10.0


def test_low_rates_leave_the_share_of_throw_that_the_setup_says():
    def surfaces(rates):
        flight = fly(f"{LEVEL_OUT}\n{{name: pull, rates: {rates}, elevator: 100 %, aileron: 100 %, for: 0.6 s}}")
        return flight.channel("elevator")[-1], flight.channel("left aileron")[-1], flight.channel("elevator")[90]

    (low_e, low_a, trim), (high_e, high_a, _) = surfaces("low"), surfaces("high")
    assert (low_e - trim) / (high_e - trim) == pytest.approx(0.6, abs=0.03)
    assert low_a / high_a == pytest.approx(0.6, abs=0.03)


def test_angles_are_counted_from_the_start_of_the_phase():
    roll = "{name: roll, aileron: 100 %, until: {rolled: above 360 deg}, at most: 6 s}"
    flight = fly(f"{LEVEL_OUT}\n{roll}\n{LEVEL_OUT.replace('level', 'out')}")
    assert flight.ending == "completed"
    roll = flight.frames_of(1)
    rolled = flight.channel("rolled")
    assert rolled[roll.start] == 0.0 and rolled[roll.stop] < 0.2  # starts anew
    assert rolled[roll.stop - 1] == pytest.approx(2.0 * math.pi, abs=0.1)
    assert abs(math.degrees(flight.channel("bank")[roll.stop - 1])) < 15.0  # once round


def test_four_conditions_and_all_of_them():
    climb = "{name: climb, elevator: {hold: path angle, at: 30 deg}, throttle: 100 %, when: all, at most: 10 s, until:"
    ends = "{height: above 110 m, path angle: above 20 deg, climb rate: above 5 m/s, bank: below 20 deg}}"
    flight = fly(f"{LEVEL_OUT}\n{climb} {ends}")
    assert flight.ending == "completed"
    assert flight.channel("height")[-1] > 110.0 and flight.channel("climb rate")[-1] > 5.0


def test_left_is_right_in_the_mirror():
    table, mirrored = (compile_phases(load_manoeuvre("knife-edge")[0], side) for side in (False, True))
    aileron, elevator, rudder = (P.STICKS + P.STICK_COLUMNS * axis for axis in range(3))
    assert mirrored[0, P.BANK] == -table[0, P.BANK] == pytest.approx(-0.5 * math.pi)
    assert mirrored[0, rudder + P.VALUE] == -table[0, rudder + P.VALUE] == 0.5
    untouched = [c for c in range(P.COLUMNS) if c not in (P.BANK, P.HEADING, rudder + P.VALUE, aileron + P.VALUE)]
    assert (mirrored[:, untouched] == table[:, untouched]).all()
    right, text = load_manoeuvre("knife-edge-right")
    left, same = load_manoeuvre("knife-edge-left")
    assert (right.name, left.name, text) == ("knife-edge-right", "knife-edge-left", same)
    assert not right.mirrored and left.mirrored and manoeuvre_from_text(text, "knife-edge-left") == left


def test_mirrored_channels_are_those_that_change_sign():
    # a plane without a propeller's swirl and torque would fly the mirror; here the names alone: every channel is either
    # mirrored, or neither of right nor left
    sided = (
        "bank",
        "heading",
        "track",
        "beta",
        "roll rate",
        "yaw rate",
        "east",
        "load y",
        "aileron stick",
        "rudder stick",
    )
    assert set(sided) <= set(MIRRORED_CHANNELS) <= set(NAMES)
    for name in ("alpha", "pitch", "pitch rate", "height", "climb rate", "airspeed", "load z", "stalled"):
        assert name not in MIRRORED_CHANNELS
    text = (
        HEAD
        + "sides: both\n"
        + LEVEL
        + "phases:\n  - {name: a, aileron: {hold: bank, at: 30 deg}, until: {bank: above 25 deg}, at most: 5 s}\n"
    )
    both = manoeuvre_from_text(text, "a-test-left")
    row = compile_phases(both, both.mirrored)[0]
    at = P.STICKS
    assert row[at + P.VALUE] == pytest.approx(-math.radians(30.0)) and row[at + P.SIGN] == 1.0
    assert (row[P.CONDITIONS], row[P.CONDITIONS + 1]) == (INDEX["bank"], -1.0)
    assert row[P.CONDITIONS + 2] == pytest.approx(-math.radians(25.0))


def test_a_pilot_who_is_far_off_for_three_seconds_has_lost_the_plane():
    # in the hover, with the motor at idle
    flight = fly(
        "{name: fall, pilot: [aileron, elevator, rudder], hold: attitude, aim: {pitch: 90 deg}, throttle: 0 %, for: 12 s}",
        "start: {from: hover, height: 400 m}\n",
        "slow-3d",
    )
    assert flight.ending == "lost control" and flight.phase == 0
    assert len(flight.rows) * FRAME > 3.0


def test_skills_differ_as_they_say():
    plane = plane_of("precision")
    trim = level_trim(plane, 25.0, 100.0)
    expert, practised, learner = (pilot_for(plane, trim, skill) for skill in SKILLS)
    assert expert[DELAY] < practised[DELAY] < learner[DELAY]
    # McRuer: delays of 0.2 to 0.5 s in all (from memory)
    for hand in SKILLS.values():
        assert 0.2 <= hand.perception + hand.neuromuscular <= 0.5
    phases = f"{LEVEL_OUT}\n{{name: turn, aim: {{bank: 45 deg, at: 120 deg/s}}, hold: path, for: 8 s}}"
    steady = [np.std(fly(phases, skill=skill).channel("bank")[-400:]) for skill in ("expert", "learner")]
    assert steady[0] < steady[1]


def test_the_crossover_of_a_lesser_pilot_is_lower():
    from sim.pilot import Response

    response = Response("rate", 40.0, 0.06, 1.0)
    gains = [crossover_law(response, 2.0 * hand.attention)[0] for hand in SKILLS.values()]
    assert gains[0] > gains[1] > gains[2] > 0.0


def test_the_page_of_words_is_that_of_the_schema():
    page = Path(language.__file__).with_name("LANGUAGE.md")
    assert page.read_text(encoding="utf-8") == language.page()
    schema = ManoeuvreFile.model_json_schema()
    for name, group in {"": schema, **schema["$defs"]}.items():
        assert set(language.MEANING[name]) == set(group["properties"]), name
