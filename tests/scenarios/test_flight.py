"""The interpreter of phases: how flights end, what sticks do, and that the same flight is flown the same twice."""

import numpy as np
import pytest

from scenarios.manoeuvres import fly_manoeuvre, known_manoeuvres
from scenarios.measures import take_measures
from sim import layout as L
from sim.flight import fly
from sim.recording import COMMAND_AT, STATE_AT
from sim.transmitter import transmit
from tests.scenarios.flying import flown, fly_text, manoeuvre, plane_of, setup_of

NEVER = "{name: waiting, until: {height: above 900 m}, at most: 1 s}"


def test_a_condition_that_is_never_met_times_the_phase_out():
    flight = fly_text(NEVER + "\n{name: after, for: 1 s}").flight
    assert flight.ending == "phase timed out"
    assert flight.phase == 0
    assert list(flight.phase_start) == [0, -1]
    assert flight.channel("phase time")[-1] == pytest.approx(1.0, abs=0.0051)  # half a frame
    assert flight.frames_of(1) == slice(0, 0)


def test_a_condition_that_is_met_goes_on_at_once():
    text = "{name: pull, elevator: 60 %, until: {pitch: above 20 deg}, at most: 5 s}\n{name: after, for: 1 s}"
    flight = fly_text(text).flight
    assert flight.ending == "completed"
    pitch, second = np.degrees(flight.channel("pitch")), flight.phase_start[1]
    assert pitch[second - 1] >= 20.0 > pitch[second - 2]
    assert len(flight.rows) - second == pytest.approx(101, abs=1)


@pytest.mark.parametrize("when, frames", [("any", 50), ("all", 100)])
def test_either_condition_or_both(when, frames):
    text = f"{{name: a, until: {{time: above 0.5 s, phase time: above 1 s}}, when: {when}, at most: 5 s}}"
    assert len(fly_text(text).flight.rows) == pytest.approx(frames + 1, abs=1)


def test_a_dive_ends_in_the_ground():
    start = "start: {from: level flight, airspeed: 25 m/s, height: 20 m}\n"
    flight = fly_text("{name: dive, elevator: -100 %, within: 0.2 s, for: 10 s}", start).flight
    assert flight.ending == "hit the ground"
    height = flight.channel("height")
    assert height[-1] <= 0.0 < height[-2]


POISON = [
    (0, "north"), (3, "q0"), (6, "q3"), (7, "u"), (9, "w"), (10, "roll rate"), (12, "yaw rate"),
    (13, "rotor speed"), (14, "charge or fuel used"), (15, "acting throttle"), (16, "left aileron"), (19, "rudder"),
    (L.CIRCULATION, "circulation of strip 0"), (L.CIRCULATION + 3, "circulation of strip 3"),
    (L.SEPARATION + 2, "separation of strip 2"),
]  # fmt: skip


@pytest.fixture(scope="module")
def cruise():
    return flown("precision", "level-trim")


def again(flight, x=None, steps=0):
    start = flight.x0 if x is None else x
    return fly(flight.plane, start, flight.sticks0, flight.table, flight.pilot, steps)


@pytest.mark.parametrize("bad", [np.nan, np.inf])
@pytest.mark.parametrize("index, name", POISON)
def test_a_poisoned_state_diverges_and_names_the_first_bad_quantity(cruise, index, name, bad):
    x = cruise.x0.copy()
    x[index] = bad
    flight = again(cruise, x)
    assert (flight.ending, flight.bad, len(flight.rows)) == ("diverged", name, 1)


@pytest.mark.parametrize("index, name, value", [(10, "roll rate", 200.0), (11, "pitch rate", -200.0), (7, "u", 300.0)])
def test_beyond_all_bounds_is_diverged_too(cruise, index, name, value):
    x = cruise.x0.copy()
    x[index] = value
    flight = again(cruise, x)
    assert (flight.ending, flight.bad) == ("diverged", name)


def test_a_flight_that_ends_well_names_nothing_bad(cruise):
    assert (cruise.flight.ending, cruise.flight.bad) == ("completed", "")


