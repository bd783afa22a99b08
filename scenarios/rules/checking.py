"""Setups checked by their rules: what must be flown is gathered, flown once, and judged."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np

from models.loader import Loaded
from scenarios.draws import uncertain_of
from scenarios.ensemble import NOTHING_FLOWN, Work, run
from scenarios.rules.judging import UNFLOWN, Judgement, judge
from scenarios.rules.loading import Flight, Rule, load_all, rules_of_way
from scenarios.rules.readings import Readings, read_setups

DRAWS, SEED = 100, 1

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True)
class Plan:
    """One setup and the rules that it is checked by; `files` are what they came from."""

    loaded: Loaded
    files: tuple[str, ...]
    rules: tuple[Rule, ...]
    skipped: tuple[Rule, ...]  # for other ways of flying


@dataclass(frozen=True)
class Check:
    """What came of one setup."""

    plan: Plan
    readings: Readings
    judgements: tuple[Judgement, ...]

    @property
    def name(self) -> str:
        return self.readings.setup.name


@dataclass(frozen=True)
class Conditions:
    """Under which a check is made: who flies, and how many draws from which seed where a rule wants to be sure."""

    skill: str = "expert"
    draws: int = DRAWS
    seed: int = SEED


@dataclass
class _Wanted:
    """Setups to be read, each once however it is asked for, and the flights of each by name."""

    setups: list[Loaded] = field(default_factory=list)
    flights: list[dict[str, Flight]] = field(default_factory=list)

    def place(self, loaded: Loaded, flights: Iterable[Flight] = ()) -> int:
        """The place of `loaded` among them, which flies these `flights` too."""
        known = [(one.setup.name, one.texts) for one in self.setups]
        asked = (loaded.setup.name, loaded.texts)
        if asked not in known:
            self.setups.append(loaded)
            self.flights.append({})
            known.append(asked)
        place = known.index(asked)
        self.flights[place] |= {flight.name: flight for flight in flights}
        return place


def plan(loaded: Loaded, names: list[str] | None = None) -> Plan:
    """What `loaded` is checked by: the rules called `names`, or those of its way of flying.  Raises `UserError`."""
    way = loaded.setup.way_of_flying
    files = tuple(dict.fromkeys(names or [rules_of_way(way)]))
    rules = load_all(files)
    mine = tuple(rule for rule in rules if way in rule.part.for_)
    return Plan(loaded, files, mine, tuple(rule for rule in rules if way not in rule.part.for_))


def check(
    plans: list[Plan],
    under: Conditions = Conditions(),
    workers: int | None = None,
    progress: Progress = lambda done, total, what: None,
) -> list[Check]:
    """Every plan checked.  One flight of a setup serves all the rules of its manoeuvre.  Raises `UserError`."""
    wanted = _Wanted()
    for each in plans:
        wanted.place(each.loaded, [rule.flight for rule in each.rules if rule.flight])
        for rule in each.rules:
            if rule.other:
                wanted.place(rule.other, [rule.flight] if rule.flight else [])
    read = read_setups(
        [(loaded, flights.values()) for loaded, flights in zip(wanted.setups, wanted.flights)],
        under.skill,
        workers,
        lambda done, total: progress(done, total, "flown"),
    )
    checks = []
    for each in plans:
        drawn = drawn_values(each, under, workers, progress)
        own = read[wanted.place(each.loaded)]
        judged = []
        for rule in each.rules:
            other = read[wanted.place(rule.other)] if rule.other else None
            values = drawn[rule.of, rule.part.measure] if rule.part.sure else None
            judged.append(judge(rule, own, other, values))
        checks.append(Check(each, own, tuple(judged)))
    return checks


def drawn_values(
    each: Plan,
    under: Conditions,
    workers: int | None = None,
    progress: Progress = lambda done, total, what: None,
) -> dict[tuple[str, str], np.ndarray]:
    """Values (draws,) of the measures whose rules want to be sure, with errors in what nobody measures exactly."""
    sure = [rule for rule in each.rules if rule.part.sure]
    if not sure:
        return {}
    texts = {rule.of: rule.flight.text if rule.flight else NOTHING_FLOWN for rule in sure}
    measures = {of: tuple(dict.fromkeys(r.part.measure for r in sure if r.of == of)) for of in texts}
    work = Work.of(
        each.loaded,
        list(texts.items()),
        under.draws + 1,  # draw 0 is the plane as written
        measures=tuple(measures.items()),
        pilot=under.skill,
        uncertain=uncertain_of(each.loaded.setup),
        seed=under.seed,
    )
    results = run(work, workers=workers, progress=lambda done, total, *_: progress(done, total, "drawn"))
    return {(c.manoeuvre, c.measure): results.values[1:, n] for n, c in enumerate(results.columns)}


def exit_code(checks: list[Check], strict: bool = False) -> int:
    """1 where a rule that must hold failed (any rule where `strict`), else 3 where one could not be flown, else 0."""
    judged = [one for each in checks for one in each.judgements if not one.holds and (strict or one.must)]
    if any(one.verdict != UNFLOWN for one in judged):
        return 1
    return 3 if judged else 0
