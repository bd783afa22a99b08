"""Measures on records made by hand, where the answer is known beforehand.

Expected values are arithmetic on the definitions in `scenarios.measures` (common practice, no source).
"""

import math
import re

import numpy as np
import pytest

from scenarios.manoeuvres import Flown
from scenarios.measures import JUDGEMENTS, MEASURES, STYLES, NotMeasured, take_measures, window
from scenarios.measures.registry import body_axes, measure
from sim import layout as L
from sim.frames import body_to_earth, quaternion_from_euler
from sim.modes import CLASSICAL, Mode
from sim.recording import STATE_AT
from tests.scenarios.by_hand import DEG, SHAPES, last, manoeuvre, record, take
from tests.scenarios.flying import LEVEL

# ---- level flight -----------------------------------------------------------------------------------


def test_trims_come_from_the_trim_state():
    flown = record("level-trim")
    assert take("elevator_trim", flown) == pytest.approx(0.02 / DEG)  # trailing edge up is up: positive
    assert take("throttle_trim", flown) == pytest.approx(60.0)
    assert take("alpha_trim", flown) == pytest.approx(math.atan(0.1) / DEG)


def test_drifts_hands_off_look_at_their_phase_alone():
    flown = record(
        "level-trim",
        height=lambda t, p: np.where(p == 0, 100.0 + 0.5 * t, 500.0),
        bank=lambda t, p: np.where(p == 0, 0.1 - 0.01 * t, 2.0),
    )
    assert take("height_drift", flown) == pytest.approx(0.5 * 3.99)
    assert take("bank_drift", flown) == pytest.approx(-0.01 * 3.99 / DEG)


def test_pitch_response_is_rate_over_elevator():
    flown = record(
        "level-trim",
        elevator=lambda t, p: -0.02 - 0.01 * (t > 4.1),
        pitch_rate=lambda t, p: 0.05 + 0.1 * (t > 4.2),
    )
    assert take("pitch_response", flown) == pytest.approx(10.0)
    with pytest.raises(NotMeasured, match="hardly moved"):
        take("pitch_response", record("level-trim", elevator=-0.02))


# ---- 45-degree lines -----------------------------------------------------------------------------------


def line(**more) -> Flown:
    channels = {"path_angle": 45.0 * DEG, "pitch": 45.0 * DEG, "load_z": math.cos(45.0 * DEG), **more}
    return record("upline-45", **channels)


def test_a_perfect_line_has_no_drift_and_no_curvature():
    for name in ("pitch_drift", "path_curvature", "roll_drift", "heading_drift"):
        assert take(name, line()) == pytest.approx(0.0, abs=1e-12)


def test_drifts_on_the_line_are_the_mean_rates_hands_off():
    flown = line(
        pitch_rate=lambda t, p: np.where(p == 2, 0.1 + 0.05 * (t - 6.0), 0.0),
        roll_rate=lambda t, p: np.where(p == 2, -0.2, 0.0),
    )
    assert take("pitch_drift", flown) == pytest.approx((0.1 + 0.05 * 1.495) / DEG)  # mean time of 300 frames
    assert take("roll_drift", flown) == pytest.approx(-0.2 / DEG)


def test_the_turn_of_the_track_is_counted_through_south():
    flown = line(track=lambda t, p: (0.1 * t + 2.5 + np.pi) % (2 * np.pi) - np.pi)
    assert np.abs(np.diff(flown.flight.channel("track"))).max() > 6.0  # it does pass the jump
    assert take("heading_drift", flown) == pytest.approx(0.1 / DEG)


def test_curvature_is_load_beyond_the_weight_across_the_path():
    assert take("path_curvature", line(load_z=math.cos(45.0 * DEG) + 0.3)) == pytest.approx(0.3)
    # inverted, straight: the wing holds the weight from the other side
    assert take("path_curvature", line(bank=math.pi, load_z=-math.cos(45.0 * DEG))) == pytest.approx(0.0, abs=1e-12)
    assert take("path_curvature", line(bank=math.pi, load_z=0.0)) == pytest.approx(math.cos(45.0 * DEG))


def test_speed_and_elevator_of_the_line_are_those_at_its_end():
    flown = line(
        airspeed=lambda t, p: np.where((t >= 5.8 - 1e-9) & (p == 1), 21.0, 99.0),
        elevator=lambda t, p: np.where((t >= 5.5 - 1e-9) & (p == 1), -0.05, 1.0),
    )
    assert take("line_speed", flown) == pytest.approx(21.0)
    assert take("line_elevator", flown) == pytest.approx(0.03 / DEG)  # 0.05 up, less 0.02 of level trim


