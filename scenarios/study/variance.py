"""Variance-based indices: how much of a number's variance each input brings alone, and with all others together.

Sampling plan and estimators of Saltelli and others (Computer Physics Communications 181, 2010, table 2, b and f): two
sets of draws, A and B, and for each input the draws A with that input's values from B.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenarios.study.distribution import CONFIDENCE, same

RESAMPLES = 500
LEAST_ROWS = 30  # full rows of the plan under which the bootstrap's bounds say nothing


@dataclass(frozen=True)
class Index:
    """A share of the variance and its bounds with CONFIDENCE."""

    value: float
    low: float
    high: float

    @property
    def matters(self) -> bool:
        """Whether it is told apart from nothing."""
        return self.low > 0.0


@dataclass(frozen=True)
class Indices:
    """`first` order (alone) and `total` (with all others) by input, from `rows` full rows of `of`; or `why_not`."""

    first: dict[str, Index]
    total: dict[str, Index]
    rows: int
    of: int
    why_not: str = ""


def indices(names: list[str], a: np.ndarray, b: np.ndarray, mixed: np.ndarray, seed: int) -> Indices:
    """The indices of the inputs `names` from a number at A and B (n,), and at A with one input of B, `mixed` (d, n).

    A row in which any of them is not finite is left out of all.  Bounds are percentiles of rows drawn again with
    putting back, from `seed`.
    """
    full = np.isfinite(a) & np.isfinite(b) & np.isfinite(mixed).all(axis=0)
    rows = int(full.sum())
    a, b, mixed = a[full], b[full], mixed[:, full]
    if rows < LEAST_ROWS:
        return Indices({}, {}, rows, len(full), f"too few: {rows} full rows, at least {LEAST_ROWS} are needed")
    if same(min(a.min(), b.min()), max(a.max(), b.max())):
        return Indices({}, {}, rows, len(full), "the same in every draw")
    first, total = _estimate(a, b, mixed)
    random = np.random.Generator(np.random.Philox(seed))
    again = [_estimate(a[pick], b[pick], mixed[:, pick]) for pick in random.integers(rows, size=(RESAMPLES, rows))]
    missed = (1.0 - CONFIDENCE) / 2.0
    low, high = np.quantile(np.array(again), (missed, 1.0 - missed), axis=0)  # each (2, d)

    def of(order: int, values: np.ndarray) -> dict[str, Index]:
        return {
            name: Index(float(values[n]), float(low[order, n]), float(high[order, n])) for n, name in enumerate(names)
        }

    return Indices(of(0, first), of(1, total), rows, len(full))


def _estimate(a: np.ndarray, b: np.ndarray, mixed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """First-order and total indices (d,) each; zeros where a and b do not vary."""
    both = np.concatenate((a, b))
    variance = both.var()
    if variance == 0.0:
        return np.zeros(len(mixed)), np.zeros(len(mixed))
    first = np.mean((b - both.mean()) * (mixed - a), axis=1) / variance
    total = 0.5 * np.mean((a - mixed) ** 2, axis=1) / variance
    return first, total
