"""Lifting surfaces as strips: their geometry and influence blocks, and the kernel that loads every strip.

Strips run from the left tip to the right tip of a symmetric surface and from the tip
to the root of a single one, so that normal = span x forward points up on a wing and
right on a fin, and a positive flap deflection (ISO 1151: trailing edge down, or left)
always raises the load along the normal.

A strip's vortex runs along its quarter-chord line and back along the chord to the trailing
edge, fixed to the body, and then downstream (`sim.induced_velocity`).  Legs that left
the quarter-chord line along the flow would cross the strip's own three-quarter-chord
point in sideslip, and the circulation would turn into a sawtooth.

The flow is met at the three-quarter-chord point and the load acts at the quarter-chord
point (Pistolesi; Weissinger, NACA TM-1120, 1947).  Induced velocity there includes the
strip's own bound leg, less what an endless bound vortex gives (circulation / pi chord),
which the section's lift slope contains already.  This makes slopes of low-aspect-ratio
and swept surfaces right and gives the load due to rotation.  Leading-edge suction, and so
induced drag, takes the smaller downwash at the bound leg: its ratio to that at the
three-quarter-chord point is solved once for each surface in straight flight.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np

from sim import layout as L
from sim.compiled import kernel
from sim.description import Surface
from sim.section_aero import (
    BREAK_WIDTH_PER_THICKNESS,
    LIFT_SLOPE,
    attached_share,
    flap_load,
    glauert_effectiveness,
    glauert_hinge_moment,
    hinge_moment,
    section_loads,
    steady_separation,
)

PARTS_BY_NAME = {"stabiliser": L.STABILISER, "fin": L.FIN}
CORE = 0.5  # core of a trailing leg as other surfaces see it, over the width of its strips: the legs stand for a sheet
NEAR_CORE = 0.01  # m, within one surface
CIRCULATION_LAG = 3.0  # chords travelled (half of it by the bound vortex: Wagner's lag is about as long)
# Chords travelled: Leishman and Beddoes T_P + T_f + T_v = 10.7 semi-chords; pitching tests of a section ask for 12.
SEPARATION_LAG = 5.0
# Normal force of one tip's edge vortex over q chord^2 sin^2(alpha) cos(alpha): half of Hoerner's square plates of A 1,
# Fluid-Dynamic Lift, chapter 17 (from memory); half of it where the tip is rounded (common practice, no source).
SIDE_EDGE_LIFT = 0.8
STILL = 2.0  # m/s added to the local speed in both lags, so that still air relaxes too


@lru_cache(maxsize=256)
def square_tipped(surface: Surface) -> Surface:
    """The square-tipped surface that flies like one with rounded tips.

    A quarter ellipse over the last r of the span has the area of a square end (1 - pi / 4) r shorter, and there the
    tip vortex leaves (effective span; Hoerner, Fluid-Dynamic Drag, chapter 7, from memory).
    """
    half = math.hypot(surface.tip[1] - surface.root[1], surface.tip[2] - surface.root[2])
    kept = 1.0 - (1.0 - math.pi / 4.0) * min(surface.tip_rounding, half) / half
    root, tip = np.asarray(surface.root), np.asarray(surface.tip)
    chord = surface.root_chord + kept * (surface.tip_chord - surface.root_chord)
    return replace(surface, tip=tuple(root + kept * (tip - root)), tip_chord=chord)


def _strip_edges(surface: Surface) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Leading-edge points (n + 1, 3), chords and span fractions (n + 1,) of the strip edges, in strip order."""
    fraction = np.linspace(0.0, 1.0, surface.strips + 1)
    root, tip = np.asarray(surface.root, float), np.asarray(surface.tip, float)
    edge = root + fraction[:, None] * (tip - root)
    chord = surface.root_chord + fraction * (surface.tip_chord - surface.root_chord)
    if not surface.symmetric:
        return edge[::-1], chord[::-1], fraction[::-1]
    mirrored = edge[:0:-1] * np.array([1.0, -1.0, 1.0])
    return np.vstack([mirrored, edge]), np.r_[chord[:0:-1], chord], np.r_[fraction[:0:-1], fraction]


