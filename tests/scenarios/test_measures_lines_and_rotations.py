"""Modes, trims, lines, rolls, snaps, loops and the stall turn on records made by hand, where the answer is known.

Expected values are arithmetic on the definitions in `scenarios.measures` (common practice, no source, unless one is
named there).
"""

import math

import numpy as np
import pytest

from scenarios.balance import balance
from scenarios.measures import MEASURES, NotMeasured
from sim import layout as L
from sim.modes import Mode
from tests.scenarios.by_hand import DEG, manoeuvre, of, record, take
from tests.scenarios.flying import LEVEL, flown, plane_of

PI = math.pi


def jump(angle):
    """An angle as a channel has it, between -pi and pi."""
    return (angle + PI) % (2.0 * PI) - PI


# ---- level flight ------------------------------------------------------------------------------------


@pytest.fixture
def swinging(monkeypatch):
    """Made-up modes; the list counts how often they were asked for."""
    asked = []
    modes = [
        Mode("short period", complex(-3.0, 4.0), {}),
        Mode("roll", complex(-20.0, 0.0), {}),
        Mode("Dutch roll", complex(-0.6, 0.8), {}),
        Mode("phugoid", complex(-0.03, 0.4), {}),
        Mode("spiral", complex(0.07, 0.0), {}),
    ]

    def own_modes(plane, trim):
        asked.append(trim)
        return modes, ()

    monkeypatch.setattr("scenarios.measures.level.own_modes", own_modes)
    return modes, asked


def test_modes_are_told_in_frequency_damping_and_time(swinging):
    fl = record("level-trim")
    assert take("short_period_frequency", fl) == pytest.approx(5.0 / (2.0 * PI))
    assert take("short_period_damping", fl) == pytest.approx(0.6)
    assert take("dutch_roll_frequency", fl) == pytest.approx(1.0 / (2.0 * PI))
    assert take("dutch_roll_damping", fl) == pytest.approx(0.6)
    assert take("phugoid_period", fl) == pytest.approx(5.0 * PI)
    assert take("phugoid_damping", fl) == pytest.approx(0.03 / math.hypot(0.03, 0.4))
    assert take("roll_time_constant", fl) == pytest.approx(0.05)
    assert take("spiral_growth", fl) == pytest.approx(0.07)
    assert len(swinging[1]) == 1  # found once for the plane at this trim


def test_a_mode_that_is_not_there_is_not_measured(swinging):
    swinging[0][0] = Mode("convergence", complex(-3.0, 0.0), {})
    with pytest.raises(NotMeasured, match="no mode is a short period; there are: convergence, roll, Dutch roll"):
        take("short_period_damping", record("level-trim"))
    swinging[0][1] = Mode("roll", complex(0.0, 0.0), {})
    with pytest.raises(NotMeasured, match="does not die away"):
        take("roll_time_constant", record("level-trim"))


def test_modes_are_those_of_the_balance():
    # the built-in manoeuvre is trimmed at the speed and height of the balance: the same modes by another way
    found = {mode.name: mode for mode in balance(plane_of("precision")).modes}
    flight = flown("precision", "level-trim")
    assert MEASURES["short_period_damping"].take(flight) == pytest.approx(found["short period"].damping_ratio, rel=1e-3)
    assert MEASURES["roll_time_constant"].take(flight) == pytest.approx(-1.0 / found["roll"].eigenvalue.real, rel=1e-3)


def test_trim_change_with_speed_is_start_less_trims():
    slow = of(manoeuvre("level-trim", (), LEVEL.replace("25 m/s", "15 m/s")), (4.0, 0.6))
    slow.x0[L.SERVO + L.ELEVATOR], slow.sticks0 = -0.07, np.array([0.0, 0.0, 0.0, 0.45])
    assert take("trim_change_with_speed", slow) == pytest.approx(0.05 / DEG)  # 0.05 more up
    assert take("throttle_change_with_speed", slow) == pytest.approx(45.0 - 60.0)
    with pytest.raises(NotMeasured, match="starts at the speed that the trims are set at, 25 m/s"):
        take("trim_change_with_speed", record("level-trim"))
    hovering = of(manoeuvre("level-trim", (), "start: {from: hover, height: 100 m}\n"), (4.0, 0.6))
    with pytest.raises(NotMeasured, match="does not start in level flight"):
        take("throttle_change_with_speed", hovering)


