"""Velocity that the circulation of all strips induces at all strips: downwash, sidewash and upwash from one sum.

Neighbouring strips share a trailing leg at their common node on the trailing edge, which
runs downstream along one direction d for the whole aeroplane.  A leg from node n with strength
tau = (circulation before - circulation after) / 4 pi induces at point c, with
rho = |c - n|,

    tau d x (c - n) / (rho^2 - rho d.(c - n))                           (half-infinite line vortex)

so with e = 1 / (rho^2 + core^2 + stall core - rho (d.c - d.n)) the sum over legs is
d x (c sum(tau e) - sum(tau e n)), and no influence matrix is ever formed.  The legs on
the body are two constant blocks, chordwise and normal.  Past the stall (separation point f
below 0.7) the core grows within a surface, core^2 = (chord/2)^2 (1 - f/0.7), and the legs on
the body fade with f/0.7: a plain non-linear lifting line has several solutions there, this
one has one.
"""

from __future__ import annotations

import math

from sim import layout as L
from sim.compiled import kernel

STALLED_FROM = 0.7  # separation point below which the near field starts to fade


@kernel
def induce(m, dx, dy, dz):
    """Fill the induced-velocity rows: E0..E2 (trailing legs, body axes), IF and IN (bound legs, strip axes).

    `dx, dy, dz` is the unit vector along which the trailing legs leave (body axes).
    Circulation comes from the GAMMA row, separation from the SEPARATED row.
    """
    n_strips = int(m[L.N_STRIPS])
    n_nodes = int(m[L.N_NODES])
    for i in range(L.PAD):
        m[L.E0 + i] = 0.0
        m[L.E1 + i] = 0.0
        m[L.E2 + i] = 0.0
        m[L.E3 + i] = 0.0
        m[L.IF + i] = 0.0
        m[L.IN + i] = 0.0
        m[L.STAGE_D + i] = dx * m[L.VX + i] + dy * m[L.VY + i] + dz * m[L.VZ + i]
        m[L.STAGE_F + i] = 1.0 - min(1.0, m[L.SEPARATED + i] * (1.0 / STALLED_FROM))
    m[L.GAMMA + L.PAD] = 0.0
    for k in range(n_nodes):
        nx, ny, nz = m[L.NODE_X + k], m[L.NODE_Y + k], m[L.NODE_Z + k]
        before, after = int(m[L.NODE_BEFORE + k]), int(m[L.NODE_AFTER + k])
        tau = (m[L.GAMMA + before] - m[L.GAMMA + after]) * (0.25 / math.pi)
        d_node = dx * nx + dy * ny + dz * nz
        tx, ty, tz = tau * nx, tau * ny, tau * nz
        block = k * L.PAD
        for i in range(L.PAD):
            e = 1.0 / (
                m[L.REACH_CORE + block + i]
                + m[L.STAGE_F + i] * m[L.STALL_CORE + block + i]
                - m[L.REACH + block + i] * (m[L.STAGE_D + i] - d_node)
            )
            m[L.E3 + i] += tau * e
            m[L.E0 + i] += tx * e
            m[L.E1 + i] += ty * e
            m[L.E2 + i] += tz * e
    for j in range(n_strips):
        gamma = m[L.GAMMA + j]
        block = j * L.PAD
        for i in range(L.PAD):
            m[L.IF + i] += gamma * m[L.BOUND_F + block + i]
            m[L.IN + i] += gamma * m[L.BOUND_N + block + i]
    for i in range(L.PAD):
        m[L.IF + i] *= 1.0 - m[L.STAGE_F + i]
        m[L.IN + i] *= 1.0 - m[L.STAGE_F + i]
        s = m[L.E3 + i]
        ax = m[L.VX + i] * s - m[L.E0 + i]
        ay = m[L.VY + i] * s - m[L.E1 + i]
        az = m[L.VZ + i] * s - m[L.E2 + i]
        m[L.E0 + i] = dy * az - dz * ay
        m[L.E1 + i] = dz * ax - dx * az
        m[L.E2 + i] = dx * ay - dy * ax
