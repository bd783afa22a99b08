"""The account of loads by part that an evaluation leaves in the model: adding to it in kernels, reading it outside."""

from __future__ import annotations

import numpy as np

from sim import layout as L
from sim.compiled import kernel


@kernel
def add_load(m, part, fx, fy, fz, px, py, pz):
    """Add a force (N, body axes) that acts at `p` (m from the CG) to `part`, with its moment about the CG."""
    at = L.ACCOUNT + 6 * part
    m[at] += fx
    m[at + 1] += fy
    m[at + 2] += fz
    m[at + 3] += py * fz - pz * fy
    m[at + 4] += pz * fx - px * fz
    m[at + 5] += px * fy - py * fx


@kernel
def add_strips(m):
    """Add the loads of all strips to their parts, and fill the hinge moments by control.

    Neighbours mostly belong together, so sums run in registers until part or control changes.
    """
    for c in range(L.CONTROLS):
        m[L.HINGE_MOMENT + c] = 0.0
    part, control = m[L.PART], m[L.CONTROL]
    fx = fy = fz = tx = ty = tz = hinge = 0.0
    n = int(m[L.N_STRIPS])
    for i in range(n + 1):
        if i == n or m[L.PART + i] != part or m[L.CONTROL + i] != control:
            at = L.ACCOUNT + 6 * int(part)
            m[at] += fx
            m[at + 1] += fy
            m[at + 2] += fz
            m[at + 3] += tx
            m[at + 4] += ty
            m[at + 5] += tz
            m[L.HINGE_MOMENT + int(control)] += hinge
            if i == n:
                break
            part, control = m[L.PART + i], m[L.CONTROL + i]
            fx = fy = fz = tx = ty = tz = hinge = 0.0
        fx += m[L.RX + i]
        fy += m[L.RY + i]
        fz += m[L.RZ + i]
        tx += m[L.LX + i]
        ty += m[L.LY + i]
        tz += m[L.LZ + i]
        hinge += m[L.HINGE + i]


def loads_of(model: np.ndarray) -> np.ndarray:
    """Forces and moments by part of the last evaluation, shape (N_PARTS, 6), a copy: N and N m, body axes, about the CG."""
    return model[L.ACCOUNT : L.ACCOUNT + 6 * L.N_PARTS].reshape(L.N_PARTS, 6).copy()
