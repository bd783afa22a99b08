"""The schema of setup files: what a pilot changes on a plane between flights.

Values are in SI once read; `models.assemble` turns them into `sim.description`.  The transmitter's part stands in
`models.transmitter_schema`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, ClassVar

from pydantic import Field

from models.errors import Refused
from models.fields import CentreOfGravity, Count, Document, Group, Location, Name, OneOf, PropellerSize, Quantity, Text
from models.linkage_schema import Linkages
from models.linkages import linkage_problems
from models.schema import About, PartName, Point, Tilt
from models.transmitter_schema import (
    EndPoints,
    LinkPart,
    LowRates,
    Mixes,
    ModePart,
    Rates,
    ThrottleCurve,
    Throws,
    Trims,
    transmitter_faults,
)
from sim.description import Servo


class ServoPart(Group):
    """A servo at the voltage it runs on, and how many of them move one surface.

    Without a linkage speed and torque count at the surface: arm and horn of one length.
    """

    speed: Annotated[float, Quantity("servo speed", least="2 s/60deg", most="0.01 s/60deg", description="without load")]
    lag: Annotated[
        float, Quantity("duration", least="0 s", most="0.5 s", description="time constant below that speed")
    ] = 0.02
    torque: (
        Annotated[
            float,
            Quantity(
                "torque", least="0.2 kg cm", most="200 kg cm", description="of one servo at stall; none: not felt"
            ),
        ]
        | None
    ) = None
    count: Annotated[
        int, Count(1, 6, "servos on one surface: on each aileron, on both elevator halves together, on the rudder")
    ] = 1
    full_torque_at: Annotated[
        float,
        Quantity("angle", least="0.2 deg", most="40 deg", description="error at which it pulls with its full torque"),
    ] = math.radians(2.0)
    dead_band: Annotated[
        float, Quantity("angle", least="0 deg", most="5 deg", description="width in which it does not answer")
    ] = 0.0
    voltage: Annotated[float, Quantity("voltage", least="3 V", most="60 V")] | None = None
    stall_current: Annotated[float, Quantity("current", over="0 A", most="60 A")] | None = None

    def to_description(self) -> Servo:
        """The servo of `sim.description`."""
        return Servo(
            speed=self.speed,
            lag=self.lag,
            torque=self.torque,
            count=self.count,
            band=self.full_torque_at,
            dead_band=self.dead_band,
            volts=self.voltage,
            stall_current=self.stall_current,
        )


class Servos(Group):
    """The servos of each control."""

    aileron: ServoPart
    elevator: ServoPart
    rudder: ServoPart


class ShaftChange(Group):
    """What a setup changes on the thrust line; what is left out stays as on the airframe."""

    at: Point | None = None
    down: Tilt | None = None
    right: Tilt | None = None


class BallastPart(Group):
    """A weight that is carried besides the airframe's items."""

    mass: Annotated[float, Quantity("mass", over="0 g", under="20 kg")]
    at: Point
    name: PartName = ""


class SetupFile(Document):
    """What a pilot changes on a plane between flights."""

    KIND: ClassVar[str] = "setup"
    ESTIMATES: ClassVar[bool] = True

    kind: Annotated[str, OneOf("setup")]
    name: Name
    about: About = ""
    from_: (
        Annotated[
            str, Text(300, description="the setup that this one builds on: a name, or a path relative to this file")
        ]
        | None
    ) = None
    airframe: Annotated[str, Text(300, description="a built-in name, or a path relative to this file")]
    way_of_flying: Annotated[str, OneOf("precision", "extreme", "slow 3D")]
    cg: Annotated[tuple[float, str], CentreOfGravity()]
    moved_item: Annotated[str, Text(60, description="the item that slides along its tray to reach the CG")]
    propeller: Annotated[tuple[float, float, int], PropellerSize()]
    propeller_turns: Annotated[
        str, OneOf("clockwise", "anticlockwise", description="as seen from behind the propeller")
    ] = "clockwise"
    propeller_mass: Annotated[float, Quantity("mass", over="0 g", under="3 kg")] | None = None
    blade_family: Annotated[str, Text(300, description="a built-in name, or a path relative to this file")]
    throws: Throws
    servos: Servos
    linkages: Linkages | None = None
    mixes: Mixes = ()
    throttle_curve: ThrottleCurve = (0.0, 1.0)
    thrust_line: ShaftChange | None = None
    incidence: Annotated[
        dict[Name, Tilt],
        Field(
            max_length=12, description="incidence of named surfaces, instead of the airframe's", default_factory=dict
        ),
    ]
    low_rates: LowRates | None = None
    rates: Rates | None = None
    end_points: EndPoints | None = None
    trims: Trims | None = None
    ballast: Annotated[tuple[BallastPart, ...], Field(max_length=20)] = ()
    modes: Annotated[tuple[ModePart, ...], Field(max_length=8)] = ()
    link: LinkPart | None = None

    def cross_check(self) -> Iterator[tuple[Location, Refused]]:
        yield from transmitter_faults(self.mixes, self.rates, self.low_rates, self.modes)
        if self.linkages is not None:
            throws = {control: dict(part) for control, part in self.throws}
            yield from linkage_problems(self.linkages, throws)
