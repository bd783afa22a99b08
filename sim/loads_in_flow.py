"""From the motion of the aeroplane to the loads of every strip and body: all that is worked out in rows, in its order.

`to_rows` puts the state into the rows, `load_in_flow` does the work, `from_rows` sums up.  The rows are
those of the model itself in double precision, or of its twin in single precision (`sim.single_precision`).
"""

from __future__ import annotations

import math

from sim import layout as L
from sim.account import add_bodies, add_strips
from sim.blanketing import shade
from sim.compiled import kernel
from sim.fuselage_aero import load_bodies
from sim.ground_effect import add_ground
from sim.induced_velocity import induce
from sim.lifting_surfaces import load_strips
from sim.section_aero import flap_rotation
from sim.single_precision import in_single
from sim.slipstream import fill_slipstream


@kernel
def to_rows(x, w, motion, at_hub, downstream, down):
    """Write what strips and bodies take from the state `x` (STATE,) and four tuples of numbers (as their rows) into `w`."""
    for i in range(7):
        w[L.MOTION + i] = motion[i]
    for i in range(9):
        w[L.AT_HUB + i] = at_hub[i]
    for i in range(3):
        w[L.DOWNSTREAM + i] = downstream[i]
        w[L.DOWN + i] = down[i]
    w[L.HEIGHT] = -x[L.POSITION + 2]
    for c in range(L.CONTROLS):
        at = L.STAGE_FLAP + 3 * c
        w[at] = x[L.SERVO + c]
        w[at + 1] = math.sin(w[at])
        w[at + 2] = math.cos(w[at])
    for i in range(L.PAD):
        f = x[L.SEPARATION + i]
        w[L.GAMMA + i] = x[L.CIRCULATION + i]
        w[L.SEPARATION_NOW + i] = f
        w[L.SEPARATED + i] = min(1.0, max(0.0, f))


@kernel
def set_flaps(m):
    """Fill the flap rows from the surfaces."""
    at = L.STAGE_FLAP
    a0, a1, a2, a3 = m[at], m[at + 3], m[at + 6], m[at + 9]
    s0, s1, s2, s3 = m[at + 1], m[at + 4], m[at + 7], m[at + 10]
    c0, c1, c2, c3 = m[at + 2], m[at + 5], m[at + 8], m[at + 11]
    for i in range(L.PAD):
        c = m[L.CONTROL + i]
        angle = a0 if c == 0.0 else a1 if c == 1.0 else a2 if c == 2.0 else a3
        m[L.FLAP_SIN + i] = s0 if c == 0.0 else s1 if c == 1.0 else s2 if c == 2.0 else s3
        m[L.FLAP_COS + i] = c0 if c == 0.0 else c1 if c == 1.0 else c2 if c == 2.0 else c3
        m[L.FLAP_TURN + i] = m[L.FLAP_TAU + i] * flap_rotation(angle, m[L.FLAP_LOAD + i])


@kernel
def load_in_flow(m):
    """Fill all scratch rows of strips and bodies in `m` from what `to_rows` and `sim.wind.fill_gusts` have left there."""
    at = L.MOTION
    u, v, w, p, q, r, rho = m[at], m[at + 1], m[at + 2], m[at + 3], m[at + 4], m[at + 5], m[at + 6]
    dx, dy, dz = m[L.DOWNSTREAM], m[L.DOWNSTREAM + 1], m[L.DOWNSTREAM + 2]
    at = L.AT_HUB
    fill_slipstream(m, m[at], m[at + 1], m[at + 2], m[at + 3], m[at + 4], m[at + 5], rho)
    if m[L.GUSTS] > 0.0:
        for i in range(L.PAD):
            m[L.AX + i] += m[L.GUST_X + i]
            m[L.AY + i] += m[L.GUST_Y + i]
            m[L.AZ + i] += m[L.GUST_Z + i]
    set_flaps(m)
    shade(m, dx, dy, dz, u, v, w)
    induce(m, dx, dy, dz)
    add_ground(m, dx, dy, dz, m[L.DOWN], m[L.DOWN + 1], m[L.DOWN + 2], m[L.HEIGHT])
    load_strips(m, u, v, w, p, q, r, rho)
    load_bodies(m, u, v, w, p, q, r, rho, -m[at + 6], -m[at + 7], -m[at + 8], m[at + 3], m[at + 4])


@kernel
def from_rows(m, w, dx):
    """Add the loads in the rows of `w` to the account of `m`, and write the rates of circulation and separation into `dx`."""
    add_strips(m, w)
    add_bodies(m, w)
    for i in range(L.PAD):
        dx[L.CIRCULATION + i] = w[L.D_GAMMA + i]
        dx[L.SEPARATION + i] = w[L.D_SEPARATION + i]


load_in_flow_single = in_single(load_in_flow)