def test_trim_change_with_power_compares_the_ends():
    fl = record(
        "power", elevator=lambda t, p: np.where(p == 0, np.where(t < 2.4, 1.0, -0.03), np.where(t < 5.4, 1.0, -0.01))
    )
    assert take("trim_change_with_power", fl) == pytest.approx(-0.02 / DEG)  # less up with power: down


# ---- lines -----------------------------------------------------------------------------------------------

AIMED = """phases:
  - {name: pull up, pilot: [elevator], hold: path, aim: {pitch: %s deg}, for: 1 s}
  - {name: set the line, for: 5 s}
  - {name: hands off, release: [elevator], for: 3 s}
"""


def straight(path, **more):
    return record("upline-45", **{"path_angle": path * DEG, "pitch": path * DEG, "airspeed": 20.0, **more})


@pytest.mark.parametrize("path", [-90.0, -45.0, 45.0, 90.0])
@pytest.mark.parametrize("bank", [0.0, 180.0])
def test_lines_of_every_kind_count(path, bank):
    line = straight(path, bank=bank * DEG, pitch_rate=0.02, roll_rate=-0.1)
    assert take("pitch_drift", line) == pytest.approx(0.02 / DEG)
    assert take("roll_off_line", line) == pytest.approx(-0.3 / DEG)
    for name in ("bend_in_pitch", "bend_sideways"):
        assert take(name, line) == pytest.approx(0.0, abs=1e-9)


def test_a_line_is_held_against_what_the_pilot_aimed_at():
    from scenarios.manoeuvres import manoeuvre_from_text
    from tests.scenarios.flying import HEAD

    for aimed, refused in ((45, False), (60, True)):
        asked = manoeuvre_from_text(HEAD + LEVEL + AIMED % aimed)
        fl = of(asked, (1.0, 5.0, 3.0), path_angle=45.0 * DEG)
        if refused:
            with pytest.raises(NotMeasured, match="path at 45 deg instead of 60"):
                take("line_height", fl)
        else:
            assert take("line_height", fl) == 0.0


def test_the_bend_is_an_angle_from_the_body_as_it_stood():
    # upright on 45 deg, the path ends at 55: toward the canopy; inverted the same path bends toward the gear
    rising = {"path_angle": lambda t, p: np.where(p == 2, (45.0 + 10.0 * (t - 6.0) / 2.99) * DEG, 45.0 * DEG)}
    assert take("bend_in_pitch", straight(45.0, **rising)) == pytest.approx(10.0)
    assert take("bend_in_pitch", straight(45.0, bank=PI, **rising)) == pytest.approx(-10.0)
    # vertical, belly to the north (nose up, heading 0): a path that leans north goes toward the gear
    leaning = {"path_angle": lambda t, p: np.where(p == 2, (90.0 - 6.0 * (t - 6.0) / 2.99) * DEG, 90.0 * DEG)}
    assert take("bend_in_pitch", straight(90.0, **leaning)) == pytest.approx(-6.0)
    east = straight(90.0, track=PI / 2, **leaning)  # the right wing points east
    assert take("bend_sideways", east) == pytest.approx(6.0)
    assert take("bend_in_pitch", east) == pytest.approx(0.0, abs=1e-9)


def test_a_path_that_lies_off_the_nose_all_along_does_not_bend():
    line = straight(45.0, pitch=52.0 * DEG, heading=0.1, bank=0.3)  # flown at an angle of attack and in sideslip
    assert take("bend_in_pitch", line) == pytest.approx(0.0, abs=1e-9)
    assert take("bend_sideways", line) == pytest.approx(0.0, abs=1e-9)


def test_curvature_on_a_banked_line_takes_the_weight_that_lies_across():
    line = straight(45.0, bank=60.0 * DEG, load_z=math.cos(45.0 * DEG) * math.cos(60.0 * DEG) + 0.2)
    assert take("path_curvature", line) == pytest.approx(0.2)


