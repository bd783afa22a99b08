"""The structure bench: which instant is the hardest, what it comes to, and full elevator over speed."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from models.loader import load_setup
from scenarios.bench.pulls import crossing, greatest_lift
from scenarios.bench.structure import HARD_SET, loads_of_flight, structure_bench
from scenarios.manoeuvres import fly_manoeuvre, known_manoeuvres, load_manoeuvre
from scenarios.measures import MEASURES, NotMeasured
from sim import span_loads as S
from sim import structure as T
from sim.recording import STATE_AT
from tests.scenarios.flying import flown, plane_of
from tests.scenarios.test_stall_formula import greatest_lift as written_apart


@cache
def bench(setup: str, *manoeuvres: str):
    return structure_bench(load_setup(setup), [load_manoeuvre(m)[0] for m in manoeuvres])


def test_the_hard_set_is_built_in():
    assert set(HARD_SET) <= {name for name, _ in known_manoeuvres()}


def test_the_hardest_instant_is_that_of_the_least_margin():
    flight = flown("extreme", "high-speed-pass")
    found = loads_of_flight(flight)
    now = S.instants(flight.plane, flight.flight.rows)
    joiner = S.joiner_of(flight.plane, "wing")
    for half in (h for h in S.halves(flight.plane) if h.surface == "wing"):
        loads = S.section_loads(flight.plane, half, now)
        stress = np.hypot(loads[:, S.BENDING], loads[:, S.BENDING_FORWARD]) * 0.015
        stress /= math.pi / 64.0 * (0.0300**4 - 0.0282**4)
        assert found.hardest["wing"].stress >= stress.max() * (1.0 - 1e-12)
        assert abs(found.torsion["wing"]) >= np.abs(loads[:, S.TORSION]).max()
        if half.name == found.hardest["wing"].half:
            k = int(np.argmax(stress))
            assert (found.hardest["wing"].frame, found.hardest["wing"].phase) == (k, "full stick")
            assert found.hardest["wing"].load_factor == flight.flight.channel("load z")[k]
            assert found.hardest["wing"].margin == pytest.approx(
                T.allowed_bending(joiner.material)[0] / stress[k] - 1.0, rel=1e-9
            )
    assert found.peak == MEASURES["peak_load"].take(flight)
    right, left = (S.section_loads(flight.plane, h, now)[:, S.BENDING] for h in S.halves(flight.plane)[:2])
    assert abs(found.uneven["wing"].bending) == pytest.approx(0.5 * np.abs(right - left).max(), rel=1e-12)


def test_without_a_joiner_the_hardest_instant_is_the_greatest_bending():
    setup = load_setup("precision")
    bare = replace(setup, airframe=replace(setup.airframe, structure=None))
    flight = fly_manoeuvre(bare, load_manoeuvre("wall")[0])
    found = loads_of_flight(flight).hardest["wing"]
    assert found.stress is None and found.margin is None and found.bending > 10.0
    with pytest.raises(NotMeasured, match="does not describe the wing's joiner"):
        MEASURES["joiner_margin"].take(flight)
    assert MEASURES["root_bending"].take(flight) == pytest.approx(
        found.bending, rel=0.02
    )  # the fuselage side, 2 mm off


def test_measures_are_those_of_the_bench():
    flight, found = flown("extreme", "snap-roll-right"), bench("extreme", "snap-roll-right").flights[0]
    assert MEASURES["joiner_margin"].take(flight) == pytest.approx(found.hardest["wing"].margin, rel=1e-9)
    assert MEASURES["root_bending"].take(flight) == pytest.approx(found.hardest["wing"].bending, rel=0.02)


def test_frames_that_are_not_finite_are_left_out():
    flight = flown("precision", "wall")
    broken = replace(flight, flight=replace(flight.flight, rows=flight.flight.rows.copy()))
    broken.flight.rows[60:, STATE_AT] = math.nan
    found = loads_of_flight(broken)
    assert found.hardest["wing"].time < 0.6 and math.isfinite(found.hardest["wing"].bending)
    broken.flight.rows[:, STATE_AT] = math.nan
    assert loads_of_flight(broken).reason == "no frame of it is finite"


# ---- full elevator over speed ------------------------------------------------------------------------------


@pytest.mark.parametrize("setup", ["precision", "extreme"])
def test_full_elevator_goes_with_the_square_of_speed(setup):
    # The bound is the wing's steady lift with controls neutral.  Under it: 12 deg of elevator end below the stall (found
    # 0.83 to 0.94).  Over it: separation lags five chords, 0.08 s at 25 m/s, in which the nose goes on by 8 deg at 100
    # deg/s, and body and propeller carry with the nose up (found 1.20).  A third is what dynamic stall adds to the lift of
    # a section pitched that fast (common practice, no source).
    pulls = bench(setup, "wall").pulls
    level = [p for p in pulls if p.dive == 0.0]
    assert len(level) >= 4
    for pull in pulls:
        assert 0.75 < pull.load_factor / pull.bound < 1.33
        assert pull.hardest.bending > 0.0
    # a force at one angle of attack goes with V^2: between 20 and 30 m/s within 6 %, as the tail's wake turns less
    slow, fast = level[1], level[3]
    assert fast.load_factor / slow.load_factor == pytest.approx((fast.speed / slow.speed) ** 2, rel=0.06)
    # bending over load factor is one number as long as the shape of the load stays, within 5 %
    per_g = [p.hardest.bending / p.load_factor for p in pulls]
    assert max(per_g) / min(per_g) < 1.05


def test_more_throw_pulls_more():
    precision, extreme = (bench(s, "wall") for s in ("precision", "extreme"))
    assert extreme.limit_speed < precision.limit_speed and extreme.margin_speed < precision.margin_speed
    for found in (precision, extreme):
        below, above = ([p for p in found.pulls if (p.load_factor > 8.0) is past] for past in (False, True))
        assert below[-1].speed <= found.limit_speed <= above[0].speed
        below, above = ([p for p in found.pulls if (p.hardest.margin < 0.0) is past] for past in (False, True))
        assert below[-1].speed <= found.margin_speed <= above[0].speed
        assert found.stall_speed == pytest.approx(10.5, abs=0.4)  # 64 N on 0.85 m2 at a lift coefficient of 1.1


def test_greatest_lift_is_the_first_peak():
    # the sweep that the flown stall is held against, written apart; Reynolds number and density alike
    assert greatest_lift(plane_of("precision"), 20.0) == pytest.approx(
        written_apart(plane_of("precision"), 20.0)[0], rel=2e-3
    )


def test_words_of_an_even_pull():
    found = bench("extreme", "wall")
    pull = found.reference()
    assert abs(pull.load_factor - 8.0) == min(abs(p.load_factor - 8.0) for p in found.pulls)
    assert found.stress_per_g() == pytest.approx(pull.hardest.stress / pull.load_factor)
    # the tip rises by the tube's bend over the length beyond the rib
    joiner, hardest = found.joiners["wing"], found.worst()[1]
    angle = T.bend_angle(joiner, 0.095, hardest.bending)
    assert found.tip_rise(hardest) == pytest.approx(angle * (1.100 - 0.095), rel=1e-9)


def test_crossings():
    assert crossing([10, 20, 30], [1.0, 4.0, 9.0], 6.0) == pytest.approx(24.0)
    assert crossing([10, 20, 30], [1.0, 4.0, 9.0], 10.0) is None
    assert crossing([10, 20], [7.0, 9.0], 6.0) == 10.0
    assert crossing([], [], 6.0) is None


def test_along_the_span_begins_at_the_root_and_ends_at_nothing():
    found = bench("extreme", "high-speed-pass", "wall")
    assert found.along.manoeuvre == "high-speed-pass" == found.worst()[0].manoeuvre
    bending = found.along.loads[found.worst()[1].half][:, S.BENDING]
    assert bending[0] == pytest.approx(found.worst()[1].bending, rel=1e-9)
    assert bending[-1] == pytest.approx(0.0, abs=1e-6) and (np.diff(bending) < 0.0).all()
