"""Separated wakes: a surface that has stalled, or a fuselage across the flow, slows the air for whatever stands behind it.

Every half of a surface is one or two flat panels, the fuselage one ahead of the wing's trailing edge and one behind.  A
panel sheds a sheet along the wake direction d, as wide as its span.  In it the dynamic pressure is lower by
Silverstein and Katzoff's law (NACA TR-651, 1939; from memory)

    d q / q = 2.42 sqrt(Cd) / (x / c + 0.3)  cos^2(pi z / 2 z_w),     z_w = 0.68 c sqrt(Cd (x / c + 0.15))

with x behind the trailing edge, z from the middle of the sheet.  The law was measured on wings with drag
coefficients near 0.01; here it is taken to those of separated flow (0.1 to 1), where dead air as wide as a bluff
plate's drag stands right behind and d q / q is at most 0.95.  The loss is spread over the width of the panel as the flow
sees it and over the strip's own extent.  Attached
surfaces (Cd under 0.02) are left out: they cost nothing.  This is the rudder shielded by the stabiliser in a spin,
the tail behind a stalled wing in a harrier, and the lee wing behind the fuselage in knife edge.
"""

from __future__ import annotations

import math

from sim import layout as L
from sim.compiled import kernel
from sim.section_aero import plate_force

LEAST_DRAG, MOST_LOSS = 0.02, 0.95


@kernel
def shade(m, dx, dy, dz, u, v, w):
    """Add to the AX..AZ rows the air that separated wakes carry along with the aeroplane.

    `d` is the unit vector downstream, `u, v, w` the velocity through the air (m/s), body axes.
    Separation comes from the SEPARATED row.
    """
    for i in range(L.PAD):
        m[L.SHADE + i] = 0.0
    shaded = False
    for k in range(int(m[L.N_PANELS])):
        sx, sy, sz = m[L.PANEL_SX + k], m[L.PANEL_SY + k], m[L.PANEL_SZ + k]
        skew = dx * sx + dy * sy + dz * sz
        across2 = 1.0 - skew * skew
        first, last = int(m[L.PANEL_FIRST + k]), int(m[L.PANEL_LAST + k])
        if last > first:
            facing = abs(dx * m[L.PANEL_NX + k] + dy * m[L.PANEL_NY + k] + dz * m[L.PANEL_NZ + k])
            loose = area = 0.0
            for i in range(first, last):
                loose += m[L.AREA + i] * (1.0 - m[L.SEPARATED + i])
                area += m[L.AREA + i]
            drag = loose / area * plate_force(facing, m[L.PANEL_DRAG + k]) * facing
            chord, thick = m[L.PANEL_CHORD + k], facing
        else:  # fuselage: bluff across its axis, as broad as it is seen
            facing = math.sqrt(max(across2, 0.0))
            drag = m[L.PANEL_DRAG + k] * facing * facing
            turned = math.sqrt(dy * dy + dz * dz) + 1e-6
            chord = (m[L.PANEL_CHORD + k] * abs(dz) + m[L.PANEL_NX + k] * abs(dy)) / turned  # breadth, depth
            thick = 1.0
        if drag < LEAST_DRAG or across2 < 0.02:
            continue
        shaded = True
        nx, ny, nz = dy * sz - dz * sy, dz * sx - dx * sz, dx * sy - dy * sx
        inverse = 1.0 / math.sqrt(across2)
        nx, ny, nz = nx * inverse, ny * inverse, nz * inverse
        px, py, pz, half = m[L.PANEL_X + k], m[L.PANEL_Y + k], m[L.PANEL_Z + k], m[L.PANEL_HALF + k]
        own = m[L.PANEL_SURFACE + k]
        root = math.sqrt(drag)
        seen = 0.5 * chord * thick
        dead = min(seen, 0.5 * drag * chord)  # half-width of the dead air right behind: a bluff plate's is its drag
        fade = min(1.0, (drag - LEAST_DRAG) * (1.0 / LEAST_DRAG))
        for i in range(L.PAD):
            rx, ry, rz = m[L.X + i] - px, m[L.Y + i] - py, m[L.Z + i] - pz
            along, span = rx * dx + ry * dy + rz * dz, rx * sx + ry * sy + rz * sz
            behind = (along - skew * span) / across2 / chord - 0.5
            aside = (span - skew * along) / across2
            off = rx * nx + ry * ny + rz * nz
            x = max(behind, 0.0)
            spread2 = (0.68 * chord) ** 2 * drag * (x + 0.15)
            wide = math.sqrt(dead * dead + spread2)
            extent = m[L.HALF_WIDTH + i] * abs(m[L.SX + i] * nx + m[L.SY + i] * ny + m[L.SZ + i] * nz)
            extent += 0.5 * m[L.CHORD + i] * abs(m[L.FX + i] * nx + m[L.FY + i] * ny + m[L.FZ + i] * nz)
            reach = math.sqrt(seen * seen + spread2) + extent
            t = min(1.0, abs(off) / reach)
            shape = (1.0 - t) * (1.0 - t) * (1.0 + 2.0 * t)  # cos^2 within 1 %
            edge = min(1.0, max(0.0, 0.5 + 0.5 * (half - abs(aside)) / (0.3 * wide + m[L.HALF_WIDTH + i])))
            loss = min(MOST_LOSS, 2.42 * root / (x + 0.3)) * (wide / reach) * shape * edge
            loss *= fade * min(1.0, max(0.0, 2.0 * behind + 1.0)) * (0.0 if m[L.SURFACE + i] == own else 1.0)
            kept = 1.0 - math.sqrt(1.0 - loss)
            m[L.SHADE + i] += kept * (1.0 - m[L.SHADE + i])
    if not shaded:
        return
    for i in range(L.PAD):
        m[L.AX + i] += m[L.SHADE + i] * u
        m[L.AY + i] += m[L.SHADE + i] * v
        m[L.AZ + i] += m[L.SHADE + i] * w
