"""The transmitter's part of a setup file: throws, rates, mixes, end points, trims, flight modes, and the link."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import ConfigDict, Field
from pydantic_core import core_schema

from models.errors import Refused, nearest, quoted
from models.fields import Count, Group, Location, Name, OneOf, Quantity
from models.schema import Share
from sim.transmitter import BENT_POINTS, MOST_BENT, NORMAL

if TYPE_CHECKING:
    from pydantic import GetJsonSchemaHandler

STICKS = ("aileron", "elevator", "rudder", "throttle")
TARGETS = ("aileron", "elevator", "rudder", "flaps")
SIDES = {"aileron": ("left", "right"), "elevator": ("down", "up"), "rudder": ("left", "right")}  # negative, positive
Deflection = Annotated[float, Quantity("angle", over="0 deg", most="75 deg")]
Trim = Annotated[float, Quantity("angle", least="-30 deg", most="30 deg")]
Exponential = Annotated[float, Quantity("ratio", least="0 %", most="100 %")]
RateShare = Annotated[float, Quantity("ratio", over="0 %", most="100 %", description="of full throw")]
MixShare = Annotated[float, Quantity("ratio", least="-100 %", most="100 %")]


class UpDownThrow(Group):
    """Throws of the elevator: up is full pull."""

    up: Deflection
    down: Deflection
    exponential: Exponential = 0.0


class AileronThrow(UpDownThrow):
    """Throws of the ailerons: each side's up-going and down-going travel."""

    differential: Annotated[
        float,
        Quantity(
            "ratio", least="-100 %", most="100 %", description="roll gives the down-going aileron less by this share"
        ),
    ] = 0.0


class LeftRightThrow(Group):
    """Throws of the rudder, trailing edge to the left and to the right."""

    left: Deflection
    right: Deflection
    exponential: Exponential = 0.0


class Throws(Group):
    """Deflection at full stick, for each control."""

    aileron: AileronThrow
    elevator: UpDownThrow
    rudder: LeftRightThrow


class LowRates(Group):
    """Share of full throw that is left on the low-rate switch."""

    aileron: RateShare = 0.6
    elevator: RateShare = 0.6
    rudder: RateShare = 0.6


class RatePart(Group):
    """One rate of one control; what is left out is as usual: 100, 80 or 60 % of full throw, the throw's exponential."""

    share: RateShare | None = None
    exponential: Exponential | None = None


class ControlRates(Group):
    """One position of the rates switch."""

    aileron: RatePart | None = None
    elevator: RatePart | None = None
    rudder: RatePart | None = None


class Rates(Group):
    """The three positions of the rates switch."""

    high: ControlRates | None = None
    middle: ControlRates | None = None
    low: ControlRates | None = None


class Sides(dict[str, float]):
    """What full stick adds, by the side it goes to."""


class MixGain(Quantity):
    """A gain, or what full stick adds on each side of the source."""

    sample = "5 %"

    @property
    def words(self) -> str:
        return f"{super().words}, or one for each way: {{left: 5 %, right: 8 %}}"

    def read(self, value: object) -> float | Sides:
        if not isinstance(value, dict):
            return super().read(value)
        for key in value:
            if key not in ("left", "right", "up", "down"):
                near = " or ".join(nearest(str(key), ("left", "right", "up", "down")))
                raise Refused(quoted(key), "left and right, or up and down", near)
        return Sides({str(side): super(MixGain, self).read(gain) for side, gain in value.items()})

    def json_schema(self) -> dict[str, Any]:
        share = super().json_schema()
        sides = [
            {"type": "object", "properties": dict.fromkeys(pair, share), "required": list(pair),
             "additionalProperties": False}
            for pair in (("left", "right"), ("up", "down"))
        ]  # fmt: skip
        return {"anyOf": [{**share, "measured": True}, *sides], "description": self.description}

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return self.json_schema()  # a gain alone can be marked as an estimate, a group of two cannot