def test_no_direction_is_made_up():
    with pytest.raises(NotMeasured, match="down to 1.0 m/s"):
        take("bend_in_pitch", straight(90.0, airspeed=lambda t, p: np.where(t > 8.0, 1.0, 20.0)))
    with pytest.raises(NotMeasured, match="vertical line has no track"):
        take("heading_drift", straight(90.0))
    with pytest.raises(NotMeasured, match="down to 2.0 m/s"):
        take("bend_sideways", straight(90.0, airspeed=2.0))


def test_height_and_speeds_of_the_line():
    line = straight(
        90.0, height=lambda t, p: 60.0 + 10.0 * t, airspeed=lambda t, p: np.where(t < 8.8 - 1e-9, 20.0, 12.0)
    )
    assert take("line_height", line) == pytest.approx(10.0 * 7.99)  # 8 s, first frame to last
    assert take("line_end_speed", line) == pytest.approx(12.0)


def test_terminal_speed_is_one_that_no_longer_grows():
    assert take("terminal_speed", straight(-90.0, airspeed=lambda t, p: 30.0 + 0.5 * t)) == pytest.approx(
        30.0 + 0.5 * 8.99
    )
    with pytest.raises(NotMeasured, match="still gaining 1.5 m/s every second"):
        take("terminal_speed", straight(-90.0, airspeed=lambda t, p: 30.0 + 1.5 * t))
    with pytest.raises(NotMeasured, match="still losing 2.0 m/s"):
        take("terminal_speed", straight(-45.0, airspeed=lambda t, p: 60.0 - 2.0 * t))
    with pytest.raises(NotMeasured, match="no down-line: path at 45 deg"):
        take("terminal_speed", straight(45.0))


# ---- rolls and snaps -------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_rolls_either_way(way):
    fl = record("roll", roll_rate=lambda t, p: way * np.where(p == 0, np.where(t < 0.5, 2.0, 4.0), 0.0))
    # 0.5 s at 2 rad/s, then 4: 90 deg is 1.5708 = 1.0 + 4 * 0.1427, seen at the frame after
    assert take("time_to_90", fl) == pytest.approx(0.65)
    assert take("time_to_360", fl) == pytest.approx(0.5 + (2.0 * PI - 1.0) / 4.0, abs=0.01)
    assert take("steady_roll_rate", fl) == pytest.approx(4.0 / DEG)
    assert take("peak_roll_rate", fl) == pytest.approx(4.0 / DEG)


def test_an_angle_that_is_never_rolled_has_no_time():
    with pytest.raises(NotMeasured, match="rolled only 344 deg"):
        take("time_to_360", record("roll", roll_rate=2.0))


def test_a_turn_may_be_completed_after_letting_go():
    rolling_on = record("snap", roll_rate=lambda t, p: np.where(p == 0, 6.0, 2.0))
    assert take("time_to_360", rolling_on) == pytest.approx(1.0 + (2.0 * PI - 6.0) / 2.0, abs=0.01)


