"""What a plane and its setup are, in SI: the objects that the file readers make and that the physics is built from.

Axes: body directions (x forward, y right, z down; ISO 1151) measured from the wing
root leading edge.  Lengths in m, masses in kg, angles in rad, voltages in V,
resistances in ohm, currents in A.  Nothing here computes; see `sim.build`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

Vector = tuple[float, float, float]


@dataclass(frozen=True)
class Flap:
    """A plain trailing-edge control surface on part of a lifting surface.

    `name` is "aileron", "elevator" or "rudder".  `chord_root` and `chord_tip` are
    fractions of the local chord at the root and tip of the whole surface, `start` and
    `end` are fractions of its span, root to tip.
    """

    name: str
    chord_root: float
    chord_tip: float
    start: float = 0.0
    end: float = 1.0


@dataclass(frozen=True)
class Surface:
    """A straight-tapered lifting surface, cut into `strips` strips (per half if `symmetric`).

    `root` and `tip` are leading-edge points; a symmetric surface is given by its right
    half.  `incidence` is nose up, `twist` is the tip's incidence less the root's,
    `tip_rounding` how far in from the tip its outline is rounded.  Sections are symmetrical; `thickness` is the thickness-chord ratio.
    """

    name: str
    symmetric: bool
    root: Vector
    tip: Vector
    root_chord: float
    tip_chord: float
    incidence: float = 0.0
    twist: float = 0.0
    tip_rounding: float = 0.0
    thickness: float = 0.12
    strips: int = 5
    flap: Flap | None = None


@dataclass(frozen=True)
class FuselageStation:
    """One cross-section of the fuselage: place along body x, full width and height, centre height (body z)."""

    x: float
    width: float
    height: float
    z: float = 0.0


@dataclass(frozen=True)
class Fuselage:
    """Cross-sections, nose first.  `cross_flow_drag` is the drag coefficient of a slice across the flow."""

    stations: tuple[FuselageStation, ...]
    cross_flow_drag: float = 1.2


@dataclass(frozen=True)
class DragBody:
    """A bluff part such as the landing gear: drag areas C_D A in m2 along body x, y and z, acting at `at`."""

    name: str
    at: Vector
    drag_area: Vector


@dataclass(frozen=True)
class Item:
    """A thing on the scale: mass, centre, and the size of the box that stands for it (x, y, z extents).

    `slide` is the range of body x over which its centre can be moved, or None.
    """

    name: str
    mass: float
    at: Vector
    size: Vector = (0.0, 0.0, 0.0)
    slide: tuple[float, float] | None = None


@dataclass(frozen=True)
class Wheels:
    """Axles: `main` of the right main wheel (the left one stands opposite), `third` of the wheel at tail or nose.

    `diameters` of main and third wheel in m, None where nobody has measured them.
    """

    main: Vector
    third: Vector
    third_is: str  # "tail" or "nose"
    diameters: tuple[float | None, float | None] = (None, None)


@dataclass(frozen=True)
class ThrustLine:
    """Propeller disk centre, and the shaft's tilt: `down` and `right` thrust, in rad."""

    at: Vector
    down: float = 0.0
    right: float = 0.0


@dataclass(frozen=True)
class BladeFamily:
    """Blade shape shared by propellers of one make: chord and thickness over radius, and its section.

    `radius` r/R, `chord` c/R, `thickness` t/c, in rising order of radius; `zero_lift`
    is the section's zero-lift angle against the pitch line (rad, negative for camber).
    `pitch` is the local pitch over the nominal one at each radius; empty means 1 throughout.
    The blade begins at the first radius; what is inside is hub.
    """

    name: str
    radius: tuple[float, ...]
    chord: tuple[float, ...]
    thickness: tuple[float, ...]
    zero_lift: float
    pitch: tuple[float, ...] = ()


@dataclass(frozen=True)
class Propeller:
    """A fixed-pitch propeller: diameter and pitch in m, blade count, blade family, mass in kg.

    `sense` is +1 turning clockwise seen from behind, -1 the other way.
    """

    diameter: float
    pitch: float
    blades: int
    family: BladeFamily
    mass: float
    sense: float = 1.0


@dataclass(frozen=True)
class ElectricPower:
    """Motor, controller and battery.  `kv` in rad/s per V; `cell_resistance` per cell; `rotor_inertia` motor alone, kg m2."""

    cells: int
    capacity: float  # A s
    cell_resistance: float
    kv: float
    winding_resistance: float
    no_load_current: float
    current_limit: float
    rotor_inertia: float = 2.0e-4


