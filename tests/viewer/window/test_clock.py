"""The clock of a replay, without a window."""

import numpy as np
import pytest

from viewer.window.clock import LONGEST_TICK, SPEEDS, Clock


@pytest.fixture
def clock():
    return Clock(np.arange(0.0, 2.005, 0.01))


def test_plays_at_its_speed_and_pauses_at_the_end(clock):
    assert not clock.advance(0.1) and clock.time == 0.0  # it begins paused
    clock.toggle()
    assert clock.advance(0.1) and clock.time == pytest.approx(0.1)
    clock.speed = 1 / 8
    clock.advance(0.08)
    assert clock.time == pytest.approx(0.11)
    clock.speed = 2.0
    for _ in range(100):
        clock.advance(0.02)
    assert clock.time == clock.end == 2.0 and clock.ended and not clock.playing  # no loop


def test_play_at_the_end_begins_anew(clock):
    clock.seek(99.0)
    assert clock.ended
    clock.toggle()
    assert clock.time == clock.start and clock.playing


def test_a_machine_that_stood_still_does_not_make_the_flight_jump(clock):
    clock.play()
    clock.advance(60.0)
    assert clock.time == pytest.approx(LONGEST_TICK)
    clock.advance(-1.0)
    assert clock.time == pytest.approx(LONGEST_TICK)


def test_speeds_reach_from_an_eighth_to_twice(clock):
    for _ in range(9):
        clock.slower()
    words = [clock.speed_words]
    for _ in range(9):
        clock.faster()
        words.append(clock.speed_words)
    assert words[:5] == ["1/8", "1/4", "1/2", "1", "2"] and set(words[5:]) == {"2"}
    assert (SPEEDS[0], SPEEDS[-1]) == (1 / 8, 2.0)


def test_steps_show_frames(clock):
    clock.play()
    clock.step(1)
    assert clock.time == pytest.approx(0.01) and not clock.playing
    clock.seek(0.5034)  # between frames
    clock.step(1)
    assert clock.time == pytest.approx(0.51)
    clock.seek(0.5034)
    clock.step(-1)
    assert clock.time == pytest.approx(0.50)
    clock.step(-1)
    assert clock.time == pytest.approx(0.49)
    clock.step(-1000)
    assert clock.time == 0.0
    clock.step(1000)
    assert clock.time == pytest.approx(2.0)
    assert clock.time in clock.times


def test_every_frame_can_be_stepped_through(clock):
    seen = [clock.time]
    while not clock.ended:
        clock.step(1)
        seen.append(clock.time)
    assert seen == clock.times
    back = [clock.time]
    while clock.time > clock.start:
        clock.step(-1)
        back.append(clock.time)
    assert back == clock.times[::-1]


def test_a_second_flight_may_reach_beyond_the_first():
    clock = Clock([0.0, 1.0], start=-0.5, end=1.8)
    assert clock.time == -0.5
    clock.seek(1.4)
    clock.step(1)
    assert clock.time == 1.8
    clock.seek(-0.2)
    clock.step(-1)
    assert clock.time == -0.5
    clock.step(1)
    assert clock.time == 0.0


def test_while_it_is_held_time_stands_still(clock):
    clock.play()
    clock.grab()
    clock.seek(1.0)
    assert not clock.advance(0.1) and clock.time == 1.0
    clock.let_go()
    assert clock.advance(0.1) and clock.time == pytest.approx(1.1)
    clock.grab()
    clock.seek(5.0)
    clock.let_go()
    assert not clock.playing and clock.time == clock.end
    clock.seek(1.0)
    clock.grab()
    clock.let_go()
    assert not clock.playing  # it was paused, and stays so


def test_marks(clock):
    clock.to_mark([0.3, 1.2], ahead=True)
    assert clock.time == 0.3
    clock.to_mark([0.3, 1.2], ahead=True)
    assert clock.time == 1.2
    clock.to_mark([0.3, 1.2], ahead=True)
    assert clock.time == clock.end
    clock.to_mark([0.3, 1.2], ahead=False)
    assert clock.time == 1.2
    clock.seek(0.2)
    clock.to_mark([0.3, 1.2], ahead=False)
    assert clock.time == clock.start
