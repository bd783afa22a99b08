"""What a flown study found: every measure's distribution beside its nominal value, and what it hangs on.

A flight that was lost, diverged or met the ground is counted under its ending; no number of it goes into a distribution.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from scenarios.draws import WHOLE
from scenarios.ensemble import ENDED, Column, Results, Work
from scenarios.study.distribution import Distribution, Share, distribution, most_common, share_of
from scenarios.study.influence import Ranking, ranking
from scenarios.study.uncertain import HALF_TURN, standard_deviation
from scenarios.study.variance import Indices, indices

UNDONE = ("diverged", "hit the ground", "lost control", "not flown")  # endings whose numbers do not count
WORDS = {  # why not, of a flight that was flown and not done
    "diverged": "the flight diverged",
    "hit the ground": "the flight hit the ground",
    "lost control": "control was lost",
}
LEAST_OF_EITHER = 10  # flights done and not done, to ask what decides it
ALONG, ACROSS = "wind direction, along", "wind direction, across"


@dataclass(frozen=True)
class Finding:
    """One measure: `nominal` with no errors (None: why not in `nominal_reason`), its `distribution` over the draws, the
    draws `missing` from it and the most common `reason` with how often, what it hangs on (`ranking`, `indices`)."""

    column: Column
    nominal: float | None
    nominal_reason: str
    distribution: Distribution | None
    missing: Share
    reason: str
    reason_count: int
    ranking: Ranking
    indices: Indices | None = None


@dataclass(frozen=True)
class Endings:
    """How the draws of one manoeuvre ended, the `nominal` flight too, and what it hangs on that one is not done."""

    manoeuvre: str
    nominal: str
    shares: dict[str, Share]
    ranking: Ranking


@dataclass(frozen=True)
class Study:
    """What a study of `work` found; `draws` are those with errors, `more` those flown for indices of variance."""

    work: Work
    draws: int
    findings: tuple[Finding, ...]
    endings: tuple[Endings, ...]
    more: int = 0

    def of(self, manoeuvre: str) -> tuple[Finding, ...]:
        """The findings of one manoeuvre."""
        return tuple(f for f in self.findings if f.column.manoeuvre == manoeuvre)


@dataclass(frozen=True)
class Better:
    """What knowing `input` exactly would do: for each measure that hangs on it first, how much narrower it would
    spread (a share), the largest first."""

    input: str
    narrower: tuple[tuple[Column, float], ...]


def study_of(results: Results, plan: Results | None = None) -> Study:
    """The findings of flown `results`, whose draw 0 is the nominal one; `plan` are those of `with_rows` of its work."""
    work = results.work
    kept = counted(results)
    scores = scores_of(work, range(1, len(results.values)))
    draws = len(results.values) - 1
    findings = []
    for n, column in enumerate(results.columns):
        values = kept[1:, n]
        gone = np.flatnonzero(~np.isfinite(values)) + 1
        reason, times = most_common(_reason(results, int(index), n) for index in gone)
        nominal = float(results.values[0, n])
        findings.append(
            Finding(
                column,
                nominal if math.isfinite(nominal) else None,
                results.reason(0, n),
                distribution(values),
                share_of(len(gone), draws),
                reason,
                times,
                ranking(scores, values),
                None if plan is None else _indices(work, kept[:, n], counted(plan)[:, n], plan.work.rows),
            )
        )
    endings = tuple(_endings(results, n, name, scores) for n, (name, _) in enumerate(work.manoeuvres))
    return Study(work, draws, tuple(findings), endings, 0 if plan is None else len(plan.values) - 1)


def with_rows(work: Work) -> Work:
    """The flights that indices of variance take besides those of `work`: its draws are halved into the two sets."""
    rows = (work.count - 1) // 2
    return replace(work, rows=rows, count=1 + rows * len(work.uncertain))


def scores_of(work: Work, draws: range) -> dict[str, np.ndarray]:
    """The errors of `draws` over their standard deviation, by input; a direction that may be any, by its two parts.

    What has no order (the seed of turbulence) is left out.
    """
    errors = [work.errors(index) for index in draws]
    out = {}
    for one in work.uncertain:
        drawn = np.array([error[one.input] for error in errors])
        if one.input == "wind direction" and one.spread >= HALF_TURN:
            out |= {ALONG: math.sqrt(2.0) * np.cos(drawn), ACROSS: math.sqrt(2.0) * np.sin(drawn)}
        elif one.input not in WHOLE:
            out[one.input] = drawn / standard_deviation(one)
    return out


def to_measure_better(study: Study) -> tuple[Better, ...]:
    """Inputs that some measure hangs on first, by how many and how much."""
    found: dict[str, list[tuple[Column, float]]] = {}
    for finding in study.findings:
        name, share = first_of(finding)
        if name:
            found.setdefault(name, []).append((finding.column, 1.0 - math.sqrt(max(0.0, 1.0 - share))))
    better = [Better(name, tuple(sorted(parts, key=lambda part: -part[1]))) for name, parts in found.items()]
    return tuple(sorted(better, key=lambda one: -sum(part for _, part in one.narrower)))


def first_of(finding: Finding) -> tuple[str, float]:
    """The input that a measure hangs on first, and its share of the variance; "" where none is told apart from chance."""
    if finding.indices is not None and finding.indices.first:
        name, index = max(finding.indices.first.items(), key=lambda pair: pair[1].value)
        return (name, min(1.0, index.value)) if index.matters else ("", 0.0)
    first = finding.ranking.found[:1]
    return (first[0].input, first[0].share) if first else ("", 0.0)


def counted(results: Results) -> np.ndarray:
    """The values (draws, columns) with those of flights that were not done taken out."""
    values = results.values.copy()
    undone = [ENDED.index(name) for name in UNDONE]
    for n, (name, _) in enumerate(results.work.manoeuvres):
        mine = [i for i, column in enumerate(results.columns) if column.manoeuvre == name]
        values[np.ix_(np.isin(results.endings[:, n], undone), mine)] = np.nan
    return values


def _reason(results: Results, index: int, column: int) -> str:
    """Why a draw does not count for a measure."""
    names = [name for name, _ in results.work.manoeuvres]
    ending = ENDED[results.endings[index, names.index(results.columns[column].manoeuvre)]]
    return WORDS.get(ending) or results.reason(index, column)


def _endings(results: Results, n: int, name: str, scores: dict[str, np.ndarray]) -> Endings:
    codes = results.endings[1:, n]
    shares = {e: share_of(int((codes == c).sum()), len(codes)) for c, e in enumerate(ENDED) if (codes == c).any()}
    undone = np.isin(codes, [ENDED.index(ending) for ending in UNDONE]).astype(float)
    few = min(undone.sum(), len(codes) - undone.sum()) < LEAST_OF_EITHER
    found = Ranking(why_not="too few flights of either kind") if few else ranking(scores, undone)
    return Endings(name, ENDED[results.endings[0, n]], shares, found)


def _indices(work: Work, values: np.ndarray, mixed: np.ndarray, rows: int) -> Indices:
    names = [one.input for one in work.uncertain]
    a, b = values[1 : 1 + rows], values[1 + rows : 1 + 2 * rows]
    return indices(names, a, b, mixed[1:].reshape(len(names), rows), work.seed)
