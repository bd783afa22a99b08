"""Sticks moved by keys, and the clock: every frame is flown, and a slow machine slows time down."""

import numpy as np
import pytest

from sim.integration import FRAME
from viewer.hands_on import keys as K
from viewer.hands_on.keys import KeySticks
from viewer.hands_on.pace import MOST_BEHIND, Pace


def after(keys, seconds):
    for _ in range(round(seconds / FRAME)):
        sticks = keys.frame()
    return sticks


def test_a_key_moves_the_stick_and_letting_go_centres_it():
    keys = KeySticks()
    keys.held = {"nose up", "roll left"}
    assert after(keys, 0.1) == pytest.approx([-0.1 * K.OUT, 0.1 * K.OUT, 0.0, 0.0])
    assert after(keys, 0.5) == pytest.approx([-1.0, 1.0, 0.0, 0.0])
    keys.held = set()
    assert after(keys, 0.1) == pytest.approx([-1.0 + 0.1 * K.BACK, 1.0 - 0.1 * K.BACK, 0.0, 0.0])
    assert not after(keys, 0.5).any()


def test_the_throttle_stays():
    keys = KeySticks()
    keys.stand_at([0.0, 0.0, 0.0, 0.4])
    keys.held = {"more throttle"}
    up = after(keys, 0.5)[3]
    assert up == pytest.approx(0.4 + 0.5 * K.THROTTLE)
    keys.held = set()
    assert after(keys, 1.0)[3] == up
    keys.held = {"less throttle"}
    assert after(keys, 5.0)[3] == 0.0


def test_both_keys_are_none_and_gentle_is_less():
    keys = KeySticks()
    keys.held = {"yaw left", "yaw right"}
    assert not after(keys, 1.0).any()
    keys.held, keys.gentle = {"yaw right"}, True
    assert after(keys, 2.0)[2] == pytest.approx(K.GENTLE)
    keys.gentle = False
    assert after(keys, 1.0)[2] == 1.0


class Clock:
    """A clock that a test turns."""

    def __init__(self):
        self.time = 100.0

    def __call__(self):
        return self.time


def test_a_machine_that_keeps_up_flies_in_real_time():
    clock = Clock()
    pace, flown = Pace(clock), 0
    for _ in range(600):  # ten seconds of pictures at 60 a second
        clock.time += 1.0 / 60.0
        flown += pace.due()
    assert flown == pytest.approx(1000, abs=1)
    assert pace.factor == 1.0 and pace.words == ""


def test_irregular_pictures_lose_no_frame():
    clock, rng = Clock(), np.random.default_rng(5)
    pace, flown, begun = Pace(clock), 0, clock.time
    for _ in range(500):
        clock.time += float(rng.uniform(0.0, 0.9 * MOST_BEHIND))
        flown += pace.due()
    assert flown * FRAME == pytest.approx(clock.time - begun, abs=FRAME)


def test_a_slow_machine_slows_time_down_and_says_so():
    clock = Clock()
    pace, flown = Pace(clock), 0
    for _ in range(20):  # half a second for what is a quarter of flight
        clock.time += 0.5
        due = pace.due()
        assert due <= round(MOST_BEHIND / FRAME)
        flown += due
    assert flown * FRAME == pytest.approx(20 * MOST_BEHIND)
    assert pace.factor == pytest.approx(0.5, abs=0.02)
    assert "time runs at 0.5" in pace.words
    for _ in range(200):  # it recovers, and owes nothing
        clock.time += 1.0 / 60.0
        assert pace.due() <= 2
    assert pace.words == ""


def test_a_pause_is_nobodys_debt():
    clock = Clock()
    pace = Pace(clock)
    clock.time += 60.0
    pace.start()
    assert pace.due() == 0
    clock.time += 0.02
    assert pace.due() == 2 and pace.factor == 1.0


def test_a_clock_that_goes_back_does_no_harm():
    clock = Clock()
    pace = Pace(clock)
    clock.time -= 5.0
    assert pace.due() == 0
    clock.time += 0.1
    assert pace.due() == 10
