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
from sim.single_precision import place_single

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
    strips: dict[str, slice] = {}
    meeting, bound_nodes, nodes, own_chain, chain_of_node, cores = [], [], [], [], [], []
    node_links: list[tuple[int, int]] = []
    count = 0
    for chain, surface in enumerate(surfaces):
        edge, chord, fraction = _strip_edges(surface)
        n = len(edge) - 1
        if count + n > L.PAD or len(nodes) + n + 1 > L.NODES:
            raise ValueError(f"more than {L.PAD} strips")
        aspect = aspect_ratio(surface)
        plate = 1.11 + 0.018 * min(aspect, 50.0)  # Viterna and Corrigan, NASA CP-2230: broadside drag of a finite wing
        for i in range(n):
            k = count + i
            mid_fraction = 0.5 * (fraction[i] + fraction[i + 1])
            local = 0.5 * (chord[i] + chord[i + 1])
            quarter = edge - np.outer(0.25 * chord, [1.0, 0.0, 0.0])
            span = quarter[i + 1] - quarter[i]
            angle = surface.incidence + mid_fraction * surface.twist
            across = np.array([0.0, span[1], span[2]])  # strips are cut parallel to the plane of symmetry
            width = float(np.linalg.norm(across))
            across /= width
            forward = np.array([math.cos(angle), 0.0, 0.0]) + math.sin(angle) * np.cross(across, [1.0, 0.0, 0.0])
            normal = np.cross(across, forward)
            at = 0.5 * (quarter[i] + quarter[i + 1]) - cg
            met = at - 0.5 * local * forward
            meeting.append(met)
            for rows, place in (((L.X, L.Y, L.Z), at), ((L.VX, L.VY, L.VZ), met)):
                for row, value in zip(rows, place):
                    model[row + k] = value
            for rows, vector in (
                ((L.FX, L.FY, L.FZ), forward),
                ((L.NX, L.NY, L.NZ), normal),
                ((L.SX, L.SY, L.SZ), across),
            ):
                for row, value in zip(rows, vector):
                    model[row + k] = value
            model[L.CHORD + k] = local
            model[L.AREA + k] = local * width
            model[L.HALF_WIDTH + k] = 0.5 * width
            # alternating circulation +-G: two legs of 2 G a node, 1 - 1/3 + 1/5 ... = pi / 4 of the nearest; w = G / width
            model[L.FEEDBACK + k] = 1.0 + 0.5 * LIFT_SLOPE * local / width
            model[L.LIFT_SLOPE + k] = LIFT_SLOPE
            model[L.PLATE_NORMAL + k] = plate
            if i == 0 or (i == n - 1 and surface.symmetric):
                sharp = 1.0 - 0.5 * min(1.0, surface.tip_rounding / (0.25 * surface.tip_chord))
                model[L.SIDE_EDGE + k] = sharp * SIDE_EDGE_LIFT * surface.tip_chord**2 / (local * width)
            model[L.BREAK_WIDTH + k] = BREAK_WIDTH_PER_THICKNESS * surface.thickness
            model[L.PART + k] = _part(surface, at[1])
            model[L.SPAN_REACH + k] = (edge[i, 0] - chord[i]) - (edge[i + 1, 0] - chord[i + 1])
            model[L.LEG_ARM + k] = 0.75 * (chord[i] + chord[i + 1]) * 0.5 * width
            model[L.SURFACE + k] = chain
            model[L.FLAP_LOAD + k] = flap_load(aspect)
            _place_flap(surface, sorted((fraction[i], fraction[i + 1])), at[1], k, model)
        model[L.SUCTION_GAIN + count : L.SUCTION_GAIN + count + n] = 1.0 - _downwash_ratio(edge, chord)
        quarter_points = edge - np.outer(0.25 * chord, [1.0, 0.0, 0.0]) - cg
        bound_nodes += list(quarter_points)
        trailing_points = edge - np.outer(chord, [1.0, 0.0, 0.0]) - cg
        for j in range(n + 1):
            nodes.append(trailing_points[j])
            chain_of_node.append(chain)
            cores.append(CORE * float(np.mean(2.0 * model[L.HALF_WIDTH + count : L.HALF_WIDTH + count + n])))
            node_links.append((count + j - 1 if j > 0 else L.PAD, count + j if j < n else L.PAD))
        for part in np.array_split(np.arange(count, count + n), _panels_of(surface)):
            _place_panel(part, chain, plate, model)
        own_chain += [chain] * n
        strips[surface.name] = slice(count, count + n)
        count += n
    model[L.N_STRIPS], model[L.N_NODES] = count, len(nodes)
    model[L.SURFACE + count : L.SURFACE + L.PAD] = -1.0
    for row in (L.CHORD, L.LIFT_SLOPE, L.PLATE_NORMAL, L.BREAK_WIDTH, L.FEEDBACK, L.FLAP_LOAD):
        model[row + count : row + L.PAD] = 1.0  # harmless values in the padding; its area is zero
    model[L.FX + count : L.FX + L.PAD] = 1.0
    rows = slice(0, count)
    model[L.STIFFNESS] = (model[L.FEEDBACK :][rows] / (CIRCULATION_LAG * model[L.CHORD :][rows])).max()
    _place_influence(
        np.array(meeting), np.array(bound_nodes), np.array(nodes), own_chain, chain_of_node, cores, node_links, model
    )
    place_single(model)
    return strips


