"""Time steps: the classical fourth-order Runge-Kutta rule, with the step chosen from the fastest rate."""

from __future__ import annotations

import math

from sim import layout as L
from sim.compiled import kernel
from sim.equations_of_motion import derivatives
from sim.frames import body_to_earth
from sim.lifting_surfaces import STILL
from sim.propeller import COLUMNS

FRAME = 0.01  # s: sticks, pilot and record advance in frames
REACH = 2.4  # step times fastest rate that the rule still damps (its limit is 2.785)


@kernel
def rk4_step(x, command, m, table, h, k, stage):
    """Advance `x` in place by `h` seconds; `k` (4, STATE) and `stage` (STATE,) are scratch."""
    n = x.size
    derivatives(x, command, m, table, k[0])
    for i in range(n):
        stage[i] = x[i] + 0.5 * h * k[0, i]
    derivatives(stage, command, m, table, k[1])
    for i in range(n):
        stage[i] = x[i] + 0.5 * h * k[1, i]
    derivatives(stage, command, m, table, k[2])
    for i in range(n):
        stage[i] = x[i] + h * k[2, i]
    derivatives(stage, command, m, table, k[3])
    for i in range(n):
        x[i] += h * (1.0 / 6.0) * (k[0, i] + 2.0 * (k[1, i] + k[2, i]) + k[3, i])


@kernel
def _airspeed(x, m):
    """Speed (m/s) through the air that the last evaluation found at the CG."""
    r00, r01, r02, r10, r11, r12, r20, r21, r22 = body_to_earth(
        x[L.QUATERNION], x[L.QUATERNION + 1], x[L.QUATERNION + 2], x[L.QUATERNION + 3]
    )
    an, ae, ad = m[L.AIR], m[L.AIR + 1], m[L.AIR + 2]
    u = x[L.VELOCITY] - (r00 * an + r10 * ae + r20 * ad)
    v = x[L.VELOCITY + 1] - (r01 * an + r11 * ae + r21 * ad)
    w = x[L.VELOCITY + 2] - (r02 * an + r12 * ae + r22 * ad)
    return math.sqrt(u * u + v * v + w * w)


@kernel
def advance_frame(x, command, m, table, steps, k, stage):
    """Advance `x` in place by one frame in `steps` equal steps (0: as many as stability asks for)."""
    if steps == 0:
        speed = _airspeed(x, m)
        jet = 2.0 * abs(m[L.PROP_OUT + 6]) * math.sqrt(m[L.PROP_OUT + COLUMNS])  # of the last evaluation
        fastest = m[L.STIFFNESS] * (speed + jet + STILL)
        steps = 1 + int(min(FRAME * fastest / REACH, 19.0))
    h = FRAME / steps
    for _ in range(steps):
        rk4_step(x, command, m, table, h, k, stage)
