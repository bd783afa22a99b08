"""The propeller's slipstream at every strip: axial speed, contraction, bending in cross-flow, swirl.

Axial: w(s) = w0 (1 + s / sqrt(s^2 + R^2)) behind the disk, radius by continuity
round the fuselage section there (McCormick, Aerodynamics of V/STOL Flight, 1967).  The centre line follows the fluid
that passed the disk: it keeps the cross-flow velocity while the axial speed grows.
Its edge mixes with the air outside, faster the more they differ in speed.
Swirl carries the torque: speed v r / sqrt(r^2 + a^2) with v set by the angular momentum
through the section.  What the wing takes out of it is missing at the tail by itself: the
wing's trailing legs run there and turn the flow back (`sim.induced_velocity`).
"""

from __future__ import annotations

import math

from sim import layout as L
from sim.compiled import formula, kernel

SWIRL_CORE = 0.25  # core of the swirl profile over the local radius
# Share of the swirl that loads a surface.  The wing of Veldhuis (2005) shows 0.08 in normal force coefficient at zero
# alpha where a lifting line in the whole swirl has 0.115; with it, wing and tail of a measured model in the hover
# take 0.6 of the torque out of the jet, as measured (0.5 to 0.75), not 0.9.
SWIRL_MET = 0.75
SWIRL_SHAPE = 0.31106  # integral of r^3 / sqrt(r^2 + core^2) over 0..1
STILL_JET = 0.25  # m/s, least axial speed in the formulas, so that still air stays finite
EDGE = 0.1  # half-thickness of the edge at the disk over the local radius (blade tips unload)
# Half-thickness that the mixing edge gains per metre in still air: a plane mixing layer's vorticity thickness is 0.17 to
# 0.18 of its length (Brown and Roshko 1974, from memory), and a smooth step is 4/3 as thick.
SPREAD = 0.13


@formula
def jet_at(px, py, pz, ux, uy, uz, cx, cy, cz, radius, axial, w0, blowing, half_width, blocked):
    """The jet at a point `px, py, pz` from the hub: axial speed gained and share of the swirl met (0..1),
    offset from the jet's centre line (three floats), local radius squared, axial speed in all.

    `u` is the shaft's unit vector, `c` the cross-flow of the air past the body, `blowing`
    0 where no jet leaves the disk backwards, `blocked` the fuselage section over pi (m2).
    """
    s = -(px * ux + py * uy + pz * uz)
    behind = max(s, 0.0)
    w = w0 * (1.0 + behind / math.sqrt(behind * behind + radius * radius))
    through = max(axial + w, STILL_JET)
    local2 = radius * radius * max(axial + w0, STILL_JET) / through + blocked
    local = math.sqrt(local2)
    drift = behind / max(axial + 0.5 * (w + w0), STILL_JET)
    ox = px + s * ux - cx * drift
    oy = py + s * uy - cy * drift
    oz = pz + s * uz - cz * drift
    away = math.sqrt(ox * ox + oy * oy + oz * oz)
    mixed = EDGE * local + SPREAD * behind * abs(w) / (through + abs(axial))
    # what the edge mixes in slows: its middle moves out and both profiles sink, so that momentum and angular momentum
    # through a section stay (moments of the edge profile, smooth step of half-thickness `mixed`)
    share = min(1.0, abs(w) / through)
    wide = mixed * mixed / local2
    t = min(1.0, max(0.0, 0.5 + 0.5 * (local + 0.257 * mixed * share - away) / (mixed + half_width)))
    inside = t * t * (3.0 - 2.0 * t) * (blowing if s > 0.0 else 0.0)
    return (
        w * inside / (1.0 + (0.2 - 0.1 * share) * wide),
        inside / (1.0 + (0.6 - 0.25 * share) * wide),
        ox, oy, oz, local2, through,
    )  # fmt: skip


@kernel
def fill_slipstream(m, vx, vy, vz, axial, w0, torque, rho):
    """Fill AX..AZ (slipstream) and WX..WZ (swirl), air velocities at the strips in body axes.

    `vx, vy, vz` hub velocity through the air, `axial` its part along the shaft, `w0`
    induced speed at the disk, `torque` what the rotor feels (N m).
    """
    ux, uy, uz = m[L.SHAFT], m[L.SHAFT + 1], m[L.SHAFT + 2]
    hx, hy, hz = m[L.HUB], m[L.HUB + 1], m[L.HUB + 2]
    radius = m[L.DISK_RADIUS]
    cx, cy, cz = axial * ux - vx, axial * uy - vy, axial * uz - vz
    blowing = min(1.0, max(0.0, axial + w0))  # no jet behind a disk that the air leaves forwards
    spin = SWIRL_MET * m[L.SWIRL_ON] * m[L.SENSE] * torque / (2.0 * math.pi * SWIRL_SHAPE * rho)
    for i in range(L.PAD):
        jet, met, ox, oy, oz, local2, through = jet_at(
            m[L.VX + i] - hx, m[L.VY + i] - hy, m[L.VZ + i] - hz,
            ux, uy, uz, cx, cy, cz, radius, axial, w0, blowing, m[L.HALF_WIDTH + i], m[L.BLOCKED + i],
        )  # fmt: skip
        m[L.AX + i] = -ux * jet
        m[L.AY + i] = -uy * jet
        m[L.AZ + i] = -uz * jet
        local = math.sqrt(local2)
        core2 = SWIRL_CORE * SWIRL_CORE * local2
        blocked = m[L.BLOCKED + i]
        ring = local2 * local - blocked * math.sqrt(blocked)
        turn = spin * met / (ring * through * math.sqrt(ox * ox + oy * oy + oz * oz + core2))
        wx = turn * (uy * oz - uz * oy)
        wy = turn * (uz * ox - ux * oz)
        wz = turn * (ux * oy - uy * ox)
        m[L.WX + i] = wx
        m[L.WY + i] = wy
        m[L.WZ + i] = wz
        # What the jet's edge sends back.  A free surface mirrors the bound vortex with its own sign: downwash at 3c/4 of
        # a section in a jet of mean height pi R / 2 is circulation / (pi R) (coth z - 1 / z), z = c / R (the last factor
        # within 4 % for z < 2).  It mirrors the trailing legs too, 0.125 CL S / (pi R^2) in a round jet (Glauert 1926), as far
        # as they leave at the edge: less the more load the wing carries on outside.
        outside = max(axial, 0.0)
        contrast = (through * through - outside * outside) / (through * through + outside * outside)
        z = m[L.CHORD + i] / local
        m[L.JET_EDGE + i] = contrast * met / (math.pi * local) * (z / math.sqrt(9.0 + z * z) + 0.5 * contrast)
