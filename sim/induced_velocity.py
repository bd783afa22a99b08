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
from sim.compiled import apart, kernel

P1, P2, P3 = L.PAD, 2 * L.PAD, 3 * L.PAD
STALLED_FROM = 0.7  # separation point below which the near field starts to fade


@kernel
def induce(m, dx, dy, dz):
    """Fill the induced-velocity rows: E0..E2 (trailing legs, body axes), IF and IN (bound legs, strip axes).

    `dx, dy, dz` is the unit vector along which the trailing legs leave (body axes).
    Circulation comes from the GAMMA row, separation from the SEPARATED row.
    """
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
    for k in range(int(m[L.N_NODES])):
        nx, ny, nz = m[L.NODE_X + k], m[L.NODE_Y + k], m[L.NODE_Z + k]
        before, after = int(m[L.NODE_BEFORE + k]), int(m[L.NODE_AFTER + k])
        tau = (m[L.GAMMA + before] - m[L.GAMMA + after]) * (0.25 / math.pi)
        m[L.NODE_D + k] = dx * nx + dy * ny + dz * nz
        m[L.NODE_T + k] = tau
        m[L.NODE_TX + k] = tau * nx
        m[L.NODE_TY + k] = tau * ny
        m[L.NODE_TZ + k] = tau * nz
    _sum_over_trailing_legs(m, m[L.E0 :], int(m[L.N_NODES]))
    _sum_over_bound_legs(m, m[L.IF :], int(m[L.N_STRIPS]))
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


# Four nodes, or strips, at a time: a sum is fetched and put back once for all four.  Those beyond the last carry nothing.
# Rows are views that start at a multiple of PAD, so that the inner loops become vector code.


@apart
def _sum_over_trailing_legs(m, sums, nodes):
    for k in range(0, nodes, 4):
        row = k * L.PAD
        core, stall, reach = m[L.REACH_CORE + row :], m[L.STALL_CORE + row :], m[L.REACH + row :]
        d0, d1, d2, d3 = m[L.NODE_D + k], m[L.NODE_D + k + 1], m[L.NODE_D + k + 2], m[L.NODE_D + k + 3]
        t0, t1, t2, t3 = m[L.NODE_T + k], m[L.NODE_T + k + 1], m[L.NODE_T + k + 2], m[L.NODE_T + k + 3]
        x0, x1, x2, x3 = m[L.NODE_TX + k], m[L.NODE_TX + k + 1], m[L.NODE_TX + k + 2], m[L.NODE_TX + k + 3]
        y0, y1, y2, y3 = m[L.NODE_TY + k], m[L.NODE_TY + k + 1], m[L.NODE_TY + k + 2], m[L.NODE_TY + k + 3]
        z0, z1, z2, z3 = m[L.NODE_TZ + k], m[L.NODE_TZ + k + 1], m[L.NODE_TZ + k + 2], m[L.NODE_TZ + k + 3]
        for i in range(L.PAD):
            along, loose = m[L.STAGE_D + i], m[L.STAGE_F + i]
            e0 = 1.0 / (core[i] + loose * stall[i] - reach[i] * (along - d0))
            e1 = 1.0 / (core[P1 + i] + loose * stall[P1 + i] - reach[P1 + i] * (along - d1))
            e2 = 1.0 / (core[P2 + i] + loose * stall[P2 + i] - reach[P2 + i] * (along - d2))
            e3 = 1.0 / (core[P3 + i] + loose * stall[P3 + i] - reach[P3 + i] * (along - d3))
            sums[i] += x0 * e0 + x1 * e1 + x2 * e2 + x3 * e3
            sums[P1 + i] += y0 * e0 + y1 * e1 + y2 * e2 + y3 * e3
            sums[P2 + i] += z0 * e0 + z1 * e1 + z2 * e2 + z3 * e3
            sums[P3 + i] += t0 * e0 + t1 * e1 + t2 * e2 + t3 * e3


@apart
def _sum_over_bound_legs(m, sums, strips):
    for j in range(0, strips, 4):
        row = j * L.PAD
        f, n = m[L.BOUND_F + row :], m[L.BOUND_N + row :]
        g0, g1, g2, g3 = m[L.GAMMA + j], m[L.GAMMA + j + 1], m[L.GAMMA + j + 2], m[L.GAMMA + j + 3]
        for i in range(L.PAD):
            sums[i] += g0 * f[i] + g1 * f[P1 + i] + g2 * f[P2 + i] + g3 * f[P3 + i]
            sums[P1 + i] += g0 * n[i] + g1 * n[P1 + i] + g2 * n[P2 + i] + g3 * n[P3 + i]
