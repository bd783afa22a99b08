"""Weights that bring the CG where it is wanted: where the moved item goes, and ballast where its tray ends."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from models.errors import OptionError, Refused, nearest
from models.fields import Quantity
from models.units import written
from sim.build import mean_aerodynamic_chord
from sim.description import Airframe, Item, Setup, Vector
from sim.mass_properties import mass_properties

GRAM = 0.001
LONGEST_LINE = 76  # characters of a line of a setup file
LEAST_ARM = 0.02  # m: at a place nearer to the wanted CG a millimetre too little makes all the difference


@dataclass(frozen=True)
class Place:
    """Somewhere to fix a weight: body axes, from the wing root leading edge."""

    name: str
    at: Vector

    @property
    def station(self) -> float:
        """m aft of the wing root leading edge."""
        return -self.at[0]


@dataclass(frozen=True)
class Ballast:
    """`mass` kg at a place, in whole grams, rounded up."""

    place: Place
    mass: float

    @property
    def item(self) -> Item:
        """The ballast as a setup carries it."""
        return Item(f"{self.place.name.removeprefix('the ')[:52]} ballast", self.mass, self.place.at)

    @property
    def line(self) -> str:
        """The ballast as a line of a setup file, its name left out where that would not fit a page."""
        x, y, z = (
            written(v, "length", "mm", 0) for v in (self.place.station, self.place.at[1], 0.0 - self.place.at[2])
        )
        line = f"- {{mass: {round(self.mass / GRAM)} g, at: [{x}, {y}, {z}]"
        name = f", name: {self.item.name}"
        return line + (name if len(line + name) < LONGEST_LINE else "") + "}"


@dataclass(frozen=True)
class Wanted:
    """What a wanted CG asks of the moved item.  Stations in m aft of the wing root leading edge.

    `needed`: where the item would have to stand; `tray`, `reach`: where it may, and the CG of that.  Out of reach,
    `end` is the CG with the item at the end of its tray that is nearest, `ballast` what does the rest, smallest first.
    """

    station: float
    item: Item
    needed: float
    tray: tuple[float, float]
    reach: tuple[float, float]
    end: float
    ballast: tuple[Ballast, ...]

    @property
    def within(self) -> bool:
        """Whether the tray reaches."""
        return self.reach[0] <= self.station <= self.reach[1]


def station_of(setup: Setup) -> float:
    """The CG that `setup` asks for, m aft of the wing root leading edge."""
    value, kind = setup.cg
    mac, leading, *_ = mean_aerodynamic_chord(next(s for s in setup.airframe.surfaces if s.name == "wing"))
    return value if kind == "m" else leading + value * mac


def wanted(setup: Setup, place: Place | None = None) -> Wanted:
    """Where the moved item goes for `setup`'s CG, and the ballast that does it where its tray ends.

    `place` is the one that is meant; else ballast goes to the ends of the aeroplane.
    """
    items = (*setup.airframe.items, *setup.ballast)
    moved = next(i for i in items if i.name == setup.moved_item)
    mass = sum(i.mass for i in items)
    others = -sum(i.mass * i.at[0] for i in items if i is not moved)
    tray = tuple(sorted(-x for x in moved.slide))
    reach = tuple((others + moved.mass * x) / mass for x in tray)
    station = station_of(setup)
    end = min(max(station, reach[0]), reach[1])
    found = []
    for where in places(setup.airframe) if place is None else (place,):
        arm, short = where.station - station, station - end
        if arm * short > 0.0 and abs(arm) >= least_arm(short):
            exact = ballast_mass(mass, end, station, where.station)
            found.append(Ballast(where, math.ceil(exact / GRAM - 1e-6) * GRAM))
    return Wanted(
        station=station,
        item=moved,
        needed=(station * mass - others) / moved.mass,
        tray=tray,
        reach=reach,
        end=end,
        ballast=tuple(sorted(found, key=lambda b: b.mass)),
    )


def least_arm(short: float) -> float:
    """How far (m) beyond the wanted CG a place has to lie when `short` m are wanting: else ballast outweighs the plane."""
    return max(LEAST_ARM, abs(short))


def ballast_mass(mass: float, cg: float, station: float, place: float) -> float:
    """Mass at `place` that brings a plane of `mass` from a CG at `cg` to one at `station` (all along one axis).

    Moments about the wanted CG balance: mass (station - cg) = ballast (place - station).
    """
    return mass * (station - cg) / (place - station)


def with_ballast(setup: Setup, *ballast: Ballast) -> Setup:
    """`setup` that carries `ballast` too, its names told apart from those of other items."""
    taken = {i.name for i in (*setup.airframe.items, *setup.ballast)}
    items = []
    for one in ballast:
        name, n = one.item.name, 1
        while name in taken:
            n += 1
            name = f"{one.item.name[:56]} {n}"
        taken.add(name)
        items.append(replace(one.item, name=name))
    return replace(setup, ballast=(*setup.ballast, *items))


def free_tray(setup: Setup) -> Setup:
    """`setup` with a tray without ends, so that a CG beyond it can be looked at."""
    items = tuple(replace(i, slide=(-50.0, 50.0)) if i.name == setup.moved_item else i for i in setup.airframe.items)
    return replace(setup, airframe=replace(setup.airframe, items=items))


def places(airframe: Airframe) -> tuple[Place, ...]:
    """The ends of the aeroplane where weights are fixed: spinner, cowl ring, tail post, and the wheel at the tail."""
    nose, tail = airframe.fuselage.stations[0], airframe.fuselage.stations[-1]
    found = [
        Place("the spinner", airframe.thrust_line.at),
        Place("the cowl ring", (nose.x, 0.0, nose.z)),
        Place("the tail post", (tail.x, 0.0, tail.z)),
    ]
    if airframe.wheels is not None and airframe.wheels.third_is == "tail":
        found.append(Place("the tail wheel", airframe.wheels.third))
    return tuple(found)


def place_named(text: str, airframe: Airframe) -> Place:
    """The place that `--ballast-at` says: a station such as "1250 mm", an end of the plane, or one of its items.

    Raises `OptionError`.
    """
    names = {p.name.removeprefix("the "): p for p in places(airframe)}
    names |= {i.name: Place(f"the {i.name}", i.at) for i in airframe.items if i.name not in names}
    asked = text.strip().removeprefix("the ")
    if asked in names:
        return names[asked]
    ends = ", ".join(names if len(names) <= 8 else list(names)[:4] + ["an item of the plane"])
    allowed = f'a distance behind the wing root leading edge, as in "1250 mm", or {ends}'
    try:
        x = Quantity("length", least="-5 m", most="5 m").read(text)
    except Refused as refused:
        advice = " or ".join(nearest(asked, names)) or refused.advice
        raise OptionError("--ballast-at", Refused(refused.found, allowed, advice)) from None
    return Place(written(x, "length", "mm", 0), (0.0 - x, 0.0, _middle(airframe, -x)))


def _middle(airframe: Airframe, x: float) -> float:
    """Height (body z) of the fuselage's middle at body station `x`."""
    stations = airframe.fuselage.stations
    for ahead, behind in zip(stations, stations[1:]):
        if behind.x <= x <= ahead.x:
            return ahead.z + (behind.z - ahead.z) * (ahead.x - x) / (ahead.x - behind.x)
    return stations[0].z if x > stations[0].x else stations[-1].z


