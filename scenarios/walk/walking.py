"""The walk itself: nominal flights of every step first, then the draws, all of them where the verdict hangs on them.

Every step up to the first whose nominal flight breaks a limit is flown with the first few draws (`SCREENING`).  A step
of which any of these broke a limit is flown with all of them, and so is the furthest sound one: a step is called unsound
by all draws or by its nominal flight, never by a few, and the one that is named as sound by all of them.  Draws are the same at every
step: number 17 has the same errors everywhere, so steps differ by the step alone.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path as FilePath

import numpy as np

from models.loader import Loaded, setup_from_texts
from scenarios.draws import Uncertain, uncertain_of
from scenarios.ensemble import ENDED, Work, crew_of, prepare
from scenarios.inputs import Case, inputs_of, with_inputs
from scenarios.manoeuvres import flyable, load_manoeuvre
from scenarios.walk.flying import Flights
from scenarios.walk.limits import Limit, manoeuvres_of
from scenarios.walk.steps import Path, Step
from scenarios.walk.verdict import CONFIDENCE, FLIGHT, SAFE_ENDINGS, SHARE, Judged, Trend, at_least, judge, trends

SCREENING = 20
RETREAT = 2  # steps gone back on a sign (common practice, no source)
IN_HAND = 0.004  # m, two standard deviations of a measured CG
HAND = 0.04  # s, one standard deviation of a pilot's delay from day to day (common practice, no source)
BEYOND = 1  # steps past the first that trips which are still shown
AHEAD = 4  # steps that are flown nominally at a time


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
        """What is drawn: what cannot be measured exactly, the gusts of the flights that have any, the pilot's delay."""
        if self.uncertain is not None:
            return self.uncertain
        return (
            *uncertain_of(self.loaded.setup),
            Uncertain("turbulence seed", "uniform", 0.0),
            Uncertain("wind direction", "uniform", math.pi),
            Uncertain("pilot delay", "normal", HAND),
        )

    def check(self) -> None:
        """Build every step, so that one that cannot be is told before anything flies.  Raises `UserError`."""
        known = inputs_of(self.loaded.setup)
        for step in self.path.steps:
            setup = self.loaded.setup
            if step.setup_text:
                setup = setup_from_texts({**self.loaded.texts, "setup": step.setup_text})
            values = [(known[name], known[name].read(text)) for name, text in step.fixed]
            flyable(with_inputs(Case(setup), values).setup)

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
class Broke:
    """A limit that was broken at a step: by how many `draws`, whether by the `nominal` flight, and `why` it could not be
    measured in the first of them where that was it ("" where it was measured and beyond)."""

    limit: str
    draws: int
    nominal: bool
    why: str


