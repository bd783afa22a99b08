"""The linkage bench against closed forms, the flight's own transmitter, and brute force."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from models.linkage_schema import HalfLinkagePart
from models.loader import load_setup
from scenarios.bench.linkage import bench, edge_travel, largest_flap_chord, mismatch, place, servo_at, surface_at
from scenarios.bench.linkage_holes import ARMS, HORNS, holes_for
from sim.description import Linkage, Throw

EXTREME = load_setup("extreme")
PARALLEL = Linkage(0.03, 0.03, 0.15, rod_play=1e-4, gear_play=math.radians(0.3))
PART = HalfLinkagePart.model_validate({"servo arm": "30 mm", "horn height": "30 mm", "hinge height": "3 mm"})


def with_linkage(linkage, throw, control="elevator"):
    return replace(EXTREME, linkages={control: linkage}, throws={**EXTREME.throws, control: throw})


def test_edge_travel_is_the_straight_line():
    # 45 deg at a chord of 100 mm is 76.5 mm (arithmetic: 2 c sin(22.5 deg))
    assert edge_travel(0.100, math.radians(45.0)) == pytest.approx(0.0765, abs=0.5e-4)
    # between the two points themselves
    d = math.radians(62.0)
    assert edge_travel(0.113, d) == pytest.approx(math.hypot(0.113 * (1 - math.cos(d)), 0.113 * math.sin(d)))


def test_a_parallelogram_leaves_exponential_alone():
    b = bench(with_linkage(PARALLEL, Throw(0.7, 0.7, 0.6)), "elevator", torque=2.0)
    for p in b.points:
        assert p.surface == pytest.approx(p.straight, abs=1e-12) and p.rate == pytest.approx(1.0)
        assert p.straight == pytest.approx(0.7 * (0.4 * p.stick + 0.6 * p.stick**3))
    assert b.positive.torque == pytest.approx(2 * 2.0)  # two servos share the elevator of this setup
    assert b.centre.leverage == pytest.approx(1.0)
    assert b.differential[1] == pytest.approx(b.differential[2])
    # the rod lies along the chord throughout: the gears' play comes whole, the rod's over the horn's height above it
    assert b.centre.gear_slop == pytest.approx(math.radians(0.3))
    assert b.centre.rod_slop == pytest.approx(1e-4 / 0.030)
    assert b.positive.rod_slop == pytest.approx(1e-4 / (0.030 * math.cos(0.7)))
    assert b.centre.step == pytest.approx(2 * PARALLEL.travel / 2048)
    # dead when the horn lies along the rod
    assert b.dead == pytest.approx((math.pi / 2 - 0.7,) * 2, abs=1e-6)


@pytest.mark.parametrize("control", ["aileron", "elevator", "rudder"])
def test_full_stick_is_the_throw_and_play_is_felt_as_it_says(control):
    b = bench(EXTREME, control)
    throw, link = EXTREME.throws[control], EXTREME.linkages[control]
    assert b.points[-1].surface == pytest.approx(throw.positive) and b.points[0].surface == pytest.approx(
        -throw.negative
    )
    assert b.points[20].surface == 0.0
    assert b.positive.time == pytest.approx(b.positive.servo / EXTREME.servos[control].speed)
    assert all(a.surface < c.surface for a, c in zip(b.points, b.points[1:]))
    # play by moving what plays: half of it either way at the servo, and a rod that is longer or shorter by half of it
    for p in (b.centre, b.positive, b.negative):
        moved = [float(surface_at(link, p.servo + half)) for half in (-0.5 * link.gear_play, 0.5 * link.gear_play)]
        assert moved[1] - moved[0] == pytest.approx(p.gear_slop, rel=2e-3)  # third order in the play
        lengths = [b.rod_length + half for half in (-0.5 * link.rod_play, 0.5 * link.rod_play)]
        stretched = [loop(link, -p.servo * link.push, length, -p.surface * link.push) for length in lengths]
        assert abs(stretched[1] - stretched[0]) == pytest.approx(p.rod_slop, rel=2e-3)


def loop(link, s, length, near):
    """The horn's angle, aft, for an arm's angle and a rod of some length: Brent's rule on the distance of the holes."""

    def too_long(d):
        horn = np.array([link.distance, link.height]) + np.array(
            [
                link.horn_offset * math.cos(d) + link.horn * math.sin(d),
                link.horn * math.cos(d) - link.horn_offset * math.sin(d),
            ]
        )
        arm = link.arm * np.array([math.sin(link.neutral + s), math.cos(link.neutral + s)])
        return math.hypot(*(horn - arm)) - length

    return brentq(too_long, near - 0.05, near + 0.05, xtol=1e-14)


