"""The propeller's slipstream: momentum theory, decay, swirl and what the airframe takes out of it in the hover."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sim import layout as L
from sim.linearisation import steady_loads
from sim.slipstream import SWIRL_MET, fill_slipstream, jet_at
from sim.trim import hover_trim, relax_flow
from tests.sim.isolated import RHO, blank_model
from tests.sim.reference import facts, table

RADIUS = 0.3


def jet(behind, off_axis, radius, axial, w0, cross=(0.0, 0.0, 0.0)):
    """`jet_at` for a shaft along x, a thin strip and no fuselage."""
    return jet_at(-behind, off_axis, 0.0, 1.0, 0.0, 0.0, *cross, radius, axial, w0, 1.0, 0.0, 0.0)


@pytest.mark.parametrize("case", facts("slipstream_momentum.yaml")["cases"], ids=lambda c: f"{c['T_N']}N-{c['V_m_s']}")
def test_speed_and_contraction_on_the_axis(case):
    # McCormick 1967, closed form 0.1 %.  Radius by continuity to that; the speed is lowered on purpose by the mixing of
    # the edge: nothing at the disk, static 1 % at one radius, 2.4 % at two, 7 % at four; under way a tenth of it.
    radius, axial, w0 = 0.5 * case["D_m"], case["V_m_s"], case["v_induced_disc"]
    for at, speed, contraction in zip(case["at_x_over_R"], case["speed"], case["radius_over_R"]):
        gained, _, _, _, _, local2, _ = jet(max(at * radius, 1e-9), 0.0, radius, axial, w0)
        assert math.sqrt(local2) / radius == pytest.approx(contraction, rel=0.001)
        lowered = (0.003 + 0.008 * at + 0.0025 * at * at) * (1.0 if axial == 0.0 else 0.25)
        assert -lowered < (axial + gained) / speed - 1.0 <= 0.0005


def test_decay_of_the_static_jet():
    # Khan and Nahon 2015, peak speed over the disk's induced speed: 15 % at 4 and 6 radii.  Not at 2 radii (-17 %:
    # their peak stands off the axis, above momentum theory's 2) nor at 8 (+20 %: slower decay here); tails sit at 4
    # to 6.
    peaks = facts("slipstream_khan_nahon.yaml")["derived_peak_speed_over_vi"]
    found = {int(name[-1]): jet(int(name[-1]) * RADIUS, 0.0, RADIUS, 0.0, 10.0)[0] / 10.0 for name in peaks}
    for name, published in peaks.items():
        at = int(name[-1])
        assert found[at] == pytest.approx(published, rel=0.15 if at in (4, 6) else 0.21), at
    assert found[4] > found[6] > found[8]


def flux(behind, axial, w0, torque=3.0):
    """Momentum through a section over the disk's thrust, and angular momentum over the torque, by quadrature."""
    model = blank_model()
    model[L.DISK_RADIUS] = RADIUS
    model[L.SWIRL_ON] = 1.0
    thrust = 2.0 * RHO * math.pi * RADIUS**2 * (axial + w0) * w0
    edges = np.linspace(0.0, 3.0 * RADIUS, 1201)
    radii = 0.5 * (edges[1:] + edges[:-1])
    momentum = spin = 0.0
    for start in range(0, radii.size, L.PAD):
        r = radii[start : start + L.PAD]
        model[L.VX : L.VX + r.size] = -behind
        model[L.VY : L.VY + r.size] = r
        fill_slipstream(model, axial, 0.0, 0.0, axial, w0, torque, RHO)
        gained = -model[L.AX : L.AX + r.size]
        turning = model[L.WZ : L.WZ + r.size]  # at y = r, clockwise from behind moves down: +z
        ring = 2.0 * math.pi * r * (edges[1] - edges[0]) * RHO * (axial + gained)
        momentum += (ring * gained).sum()
        spin += (ring * turning * r).sum()
    return momentum / thrust, spin / SWIRL_MET / torque  # the rows hold what of the swirl loads a surface