def out_of_reach(setup: Setup) -> Refused:
    """Why `setup`'s CG cannot be had, and the smallest ballast that does it."""
    asked = wanted(setup)
    item = asked.item.name
    low, high = (f"{1000.0 * x:.0f}" for x in asked.reach)
    tray = [f"{1000.0 * x:.0f}" for x in asked.tray]
    found = f"a CG that needs the {item} at {1000.0 * asked.needed:.0f} mm"
    allowed = (
        f"{item} from {tray[0]} to {tray[1]} mm (its tray), which puts the CG from {low} to {high} mm behind the wing "
        "root leading edge"
    )
    advice = "a CG within that range, or another moved item"
    if asked.ballast:
        least = asked.ballast[0]
        advice = (
            f'a CG within that range, another moved item, or "ballast: [{least.line.removeprefix("- ")}]" in the setup '
            f"({written(least.mass, 'mass', 'g', 0)} at {least.place.name}; more with: upline balance)"
        )
    return Refused(found, allowed, advice)


# ---- side to side -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class TipWeight:
    """The weight at the tip of the light wing that brings the CG onto the centre line.

    `side` "right" or "left" (that tip), `mass` kg exact, `at` the middle of the tip's chord (body axes), `roll` the
    moment of inertia (kg m2) in roll that it adds about the CG.
    """

    side: str
    mass: float
    at: Vector
    roll: float

    @property
    def ballast(self) -> Ballast:
        """The weight in whole grams."""
        return Ballast(Place(f"the {self.side} wing tip", self.at), round(self.mass / GRAM) * GRAM)


def tip_weight(airframe: Airframe, items: tuple[Item, ...]) -> TipWeight:
    """The tip weight that balances `items` from side to side."""
    mass = mass_properties(items)
    tip = tip_weight_for(airframe, mass.mass, float(mass.cg[1]))
    after = mass_properties((*items, Item("tip weight", tip.mass, tip.at)))
    return replace(tip, roll=float(after.inertia[0, 0] - mass.inertia[0, 0]))


def tip_weight_for(airframe: Airframe, mass: float, right: float) -> TipWeight:
    """The tip weight for a plane of `mass` kg whose CG lies `right` m to the right; `roll` about that CG's line."""
    side, sign = ("left", -1.0) if right > 0.0 else ("right", 1.0)
    at = wing_tip(airframe, sign)
    weight = mass * abs(right) / abs(at[1])
    return TipWeight(side, weight, at, weight * at[1] * at[1])


def wing_tip(airframe: Airframe, sign: float) -> Vector:
    """The middle of the tip chord of the wing, to the right for a positive `sign`."""
    wing = next(s for s in airframe.surfaces if s.name == "wing")
    x, y, z = wing.tip
    return x - 0.5 * wing.tip_chord, sign * y, z