@pytest.mark.parametrize(
    "wrong, reason",
    [({"path_angle": 39.0 * DEG}, "39 deg"), ({"path_angle": 51.0 * DEG}, "51 deg"),
     ({"pitch_rate": 4.0 * DEG}, "4 deg/s")],
)  # fmt: skip
def test_a_line_that_was_not_set_is_not_measured(wrong, reason):
    with pytest.raises(NotMeasured, match=reason):
        take("pitch_drift", line(**wrong))


# ---- knife edge --------------------------------------------------------------------------------------------


def edge(**more) -> Flown:
    return record("knife-edge", **{"bank": 90.0 * DEG, **more})


def test_surfaces_that_hold_knife_edge_are_counted_from_level_trim():
    flown = edge(
        elevator=lambda t, p: last(p, t, 1, 8.8, 1.5, 0.03, 1.0),
        rudder=lambda t, p: last(p, t, 1, 8.8, 1.5, -0.25, 1.0),
        left_aileron=lambda t, p: last(p, t, 1, 8.8, 1.5, 0.04, 1.0),
        right_aileron=lambda t, p: last(p, t, 1, 8.8, 1.5, -0.02, 1.0),
    )
    assert take("elevator_to_hold", flown) == pytest.approx(-0.05 / DEG)  # down beyond the trim's 0.02 up
    assert take("rudder_to_hold", flown) == pytest.approx(-0.26 / DEG)  # right
    assert take("rudder_left", flown) == pytest.approx(50.0)
    assert take("aileron_to_hold", flown) == pytest.approx((0.03 - 0.005) / DEG)


def test_couplings_are_angles_turned_after_letting_go():
    flown = edge(
        pitch_rate=lambda t, p: np.where(p == 2, 0.1, 0.0),
        roll_rate=lambda t, p: np.where(p == 4, -0.3, 0.0),
        alpha=lambda t, p: last(p, t, 2, 10.8, 0.2, -0.04, 1.0),
        beta=lambda t, p: last(p, t, 1, 8.8, 1.5, 0.3, 0.0),
        airspeed=lambda t, p: last(p, t, 1, 8.8, 1.5, 24.0, 0.0),
    )
    assert take("pitch_coupling", flown) == pytest.approx(0.2 / DEG)
    assert take("roll_coupling", flown) == pytest.approx(-0.3 / DEG)
    assert take("alpha_after", flown) == pytest.approx(-0.04 / DEG)
    assert take("sideslip", flown) == pytest.approx(0.3 / DEG)
    assert take("knife_edge_speed", flown) == pytest.approx(24.0)


def test_stick_work_is_travel_a_second_over_three_sticks():
    flown = edge(
        elevator_stick=lambda t, p: np.where(p == 1, 0.1 * np.abs((t - 0.8) % 2.0 - 1.0), 0.0),
        rudder_stick=lambda t, p: np.where(p == 1, -0.05 * t, 0.0),
    )
    assert take("stick_work", flown) == pytest.approx(0.15 * 799 / 800)


@pytest.mark.parametrize(
    "wrong, reason",
    [({"bank": 70.0 * DEG}, "bank 70"), ({"climb_rate": 3.0}, "climbing at 3.0"),
     ({"climb_rate": -3.0}, "sinking at 3.0"), ({"pitch_rate": 5.0 * DEG}, "pitching at 5")],
)  # fmt: skip
def test_a_knife_edge_that_was_not_held_is_not_measured(wrong, reason):
    for name in ("elevator_to_hold", "pitch_coupling", "roll_coupling", "rudder_left", "sideslip"):
        with pytest.raises(NotMeasured, match=reason):
            take(name, edge(**wrong))


def test_both_knife_edges_count():
    assert take("sideslip", edge(bank=-95.0 * DEG, beta=-0.2)) == pytest.approx(-0.2 / DEG)


# ---- stall -----------------------------------------------------------------------------------------------------


