"""The unsteady law, two first-order lags, against pitching tests of a section and indicial lift of a wing.

The S809's static curve is its own (cambered, 21 % thick), so only the *law* is held here:
its static separation point is what `section_loads` needs to give the published static lift;
the project's lag of the separation point, and of half the load with the circulation, then
run through the published motion.

Beddoes' constants in semi-chords: T_P 1.7, T_f 3.0, T_v 6.0; the project's separation lag of
five chords is one of 10 semi-chords for all three.  Found (rms of c_l over both loops, k 0.051
and 0.026; peaks measured 1.56 to 2.00, and 1.26):

    lag, semi-chords                     rms c_l        peak c_l
    6                                    0.25, 0.14     1.18, 1.10
    10, the project's                                   1.28, 1.16
    3 (T_f alone)                        0.32, 0.18     1.10, 1.06
    1.7 then 3 (T_P, T_f)                0.29, 0.16     1.15, 1.09
    12, the least squares of one lag     0.19, 0.09     1.38, 1.20
    1.7 then 9                           0.18, 0.10     1.33, 1.18

No lag alone puts the peak where it was measured, 23 to 25 deg: that is the vortex that leaves
the leading edge (T_v), which the project does not have.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.optimize import brentq

from sim import layout as L
from sim.equations_of_motion import derivatives
from sim.lifting_surfaces import CIRCULATION_LAG, SEPARATION_LAG, STILL
from sim.section_aero import PLATE_2D, attached_share, plate_force, section_loads, steady_separation
from tests.sim.isolated import NO_PROPELLER, Stream, straight
from tests.sim.reference import facts, table

CHORD, SPEED = 0.457, 34.3  # m, m/s: the tests'
FULLY_SEPARATED = math.radians(20.0)  # static lift is lowest there
SEMI_CHORDS = 2.0 * SPEED / (SPEED + STILL)  # travelled per chord of a lag in the kernel, at this speed
LAG = SEMI_CHORDS * SEPARATION_LAG


class Section:
    """The S809 as published when still: zero-lift angle and slope by its first four points, separation point by inversion."""

    def __init__(self):
        rows = table("dynamic_stall_s809_osu.csv", case="static")
        self.alpha = np.radians([row["alpha_deg"] for row in rows])
        self.lift = np.array([row["cl"] for row in rows])
        self.slope, at_zero = np.polyfit(self.alpha[:4], self.lift[:4], 1)
        self.zero = -at_zero / self.slope
        self.separation = np.array([self._invert(a, c) for a, c in zip(self.alpha, self.lift)])

    def separated(self, alpha: float) -> float:
        """Lift with nothing attached: the measured curve from 20 deg, and the project's plate through it before."""
        if alpha >= FULLY_SEPARATED:
            return float(np.interp(alpha, self.alpha, self.lift))

        def plate(a):
            return plate_force(math.sin(a - self.zero), PLATE_2D) * math.cos(a)

        lowest = float(np.interp(FULLY_SEPARATED, self.alpha, self.lift))
        return lowest * plate(alpha) / plate(FULLY_SEPARATED)

    def lift_at(self, alpha: float, f: float) -> float:
        """Lift coefficient at separation point `f`: the project's attached part, Kirchhoff's share, and `separated`."""
        sine, cosine = math.sin(alpha - self.zero), math.cos(alpha - self.zero)
        normal, chordwise, _, _ = section_loads(
            sine, cosine, sine, f, SPEED * CHORD, self.slope, PLATE_2D, 0.0, 0.0, 0.0, 1.0
        )
        loose = 1.0 - attached_share(f)
        normal -= loose * plate_force(sine, PLATE_2D)
        return normal * math.cos(alpha) + chordwise * math.sin(alpha) + loose * self.separated(alpha)

    def _invert(self, alpha: float, lift: float) -> float:
        if lift >= self.lift_at(alpha, 1.0):
            return 1.0
        if lift <= self.lift_at(alpha, 0.0):
            return 0.0
        return brentq(lambda f: self.lift_at(alpha, f) - lift, 0.0, 1.0)


@dataclass
class Loop:
    """One cycle: alpha (deg) and lift on the way up and on the way down, both in rising order of alpha."""

    up: tuple[np.ndarray, np.ndarray]
    down: tuple[np.ndarray, np.ndarray]

    def at(self, alpha: np.ndarray, rising: np.ndarray) -> np.ndarray:
        """Lift at `alpha` (deg), up where `rising`."""
        return np.where(rising, np.interp(alpha, *self.up), np.interp(alpha, *self.down))

    @property
    def peak(self) -> tuple[float, float]:
        """Highest lift on the way up, and its angle (deg)."""
        best = int(np.argmax(self.up[1]))
        return self.up[1][best], self.up[0][best]

    @property
    def reattached(self) -> float:
        """Angle (deg) at which lift on the way down has come back to 0.75, from its least."""
        least = int(np.argmin(self.down[1]))
        angle, lift = self.down[0][: least + 1], self.down[1][: least + 1]
        return float(angle[np.flatnonzero(lift > 0.75)[-1]])