def test_the_axis_of_a_roll_wanders_in_a_cone():
    # the nose goes round its mean direction at 3 deg, one turn in the phase: mean direction exactly in the middle
    turn = {"pitch": lambda t, p: 3.0 * DEG * np.sin(PI * t), "heading": lambda t, p: 3.0 * DEG * np.cos(PI * t)}
    assert take("roll_axis_wander", record("roll", **turn)) == pytest.approx(3.0, rel=2e-3)  # flat sky: 3 deg of arc
    # a nose that leaves its direction once: the furthest counts, not the mean (its mean lies 1 deg off: 8 deg for 1/8 of the time)
    once = record("roll", heading=lambda t, p: np.where((t >= 0.5) & (t < 0.75), 8.0 * DEG, 0.0))
    assert take("roll_axis_wander", once) == pytest.approx(7.0, rel=2e-3)
    north = record("roll", heading=lambda t, p: np.where(t < 1.0, 0.0, PI))
    with pytest.raises(NotMeasured, match="no mean direction"):
        take("roll_axis_wander", north)


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_yaw_against_the_roll_is_adverse(way):
    # roll right, nose left: wind from the right, positive sideslip
    late = {"beta": lambda t, p: way * np.where(t > 0.205, 0.5, 0.02 * t / 0.2) + 0.01, "roll_rate": 3.0 * way}
    assert take("adverse_yaw", record("roll", **late)) == pytest.approx(0.02 / DEG)
    along = {"beta": lambda t, p: -way * 0.1 * t, "roll_rate": 3.0 * way}
    assert take("adverse_yaw", record("roll", **along)) == pytest.approx(-0.02 / DEG)


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_overshoot_counts_from_the_whole_turn(way):
    # 6 rad in the snap; stopping takes 0.5 s at 2 rad/s: 7 rad, 0.717 past the turn
    rate = {"roll_rate": lambda t, p: way * np.where(p == 0, 6.0, np.where(t < 1.5 - 1e-9, 2.0, 0.0))}
    snap = record(
        "snap",
        alpha=lambda t, p: np.where(p == 0, -0.6 * np.sin(PI * t), 0.9),
        airspeed=lambda t, p: 28.0 - 3.0 * t,
        **rate,
    )
    assert take("overshoot", snap) == pytest.approx((7.0 - 2.0 * PI) / DEG)
    assert take("roll_to_stop", snap) == pytest.approx(1.0 / DEG)
    assert take("roll_stop_time", snap) == pytest.approx(0.5)
    assert take("snap_alpha", snap) == pytest.approx(0.6 / DEG)
    assert take("speed_lost", snap) == pytest.approx(3.0 * 1.99)


def test_two_snaps_are_held_against_two_turns():
    twice = record("snap", roll_rate=lambda t, p: np.where(p == 0, 13.0, 0.0))
    assert take("overshoot", twice) == pytest.approx((13.0 - 4.0 * PI) / DEG)


def test_a_snap_short_of_its_turn_or_going_on():
    short = record("snap", roll_rate=lambda t, p: np.where(p == 0, 6.0, 0.0))
    assert take("overshoot", short) == pytest.approx((6.0 - 2.0 * PI) / DEG)
    with pytest.raises(NotMeasured, match="no whole turn: rolled 115 deg"):
        take("overshoot", record("snap", roll_rate=lambda t, p: np.where(p == 0, 2.0, 0.0)))
    for name in ("overshoot", "roll_to_stop", "roll_stop_time"):
        with pytest.raises(NotMeasured, match="still rolling at 57 deg/s"):
            take(name, record("snap", roll_rate=lambda t, p: np.where(p == 0, 6.0, 1.0)))


def test_heading_and_height_left_over():
    fl = record("roll", heading=lambda t, p: jump(3.1 + 0.03 * t), height=lambda t, p: 100.0 + 2.0 * np.sin(PI * t))
    assert take("roll_heading_error", fl) == pytest.approx(0.03 * 2.99 / DEG)
    assert take("height_wander", fl) == pytest.approx(4.0)
    off = record("roll", track=lambda t, p: jump(3.1 - 0.1 * np.sin(PI * t / 3.0)))
    assert take("track_wander", off) == pytest.approx(0.1 / DEG, rel=1e-3)


# ---- loops ---------------------------------------------------------------------------------------------------


def loop(radius=20.0, turns=1.0, inside=1.0, stretch=1.0, rise=0.0, **more):
    """A loop flown in 8 s, first frame to last; `stretch` makes an ellipse of it, wider along the ground; `rise` in m/s."""

    def angle(t):
        return 2.0 * PI * turns * t / 7.99

    return record(
        "loop",
        north=lambda t, p: stretch * radius * np.sin(angle(t)),
        height=lambda t, p: 100.0 + inside * radius * (1.0 - np.cos(angle(t))) + rise * t,
        **more,
    )


@pytest.mark.parametrize("inside", [1.0, -1.0])
def test_a_round_loop(inside):
    fl = loop(inside=inside, track=0.1, bank=0.2)
    assert take("loop_radius", fl) == pytest.approx(20.0, rel=1e-4)
    assert take("loop_roundness", fl) == pytest.approx(1.0, rel=1e-3)
    for name in ("loop_heading_error", "loop_bank_error", "loop_height_error"):
        assert take(name, fl) == pytest.approx(0.0, abs=1e-9)


