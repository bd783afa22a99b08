"""The aeroplane as flat faces about its CG, from the geometry that flies: surfaces with their flaps, fuselage, propeller, wheels."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sim.build import Plane
from sim.description import Surface

ROUND = 10  # corners of a section of the fuselage
DISK = 24  # corners of the propeller's disk
WHEEL = 12
DECIMALS = 4  # of a metre
RIGHT, LEFT = "right aileron", "left aileron"


def faces_of(plane: Plane) -> list[dict[str, Any]]:
    """Faces in body axes (x forward, y right, z down) about the CG, m.

    Each has `points` and a `kind`.  A flap's face has `moves`, the name of its surface, and `swing`: per point, the point
    of the hinge line it turns about and its lever when turned by 90 deg in the positive sense (trailing edge down, or
    left), so that it lies at hinge + (point - hinge) cos + swing sin.
    """
    faces = [face for surface in plane.setup.airframe.surfaces for face in _surface(surface)]
    faces += _fuselage(plane)
    faces.append(_disk(plane))
    faces += _wheels(plane)
    cg = np.array([-plane.cg_station, float(plane.mass.cg[1]), float(plane.mass.cg[2])])
    return [_about(face, cg) for face in faces]


def _about(face: dict[str, Any], cg: np.ndarray) -> dict[str, Any]:
    moved = {key: np.round(np.asarray(face[key]) - cg, DECIMALS).tolist() for key in ("points", "hinge") if key in face}
    swing = {"swing": np.round(face["swing"], DECIMALS).tolist()} if "swing" in face else {}
    return {**face, **moved, **swing}


def _surface(surface: Surface) -> list[dict[str, Any]]:
    """The faces of a surface, both halves of a symmetric one."""
    sides = (1.0, -1.0) if surface.symmetric else (1.0,)
    return [face for side in sides for face in _half(surface, side)]


def _half(surface: Surface, side: float) -> list[dict[str, Any]]:
    flap, kind = surface.flap, surface.name if surface.name in ("wing", "stabiliser", "fin") else "other"
    cuts = [0.0, 1.0] if flap is None else sorted({0.0, flap.start, flap.end, 1.0})
    faces = []
    for start, end in zip(cuts, cuts[1:]):
        here = [_chord(surface, share, side) for share in (start, end)]
        flapped = flap is not None and start >= flap.start and end <= flap.end
        if not flapped:
            faces.append({"kind": kind, "points": [here[0][0], here[1][0], here[1][2], here[0][2]]})
            continue
        faces.append({"kind": kind, "points": [here[0][0], here[1][0], here[1][1], here[0][1]]})
        hinge = [here[0][1], here[1][1], here[1][1], here[0][1]]
        points = [here[0][1], here[1][1], here[1][2], here[0][2]]
        across = here[1][1] - here[0][1]
        faces.append({
            "kind": "flap", "points": points, "hinge": hinge, "moves": _name(flap.name, side),
            "swing": [_turned(point - at, across, surface.symmetric) for point, at in zip(points, hinge)],
        })  # fmt: skip
    return faces


def _name(flap: str, side: float) -> str:
    return flap if flap != "aileron" else RIGHT if side > 0.0 else LEFT


def _chord(surface: Surface, share: float, side: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Leading edge, hinge line and trailing edge at a share of the span."""
    edge = np.asarray(surface.root) + share * (np.asarray(surface.tip) - np.asarray(surface.root))
    chord = surface.root_chord + share * (surface.tip_chord - surface.root_chord)
    angle = surface.incidence + share * surface.twist
    along = np.array([-math.cos(angle), 0.0, math.sin(angle)]) if surface.symmetric else np.array([-1.0, 0.0, 0.0])
    flap = surface.flap
    part = flap.chord_root + share * (flap.chord_tip - flap.chord_root) if flap else 0.0
    mirror = np.array([1.0, side, 1.0])
    return edge * mirror, (edge + (1.0 - part) * chord * along) * mirror, (edge + chord * along) * mirror


def _turned(lever: np.ndarray, across: np.ndarray, symmetric: bool) -> np.ndarray:
    """`lever` turned by 90 deg about the hinge line `across`: down on a symmetric surface, left on a single one."""
    axis = across / np.linalg.norm(across)
    swing = np.cross(axis, lever)
    positive = np.array([0.0, 0.0, 1.0]) if symmetric else np.array([0.0, -1.0, 0.0])
    return swing if float(swing @ positive) >= 0.0 else -swing


def _fuselage(plane: Plane) -> list[dict[str, Any]]:
    angles = 2.0 * math.pi * (np.arange(ROUND) + 0.5) / ROUND
    rings = [
        np.stack([
            np.full(ROUND, s.x), 0.5 * s.width * _square(np.cos(angles)), s.z + 0.5 * s.height * _square(np.sin(angles)),
        ], axis=1)
        for s in plane.setup.airframe.fuselage.stations
    ]  # fmt: skip
    faces = [{"kind": "fuselage", "points": list(ring)} for ring in (rings[0], rings[-1])]
    for front, back in zip(rings, rings[1:]):
        for i in range(ROUND):
            j = (i + 1) % ROUND
            faces.append({"kind": "fuselage", "points": [front[i], front[j], back[j], back[i]]})
    return faces


def _square(x: np.ndarray) -> np.ndarray:
    """A circle's coordinate drawn out towards a box with round corners, its largest value kept."""
    out = np.sign(x) * np.sqrt(np.abs(x))
    return out / np.abs(out).max()


def _disk(plane: Plane) -> dict[str, Any]:
    """The propeller's disk, square to its shaft."""
    setup = plane.setup
    line, radius = setup.thrust_line or setup.airframe.thrust_line, 0.5 * setup.propeller.diameter
    shaft = np.array([math.cos(line.down) * math.cos(line.right), math.sin(line.right), math.sin(line.down)])
    side = np.cross(shaft, [0.0, 0.0, 1.0])
    side /= np.linalg.norm(side)
    up = np.cross(side, shaft)
    angles = 2.0 * math.pi * np.arange(DISK) / DISK
    at = np.asarray(setup.airframe.thrust_line.at, float)
    return {"kind": "propeller", "points": [at + radius * (math.cos(a) * side + math.sin(a) * up) for a in angles]}


def _wheels(plane: Plane) -> list[dict[str, Any]]:
    """A disk for every wheel whose size is known."""
    wheels = plane.setup.airframe.wheels
    if wheels is None:
        return []
    main, third = (np.asarray(at, float) for at in (wheels.main, wheels.third))
    places = [(main, wheels.diameters[0]), (main * [1.0, -1.0, 1.0], wheels.diameters[0]), (third, wheels.diameters[1])]
    angles = 2.0 * math.pi * np.arange(WHEEL) / WHEEL
    return [
        {"kind": "wheel", "points": [at + 0.5 * size * np.array([math.cos(a), 0.0, math.sin(a)]) for a in angles]}
        for at, size in places if size
    ]  # fmt: skip
