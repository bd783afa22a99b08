"""Time steps: one explicit Runge-Kutta rule of four stages, made for stiff but damped flow, and how many steps a frame takes.

What limits the step is not accuracy but the circulation of neighbouring strips in opposite senses: it dies out at 14 per
metre of path (350 per second at 25 m/s), and an explicit rule must keep up with it.  The classical rule of fourth
order damps rates up to 2.78 / h.  This one gives up one of the eight conditions of fourth order, b A A c = 1/24
(the tall tree of Butcher's theory, which is what linear damping is made of), and puts TALL there instead: rates up to 5.6 / h are
damped, as 1 + z + z^2/2 + z^3/6 + TALL z^4 stays within 1 down to z = -5.6.  Third order in all, fourth in all
conditions but that one; its weights are Gauss's two-point rule, c3 and c4 its nodes, and the other coefficients follow:

    0  |
    c2 | A21                      sum(b) = 1, b c = 1/2, b c^2 = 1/3, b c^3 = 1/4 (Gauss)
    c3 | A31  A32                 b A c = 1/6, (b c) A c = 1/8, b A c^2 = 1/12
    c4 | A41  A42  A43            b A A c = TALL
       |  0    0   1/2  1/2       (Hairer, Norsett and Wanner, Solving Ordinary Differential Equations I, II.1 and II.2)
"""

from __future__ import annotations

import math

from sim import layout as L
from sim.compiled import inlined, kernel
from sim.equations_of_motion import derivatives
from sim.frames import body_to_earth
from sim.lifting_surfaces import STILL
from sim.propeller import COLUMNS

FRAME = 0.01  # s: sticks, pilot and record advance in frames
TALL = 0.0195  # |p(z)| <= 0.68 between -1.5 and -5.2: what is not resolved dies out within a few steps
REACH = 5.0  # step times fastest rate that is used of the 5.6

C3, C4 = 0.5 + 0.5 / math.sqrt(3.0), 0.5 - 0.5 / math.sqrt(3.0)
_A32_C2 = (0.25 - C4 / 3.0) / (C3 - C4)
A43 = 2.0 * TALL / _A32_C2
_A42_C2 = 1.0 / 3.0 - _A32_C2 - A43 * C3
A21 = (1.0 / 6.0 - A43 * C3 * C3) / (_A32_C2 + _A42_C2)
A32, A42 = _A32_C2 / A21, _A42_C2 / A21
A31, A41 = C3 - A32, C4 - A42 - A43


@inlined
def rk_step(x, command, m, table, h, k, stage):
    """Advance `x` in place by `h` seconds; k[0] of `k` (4, STATE) holds the rates at `x`, the rest and `stage` are scratch."""
    n = x.size
    for i in range(n):
        stage[i] = x[i] + (h * A21) * k[0, i]
    derivatives(stage, command, m, table, k[1])
    for i in range(n):
        stage[i] = x[i] + h * (A31 * k[0, i] + A32 * k[1, i])
    derivatives(stage, command, m, table, k[2])
    for i in range(n):
        stage[i] = x[i] + h * (A41 * k[0, i] + A42 * k[1, i] + A43 * k[2, i])
    derivatives(stage, command, m, table, k[3])
    for i in range(n):
        x[i] += (0.5 * h) * (k[2, i] + k[3, i])


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
def leave_frame(x, command, m, table, steps, k, stage):
    """Advance `x` in place by one frame in `steps` equal steps (0: as many as stability asks for).

    The rates at `x` under `command` are in k[0] already, just evaluated with `m`.
    """
    if steps == 0:
        speed = _airspeed(x, m)
        jet = 2.0 * abs(m[L.PROP_OUT + 6]) * math.sqrt(m[L.PROP_OUT + COLUMNS])
        fastest = m[L.STIFFNESS] * (speed + jet + STILL)
        steps = 1 + int(min(FRAME * fastest / REACH, 19.0))
    h = FRAME / steps
    for n in range(steps):
        if n > 0:
            derivatives(x, command, m, table, k[0])
        rk_step(x, command, m, table, h, k, stage)


def advance_frame(x, command, m, table, steps, k, stage) -> None:
    """As `leave_frame`, the rates at `x` evaluated first."""
    derivatives(x, command, m, table, k[0])
    leave_frame(x, command, m, table, steps, k, stage)
