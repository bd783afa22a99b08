"""What is said of many draws, held to exact probabilities, to published indices and to a statistics package.

Where chance decides, the tolerance is the width of the exact binomial distribution of the count that is looked at.
"""

import math

import numpy as np
import pytest
from scipy.stats import binom, quantile_test, sobol_indices, spearmanr, uniform

from scenarios.study.distribution import distribution, most_common, quantile, ranks_around, share_of
from scenarios.study.influence import ranking
from scenarios.study.variance import indices


def random(seed: int) -> np.random.Generator:
    return np.random.Generator(np.random.Philox(seed))


# ---- quantiles and shares -----------------------------------------------------------------------


@pytest.mark.parametrize("count", [10, 59, 60, 100, 300, 1000])
@pytest.mark.parametrize("share", [0.05, 0.5, 0.95])
def test_ranks_hold_the_quantile_as_the_binomial_distribution_says(count, share):
    """P(low-th draw <= quantile <= high-th) is the chance that low to high - 1 draws lie under it: at least 95 %, and
    one rank less on either side would miss more than 2.5 % there."""
    low, high = ranks_around(count, share)
    under = np.arange(count + 1)
    chance = binom.pmf(under, count, share)
    assert chance[under < low].sum() <= 0.025 and chance[under >= high].sum() <= 0.025
    assert chance[under < low + 1].sum() > 0.025 and chance[under >= high - 1].sum() > 0.025


def test_bounds_are_those_of_a_statistics_package():
    """scipy.stats.quantile_test inverts the same binomial test; exact, ranks being whole numbers."""
    values = np.sort(random(1).normal(size=300))
    for share in (0.05, 0.5, 0.95):
        found = quantile(values, share)
        wanted = quantile_test(values, q=0.0, p=share).confidence_interval(0.95)
        assert (found.low, found.high) == (wanted.low, wanted.high)


def test_a_quantile_stands_where_its_rank_is_median_unbiased():
    """Rank p (n + 1/3) + 1/3 (Hyndman and Fan, American Statistician 50, 1996, definition 8)."""
    values = np.arange(1.0, 101.0)
    assert quantile(values, 0.05).value == pytest.approx(0.05 * (100 + 1 / 3) + 1 / 3)
    assert quantile(values, 0.5).value == pytest.approx(50.5)


def test_few_draws_have_no_bounds():
    """Of 30 draws the least lies over the 5 % quantile with a chance of 0.95^30 = 21 %: no lower bound at 95 %."""
    found = distribution(random(2).normal(size=30))
    five, half, ninety_five = found.quantiles
    assert five.low is None and ninety_five.high is None and half.low < half.value < half.high
    assert distribution(np.array([1.0, math.nan])) is None


def test_a_distribution_leaves_out_what_was_not_taken():
    found = distribution(np.array([3.0, math.nan, 1.0, 2.0]))
    assert found.count == 3 and found.mean == 2.0 and found.sd == 1.0 and (found.least, found.most) == (1.0, 3.0)
    assert distribution(np.array([2.0, 2.0])).constant


def test_the_band_holds_nine_in_ten_of_fresh_draws():
    """A skewed law (exponential).  Of 20 000 fresh draws the share between the 5 and 95 % found from 2000 is 0.90, with
    the standard deviation of the two quantiles, sqrt(2 * 0.05 * 0.95 / 2000) at most, and of the count; four of them."""
    found = distribution(random(3).exponential(size=2000))
    fresh = random(4).exponential(size=20000)
    inside = np.mean((fresh >= found.quantiles[0].value) & (fresh <= found.quantiles[2].value))
    sigma = math.sqrt(2 * 0.05 * 0.95 / 2000 + 0.9 * 0.1 / 20000)
    assert inside == pytest.approx(0.90, abs=4 * sigma)


def test_bounds_hold_the_true_quantile_as_often_as_they_say():
    """1000 studies of 100 draws: the true 95 % quantile lies in the bounds 950 times or more, less four binomial sigma."""
    values = np.sort(random(5).exponential(size=(1000, 100)), axis=1)
    low, high = ranks_around(100, 0.95)
    assert high == 101 or high <= 100
    true = -math.log(0.05)
    held = (values[:, low - 1] <= true) & ((values[:, high - 1] >= true) if high <= 100 else True)
    assert held.sum() >= 950 - 4 * math.sqrt(1000 * 0.95 * 0.05)


