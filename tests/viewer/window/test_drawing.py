"""Shapes as triangles, and the arithmetic of chart, sticks and surfaces; no window is opened."""

import math

import numpy as np
import pytest

from viewer.window import mesh, theme
from viewer.window.layout import Box
from viewer.window.panels.chart import Lane, in_lines, nice_step, span_of, ticks, unbroken
from viewer.window.panels.sticks import AILERON, ELEVATOR, HANDS, RUDDER, THROTTLE, in_words, place_in_square
from viewer.window.panels.surfaces import in_words as surface_in_words
from viewer.window.panels.surfaces import turned


def area(found: mesh.Mesh, least_alpha: int = 0) -> float:
    corners, colours = found
    a, b, c = corners[0::3].astype(float), corners[1::3].astype(float), corners[2::3].astype(float)
    ab, ac = b - a, c - a
    solid = colours[0::3, 3] >= least_alpha
    return float(np.abs(ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])[solid].sum() / 2)


def test_areas():
    assert area(mesh.rectangle(Box(1, 2, 30, 40), theme.TEXT)) == pytest.approx(1200)
    assert area(mesh.frame(Box(0, 0, 30, 40), theme.TEXT, 2)) == pytest.approx(30 * 40 - 26 * 36)
    assert area(mesh.polygon([(0, 0), (10, 0), (10, 10), (0, 10)], theme.TEXT)) == pytest.approx(100)
    # a line fades over a pixel on either side, so it covers its width and one more
    assert area(mesh.line([(0, 0), (100, 0)], theme.TEXT, 4)) == pytest.approx(500)
    assert area(mesh.disk(0, 0, 20, theme.TEXT)) == pytest.approx(math.pi * 20**2, rel=0.2)


@pytest.mark.parametrize(
    "points", [[(0, 0), (100, 0)], [(0, 0), (13, 0), (13, 9), (70, 9)], [(x, 0) for x in range(101)]]
)
def test_half_of_a_dashed_line_is_drawn(points):
    solid, dashed = (area(mesh.line(points, theme.TEXT, 3, dash)) for dash in (0.0, 5.0))
    assert dashed / solid == pytest.approx(0.5, abs=0.04)


def test_a_line_breaks_where_a_value_is_missing():
    whole = mesh.line([(0, 0), (10, 0), (20, 0), (30, 0)], theme.TEXT, 2)
    broken = mesh.line([(0, 0), (10, 0), (math.nan, math.nan), (20, 0), (30, 0)], theme.TEXT, 2)
    assert area(broken) == pytest.approx(area(whole) * 2 / 3)
    assert np.isfinite(broken[0]).all()
    assert len(mesh.line([(1, 1)], theme.TEXT, 2)[0]) == 0
    assert len(mesh.line([(1, 1), (1, 1)], theme.TEXT, 2, 4.0)[0]) == 0


def test_a_thinned_line_keeps_its_ends_and_its_extremes():
    x = np.linspace(0.0, 99.0, 20_000)
    y = 20.0 * np.sin(x)
    y[12_345] = 700.0  # one frame alone
    few_x, few_y = mesh.thinned(x, y)
    assert len(few_x) <= 2 * 100 + 2 and few_y.max() == 700.0 and few_y.min() == pytest.approx(y.min(), abs=0.5)
    assert (few_x[0], few_x[-1]) == (x[0], x[-1]) and (np.diff(few_x) >= 0).all()


def test_a_thinned_line_looks_the_same():
    x = np.linspace(0.0, 786.0, 896)
    y = 40.0 * np.exp(-(((x - 200.0) / 60.0) ** 2)) + 0.02 * x
    few_x, few_y = mesh.thinned(x, y)
    assert len(few_x) < len(x) / 4
    assert np.abs(np.interp(x, few_x, few_y) - y).max() < mesh.STRAIGHT * mesh.ROUNDS
    y[300] = np.nan
    few_x, few_y = mesh.thinned(x, y)
    assert np.isnan(few_y).sum() == 1 and x[300] in few_x


def test_ticks_are_round_and_few():
    assert ticks(19.2, 25.6, 3) == [20.0, 25.0] or ticks(19.2, 25.6, 3) == [20.0, 22.0, 24.0]
    assert ticks(-1.0, 1.0, 4) == pytest.approx([-1.0, -0.5, 0.0, 0.5, 1.0])
    assert nice_step(0.0, 4) == 1.0 and nice_step(math.nan, 4) == 1.0
    for span in (1e-6, 0.3, 7.0, 8.95, 61.0, 12_345.0):
        for most in (1, 2, 5, 10):
            step = nice_step(span, most)
            assert step * most >= span * (1 - 1e-9) and step * most <= 5.01 * span
            mantissa = step / 10 ** math.floor(math.log10(step) + 1e-9)
            assert min(abs(mantissa - m) for m in (1, 2, 5)) < 1e-6


