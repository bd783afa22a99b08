"""Whole manoeuvres against handbook formulas: roll rate, loop radius, hover power, climb."""

from __future__ import annotations

import math

import numpy as np
import pytest

from scenarios.account import loads_by_part
from scenarios.manoeuvres import fly_manoeuvre
from sim import layout as L
from sim.atmosphere import density
from sim.frames import G
from sim.section_aero import flap_load, flap_rotation, glauert_effectiveness
from sim.trim import hover_trim
from tests.scenarios.flying import flown as fly
from tests.scenarios.flying import manoeuvre, plane_of, setup_of

LEVEL_OUT = "{name: level, pilot: [aileron, elevator, rudder], hold: height, throttle: hold airspeed, for: 1 s}"
HIGH = "start: {from: level flight, airspeed: 25 m/s, height: 300 m}\n"


@pytest.mark.parametrize("stick", [20, 40])
def test_steady_roll_rate_is_that_of_roll_damping(stick):
    # p b / 2V = C_l,delta delta / -C_l,p, both by strip theory with one slope a, which cancels (Nelson, Flight Stability and
    # Automatic Control): C_l,delta = 2 a tau / (S b) integral of c y dy, C_l,p = -a (1 + 3 taper) / (12 (1 + taper)).
    # 12 %: aileron and roll do not lose the same share to the wake, and the tail damps too.
    setup, plane = setup_of("precision"), plane_of("precision")
    flown = fly_manoeuvre(
        setup, manoeuvre(f"{LEVEL_OUT}\n{{name: roll, aileron: {stick} %, within: 0.1 s, for: 1.2 s}}", HIGH)
    )
    flight = flown.flight
    last = slice(flight.frames_of(1).stop - 40, flight.frames_of(1).stop)
    rate, speed = flight.channel("roll rate")[last].mean(), flight.channel("airspeed")[last].mean()
    left, right = flight.channel("left aileron")[last].mean(), flight.channel("right aileron")[last].mean()
    wing = next(s for s in setup.airframe.surfaces if s.name == "wing")
    half, flap = wing.tip[1], wing.flap
    y = np.linspace(flap.start * half, flap.end * half, 401)
    chord = wing.root_chord + (wing.tip_chord - wing.root_chord) * y / half
    share = flap.chord_root + (flap.chord_tip - flap.chord_root) * y / half
    tau = np.array([glauert_effectiveness(float(e)) for e in share])
    delta = flap_rotation(0.5 * (left - right), flap_load(5.7))
    power = 2.0 / (plane.wing_area * plane.span) * np.trapezoid(tau * chord * y, y)
    taper = wing.tip_chord / wing.root_chord
    helix = power * delta * 12.0 * (1.0 + taper) / (1.0 + 3.0 * taper)
    assert rate == pytest.approx(helix * 2.0 * speed / plane.span, rel=0.12)


def test_radius_of_a_loop_is_that_of_its_load_factor():
    # R = V^2 / (g (n - 1)) at the bottom (any text): the circle through the flown path, against speed and load factor there
    flown = fly_manoeuvre(
        setup_of("precision"),
        manoeuvre(f"{LEVEL_OUT}\n{{name: pull, elevator: {{hold: pitch rate, at: 80 deg/s}}, for: 1.5 s}}", HIGH),
    )
    flight = flown.flight
    frames = flight.frames_of(1)
    at = frames.start + 60
    window = slice(at - 15, at + 16)
    north, height = flight.channel("north")[window], flight.channel("height")[window]
    # circle by least squares: x^2 + y^2 + a x + b y + c = 0
    matrix = np.c_[north, height, np.ones(north.size)]
    a, b, c = np.linalg.lstsq(matrix, -(north**2 + height**2), rcond=None)[0]
    radius = math.sqrt(0.25 * (a * a + b * b) - c)
    speed, path = flight.channel("airspeed")[at], flight.channel("path angle")[at]
    # along the lift, which leans back by alpha from the canopy
    alpha = flight.channel("alpha")[at]
    lift = flight.channel("load z")[at] * math.cos(alpha) + flight.channel("load x")[at] * math.sin(alpha)
    assert radius == pytest.approx(speed**2 / (G * (lift - math.cos(path))), rel=0.03)