def test_swirl_carries_the_torque():
    # Angular momentum flux = torque at every section.  At 15 and 25 m/s within 10 %, as asked.
    for axial, w0 in ((15.0, 5.75), (25.0, 3.0)):
        for at in (0.02, 1.0, 2.0, 4.0, 6.0):
            assert flux(at * RADIUS, axial, w0)[1] == pytest.approx(1.0, abs=0.10)
    # In the hover the edge is as wide as the jet beyond five radii, and its moments are only near: 4 % at six.
    for at in (0.02, 1.0, 2.0, 4.0, 6.0):
        assert flux(at * RADIUS, 0.0, 13.0)[1] == pytest.approx(1.0, abs=0.05)


def test_jet_carries_the_thrust():
    # Far behind the disk momentum flux = thrust; at the disk half of it (the other half is pressure), static.
    assert flux(0.02 * RADIUS, 0.0, 13.0)[0] == pytest.approx(0.5, abs=0.03)
    for axial, w0 in ((15.0, 5.75), (25.0, 3.0)):
        assert flux(4.0 * RADIUS, axial, w0)[0] == pytest.approx(1.0, abs=0.10)
    # static: 0.95, 0.99, 1 of it at 2, 4, 6 radii by theory; the edge's moments are only near: 0.10 short at six
    for at, theory in ((2.0, 0.95), (4.0, 0.99), (6.0, 1.0)):
        assert theory - 0.10 < flux(at * RADIUS, 0.0, 13.0)[0] < theory + 0.02


def test_swirl_turns_with_the_propeller():
    model = blank_model()
    model[L.DISK_RADIUS], model[L.SWIRL_ON] = RADIUS, 1.0
    model[L.VX], model[L.VY] = -0.5, 0.1  # to the right of the axis
    for sense in (1.0, -1.0):
        model[L.SENSE] = sense
        fill_slipstream(model, 0.0, 0.0, 0.0, 0.0, 13.0, 3.0, RHO)
        assert model[L.WZ] * sense > 0.5  # m/s, downwards for clockwise from behind


def test_cross_flow_bends_the_jet_the_way_the_air_moves():
    # air moving to the right (+y) carries the centre line to the right; further at low jet speed
    def offset(w0):
        return -jet(1.0, 0.0, RADIUS, 0.0, w0, cross=(0.0, 3.0, 0.0))[3]

    assert offset(10.0) > 0.05 and offset(5.0) > 1.8 * offset(10.0)


def test_sideslip_carries_the_jet_to_the_lee_side():
    # moving to the right, the air blows to the left: the strip left of the axis lies in the jet, the right one does not
    model = blank_model()
    model[L.DISK_RADIUS] = RADIUS
    model[L.VX : L.VX + 2] = -1.2
    model[L.VY], model[L.VY + 1] = -0.35, 0.35
    fill_slipstream(model, 8.0, 5.0, 0.0, 8.0, 8.0, 0.0, RHO)
    assert -model[L.AX] > 5.0 > 0.5 > -model[L.AX + 1]  # m/s gained


def test_nothing_blows_ahead_of_the_disk_or_when_the_air_leaves_forwards():
    assert jet(-0.1, 0.0, RADIUS, 5.0, 8.0)[0] == 0.0
    model = blank_model()
    model[L.DISK_RADIUS], model[L.VX] = RADIUS, -0.5
    fill_slipstream(model, -12.0, 0.0, 0.0, -12.0, 5.0, 1.0, RHO)
    assert model[L.AX] == 0.0