def test_sticks_move_stay_and_spring_back():
    flown_text = fly_text(
        """{name: move, elevator: 20 %, aileron: -10 %, within: 0.5 s, throttle: 80 %, for: 1 s}
        {name: keep, for: 0.5 s}
        {name: other, rudder: 30 %, throttle: as it is, for: 0.5 s}
        {name: release, release: [elevator, aileron], for: 0.5 s}"""
    )
    flight = flown_text.flight
    t, phase = flight.channel("phase time"), flight.phase_start
    pull = flight.channel("elevator stick")
    aileron, throttle = flight.channel("aileron stick"), flight.channel("throttle")
    moving = slice(0, phase[1])
    share = np.minimum(1.0, t[moving] / 0.5)
    start = flown_text.sticks0
    assert pull[moving] == pytest.approx(start[1] + share * (0.2 - start[1]), abs=1e-12)
    assert aileron[moving] == pytest.approx(start[0] + share * (-0.1 - start[0]), abs=1e-12)
    assert throttle[moving] == pytest.approx(start[3] + share * (0.8 - start[3]), abs=1e-12)
    kept = slice(phase[1], phase[3])
    assert np.all(pull[kept] == pull[phase[1] - 1]) and np.all(aileron[kept] == aileron[phase[1] - 1])
    assert np.all(throttle[phase[1] :] == throttle[phase[1] - 1])
    assert pull[phase[1] - 1] == pytest.approx(0.2, abs=1e-12)
    assert np.all(flight.channel("rudder stick")[phase[2] + 1 :] == 0.3)
    released = t[phase[3] :] >= 0.05 + 1e-9  # a stick takes 0.05 s to spring back (common practice, no source)
    assert np.all(pull[phase[3] :][released] == 0.0) and np.all(aileron[phase[3] :][released] == 0.0)
    assert pull[phase[3] + 2] > 0.0


def test_commands_are_what_the_transmitter_makes_of_the_sticks():
    flight = flown("precision", "knife-edge-right")
    rows = flight.flight.rows
    names = ("aileron stick", "elevator stick", "rudder stick", "throttle")
    sticks = np.stack([flight.flight.channel(name) for name in names])
    command = np.zeros(L.COMMAND)
    for n in range(0, len(rows), 7):
        transmit(np.ascontiguousarray(sticks[:, n]), flight.plane.chain, command)
        assert rows[n, COMMAND_AT:STATE_AT] == pytest.approx(command, abs=1e-15)


@pytest.mark.parametrize("name", ["upline-45", "knife-edge-right", "hover"])
def test_the_pilot_moves_no_stick_faster_than_a_hand_can(name):
    # five half-travels a second (common practice, no source); seen on the surface command, where the limit acts
    flight = flown("slow-3d", name)
    index = 0 if name != "knife-edge-right" else flight.phase("held")
    frames = flight.flight.frames_of(index)
    for column, axis in ((L.ELEVATOR, "elevator"), (L.RUDDER, "rudder")):
        throw = setup_of("slow-3d").throws[axis]
        moved = np.abs(np.diff(flight.flight.rows[frames, COMMAND_AT + column]))
        assert 0.0 < moved.max() <= 5.0 * 0.01 * max(throw.positive, throw.negative) + 1e-6


def test_equal_flights_are_equal_to_the_last_bit():
    first = flown("precision", "upline-45")
    second = fly_manoeuvre(setup_of("precision"), first.manoeuvre)
    assert first.flight.rows.tobytes() == second.flight.rows.tobytes()
    assert first.flight.rows.tobytes() == again(first).rows.tobytes()


def test_flying_leaves_state_sticks_and_plane_as_they_were(cruise):
    before = [a.tobytes() for a in (cruise.x0, cruise.sticks0, cruise.table, cruise.pilot, cruise.plane.chain)]
    again(cruise)
    after = [a.tobytes() for a in (cruise.x0, cruise.sticks0, cruise.table, cruise.pilot, cruise.plane.chain)]
    assert before == after


# smallest change that a pilot could see or a ruler show; a measure near zero has no meaningful share of itself
FLOOR = {
    "deg": 0.05, "m": 0.02, "m/s": 0.01, "deg/s": 0.05, "g": 0.002, "1/s": 0.01, "%": 0.05, "s": 0.0101,
}  # fmt: skip


@pytest.mark.parametrize("name", [n for n, _ in known_manoeuvres()])
def test_the_chosen_step_is_as_good_as_sixteen_steps_a_frame(name):
    chosen, fine = flown("precision", name), flown("precision", name, None, 16)
    for a, b in zip(take_measures(chosen), take_measures(fine)):
        assert (a.value is None) == (b.value is None), (a.measure.name, a.reason, b.reason)
        if a.value is not None:
            floor = FLOOR.get(a.measure.unit, 0.0)
            assert a.value == pytest.approx(b.value, rel=0.005, abs=floor), a.measure.name


def test_a_plane_is_fit_to_be_shared():
    # two flights on one plane, with another between them, are the same flight
    plane, setup = plane_of("precision"), setup_of("precision")
    short = manoeuvre("{name: pull, elevator: 20 %, for: 1 s}")
    start = "start: {from: level flight, airspeed: 18 m/s, height: 50 m}\n"
    other = manoeuvre("{name: roll, aileron: 100 %, for: 1 s}", start)
    first = fly_manoeuvre(setup, short, plane).flight.rows.tobytes()
    fly_manoeuvre(setup, other, plane)
    assert fly_manoeuvre(setup, short, plane).flight.rows.tobytes() == first
