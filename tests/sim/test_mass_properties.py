"""Mass, centre of gravity and inertia against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from sim.description import Item
from sim.mass_properties import OutOfReach, mass_properties, slide_to_cg


def test_a_box_has_its_textbook_inertia():
    found = mass_properties((Item("box", 12.0, (0.3, -0.1, 0.2), (0.2, 0.3, 0.4)),))
    assert found.mass == 12.0
    assert found.cg == pytest.approx([0.3, -0.1, 0.2], abs=1e-15)
    # m / 12 (b^2 + c^2) and so on
    assert found.inertia == pytest.approx(np.diag([0.09 + 0.16, 0.04 + 0.16, 0.04 + 0.09]), abs=1e-15)


def test_two_points_are_a_dumb_bell():
    # reduced mass 2 kg at distance d: I = mu (d^2 1 - d d)
    d = np.array([1.0, 2.0, -0.5])
    found = mass_properties((Item("a", 3.0, (0.0, 0.0, 0.0)), Item("b", 6.0, tuple(d))))
    assert found.cg == pytest.approx(d * 2 / 3)
    assert found.inertia == pytest.approx(2.0 * (d @ d * np.eye(3) - np.outer(d, d)))
    assert found.inertia[0, 1] == pytest.approx(-2.0 * d[0] * d[1])  # products carry the minus sign


def test_a_box_cut_in_pieces_is_the_same_box():
    whole = mass_properties((Item("box", 8.0, (0.0, 0.0, 0.0), (0.8, 0.2, 0.1)),))
    parts = tuple(Item(f"slice {i}", 2.0, (-0.3 + 0.2 * i, 0.0, 0.0), (0.2, 0.2, 0.1)) for i in range(4))
    assert mass_properties(parts).inertia == pytest.approx(whole.inertia, abs=1e-14)


def test_parallel_axis_rule_moves_with_the_whole():
    items = (Item("a", 1.0, (0.1, 0.2, 0.3), (0.1, 0.1, 0.1)), Item("b", 2.0, (-0.4, 0.0, 0.1)))
    moved = tuple(Item(i.name, i.mass, tuple(np.add(i.at, (5.0, -3.0, 1.0))), i.size) for i in items)
    assert mass_properties(moved).inertia == pytest.approx(mass_properties(items).inertia, abs=1e-12)


def test_sliding_the_battery_puts_the_cg_exactly_there():
    items = (Item("rest", 5.0, (-0.2, 0.0, 0.0)), Item("battery", 1.4, (0.1, 0.0, 0.02), slide=(-0.5, 0.4)))
    placed = slide_to_cg(items, "battery", -0.15)
    assert mass_properties(placed).cg[0] == pytest.approx(-0.15, abs=1e-15)
    moved = placed[1].at[0]
    assert moved == pytest.approx((-0.15 * 6.4 + 1.0) / 1.4)
    assert placed[1].at[1:] == (0.0, 0.02)
    # inertia follows: I_yy = reduced mass x distance^2
    reduced = 5.0 * 1.4 / 6.4
    assert mass_properties(placed).inertia[1, 1] == pytest.approx(reduced * ((moved + 0.2) ** 2 + 0.02**2))


def test_out_of_reach_says_what_is_needed_and_what_is_possible():
    items = (Item("rest", 5.0, (-0.2, 0.0, 0.0)), Item("battery", 1.0, (0.1, 0.0, 0.0), slide=(0.4, -0.4)))
    with pytest.raises(OutOfReach) as stop:
        slide_to_cg(items, "battery", 0.0)
    assert stop.value.needed == pytest.approx(1.0)
    assert stop.value.reach == pytest.approx(((-1.0 - 0.4) / 6.0, (-1.0 + 0.4) / 6.0))
    assert stop.value.item.name == "battery"
    # the ends of the tray themselves are allowed
    assert slide_to_cg(items, "battery", stop.value.reach[1])[1].at[0] == pytest.approx(0.4)


def test_what_cannot_slide_is_refused():
    items = (Item("rest", 5.0, (0.0, 0.0, 0.0)),)
    with pytest.raises(ValueError, match="rest has no tray"):
        slide_to_cg(items, "rest", 0.0)
    with pytest.raises(KeyError):
        slide_to_cg(items, "battery", 0.0)


def test_demo_plane_is_a_possible_body(precision):
    # any body: no axis above the sum of the others; a flat aeroplane: I_zz within 10 % of I_xx + I_yy
    ixx, iyy, izz = np.diag(precision.mass.inertia)
    assert izz <= ixx + iyy and iyy <= ixx + izz
    assert 0.9 < izz / (ixx + iyy) <= 1.0
    # MXS swing tests scaled: radius of gyration over span 0.15 in roll (file: kx over area/chord 0.151), 25 %
    assert np.sqrt(ixx / precision.mass.mass) / precision.span == pytest.approx(0.151, rel=0.25)


def test_a_rod_about_its_middle_and_its_end():
    # closed forms m L^2 / 12 and m L^2 / 3; the second as the rod's share about a heavy thing at its end
    rod = Item("rod", 0.6, (0.0, 0.75, 0.0), (0.0, 1.5, 0.0))
    alone = mass_properties((rod,)).inertia
    assert np.diag(alone) == pytest.approx([0.6 * 1.5**2 / 12.0, 0.0, 0.6 * 1.5**2 / 12.0])
    heavy = mass_properties((rod, Item("anvil", 1e9, (0.0, 0.0, 0.0))))
    assert heavy.inertia[0, 0] == pytest.approx(0.6 * 1.5**2 / 3.0, rel=1e-6)


def test_product_of_inertia_of_fin_and_gear():
    # masses high behind and low ahead: body x forward, z down, so both have x z > 0 and I_xz = -sum m x z < 0
    items = (Item("fin", 0.4, (-1.0, 0.0, -0.3)), Item("gear", 0.4, (1.0, 0.0, 0.3)))
    assert mass_properties(items).inertia[0, 2] == pytest.approx(-2 * 0.4 * 1.0 * 0.3)
    # principal axes lie along the line of the two and across it: tan 2 theta = 2 I_xz / (I_zz - I_xx)
    principal = np.linalg.eigvalsh(mass_properties(items).inertia)
    assert principal == pytest.approx([0.0, 0.8 * 1.09, 0.8 * 1.09], abs=1e-12)
