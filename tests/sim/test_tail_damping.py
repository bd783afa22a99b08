"""The tail damping power factor of NACA TN-1329 as arithmetic.

It was meant to foretell recovery from spins by rudder.  Burk, Bowman and White (NASA
TP-1009, 1977) found that it does not: so the project offers no such number to pilots, and
this page keeps the definition for whoever meets the factor elsewhere.
"""

from __future__ import annotations

import pytest

from tests.sim.reference import facts

PUBLISHED = facts("spin_tail_damping.yaml")


def tail_damping_power_factor(S, b, S_F, L, rudders) -> tuple[float, float, float]:
    """Tail damping ratio, unshielded rudder volume coefficient, and their product.

    Wing area `S` and span `b`; body side area `S_F` under the stabiliser with its centroid
    `L` behind the CG; `rudders` are pairs of unshielded area and arm, above and below the
    stabiliser's wake.  Any one unit of length.
    """
    damping_ratio = S_F * L**2 / (S * (0.5 * b) ** 2)
    rudder_volume = sum(area * arm for area, arm in rudders) / (S * 0.5 * b)
    return damping_ratio, rudder_volume, damping_ratio * rudder_volume


@pytest.mark.parametrize("example", PUBLISHED["examples"], ids=lambda e: f"b{e['b']}")
def test_worked_examples(example):
    e = example
    rudders = ((e["S_R1"], e["L1"]), (e["S_R2"], e["L2"]))
    found = tail_damping_power_factor(e["S"], e["b"], e["S_F"], e["L"], rudders)
    assert found == pytest.approx((e["TDR"], e["URVC"], e["TDPF"]), rel=1e-3)  # the notes on quality: 0.1 %


def test_length_units_cancel():
    e = PUBLISHED["examples"][0]
    feet = 1.0 / 0.3048
    metric = tail_damping_power_factor(e["S"], e["b"], e["S_F"], e["L"], ((e["S_R1"], e["L1"]),))
    imperial = tail_damping_power_factor(
        e["S"] * feet**2, e["b"] * feet, e["S_F"] * feet**2, e["L"] * feet, ((e["S_R1"] * feet**2, e["L1"] * feet),)
    )
    assert imperial == pytest.approx(metric, rel=1e-12)
