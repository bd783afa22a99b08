"""Loads inside wing and tail halves: cantilever formulas, Newton's laws over strips and items, mirror images."""

import math
from dataclasses import replace

import numpy as np
import pytest

from models.loader import load_setup
from sim import layout as L
from sim import span_loads as S
from sim.account import loads_of
from sim.added_mass import added_mass, strips_carry
from sim.build import build
from sim.description import Item
from sim.equations_of_motion import derivatives
from sim.frames import G, body_to_earth, quaternion_from_euler
from sim.recording import COMMAND_AT, ROW, STATE_AT
from sim.trim import blank_state


def row(x, command) -> np.ndarray:
    rows = np.zeros((1, ROW))
    rows[0, COMMAND_AT : COMMAND_AT + L.COMMAND], rows[0, STATE_AT : STATE_AT + L.STATE] = command, x
    return rows


def half(plane, name: str, items: bool = True) -> S.Half:
    found = {h.name: h for h in S.halves(plane)}[name]
    return found if items else replace(found, items=())


def still(plane, force: np.ndarray) -> S.Instants:
    """Given forces on the strips (strips, 3) at their quarter-chord points, nothing moving, no gravity."""
    n = int(plane.model[L.N_STRIPS])
    at = np.stack([plane.model[r : r + n] for r in (L.X, L.Y, L.Z)], axis=1)
    zero = np.zeros((1, 3))
    return S.Instants(force[None], np.cross(at, force)[None], zero, zero, zero)


def strip_loads(plane, wing: S.Half, load) -> np.ndarray:
    """Upward forces on the strips of both wing halves whose sum on each is that of `load` (integral from the middle)."""
    force = np.zeros((int(plane.model[L.N_STRIPS]), 3))
    for side in ("wing right", "wing left"):
        part = half(plane, side)
        for strip, (inner, outer) in zip(part.strips, part.spans):
            force[strip, 2] = -(load(outer) - load(inner))
    return force


# ---- cantilevers ------------------------------------------------------------------------------------------
# A load of 100 N a half over the span s, cut at the middle.  Within a strip the load is even: a uniform load comes out
# exactly, one that falls along a strip of n too large by w^2 / 12 times its fall: 1 / 2 n^2 of a triangular load's moment.


def test_uniform_elliptic_and_triangular_loads(precision):
    wing = half(precision, "wing right", items=False)
    s, n = wing.tip, len(wing.strips)

    def elliptic(y):  # integral of 4 / (pi s) sqrt(1 - (y / s)^2)
        t = min(y / s, 1.0)
        return 100.0 * 2.0 / math.pi * (t * math.sqrt(1.0 - t * t) + math.asin(t))

    cases = (
        (lambda y: 100.0 * y / s, 100.0 * s / 2.0, 1e-12),
        (lambda y: 100.0 * (2.0 * y / s - (y / s) ** 2), 100.0 * s / 3.0 * (1.0 + 0.5 / n**2), 1e-12),
        (elliptic, 100.0 * 4.0 * s / (3.0 * math.pi), 0.004),  # 1 / 2 n^2 = 0.5 % and less, as it falls later
    )
    for load, moment, within in cases:
        for name in ("wing right", "wing left"):
            found = S.section_loads(
                precision, half(precision, name, items=False), still(precision, strip_loads(precision, wing, load)), 0.0
            )[0]
            assert found[S.SHEAR] == pytest.approx(100.0, rel=1e-12)
            assert found[S.BENDING] == pytest.approx(moment, rel=within)
            assert found[[S.SHEAR_FORWARD, S.AXIAL, S.BENDING_FORWARD]] == pytest.approx(0.0, abs=1e-9)


def test_shear_is_the_slope_of_bending(precision):
    # dM/ds = -V along the whole half, masses included, in a pull with roll.  Couples along the span are taken out first,
    # those of the strips' legs; what the boxes' height adds in angular acceleration is below 0.05 N.
    x, command = pulling(precision, p=2.0)
    now = S.instants(precision, row(x, command))
    rows = [precision.model[r : r + now.force.shape[1]] for r in (L.X, L.Y, L.Z)]
    now = replace(now, moment=np.cross(np.stack(rows, axis=1), now.force))
    wing = half(precision, "wing left")
    for place in np.linspace(wing.rib, wing.tip - 0.02, 9):
        inner, middle, outer = (S.section_loads(precision, wing, now, place + d)[0] for d in (-5e-4, 0.0, 5e-4))
        slope = (inner[S.BENDING] - outer[S.BENDING]) / 1e-3
        assert slope == pytest.approx(middle[S.SHEAR], rel=1e-3, abs=0.05)


