"""The way back: which holes of arm and horn give a wanted throw with the finest steps at the surface.

Every pair of holes is tried in the same place; what can give the throw both ways is put
in order.  A shorter arm on a longer horn lets the servo travel farther for the same
throw: finer steps, more torque, less of the gears' play; a longer horn makes less of
the rod's; the price is time, as the arm has farther to go.  So the order is by the step
at the centre, to a thousandth of a degree, then by play there, then by leverage at full
throw.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from models.errors import Refused
from models.linkage_schema import LinkageChange, LinkagePart
from models.linkages import WORDS, changed, largest_throws, linkage
from scenarios.bench.linkage import NEAR_DEAD, NO_DRIVE, Drive, Place, left_to_dead, place
from sim.description import Linkage

ARMS = tuple(1e-3 * mm for mm in (10, 15, 20, 25, 30, 35, 40, 45, 50))  # m (common practice, no source)
HORNS = tuple(1e-3 * mm for mm in (20, 25, 30, 35, 40, 45, 50))  # m (common practice, no source)


@dataclass(frozen=True)
class Holes:
    """One pair of holes, m: the linkage at the centre and at the throw either way, or why it cannot give the throw."""

    arm: float
    horn: float
    linkage: Linkage | None = None
    centre: Place | None = None
    positive: Place | None = None
    negative: Place | None = None
    reason: str = ""
    most: float = 0.0  # rad, the largest throw both ways of one that cannot

    @property
    def travel(self) -> float:
        """The servo's larger angle from neutral, rad."""
        return max(self.positive.servo, -self.negative.servo)

    @property
    def leverage(self) -> float:
        """Torque at the surface over the servo's at full throw, on the weaker side."""
        return min(self.positive.leverage, self.negative.leverage)

    @property
    def order(self) -> tuple[float, float, float]:
        """What puts one before another: the lesser comes first."""
        return round(float(np.degrees(self.centre.step)), 3), self.centre.slop, -self.leverage


def holes_for(
    part: LinkagePart,
    wanted: float,
    arms: Iterable[float] = ARMS,
    horns: Iterable[float] = HORNS,
    drive: Drive = NO_DRIVE,
) -> tuple[list[Holes], list[Holes]]:
    """Pairs of holes that give `wanted` (rad) both ways, best first, and those that cannot, nearest first.

    `part` says everything but arm and horn; what it leaves out is estimated for each pair anew.
    """
    tried = [_tried(part, arm, horn, wanted, drive) for arm in arms for horn in horns]
    can = sorted((h for h in tried if not h.reason), key=lambda h: h.order)
    return can, sorted((h for h in tried if h.reason), key=lambda h: -h.most)


def _tried(part: LinkagePart, arm: float, horn: float, wanted: float, drive: Drive) -> Holes:
    change = LinkageChange.model_construct(servo_arm=arm, horn_height=horn)
    try:
        made = linkage(changed(part, change))
    except Refused as refused:
        return Holes(arm, horn, reason=refused.found)
    low, high, low_end, high_end = largest_throws(made)
    most, end = min((-low, low_end), (high, high_end))
    if most < wanted:
        return Holes(arm, horn, made, reason=WORDS[end], most=most)
    centre, positive, negative = (place(made, surface, drive) for surface in (0.0, wanted, -wanted))
    left = min(left_to_dead(made, positive, negative))
    if left < NEAR_DEAD:
        return Holes(arm, horn, made, reason="under 5 deg of servo from a dead point", most=wanted)
    return Holes(arm, horn, made, centre, positive, negative)
