"""Manoeuvres by built-in name or by path, flown for a setup: trim first, then the flight on that trim."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np

from models.errors import UserError, unknown_name
from scenarios.ballast import out_of_reach
from scenarios.compiler import compile_phases
from scenarios.schema import ManoeuvreFile, WindPart
from scenarios.sticks import both_down, moves_flaps, set_trims, sticks_for, stopped_by, switch_to, with_flaps
from sim import layout as L
from sim.build import Plane, build
from sim.description import Setup
from sim.flight import Flight, fly
from sim.integration import FRAME
from sim.mass_properties import OutOfReach
from sim.near_trim import NearTrim
from sim.pilot import DELAY, pilot_for
from sim.transmitter import RATES, STICKS, modes_of
from sim.trim import NoTrim, Trim, hover_trim, level_trim
from sim.wind import TWENTY_FEET, Gust, Wind, carried, in_wind


class CannotFly(Exception):
    """The flight could not be started; the message says why (exit code 3)."""


class CgOutOfReach(UserError):
    """The wanted CG lies where the moved item's tray does not reach."""

    def __init__(self, setup: Setup):
        super().__init__(f"{setup.name}: {out_of_reach(setup)}")


@dataclass(frozen=True)
class Change:
    """What was changed in a flight by hand, to what (as text), and the first frame that is flown with it."""

    frame: int
    what: str
    value: str


@dataclass
class Flown:
    """A manoeuvre as it was flown: what a measure looks at.  `plane` is in the wind that it was flown in, `level` in still air."""

    setup: Setup
    manoeuvre: ManoeuvreFile
    plane: Plane
    level: Trim
    flight: Flight
    x0: np.ndarray
    sticks0: np.ndarray
    table: np.ndarray
    pilot: np.ndarray
    skill: str = "expert"
    changes: tuple[Change, ...] = ()  # of a flight by hand
    later: tuple[tuple[int, Plane], ...] = ()  # the planes that those in flight made, and their first frames

    def planes(self) -> list[tuple[slice, Plane]]:
        """The frames that each plane was flown in."""
        changes = [(0, self.plane), *self.later]
        ends = [first for first, _ in self.later] + [len(self.flight.rows)]
        return [(slice(first, end), plane) for (first, plane), end in zip(changes, ends)]

    def phase(self, name: str) -> int:
        """The index of the phase called `name`; -1 when the manoeuvre has none."""
        names = [phase.name for phase in self.manoeuvre.phases]
        return names.index(name) if name in names else -1


def flyable(setup: Setup) -> Plane:
    """The built plane of `setup`; CG trouble becomes a `UserError`."""
    try:
        return build(setup)
    except OutOfReach:
        raise CgOutOfReach(setup) from None
    except ValueError as error:
        raise UserError(f"{setup.airframe.name}: {error}") from None


SIDES = ("right", "left")

# what is compared unless more is asked for, in the order in which a pilot would fly it
CORE_SET = (
    "level-trim",
    "upline-45",
    "upline-45-inverted",
    "knife-edge-right",
    "knife-edge-left",
    "stall",
    "hover",
)


def known_manoeuvres() -> list[tuple[str, str]]:
    """(name, about) of every built-in manoeuvre, in flying order."""
    from models.reading import read_document

    folder = resources.files("scenarios") / "manoeuvres"
    with resources.as_file(folder) as path:
        files = sorted(Path(path).glob("*.yaml"))
        read = [read_document(file, ManoeuvreFile) for file in files]
    place = {name: i for i, name in enumerate(CORE_SET)}
    known = [(name, m.about) for m in read for name in flown_names(m)]
    return sorted(known, key=lambda known: (place.get(known[0], len(place)), known[0]))


def flown_names(manoeuvre: ManoeuvreFile) -> tuple[str, ...]:
    """What a file is flown as: its name, or one for each side."""
    if manoeuvre.sides == "one":
        return (manoeuvre.name,)
    return tuple(f"{manoeuvre.name}-{side}" for side in SIDES)


def one_side(manoeuvre: ManoeuvreFile, side: str) -> ManoeuvreFile:
    """One side of a manoeuvre that is flown both ways, under its own name; others as they are."""
    if manoeuvre.sides == "one" or not side:
        return manoeuvre
    sided = manoeuvre.model_copy(update={"name": f"{manoeuvre.name}-{side}"})
    sided._mirrored = side == "left"
    return sided