def _panels_of(surface: Surface) -> int:
    """How many panels shed its separated wake: two a wing half, one a half of any other surface."""
    return (4 if surface.name == "wing" else 2) if surface.symmetric else 1


def _place_panel(strips: np.ndarray, chain: int, plate: float, model: np.ndarray) -> None:
    """The flat panel that stands for some neighbouring strips in `sim.blanketing`."""
    k = int(model[L.N_PANELS])
    if k >= L.PANELS:
        return  # surfaces beyond those cast no shadow
    model[L.N_PANELS] = k + 1
    area = model[L.AREA + strips]
    for rows, points in (
        ((L.PANEL_X, L.PANEL_Y, L.PANEL_Z), ((L.X, L.VX), (L.Y, L.VY), (L.Z, L.VZ))),
        ((L.PANEL_SX, L.PANEL_SY, L.PANEL_SZ), ((L.SX, L.SX), (L.SY, L.SY), (L.SZ, L.SZ))),
        ((L.PANEL_NX, L.PANEL_NY, L.PANEL_NZ), ((L.NX, L.NX), (L.NY, L.NY), (L.NZ, L.NZ))),
    ):
        for row, (a, b) in zip(rows, points):  # the middle lies half way between quarter and three quarters
            model[row + k] = float(np.average(0.5 * (model[a + strips] + model[b + strips]), weights=area))
    model[L.PANEL_HALF + k] = float(model[L.HALF_WIDTH + strips].sum())
    model[L.PANEL_CHORD + k] = float(area.sum()) / (2.0 * model[L.PANEL_HALF + k])
    model[L.PANEL_DRAG + k] = plate
    model[L.PANEL_FIRST + k], model[L.PANEL_LAST + k] = strips[0], strips[-1] + 1
    model[L.PANEL_SURFACE + k] = chain