class MixPart(Group):
    """What one stick adds to another control, or to both ailerons together (`flaps`, down positive)."""

    model_config = ConfigDict(json_schema_extra={"anyOf": [{"required": ["gain"]}, {"required": ["curve"]}]})

    from_: Annotated[str, OneOf(*STICKS)]
    to: Annotated[str, OneOf(*TARGETS)]
    gain: (
        Annotated[
            float | Sides,
            MixGain("ratio", least="-100 %", most="100 %", description="of the target's full throw, for a full stick"),
        ]
        | None
    ) = None
    curve: (
        Annotated[
            tuple[MixShare, ...],
            Field(
                min_length=2,
                max_length=BENT_POINTS,
                description="instead of a gain: what is added at evenly spaced places of the stick, from left, down or idle",
            ),
        ]
        | None
    ) = None
    only_below: (
        Annotated[
            float,
            Quantity(
                "ratio", over="0 %", most="100 %", description="throttle: the gain in full at idle, nothing from here"
            ),
        ]
        | None
    ) = None
    only_above: (
        Annotated[
            float,
            Quantity(
                "ratio",
                least="0 %",
                under="100 %",
                description="throttle: nothing to here, the gain in full at the end",
            ),
        ]
        | None
    ) = None

    def faults(self) -> Iterator[tuple[Location, Refused]]:
        """What is wrong between its fields."""
        if self.from_ == self.to:
            yield ("to",), Refused(quoted(self.to), f"another control than {self.from_}")
        if self.gain is None and self.curve is None:
            yield ("gain",), Refused("nothing", "a gain or a curve, one of them is needed", 'add "gain: 5 %"')
        if self.gain is not None and self.curve is not None:
            yield ("curve",), Refused("a curve beside a gain", "one of the two")
        if isinstance(self.gain, Sides):
            wanted = SIDES.get(self.from_)
            if wanted is None:
                yield (
                    ("gain",),
                    Refused("a gain for each side of the throttle", 'one gain, or "only below: 10 %" beside it'),
                )
            elif set(self.gain) != set(wanted):
                found = "a gain for " + " and ".join(self.gain)
                words = f"{{{wanted[0]}: 5 %, {wanted[1]}: 8 %}}"
                yield (
                    ("gain",),
                    Refused(found, f"one for each side of the {self.from_} stick: {' and '.join(wanted)}", words),
                )
        for key, limit in (("only below", self.only_below), ("only above", self.only_above)):
            if limit is not None and self.from_ != "throttle":
                yield (key,), Refused(f"a range of the {self.from_}", "a range of the throttle alone", "a curve")
            elif limit is not None and (self.gain is None or isinstance(self.gain, Sides)):
                yield (key,), Refused("a range of a curve", "a range of one gain", "points of 0 % in the curve")
        if self.only_below is not None and self.only_above is not None:
            yield ("only above",), Refused('"only above" beside "only below"', "one of the two", "a mix for each")

    @property
    def points(self) -> tuple[tuple[float, float], ...]:
        """(Source, added) in rising order of the source; () for a straight mix."""
        if self.curve is not None:
            first = 0.0 if self.from_ == "throttle" else -1.0
            step = (1.0 - first) / (len(self.curve) - 1)
            return tuple((first + step * i, share) for i, share in enumerate(self.curve))
        if isinstance(self.gain, Sides):
            negative, positive = SIDES[self.from_]
            return (-1.0, self.gain[negative]), (0.0, 0.0), (1.0, self.gain[positive])
        gain = self.gain or 0.0
        if self.only_below is not None:
            return (0.0, gain), (self.only_below, 0.0)
        if self.only_above is not None:
            return (self.only_above, 0.0), (1.0, gain)
        return ()


class UpDownStops(Group):
    """Furthest deflection each way."""

    up: Deflection
    down: Deflection


class LeftRightStops(Group):
    """Furthest deflection each way, trailing edge to the left and to the right."""

    left: Deflection
    right: Deflection


class EndPoints(Group):
    """How far a control goes at most, mixes and trims included; left out: stick and mixes go to the throw, trims add."""

    aileron: UpDownStops | None = None
    elevator: UpDownStops | None = None
    rudder: LeftRightStops | None = None


class Trims(Group):
    """Trims with the sign of the stick: positive elevator pulls, aileron rolls right, rudder yaws right; flaps down."""

    aileron: Trim = 0.0
    elevator: Trim = 0.0
    rudder: Trim = 0.0
    flaps: Trim = 0.0


ThrottleCurve = Annotated[
    tuple[Share, ...],
    Field(min_length=2, max_length=17, description="output at evenly spaced stick positions, idle first"),
]
Mixes = Annotated[tuple[MixPart, ...], Field(max_length=MOST_BENT)]


class ModePart(Group):
    """A flight mode: what it changes of the setup.  Its mixes, where given, take the place of all the setup's."""

    name: Name
    switch_time: Annotated[
        float, Quantity("duration", least="0 s", most="5 s", description="over which its changes come in")
    ] = 0.0
    rates: Rates | None = None
    mixes: Mixes | None = None
    trims: Trims | None = None
    throttle_curve: ThrottleCurve | None = None


class LinkPart(Group):
    """From the stick to the servo: how late, how often, and in how many steps."""

    latency: Annotated[
        float, Quantity("duration", least="0 s", most="0.2 s", description="from the stick to the servo")
    ] = 0.020
    period: Annotated[
        float,
        Quantity(
            "duration", least="0 s", most="0.1 s", description="between two frames sent; flights look every 10 ms"
        ),
    ] = 0.0
    steps: Annotated[
        int, Count(0, 65536, "over the travel of a stick as it is read, and of a control as it is sent; 0 for none")
    ] = 2048


def transmitter_faults(
    mixes: tuple[MixPart, ...], rates: Rates | None, low_rates: LowRates | None, modes: tuple[ModePart, ...]
) -> Iterator[tuple[Location, Refused]]:
    """What is wrong between fields of a setup file that are each right."""
    for index, mix in enumerate(mixes):
        yield from ((("mixes", index, *at), refused) for at, refused in mix.faults())
    low = rates.low if rates else None
    for name, part in low or ():
        if part is not None and part.share is not None and low_rates and name in low_rates.model_fields_set:
            found = f'a share for the {name}\'s low rate beside that under "low rates"'
            yield ("rates", "low", name, "share"), Refused(found, "one of the two")
    seen = {NORMAL}
    for index, mode in enumerate(modes):
        if mode.name in seen:
            allowed = f"a name that no other mode has, and not {NORMAL}, which is the setup as it stands"
            yield ("modes", index, "name"), Refused(quoted(mode.name), allowed)
        seen.add(mode.name)
        for n, mix in enumerate(mode.mixes or ()):
            yield from ((("modes", index, "mixes", n, *at), refused) for at, refused in mix.faults())