def stall(**more) -> Flown:
    channels = {
        "airspeed": lambda t, p: 18.0 - t,
        "climb_rate": lambda t, p: np.where(t < 4.0 - 1e-9, 0.0, -2.0),
        "stalled": lambda t, p: np.where(t > 3.5, 0.4, 0.0),
        "load_z": lambda t, p: np.where(t < 4.0 - 1e-9, 1.0, 0.6),
        "height": lambda t, p: np.where(t < 4.0, 120.0, 120.0 - 2.0 * (t - 4.0)),
    }
    return record("stall", **{**channels, **more})


def test_stall_speed_is_brought_to_one_g():
    assert take("stall_speed", stall()) == pytest.approx(18.0 - 3.99)  # then 14 / sqrt(0.6) = 18.1 and falling slowly
    heavy = stall(load_z=lambda t, p: np.where(t < 2.0, 1.0, 1.44))
    assert take("stall_speed", heavy) == pytest.approx((18.0 - 4.99) / 1.2)


def test_a_plane_that_never_carried_itself_has_no_stall_speed():
    with pytest.raises(NotMeasured, match="half its weight"):
        take("stall_speed", stall(load_z=0.3))


def test_height_lost_counts_from_the_one_g_stall():
    assert take("height_lost", stall()) == pytest.approx(2.0 * (7.69 - 4.0))


def test_pitch_response_needs_half_a_second_of_pull():
    with pytest.raises(NotMeasured, match="too short"):
        take("pitch_response", record("level-trim", (4.0, 0.3), elevator=lambda t, p: np.where(p == 1, -0.02, 0.0)))


def test_stall_angles():
    flown = stall(
        alpha=lambda t, p: np.where(p == 1, 0.35, np.where(p == 2, 0.9, 0.1)),  # the recovery does not count
        pitch=lambda t, p: np.where(p == 0, 0.5, np.where(p == 1, 0.2, -0.3)),
        bank=lambda t, p: np.where(p == 0, 0.0, -0.4 * (t - 5.0)),
    )
    assert take("stall_alpha", flown) == pytest.approx(0.35 / DEG)
    assert take("nose_drop", flown) == pytest.approx(0.5 / DEG)
    assert take("wing_drop", flown) == pytest.approx(-0.4 * 2.69 / DEG)
    assert take("recovery_time", flown) == pytest.approx(2.7)


def test_the_strip_that_separates_first_is_found_by_its_place():
    flown = stall()
    flown.flight.rows[300:, STATE_AT + L.SEPARATION + 2 + 4] = 0.3
    flown.flight.rows[320:, STATE_AT + L.SEPARATION + 2 + 1] = 0.0  # later, though further
    assert take("first_separation", flown) == pytest.approx(51.0)  # 0.5 m from a CG 0.01 m right; half-span 1 m


def test_sinking_without_a_stall_is_not_measured():
    for name in ("stall_speed", "stall_alpha", "height_lost", "recovery_time"):
        with pytest.raises(NotMeasured, match="without stalling"):
            take(name, stall(stalled=0.04))


# ---- hover ----------------------------------------------------------------------------------------------------------


def hover(**more) -> Flown:
    return record("hover", **{"pitch": 85.0 * DEG, **more})


def test_hover_numbers():
    flown = hover(
        throttle=lambda t, p: last(p, t, 0, 6.0, 3.0, 0.55, 1.0),
        roll_rate=lambda t, p: last(p, t, 1, 12.0, 3.0, -1.2, 0.0),
        left_aileron=lambda t, p: last(p, t, 0, 6.0, 3.0, 0.2, 1.0),
        right_aileron=lambda t, p: last(p, t, 0, 6.0, 3.0, -0.3, 1.0),
        elevator=lambda t, p: last(p, t, 0, 6.0, 3.0, -0.1, 0.0),
        rudder=lambda t, p: last(p, t, 0, 6.0, 3.0, 0.4, 0.0),
        north=lambda t, p: np.where(p == 0, 3.0 * np.sin(t * math.pi / 6.0), 100.0),
        east=lambda t, p: np.where(p == 0, 10.0 + 4.0 * np.sin(t * math.pi / 6.0), 100.0),
    )
    assert take("hover_throttle", flown) == pytest.approx(55.0)
    assert take("torque_roll_rate", flown) == pytest.approx(-1.2 / DEG)
    assert take("aileron_to_stop_roll", flown) == pytest.approx(0.25 / DEG)
    assert take("elevator_left", flown) == pytest.approx(80.0)
    assert take("hover_rudder_left", flown) == pytest.approx(20.0)
    assert take("hover_drift", flown) == pytest.approx(5.0)