@pytest.mark.parametrize("plane_name", ["precision", "slow_3d"])
def test_the_airframe_takes_part_of_the_torque_out_of_the_swirl(plane_name, request):
    # slipstream_deflection_facts.yaml: net roll over motor torque 0.25 to 0.5 in the hover, controls neutral (quality
    # B, the motor's efficiency of 0.75 assumed: 20 %, so 0.2 to 0.6).
    (entry,) = [e for e in facts("slipstream_deflection_facts.yaml")["entries"] if "net_roll_over_motor_torque" in e]
    low, high = entry["net_roll_over_motor_torque"]
    plane = request.getfixturevalue(plane_name)
    hover = hover_trim(plane, 50.0)
    x, command = hover.x.copy(), hover.command.copy()
    x[L.SERVO : L.SERVO + L.CONTROLS] = command[: L.CONTROLS] = 0.0
    x[L.CIRCULATION : L.SEPARATION], x[L.SEPARATION :] = 0.0, 1.0
    relax_flow(x, command, plane.model, plane.table, np.zeros(L.STATE), 3000)
    account = plane.model[L.ACCOUNT : L.ACCOUNT + 6 * L.N_PARTS].reshape(L.N_PARTS, 6)
    left = account[:, 3].sum() / account[L.TORQUE, 3]
    assert low * 0.8 < left < high * 1.2
    assert account[L.TORQUE, 3] < 0.0  # clockwise from behind: the airframe is turned left


def test_measured_net_roll_per_thrust_scales_with_the_plane(slow_3d, hover):
    # MXS static runs: net roll over thrust about -0.0045 to -0.0055 m for an 11 in propeller, -0.017 of its diameter;
    # torque per thrust and diameter differ with pitch: factor 2
    rows = table("rc_aerobatic_mxs_static_thrust.csv", run=2.0)
    measured = np.mean([r["l_Nm"] / r["T_net_N"] for r in rows]) / 0.2794
    x, command = hover.x.copy(), hover.command.copy()
    x[L.SERVO : L.SERVO + L.CONTROLS] = command[: L.CONTROLS] = 0.0
    relax_flow(x, command, slow_3d.model, slow_3d.table, np.zeros(L.STATE), 3000)
    account = slow_3d.model[L.ACCOUNT : L.ACCOUNT + 6 * L.N_PARTS].reshape(L.N_PARTS, 6)
    loads = np.delete(account, L.WEIGHT, axis=0).sum(axis=0)
    found = loads[3] / loads[0] / slow_3d.setup.propeller.diameter
    assert 0.5 < found / measured < 2.0


@pytest.mark.parametrize(
    "surface, control, column, axis", [("elevator", L.ELEVATOR, "m_Nm", 4), ("rudder", L.RUDDER, "n_Nm", 5)]
)
def test_control_in_the_hover_is_that_of_a_measured_model(slow_3d, hover, surface, control, column, axis):
    # MXS static runs, slope between about -25 and 18 deg per thrust and span (1.09 m, the file's area over chord), so
    # that size drops out.  Tails differ (control chords and arm are not in the data set): factor 1.5.
    slopes = []
    rows = [r for r in table("rc_aerobatic_mxs_static_slipstream_controls.csv", surface=surface) if r["rpm"] > 6000]
    for speed in {round(r["rpm"], -3) for r in rows}:
        run = [r for r in rows if round(r["rpm"], -3) == speed and abs(r["delta_deg"]) < 30.0]
        fit = np.polyfit(np.radians([r["delta_deg"] for r in run]), [r[column] / r["T_net_N"] for r in run], 1)
        slopes.append(abs(fit[0]) / 1.09)
    before = steady_loads(slow_3d, hover.x, hover.command)
    x, command = hover.x.copy(), hover.command.copy()
    x[L.SERVO + control] += 0.2
    command[control] += 0.2
    change = (steady_loads(slow_3d, x, command) - before).sum(axis=0)[axis] / 0.2
    found = -change / before[L.THRUST, 0] / slow_3d.span
    print(f"{surface}: measured {np.mean(slopes):.3f}, found {found:.3f} of thrust x span per rad")
    assert 1.0 / 1.5 < found / np.mean(slopes) < 1.5
