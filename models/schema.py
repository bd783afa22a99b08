"""The schema of airframe files: keys, types, physical bounds, and checks between fields.

Values are in SI once read, but axes are still the files': stations x aft of the wing root
leading edge, y to the right, z up.  `models.assemble` turns them into `sim.description`.
Setups and blade families have their own pages, `setup_schema` and `blade_schema`.
The bounds keep nonsense and typing errors out; they are far wider than any sound plane.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Annotated, ClassVar

from pydantic import Field

from models.errors import Refused, quoted
from models.fields import (
    Count,
    Document,
    Group,
    Location,
    Name,
    OneOf,
    Quantity,
    Text,
    YesNo,
)
from models.power_schema import PistonPart, PowerPart
from models.structure_schema import StructurePart, cross_check
from models.units import written

MOST_STRIPS = 40
HEAVIEST = 60.0  # kg

Station = Annotated[float, Quantity("length", least="-5 m", most="5 m")]
Point = Annotated[
    tuple[Station, Station, Station],
    Field(description="[x, y, z]: x aft of the wing root leading edge, y to the right, z up"),
]
Extent = Annotated[float, Quantity("length", least="0 mm", most="6 m")]
Extents = Annotated[tuple[Extent, Extent, Extent], Field(description="[x, y, z] size of the box that stands for it")]
Chord = Annotated[float, Quantity("length", least="5 mm", most="3 m")]
Share = Annotated[float, Quantity("ratio", least="0 %", most="100 %")]
Tilt = Annotated[float, Quantity("angle", least="-15 deg", most="15 deg")]
About = Annotated[str, Text(200, least=0, description="what it is, in one line")]
PartName = Annotated[str, Text(60, description="a name, once in its list")]

CONTROLS = {"wing": "aileron", "stabiliser": "elevator", "fin": "rudder"}


class Edge(Group):
    """A root or a tip: its leading-edge point and its chord."""

    at: Point
    chord: Chord


class FlapPart(Group):
    """A control surface: its chord as a share of the whole chord, where it starts and ends along the span."""

    name: Annotated[str, OneOf("aileron", "elevator", "rudder")]
    chord_at_root: Annotated[float, Quantity("ratio", least="2 %", most="95 %")]
    chord_at_tip: Annotated[float, Quantity("ratio", least="2 %", most="95 %")]
    from_: Share = 0.0
    to: Share = 1.0


class SurfacePart(Group):
    """A lifting surface with straight edges; a symmetric one is given by its right half."""

    symmetric: Annotated[bool, YesNo("yes: this is the right half of a pair")] = False
    root: Edge
    tip: Edge
    incidence: Tilt | None = None
    twist: Tilt | None = None
    thickness: Annotated[float, Quantity("ratio", least="1 %", most="30 %")] | None = None
    tip_rounding: Annotated[
        float,
        Quantity("length", least="0 mm", most="1 m", description="how far in from the tip its outline is rounded"),
    ] = 0.0
    strips: Annotated[int, Count(2, 12, "strips along each half")] = 5
    flap: FlapPart | None = None


class FuselageCut(Group):
    """One cross-section of the fuselage; z is the height of its middle."""

    x: Station
    width: Annotated[float, Quantity("length", least="0 mm", most="1.5 m")]
    height: Annotated[float, Quantity("length", least="0 mm", most="1.5 m")]
    z: Station = 0.0


class FuselagePart(Group):
    """Cross-sections from the nose to the tail."""

    stations: Annotated[tuple[FuselageCut, ...], Field(min_length=3, max_length=60)]
    cross_flow_drag: Annotated[float, Quantity("number", least="0.1", most="3")] | None = Field(
        None, alias="cross-flow drag", description="drag coefficient of a slice across the flow"
    )


class DragPart(Group):
    """A bluff part: areas seen from the front, the side and above, and its drag coefficient."""

    name: PartName
    at: Point
    frontal_area: Annotated[float, Quantity("area", least="0 cm2", most="2 m2")]
    side_area: Annotated[float, Quantity("area", least="0 cm2", most="2 m2")] | None = None
    top_area: Annotated[float, Quantity("area", least="0 cm2", most="2 m2")] | None = None
    drag_coefficient: Annotated[float, Quantity("number", least="0", most="3")] | None = None


class Shaft(Group):
    """The propeller shaft: disk centre, down thrust and right thrust."""

    at: Point
    down: Tilt | None = None
    right: Tilt | None = None


class Tray(Group):
    """Where the middle of an item may stand along x."""

    from_: Station
    to: Station


Diameter = Annotated[float, Quantity("length", least="10 mm", most="500 mm")]


class WheelsPart(Group):
    """Middles of the axles: the right main wheel, and the wheel at the tail or at the nose."""

    main: Point
    tail: Point | None = None
    nose: Point | None = None
    main_diameter: Diameter | None = None
    tail_diameter: Diameter | None = None
    nose_diameter: Diameter | None = None


class ItemPart(Group):
    """A thing on the scale: mass, place of its middle, size, and its tray if it can be moved."""

    name: PartName
    mass: Annotated[float, Quantity("mass", over="0 g", under="60 kg")]
    at: Point
    size: Extents | None = None
    slides: Tray | None = None


class AirframeFile(Document):
    """A plane without its setup."""

    KIND: ClassVar[str] = "airframe"
    ESTIMATES: ClassVar[bool] = True

    kind: Annotated[str, OneOf("airframe")]
    name: Name
    about: About = ""
    surfaces: Annotated[dict[Name, SurfacePart], Field(max_length=12)]
    fuselage: FuselagePart
    drag_bodies: Annotated[tuple[DragPart, ...], Field(max_length=40)] = ()
    thrust_line: Shaft
    items: Annotated[tuple[ItemPart, ...], Field(min_length=1, max_length=200)]
    power: PowerPart
    structure: StructurePart | None = None
    wheels: WheelsPart | None = None

    def cross_check(self) -> Iterator[tuple[Location, Refused]]:
        yield from self._surfaces_needed()
        for name, surface in self.surfaces.items():
            yield from _surface_shape(name, surface)
        strips = sum(s.strips * (2 if s.symmetric else 1) for s in self.surfaces.values())
        if strips > MOST_STRIPS:
            yield ("surfaces",), Refused(f"{strips} strips, both halves counted", f"at most {MOST_STRIPS} in all")
        yield from self._fuselage_order()
        yield from _names_once("items", [item.name for item in self.items])
        yield from _names_once("drag bodies", [body.name for body in self.drag_bodies])
        mass = sum(item.mass for item in self.items)
        if mass >= HEAVIEST:
            yield ("items",), Refused(f"{mass:.1f} kg in all", f"under {HEAVIEST:.0f} kg in all")
        for index, item in enumerate(self.items):
            yield from _tray(("items", index), item)
        if isinstance(self.power, PistonPart):
            yield from self.power.cross_check()
        if self.structure is not None:
            yield from cross_check(self.structure, self.surfaces)
        if self.wheels is not None:
            for path, refused in wheels_in_order(self.wheels):
                yield ("wheels", *path), refused

    def _surfaces_needed(self) -> Iterator[tuple[Location, Refused]]:
        for name, control in CONTROLS.items():
            surface = self.surfaces.get(name)
            if surface is None:
                yield ("surfaces", name), Refused("nothing", f'the surface "{name}", for it carries the {control}')
                continue
            wanted = name != "fin"
            if surface.symmetric != wanted:
                found = '"symmetric: yes"' if surface.symmetric else "no second half"
                allowed = f'a {name} with "symmetric: yes"' if wanted else "a fin that is one surface"
                at = "symmetric" if "symmetric" in surface.model_fields_set else None
                yield ("surfaces", name, *([at] if at else [])), Refused(found, allowed)
            if surface.flap is None:
                yield ("surfaces", name, "flap"), Refused("nothing", f'a flap with "name: {control}"')
            elif surface.flap.name != control:
                place = ("surfaces", name, "flap", "name")
                yield place, Refused(quoted(surface.flap.name), f"{control}, which the {name} carries")
        for name, surface in self.surfaces.items():
            if name not in CONTROLS and surface.flap is not None:
                allowed = "a flap on the wing, the stabiliser and the fin only"
                yield ("surfaces", name, "flap"), Refused("a flap", allowed, "leave it out")

    def _fuselage_order(self) -> Iterator[tuple[Location, Refused]]:
        stations = self.fuselage.stations
        for index, (fore, aft) in enumerate(pairwise(stations), start=1):
            if aft.x <= fore.x:
                found = f"{_mm(aft.x)} after {_mm(fore.x)}"
                yield ("fuselage", "stations", index, "x"), Refused(found, "stations from the nose to the tail")
        if not any(station.width > 0 and station.height > 0 for station in stations):
            yield ("fuselage", "stations"), Refused("no width and height anywhere", "a fuselage with a cross-section")


def _mm(length: float) -> str:
    return written(length, "length", "mm", 0)


def _surface_shape(name: str, surface: SurfacePart) -> Iterator[tuple[Location, Refused]]:
    """Span, side and flap of one surface."""
    here: Location = ("surfaces", name)
    root, tip = surface.root.at, surface.tip.at
    if surface.symmetric:
        if root[1] < 0:
            yield (*here, "root", "at"), Refused(f"y of {_mm(root[1])}", "y from 0 mm, for it is the right half")
        span = 2 * tip[1]
        least, most = (0.5, 5.0) if name == "wing" else (0.05, 5.0)
        if tip[1] <= root[1] or not least <= span <= most:
            found = f"y of {_mm(tip[1])}, a whole span of {_mm(span)}"
            allowed = f"y over that of the root, and a whole span from {_mm(least)} to {_mm(most)}"
            yield (*here, "tip", "at"), Refused(found, allowed)
    elif ((tip[1] - root[1]) ** 2 + (tip[2] - root[2]) ** 2) ** 0.5 < 0.02:
        yield (*here, "tip", "at"), Refused("a tip beside the root", "a root and a tip at least 20 mm apart across x")
    half = ((tip[1] - root[1]) ** 2 + (tip[2] - root[2]) ** 2) ** 0.5
    if surface.tip_rounding > half > 0.0:
        found = f"{_mm(surface.tip_rounding)} on a half-span of {_mm(half)}"
        yield (*here, "tip rounding"), Refused(found, "no more than the distance from root to tip")
    flap = surface.flap
    if flap is not None and flap.from_ >= flap.to:
        found = f"from {flap.from_ * 100:g} % to {flap.to * 100:g} %"
        yield (*here, "flap"), Refused(found, '"from" less than "to", from the root to the tip')


def _names_once(key: str, names: list[str]) -> Iterator[tuple[Location, Refused]]:
    for index, name in enumerate(names):
        if name in names[:index]:
            yield (key, index, "name"), Refused(f"{quoted(name)} a second time", "each name once in its list")


def _tray(here: Location, item: ItemPart) -> Iterator[tuple[Location, Refused]]:
    if item.slides is None:
        return
    low, high = item.slides.from_, item.slides.to
    if low >= high:
        found = f"from {_mm(low)} to {_mm(high)}"
        yield (*here, "slides"), Refused(found, '"from" less than "to", from the nose to the tail')
    elif not low <= item.at[0] <= high:
        found = f"x of {_mm(item.at[0])}"
        yield (*here, "at"), Refused(found, f"x within its tray, from {_mm(low)} to {_mm(high)}")


def wheels_in_order(wheels: WheelsPart) -> Iterator[tuple[Location, Refused]]:
    """What is wrong with axles that are each right."""
    if (wheels.tail is None) == (wheels.nose is None):
        found = "no third wheel" if wheels.tail is None else "a wheel at the tail and one at the nose"
        yield (), Refused(found, "main, and one of tail or nose")
        return
    if wheels.main[1] <= 0.0:
        yield ("main",), Refused(f"y of {_mm(wheels.main[1])}", "y over 0 mm, for it is the right main wheel")
    third, name = (wheels.tail, "tail") if wheels.tail is not None else (wheels.nose, "nose")
    gap = third[0] - wheels.main[0]
    if (gap if name == "tail" else -gap) < 0.05:
        side = "behind" if name == "tail" else "ahead of"
        found = f"x of {_mm(third[0])} with the main wheels at {_mm(wheels.main[0])}"
        yield (name,), Refused(found, f"a {name} wheel at least 50 mm {side} the main wheels")
    other = "nose" if name == "tail" else "tail"
    if getattr(wheels, f"{other}_diameter") is not None:
        yield (f"{other}_diameter",), Refused("a diameter", f"none, for there is no {other} wheel", "leave it out")
