"""Servo load and blow-back, against records made by hand, and the bench against the model it stands on."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from scenarios.bench.servos import CONTROLS, MIXED, SHARES, Stream, bench, bench_control, energy_of, level_top_speed
from scenarios.manoeuvres import CannotFly, flyable
from scenarios.measures import MEASURES, NotMeasured
from scenarios.measures.servos import blow_back, loads
from sim import layout as L
from sim.equations_of_motion import derivatives
from sim.recording import COMMAND_AT, INDEX, STATE_AT
from sim.servo import servo_rate
from sim.servo_motor import IDLE
from tests.scenarios.by_hand import by_hand, record
from tests.scenarios.flying import flown, plane_of, setup_of

DEG = math.pi / 180.0


def by_servo(torque=2.0, speed=10.0):
    """A record of a pass with full up elevator: 30 deg commanded, 20 deg reached under -1.5 N m."""
    flight = record("pass", **{"elevator": -20.0 * DEG, "elevator hinge moment": 1.5, "rudder hinge moment": -0.8})
    flight.flight.rows[:, COMMAND_AT + L.ELEVATOR] = -30.0 * DEG
    plane = by_hand()
    plane.model[L.SERVO_SPEED : L.SERVO_SPEED + 4], plane.model[L.SERVO_LAG : L.SERVO_LAG + 4] = speed, 0.02
    if torque:
        plane.model[L.SERVO_GIVE : L.SERVO_GIVE + 4] = 1.0 / torque
    setup = setup_of("extreme")
    servos = {name: replace(servo, torque=torque) for name, servo in setup.servos.items()}
    flight.plane, flight.setup = plane, replace(setup, servos=servos)
    return flight


def test_servo_measures_of_a_record_made_by_hand():
    flight = by_servo()
    assert MEASURES["elevator_hinge_moment"].take(flight) == pytest.approx(1.5)
    assert MEASURES["rudder_hinge_moment"].take(flight) == pytest.approx(0.8)
    assert MEASURES["elevator_servo_load"].take(flight) == pytest.approx(75.0)
    assert MEASURES["elevator_blow_back"].take(flight) == pytest.approx(10.0)
    with pytest.raises(NotMeasured, match="no rudder of more than 2 deg was held"):
        MEASURES["rudder_blow_back"].take(flight)


def test_a_stroke_under_way_is_no_blow_back():
    flight = by_servo(speed=2.0)
    rows, at = flight.flight.rows, COMMAND_AT + L.ELEVATOR
    rows[:, INDEX["elevator"]] = 0.0
    rows[:, at] = 0.0
    rows[20:, at] = -30.0 * DEG  # 0.52 rad at 2 rad/s: 0.26 s, and the lag
    position = 0.0
    for n in range(20, len(rows)):
        rows[n, INDEX["elevator"]] = position
        position += 0.01 * servo_rate(position, -30.0 * DEG, 2.0, 0.02)
    assert blow_back(flight, "elevator") == pytest.approx(0.0, abs=0.2)


def test_without_torque_nothing_is_said_of_blow_back():
    flight = by_servo(torque=None)
    for name in ("elevator_servo_load", "elevator_blow_back"):
        with pytest.raises(NotMeasured, match="servo torque not given: blow-back is not seen"):
            MEASURES[name].take(flight)
    assert MEASURES["elevator_hinge_moment"].take(flight) == pytest.approx(1.5)


def test_strong_throws_at_speed_load_the_servos_more_than_small_ones():
    strong, small = flown("extreme", "high-speed-pass"), flown("precision", "high-speed-pass")
    assert loads(strong, "elevator", slice(None)).max() > 3.0 * loads(small, "elevator", slice(None)).max()
    assert blow_back(strong, "elevator") > blow_back(small, "elevator") + 2.0


def test_hinge_moments_on_record_are_those_of_the_state_and_of_their_own_surface():
    flight = flown("precision", "roll-high-rates-right")
    model, row = flight.plane.model.copy(), flight.flight.rows[30]
    x, command = np.ascontiguousarray(row[STATE_AT:]), np.ascontiguousarray(row[COMMAND_AT:STATE_AT])
    derivatives(x, command, model, flight.plane.table, np.zeros(L.STATE))
    names = ("left aileron", "right aileron", "elevator", "rudder")
    kept = [row[INDEX[f"{name} hinge moment"]] for name in names]
    # flights sum the induced velocities in single precision
    assert kept == pytest.approx(model[L.HINGE_MOMENT : L.HINGE_MOMENT + 4], rel=1e-3, abs=1e-4)
    assert kept[0] < -0.1 and kept[1] > 0.1  # a roll to the right: left aileron down, so its air pushes up


# ---- bench -----------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def extreme():
    return bench(setup_of("extreme"), manoeuvres=("level-trim", "roll-high-rates-right"))


def test_top_speed_is_where_full_throttle_ends():
    plane = plane_of("precision")
    from sim.trim import NoTrim, level_trim

    top = level_top_speed(plane)
    assert plane.throttle_for_duty(level_trim(plane, top, 100.0).duty) > 0.97
    with pytest.raises(NoTrim):
        level_trim(plane, top + 0.2, 100.0)


def test_hinge_moments_grow_with_the_square_of_speed_without_slipstream(extreme):
    for b in extreme.controls:
        still = np.abs(b.without_slipstream)
        assert still[0] < 1e-3  # no wind, no moment
        # Reynolds number moves the start of separation only: 3 % between 15 and 44 m/s
        assert still[2:] / b.speeds[2:] ** 2 == pytest.approx(still[-1] / b.speeds[-1] ** 2, rel=0.08)
        # at speed a jet no wider than the tail adds little; standing it is all there is
        assert (np.abs(b.moments[:, -1]) > 0.9 * still).all() and abs(b.moments[0, -1]) > 0.1
        assert (np.diff(np.abs(b.moments), axis=1) > 0.0).all()  # the more deflection the more moment


def test_blow_back_of_the_bench(extreme):
    aileron, _, rudder = extreme.controls
    for b in extreme.controls:
        assert b.asked_torque == pytest.approx(2.0 * b.servo_torque)
        assert b.factor == pytest.approx(b.servo.torque / b.servo_torque)
        assert (np.diff(b.reached) < 1e-6).all()  # faster is farther back
        over = b.loads > 1.02
        # where the load is over the stall torque the surface stands clearly short, elsewhere within the band and the play
        assert (b.reached[over] < b.full - 2.0 * DEG).all()
        assert (b.reached[b.loads < 0.9] > b.full - 4.0 * DEG).all()
    assert aileron.blown < aileron.blown_share < extreme.top_speed
    assert rudder.missing > 10.0 * DEG


def test_missing_at_the_speed_where_a_tenth_is_off(extreme):
    aileron = extreme.controls[0]
    stream = Stream(flyable(setup_of("extreme")))
    again = bench_control(stream, "aileron", extreme.top_speed, aileron.blown_share)
    assert again.missing == pytest.approx(0.1 * aileron.full, abs=0.4 * DEG)  # the speed is found to 0.1 m/s


def test_times_to_full_throw_against_the_servo_s_speed(extreme):
    for b in bench(setup_of("moor-220-precision"), manoeuvres=("level-trim",)).controls:  # no linkages
        # way over speed, and the lag that is left of the last degree: lag * ln(speed * lag / 1 deg)
        last = b.servo.speed * b.servo.lag
        wanted = max(0.0, b.full - last) / b.servo.speed + b.servo.lag * math.log(min(b.full, last) / DEG)
        assert b.free.out == pytest.approx(wanted, abs=0.003)
        across = (2.0 * b.full - last) / b.servo.speed + b.servo.lag * math.log(last / DEG)
        assert b.free.across == pytest.approx(across, abs=0.003)
        assert b.loaded.back < b.free.back  # the air helps
    rudder = bench(setup_of("precision"), ("rudder",), manoeuvres=("level-trim",)).controls[0]
    # 58 % of load at the end of a way that it still reaches: the straight line of the motor, 1 - load on average 0.7
    assert 1.2 * rudder.free.out < rudder.loaded.out < 2.0 * rudder.free.out
    # a surface that is held at half of its throw has half of the way
    assert extreme.controls[0].loaded.back < 0.8 * extreme.controls[0].free.back


def test_twice_the_servos_halve_what_one_is_asked_for(extreme):
    setup = setup_of("extreme")
    servos = {**setup.servos, "aileron": replace(setup.servos["aileron"], count=2)}
    plane = flyable(replace(setup, servos=servos))
    once = extreme.controls[0]
    twice = bench_control(Stream(plane), "aileron", extreme.top_speed, extreme.top_speed)
    assert twice.servo_torque == pytest.approx(0.5 * once.servo_torque, rel=1e-6)
    assert twice.missing < 0.5 * once.missing


def test_without_torque_the_bench_says_what_to_ask_for(extreme):
    setup = setup_of("extreme")
    bare = {name: replace(servo, torque=None) for name, servo in setup.servos.items()}
    found = bench(replace(setup, servos=bare), ("aileron",))
    b = found.controls[0]
    assert found.energy is None and b.loads is None and b.reached is None and b.missing is None and b.factor is None
    assert b.asked_torque == pytest.approx(extreme.controls[0].asked_torque, rel=0.01)


def test_draw_is_what_stands_idle_and_more_in_a_roll(extreme):
    setup = setup_of("extreme")
    calm, roll = (energy_of(setup, (name,)) for name in ("level-trim", "roll-high-rates-right"))
    idle = 8.4 * IDLE  # W a servo
    for draw in calm.draws:
        assert idle * draw.servos <= draw.mean < 6.0 * idle * draw.servos
    assert [d.servos for d in calm.draws] == [2, 2, 1]
    assert roll.draws[0].mean > 1.5 * calm.draws[0].mean and roll.draws[0].peak > 5.0 * roll.draws[0].mean
    both = energy_of(setup, ("level-trim", "roll-high-rates-right"))
    assert both.charge == pytest.approx(calm.charge + roll.charge, rel=1e-9)
    assert both.per_minute == pytest.approx(60.0 * both.charge / both.seconds)
    with pytest.raises(CannotFly):
        energy_of(setup, ())


def test_every_control_has_its_bench(extreme):
    assert tuple(b.control for b in extreme.controls) == CONTROLS
    assert all(b.moments.shape == (len(b.speeds), len(SHARES)) for b in extreme.controls)
    assert len(MIXED) == 7