def place_surfaces(surfaces: tuple[Surface, ...], cg: np.ndarray, model: np.ndarray) -> dict[str, slice]:
    """Write strip rows, nodes and influence blocks of `surfaces` into `model`; returns the strips of each surface.

    The surface called "wing" has to come first.  Raises ValueError when there are more
    than `layout.PAD` strips.
    """
    placed, strips = _placed(surfaces)
    for rows in (slice(L.X, L.BODY_X), slice(L.PANEL_X, L.GAMMA), *(slice(at, at + 1) for at in _COUNTS)):
        model[rows] = placed[rows]
    for place, count in (
        ((L.X, L.Y, L.Z), L.N_STRIPS),
        ((L.VX, L.VY, L.VZ), L.N_STRIPS),
        ((L.NODE_X, L.NODE_Y, L.NODE_Z), L.N_NODES),
        ((L.PANEL_X, L.PANEL_Y, L.PANEL_Z), L.N_PANELS),
    ):
        for row, offset in zip(place, cg):
            model[row : row + int(model[count])] -= offset
    return dict(strips)


_COUNTS = (L.N_STRIPS, L.N_NODES, L.N_PANELS, L.STIFFNESS)


@lru_cache(maxsize=8)
def _placed(surfaces: tuple[Surface, ...]) -> tuple[np.ndarray, dict[str, slice]]:
    """As `place_surfaces`, about the wing root leading edge: kept, for a CG only shifts it."""
    model = np.zeros(L.SIZE)
    strips: dict[str, slice] = {}
    bound_nodes, nodes, chain_of_node, cores, before, after, panels = [], [], [], [], [], [], []
    count = 0
    for chain, surface in enumerate(surfaces):
        edge, chord, fraction = _strip_edges(surface)
        n = len(edge) - 1
        if count + n > L.PAD or len(nodes) + n + 1 > L.NODES:
            raise ValueError(f"more than {L.PAD} strips")
        rows = np.arange(count, count + n)
        aspect = aspect_ratio(surface)
        plate = 1.11 + 0.018 * min(aspect, 50.0)  # Viterna and Corrigan, NASA CP-2230: broadside drag of a finite wing
        local = 0.5 * (chord[:-1] + chord[1:])
        quarter = edge - np.outer(0.25 * chord, [1.0, 0.0, 0.0])
        across = (quarter[1:] - quarter[:-1]) * [0.0, 1.0, 1.0]  # strips are cut parallel to the plane of symmetry
        width = np.sqrt((across * across).sum(axis=1))
        across /= width[:, None]
        angle = surface.incidence + 0.5 * (fraction[:-1] + fraction[1:]) * surface.twist
        ahead = np.array([1.0, 0.0, 0.0])
        forward = np.cos(angle)[:, None] * ahead + np.sin(angle)[:, None] * _cross(across, ahead)
        normal = _cross(across, forward)
        at = 0.5 * (quarter[:-1] + quarter[1:])
        met = at - 0.5 * local[:, None] * forward
        for first, vectors in ((L.X, at), (L.VX, met), (L.FX, forward), (L.NX, normal), (L.SX, across)):
            for axis in range(3):
                model[first + axis * L.PAD + rows] = vectors[:, axis]
        model[L.CHORD + rows] = local
        model[L.AREA + rows] = local * width
        model[L.HALF_WIDTH + rows] = 0.5 * width
        # alternating circulation +-G: two legs of 2 G a node, 1 - 1/3 + 1/5 ... = pi / 4 of the nearest; w = G / width
        model[L.FEEDBACK + rows] = 1.0 + 0.5 * LIFT_SLOPE * local / width
        model[L.LIFT_SLOPE + rows] = LIFT_SLOPE
        model[L.PLATE_NORMAL + rows] = plate
        sharp = 1.0 - 0.5 * min(1.0, surface.tip_rounding / (0.25 * surface.tip_chord))
        for i in (0, n - 1) if surface.symmetric else (0,):
            model[L.SIDE_EDGE + count + i] = sharp * SIDE_EDGE_LIFT * surface.tip_chord**2 / (local[i] * width[i])
        model[L.BREAK_WIDTH + rows] = BREAK_WIDTH_PER_THICKNESS * surface.thickness
        model[L.SPAN_REACH + rows] = (edge[:-1, 0] - chord[:-1]) - (edge[1:, 0] - chord[1:])
        model[L.LEG_ARM + rows] = 0.75 * (chord[:-1] + chord[1:]) * 0.5 * width
        model[L.SURFACE + rows] = chain
        model[L.FLAP_LOAD + rows] = flap_load(aspect)
        for i in range(n):
            model[L.PART + count + i] = _part(surface, at[i, 1])
            _place_flap(surface, sorted((fraction[i], fraction[i + 1])), at[i, 1], count + i, model)
        plan = replace(surface, name="", incidence=0.0, twist=0.0, flap=None)
        model[L.SUCTION_GAIN + rows] = 1.0 - _downwash_ratio(plan)
        bound_nodes.append(quarter)
        nodes += list(edge - np.outer(chord, [1.0, 0.0, 0.0]))
        chain_of_node += [chain] * (n + 1)
        cores += [CORE * float(np.mean(width))] * (n + 1)
        before += [L.PAD, *rows]
        after += [*rows, L.PAD]
        panels += [(part, chain, plate) for part in np.array_split(rows, _panels_of(surface))]
        strips[surface.name] = slice(count, count + n)
        count += n
    model[L.N_STRIPS], model[L.N_NODES] = count, len(nodes)
    model[L.SURFACE + count : L.SURFACE + L.PAD] = -1.0
    for row in (L.CHORD, L.LIFT_SLOPE, L.PLATE_NORMAL, L.BREAK_WIDTH, L.FEEDBACK, L.FLAP_LOAD):
        model[row + count : row + L.PAD] = 1.0  # harmless values in the padding; its area is zero
    model[L.FX + count : L.FX + L.PAD] = 1.0
    rows = slice(0, count)
    model[L.STIFFNESS] = (model[L.FEEDBACK :][rows] / (CIRCULATION_LAG * model[L.CHORD :][rows])).max()
    model[L.NODE_BEFORE : L.NODE_BEFORE + len(nodes)] = before
    model[L.NODE_AFTER : L.NODE_AFTER + len(nodes)] = after
    _place_panels(panels[: L.PANELS], model)  # surfaces beyond those cast no shadow
    _place_influence(np.array(nodes), np.vstack(bound_nodes), np.array(chain_of_node), np.array(cores), model)
    return model, strips


