"""The CG from scales under the wheels: what they say, how well, and what the model makes of it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from models.assemble import wheels as in_body_axes
from models.errors import OptionError, Refused, nearest, quoted
from models.fields import Quantity
from models.schema import WheelsPart, wheels_in_order
from scenarios.accuracy import LEVEL, RULER, SCALE
from sim.description import Item, Wheels

POSTS = ("main", "left", "right", "tail", "nose")
_READING = re.compile(r"\s*([A-Za-z]+)\s*[:=]?\s*(.+?)\s*")
_AXLE = re.compile(r"\s*([A-Za-z]+)\s*[:=]?\s*(\[[^\]]*\]|[^,\[\]]+)\s*(?:,|$)")
SCALES_SAMPLE = '"main 5.9 kg, tail 0.62 kg" or "left 2.95 kg, right 2.95 kg, tail 620 g"'
WHEELS_SAMPLE = '"main [50 mm, 230 mm, -245 mm], tail [1260 mm, 0 mm, -80 mm]"'


@dataclass(frozen=True)
class Weighed:
    """What the scales say, with one standard deviation of each.

    `mass` kg; `cg` m aft of the wing root leading edge; `right` m, None without a scale under each main wheel;
    `by_scales`, `by_ruler`, `by_level` the parts of the CG's deviation; `per_degree` m that an unnoticed degree of tail
    hanging low would put the CG too far aft; `on_wheels` how low the tail hangs (rad) when the plane stands on its own
    wheels on flat ground, None where wheel diameters are not known, and `on_wheels_error` what that would add (m).
    """

    readings: dict[str, float]
    tail_low: float
    mass: float
    mass_sigma: float
    cg: float
    by_scales: float
    by_ruler: float
    by_level: float
    right: float | None
    right_sigma: float | None
    per_degree: float
    on_wheels: float | None
    on_wheels_error: float | None

    @property
    def cg_sigma(self) -> float:
        """One standard deviation of the CG along the fuselage, m."""
        return math.sqrt(self.by_scales**2 + self.by_ruler**2 + self.by_level**2)


def weigh(readings: dict[str, float], wheels: Wheels, cg_height: float, tail_low: float = 0.0) -> Weighed:
    """The CG from `readings` (kg by wheel), the axles, the CG's height (m above the wing root chord), and attitude.

    Each wheel's load is upright through its axle.  With the tail hanging low by `tail_low` rad a point x aft and z up
    stands at x cos + z sin over the floor, so the CG's height comes in; level it does not.
    """
    sine, cosine = math.sin(tail_low), math.cos(tail_low)
    post = {name: wheels.third if name == wheels.third_is else wheels.main for name in readings}
    mass = sum(readings.values())
    aft = {name: -at[0] for name, at in post.items()}
    up = {name: -at[2] for name, at in post.items()}
    floor = {name: aft[name] * cosine + up[name] * sine for name in post}

    def cg_of(loads: dict[str, float]) -> float:
        over = sum(loads[name] * floor[name] for name in loads) / sum(loads.values())
        return (over - cg_height * sine) / cosine

    cg = cg_of(readings)
    by_scales = math.hypot(
        *((floor[n] - cg * cosine - cg_height * sine) * SCALE * r / mass for n, r in readings.items())
    )
    share = readings[wheels.third_is] / mass
    mean_axle = sum(readings[n] * up[n] for n in readings) / mass
    slope = (cg_height - mean_axle) / cosine**2  # m per rad that the tail hangs lower than was thought
    side = None
    if "right" in readings:
        track = abs(wheels.main[1])
        side = track * (readings["right"] - readings["left"]) / mass
        loads = ((track - side, "right"), (-track - side, "left"), (-side, wheels.third_is))
        side_sigma = math.hypot(*(arm * SCALE * readings[n] / mass for arm, n in loads))
    angle, error = _on_wheels(wheels, cg, cg_height)
    return Weighed(
        readings=readings,
        tail_low=tail_low,
        mass=mass,
        mass_sigma=math.hypot(*(SCALE * r for r in readings.values())),
        cg=cg,
        by_scales=by_scales / cosine,
        by_ruler=RULER * math.hypot(share, 1.0 - share),
        by_level=abs(slope) * LEVEL,
        right=side,
        right_sigma=None if side is None else side_sigma,
        per_degree=slope * math.radians(1.0),
        on_wheels=angle,
        on_wheels_error=error,
    )


def _on_wheels(wheels: Wheels, cg: float, cg_height: float) -> tuple[float | None, float | None]:
    """How low the tail hangs on flat ground (rad), and how much too far aft level arithmetic would then find the CG."""
    if None in wheels.diameters:
        return None, None
    main_radius, third_radius = (0.5 * d for d in wheels.diameters)
    sign = 1.0 if wheels.third_is == "tail" else -1.0
    run, rise = (sign * (wheels.main[i] - wheels.third[i]) for i in (0, 2))  # aft and up, front axle to rear axle
    # the line that touches both wheels from below
    angle = math.atan2(rise, run) - math.asin(sign * (third_radius - main_radius) / math.hypot(run, rise))
    return angle, tail_low_error(wheels, cg, cg_height, angle)


def tail_low_error(wheels: Wheels, cg: float, cg_height: float, angle: float) -> float:
    """How far aft of `cg` (m) readings taken with the tail hanging low by `angle` put it, read as if it stood level."""
    sine, cosine = math.sin(angle), math.cos(angle)
    main, third = ((-at[0]) * cosine - at[2] * sine for at in (wheels.main, wheels.third))
    share = (cg * cosine + cg_height * sine - main) / (third - main)  # of the weight, on the third wheel
    return -wheels.main[0] + share * (wheels.main[0] - wheels.third[0]) - cg


# ---- what explains a difference ----------------------------------------------------------------------------------------


def missing_mass(weighed: Weighed, mass: float, cg: float) -> tuple[float, float] | None:
    """(kg, station in m) of the one thing that the model's `mass` and `cg` lack; None where masses agree within 2 sigma."""
    more = weighed.mass - mass
    if abs(more) <= 2.0 * weighed.mass_sigma:
        return None
    return more, (weighed.mass * weighed.cg - mass * cg) / more


