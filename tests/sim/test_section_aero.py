"""Section loads through the whole circle against wind-tunnel tables, and the plain flap against theory and test."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sim.section_aero import (
    BREAK_WIDTH_PER_THICKNESS,
    HINGE_REALISED,
    LIFT_SLOPE,
    PLATE_2D,
    VISCOSITY,
    attached_share,
    exp_negative,
    flap_load,
    flap_rotation,
    glauert_effectiveness,
    glauert_hinge_moment,
    hinge_moment,
    section_loads,
    steady_separation,
)
from tests.sim.reference import facts, table

IN_PLANE_FLOW = flap_load(1.0e6)


def section(alpha_deg, reynolds, thickness=0.12, deflection_deg=0.0, flap=0.0):
    """cl, cd, cm about c/4 and separation point of the section in steady flow."""
    alpha, delta = math.radians(alpha_deg), math.radians(deflection_deg)
    s, c, speed_chord = math.sin(alpha), math.cos(alpha), reynolds * VISCOSITY
    turn = glauert_effectiveness(flap) * flap_rotation(delta, IN_PLANE_FLOW)
    f = steady_separation(s, c, speed_chord, BREAK_WIDTH_PER_THICKNESS * thickness, turn)
    normal, chordwise, drag, moment = section_loads(
        s, c, s, f, speed_chord, LIFT_SLOPE, PLATE_2D, turn, flap, math.sin(delta), math.cos(delta)
    )
    return normal * c + chordwise * s, normal * s - chordwise * c + drag, moment, f


def stall(reynolds, thickness):
    """Angle (deg) and cl of the first lift peak."""
    alpha = np.arange(4.0, 20.0, 0.05)
    cl = np.array([section(a, reynolds, thickness)[0] for a in alpha])
    first = int(np.argmax(cl[1:] < cl[:-1]))
    return alpha[first], cl[first]


# SAND80-2114, NACA 0012 and 0015.  The tables are Reynolds-independent here; the notes on quality allow 0.08.
# Bands in deg and the largest differences allowed in cl and cd.  What exceeds 0.08 is the model's own:
#   30..35     its separated lift peaks early (a flat plate has no rounded nose): 0.17 at 30 deg on the 0015
#   91..145    the bent plate carries equal lift with either edge forward, the tables a tenth less before 90 than
#              after it by the thick nose downstream: 0.16 in cl
#   150..170   the reversed section keeps attached-flow lift with a sharp edge forward to about 170 deg and then lets
#              go; one early break at 8 deg stands for that: 0.27 in cl, and the peak at 170 to 175 is sharper: 0.18
@pytest.mark.parametrize(
    "low, high, cl_band, cd_band",
    [(30, 35, 0.17, 0.08), (40, 90, 0.09, 0.05), (91, 145, 0.17, 0.05), (150, 170, 0.27, 0.05), (175, 180, 0.18, 0.03)],
)
def test_past_the_stall_against_the_whole_circle_tables(low, high, cl_band, cd_band):
    rows = [(0.12, r) for r in table("airfoil_naca0012_sheldahl_klimas_re2e6.csv")]
    rows += [(0.15, r) for r in table("airfoil_naca0015_sheldahl_klimas.csv") if r["Re"] in (3.6e5, 7.0e5, 2.0e6)]
    rows = [(t, r) for t, r in rows if low <= r["alpha_deg"] <= high]
    assert len(rows) >= 4
    for thickness, row in rows:
        cl, cd, _, _ = section(row["alpha_deg"], row["Re"], thickness)
        assert cl == pytest.approx(row["cl"], abs=cl_band), row
        assert cd == pytest.approx(row["cd"], abs=cd_band), row


def test_drag_at_90_and_180_degrees():
    # NACA TN-3361: cd at 90 deg 2.02 to 2.08, SAND80-2114 1.8: the band between is the tunnels' own;
    # cd at 180 deg is twice that at 0
    landmark = facts("airfoil_naca0012_tn3361_facts.yaml")
    cd90 = section(90.0, 1.8e6)[1]
    assert 1.8 - landmark["tolerance"] < cd90 < 2.08 + landmark["tolerance"]
    ratio = section(180.0, 1.8e6)[1] / section(0.0, 1.8e6)[1]
    assert ratio == pytest.approx(landmark["cd_180_over_cd_0"], rel=0.1)


@pytest.mark.parametrize("reynolds", [1.6e5, 3.6e5, 7.0e5, 2.0e6])
def test_attached_lift_slope(reynolds):
    # SAND80-2114: 0.11 a degree to 5 deg at these Reynolds numbers; 5 % by the notes on quality, to 4 deg, where the
    # table does not bend yet
    assert section(3.0, reynolds)[0] - section(-1.0, reynolds)[0] == pytest.approx(0.44, rel=0.05)


@pytest.mark.parametrize(
    "name, thickness, reynolds, cl_max, angle, cl_band, angle_band",
    [
        # SAND80-2114: cl_max 0.15 and 2 deg, the report's pre-stall values being partly computed
        ("NACA 0012", 0.12, 2.0e6, 1.2169, 13.0, 0.15, 2.0),
        ("NACA 0015", 0.15, 3.6e5, 0.9572, 11.0, 0.15, 2.0),
        ("NACA 0015", 0.15, 7.0e5, 1.0508, 12.0, 0.15, 2.0),
        ("NACA 0015", 0.15, 2.0e6, 1.1962, 14.0, 0.15, 2.0),
        # UIUC Low-Speed Airfoil Tests: 0.05 and 1 deg are the tunnel's; the model has one law for all sections of
        # 8 to 15 %, and these two differ between themselves by 0.06
        ("SD8020", 0.101, 2.042e5, 0.860, 10.3, 0.12, 1.5),
        ("SD8020", 0.101, 3.056e5, 0.882, 10.2, 0.12, 1.5),
        ("Ultimate", 0.12, 3.033e5, 0.945, 11.0, 0.08, 1.5),
        ("Ultimate", 0.12, 5.054e5, 0.970, 11.0, 0.12, 1.5),
    ],
)
def test_stall_angle_and_maximum_lift(name, thickness, reynolds, cl_max, angle, cl_band, angle_band):
    found_angle, found_cl = stall(reynolds, thickness)
    assert found_cl == pytest.approx(cl_max, abs=cl_band)
    assert found_angle == pytest.approx(angle, abs=angle_band)


def test_stall_comes_later_with_reynolds_number_and_breaks_harder_on_thin_sections():
    angles = [stall(re, 0.12)[0] for re in (2e5, 5e5, 1e6, 2e6)]
    assert all(np.diff(angles) > 0.3)  # deg; SAND80-2114 cd breaks: 10.5, 13.5, 14.5, 15.5 over 1.6e5 .. 1e6

    def loss(thickness):
        angle, cl = stall(3e5, thickness)
        return cl - section(angle + 3.0, 3e5, thickness)[0]

    assert loss(0.09) > loss(0.15) + 0.02


def test_lift_after_the_stall():
    # UIUC vol. 3, Ultimate: cl 0.70 to 0.75 at 15 to 17 deg; 0.08 as for whole-circle tables
    assert section(16.0, 3.0e5)[0] == pytest.approx(0.725, abs=0.08)


def test_moment_about_the_quarter_chord():
    # SAND80-2114 measured moments: 0.03; scatter below the stall is 0.02
    rows = [r for r in table("airfoil_naca0012_cm_measured.csv") if r["Re"] <= 7e5]
    for row in rows:
        cm = section(row["alpha_deg"], row["Re"])[2]
        if row["alpha_deg"] <= 8:
            assert cm == pytest.approx(row["cm_c4"], abs=0.03)
        if row["alpha_deg"] >= 18:
            assert cm == pytest.approx(row["cm_c4"], abs=0.03)
        if 14 <= row["alpha_deg"] < 18:
            assert -0.09 < cm < -0.02  # softer than measured just past the stall: up to 0.05 short
    # mid-chord broadside: a plate by symmetry
    assert section(90.0, 5e5)[2] == pytest.approx(-0.25 * PLATE_2D, rel=0.02)


def test_profile_drag_at_low_lift():
    # SAND80-2114 (0012): cd 0.003 attached by the notes on quality, to 4 deg
    for row in table("airfoil_naca0012_cd_low_re.csv"):
        if row["alpha_deg"] <= 4:
            assert section(row["alpha_deg"], row["Re"])[1] == pytest.approx(row["cd"], abs=0.003), row


def test_profile_drag_with_lift():
    # UIUC drag polars, cl 0.1 to 0.85, above the Reynolds numbers of laminar bubbles: 20 %, where the two sections differ
    # by 15 % between themselves and the tunnel claims 0.0015; at 8 deg and more, where the break begins, 30 %
    for name, thickness in (("airfoil_sd8020_uiuc_low_re.csv", 0.101), ("airfoil_ultimate_uiuc_low_re.csv", 0.12)):
        rows = [r for r in table(name, run="drag") if 1.5e5 < r["Re"] and 2.0 < r["alpha_deg"] < 9.0]
        assert len(rows) >= 10
        for row in rows:
            found = section(row["alpha_deg"], row["Re"], thickness)[1]
            assert found == pytest.approx(row["cd"], rel=0.20 if row["alpha_deg"] < 8.0 else 0.30), row


@pytest.mark.parametrize("flap, deflection", [(0.0, 0.0), (0.3, 25.0), (0.5, 45.0)])
def test_a_symmetrical_section_is_symmetrical(flap, deflection):
    for alpha in np.arange(-179.0, 180.0, 7.0):
        up = section(alpha, 4e5, 0.12, deflection, flap)
        down = section(-alpha, 4e5, 0.12, -deflection, flap)
        assert down == pytest.approx((-up[0], up[1], -up[2], up[3]), abs=1e-12)


def test_drag_of_a_whole_section_is_never_negative():
    for alpha in np.arange(-180.0, 180.0, 3.0):
        assert section(alpha, 3e5)[1] > 0.005, alpha  # skin friction alone is 0.009


def test_attached_flow_makes_no_drag_beyond_friction_and_lost_suction():
    # d'Alembert: the force of attached plane flow stands across the stream.  Were the leading-edge suction that of the
    # angle of attack alone, a flap up at 6 deg would make 0.07 of thrust and a flap down as much drag.
    for alpha in (-6.0, -3.0, 3.0, 6.0):
        for deflection in (-15.0, -8.0, 8.0, 15.0):
            flap_drag = section(0.0, 5e5, 0.12, deflection, 0.3)[1] - section(0.0, 5e5)[1]
            cl, cd, _, _ = section(alpha, 5e5, 0.12, deflection, 0.3)
            if abs(cl) < 1.2:  # attached
                # 0.015: the 5 % of suction that is lost, and the plates of the separated share
                assert cd == pytest.approx(section(alpha, 5e5)[1] + flap_drag, abs=0.015), (alpha, deflection)


def test_exponential_without_a_library_call():
    x = np.linspace(0.0, 16.0, 4001)
    assert max(abs(exp_negative(v) - math.exp(-v)) for v in x) < 2e-7  # as its docstring says
    assert exp_negative(400.0) == pytest.approx(math.exp(-16.0), abs=1e-7)


def test_kirchhoff_share():
    # Kirchhoff and Helmholtz: normal force factor ((1 + sqrt f) / 2)^2, a quarter when separated at the nose
    assert (attached_share(0.0), attached_share(1.0)) == pytest.approx((0.0, 1.0), abs=1e-15)
    assert attached_share(0.7) * 0.75 + 0.25 == pytest.approx(((1 + math.sqrt(0.7)) / 2) ** 2, abs=1e-15)


@pytest.mark.parametrize("row", table("flap_glauert_thin_aerofoil.csv"), ids=lambda r: f"E{r['E']}")
def test_small_deflections_follow_glauert(row):
    # ARC R&M 1095, 1927: tau exact to its printed digits
    assert glauert_effectiveness(row["E"]) == pytest.approx(row["tau"], abs=6e-5)
    # one degree of flap at 3e5: lift 0.98 of 2 pi and 1 % of plate make 0.97 of thin-aerofoil theory
    delta = math.radians(1.0)
    cl, _, cm, _ = section(0.0, 3e5, 0.12, 1.0, row["E"])
    assert cl / delta == pytest.approx(0.97 * row["cl_delta"], rel=0.01)
    assert cm / delta == pytest.approx(0.97 * row["cm_delta"], rel=0.04)  # fit of the arm 1 %, plates 3 %


def test_large_deflections_lose_effect_as_measured():
    # NACA TN-2080: ratio 0.10 by the notes on quality; relative to 10 deg, as the file is
    base = flap_rotation(math.radians(10.0), flap_load(3.1)) / math.radians(10.0)
    for row in table("flap_large_deflection_tn2080.csv"):
        if row["delta_deg"]:
            delta = math.radians(row["delta_deg"])
            assert flap_rotation(delta, flap_load(3.1)) / delta / base == pytest.approx(
                row["effectiveness_ratio"], abs=0.06
            )


def test_large_deflections_lose_effect_as_in_the_handbook():
    # DATCOM 6.1.1.1 (chart from memory), tolerance 0.10 for a quarter-chord flap; larger flaps lose more there than
    # one curve for all gives: up to 0.16 at 30 deg for 40 % chord, and that is stated
    charts = facts("flap_section_large_deflection.yaml")
    for chart, band in (("cf_over_c_0p25", 0.10), ("cf_over_c_0p40", 0.16)):
        for degrees, left in charts[chart].items():
            delta = math.radians(degrees)
            assert flap_rotation(delta, IN_PLANE_FLOW) / delta == pytest.approx(left, abs=band)


def test_flap_rotation_grows_without_a_peak_to_75_degrees():
    turned = [flap_rotation(math.radians(d), 1.0) for d in range(0, 76)]
    assert (np.diff(turned) > 0.0).all()
    assert flap_rotation(-0.5, 1.0) == -flap_rotation(0.5, 1.0)


def test_drag_of_a_deflected_flap():
    # NACA TN-2080: CD of a wing of A 3.1 with the flap over 48.4 % of the semispan.  Section drag over that share
    # plus induced drag (efficiency 0.6 to 1 for a part-span flap) has to hold the measured rise within 35 % from
    # 20 deg up; the span efficiency is a guess, hence coarse.
    rows = table("flap_large_deflection_tn2080.csv")
    for row in rows:
        if row["delta_deg"] >= 20:
            rise = row["CD"] - rows[0]["CD"]
            profile = 0.484 * (section(0.0, 8e5, 0.10, row["delta_deg"], 0.25)[1] - section(0.0, 8e5, 0.10)[1])
            induced = row["dCL"] ** 2 / (math.pi * 3.1 * 0.8)
            assert profile + induced == pytest.approx(rise, rel=0.35), row


@pytest.mark.parametrize("row", table("flap_glauert_thin_aerofoil.csv"), ids=lambda r: f"E{r['E']}")
def test_hinge_moment_of_small_angles(row):
    # Glauert, ARC R&M 1095: 0.1 % for the closed form, times what real sections keep of it (0.5 to 0.8, the file's note)
    alpha, delta = glauert_hinge_moment(row["E"])
    assert alpha == pytest.approx(HINGE_REALISED * row["ch_alpha"], rel=1e-3)
    assert delta == pytest.approx(HINGE_REALISED * row["ch_delta"], rel=1e-3)
    assert 0.5 <= HINGE_REALISED <= 0.8


def hinge(alpha_deg, deflection_deg, flap=0.4, reynolds=4e5):
    """Hinge moment coefficient in steady flow."""
    alpha, delta = math.radians(alpha_deg), math.radians(deflection_deg)
    s, c = math.sin(alpha), math.cos(alpha)
    turn = glauert_effectiveness(flap) * flap_rotation(delta, IN_PLANE_FLOW)
    f = steady_separation(s, c, reynolds * VISCOSITY, BREAK_WIDTH_PER_THICKNESS * 0.12, turn)
    return hinge_moment(s, c, f, *glauert_hinge_moment(flap), PLATE_2D, math.sin(delta), math.cos(delta))


def test_hinge_moment_through_the_stall_and_all_round():
    # small angles: the slopes; separation of 1 % and the plate it adds: 8 %
    a, d = glauert_hinge_moment(0.4)
    assert hinge(2.0, 0.0) == pytest.approx(a * math.radians(2.0), rel=0.08)
    assert hinge(0.0, 2.0) == pytest.approx(d * math.radians(2.0), rel=0.08)
    # a flap always feels the air push it back, the more the further it is out, to 70 deg and past the stall
    for alpha in (-4.0, 0.0, 4.0, 30.0):
        moments = [hinge(alpha, delta) for delta in np.arange(0.0, 71.0, 5.0)]
        assert (np.diff(moments) < 0.02).all(), alpha
    # broadside a plate is loaded at its middle: 0.45 to 0.5 of the chord times the normal force (Hoerner)
    assert hinge(90.0, 0.0) == pytest.approx(-0.45 * PLATE_2D, rel=0.02)
    # odd, like the section
    for alpha in np.arange(-175.0, 180.0, 10.0):
        assert hinge(alpha, 25.0) == pytest.approx(-hinge(-alpha, -25.0), abs=1e-12)
    # the stall jumps up in size, for the load moves aft (published plain flaps; direction from memory), and nowhere else
    assert abs(hinge(18.0, 0.0)) > 1.3 * abs(hinge(10.0, 0.0))
    alpha = np.arange(-180.0, 180.0, 0.25)
    for deflection in (0.0, 30.0, -60.0):
        steps = np.abs(np.diff([hinge(x, deflection) for x in alpha]))
        reversed_flow = np.abs(np.abs(alpha[1:]) - 90.0) < 0.5
        assert steps[~reversed_flow].max() < 0.05


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("alpha", [-10.0, -4.0, 0.0, 4.0, 10.0, 20.0, 30.0])
def test_flaps_act_to_70_degrees_at_any_angle_of_attack(alpha, sign):
    # More deflection, more load its way, to 70 deg, attached and stalled, up and down (NACA TN-2080: no peak below 60 deg);
    # where the flap stalls the section itself on the way, the lift is kept within 0.25.
    lift = np.array([section(sign * alpha, 4e5, 0.12, sign * d, 0.4)[0] * sign for d in np.arange(0.0, 71.0, 10.0)])
    drag = np.array([section(sign * alpha, 4e5, 0.12, sign * d, 0.4)[1] for d in np.arange(0.0, 71.0, 10.0)])
    up = np.array([section(sign * alpha, 4e5, 0.12, -sign * d, 0.4)[0] * sign for d in np.arange(0.0, 71.0, 10.0)])
    assert lift[4] > lift[0] + (0.1 if abs(alpha) < 25.0 else -0.01)
    assert (np.maximum.accumulate(lift) - lift).max() < 0.25
    assert up[4] < up[0] - (0.3 if alpha > -10.0 else 0.15) and (up - np.minimum.accumulate(up)).max() < 0.3
    assert drag[7] > drag[0] + 0.2 and drag.min() > 0.0
    if abs(alpha) < 5.0:
        assert lift[6] > lift[3]


def test_a_flap_down_brings_the_stall_forward_and_raises_its_lift():
    # Plain flap of 20 % at 60 deg on a 12 % section: greatest lift 0.8 higher, 4 to 5 deg earlier (Abbott and von Doenhoff,
    # Theory of Wing Sections, from memory).  0.3, and 3 deg: this section's Reynolds number is 2e6 at best.
    alpha = np.arange(-5.0, 18.0, 0.25)

    def peak(deflection):
        lift = [section(a, 2e6, 0.12, deflection, 0.2)[0] for a in alpha]
        return alpha[int(np.argmax(lift))], max(lift)

    (clean_angle, clean), (down_angle, down) = peak(0.0), peak(60.0)
    assert down - clean == pytest.approx(0.8, abs=0.3)
    assert clean_angle - down_angle == pytest.approx(4.5, abs=3.0)