@dataclass(frozen=True)
class PistonPower:
    """A petrol engine on the propeller shaft; torque ripple is left out.

    `torque` is full-throttle brake torque over rotor speed, (rad/s, N m) in rising order.
    Above its last speed torque falls to nothing at 1.25 times that speed.  `idle` is the
    rotor speed (rad/s) at which the setup's propeller idles at rest with the throttle shut.
    `friction_share` (at rest, and what is added at the last speed of the map) and
    `pumping_share` are parts of the greatest torque.
    """

    torque: tuple[tuple[float, float], ...]
    idle: float
    fuel: float  # kg
    consumption: float  # kg per J of shaft work at full throttle and greatest power
    throttle_lag: float  # s
    rotor_inertia: float  # kg m2, crank and flywheel
    friction_share: tuple[float, float]
    pumping_share: float


@dataclass(frozen=True)
class Material:
    """What a joiner tube is made of, Pa: `modulus` along it, strengths in `tension`, `compression` and `shear`.

    `yields` is the stress from which it stays bent, None where it breaks first.  `source` says where the values are from.
    """

    name: str
    modulus: float
    tension: float
    compression: float
    shear: float
    yields: float | None
    source: str


@dataclass(frozen=True)
class Joiner:
    """The round tubes that carry a pair of halves through the fuselage: `tubes` of them, alike, side by side.

    `x` is body x of their middle, `reach` how far they go into each half beyond its root rib, `root_rib` the rib's
    distance from the plane of symmetry (None: the fuselage's side), `pin` that of the anti-rotation pin from the tube along
    x (None: not described).  A wall of half the diameter is a solid rod.
    """

    surface: str
    diameter: float
    wall: float
    material: Material
    x: float
    reach: float
    root_rib: float | None = None
    tubes: int = 1
    pin: float | None = None


@dataclass(frozen=True)
class Structure:
    """What carries the loads: `joiners`, and the pilot's own limit `load_factor` (None: not stated)."""

    joiners: tuple[Joiner, ...]
    load_factor: float | None = None


@dataclass(frozen=True)
class Airframe:
    """The plane without its setup; `structure` None where the file does not describe it."""

    name: str
    about: str
    surfaces: tuple[Surface, ...]
    fuselage: Fuselage
    drag_bodies: tuple[DragBody, ...]
    items: tuple[Item, ...]
    thrust_line: ThrustLine
    power: ElectricPower | PistonPower
    estimated: tuple[str, ...] = ()  # field paths whose values are marked as estimates or were filled by a rule
    measured: tuple[str, ...] = ()  # field paths of the other numbers
    structure: Structure | None = None
    wheels: Wheels | None = None


@dataclass(frozen=True)
class Throw:
    """Deflection at full stick, rad: `positive` for positive stick, `negative` for negative stick (both > 0), and exponential 0..1."""

    positive: float
    negative: float
    exponential: float = 0.0


@dataclass(frozen=True)
class Servo:
    """What moves one surface (one aileron, both elevator halves, the rudder): `count` equal servos.

    Of each: `speed` in rad/s without load; `lag` in s, the first-order time constant below
    that speed; `torque`, N m at stall (None: not given, no load is felt); `band`, the error
    (rad) at which it pulls with that torque; `dead_band` (rad), the whole width in which it does not answer; `volts` it
    runs on and `stall_current` (A), None where not given.
    Without a linkage speed and torque are taken as they reach the surface, arm and horn of one length.
    """

    speed: float
    lag: float = 0.02
    torque: float | None = None
    count: int = 1
    band: float = math.radians(2.0)
    dead_band: float = 0.0
    volts: float | None = None
    stall_current: float | None = None