def nearest_items(items: tuple[Item, ...], station: float, most: int = 3) -> list[Item]:
    """The items that stand nearest to `station` (m aft of the wing root leading edge)."""
    return sorted(items, key=lambda item: abs(-item.at[0] - station))[:most]


# ---- what is written on the command line -------------------------------------------------------------------------------


def read_scales(text: str, wheels: Wheels) -> dict[str, float]:
    """Readings in kg by wheel from "main 5.9 kg, tail 0.62 kg".  Raises `OptionError`."""
    third, mass = wheels.third_is, Quantity("mass", least="0 g", under="60 kg")
    sets = (("main", third), ("left", "right", third))
    allowed = f"readings of {' and '.join(sets[0])}, or of {', '.join(sets[1][:2])} and {third}"
    readings: dict[str, float] = {}
    for part in filter(str.strip, text.split(",")):
        match = _READING.fullmatch(part)
        if match is None:
            raise OptionError("--scales", Refused(quoted(part.strip()), allowed, SCALES_SAMPLE))
        name = match[1].lower()
        if name not in POSTS:
            raise OptionError("--scales", Refused(quoted(match[1]), allowed, " or ".join(nearest(name, POSTS))))
        if name in readings:
            raise OptionError("--scales", Refused(f"{quoted(name)} a second time", "each wheel once"))
        try:
            readings[name] = mass.read(match[2])
        except Refused as refused:
            several = any(re.search(rf"\b{post}\b", match[2]) for post in POSTS)
            advice = "a comma between the readings" if several else refused.advice
            raise OptionError(f"--scales, {name}", Refused(refused.found, refused.allowed, advice)) from None
    if set(readings) not in (set(sets[0]), set(sets[1])):
        other = {"tail": "nose", "nose": "tail"}[third]
        found = " and ".join(readings) or "an empty text"
        advice = f'"{third}" instead of "{other}", or --wheels' if other in readings else SCALES_SAMPLE
        raise OptionError("--scales", Refused(found, allowed, advice))
    if sum(readings.values()) <= 0.0:
        raise OptionError("--scales", Refused("no load on any wheel", "readings over 0 g", SCALES_SAMPLE))
    return readings


def read_wheels(text: str) -> Wheels:
    """Axles from "main [50 mm, 230 mm, -245 mm], tail [1260 mm, 0 mm, -80 mm]".  Raises `OptionError`."""
    allowed = "main, and tail or nose, each with its axle's [x, y, z] as in an airframe file"
    if re.sub(_AXLE, "", text).strip():
        raise OptionError("--wheels", Refused(quoted(text), allowed, WHEELS_SAMPLE))
    found: dict[str, tuple[float, ...]] = {}
    length = Quantity("length", least="-5 m", most="5 m")
    for name, value in _AXLE.findall(text):
        if name.lower() not in ("main", "tail", "nose"):
            advice = " or ".join(nearest(name, ("main", "tail", "nose")))
            raise OptionError("--wheels", Refused(quoted(name), allowed, advice or WHEELS_SAMPLE))
        parts = value.strip("[] ").split(",")
        if len(parts) != 3:
            raise OptionError(
                f"--wheels, {name}", Refused(quoted(value.strip()), "[x, y, z], three lengths", WHEELS_SAMPLE)
            )
        try:
            found[name.lower()] = tuple(length.read(part) for part in parts)
        except Refused as refused:
            raise OptionError(f"--wheels, {name}", refused) from None
    if "main" not in found:
        raise OptionError("--wheels", Refused(" and ".join(found) or "nothing", allowed, WHEELS_SAMPLE))
    part = WheelsPart.model_construct(
        main=found["main"], tail=found.get("tail"), nose=found.get("nose"),
        main_diameter=None, tail_diameter=None, nose_diameter=None,
    )  # fmt: skip
    for path, refused in wheels_in_order(part):
        raise OptionError(", ".join(["--wheels", *map(str, path)]), refused)
    return in_body_axes(part)