def test_a_hover_that_was_not_held_is_not_measured():
    with pytest.raises(NotMeasured, match="55 deg"):
        take("hover_throttle", hover(pitch=lambda t, p: np.where((t > 4.0) & (t < 4.2), 55.0 * DEG, 85.0 * DEG)))
    with pytest.raises(NotMeasured, match="4.0 m/s"):
        take("torque_roll_rate", hover(climb_rate=-4.0))
    with pytest.raises(NotMeasured, match="does not stop"):
        take("aileron_to_stop_roll", hover(roll_rate=-30.0 * DEG))


# ---- windows, and never a silent number ------------------------------------------------------------


def test_a_phase_that_was_cut_short_is_not_measured():
    flown = record("level-trim", (4.0, 0.3), "phase timed out")
    assert take("height_drift", flown) == 0.0  # its own phase was flown to the end
    with pytest.raises(NotMeasured, match='phase timed out in "small pull", before the end of "small pull"'):
        take("pitch_response", flown)


def test_windows():
    flown = record("level-trim")
    assert window(flown, "hands off") == slice(0, 400)
    assert window(flown, "hands off", 0.5) == slice(350, 400)
    assert window(flown, "small pull", 5.0) == slice(400, 460)
    assert window(flown, ("no such", "small pull")) == slice(400, 460)
    with pytest.raises(NotMeasured, match="too short"):
        window(flown, "small pull", least=0.7)
    with pytest.raises(NotMeasured, match='no phase "no such" or "nor this"'):
        window(flown, ("no such", "nor this"))


# every measure, by a shape of manoeuvre that it can be taken in
TAKEN_IN = {
    "level-trim": "elevator_trim throttle_trim alpha_trim height_drift bank_drift pitch_response trim_change_with_speed "
    "throttle_change_with_speed short_period_frequency short_period_damping phugoid_period phugoid_damping "
    "dutch_roll_frequency dutch_roll_damping roll_time_constant spiral_growth",
    "power": "trim_change_with_power",
    "upline-45": "pitch_drift path_curvature roll_drift heading_drift bend_in_pitch bend_sideways roll_off_line "
    "line_speed line_elevator line_height line_end_speed terminal_speed",
    "knife-edge": "elevator_to_hold pitch_coupling alpha_after roll_coupling rudder_to_hold rudder_left aileron_to_hold "
    "sideslip knife_edge_speed stick_work corrections on_the_stops",
    "stall": "stall_speed stall_load stall_alpha first_separation warning_speed warning_alpha nose_drop wing_drop "
    "height_lost recovery_time",
    "spin": "spins spin_turn_rate spin_turns height_per_turn spin_pitch spin_alpha turns_to_stop time_to_stop "
    "figure_height_lost time_to_recover height_to_recover speed_recovered peak_load root_bending "
    "joiner_margin peak_side_load descent",
    "roll": "time_to_90 time_to_360 steady_roll_rate peak_roll_rate roll_axis_wander adverse_yaw roll_heading_error "
    "height_wander track_wander",
    "snap": "overshoot roll_to_stop roll_stop_time snap_alpha speed_lost",
    "loop": "loop_radius loop_roundness loop_heading_error loop_bank_error loop_height_error",
    "stall-turn": "turn_speed pivot_rate turn_error turn_width",
    "hover": "hover_throttle thrust_over_weight torque_roll_rate aileron_to_stop_roll hover_drift elevator_left "
    "hover_rudder_left climb_out",
    "harrier": "harrier_alpha harrier_speed harrier_throttle harrier_sink wing_rock wing_rock_frequency "
    "harrier_roll_rate roll_unevenness",
    "tumble": "figure_roll_rate figure_pitch_rate figure_yaw_rate peak_pitch_rate tumble_turns",
    "wall": "wall_length wall_height",
    "pass": "time_to_peak_load pass_speed aileron_hinge_moment elevator_hinge_moment rudder_hinge_moment "
    "aileron_servo_load elevator_servo_load rudder_servo_load aileron_blow_back elevator_blow_back rudder_blow_back",
}
MODES = set(TAKEN_IN["level-trim"].split()[8:])
# these look at the steady states and the plane, not at the frames
# of a plane that can be built and linearised, which the records here have none of: tests/scenarios/test_walk
STABILITY = {"stick_fixed_margin", "pitch_growth", "pitch_growth_aft"}
OF_THE_PLANE = (
    MODES
    | STABILITY
    | set(
        "elevator_trim throttle_trim alpha_trim trim_change_with_speed throttle_change_with_speed "
        "thrust_over_weight".split()
    )
)
EACH = [(name, shape) for shape, names in TAKEN_IN.items() for name in names.split()]


