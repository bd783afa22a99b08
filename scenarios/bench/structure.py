"""The structure bench: bending and torsion at the roots over whole flights, and what the joiner tubes make of them.

Loads are computed again from the record of a flight (`sim.span_loads`), so any flight can be looked at.  The hardest
instant of a surface is that of its least margin, or of its greatest bending where no joiner is described.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from scenarios.bench.pulls import Pull, crossing, pull_through, top_lift_speed
from scenarios.manoeuvres import CannotFly, Flown, fly_manoeuvre, flyable
from scenarios.schema import ManoeuvreFile
from sim import span_loads as S
from sim import structure as T
from sim.description import Joiner, Setup

# the figures that load a plane most, and those that a pilot worries about
HARD_SET = (
    "high-speed-pass", "snap-roll-right", "snap-roll-left", "snap-roll-negative-right", "snap-roll-negative-left", "wall",
    "loop-inside", "loop-outside", "vertical-down", "tumble-right", "tumble-left", "knife-edge-spin-right",
)  # fmt: skip
NOT_SEEN = (
    "glue and wood of wing and fuselage beyond the tubes", "hinges", "flutter", "fatigue and old damage",
    "crash and landing damage", "horn and servo mounts", "crushing at the root rib and buckling of thin tube walls",
)  # fmt: skip


@dataclass(frozen=True)
class Hardest:
    """The hardest instant of a surface in a flight: which `half`, when (`frame`, `time` s, `phase`), recorded `load_factor`.

    `loads` (6,) at its root rib as `sim.span_loads.section_loads` has them; with a joiner `stress` and `shear` (Pa) in it
    and its `margin`.
    """

    half: str
    frame: int
    time: float
    phase: str
    load_factor: float
    loads: np.ndarray
    stress: float | None = None
    shear: float | None = None
    margin: float | None = None

    @property
    def bending(self) -> float:
        """Bending tips up, N m."""
        return float(self.loads[S.BENDING])


@dataclass(frozen=True)
class Uneven:
    """The greatest uneven part of a pair's bending: half the difference right less left, N m; it rolls the fuselage."""

    bending: float
    time: float
    phase: str


@dataclass(frozen=True)
class Loads:
    """One flight: `peak` recorded load factor, the `hardest` instant, greatest `torsion` (N m, sign kept) and `uneven` part
    by surface.  `reason` says why there is nothing."""

    manoeuvre: str
    ending: str
    peak: float = math.nan
    hardest: dict[str, Hardest] = field(default_factory=dict)
    torsion: dict[str, float] = field(default_factory=dict)
    uneven: dict[str, Uneven] = field(default_factory=dict)
    reason: str = ""


@dataclass(frozen=True)
class Along:
    """Loads along the span at the hardest instant of all: `places` m from the middle, `loads` (places, 6), by half."""

    manoeuvre: str
    hardest: Hardest
    places: dict[str, np.ndarray]
    loads: dict[str, np.ndarray]


@dataclass(frozen=True)
class StructureBench:
    """`relief` mass outboard of the root rib by half (kg) and `counted` what it is made of; `flights`; `pulls` with full
    elevator by speed; `stall_speed` at one g (m/s); `limit_speed` from which a pull passes the stated load factor and
    `margin_speed` from which it takes the wing joiner's margin (None: not reached, or nothing stated)."""

    setup: Setup
    joiners: dict[str, Joiner]
    load_factor: float | None
    ribs: dict[str, float]
    tips: dict[str, float]
    relief: dict[str, float]
    counted: dict[str, tuple[str, ...]]
    flights: list[Loads]
    pulls: list[Pull]
    stall_speed: float
    limit_speed: float | None
    margin_speed: float | None
    along: Along | None

    @property
    def surfaces(self) -> list[str]:
        """Names of the surfaces, wing first."""
        return list(dict.fromkeys(surface_of(name) for name in self.ribs))

    def worst(self, surface: str = "wing") -> tuple[Loads, Hardest] | None:
        """The flight and instant that are hardest on a surface, pulls not counted."""
        known = [(f, f.hardest[surface]) for f in self.flights if surface in f.hardest]
        return max(known, key=lambda pair: hardness(pair[1]), default=None)

    def reference(self) -> Pull | None:
        """The pull whose load factor is nearest to the stated one, or the hardest: where stress per g is read off."""
        aim = self.load_factor
        if aim is None:
            return max(self.pulls, key=lambda p: p.load_factor, default=None)
        return min(self.pulls, key=lambda p: abs(p.load_factor - aim), default=None)

    def tip_rise(self, hardest: Hardest) -> float | None:
        """How far the tip of that half rises as its tubes bend, the half itself stiff, m; None without a joiner."""
        joiner = self.joiners.get(surface_of(hardest.half))
        if joiner is None:
            return None
        rib = self.ribs[hardest.half]
        return T.bend_angle(joiner, rib, hardest.bending) * (self.tips[hardest.half] - rib)

    def stress_per_g(self) -> float | None:
        """Stress in the wing joiner over load factor in an even pull, Pa."""
        pull = self.reference()
        return pull.hardest.stress / pull.load_factor if pull and pull.hardest.stress else None


def surface_of(half: str) -> str:
    """The surface that a half belongs to."""
    return half.removesuffix(" right").removesuffix(" left")


def hardness(hardest: Hardest) -> float:
    """What instants are put in order by."""
    return -hardest.margin if hardest.margin is not None else math.hypot(*hardest.loads[[S.BENDING, S.BENDING_FORWARD]])