@dataclass(frozen=True)
class Walk:
    """`flown` steps, `columns` (manoeuvre, measure, unit), `names` of the limits, those `set_aside` as broken from the start.

    `furthest` is the index of the last step before the first that is not sound (None: the first one is not), `tripped`
    the index of that one (None: the walk ended before it); of a walk that does not stop they are None.
    """

    plan: Plan
    flown: tuple[Flown, ...]
    columns: tuple[tuple[str, str, str], ...]
    names: tuple[str, ...]
    set_aside: np.ndarray
    furthest: int | None
    tripped: int | None
    seconds: float
    flights: int

    def sound(self, n: int) -> bool:
        """Whether a step is sound on the draws that were flown of it."""
        return self.flown[n].judged.sound(self.plan.share)

    def least(self, n: int) -> float:
        """The share of all planes and days like these that this step's draws show to be sound, at the confidence."""
        judged = self.flown[n].judged
        return at_least(judged.count - judged.bad, judged.count, self.plan.confidence) if judged.count else 0.0

    def broke(self, n: int) -> list[Broke]:
        """Which limits a step broke, the nominally broken and the most broken first."""
        flown = self.flown[n]
        judged, found = flown.judged, []
        for k, name in enumerate(self.names):
            if not judged.broken[:, k].any():
                continue
            untaken = (
                judged.broken[:, k] if k == len(self.plan.limits) else judged.broken[:, k] & self._untaken(flown, k)
            )
            first = int(np.argmax(untaken)) if untaken.any() else None
            why = "" if first is None else self._why(flown, k, first)
            found.append(Broke(name, int(judged.breaks[k]), bool(judged.broken[0, k]), why))
        return sorted(found, key=lambda each: (-each.nominal, -each.draws))

    def _untaken(self, flown: Flown, k: int) -> np.ndarray:
        """Which draws broke limit `k` because a measure of it was not taken."""
        at = self._columns_of(k)
        room = self.plan.limits[k].headroom(flown.values[:, at])
        return ~(room < 0.0).any(axis=1)

    def _columns_of(self, k: int) -> list[int]:
        limit = self.plan.limits[k]
        pairs = [(manoeuvre, measure) for manoeuvre, measure, _ in self.columns]
        return [pairs.index((manoeuvre, limit.measure)) for manoeuvre in limit.manoeuvres]

    def _why(self, flown: Flown, k: int, draw: int) -> str:
        """Why a measure of limit `k` was not taken in a draw, or how its flights ended."""
        if k == len(self.plan.limits):
            endings = [ENDED[code] for code in flown.endings[draw]]
            found = [f"{name}: {end}" for name, end in zip(self.plan.manoeuvres, endings) if end not in SAFE_ENDINGS]
            return found[0] if found else ""
        reasons = [flown.reasons[draw][at] for at in self._columns_of(k)]
        return next((r for r in reasons if r and not r.startswith(self.plan.limits[k].harmless or "\0")), "")

    @property
    def advised(self) -> int | None:
        """The furthest step worth flying: two steps, and twice what a CG is off by, short of the furthest sound one.

        Where no limit tripped, short of where the first one goes by its trend, if that is nearer than the end.
        """
        if self.furthest is None:
            return None
        places = [flown.step.number for flown in self.flown]
        edge, in_hand = places[self.furthest], 1000.0 * IN_HAND if self.plan.path.backwards else 0.0
        if self.tripped is None:
            gone = [trend.place - in_hand for trend in self.trends() if trend.place is not None]
            edge = min([*gone, math.inf])
        step = abs(places[1] - places[0]) if len(places) > 1 else 0.0
        back = max(RETREAT * step, in_hand) - 1e-6
        return max([0, *(n for n in range(self.furthest + 1) if edge - places[n] >= back)])

    def trends(self) -> list[Trend]:
        """How nominal headroom goes from the start to the furthest step that was looked at with draws."""
        last = self.tripped if self.tripped is not None else len(self.flown) - 1
        looked = self.flown[: last + 1]
        return trends(np.array([f.step.number for f in looked]), np.array([f.judged.headroom[0] for f in looked]))


Progress = Callable[[str, int, int, float], None]


def walk(
    plan: Plan,
    folder: FilePath | None = None,
    workers: int | None = None,
    progress: Progress = lambda what, done, total, left: None,
    cluster: str | None = None,
) -> Walk:
    """Fly `plan`.  `progress` is told what goes on, draws done and expected, and the seconds that are left by that.

    `folder` keeps what was flown; `workers` and `cluster` say who flies, as in a study.  Raises `UserError`,
    `CgOutOfReach` where the first step cannot be built.
    """
    began = time.monotonic()
    with crew_of(workers, cluster, folder is not None) as crew:
        walker = _Walker(plan, Flights(crew, folder), progress)
        furthest, tripped = walker.to_the_limit() if plan.path.stops else walker.everywhere()
        flown = tuple(walker.looked_at(n) for n in sorted(walker.count))
    return Walk(
        plan, flown, walker.columns, walker.names, walker.aside, furthest, tripped, time.monotonic() - began,
        sum(len(step.values) for step in flown) * len(plan.manoeuvres),
    )  # fmt: skip