def load_manoeuvre(name_or_path: str) -> tuple[ManoeuvreFile, str]:
    """The manoeuvre of that name or path, and the text of its file.  Raises `UserError`.

    A file that is flown both ways is asked for by side, as in "knife-edge-left" or "mine.yaml-left"; the right
    one is meant where no side is said.
    """
    from models.reading import read_file

    text = str(name_or_path)
    side = next((side for side in SIDES if text.endswith(f".yaml-{side}") or text.endswith(f".yml-{side}")), "")
    if side:
        text = text[: -len(side) - 1]
    if text.lower().endswith((".yaml", ".yml")) or "/" in text or "\\" in text:
        read = read_file(Path(text), ManoeuvreFile)
        return one_side(read.value, side or "right"), read.text
    folder = resources.files("scenarios") / "manoeuvres"
    with resources.as_file(folder) as path:
        files = {f.stem: f for f in sorted(Path(path).glob("*.yaml"))}
        stem = text
        if text not in files:
            side = next((side for side in SIDES if text.endswith(f"-{side}")), "")
            stem = text[: -len(side) - 1] if side else text
        if stem not in files:
            names = [name for name, _ in known_manoeuvres()]
            raise UserError(f"manoeuvre: {unknown_name('manoeuvre', text, names)}")
        read = read_file(files[stem], ManoeuvreFile)
        if side and read.value.sides == "one":
            raise UserError(f"manoeuvre: {unknown_name('manoeuvre', text, [read.value.name])}")
    return one_side(read.value, side or "right"), read.text


def manoeuvre_from_text(text: str, name: str = "") -> ManoeuvreFile:
    """The manoeuvre that stands in `text`, as kept in a flight record: the side that was flown as `name`.  Raises `UserError`."""
    from models.reading import read_text

    return one_side(
        read_text(text, "recorded manoeuvre", ManoeuvreFile).value, "left" if name.endswith("-left") else "right"
    )


def _once(plane: Plane, asked: tuple, find: Callable[[], Any]) -> Any:
    """What `find` gives, found once for `plane` (its model does not change after it is built), or the `NoTrim` that it raises."""
    if asked not in plane.known:
        try:
            plane.known[asked] = find()
        except NoTrim as stop:
            plane.known[asked] = stop
    if isinstance(plane.known[asked], NoTrim):
        raise plane.known[asked]
    return plane.known[asked]


def _switched(plane: Plane, manoeuvre: ManoeuvreFile) -> Plane:
    """`plane` with a transmitter of its own, switched as `manoeuvre` starts."""
    plane = replace(plane, chain=plane.chain.copy())  # its trims and switches are this flight's
    switch_to(plane, manoeuvre.start.mode or "", _rates(manoeuvre))
    return plane


def _rates(manoeuvre: ManoeuvreFile) -> tuple[str, ...]:
    return tuple((manoeuvre.start.rates or {}).get(stick, RATES[0]) for stick in STICKS[:3])


def _begun(plane: Plane, manoeuvre: ManoeuvreFile, like: Plane | None = None) -> tuple[Trim, Trim, tuple]:
    """The steady state that `plane` is trimmed for (its trims are then set), that of the start, and what the latter is
    known by.  Searched from those of `like` where it knows them.  Raises `NoTrim`."""
    start = manoeuvre.start
    switched = (start.mode, *_rates(manoeuvre)) if moves_flaps(plane) else ()  # the ailerons stand elsewhere then

    def find(kind: str, speed: float, at_trim: bool) -> tuple[tuple, Trim]:
        asked = (kind, speed, start.height, *((*switched, manoeuvre.trim, at_trim) if switched else ()))
        near = _known_of(like, ("near",), asked)

        def steady(one: Plane) -> Trim:
            found = near.of(one) if isinstance(near, NearTrim) else None
            if found is not None:
                return found
            return hover_trim(one, start.height) if kind == "hover" else level_trim(one, speed, start.height)

        return asked, _once(plane, asked, lambda: with_flaps(plane, steady, at_trim))

    _, level = find("level", manoeuvre.trim, True)
    set_trims(plane, level)  # as a pilot does before anything else
    asked, state = find("hover", 0.0, False) if start.from_ == "hover" else find("level", start.airspeed or 0.0, False)
    return level, state, asked


def _known_of(like: Plane | None, what: tuple, asked: tuple) -> Any:
    """What the plane `like` knows of the state `asked`; None where it does not.

    A plane whose ailerons move together only because they were not built alike is like one whose ailerons do not.
    """
    if like is None:
        return None
    return like.known.get((*what, *asked), like.known.get((*what, *asked[:3])))


