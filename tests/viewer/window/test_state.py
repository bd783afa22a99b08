"""What actions change, and that keys, buttons and switches are one table; no window is opened."""

import importlib.util
from dataclasses import fields
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from viewer.scene.looks import Switches
from viewer.window import actions
from viewer.window.channels import ALL, USUAL
from viewer.window.clock import Clock
from viewer.window.lanes import lanes_of
from viewer.window.state import State


@pytest.fixture
def state():
    return State(
        Clock([0.0, 0.5, 1.0]),
        Switches(),
        [("pull up", 0.0, 0.5), ("hands off", 0.5, 1.0)],
        two=True,
        meetings=["pull up", "hands off"],
    )


def test_no_key_and_no_name_is_used_twice():
    keys = [key for action in actions.ALL for key in action.keys]
    assert len(set(keys)) == len(keys)
    assert len(actions.BY_NAME) == len(actions.ALL)
    assert all(action.keys and action.cap and action.words for action in actions.ALL)


def test_keys_are_called_as_the_window_library_calls_them():
    pyglet = pytest.importorskip("pyglet")
    file = Path(pyglet.__file__).parent / "window" / "key.py"  # by its file: the package around it wants a screen
    spec = importlib.util.spec_from_file_location("keys_of_pyglet", file)
    keys = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(keys)
    assert [key for key in actions.BY_KEY if not hasattr(keys, key)] == []


def test_every_action_changes_something_and_is_undone_or_kept(state):
    def seen(s):
        return (s.view, s.zoom.copy(), s.switches, s.legend, s.chart, s.column, s.full, s.hands, s.choosing, s.closed, s.meeting,
                s.clock.time, s.clock.playing, s.clock.speed)  # fmt: skip

    for action in actions.ALL:
        state.clock.seek(0.6)
        state.view = "chase" if action.name == "pilot" else "pilot"
        before = seen(state)
        state.do(action.name)
        assert seen(state) != before, action.name
        state.choosing, state.clock.playing = None, False


def test_the_switches_are_those_of_the_scene(state):
    assert {a.name for a in actions.SWITCHES} == {f.name for f in fields(Switches)}
    state.do("forces")
    assert state.switches.forces and "forces" in state.on()
    state.do("forces")
    assert not state.switches.forces and "forces" not in state.on()


def test_one_flight_has_no_switch_for_the_second(state):
    state.two = False
    state.do("ghost")
    assert state.switches.ghost and not state.offered("ghost") and not state.offered("meet")


def test_flights_meet_at_the_start_of_each_phase_that_both_have(state):
    seen = []
    for _ in range(4):
        state.do("meet")
        seen.append(state.meeting)
    assert seen == [0, 1, None, 0]


def test_each_view_keeps_its_own_zoom(state):
    state.do("closer")
    state.do("top")
    assert state.zoom["pilot"] > 1.0 == state.zoom["top"]
    for _ in range(100):
        state.do("closer")
    assert state.zoom["top"] == 8.0


def test_measures_are_chosen_lane_by_lane(state):
    state.do("measure")
    assert state.choosing == 0
    state.choose("alpha")
    assert state.channels == ["alpha", *USUAL[1:]] and state.choosing is None
    for lane in range(len(USUAL)):
        state.do("measure")
        assert state.choosing == lane
    state.do("measure")
    assert state.choosing is None
    state.do("measure")
    state.do("frame ahead")  # in the list, arrows choose
    assert state.channels[0] == "beta" and state.clock.time == 0.0
    state.choose("no such measure")
    assert state.channels[0] == "beta" and state.choosing == 0
    state.do("close")  # closes the list first
    assert state.choosing is None and not state.closed
    state.do("close")
    assert state.closed


def test_hands_go_through_the_four_modes(state):
    seen = []
    for _ in range(4):
        seen.append(state.hands)
        state.do("hands")
    assert seen == [2, 3, 4, 1] and state.hands == 2


def test_every_channel_of_a_record_can_be_shown():
    from sim.recording import CHANNELS

    assert set(ALL) == {name for name, _, _ in CHANNELS} - {"time", "phase time"}
    assert ALL["pitch rate"].unit == "deg/s" and ALL["pitch rate"].values([1.0])[0] == pytest.approx(57.29578)
    assert ALL["rotor speed"].values([2 * 3.141592653589793])[0] == pytest.approx(60.0)  # a turn a second
    assert ALL["throttle"].values([0.5])[0] == 50.0
    assert {shown.unit for shown in ALL.values()} == {"m", "m/s", "deg", "deg/s", "g", "%", "rpm", "N", "A", "N m"}


def test_lanes_have_the_second_flight_on_the_first_ones_clock():
    def flight(start, rates):
        return SimpleNamespace(time=start + 0.1 * np.arange(len(rates)), channel=lambda name: np.array(rates))

    first, second = flight(0.0, [0.0, 1.0, 2.0]), flight(0.0, [5.0, 6.0])
    (lane,) = lanes_of(first, second, 0.1, ["pitch rate"])  # the second one's 0.1 s is seen at the first one's 0 s
    assert lane.at(0.0) == pytest.approx([0.0, np.degrees(6.0)])
    assert (lane.unit, lane.turn) == ("deg/s", 0.0)
    (lane,) = lanes_of(first, None, 0.0, ["heading"])
    assert lane.at(0.2) == pytest.approx([np.degrees(2.0)]) and lane.turn == 360.0
