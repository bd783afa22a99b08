"""The schema of blade family files: the blade shape that propellers of one family share."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Annotated, ClassVar

from pydantic import Field

from models.errors import Refused
from models.fields import Document, Group, Location, Name, OneOf, Quantity
from models.schema import About


class BladeStation(Group):
    """Chord as a share of the propeller's radius, and thickness as a share of the chord, at a share of the radius.

    `pitch` is the local pitch as a share of the propeller's; the blade begins at the first station.
    """

    radius: Annotated[float, Quantity("ratio", over="0 %", most="100 %")]
    chord: Annotated[float, Quantity("ratio", least="0.5 %", most="80 %")]
    thickness: Annotated[float, Quantity("ratio", least="2 %", most="60 %")]
    pitch: Annotated[float, Quantity("ratio", least="0 %", most="200 %")] = 1.0


class BladeFamilyFile(Document):
    """The blade shape that propellers of one family share."""

    KIND: ClassVar[str] = "blade family"

    kind: Annotated[str, OneOf("blade family")]
    name: Name
    about: About = ""
    blade: Annotated[tuple[BladeStation, ...], Field(min_length=3, max_length=40)]
    zero_lift_angle: Annotated[float, Quantity("angle", least="-12 deg", most="3 deg")] = Field(
        alias="zero-lift angle", description="against the pitch line, negative for a cambered section"
    )
    mass_at_20_in: Annotated[
        float, Quantity("mass", over="0 g", under="2 kg", description="of a two-blade propeller of 20 in diameter")
    ]

    def cross_check(self) -> Iterator[tuple[Location, Refused]]:
        radii = [station.radius for station in self.blade]
        for index, (inner, outer) in enumerate(pairwise(radii), start=1):
            if outer <= inner:
                found = f"{outer * 100:g} % after {inner * 100:g} %"
                yield ("blade", index, "radius"), Refused(found, "stations from the hub to the tip")
        if radii[0] > 0.4:
            yield ("blade", 0, "radius"), Refused(f"{radii[0] * 100:g} %", "a first station at 40 % or less")
        if radii[-1] < 0.95:
            place = ("blade", len(radii) - 1, "radius")
            yield place, Refused(f"{radii[-1] * 100:g} %", "a last station at 95 % or more")