def test_end_points_hold_throws_that_differ():
    b = bench(with_linkage(replace(PARALLEL, neutral=0.1), Throw(0.8, 0.5)), "elevator")
    assert (b.points[-1].surface, b.points[0].surface) == pytest.approx((0.8, -0.5))
    assert b.positive.servo == pytest.approx(servo_at(b.linkage, 0.8))


def test_the_largest_chord_behind_the_hinge_line():
    # tarn-220: elevator 45 to 50 % of 255 to 165 mm from 8 % of the span; at 8 %: 247.8 mm times 45.4 %
    assert largest_flap_chord(EXTREME.airframe, "elevator") == pytest.approx((0.2478 * 0.454, 0.08))
    assert largest_flap_chord(EXTREME.airframe, "flap") == (0.0, 0.0)


def test_equal_halves_agree_and_an_error_shows():
    b = bench(EXTREME, "elevator")
    same = mismatch("same", b.linkage, b.linkage, b.positive, b.negative)
    assert (same.positive, same.negative, same.between) == pytest.approx((0.0, 0.0, 0.0), abs=1e-9)
    # a longer horn goes less far at equal servo angles; small throws by the ratio of the horns
    longer = replace(PARALLEL, horn=0.031, height=-0.001)
    near = [place(PARALLEL, throw) for throw in (0.05, -0.05)]
    m = mismatch("longer", PARALLEL, longer, *near)
    assert (m.positive, m.negative) == pytest.approx((0.05 * (30 / 31 - 1),) * 2, rel=0.02)
    assert m.between < 0.02 * abs(m.positive)  # end points take nearly all of it out
    assert {m.about for m in bench(EXTREME, "rudder").halves} == set()
    # an arm that is far too short does not get there, and says so
    assert mismatch("short", b.linkage, replace(b.linkage, arm=0.005), b.positive, b.negative).between is None
    scree = bench(load_setup("scree-270-slow-3d"), "elevator")
    assert scree.halves[0].about == "the other half of the setup" and scree.halves[0].positive > math.radians(0.5)


def brute_force(wanted):
    """(step at the centre, arm, horn) of every pair that reaches `wanted` both ways within 60 deg, by closing the loop on a grid."""
    found = []
    for arm in ARMS:
        for horn in HORNS:
            link = Linkage(arm, horn, 4 * horn, height=0.003)
            length = math.hypot(4 * horn, 0.003 + horn - arm)
            reach = []
            for sign in (-1.0, 1.0):
                d, best = 0.0, 0.0
                for s in np.linspace(0.0, sign * math.radians(60.0), 121)[1:]:
                    try:
                        d = loop(link, s, length, d)
                    except ValueError:
                        break
                    if abs(d) < best:
                        break
                    best = abs(d)
                reach.append(best)
            if min(reach) >= wanted:
                small = loop(link, 1e-4, length, 0.0) - loop(link, -1e-4, length, 0.0)
                found.append((small / 2e-4 * 120.0 / 2048.0, arm, horn))
    return sorted(found)


def test_the_best_holes_are_those_of_brute_force():
    wanted = math.radians(45.0)
    can, cannot = holes_for(PART, wanted)
    assert len(can) + len(cannot) == len(ARMS) * len(HORNS)
    brute = brute_force(wanted)
    near_dead = [h for h in cannot if "dead point" in h.reason]
    assert {(h.arm, h.horn) for h in can + near_dead} == {(arm, horn) for _, arm, horn in brute}
    best = can[0]
    finest = [b for b in brute if round(b[0], 3) == round(brute[0][0], 3)]
    assert (best.arm, best.horn) in {b[1:] for b in finest}
    assert math.degrees(best.centre.step) == pytest.approx(brute[0][0], abs=0.6e-3)
    assert best.centre.slop == min(h.centre.slop for h in can if h.order[0] == best.order[0])
    assert [h.order for h in can] == sorted(h.order for h in can)


def test_what_cannot_says_how_far_it_goes():
    can, cannot = holes_for(PART, math.radians(45.0), arms=[0.015], horns=[0.030, 0.020])
    assert not can and [h.horn for h in cannot] == [0.020, 0.030]
    assert "servo's travel ends" in cannot[0].reason and cannot[0].most < math.radians(45.0)