def test_torsion_and_fin_by_hand(precision):
    wing, fin = half(precision, "wing right", items=False), half(precision, "fin", items=False)
    force = np.zeros((int(precision.model[L.N_STRIPS]), 3))
    tip = wing.strips[-1]
    force[tip] = 3.0, 0.0, -10.0
    found = S.section_loads(precision, wing, still(precision, force))[0]
    at = np.array([precision.model[r + tip] for r in (L.X, L.Y, L.Z)]) + precision.mass.cg
    # file stations: joiner 150 mm aft, rib at 95 mm; the strip's quarter point lies 4 mm ahead of the tube
    assert found[S.TORSION] == pytest.approx(10.0 * (at[0] + 0.150), rel=1e-9) and found[S.TORSION] > 0.03
    assert found[S.BENDING] == pytest.approx(10.0 * (at[1] - 0.095))
    assert found[S.BENDING_FORWARD] == pytest.approx(3.0 * (at[1] - 0.095))
    force[:] = 0.0
    top = fin.strips[-1]
    force[top, 1] = 4.0  # to the right
    found = S.section_loads(precision, fin, still(precision, force))[0]
    height = -(precision.model[L.Z + top] + precision.mass.cg[2])
    stations = sorted(precision.setup.airframe.fuselage.stations, key=lambda s: s.x)
    root = fin.origin[0] + precision.mass.cg[0]
    edge = np.interp(root, [s.x for s in stations], [-(s.z - 0.5 * s.height) for s in stations])
    assert found[S.BENDING] == pytest.approx(4.0 * (height - edge)) and found[S.SHEAR] == 4.0


# ---- Newton -----------------------------------------------------------------------------------------------


def pulling(plane, p=0.0, q=2.5, r=0.0, v=0.0, flaps=(0.0, 0.0, -0.2, 0.0), rotor=600.0):
    """A hard pull at 28 m/s, alpha 9 deg, with other rates; flow half way to its steady state, power on."""
    x, command = blank_state(100.0), np.zeros(L.COMMAND)
    x[L.VELOCITY : L.VELOCITY + 3] = 28.0 * math.cos(0.16), v, 28.0 * math.sin(0.16)
    x[L.RATES : L.RATES + 3] = p, q, r
    x[L.QUATERNION : L.QUATERNION + 4] = quaternion_from_euler(0.0, 0.3, 0.0)
    x[L.ROTOR] = rotor
    x[L.SERVO : L.SERVO + 4] = flaps
    n = int(plane.model[L.N_STRIPS])
    for _ in range(60):
        dx = np.zeros(L.STATE)
        derivatives(x, command, plane.model, plane.table, dx)
        x[L.CIRCULATION : L.CIRCULATION + n] += 2e-3 * dx[L.CIRCULATION : L.CIRCULATION + n]
        x[L.SEPARATION : L.SEPARATION + n] += 2e-3 * dx[L.SEPARATION : L.SEPARATION + n]
    return x, command


@pytest.mark.parametrize("rates", [(0.0, 2.5, 0.0), (6.0, -3.0, 2.0)])
def test_forces_on_strips_and_items_are_in_balance(precision, rates):
    # Newton over the whole plane: air on strips, bodies and propeller, and what every item needs, add up to nothing.
    x, command = pulling(precision, *rates, v=4.0, flaps=(0.2, -0.15, -0.3, 0.2))
    now = S.instants(precision, row(x, command))
    force, moment = now.force[0].sum(axis=0), now.moment[0].sum(axis=0)
    model, dx = precision.model.copy(), np.zeros(L.STATE)
    derivatives(x, command, model, precision.table, dx)
    rest = loads_of(model)[[L.FUSELAGE, L.DRAG_BODIES, L.THRUST, L.OBLIQUE, L.GYROSCOPIC, L.TORQUE]].sum(axis=0)
    force, moment = force + rest[:3], moment + rest[3:]
    # the air that the fuselage carries along: all of it less the strips'
    aspects = S._aspects(precision)
    strips = np.zeros((6, 6))
    for mass, middle, normal in zip(*strips_carry(model, aspects)):
        motion = np.r_[normal, np.cross(middle, normal)]
        strips += mass * np.outer(motion, motion)
    carried = (added_mass(model, aspects) - strips) @ dx[np.r_[L.VELOCITY : L.VELOCITY + 3, L.RATES : L.RATES + 3]]
    force, moment = force - carried[:3], moment - carried[3:]
    for item in precision.items:
        placed = replace(item, at=tuple(np.asarray(item.at) - precision.mass.cg))
        pull, turn = (vector[0] for vector in S.inertia_loads(placed, now))
        force, moment = force + pull, moment + turn + np.cross(placed.at, pull)
    weight = precision.mass.mass * G
    assert np.abs(force).max() < 1e-9 * weight
    assert np.abs(moment).max() < 1e-9 * weight


