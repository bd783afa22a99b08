"""How much each estimated value of a plane matters to where it balances: its plausible error, and what that changes.

The moved item stays where it was put for the CG wanted, as it does in the workshop when a figure turns out wrong.
An item's mass or place then moves the CG by its moment arm, exactly; outlines, angles and bodies move the neutral
point, found again at the same angle of attack and elevator.  Everything else (sizes of items, fin, rudder, ailerons,
power, throws) does not touch the stick-fixed, power-off margin.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from typing import Any

from scenarios.balance import TRIM_HEIGHT, TRIM_SPEED
from scenarios.manoeuvres import CannotFly
from sim.build import Plane, reshaped
from sim.description import Airframe, DragBody, Surface
from sim.linearisation import pitch_stability
from sim.trim import NoTrim, Trim, level_trim

AFT = -1.0  # a file's x and z run against those of the body axes
AXES = {"x": (0, AFT), "y": (1, 1.0), "z": (2, AFT)}


@dataclass(frozen=True)
class Band:
    """The plausible error of an estimated value: `path` with * for names, `amount` in SI.

    `of` says what the amount is a share of: the value itself, the wing's span, or "" for nothing (then `amount` has
    `unit`, as it is shown).
    """

    path: str
    amount: float
    of: str = ""
    unit: str = ""


# All common practice, no source, unless a line says otherwise.  Spreads of outlines are about those of the five
# built-in planes over their span; a mark set on what was measured roughly deserves less.  The first that fits counts.
BANDS = (
    Band("items > * > mass", 0.10, "value"),
    Band("items > * > at > [xyz]", 0.01, "span"),  # 20 mm at 2 m
    Band("surfaces > * > incidence", math.radians(0.5), unit="deg"),
    Band("surfaces > * > twist", math.radians(0.5), unit="deg"),
    Band("surfaces > * > thickness", 0.02, unit="%"),
    Band("surfaces > * > at > [xz]", 0.015, "span"),
    Band("surfaces > * > at > y", 0.04, "value"),
    Band("surfaces > * > chord", 0.05, "value"),
    Band("surfaces > * > tip rounding", 0.01, "span"),
    Band("surfaces > * > flap > *", 0.05, unit="%"),
    Band("fuselage > stations > * > [xz]", 0.01, "span"),
    Band("fuselage > stations > *", 0.10, "value"),
    Band("fuselage > cross-flow drag", 0.20, "value"),
    Band("drag bodies > * > at > [xyz]", 0.01, "span"),
    Band("drag bodies > *", 0.30, "value"),
    Band("cg", 0.005, unit="mm"),  # held on two fingers: 5 mm
)


@dataclass(frozen=True)
class Estimate:
    """What the plausible error of one value changes: `cg`, `neutral_point` (m, aft), `margin` (fraction of MAC).

    `error` is in SI, or a share of the value where `unit` is "share".
    """

    path: str
    error: float
    unit: str
    cg: float
    neutral_point: float
    margin: float


@dataclass(frozen=True)
class Sensitivity:
    """`estimates` that can move the margin, the largest first; `idle` paths of the others; `measured` paths.

    `cg` and `neutral_point` (m), `margin` (fraction of MAC): all errors together, as if none knew of another.
    """

    estimates: tuple[Estimate, ...]
    idle: tuple[str, ...]
    measured: tuple[str, ...]
    cg: float
    neutral_point: float
    margin: float


def sensitivity(plane: Plane, trim: Trim | None = None) -> Sensitivity:
    """How much each estimated value of `plane` matters, about level flight (`trim`, if there is one already).

    Raises `CannotFly` when that cannot be trimmed.
    """
    trim = trim or _level(plane)
    base = pitch_stability(plane, trim)
    found, idle = [], []
    for path in (*plane.setup.airframe.estimated, *plane.setup.estimated):
        band = next((b for b in BANDS if fnmatchcase(path, b.path)), None)
        moved = None if band is None else _moved(plane, trim, base.neutral_point, path, band)
        if band is None or moved is None:
            idle.append(path)
            continue
        cg, point, mac = moved
        margin = (point - plane.cg_station - cg) / mac - base.static_margin
        error, unit = _error(plane, band), _unit(band)
        found.append(Estimate(path, error, unit, cg, float(point - base.neutral_point), float(margin)))
    found.sort(key=lambda e: (-abs(e.margin), e.path))
    whole = (math.sqrt(sum(getattr(e, what) ** 2 for e in found)) for what in ("cg", "neutral_point", "margin"))
    return Sensitivity(tuple(found), tuple(idle), plane.setup.airframe.measured, *whole)


def _level(plane: Plane) -> Trim:
    asked = ("level", TRIM_SPEED, TRIM_HEIGHT)
    if asked not in plane.known:
        try:
            plane.known[asked] = level_trim(plane, TRIM_SPEED, TRIM_HEIGHT)
        except NoTrim as stop:
            raise CannotFly(f"{plane.setup.name}: {stop}") from None
    return plane.known[asked]


def _error(plane: Plane, band: Band) -> float:
    return band.amount * plane.span if band.of == "span" else band.amount


def _unit(band: Band) -> str:
    return "share" if band.of == "value" else "mm" if band.of == "span" else band.unit


def _moved(plane: Plane, trim: Trim, base: float, path: str, band: Band) -> tuple[float, float, float] | None:
    """Change of CG (m aft), then neutral point and MAC (m), with the plausible error; None where nothing can change.

    `base` is the neutral point without it.
    """
    words = path.split(" > ")
    if path == "cg":
        return band.amount, base, plane.mac
    if words[0] == "items":
        shift = item_shift(plane, words[1], words[2:], _error(plane, band))
        return None if shift is None else (shift, base, plane.mac)
    airframe = with_error(plane.setup.airframe, words, _error(plane, band), band.of == "value")
    if airframe is None:
        return None
    other = reshaped(plane, airframe)
    return 0.0, pitch_stability(other, trim).neutral_point, other.mac


def item_shift(plane: Plane, name: str, field: list[str], error: float) -> float | None:
    """How far aft (m) the CG goes when an item's mass (share) or place along x (m) is greater by `error`.

    None for its other fields, and for the place of the moved item, which the CG decides.
    """
    item = next(i for i in plane.items if i.name == name)
    mass = plane.mass.mass
    if field == ["mass"]:
        added = error * item.mass
        return added * (AFT * item.at[0] - plane.cg_station) / (mass + added)
    if field == ["at", "x"] and name != plane.setup.moved_item:
        return error * item.mass / mass
    return None


def with_error(airframe: Airframe, words: list[str], error: float, relative: bool) -> Airframe | None:
    """`airframe` with one value greater by `error`; None where that cannot touch loads in straight flight."""

    def grown(value: float) -> float:
        return value * (1.0 + error) if relative else value + error

    kind, *inside = words
    if kind == "surfaces":
        name, *field = inside
        if name == "fin" or (field[0] == "flap" and name != "stabiliser"):
            return None
        return _one_of(airframe, "surfaces", name, lambda surface: _surface(surface, field, grown))
    if kind == "drag bodies":
        name, *field = inside
        return _one_of(airframe, "drag_bodies", name, lambda body: _drag_body(body, field, grown))
    if kind == "fuselage" and inside == ["cross-flow drag"]:
        fuselage = replace(airframe.fuselage, cross_flow_drag=grown(airframe.fuselage.cross_flow_drag))
        return replace(airframe, fuselage=fuselage)
    if kind == "fuselage":
        _, number, field = inside
        stations = list(airframe.fuselage.stations)
        index, sign = int(number.lstrip("#")) - 1, AFT if field in ("x", "z") else 1.0
        value = sign * grown(sign * getattr(stations[index], field))
        stations[index] = replace(stations[index], **{field: value})
        return replace(airframe, fuselage=replace(airframe.fuselage, stations=tuple(stations)))
    return None


def _one_of(airframe: Airframe, group: str, name: str, change: Callable[[Any], Any]) -> Airframe:
    return replace(airframe, **{group: tuple(change(p) if p.name == name else p for p in getattr(airframe, group))})


def _point(point: tuple[float, ...], axis: str, grown: Callable[[float], float]) -> tuple[float, ...]:
    index, sign = AXES[axis]
    return tuple(sign * grown(sign * value) if i == index else value for i, value in enumerate(point))


FLAP = {"chord at root": "chord_root", "chord at tip": "chord_tip", "from": "start", "to": "end"}


def _surface(surface: Surface, field: list[str], grown: Callable[[float], float]) -> Surface:
    if field[:2] == ["root", "at"] and field[2] != "y":  # a surface that sits elsewhere: its tip goes along
        ends = {end: _point(getattr(surface, end), field[2], grown) for end in ("root", "tip")}
        return replace(surface, **ends)
    if field[0] in ("root", "tip") and field[1] == "at":
        return replace(surface, **{field[0]: _point(getattr(surface, field[0]), field[2], grown)})
    if field[0] == "flap" and surface.flap is not None:
        name = FLAP[field[1]]
        value = min(max(grown(getattr(surface.flap, name)), 0.0), 1.0)
        return replace(surface, flap=replace(surface.flap, **{name: value}))
    name = "_".join(field).replace(" ", "_")  # root > chord is root_chord, tip rounding tip_rounding
    return replace(surface, **{name: grown(getattr(surface, name))})


AREAS = {"frontal area": 0, "side area": 1, "top area": 2}


def _drag_body(body: DragBody, field: list[str], grown: Callable[[float], float]) -> DragBody:
    """A side that was left out is tried with the front's area, times the error."""
    if field[0] == "at":
        return replace(body, at=_point(body.at, field[1], grown))
    front = body.drag_area[0]
    areas = [
        area if AREAS.get(field[0], axis) != axis else grown(area) if area else grown(front) - front
        for axis, area in enumerate(body.drag_area)
    ]
    return replace(body, drag_area=tuple(areas))
