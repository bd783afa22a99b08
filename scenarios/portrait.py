"""The portrait of a setup: its traits for three ways of flying, and what would move it toward one of them.

A setup is flown through a short set (`traits.FLOWN`), and so are three references on the same plane: its built-in
setups where it has one for every way of flying, else the built-in styles' CG, throws and exponential on this plane.
Then each change in a small list is flown alone, through the same set.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, replace

from models.assemble import propeller_mass
from models.errors import UserError
from models.loader import load_setup
from scenarios.manoeuvres import CannotFly, Flown, fly_manoeuvre, flyable, load_manoeuvre
from scenarios.measures import MEASURES, STYLES, Measure, NotMeasured, Taken
from scenarios.outcomes import outcome
from scenarios.schema import ManoeuvreFile
from scenarios.traits import (
    DEFINING,
    FLOWN,
    TRAITS,
    Judgement,
    Mark,
    Outcomes,
    full_stick_rate,
    judge,
    per_stick,
)
from sim import layout as L
from sim.build import Plane, build
from sim.description import Setup
from sim.linearisation import pitch_stability
from sim.mass_properties import OutOfReach
from sim.transmitter import AILERON_STICK, ELEVATOR_STICK
from sim.trim import Trim, static_thrust_ratio

STYLE_SETUPS = {"precision": "precision", "extreme": "extreme", "slow 3D": "slow-3d"}  # built in, by way of flying
OF_THE_STICKS = ("stick_work", "on_the_stops")
LEVEL_OUT = "level out"  # how a flight of the set ends; none of the measures used looks at it
BEYOND = 0.5  # how far past the references a change still counts
LEAST_GAIN = 0.01  # of a trait's score; less is no move
CG_STEP, EXPONENTIAL_STEP, INCH = 0.02, 0.2, 0.0254
THROW_STEPS = (0.8, 1.25)
MOST_THROW = math.radians(75.0)  # as setup files allow
PROPELLERS = ((1, 0), (-1, 0), (0, 1), (0, -1))  # in of diameter and pitch

Progress = Callable[[int, int], None]
Move = tuple[Judgement, Judgement, Mark, Mark]


@dataclass(frozen=True)
class Facts:
    """What explains the traits: fractions of MAC, static thrust over weight, deg/s (None where not measured)."""

    cg_mac: float
    static_margin: float
    thrust_over_weight: float
    roll_per_stick: float | None
    pitch_per_stick: float | None
    full_stick_pitch_rate: float | None
    pass_speed: float | None


@dataclass(frozen=True)
class Tried:
    """A change of one thing, flown: its `gain` in the trait that defines the way of flying, and its `price`, the trait
    that loses most in the setup's own way (None when none does).  Either is (the judgement before, after; the measure
    that moves most before, after).  `chance`: the same thing moved the other way gains too, so that the flight's chances
    decide."""

    knob: str
    change: str
    gain: float
    up: Move | None
    price: Move | None
    chance: bool = False


@dataclass(frozen=True)
class Portrait:
    """`ways` by way of flying, then by trait; `references` by way of flying; `scaled` when they are styles put on this
    plane; `tried` best first; `not_tried` changes with the reason."""

    setup: Setup
    facts: Facts
    outcomes: Outcomes
    references: dict[str, Setup]
    reference_outcomes: dict[str, Outcomes]
    scaled: bool
    ways: dict[str, dict[str, Judgement]]
    toward: str
    tried: tuple[Tried, ...]
    not_tried: tuple[tuple[str, str], ...]


# ---- flying ----------------------------------------------------------------------------------------------------------


def manoeuvres() -> list[ManoeuvreFile]:
    """The set that is flown, without the level flight that ends a manoeuvre."""
    loaded = [load_manoeuvre(name)[0] for name in FLOWN]
    return [m.model_copy(update={"phases": m.phases[:-1]}) if m.phases[-1].name == LEVEL_OUT else m for m in loaded]


def taken(measure: Measure, flown: Flown) -> Taken:
    """A measure of a flight; of one that was not the manoeuvre, stick work tells nothing."""
    try:
        seen = outcome(flown) if measure.name in OF_THE_STICKS else None
        if seen is not None and not seen.was:
            raise NotMeasured(seen.words)
        return Taken(measure, measure.take(flown))
    except NotMeasured as reason:
        return Taken(measure, None, str(reason))


def fly_set(setup: Setup, flights: list[ManoeuvreFile], like: Plane | None = None) -> tuple[Plane, Outcomes, Facts]:
    """`setup` through `flights`.

    `like` is a plane that differs in throws and exponential alone: its steady states are used, and its pilots where the
    throws are the same.  Raises `UserError` when it cannot be built, `CannotFly` when it flies none of them.
    """
    plane = flyable(setup)
    if like is not None:
        plane.known.update(_shared_states(plane, like))
    outcomes: Outcomes = {}
    flown: dict[str, Flown] = {}
    stop: CannotFly | None = None
    for manoeuvre in flights:
        wanted = [p for parts in TRAITS.values() for p in parts if p.manoeuvre == manoeuvre.name]
        try:
            flown[manoeuvre.name] = flight = fly_manoeuvre(setup, manoeuvre, plane)
            outcomes.update({p.key: taken(p.measure, flight) for p in wanted})
        except CannotFly as reason:
            stop = reason
            outcomes.update({p.key: Taken(p.measure, None, f"not flown: {reason}") for p in wanted})
    if not flown:
        raise stop or CannotFly(setup.name)
    return plane, outcomes, _facts(plane, flown)


def _shared_states(plane: Plane, like: Plane) -> dict:
    """Steady states of `like` that are those of `plane` too: what holds them lies within its throws.

    Pilots are found with the exponential taken out (`sim.pilot.step_response`).
    """
    if all(replace(t, exponential=like.setup.throws[name].exponential) == like.setup.throws[name]
           for name, t in plane.setup.throws.items()):  # fmt: skip
        return dict(like.known)
    same_aileron = plane.setup.throws["aileron"] == like.setup.throws["aileron"]
    limits = [(at, plane.setup.throws[name]) for name, at in
              (("aileron", L.AILERON_LEFT), ("elevator", L.ELEVATOR), ("rudder", L.RUDDER))]  # fmt: skip

    def fits(state: Trim) -> bool:
        within = all(abs(state.command[at]) <= max(throw.positive, throw.negative) for at, throw in limits)
        return within and (same_aileron or not state.rolls)

    return {asked: state for asked, state in like.known.items() if isinstance(state, Trim) and fits(state)}


def _facts(plane: Plane, flown: dict[str, Flown]) -> Facts:
    any_flight = next(iter(flown.values()))
    stability = pitch_stability(plane, any_flight.level)

    def read(manoeuvre: str, take: Callable[[Flown], float]) -> float | None:
        try:
            return take(flown[manoeuvre]) if manoeuvre in flown else None
        except NotMeasured:
            return None

    return Facts(
        cg_mac=float(plane.mac_of_station(plane.cg_station)),
        static_margin=stability.static_margin,
        thrust_over_weight=static_thrust_ratio(plane),
        roll_per_stick=read("upline-45", lambda f: per_stick(f, AILERON_STICK)),
        pitch_per_stick=read("upline-45", lambda f: per_stick(f, ELEVATOR_STICK)),
        full_stick_pitch_rate=read("high-speed-pass", full_stick_rate),
        pass_speed=read("high-speed-pass", MEASURES["pass_speed"].take),
    )


# ---- references ------------------------------------------------------------------------------------------------------


def references(setup: Setup) -> tuple[dict[str, Setup], bool]:
    """The three reference setups by way of flying, and whether they are styles put on this plane."""
    styles = {way: load_setup(name) for way, name in STYLE_SETUPS.items()}
    if all(style.airframe == setup.airframe for style in styles.values()):
        return styles, False
    return {way: _style_on(setup, style) for way, style in styles.items()}, True


def _style_on(setup: Setup, style: Setup) -> Setup:
    """`setup` with the CG (as far as the tray reaches), throws, exponential and low rates of `style`."""
    name = f"{style.way_of_flying} style"
    put = replace(setup, name=name, way_of_flying=style.way_of_flying, cg=style.cg, throws=style.throws,
                  low_rates=style.low_rates)  # fmt: skip
    try:
        build(put)
    except OutOfReach as out:
        ahead, behind = sorted(-x for x in out.reach)
        at_tray_end = ahead if out.needed > max(out.item.slide) else behind
        put = replace(put, cg=(at_tray_end, "m"))
    except ValueError:
        pass  # of the plane, not of the CG: flying it says what
    return put


# ---- changes ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Change:
    """One thing (`knob`) changed: `words` for it, and the setup with it; `same_plane` when only the transmitter differs."""

    knob: str
    words: str
    setup: Setup
    same_plane: bool = False


def changes(setup: Setup, cg_mac: float) -> list[Change]:
    """The changes that are tried, one thing at a time, each inside what a setup file allows."""
    out = []
    for step, word in ((-CG_STEP, "forward"), (CG_STEP, "aft")):
        words = f"CG {100 * CG_STEP:.0f} % of MAC {word}, to {100 * (cg_mac + step):.1f} %"
        out.append(Change("CG", words, replace(setup, cg=(cg_mac + step, "mac"))))
    for name, throw in setup.throws.items():
        for factor in THROW_STEPS:
            moved = replace(throw, positive=min(MOST_THROW, factor * throw.positive),
                            negative=min(MOST_THROW, factor * throw.negative))  # fmt: skip
            before, after = (_both_ways(t.positive, t.negative) for t in (throw, moved))
            knob = f"{name} throw"
            words = f"{knob} {before} to {after} deg"
            out.append(Change(knob, words, replace(setup, throws={**setup.throws, name: moved}), True))
        for step in (-EXPONENTIAL_STEP, EXPONENTIAL_STEP):
            moved = replace(throw, exponential=min(1.0, max(0.0, throw.exponential + step)))
            knob = f"{name} exponential"
            words = f"{knob} {100 * throw.exponential:.0f} to {100 * moved.exponential:.0f} %"
            out.append(Change(knob, words, replace(setup, throws={**setup.throws, name: moved}), True))
    for wider, coarser in PROPELLERS:
        p = setup.propeller
        diameter, pitch = p.diameter + wider * INCH, p.pitch + coarser * INCH
        if 5 * INCH <= diameter <= 40 * INCH and INCH <= pitch <= 40 * INCH:
            other = replace(p, diameter=diameter, pitch=pitch, mass=_mass(p, diameter))
            knob = "propeller diameter" if wider else "propeller pitch"
            words = f"propeller {p.diameter / INCH:g}x{p.pitch / INCH:g} to {diameter / INCH:g}x{pitch / INCH:g} in"
            out.append(Change(knob, words, replace(setup, propeller=other)))
    return [change for change in out if change.setup != setup]


def _both_ways(positive: float, negative: float) -> str:
    texts = [f"{math.degrees(angle):.3g}" for angle in (positive, negative)]
    return texts[0] if texts[0] == texts[1] else "/".join(texts)


def _mass(propeller, diameter: float) -> float:
    """Mass of a propeller of the same blades and another diameter."""
    scale = propeller_mass(1.0, diameter, propeller.blades) / propeller_mass(1.0, propeller.diameter, propeller.blades)
    return propeller.mass * scale


def _moved(before: Judgement, after: Judgement, sign: float) -> tuple[float, Move | None]:
    """How far a trait moves in the direction of `sign`, and its measure that moves most."""
    if before.score is None or after.score is None:
        return 0.0, None
    pairs = [(b, a) for b, a in zip(before.marks, after.marks) if None not in (a.mark, b.mark)]
    b, a = max(pairs, key=lambda pair: sign * (pair[1].mark - pair[0].mark))
    return sign * (after.score - before.score), (before, after, b, a)


def _price(before: dict[str, Judgement], after: dict[str, Judgement]) -> Move | None:
    """The trait that loses most, with the measure that does; None when none loses."""
    most, move = max((_moved(before[trait], after[trait], -1.0) for trait in TRAITS), key=lambda moved: moved[0])
    return move if most >= LEAST_GAIN else None


# ---- the whole -------------------------------------------------------------------------------------------------------


def portrait(setup: Setup, toward: str = "", progress: Progress = lambda done, total: None) -> Portrait:
    """The portrait of `setup`, with changes toward a way of flying (its own unless said).

    Raises `UserError` when a plane cannot be built, `CannotFly` when it cannot fly at all.
    """
    toward = toward or setup.way_of_flying
    flights = manoeuvres()
    chosen, scaled = references(setup)
    plane = flyable(setup)
    wanted = changes(setup, plane.mac_of_station(plane.cg_station))
    total = 1 + len(chosen) + len(wanted)
    with ThreadPoolExecutor(max_workers=min(4, os.cpu_count() or 1)) as pool:
        try:
            first = [setup, *(r for r in chosen.values() if not _same(r, setup))]
            done = total - len(wanted) - len(first)
            flown = _in_order(pool, [lambda s=s: fly_set(s, flights) for s in first], progress, done, total)
            like, outcomes, facts = flown[0]
            others = iter(flown[1:])
            known = {way: outcomes if _same(r, setup) else next(others)[1] for way, r in chosen.items()}
            jobs = [lambda c=c: _try(c, flights, like) for c in wanted]
            results = _in_order(pool, jobs, progress, total - len(wanted), total)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    judged_by = [known[way] for way in STYLES]
    ways = {way: judge(way, outcomes, judged_by) for way in STYLES}
    flown_changes = [(c, r) for c, r in zip(wanted, results) if not isinstance(r, str)]
    tried = _weighed(flown_changes, outcomes, judged_by, toward, setup.way_of_flying)
    not_tried = tuple((c.words, r) for c, r in zip(wanted, results) if isinstance(r, str))
    return Portrait(setup, facts, outcomes, chosen, known, scaled, ways, toward, tried, not_tried)


def _weighed(
    flown: list[tuple[Change, Outcomes]], base: Outcomes, judged_by: list[Outcomes], toward: str, own: str
) -> tuple[Tried, ...]:
    """What each change gains toward a way of flying and costs in the setup's own, most gain first."""
    trait = DEFINING[toward]
    before, before_own = (judge(way, base, judged_by, BEYOND) for way in (toward, own))
    tried = []
    for change, outcomes in flown:
        gain, up = _moved(before[trait], judge(toward, outcomes, judged_by, BEYOND)[trait], 1.0)
        price = _price(before_own, judge(own, outcomes, judged_by, BEYOND))
        tried.append(Tried(change.knob, change.words, gain, up, price))
    gaining = [t.knob for t in tried if t.gain >= LEAST_GAIN]
    tried = [replace(t, chance=t.gain >= LEAST_GAIN and gaining.count(t.knob) > 1) for t in tried]
    return tuple(sorted(tried, key=lambda t: -round(t.gain, 6)))  # as listed where equal


def _same(one: Setup, other: Setup) -> bool:
    """Whether two setups fly alike: they differ in nothing but words."""
    return replace(one, name="", about="", way_of_flying="") == replace(other, name="", about="", way_of_flying="")


def _try(change: Change, flights: list[ManoeuvreFile], like: Plane) -> Outcomes | str:
    """The outcomes of a change, or why it could not be flown."""
    try:
        return fly_set(change.setup, flights, like if change.same_plane else None)[1]
    except (UserError, CannotFly) as stop:
        return str(stop)


def _in_order(pool: ThreadPoolExecutor, jobs: list, progress: Progress, done: int, total: int) -> list:
    """Results of `jobs` in their order, whichever ends first."""
    futures = [pool.submit(job) for job in jobs]
    for count, _ in enumerate(as_completed(futures), 1):
        progress(done + count, total)
    return [future.result() for future in futures]
