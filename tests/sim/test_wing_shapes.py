"""What the shape of a wing does: taper, twist, incidence, dihedral and sweep in sideslip, cross derivatives, small spans.

Routes: Glauert's series solved here (`tests.sim.lifting_line`), a vortex lattice library
(`tests.sim.lattice`) and a small lattice with wakes along the flow (`tests.sim.sideslip_lattice`).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sim import layout as L
from sim.section_aero import LIFT_SLOPE
from tests.sim.isolated import RHO, Stream, straight
from tests.sim.lattice import Cut, Lattice, even
from tests.sim.lifting_line import LiftingLine, tapered
from tests.sim.reference import facts, table
from tests.sim.sideslip_lattice import loads_in_sideslip

SPEED = 30.0
PRESSURE = 0.5 * RHO * SPEED**2
AREA = 0.8  # m2, of every wing here
HALF = slice(10, 20)  # strips of the right wing, ten a side


def over_line(aspect: float) -> float:
    """Lifting surface over lifting line for elliptic load (Helmbold 1942 over Prandtl), and the section's slope over 2 pi."""
    return LIFT_SLOPE / (2.0 * math.pi) * (aspect + 2.0) / (2.0 + math.sqrt(aspect * aspect + 4.0))


def slopes(stream: Stream, **kwargs) -> np.ndarray:
    """Change of force and moment (6,) over dynamic pressure per rad of alpha."""
    step = math.radians(0.2)  # small, for the vortices along the tips go with the square of alpha
    return (stream.loads(step, **kwargs) - stream.loads(-step, **kwargs)) / (2.0 * step) / PRESSURE


# ---- taper --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", table("wing_lifting_line_tapered.csv"), ids=lambda r: f"A{r['AR']:.0f}-{r['taper']}")
def test_the_series_is_the_published_one(row):
    # the file's 80 terms were placed otherwise: 1e-4 relative
    line = LiftingLine(tapered(row["AR"], row["taper"]))
    circulation, wash = line.solve(1.0)
    lift = line.lift(circulation)
    assert lift == pytest.approx(row["CLa"], rel=1e-4)
    drag = 2.0 * (circulation * wash * line.width).sum() / line.area
    assert drag * math.pi * row["AR"] / lift**2 - 1.0 == pytest.approx(row["delta"], abs=2e-4)
    assert line.roll(line.solve(2.0 * line.y)[0]) == pytest.approx(row["Clp"], abs=2e-4)


