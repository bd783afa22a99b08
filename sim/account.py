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


def loads_of(model: np.ndarray) -> np.ndarray:
    """Forces and moments by part of the last evaluation, shape (N_PARTS, 6), a copy: N and N m, body axes, about the CG."""
    return model[L.ACCOUNT : L.ACCOUNT + 6 * L.N_PARTS].reshape(L.N_PARTS, 6).copy()
