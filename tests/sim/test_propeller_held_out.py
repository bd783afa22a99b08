"""Blade families against wind-tunnel runs that nothing was set on: other sizes, other pitches, other makes.

UIUC Propeller Database, see tests/reference/prop_held_out.csv.  Differences are in parts of the greatest measured
thrust, and of the power at the least advance ratio, over all rows from J 0.1 to past the end of thrust.  What is claimed
is what was found, to the next per cent or two: these are the errors that a pilot has to reckon with, and
`scenarios.bench.propeller_checks` says them.
"""

from __future__ import annotations

import numpy as np
import pytest

from scenarios.bench import propeller_checks as checks
from sim.propeller import thrust_and_power
from tests.sim.reference import table
from tests.sim.test_propeller import RUNS, measured_blades, propeller, tip_speed, zero_thrust

# propeller, family, lowest and highest difference of thrust, of power, tolerance of the J at which thrust ends.
HELD_OUT = {
    # the largest propeller of the database, the family's own make
    "19x12 electric": ("apce_19x12", "thin-light", (-0.14, 0.03), (-0.23, -0.04), 0.04),
    # pitch over diameter 0.345 and 0.70, the family's own make (11x4.7); braking to 1.3 times the J of zero thrust
    "11x3.8 slow flyer": ("apcsf_11x3p8", "slow-broad", (-0.06, 0.10), (-0.13, 0.05), 0.04),
    "10x7 slow flyer": ("apcsf_10x7", "slow-broad", (-0.09, -0.03), (-0.15, 0.0), 0.04),
    # pitch over diameter 1.2: half of the blade is stalled at low J
    "10x12 carbon": ("ancf_10x12", "narrow-carbon", (-0.20, 0.05), (-0.25, 0.06), 0.02),
    # another make than the 14x13 that the family's shape was estimated beside
    "9x8 sport": ("ma_9x8", "broad-sport", (-0.04, 0.03), (-0.13, 0.19), 0.02),
    # The only wooden one.  It makes far less thrust for its power than any moulded one (efficiency 0.48 at best): thick
    # blades at Re 9e4.  The family is meant for five times that; a disagreement all the same.
    "11x7 wooden": ("zin_11x7", "stiff-wood", (0.12, 0.41), (-0.02, 0.12), 0.09),
}


@pytest.mark.parametrize("name, family, thrust, power, end", HELD_OUT.values(), ids=HELD_OUT)
def test_families_against_runs_that_nothing_was_set_on(name, family, thrust, power, end):
    rows = table("prop_held_out.csv", propeller=name)
    p = propeller(rows[0]["diameter"], rows[0]["pitch"], family)
    found = np.array([thrust_and_power(p, r["J"], tip_speed(p, r["rpm"])) for r in rows])
    j, ct, cp = np.array([[r["J"], r["CT"], r["CP"]] for r in rows]).T
    off = (found - np.c_[ct, cp]) / (ct.max(), cp[0])
    assert thrust[0] < off[:, 0].min() and off[:, 0].max() < thrust[1], (off[:, 0].min(), off[:, 0].max())
    assert power[0] < off[:, 1].min() and off[:, 1].max() < power[1], (off[:, 1].min(), off[:, 1].max())
    order = np.argsort(-ct)
    measured_end = float(np.interp(0.0, -ct[order], j[order]))
    assert zero_thrust(p, tip_speed(p, rows[-1]["rpm"])) == pytest.approx(measured_end, rel=end)


def test_slow_flyers_as_their_blades_were_measured():
    # The theory alone on trial, blades as photographed.  11x3.8: within 6 % of static thrust up to the end of thrust,
    # braking 9 % of static too little.  10x7: blade angles give the end of thrust at J 0.81 instead of 0.87, as if they
    # had been read 1.5 deg low, and thrust is 7 to 12 % of static low throughout.
    for name, diameter, pitch, low, high, end in (
        ("apcsf_11x3p8", 11, 3.8, -0.01, 0.13, 0.05),
        ("apcsf_10x7", 10, 7, -0.12, -0.06, 0.08),
    ):
        rows = table("prop_held_out.csv", propeller=name)
        p = propeller(diameter, pitch, measured_blades(name, diameter, pitch, -6.0, thin=True))
        ct = np.array([r["CT"] for r in rows])
        found = np.array([thrust_and_power(p, r["J"], tip_speed(p, r["rpm"]))[0] for r in rows])
        off = (found - ct) / ct.max()
        assert low < off.min() and off.max() < high
        j = np.array([r["J"] for r in rows])
        assert zero_thrust(p, tip_speed(p, 6000)) == pytest.approx(np.interp(0.0, -ct, j), rel=end)


def test_what_is_said_to_be_checked_is_what_the_data_hold():
    held = {name: table("prop_held_out.csv", propeller=row[0]) for name, row in HELD_OUT.items()}
    ratios = [rows[0]["pitch"] / rows[0]["diameter"] for rows in held.values()]
    ratios += [p.pitch / p.diameter for _, p, _, _ in RUNS.values()]
    low, high = checks.PITCH_OVER_DIAMETER
    assert low <= min(ratios) and min(ratios) - low < 0.01
    assert max(r for r in ratios if r < 1.0) <= high < max(r for r in ratios if r < 1.0) + 0.015
    assert max(ratios) == pytest.approx(checks.HIGHEST_PITCH)
    fastest = [
        checks.reynolds(p, tip_speed(p, max(r["rpm"] for r in table(file))) / (0.5 * p.diameter))
        for file, p, _, _ in RUNS.values()
    ]
    assert max(fastest) == pytest.approx(checks.REYNOLDS, rel=0.03)
    slow = held["11x3.8 slow flyer"]
    end = np.interp(0.0, [-r["CT"] for r in slow], [r["J"] for r in slow])
    assert slow[-1]["J"] / end == pytest.approx(checks.PAST_ZERO_THRUST, abs=0.01)
    assert set(checks.COMPARED) == {"broad-sport", "thin-light", "narrow-carbon", "slow-broad", "stiff-wood"}


def test_one_engine_and_five_propellers():
    # Published by a flyer (propeller tests of one engine; hobby source): 13x6 12500, 14x6 10900, 15x6 10200, 16x6 8300,
    # 15x8 8100 rev/min, and "15x6 pulled best".  The torque of one engine at full throttle hardly depends on its speed, so
    # the torque that each propeller takes at its speed must come out equal: found within 9 % of their mean, whichever
    # family (propellers of several makes; a map of torque falls by some 5 % over such a range).  12 % is claimed.
    read = {(13, 6): 12500, (14, 6): 10900, (15, 6): 10200, (16, 6): 8300, (15, 8): 8100}
    for family in ("broad-sport", "stiff-wood", "thin-light"):
        torque, thrust = {}, {}
        for (diameter, pitch), rpm in read.items():
            p = propeller(diameter, pitch, family)
            ct, cp = thrust_and_power(p, 0.0, tip_speed(p, rpm))
            torque[diameter, pitch] = cp * (rpm / 60.0) ** 2 * p.diameter**5
            thrust[diameter, pitch] = ct * (rpm / 60.0) ** 2 * p.diameter**4
        mean = np.mean(list(torque.values()))
        assert np.array(list(torque.values())) / mean == pytest.approx(np.ones(5), abs=0.12)
        assert max(thrust, key=thrust.__getitem__) == (15, 6)
