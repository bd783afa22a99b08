"""The walk itself: nominal flights of every step first, then the draws, all of them where the verdict hangs on them.

Every step is flown with the first few draws (`SCREENING`); the step of the start, any step of which a flight broke a
limit, the furthest sound step and the first one that is not are flown with all of them.  So the verdict on the steps
it names rests on the whole number of draws, and no step before them has been passed over.  Draws are the same at every
step: number 17 has the same errors everywhere, so steps differ by the step alone.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path as FilePath

import numpy as np

from models.errors import UserError
from models.loader import Loaded
from scenarios.draws import Uncertain, uncertain_of
from scenarios.ensemble import Work, prepare
from scenarios.manoeuvres import load_manoeuvre
from scenarios.walk.flying import Flights
from scenarios.walk.limits import Limit, manoeuvres_of
from scenarios.walk.steps import Path, Step
from scenarios.walk.verdict import CONFIDENCE, FLIGHT, SHARE, Judged, Trend, at_least, judge, trends

SCREENING = 20
RETREAT = 2  # steps gone back on a sign (common practice, no source)
IN_HAND = 0.004  # m, two standard deviations of a measured CG
BEYOND = 1  # steps flown nominally past the first that trips


@dataclass(frozen=True)
class Plan:
    """What is to be walked.  `share` of the draws may break a limit; `confidence` is one-sided."""

    loaded: Loaded
    path: Path
    limits: tuple[Limit, ...]
    draws: int = 100
    seed: int = 1
    share: float = SHARE
    confidence: float = CONFIDENCE
    pilot: str = "expert"
    uncertain: tuple[Uncertain, ...] | None = None

    @property
    def manoeuvres(self) -> tuple[str, ...]:
        """What is flown at every step."""
        return manoeuvres_of(self.limits)

    def errors(self) -> tuple[Uncertain, ...]:
        """What is drawn: what cannot be measured exactly, and the gusts of the flights that have any."""
        if self.uncertain is not None:
            return self.uncertain
        measured = tuple(u for u in uncertain_of(self.loaded.setup))
        return (*measured, Uncertain("turbulence seed", "uniform", 0.0), Uncertain("wind direction", "uniform", np.pi))

    def works(self) -> list[Work]:
        """The work of every step."""
        texts = [(name, load_manoeuvre(name)[1]) for name in self.manoeuvres]
        errors = self.errors()
        works = []
        for step in self.path.steps:
            files = dict(self.loaded.texts) | ({"setup": step.setup_text} if step.setup_text else {})
            works.append(
                Work(
                    tuple(files.items()), tuple(texts), self.draws + 1, pilot=self.pilot, fixed=step.fixed,
                    uncertain=errors, seed=self.seed,
                )
            )  # fmt: skip
        return works


@dataclass(frozen=True)
class Flown:
    """One step as flown: `judged`, and `values` (draws, columns) of everything measured, the nominal flight first."""

    step: Step
    judged: Judged
    values: np.ndarray
    endings: np.ndarray
    reasons: list[tuple[str, ...]]

    @property
    def draws(self) -> int:
        """How many draws were flown of it."""
        return self.judged.count


@dataclass(frozen=True)
class Walk:
    """`flown` steps, `columns` (manoeuvre, measure, unit), the limits `set_aside` as broken from the start.

    `furthest` is the index of the last step before the first that is not sound (None: the first one is not), `tripped`
    the index of that one (None: the walk ended before it); of a walk that does not stop they are None.
    """

    plan: Plan
    flown: tuple[Flown, ...]
    columns: tuple[tuple[str, str, str], ...]
    set_aside: np.ndarray
    furthest: int | None
    tripped: int | None
    seconds: float = 0.0
    flights: int = 0
    names: tuple[str, ...] = field(default=())

    def sound(self, n: int) -> bool:
        """Whether a step is sound on the draws that were flown of it."""
        return self.flown[n].judged.sound(self.plan.share)

    def least(self, n: int) -> float:
        """The share of all planes and days like these that this step's draws show to be sound, at the confidence."""
        judged = self.flown[n].judged
        return at_least(judged.count - judged.bad, judged.count, self.plan.confidence) if judged.count else 0.0

    def broke(self, n: int) -> list[tuple[str, int, bool]]:
        """(limit, draws that broke it, whether the nominal flight did) of a step, the most broken first."""
        judged = self.flown[n].judged
        found = [(name, int(k), bool(b)) for name, k, b in zip(self.names, judged.breaks, judged.broken[0]) if k or b]
        return sorted(found, key=lambda each: (-each[2], -each[1]))

    @property
    def advised(self) -> int | None:
        """The furthest step that is worth flying: two steps, and twice what a CG is off by, short of the furthest sound one."""
        if self.furthest is None:
            return None
        last, back = self.furthest - RETREAT, self.flown[self.furthest].step.number
        while last > 0 and self.plan.path.backwards and (back - self.flown[last].step.number) < 1000.0 * IN_HAND - 1e-6:
            last -= 1
        return max(last, 0)

    def trends(self) -> list[Trend]:
        """How nominal headroom goes from the start to the furthest step that was looked at with draws."""
        last = self.tripped if self.tripped is not None else len(self.flown) - 1
        looked = self.flown[: last + 1]
        return trends(np.array([f.step.number for f in looked]), np.array([f.judged.headroom[0] for f in looked]))


