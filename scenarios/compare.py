"""Two or more setups flown through the same manoeuvres, side by side."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from scenarios.balance import Balance, balance
from scenarios.manoeuvres import CannotFly, Flown, fly_manoeuvre, flyable
from scenarios.measures import MEASURES, Measure, take_measures
from scenarios.schema import ManoeuvreFile
from sim.description import Setup


@dataclass(frozen=True)
class Row:
    """One measure of one manoeuvre over the setups: `values` (None: not taken) and `reasons` ("" where taken)."""

    manoeuvre: str
    measure: Measure
    values: list[float | None]
    reasons: list[str]


@dataclass
class Comparison:
    """`balances` by setup, `rows` in flying order, `endings` by manoeuvre, then by setup."""

    setups: list[str]
    balances: list[Balance]
    rows: list[Row] = field(default_factory=list)
    endings: dict[str, list[str]] = field(default_factory=dict)


def compare(
    setups: list[Setup],
    manoeuvres: list[ManoeuvreFile],
    progress: Callable[[int, int, str], None] = lambda done, total, what: None,
    skill: str = "expert",
    look: Callable[[Flown], None] = lambda flown: None,
) -> Comparison:
    """Fly every manoeuvre with every setup, flown by a pilot of that `skill`; each flight is shown to `look` once.

    A manoeuvre that one setup cannot start leaves its values None with the reason; the
    others are flown all the same.  Raises `UserError` when a CG cannot be reached.
    """
    planes = [flyable(setup) for setup in setups]
    result = Comparison([setup.name for setup in setups], [balance(plane) for plane in planes])
    total, done = len(setups) * len(manoeuvres), 0
    for manoeuvre in manoeuvres:
        taken, endings = [], []
        for setup, plane in zip(setups, planes):
            progress(done, total, f"{manoeuvre.name}, {setup.name}")
            try:
                flown = fly_manoeuvre(setup, manoeuvre, plane, skill=skill)
                taken.append({t.measure.name: (t.value, t.reason) for t in take_measures(flown)})
                endings.append(flown.flight.ending)
                look(flown)
            except CannotFly as stop:
                taken.append({name: (None, f"not flown: {stop}") for name in manoeuvre.measures})
                endings.append("not flown")
            done += 1
        result.endings[manoeuvre.name] = endings
        for name in manoeuvre.measures:
            values = [t[name] for t in taken]
            row = Row(manoeuvre.name, MEASURES[name], [v for v, _ in values], [r for _, r in values])
            result.rows.append(row)
    progress(total, total, "done")
    return result