def _downwash_ratio(edge: np.ndarray, chord: np.ndarray) -> float:
    """Load-weighted downwash at the bound legs over that at the three-quarter-chord points, surface alone, small alpha."""
    nodes = edge - np.outer(0.25 * chord, [1.0, 0.0, 0.0])
    bound = 0.5 * (nodes[1:] + nodes[:-1])
    local = 0.5 * (chord[1:] + chord[:-1])
    span = nodes[1:] - nodes[:-1]
    normal = np.cross(np.c_[np.zeros(len(span)), span[:, 1:]], [1.0, 0.0, 0.0])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    aft = np.array([-1.0, 0.0, 0.0])

    def wash(points, with_bound):
        out = np.zeros((len(points), len(span)))
        for j in range(len(span)):
            velocity = _endless_leg(points, nodes[j + 1], aft) - _endless_leg(points, nodes[j], aft)
            if with_bound:
                velocity += _leg(points, nodes[j], nodes[j + 1], 0.0)
            out[:, j] = (velocity * normal).sum(axis=1)
        return out

    at_three_quarter = wash(bound - np.outer(0.5 * local, [1.0, 0.0, 0.0]), True) + np.diag(1.0 / (math.pi * local))
    at_bound = wash(bound, False)
    circulation = np.linalg.solve(np.diag(2.0 / (LIFT_SLOPE * local)) - at_three_quarter, np.ones(len(span)))
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


def _place_influence(meeting, bound_nodes, nodes, own_chain, chain_of_node, cores, node_links, model) -> None:
    n = len(meeting)
    own_chain, chain_of_node = np.array(own_chain), np.array(chain_of_node)
    for k, node in enumerate(nodes):
        for row, value in zip((L.NODE_X, L.NODE_Y, L.NODE_Z), node):
            model[row + k] = value
        model[L.NODE_BEFORE + k], model[L.NODE_AFTER + k] = node_links[k]
        own = own_chain == chain_of_node[k]
        reach = np.linalg.norm(meeting - node, axis=1)
        block = slice(k * L.PAD, k * L.PAD + n)
        model[L.REACH :][block] = reach
        model[L.REACH_CORE :][block] = reach**2 + np.where(own, NEAR_CORE, cores[k]) ** 2
        model[L.STALL_CORE :][block] = np.where(own, (0.5 * model[L.CHORD : L.CHORD + n]) ** 2, 0.0)
        model[L.REACH_CORE + k * L.PAD + n : L.REACH_CORE + (k + 1) * L.PAD] = 1.0
    forward = np.stack([model[row : row + n] for row in (L.FX, L.FY, L.FZ)], axis=1)
    normal = np.stack([model[row : row + n] for row in (L.NX, L.NY, L.NZ)], axis=1)
    # what is fixed to the body: strip j's bound leg, and its two legs along the chord to the trailing edge
    for k, (_, j) in enumerate(node_links):
        if j == L.PAD:
            continue
        path = (nodes[k], bound_nodes[k], bound_nodes[k + 1], nodes[k + 1])
        core = np.where(own_chain == own_chain[j], NEAR_CORE, cores[k])
        velocity = sum(_leg(meeting, start, end, core) for start, end in zip(path[:-1], path[1:]))
        # the normal points up where an endless vortex gives downwash
        velocity[j] += normal[j] / (math.pi * model[L.CHORD + j])
        block = slice(j * L.PAD, j * L.PAD + n)
        model[L.BOUND_F :][block] = (velocity * forward).sum(axis=1)
        model[L.BOUND_N :][block] = (velocity * normal).sum(axis=1)


def _leg(points: np.ndarray, start: np.ndarray, end: np.ndarray, core) -> np.ndarray:
    """Velocity at `points` (n, 3) from a straight vortex of unit circulation (Biot and Savart), with a core."""
    a, b, leg = points - start, points - end, end - start
    across = np.cross(a, b)
    size = (across * across).sum(axis=1) + np.asarray(core) ** 2 * (leg @ leg)
    turn = a / np.linalg.norm(a, axis=1)[:, None] - b / np.linalg.norm(b, axis=1)[:, None]
    return across * ((turn @ leg) / size / (4.0 * math.pi))[:, None]


def _endless_leg(points: np.ndarray, start: np.ndarray, along: np.ndarray) -> np.ndarray:
    """Velocity at `points` (n, 3) from a half-infinite vortex of unit circulation that leaves `start` along a unit vector."""
    a = points - start
    reach = np.linalg.norm(a, axis=1)
    return np.cross(along, a) / (reach * (reach - a @ along) * 4.0 * math.pi)[:, None]


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
