"""Stalls of every kind, spins, hover, harrier, wall, tumble, loads and the pilot's work on records made by hand.

Expected values are arithmetic on the definitions in `scenarios.measures` (common practice, no source, unless one is
named there).
"""

import math

import numpy as np
import pytest

from scenarios.measures import NotMeasured
from scenarios.measures.pilot_work import reversals
from sim import layout as L
from sim.frames import G
from sim.recording import STATE_AT
from tests.scenarios.by_hand import DEG, record, take

PI = math.pi

# ---- stalls ------------------------------------------------------------------------------------------


def separate(fl, frame, strip=4):
    """Let a strip of the wing separate from `frame` on (the wing's strips begin at 2)."""
    fl.flight.rows[frame:, STATE_AT + L.SEPARATION + 2 + strip] = 0.2
    return fl


def slowing(shape="stall", **more):
    channels = {
        "airspeed": lambda t, p: 18.0 - t,
        "alpha": lambda t, p: 0.1 + 0.05 * t,
        "load_z": 1.0,
        "stalled": lambda t, p: np.where(t > 3.5, 0.4, 0.0),
    }
    return record(shape, **{**channels, **more})


def test_the_warning_is_what_lies_between_separation_and_break():
    fl = separate(slowing(), 300)  # at 3.00 s; the break is the slowest, at 4.99 s
    assert take("warning_speed", fl) == pytest.approx(1.99)
    assert take("warning_alpha", fl) == pytest.approx(0.05 * 1.99 / DEG)
    assert take("stall_load", fl) == pytest.approx(1.0)


def test_a_stall_without_warning_has_none():
    late = slowing(airspeed=lambda t, p: np.where(t < 4.0, 18.0 - t, 10.0 + t))  # slowest at 3.99 s
    assert take("warning_speed", separate(late, 450)) == 0.0
    assert take("warning_alpha", separate(late, 450)) == 0.0


def test_a_warning_needs_a_separation_and_a_wing_that_carries():
    for name in ("warning_speed", "warning_alpha", "first_separation"):
        with pytest.raises(NotMeasured, match="no strip of the wing separated"):
            take(name, slowing())
    unloaded = separate(slowing(load_z=lambda t, p: np.where(t < 3.5, 0.2, 1.0)), 300)
    with pytest.raises(NotMeasured, match="less than half the weight at its first separation"):
        take("warning_speed", unloaded)


ACCELERATED = {"slow down": 2.0, "pull": 1.0, "release": 0.5, "recover": 1.0}
AT_THE_BREAK = {"slow down": 2.0, "aileron": 1.0, "recover": 1.5}
IN_A_TURN = {"turn": 3.0, "release": 0.5, "recover": 1.0}


def test_an_accelerated_stall_is_read_in_the_pull():
    pulled = slowing(
        ACCELERATED,
        airspeed=lambda t, p: np.where(p == 1, 24.0, 10.0),
        load_z=lambda t, p: np.where(p == 1, np.where(t < 2.5, 2.0, 4.0), 1.0),
        stalled=lambda t, p: np.where(p == 1, 0.5, 0.0),
    )
    assert take("stall_speed", pulled) == pytest.approx(12.0)  # 24 / sqrt(4), not the 10 of the slow-down
    assert take("stall_load", pulled) == pytest.approx(4.0)
    assert take("recovery_time", pulled) == pytest.approx(1.5)


def test_aileron_at_the_break_counts_from_the_break():
    fl = slowing(
        AT_THE_BREAK, stalled=0.5, bank=lambda t, p: -0.5 * np.maximum(t - 2.0, 0.0), pitch=lambda t, p: -0.1 * t
    )
    assert take("wing_drop", fl) == pytest.approx(-0.5 * 2.49 / DEG)
    assert take("nose_drop", fl) == pytest.approx(0.1 * 2.49 / DEG)
    assert take("recovery_time", fl) == pytest.approx(2.5)


def test_a_stall_in_a_turn_drops_from_its_bank():
    fl = slowing(IN_A_TURN, stalled=0.5, bank=lambda t, p: 0.8 + np.where(p == 2, 0.3, 0.0))
    assert take("wing_drop", fl) == pytest.approx(0.3 / DEG)


def test_a_stall_that_nothing_follows_has_no_drop():
    for name in ("nose_drop", "wing_drop", "stall_alpha"):
        with pytest.raises(NotMeasured, match="no phase follows the stall"):
            take(name, slowing({"slow down": 5.0}))
    with pytest.raises(NotMeasured, match='"recover" does not come after "slow down"'):
        take("recovery_time", slowing({"recover": 2.0, "slow down": 5.0}))


# ---- spins ---------------------------------------------------------------------------------------------------