def structure_bench(
    setup: Setup,
    manoeuvres: list[ManoeuvreFile],
    skill: str = "expert",
    progress: Callable[[int, int, str], None] = lambda done, total, what: None,
) -> StructureBench:
    """Fly every manoeuvre and a pull at several speeds, and look at the roots.  Raises `UserError`, `CannotFly`."""
    plane = flyable(setup)
    halves = S.halves(plane)
    structure = setup.airframe.structure
    flights, worst = [], None
    for done, manoeuvre in enumerate(manoeuvres):
        progress(done, len(manoeuvres), f"{manoeuvre.name}, {setup.name}")
        try:
            flown = fly_manoeuvre(setup, manoeuvre, plane, skill=skill)
        except CannotFly as stop:
            flights.append(Loads(manoeuvre.name, "not flown", reason=str(stop)))
            continue
        flights.append(loads_of_flight(flown, halves))
        hardest = flights[-1].hardest.get("wing")
        if hardest and (worst is None or hardness(hardest) > hardness(worst[1])):
            worst = (flown, hardest)
    progress(len(manoeuvres), len(manoeuvres), "pulls")
    pulls = pull_through(plane, lambda flown: loads_of_flight(flown, halves).hardest["wing"])
    limit = structure.load_factor if structure else None
    margins = [p.hardest.margin for p in pulls]
    found = crossing([p.speed for p in pulls], [p.load_factor for p in pulls], limit) if limit else None
    safe = None
    if margins and margins[0] is not None:
        safe = crossing([p.speed for p in pulls], [-m for m in margins], 0.0)
    return StructureBench(
        setup=setup,
        joiners={joiner.surface: joiner for joiner in (structure.joiners if structure else ())},
        load_factor=limit,
        ribs={h.name: h.rib for h in halves},
        tips={h.name: h.tip for h in halves},
        relief={h.name: h.relief for h in halves},
        counted={h.name: tuple(item.name for item in h.items) for h in halves},
        flights=flights,
        pulls=pulls,
        stall_speed=top_lift_speed(plane),
        limit_speed=found,
        margin_speed=safe,
        along=_along(*worst, halves) if worst else None,
    )


def loads_of_flight(flown: Flown, halves: list[S.Half] | None = None, frames: slice = slice(None)) -> Loads:
    """The hardest instants of a flight (or of some `frames` of it) by surface; frames that are not finite are left out."""
    halves = S.halves(flown.plane) if halves is None else halves
    rows = flown.flight.rows[frames]
    rows = rows[np.isfinite(rows).all(axis=1)]
    first = frames.start or 0
    if not len(rows):
        return Loads(flown.manoeuvre.name, flown.flight.ending, reason="no frame of it is finite")
    now = S.instants(flown.plane, rows)
    loads = {half.name: S.section_loads(flown.plane, half, now) for half in halves}
    load_factor = flown.flight.channel("load z")[frames][: len(rows)]
    result = Loads(flown.manoeuvre.name, flown.flight.ending, float(load_factor[np.argmax(np.abs(load_factor))]))
    for half in halves:
        own = loads[half.name]
        hardest = _hardest(flown, half, own, load_factor, first)
        if half.surface not in result.hardest or hardness(hardest) > hardness(result.hardest[half.surface]):
            result.hardest[half.surface] = hardest
        torsion = float(own[np.argmax(np.abs(own[:, S.TORSION])), S.TORSION])
        if abs(torsion) > abs(result.torsion.get(half.surface, 0.0)):
            result.torsion[half.surface] = torsion
    for surface in {half.surface for half in halves if half.name.endswith(" right")}:
        apart = 0.5 * (loads[f"{surface} right"] - loads[f"{surface} left"])[:, S.BENDING]
        k = int(np.argmax(np.abs(apart)))
        result.uneven[surface] = Uneven(float(apart[k]), *_when(flown, first + k))
    return result


def _hardest(flown: Flown, half: S.Half, loads: np.ndarray, load_factor: np.ndarray, first: int) -> Hardest:
    joiner = S.joiner_of(flown.plane, half.surface)
    bending = np.hypot(loads[:, S.BENDING], loads[:, S.BENDING_FORWARD])
    if joiner is None:
        k = int(np.argmax(bending))
        return Hardest(half.name, first + k, *_when(flown, first + k), float(load_factor[k]), loads[k])
    stress = T.bending_stress(joiner, bending)
    shear = T.shear_stress(joiner, np.hypot(loads[:, S.SHEAR], loads[:, S.SHEAR_FORWARD]))
    margin = T.margin(joiner, stress, shear)
    k = int(np.argmin(margin))
    found = float(stress[k]), float(shear[k]), float(margin[k])
    return Hardest(half.name, first + k, *_when(flown, first + k), float(load_factor[k]), loads[k], *found)


def _when(flown: Flown, frame: int) -> tuple[float, str]:
    """Time of a frame and the name of its phase."""
    starts = flown.flight.phase_start
    phase = max(i for i, start in enumerate(starts) if 0 <= start <= max(frame, int(starts[0])))
    return float(flown.flight.channel("time")[frame]), flown.manoeuvre.phases[phase].name


def _along(flown: Flown, hardest: Hardest, halves: list[S.Half]) -> Along:
    """Loads along both wing halves at one recorded instant."""
    now = S.instants(flown.plane, flown.flight.rows[hardest.frame : hardest.frame + 1])
    places, loads = {}, {}
    for half in (h for h in halves if h.surface == "wing"):
        cuts = np.linspace(half.rib, half.tip, 41)
        places[half.name] = cuts
        loads[half.name] = np.array([S.section_loads(flown.plane, half, now, place)[0] for place in cuts])
    return Along(flown.manoeuvre.name, hardest, places, loads)
