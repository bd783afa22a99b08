"""What the draws of a step say: who broke which limit, whether the step is sound, with what confidence, what goes first.

All of it on arrays; nothing here flies.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scenarios.ensemble import ENDED
from scenarios.shares import least_share
from scenarios.walk.limits import Limit

FLIGHT = "flight"  # the name of the one limit that has no number: the flight came to its end
SAFE_ENDINGS = ("completed",)
SHARE, CONFIDENCE = 0.05, 0.95
TRENDED = 3  # steps with a number that a trend needs at least


def at_least(good: int, count: int, confidence: float = CONFIDENCE) -> float:
    """The share that `good` of `count` independent draws show at this one-sided `confidence`, exact."""
    if not 0 <= good <= count or count < 1:
        raise ValueError(f"{good} of {count}")
    return least_share(good, count, 1.0 - confidence)


def at_most(bad: int, count: int, confidence: float = CONFIDENCE) -> float:
    """The share that `bad` of `count` independent draws do not let be exceeded at this one-sided `confidence`."""
    return 1.0 - at_least(count - bad, count, confidence)


@dataclass(frozen=True)
class Judged:
    """The draws of one step.  `headroom` (draws, limits) in each limit's unit, NaN where not taken; `broken` (draws,
    limits), its last column `FLIGHT`.  The first row is the nominal flight, which is no draw."""

    headroom: np.ndarray
    broken: np.ndarray

    @property
    def count(self) -> int:
        """How many draws there are."""
        return len(self.broken) - 1

    def without(self, set_aside: np.ndarray) -> Judged:
        """The same with some limits (a mask over `broken`'s columns) not looked at."""
        return Judged(self.headroom, self.broken & ~set_aside)

    @property
    def breaks(self) -> np.ndarray:
        """How many draws broke each limit."""
        return self.broken[1:].sum(axis=0)

    @property
    def bad(self) -> int:
        """How many draws broke any limit."""
        return int(self.broken[1:].any(axis=1).sum())

    def sound(self, share: float = SHARE) -> bool:
        """Whether the nominal flight broke no limit and no more than `share` of the draws did."""
        return not self.broken[0].any() and self.bad <= share * self.count + 1e-9

    def doubtful(self) -> bool:
        """Whether any flight at all broke a limit."""
        return bool(self.broken.any())

    def least_headroom(self, share: float = SHARE) -> np.ndarray:
        """Per limit the headroom that all draws but `share` of them have; of the nominal flight where there are none.

        Below 0 exactly where more than `share` of the draws that were taken are beyond the limit.
        """
        out = np.full(self.headroom.shape[1], np.nan)
        for n, column in enumerate(self.headroom.T):
            taken = np.sort(column[1:][np.isfinite(column[1:])])
            if len(taken):
                out[n] = taken[min(math.floor(share * len(taken) + 1e-9), len(taken) - 1)]
            elif np.isfinite(column[0]):
                out[n] = column[0]
        return out


def judge(
    limits: Sequence[Limit],
    columns: Sequence[tuple[str, str]],
    values: np.ndarray,
    endings: np.ndarray,
    reasons: Sequence[Sequence[str]],
) -> Judged:
    """The flights `values` (draws, columns) against `limits`; `columns` are (manoeuvre, measure), `reasons` why not.

    Of two sides the worse counts.  `endings` (draws, manoeuvres) are codes of `scenarios.ensemble.ENDED`.
    """
    values = np.asarray(values, dtype=float)
    headroom = np.full((len(values), len(limits)), np.nan)
    broken = np.zeros((len(values), len(limits) + 1), dtype=bool)
    for n, limit in enumerate(limits):
        if limit.bound is None:
            continue
        for manoeuvre in limit.manoeuvres:
            at = columns.index((manoeuvre, limit.measure))
            room = limit.headroom(values[:, at])
            missing = ~np.isfinite(room)
            harmless = np.array([row[at].removeprefix("not measured: ").startswith(limit.harmless or ("\0",))
                                 for row in reasons])  # fmt: skip
            broken[:, n] |= np.where(missing, ~harmless, room < 0.0)
            headroom[:, n] = np.fmin(headroom[:, n], room)
    safe = [ENDED.index(name) for name in SAFE_ENDINGS]
    broken[:, -1] = (~np.isin(np.asarray(endings), safe)).any(axis=1)
    return Judged(headroom, broken)


@dataclass(frozen=True)
class Trend:
    """How a limit's nominal headroom goes: at the `start` and the `end` of the steps looked at, its `slope` per unit of
    the walk, and the `place` of the walk where the straight line through them meets the limit (None: it does not)."""

    limit: int
    start: float
    end: float
    slope: float
    place: float | None

    @property
    def left(self) -> float:
        """Share of the headroom of the start that is left at the end."""
        return self.end / self.start if self.start > 0.0 else -math.inf


def trends(places: np.ndarray, headroom: np.ndarray) -> list[Trend]:
    """The trends of `headroom` (steps, limits) over `places` (steps,), the one with least of its start left first.

    Slopes are least squares.  Limits with fewer numbers than a trend needs, and those that gain, are left out.
    """
    found = []
    for n, column in enumerate(np.asarray(headroom, dtype=float).T):
        taken = np.isfinite(column)
        if taken.sum() < min(TRENDED, len(places)) or taken.sum() < 2 or not taken[0]:
            continue
        x, y = np.asarray(places, dtype=float)[taken], column[taken]
        slope, offset = np.polyfit(x - x[0], y, 1)
        if abs(slope) * abs(x[-1] - x[0]) < 1e-9 * max(1.0, abs(y[0])):
            slope = 0.0
        towards = slope * (x[-1] - x[0]) < 0.0
        found.append(
            Trend(n, float(y[0]), float(y[-1]), float(slope), float(x[0] - offset / slope) if towards else None)
        )
    return sorted((t for t in found if t.end < t.start), key=lambda trend: trend.left)
