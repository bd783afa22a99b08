"""The sums of `sim.induced_velocity` in single precision and unrolled: what flights use, three times as fast.

The plain kernel there is the reference: trim and linear models use it, and the two are held against each other.
Seven digits are enough for what strips induce at each other (1e-6 of the largest velocity); place, speed, loads and
circulation stay in double precision.  Divisions take most of the time, and single precision does eight at once.

The block SINGLE of the model, seen as float32, holds constants, then what one evaluation fills::

    CORE NODES x PAD | STALL NODES x PAD | REACH NODES x PAD | BOUND_F PAD x PAD | BOUND_N PAD x PAD |
    nodes: D, TAU, TX, TY, TZ  NODES each | strips: ALONG, LOOSE, GAMMA, sums S0 S1 S2 S3 F N  PAD each

`_sums` goes over the strips once for every GROUP of nodes, so that a sum is fetched and put back once for all of
them.  Its text is generated: offsets have to be numbers, or the compiler could not tell that rows never overlap, and
would not use vectors.
"""

from __future__ import annotations

import math

import numpy as np

from sim import layout as L
from sim.compiled import formula, kernel

GROUP = 4
PAD, NODES = L.PAD, L.NODES
CORE, STALL, REACH = 0, NODES * PAD, 2 * NODES * PAD
BOUND_F = 3 * NODES * PAD
BOUND_N = BOUND_F + PAD * PAD
D, TAU, TX, TY, TZ = (BOUND_N + PAD * PAD + NODES * n for n in range(5))
ALONG, LOOSE, GAMMA, S0, S1, S2, S3, F, N = (TZ + NODES + PAD * n for n in range(9))
SIZE = N + PAD  # float32 numbers
STALLED_FROM = 0.7  # as in sim.induced_velocity


def place_single(model: np.ndarray) -> None:
    """Fill the constants of the single-precision block of `model` from its influence blocks."""
    w = model[L.SINGLE : L.SINGLE + L.SINGLE_SIZE].view(np.float32)
    for at, row, size in (
        (CORE, L.REACH_CORE, NODES), (STALL, L.STALL_CORE, NODES), (REACH, L.REACH, NODES),
        (BOUND_F, L.BOUND_F, PAD), (BOUND_N, L.BOUND_N, PAD),
    ):  # fmt: skip
        w[at : at + size * PAD] = model[row : row + size * PAD]
    w[CORE + int(model[L.N_NODES]) * PAD : STALL] = 1.0  # nodes that are not there: no division by zero


def _text_of_sums() -> str:
    """The body of `_sums`: trailing legs, e = 1 / (core + loose stall - reach (along - d)), then bound legs."""
    text = ["def _sums(w, one):"]
    for first in range(0, NODES, GROUP):
        group = range(first, first + GROUP)
        for k in group:
            text.append(f"    d{k}, t{k}, x{k}, y{k}, z{k} = " + ", ".join(f"w[{r + k}]" for r in (D, TAU, TX, TY, TZ)))
        text.append(f"    for i in range({PAD}):")
        text.append(f"        along, loose = w[{ALONG} + i], w[{LOOSE} + i]")
        text.append(f"        s0, s1, s2, s3 = w[{S0} + i], w[{S1} + i], w[{S2} + i], w[{S3} + i]")
        for k in group:
            core, stall, reach = CORE + k * PAD, STALL + k * PAD, REACH + k * PAD
            text.append(f"        e = one / (w[{core} + i] + loose * w[{stall} + i] - w[{reach} + i] * (along - d{k}))")
            text.append(f"        s0, s1, s2, s3 = s0 + x{k} * e, s1 + y{k} * e, s2 + z{k} * e, s3 + t{k} * e")
        text.append(f"        w[{S0} + i], w[{S1} + i], w[{S2} + i], w[{S3} + i] = s0, s1, s2, s3")
    for first in range(0, PAD, GROUP):
        group = range(first, first + GROUP)
        text.append("    " + ", ".join(f"g{j}" for j in group) + " = " + ", ".join(f"w[{GAMMA + j}]" for j in group))
        text.append(f"    for i in range({PAD}):")
        for sum_, block in ((F, BOUND_F), (N, BOUND_N)):
            terms = " + ".join(f"g{j} * w[{block + j * PAD} + i]" for j in group)
            text.append(f"        w[{sum_} + i] += {terms}")
    return "\n".join(text)


_made: dict = {}
exec(compile(_text_of_sums(), __file__, "exec"), _made)  # our own text, of the numbers above
_sums = formula(_made["_sums"])


@kernel
def induce_single(m, dx, dy, dz):
    """As `sim.induced_velocity.induce`, from the single-precision block of `m`."""
    w = m[L.SINGLE : L.SINGLE + L.SINGLE_SIZE].view(np.float32)
    zero = np.float32(0.0)
    for i in range(PAD):
        w[ALONG + i] = np.float32(dx * m[L.VX + i] + dy * m[L.VY + i] + dz * m[L.VZ + i])
        w[LOOSE + i] = np.float32(1.0 - min(1.0, m[L.SEPARATED + i] * (1.0 / STALLED_FROM)))
        w[GAMMA + i] = np.float32(m[L.GAMMA + i])
    for i in range(6 * PAD):
        w[S0 + i] = zero
    m[L.GAMMA + PAD] = 0.0
    for k in range(int(m[L.N_NODES])):
        nx, ny, nz = m[L.NODE_X + k], m[L.NODE_Y + k], m[L.NODE_Z + k]
        before, after = int(m[L.NODE_BEFORE + k]), int(m[L.NODE_AFTER + k])
        tau = (m[L.GAMMA + before] - m[L.GAMMA + after]) * (0.25 / math.pi)
        w[D + k] = np.float32(dx * nx + dy * ny + dz * nz)
        w[TAU + k] = np.float32(tau)
        w[TX + k] = np.float32(tau * nx)
        w[TY + k] = np.float32(tau * ny)
        w[TZ + k] = np.float32(tau * nz)
    _sums(w, np.float32(1.0))
    for i in range(PAD):
        tight = 1.0 - w[LOOSE + i]
        m[L.IF + i] = tight * w[F + i]
        m[L.IN + i] = tight * w[N + i]
        s = w[S3 + i]
        ax = m[L.VX + i] * s - w[S0 + i]
        ay = m[L.VY + i] * s - w[S1 + i]
        az = m[L.VZ + i] * s - w[S2 + i]
        m[L.E0 + i] = dy * az - dz * ay
        m[L.E1 + i] = dz * ax - dx * az
        m[L.E2 + i] = dx * ay - dy * ax