def _panels_of(surface: Surface) -> int:
    """How many panels shed its separated wake: two a wing half, one a half of any other surface."""
    return (4 if surface.name == "wing" else 2) if surface.symmetric else 1


def _place_panels(panels: list[tuple[np.ndarray, int, float]], model: np.ndarray) -> None:
    """The flat panels that stand in `sim.blanketing` for some neighbouring strips each: strips, surface, drag broadside."""
    n, p = int(model[L.N_STRIPS]), len(panels)
    share = np.zeros((p, n))
    for k, (strips, chain, plate) in enumerate(panels):
        area, half = model[L.AREA + strips], float(model[L.HALF_WIDTH + strips].sum())
        share[k, strips] = area / area.sum()
        model[L.PANEL_HALF + k] = half
        model[L.PANEL_CHORD + k] = float(area.sum()) / (2.0 * half)
        model[L.PANEL_DRAG + k] = plate
        model[L.PANEL_FIRST + k], model[L.PANEL_LAST + k] = strips[0], strips[-1] + 1
        model[L.PANEL_SURFACE + k] = chain
    for row, a, b in ((L.PANEL_X, L.X, L.VX), (L.PANEL_SX, L.SX, L.SX), (L.PANEL_NX, L.NX, L.NX)):
        for axis in range(0, 3 * L.PAD, L.PAD):  # the middle lies half way between quarter and three quarters
            at = row + axis // L.PAD * L.PANELS
            model[at : at + p] = share @ (0.5 * (model[a + axis :][:n] + model[b + axis :][:n]))
    model[L.N_PANELS] = p


