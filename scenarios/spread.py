"""How far results may be off because inputs are: root-sum-square of linear sensitivities.

The law of propagation of uncertainty for independent inputs (JCGM 100:2008, GUM, section 5.1.2), slopes by central
difference over one standard deviation each way.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from scenarios.accuracy import Accuracy, off_by
from scenarios.inputs import Case
from sim.trim import NoTrim


@dataclass(frozen=True)
class Spread:
    """`value`, one standard deviation `sigma` of it, and what one sigma of each input adds, largest first."""

    value: float
    sigma: float
    parts: tuple[tuple[Accuracy, float], ...]


def spreads(
    case: Case, results: Callable[[Case], dict[str, float]], accuracies: Iterable[Accuracy]
) -> dict[str, Spread]:
    """The spread of every result of `case`.

    Raises `NoTrim` where `case` itself cannot be trimmed; a step to a side that cannot counts as the other's.
    """
    here = results(case)
    parts: dict[str, list[tuple[Accuracy, float]]] = {name: [] for name in here}
    for accuracy in accuracies:
        sides = []
        for sign in (1.0, -1.0):
            try:
                there = results(off_by(case, accuracy, sign))
            except NoTrim:
                continue
            sides.append({name: sign * (there[name] - here[name]) for name in here})
        for name in here:
            parts[name].append((accuracy, sum(side[name] for side in sides) / max(len(sides), 1)))
    return {
        name: Spread(
            here[name],
            math.sqrt(sum(part * part for _, part in found)),
            tuple(sorted(found, key=lambda one: -abs(one[1]))),
        )
        for name, found in parts.items()
    }
