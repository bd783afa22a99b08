"""Neutral point with power, manoeuvre point, elevator per g: textbook formulas, and the plane flown or balanced there."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq, root

from models.loader import load_setup
from sim import layout as L
from sim.build import build
from sim.frames import G
from sim.linearisation import pitch_stability, steady_loads
from sim.pitch_margins import margins_of, pitch_margins
from sim.stability_derivatives import stability_derivatives
from sim.trim import level_trim
from tests.sim.conftest import stiff
from tests.sim.test_derivative_model import FOOT_G, NAVION, navion

SETUPS = ("precision", "slow-3d", "corrie-310-precision")


def loose(name: str, cg: float | None = None):
    """A plane whose tray has no ends and whose servos do not give, at its own CG or at `cg` m, and its level flight."""
    setup = stiff(load_setup(name))
    items = tuple(replace(i, slide=(-50.0, 50.0)) if i.slide else i for i in setup.airframe.items)
    setup = replace(setup, airframe=replace(setup.airframe, items=items))
    plane = build(setup if cg is None else replace(setup, cg=(cg, "m")))
    return plane, level_trim(plane, 25.0, 100.0)


@pytest.fixture(scope="module", params=SETUPS)
def case(request):
    plane, trim = loose(request.param)
    return request.param, plane, trim, pitch_margins(plane, trim), stability_derivatives(plane, trim)


# ---- published coefficients ------------------------------------------------------------------------------------------------


def test_navion_against_the_textbook():
    # Nelson's coefficients (tests/reference/navion_nelson.yaml) through our linear model, against Etkin and Reid's formulas
    # (from memory) with C_L_alpha + C_D, which is what is across the path: exact, the loads being linear
    c = {**NAVION["longitudinal"], "Cm_alphadot": 0.0}
    model = navion(Cm_alphadot=0.0)
    linear, mass = model.linearise(), NAVION["mass"]["W_lb"] / FOOT_G
    whole = np.diag([mass] * 3 + [NAVION["mass"][axis] for axis in ("Ix", "Iy", "Iz")])
    found = margins_of(linear, whole, 176.0, 0.0, NAVION["mass"]["W_lb"], 5.7, FOOT_G)
    slope, mu = c["CL_alpha"] + c["CD"], 2.0 * mass / (0.002378 * 184.0 * 5.7)
    neutral = -c["Cm_alpha"] / slope
    assert found.power == pytest.approx(neutral, rel=1e-5)
    # that model has no lift of pitch rate, as Nelson's matrices have none
    q_lift = model.coefficients.get("CL_q", 0.0)
    assert found.manoeuvre == pytest.approx(neutral * (1.0 - q_lift / (2.0 * mu)) - c["Cm_q"] / (2.0 * mu), rel=1e-4)
    # elevator per g: two equations in alpha and elevator, C_W = C_L
    weight = NAVION["mass"]["W_lb"] / (0.5 * 0.002378 * 176.0**2 * 184.0)
    q = weight / (2.0 * mu)  # q c / 2 V for one g
    across = [[slope, c["CL_de"]], [c["Cm_alpha"], c["Cm_de"]]]
    per_g = np.linalg.solve(across, [weight - q_lift * q, -c["Cm_q"] * q])[1]
    assert found.elevator_per_g == pytest.approx(per_g, rel=1e-4)
    # constant thrust, moments that do not know speed: trim over speed sees the same neutral point as alpha does, but for
    # the drag that steepens the path (C_D / C_L of the slope): 3 %
    assert found.speed == pytest.approx(neutral, rel=0.03)


def test_printed_matrix_of_the_navion():
    # The printed matrix holds the moment with the rate of alpha; in a steady pull-up alpha rests and it cancels.
    # 2 %: M_q is printed from rounded parts (see test_derivative_model)
    a = np.zeros((8, 8))
    kept = [0, 2, 4, 7]
    a[np.ix_(kept, kept)] = NAVION["A_long_u_w_q_theta"]
    linear = replace(navion().linearise(), a=a)
    mass = NAVION["mass"]["W_lb"] / FOOT_G
    whole = np.diag([mass] * 3 + [1048.0, 3000.0, 3530.0])
    found = margins_of(linear, whole, 176.0, 0.0, NAVION["mass"]["W_lb"], 5.7, FOOT_G)
    mu = 2.0 * mass / (0.002378 * 184.0 * 5.7)
    assert found.manoeuvre == pytest.approx(0.683 / 4.49 + 9.96 / (2.0 * mu), rel=0.02)


# ---- the plane's own derivatives -------------------------------------------------------------------------------------------


def test_power_against_its_own_derivatives(case):
    # the slopes of stability_derivatives hold the rotor's speed, these the throttle: 0.1 % of MAC
    _, _, _, found, d = case
    assert found.power == pytest.approx(-d.values["Cm_alpha"] / d.values["CL_alpha"], abs=0.001)


def test_manoeuvre_point_by_the_textbook_formula(case):
    # Etkin and Reid (from memory): h_m = h_n - Cm_q / (2 mu - CL_q), slopes about h_m itself: the plane is balanced there
    # and its own derivatives are taken.  0.5 % of MAC: another trim (tail load), and the rotor's speed held
    name, plane, _, found, _ = case
    point = plane.cg_station + found.manoeuvre * plane.mac
    there, trim = loose(name, point)
    d = stability_derivatives(there, trim)
    c, mu = d.values, 2.0 * there.mass.mass / (d.density * d.area * d.chord)
    margin = -c["Cm_alpha"] / c["CL_alpha"] - c["Cm_q"] / (2.0 * mu - c["CL_q"])
    assert margin == pytest.approx(0.0, abs=0.005)
    # and with the slopes about the present CG it reads too large, by CL_q about the wrong point
    assert pitch_margins(there, trim).elevator_per_g == pytest.approx(0.0, abs=0.02 * abs(found.elevator_per_g))


def test_elevator_per_g_against_pulled_flight(case):
    # Second route: the loads themselves in a pull-up of +-0.05 g, solved for alpha and elevator at one speed and one rotor
    # speed.  1 %: the rotor's speed held, loads curved over 0.1 g
    _, plane, trim, found, _ = case
    airspeed = float(np.linalg.norm(trim.x[L.VELOCITY : L.VELOCITY + 3]))
    alpha0 = math.atan2(trim.x[L.VELOCITY + 2], trim.x[L.VELOCITY])

    def pulled(more: float) -> float:
        def left(unknown):
            x, command = trim.x.copy(), trim.command.copy()
            alpha, command[L.ELEVATOR] = unknown
            x[L.VELOCITY], x[L.VELOCITY + 2] = airspeed * math.cos(alpha), airspeed * math.sin(alpha)
            x[L.RATES + 1] = more * G / airspeed
            x[L.SERVO : L.SERVO + L.CONTROLS] = command[: L.CONTROLS]
            loads = np.delete(steady_loads(plane, x, command), L.WEIGHT, axis=0).sum(axis=0)
            lift = loads[0] * math.sin(alpha) - loads[2] * math.cos(alpha)
            return [lift / (plane.mass.mass * G) - 1.0 - more, loads[4]]

        return float(root(left, [alpha0, trim.elevator], tol=1e-10).x[1])

    assert (pulled(0.05) - pulled(-0.05)) / 0.1 == pytest.approx(found.elevator_per_g, rel=0.01)


def test_trim_over_speed_against_flights_at_that_throttle(case):
    # Second route: straight climbs and descents trimmed at that throttle, half a m/s slower and faster.  The elevator that
    # they need over what its moment does to the plane (its lift changes alpha, so moment and lift slopes together).
    # 0.5 % of MAC and 3 %: half a m/s is finite, and sideslip, aileron and rudder are trimmed anew there
    _, plane, trim, found, d = case
    elevator = []
    for speed in (24.5, 25.5):
        climb = brentq(lambda g, v=speed: level_trim(plane, v, 100.0, climb=g).duty - trim.duty, -0.15, 0.15, xtol=1e-7)
        elevator.append(level_trim(plane, speed, 100.0, climb=climb).elevator)
    c = d.values
    power = c["Cm_de"] - c["CL_de"] * c["Cm_alpha"] / c["CL_alpha"]
    cl = plane.mass.mass * G / (0.5 * d.density * 25.0**2 * plane.wing_area)
    # Cm(CL) + power * elevator = 0 along the trims, and margin = -dCm/dCL with dCL = -2 CL dV / V
    margin = power * (elevator[1] - elevator[0]) / (-2.0 * cl / 25.0)
    assert found.speed == pytest.approx(margin, abs=0.005, rel=0.03)


def test_without_thrust_the_neutral_points_agree():
    # a propeller on the shaft of no consequence is not to be had in level flight; at a CG where the plane is neutral with
    # power its pitching moment does not change with alpha: the point found there is the CG itself, to 0.2 % of MAC (trim)
    plane, trim = loose("precision")
    there, again = loose("precision", plane.cg_station + pitch_margins(plane, trim).power * plane.mac)
    assert pitch_margins(there, again).power == pytest.approx(0.0, abs=0.002)
    # and power moves it little on a plane whose thrust passes near the CG: under 1 % of MAC
    off = pitch_stability(plane, trim)
    assert abs(off.static_margin - pitch_margins(plane, trim).power) < 0.01


def test_margins_fall_one_for_one_as_the_cg_goes_aft():
    # signs and monotony; neutral point and manoeuvre point stay, to 1 % of MAC over 12 % of MAC
    found = [pitch_margins(*loose("precision", cg)) for cg in (0.150, 0.165, 0.180, 0.197)]
    for name in ("power", "manoeuvre", "speed"):
        values = [getattr(one, name) for one in found]
        assert all(a > b for a, b in zip(values, values[1:]))
    moved = (0.197 - 0.150) / loose("precision")[0].mac
    assert found[0].power - found[-1].power == pytest.approx(moved, abs=0.01)
    assert found[0].manoeuvre - found[-1].manoeuvre == pytest.approx(moved, abs=0.01)
    assert all(one.manoeuvre > one.power for one in found)  # pitch damping helps
    pulls = [one.elevator_per_g for one in found]
    assert all(a < b < 0.0 for a, b in zip(pulls, pulls[1:]))  # a pull, and less of it


def test_high_thrust_line_eases_the_trim_over_speed():
    # thrust falls as speed grows; passing above the CG it then pushes the nose down less: nose up with speed, so the trim
    # reads more stable than alpha does, and the other way round below (Perkins and Hage, from memory)
    setup = load_setup("precision")
    gaps = []
    for up in (-0.1, 0.0, 0.1):
        line = replace(setup.airframe.thrust_line, at=(0.46, 0.0, -up))
        plane = build(replace(setup, thrust_line=line))
        found = pitch_margins(plane, level_trim(plane, 25.0, 100.0))
        gaps.append(found.speed - found.power)
    assert gaps[0] < gaps[1] < gaps[2]
