"""Ballast, side to side, scales, and how far margins may be off: handbook examples, the plane built again, Monte Carlo."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from scenarios.accuracy import CG, MODEL, Accuracy, accuracies_of, off_by
from scenarios.balance import TYPICAL, balance, lateral, margin_spreads, margins_of, overall_length
from scenarios.ballast import (
    ballast_mass,
    free_tray,
    place_named,
    places,
    tip_weight,
    wanted,
    with_ballast,
)
from scenarios.inputs import Case, inputs_of
from scenarios.spread import spreads
from scenarios.weighing import missing_mass, tail_low_error, weigh
from sim import layout as L
from sim.build import build, with_cg
from sim.description import Item, Wheels
from sim.trim import level_trim
from tests.scenarios.flying import plane_of, setup_of
from tests.sim.reference import facts

FAA = facts("weighing_faa.yaml")
PLANES = ("precision", "beck-150-extreme", "corrie-310-precision", "moor-220-precision", "scree-270-slow-3d")


# ---- scales ----------------------------------------------------------------------------------------------------------------


def test_the_handbook_weighs_a_nosewheel_aeroplane():
    # FAA-H-8083-1 (tests/reference/weighing_faa.yaml), to the printed digits; inches and pounds go through as they are
    f = FAA["nosewheel"]
    wheels = Wheels((0.0, 1.0, 0.0), (-f["L"], 0.0, 0.0), "nose")
    found = weigh({"nose": f["nose"], "main": f["W"] - f["nose"]}, wheels, 0.0)
    assert found.cg == pytest.approx(f["cg_behind_mains"], abs=0.05)


def test_the_handbook_weighs_a_tailwheel_aeroplane():
    # the same book, from memory
    f = FAA["tailwheel"]
    wheels = Wheels((-f["D"], 1.0, 0.0), (-f["D"] - f["L"], 0.0, 0.0), "tail")
    found = weigh({"tail": f["tail"], "main": f["W"] - f["tail"]}, wheels, 0.0)
    assert found.cg == pytest.approx(f["cg"], abs=0.05)


def scales_under(plane, angle: float) -> dict[str, float]:
    """Readings (kg) of a plane with its tail low by `angle`, by moments about the floor, written apart."""
    wheels, mass = plane.setup.airframe.wheels, plane.mass.mass
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])  # aft, up
    floor = [float((turn @ [-p[0], -p[2]])[0]) for p in (wheels.main, wheels.third, plane.mass.cg)]
    tail = mass * (floor[2] - floor[0]) / (floor[1] - floor[0])
    right = 0.5 * (mass - tail) + 0.5 * mass * float(plane.mass.cg[1]) / wheels.main[1]
    return {"left": mass - tail - right, "right": right, "tail": tail}


@pytest.mark.parametrize("name", PLANES)
@pytest.mark.parametrize("degrees", [0.0, 9.0, -3.0])
def test_scales_find_the_cg_of_every_built_in_plane_however_it_stands(name, degrees):
    plane, angle = plane_of(name), math.radians(degrees)
    found = weigh(scales_under(plane, angle), plane.setup.airframe.wheels, -float(plane.mass.cg[2]), angle)
    assert found.cg == pytest.approx(plane.cg_station, abs=1e-12)
    assert found.mass == pytest.approx(plane.mass.mass)
    assert min(found.readings.values()) > 0.0  # the wheels stand where a plane can stand on them


def test_a_heavy_side_shows_on_the_scales():
    setup = setup_of("precision")
    plane = build(replace(setup, ballast=(Item("lead", 0.1, (-0.2, 0.7, 0.0)),)))
    found = weigh(scales_under(plane, 0.0), setup.airframe.wheels, -float(plane.mass.cg[2]))
    assert found.right == pytest.approx(float(plane.mass.cg[1]), abs=1e-12) and found.right > 0.0


@pytest.mark.parametrize("name", PLANES)
def test_what_standing_on_its_wheels_does(name):
    # both wheels touch a flat floor: bottoms of the two wheels at one height; read as if level, the CG comes out too far aft
    plane = plane_of(name)
    wheels, height = plane.setup.airframe.wheels, -float(plane.mass.cg[2])
    found = weigh(scales_under(plane, 0.0), wheels, height)
    angle = found.on_wheels
    bottoms = [
        -p[2] * math.cos(angle) + p[0] * math.sin(angle) - 0.5 * d
        for p, d in zip((wheels.main, wheels.third), wheels.diameters)
    ]
    assert bottoms[0] == pytest.approx(bottoms[1], abs=1e-12) and math.radians(4.0) < angle < math.radians(14.0)
    wrong = weigh(scales_under(plane, angle), wheels, height)
    assert wrong.cg - plane.cg_station == pytest.approx(found.on_wheels_error, abs=1e-12)
    assert found.on_wheels_error > 0.01
    # a degree's worth is the slope at level: second order in a degree, 2 %
    assert tail_low_error(wheels, plane.cg_station, height, math.radians(1.0)) == pytest.approx(
        found.per_degree, rel=0.02
    )


def test_the_spread_of_a_weighed_cg_against_a_thousand_weighings():
    # readings, ruler and level drawn at random; the standard error of a deviation from 4000 is 1.1 %: 5 %
    plane, draw = plane_of("precision"), np.random.default_rng(1)
    wheels, height, readings = plane.setup.airframe.wheels, -float(plane.mass.cg[2]), scales_under(plane, 0.0)
    told = weigh(readings, wheels, height)
    found = []
    for _ in range(4000):
        main, third = (tuple(np.add(p, (0.001 * draw.normal(), 0.0, 0.0))) for p in (wheels.main, wheels.third))
        stood = scales_under(plane, math.radians(0.3) * draw.normal())
        seen = {name: r * (1.0 + 0.005 * draw.normal()) for name, r in stood.items()}
        found.append(weigh(seen, replace(wheels, main=main, third=third), height))
    assert np.std([f.cg for f in found]) == pytest.approx(told.cg_sigma, rel=0.05)
    assert np.std([f.mass for f in found]) == pytest.approx(told.mass_sigma, rel=0.05)
    assert np.std([f.right for f in found]) == pytest.approx(told.right_sigma, rel=0.05)


def test_a_forgotten_part_is_told_by_mass_and_place():
    setup = setup_of("precision")
    whole = build(replace(setup, cg=(0.185, "m"), ballast=(Item("forgotten", 0.25, (-0.9, 0.0, 0.0)),)))
    # the model without it, everything else in its place
    known = [i for i in whole.items if i.name != "forgotten"]
    mass = sum(i.mass for i in known)
    cg = -sum(i.mass * i.at[0] for i in known) / mass
    found = weigh(scales_under(whole, 0.0), setup.airframe.wheels, -float(whole.mass.cg[2]))
    assert missing_mass(found, mass, cg) == pytest.approx((0.25, 0.9))
    assert missing_mass(found, whole.mass.mass, whole.cg_station) is None


# ---- ballast -----------------------------------------------------------------------------------------------------------------


def test_the_handbook_ballasts_an_aeroplane():
    # FAA-H-8083-1 (tests/reference/weighing_faa.yaml; the answer from memory), to the printed digits
    f = FAA["ballast"]
    assert ballast_mass(f["W"], f["cg"], f["wanted"], f["station"]) == pytest.approx(f["ballast"], abs=0.05)


@pytest.mark.parametrize("name", PLANES)
@pytest.mark.parametrize("beyond", [-0.02, -0.002, 0.002, 0.02])
def test_ballast_brings_the_cg_there_with_the_item_at_the_end_of_its_tray(name, beyond):
    setup = setup_of(name)
    reach = wanted(setup).reach
    there = with_cg(setup, (reach[0] if beyond < 0 else reach[1]) + beyond, "m")
    asked = wanted(there)
    assert not asked.within and len(asked.ballast) >= 2
    masses = [b.mass for b in asked.ballast]
    assert masses == sorted(masses)
    for each in asked.ballast:
        plane = build(with_ballast(there, each))  # refuses a CG that is out of reach
        assert plane.cg_station == pytest.approx(asked.station, abs=1e-12)
        # whole grams: a gram less does not reach
        short = replace(each, mass=each.mass - 0.0011)
        assert not wanted(with_ballast(there, short)).within
        assert (each.place.station - asked.station) * beyond > 0.0
        grown = plane.mass.inertia[1, 1] / build(with_cg(setup, asked.end, "m")).mass.inertia[1, 1]
        assert grown > 1.0  # weights at the ends


def test_further_beyond_takes_more_and_further_out_takes_less():
    setup = setup_of("precision")
    needed = [wanted(with_cg(setup, cg, "m")).ballast[0].mass for cg in (0.225, 0.235, 0.25)]
    assert needed == sorted(needed) and needed[0] > 0.0
    at = [wanted(with_cg(setup, 0.24, "m"), place_named(p, setup.airframe)) for p in ("900 mm", "1.1 m", "tail post")]
    masses = [a.ballast[0].mass for a in at]
    assert masses == sorted(masses, reverse=True)


def test_within_the_tray_there_is_no_ballast_and_the_item_stands_where_it_is_said():
    for cg in (0.15, 0.2):
        asked = wanted(with_cg(setup_of("precision"), cg, "m"))
        plane = build(with_cg(setup_of("precision"), cg, "m"))
        battery = next(i for i in plane.items if i.name == "battery")
        assert asked.within and asked.ballast == () and asked.needed == pytest.approx(-battery.at[0])


def test_no_ballast_from_the_wrong_side():
    setup = with_cg(setup_of("precision"), 0.24, "m")
    assert wanted(setup, place_named("motor", setup.airframe)).ballast == ()
    assert wanted(with_cg(setup, 1.8, "m")).ballast == ()


def test_places_are_on_the_aeroplane():
    for name in PLANES:
        airframe = setup_of(name).airframe
        stations = [p.station for p in places(airframe)]
        assert min(stations) < 0.0 < max(stations) and max(stations) - min(stations) <= overall_length(airframe)


# ---- side to side --------------------------------------------------------------------------------------------------------------


def lopsided(name: str, grams: float):
    setup = setup_of(name)
    return replace(setup, ballast=(Item("lead", grams / 1000.0, (-0.25, 0.5, 0.0)),))


@pytest.mark.parametrize("name", PLANES)
def test_the_tip_weight_balances_exactly_and_costs_what_it_says(name):
    plane = build(lopsided(name, 60.0))
    assert plane.mass.cg[1] > 0.0
    tip = tip_weight(plane.setup.airframe, plane.items)
    weight = Item("tip", tip.mass, tip.at)
    assert tip.side == "left" and tip.at[1] < 0.0
    balanced = build(replace(plane.setup, ballast=(*plane.setup.ballast, weight)))
    assert balanced.mass.cg[1] == pytest.approx(0.0, abs=1e-15)
    # closed form: weight times half-span squared, less what the CG's move takes off, the item's slide aside
    m, w, y, s = plane.mass.mass, tip.mass, plane.mass.cg[1], abs(tip.at[1])
    assert tip.roll == pytest.approx(m * w / (m + w) * (s + y) ** 2, rel=0.02)  # heights differ: 2 %
    assert tip.mass == pytest.approx(60.0e-3 * 0.5 / s)


def test_aileron_for_a_heavy_side_by_trims_and_by_derivative():
    plane = build(free_tray(lopsided("precision", 60.0)))
    side = lateral(plane)
    tip = Item("tip", side.tip.mass, side.tip.at)
    after = build(replace(plane.setup, ballast=(*plane.setup.ballast, tip)))
    trims = [float(level_trim(p, 25.0, 100.0).command[L.AILERON_LEFT]) for p in (plane, after)]
    # the trims differ by what is said; 2 %: the weight itself adds 0.4 % to the mass, flow is not quite linear
    assert side.aileron == pytest.approx(trims[0] - trims[1], rel=0.02)
    assert side.aileron < 0.0  # heavy on the right: stick to the left
    # the derivative's route: m g y = q S b Cl_da da; sideslip and rudder take a share of it: 15 %
    d = balance(plane).derivatives
    force = 0.5 * d.density * d.airspeed**2 * d.area * d.span
    by_derivative = plane.mass.mass * 9.80665 * side.right / (force * d.values["Cl_da"])
    assert side.aileron == pytest.approx(by_derivative, rel=0.15)


def test_left_and_right_are_mirror_images():
    right = build(lopsided("precision", 60.0))
    (lead,) = right.setup.ballast
    left = build(replace(right.setup, ballast=(replace(lead, at=(lead.at[0], -lead.at[1], lead.at[2])),)))
    a, b = (tip_weight(p.setup.airframe, p.items) for p in (right, left))
    assert (a.side, b.side) == ("left", "right") and a.mass == pytest.approx(b.mass)


# ---- how far margins may be off ----------------------------------------------------------------------------------------------


def test_spread_of_a_plain_sum():
    # GUM 5.1.2 in closed form, for a result that is linear: exact
    names = {a.name: a for a in accuracies_of(setup_of("precision"))}
    used = [names["incidence of wing"], names["incidence of stabiliser"]]

    def decalage(case: Case) -> dict[str, float]:
        inputs = inputs_of(case.setup)
        wing, tail = (inputs[a.name].read(inputs[a.name].now(case)) for a in used)
        return {"decalage": wing - tail}

    found = spreads(Case(setup_of("precision")), decalage, used)["decalage"]
    assert math.degrees(found.sigma) == pytest.approx(math.hypot(0.2, 0.3), rel=1e-3)  # inputs are written in 4 digits
    assert [a.name for a, _ in found.parts] == ["incidence of stabiliser", "incidence of wing"]
    assert found.parts[0][1] < 0.0 < found.parts[1][1]


def test_margins_against_monte_carlo():
    # 60 balances of the same model with all inputs drawn at once.  Each is what the slopes say of its draw, to 8 % of the
    # deviation (found 4, the neutral point over incidences is curved; 7 in elevator per g, across the play of a linkage);
    # the deviation of 60 has a standard error of 9 % itself, three of them
    setup, draw = setup_of("precision"), np.random.default_rng(4)
    told = margin_spreads(setup)
    case, accuracies = Case(free_tray(setup)), [a for a, _ in told["static_margin"].parts]
    drawn, sigmas = [], draw.normal(size=(60, len(accuracies)))
    for row in sigmas:
        moved = case
        for accuracy, sigma in zip(accuracies, row):
            moved = off_by(moved, accuracy, float(sigma))
        drawn.append(margins_of(moved))
    for name, spread in told.items():
        slopes = {a.name: part for a, part in spread.parts}
        found = np.array([d[name] for d in drawn]) - spread.value
        assert np.std(found - sigmas @ [slopes[a.name] for a in accuracies]) < 0.08 * spread.sigma, name
        assert np.std(found, ddof=1) == pytest.approx(spread.sigma, rel=0.27), name


@pytest.mark.parametrize("name", PLANES)
def test_every_accuracy_is_an_input_and_can_be_moved(name):
    case = Case(setup_of(name))
    inputs = inputs_of(case.setup)
    for accuracy in accuracies_of(case.setup):
        assert accuracy.name in inputs and accuracy.sigma > 0.0 and accuracy.source
        assert off_by(case, accuracy, 1.0).setup != case.setup


def test_cg_moves_by_millimetres_whatever_it_is_written_in():
    for cg in ((0.31, "mac"), (0.16, "m")):
        case = Case(free_tray(replace(setup_of("precision"), cg=cg)))
        here, there = (build(c.setup).cg_station for c in (case, off_by(case, CG, 1.0)))
        assert there - here == pytest.approx(0.002, abs=6e-5)  # the input is written to a tenth of a millimetre
    assert isinstance(CG, Accuracy) and MODEL == pytest.approx(0.033)


# ---- gyration ------------------------------------------------------------------------------------------------------------------


def test_typical_radii_are_raymers():
    # Raymer, table 16.1 (from memory, tests/reference/inertia_radii.yaml): Ix = m (b Rx / 2)^2 and so on, and its example
    f = facts("inertia_radii.yaml")["single_engine_prop"]
    assert TYPICAL == pytest.approx((f["Rx"] / 2, f["Ry"] / 2, f["Rz"] / 4))
    example = facts("inertia_radii.yaml")["example_17kg_span2p7_length2p5"]
    for share, size, axis in zip(TYPICAL, (2.7, 2.5, 5.2), ("Ix", "Iy", "Iz")):
        assert 17.0 * (share * size) ** 2 == pytest.approx(example[axis], rel=1e-3)


@pytest.mark.parametrize("name", PLANES)
def test_radii_of_the_built_in_planes(name):
    # roll within the table's own 35 %; pitch and yaw wider than full-size practice, as a measured aerobatic model swings
    # (rc_aerobatic_mxs_inertia.yaml: 0.253 and 0.292 m on about 1.06 m of length and 1.1 m of span, both guessed): 15 %
    b = balance(plane_of(name))
    assert b.gyration[0] == pytest.approx(b.typical[0], rel=0.35)
    radii = facts("rc_aerobatic_mxs_inertia.yaml")["radii_m"]
    assert b.gyration[1] / b.length == pytest.approx(radii["ky"] / 1.06, rel=0.15)
    assert b.gyration[2] / (b.span + b.length) == pytest.approx(radii["kz"] / 2.16, rel=0.15)
    assert all(g * g * b.mass == pytest.approx(i) for g, i in zip(b.gyration, b.inertia))
