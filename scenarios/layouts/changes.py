"""One plane with one thing changed at a time, always balanced to the same static margin."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from models.loader import load_setup
from scenarios.layouts.study import FAST, HEIGHT, Findings, study
from scenarios.manoeuvres import flyable
from sim.build import with_cg
from sim.description import Airframe, Setup
from sim.linearisation import pitch_stability
from sim.trim import level_trim

CHANGED = "precision"
MARGIN = 0.11  # of MAC: that of CHANGED with its CG at 34 %


def shifted(airframe: Airframe, names: tuple[str, ...], aft: float = 0.0, up: float = 0.0) -> Airframe:
    """`airframe` with surfaces and items of these names moved aft and up (m)."""

    def place(point):
        return (point[0] - aft, point[1], point[2] - up)

    return replace(
        airframe,
        surfaces=tuple(
            replace(s, root=place(s.root), tip=place(s.tip)) if s.name in names else s for s in airframe.surfaces
        ),
        items=tuple(replace(i, at=place(i.at)) if i.name in names else i for i in airframe.items),
    )


def with_dihedral(airframe: Airframe, angle: float) -> Airframe:
    """`airframe` with its wing tips raised to a dihedral of `angle` (rad)."""
    return replace(
        airframe,
        surfaces=tuple(
            replace(s, tip=(*s.tip[:2], s.root[2] - s.tip[1] * math.tan(angle))) if s.name == "wing" else s
            for s in airframe.surfaces
        ),
    )


def with_taper(airframe: Airframe, taper: float) -> Airframe:
    """`airframe` with another ratio of tip to root chord: same span, area and quarter-chord line."""

    def changed(wing):
        mean = 0.5 * (wing.root_chord + wing.tip_chord)
        root, tip = 2.0 * mean / (1.0 + taper), 2.0 * mean * taper / (1.0 + taper)
        ahead = 0.25 * (root - wing.root_chord), 0.25 * (tip - wing.tip_chord)
        places = ((p[0] + a, p[1], p[2]) for p, a in zip((wing.root, wing.tip), ahead))
        return replace(wing, root_chord=root, tip_chord=tip, **dict(zip(("root", "tip"), places)))

    return replace(airframe, surfaces=tuple(changed(s) if s.name == "wing" else s for s in airframe.surfaces))


def with_thrust_line(airframe: Airframe, up: float = 0.0, down: float = 0.0) -> Airframe:
    """`airframe` with its shaft raised by `up` (m) and turned down by `down` (rad)."""
    line = airframe.thrust_line
    at = (line.at[0], line.at[1], line.at[2] - up)
    return replace(airframe, thrust_line=replace(line, at=at, down=line.down + down))


TAIL = ("stabiliser", "stabiliser halves", "elevator servos", "fin", "fin and rudder", "tail wheel")
STABILISER = ("stabiliser", "stabiliser halves", "elevator servos")
FIN = ("fin", "fin and rudder")
WING = ("wing", "right wing half", "left wing half", "wing tube and bolts", "right aileron servo", "left aileron servo")
CHANGES: tuple[tuple[str, Callable[[Airframe], Airframe]], ...] = (
    ("stabiliser 100 mm higher", lambda a: shifted(a, STABILISER, up=0.1)),
    ("stabiliser 100 mm lower", lambda a: shifted(a, STABILISER, up=-0.1)),
    ("wing 60 mm higher", lambda a: shifted(a, WING, up=0.06)),
    ("wing 60 mm lower", lambda a: shifted(a, WING, up=-0.06)),
    ("dihedral 2 deg", lambda a: with_dihedral(a, math.radians(2.0))),
    ("tail 150 mm longer", lambda a: shifted(a, TAIL, aft=0.15)),
    ("tail 150 mm shorter", lambda a: shifted(a, TAIL, aft=-0.15)),
    ("taper 0.35", lambda a: with_taper(a, 0.35)),
    ("taper 0.80", lambda a: with_taper(a, 0.80)),
    ("thrust line 40 mm higher", lambda a: with_thrust_line(a, up=0.04)),
    ("thrust line 40 mm lower", lambda a: with_thrust_line(a, up=-0.04)),
    ("1 deg more down thrust", lambda a: with_thrust_line(a, down=math.radians(1.0))),
    ("fin 100 mm lower", lambda a: shifted(a, FIN, up=-0.1)),
)


def one_at_a_time(progress: Callable[[str], None] = lambda what: None) -> list[tuple[str, Findings]]:
    """The plane of `CHANGED` as it is, then with each of `CHANGES`, all at `MARGIN`."""
    setup = load_setup(CHANGED)
    out = []
    for label, change in (("as it is", lambda a: a), *CHANGES):
        progress(label)
        changed = replace(setup, airframe=change(setup.airframe))
        out.append((label, study(balanced(changed, MARGIN))))
    return out


def balanced(setup: Setup, margin: float) -> Setup:
    """`setup` with its CG where the static margin is `margin` (of MAC), which two steps find."""
    for _ in range(2):
        plane = flyable(setup)
        stability = pitch_stability(plane, level_trim(plane, FAST, HEIGHT))
        cg = plane.mac_of_station(plane.cg_station) + stability.static_margin - margin
        setup = with_cg(setup, cg, "mac")
    return setup
