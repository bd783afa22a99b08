"""Loads inside a half of a surface: shear, bending and torsion at a cut, from the strips and the masses outboard of it.

The air's force on every strip comes from the right-hand side at a recorded state; off it goes what the masses outboard
need for their own acceleration, gravity counted as part of it (inertia relief).  A half is a straight beam along its
span, its axis through the joiner.  Bending tips up, bending tips forward and torsion leading edge up are positive on
both halves; on a fin, up reads right.

Masses are boxes, cut where the half is cut.  Those count whose outboard part lies in the planform and near the surface's
plane: a file does not say what is fixed to what.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sim import layout as L
from sim.added_mass import strips_carry
from sim.build import Plane
from sim.description import Fuselage, Item, Joiner, Surface
from sim.equations_of_motion import derivatives
from sim.frames import G, body_to_earth
from sim.lifting_surfaces import aspect_ratio, square_tipped
from sim.recording import COMMAND_AT, STATE_AT
from sim.wind import steady_share

NEAR = 0.02  # m beyond half of the thickness, for masses that stand out of a surface
BESIDE = 1.05  # of a half's length: masses and surfaces at its very tip
SHEAR, SHEAR_FORWARD, AXIAL, BENDING, BENDING_FORWARD, TORSION = range(6)


@dataclass(frozen=True)
class Half:
    """A half of a surface, or a fin, as a beam; points in m from the CG, body axes.

    `axes` (3, 3): unit vectors outboard, normal and forward.  `origin` (3,): where the beam's axis meets the plane of
    the surface's root.  Places along it count outboard from there: `rib` of the root rib, `tip`.  Its quarter-chord
    point is `root` + `slant` * place.  `strips` (n,) and the places `spans` (n, 2) between which each reaches; `beside`:
    strips of surfaces at its end.  `items` lie in it.
    """

    name: str
    surface: str
    axes: np.ndarray
    origin: np.ndarray
    rib: float
    tip: float
    root: np.ndarray
    slant: np.ndarray
    strips: np.ndarray
    spans: np.ndarray
    beside: np.ndarray
    items: tuple[Item, ...]

    @property
    def relief(self) -> float:
        """Mass outboard of the root rib (kg)."""
        return sum(part.mass for item in self.items for part in outboard(item, self, self.rib))


@dataclass(frozen=True)
class Instants:
    """What happens at recorded instants, body axes: `force`, `moment` (frames, strips, 3) of the air on strips, N and N m
    about the CG; `felt` (frames, 3) acceleration less gravity, m/s2; `rates`, `turning` (frames, 3) angular velocity and
    acceleration."""

    force: np.ndarray
    moment: np.ndarray
    felt: np.ndarray
    rates: np.ndarray
    turning: np.ndarray


# ---- geometry ------------------------------------------------------------------------------------------


def halves(plane: Plane) -> list[Half]:
    """Right and left half of every symmetric surface, and the fin."""
    surfaces = [square_tipped(surface) for surface in plane.setup.airframe.surfaces]
    others = [s for s in surfaces if not s.symmetric and s.name != "fin"]
    pairs = [(s, side) for s in surfaces if s.symmetric for side in (1.0, -1.0)]
    pairs += [(s, -1.0) for s in surfaces if s.name == "fin"]
    return [_half(plane, surface, side, others) for surface, side in pairs]


def joiner_of(plane: Plane, surface: str) -> Joiner | None:
    """The joiner of a surface, or None."""
    structure = plane.setup.airframe.structure
    return next((j for j in (structure.joiners if structure else ()) if j.surface == surface), None)


def _half(plane: Plane, surface: Surface, side: float, others: list[Surface]) -> Half:
    """The half on the right (`side` 1) or left (-1); a single surface, whose strips run from tip to root, with -1."""
    mirror = np.array([1.0, side if surface.symmetric else 1.0, 1.0])
    root, tip = np.asarray(surface.root) * mirror, np.asarray(surface.tip) * mirror
    across = np.array([0.0, tip[1] - root[1], tip[2] - root[2]])
    length = float(np.linalg.norm(across))
    out, forward = across / length, np.array([1.0, 0.0, 0.0])
    quarter = root - 0.25 * surface.root_chord * forward
    slant = (tip - root - 0.25 * (surface.tip_chord - surface.root_chord) * forward) / length
    joiner = joiner_of(plane, surface.name)
    axis_at = quarter[0] if joiner is None else joiner.x
    width, top = _fuselage_at(plane.setup.airframe.fuselage, axis_at)
    if surface.symmetric:
        rib = 0.5 * width if joiner is None or joiner.root_rib is None else joiner.root_rib
        rib = (rib - abs(root[1])) / abs(out[1])
        name = f"{surface.name} {'right' if side > 0.0 else 'left'}"
    else:
        rib, name = (top - root[2]) / out[2], surface.name
    order = np.arange(surface.strips)
    first, edges, cg = plane.strips[surface.name].start, np.linspace(0.0, length, surface.strips + 1), plane.mass.cg
    half = Half(
        name=name,
        surface=surface.name,
        axes=np.stack([out, side * np.cross(out, forward), forward]),
        origin=np.array([axis_at, root[1], root[2]]) - cg,
        rib=min(max(rib, 0.0), 0.9 * length),
        tip=length,
        root=quarter - cg,
        slant=slant,
        strips=first + (surface.strips + order if side > 0.0 else surface.strips - 1 - order),
        spans=np.stack([edges[:-1], edges[1:]], axis=1),
        beside=np.array([], dtype=int),
        items=(),
    )
    placed = [replace(item, at=tuple(np.asarray(item.at) - cg)) for item in plane.items]
    items = tuple(item for item in placed if _lies_in(item, half, surface))
    beside = [i for other in others for i in _at_the_end(half, other, plane)]
    return replace(half, items=items, beside=np.array(beside, dtype=int))


def _fuselage_at(fuselage: Fuselage, x: float) -> tuple[float, float]:
    """Width, and body z of the upper edge, at body x."""
    stations = sorted(fuselage.stations, key=lambda s: s.x)
    at = [s.x for s in stations]
    width = np.interp(x, at, [s.width for s in stations])
    return float(width), float(np.interp(x, at, [s.z - 0.5 * s.height for s in stations]))


def _at_the_end(half: Half, surface: Surface, plane: Plane) -> range:
    """Strips of a single surface that stands at the end of the half, a plate at a wing tip for example; else none."""
    part = plane.strips[surface.name]
    points = np.stack([plane.model[row + part.start : row + part.stop] for row in (L.X, L.Y, L.Z)], axis=1)
    middle = points.mean(axis=0) - half.root
    place = float(middle @ half.axes[0])
    off = middle - half.slant * place
    near = half.rib < place <= BESIDE * half.tip and max(abs(off[0]), abs(off @ half.axes[1])) < surface.root_chord
    return range(part.start, part.stop) if near else range(0)


def _lies_in(item: Item, half: Half, surface: Surface) -> bool:
    """Whether what stands out beyond the root rib lies in the planform and near the plane of the surface."""
    if (np.asarray(item.at) - half.origin) @ half.axes[0] < -NEAR:
        return False  # the other half's, whose box reaches over the middle
    for part in outboard(item, half, half.rib):
        at = np.asarray(part.at) - half.root
        place = min(float(at @ half.axes[0]), half.tip)
        chord = surface.root_chord + (surface.tip_chord - surface.root_chord) * place / half.tip
        behind = 0.25 * chord - (at - half.slant * place)[0]  # of the leading edge
        thick = 0.5 * surface.thickness * chord
        return 0.0 <= behind <= chord and abs(float(at @ half.axes[1])) <= thick + NEAR
    return False


def outboard(item: Item, half: Half, place: float) -> list[Item]:
    """What of an item (placed from the CG) lies outboard of `place`, as one smaller box; nothing beyond the half's end.

    The box is cut across the body axis that the half runs along.
    """
    axis = int(np.argmax(np.abs(half.axes[0])))
    way = half.axes[0][axis]
    middle, wide = (item.at[axis] - half.origin[axis]) / way, item.size[axis] / abs(way)
    low, high = max(middle - 0.5 * wide, place), middle + 0.5 * wide
    if high <= place or low > BESIDE * half.tip:
        return []
    at, size = list(item.at), list(item.size)
    at[axis] += (0.5 * (low + high) - middle) * way
    size[axis] = (high - low) * abs(way)
    share = (high - low) / wide if wide > 0.0 else 1.0
    return [replace(item, mass=item.mass * share, at=tuple(at), size=tuple(size))]


# ---- recorded instants -------------------------------------------------------------------------------------


def instants(plane: Plane, rows: np.ndarray) -> Instants:
    """What the air does to every strip, and how the plane moves, at recorded `rows` (frames, recording.ROW).

    Air that is carried along (`sim.added_mass`) pushes back on each strip when that accelerates along its normal.
    """
    model, dx, n = plane.model.copy(), np.zeros(L.STATE), int(plane.model[L.N_STRIPS])
    states = np.ascontiguousarray(rows[:, STATE_AT : STATE_AT + L.STATE])
    commands = np.ascontiguousarray(rows[:, COMMAND_AT : COMMAND_AT + L.COMMAND])
    change, loads = np.zeros((len(rows), L.STATE)), np.zeros((len(rows), L.LZ + L.PAD - L.RX))
    for k, (x, command) in enumerate(zip(states, commands)):
        derivatives(x, command, model, plane.table, dx)
        change[k], loads[k] = dx, model[L.RX : L.LZ + L.PAD]

    def of_strips(*scratch: int) -> np.ndarray:
        return np.stack([loads[:, row - L.RX : row - L.RX + n] for row in scratch], axis=2)

    rates, velocity = states[:, L.RATES : L.RATES + 3], states[:, L.VELOCITY : L.VELOCITY + 3]
    turn = np.array([body_to_earth(*x[L.QUATERNION : L.QUATERNION + 4]) for x in states]).reshape(-1, 3, 3)
    wind = np.array([steady_share(model, -x[L.POSITION + 2]) for x in states])[:, None] * model[L.WIND : L.WIND + 3]
    accelerated, turning = change[:, L.VELOCITY : L.VELOCITY + 3], change[:, L.RATES : L.RATES + 3]
    felt = accelerated + np.cross(rates, velocity) - G * turn[:, 2]
    through = accelerated + np.cross(
        rates, np.einsum("fji,fj->fi", turn, wind)
    )  # of the velocity through the steady air
    mass, middle, normal = strips_carry(model, _aspects(plane))
    along = ((through[:, None] + np.cross(turning[:, None], middle)) * normal).sum(axis=2)
    held_back = -(mass * along)[:, :, None] * normal
    force = of_strips(L.RX, L.RY, L.RZ) + held_back
    moment = of_strips(L.LX, L.LY, L.LZ) + np.cross(middle, held_back)
    return Instants(force, moment, felt, rates, turning)


def _aspects(plane: Plane) -> np.ndarray:
    """Aspect ratio of the surface of each strip, (strips,)."""
    aspects = np.zeros(int(plane.model[L.N_STRIPS]))
    for surface in plane.setup.airframe.surfaces:
        aspects[plane.strips[surface.name]] = aspect_ratio(square_tipped(surface))
    return aspects


# ---- loads ------------------------------------------------------------------------------------------------------


def section_loads(plane: Plane, half: Half, now: Instants, place: float | None = None) -> np.ndarray:
    """Loads (frames, 6) that the part outboard of `place` (None: the root rib) puts on the rest.

    N: shear up, shear forward, pull outwards; N m about the beam's axis there: bending tips up, bending tips forward,
    torsion leading edge up.
    """
    place = half.rib if place is None else place
    point = half.origin + place * half.axes[0]
    force, moment = _air(plane, half, now, place, point)
    for item in half.items:
        for part in outboard(item, half, place):
            pull, turn = inertia_loads(part, now)
            force += pull
            moment += turn + np.cross(np.asarray(part.at) - point, pull)
    out, normal, forward = half.axes
    arms = (normal, forward, out, np.cross(out, normal), np.cross(out, forward), np.cross(forward, normal))
    parts = (force, force, force, moment, moment, moment)
    return np.stack([vector @ arm for vector, arm in zip(parts, arms)], axis=1)


def _air(plane: Plane, half: Half, now: Instants, place: float, point: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The air's force and moment about `point` (frames, 3) outboard of `place`; a cut strip's load is spread evenly."""
    rows = [plane.model[row : row + int(plane.model[L.N_STRIPS])] for row in (L.X, L.Y, L.Z)]
    at = np.stack(rows, axis=1)
    spans = half.spans
    share = np.clip((spans[:, 1] - place) / (spans[:, 1] - spans[:, 0]), 0.0, 1.0)
    middle = 0.5 * (np.clip(place, spans[:, 0], spans[:, 1]) + spans[:, 1])
    strips = np.r_[half.strips, half.beside]
    share = np.r_[share, np.ones(len(half.beside))]
    where = np.vstack([half.root + middle[:, None] * half.slant, at[half.beside]])
    push = now.force[:, strips]
    couple = now.moment[:, strips] - np.cross(at[strips], push)
    turn = couple + np.cross(where - point, push)
    return np.einsum("s,fsk->fk", share, push), np.einsum("s,fsk->fk", share, turn)


def inertia_loads(item: Item, now: Instants) -> tuple[np.ndarray, np.ndarray]:
    """Force and moment about its own middle (frames, 3) of an item (placed from the CG) that goes with the plane."""
    arm = np.asarray(item.at)
    moved = now.felt + np.cross(now.turning, arm) + np.cross(now.rates, np.cross(now.rates, arm))
    a, b, c = item.size
    own = item.mass / 12.0 * np.array([b * b + c * c, a * a + c * c, a * a + b * b])
    return -item.mass * moved, -(own * now.turning + np.cross(now.rates, own * now.rates))