def test_body_axes_are_those_of_the_kernels():
    # the same attitude by the quaternion, another way: rows of the transposed matrix are the body's axes
    rng = np.random.default_rng(3)
    for bank, pitch, heading in rng.uniform(-1.0, 1.0, (20, 3)) * (math.pi, math.pi / 2, math.pi):
        flown = record({"any": 0.3}, bank=bank, pitch=pitch, heading=heading)
        matrix = np.reshape(body_to_earth(*quaternion_from_euler(bank, pitch, heading)), (3, 3))
        assert np.allclose(body_axes(flown, slice(3, 4))[0], matrix.T, atol=1e-12)


def test_every_measure_is_in_the_list():
    assert sorted([*STABILITY, *(name for name, _ in EACH)]) == sorted(MEASURES)


@pytest.mark.parametrize("name", MEASURES)
def test_a_measure_says_what_it_is(name):
    measure = MEASURES[name]
    assert measure.name == name and re.fullmatch("[a-z0-9_]+", name)
    assert measure.about and len(measure.about) <= 110 and not measure.about.endswith(".")
    assert measure.source == "common practice" or measure.source.startswith("definition: ")
    assert set(measure.better) == set(STYLES) and set(measure.better.values()) <= set(JUDGEMENTS)
    assert bool(measure.positive) == bool(measure.negative)
    # less of a number that has two signs would be the most negative one
    if measure.positive:
        assert "less" not in measure.better.values(), name


def test_two_measures_cannot_share_a_name():
    with pytest.raises(ValueError, match="two measures called stall_speed"):

        @measure("m/s", "again")
        def stall_speed(flown):
            return 0.0


def test_the_phase_that_explains_a_measure_is_one_of_the_manoeuvre():
    peak = MEASURES["peak_load"]
    assert peak.phase_in(manoeuvre("spin")) == "spin"
    assert peak.phase_in(manoeuvre("pass")) == "full stick"
    assert peak.phase_in(manoeuvre("level-trim")) == ""


@pytest.mark.parametrize("name, shape", [each for each in EACH if each[0] not in OF_THE_PLANE])
def test_nothing_is_measured_in_phases_that_were_not_reached(name, shape):
    reached = tuple(SHAPES[shape].values())[:1]
    flown = record(shape, reached, "hit the ground")
    flown.manoeuvre = manoeuvre(shape, (name,))
    (taken,) = take_measures(flown)
    assert taken.value is None
    assert taken.reason.startswith("not measured: hit the ground in "), taken.reason


@pytest.mark.parametrize(
    "name", [name for name in MEASURES if name not in OF_THE_PLANE | {"height_wander", "track_wander"}]
)
def test_a_manoeuvre_without_the_phase_says_so(name):
    flown = record({"other": 1.0})
    flown.manoeuvre = manoeuvre({"other": 1.0}, (name,))
    (taken,) = take_measures(flown)
    assert taken.value is None and taken.reason.startswith("not measured: the manoeuvre has no phase "), taken.reason


@pytest.mark.filterwarnings("ignore:invalid value")
@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("name, shape", EACH)
def test_no_measure_is_ever_nan(name, shape, bad, monkeypatch):
    monkeypatch.setattr("scenarios.measures.hover.static_thrust_ratio", lambda plane: bad)
    monkeypatch.setattr(
        "scenarios.measures.level.own_modes", lambda plane, trim: ([Mode(m, complex(bad), {}) for m in CLASSICAL],)
    )
    flown = record(shape)
    flown.manoeuvre = manoeuvre(shape, (name,), LEVEL.replace("25 m/s", "15 m/s"))
    flown.plane.throttle_for_duty = lambda duty: bad
    flown.flight.rows[:] = bad
    flown.level.x[:], flown.level.elevator = bad, bad
    flown.x0[:], flown.sticks0[:] = bad, bad
    (taken,) = take_measures(flown)
    assert taken.value is None
    assert taken.reason.startswith("not measured: ") and "finite" in taken.reason