def spin(shape="spin", way=1.0, pitch=-0.9, alpha=0.7, bank=0.0, stops=0.5, rate=3.0, **more):
    """A spin about the vertical at `rate` rad/s from the start; `stops` seconds into the recovery it is over."""

    def about(t, p):
        return way * np.where((p < 2) | (t < 5.0 + stops - 1e-9), rate, 0.0)

    channels = {
        # a turn about the vertical alone, in body axes
        "roll_rate": lambda t, p: -math.sin(pitch) * about(t, p),
        "pitch_rate": lambda t, p: math.cos(pitch) * math.sin(bank) * about(t, p),
        "yaw_rate": lambda t, p: math.cos(pitch) * math.cos(bank) * about(t, p),
        "pitch": pitch,
        "bank": bank,
        "heading": lambda t, p: (about(t, p) * t + PI) % (2.0 * PI) - PI,
        "alpha": alpha,
        "climb_rate": lambda t, p: np.where(t < 3.0 - 1e-9, -5.0, -12.0),
        "height": lambda t, p: 200.0 - 10.0 * t,
        "airspeed": lambda t, p: np.where(t < 6.9 - 1e-9, 15.0, 22.0),
    }
    return record(shape, **{**channels, **more})


@pytest.mark.parametrize("way", [1.0, -1.0])
@pytest.mark.parametrize("bank, alpha", [(0.0, 0.7), (PI, -0.7), (0.6, 0.7)])
def test_a_spin_is_measured_about_the_vertical(way, bank, alpha):
    fl = spin(way=way, bank=bank, alpha=alpha)
    assert take("spins", fl) == 1.0
    assert take("spin_turn_rate", fl) == pytest.approx(way * 3.0 / DEG)
    assert take("spin_turns", fl) == pytest.approx(15.0 / (2.0 * PI))  # 5 s of entry and spin
    assert take("spin_pitch", fl) == pytest.approx(-0.9 / DEG)
    assert take("spin_alpha", fl) == pytest.approx(alpha / DEG)
    assert take("height_per_turn", fl) == pytest.approx(12.0 * 2.0 * PI / 3.0)
    assert take("descent", fl) == pytest.approx(12.0)
    assert take("turns_to_stop", fl) == pytest.approx(1.5 / (2.0 * PI))
    assert take("time_to_stop", fl) == pytest.approx(0.5)


def test_height_and_time_of_spin_and_recovery():
    fl = spin()
    assert take("figure_height_lost", fl) == pytest.approx(10.0 * 6.99)
    assert take("height_to_recover", fl) == pytest.approx(10.0 * 1.99)
    assert take("time_to_recover", fl) == pytest.approx(2.0)
    assert take("speed_recovered", fl) == pytest.approx(22.0)


def late(t, inside, outside):
    return np.where(t > 4.5, inside, outside)


@pytest.mark.parametrize(
    "wrong, reason",
    [({"rate": 0.5}, "29 deg/s"), ({"alpha": 0.2}, "nose 11 deg off"),
     ({"yaw_rate": lambda t, p: late(t, 0.0, 3.0), "roll_rate": 0.0, "pitch": 0.0}, "turning at 0 deg/s"),
     ({"yaw_rate": lambda t, p: late(t, -2.0, 3.0), "roll_rate": 0.0, "pitch": 0.0}, "turning at -115 deg/s")],
)  # fmt: skip
def test_slow_turns_dives_and_spins_that_end_by_themselves_are_no_spins(wrong, reason):
    fl = spin(**wrong)
    assert take("spins", fl) == 0.0
    for name in ("spin_turn_rate", "spin_turns", "height_per_turn", "spin_pitch", "spin_alpha", "turns_to_stop"):
        with pytest.raises(NotMeasured, match=f"not a spin: .*{reason}"):
            take(name, fl)


def test_a_spin_that_does_not_stop_says_so():
    for name in ("turns_to_stop", "time_to_stop"):
        with pytest.raises(NotMeasured, match='still turning at 172 deg/s at the end of "recover"'):
            take(name, spin(stops=9.0))


def test_flat_and_knife_edge_spins_are_spins_too():
    flat = spin({"enter": 1.0, "flat spin": 4.0, "recover": 2.0}, pitch=0.0, alpha=1.3)
    assert take("spin_turn_rate", flat) == pytest.approx(3.0 / DEG)
    edge = spin({"set up": 1.0, "knife-edge spin": 4.0, "recover": 2.0}, pitch=0.0, bank=PI / 2, alpha=0.0, beta=1.2)
    assert take("spin_turn_rate", edge) == pytest.approx(3.0 / DEG)  # all of it in pitch
    assert take("spin_turns", edge) == pytest.approx(12.0 / (2.0 * PI))  # without an entry, from its own start


