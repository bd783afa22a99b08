"""What many draws of one number say: its quantiles with their confidence, its mean, and what could not be taken.

Nothing is assumed of the shape of the distribution: a quantile lies between two of the sorted draws with a probability
that the binomial distribution gives exactly (David and Nagaraja, Order Statistics, section 7.1, from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy.stats import binom

from scenarios.shares import bounds

CONFIDENCE = 0.95
SHARES = (0.05, 0.50, 0.95)
DUST = 1e-10  # of a number (or of 0.001 in its unit): rounding, no spread


@dataclass(frozen=True)
class Quantile:
    """The `value` that a `share` of all flights would stay under; `low` and `high` hold it with CONFIDENCE.

    A bound is None where there are too few draws for one.
    """

    share: float
    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Share:
    """`count` of `of` draws, and between which shares of all flights that lies with CONFIDENCE."""

    count: int
    of: int
    low: float
    high: float

    @property
    def value(self) -> float:
        """The share found."""
        return self.count / self.of


@dataclass(frozen=True)
class Distribution:
    """`count` draws of a number: their `quantiles` at SHARES, `mean` and standard deviation `sd`, least and most; how many lie
    `above` nought."""

    count: int
    quantiles: tuple[Quantile, ...]
    mean: float
    sd: float
    least: float
    most: float
    above: Share

    @property
    def open(self) -> bool:
        """Whether its sign is: 5 and 95 % lie on either side of nought."""
        return not self.constant and self.quantiles[0].value < 0.0 < self.quantiles[-1].value

    @property
    def constant(self) -> bool:
        """Whether every draw gave the same number, to rounding."""
        return same(self.least, self.most)


def same(least: float, most: float) -> bool:
    """Whether two numbers are one, to rounding."""
    return most - least <= DUST * max(abs(least), abs(most), 0.001)


def distribution(values: np.ndarray) -> Distribution | None:
    """The distribution of the finite ones of `values` (n,); None where there are fewer than two."""
    known = np.sort(values[np.isfinite(values)])
    if len(known) < 2:
        return None
    quantiles = tuple(quantile(known, share) for share in SHARES)
    return Distribution(
        len(known), quantiles, float(known.mean()), float(known.std(ddof=1)), float(known[0]), float(known[-1]),
        share_of(int((known > 0.0).sum()), len(known)),
    )  # fmt: skip


def quantile(known: np.ndarray, share: float) -> Quantile:
    """One quantile of sorted `known` (n,); the value is the median-unbiased one (Hyndman and Fan 1996, number 8)."""
    value = float(np.quantile(known, share, method="median_unbiased"))
    low, high = ranks_around(len(known), share)
    return Quantile(
        share,
        value,
        float(known[low - 1]) if low >= 1 else None,
        float(known[high - 1]) if high <= len(known) else None,
    )


def ranks_around(count: int, share: float, confidence: float = CONFIDENCE) -> tuple[int, int]:
    """Ranks (from 1) of the sorted draws that hold the quantile, either side missed by at most (1 - confidence) / 2.

    Rank 0 and rank count + 1 stand for no bound.
    """
    missed = (1.0 - confidence) / 2.0
    # the number of draws under the quantile is binomial; the lower bound is missed when fewer than `low` are under it
    low = int(binom.ppf(missed, count, share))
    high = int(binom.ppf(1.0 - missed, count, share)) + 1
    return low, high


def share_of(count: int, of: int, confidence: float = CONFIDENCE) -> Share:
    """`count` of `of` as a share, with its exact bounds."""
    return Share(count, of, *bounds(count, of, confidence))


def most_common(reasons: Iterable[str]) -> tuple[str, int]:
    """The reason that stands most often, the first of equals, and how often; "" and 0 where there is none."""
    found = Counter(reasons).most_common(1)
    return found[0] if found else ("", 0)