def know(plane: Plane, manoeuvre: ManoeuvreFile, skill: str = "expert") -> None:
    """Find what flights of `manoeuvre` `like` this plane's ask for: from then on `plane` is only read."""
    start = manoeuvre.start
    what = ("knows", start.from_, start.airspeed, start.height, start.mode, *_rates(manoeuvre), manoeuvre.trim, skill)
    if what in plane.known:
        return
    switched = _switched(plane, manoeuvre)
    try:
        _, state, asked = _begun(switched, manoeuvre)
        _once(plane, ("pilot", skill, *asked), lambda: pilot_for(switched, state, skill))
    except NoTrim:
        pass  # flights like it search and learn for themselves
    for asked, trim in list(plane.known.items()):
        if isinstance(trim, Trim) and ("near", *asked) not in plane.known:
            plane.known["near", *asked] = NearTrim(replace(switched, flaps=both_down(trim.command)), trim)
    plane.known[what] = True


def _steady(plane: Plane, manoeuvre: ManoeuvreFile, like: Plane | None = None) -> tuple[Trim, Trim, tuple, np.ndarray]:
    """As `_begun`, and where the sticks (4,) hold the state of the start.  Raises `CannotFly`."""
    try:
        level, state, asked = _begun(plane, manoeuvre, like)
        sticks, stop = sticks_for(plane, state), stopped_by(plane, state)
        if stop and not state.rolls:
            raise NoTrim(f"the start needs {stop}")
    except NoTrim as stop:
        raise CannotFly(f"{manoeuvre.name} with {plane.setup.name}: {stop}") from None
    return level, state, asked, sticks


def started(plane: Plane, manoeuvre: ManoeuvreFile) -> tuple[Plane, Trim, np.ndarray, np.ndarray]:
    """What a flight of `manoeuvre` starts from in still air: the plane trimmed and switched, its level trim, the state
    (STATE,) and the sticks (4,).  Raises `CannotFly`, `OptionError` for an unknown flight mode."""
    plane = _switched(plane, manoeuvre)
    level, state, _, sticks = _steady(plane, manoeuvre)
    return plane, level, state.x, sticks


def fly_manoeuvre(
    setup: Setup,
    manoeuvre: ManoeuvreFile,
    plane: Plane | None = None,
    steps: int = 0,
    skill: str = "expert",
    like: Plane | None = None,
    delay: float | None = None,
) -> Flown:
    """Trim `setup`, find the pilot's gains, and fly `manoeuvre`.

    `plane` saves building it again; `skill` is one of `sim.pilot.SKILLS`, `delay` (s) another delay than his.  `like` is
    a plane nearly the same, whose pilot then flies this one and from whose steady states those of this one are
    searched.  Raises `CannotFly` when there is no steady start, `UserError` when the CG cannot be reached.
    """
    plane = _switched(plane or flyable(setup), manoeuvre)
    table = compile_phases(manoeuvre, manoeuvre.mirrored, modes_of(setup))
    if like is not None:
        know(like, manoeuvre, skill)
    level, state, asked, sticks = _steady(plane, manoeuvre, like)
    who = ("pilot", skill, *asked)
    pilot = _known_of(like, ("pilot", skill), asked)
    if pilot is None:
        pilot = _once(plane, who, lambda: pilot_for(plane, state, skill))
    if delay is not None:
        pilot = pilot.copy()
        pilot[DELAY] = round(delay / FRAME)
    x0 = state.x
    if manoeuvre.start.wind is not None:
        plane, x0 = enter_wind(plane, state.x, manoeuvre.start.wind)
    flight = fly(plane, x0, sticks, table, pilot, steps)
    return Flown(setup, manoeuvre, plane, level, flight, x0, sticks, table, pilot, skill)


def enter_wind(plane: Plane, x: np.ndarray, part: WindPart) -> tuple[Plane, np.ndarray]:
    """`plane` in the wind of a manoeuvre file, and its steady state `x` of still air carried along by it."""
    height, airspeed = -float(x[L.POSITION + 2]), float(np.linalg.norm(x[L.VELOCITY : L.VELOCITY + 3]))
    wind = Wind(part.speed, part.from_, part.at, part.roughness, max(part.turbulence, 0.0), part.seed)
    if part.turbulence < 0.0:
        wind = replace(wind, w20=wind.speed_at(TWENTY_FEET))
    if part.gust is not None:
        velocity = tuple(part.gust.speed * direction for direction in part.gust.from_)
        wind = replace(wind, gust=Gust(velocity, part.gust.length, part.gust.after_distance or 0.0))
    inside = in_wind(plane, wind, height)
    if part.gust is not None and part.gust.after is not None:
        inside.model[L.GUST_AFTER] = part.gust.after * max(airspeed, inside.model[L.SWEPT])
    return inside, carried(inside.model, x)
