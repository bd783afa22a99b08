"""The plane as triangles, from its description alone: surfaces with their flaps, fuselage, wheels, spinner.

Body axes about the CG (x forward, y right, z down), m.  A flap turns about its hinge line: `Hinge.axis` runs the way the
strips do, so a positive deflection takes the trailing edge down, or left on a fin (ISO 1151).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sim import layout as L
from sim.build import Plane
from sim.description import Surface
from sim.lifting_surfaces import square_tipped
from viewer.scene import colours as C
from viewer.scene.bodies import below_top, canopy, fuselage_triangles, spinner_triangles, wheel_triangles

FIXED = -1
NO_STRIP, GLAZED = -1.0, -2.0  # in the place of a strip's number: none; none, but perhaps under the canopy
ROUND_CUTS = (0.0, 0.4, 0.65, 0.83, 0.94, 0.99)  # of the rounded part of a tip
CHORD_CUTS = np.array([0.0, 0.012, 0.05, 0.14, 0.3, 0.5, 0.76, 1.0])  # of the chord ahead of the hinge, or of all of it
BARS = ((0.30, 0.42), (0.60, 0.72))  # light bars below the wing, over its span
TIP_BAND = 0.86  # from here out the right wing is of another colour


@dataclass(frozen=True)
class Hinge:
    """A point on a hinge line and its direction: turning about it by a positive angle is a positive deflection."""

    point: np.ndarray
    axis: np.ndarray


@dataclass(frozen=True)
class Part:
    """One piece of the plane: triangles, three vertices each, in rows.

    `vertices` and `normals` (n, 3); `colours` (n, 3) of 0..1; `strip` (n,) the strip a vertex belongs to, negative where none;
    `across` (n,) its place over the strip, 0..1 (of the fuselage: depth below its top over the canopy's height);
    `control` the control that turns it (one of `layout.CONTROLS`), FIXED where none.
    """

    name: str
    vertices: np.ndarray
    normals: np.ndarray
    colours: np.ndarray
    strip: np.ndarray
    across: np.ndarray
    control: int = FIXED
    hinge: Hinge | None = None


@dataclass(frozen=True)
class Mesh:
    """A whole plane.  `hub` and `shaft` place the propeller disk, `disk_radius` and `span` in m; `glass` is the canopy's
    middle and half its length along x (0: none)."""

    parts: tuple[Part, ...]
    hub: np.ndarray
    shaft: np.ndarray
    disk_radius: float
    span: float
    glass: tuple[float, float]

    def rows(self) -> np.ndarray:
        """Vertices for a buffer, (n, 18): place, normal, colour, strip, across, hinge point, hinge axis, control."""
        return np.vstack([_rows(part) for part in self.parts]).astype(np.float32)

    def posed(self, surfaces: np.ndarray) -> dict[str, np.ndarray]:
        """Vertices of every part, by name, with the surfaces deflected by `surfaces` (layout.CONTROLS, rad)."""
        return {part.name: turned(part, surfaces) for part in self.parts}


def _rows(part: Part) -> np.ndarray:
    n = len(part.vertices)
    hinge = part.hinge or Hinge(np.zeros(3), np.array([0.0, 1.0, 0.0]))
    fixed = np.tile(np.r_[hinge.point, hinge.axis, float(part.control)], (n, 1))
    return np.hstack([part.vertices, part.normals, part.colours, part.strip[:, None], part.across[:, None], fixed])


def turned(part: Part, surfaces: np.ndarray) -> np.ndarray:
    """The vertices of `part` with its control deflected (Rodrigues' rotation about the hinge line)."""
    if part.hinge is None:
        return part.vertices
    angle = float(surfaces[part.control])
    v, k = part.vertices - part.hinge.point, part.hinge.axis
    along = np.outer(v @ k, k)
    return part.hinge.point + along + math.cos(angle) * (v - along) + math.sin(angle) * np.cross(k, v)


def plane_mesh(plane: Plane) -> Mesh:
    """The plane of a setup as it is drawn."""
    airframe, cg = plane.setup.airframe, plane.mass.cg
    parts: list[Part] = []
    for surface in airframe.surfaces:
        for side in ("left", "right") if surface.symmetric else ("",):
            parts += _half(surface, side, plane.strips[surface.name].start, cg)
    line = plane.setup.thrust_line or airframe.thrust_line
    shaft = plane.model[L.SHAFT : L.SHAFT + 3].copy()
    plain = [
        ("fuselage", *fuselage_triangles(airframe)),
        ("spinner", *spinner_triangles(airframe, np.asarray(line.at), shaft)),
    ]
    if airframe.wheels is not None:
        plain.append(("wheels and legs", *wheel_triangles(airframe)))
    for name, vertices, normals, paint in plain:
        hull = name == "fuselage"
        strip = np.full(len(vertices), GLAZED if hull else NO_STRIP)
        across = below_top(airframe, vertices) if hull else np.zeros(len(vertices))
        parts.append(Part(name, vertices - cg, normals, paint, strip, across))
    hub = plane.model[L.HUB : L.HUB + 3].copy()
    span = max(2.0 * s.tip[1] for s in airframe.surfaces if s.symmetric)
    cover = canopy(airframe)
    glass = (cover.at[0] - float(cg[0]), 0.5 * cover.size[0]) if cover else (0.0, 0.0)
    return Mesh(tuple(parts), hub, shaft, float(plane.model[L.DISK_RADIUS]), float(span), glass)


# ---- lifting surfaces -------------------------------------------------------------------------------------------------
def _half(surface: Surface, side: str, first_strip: int, cg: np.ndarray) -> list[Part]:
    """The fixed part, and the flap where there is one, of one half (`side`), or of a single surface (no side)."""
    flap = surface.flap
    reach = _kept(surface)
    strip_edges = np.r_[np.linspace(0.0, reach, surface.strips + 1)[:-1], 1.0]
    cuts = set(strip_edges)
    cuts |= {1.0 - (1.0 - r) * _rounded(surface) for r in ROUND_CUTS} if surface.tip_rounding > 0.0 else set()
    if flap is not None:
        cuts |= {flap.start, flap.end}
    if surface.name == "wing":
        cuts |= {TIP_BAND, *(edge for bar in BARS for edge in bar)}
    edges = np.unique(np.round(sorted(cuts), 9))
    mirror = np.array([1.0, -1.0 if side == "left" else 1.0, 1.0])
    fixed, moving = _Soup(), _Soup()
    for inner, outer in zip(edges[:-1], edges[1:]):
        middle = 0.5 * (inner + outer)
        cell = int(np.clip(np.searchsorted(strip_edges, middle) - 1, 0, surface.strips - 1))
        low, high = strip_edges[cell], strip_edges[cell + 1]
        across = tuple((edge - low) / (high - low) for edge in (inner, outer))
        if surface.symmetric and side == "left" or not surface.symmetric:
            strip = first_strip + surface.strips - 1 - cell
        else:
            strip = first_strip + surface.strips + cell
        flapped = flap is not None and flap.start <= middle <= flap.end
        pair = [_section(surface, f, flapped) for f in (inner, outer)]
        for upper in (1, -1):
            main, tail = ([s[part, upper] * mirror - cg for s in pair] for part in ("main", "flap"))
            fixed.sheet(main, _paint(surface, side, middle, upper, False), strip, across)
            if flapped:
                moving.sheet(tail, _paint(surface, side, middle, upper, True), strip, across)
        if flapped:  # the faces on both sides of the gap
            for soup, part, at in ((fixed, "main", -1), (moving, "flap", 0)):
                lips = [np.array([s[part, 1][at], s[part, -1][at]]) * mirror - cg for s in pair]
                soup.sheet(lips, C.HATCH, int(NO_STRIP), (0.0, 0.0))
    name = f"{surface.name} {side}".strip()
    parts = [fixed.part(name)]
    if flap is not None:
        parts.append(moving.part(f"{name} {flap.name}", _control(flap.name, side), _hinge(surface, side, cg)))
    return parts


def _control(name: str, side: str) -> int:
    if name == "aileron":
        return L.AILERON_LEFT if side == "left" else L.AILERON_RIGHT
    return L.RUDDER if name == "rudder" else L.ELEVATOR


def _kept(surface: Surface) -> float:
    """The share of the span that the strips reach over: a rounded tip flies like a shorter square one."""
    square = square_tipped(surface)
    whole, kept = (np.linalg.norm(np.subtract(s.tip, s.root)[1:]) for s in (surface, square))
    return float(kept / whole)


def _rounded(surface: Surface) -> float:
    half = float(np.linalg.norm(np.subtract(surface.tip, surface.root)[1:]))
    return min(surface.tip_rounding, half) / half


def _frame(surface: Surface, fraction: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, float]:
    """Quarter-chord point, directions aft and to the upper side, and the nominal chord at a fraction of the span."""
    root, tip = np.asarray(surface.root, float), np.asarray(surface.tip, float)
    chord = surface.root_chord + fraction * (surface.tip_chord - surface.root_chord)
    quarter = root + fraction * (tip - root) - np.array([0.25 * chord, 0.0, 0.0])
    across = (tip - root) * [0.0, 1.0, 1.0]
    across = across / np.linalg.norm(across) * (1.0 if surface.symmetric else -1.0)
    angle = surface.incidence + fraction * surface.twist
    ahead = np.array([1.0, 0.0, 0.0])
    forward = math.cos(angle) * ahead + math.sin(angle) * np.cross(across, ahead)
    up = np.cross(across, forward)
    if surface.symmetric:  # ribs stand parallel to the plane of symmetry
        forward, up = forward * [1.0, 0.0, 1.0], up * [1.0, 0.0, 1.0]
        forward, up = forward / np.linalg.norm(forward), up / np.linalg.norm(up)
    return quarter, -forward, up, chord


def _flap_share(surface: Surface, fraction: float) -> float:
    flap = surface.flap
    return flap.chord_root + fraction * (flap.chord_tip - flap.chord_root)


def _section(surface: Surface, fraction: float, flapped: bool) -> dict[tuple[str, int], np.ndarray]:
    """Points from the leading edge aft of the upper (1) and lower (-1) side, of the fixed part ("main") and the flap."""
    quarter, aft, up, chord = _frame(surface, fraction)
    into = (fraction - (1.0 - _rounded(surface))) / _rounded(surface) if surface.tip_rounding > 0.0 else 0.0
    scale = math.sqrt(max(1.0 - max(into, 0.0) ** 2, 1e-3))
    hinge = 1.0 - _flap_share(surface, fraction) if surface.flap else 0.75
    end = hinge if flapped else 1.0
    cuts = {"main": end * CHORD_CUTS, "flap": np.array([hinge, 0.5 * (1.0 + hinge), 1.0])}

    def points(c: np.ndarray, side: int) -> np.ndarray:
        along = (c - 0.5) * scale + 0.25
        return quarter + np.outer(chord * along, aft) + side * np.outer(chord * scale * _half_thickness(c, surface), up)

    return {(part, side): points(c, side) for part, c in cuts.items() for side in (1, -1)}


def _half_thickness(c: np.ndarray, surface: Surface) -> np.ndarray:
    """Half the thickness over the chord: the symmetrical four-digit form, sharp at the trailing edge (NACA TR-460)."""
    t = surface.thickness
    return 5.0 * t * (0.2969 * np.sqrt(c) - 0.1260 * c - 0.3516 * c**2 + 0.2843 * c**3 - 0.1036 * c**4)


def _hinge(surface: Surface, side: str, cg: np.ndarray) -> Hinge:
    flap = surface.flap
    ends = []
    for f in (flap.start, flap.end):
        quarter, aft, _, chord = _frame(surface, f)
        ends.append(quarter + (0.75 - _flap_share(surface, f)) * chord * aft)
    inner, outer = (end * [1.0, -1.0 if side == "left" else 1.0, 1.0] for end in ends)
    axis = outer - inner if surface.symmetric and side == "right" else inner - outer
    return Hinge(inner - cg, axis / np.linalg.norm(axis))


def _paint(surface: Surface, side: str, middle: float, upper: int, flap: bool) -> C.Colour:
    if not surface.symmetric:
        return C.FIN_FLAP if flap else C.FIN
    if surface.name == "wing" and side == "right" and middle > TIP_BAND:
        return C.TIP
    if upper > 0:
        return C.TOP_FLAP if flap else C.TOP
    if surface.name == "wing" and any(low < middle < high for low, high in BARS):
        return C.BAR
    return C.BELOW_FLAP if flap else C.BELOW


class _Soup:
    """Gathers sheets of quads as triangles."""

    def __init__(self) -> None:
        self.vertices, self.normals, self.colours, self.strips, self.across = [], [], [], [], []

    def sheet(self, pair: list[np.ndarray], colour: C.Colour, strip: int, across: tuple[float, float]) -> None:
        """The quads between two rows of points."""
        a, b = pair
        along = np.gradient(a, axis=0) + np.gradient(b, axis=0)
        normal = np.cross(along, (b - a).mean(axis=0))
        normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
        for i in range(len(a) - 1):
            self.vertices.append([a[i], b[i], a[i + 1], a[i + 1], b[i], b[i + 1]])
            self.normals.append([normal[j] for j in (i, i, i + 1, i + 1, i, i + 1)])
            self.across.append([across[k] for k in (0, 1, 0, 0, 1, 1)])
            self.colours.append([colour] * 6)
            self.strips.append([float(strip)] * 6)

    def part(self, name: str, control: int = FIXED, hinge: Hinge | None = None) -> Part:
        vertices, normals, colours = (
            np.array(v, float).reshape(-1, 3) for v in (self.vertices, self.normals, self.colours)
        )
        strips, across = (np.array(v, float).ravel() for v in (self.strips, self.across))
        return Part(name, vertices, normals, colours / 255.0, strips, across, control, hinge)
