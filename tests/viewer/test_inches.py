"""Inches, ounces and pounds beside what is shown in SI."""

import re

import pytest

from models.units import parse
from viewer.text import in_inches, with_inches


@pytest.mark.parametrize(
    "cell, inches",
    [
        # NIST SP 811: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, 1 mile = 1609.344 m, exactly
        ("152 mm", "5.98 in"),
        ("-20 mm", "-0.79 in"),
        ("6.49 kg", "14 lb 4.9 oz"),
        ("0.4535 kg", "1 lb 0.0 oz"),
        ("620 g", "21.87 oz"),
        ("25 m/s", "55.9 mph"),
        ("2.2 m", "7.2 ft"),
        ("2.5 N m", "354 oz in"),
        ("0.847 m2", "1313 in2"),
        ("31 %", ""),
        ("12 deg", ""),
        ("1.5 kg m2", ""),
        ("mm", ""),
        ("", ""),
        ("about 3 mm", ""),
    ],
)
def test_a_cell_in_inches(cell, inches):
    assert in_inches(cell) == inches
    assert with_inches(cell) == (f"{cell} ({inches})" if inches else cell)


def test_what_is_shown_can_be_typed_in():
    assert parse(in_inches("6.49 kg"), "mass") == pytest.approx(6.49, abs=0.05 * 0.0284)  # a tenth of an ounce


def test_balance_and_compare_in_inches(upline):
    code, out, _ = upline("balance", "precision", "--also-inches")
    assert code == 0 and max(map(len, out.splitlines())) <= 80
    assert re.search(r"centre of gravity +159 mm +6\.26 in  behind the leading edge", out)
    assert " in  " not in upline("balance", "precision")[1]
    code, out, _ = upline("compare", "precision", "slow-3d", "--manoeuvre", "level-trim", "--also-inches")
    assert code == 0 and re.search(r"CG, in +6\.26 +7\.66", out)


def test_a_cg_for_all_is_no_difference(upline):
    code, out, _ = upline("compare", "precision", "precision-aft", "--manoeuvre", "level-trim", "--cg", "150 mm")
    assert code == 0 and "What differs in the files\n\nnothing" in out