def pitch(section: Section, k: float, low: float, high: float, lag: float = LAG, steps: int = 2000) -> Loop:
    """The third cycle of pitching about c/4 between `low` and `high` deg at reduced frequency `k`; `lag` in semi-chords."""
    mean, swing = math.radians(0.5 * (low + high)), math.radians(0.5 * (high - low))
    step = 2.0 * math.pi / k / steps  # semi-chords
    f, circulation, rows = 1.0, None, []
    for i in range(3 * steps):
        phase = 2.0 * math.pi * i / steps
        alpha = mean - swing * math.cos(phase)
        met = alpha + swing * k * math.sin(phase)  # at three quarters of the chord: alpha + q (c/2) / V
        f += (float(np.interp(met, section.alpha, section.separation)) - f) * step / lag
        at_once = section.lift_at(met, f)
        circulation = at_once if circulation is None else circulation
        circulation += (at_once - circulation) * step / (SEMI_CHORDS * CIRCULATION_LAG)
        # half of a change of normal force comes at once, half with the circulation
        rows.append((math.degrees(alpha), at_once + 0.5 * (circulation - at_once) * math.cos(alpha)))
    angle, lift = np.array(rows[-steps:]).T
    half = steps // 2
    return Loop((angle[:half], lift[:half]), (angle[half:][::-1], lift[half:][::-1]))


@dataclass
class Measured:
    """Points of the published cycles in time order: alpha (deg), lift, and whether alpha rises."""

    alpha: np.ndarray
    lift: np.ndarray
    rising: np.ndarray


CASES = {"osc_1p2Hz": (0.0505, 8.3, 28.9), "osc_0p6Hz": (0.026, 8.5, 29.0)}  # k, least and greatest alpha of the file


@pytest.fixture(scope="module")
def section():
    return Section()


@pytest.fixture(scope="module", params=CASES)
def case(request):
    return request.param


@pytest.fixture(scope="module")
def loop(section, case):
    return pitch(section, *CASES[case])


def measured(case: str) -> Measured:
    rows = table("dynamic_stall_s809_osu.csv", case=case)
    alpha = np.array([row["alpha_deg"] for row in rows])
    return Measured(alpha, np.array([row["cl"] for row in rows]), np.gradient(alpha) > 0.0)


def test_the_static_curve_is_the_published_one(section):
    # by inversion, to rounding; 0.01 where the section's own slope is not met at zero separation (0 deg)
    found = [section.lift_at(a, f) for a, f in zip(section.alpha, section.separation)]
    assert found == pytest.approx(section.lift, abs=0.015)
    assert np.all(np.diff(section.separation[3:]) <= 1e-9)  # from 6 deg on it only moves forward


def test_the_lag_is_the_kernels():
    # df/dt = (f_steady - f) (V + STILL) / (SEPARATION_LAG chord), with the strip's own speed and flow
    stream = Stream((straight(6.0, strips=5),), speed=SPEED)
    x = stream.flow(math.radians(9.0))
    x[L.SEPARATION : L.SEPARATION + 10] = 0.4
    dx, m = np.zeros(L.STATE), stream.model
    derivatives(x, np.zeros(L.COMMAND), m, NO_PROPELLER, dx)
    chord = m[L.CHORD]
    speed = m[L.PACE] * chord - STILL
    steady = steady_separation(m[L.SIN_ALPHA], m[L.COS_ALPHA], speed * chord, m[L.BREAK_WIDTH], 0.0)
    assert dx[L.SEPARATION] == pytest.approx((steady - 0.4) * (speed + STILL) / (SEPARATION_LAG * chord), rel=1e-6)


def test_the_separation_lag_lies_among_beddoes_constants():
    # dynamic_stall_beddoes_naca0012.yaml, lowest Mach number (30 %): one lag stands for pressure, boundary layer and vortex
    constants = facts("dynamic_stall_beddoes_naca0012.yaml")
    boundary_layer, pressure, vortex = (constants[name][0] for name in ("T_f", "T_P", "T_v"))
    assert boundary_layer < 2.0 * SEPARATION_LAG < 1.3 * (boundary_layer + pressure + vortex)


def test_loops_turn_the_measured_way(section, loop, case):
    # more lift on the way up, less on the way down, from 11 to 27 deg; mean lift on the way down 0.15 (notes on quality)
    points = measured(case)
    chosen = (points.alpha > 11.0) & (points.alpha < 27.0)
    for rising, sign in ((True, 1.0), (False, -1.0)):
        part = chosen & (points.rising == rising)
        still = np.interp(np.radians(points.alpha[part]), section.alpha, section.lift)
        assert sign * (points.lift[part] - still).mean() > 0.0
        assert sign * (loop.at(points.alpha[part], points.rising[part]) - still).mean() > 0.0
    down = chosen & ~points.rising
    assert (loop.at(points.alpha[down], points.rising[down]) - points.lift[down]).mean() == pytest.approx(0.0, abs=0.15)


