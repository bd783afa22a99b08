"""Which input decides a number, from the draws themselves: rank correlation and standardised rank regression.

Inputs were drawn independently, so the square of an input's coefficient in the regression of ranks on ranks is its
share of the variance of the ranks (Saltelli and others, Sensitivity Analysis, 2000, chapter 2, from memory).  That
sees what rises or falls with an input, straight or not; what turns back, or needs two inputs at once, is left over.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.stats import rankdata, spearmanr, t

from scenarios.study.distribution import CONFIDENCE

LEAST_DRAWS = 20  # beyond one for each input: fewer leave the regression to chance
SURE = 1.0 - CONFIDENCE


@dataclass(frozen=True)
class Influence:
    """What one input does to a number.

    `correlation` of ranks (Spearman); `share` of the variance of ranks, between `low` and `high` with CONFIDENCE; `matters`
    when chance alone would not show as much in any of all inputs; `per_sigma`, the number's change with one standard
    deviation of the input more, on the straight line of best fit.
    """

    input: str
    correlation: float
    share: float
    low: float
    high: float
    matters: bool
    per_sigma: float


@dataclass(frozen=True)
class Ranking:
    """`influences`, the largest share first; `explained` share of the variance of ranks; `first_told_apart` from the
    second; `why_not` when there is no ranking."""

    influences: tuple[Influence, ...] = ()
    explained: float = 0.0
    first_told_apart: bool = False
    why_not: str = ""

    @property
    def found(self) -> tuple[Influence, ...]:
        """Those that matter."""
        return tuple(one for one in self.influences if one.matters)


def ranking(inputs: dict[str, np.ndarray], values: np.ndarray) -> Ranking:
    """How much each of `inputs` (name to (n,) drawn values) has to do with `values` (n,), NaN where not taken."""
    taken = np.isfinite(values)
    names = [name for name, drawn in inputs.items() if len(set(drawn[taken])) > 1]
    y, count = values[taken], int(taken.sum())
    if count < len(names) + LEAST_DRAWS:
        return Ranking(why_not=f"too few: {count} draws, at least {len(names) + LEAST_DRAWS} are needed")
    if not names or np.ptp(y) == 0.0:
        return Ranking(why_not="the same in every draw" if names else "nothing was varied")
    x = np.column_stack([inputs[name][taken] for name in names])
    slopes, spread, explained = _rank_regression(x, y)
    free = count - len(names) - 1
    sigma = np.sqrt(np.diag(spread))
    chance = 2.0 * t.sf(np.abs(slopes) / sigma, free)
    matters = _holm(chance)
    reach = t.ppf(1.0 - SURE / 2.0, free) * sigma
    straight = _per_sigma(x, y)
    found = [
        Influence(
            name,
            float(spearmanr(x[:, n], y).statistic),
            # what chance adds to a square is taken off again
            max(0.0, float(slopes[n] ** 2 - spread[n, n])),
            max(0.0, float(abs(slopes[n]) - reach[n])) ** 2,
            min(1.0, float(abs(slopes[n]) + reach[n]) ** 2),
            bool(matters[n]),
            float(straight[n]),
        )
        for n, name in enumerate(names)
    ]
    order = sorted(range(len(found)), key=lambda n: (-abs(slopes[n]), n))
    apart = bool(found[order[0]].matters) and (len(order) < 2 or _apart(slopes, spread, order[0], order[1], free))
    return Ranking(tuple(found[n] for n in order), explained, apart)


def _rank_regression(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
    """Standardised slopes (d,) of the ranks of y (n,) on those of x (n, d), their covariance (d, d), and the share
    of the variance that is explained, less what as many random columns would explain."""
    rx, ry = _standard(rankdata(x, axis=0)), _standard(rankdata(y))
    count, width = rx.shape
    inverse = np.linalg.pinv(rx.T @ rx)
    slopes = inverse @ (rx.T @ ry)
    left = float(((ry - rx @ slopes) ** 2).sum())
    variance = left / (count - width - 1)
    explained = 1.0 - variance * (count - 1) / float((ry**2).sum())
    return slopes, np.maximum(variance, 1e-12) * inverse, max(0.0, explained)


def _standard(columns: np.ndarray) -> np.ndarray:
    """Columns of mean 0 and variance 1."""
    return (columns - columns.mean(axis=0)) / columns.std(axis=0)


def _per_sigma(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Slopes (d,) of y itself on the standardised columns of x."""
    return np.linalg.lstsq(_standard(x), y - y.mean(), rcond=None)[0]


def _holm(chance: np.ndarray) -> np.ndarray:
    """Which of several probabilities of chance are small enough together (Holm 1979), at SURE for the whole family."""
    order = np.argsort(chance)
    small = chance[order] <= SURE / (len(chance) - np.arange(len(chance)))
    out = np.zeros(len(chance), dtype=bool)
    out[order] = np.logical_and.accumulate(small)
    return out


def _apart(slopes: np.ndarray, spread: np.ndarray, first: int, second: int, free: int) -> bool:
    """Whether one slope is larger than another by more than chance, signs apart."""
    sign = math.copysign(1.0, slopes[first]) * math.copysign(1.0, slopes[second])
    variance = spread[first, first] + spread[second, second] - 2.0 * sign * spread[first, second]
    difference = abs(slopes[first]) - abs(slopes[second])
    return bool(difference > t.ppf(1.0 - SURE / 2.0, free) * math.sqrt(variance))
