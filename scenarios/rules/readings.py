"""What a check looks at: every measure of every manoeuvre that its rules ask for, each flown once."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, replace

from models.loader import Loaded
from scenarios.at_rest import BALANCE, weigh
from scenarios.manoeuvres import CannotFly, fly_manoeuvre, flyable
from scenarios.measures import take_measures
from scenarios.outcomes import outcome
from scenarios.rules.loading import Flight
from sim.description import Setup

FLOWN, NOT_FLOWN, DIVERGED = "flown", "not flown", "diverged"


@dataclass(frozen=True)
class Reading:
    """A measure of one setup: its `value` in the measure's unit, or None and the `reason`; `flown` where there was a flight.

    A trim that was not found counts as no flight, also for what the balance tells.
    """

    value: float | None
    reason: str = ""
    flown: bool = True


@dataclass(frozen=True)
class Told:
    """What became of a flight: `state` of the three above, whether it `was` the manoeuvre (None: nobody tells), in `words`."""

    state: str
    was: bool | None
    words: str


@dataclass(frozen=True)
class Readings:
    """All that was read of one setup: measures by (manoeuvre, measure), what became of each flight by manoeuvre."""

    loaded: Loaded
    measures: dict[tuple[str, str], Reading]
    flights: dict[str, Told]

    @property
    def setup(self) -> Setup:
        return self.loaded.setup


def named_apart(setups: list[Loaded], names: list[str]) -> list[Loaded]:
    """`setups`, those of one name called by the `names` they were asked for instead."""
    known = [loaded.setup.name for loaded in setups]
    return [
        replace(loaded, setup=replace(loaded.setup, name=name)) if known.count(loaded.setup.name) > 1 else loaded
        for loaded, name in zip(setups, names)
    ]


def read_setups(
    wanted: Iterable[tuple[Loaded, Iterable[Flight]]],
    skill: str = "expert",
    workers: int | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> list[Readings]:
    """The readings of each setup, its balance always; flown on `workers` threads (default: one a core).

    Every flight is on a plane built for it alone, so that the number of threads does not show.  Raises `UserError` for a
    plane that cannot be built or balanced.
    """
    wanted = [(loaded, list(flights)) for loaded, flights in wanted]
    with ThreadPoolExecutor(workers or os.cpu_count()) as pool:
        jobs = [(pool.submit(_balance, loaded.setup), [pool.submit(_fly, loaded.setup, f, skill) for f in flights])
                for loaded, flights in wanted]  # fmt: skip
        waiting = [one for balance, flown in jobs for one in (balance, *flown)]
        try:
            for done, one in enumerate(as_completed(waiting), 1):
                one.result()  # what is wrong with a plane ends the check here
                progress(done, len(waiting))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    found = []
    for (loaded, flights), (balance, flown) in zip(wanted, jobs):
        measures, told = dict(balance.result()), {}
        for flight, one in zip(flights, flown):
            told[flight.name], taken = one.result()
            measures |= {(flight.name, name): reading for name, reading in taken.items()}
        found.append(Readings(loaded, measures, told))
    return found


def _balance(setup: Setup) -> dict[tuple[str, str], Reading]:
    found = weigh(flyable(setup))
    return {(BALANCE, name): Reading(one.value, one.reason, one.trimmed) for name, one in found.items()}


def _fly(setup: Setup, flight: Flight, skill: str) -> tuple[Told, dict[str, Reading]]:
    names = flight.manoeuvre.measures
    try:
        flown = fly_manoeuvre(setup, flight.manoeuvre, skill=skill)
    except CannotFly as stop:
        reason = f"not flown: {stop}"
        return Told(NOT_FLOWN, None, reason), dict.fromkeys(names, Reading(None, reason, flown=False))
    if flown.flight.ending == "diverged":
        reason = f'not flown: diverged in "{flight.manoeuvre.phases[flown.flight.phase].name}"'
        return Told(DIVERGED, None, reason), dict.fromkeys(names, Reading(None, reason, flown=False))
    became = outcome(flown)
    told = Told(FLOWN, became.was if became else None, became.words if became else flown.flight.ending)
    return told, {t.measure.name: Reading(t.value, t.reason) for t in take_measures(flown)}