def test_the_slow_loop(section):
    # k 0.026: peak 1.26 (0.25), reattachment at 16.7 deg (3 deg), by the notes on quality; found 1.10 and 18.5
    loop, points = pitch(section, *CASES["osc_0p6Hz"]), measured("osc_0p6Hz")
    assert loop.peak[0] == pytest.approx(points.lift.max(), abs=0.25)
    assert loop.reattached == pytest.approx(16.7, abs=3.0)


@pytest.mark.xfail(strict=True, reason="no vortex lift: c_l 1.28 where 1.56 and 2.00 were measured")
def test_peak_lift_of_the_fast_loop(section):
    assert pitch(section, *CASES["osc_1p2Hz"]).peak[0] == pytest.approx(1.56, abs=0.25)  # the smaller of two cycles


def test_reattachment_in_the_fast_loop(section):
    assert pitch(section, *CASES["osc_1p2Hz"]).reattached == pytest.approx(15.0, abs=3.0)


@pytest.mark.xfail(
    strict=True,
    reason="no vortex: greatest lift at 17 to 19 deg, little later than when still; measured 23 to 25 (3 deg)",
)
def test_angle_of_greatest_lift(loop, case):
    assert loop.peak[1] == pytest.approx({"osc_1p2Hz": 24.5, "osc_0p6Hz": 23.0}[case], abs=3.0)


def test_the_lag_that_the_loops_ask_for(section):
    # rms of lift over both loops falls to a least value at 12 semi-chords (6 chords); at three chords it is 1.4 times as
    # much, at the project's five within 10 %.  For a thick section that separates slowly from 8 deg on.
    def rms(lag):
        total = []
        for case, motion in CASES.items():
            points = measured(case)
            chosen = (points.alpha > 9.0) & (points.alpha < 28.5)
            error = pitch(section, *motion, lag=lag, steps=600).at(points.alpha, points.rising) - points.lift
            total.append(math.sqrt((error[chosen] ** 2).mean()))
        return float(np.mean(total))

    lags = np.array([3.0, 6.0, 9.0, 12.0, 14.0, 16.0, 20.0, 26.0])
    found = np.array([rms(lag) for lag in lags])
    assert 9.0 <= lags[np.argmin(found)] <= 14.0
    assert found[1] / found.min() == pytest.approx(1.4, abs=0.1)
    assert found[0] > found[1]  # Beddoes' T_f alone is worse
    assert rms(2.0 * SEPARATION_LAG) / found.min() < 1.1


def step_response(aspect: float) -> tuple[float, np.ndarray, np.ndarray]:
    """Lift just after a sudden small alpha over its steady value, then semi-chords travelled and lift over steady."""
    stream = Stream((straight(aspect, strips=10),))
    alpha = math.radians(1.0)
    x = stream.flow(alpha)
    m, dx = stream.model, np.zeros(L.STATE)

    def lift():
        derivatives(x, np.zeros(L.COMMAND), m, NO_PROPELLER, dx)
        return -m[L.ACCOUNT :][: 6 * L.FUSELAGE].reshape(-1, 6).sum(axis=0)[2]

    steady = lift()
    x[L.CIRCULATION : L.SEPARATION] = 0.0
    time, path, step = 0.0, [], 2e-4
    for _ in range(1200):
        path.append((2.0 * time * stream.speed / m[L.CHORD], lift() / steady))
        x[L.CIRCULATION : L.SEPARATION] += step * dx[L.CIRCULATION : L.SEPARATION]
        time += step
    travelled, ratio = np.array(path).T
    return ratio[0], travelled, ratio


# R. T. Jones, NACA TR-681, 1940 (from memory): lift over steady lift is 1 - loss exp(-rate s), s in semi-chords
JONES = [(6.0, 0.361, 0.381), (3.0, 0.283, 0.540)]


@pytest.mark.parametrize("aspect, loss, rate", JONES)
def test_lift_has_settled_within_ten_chords(aspect, loss, rate):
    # Jones leaves 0.05 % at 20 semi-chords; this model's lag of three chords 0.4 %
    _, travelled, ratio = step_response(aspect)
    late = travelled > 20.0
    assert late.any()
    assert ratio[late] == pytest.approx(1.0 - loss * np.exp(-rate * travelled[late]), abs=0.005)


@pytest.mark.parametrize(
    "aspect, loss, rate",
    [
        JONES[0],
        pytest.param(
            *JONES[1], marks=pytest.mark.xfail(strict=True, reason="short surfaces start at 0.95 of steady lift")
        ),
    ],
)
def test_lift_after_a_sudden_change_of_alpha(aspect, loss, rate):
    # Jones: starts at 0.64 (A 6) and 0.72 (A 3) and rises.  This model starts with half of the section's slope over the
    # wing's: 0.72 and 0.95.  0.1: an approximation by one exponential.
    _, travelled, ratio = step_response(aspect)
    assert ratio == pytest.approx(1.0 - loss * np.exp(-rate * travelled), abs=0.1)