@lru_cache(maxsize=64)
def _downwash_ratio(plan: Surface) -> float:
    """Load-weighted downwash at the bound legs over that at the three-quarter-chord points, surface alone, small alpha."""
    edge, chord, _ = _strip_edges(plan)
    nodes = edge - np.outer(0.25 * chord, [1.0, 0.0, 0.0])
    bound = 0.5 * (nodes[1:] + nodes[:-1])
    local = 0.5 * (chord[1:] + chord[:-1])
    normal = _cross((nodes[1:] - nodes[:-1]) * [0.0, 1.0, 1.0], np.array([1.0, 0.0, 0.0]))
    normal /= np.linalg.norm(normal, axis=1)[:, None]

    def wash(points, with_bound):
        ends = _endless_leg(points, nodes, np.array([-1.0, 0.0, 0.0]))
        velocity = ends[1:] - ends[:-1]
        if with_bound:
            velocity += _leg(points, nodes[:-1], nodes[1:], 0.0)
        return (velocity * normal).sum(axis=2).T

    at_three_quarter = wash(bound - np.outer(0.5 * local, [1.0, 0.0, 0.0]), True) + np.diag(1.0 / (math.pi * local))
    at_bound = wash(bound, False)
    circulation = np.linalg.solve(np.diag(2.0 / (LIFT_SLOPE * local)) - at_three_quarter, np.ones(len(local)))
    return float((circulation @ at_bound @ circulation) / (circulation @ at_three_quarter @ circulation))


def aspect_ratio(surface: Surface) -> float:
    """Span squared over area, both halves together; a single surface for itself."""
    span = math.hypot(surface.tip[1] - surface.root[1], surface.tip[2] - surface.root[2])
    mean = 0.5 * (surface.root_chord + surface.tip_chord)
    return (2.0 if surface.symmetric else 1.0) * span / mean


def _part(surface: Surface, y: float) -> int:
    if surface.name == "wing":
        return L.WING_RIGHT if y > 0.0 else L.WING_LEFT
    return PARTS_BY_NAME.get(surface.name, L.OTHER)


def _place_flap(surface: Surface, between: list[float], y: float, k: int, model: np.ndarray) -> None:
    flap = surface.flap
    if flap is None:
        return
    low, high = between
    covered = max(0.0, min(high, flap.end) - max(low, flap.start)) / (high - low)
    mid = 0.5 * (low + high)
    fraction = flap.chord_root + mid * (flap.chord_tip - flap.chord_root)
    control = {"elevator": L.ELEVATOR, "rudder": L.RUDDER}.get(flap.name)
    if control is None:
        control = L.AILERON_RIGHT if y > 0.0 else L.AILERON_LEFT
    model[L.FLAP_TAU + k] = covered * glauert_effectiveness(fraction)
    model[L.FLAP_CHORD + k] = covered * fraction
    model[L.HINGE_SCALE + k] = covered * fraction * fraction * model[L.CHORD + k] * model[L.AREA + k]
    model[L.HINGE_ALPHA + k], model[L.HINGE_DELTA + k] = glauert_hinge_moment(fraction)
    model[L.CONTROL + k] = control


