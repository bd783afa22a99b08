"""Air against the tables of ISO 2533:1975."""

from __future__ import annotations

import pytest

from sim.atmosphere import density, standard_atmosphere
from tests.sim.reference import table


@pytest.mark.parametrize("row", table("isa_table.csv"), ids=lambda row: f"{row['H_m']:.0f}m")
def test_standard_atmosphere(row):
    # isa_table.csv is printed to seven digits, the sea-level row to four or more: 1e-5 relative
    published = (row["T_K"], row["p_Pa"], row["rho"], row["a_m_s"], row["mu"])
    assert standard_atmosphere(row["H_m"]) == pytest.approx(published, rel=1e-5)
    assert density(row["H_m"]) == pytest.approx(row["rho"], rel=1e-5)