def test_a_loop_that_is_not_round():
    # ellipse, half axes 30 and 20: radius of curvature 30^2 / 20 above and below, 20^2 / 30 at the sides; over an eighth
    # of the turn, from the tangent's angle 0 (bottom) on: a b / (cos^2 b^2 + ...)^1.5 integrated below
    tangent = np.linspace(0.0, 2.0 * PI, 80001)
    a, b = 30.0, 20.0
    curvature_radius = (a * b) ** 2 / (a**2 * np.sin(tangent) ** 2 + b**2 * np.cos(tangent) ** 2) ** 1.5
    eighths = curvature_radius[:-1].reshape(8, -1).mean(axis=1)
    fl = loop(stretch=1.5)
    assert take("loop_roundness", fl) == pytest.approx(eighths.max() / eighths.min(), rel=5e-3)
    assert take("loop_radius", fl) == pytest.approx(curvature_radius[:-1].mean(), rel=1e-3)  # circumference over 2 pi


def test_what_the_loop_leaves_over():
    fl = loop(rise=0.5, track=lambda t, p: jump(3.0 + 0.05 * t), bank=lambda t, p: jump(PI - 0.02 * t))
    assert take("loop_heading_error", fl) == pytest.approx(0.05 * 7.99 / DEG)
    assert take("loop_bank_error", fl) == pytest.approx(-0.02 * 7.99 / DEG)
    assert take("loop_height_error", fl) == pytest.approx(0.5 * 7.99)


def test_half_a_loop_and_no_flight_are_no_loop():
    for name in ("loop_radius", "loop_roundness", "loop_heading_error", "loop_bank_error", "loop_height_error"):
        with pytest.raises(NotMeasured, match="no whole loop: the path turned 180 deg"):
            take(name, loop(turns=0.5))
        with pytest.raises(NotMeasured, match="stood still"):
            take(name, loop(radius=0.0))


# ---- stall turn ------------------------------------------------------------------------------------------------


def stall_turn(through=170.0, **more):
    """Nose up along the vertical, right wing east, pivoting to the right about the body's z axis (which points north)."""

    def share(t, p):
        return np.where(p == 0, 0.0, np.where(p == 1, (t - 2.0) / 0.99, 1.0))

    def nose(t, p):  # from 5 deg short of the vertical on the left to 5 deg short of straight down: never at a pole
        return (-5.0 + through * share(t, p)) * DEG

    channels = {
        "pitch": lambda t, p: np.arcsin(np.cos(nose(t, p))),
        "heading": lambda t, p: np.where(np.sin(nose(t, p)) < 0.0, -PI / 2, PI / 2),
        # canopy to the south: right wing leads or trails in the vertical plane
        "bank": lambda t, p: np.where(np.sin(nose(t, p)) < 0.0, -PI / 2, PI / 2),
        "yaw_rate": lambda t, p: np.where(p == 1, 3.0, 0.5),
        "airspeed": lambda t, p: np.where(t < 2.0 - 1e-9, 15.0, 4.0 - (t - 2.0)),
        "north": lambda t, p: np.where(p == 1, 0.3 * (t - 2.0), 0.0),
        "east": lambda t, p: np.where(p == 1, 0.4 * (t - 2.0), 0.0),
    }
    return record("stall-turn", **{**channels, **more})


def test_a_stall_turn_pivots_in_its_plane():
    fl = stall_turn()
    assert take("turn_speed", fl) == pytest.approx(4.0)
    assert take("pivot_rate", fl) == pytest.approx(3.0 / DEG)
    assert take("turn_error", fl) == pytest.approx(0.0, abs=1e-5)
    assert take("turn_width", fl) == pytest.approx(0.5 * 0.99)


def test_a_stall_turn_that_rolls_shows_it():
    after = stall_turn(bank=lambda t, p: np.where(t < 2.03, -PI / 2, PI / 2 + np.where(t > 2.9, 0.2, 0.0)))
    assert take("turn_error", after) == pytest.approx(0.2 / DEG)


def test_a_nose_that_falls_back_did_not_turn_round():
    for name in ("turn_speed", "pivot_rate", "turn_error", "turn_width"):
        with pytest.raises(NotMeasured, match="did not turn round: the nose went through 60 deg"):
            take(name, stall_turn(through=60.0))