def test_shares_have_exact_bounds():
    """None of n: the upper bound is 1 - 0.025^(1/n); k of n: the chance of k or more at the lower bound is 2.5 %."""
    assert share_of(0, 100).high == pytest.approx(1 - 0.025 ** (1 / 100)) and share_of(0, 100).low == 0.0
    assert share_of(100, 100).low == pytest.approx(0.025 ** (1 / 100)) and share_of(100, 100).high == 1.0
    seven = share_of(7, 100)
    assert binom.sf(6, 100, seven.low) == pytest.approx(0.025) and binom.cdf(7, 100, seven.high) == pytest.approx(0.025)


def test_the_most_common_reason():
    assert most_common(["a", "b", "b"]) == ("b", 2) and most_common([]) == ("", 0)


# ---- which input matters ------------------------------------------------------------------------


def of_normals(seed: int, count: int, *weights: float) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Independent normal inputs and their weighted sum."""
    x = random(seed).normal(size=(count, len(weights)))
    return {f"input {n}": x[:, n] for n in range(len(weights))}, x @ np.array(weights)


def test_correlations_are_spearmans():
    inputs, y = of_normals(6, 200, 3.0, 1.0, 0.0)
    y = np.exp(y)
    for one in ranking(inputs, y).influences:
        assert one.correlation == pytest.approx(spearmanr(inputs[one.input], y).statistic, abs=1e-12)


def test_shares_of_a_sum_of_normals():
    """Variance of a sum of independent inputs: shares 9/14, 4/14, 1/14.  Nothing is left over, so nothing is left to chance."""
    inputs, y = of_normals(7, 2000, 3.0, -2.0, 1.0)
    found = ranking(inputs, y)
    assert [one.input for one in found.influences] == ["input 0", "input 1", "input 2"] and found.first_told_apart
    for one, share, sign in zip(found.influences, (9 / 14, 4 / 14, 1 / 14), (1, -1, 1)):
        assert one.share == pytest.approx(share, abs=1e-6) and one.matters and np.sign(one.correlation) == sign
        assert one.low < one.share < one.high
    assert [one.per_sigma for one in found.influences] == pytest.approx([3.0, -2.0, 1.0], abs=0.15)


def test_what_rises_is_seen_however_bent():
    """Ranks do not change under a rising function; normal scores of 100 draws stray from the true ones by 2 % or so."""
    inputs, y = of_normals(8, 100, 3.0, 1.0)
    once, twice = ranking(inputs, np.exp(2.0 * y)), ranking(inputs, np.exp(3.0 * y))
    assert [one.share for one in once.influences] == [one.share for one in twice.influences]
    assert [one.share for one in once.influences] == pytest.approx([0.9, 0.1], abs=0.04)


def test_equal_inputs_are_not_told_apart_and_idle_ones_do_not_matter():
    """300 studies of 60 draws: the first of two equal inputs is called the larger in 5 % (either sign of a chance
    difference, picked after the draws), an idle one is said to matter in 1 % at most; binomial, four sigma."""
    apart = matters = 0
    for seed in range(300):
        inputs, y = of_normals(100 + seed, 60, 1.0, 1.0, 0.0)
        found = ranking(inputs, y + 0.7 * random(10_000 + seed).normal(size=60))
        apart += found.first_told_apart
        matters += next(one for one in found.influences if one.input == "input 2").matters
    for found, chance in ((apart, 0.05), (matters, 0.01)):
        assert found <= 300 * chance + 4 * math.sqrt(300 * chance * (1 - chance))


def test_shares_lie_in_their_bounds():
    """200 studies of 120 draws, shares 0.5, 0.3, 0.2 of noise: the bounds hold them in 95 %, less four binomial sigma."""
    held = np.zeros(2)
    for seed in range(200):
        inputs, y = of_normals(3000 + seed, 120, *np.sqrt([0.5, 0.3]))
        found = ranking(inputs, np.exp(y + math.sqrt(0.2) * random(20_000 + seed).normal(size=120)))
        by_name = sorted(found.influences, key=lambda one: one.input)
        held += [one.low <= share <= one.high for one, share in zip(by_name, (0.5, 0.3))]
    assert (held >= 200 * 0.95 - 4 * math.sqrt(200 * 0.95 * 0.05)).all(), held


def test_why_there_is_no_ranking():
    inputs, y = of_normals(9, 21, 1.0, 1.0)
    assert ranking(inputs, y).why_not == "too few draws: 21, at least 22 are needed"
    inputs, y = of_normals(9, 40, 1.0, 1.0)
    assert ranking(inputs, np.zeros(40)).why_not == "the same in every draw"
    assert ranking({}, y).why_not == "nothing was varied"
    assert ranking(inputs, np.full(40, math.nan)).why_not.startswith("too few draws: 0")


# ---- variance -----------------------------------------------------------------------------------


def ishigami(x: np.ndarray) -> np.ndarray:
    """T. Ishigami and T. Homma, An importance quantification technique in uncertainty analysis for computer models,
    ISUMA 1990, with a = 7 and b = 0.1; x of shape (3, n) between -pi and pi."""
    return np.sin(x[0]) + 7.0 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])


def of_ishigami(seed: int, rows: int):
    a, b = random(seed).uniform(-math.pi, math.pi, size=(2, 3, rows))
    mixed = np.array([ishigami(np.where(np.arange(3)[:, None] == n, b, a)) for n in range(3)])
    return ishigami(a), ishigami(b), mixed


def test_published_indices_of_ishigami_and_homma():
    """First order 0.314, 0.442, 0; total 0.558, 0.442, 0.244 (closed form: V = a^2/8 + b pi^4/5 + b^2 pi^8/18 + 1/2).
    Chance: 8192 rows leave a standard deviation of about 0.015 (the bootstrap's own); three of them."""
    a, b = 7.0, 0.1
    whole = a**2 / 8 + b * math.pi**4 / 5 + b**2 * math.pi**8 / 18 + 0.5
    first = [0.5 * (1 + b * math.pi**4 / 5) ** 2 / whole, a**2 / 8 / whole, 0.0]
    both = b**2 * math.pi**8 * (1 / 18 - 1 / 50) / whole
    assert first == pytest.approx([0.3139, 0.4424, 0.0], abs=1e-4) and both == pytest.approx(0.2437, abs=1e-4)
    found = indices(["x1", "x2", "x3"], *of_ishigami(1, 8192), seed=1)
    for order, wanted in ((found.first, first), (found.total, [first[0] + both, first[1], both])):
        for one, true in zip(order.values(), wanted):
            assert one.value == pytest.approx(true, abs=0.045) and one.low - 0.01 <= true <= one.high + 0.01


def test_indices_are_those_of_a_statistics_package():
    """scipy.stats.sobol_indices on the same evaluations: the same estimators, so to rounding."""
    a, b, mixed = of_ishigami(2, 256)
    wanted = sobol_indices(func={"f_A": a[None], "f_B": b[None], "f_AB": mixed[:, None]}, n=256, dists=[uniform()] * 3)
    found = indices(["x1", "x2", "x3"], a, b, mixed, seed=1)
    assert [one.value for one in found.first.values()] == pytest.approx(list(wanted.first_order.ravel()), abs=1e-12)
    assert [one.value for one in found.total.values()] == pytest.approx(list(wanted.total_order.ravel()), abs=1e-12)


def test_bounds_of_indices_hold_the_true_ones():
    """100 studies of 128 rows: percentile bootstrap bounds are known to be a little narrow; nine in ten wanted, less
    four binomial sigma of 95 %."""
    held = 0
    for seed in range(100):
        found = indices(["x1", "x2", "x3"], *of_ishigami(500 + seed, 128), seed=seed).first["x2"]
        held += found.low <= 0.4424 <= found.high
    assert held >= 95 - 4 * math.sqrt(100 * 0.95 * 0.05)


def test_rows_with_a_gap_are_left_out_whole():
    a, b, mixed = of_ishigami(3, 200)
    mixed[1, 5] = a[7] = math.nan
    found = indices(["x1", "x2", "x3"], a, b, mixed, seed=1)
    keep = ~np.isin(np.arange(200), (5, 7))
    assert found.rows == 198 and found.of == 200
    assert found.first == indices(["x1", "x2", "x3"], a[keep], b[keep], mixed[:, keep], seed=1).first
    assert indices(["x1"], a[:20], b[:20], mixed[:1, :20], 1).why_not.startswith("too few: ")
    assert indices(["x1"], np.ones(50), np.ones(50), np.ones((1, 50)), 1).why_not == "the same in every draw"