def walk(
    plan: Plan,
    folder: FilePath | None = None,
    workers: int | None = None,
    progress: Callable[[str, int, int, float], None] = lambda what, done, total, left: None,
) -> Walk:
    """Fly `plan`.  `progress` is told what goes on, draws done and planned, and the seconds that are left by that.

    Raises `UserError`, `CgOutOfReach` where a step cannot be built.
    """
    began = time.monotonic()
    works = plan.works()
    first = prepare(works[0])
    columns = tuple((c.manoeuvre, c.measure, c.unit) for c in first.columns)
    pairs = [(manoeuvre, measure) for manoeuvre, measure, _ in columns]
    names = (*(limit.name for limit in plan.limits), FLIGHT)
    count = {n: 0 for n in range(len(works))}
    aside = np.zeros(len(names), dtype=bool)

    with Flights(folder, workers) as flights:
        done = 0

        def looked_at(n: int) -> Flown:
            values, endings, reasons = flights.of(works[n], count[n])
            judged = judge(plan.limits, pairs, values, endings, reasons).without(aside)
            return Flown(plan.path.steps[n], judged, values, endings, reasons)

        def fly(what: str, asked: dict[int, int], planned: int) -> None:
            """Fly steps with so many draws each; `planned` draws are expected after these."""
            nonlocal done
            wanted = [(works[n], range(most + 1)) for n, most in asked.items()]
            total = done + flights.missing(wanted) + planned
            started, before = time.monotonic(), done

            def tell(flown: int) -> None:
                nonlocal done
                done += flown
                pace = (time.monotonic() - started) / (done - before)
                progress(what, done, total, pace * (total - done))

            flights.fly(wanted, tell)
            for n, most in asked.items():
                count[n] = max(count[n], most)

        few = min(SCREENING, plan.draws)
        every = range(len(works))
        fly("nominal flights", {n: 0 for n in every}, plan.draws * 3 + few * len(works) // 2)
        fly("the start", {0: plan.draws}, plan.draws * 2 + few * len(works) // 2)
        for n, limit in enumerate(plan.limits):
            judged = looked_at(0).judged
            if not limit.needed and (judged.broken[0, n] or judged.breaks[n] > plan.share * plan.draws):
                aside[n] = True
        reach = [n for n in every if not looked_at(n).judged.broken[0].any()] if not plan.path.stops else []
        if plan.path.stops:
            tripped = next((n for n in every if looked_at(n).judged.broken[0].any()), None)
            reach = list(every[:tripped]) if tripped is not None else list(every)
        fly("a few draws of every step", {n: few for n in reach if count[n] < few}, plan.draws * 2)
        furthest, tripped = _settle(plan, looked_at, fly, count, len(works))
        shown = len(works) if tripped is None or not plan.path.stops else min(len(works), tripped + 1 + BEYOND)
        flown = tuple(looked_at(n) for n in range(shown))
    total = sum(count[n] + 1 for n in every) * len(plan.manoeuvres)
    return Walk(plan, flown, columns, aside, furthest, tripped, time.monotonic() - began, total, names)


def _settle(plan: Plan, looked_at, fly, count: dict[int, int], steps: int) -> tuple[int | None, int | None]:
    """Fly what the verdict hangs on with all draws; returns the furthest sound step and the first that is not."""
    few = min(SCREENING, plan.draws)
    if not plan.path.stops:
        for n in range(steps):
            judged = looked_at(n).judged
            if not judged.broken[0].any():
                fly("all draws of each step", {n: plan.draws}, (steps - n - 1) * (plan.draws - few))
        return None, None
    n = 0
    while n < steps:
        judged = looked_at(n).judged
        whole = count[n] == plan.draws
        if judged.doubtful() and not whole and not judged.broken[0].any():
            fly("draws of a step in doubt", {n: plan.draws}, plan.draws)
            continue
        if not judged.sound(plan.share):
            break
        n += 1
    tripped = n if n < steps else None
    while n > 0:
        last = n - 1
        if count[last] < plan.draws:
            fly("the furthest sound step", {last: plan.draws}, 0)
        if looked_at(last).judged.sound(plan.share):
            break
        tripped, n = last, last
    return (n - 1 if n > 0 else None), tripped


def checked_draws(text: str | None, option: str = "--draws") -> int:
    """The number of draws that was asked for.  Raises `UserError`."""
    from models.errors import OptionError, Refused
    from models.fields import Count

    if text is None:
        return 100
    try:
        return Count(1, 10_000).read(text)
    except Refused as refused:
        raise OptionError(option, refused) from None


__all__ = ["Flown", "Plan", "UserError", "Walk", "checked_draws", "walk"]