def _place_influence(nodes, bound_nodes, chain_of_node, cores, model) -> None:
    """Influence blocks of the strips in `model`, from trailing-edge `nodes` (k, 3) and `bound_nodes` on the quarter-chord lines."""
    n, k = int(model[L.N_STRIPS]), len(nodes)
    meeting, forward, normal = (
        np.stack([model[row : row + n] for row in rows], axis=1)
        for rows in ((L.VX, L.VY, L.VZ), (L.FX, L.FY, L.FZ), (L.NX, L.NY, L.NZ))
    )
    for row, values in zip((L.NODE_X, L.NODE_Y, L.NODE_Z), nodes.T):
        model[row : row + k] = values
    chord, chain = model[L.CHORD : L.CHORD + n], model[L.SURFACE : L.SURFACE + n]
    own = chain == chain_of_node[:, None]
    off = meeting - nodes[:, None]
    reach = np.sqrt(_dot(off, off))
    model[L.REACH_CORE : L.REACH_CORE + L.NODES * L.PAD] = (
        1.0  # no division by zero where there is neither node nor strip
    )
    core = np.where(own, NEAR_CORE, cores[:, None])
    for block, values in (
        (L.REACH, reach),
        (L.REACH_CORE, reach**2 + core**2),
        (L.STALL_CORE, np.where(own, (0.5 * chord) ** 2, 0.0)),
    ):
        model[block : block + L.NODES * L.PAD].reshape(L.NODES, L.PAD)[:k, :n] = values
    # what is fixed to the body: strip j's bound leg, and its two legs along the chord to the trailing edge
    here = np.flatnonzero(model[L.NODE_AFTER : L.NODE_AFTER + k] < L.PAD)  # the node before each strip
    path = (nodes[here], bound_nodes[here], bound_nodes[here + 1], nodes[here + 1])
    velocity = sum(_leg(meeting, start, end, core[here]) for start, end in zip(path[:-1], path[1:]))
    # the normal points up where an endless vortex gives downwash
    velocity[np.arange(n), np.arange(n)] += normal / (math.pi * chord)[:, None]
    for block, along in ((L.BOUND_F, forward), (L.BOUND_N, normal)):
        model[block : block + L.PAD * L.PAD].reshape(L.PAD, L.PAD)[:n, :n] = _dot(velocity, along)


def _cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Vector products over the last axis."""
    out = np.empty(np.broadcast_shapes(a.shape, b.shape))
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        out[..., i] = a[..., j] * b[..., k] - a[..., k] * b[..., j]
    return out


def _dot(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Scalar products over the last axis."""
    return a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1] + a[..., 2] * b[..., 2]


def _leg(points: np.ndarray, start: np.ndarray, end: np.ndarray, core) -> np.ndarray:
    """Velocity (m, n, 3) at `points` (n, 3) from straight vortices of unit circulation (Biot and Savart), `start` and `end`
    (m, 3), with a `core` (m, n)."""
    a, b, leg = points - start[:, None], points - end[:, None], (end - start)[:, None]
    across = _cross(a, b)
    size = _dot(across, across) + np.asarray(core) ** 2 * _dot(leg, leg)
    turn = _dot(a, leg) / np.sqrt(_dot(a, a)) - _dot(b, leg) / np.sqrt(_dot(b, b))
    return across * (turn / size / (4.0 * math.pi))[..., None]


def _endless_leg(points: np.ndarray, start: np.ndarray, along: np.ndarray) -> np.ndarray:
    """Velocity (m, n, 3) at `points` (n, 3) from half-infinite vortices of unit circulation that leave `start` (m, 3) along a
    unit vector."""
    a = points - start[:, None]
    reach = np.sqrt(_dot(a, a))
    return _cross(along, a) / (reach * (reach - a @ along) * 4.0 * math.pi)[..., None]