@pytest.mark.parametrize("name", ["precision", "slow-3d"])
def test_power_of_the_hover_is_that_of_an_actuator_disk(name):
    # P = T^1.5 / sqrt(2 rho A) (momentum theory); shaft power over it: figures of merit of such propellers 0.5 to 0.75
    # (UIUC static runs of tests/reference give 0.48 to 0.66 by C_T^1.5 / C_P sqrt(2 / pi)); the airframe's drag in the jet is
    # lifted as well, under 10 % of the weight.
    plane = plane_of(name)
    trim = hover_trim(plane, 50.0)
    account = plane.model[L.ACCOUNT : L.ACCOUNT + 6 * L.N_PARTS].reshape(L.N_PARTS, 6)
    thrust, weight = np.linalg.norm(account[L.THRUST, :3]), plane.mass.mass * G
    assert 1.0 < thrust / weight < 1.10
    area = math.pi / 4.0 * plane.setup.propeller.diameter**2
    ideal = thrust**1.5 / math.sqrt(2.0 * density(50.0) * area)
    torque = np.linalg.norm(account[L.TORQUE, 3:])
    assert 0.5 < ideal / (torque * trim.x[L.ROTOR]) < 0.78


def test_climb_rate_is_excess_thrust():
    # V sin(gamma) = (T - D) V / W (any text) on a held climb, drag from the same speed in level flight: 8 %, for on the climb
    # the wing carries less lift and the slipstream is faster
    level = fly_manoeuvre(setup_of("precision"), manoeuvre(f"{LEVEL_OUT.replace('for: 1 s', 'for: 6 s')}", HIGH)).flight
    steady = slice(len(level.rows) - 100, len(level.rows))
    drag = level.channel("thrust")[steady].mean()
    climb = fly_manoeuvre(
        setup_of("precision"),
        manoeuvre(
            "{name: climb, pilot: [aileron, elevator, rudder], hold: path, throttle: hold airspeed, for: 12 s,"
            " aim: {pitch: 20 deg, bank: 0 deg, at: 20 deg/s}}",
            HIGH,
        ),
    ).flight
    held = slice(len(climb.rows) - 200, len(climb.rows))
    weight = plane_of("precision").mass.mass * G
    slope = (climb.channel("thrust")[held].mean() - drag) / weight
    along = np.diff(climb.channel("airspeed")[held]).mean() / 0.01 / G
    assert math.sin(climb.channel("path angle")[held].mean()) + along == pytest.approx(slope, rel=0.08)


@pytest.mark.parametrize("setup", ["precision", "extreme", "slow-3d"])
@pytest.mark.parametrize("side", ["right", "left"])
def test_a_spin_balances_at_its_own_angle_of_attack(setup, side):
    # Steady spin (any text on spinning, from memory): drag carries the weight, V^2 = 2 W / (rho S C_D) with the drag of the
    # spin's own alpha; the nose-down moment of the air is that of the spinning masses, M = (Izz - Ixx) p r about body y with
    # p = Omega cos(alpha), r = Omega sin(alpha).  Drag 15 %: the steeper spin of
    # "precision" goes down 16 deg off the vertical, where lift carries a share; the moment 15 %: products of inertia are left out.
    flown = fly(setup, f"spin-{side}")
    flight = flown.flight
    spin = flight.frames_of([phase.name for phase in flown.manoeuvre.phases].index("spin"))
    last = slice(spin.stop - 100, spin.stop)
    loads = loads_by_part(flown, last)[0].mean(axis=0)
    plane = plane_of(setup)

    def mean(channel):
        return float(flight.channel(channel)[last].mean())

    turned = flight.channel("turned")
    omega = (turned[last.stop - 1] - turned[last.start]) / 0.99
    alpha, speed = mean("alpha"), mean("airspeed")
    assert np.std(flight.channel("alpha")[last]) < math.radians(2.0)  # it has settled
    assert abs(omega) > math.radians(120.0)
    # descent: drag against weight, along a path that is nearly straight down
    air = np.delete(loads, L.WEIGHT, axis=0).sum(axis=0)
    drag = -(air[0] * math.cos(alpha) + air[2] * math.sin(alpha))
    weight = plane.mass.mass * G
    assert -mean("climb rate") / speed > 0.93
    assert drag == pytest.approx(weight * -mean("climb rate") / speed, rel=0.15)
    # moments about body y: air and propeller against spinning masses
    p, r = mean("roll rate"), mean("yaw rate")
    spinning = -(plane.mass.inertia[2, 2] - plane.mass.inertia[0, 0]) * p * r
    assert air[4] == pytest.approx(spinning, rel=0.15)
    assert p / omega == pytest.approx(math.cos(alpha), abs=0.12) and r / omega == pytest.approx(
        math.sin(alpha), abs=0.12
    )
