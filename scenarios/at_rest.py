"""What a plane tells without being flown: its balance and what level flight at cruise says, by name like the measures of flights.

The same figures as in `upline balance`, for whatever looks at many planes: maps, studies, rules.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cached_property

from scenarios.balance import TRIM_HEIGHT, TRIM_SPEED
from scenarios.measures import MEASURES, STYLES, Measure, NotMeasured
from scenarios.measures.registry import DEG, PRACTICE
from sim.build import Plane
from sim.linearisation import PitchStability, pitch_stability
from sim.pitch_margins import PitchMargins, pitch_margins
from sim.trim import NoTrim, Trim, level_trim

BALANCE = "balance"  # stands for a manoeuvre where nothing is flown


@dataclass(frozen=True)
class _Cruise:
    """`plane` in level flight: what the measures of a trim look at of a flight."""

    plane: Plane
    level: Trim

    @cached_property
    def stability(self) -> PitchStability:
        return pitch_stability(self.plane, self.level)

    @cached_property
    def margins(self) -> PitchMargins:
        return pitch_margins(self.plane, self.level)


def _cruise(plane: Plane) -> _Cruise:
    """`plane` in level flight, trimmed once for all measures.  Raises `NoTrim`."""
    if BALANCE not in plane.known:
        try:
            plane.known[BALANCE] = _Cruise(plane, level_trim(plane, TRIM_SPEED, TRIM_HEIGHT))
        except NoTrim as stop:
            plane.known[BALANCE] = stop
    if isinstance(plane.known[BALANCE], NoTrim):
        raise plane.known[BALANCE]
    return plane.known[BALANCE]


def _at_rest(
    name: str, unit: str, about: str, take: Callable[[Plane], float], *signs: str, source: str = PRACTICE
) -> Measure:
    positive, negative = signs or ("", "")
    return Measure(name, unit, about, take, (), positive, negative, source, dict.fromkeys(STYLES, ""))


def _at_cruise(name: str) -> Measure:
    """The measure of flights called `name`, which looks at the level trim alone, of the balance."""
    flown = MEASURES[name]
    return replace(flown, take=lambda plane: flown.take(_cruise(plane)))


def _time_to_double(plane: Plane) -> float:
    growth = MEASURES["pitch_growth"].take(_cruise(plane))
    if growth <= 0.0:
        raise NotMeasured("nothing grows in pitch")
    return math.log(2.0) / growth


STABILITY = "definition: Nelson, Flight Stability and Automatic Control, chapter 2 (from memory)"
MARGINS = "definition: Etkin and Reid, Dynamics of Flight, chapters 2 and 3 (from memory)"
STABLE = "stable", "unstable"

# by the names that `upline balance` gives in its document; `take` is of the plane
BALANCE_MEASURES: dict[str, Measure] = {
    m.name: m
    for m in (
        _at_rest("mass", "kg", "mass ready to fly", lambda p: p.mass.mass),
        _at_rest("cg", "mm", "centre of gravity behind the wing root leading edge", lambda p: 1000.0 * p.cg_station),
        _at_rest("cg_mac", "%", "centre of gravity in MAC", lambda p: 100.0 * p.mac_of_station(p.cg_station)),
        _at_rest("cg_height", "mm", "centre of gravity above the wing root chord",
                 lambda p: -1000.0 * float(p.mass.cg[2]), "above", "below"),
        _at_rest("cg_right", "mm", "centre of gravity beside the centre line",
                 lambda p: 1000.0 * float(p.mass.cg[1]), "right", "left"),
        _at_rest("neutral_point", "mm", "neutral point behind the wing root leading edge, stick fixed, power off",
                 lambda p: 1000.0 * _cruise(p).stability.neutral_point, source=STABILITY),
        _at_rest("static_margin", "%", "distance of CG and neutral point in MAC, stick fixed, power off",
                 lambda p: 100.0 * _cruise(p).stability.static_margin, *STABLE, source=STABILITY),
        _at_rest("static_margin_power", "%", "the same with power, at one speed",
                 lambda p: 100.0 * _cruise(p).margins.power, *STABLE, source=MARGINS),
        _at_rest("speed_margin", "%", "distance in MAC of the CG at which elevator trim would not change with speed, with power",
                 lambda p: 100.0 * _cruise(p).margins.speed, *STABLE, source=MARGINS),
        _at_rest("manoeuvre_margin", "%", "distance in MAC of the CG at which a steady pull would take no elevator, with power",
                 lambda p: 100.0 * _cruise(p).margins.manoeuvre, *STABLE, source=MARGINS),
        _at_rest("elevator_per_g", "deg", "elevator for one g more in a steady pull",
                 lambda p: -DEG * _cruise(p).margins.elevator_per_g, "up", "down", source=MARGINS),
        _at_rest("time_to_double", "s", "time in which what grows fastest in pitch grows to double, sticks fixed",
                 _time_to_double, source=MEASURES["pitch_growth"].source),
        *(_at_cruise(name) for name in (
            "pitch_growth", "short_period_frequency", "short_period_damping", "phugoid_period", "phugoid_damping",
            "dutch_roll_frequency", "dutch_roll_damping", "roll_time_constant", "spiral_growth",
        )),
        _at_rest("wing_loading", "kg/m2", "mass over wing area", lambda p: p.mass.mass / p.wing_area),
        _at_rest("moved_item", "mm", "where the moved item sits, behind the wing root leading edge",
                 lambda p: -1000.0 * {i.name: i for i in p.items}[p.setup.moved_item].at[0]),
        _at_rest("inertia_roll", "kg m2", "moment of inertia in roll", lambda p: float(p.mass.inertia[0, 0])),
        _at_rest("inertia_pitch", "kg m2", "moment of inertia in pitch", lambda p: float(p.mass.inertia[1, 1])),
        _at_rest("inertia_yaw", "kg m2", "moment of inertia in yaw", lambda p: float(p.mass.inertia[2, 2])),
    )
}  # fmt: skip
KNOWN = {**BALANCE_MEASURES, **MEASURES}  # a name that is in both means the same


@dataclass(frozen=True)
class Weighed:
    """A measure of the balance: its `value`, or None and the `reason`; whether level flight was `trimmed` if it asked for it."""

    value: float | None
    reason: str = ""
    trimmed: bool = True


def weigh(plane: Plane, names: Iterable[str] = BALANCE_MEASURES) -> dict[str, Weighed]:
    """The measures of `plane`'s balance called `names`."""
    taken = {}
    for name in names:
        try:
            value = float(BALANCE_MEASURES[name].take(plane))
            if not math.isfinite(value):
                raise NotMeasured("not a finite number")
            taken[name] = Weighed(value)
        except NotMeasured as reason:
            taken[name] = Weighed(None, f"not measured: {reason}")
        except NoTrim as stop:
            taken[name] = Weighed(None, f"not flown: {stop}", trimmed=False)
    return taken