def test_an_angle_breaks_where_it_jumps_by_a_turn():
    times, values = unbroken(np.arange(4.0), np.array([178.0, 179.0, -179.0, -178.0]), 360.0)
    assert np.isnan(values).sum() == 1 and len(times) == 5
    times, values = unbroken(np.arange(4.0), np.array([178.0, 179.0, -179.0, -178.0]), 0.0)
    assert not np.isnan(values).any()


def test_values_at_the_line_are_those_of_the_nearest_frame_and_none_outside():
    lane = Lane("height", "m", np.arange(0.0, 1.001, 0.1), np.arange(11.0), np.array([0.5, 1.5]), np.array([3.0, 4.0]))
    assert lane.at(0.52) == [5.0, 3.0] and lane.at(0.2)[0] == 2.0
    assert lane.at(1.5) == [None, 4.0]
    low, high = span_of(lane)
    assert low < 0.0 and high > 10.0
    flat = Lane("height", "m", np.arange(2.0), np.array([5.0, 5.0]), decimals=1)
    low, high = span_of(flat)
    assert high - low == pytest.approx(1.0) and (low + high) / 2 == pytest.approx(5.0)
    empty = Lane("height", "m", np.zeros(0), np.zeros(0))
    assert span_of(empty)[1] > span_of(empty)[0] and empty.at(0.0) == []


def test_long_names_are_broken_between_words():
    assert in_lines("load, toward canopy (g)", 14) == ["load, toward", "canopy (g)"]
    assert in_lines("height (m)", 14) == ["height (m)"]


def test_sticks_stand_where_hands_put_them():
    assert place_in_square(ELEVATOR, 1.0) == -1.0  # pulled: toward the pilot, below
    assert place_in_square(AILERON, 0.5) == 0.5 and place_in_square(RUDDER, -2.0) == -1.0
    assert (place_in_square(THROTTLE, 0.0), place_in_square(THROTTLE, 1.0)) == (-1.0, 1.0)
    assert in_words(ELEVATOR, 0.351) == "35 % pull" and in_words(ELEVATOR, -0.2) == "20 % push"
    assert in_words(AILERON, -0.1) == "10 % left" and in_words(RUDDER, 0.001) == "0 %"
    assert in_words(THROTTLE, 0.62) == "62 %"
    # the four modes as transmitters are sold (common practice, no source); rudder and throttle on the left is mode 2
    for mode, hands in HANDS.items():
        assert sorted(stick for hand in hands for stick in hand) == [0, 1, 2, 3], mode
    assert HANDS[2] == ((RUDDER, THROTTLE), (AILERON, ELEVATOR)) and HANDS[1] == (
        (RUDDER, ELEVATOR),
        (AILERON, THROTTLE),
    )


def test_surfaces_turn_the_way_their_sign_says():
    assert surface_in_words(2, -12.34) == "12.3 deg up" and surface_in_words(0, 5.0) == "5.0 deg down"
    assert surface_in_words(3, 20.0) == "20.0 deg left" and surface_in_words(3, -20.0) == "20.0 deg right"
    assert surface_in_words(3, -0.04) == "0.0 deg"
    edge = np.array([(1.0, 0.0)])
    assert turned(edge, 30.0)[0] == pytest.approx((math.cos(math.pi / 6), -0.5))  # trailing edge down: below the hinge
    assert turned(edge, -90.0)[0] == pytest.approx((0.0, 1.0), abs=1e-12)


def _luminance(colour) -> float:
    parts = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in colour]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def test_text_stands_out_from_what_is_behind_it():
    """WCAG 2.1, success criterion 1.4.3: a contrast of 4.5 to 1."""
    pairs = [(theme.TEXT, theme.PAPER_2), (theme.FAINT_TEXT, theme.PAPER_2), (theme.FIRST, theme.PAPER),
             (theme.SECOND, theme.PAPER), (theme.ON_TEXT, theme.ON)]  # fmt: skip
    for text, paper in pairs:
        light, dark = sorted((_luminance(text), _luminance(paper)), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5, (text, paper)


def test_the_two_flights_differ_for_the_colour_blind():
    """Dichromats' view by the matrices of Vienot, Brettel and Mollon 1999 (linear RGB, from memory)."""
    views = {
        "protan": ((0.11238, 0.88762, 0.0), (0.11238, 0.88762, 0.0), (0.00401, -0.00401, 1.0)),
        "deutan": ((0.29275, 0.70725, 0.0), (0.29275, 0.70725, 0.0), (-0.02234, 0.02234, 1.0)),
    }
    linear = [np.array([(c / 255) ** 2.2 for c in colour]) for colour in (theme.FIRST, theme.SECOND)]
    for name, matrix in views.items():
        seen = [np.clip(np.array(matrix) @ colour, 0, 1) ** (1 / 2.2) for colour in linear]
        assert np.linalg.norm(seen[0] - seen[1]) > 0.4, name
