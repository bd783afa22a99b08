"""A wing in a propeller's slipstream against wind-tunnel test: lift gained, and what swirl does to each side."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sim import layout as L
from sim.induced_velocity import induce
from sim.lifting_surfaces import CIRCULATION_LAG, SEPARATION_LAG, load_strips, place_surfaces
from sim.slipstream import fill_slipstream
from tests.sim.isolated import RHO, blank_model, straight
from tests.sim.reference import table

# The model of slipstream_wing_prowim_veldhuis.csv (Veldhuis, thesis, Delft 2005): see the file's header.
SPAN, CHORD, SPEED, DIAMETER = 1.28, 0.24, 50.0, 0.236
HUB_Y, HUB_AHEAD, THRUST, ADVANCE = 0.30, 0.2018, 0.168, 0.85
EFFICIENCY = 0.78  # not in the file: usual at that advance ratio; the torque follows from it
NACELLE = 0.035  # m, radius
SIDE = 20  # strips a side


def distribution(alpha_deg: float, blowing: bool) -> tuple[np.ndarray, np.ndarray]:
    """eta = 2 y / b and local normal force coefficient of the right half, with one propeller on it or none."""
    alpha = math.radians(alpha_deg)
    m = blank_model()
    wing = straight(SPAN / CHORD, 1.0, strips=SIDE, area=SPAN * CHORD, thickness=0.15)
    place_surfaces((wing,), np.zeros(3), m)
    n = 2 * SIDE
    m[L.HUB], m[L.HUB + 1], m[L.DISK_RADIUS] = HUB_AHEAD - 0.25 * CHORD, HUB_Y, 0.5 * DIAMETER
    m[L.SENSE] = m[L.SWIRL_ON] = 1.0  # clockwise from behind: on the right half its inboard side goes up
    m[L.BLOCKED : L.BLOCKED + n] = NACELLE**2
    u, w = SPEED * math.cos(alpha), SPEED * math.sin(alpha)
    if blowing:
        thrust = THRUST * RHO * SPEED**2 * DIAMETER**2
        disk = math.pi * DIAMETER**2 / 4.0
        w0 = 0.5 * (math.sqrt(SPEED**2 + 2.0 * thrust / (RHO * disk)) - SPEED)
        fill_slipstream(m, u, 0.0, w, u, w0, thrust * ADVANCE * DIAMETER / (2.0 * math.pi * EFFICIENCY), RHO)
    circulation, separation = np.zeros(n), np.ones(n)
    for _ in range(2000):
        m[L.GAMMA : L.GAMMA + n] = circulation
        m[L.SEPARATION_NOW : L.SEPARATION_NOW + n] = m[L.SEPARATED : L.SEPARATED + n] = separation
        induce(m, -math.cos(alpha), 0.0, -math.sin(alpha))
        load_strips(m, u, 0.0, w, 0.0, 0.0, 0.0, RHO)
        pace = m[L.PACE : L.PACE + n]
        step = 0.5 * CIRCULATION_LAG * m[L.D_GAMMA : L.D_GAMMA + n] / (pace * m[L.FEEDBACK : L.FEEDBACK + n])
        circulation = circulation + step
        change = 0.1 * SEPARATION_LAG * m[L.D_SEPARATION : L.D_SEPARATION + n] / pace
        separation = np.clip(separation + change, 0.0, 1.0)
        if max(np.abs(step).max(), np.abs(change).max()) < 1e-8:
            break
    else:
        raise AssertionError("the flow did not settle")
    normal = -m[L.RZ : L.RZ + n] / (0.5 * RHO * SPEED**2 * m[L.AREA : L.AREA + n])
    return m[L.Y + SIDE : L.Y + n] / (0.5 * SPAN), normal[SIDE:]


@pytest.mark.parametrize("alpha", [0.0, 4.0, 10.0])
def test_normal_force_along_the_span(alpha):
    # 0.03 by the notes on quality; 0.04 at the edge of the jet outboard, where the swirl ends more sharply here.  At 10 deg
    # the wing without propeller is 0.06 to 0.08 high (the measured lift bends from 6 deg on, Re 0.8e6) and the same is
    # allowed with it.  Next to the nacelle (eta 0.41 to 0.53) readings are blocked.
    for curve, blowing in (("cn_off", False), ("cn_on", True)):
        rows = [r for r in table("slipstream_wing_prowim_veldhuis.csv", curve=curve, alpha_deg=alpha)]
        rows = [r for r in rows if not 0.40 < r["eta"] < 0.54]
        eta, found = distribution(alpha, blowing) if rows else ((), ())
        for row in rows:
            assert np.interp(row["eta"], eta, found) == pytest.approx(row["value"], abs=0.045 if alpha < 9 else 0.085)


def test_swirl_lifts_the_inboard_side_and_lowers_the_outboard_one():
    # cn at zero alpha about +0.09 and -0.08 half a radius either side of the nacelle: 20 %, the reading
    eta, found = distribution(0.0, True)
    assert np.interp(0.36, eta, found) == pytest.approx(0.085, rel=0.20)
    assert np.interp(0.60, eta, found) == pytest.approx(-0.08, rel=0.20)