class _Walker:
    """What has been flown of a plan so far, and what is flown next.  `count` is the number of draws of each step."""

    def __init__(self, plan: Plan, flights: Flights, progress: Progress):
        self.plan, self.flights, self.progress = plan, flights, progress
        plan.check()
        self.works = plan.works()
        found = prepare(self.works[0]).columns
        self.columns = tuple((c.manoeuvre, c.measure, c.unit) for c in found)
        self.names = (*(limit.name for limit in plan.limits), FLIGHT)
        self.aside = np.zeros(len(self.names), dtype=bool)
        self.count: dict[int, int] = {}
        self.few = min(SCREENING, plan.draws)
        self.done = 0
        self.began = time.monotonic()

    def looked_at(self, n: int) -> Flown:
        """A step by what was flown of it."""
        values, endings, reasons = self.flights.of(self.works[n], self.count[n])
        pairs = [(manoeuvre, measure) for manoeuvre, measure, _ in self.columns]
        judged = judge(self.plan.limits, pairs, values, endings, reasons).without(self.aside)
        return Flown(self.plan.path.steps[n], judged, values, endings, reasons)

    def fly(self, what: str, steps: list[int], draws: int, later: int) -> None:
        """Fly so many draws of each of `steps`; about `later` more are expected after these."""
        jobs = self.flights.missing([self.works[n] for n in steps], draws)
        total = self.done + sum(job.last - job.first for job in jobs) + later
        for job in self.flights.fly(jobs):
            self.done += job.last - job.first
            pace = (time.monotonic() - self.began) / self.done
            self.progress(what, self.done, total, pace * (total - self.done))
        for n in steps:
            self.count[n] = max(self.count.get(n, 0), draws)

    def start(self) -> None:
        """Fly the first step, and set aside what it cannot be flown for at all."""
        plan, limits = self.plan, self.plan.limits
        self.fly("the start", [0], self.few, 2 * plan.draws + self.few * len(self.works) // 2)
        able = np.array([not limit.needed for limit in limits] + [False])
        if self.looked_at(0).judged.broken[:, able].any():
            self.fly("the start", [0], plan.draws, 2 * plan.draws + self.few * len(self.works) // 2)
        judged = self.looked_at(0).judged
        self.aside = able & (judged.broken[0] | (judged.breaks > plan.share * judged.count))

    def settled(self, n: int, later: int) -> Judged:
        """A step judged: by a few draws if none of them is in doubt, else by all of them."""
        judged = self.looked_at(n).judged
        if judged.doubtful() and not judged.broken[0].any() and judged.count < self.plan.draws:
            self.fly(f"all draws of step {n + 1}", [n], self.plan.draws, later)
            judged = self.looked_at(n).judged
        return judged

    def everywhere(self) -> tuple[None, None]:
        """Every step with all draws, each for itself."""
        self.start()
        steps = list(range(len(self.works)))
        self.fly("nominal flights", steps, 0, self.plan.draws * len(steps))
        for n in steps:
            if not self.looked_at(n).judged.broken[0].any():
                self.fly(f"step {n + 1} of {len(steps)}", [n], self.plan.draws, self.plan.draws * (len(steps) - n - 1))
        return None, None

    def to_the_limit(self) -> tuple[int | None, int | None]:
        """The index of the furthest sound step and of the first that is not, None where there is no such step."""
        self.start()
        draws, few, last = self.plan.draws, self.few, len(self.works) - 1
        tripped, n = None, 0
        while tripped is None and n <= last:
            ahead = list(range(n, min(n + AHEAD, last + 1)))
            self.fly("nominal flights", ahead, 0, 2 * draws + few * (n + AHEAD))
            tripped = next((k for k in ahead if self.looked_at(k).judged.broken[0].any()), None)
            n = ahead[-1] + 1
        reach = last + 1 if tripped is None else tripped
        self.fly("a few draws of every step", list(range(reach)), few, 2 * draws)
        tripped = next((k for k in range(reach) if not self.settled(k, draws).sound(self.plan.share)), tripped)
        furthest = last if tripped is None else tripped - 1
        while furthest >= 0:
            self.fly("the furthest sound step", [furthest], draws, 0)
            if self.looked_at(furthest).judged.sound(self.plan.share):
                break
            furthest, tripped = furthest - 1, furthest
        keep = last if tripped is None else min(last, tripped + BEYOND)
        self.count = {n: most for n, most in self.count.items() if n <= keep}
        return (furthest if furthest >= 0 else None), tripped
