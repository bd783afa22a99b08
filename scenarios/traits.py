"""Six traits of a setup, each a short list of measures, judged for a way of flying against three reference setups.

A judgement is relative: 0 is the worst of the references on the same plane, 1 the best.  Which way is better says the
measure's own `better`; nothing here says how large a number ought to be.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures import MEASURES, STYLES, Measure, Taken, window
from scenarios.measures.registry import DEG, PRACTICE
from scenarios.outcomes import JUDGES
from sim.pilot import STEADY_RATE
from sim.transmitter import AILERON_STICK, ELEVATOR_STICK, STICKS

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

LINK_STEPS = 1024  # from the stick's centre to its stop, of a link of 11 bits (common practice, no source)
ALIKE = 0.05  # references nearer to each other than this share of the largest do not tell ways of flying apart
STRONG, WEAK = 2.0 / 3.0, 1.0 / 3.0


def belongs(manoeuvre: str) -> tuple[str, ...]:
    """Ways of flying that usually fly a manoeuvre: it judges these only, and what it could not measure is their fault."""
    return JUDGES[manoeuvre.removesuffix("-right").removesuffix("-left")].ways


# ---- numbers of the stick's centre, which no measure of the set gives ----------------------------------------------


def per_stick(flown: Flown, axis: int) -> float:
    """Rate in deg/s that a unit of stick would settle at, as steep as the stick is at its centre.

    From a small step out of the start of the flight (`sim.pilot.step_response`).
    """
    return float(flown.pilot[STEADY_RATE + axis]) * (1.0 - flown.setup.throws[STICKS[axis]].exponential) * DEG


def _step(axis: int, name: str) -> Measure:
    word = {AILERON_STICK: "roll", ELEVATOR_STICK: "pitch"}[axis]
    about = f"{word} rate that one step of the radio link adds at the stick's centre, {LINK_STEPS} steps to the stop"
    better = dict(zip(STYLES, ("less", "less", "less")))
    return Measure(name, "deg/s", about, lambda f: per_stick(f, axis) / LINK_STEPS, (), "", "", PRACTICE, better)


ROLL_STEP, PITCH_STEP = _step(AILERON_STICK, "roll_step"), _step(ELEVATOR_STICK, "pitch_step")


def full_stick_rate(flown: Flown) -> float:
    """Largest pitch rate in deg/s with the stick on its stop."""
    return float(np.abs(flown.flight.channel("pitch rate")[window(flown, "full stick")]).max()) * DEG


def _smaller(name: str) -> Measure:
    """A load, which the register does not judge: the spar is not seen here, so less is taken for better."""
    return replace(MEASURES[name], better=dict.fromkeys(STYLES, "zero"))


# ---- the traits ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Part:
    """One measure of a trait: flown in `manoeuvre`, called `label` for short."""

    manoeuvre: str
    measure: Measure
    label: str

    @property
    def key(self) -> tuple[str, str]:
        return self.manoeuvre, self.measure.name


def _part(manoeuvre: str, measure: str | Measure, label: str) -> Part:
    return Part(manoeuvre, MEASURES[measure] if isinstance(measure, str) else measure, label)


TRAITS: dict[str, tuple[Part, ...]] = {
    "lines and resolution": (
        _part("upline-45", "pitch_drift", "up-line let go"),
        _part("upline-45-inverted", "pitch_drift", "inverted up-line let go"),
        _part("knife-edge-right", "pitch_coupling", "knife edge, elevator let go"),
        _part("upline-45", PITCH_STEP, "pitch a link step"),
        _part("upline-45", ROLL_STEP, "roll a link step"),
    ),
    "rotation rates and stops": (
        _part("roll-high-rates-right", "steady_roll_rate", "roll at full stick"),
        _part("roll-high-rates-right", "time_to_90", "time to 90 deg of roll"),
        _part("roll-high-rates-right", "roll_to_stop", "roll after letting go"),
        _part("roll-high-rates-right", "roll_axis_wander", "wander of the roll axis"),
        _part("high-speed-pass", "time_to_peak_load", "full elevator to its load"),
    ),
    "slow high-alpha control": (
        _part("harrier", "harrier_alpha", "harrier alpha"),
        _part("harrier", "wing_rock", "wing rock"),
        _part("stall", "trim_change_with_speed", "trim, 25 to 18 m/s"),
        _part("hover", "elevator_left", "elevator left in the hover"),
        _part("hover", "aileron_to_stop_roll", "aileron against the torque"),
    ),
    "stall and recovery": (  # no wing drop: which tip goes first hangs on the pilot's ailerons
        _part("stall", "nose_drop", "nose drop"),
        _part("stall", "warning_alpha", "warning before the break"),
        _part("stall", "height_lost", "height lost"),
        _part("stall", "recovery_time", "time to recover"),
    ),
    "loads": (
        _part("high-speed-pass", _smaller("peak_load"), "load of full elevator"),
        _part("high-speed-pass", _smaller("peak_side_load"), "side load of full elevator"),
        _part("high-speed-pass", "speed_lost", "speed lost in that pull"),
    ),
    "stick work": (
        _part("upline-45", "stick_work", "stick travel on the up-line"),
        _part("knife-edge-right", "stick_work", "stick travel in knife edge"),
        _part("hover", "stick_work", "stick travel in the hover"),
        _part("hover", "on_the_stops", "on the stops in the hover"),
        _part("harrier", "on_the_stops", "on the stops in the harrier"),
    ),
}
# the trait that a way of flying is about (common practice)
DEFINING = {
    "precision": "lines and resolution",
    "extreme": "rotation rates and stops",
    "slow 3D": "slow high-alpha control",
}
FLOWN = tuple(dict.fromkeys(part.manoeuvre for parts in TRAITS.values() for part in parts))


Outcomes = dict[tuple[str, str], Taken]  # by manoeuvre and name of the measure


# ---- judging ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Mark:
    """One measure judged: `mark` 0..1 against the references, or None with why it does not count (`note`)."""

    part: Part
    outcome: Taken
    mark: float | None
    note: str = ""


@dataclass(frozen=True)
class Judgement:
    """A trait for a way of flying: mean of the marks that count (None when none does)."""

    trait: str
    marks: tuple[Mark, ...]

    @property
    def score(self) -> float | None:
        counted = [m.mark for m in self.marks if m.mark is not None]
        return sum(counted) / len(counted) if counted else None

    @property
    def word(self) -> str:
        score = self.score
        return "not judged" if score is None else "strong" if score >= STRONG else "weak" if score < WEAK else "fair"


def _merit(value: float, better: str) -> float:
    """`value` turned so that more is better."""
    return {"more": value, "less": -value, "zero": -abs(value)}[better]


def judge_part(part: Part, way: str, outcome: Taken, references: list[Taken], beyond: float = 0.0) -> Mark:
    """Where `outcome` lies among the references, 0 the worst and 1 the best of those that could be measured.

    If k of n references could not be measured the scale begins at k/n, and what could not be measured lies at 0.
    A mark may leave 0..1 by `beyond`.
    """
    better = part.measure.better[way]
    if not better:
        return Mark(part, outcome, None, f"neither more nor less is better for {way}")
    if way not in belongs(part.manoeuvre):
        return Mark(part, outcome, None, f"{part.manoeuvre} does not belong to {way}")
    taken = [_merit(r.value, better) for r in references if r.value is not None]
    if not taken:
        return Mark(part, outcome, None, "none of the references could be measured")
    if outcome.value is None:
        return Mark(part, outcome, 0.0, outcome.reason)
    worst, best, floor = min(taken), max(taken), 1.0 - len(taken) / len(references)
    own = _merit(outcome.value, better)
    if best - worst < ALIKE * max(abs(best), abs(worst)) or best == worst:
        if not floor:
            return Mark(part, outcome, None, f"the references agree within {100.0 * ALIKE:.0f} %")
        return Mark(part, outcome, floor if own < worst - ALIKE * abs(worst) else 1.0)
    place = floor + (1.0 - floor) * (own - worst) / (best - worst)
    return Mark(part, outcome, min(1.0 + beyond, max(-beyond, place)) + 0.0)  # never -0.0


def judge(way: str, outcomes: Outcomes, references: list[Outcomes], beyond: float = 0.0) -> dict[str, Judgement]:
    """Every trait of a setup whose measures came out as `outcomes`, for a way of flying."""
    return {
        trait: Judgement(
            trait,
            tuple(judge_part(p, way, outcomes[p.key], [r[p.key] for r in references], beyond) for p in parts),
        )
        for trait, parts in TRAITS.items()
    }