def local_lift(stream: Stream, alpha: float) -> tuple[np.ndarray, np.ndarray]:
    """Span fraction and local over mean lift coefficient of the right wing's strips."""
    stream.flow(alpha)
    m, n = stream.model, int(stream.model[L.N_STRIPS])
    half = slice(n // 2, n)
    chord, y = m[L.CHORD :][:n], m[L.Y :][:n]
    lift = m[L.GAMMA :][:n] / chord
    mean = (lift * m[L.AREA :][:n]).sum() / m[L.AREA :][:n].sum()
    return 2.0 * y[half] / stream.span, lift[half] / mean


@pytest.mark.parametrize("taper, published_peak", [(1.0, 0.0), (0.6, 0.44), (0.4, 0.60), (0.25, 0.75)])
def test_local_lift_and_first_stall_of_tapered_wings(taper, published_peak):
    stream = Stream((straight(6.0, taper, strips=14),))
    fraction, found = local_lift(stream, math.radians(3.0))
    line = LiftingLine(tapered(6.0, taper))
    circulation, _ = line.solve(1.0)
    expected = circulation / line.chord / (0.5 * line.lift(circulation))
    # Glauert's series (published_peak: its argmax, from this solution; it moves out as the taper grows).  0.04 of the mean
    # where one vortex along the chord and strips of 7 % of the half span differ from a line; the last strip more.
    assert found[:-1] == pytest.approx(np.interp(fraction[:-1], 2.0 * line.y, expected), abs=0.04)
    assert 2.0 * abs(line.y[np.argmax(expected)]) == pytest.approx(published_peak, abs=0.03)
    assert fraction[np.argmax(found)] == pytest.approx(published_peak, abs=0.06)
    # the stall begins where local lift is highest, drawn outwards (by a strip or two) by the lower Reynolds number there
    for alpha in np.radians(np.arange(10.0, 20.0, 0.25)):
        stream.flow(alpha)
        attached = stream.model[L.SEPARATED :][14:28]
        if attached.min() < 0.65:
            break
    assert -0.05 < fraction[np.argmin(attached)] - published_peak < 0.15


def test_anderson_lifting_line_examples():
    # wing_anderson_lifting_line.yaml (from memory).  Example 5.1 takes tau = delta, read off a chart; the series has
    # tau 0.15, so that its slope is 1.6 % less.
    given = facts("wing_anderson_lifting_line.yaml")
    first, second = given["example_5_1"], given["example_5_2"]
    slope = first["section_slope"] / (1.0 + first["section_slope"] * (1.0 + first["tau"]) / (math.pi * first["AR"]))
    assert slope == pytest.approx(first["CLa_per_rad"], rel=1e-3)
    drag = (slope * math.radians(first["alpha_deg"])) ** 2 * (1.0 + first["delta"]) / (math.pi * first["AR"])
    assert drag == pytest.approx(first["CDi"], rel=0.01)
    line = LiftingLine(tapered(first["AR"], first["taper"]))
    assert line.lift(line.solve(math.radians(first["alpha_deg"]))[0]) == pytest.approx(first["CL"], rel=0.02)
    found, _ = Stream((straight(first["AR"], first["taper"], strips=10),)).lift_and_drag(math.radians(5.0))
    assert found == pytest.approx(
        first["CL"] * over_line(first["AR"]), rel=0.03
    )  # 1.6 % tau; strips; separation creeps in
    # example 5.2: lift of the same section at A 6 and 10 (4.37 and 4.85 per rad by the series; 5.4 deg from zero lift)
    other = second["same_section_AR10"]
    angle = math.radians(second["alpha_deg"] - second["zero_lift_deg"])
    for aspect, published in ((6.0, second["CL"]), (10.0, other["CL"])):
        line = LiftingLine(tapered(aspect, 1.0), slope=second["section_slope_per_rad"])
        assert line.lift(line.solve(angle)[0]) == pytest.approx(published, rel=0.03)  # delta for tau again


# ---- twist and incidence ------------------------------------------------------------------------------------------


def test_incidence_is_alpha_of_the_surface():
    # the same wing set up 3 deg and flown level: equal lift and drag, but the trailing legs leave along the chord
    alpha = math.radians(3.0)
    plain = Stream((straight(6.0, 0.6, strips=10),)).lift_and_drag(alpha)
    turned = Stream((replace(straight(6.0, 0.6, strips=10), incidence=alpha),)).lift_and_drag(0.0)
    assert turned == pytest.approx(plain, rel=0.005)


@pytest.mark.parametrize("taper, sweep", [(1.0, 0.0), (0.5, 0.0), (0.5, 35.0)])
def test_linear_twist(taper, sweep):
    # 1 deg of washout at alpha 0: lift, zero-lift angle over twist, and moment about the aerodynamic centre over the mean
    # chord.  Lattice of 2 x 40 x 4, extrapolated in 1/n: 5 % high with ten strips a side, as with taper.  The textbook way
    # (Glauert's series with the twist in it) for the straight wings.
    twist = math.radians(-1.0)
    plain = straight(6.0, taper, strips=10, sweep_quarter=math.radians(sweep))
    wing = replace(plain, twist=twist)
    change = slopes(Stream((plain,)))
    found = Stream((wing,)).loads(0.0) / PRESSURE

    def of_panels(n):
        one, other = (Lattice((w,), {"wing": Cut(even(n), 4)}) for w in (wing, plain))
        at_zero = one.loads(one.pressure([1.0, 0.0, 0.0]))
        per_alpha = other.loads(other.pressure([0.0, 0.0, 1.0]))
        centre = per_alpha[4] / per_alpha[2]
        return np.array([-at_zero[2], at_zero[2] / per_alpha[2] / twist, at_zero[4] - at_zero[2] * centre])

    lift, ratio, moment = 2.0 * of_panels(40) - of_panels(20)
    assert -found[2] == pytest.approx(lift, rel=0.06)
    assert found[2] / change[2] / twist == pytest.approx(ratio, rel=0.035)
    about_centre = found[4] - found[2] * change[4] / change[2]
    assert about_centre / AREA == pytest.approx(moment / AREA, abs=0.00025)  # m: C_m0 by the mean chord, 0.37 m
    if sweep:
        assert about_centre > 0.0  # washed-out tips behind the centre carry less: nose up
    else:
        line = LiftingLine(tapered(6.0, taper))
        twisted, _ = line.solve(twist * 2.0 * np.abs(line.y))
        flat, _ = line.solve(1.0)
        assert found[2] / change[2] / twist == pytest.approx(line.lift(twisted) / line.lift(flat) / twist, rel=0.03)


@pytest.mark.parametrize("taper", [1.0, 0.5])
def test_basic_load_of_a_twisted_wing(taper):
    # Circulation over V b at zero lift, 1 deg of washout, against a lattice with strips of the same width (2 x 10 x 4):
    # 2 % of the largest; the rest of the difference to a finer one is the strips' width, as with taper.
    twist = math.radians(-1.0)
    plain = straight(6.0, taper, strips=10)
    wing = replace(plain, twist=twist)
    stream = Stream((wing,))
    stream.flow(-stream.loads(0.0)[2] / PRESSURE / slopes(Stream((plain,)))[2])
    found = stream.model[L.GAMMA :][HALF] / SPEED / stream.span
    one, other = (Lattice((w,), {"wing": Cut(even(10), 4)}) for w in (wing, plain))
    twisted, lifting = one.pressure([1.0, 0.0, 0.0]), other.pressure([0.0, 0.0, 1.0])
    basic = twisted - one.loads(twisted)[2] / other.loads(lifting)[2] * lifting
    expected = (0.5 * basic * one.chord)[one.fraction > 0.0].reshape(10, 4).sum(axis=1) / stream.span
    assert found == pytest.approx(expected, abs=0.02 * expected.max())
    assert found[0] > 0.0 > found[-1]


# ---- sideslip -------------------------------------------------------------------------------------------------------


def dihedral(wing, angle: float):
    """The wing with each half turned up by `angle` rad."""
    half = wing.tip[1]
    return replace(wing, tip=(wing.tip[0], half * math.cos(angle), -half * math.sin(angle)))


def per_sideslip(stream: Stream, alpha: float) -> np.ndarray:
    """Change of force and moment (6,) over dynamic pressure per rad of sideslip."""
    beta = math.radians(2.0)
    return (stream.loads(alpha, beta=beta) - stream.loads(alpha, beta=-beta)) / (2.0 * beta) / PRESSURE


@pytest.mark.parametrize("taper", [1.0, 0.5])
def test_rolling_moment_of_dihedral_in_sideslip(taper):
    # At zero lift.  Lattice, extrapolated: 6 % (strips of equal width).  Glauert's series with +-beta times dihedral as
    # incidence, at half the aspect ratio's correction, since each half carries its own pattern: 5 %.
    # Strip theory, -a (1 + 2 taper) / (6 (1 + taper)) with a = 2 pi (DATCOM's form, from memory), is the bound of a long wing.
    angle = math.radians(5.0)
    wing = dihedral(straight(6.0, taper, strips=10), angle)
    stream = Stream((wing,))
    span = stream.span * math.cos(angle)
    found = per_sideslip(stream, 0.0)

    def of_panels(n):
        lattice = Lattice((wing,), {"wing": Cut(even(n), 4)})
        return lattice.loads(lattice.pressure([0.0, 1.0, 0.0]))

    expected = 2.0 * of_panels(40) - of_panels(20)
    assert found[3] == pytest.approx(expected[3], rel=0.06)
    line = LiftingLine(tapered(6.0, taper))
    by_series = line.roll(line.solve(np.sign(line.y) * math.sin(angle))[0]) * over_line(3.0)
    assert found[3] / AREA / span == pytest.approx(by_series, rel=0.05)
    assert -2.0 * math.pi * angle * (1.0 + 2.0 * taper) / (6.0 * (1.0 + taper)) < found[3] / AREA / span < 0.0
    # side force: the halves' lift leans, and profile drag (0.009) goes with the flow
    assert found[1] / AREA == pytest.approx(expected[1] / AREA - 0.0085, abs=0.002)


def test_the_sideslip_lattice_is_the_library_in_straight_flow():
    # same panels, other code: wakes along the flow instead of body x, 1e-3
    wing, cut = straight(6.0, 0.6, sweep_quarter=math.radians(20.0)), Cut(even(20), 4)
    lattice = Lattice((wing,), {"wing": cut})
    expected = lattice.loads(lattice.pressure([0.0, 0.0, 1.0]))
    found = loads_in_sideslip(wing, cut, 0.02, 0.0) / 0.02
    assert found[[2, 4]] == pytest.approx(expected[[2, 4]], rel=1e-3)


SIDESLIP_ALPHA = 0.05


@pytest.mark.parametrize("sweep", [-20.0, 0.0, 20.0, 35.0])
def test_rolling_moment_of_a_lifting_wing_in_sideslip(sweep):
    # C_l,beta over C_L, taper 0.6, A 6, no dihedral.  Lattice: -0.057 without sweep, -0.145 at 20 deg and -0.229 at 35, about
    # -0.24 tan(sweep) more each (simple sweep theory: -(1 + 2 taper) / (6 (1 + taper)) = -0.23 tan(sweep), from memory).
    # Most of it is the force of the flow along the span on bound vortices and on legs along the chord.  0.018, as all
    # the load sits at c/4 here and the legs are longest.
    wing = straight(6.0, 0.6, strips=10, sweep_quarter=math.radians(sweep))
    stream = Stream((wing,))
    found = per_sideslip(stream, SIDESLIP_ALPHA)[3]
    lift = -stream.loads(SIDESLIP_ALPHA)[2] / PRESSURE
    beta, cut = 0.03, Cut(even(20), 4)
    one, other = (loads_in_sideslip(wing, cut, SIDESLIP_ALPHA, side * beta) for side in (1.0, -1.0))
    expected = (one[3] - other[3]) / (2.0 * beta) / -one[2]
    assert found / lift / stream.span == pytest.approx(expected / stream.span, abs=0.018)


# ---- rolling and yawing -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("aspect, taper", [(6.0, 1.0), (6.0, 0.5), (4.0, 0.5)])
def test_cross_derivatives_of_rolling_and_yawing(aspect, taper):
    # Per p b / 2V and r b / 2V about stability axes, over C_L.  Glauert's series: rolling adds 2y to the incidence, yawing
    # scales the speed by 1 - 2y; force is rho Gamma times the local velocity, downwash included.
    # Strip theory without downwash: C_lr/C_L = (1 + 3 taper) / (6 (1 + taper)), C_np/C_L = -(1 + 3 taper) / (12 (1 + taper)).
    alpha = math.radians(4.0)
    wing = straight(aspect, taper, strips=10)
    stream = Stream((wing,), at=(-0.25 * wing.root_chord, 0.0, 0.0))
    lift = stream.lift_and_drag(alpha)[0]
    rate = 0.2  # rad/s
    scale = PRESSURE * AREA * stream.span * (0.5 * rate * stream.span / SPEED)
    sine, cosine = math.sin(alpha), math.cos(alpha)

    def moments(p, r):
        rates = np.array([p * cosine - r * sine, 0.0, p * sine + r * cosine]) * rate
        change = 0.5 * (stream.loads(alpha, rates=rates) - stream.loads(alpha, rates=-rates)) / scale
        return change[3] * cosine + change[5] * sine, change[5] * cosine - change[3] * sine

    line = LiftingLine(tapered(aspect, taper))
    steady, wash = line.solve(alpha)
    rolling, wash_rolling = line.solve(2.0 * line.y)
    yawing, wash_yawing = line.solve(-2.0 * line.y * alpha)
    total = line.lift(steady)
    yaw_of_roll = line.yaw(steady * (2.0 * line.y - wash_rolling) - rolling * wash) / total
    roll_of_yaw = line.roll(yawing - 2.0 * line.y * steady) / total
    # Yawing about c/4 carries the legs along the chord sideways, which loads them (as sideslip does); a line has none.  That
    # is 0.02 here, 8 % of it at A 6 and more on the longer chords of A 4: 18 %.
    found = moments(0.0, 1.0)[0] / lift
    assert 0.98 * roll_of_yaw < found < (1.18 if aspect < 5.0 else 1.09) * roll_of_yaw
    assert roll_of_yaw < (1.0 + 3.0 * taper) / (6.0 * (1.0 + taper))
    # 0.02: downwash leaves a fifth of what strip theory says, a small difference of large parts, and suction takes the
    # ratio of downwash that belongs to the symmetrical load (A 4, the worst: 0.018)
    assert moments(1.0, 0.0)[1] / lift == pytest.approx(yaw_of_roll, abs=0.02)
    assert -(1.0 + 3.0 * taper) / (12.0 * (1.0 + taper)) < yaw_of_roll < 0.0
    # damping in yaw: induced by the series, and profile drag by strips, -c_d (1 + 3 taper) / (6 (1 + taper))
    induced = -line.yaw(yawing * wash + steady * wash_yawing) * (lift / total) ** 2
    profile = -stream.lift_and_drag(0.0)[1] * (1.0 + 3.0 * taper) / (6.0 * (1.0 + taper))
    # 8 %: lost suction, and friction that goes with speed to a power below 2; 17 % at A 4, whose legs the yawing loads
    assert moments(0.0, 1.0)[1] == pytest.approx(induced + profile, rel=0.17 if aspect < 5.0 else 0.08)


# ---- small spans ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("aspect, tolerance", [(0.5, 0.13), (1.0, 0.07)])
def test_lift_slope_of_very_short_plates(aspect, tolerance):
    # wing_low_aspect_ratio_lift_slope.csv, extrapolated lattice: 7 % by the notes on quality; 10 % high at A 0.5, where one
    # vortex along the chord no longer does (slender theory wants the load forward).  A 1.5 to 6 are in test_surfaces.
    (row,) = table("wing_low_aspect_ratio_lift_slope.csv", AR=aspect)
    found = -slopes(Stream((straight(aspect, strips=8),)))[2] / AREA
    assert found == pytest.approx(row["CLa_vlm_extrapolated"], rel=tolerance)


def peak(aspect: float) -> tuple[float, float]:
    """First maximum of the lift coefficient and its angle in deg."""
    stream = Stream((straight(aspect, strips=8),))
    lift = [stream.lift_and_drag(math.radians(angle))[0] for angle in range(8, 60, 2)]
    first = int(np.argmax(np.diff(lift) < 0.0))
    return 8 + 2 * first, lift[first]


def test_stall_is_later_the_shorter_the_wing():
    # wing_post_stall_trends.yaml: 15-18 deg at A >= 4, 20-25 at A 2 (from memory; 4 deg)
    angles = {aspect: peak(aspect)[0] for aspect in (1.0, 1.5, 2.0, 4.0)}
    assert angles[4.0] < angles[2.0] < angles[1.5] < angles[1.0]
    assert 11 <= angles[4.0] <= 22 and 16 <= angles[2.0] <= 29


def test_square_plates_stall_near_forty_degrees():
    # wing_post_stall_trends.yaml (from memory): 35-45 deg at A 1 (4 deg)
    assert 31 <= peak(1.0)[0] <= 49


@pytest.mark.xfail(strict=True, reason="1.31 where 1.35 to 1.75 is wanted")
def test_greatest_lift_of_square_plates():
    # wing_post_stall_trends.yaml (from memory): about 1.85 (0.2) for a Clark Y, of which camber makes 0.3 (common practice)
    assert peak(1.0)[1] == pytest.approx(1.85 - 0.3, abs=0.2)