def test_level_flight_at_one_g(precision, cruise):
    now = S.instants(precision, row(cruise.x, cruise.command))
    rows = [precision.model[r : r + int(precision.model[L.N_STRIPS])] for r in (L.X, L.Y, L.Z)]
    at = np.stack(rows, axis=1) + precision.mass.cg
    pitch = math.atan2(cruise.x[L.VELOCITY + 2], cruise.x[L.VELOCITY])
    for name, side in (("wing right", 1.0), ("wing left", -1.0)):
        wing = half(precision, name)
        found = S.section_loads(precision, wing, now)[0]
        # lift times arm strip by strip; the first strip, to 110 mm, is cut at the rib: 15 mm of it 7.5 mm out
        air = relief = 0.0
        for k, strip in enumerate(wing.strips):
            share, arm = (15.0 / 110.0, 0.0075) if k == 0 else (1.0, side * at[strip, 1] - 0.095)
            push, place = now.force[0, strip], at[strip] - precision.mass.cg
            couple = now.moment[0, strip, 0] - (place[1] * push[2] - place[2] * push[1])  # the strip's own, about x
            air += share * (arm * -push[2] - side * couple)
        # wing half: 620 g over 1080 mm from -70 to 1010 mm; tube: 200 g over 800 mm; servo of 80 g at 600 mm
        for mass, low, high, wide in ((0.620, 0.095, 1.010, 1.080), (0.200, 0.095, 0.400, 0.800)):
            relief += mass * (high - low) / wide * 0.5 * (high - low) * G * math.cos(pitch)
        relief += 0.080 * (0.600 - 0.095) * G * math.cos(pitch)
        assert found[S.BENDING] == pytest.approx(air - relief, rel=1e-6)
        # Elliptic: 4 s / 3 pi from the middle.  A wing of taper 0.54 lifts within 3 % of that (Glauert's series), the
        # jet over its inner third takes lift in by some per cent more.
        cut = S.section_loads(precision, replace(wing, items=()), now, 0.0)[0]
        assert cut[S.BENDING] == pytest.approx(cut[S.SHEAR] * 4.0 * wing.tip / (3.0 * math.pi), rel=0.05)


def test_uniform_wind_changes_no_load(precision):
    x, command = pulling(precision, p=3.0, r=1.0, v=2.0)
    here = S.instants(precision, row(x, command))
    blown = replace(precision, model=precision.model.copy())
    wind = np.array([6.0, -4.0, 0.5])
    blown.model[L.WIND : L.WIND + 3] = wind
    carried = x.copy()
    turn = np.reshape(body_to_earth(*x[L.QUATERNION : L.QUATERNION + 4]), (3, 3))
    carried[L.VELOCITY : L.VELOCITY + 3] += turn.T @ wind
    there = S.instants(blown, row(carried, command))
    for name in ("wing right", "stabiliser left", "fin"):
        a, b = (S.section_loads(p, half(precision, name), n)[0] for p, n in ((precision, here), (blown, there)))
        assert b == pytest.approx(a, rel=1e-8, abs=1e-8)


# ---- mirror images ----------------------------------------------------------------------------------------------


def unpowered(plane):
    """The plane without swirl, propeller and side thrust: with its rotor at rest, its mirror image flies the same."""
    model = plane.model.copy()
    model[L.SWIRL_ON], model[L.SHAFT + 1] = 0.0, 0.0
    return replace(plane, model=model, table=np.zeros_like(plane.table))


def mirrored_pair(plane, **rates):
    other = {key: -value if key in ("p", "r", "v") else value for key, value in rates.items() if key != "flaps"}
    flaps = rates.get("flaps", (0.0, 0.0, -0.2, 0.0))
    other["flaps"] = (flaps[1], flaps[0], flaps[2], -flaps[3])
    for asked in (rates, other):
        x, command = pulling(plane, **asked, rotor=0.0)
        yield S.instants(plane, row(x, command))


def test_even_flight_loads_both_halves_alike(precision):
    plane = unpowered(precision)
    x, command = pulling(plane, rotor=0.0)
    now = S.instants(plane, row(x, command))
    for surface in ("wing", "stabiliser"):
        right, left = (S.section_loads(plane, half(plane, f"{surface} {side}"), now)[0] for side in ("right", "left"))
        assert right == pytest.approx(left, rel=1e-7, abs=1e-7)


