"""What a pilot cannot measure exactly: every input's one-sigma error by common practice, in one place.

Values are common practice without a published source (the tools named, used with care), for bands and not for
verdicts.  Names are those of `scenarios.inputs`.  What the transmitter holds as numbers (exponential, mixes) is exact.
Ailerons that do not travel alike are an input and none of these: half a degree at full stick brings 6 % of the variance
at most (the axis of a roll; lines, knife edge, stall, loop, hover under 1), and each draw would take a sixth longer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from models.units import written
from scenarios.inputs import WAYS, Case, inputs_of
from sim.build import mean_aerodynamic_chord
from sim.description import Setup

PRACTICE = "common practice, no source"
BALANCE, ALIGNMENT, THROWS, SIDES = "balance", "alignment", "throws", "sides"


@dataclass(frozen=True)
class Accuracy:
    """How well the input called `name` is known: `sigma`, one standard deviation (m, rad, or a share), and `how`."""

    name: str
    sigma: float
    dimension: str  # as in `models.units`: "length", "angle", "ratio"
    how: str
    kind: str
    source: str = PRACTICE

    @property
    def text(self) -> str:
        """`sigma` as a pilot says it."""
        unit, decimals = {"length": ("mm", 0), "angle": ("deg", 1), "ratio": ("%", 1)}[self.dimension]
        return written(self.sigma, self.dimension, unit, decimals)


_DEG = math.radians(1.0)
CG = Accuracy("cg", 0.002, "length", "on a stand, level, ready to fly (on fingertips 5 mm)", BALANCE)
MASS = Accuracy("mass scale", 0.005, "ratio", "a scale", BALANCE)
WING = Accuracy("incidence of wing", 0.2 * _DEG, "angle", "a digital gauge", ALIGNMENT)
OTHERS = Accuracy("incidence of {}", 0.3 * _DEG, "angle", "a digital gauge on a short chord", ALIGNMENT)
THRUST = Accuracy("{} thrust", 0.5 * _DEG, "angle", "from the spinner to the fin", ALIGNMENT)
THROW = Accuracy("{} throw", 1.0 * _DEG, "angle", "a throw gauge", THROWS)
LATERAL = Accuracy("cg to the right", math.nan, "length", "hung at spinner and tail, 5 g at a wing tip", SIDES)
CENTRING = Accuracy(
    "{} centring", 0.1 * _DEG, "angle", "servos that come back to where they were, trimmed by eye", SIDES
)

# what has no input of its own
SCALE = 0.005  # share of a reading, one scale under one wheel; common practice
RULER = 0.001  # m, an axle against the wing root leading edge, plumbed to the floor; common practice
LEVEL = 0.3 * _DEG  # the fuselage on the scales, by a digital gauge; common practice
TIP_WEIGHT = (
    0.005  # kg at a wing tip, hung at spinner and tail; common practice; `LATERAL` is what that moves the CG by
)
# what the model itself adds to every margin, of MAC: its neutral point lies that much aft of a vortex lattice's, and 0.5
# of that of the textbook formula (tests/sim/test_neutral_point_routes.py)
MODEL = 0.033

_WAYS = ("aileron up", "aileron down", "elevator up", "elevator down", "rudder right", "rudder left")


def accuracies_of(setup: Setup, *kinds: str) -> tuple[Accuracy, ...]:
    """The accuracies of `setup`'s plane, of those `kinds` (all where none is said)."""
    surfaces = [s.name for s in setup.airframe.surfaces]
    found = [CG, MASS]
    found += [WING if name == "wing" else replace(OTHERS, name=OTHERS.name.format(name)) for name in surfaces]
    found += [replace(THRUST, name=THRUST.name.format(way)) for way in ("down", "right")]
    found += [replace(THROW, name=THROW.name.format(way)) for way in _WAYS]
    found += [replace(LATERAL, sigma=_of_tip_weight(setup))]
    found += [replace(CENTRING, name=CENTRING.name.format(control)) for control in WAYS]
    return tuple(a for a in found if not kinds or a.kind in kinds)


def _of_tip_weight(setup: Setup) -> float:
    """How far TIP_WEIGHT moves the CG sideways, m."""
    wing = next(s for s in setup.airframe.surfaces if s.name == "wing")
    return TIP_WEIGHT * wing.tip[1] / sum(i.mass for i in (*setup.airframe.items, *setup.ballast))


def off_by(case: Case, accuracy: Accuracy, sigmas: float) -> Case:
    """`case` with one input so many of its standard deviations more than it is."""
    what = inputs_of(case.setup)[accuracy.name]
    now, step = what.read(what.now(case)), sigmas * accuracy.sigma
    if accuracy is not CG:
        return what.apply(case, now + step)
    value, kind = now
    if kind == "mac":
        wing = next(s for s in case.setup.airframe.surfaces if s.name == "wing")
        step /= mean_aerodynamic_chord(wing)[0]
    return what.apply(case, (value + step, kind))