# ---- hover ---------------------------------------------------------------------------------------------------


def test_the_climb_out_is_an_acceleration():
    climbing = {"climb_rate": lambda t, p: np.where(p == 2, 0.4 * G * (t - 12.0), 0.0)}
    assert take("climb_out", record("hover", pitch=85.0 * DEG, **climbing)) == pytest.approx(0.4)
    with pytest.raises(NotMeasured, match="hover not held"):
        take("climb_out", record("hover", pitch=50.0 * DEG, **climbing))
    with pytest.raises(NotMeasured, match="too short"):
        take("climb_out", record({"held": 6.0, "climb out": 0.8}, pitch=85.0 * DEG))


# ---- harrier ---------------------------------------------------------------------------------------------------


def harrier(**more):
    """Half of the phase, from 5 s on, counts."""
    return record("harrier", **{"alpha": lambda t, p: np.where(t < 5.0 - 1e-9, 0.0, 45.0 * DEG), **more})


def test_harrier_numbers():
    fl = harrier(
        airspeed=lambda t, p: np.where(t < 5.0 - 1e-9, 20.0, 7.0),
        throttle=lambda t, p: np.where(t < 5.0 - 1e-9, 0.0, 0.5),
        climb_rate=lambda t, p: np.where(t < 5.0 - 1e-9, 9.0, -0.5),
        bank=lambda t, p: 0.05 * np.sin(2.0 * PI * 1.5 * t) + 0.02 * t,
    )
    assert take("harrier_alpha", fl) == pytest.approx(45.0)
    assert take("harrier_speed", fl) == pytest.approx(7.0)
    assert take("harrier_throttle", fl) == pytest.approx(50.0)
    assert take("harrier_sink", fl) == pytest.approx(0.5)
    # a sine's deviation is its amplitude over the root of 2; a straight line through six periods of it takes
    # 6 / (pi * 6)^2 = 2 % of its square
    assert take("wing_rock", fl) == pytest.approx(2.0 * 0.05 / math.sqrt(2.0) / DEG, rel=0.015)
    assert take("wing_rock_frequency", fl) == pytest.approx(1.5, abs=1.0 / (2.0 * 4.0))  # one crossing in 4 s


def test_an_inverted_harrier_rocks_through_the_jump_of_bank():
    fl = harrier(alpha=-45.0 * DEG, bank=lambda t, p: (PI + 0.1 * np.sin(2.0 * PI * t) + PI) % (2.0 * PI) - PI)
    assert take("harrier_alpha", fl) == pytest.approx(45.0)
    assert take("wing_rock", fl) == pytest.approx(
        2.0 * 0.1 / math.sqrt(2.0) / DEG, rel=0.03
    )  # 4 periods: 4 % of the square


def test_a_rolling_harrier_is_told_by_its_evenness():
    rolling = {
        "roll_rate": lambda t, p: 1.6 + 0.4 * np.sin(2.0 * PI * t),
        "bank": lambda t, p: (1.6 * t + PI) % (2.0 * PI) - PI,
        # nose 45 deg off the air all the way round
        "alpha": lambda t, p: np.arctan(np.tan(45.0 * DEG) * np.cos(1.6 * t)),
        "beta": lambda t, p: np.arcsin(math.sin(45.0 * DEG) * np.sin(1.6 * t)),
    }
    fl = harrier(**rolling)
    assert take("harrier_alpha", fl) == pytest.approx(45.0)
    assert take("harrier_roll_rate", fl) == pytest.approx(1.6 / DEG)
    assert take("roll_unevenness", fl) == pytest.approx(100.0 * 0.4 / math.sqrt(2.0) / 1.6)
    for name in ("wing_rock", "wing_rock_frequency"):
        with pytest.raises(NotMeasured, match="rolling, not rocking"):
            take(name, fl)


def test_what_is_no_harrier_is_not_measured():
    for name in (
        "harrier_alpha",
        "harrier_speed",
        "harrier_throttle",
        "harrier_sink",
        "wing_rock",
        "harrier_roll_rate",
    ):
        with pytest.raises(NotMeasured, match="harrier not held: nose 12 deg off the air"):
            take(name, harrier(alpha=12.0 * DEG))
        with pytest.raises(NotMeasured, match="harrier not held: sinking at 5.0 m/s"):
            take(name, harrier(climb_rate=-5.0))
    with pytest.raises(NotMeasured, match="no wing rock to time"):
        take("wing_rock_frequency", harrier(bank=lambda t, p: 0.02 * t))
    for name in ("harrier_roll_rate", "roll_unevenness"):
        with pytest.raises(NotMeasured, match="not a rolling harrier: rolled 0 deg"):
            take(name, harrier())


