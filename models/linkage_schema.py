"""The schema of linkages in setup files: what joins each servo to its surface, as a ruler finds it.

Only arm and horn are needed; `models.linkages` fills what is left out and says what it filled.
"""

from __future__ import annotations

from typing import Annotated, get_args

from models.fields import Group, OneOf, Quantity, key_of


class HoleRadius(Quantity):
    """A length whose example is an arm's or a horn's."""

    sample = "30 mm"


Radius = Annotated[float, HoleRadius("length", least="3 mm", most="160 mm")]
Offset = Annotated[float, Quantity("length", least="-60 mm", most="60 mm")]
Height = Annotated[float, Quantity("length", least="-200 mm", most="200 mm")]
Reach = Annotated[float, Quantity("length", least="10 mm", most="2 m")]
ArmAngle = Annotated[float, Quantity("angle", least="-60 deg", most="60 deg")]
Travel = Annotated[float, Quantity("angle", least="10 deg", most="150 deg")]
RodPlay = Annotated[float, Quantity("length", least="0 mm", most="5 mm")]
GearPlay = Annotated[float, Quantity("angle", least="0 deg", most="10 deg")]


class LinkageChange(Group):
    """Some of a linkage: what differs on the other half, or what is tried on the bench."""

    servo_arm: Radius | None = None
    horn_height: Radius | None = None
    horn_offset: Offset | None = None
    arm_neutral: ArmAngle | None = None
    servo_to_hinge: Reach | None = None
    rod_length: Reach | None = None
    hinge_height: Height | None = None
    servo_travel: Travel | None = None
    rod_play: RodPlay | None = None
    gear_play: GearPlay | None = None


class LinkagePart(LinkageChange):
    """Servo arm, rod and horn of one surface.

    `horn height` is from the hinge line to the rod's hole, `horn offset` how far aft of
    the hinge line that hole stands; `arm neutral` the arm's angle aft of the perpendicular
    to the chord at neutral; `servo to hinge` along the chord from the servo's shaft, or
    `rod length` hole to hole in its place; `hinge height` the hinge line's from the shaft,
    towards the rod's side; `servo travel` each way; the plays are end to end.
    """

    servo_arm: Radius
    horn_height: Radius


class HalfLinkagePart(LinkagePart):
    """The linkage of an aileron or an elevator half; `other half` is what differs on the other one."""

    rod_side: Annotated[str, OneOf("above", "below")] | None = None
    other_half: LinkageChange | None = None


class RudderLinkagePart(LinkagePart):
    """The linkage of the rudder."""

    rod_side: Annotated[str, OneOf("right", "left")] | None = None


class Linkages(Group):
    """What joins servo and surface, for each control; a control that is left out has a straight and ideal one."""

    aileron: HalfLinkagePart | None = None
    elevator: HalfLinkagePart | None = None
    rudder: RudderLinkagePart | None = None


PARTS: dict[str, type[LinkagePart]] = {
    "aileron": HalfLinkagePart,
    "elevator": HalfLinkagePart,
    "rudder": RudderLinkagePart,
}
# field and type of each key that a change may have
FIELDS: dict[str, tuple[str, Quantity]] = {
    key_of(name): (name, get_args(get_args(field.annotation)[0])[1])
    for name, field in LinkageChange.model_fields.items()
}
