"""What a linkage makes of the stick: surface over stick, resolution, leverage, slop, differential, mismatch of halves.

Angles here have the stick's sense: positive is what full positive stick does (aileron
and elevator up, the aileron being the right one; rudder right), so that tables read as
a pilot moves.  The transmitter scales the servo's way on either side such that full
stick gives the throw; in between the servo follows the stick after its exponential.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sim import linkage as four_bar
from sim.description import Airframe, Linkage, Setup, Throw
from sim.transmitter import shaped

STEPS = 2048  # of the link over the servo's whole travel (common practice, no source)
STICKS = np.linspace(-1.0, 1.0, 41)
NEAR_DEAD = np.radians(5.0)  # of servo; nearer to a dead point play and rod load grow out of hand (common practice)
SLOP_AIM = np.radians(0.5)  # at the surface (common practice, no source)
# What is easily wrong on one half and not on the other: words, field of `Linkage`, size in SI.
ERRORS = (
    ("hole 1 mm farther out on the horn", "horn", 1.0e-3),
    ("hole 1 mm farther aft on the horn", "horn_offset", 1.0e-3),
    ("hole 1 mm farther out on the arm", "arm", 1.0e-3),
    ("arm 3 deg farther aft at neutral", "neutral", np.radians(3.0)),
)


@dataclass(frozen=True)
class Point:
    """One stick position, -1..1: angles of servo and surface, the surface's without a linkage (`straight`), rad, and rate."""

    stick: float
    servo: float
    surface: float
    straight: float
    rate: float  # rad of surface per rad of servo


@dataclass(frozen=True)
class Drive:
    """What turns the arm: servo `speed` without load (rad/s), `torque` of all its servos (N m), None where not known; link steps."""

    speed: float | None = None
    torque: float | None = None
    steps: int = STEPS


NO_DRIVE = Drive()


@dataclass(frozen=True)
class Place:
    """The linkage at one deflection: angles in rad; `step` per link step; play end to end at the surface; torque in N m.

    `time` is the servo's from neutral without load, s.
    """

    servo: float
    surface: float
    rate: float
    step: float
    gear_slop: float
    rod_slop: float
    torque: float | None  # at the surface, from the servo's
    time: float | None

    @property
    def leverage(self) -> float:
        """Torque at the surface over torque of the servo, without friction."""
        return 1.0 / self.rate

    @property
    def slop(self) -> float:
        """Play from gears and rod together."""
        return self.gear_slop + self.rod_slop


@dataclass(frozen=True)
class Mismatch:
    """How much farther the other half goes, rad: at both full sticks with equal servo angles, and with full throws matched.

    `between` is the largest difference, either way, once each half has end points of its own.  None where it does not get there.
    """

    about: str
    positive: float | None
    negative: float | None
    between: float | None


@dataclass(frozen=True)
class Bench:
    """One control's linkage on the bench."""

    control: str
    linkage: Linkage
    throw: Throw
    chord: float  # m, the largest behind the hinge line
    chord_at: float  # share of the (half-)span
    drive: Drive
    points: tuple[Point, ...]
    centre: Place
    positive: Place
    negative: Place
    rod_length: float
    ends: tuple[tuple[float, str], tuple[float, str]]  # largest throw to each side, rad, and what ends it
    dead: tuple[float, float]  # servo angle from full throw to the dead point, positive and negative side
    differential: tuple[float, float, float]  # one servo angle both ways, and what the surface does: positive, negative
    halves: tuple[Mismatch, ...]


def bench(setup: Setup, control: str, torque: float | None = None, steps: int = STEPS) -> Bench:
    """`control`'s linkage of `setup` on the bench; `torque` of one servo (N m) instead of the setup's, if given.

    The setup must have that linkage, and it must give the throws; `models.loader` has checked both.
    """
    linkage, throw = setup.linkages[control], setup.throws[control]
    chord, chord_at = largest_flap_chord(setup.airframe, control)
    drive = drive_of(setup, control, torque, steps)
    positive, negative = place(linkage, throw.positive, drive), place(linkage, -throw.negative, drive)
    effect = np.array([shaped(s, throw.exponential) for s in STICKS])
    servo = np.where(effect > 0.0, effect * positive.servo, -effect * negative.servo)
    straight = np.where(effect > 0.0, effect * throw.positive, effect * throw.negative)
    points = zip(STICKS, servo, surface_at(linkage, servo), straight, four_bar.rate(linkage, -servo))
    ends = four_bar.way(linkage)
    equal = min(positive.servo, ends.high, -ends.low)
    return Bench(
        control=control,
        linkage=linkage,
        throw=throw,
        chord=chord,
        chord_at=chord_at,
        drive=drive,
        points=tuple(Point(*(float(x) for x in point)) for point in points),
        centre=place(linkage, 0.0, drive),
        positive=positive,
        negative=negative,
        rod_length=four_bar.rod_length(linkage),
        ends=(
            (float(surface_at(linkage, -ends.low)), ends.low_end),
            (-float(surface_at(linkage, -ends.high)), ends.high_end),
        ),
        dead=left_to_dead(linkage, positive, negative),
        differential=(equal, float(surface_at(linkage, equal)), float(-surface_at(linkage, -equal))),
        halves=() if control == "rudder" else tuple(_halves(linkage, positive, negative)),
    )


