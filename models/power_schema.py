"""The schema of an airframe's `power:` group: electric or piston, told apart by its key `kind`."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import Annotated

from pydantic import Discriminator, Field, Tag

from models.errors import Refused
from models.fields import Count, Group, Location, OneOf, Quantity
from models.units import written

POWER_KINDS = ("electric", "piston")
RotorInertia = Annotated[float, Quantity("inertia", over="0 g cm2", most="0.01 kg m2")]


class ElectricPart(Group):
    """Motor, controller and battery."""

    kind: Annotated[str, OneOf(*POWER_KINDS)]
    cells: Annotated[int, Count(1, 16, "cells in series", measured=True)]
    capacity: Annotated[float, Quantity("charge", least="50 mAh", most="50 Ah")]
    cell_resistance: Annotated[float, Quantity("resistance", least="0.1 mohm", most="200 mohm")] | None = None
    kv: Annotated[float, Quantity("speed constant", least="20 rpm/V", most="6000 rpm/V")]
    winding_resistance: Annotated[float, Quantity("resistance", least="0.5 mohm", most="2 ohm")] | None = None
    no_load_current: Annotated[float, Quantity("current", least="0 A", most="30 A")] | None = Field(
        None, alias="no-load current"
    )
    current_limit: Annotated[float, Quantity("current", least="1 A", most="500 A")]
    rotor_inertia: RotorInertia | None = None


class TorquePoint(Group):
    """Full-throttle torque at one speed of the engine."""

    at: Annotated[float, Quantity("angular rate", least="300 rpm", most="30000 rpm")]
    torque: Annotated[float, Quantity("torque", least="0 N m", most="100 N m")]


EngineSpeed = Annotated[float, Quantity("angular rate", least="1500 rpm", most="25000 rpm")]


class PistonPart(Group):
    """A petrol engine.  Its strength is stated by one of: torque points, peak power with its speed, displacement."""

    kind: Annotated[str, OneOf(*POWER_KINDS)]
    cycle: Annotated[str, OneOf("two-stroke", "four-stroke")]
    cylinders: Annotated[int, Count(1, 4, "cylinders that share the displacement", measured=True)] = 1
    displacement: Annotated[float, Quantity("volume", least="2 cm3", most="400 cm3")]
    peak_power: Annotated[float, Quantity("power", least="50 W", most="60 kW")] | None = None
    peak_power_at: EngineSpeed | None = None
    peak_torque_at: EngineSpeed | None = None
    torque: Annotated[
        tuple[TorquePoint, ...],
        Field(min_length=2, max_length=24, description="full-throttle torque measured at rising speeds"),
    ] = ()
    idle: Annotated[float, Quantity("angular rate", least="500 rpm", most="6000 rpm")]
    throttle_lag: Annotated[float, Quantity("duration", least="10 ms", most="2 s")] | None = None
    fuel: Annotated[float, Quantity("volume", least="5 ml", most="20 l", description="fuel in the full tank")]
    fuel_consumption: Annotated[float, Quantity("fuel consumption", least="150 g/kWh", most="2500 g/kWh")] | None = None
    rotor_inertia: RotorInertia | None = None

    def cross_check(self) -> Iterator[tuple[Location, Refused]]:
        if self.torque:
            yield from self._torque_points()
            return
        if (self.peak_power is None) != (self.peak_power_at is None):
            missing = "peak power at" if self.peak_power_at is None else "peak power"
            yield ("power", missing), Refused("nothing", "peak power and its speed together", f'add "{missing}:"')
            return
        torque_at, power_at = self.peak_torque_at, self.peak_power_at
        if torque_at is not None and power_at is not None and not 1.02 <= power_at / torque_at <= 2.5:
            found = f"{_rpm(torque_at)}, with the peak power at {_rpm(power_at)}"
            allowed = "a speed below that of the peak power, by 2 % at the least and at most 2.5 times"
            yield ("power", "peak torque at"), Refused(found, allowed)
        lowest = torque_at or (power_at or 1e9) / 2.5
        if self.idle >= lowest:
            yield ("power", "idle"), Refused(_rpm(self.idle), "an idle speed below that of the peak torque")
        if self.peak_power is not None and power_at is not None:
            yield from self._mean_pressure(self.peak_power / power_at, ("power", "peak power"))

    def _torque_points(self) -> Iterator[tuple[Location, Refused]]:
        for key in ("peak_power", "peak_power_at", "peak_torque_at"):
            if key in self.model_fields_set:
                allowed = "torque points or the peaks, not both"
                yield ("power", key.replace("_", " ")), Refused("a peak beside torque points", allowed)
        for index, (low, high) in enumerate(pairwise(self.torque), start=1):
            if high.at <= low.at:
                found = f"{_rpm(high.at)} after {_rpm(low.at)}"
                yield ("power", "torque", index, "at"), Refused(found, "speeds in rising order")
        best = max(range(len(self.torque)), key=lambda i: self.torque[i].torque)
        yield from self._mean_pressure(self.torque[best].torque, ("power", "torque", best, "torque"))
        if self.idle >= self.torque[-1].at:
            yield ("power", "idle"), Refused(_rpm(self.idle), "an idle speed below the last torque point")

    def _mean_pressure(self, torque: float, place: Location) -> Iterator[tuple[Location, Refused]]:
        bar = torque * (2.0 if self.cycle == "two-stroke" else 4.0) * math.pi / self.displacement / 1e5
        if not 1.0 <= bar <= 20.0:
            found = f"a brake mean effective pressure of {bar:.2g} bar with {self.displacement * 1e6:g} cm3"
            yield place, Refused(found, "1 to 20 bar, for anything else is a typing error in one of the two")


def _rpm(speed: float) -> str:
    return written(speed, "angular rate", "rpm", 0)


def _kind_of_power(power: object) -> object:
    return power.get("kind") if isinstance(power, dict) else None


PowerPart = Annotated[
    Annotated[ElectricPart, Tag("electric")] | Annotated[PistonPart, Tag("piston")],
    Discriminator(_kind_of_power),
]
