"""Ground effect: the wake mirrored in the ground, as seen by every strip.

The flow over flat ground is that of the aeroplane and its mirror image.  The image's velocity at a point is the
mirrored velocity of the real vortices at the mirrored point, so nothing else is stored.  Each strip
is a horseshoe here, its bound part on the trailing edge: an image is never nearer than
twice the height.  It is faded out from one to one and a half times the wing's span above the
ground, and with the steepness of the wake, for a wake that runs into the ground has no such image.
Slipstream and separated wakes do not see the ground.
"""

from __future__ import annotations

import math

from sim import layout as L
from sim.compiled import kernel

CORE2 = 0.0064  # m2, as between surfaces


@kernel
def add_ground(m, dx, dy, dz, gx, gy, gz, height):
    """Add the image's velocity to the rows E0..E2.

    `d` is the wake direction, `g` the unit vector down (both body axes), `height` that of the CG over ground (m).
    GAMMA is filled; call after `induce`.
    """
    span = m[L.WING_SPAN]
    steep = abs(dx * gx + dy * gy + dz * gz)
    share = min(1.0, max(0.0, 3.0 * span - 2.0 * height) / (span + 1e-9)) * max(0.0, 1.0 - 2.0 * steep)
    if share <= 0.0:
        return
    n_nodes = int(m[L.N_NODES])
    for i in range(int(m[L.N_STRIPS])):
        px, py, pz = m[L.VX + i], m[L.VY + i], m[L.VZ + i]
        far = 2.0 * max(height - (px * gx + py * gy + pz * gz), 0.0)
        px, py, pz = px + far * gx, py + far * gy, pz + far * gz
        vx = vy = vz = 0.0
        for k in range(n_nodes):
            before, after = int(m[L.NODE_BEFORE + k]), int(m[L.NODE_AFTER + k])
            ax, ay, az = px - m[L.NODE_X + k], py - m[L.NODE_Y + k], pz - m[L.NODE_Z + k]
            reach = math.sqrt(ax * ax + ay * ay + az * az)
            tau = m[L.GAMMA + before] - m[L.GAMMA + after]
            e = tau / (reach * (reach - (ax * dx + ay * dy + az * dz)) + CORE2)
            vx += e * (dy * az - dz * ay)
            vy += e * (dz * ax - dx * az)
            vz += e * (dx * ay - dy * ax)
            if after < L.PAD:  # the bound part, from this node to the next
                lx, ly, lz = (
                    m[L.NODE_X + k + 1] - m[L.NODE_X + k],
                    m[L.NODE_Y + k + 1] - m[L.NODE_Y + k],
                    m[L.NODE_Z + k + 1] - m[L.NODE_Z + k],
                )
                bx, by, bz = ax - lx, ay - ly, az - lz
                end = math.sqrt(bx * bx + by * by + bz * bz)
                qx, qy, qz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
                turn = (ax / reach - bx / end) * lx + (ay / reach - by / end) * ly + (az / reach - bz / end) * lz
                size = qx * qx + qy * qy + qz * qz + CORE2 * (lx * lx + ly * ly + lz * lz)
                e = m[L.GAMMA + after] * turn / size
                vx += e * qx
                vy += e * qy
                vz += e * qz
        scale = share * (0.25 / math.pi)
        up = 2.0 * (vx * gx + vy * gy + vz * gz)
        m[L.E0 + i] += scale * (vx - up * gx)
        m[L.E1 + i] += scale * (vy - up * gy)
        m[L.E2 + i] += scale * (vz - up * gz)