def drive_of(setup: Setup, control: str, torque: float | None = None, steps: int = STEPS) -> Drive:
    """The servos of `control`; `torque` of one of them (N m) instead of the setup's, if given."""
    servo = setup.servos[control]
    each = getattr(servo, "torque", None) if torque is None else torque
    return Drive(servo.speed, None if each is None else each * getattr(servo, "count", 1), steps)


def surface_at(linkage: Linkage, servo: np.ndarray | float) -> np.ndarray:
    """Surface angle over servo angle, rad, both in the stick's sense."""
    return -four_bar.surface_angle(linkage, -np.asarray(servo))


def servo_at(linkage: Linkage, surface: float) -> float:
    """Servo angle for a surface angle, rad, both in the stick's sense; NaN where there is none."""
    return -float(four_bar.servo_angle(linkage, -surface))


def place(linkage: Linkage, surface: float, drive: Drive = NO_DRIVE) -> Place:
    """The linkage with the surface at an angle, rad, in the stick's sense."""
    servo = servo_at(linkage, surface)
    arm, horn = four_bar.levers(linkage, -servo)
    rate = float(arm / horn)
    return Place(
        servo=servo,
        surface=surface,
        rate=rate,
        step=rate * 2.0 * linkage.travel / drive.steps,
        gear_slop=rate * linkage.gear_play,
        rod_slop=linkage.rod_play / float(horn),
        torque=None if drive.torque is None else drive.torque / rate,
        time=None if drive.speed is None else abs(servo) / drive.speed,
    )


def left_to_dead(linkage: Linkage, positive: Place, negative: Place) -> tuple[float, float]:
    """Servo angle, rad, from either full throw on to the dead point, were the servo's travel no limit."""
    dead = four_bar.way(replace(linkage, travel=np.pi))
    return -dead.low - positive.servo, dead.high + negative.servo


def edge_travel(chord: float, angle: np.ndarray | float) -> np.ndarray:
    """How far the trailing edge has gone from neutral, m, in a straight line, as a ruler finds it; sign of the angle."""
    return 2.0 * chord * np.sin(0.5 * np.asarray(angle))


def largest_flap_chord(plane: Airframe, control: str) -> tuple[float, float]:
    """The largest chord behind the hinge line of `control`, m, and where, as a share of the surface's (half-)span.

    Rounded tips are left out.  (0, 0) for a plane without that control.
    """
    found = (0.0, 0.0)
    for surface in plane.surfaces:
        flap = surface.flap
        if flap is None or flap.name != control:
            continue
        at = np.linspace(flap.start, flap.end, 201)
        chord = surface.root_chord + at * (surface.tip_chord - surface.root_chord)
        chord *= flap.chord_root + at * (flap.chord_tip - flap.chord_root)
        widest = int(np.argmax(chord))
        found = max(found, (float(chord[widest]), float(at[widest])))
    return found


def _halves(linkage: Linkage, positive: Place, negative: Place):
    """The other half as the setup has it, and with one small error each."""
    if linkage.other_half is not None:
        yield mismatch("the other half of the setup", linkage, linkage.other_half, positive, negative)
    for about, field, size in ERRORS:
        other = replace(linkage, **{field: getattr(linkage, field) + size}, other_half=None)
        yield mismatch(about, linkage, other, positive, negative)


def mismatch(about: str, linkage: Linkage, other: Linkage, positive: Place, negative: Place) -> Mismatch:
    """How the `other` half goes against this one between two full throws of this one."""

    def ahead(servo: float, surface: float) -> float | None:
        ends = four_bar.way(other)
        if not ends.low <= -servo <= ends.high:
            return None
        return float(surface_at(other, servo)) - surface

    own = [servo_at(other, p.surface) for p in (negative, positive)]
    between = None
    ends = four_bar.way(replace(other, travel=other.travel * (1.0 + 1e-9)))
    if np.isfinite(own).all() and ends.low <= -own[1] and -own[0] <= ends.high:
        part = np.linspace(0.0, 1.0, 101)
        sides = [
            surface_at(other, part * mine) - surface_at(linkage, part * p.servo)
            for mine, p in zip(own, (negative, positive))
        ]
        between = float(np.max(np.abs(sides)))
    at_negative = ahead(negative.servo, negative.surface)
    return Mismatch(
        about,
        positive=ahead(positive.servo, positive.surface),
        negative=None if at_negative is None else -at_negative,
        between=between,
    )