# ---- figures -----------------------------------------------------------------------------------------------------


def test_rates_of_a_figure_are_those_it_settles_at():
    fl = record(
        "tumble",
        roll_rate=lambda t, p: np.where((t >= 2.0) & (p == 1), 1.0, 9.0),
        pitch_rate=lambda t, p: np.where(p == 1, np.where(t < 2.0, -8.0, -6.0), 20.0),
        yaw_rate=lambda t, p: np.where((t >= 2.0) & (p == 1), -2.0, 9.0),
    )
    assert take("figure_roll_rate", fl) == pytest.approx(1.0 / DEG)
    assert take("figure_pitch_rate", fl) == pytest.approx(-6.0 / DEG)
    assert take("figure_yaw_rate", fl) == pytest.approx(-2.0 / DEG)
    assert take("peak_pitch_rate", fl) == pytest.approx(-8.0 / DEG)
    assert take("tumble_turns", fl) == pytest.approx(-14.0 / (2.0 * PI))


def test_the_wall_stands_at_80_deg():
    wall = {
        "pitch": lambda t, p: np.minimum(t, 1.5),  # 80 deg = 1.396 rad: seen at 1.40 s
        "north": lambda t, p: 100.0 + 6.0 * t,
        "east": lambda t, p: -50.0 + 8.0 * t,
        "height": lambda t, p: 50.0 + np.where(p == 0, 4.0 * np.sin(PI * t / 2.0), 30.0),
    }
    assert take("wall_length", record("wall", **wall)) == pytest.approx(14.0)
    assert take("wall_height", record("wall", **wall)) == pytest.approx(4.0)
    with pytest.raises(NotMeasured, match="did not stand: nose up to 57 deg"):
        take("wall_length", record("wall", pitch=lambda t, p: np.where(t < 1.0, 1.0, 0.2)))


def test_loads_of_the_figure_and_its_recovery():
    fl = record(
        "pass",
        load_z=lambda t, p: np.where(p == 0, 1.0 + 11.0 * np.exp(-((t - 0.2) ** 2) / 0.01), -3.0),
        load_y=lambda t, p: np.where(p == 1, -1.5, 0.5),
        airspeed=lambda t, p: 40.0 - 5.0 * t,
    )
    assert take("peak_load", fl) == pytest.approx(12.0)
    assert take("peak_side_load", fl) == pytest.approx(-1.5)
    assert take("time_to_peak_load", fl) == pytest.approx(0.2)
    assert take("pass_speed", fl) == pytest.approx(40.0)
    assert take("speed_lost", fl) == pytest.approx(5.0 * 0.99)  # the recovery regains speed: it does not count
    alone = record({"snap": 1.0, "fly on": 1.0}, load_z=lambda t, p: np.where(p == 0, -4.0, 9.0))
    assert take("peak_load", alone) == pytest.approx(-4.0)


# ---- the pilot's work ----------------------------------------------------------------------------------------------


def test_a_correction_is_a_turn_back_of_more_than_two_percent():
    time = np.arange(400) * 0.01
    assert reversals(np.sin(2.0 * PI * 2.0 * time)) == 16  # 8 periods, two turns each
    assert reversals(0.009 * np.sin(2.0 * PI * 2.0 * time)) == 0  # 1.8 % from end to end
    assert reversals(time) == 0
    assert reversals(np.sin(2.0 * PI * 2.0 * time) + 0.005 * np.sin(2.0 * PI * 40.0 * time)) == 16  # a shiver is none


def test_corrections_are_counted_over_three_sticks():
    fl = record(
        "harrier",
        aileron_stick=lambda t, p: np.where(p == 1, 0.3 * np.sin(2.0 * PI * 2.0 * t), 0.0),
        rudder_stick=lambda t, p: np.where(p == 1, 0.3 * np.sin(2.0 * PI * 1.0 * t), 0.0),
    )
    assert take("corrections", fl) == pytest.approx(
        6.0, abs=1.0 / 8.0
    )  # 4 and 2 a second; the last turn may be cut off
    with pytest.raises(NotMeasured, match="too short"):
        take("corrections", record({"held": 0.9}))


def test_time_on_the_stops():
    fl = record(
        "harrier",
        elevator_stick=lambda t, p: np.where((t >= 1.0) & (t < 3.0 - 1e-9), 1.0, 0.0),
        rudder_stick=lambda t, p: np.where((t >= 2.0) & (t < 5.0 - 1e-9), -1.0, 0.5),
    )
    assert take("on_the_stops", fl) == pytest.approx(50.0)  # 1 to 5 s of 1 to 9 s
