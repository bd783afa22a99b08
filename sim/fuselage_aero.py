"""Fuselage and bluff parts: slender-body (Munk) force where the section grows, cross-flow drag, friction.

Each slice sees its own velocity.  Potential force -rho u w dA on the vertical added-mass
area and likewise to the side (Munk, NACA TR-184, 1924).  Cross-flow drag by Jorgensen's
method (NASA TR R-474, 1977).

How sharp the corners are decides two things more, and the drag across the flow tells it: a box
has more added mass than the ellipse in it (Newman, Marine Hydrodynamics, 1977, from memory), and
behind the thickest section the flow leaves sharp edges as it leaves a low-aspect-ratio wing
(Jones, NACA TR-835, 1946), so that no negative force is left there; a rounded body keeps
part of it.
"""

from __future__ import annotations

import math

import numpy as np

from sim import layout as L
from sim.compiled import kernel
from sim.description import DragBody, Fuselage, FuselageStation
from sim.slipstream import jet_at

STERN_SHARE = (
    0.4  # of the potential force where a rounded body narrows (common practice, no source); none with sharp corners
)
ROUNDED, SHARP = (
    1.2,
    2.0,
)  # drag coefficients of an endless square cylinder, corner radii 0.17 and 0.02 of the side (Hoerner)
BOX, BOX_POWER = 1.51, 0.16  # added mass of a square over that of a circle, and how it goes with depth over breadth
LENGTH_FACTOR = 0.66  # cross-flow drag of a body of length 8 diameters over an endless one, TR R-474 (from memory)
FRICTION = 0.006  # on wetted area, turbulent with gaps and hatches (common practice, no source)


FULLNESS = 0.85  # section area over width times height: between an ellipse and a box


def section_area(fuselage: Fuselage, x):
    """Cross-section area (m2) at body `x`, one or many; 0 off the ends."""
    stations = sorted(fuselage.stations, key=lambda s: s.x)
    places = [s.x for s in stations]
    width = np.interp(x, places, [s.width for s in stations], left=0.0, right=0.0)
    height = np.interp(x, places, [s.height for s in stations], left=0.0, right=0.0)
    return FULLNESS * width * height


def _added_area(breadth: float, depth: float, sharp: float) -> float:
    """Added mass per length over density, for motion across the breadth: between an ellipse (`sharp` 0) and a box (1)."""
    if breadth <= 0.0:
        return 0.0
    box = max(1.0, BOX * (depth / breadth) ** BOX_POWER)
    return math.pi / 4.0 * breadth**2 * (1.0 + sharp * (box - 1.0))


def _vertical(station: FuselageStation, sharp: float) -> float:
    return _added_area(station.width, station.height, sharp)


def _lateral(station: FuselageStation, sharp: float) -> float:
    return _added_area(station.height, station.width, sharp)


def place_bodies(fuselage: Fuselage, bodies: tuple[DragBody, ...], cg: np.ndarray, model: np.ndarray) -> None:
    """Write fuselage slices and drag bodies into `model`, where the strips are already.  Raises ValueError when there are too many."""
    stations = fuselage.stations
    count = len(stations) - 1
    if count + len(bodies) > L.BODIES:
        raise ValueError(f"more than {L.BODIES} fuselage slices and drag bodies")
    sharp = min(1.0, max(0.0, (fuselage.cross_flow_drag - ROUNDED) / (SHARP - ROUNDED)))
    model[L.FUSELAGE_CROSS_DRAG] = fuselage.cross_flow_drag * LENGTH_FACTOR
    for i, (front, back) in enumerate(zip(stations[:-1], stations[1:])):
        at = (0.5 * (front.x + back.x) - cg[0], -cg[1], 0.5 * (front.z + back.z) - cg[2])
        model[L.BODY_X + i], model[L.BODY_Y + i], model[L.BODY_Z + i] = at
        model[L.BODY_LENGTH + i] = front.x - back.x
        model[L.BODY_WIDTH + i] = 0.5 * (front.width + back.width)
        model[L.BODY_HEIGHT + i] = 0.5 * (front.height + back.height)
        model[L.BODY_BLOCKED + i] = section_area(fuselage, 0.5 * (front.x + back.x)) / math.pi
        for row, mean, added in (
            (L.BODY_GROWTH_V, L.BODY_ADDED_V, _vertical),
            (L.BODY_GROWTH_L, L.BODY_ADDED_L, _lateral),
        ):
            model[mean + i] = 0.5 * (added(back, sharp) + added(front, sharp))
            growth = added(back, sharp) - added(front, sharp)
            model[row + i] = growth if growth > 0.0 else STERN_SHARE * (1.0 - sharp) * growth
    n = int(model[L.N_STRIPS])
    model[L.BLOCKED : L.BLOCKED + n] = section_area(fuselage, model[L.VX : L.VX + n] + cg[0]) / math.pi
    ends = (stations[0].x, -0.5 * (stations[0].x - stations[-1].x) + stations[0].x, stations[-1].x)
    for front, back in zip(ends[:-1], ends[1:]):
        _place_panel(fuselage, front, back, cg, model)
    first = stations[0]
    model[L.BODY_GROWTH_V] += _vertical(first, sharp)  # the blunt nose
    model[L.BODY_GROWTH_L] += _lateral(first, sharp)
    for j, body in enumerate(bodies, start=count):
        for row, value, offset in zip((L.BODY_X, L.BODY_Y, L.BODY_Z), body.at, cg):
            model[row + j] = value - offset
        for row, area in zip((L.BODY_DRAG_X, L.BODY_DRAG_Y, L.BODY_DRAG_Z), body.drag_area):
            model[row + j] = area
    model[L.N_FUSELAGE], model[L.N_BODIES] = count, count + len(bodies)


