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
def add_strips(m, w):
    """Add the loads of all strips, in the rows of `w` (`m` or its twin), to their parts, and fill the hinge moments by control.

    Neighbours mostly belong together, so sums run in registers until part or control changes.
    """
    for c in range(L.CONTROLS):
        m[L.HINGE_MOMENT + c] = 0.0
    n = int(m[L.N_STRIPS])
    i = 0
    while i < n:
        part, control = m[L.PART + i], m[L.CONTROL + i]
        fx, fy, fz = w[L.RX + i], w[L.RY + i], w[L.RZ + i]
        tx, ty, tz = w[L.LX + i], w[L.LY + i], w[L.LZ + i]
        hinge = w[L.HINGE + i]
        i += 1
        while i < n and m[L.PART + i] == part and m[L.CONTROL + i] == control:
            fx += w[L.RX + i]
            fy += w[L.RY + i]
            fz += w[L.RZ + i]
            tx += w[L.LX + i]
            ty += w[L.LY + i]
            tz += w[L.LZ + i]
            hinge += w[L.HINGE + i]
            i += 1
        at = L.ACCOUNT + 6 * int(part)
        m[at] += fx
        m[at + 1] += fy
        m[at + 2] += fz
        m[at + 3] += tx
        m[at + 4] += ty
        m[at + 5] += tz
        m[L.HINGE_MOMENT + int(control)] += hinge


@kernel
def add_bodies(m, w):
    """Add the loads of all bodies, in the rows of `w` (`m` or its twin), to the account."""
    n_fuselage = int(m[L.N_FUSELAGE])
    for i in range(int(m[L.N_BODIES])):
        at = L.ACCOUNT + 6 * (L.FUSELAGE if i < n_fuselage else L.DRAG_BODIES)
        m[at] += w[L.BODY_FX + i]
        m[at + 1] += w[L.BODY_FY + i]
        m[at + 2] += w[L.BODY_FZ + i]
        m[at + 3] += w[L.BODY_TX + i]
        m[at + 4] += w[L.BODY_TY + i]
        m[at + 5] += w[L.BODY_TZ + i]


def loads_of(model: np.ndarray) -> np.ndarray:
    """Forces and moments by part of the last evaluation, shape (N_PARTS, 6), a copy: N and N m, body axes, about the CG."""
    return model[L.ACCOUNT : L.ACCOUNT + 6 * L.N_PARTS].reshape(L.N_PARTS, 6).copy()
