"""The schema of an airframe's optional `structure:` group: joiner tubes by surface, and the pilot's own limit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Protocol

from pydantic import Field

from models.errors import Refused, nearest, quoted
from models.fields import Count, Group, Location, Name, OneOf, Quantity
from models.materials import MATERIALS
from models.units import written


class JoinerPart(Group):
    """The round tubes that carry both halves of a surface through the fuselage."""

    outside_diameter: Annotated[float, Quantity("length", least="2 mm", most="150 mm")]
    wall: Annotated[
        float,
        Quantity("length", least="0.2 mm", most="75 mm", description="half of the outside diameter: a solid rod"),
    ]
    material: Annotated[str, OneOf(*MATERIALS)]
    x: Annotated[float, Quantity("length", least="-5 m", most="5 m", description="its middle, as all stations")]
    reach: Annotated[
        float,
        Quantity("length", least="10 mm", most="3 m", description="how far it goes into each half from the root rib"),
    ]
    tubes: Annotated[int, Count(1, 4, "tubes alike, side by side")] = 1
    root_rib: (
        Annotated[
            float,
            Quantity(
                "length", least="0 mm", most="1 m", description="root rib from the middle; else the fuselage's side"
            ),
        ]
        | None
    ) = None
    pin: (
        Annotated[
            float,
            Quantity("length", over="0 mm", most="2 m", description="from the tube to the anti-rotation pin, along x"),
        ]
        | None
    ) = None


class StructurePart(Group):
    """What carries the loads."""

    joiners: Annotated[dict[Name, JoinerPart], Field(max_length=6)] = {}
    load_factor: (
        Annotated[
            float, Quantity("acceleration", least="1 g", most="60 g", description="the most you mean to fly it with")
        ]
        | None
    ) = None


class _Edge(Protocol):
    at: tuple[float, float, float]
    chord: float


class _Surface(Protocol):
    symmetric: bool
    root: _Edge
    tip: _Edge
    thickness: float | None


def cross_check(part: StructurePart, surfaces: Mapping[str, _Surface]) -> Iterator[tuple[Location, Refused]]:
    """What is wrong between the joiners and the surfaces they are in."""
    paired = [name for name, surface in surfaces.items() if surface.symmetric]
    for name, joiner in part.joiners.items():
        here: Location = ("structure", "joiners", name)
        if name not in paired:
            allowed = f"a surface with two halves: {', '.join(paired)}"
            yield here, Refused(quoted(name), allowed, " or ".join(nearest(name, paired)))
            continue
        if joiner.wall > 0.5 * joiner.outside_diameter + 1e-9:
            found = f"a wall of {_mm(joiner.wall)} in a tube of {_mm(joiner.outside_diameter)}"
            yield (*here, "wall"), Refused(found, "at most half of the outside diameter (half of it: a solid rod)")
        yield from _fits(here, joiner, surfaces[name])


def _fits(here: Location, joiner: JoinerPart, surface: _Surface) -> Iterator[tuple[Location, Refused]]:
    """Whether the tube lies inside the halves."""
    root, tip = surface.root, surface.tip
    ahead, behind = root.at[0], root.at[0] + root.chord
    if not ahead < joiner.x < behind:
        allowed = f"x within the root chord, from {_mm(ahead)} to {_mm(behind)}"
        yield (*here, "x"), Refused(f"x of {_mm(joiner.x)}", allowed)
    thick = (0.12 if surface.thickness is None else surface.thickness) * root.chord
    if joiner.outside_diameter > thick:
        found = f"a tube of {_mm(joiner.outside_diameter)}"
        yield (*here, "outside diameter"), Refused(found, f"a tube that fits a root of {_mm(thick)} in height")
    half = tip.at[1] - root.at[1]
    if joiner.reach + (joiner.root_rib or 0.0) >= half:
        found = f"a reach of {_mm(joiner.reach)}"
        yield (*here, "reach"), Refused(found, f"less than the half, which ends {_mm(half)} from the middle")
    if joiner.pin is not None and joiner.pin > root.chord:
        yield (
            (*here, "pin"),
            Refused(f"a pin {_mm(joiner.pin)} from the tube", f"at most the root chord, {_mm(root.chord)}"),
        )


def _mm(length: float) -> str:
    return written(length, "length", "mm", 1 if length < 0.01 else 0)