@dataclass(frozen=True)
class Linkage:
    """Servo arm, rod and horn in the plane they move in; see `sim.linkage` for the axes.

    `horn` is how far the rod's hole stands off the hinge line, `horn_offset` how far aft
    of it, both at neutral; `neutral` the arm's angle from the perpendicular to the chord,
    positive aft.  The hinge line lies `distance` aft of the servo's shaft and `height`
    from it towards the rod's side.  `travel` is the servo's angle available each way.
    `push` is 1 if the rod pushes for a positive deflection (trailing edge down, or left
    on a rudder), -1 if it pulls.
    """

    arm: float
    horn: float
    distance: float
    height: float = 0.0
    horn_offset: float = 0.0
    neutral: float = 0.0
    travel: float = 1.0472
    push: float = 1.0
    rod_play: float = 0.0  # m, along the rod, both ends together
    gear_play: float = 0.0  # rad, at the servo's shaft
    estimated: tuple[str, ...] = ()  # keys whose values were filled by a rule, not measured
    other_half: Linkage | None = None  # of an aileron or elevator whose halves differ; the bench looks at it alone


@dataclass(frozen=True)
class Mix:
    """What the `source` stick adds to `target`, as a share of the target's full throw.

    Sticks are "aileron", "elevator", "rudder", "throttle"; a target is one of the first three, or "flaps", which is both
    ailerons down together.  The source counts as its own control gets it, after rate and exponential.  A straight mix
    adds `gain` times the source; with `points`, (source, added) in rising order of the source, it follows them instead.
    """

    source: str
    target: str
    gain: float = 0.0
    points: tuple[tuple[float, float], ...] = ()

    def at(self, source: float) -> float:
        """What is added where the source stands at `source`, -1..1 (throttle 0..1)."""
        if not self.points:
            return self.gain * source
        xs, ys = zip(*self.points)
        if source <= xs[0] or source >= xs[-1]:
            return ys[0] if source <= xs[0] else ys[-1]
        right = next(i for i, x in enumerate(xs) if x > source)
        share = (source - xs[right - 1]) / (xs[right] - xs[right - 1])
        return ys[right - 1] + share * (ys[right] - ys[right - 1])


@dataclass(frozen=True)
class Rate:
    """One position of the rates switch for one control: share of full throw, and exponential; None is the usual value."""

    share: float | None = None
    exponential: float | None = None


@dataclass(frozen=True)
class Mode:
    """A flight mode: what it changes of the setup's rates, mixes (all of them, where given), trims and throttle curve.

    `trims` (rad) are added to the setup's; what the switch changes comes in evenly over `switch_time` s.
    """

    name: str
    switch_time: float = 0.0
    rates: dict[str, dict[str, Rate]] = field(default_factory=dict)  # by "high", "middle", "low", then by control
    mixes: tuple[Mix, ...] | None = None
    trims: dict[str, float] = field(default_factory=dict)
    throttle_curve: tuple[float, ...] | None = None


@dataclass(frozen=True)
class Link:
    """What stands between the stick and the servo: `latency` s from the stick to the servo, `period` s between two
    frames sent (0: no slower than the sticks are looked at), `steps` over a stick's or a control's travel (0: none)."""

    latency: float = 0.020
    period: float = 0.0
    steps: int = 2048


@dataclass(frozen=True)
class Setup:
    """A setup: what a pilot changes on a plane between flights."""

    name: str
    about: str
    airframe: Airframe
    way_of_flying: str
    cg: tuple[float, str]  # (value, "m") aft of the wing root leading edge, or (fraction, "mac")
    moved_item: str
    propeller: Propeller
    throws: dict[str, Throw]  # "aileron", "elevator", "rudder"
    servos: dict[str, Servo]
    mixes: tuple[Mix, ...] = ()
    throttle_curve: tuple[float, ...] = (0.0, 1.0)  # output at evenly spaced stick positions
    thrust_line: ThrustLine | None = None  # overrides the airframe's
    low_rates: dict[str, float] = field(default_factory=dict)  # share of full throw on the low-rate switch, 0..1
    trims: dict[str, float] = field(default_factory=dict)  # rad at the surface, added to the solved trim; "flaps" too
    differential: float = 0.0  # share that the down-going aileron is given less than its throw; less up if below 0
    rates: dict[str, dict[str, Rate]] = field(default_factory=dict)  # by "high", "middle", "low", then by control
    end_points: dict[str, tuple[float, float]] = field(default_factory=dict)  # rad, most at positive, negative stick
    modes: tuple[Mode, ...] = ()  # beside the setup as it stands, which is the mode "normal"
    link: Link | None = None  # None: sticks reach the servos at once and without steps
    linkages: dict[str, Linkage] = field(default_factory=dict)  # by control; none is straight and ideal
    estimated: tuple[str, ...] = ()  # field paths whose values are marked as estimates
    ballast: tuple[Item, ...] = ()  # carried besides the airframe's items
