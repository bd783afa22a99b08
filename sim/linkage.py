"""The linkage between servo and surface: an exact planar four-bar, arm and horn joined by a rod.

Side view, x aft and y towards the side the rod runs on, origin at the servo's shaft.
The rod's hole in the arm lies at `arm` (sin, cos) of `neutral` plus the servo's angle;
the hinge line stands at (`distance`, `height`), and the hole in the horn, at neutral,
`horn` above it and `horn_offset` aft of it.  Both angles count from neutral.  Inside
the circle of formulas a positive angle moves the hole aft (the rod pushes); outside,
angles of servo and surface are positive for the surface's positive deflection
(trailing edge down, or left on a rudder), so the surface rises with the servo in
every linkage, and is 0 where the servo is.

Two places end the way.  With horn and rod in line the rod can push the horn no farther
("horn dead"); with arm and rod in line the surface stops and comes back ("arm dead").
Both are the same triangle, seen from either crank.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from sim.description import Linkage

MEETS = 1e-4  # rad
ROUNDING = 1e-12  # of a cosine at a dead point, where it is 1 or -1


class Way(NamedTuple):
    """How far a linkage goes: servo angles (rad) `low` < 0 < `high`, and what ends each, "servo", "horn" or "arm"."""

    low: float
    high: float
    low_end: str
    high_end: str


def rod_length(linkage: Linkage) -> float:
    """Hole to hole, m: the rod that holds the surface at neutral with the arm at its neutral."""
    across = linkage.distance + linkage.horn_offset - linkage.arm * np.sin(linkage.neutral)
    up = linkage.height + linkage.horn - linkage.arm * np.cos(linkage.neutral)
    return float(np.hypot(across, up))


def surface_angle(linkage: Linkage, servo: np.ndarray | float) -> np.ndarray:
    """Surface deflection, rad, at servo angles, rad, of any shape; NaN where the rod does not reach."""
    return linkage.push * _followed(linkage, linkage.push * np.asarray(servo, dtype=float))


def servo_angle(linkage: Linkage, surface: np.ndarray | float) -> np.ndarray:
    """Servo angle, rad, that puts the surface at a deflection, rad; NaN where no servo angle does."""
    return linkage.push * _followed(_from_the_other_end(linkage), linkage.push * np.asarray(surface, dtype=float))


def levers(linkage: Linkage, servo: np.ndarray | float) -> tuple[np.ndarray, np.ndarray]:
    """How far off the shaft, and off the hinge line, the rod pulls, m, at servo angles, rad; not below 0 on the way."""
    turned = linkage.push * np.asarray(servo, dtype=float)
    deflection = _followed(linkage, turned)
    phi = linkage.neutral + turned
    arm_x, arm_y = linkage.arm * np.sin(phi), linkage.arm * np.cos(phi)
    horn_x = linkage.horn_offset * np.cos(deflection) + linkage.horn * np.sin(deflection)
    horn_y = linkage.horn * np.cos(deflection) - linkage.horn_offset * np.sin(deflection)
    rod_x, rod_y = linkage.distance + horn_x - arm_x, linkage.height + horn_y - arm_y
    length = np.hypot(rod_x, rod_y)
    return (arm_y * rod_x - arm_x * rod_y) / length, (horn_y * rod_x - horn_x * rod_y) / length


def rate(linkage: Linkage, servo: np.ndarray | float) -> np.ndarray:
    """d surface / d servo at servo angles, rad: the rod moves both its holes alike along itself.

    By virtual work it is also servo torque over hinge torque without friction: a hinge
    moment M asks the servo for M times this.
    """
    arm, horn = levers(linkage, servo)
    return arm / horn


@lru_cache(maxsize=64)
def way(linkage: Linkage) -> Way:
    """How far the linkage goes to each side, until the servo's travel, or a dead point, ends it.

    Holds for a linkage that is alive at neutral: `rate(linkage, 0.0)` over 0.
    """
    ends = {"servo": (-linkage.travel, linkage.travel), "horn": _dead(linkage), "arm": (-np.inf, np.inf)}
    other = _from_the_other_end(linkage)
    # In line with the rod the arm stands at one angle, not two; it ends the way if the horn meets it there.
    limits = [limit for limit in _dead(other) if np.isfinite(limit)]
    dead = [(float(_followed(other, limit)), limit) for limit in limits]
    met = [arm for arm, horn in dead if abs(_followed(linkage, arm) - horn) < MEETS]
    ends["arm"] = (_first(met, -1.0), _first(met, 1.0))
    low_end = max(ends, key=lambda end: ends[end][0])
    high_end = min(ends, key=lambda end: ends[end][1])
    low, high = ends[low_end][0], ends[high_end][1]
    if linkage.push < 0.0:
        return Way(-high, -low, high_end, low_end)
    return Way(low, high, low_end, high_end)


@lru_cache(maxsize=64)
def _from_the_other_end(linkage: Linkage) -> Linkage:
    """The same four-bar with servo and surface changed over: the horn leads, and the arm follows."""
    return replace(
        linkage,
        arm=float(np.hypot(linkage.horn, linkage.horn_offset)),
        neutral=float(np.arctan2(linkage.horn_offset, linkage.horn)),
        horn=linkage.arm * float(np.cos(linkage.neutral)),
        horn_offset=linkage.arm * float(np.sin(linkage.neutral)),
        distance=-linkage.distance,
        height=-linkage.height,
    )


def _followed(linkage: Linkage, turned: np.ndarray | float) -> np.ndarray:
    """The horn's angle, positive aft, at an angle of the arm, positive aft: the triangle of hinge line and rod's two holes."""
    radius = np.hypot(linkage.horn, linkage.horn_offset)
    length = rod_length(linkage)

    def seen_from_hinge(phi: np.ndarray | float) -> tuple[np.ndarray, np.ndarray]:
        """Direction of the arm's hole from the hinge line (from y, positive to x), and the angle there between hole and horn."""
        x = linkage.arm * np.sin(phi) - linkage.distance
        y = linkage.arm * np.cos(phi) - linkage.height
        cosine = (radius**2 + x**2 + y**2 - length**2) / (2.0 * radius * np.hypot(x, y))
        cosine = np.where(np.abs(cosine) < 1.0 + ROUNDING, np.clip(cosine, -1.0, 1.0), np.nan)
        return np.arctan2(x, y), np.arccos(cosine)

    towards, between = seen_from_hinge(linkage.neutral + turned)
    begun, between_begun = seen_from_hinge(linkage.neutral)
    side = 1.0 if _turned_to(np.arctan2(linkage.horn_offset, linkage.horn) - begun) >= 0.0 else -1.0
    return _turned_to(towards - begun + side * (between - between_begun))


