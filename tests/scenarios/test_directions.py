"""Directions that pilots know: each test flies the demo plane and asks for the sign, or the order, of what comes out.

Marked "common practice" below: common practice, no source.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from scenarios.balance import balance
from scenarios.manoeuvres import fly_manoeuvre, load_manoeuvre
from scenarios.measures import MEASURES
from tests.scenarios.flying import flown, fly_text, plane_of, setup_of, value

CGS = ("27 %", "31 %", "35 %", "39 %")  # of the mean aerodynamic chord, all ahead of the neutral point
FORWARD, BEHIND = "27 %", "46.5 %"
LINES = ("upline-45", "upline-45-inverted")


def over_cg(name: str, manoeuvre: str) -> np.ndarray:
    return np.array([value(name, "precision", manoeuvre, cg) for cg in CGS])


def path_change(manoeuvre: str, cg: str) -> float:
    """Change of the path angle hands-off, deg, over the phase."""
    flight = flown("precision", manoeuvre, cg)
    path = flight.flight.channel("path angle")[flight.flight.frames_of(flight.phase("hands off"))]
    return float(np.degrees(path[-1] - path[0]))


def test_the_cgs_lie_where_the_tests_say():
    assert balance(plane_of("precision", FORWARD)).static_margin > 0.15
    assert balance(plane_of("precision", BEHIND)).static_margin < 0.0
    margins = [balance(plane_of("precision", cg)).static_margin for cg in CGS]
    # definition: the margin falls by what the CG moves, the neutral point stays
    assert np.diff(margins) == pytest.approx(-0.04, abs=0.002)


@pytest.mark.parametrize("manoeuvre", LINES)
def test_nose_heavy_the_up_line_bends_to_the_canopy(manoeuvre):
    # common practice: 45-degree line hands-off; far forward CG goes to the canopy upright and inverted.  A degree a second is
    # what a pilot sees in 3 s of line.
    assert value("pitch_drift", "precision", manoeuvre, FORWARD) > 1.0
    assert value("path_curvature", "precision", manoeuvre, FORWARD) > 0.05


@pytest.mark.parametrize("manoeuvre", LINES)
def test_behind_the_neutral_point_the_up_line_bends_to_the_gear(manoeuvre):
    # common practice: tail-heavy goes to the gear upright and inverted
    assert value("pitch_drift", "precision", manoeuvre, BEHIND) < -2.0
    assert value("path_curvature", "precision", manoeuvre, BEHIND) < -0.05


def test_canopy_and_gear_are_up_and_down_as_they_should_be():
    # geometry: toward the canopy is up upright, down inverted; seen in the path itself, not in body rates
    assert path_change("upline-45", FORWARD) > 3.0
    assert path_change("upline-45-inverted", FORWARD) < -3.0
    assert path_change("upline-45", BEHIND) < -3.0
    assert path_change("upline-45-inverted", BEHIND) > 3.0


@pytest.mark.parametrize("manoeuvre", LINES)
def test_pitch_drift_on_the_line_falls_as_the_cg_goes_aft(manoeuvre):
    assert (np.diff(over_cg("pitch_drift", manoeuvre)) < -0.5).all()


def test_a_forward_cg_trims_with_up_elevator_and_less_as_it_goes_aft():
    # common practice; and the moment of the lift about the CG
    trims = over_cg("elevator_trim", "level-trim")
    assert trims[0] > 0.5
    assert (np.diff(trims) < -0.1).all()


def test_the_elevator_answers_more_as_the_cg_goes_aft():
    # common practice: nose-heavy feels dull, tail-heavy nervous
    answers = over_cg("pitch_response", "level-trim")
    assert answers[0] > 0.0
    assert (answers[1:] / answers[:-1] > 1.05).all()


@pytest.mark.parametrize("side", ["left", "right"])
def test_knife_edge_wants_more_up_elevator_as_the_cg_goes_aft(side):
    # the CG acts through the trim elevator (own parameter study: in 159 of 159 series); no sign is asserted
    assert (np.diff(over_cg("elevator_to_hold", f"knife-edge-{side}")) > 0.1).all()


@pytest.mark.parametrize("side", ["left", "right"])
def test_knife_edge_moves_toward_the_gear_as_the_cg_goes_aft(side):
    # the same moment, seen in what the nose does when the elevator is let go; no sign asserted
    assert (np.diff(over_cg("pitch_coupling", f"knife-edge-{side}")) < -1.0).all()


def test_rudder_and_sideslip_of_knife_edge_have_opposite_signs_on_opposite_sides():
    # geometry: the upper rudder holds the nose up; right wing down means left rudder, wind from below, the right
    assert value("rudder_to_hold", "precision", "knife-edge-right") > 2.0
    assert value("rudder_to_hold", "precision", "knife-edge-left") < -2.0
    assert value("sideslip", "precision", "knife-edge-right") > 5.0
    assert value("sideslip", "precision", "knife-edge-left") < -5.0


# ---- hover ------------------------------------------------------------------------------------------

SETUPS = ("precision", "extreme", "slow-3d")


@cache
def hover_the_other_way(name: str):
    """The hover with the propeller and the right thrust changed over."""
    setup = setup_of(name)
    line = setup.thrust_line or setup.airframe.thrust_line
    other = replace(setup, propeller=replace(setup.propeller, sense=-1.0), thrust_line=replace(line, right=-line.right))
    return fly_manoeuvre(other, load_manoeuvre("hover")[0])


@pytest.mark.parametrize("name", SETUPS)
def test_a_plane_that_hovers_has_more_thrust_than_weight(name):
    ratio = value("thrust_over_weight", name, "hover")
    assert 1.3 < ratio < 2.5  # common practice: 1.4 to 2.2 for these sizes
    throttle = value("hover_throttle", name, "hover")
    assert 20.0 < throttle < 100.0
    # thrust with the square of the rotor speed: the hover turns at 1 / sqrt(T/W) of the static rotor speed at most,
    # and the stick cannot be below that share of a linear throttle by much
    assert throttle / 100.0 == pytest.approx(1.0 / np.sqrt(ratio), abs=0.12)


@pytest.mark.parametrize("name", SETUPS)
def test_the_torque_roll_turns_against_the_propeller(name):
    # reaction: a propeller clockwise seen from behind rolls the plane left; common practice: "left"
    rolling = value("torque_roll_rate", name, "hover")
    assert rolling < -20.0
    other = MEASURES["torque_roll_rate"].take(hover_the_other_way(name))
    assert other > 20.0
    assert other == pytest.approx(-rolling, rel=0.05)  # mirror image, but for the pilot's start


def test_the_aileron_that_stops_the_torque_roll_is_right_aileron():
    for name in ("extreme", "slow-3d"):
        assert value("aileron_to_stop_roll", name, "hover") > 2.0
        assert MEASURES["aileron_to_stop_roll"].take(hover_the_other_way(name)) < -2.0


# ---- throws ------------------------------------------------------------------------------------------


@cache
def fastest(setup: str, stick: str) -> float:
    """Largest rate about the axis of `stick` in a second of full stick at 25 m/s, deg/s."""
    flight = fly_text(f"{{name: full, {stick}: 100 %, for: 1 s}}", setup=setup).flight
    rate = {"aileron": "roll rate", "elevator": "pitch rate", "rudder": "yaw rate"}[stick]
    return float(np.degrees(flight.channel(rate).max()))


def test_the_extreme_setup_rolls_and_loops_faster_than_the_precision_setup():
    # common practice: the largest throws give the largest rates
    assert fastest("extreme", "aileron") > 1.2 * fastest("precision", "aileron") > 0.0
    assert fastest("extreme", "elevator") > 1.2 * fastest("precision", "elevator") > 0.0


@pytest.mark.parametrize("stick", ["aileron", "elevator", "rudder"])
def test_positive_stick_gives_positive_rate_about_its_own_axis(stick):
    # sign convention of the record: right, canopy, right
    flight = fly_text(f"{{name: some, {stick}: 30 %, for: 0.3 s}}").flight
    rates = {"aileron": "roll rate", "elevator": "pitch rate", "rudder": "yaw rate"}
    assert flight.channel(rates[stick])[-1] > np.radians(3.0)
