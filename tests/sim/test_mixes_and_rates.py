"""Rates, mixes, differential, flaps, end points, flight modes and the link, against numbers worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from models.loader import load_setup
from sim import layout as L
from sim.description import Link, Mix, Mode, Rate, Throw
from sim.integration import FRAME
from sim.transmitter import (
    LINK_FRAMES,
    NORMAL,
    RATES,
    modes_of,
    read_sticks,
    select,
    shaped,
    through_link,
    transmit,
    transmitter_chain,
)

DEG = math.pi / 180.0


@pytest.fixture(scope="module")
def plain():
    """A setup of round numbers: aileron 20 up 10 down, elevator 30 up 20 down, rudder 40 right 25 left; straight sticks."""
    throws = {
        "aileron": Throw(20.0 * DEG, 10.0 * DEG),
        "elevator": Throw(30.0 * DEG, 20.0 * DEG),
        "rudder": Throw(40.0 * DEG, 25.0 * DEG),
    }
    return replace(load_setup("precision"), throws=throws, mixes=(), trims={}, low_rates={})


def sent(setup, aileron=0.0, elevator=0.0, rudder=0.0, throttle=0.0, rates=("high",) * 3, mode=NORMAL):
    """Left aileron (down positive), right aileron (down), elevator (down), rudder (left) in deg, then the throttle."""
    chain, command, read = transmitter_chain(setup), np.zeros(L.COMMAND), np.zeros(4)
    select(chain, float(modes_of(setup).index(mode)), *(float(RATES.index(rate)) for rate in rates))
    read_sticks(np.array([aileron, elevator, rudder, throttle]), chain, read)
    transmit(read, chain, command)
    return [*np.degrees(command[: L.CONTROLS]), command[L.THROTTLE]]


@pytest.mark.parametrize("exponential", [0.0, 0.2, 0.65, 1.0])
def test_exponential_is_the_formula_with_its_slopes_at_centre_and_end(exponential):
    for stick in np.linspace(-1.0, 1.0, 21):
        formula = (1.0 - exponential) * stick + exponential * stick**3
        assert shaped(stick, exponential) == pytest.approx(formula, abs=1e-15)
    step = 1e-6
    assert shaped(step, exponential) / step == pytest.approx(1.0 - exponential, abs=1e-9)
    end = (shaped(1.0, exponential) - shaped(1.0 - step, exponential)) / step
    assert end == pytest.approx(1.0 + 2.0 * exponential, abs=1e-5)  # 3 e step is left of the difference quotient


def test_each_axis_has_three_rates_with_a_share_and_an_exponential_of_its_own(plain):
    rates = {
        "high": {"elevator": Rate(exponential=0.5)},
        "middle": {"aileron": Rate(0.7, 0.4), "rudder": Rate(share=0.5)},
        "low": {"elevator": Rate(0.3, 0.1)},
    }
    setup = replace(plain, rates=rates, low_rates={"rudder": 0.4})
    # half stick: 0.5 (1 - e) + 0.125 e = 0.5, 0.3125 (e 0.5), 0.35 (e 0.4), 0.4625 (e 0.1)
    assert sent(setup, elevator=0.5)[2] == pytest.approx(-30.0 * 0.3125)
    assert sent(setup, elevator=0.5, rates=("high", "middle", "high"))[2] == pytest.approx(
        -30.0 * 0.8 * 0.5
    )  # usual 80 %
    assert sent(setup, elevator=0.5, rates=("high", "low", "high"))[2] == pytest.approx(-30.0 * 0.3 * 0.4625)
    assert sent(setup, aileron=0.5, rates=("middle",) * 3)[1] == pytest.approx(-20.0 * 0.7 * 0.35)
    assert sent(setup, aileron=0.5, rates=("low",) * 3)[1] == pytest.approx(-20.0 * 0.6 * 0.5)  # usual 60 %
    assert sent(setup, rudder=1.0, rates=("high", "high", "middle"))[3] == pytest.approx(-40.0 * 0.5)
    assert sent(setup, rudder=1.0, rates=("high", "high", "low"))[3] == pytest.approx(-40.0 * 0.4)
    assert sent(setup, aileron=1.0, elevator=1.0, rates=("high", "low", "high"))[:3] == pytest.approx(
        [10.0, -20.0, -9.0]
    )


@pytest.mark.parametrize(
    "mix, sticks, surface, wanted",
    [
        # straight: gain times source, on the target's throw of that side
        (Mix("rudder", "elevator", 0.10), {"rudder": 0.6}, 2, -0.06 * 30.0),
        (Mix("rudder", "elevator", 0.10), {"rudder": -0.6}, 2, 0.06 * 20.0),
        (Mix("rudder", "aileron", -0.10), {"rudder": 1.0}, 0, -0.10 * 20.0),  # rolls left: the left aileron rises
        (Mix("rudder", "aileron", -0.10), {"rudder": 1.0}, 1, 0.10 * 10.0),
        (Mix("throttle", "rudder", 0.05), {"throttle": 0.8}, 3, -0.04 * 40.0),
        (Mix("throttle", "elevator", -0.05), {"throttle": 1.0}, 2, 0.05 * 20.0),
        (Mix("aileron", "rudder", 0.20), {"aileron": 0.5}, 3, -0.10 * 40.0),
        (Mix("aileron", "rudder", 0.20), {"aileron": -0.5}, 3, 0.10 * 25.0),
        (Mix("elevator", "rudder", 0.20), {"elevator": 0.5}, 3, -0.10 * 40.0),
        # snap flap: full pull brings both ailerons down, full push both up
        (Mix("elevator", "flaps", 0.5), {"elevator": 1.0}, 0, 0.5 * 10.0),
        (Mix("elevator", "flaps", 0.5), {"elevator": 1.0}, 1, 0.5 * 10.0),
        (Mix("elevator", "flaps", 0.5), {"elevator": -1.0}, 1, -0.5 * 20.0),
        (Mix("throttle", "flaps", -0.3), {"throttle": 1.0}, 0, -0.3 * 20.0),
        (Mix("elevator", "flaps", points=((-1.0, 0.2), (0.0, 0.0), (1.0, 0.6))), {"elevator": 0.5}, 0, 0.3 * 10.0),
        (Mix("elevator", "flaps", points=((-1.0, 0.2), (0.0, 0.0), (1.0, 0.6))), {"elevator": -0.5}, 1, 0.1 * 10.0),
        # a gain for each side: what full stick that way adds
        (Mix("rudder", "elevator", points=((-1.0, 0.05), (0.0, 0.0), (1.0, 0.08))), {"rudder": 0.5}, 2, -0.04 * 30.0),
        (Mix("rudder", "elevator", points=((-1.0, 0.05), (0.0, 0.0), (1.0, 0.08))), {"rudder": -0.5}, 2, -0.025 * 30.0),
        # a curve: between its points straight
        (Mix("rudder", "aileron", points=((-1.0, 0.1), (-0.5, 0.0), (1.0, 0.3))), {"rudder": -0.75}, 1, -0.05 * 20.0),
        (Mix("rudder", "aileron", points=((-1.0, 0.1), (-0.5, 0.0), (1.0, 0.3))), {"rudder": 0.25}, 1, -0.15 * 20.0),
        # idle alone: in full at idle, nothing from 10 % throttle
        (Mix("throttle", "elevator", points=((0.0, -0.1), (0.1, 0.0))), {"throttle": 0.0}, 2, 0.1 * 20.0),
        (Mix("throttle", "elevator", points=((0.0, -0.1), (0.1, 0.0))), {"throttle": 0.025}, 2, 0.075 * 20.0),
        (Mix("throttle", "elevator", points=((0.0, -0.1), (0.1, 0.0))), {"throttle": 0.7}, 2, 0.0),
        # power alone: nothing to 60 %
        (Mix("throttle", "rudder", points=((0.6, 0.0), (1.0, 0.2))), {"throttle": 0.7}, 3, -0.05 * 40.0),
        (Mix("throttle", "rudder", points=((0.6, 0.0), (1.0, 0.2))), {"throttle": 0.6}, 3, 0.0),
    ],
)
def test_every_mix_by_hand(plain, mix, sticks, surface, wanted):
    assert sent(replace(plain, mixes=(mix,)), **sticks)[surface] == pytest.approx(wanted, abs=1e-9)
    source, place = next(iter(sticks.items()))
    assert mix.at(place) == pytest.approx(sum(_added(plain, mix, source, place)), abs=1e-12)


def _added(plain, mix, source, place):
    """What a mix adds as a share, told from the surface it moves."""
    chain, command = transmitter_chain(replace(plain, mixes=(mix,))), np.zeros(L.COMMAND)
    bare, still = transmitter_chain(plain), np.zeros(L.COMMAND)
    sticks = np.zeros(4)
    sticks[("aileron", "elevator", "rudder", "throttle").index(source)] = place
    transmit(sticks, chain, command)
    transmit(sticks, bare, still)
    off = np.degrees(command - still)[: L.CONTROLS]
    if mix.target == "flaps":
        return [off[0] / (10.0 if off[0] > 0.0 else 20.0)]
    if mix.target == "aileron":
        return [-off[1] / (20.0 if off[1] < 0.0 else 10.0)]
    surface, up, down = (off[2], 30.0, 20.0) if mix.target == "elevator" else (off[3], 40.0, 25.0)
    return [-surface / (up if surface < 0.0 else down)]


def test_rates_act_on_the_source_of_a_mix_and_not_on_what_is_mixed_in(plain):
    setup = replace(plain, mixes=(Mix("throttle", "elevator", 0.1), Mix("rudder", "elevator", 0.2)))
    for rate, share in (("high", 1.0), ("middle", 0.8), ("low", 0.6)):
        # throwing the switch of the elevator alone does not move what the throttle mixes in
        assert sent(setup, throttle=1.0, rates=("high", rate, "high"))[2] == pytest.approx(-0.1 * 30.0)
        assert sent(setup, rudder=1.0, rates=("high", "high", rate))[2] == pytest.approx(-0.2 * share * 30.0)


def test_differential_takes_travel_from_the_dropping_aileron_alone(plain):
    setup = replace(plain, differential=0.25)
    assert sent(setup, aileron=1.0)[:2] == pytest.approx([0.75 * 10.0, -20.0])
    assert sent(setup, aileron=-0.5)[:2] == pytest.approx([-0.5 * 20.0, 0.75 * 0.5 * 10.0])
    assert sent(replace(setup, differential=-0.25), aileron=1.0)[:2] == pytest.approx([10.0, -0.75 * 20.0])
    # flaps keep their travel: only roll is given a differential
    flaps = replace(setup, mixes=(Mix("elevator", "flaps", 1.0),))
    assert sent(flaps, elevator=0.6)[:2] == pytest.approx([6.0, 6.0])


def test_mixes_go_no_further_than_the_throw_and_end_points_move_that_limit(plain):
    snap = (Mix("elevator", "flaps", 0.6), Mix("rudder", "elevator", 0.5))
    setup = replace(plain, mixes=snap)
    # roll right: left aileron 100 % down, plus 60 % of flaps: held at its throw; right 100 % up less 60 %
    assert sent(setup, aileron=1.0, elevator=1.0)[:2] == pytest.approx([10.0, -0.4 * 20.0])
    assert sent(setup, elevator=1.0, rudder=1.0)[2] == pytest.approx(-30.0)
    wider = replace(setup, end_points={"aileron": (20.0 * DEG, 14.0 * DEG), "elevator": (36.0 * DEG, 12.0 * DEG)})
    assert sent(wider, aileron=1.0, elevator=1.0)[:2] == pytest.approx([14.0, -8.0])  # asked for 16
    assert sent(wider, elevator=1.0, rudder=0.2)[2] == pytest.approx(-33.0)  # 110 % of the throw
    assert sent(wider, elevator=1.0, rudder=1.0)[2] == pytest.approx(-36.0)
    assert sent(wider, elevator=-1.0)[2] == pytest.approx(12.0)  # narrower than the throw
    assert sent(wider, elevator=-0.5)[2] == pytest.approx(10.0)  # which scales nothing short of it


def test_trims_add_beyond_the_throw_but_not_beyond_an_end_point(plain):
    setup = replace(plain, trims={"elevator": 3.0 * DEG, "flaps": 2.0 * DEG, "aileron": 1.0 * DEG})
    assert sent(setup)[:3] == pytest.approx([3.0, 1.0, -3.0])
    assert sent(setup, elevator=1.0)[2] == pytest.approx(-33.0)
    stopped = replace(setup, end_points={"elevator": (31.0 * DEG, 20.0 * DEG)})
    assert sent(stopped, elevator=1.0)[2] == pytest.approx(-31.0)


def test_a_mode_changes_what_it_names_and_nothing_else(plain):
    base = replace(
        plain, mixes=(Mix("rudder", "elevator", 0.1),), trims={"elevator": 1.0 * DEG}, throttle_curve=(0.0, 1.0)
    )
    snap = Mode("snap", 0.3, {"high": {"elevator": Rate(0.5, 0.4)}}, (Mix("elevator", "flaps", 1.0),), {"flaps": -2.0 * DEG},
                (0.0, 0.2, 1.0))  # fmt: skip
    setup = replace(base, modes=(snap, Mode("calm")))
    # elevator at half stick on 50 % and exponential 40 %: 0.5 x 0.35
    asked = dict(elevator=0.5, rudder=1.0, throttle=0.5)
    assert sent(setup, **asked, mode="snap") == pytest.approx([1.75 - 2.0, 1.75 - 2.0, -0.175 * 30.0 - 1.0, -40.0, 0.2])
    assert sent(setup, **asked, mode="calm") == sent(setup, **asked) == sent(base, **asked)
    assert sent(setup, **asked)[2] == pytest.approx(-0.6 * 30.0 - 1.0)


@pytest.mark.parametrize("steps", [16, 256, 2048])
def test_a_link_of_so_many_steps_sends_so_many_places(plain, steps):
    setup = replace(plain, link=Link(0.0, 0.0, steps))
    chain, read, wanted, command = transmitter_chain(setup), np.zeros(4), np.zeros(L.COMMAND), np.zeros(L.COMMAND)
    memory = np.zeros((LINK_FRAMES, L.COMMAND))
    seen = []
    for stick in np.linspace(-1.0, 1.0, 8 * steps + 1):
        read_sticks(np.array([stick, stick, stick, 0.5 + 0.5 * stick]), chain, read)
        transmit(read, chain, wanted)
        through_link(wanted, memory, 0, FRAME, chain, command)
        seen.append((*read, *command))
    places = [len(np.unique(np.round(column, 12))) for column in np.array(seen).T]
    assert places[:4] == [steps + 1] * 4  # both ends are places
    # a straight control of equal throws shows each of them; a shorter side fewer, for steps are those of the longer
    assert places[4 + L.THROTTLE] == steps + 1
    assert places[4 + L.RUDDER] == steps // 2 + 1 + round(25.0 / 40.0 * steps / 2)
    assert np.abs(np.array(seen)[:, 4 + L.RUDDER]).max() == pytest.approx(40.0 * DEG)
    unit = 2.0 * 40.0 * DEG / steps
    rudder = np.array(seen)[:, 4 + L.RUDDER] / unit
    assert rudder == pytest.approx(np.round(rudder), abs=1e-9)


def through(setup, moves, frames):
    """The rudder at the servo (share of full) over `frames`, the stick having stood at 0; `moves` gives it by frame."""
    chain, wanted, command = transmitter_chain(setup), np.zeros(L.COMMAND), np.zeros(L.COMMAND)
    memory = np.zeros((LINK_FRAMES, L.COMMAND))
    out = []
    for frame in range(frames):
        transmit(np.array([0.0, 0.0, moves(frame), 0.0]), chain, wanted)
        through_link(wanted, memory, frame, FRAME, chain, command)
        out.append(-command[L.RUDDER] / (40.0 * DEG))
    return np.array(out)


@pytest.mark.parametrize("milliseconds", [0, 10, 20, 80, 200])
def test_a_latency_of_whole_frames_is_exact(plain, milliseconds):
    late = milliseconds // 10
    moved = through(replace(plain, link=Link(0.001 * milliseconds, 0.0, 0)), lambda frame: 0.01 * (frame + 1), 90)
    wanted = np.r_[np.zeros(late), 0.01 * np.arange(1, 91)][:90]
    assert moved == pytest.approx(wanted, abs=1e-12)


def test_a_latency_between_frames_is_exact_in_the_mean(plain):
    step = through(replace(plain, link=Link(0.025, 0.0, 0)), lambda frame: 1.0 if frame >= 10 else 0.0, 20)
    assert list(step[:12]) == [0.0] * 12
    assert step[12] == pytest.approx(0.5) and step[13:] == pytest.approx(1.0)  # 25 ms: the middle of the third frame


@pytest.mark.parametrize("period, every", [(0.0, 1), (0.01, 1), (0.02, 2), (0.05, 5)])
def test_a_link_that_sends_seldom_holds_what_it_sent(plain, period, every):
    moved = through(replace(plain, link=Link(0.0, period, 0)), lambda frame: 0.01 * frame, 60)
    assert moved == pytest.approx([0.01 * (frame // every * every) for frame in range(60)], abs=1e-12)


def test_frames_sent_every_22_ms_come_at_that_rate_in_the_mean(plain):
    moved = through(replace(plain, link=Link(0.0, 0.022, 0)), lambda frame: 0.001 * frame, 880)
    assert len(np.unique(moved)) == pytest.approx(8.8 / 0.022, abs=1)  # 880 frames of 10 ms
