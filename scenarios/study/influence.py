"""Which input decides a number, told from the draws themselves.

The number, or its ranks as normal scores (van der Waerden), whichever it fits better, is put on a straight line over
every input's error.  Inputs are drawn independently and with known spreads, so a slope's square over the sum of them all
and of what is left is that input's share of the variance: exact for a number that is a weighted sum of the errors, and
for one that rises with a weighted sum of normal errors, however bent
(Saltelli and others, Sensitivity Analysis, 2000, chapter 2, on rank regression, from memory).  What turns back, or needs
two inputs at once, is left over.  Errors of the shares come from leaving out one draw after the other (the jackknife).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri
from scipy.stats import rankdata, spearmanr, t

from scenarios.study.distribution import CONFIDENCE, same

LEAST_DRAWS = 20  # beyond one for each input: fewer leave the line to chance
SURE = 1.0 - CONFIDENCE
CHANCE = 0.01  # that any idle input of a number is said to matter; a study has many numbers


@dataclass(frozen=True)
class Influence:
    """What one input does to a number.

    `correlation` of ranks (Spearman); `share` of the variance, between `low` and `high` with CONFIDENCE; `matters` when
    chance alone would not show as much in any of all inputs; `per_sigma`, the number's change with one standard
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
    """`influences`, the largest share first; `explained` share of the variance by all of them; `first_told_apart` from
    the second; `why_not` when there is no ranking."""

    influences: tuple[Influence, ...] = ()
    explained: float = 0.0
    first_told_apart: bool = False
    why_not: str = ""

    @property
    def found(self) -> tuple[Influence, ...]:
        """Those that matter."""
        return tuple(one for one in self.influences if one.matters)


def ranking(scores: dict[str, np.ndarray], values: np.ndarray) -> Ranking:
    """How much inputs have to do with `values` (n,), NaN where not taken.

    `scores` (n,) by input: the errors drawn, over their standard deviation.
    """
    taken = np.isfinite(values)
    names = [name for name, drawn in scores.items() if len(set(drawn[taken])) > 1]
    y, count = values[taken], int(taken.sum())
    if count < len(names) + LEAST_DRAWS:
        return Ranking(why_not=f"too few draws: {count}, at least {len(names) + LEAST_DRAWS} are needed")
    if not names or same(y.min(), y.max()):
        return Ranking(why_not="the same in every draw" if names else "nothing was varied")
    x = np.column_stack([scores[name][taken] for name in names])
    scored = ndtri(rankdata(y) / (count + 1.0))
    parts, spread, explained = max((_parts(x, one) for one in ((y - y.mean()) / y.std(), scored)), key=lambda p: p[2])
    free = count - len(names) - 1
    sigma = np.sqrt(np.diag(spread))
    matters = _holm(2.0 * t.sf(np.abs(parts) / sigma, free))
    reach = t.ppf(1.0 - SURE / 2.0, free) * sigma
    straight = np.linalg.lstsq(_with_one(x), y, rcond=None)[0][1:]
    found = [
        Influence(
            name,
            float(spearmanr(x[:, n], y).statistic),
            max(0.0, float(parts[n] ** 2 - spread[n, n])),  # what chance adds to a square is taken off again
            max(0.0, float(abs(parts[n]) - reach[n])) ** 2,
            min(1.0, float(abs(parts[n]) + reach[n]) ** 2),
            bool(matters[n]),
            float(straight[n]),
        )
        for n, name in enumerate(names)
    ]
    order = sorted(range(len(found)), key=lambda n: (-abs(parts[n]), n))
    apart = bool(matters[order[0]]) and (len(order) < 2 or _apart(parts, spread, order[0], order[1], free))
    return Ranking(tuple(found[n] for n in order), explained, apart)


def _with_one(x: np.ndarray) -> np.ndarray:
    return np.column_stack((np.ones(len(x)), x))


def _parts(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
    """Signed roots of the shares of the variance of y (n,) by columns of x (n, d), their covariance (d, d) by the
    jackknife, and the share explained by all of them less what chance explains."""
    columns = _with_one(x)
    count, width = columns.shape
    inverse = np.linalg.pinv(columns.T @ columns)
    slopes = inverse @ (columns.T @ y)
    left = y - columns @ slopes
    weight = np.maximum(1.0 - np.einsum("ij,jk,ik->i", columns, inverse, columns), 1e-9)
    without = slopes - (columns @ inverse) * (left / weight)[:, None]  # slopes (n, 1 + d) with one draw left out
    residual = float(left @ left)
    noise = residual / (count - width)
    noise_without = (residual - left**2 / weight) / (count - width - 1)
    chance = noise * np.diag(inverse)[1:].sum()

    def whole(square: np.ndarray, noise: np.ndarray) -> np.ndarray:
        return np.maximum(square.sum(axis=-1) - chance, 0.0) + noise

    variance = whole(slopes[1:] ** 2, noise)
    parts = slopes[1:] / np.sqrt(max(variance, 1e-12))
    others = without[:, 1:] / np.sqrt(np.maximum(whole(without[:, 1:] ** 2, noise_without), 1e-12))[:, None]
    off = others - others.mean(axis=0)
    spread = (count - 1) / count * off.T @ off + 1e-15 * np.eye(len(parts))
    return parts, spread, float(1.0 - noise / variance)


def _holm(chance: np.ndarray) -> np.ndarray:
    """Which of several probabilities of chance are small enough together (Holm 1979), at CHANCE for all of them."""
    order = np.argsort(chance)
    small = chance[order] <= CHANCE / (len(chance) - np.arange(len(chance)))
    out = np.zeros(len(chance), dtype=bool)
    out[order] = np.logical_and.accumulate(small)
    return out


def _apart(parts: np.ndarray, spread: np.ndarray, first: int, second: int, free: int) -> bool:
    """Whether one share is larger than another by more than chance, signs apart."""
    sign = math.copysign(1.0, parts[first]) * math.copysign(1.0, parts[second])
    variance = spread[first, first] + spread[second, second] - 2.0 * sign * spread[first, second]
    difference = abs(parts[first]) - abs(parts[second])
    return bool(difference > t.ppf(1.0 - SURE / 2.0, free) * math.sqrt(variance))
