"""Triangles of what is not a lifting surface: fuselage, spinner, wheels and their legs.

From the description alone, axes of `sim.description` (origin at the wing root leading edge).  Every function returns
vertices and normals (n, 3) and colours (n, 3) of 0..1, three rows a triangle.
"""

from __future__ import annotations

import math

import numpy as np

from sim.description import Airframe, Item
from viewer.scene import colours as C

AROUND = 24
SLICES = 30
ROUND_TOP, BOXY_BOTTOM = 2.2, 3.6  # exponents of the outline's ellipses: drawn so, not measured
LEG = 0.012  # half-width of a leg over the span of the gear
WIDE_TYRE = 0.32  # width of a tyre over its diameter: common practice, no source


def fuselage_triangles(airframe: Airframe) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The fuselage through its stations."""
    stations = sorted(airframe.fuselage.stations, key=lambda s: s.x)
    places = [s.x for s in stations]
    x = np.unique(np.round(np.r_[places, np.linspace(places[0], places[-1], SLICES)], 6))
    width, height, z = (np.interp(x, places, [getattr(s, n) for s in stations]) for n in ("width", "height", "z"))
    angle = np.linspace(0.0, 2.0 * math.pi, AROUND + 1)
    y, up = np.sin(angle), -np.cos(angle)  # z down: begins at the top
    power = 2.0 / np.where(up < 0.0, ROUND_TOP, BOXY_BOTTOM)
    y, up = np.sign(y) * np.abs(y) ** power, np.sign(up) * np.abs(up) ** power
    ring = np.zeros((len(x), AROUND + 1, 3))
    ring[..., 0] = x[:, None]
    ring[..., 1] = 0.5 * width[:, None] * y
    ring[..., 2] = z[:, None] + 0.5 * height[:, None] * up

    def paint(middle: np.ndarray) -> np.ndarray:
        centre = np.interp(middle[:, 0], x, z)
        return np.where((middle[:, 2] < centre)[:, None], C.TOP, C.BELOW)

    sheets = [_lofted(ring, paint)]
    for end, row in ((0, ring[0]), (-1, ring[-1])):
        middle = np.tile([x[end], 0.0, z[end]], (AROUND + 1, 1))
        sheets.append(_lofted(np.stack([row, middle]), paint))
    return _joined(sheets)


def canopy(airframe: Airframe) -> Item | None:
    """The item that stands for the canopy, where it has a size: it says where the fuselage is glazed."""
    return next(
        (item for item in airframe.items if item.name == "canopy" and min(item.size[0], item.size[2]) > 0.0), None
    )


def below_top(airframe: Airframe, vertices: np.ndarray) -> np.ndarray:
    """How far vertices lie below the top of the fuselage there, over the height of the canopy (m where there is none)."""
    stations = sorted(airframe.fuselage.stations, key=lambda s: s.x)
    top = np.interp(vertices[:, 0], [s.x for s in stations], [s.z - 0.5 * s.height for s in stations])
    glass = canopy(airframe)
    return (vertices[:, 2] - top) / (glass.size[2] if glass else 1.0)


def spinner_triangles(airframe: Airframe, hub: np.ndarray, shaft: np.ndarray) -> tuple[np.ndarray, ...]:
    """A spinner from the foremost station over the hub, as wide as the nose."""
    nose = max(airframe.fuselage.stations, key=lambda s: s.x)
    radius = 0.42 * min(nose.width, nose.height)
    back = min(nose.x - hub[0], 0.0)
    along = np.linspace(0.0, 1.0, 7)
    length = 1.3 * radius - back
    across = np.cross(shaft, [0.0, 0.0, 1.0])
    across /= np.linalg.norm(across)
    over = np.cross(shaft, across)
    angle = np.linspace(0.0, 2.0 * math.pi, 17)
    ring = np.array(
        [
            hub
            + (back + a * length) * shaft
            + radius * math.sqrt(1.0 - a**2.2) * (np.cos(t) * across + np.sin(t) * over)
            for a in along
            for t in angle
        ]
    ).reshape(len(along), len(angle), 3)
    return _lofted(ring, lambda middle: np.tile(C.TIP, (len(middle), 1)))


def wheel_triangles(airframe: Airframe) -> tuple[np.ndarray, ...]:
    """Tyres where their diameters are known, and legs from the fuselage to the main axles."""
    wheels, stations = airframe.wheels, sorted(airframe.fuselage.stations, key=lambda s: s.x)
    sheets = []
    for axle, diameter in ((wheels.main, wheels.diameters[0]), (wheels.third, wheels.diameters[1])):
        for side in (1.0, -1.0) if axle is wheels.main else (1.0,):
            centre = np.array(axle) * [1.0, side, 1.0]
            if diameter is not None:
                sheets.append(_tyre(centre, diameter))
            if axle is wheels.main:
                places = [s.x for s in stations]
                width, height, z = (
                    float(np.interp(axle[0], places, [getattr(s, n) for s in stations]))
                    for n in ("width", "height", "z")
                )
                sheets.append(
                    _leg(np.array([axle[0], side * 0.3 * width, z + 0.45 * height]), centre, LEG * 2.0 * axle[1])
                )
    return _joined(sheets)


def _tyre(centre: np.ndarray, diameter: float) -> tuple[np.ndarray, ...]:
    profile = [(0.0, -0.35), (0.8, -0.5), (1.0, -0.25), (1.0, 0.25), (0.8, 0.5), (0.0, 0.35)]
    angle = np.linspace(0.0, 2.0 * math.pi, 21)
    ring = np.array(
        [
            centre
            + 0.5 * diameter * np.array([r * np.cos(t), 0.0, r * np.sin(t)])
            + [0.0, w * WIDE_TYRE * diameter, 0.0]
            for r, w in profile
            for t in angle
        ]
    ).reshape(len(profile), len(angle), 3)
    return _lofted(ring, lambda middle: np.tile(C.TYRE, (len(middle), 1)))


def _leg(top: np.ndarray, axle: np.ndarray, half: float) -> tuple[np.ndarray, ...]:
    corners = np.array([[1.5, 0.0], [0.0, 0.5], [-1.5, 0.0], [0.0, -0.5], [1.5, 0.0]]) * half
    across = np.array([0.0, axle[2] - top[2], top[1] - axle[1]])
    across /= max(np.linalg.norm(across), 1e-9)
    ring = np.array([[end + c * np.array([1.0, 0.0, 0.0]) + d * across for c, d in corners] for end in (top, axle)])
    return _lofted(ring, lambda middle: np.tile(C.METAL, (len(middle), 1)))


def _lofted(ring: np.ndarray, paint) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The quads of a grid of points (rows, around, 3), smooth normals, painted by the middles of the quads."""
    normal = np.cross(np.gradient(ring, axis=0), np.gradient(ring, axis=1))
    if len(ring) > 2:  # the seam runs along the first and the last column alike
        normal[:, 0] = normal[:, -1] = normal[:, 0] + normal[:, -1]
    normal /= np.maximum(np.linalg.norm(normal, axis=2), 1e-12)[..., None]

    def quads(grid: np.ndarray) -> np.ndarray:
        a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, :-1], grid[1:, 1:]
        return np.stack([a, b, c, c, b, d], axis=2).reshape(-1, 3)

    vertices = quads(ring)
    middle = vertices.reshape(-1, 6, 3)[:, [0, 1, 2, 5]].mean(axis=1)
    return vertices, quads(normal), np.repeat(np.asarray(paint(middle), float) / 255.0, 6, axis=0)


def _joined(sheets: list[tuple[np.ndarray, ...]]) -> tuple[np.ndarray, ...]:
    if not sheets:
        return np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((0, 3))
    return tuple(np.vstack(columns) for columns in zip(*sheets))
