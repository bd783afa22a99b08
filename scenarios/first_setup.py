"""The first setup of a plane that was just described: its CG lies ahead of the computed neutral point, as first flights ask."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from models.errors import UserError
from models.loader import built_in_text, setup_from_texts
from models.new_files import airframe_text, setup_text
from models.sketch import Sketch, moved_aft
from models.template_items import MOVED
from scenarios.balance import TRIM_HEIGHT, TRIM_SPEED
from scenarios.manoeuvres import CannotFly
from sim.build import Plane, build
from sim.description import Setup
from sim.linearisation import pitch_stability
from sim.mass_properties import mass_properties
from sim.trim import NoTrim, Trim, level_trim, static_thrust_ratio

# Precision flying has a margin of 8 to 15 % of MAC (common practice); 10 of it, and 4 by which the margin computed here
# is likely too large (the neutral point lies 3.3 % aft of a vortex lattice's: tests/sim/test_neutral_point_routes.py).
MARGIN = 0.14
FURTHEST_AFT = 0.31  # of MAC: generic advice is 25 to 33 %
LEAST_MARGIN = 0.08  # less than this is not written
INSIDE = 0.1  # of the reach, that the CG is kept from the ends of the tray when places are moved for it
SPEEDS = (TRIM_SPEED, 20.0, 16.0)  # m/s


@dataclass(frozen=True)
class First:
    """Both files as text, and the built plane; `thrust` is static thrust over weight, `wanted_cg` (m) what was aimed at."""

    airframe: str
    setup: str
    plane: Plane
    neutral_point: float
    margin: float
    thrust: float
    wanted_cg: float
    trim: Trim
    speed: float  # m/s, of that level flight

    @property
    def slow(self) -> bool:
        """Whether the speed is less than that of `scenarios.balance`, which the plane does not reach."""
        return self.speed < TRIM_SPEED


def first_setup(s: Sketch, airframe_file: str) -> First:
    """The files of a sketch.  Raises `UserError` when no CG within reach of the tray is sound, `CannotFly` without a trim."""
    airframe = airframe_text(s)
    plane = build(_setup(s, airframe, airframe_file, 0.0))
    trim, speed = _trim(s, plane)
    neutral = pitch_stability(plane, trim).neutral_point
    wanted = round(1000.0 * min(neutral - MARGIN * plane.mac, plane.station_of_mac(FURTHEST_AFT))) / 1000.0
    low, high = _reach(s, plane)
    if not low <= wanted <= high:
        inside = INSIDE * (high - low)
        short = wanted - (low + inside if wanted < low else high - inside)
        s = moved_aft(s, short * plane.mass.mass)
        airframe = airframe_text(s)
        plane = build(_setup(s, airframe, airframe_file, 0.0))
        low, high = _reach(s, plane)
    cg = min(max(wanted, math.ceil(1000.0 * low) / 1000.0), math.floor(1000.0 * high) / 1000.0)
    if (neutral - cg) / plane.mac < LEAST_MARGIN:
        raise _tail_heavy(s, plane, cg, neutral)
    share, margin = plane.mac_of_station(cg), (neutral - cg) / plane.mac
    why = (
        f"{100 * share:.0f} % of the mean chord: {100 * margin:.0f} % ahead of the computed neutral point at "
        f"{1000 * neutral:.0f} mm, and no further aft than {100 * FURTHEST_AFT:.0f} %"
    )
    setup = setup_text(s, airframe_file, cg, why)
    return First(
        airframe, setup, build(_read(airframe, setup)), neutral, margin, static_thrust_ratio(plane), wanted, trim, speed
    )


def _trim(s: Sketch, plane: Plane) -> tuple[Trim, float]:
    """Level flight at the speed that `scenarios.balance` looks at, or at the fastest of some slower ones."""
    for speed in SPEEDS:
        try:
            return level_trim(plane, speed, TRIM_HEIGHT), speed
        except NoTrim as stop:
            reason = stop
    raise CannotFly(f"{s.name}: {reason}")


def _read(airframe: str, setup: str) -> Setup:
    blades = next(line.split()[2] for line in setup.splitlines() if line.startswith("blade family:"))
    return setup_from_texts(
        {"setup": setup, "airframe": airframe, "blade family": built_in_text("blade family", blades)}
    )


def _setup(s: Sketch, airframe: str, name: str, cg: float) -> Setup:
    """The setup with its moved item in the middle of its tray."""
    setup = _read(airframe, setup_text(s, name, cg, "to begin with"))
    moved = next(item for item in setup.airframe.items if item.name == MOVED[s.kind])
    middle = replace(moved, at=(0.5 * sum(moved.slide or ()), *moved.at[1:]))
    items = tuple(middle if item.name == moved.name else item for item in setup.airframe.items)
    return replace(setup, cg=(-float(mass_properties(items).cg[0]), "m"))


def _reach(s: Sketch, plane: Plane) -> tuple[float, float]:
    """The CG (m) with the moved item at either end of its tray."""
    item = next(i for i in plane.items if i.name == MOVED[s.kind])
    ends = sorted(plane.cg_station + (item.at[0] - x) * item.mass / plane.mass.mass for x in item.slide or ())
    return ends[0], ends[1]


def _tail_heavy(s: Sketch, plane: Plane, cg: float, neutral: float) -> UserError:
    return UserError(
        f"{s.name}: found a CG of {1000 * cg:.0f} mm at the least, with the {MOVED[s.kind]} foremost on its tray; allowed: at "
        f"most {1000 * (neutral - LEAST_MARGIN * plane.mac):.0f} mm, {100 * LEAST_MARGIN:.0f} % of MAC ahead of the computed "
        "neutral point; try: the fuselage's length, the masses at its ends and the place of the stabiliser again: a plane "
        "with these numbers is tail-heavy"
    )
