"""What a count of independent draws says of the share of all of them, exactly: Clopper and Pearson, Biometrika 26 (1934)."""

from __future__ import annotations

from scipy.special import betaincinv


def least_share(good: int, count: int, chance: float) -> float:
    """The share at which `good` or more of `count` draws come with a chance of `chance`: with 1 - `chance` it is not less."""
    return 0.0 if good == 0 else float(betaincinv(good, count - good + 1, chance))


def bounds(good: int, count: int, confidence: float) -> tuple[float, float]:
    """Between which shares that of all draws lies, with as much chance of error at either end."""
    tail = (1.0 - confidence) / 2.0
    return least_share(good, count, tail), 1.0 - least_share(count - good, count, tail)
