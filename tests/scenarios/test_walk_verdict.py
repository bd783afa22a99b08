"""The verdict of a walk on arrays made by hand, and the limits it is made with."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, binomtest

from models.errors import UserError
from scenarios.ensemble import ENDED
from scenarios.measures import MEASURES, STYLES
from scenarios.walk.limits import NAMES, ORDER, limits_of, manoeuvres_of, with_limits
from scenarios.walk.verdict import Judged, at_least, at_most, judge, trends

DONE, LOST = ENDED.index("completed"), ENDED.index("lost control")
MARGIN, SPIN, DROP = ("dive-test", "stick_fixed_margin"), "spin-one-turn-{}", ("stall", "wing_drop")
COLUMNS = [MARGIN, (SPIN.format("right"), "turns_to_stop"), (SPIN.format("left"), "turns_to_stop"), DROP]


def limits(**bounds):
    """The precision limits called static margin, spin recovery and wing drop, and no others."""
    wanted = {"static margin": "5 %", "spin recovery": "1", "wing drop": "45 deg"} | bounds
    found = with_limits(limits_of("precision"), None, [f"{name}: {text}" for name, text in wanted.items()])
    return tuple(next(limit for limit in found if limit.name == name) for name in wanted)


def judged(rows, endings=None, reasons=None) -> Judged:
    values = np.array(rows, dtype=float)
    endings = np.full((len(values), 4), DONE) if endings is None else np.array(endings)
    blank = [("",) * len(COLUMNS)] * len(values)
    return judge(limits(), COLUMNS, values, endings, blank if reasons is None else reasons)


# ---- the binomial --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("good, count", [(0, 20), (1, 20), (19, 20), (20, 20), (97, 100), (100, 100), (950, 1000)])
@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.99])
def test_the_lower_limit_is_clopper_and_pearsons(good, count, confidence):
    # scipy.stats.binomtest: exact interval, one-sided
    exact = binomtest(good, count, alternative="greater").proportion_ci(confidence, method="exact").low
    assert at_least(good, count, confidence) == pytest.approx(exact, abs=1e-12)


def test_the_words_of_the_verdict():
    # "97 of 100 draws broke no limit, at least 92 % at 95 % confidence"
    assert f"{100.0 * at_least(97, 100):.0f}" == "92"
    # none of n: the rule of three, 3 / n (Hanley and Lippman-Hand, JAMA 1983, from memory), exactly 1 - 0.05 ** (1 / n)
    assert at_most(0, 100) == pytest.approx(1.0 - 0.05**0.01) and at_most(0, 100) == pytest.approx(0.03, abs=0.001)


@given(st.integers(1, 200), st.data())
def test_the_limit_is_where_the_chance_is_what_is_left_of_the_confidence(count, data):
    good = data.draw(st.integers(1, count))
    share = at_least(good, count, 0.95)
    assert binom.sf(good - 1, count, share) == pytest.approx(0.05, abs=1e-6)
    assert at_most(count - good, count) == pytest.approx(1.0 - share)


def test_impossible_counts_are_refused():
    for good, count in ((3, 2), (-1, 4), (0, 0)):
        with pytest.raises(ValueError):
            at_least(good, count)


# ---- judging ---------------------------------------------------------------------------------------------------------


def test_headroom_and_breaks_by_hand():
    # margin less 3.3 against 5 %; the worse side of the spin against 1 turn; wing drop to either side against 45 deg
    found = judged([[10.3, 0.3, 0.4, -20.0], [8.2, 0.2, 1.25, 44.0], [8.3, 0.9, 0.1, -45.5]])
    expected = [[2.0, 0.6, 25.0], [-0.1, -0.25, 1.0], [0.0, 0.1, -0.5]]
    np.testing.assert_allclose(found.headroom, expected, atol=1e-9)
    # the margin of the last lies on the limit to within rounding, so it is not looked at
    np.testing.assert_array_equal(found.broken[:, 1:], [[0, 0, 0], [1, 0, 0], [0, 1, 0]])
    np.testing.assert_array_equal(found.broken[:2, 0], [0, 1])


def test_what_was_not_taken_is_broken_unless_its_reason_is_harmless():
    rows = [[12.0, 0.2, 0.2, 10.0]] + [[12.0, math.nan, 0.2, math.nan]] * 3
    spin, stall = "not measured: not a spin: turning at 40 deg/s", "not measured: sank without stalling: no part of it"
    reasons = [
        ("",) * 4,
        ("", spin, "", stall),
        ("", "not measured: still turning at 90 deg/s at the end", "", stall),
        ("", spin, "", "not measured: lost control in"),
    ]
    found = judged(rows, reasons=reasons)
    np.testing.assert_array_equal(found.broken, [[0, 0, 0, 0], [0, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0]])
    # the other side of the spin is what is left to be looked at
    np.testing.assert_allclose(found.headroom[1:, 1], 0.8)
    assert np.isnan(found.headroom[1:, 2]).all()


def test_a_flight_that_did_not_end_breaks_the_step():
    endings = np.full((3, 4), DONE)
    endings[2, 3] = LOST
    found = judged([[12.0, 0.2, 0.2, 10.0]] * 3, endings)
    assert found.bad == 1 and found.breaks.tolist() == [0, 0, 0, 1] and found.count == 2


def made(headroom: list[float], nominal: float = 1.0) -> Judged:
    """A step with one limit, of that headroom in each draw."""
    room = np.array([[nominal], *([h] for h in headroom)])
    return Judged(room, np.hstack([room < 0.0, np.zeros_like(room, dtype=bool)]))


def test_the_share_that_may_break():
    fine = [1.0] * 19
    assert made([*fine, -1.0]).sound(0.05)  # 1 of 20 is 5 %, not more
    assert not made([*fine[:-1], -1.0, -1.0]).sound(0.05)
    assert not made(fine, nominal=-0.1).sound(0.05)  # the setup as it was measured breaks it
    assert made([*fine, -1.0]).doubtful() and not made(fine).doubtful()


@given(st.lists(st.floats(-2.0, 2.0), min_size=1, max_size=60), st.sampled_from([0.0, 0.05, 0.1, 0.3]))
def test_headroom_of_most_draws_is_negative_where_the_limit_trips(headroom, share):
    found = made(headroom)
    assert (found.least_headroom(share)[0] < 0.0) == (found.breaks[0] > share * found.count + 1e-9)


def test_a_limit_set_aside_breaks_nothing():
    found = made([-1.0, 1.0]).without(np.array([True, False]))
    assert found.bad == 0 and found.headroom[1, 0] == -1.0


# ---- trends ------------------------------------------------------------------------------------------------------------


def test_the_limit_with_least_left_of_its_start_goes_first():
    places = np.array([150.0, 153.0, 156.0, 159.0])
    steep, gentle, gaining = 8.0 - 1.5 * np.arange(4.0), 20.0 - 1.5 * np.arange(4.0), 5.0 + np.arange(4.0)
    found = trends(places, np.column_stack([gentle, gaining, steep, np.full(4, np.nan)]))
    assert [t.limit for t in found] == [2, 0]
    assert found[0].slope == pytest.approx(-0.5) and found[0].place == pytest.approx(166.0)  # 150 + 8 / 0.5
    assert found[0].left == pytest.approx(3.5 / 8.0)


# ---- limits -------------------------------------------------------------------------------------------------------------


def test_every_way_of_flying_has_its_limits_and_each_says_why():
    for way in STYLES:
        found = limits_of(way)
        for limit in found:
            assert limit.measure in MEASURES and limit.source and limit.about and limit.retreat
            assert set(limit.manoeuvres) <= set(ORDER)
            # what is written is read back as the same bound
            assert with_limits(found, None, [f"{limit.name}: {limit.text}"])[found.index(limit)].value == pytest.approx(
                limit.value, abs=1e-3
            )
    margins = [limits_of(way)[0].value for way in STYLES]
    assert margins == sorted(margins, reverse=True)  # slow 3D is flown furthest aft (common practice, no source)


def test_limits_in_other_words_and_from_a_file(tmp_path):
    file = tmp_path / "mine.yaml"
    file.write_text("format: 1\nkind: limits\nname: mine\nlimits: {static margin: 7 %, time to double: 3 s}\n")
    found = {
        m.name: m for m in with_limits(limits_of("precision"), str(file), ["static margin: 6 %", "knife edge: off"])
    }
    assert found["static margin"].text == "6 %" and found["static margin"].headroom(np.array([12.3]))[
        0
    ] == pytest.approx(3.0)
    # a motion that doubles in 3 s grows as exp(0.231 t)
    assert found["time to double"].value == pytest.approx(math.log(2.0) / 3.0)
    assert found["knife edge"].text == "off" and "knife-edge-right" not in manoeuvres_of(found.values())


@pytest.mark.parametrize(
    "options, words",
    [
        (["static margine: 5 %"], 'found "static margine"; allowed: a limit: static margin'),
        (["static margin: 5 mm"], 'static margin of "5 mm", which is a length'),
        (["static margin"], "allowed: NAME: value"),
        (["static margin: 5 %", "static margin: 6 %"], "a second time"),
        (["hover: 30 %"], "a limit of this way of flying"),
        ([f"{name}: off" for name in NAMES if name != "hover"], "at least one that holds"),
    ],
)
def test_wrong_limits_are_refused(options, words):
    with pytest.raises(UserError) as caught:
        with_limits(limits_of("precision"), None, options)
    assert words in str(caught.value) and "Traceback" not in str(caught.value)


def test_several_wrong_limits_are_said_at_once():
    with pytest.raises(UserError) as caught:
        with_limits(limits_of("precision"), None, ["stall: 5 m", "dive: 5", "wing drop: 500 deg"])
    assert len(str(caught.value).splitlines()) == 3


def test_a_wrong_file_of_limits_says_where(tmp_path):
    file = tmp_path / "mine.yaml"
    file.write_text("format: 1\nkind: limits\nname: mine\nlimits:\n  static margin: 70 %\n")
    with pytest.raises(UserError) as caught:
        with_limits(limits_of("precision"), str(file), [])
    assert "mine.yaml:" in str(caught.value) and "static margin" in str(caught.value)
