"""The transmitter in flight: sticks found backwards, modes with their switch time, the link's delay, and its limits."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.errors import OptionError
from scenarios.manoeuvres import CannotFly, fly_manoeuvre, flyable
from scenarios.sticks import set_trims, sticks_for, stopped_by, switch_to, without_steps
from sim import layout as L
from sim.description import Link, Mix, Mode, Rate, Throw
from sim.pilot import SKILLS, slowed_by_link
from sim.recording import COMMAND_AT, INDEX, STATE_AT
from sim.transmitter import NORMAL, RATES, transmit, transmitter_chain
from sim.trim import NoTrim, Trim, level_trim
from tests.scenarios.flying import manoeuvre
from tests.scenarios.flying import setup_of as built_in
from tests.sim.conftest import stiff

SHARE = st.floats(-0.3, 0.3)
EXPONENTIAL = st.floats(0.0, 0.8)  # beyond, `unshaped` is good to 1e-6 in the effect, not in the stick
CONTROLS = ("aileron", "elevator", "rudder")


@cache
def setup_of(name):
    """A built-in setup whose surfaces stand where they are commanded: the transmitter alone is looked at."""
    return stiff(built_in(name))


@cache
def plane_of(name):
    return flyable(setup_of(name))


@st.composite
def setups(draw):
    """Precision with drawn throws, rates, differential and mixes of every kind, two of which never go in a ring at once."""
    throws = {name: Throw(draw(st.floats(0.2, 0.8)), draw(st.floats(0.2, 0.8)), draw(EXPONENTIAL)) for name in CONTROLS}
    rates = {rate: {name: Rate(draw(st.floats(0.3, 1.0)), draw(EXPONENTIAL)) for name in CONTROLS} for rate in RATES}
    kinds = [
        Mix("rudder", "elevator", points=((-1.0, draw(SHARE)), (0.0, 0.0), (1.0, draw(SHARE)))),
        Mix("rudder", "aileron", points=tuple((x, draw(SHARE)) for x in (-1.0, -0.5, 0.0, 0.5, 1.0))),
        Mix("throttle", "elevator", points=((0.0, draw(SHARE)), (0.1, 0.0))),
        Mix("throttle", "rudder", draw(SHARE)),
        Mix("aileron", "rudder", draw(SHARE)),
        Mix("elevator", "rudder", draw(SHARE)),
        Mix("elevator", "flaps", draw(SHARE)),
    ]
    mixes = tuple(mix for mix in kinds if draw(st.booleans()))
    return replace(
        setup_of("precision"), throws=throws, rates=rates, mixes=mixes, differential=draw(st.floats(-0.5, 0.5))
    )


@settings(max_examples=150, deadline=None)
@given(
    setups(),
    st.tuples(*[st.floats(-0.9, 0.9)] * 3, st.floats(0.0, 1.0)),
    st.tuples(*[st.sampled_from(RATES)] * 3),
)
def test_sticks_there_and_back(setup, sticks, rates):
    plane = replace(plane_of("precision"), setup=setup, chain=transmitter_chain(setup))
    switch_to(plane, rates=rates)
    command = np.zeros(L.COMMAND)
    transmit(np.array(sticks), plane.chain, command)
    free = plane.chain.copy()
    free[50:56] = 1e3  # without the limits of the throws
    unlimited = np.zeros(L.COMMAND)
    transmit(np.array(sticks), free, unlimited)
    if not np.allclose(command, unlimited):
        return  # a throw stops it: there is no way back
    state = Trim(np.zeros(L.STATE), command, 0.0)
    back = sticks_for(plane, state)
    again = np.zeros(L.COMMAND)
    transmit(back, plane.chain, again)
    # the sides of the ailerons differ by flaps and differential, which are the sticks' own doing, so all five come back;
    # 1e-6 of an effect (`unshaped`) through mixes of up to 0.3 each
    assert again == pytest.approx(command, abs=3e-6)
    assert back == pytest.approx(sticks, abs=2e-5)
    assert stopped_by(plane, state) == ""


def test_mixes_that_undo_one_another_are_refused_in_words():
    setup = replace(setup_of("precision"), mixes=(Mix("aileron", "rudder", 1.0), Mix("rudder", "aileron", 1.0)))
    plane = replace(plane_of("precision"), setup=setup, chain=transmitter_chain(setup))
    with pytest.raises(
        NoTrim, match="^the setup's mixes undo one another: no place of the sticks gives the surfaces wanted$"
    ):
        sticks_for(plane, level_trim(plane, 25.0, 100.0))
    with pytest.raises(CannotFly, match="^a-test with precision: the setup's mixes undo one another"):
        fly_manoeuvre(setup, manoeuvre("{name: a, for: 0.1 s}"))


def test_a_start_that_the_sticks_cannot_hold_says_which_limit_stops_it():
    setup = replace(setup_of("precision"), rates={"low": {"elevator": Rate(0.02)}})
    slow = manoeuvre(
        "{name: a, for: 0.1 s}", "start: {from: level flight, airspeed: 15 m/s, height: 100 m, rates: low}\n"
    )
    with pytest.raises(CannotFly) as caught:
        fly_manoeuvre(setup, slow)
    assert str(caught.value) == (
        "a-test with precision: the start needs 3.4 deg of elevator, 1.6 is full stick on low rates"
    )
    narrow = replace(setup_of("precision"), end_points={"elevator": (math.radians(3.0), math.radians(3.0))})
    with pytest.raises(CannotFly) as caught:
        fly_manoeuvre(
            narrow, manoeuvre("{name: a, for: 0.1 s}", "start: {from: level flight, airspeed: 15 m/s, height: 100 m}\n")
        )
    assert str(caught.value) == (
        "a-test with precision: the start needs 3.4 deg of elevator, 3.0 is its throw or end point"
    )


# ---- modes -------------------------------------------------------------------------------------------------------------

SNAP = Mode("snap", 0.25, {}, (Mix("elevator", "flaps", 0.5), Mix("throttle", "elevator", 0.1)), {"rudder": 0.02})


@pytest.fixture(scope="module")
def moded():
    return replace(setup_of("precision"), modes=(SNAP, Mode("quick", 0.0, {}, (Mix("throttle", "rudder", 0.2),))))


def commands(flown):
    return flown.flight.rows[:, COMMAND_AT:STATE_AT]


def test_a_mode_comes_in_evenly_over_its_switch_time(moded):
    flown = fly_manoeuvre(
        moded,
        manoeuvre(
            "{name: before, for: 0.2 s}\n{name: switched, mode: snap, for: 0.6 s}\n{name: back, mode: normal, for: 0.2 s}"
        ),
    )
    elevator, rudder = commands(flown)[:, L.ELEVATOR], commands(flown)[:, L.RUDDER]
    first, last = flown.flight.phase_start[1], flown.flight.phase_start[2]
    throttle = flown.sticks0[3]
    change = -0.1 * throttle * moded.throws["elevator"].positive
    for frame in range(40):
        share = min(1.0, frame * 0.01 / 0.25)
        assert elevator[first + frame] - elevator[0] == pytest.approx(share * change, abs=1e-12)
        assert rudder[first + frame] - rudder[0] == pytest.approx(-share * 0.02, abs=1e-12)
    # the mode that is the setup as it stands has no switch time: back at once
    assert elevator[last] == elevator[0] and elevator[last - 1] == pytest.approx(elevator[0] + change, abs=1e-12)


def test_a_mode_without_a_switch_time_is_there_at_once(moded):
    flown = fly_manoeuvre(moded, manoeuvre("{name: before, for: 0.1 s}\n{name: switched, mode: quick, for: 0.1 s}"))
    rudder, first = commands(flown)[:, L.RUDDER], flown.flight.phase_start[1]
    assert rudder[first - 1] == rudder[0]
    full = moded.throws["rudder"].positive
    assert rudder[first] - rudder[0] == pytest.approx(-0.2 * flown.sticks0[3] * full, abs=1e-12)


def test_a_mode_switched_again_on_the_way_goes_on_from_where_it_was(moded):
    flown = fly_manoeuvre(
        moded,
        manoeuvre(
            "{name: a, mode: snap, for: 0.1 s}\n{name: b, mode: normal, for: 0.1 s}\n{name: c, mode: snap, for: 0.5 s}"
        ),
    )
    steps = np.abs(np.diff(commands(flown)[:, L.ELEVATOR]))
    change = 0.1 * flown.sticks0[3] * moded.throws["elevator"].positive
    # only going back to normal is a jump, of the 40 % that had come in by then
    assert np.sort(steps)[-1] == pytest.approx(0.1 / 0.25 * change, rel=0.11)
    assert np.sort(steps)[-2] == pytest.approx(0.01 / 0.25 * change, rel=1e-6)


def test_the_plane_is_trimmed_in_the_mode_that_the_start_names(moded):
    start = "start: {from: level flight, airspeed: 25 m/s, height: 100 m, mode: snap}\n"
    flown = fly_manoeuvre(moded, manoeuvre("{name: a, for: 2 s}", start))
    assert flown.sticks0[:3] == pytest.approx(
        [0.0, 0.0, -0.02 / 0.5236 / 0.85], abs=2e-3
    )  # against the mode's own trim
    assert commands(flown)[0, L.ELEVATOR] == pytest.approx(flown.level.elevator, abs=1e-6)  # its mix is trimmed out
    assert flown.flight.channel("height")[-1] == pytest.approx(100.0, abs=0.3)  # steady, hands off for two seconds


def test_a_mode_that_the_setup_has_not_is_refused(moded):
    wrong = manoeuvre("{name: a, mode: snpa, for: 0.1 s}")
    with pytest.raises(OptionError) as caught:
        fly_manoeuvre(moded, wrong)
    assert str(caught.value) == (
        'a-test: phases > a > mode: found "snpa"; allowed: a flight mode of the setup: normal, snap, quick; try: snap'
    )
    assert NORMAL == "normal"


def test_rates_by_stick_and_the_start_s_rates():
    rates = {"middle": {"aileron": Rate(0.5, 0.0)}}
    setup = replace(setup_of("precision"), rates=rates)
    start = "start: {from: level flight, airspeed: 25 m/s, height: 100 m, rates: low}\n"
    text = """{name: low, aileron: 100 %, rudder: 100 %, for: 0.05 s}
    {name: mixed, rates: {aileron: middle, rudder: high}, for: 0.05 s}
    {name: high, rates: high, for: 0.05 s}"""
    flown = fly_manoeuvre(setup, manoeuvre(text, start))
    trim = commands(flown)[:, :4] * 0.0 + np.array([*-flown.plane.chain[12:15]])[[0, 0, 1, 2]]
    at = [start + 2 for start in flown.flight.phase_start]
    right = commands(flown)[at, L.AILERON_RIGHT] - trim[0, 0]
    rudder = commands(flown)[at, L.RUDDER] - trim[0, 3]
    assert -np.degrees(right) == pytest.approx([0.6 * 14.0, 0.5 * 14.0, 14.0])
    assert -np.degrees(rudder) == pytest.approx([0.6 * 30.0, 30.0, 30.0])


# ---- flaps -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("more", [
    {"trims": {"flaps": math.radians(-6.0)}},
    {"mixes": (Mix("throttle", "flaps", 0.4),)},
    {"mixes": (Mix("elevator", "flaps", 1.0),), "differential": 0.2},
])  # fmt: skip
def test_a_setup_that_moves_its_flaps_starts_steady(more):
    # two seconds hands off; trimmed at 25 m/s and started at 18, where the elevator stick is not centred
    setup = replace(setup_of("precision"), **more)
    start = "start: {from: level flight, airspeed: 18 m/s, height: 100 m}\n"
    flown = fly_manoeuvre(setup, manoeuvre("{name: a, for: 1 s}", start))
    left, right = (flown.flight.channel(name) for name in ("left aileron", "right aileron"))
    together = math.degrees(0.5 * (left[0] + right[0]))
    if "trims" in more:
        assert together == pytest.approx(-6.0, abs=0.01)
    else:
        assert abs(together) > 0.9  # so that the search was needed
    assert commands(flown)[0, : L.CONTROLS] == pytest.approx(flown.x0[L.SERVO : L.SERVO + 4], abs=3e-5)
    assert np.degrees(flown.flight.channel("pitch rate")[:30]) == pytest.approx(0.0, abs=0.3)
    assert flown.flight.channel("height")[-1] == pytest.approx(100.0, abs=0.1)


# ---- the link ----------------------------------------------------------------------------------------------------------

MOVE = "{name: wait, for: 0.1 s}\n{name: move, aileron: 60 %, rudder: -40 %, within: 0.2 s, throttle: 90 %, for: 0.8 s}"


@pytest.mark.parametrize("frames", [1, 2, 8])
def test_in_flight_a_latency_is_exact_in_frames(frames):
    plain = fly_manoeuvre(setup_of("precision"), manoeuvre(MOVE))
    late = fly_manoeuvre(replace(setup_of("precision"), link=Link(0.01 * frames, 0.0, 0)), manoeuvre(MOVE))
    assert np.array_equal(commands(late)[frames:], commands(plain)[:-frames])
    assert np.array_equal(commands(late)[:frames], np.repeat(commands(plain)[:1], frames, axis=0))
    sticks = slice(INDEX["aileron stick"], INDEX["aileron stick"] + 4)
    assert np.array_equal(late.flight.rows[:, sticks], plain.flight.rows[:, sticks])  # the hand is not late


def test_in_flight_commands_stand_on_the_link_s_steps():
    flown = fly_manoeuvre(replace(setup_of("precision"), link=Link(0.0, 0.0, 64)), manoeuvre(MOVE))
    for column, name in ((L.AILERON_LEFT, "aileron"), (L.ELEVATOR, "elevator"), (L.RUDDER, "rudder")):
        throw = setup_of("precision").throws[name]
        at = commands(flown)[:, column] / (2.0 * max(throw.positive, throw.negative) / 64)
        assert at == pytest.approx(np.round(at), abs=1e-9)
    assert len(np.unique(np.round(commands(flown)[:, L.RUDDER], 9))) <= 64 * 0.2 + 3


def test_an_ideal_link_is_no_link():
    plain = fly_manoeuvre(setup_of("precision"), manoeuvre(MOVE))
    ideal = fly_manoeuvre(replace(setup_of("precision"), link=Link(0.0, 0.0, 0)), manoeuvre(MOVE))
    assert plain.flight.rows.tobytes() == ideal.flight.rows.tobytes()


def test_a_pilot_behind_a_link_crosses_over_so_much_slower_that_his_phase_margin_stays():
    # crossover times delay is the phase that the delay takes (rad), and the phase margin what is left of 90 deg
    for hand in SKILLS.values():
        own = hand.perception + hand.neuromuscular
        for latency, period in ((0.02, 0.0), (0.05, 0.02), (0.2, 0.0)):
            slower = slowed_by_link(hand, Link(latency, period, 0))
            assert slower * (own + latency + 0.5 * period) == pytest.approx(own)
        assert slowed_by_link(hand, None) == 1.0
    setup = replace(setup_of("precision"), link=Link(0.1, 0.0, 0))
    gains = [flyable_pilot(s) for s in (setup_of("precision"), setup)]
    assert np.all(gains[1][:2] < gains[0][:2]) and gains[1][17] < gains[0][17]  # the rudder's: its path integral


def flyable_pilot(setup):
    from sim.pilot import pilot_for

    plane = flyable(setup)
    return pilot_for(plane, level_trim(plane, 25.0, 100.0))


def test_the_pilot_still_flies_through_a_slow_and_coarse_link():
    # 85 ms is the upper end of what is said of old sets
    setup = replace(setup_of("precision"), link=Link(0.085, 0.022, 512))
    hold = (
        "{name: held, pilot: [aileron, elevator], release: [rudder], hold: height, throttle: hold airspeed, for: 10 s}"
    )
    flown = fly_manoeuvre(setup, manoeuvre(hold))
    assert flown.flight.ending == "completed"
    assert abs(flown.flight.channel("height")[-1] - 100.0) < 1.0
    assert np.degrees(np.abs(flown.flight.channel("bank")[300:])).max() < 3.0


def test_trims_stay_with_every_mode(moded):
    plane = flyable(moded)
    level = level_trim(plane, 25.0, 100.0)
    set_trims(plane, level)
    for mode in ("", "snap", "quick"):
        switch_to(plane, mode)
        command = np.zeros(L.COMMAND)
        transmit(np.zeros(4), without_steps(plane), command)
        own = 0.02 if mode == "snap" else 0.0
        assert command[L.ELEVATOR] == pytest.approx(level.elevator, abs=1e-12)
        assert command[L.RUDDER] == pytest.approx(level.command[L.RUDDER] - own, abs=1e-12)
