"""The numbers a pilot recognises, each computed from the record of a flight in one place.

A measure that could not be taken raises `NotMeasured` with the reason; there is no
silent number.  Signs: pitch positive toward the canopy, elevator positive up, roll and
yaw positive right.  Definitions are common practice, no source, unless one is named.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.integration import FRAME

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

DEG = 180.0 / math.pi


class NotMeasured(Exception):
    """Why a measure could not be taken."""


@dataclass(frozen=True)
class Measure:
    """`name`, `unit` of the number, `about` its definition, `meaning` of its sign ("positive", "negative"),
    `phase` whose loads explain it, and `take`, which computes it."""

    name: str
    unit: str
    about: str
    take: Callable[[Flown], float]
    phase: str = ""
    positive: str = ""
    negative: str = ""


MEASURES: dict[str, Measure] = {}


def measure(unit: str, about: str, phase: str = "", positive: str = "", negative: str = ""):
    def register(take):
        MEASURES[take.__name__] = Measure(take.__name__, unit, about, take, phase, positive, negative)
        return take

    return register


def window(flown: Flown, phase: str, last: float = 0.0, least: float = 0.2) -> slice:
    """Frames of `phase` (its `last` seconds, 0: all).  Raises NotMeasured when it was not flown to its end."""
    index = flown.phase(phase)
    if index < 0:
        raise NotMeasured(f'the manoeuvre has no phase "{phase}"')
    frames = flown.flight.frames_of(index)
    if frames.stop - frames.start == 0 or (flown.flight.ending != "completed" and flown.flight.phase <= index):
        where = flown.manoeuvre.phases[flown.flight.phase].name
        raise NotMeasured(f'{flown.flight.ending} in "{where}", before the end of "{phase}"')
    if last:
        frames = slice(max(frames.start, frames.stop - int(round(last / FRAME))), frames.stop)
    if (frames.stop - frames.start) * FRAME < least:
        raise NotMeasured(f'"{phase}" was too short')
    return frames


def mean(flown: Flown, channel: str, frames: slice) -> float:
    return float(flown.flight.channel(channel)[frames].mean())


def turned(flown: Flown, rate: str, frames: slice) -> float:
    return float(flown.flight.channel(rate)[frames].sum() * FRAME)


def drift_rate(flown: Flown, channel: str, frames: slice) -> float:
    angle = np.unwrap(flown.flight.channel(channel)[frames])
    return float((angle[-1] - angle[0]) / ((len(angle) - 1) * FRAME))


@dataclass(frozen=True)
class Taken:
    """A measure of one flight: `value` in the measure's unit, or None and the `reason`."""

    measure: Measure
    value: float | None
    reason: str = ""


def take_measures(flown: Flown) -> list[Taken]:
    """Every measure that the manoeuvre asks for."""
    taken = []
    for name in flown.manoeuvre.measures:
        asked = MEASURES[name]
        try:
            value = float(asked.take(flown))
            taken.append(Taken(asked, value) if math.isfinite(value) else Taken(asked, None, "not a finite number"))
        except NotMeasured as reason:
            taken.append(Taken(asked, None, f"not measured: {reason}"))
    return taken
