"""Servos and the transmitter's chain: identities and inverses."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from models.loader import load_setup
from sim import layout as L
from sim.description import Mix
from sim.servo import servo_rate
from sim.transmitter import shaped, transmit, transmitter_chain, unshaped


@pytest.mark.parametrize("exponential", [0.0, 0.2, 0.49, 0.5, 0.8, 1.0])
def test_exponential_and_its_inverse(exponential):
    assert shaped(1.0, exponential) == 1.0 and shaped(-1.0, exponential) == -1.0
    slope = shaped(1e-6, exponential) / 1e-6
    assert slope == pytest.approx(1.0 - exponential, abs=1e-9)
    for stick in np.linspace(-1.0, 1.0, 41):
        # 1e-6 as its docstring promises, in the effect
        assert shaped(unshaped(shaped(stick, exponential), exponential), exponential) == pytest.approx(
            shaped(stick, exponential), abs=1e-6
        )
        if exponential <= 0.8:
            assert unshaped(shaped(stick, exponential), exponential) == pytest.approx(stick, abs=1e-5)


@pytest.fixture(scope="module")
def setup():
    return load_setup("precision")


def sent(setup, aileron=0.0, elevator=0.0, rudder=0.0, throttle=0.0):
    command = np.zeros(L.COMMAND)
    transmit(np.array([aileron, elevator, rudder, throttle]), transmitter_chain(setup), command)
    return command


def test_full_sticks_give_the_throws_both_ways(setup):
    throws = {
        "aileron": replace(setup.throws["aileron"], positive=0.30, negative=0.20),
        "elevator": replace(setup.throws["elevator"], positive=0.25, negative=0.15),
        "rudder": replace(setup.throws["rudder"], positive=0.50, negative=0.40),
    }
    plane = replace(setup, throws=throws, trims={})
    # positive elevator pulls: trailing edge up, negative deflection (ISO 1151)
    assert sent(plane, elevator=1.0)[L.ELEVATOR] == -0.25
    assert sent(plane, elevator=-1.0)[L.ELEVATOR] == 0.15
    # positive rudder yaws right: trailing edge right, negative
    assert sent(plane, rudder=1.0)[L.RUDDER] == -0.50
    assert sent(plane, rudder=-1.0)[L.RUDDER] == 0.40
    # right stick: left aileron drops by its smaller throw, right one rises by its larger
    right, left = sent(plane, aileron=1.0), sent(plane, aileron=-1.0)
    assert (right[L.AILERON_LEFT], right[L.AILERON_RIGHT]) == (0.20, -0.30)
    assert (left[L.AILERON_LEFT], left[L.AILERON_RIGHT]) == (-0.30, 0.20)


def test_mixes_add_fractions_of_full_throw_and_are_limited(setup):
    mixed = replace(setup, mixes=(Mix("rudder", "elevator", 0.10), Mix("rudder", "aileron", -0.05)), trims={})
    plain = replace(setup, mixes=(), trims={})
    rudder = shaped(0.6, setup.throws["rudder"].exponential)
    found = sent(mixed, rudder=0.6)
    assert found[L.ELEVATOR] == pytest.approx(-0.10 * rudder * setup.throws["elevator"].positive)
    assert found[L.AILERON_LEFT] == pytest.approx(-0.05 * rudder * setup.throws["aileron"].positive)
    assert found[L.RUDDER] == sent(plain, rudder=0.6)[L.RUDDER]
    assert sent(mixed, elevator=1.0, rudder=1.0)[L.ELEVATOR] == sent(plain, elevator=1.0)[L.ELEVATOR]
    throttle = replace(setup, mixes=(Mix("throttle", "elevator", 0.2),), trims={})
    assert sent(throttle, throttle=0.5)[L.ELEVATOR] == pytest.approx(-0.1 * setup.throws["elevator"].positive)


def test_trims_move_the_surface_the_stick_s_way(setup):
    trimmed = replace(setup, mixes=(), trims={"elevator": 0.01, "aileron": 0.02, "rudder": 0.03})
    found = sent(trimmed)
    assert found[: L.CONTROLS] == pytest.approx([0.02, -0.02, -0.01, -0.03])


def test_throttle_curve_is_interpolated_and_clamped(setup):
    curved = replace(setup, throttle_curve=(0.0, 0.6, 1.0))
    assert [sent(curved, throttle=t)[L.THROTTLE] for t in (-0.1, 0.25, 0.5, 0.75, 1.0, 1.2)] == pytest.approx(
        [0.0, 0.3, 0.6, 0.8, 1.0, 1.0]
    )


def test_throttle_for_duty_is_the_curve_s_inverse(precision):
    setup = replace(precision.setup, throttle_curve=(0.0, 0.6, 1.0))
    curve = replace(precision, setup=setup, chain=transmitter_chain(setup))
    for stick in (0.1, 0.5, 0.8):
        assert curve.throttle_for_duty(sent(curve.setup, throttle=stick)[L.THROTTLE]) == pytest.approx(stick)


def test_servo_takes_its_rated_time_over_sixty_degrees():
    speed, lag = math.radians(60.0) / 0.12, 0.02
    assert servo_rate(0.0, 1.0, speed, lag) == speed
    assert servo_rate(0.0, -1.0, speed, lag) == -speed
    assert servo_rate(0.10, 0.11, speed, lag) == pytest.approx(0.01 / lag)
    position, time = 0.0, 0.0
    while position < math.radians(60.0) * 0.999:
        position += 1e-4 * servo_rate(position, math.radians(60.0), speed, lag)
        time += 1e-4
    # 0.12 s at full speed plus the last part of the lag: 8.7 rad/s x 0.02 s = 10 deg from the end it slows down,
    # and takes lag x (ln(10 deg / 0.06 deg) - 1) = 0.08 s longer
    assert time == pytest.approx(0.20, abs=0.01)