def _dead(linkage: Linkage) -> tuple[float, float]:
    """Arm angles from neutral, below and above, at which horn and rod lie in line; infinite where they never do."""
    base = np.hypot(linkage.distance, linkage.height)
    hinge = np.arctan2(linkage.distance, linkage.height)
    radius = np.hypot(linkage.horn, linkage.horn_offset)
    found = []
    for reach in (rod_length(linkage) + radius, rod_length(linkage) - radius):
        cosine = (linkage.arm**2 + base**2 - reach**2) / (2.0 * linkage.arm * base)
        if abs(cosine) <= 1.0 + ROUNDING:  # of arm and horn of one length both dead points are one, met to rounding
            turned = np.arccos(min(1.0, max(-1.0, cosine)))
            found += [float(_turned_to(hinge + side * turned - linkage.neutral)) for side in (-1.0, 1.0)]
    return _first(found, -1.0), _first(found, 1.0)


def _first(angles: list[float], side: float) -> float:
    """The angle nearest to 0 on one side (-1 or 1), or infinity there."""
    return min((abs(angle) for angle in angles if angle * side > 0.0), default=np.inf) * side


def _turned_to(angle: np.ndarray | float) -> np.ndarray:
    """The angle within half a turn of 0."""
    return (np.asarray(angle) + np.pi) % (2.0 * np.pi) - np.pi
