"""Attitudes: quaternions (body to earth, scalar first), Euler angles and the vectors turned by them."""

from __future__ import annotations

import math

import numpy as np

from sim.compiled import kernel

G = 9.80665  # m/s2, standard gravity (ISO 80000-3 / CGPM 1901)


def quaternion_from_euler(bank: float, pitch: float, heading: float) -> np.ndarray:
    """The quaternion, shape (4,), of bank, pitch and heading in rad (turn order heading, pitch, bank)."""
    cb, sb = math.cos(bank / 2), math.sin(bank / 2)
    cp, sp = math.cos(pitch / 2), math.sin(pitch / 2)
    ch, sh = math.cos(heading / 2), math.sin(heading / 2)
    return np.array(
        [
            cb * cp * ch + sb * sp * sh,
            sb * cp * ch - cb * sp * sh,
            cb * sp * ch + sb * cp * sh,
            cb * cp * sh - sb * sp * ch,
        ]
    )


@kernel
def body_to_earth(q0, q1, q2, q3):
    """The nine elements, row by row, of the matrix that turns body vectors into earth vectors."""
    return (
        1.0 - 2.0 * (q2 * q2 + q3 * q3),
        2.0 * (q1 * q2 - q0 * q3),
        2.0 * (q1 * q3 + q0 * q2),
        2.0 * (q1 * q2 + q0 * q3),
        1.0 - 2.0 * (q1 * q1 + q3 * q3),
        2.0 * (q2 * q3 - q0 * q1),
        2.0 * (q1 * q3 - q0 * q2),
        2.0 * (q2 * q3 + q0 * q1),
        1.0 - 2.0 * (q1 * q1 + q2 * q2),
    )


@kernel
def euler_angles(r00, r10, r20, r21, r22):
    """Bank, pitch, heading (rad) from elements of the body-to-earth matrix.

    Pitch lies within +-90 deg.  At the poles bank and heading are not separate; what is
    returned there is finite.
    """
    pitch = math.asin(min(1.0, max(-1.0, -r20)))
    return math.atan2(r21, r22), pitch, math.atan2(r10, r00)


@kernel
def cross(ax, ay, az, bx, by, bz):
    """The vector product a x b, as three floats."""
    return ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