def test_a_mirrored_flight_changes_sides(precision):
    plane = unpowered(precision)
    one, other = mirrored_pair(plane, p=5.0, r=1.0, v=3.0, flaps=(0.2, -0.1, -0.2, 0.3))
    for surface in ("wing", "stabiliser"):
        right = S.section_loads(plane, half(plane, f"{surface} right"), one)[0]
        left = S.section_loads(plane, half(plane, f"{surface} left"), other)[0]
        assert right == pytest.approx(left, rel=1e-7, abs=1e-7)
    fin = [S.section_loads(plane, half(plane, "fin"), now)[0] for now in (one, other)]
    assert fin[0][S.BENDING] == pytest.approx(-fin[1][S.BENDING], rel=1e-7)


def test_rolling_bends_the_halves_apart(precision):
    # what a roll to the right at alpha 9 deg adds: the down-going right wing lifts more, the left less
    plane = unpowered(precision)
    rolling, level = (S.instants(plane, row(*pulling(plane, p=p, rotor=0.0))) for p in (2.0, 0.0))
    right, left = (
        S.section_loads(plane, half(plane, f"wing {side}"), rolling)[0, S.BENDING]
        - S.section_loads(plane, half(plane, f"wing {side}"), level)[0, S.BENDING]
        for side in ("right", "left")
    )
    assert right > 0.0 > left or right < 0.0 < left
    assert right + left == pytest.approx(0.0, abs=0.35 * abs(right))  # the even part goes with the square of the rate


# ---- masses -----------------------------------------------------------------------------------------------------------


def test_boxes_are_cut(precision):
    wing = half(precision, "wing right")
    box = Item("box", 1.0, (0.0, 0.4, 0.0), (0.2, 0.6, 0.05))  # from 100 to 700 mm of a CG in the middle
    assert abs(precision.mass.cg[1]) < 1e-15
    (part,) = S.outboard(box, wing, 0.55)
    assert (part.mass, part.at[1], part.size[1]) == pytest.approx((0.25, 0.625, 0.15))
    (uncut,) = S.outboard(box, wing, 0.05)
    assert (uncut.mass, uncut.at[1]) == pytest.approx((1.0, 0.4)) and S.outboard(box, wing, 0.71) == []
    point = Item("point", 1.0, (0.0, 0.4, 0.0))
    assert S.outboard(point, wing, 0.39) == [point] and S.outboard(point, wing, 0.41) == []


def test_what_lies_in_a_half(precision):
    names = {h.name: {item.name for item in h.items} for h in S.halves(precision)}
    assert names["wing right"] == {"right wing half", "wing tube and bolts", "right aileron servo"}
    assert names["wing left"] == {"left wing half", "wing tube and bolts", "left aileron servo"}
    assert names["stabiliser left"] == {"stabiliser halves"} and names["fin"] == {"fin and rudder"}
    # 620 g x 915 / 1080 + 200 g x 305 / 800 + 80 g
    assert half(precision, "wing right").relief == pytest.approx(0.52528 + 0.07625 + 0.080, abs=1e-4)


@pytest.mark.parametrize("name", ["moor-220-precision", "beck-150-extreme"])
def test_halves_of_other_planes(name):
    plane = build(load_setup(name))
    found = {h.name: h for h in S.halves(plane)}
    for side, other in (("right", "left"), ("left", "right")):
        # boxes that reach over the middle belong to one half alone; a tube through the middle to both
        names = {item.name for item in found[f"wing {side}"].items}
        assert f"{side} wing half" in names and f"{other} wing half" not in names and "wing tube and bolts" in names
        plate = f"{side}-side-force-plate"
        beside = set(range(*plane.strips[plate].indices(L.PAD))) if plate in plane.strips else set()
        assert set(found[f"wing {side}"].beside) == beside and not len(found[f"stabiliser {side}"].beside)
        assert (f"{side} side-force plate" in names) == bool(beside)
    assert found["wing right"].relief == pytest.approx(found["wing left"].relief, rel=1e-9)


def test_a_plate_at_the_tip_bends_the_wing():
    plane = build(load_setup("beck-150-extreme"))
    force = np.zeros((int(plane.model[L.N_STRIPS]), 3))
    plate = plane.strips["right-side-force-plate"]
    force[plate] = 0.0, 0.0, -2.5
    wing = half(plane, "wing right", items=False)
    found = S.section_loads(plane, wing, still(plane, force))[0]
    assert found[S.BENDING] == pytest.approx(5.0 * (0.752 - wing.rib)) and found[S.SHEAR] == pytest.approx(5.0)