def _place_panel(fuselage: Fuselage, front: float, back: float, cg: np.ndarray, model: np.ndarray) -> None:
    """The length of fuselage from body x `front` to `back` as a panel that sheds a wake (`sim.blanketing`)."""
    k = int(model[L.N_PANELS])
    if k >= L.PANELS:
        return
    model[L.N_PANELS] = k + 1
    places = np.linspace(back, front, 21)
    stations = sorted(fuselage.stations, key=lambda s: s.x)
    at = [s.x for s in stations]
    width, height, middle = (
        float(np.mean(np.interp(places, at, [getattr(s, name) for s in stations]))) for name in ("width", "height", "z")
    )
    centre = (0.5 * (front + back) - cg[0], -cg[1], middle - cg[2])
    model[L.PANEL_X + k], model[L.PANEL_Y + k], model[L.PANEL_Z + k] = centre
    model[L.PANEL_SX + k] = 1.0
    model[L.PANEL_HALF + k] = 0.5 * (front - back)
    model[L.PANEL_CHORD + k], model[L.PANEL_NX + k] = width, height
    model[L.PANEL_DRAG + k] = fuselage.cross_flow_drag * LENGTH_FACTOR
    model[L.PANEL_SURFACE + k] = -2.0


@kernel
def load_bodies(m, u, v, w, p, q, r, rho, cx, cy, cz, axial, w0):
    """Force and moment of every body, into the scratch rows.

    `u`..`r` as in `load_strips`; `c`, `axial`, `w0` describe the slipstream as in `jet_at`.  Fuselage slices have
    no drag areas of their own and drag bodies no length and growth, so one loop without a branch serves both.
    """
    ux, uy, uz = m[L.SHAFT], m[L.SHAFT + 1], m[L.SHAFT + 2]
    hx, hy, hz = m[L.HUB], m[L.HUB + 1], m[L.HUB + 2]
    radius = m[L.DISK_RADIUS]
    blowing = min(1.0, max(0.0, axial + w0))
    half_rho = 0.5 * rho
    slice_drag = half_rho * m[L.FUSELAGE_CROSS_DRAG]
    for i in range(L.BODIES):
        px, py, pz = m[L.BODY_X + i], m[L.BODY_Y + i], m[L.BODY_Z + i]
        width, height, length = m[L.BODY_WIDTH + i], m[L.BODY_HEIGHT + i], m[L.BODY_LENGTH + i]
        jet, inside, ox, oy, oz, local2, through = jet_at(
            px - hx, py - hy, pz - hz,
            ux, uy, uz, cx, cy, cz, radius, axial, w0, blowing, 0.25 * (width + height), m[L.BODY_BLOCKED + i],
        )  # fmt: skip
        vx = u + q * pz - r * py + ux * jet - m[L.BODY_GX + i]
        vy = v + r * px - p * pz + uy * jet - m[L.BODY_GY + i]
        vz = w + p * py - q * px + uz * jet - m[L.BODY_GZ + i]
        speed = math.sqrt(vx * vx + vy * vy + vz * vz)
        drag = slice_drag * length * math.sqrt(vy * vy + vz * vz)
        skin = rho * FRICTION * (width + height) * length * speed
        push = half_rho * speed
        fx = -(skin + push * m[L.BODY_DRAG_X + i]) * vx
        fy = -(rho * vx * m[L.BODY_GROWTH_L + i] + drag * height + skin + push * m[L.BODY_DRAG_Y + i]) * vy
        fz = -(rho * vx * m[L.BODY_GROWTH_V + i] + drag * width + skin + push * m[L.BODY_DRAG_Z + i]) * vz
        m[L.BODY_FX + i] = fx
        m[L.BODY_FY + i] = fy
        m[L.BODY_FZ + i] = fz
        m[L.BODY_TX + i] = py * fz - pz * fy
        m[L.BODY_TY + i] = pz * fx - px * fz
        m[L.BODY_TZ + i] = px * fy - py * fx
