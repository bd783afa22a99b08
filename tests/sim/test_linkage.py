"""The four-bar against solutions found apart from it: closure of the loop by root finding, Freudenstein's equation, closed forms."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from sim.description import Linkage
from sim.linkage import Way, rate, rod_length, servo_angle, surface_angle, way

ROUND_OFF = 1e-9  # rad: three inverse functions of double precision, away from a dead point
UNEVEN = Linkage(0.032, 0.028, 0.120, height=0.007, horn_offset=0.003, neutral=0.12, push=-1.0)

linkages = st.builds(
    Linkage,
    arm=st.floats(0.008, 0.06),
    horn=st.floats(0.012, 0.06),
    distance=st.floats(0.06, 0.4),
    height=st.floats(-0.04, 0.04),
    horn_offset=st.floats(-0.008, 0.008),
    neutral=st.floats(-0.5, 0.5),
    travel=st.floats(0.3, 2.6),
    push=st.sampled_from([1.0, -1.0]),
)


def holes(link, s, d):
    """Holes of arm and horn as complex numbers (aft + i up, on the rod's side), the arm turned aft by s, the horn by d."""
    arm = link.arm * 1j * np.exp(-1j * (link.neutral + s))
    horn = complex(link.distance, link.height) + complex(link.horn_offset, link.horn) * np.exp(-1j * d)
    return arm, horn


def stretch(link, s, d):
    """How much too long the rod would have to be, m."""
    arm, horn = holes(link, s, d)
    at_rest = holes(link, 0.0, 0.0)
    return abs(horn - arm) - abs(at_rest[1] - at_rest[0])


def marched(link, servo, steps=400):
    """The surface's angle found by walking there from neutral and closing the loop with Brent's rule at each step."""
    d = 0.0
    for s in np.linspace(0.0, link.push * servo, steps)[1:]:
        d = brentq(lambda x, s=s: stretch(link, s, x), d - 0.05, d + 0.05, xtol=1e-13)
    return link.push * d


@pytest.mark.parametrize("link", [UNEVEN, replace(UNEVEN, push=1.0), Linkage(0.016, 0.036, 0.12, -0.018, 0.001)])
@pytest.mark.parametrize("servo", [-0.8, -0.3, 0.1, 0.75])
def test_the_loop_closed_by_root_finding(link, servo):
    assert surface_angle(link, servo) == pytest.approx(marched(link, servo), abs=ROUND_OFF)


def test_freudenstein_s_equation():
    # F. Freudenstein, "Approximate synthesis of four-bar linkages", Trans. ASME 77 (1955), in its usual form
    # K1 cos(out) - K2 cos(in) + K3 = cos(in - out), angles from the fixed link (from memory).
    link = UNEVEN
    servo = np.linspace(-0.85, 0.85, 50)
    ground = complex(link.distance, link.height)
    arm, horn = holes(link, link.push * servo, link.push * surface_angle(link, servo))
    turned_in, turned_out = np.angle(arm / ground), np.angle((horn - ground) / ground)
    a, c, d, b = link.arm, math.hypot(link.horn, link.horn_offset), abs(ground), rod_length(link)
    k1, k2, k3 = d / a, d / c, (a**2 - b**2 + c**2 + d**2) / (2 * a * c)
    left = k1 * np.cos(turned_out) - k2 * np.cos(turned_in) + k3
    assert left == pytest.approx(np.cos(turned_in - turned_out), abs=1e-12)


def test_a_parallelogram_turns_the_surface_as_the_servo():
    link = Linkage(0.03, 0.03, 0.15, travel=1.5)
    servo = np.linspace(-1.5, 1.5, 31)
    assert surface_angle(link, servo) == pytest.approx(servo, abs=ROUND_OFF)
    assert rate(link, servo) == pytest.approx(1.0)


@given(arm=st.floats(0.01, 0.05), horn=st.floats(0.01, 0.05), distance=st.floats(0.08, 0.4))
@settings(max_examples=50, deadline=None)
def test_small_angles_go_by_the_ratio_of_arm_and_horn(arm, horn, distance):
    # rod along the chord, both cranks square to it; the next term of the series is quadratic, of the order of
    # angle^2 times (arm/horn) times the larger of 1 and (arm - horn) arm / (horn rod)
    link = Linkage(arm, horn, distance, height=arm - horn)
    assert rate(link, 0.0) == pytest.approx(arm / horn, rel=1e-12)
    assert surface_angle(link, 1e-4) == pytest.approx(1e-4 * arm / horn, rel=1e-3)


@given(link=linkages, part=st.floats(-0.97, 0.97))
@settings(max_examples=150, deadline=None)
def test_virtual_work(link, part):
    """The rate by levers is the slope of the way; and by force, torques over a rod's pull do the same work."""
    assume(rate(link, 0.0) > 0.05 and rod_length(link) > 0.01)
    ends = way(link)
    servo = part * (ends.high if part > 0.0 else -ends.low)
    step = 1e-5
    slope = (surface_angle(link, servo + step) - surface_angle(link, servo - step)) / (2 * step)
    found = float(rate(link, servo))
    # the slope is off by the third derivative, which grows towards the horn's dead point with the fifth power of the rate
    assert slope == pytest.approx(found, rel=1e-5, abs=1e-8 * max(1.0, found**5))
    arm, horn = holes(link, link.push * servo, link.push * float(surface_angle(link, servo)))
    hinge = complex(link.distance, link.height)
    pull = (horn - arm) / abs(horn - arm)
    torques = (np.conj(arm) * pull).imag, (np.conj(horn - hinge) * pull).imag
    assert torques[0] / torques[1] == pytest.approx(found, rel=1e-6)


# arm and horn of one length: a parallelogram, whose dead points rounding must not miss
@example(link=Linkage(0.03125, 0.03125, 0.25, height=0.032892166310029135, travel=2.0))
@example(link=Linkage(0.03125, 0.03125, 0.25, height=0.03125, travel=2.0))
# with arm and rod in line in the place where the horn stands folded the other way: no end of this way
@example(link=Linkage(0.028, 0.0305, 0.136, height=0.0096, horn_offset=0.0191, neutral=0.285, travel=2.54))
@given(link=linkages)
@settings(max_examples=150, deadline=None)
def test_the_way_is_monotone_and_ends_at_what_it_says(link):
    assume(rate(link, 0.0) > 0.05 and rod_length(link) > 0.01)
    ends = way(link)
    servo = np.linspace(ends.low, ends.high, 401)
    surface = surface_angle(link, servo)
    assume(np.abs(surface).max() < 3.0)  # a surface turned half round is another number for the same place
    assert np.isfinite(surface).all() and (np.diff(surface) > -1e-6).all()
    assert (rate(link, servo[1:-1]) > 0.0).all()
    bars = sorted(
        (link.arm, math.hypot(link.horn, link.horn_offset), rod_length(link), math.hypot(link.distance, link.height))
    )
    if abs(bars[0] + bars[3] - bars[1] - bars[2]) < 1e-9:
        return  # all four in one line (Grashof's change point): arm and horn end the way together, and neither alone
    for end, ended in ((ends.low, ends.low_end), (ends.high, ends.high_end)):
        beyond = float(surface_angle(link, end * (1.0 + 1e-4)))
        if ended == "servo":
            assert abs(end) == pytest.approx(link.travel)
        elif ended == "horn":  # the rod does not reach farther
            assert math.isnan(beyond)
        else:  # the surface comes back
            assert abs(beyond) < abs(float(surface_angle(link, end)))
            assert float(rate(link, end)) == pytest.approx(0.0, abs=1e-6)


@given(link=linkages, part=st.floats(-0.99, 0.99))
@settings(max_examples=100, deadline=None)
def test_there_and_back(link, part):
    assume(rate(link, 0.0) > 0.05 and rod_length(link) > 0.01)
    ends = way(link)
    servo = part * (ends.high if part > 0.0 else -ends.low)
    surface = surface_angle(link, servo)
    assume(abs(surface) < 3.0)
    # near a dead point an angle goes with the root of a cosine's round-off
    assert servo_angle(link, surface) == pytest.approx(servo, abs=1e-6)


def test_dead_points_of_a_known_triangle():
    # arm 40, horn 20, rod along the chord 100 long: horn and rod in line where shaft-to-hole triangles close,
    # |hinge to arm's hole| = 120 or 80
    link = Linkage(0.040, 0.020, 0.100, height=0.020, travel=3.0)
    ends = way(link)
    assert (ends.low_end, ends.high_end) == ("horn", "horn")
    for end in (ends.low, ends.high):
        hole = 0.040 * np.array([math.sin(end), math.cos(end)])
        reach = math.hypot(hole[0] - 0.100, hole[1] - 0.020)
        assert min(abs(reach - 0.120), abs(reach - 0.080)) < 1e-12
    turned = replace(link, arm=0.020, horn=0.040, height=-0.020)
    assert way(turned)[2:] == ("arm", "arm")
    assert way(replace(link, travel=0.2)) == Way(-0.2, 0.2, "servo", "servo")


def test_the_rod_on_the_other_side_is_the_mirror_image():
    mirrored = replace(UNEVEN, push=-UNEVEN.push)
    servo = np.linspace(-0.8, 0.8, 9)
    assert surface_angle(mirrored, servo) == pytest.approx(-surface_angle(UNEVEN, -servo), abs=ROUND_OFF)
    ends, other = way(UNEVEN), way(mirrored)
    assert (ends.low, ends.high) == pytest.approx((-other.high, -other.low))
