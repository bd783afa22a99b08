"""Where trims and sticks have to stand for given surfaces, mixes included: the transmitter's chain backwards."""

from __future__ import annotations

import numpy as np

from sim import layout as L
from sim.build import Plane
from sim.transmitter import MIX, STICKS, THROW_NEGATIVE, THROW_POSITIVE, TRIM, unshaped
from sim.trim import Trim


def surfaces(command: np.ndarray) -> np.ndarray:
    """Aileron (mean of both sides), elevator and rudder of a command, rad, shape (3,), with the signs of their sticks."""
    return np.array(
        [0.5 * (command[L.AILERON_LEFT] - command[L.AILERON_RIGHT]), -command[L.ELEVATOR], -command[L.RUDDER]]
    )


def mix_gains(plane: Plane) -> np.ndarray:
    """Gain of each stick (rows: aileron, elevator, rudder, throttle) on each control (columns), shape (4, 3)."""
    return plane.chain[MIX : MIX + 12].reshape(4, 3)


def set_trims(plane: Plane, level: Trim) -> None:
    """Set the trims of level flight, the sticks centred and the throttle where it is: what it mixes in is trimmed out."""
    mixed = mix_gains(plane)[3] * plane.throttle_for_duty(level.duty)
    for axis, surface in enumerate(surfaces(level.command)):
        off = surface - mixed[axis] * throw(plane, axis, mixed[axis])
        plane.chain[TRIM + axis] = off + plane.setup.trims.get(STICKS[axis], 0.0)


def effects_for(plane: Plane, trim: Trim) -> np.ndarray:
    """Share of full throw, shape (3,), that each control shows beyond its trim in `trim`, in the stick's sense."""
    off = surfaces(trim.command) - plane.chain[TRIM : TRIM + 3]
    return np.array([o / throw(plane, axis, o) if abs(o) > 1e-12 else 0.0 for axis, o in enumerate(off)])


def beyond_throttle(plane: Plane, trim: Trim) -> np.ndarray:
    """Share of full throw, shape (3,), that has to come from the three sticks, by themselves or by their mixes."""
    return effects_for(plane, trim) - plane.throttle_for_duty(trim.duty) * mix_gains(plane)[3]


def own_effects(plane: Plane, trim: Trim) -> np.ndarray:
    """What of `effects_for` the sticks themselves give (after their exponential), shape (3,); the rest is mixed in."""
    return np.linalg.solve(np.eye(3) + mix_gains(plane)[:3].T, beyond_throttle(plane, trim))


def sticks_for(plane: Plane, trim: Trim) -> np.ndarray:
    """Where the sticks stand, shape (4,), to hold the surfaces of `trim` on the trims that are set, through all mixes."""
    exponential = [plane.setup.throws[name].exponential for name in STICKS[:3]]
    own = [unshaped(e, x) if abs(e) > 1e-12 else 0.0 for e, x in zip(own_effects(plane, trim), exponential)]
    return np.r_[own, plane.throttle_for_duty(trim.duty)]


def angle(plane: Plane, axis: int, share: float) -> float:
    """What a share of full throw is in rad at the surface."""
    return share * throw(plane, axis, share)


def throw(plane: Plane, axis: int, effect: float) -> float:
    """Full throw in rad, as commands count, on the side of `effect`; of the ailerons, the mean of up and down."""
    positive, negative = float(plane.chain[THROW_POSITIVE + axis]), float(plane.chain[THROW_NEGATIVE + axis])
    if axis == 0:
        return 0.5 * (positive + negative)
    return positive if effect >= 0.0 else negative
