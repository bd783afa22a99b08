"""Whether a rule holds: on the flight of the plane as written, or on a share of the flights with errors of measuring."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scenarios.rules.loading import Rule
from scenarios.rules.readings import FLOWN, Readings
from scenarios.rules.schema import FAILS, MUST
from scenarios.shares import bounds

CONFIDENCE = 0.95  # of the interval that a share of draws is given with
HOLDS, WARNING, FAILED, UNFLOWN = "pass", "warning", "fail", "not flown"


@dataclass(frozen=True)
class Share:
    """`held` of `draws` flights; `low` and `high` bound the share that very many would hold, at `CONFIDENCE`."""

    held: int
    draws: int
    low: float
    high: float

    @property
    def share(self) -> float:
        return self.held / self.draws

    def settled(self, wanted: float) -> bool:
        """Whether more draws are unlikely to change which side of `wanted` the share lies on."""
        return self.low >= wanted or self.high < wanted


@dataclass(frozen=True)
class Judgement:
    """A rule judged: `verdict` of the four above, `value` and `other` in the measure's unit, `headroom`, and a `reason`.

    `headroom` is in the measure's unit, negative outside the limit; None where there is no number.  With draws, `share`.
    """

    rule: Rule
    setup: str
    verdict: str
    value: float | None = None
    headroom: float | None = None
    other: float | None = None
    share: Share | None = None
    reason: str = ""

    @property
    def holds(self) -> bool:
        return self.verdict == HOLDS

    @property
    def must(self) -> bool:
        return self.rule.part.severity == MUST


def share_of(held: Sequence[bool] | np.ndarray) -> Share:
    """How many of some flights held, with the exact interval for it."""
    k, n = int(np.count_nonzero(held)), len(held)
    return Share(k, n, *bounds(k, n, CONFIDENCE))


def fewest_draws(wanted: float) -> int:
    """The fewest draws that settle a share of `wanted` when all of them hold."""
    if wanted >= 1.0:
        return 0  # no number of draws shows that every one would hold
    return math.ceil(math.log((1.0 - CONFIDENCE) / 2.0) / math.log(wanted))


def judge(rule: Rule, readings: Readings, other: Readings | None = None, draws: np.ndarray | None = None) -> Judgement:
    """`rule` on what was read of a setup; `other`: what was read of the setup that it compares with.

    `draws` (n,) are the measure of the flights with errors, NaN where it could not be taken, which does not hold.
    """
    setup = readings.setup.name
    if rule.part.outcome:
        return _outcome(rule, readings)
    key = (rule.of, rule.part.measure)
    reading = readings.measures[key]
    against = other.measures[key] if other else None
    for one in (reading, against):
        if one and not one.flown:
            return Judgement(rule, setup, UNFLOWN, reason=one.reason)
    if against is not None and against.value is None:
        return Judgement(rule, setup, _failed(rule), reading.value, reason=f"{other.setup.name}: {against.reason}")
    leant = against.value if against else None
    limit = rule.part.limit
    room = limit.headroom(reading.value, leant) if reading.value is not None else None
    share = None
    if draws is not None:
        share = share_of([limit.headroom(float(v), leant) >= 0.0 for v in draws])  # NaN is not inside either
        held = share.share >= rule.part.sure
    else:
        held = room is not None and room >= 0.0
    return Judgement(rule, setup, HOLDS if held else _failed(rule), reading.value, room, leant, share, reading.reason)


def _outcome(rule: Rule, readings: Readings) -> Judgement:
    told = readings.flights[rule.of]
    if told.state != FLOWN:
        return Judgement(rule, readings.setup.name, UNFLOWN, reason=told.words)
    held = bool(told.was) != (rule.part.outcome == FAILS)
    return Judgement(rule, readings.setup.name, HOLDS if held else _failed(rule), reason=told.words)


def _failed(rule: Rule) -> str:
    return FAILED if rule.part.severity == MUST else WARNING