@kernel
def load_strips(m, u, v, w, p, q, r, rho):
    """Force, moment, and the rates of circulation and separation of every strip, into the scratch rows.

    `u`..`r` are body velocity through the steady air (m/s) and body rates (rad/s) relative to it.  The rows of
    slipstream and gust, swirl, induced velocity and flap position must be filled already.
    """
    for i in range(L.PAD):
        px, py, pz = m[L.VX + i], m[L.VY + i], m[L.VZ + i]
        # strip velocity through the air: body motion less what the air does there
        vx = u + q * pz - r * py - m[L.AX + i] - m[L.WX + i] - m[L.E0 + i]
        vy = v + r * px - p * pz - m[L.AY + i] - m[L.WY + i] - m[L.E1 + i]
        vz = w + p * py - q * px - m[L.AZ + i] - m[L.WZ + i] - m[L.E2 + i]
        along = vx * m[L.FX + i] + vy * m[L.FY + i] + vz * m[L.FZ + i] - m[L.IF + i]
        from_edge = m[L.JET_EDGE + i] * m[L.GAMMA + i]
        into = -(vx * m[L.NX + i] + vy * m[L.NY + i] + vz * m[L.NZ + i] - m[L.IN + i]) - from_edge
        speed2 = along * along + into * into + 1.0e-4
        speed = math.sqrt(speed2)
        sin_a = into / speed
        cos_a = along / speed
        chord = m[L.CHORD + i]
        f = m[L.SEPARATED + i]
        turn = m[L.FLAP_TURN + i]
        slope = m[L.LIFT_SLOPE + i]
        speed_chord = speed * chord
        # leading-edge suction belongs to the flow at the bound vortex, where less downwash acts
        induced = m[L.E0 + i] * m[L.NX + i] + m[L.E1 + i] * m[L.NY + i] + m[L.E2 + i] * m[L.NZ + i] + m[L.IN + i]
        sin_s = (into + from_edge - m[L.SUCTION_GAIN + i] * induced) / speed
        normal, chordwise, drag, moment = section_loads(
            sin_a, cos_a, sin_s, f, speed_chord, slope, m[L.PLATE_NORMAL + i],
            turn, m[L.FLAP_CHORD + i], m[L.FLAP_SIN + i], m[L.FLAP_COS + i],
        )  # fmt: skip
        hinge = hinge_moment(
            sin_a, cos_a, f, m[L.HINGE_ALPHA + i], m[L.HINGE_DELTA + i], m[L.PLATE_NORMAL + i],
            m[L.FLAP_SIN + i], m[L.FLAP_COS + i],
        )  # fmt: skip
        m[L.HINGE + i] = 0.5 * rho * speed2 * m[L.HINGE_SCALE + i] * hinge
        f_steady = steady_separation(sin_a, cos_a, speed_chord, m[L.BREAK_WIDTH + i], turn)
        pressure = 0.5 * rho * m[L.AREA + i]
        push = pressure * speed2
        friction = pressure * drag * math.sqrt(vx * vx + vy * vy + vz * vz)
        # the flow that rolls up over a tip is the one that the vortices of the surfaces have not turned yet
        sin_free = (into + from_edge - induced) / speed
        bound = 0.5 * chord * (normal * along + chordwise * into)
        # half of a change of load comes at once, half with the circulation (Wagner 1925)
        normal += (m[L.GAMMA + i] - bound) / (chord * speed)
        normal += m[L.SIDE_EDGE + i] * attached_share(f) * sin_free * abs(sin_free) * max(cos_a, 0.0)
        rx = push * (normal * m[L.NX + i] + chordwise * m[L.FX + i]) - friction * vx
        ry = push * (normal * m[L.NY + i] + chordwise * m[L.FY + i]) - friction * vy
        rz = push * (normal * m[L.NZ + i] + chordwise * m[L.FZ + i]) - friction * vz
        # the flow along the span loads the bound vortex by its reach aft, and its legs along the chord against each other
        span = rho * m[L.GAMMA + i] * (vx * m[L.SX + i] + vy * m[L.SY + i] + vz * m[L.SZ + i])
        lean, couple = span * m[L.SPAN_REACH + i], -span * m[L.LEG_ARM + i]
        rx += lean * m[L.NX + i]
        ry += lean * m[L.NY + i]
        rz += lean * m[L.NZ + i]
        twist = push * chord * moment
        m[L.RX + i] = rx
        m[L.RY + i] = ry
        m[L.RZ + i] = rz
        px, py, pz = m[L.X + i], m[L.Y + i], m[L.Z + i]
        m[L.LX + i] = py * rz - pz * ry + twist * m[L.SX + i] + couple * m[L.FX + i]
        m[L.LY + i] = pz * rx - px * rz + twist * m[L.SY + i] + couple * m[L.FY + i]
        m[L.LZ + i] = px * ry - py * rx + twist * m[L.SZ + i] + couple * m[L.FZ + i]
        pace = (speed + STILL) / chord
        m[L.D_GAMMA + i] = (bound - m[L.GAMMA + i]) * (pace * (1.0 / CIRCULATION_LAG))
        m[L.D_SEPARATION + i] = (f_steady - m[L.SEPARATION_NOW + i]) * (pace * (1.0 / SEPARATION_LAG))
        m[L.PACE + i] = pace
        m[L.SIN_ALPHA + i] = sin_a
        m[L.COS_ALPHA + i] = cos_a
