"""Limits, headroom and shares of draws held against numbers made by hand."""

import math

import numpy as np
import pytest
from scipy.stats import binomtest

from models.errors import Refused
from scenarios.rules import FAILED, HOLDS, UNFLOWN, WARNING, Told, judge, share_of
from scenarios.rules.judging import CONFIDENCE, fewest_draws
from scenarios.rules.limits import read_limit
from scenarios.rules.readings import DIVERGED, NOT_FLOWN
from tests.scenarios.rules_by_hand import readings, rules

LEVEL = "name: drift, of: level-trim, measure: bank_drift, limit: {}"


@pytest.mark.parametrize(
    "text, unit, value, headroom",
    [
        ("at most 5 deg", "deg", 3.0, 2.0),
        ("at most 5 deg", "deg", 5.0, 0.0),  # a limit holds at its own value
        ("at most 5 deg", "deg", -90.0, 95.0),
        ("at most 5 deg either way", "deg", -90.0, -85.0),
        ("at most 5 deg either way", "deg", -5.0, 0.0),
        ("at least 8 %", "%", 8.0, 0.0),
        ("at least 8 %", "%", 7.5, -0.5),
        ("between 8 % and 15 %", "%", 13.0, 2.0),
        ("between 8 % and 15 %", "%", 15.0, 0.0),
        ("between 60 deg/s and 120 deg/s either way", "deg/s", -70.0, 10.0),
        ("at most 0.5 rad", "deg", 0.0, math.degrees(0.5)),
        ("at least 36 km/h", "m/s", 12.0, 2.0),
        ("at most 1.5 turns", "turns", 1.5, 0.0),
        ("at most 1 turn", "turns", 3.0, -2.0),
        ("at least 10 deg/s per deg", "deg/s per deg", 12.0, 2.0),
        ("at least 1.6", "", 1.9, 0.3),
        ("at most 30 kg/m2", "kg/m2", 8.0, 22.0),
        ("at  least   2 ft", "m", 0.0, -0.6096),
        ("at least \u22125 deg", "deg", 0.0, 5.0),
    ],
)
def test_headroom_by_hand(text, unit, value, headroom):
    assert read_limit(text, unit, leaning=False).headroom(value) == pytest.approx(headroom, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("text, unit", [("15 deg", "deg"), ("0.7 m", "m"), ("33.3 %", "%"), ("7 deg/s", "deg/s")])
def test_a_limit_in_the_units_of_the_measure_is_that_very_number(text, unit):
    assert read_limit(f"at most {text}", unit, leaning=False).headroom(float(text.split()[0])) == 0.0


@pytest.mark.parametrize(
    "text, value, other, headroom",
    [
        ("at least 90 % of it", 360.0, 400.0, 0.0),
        ("at least 90 % of it", -360.0, 400.0, 0.0),  # sizes are compared
        ("at most 110 % of it", 450.0, -400.0, -10.0),
        ("between 90 % and 110 % of it", 430.0, 400.0, 10.0),
        ("at most 5 deg/s more", 405.0, 400.0, 0.0),
        ("at most 5 deg/s more", -400.0, 400.0, 805.0),
        ("at most 5 deg/s more either way", -406.0, 400.0, -1.0),
        ("at most 5 deg/s more either way", 403.0, -400.0, 2.0),
        ("at most 5 deg/s less", 395.0, 400.0, 0.0),
        ("at most 5 deg/s less", 500.0, 400.0, 105.0),
        ("at least 5 deg/s less", 390.0, 400.0, 5.0),
        ("at least 5 deg/s more", 404.0, 400.0, -1.0),
    ],
)
def test_a_comparison_by_hand(text, value, other, headroom):
    assert read_limit(text, "deg/s", leaning=True).headroom(value, other) == pytest.approx(headroom, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    ["", "5 deg", "at most", "at most 5 deg of", "below 5 deg", "between 1 deg", None, 3, ["at most 5 deg"],
     "at most 5 deg " * 50],
)  # fmt: skip
def test_what_is_no_limit_is_refused(text):
    with pytest.raises(Refused) as refused:
        read_limit(text, "deg", leaning=False)
    assert "allowed:" in str(refused.value)


def test_verdicts(tmp_path):
    must, should = rules(tmp_path, LEVEL.format("at most 5 deg either way"),
                         "name: work, of: level-trim, measure: height_drift, limit: at most 1 m, severity: should")  # fmt: skip
    assert judge(must, readings(bank_drift=-5.0)).verdict == HOLDS
    outside = judge(must, readings(bank_drift=-5.5))
    assert (outside.verdict, outside.headroom, outside.must) == (FAILED, -0.5, True)
    assert judge(should, readings(height_drift=1.5)).verdict == WARNING
    missing = judge(must, readings(bank_drift="not measured: too short"))
    assert (missing.verdict, missing.value, missing.reason) == (FAILED, None, "not measured: too short")
    for state in (NOT_FLOWN, DIVERGED):
        told = Told(state, None, "not flown: no trim")
        gone = judge(must, readings(told=told, bank_drift="not flown: no trim"))
        assert (gone.verdict, gone.reason) == (UNFLOWN, "not flown: no trim")


def test_outcomes(tmp_path):
    line = "name: {}, of: level-trim, outcome: {}"
    is_it, is_not = rules(tmp_path, line.format("a", "succeeds"), line.format("b", "does not succeed"))
    good, bad = readings(), readings(told=Told("flown", False, "not level flight: 9 m"))
    assert [judge(one, r).verdict for one in (is_it, is_not) for r in (good, bad)] == [HOLDS, FAILED, FAILED, HOLDS]
    assert judge(is_it, bad).reason == "not level flight: 9 m"


def test_two_setups_compared(tmp_path):
    (rule,) = rules(tmp_path, LEVEL.format("at most 110 % of it") + ", against: slow-3d")
    judged = judge(rule, readings(bank_drift=1.15), readings("other", bank_drift=-1.0))
    assert judged.verdict == FAILED and judged.other == -1.0 and judged.headroom == pytest.approx(-0.05)
    without = judge(rule, readings(bank_drift=1.15), readings("other", bank_drift="not measured: short"))
    assert (without.verdict, without.reason) == (FAILED, "other: not measured: short")


def test_a_share_of_draws(tmp_path):
    """19 of 20 hold at their limit or inside; what could not be measured does not hold."""
    (rule,) = rules(tmp_path, LEVEL.format("at most 5 deg either way") + ", sure: 95 %")
    draws = np.array([5.0, -5.0, *np.linspace(-4.0, 4.0, 17), 5.1])
    judged = judge(rule, readings(bank_drift=9.0), draws=draws)
    assert (judged.share.held, judged.share.draws, judged.verdict) == (
        19,
        20,
        HOLDS,
    )  # whatever the plane as written does
    draws[3] = math.nan
    assert judge(rule, readings(bank_drift=0.0), draws=draws).verdict == FAILED
    assert not judged.share.settled(0.95)


@pytest.mark.parametrize(
    "held, draws", [(0, 1), (1, 1), (0, 20), (19, 20), (20, 20), (95, 100), (100, 100), (873, 1000)]
)
def test_the_interval_of_a_share_two_routes(held, draws):
    """The tails of the binomial summed term by term, and another routine for the same interval."""
    share = share_of([True] * held + [False] * (draws - held))

    def tail(p, ks):
        return sum(math.comb(draws, k) * p**k * (1.0 - p) ** (draws - k) for k in ks)

    half = (1.0 - CONFIDENCE) / 2.0
    if held:
        assert tail(share.low, range(held, draws + 1)) == pytest.approx(half, rel=1e-6)
    if held < draws:
        assert tail(share.high, range(held + 1)) == pytest.approx(half, rel=1e-6)
    other = binomtest(held, draws).proportion_ci(CONFIDENCE, method="exact")
    assert (share.low, share.high) == pytest.approx((other.low, other.high), abs=1e-9)


def test_the_interval_covers_what_it_promises():
    """Clopper and Pearson (1934): the true share lies inside in at least 95 % of repetitions."""
    n, p = 50, 0.9
    inside = 0.0
    for held in range(n + 1):
        share = share_of([True] * held + [False] * (n - held))
        inside += math.comb(n, held) * p**held * (1 - p) ** (n - held) * (share.low <= p <= share.high)
    assert 0.95 <= inside < 0.99


@pytest.mark.parametrize("wanted, fewest", [(0.5, 6), (0.9, 36), (0.95, 72), (0.99, 368), (1.0, 0)])
def test_the_fewest_draws_that_settle(wanted, fewest):
    """(1 - 0.95) / 2 = 0.025 of chance that all hold by luck: wanted to the power of n."""
    assert fewest_draws(wanted) == fewest
    if fewest:
        assert share_of([True] * fewest).settled(wanted) and not share_of([True] * (fewest - 1)).settled(wanted)
