"""Where a plane balances: mass, CG, neutral and manoeuvre points, what the moved item's tray allows, and how it swings."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from scenarios.accuracy import ALIGNMENT, BALANCE, accuracies_of
from scenarios.ballast import Ballast, Place, TipWeight, free_tray, tip_weight, wing_tip, with_ballast
from scenarios.inputs import Case
from scenarios.manoeuvres import CannotFly
from scenarios.spread import Spread, spreads
from sim import layout as L
from sim.build import Plane, build
from sim.description import Airframe, Setup
from sim.linearisation import LAG_ORDER, PLACE, RIGID, linearise, pitch_stability
from sim.modes import Mode, modes
from sim.pitch_margins import PitchMargins, pitch_margins
from sim.stability_derivatives import StabilityDerivatives, stability_derivatives
from sim.trim import NoTrim, Trim, level_trim

# radii of gyration in roll over span, in pitch over length, in yaw over their sum: single-propeller aeroplanes, Raymer,
# Aircraft Design, table 16.1 (from memory).  The one measured 1.1 m aerobatic model has 0.150, 0.24, 0.135
TYPICAL = (0.125, 0.19, 0.0975)
TRIM_SPEED, TRIM_HEIGHT = 25.0, 100.0  # m/s, m: cruise, where neutral point, modes and derivatives are taken


@dataclass(frozen=True)
class Balance:
    """Lengths in m; stations count aft from the wing root leading edge; `_mac` and the margin are fractions of MAC.

    `neutral_point` is stick fixed, propeller off; `margins` are those with power.  `reach` is the CG range that `tray`
    allows by moving `moved_item` alone.  `inertia` in roll, pitch, yaw, and the product of roll and yaw (kg m2);
    `gyration` the radii of the first three, `typical` those of the textbook, `length` that of the whole plane.
    `modes` are those of the plane's own motion in level
    flight at `airspeed` (m/s), hands off, with a flow that lags (to second order in the lag); `settled_modes` the
    same with the flow at rest at every instant, as two-state forms of handbooks have it.  `derivatives` with power,
    `derivatives_off` with a propeller that does nothing.  `no_torque` names controls whose servos' torque is not given.
    """

    mass: float
    cg: float
    cg_mac: float
    cg_height: float
    cg_right: float
    neutral_point: float
    neutral_point_mac: float
    static_margin: float
    lift_slope: float
    margins: PitchMargins
    inertia: tuple[float, float, float, float]
    gyration: tuple[float, float, float]
    typical: tuple[float, float, float]
    span: float
    length: float
    moved_item: str
    item_station: float
    tray: tuple[float, float]
    reach: tuple[float, float]
    mac: float
    mac_leading_edge: float
    wing_loading: float
    estimated: tuple[str, ...]
    no_torque: tuple[str, ...]
    airspeed: float
    modes: tuple[Mode, ...]
    settled_modes: tuple[Mode, ...]
    derivatives: StabilityDerivatives
    derivatives_off: StabilityDerivatives


def balance(plane: Plane) -> Balance:
    """The balance of `plane`.  Raises `CannotFly` when level flight cannot be trimmed at 25 m/s."""
    try:
        trim = level_trim(plane, TRIM_SPEED, TRIM_HEIGHT)
    except NoTrim as stop:
        raise CannotFly(f"{plane.setup.name}: {stop}") from None
    plane.known[("level", TRIM_SPEED, TRIM_HEIGHT)] = trim  # as `scenarios.manoeuvres` keeps them
    stability = pitch_stability(plane, trim)
    mass = plane.mass
    item = {item.name: item for item in plane.items}[plane.setup.moved_item]
    tray = tuple(sorted(-x for x in item.slide))
    station = -item.at[0]
    reach = tuple(plane.cg_station + (end - station) * item.mass / mass.mass for end in tray)
    inertia = mass.inertia
    lagging, settled = own_modes(plane, trim)
    length = overall_length(plane.setup.airframe)
    return Balance(
        mass=mass.mass,
        cg=plane.cg_station,
        cg_mac=plane.mac_of_station(plane.cg_station),
        cg_height=-float(mass.cg[2]),
        cg_right=float(mass.cg[1]),
        neutral_point=stability.neutral_point,
        neutral_point_mac=plane.mac_of_station(stability.neutral_point),
        static_margin=stability.static_margin,
        lift_slope=stability.lift_slope,
        margins=pitch_margins(plane, trim),
        inertia=(float(inertia[0, 0]), float(inertia[1, 1]), float(inertia[2, 2]), -float(inertia[0, 2])),
        gyration=tuple(math.sqrt(float(inertia[i, i]) / mass.mass) for i in range(3)),
        typical=tuple(share * size for share, size in zip(TYPICAL, (plane.span, length, plane.span + length))),
        span=plane.span,
        length=length,
        moved_item=item.name,
        item_station=station,
        tray=tray,
        reach=reach,
        mac=plane.mac,
        mac_leading_edge=plane.mac_leading_edge,
        wing_loading=mass.mass / plane.wing_area,
        estimated=plane.setup.airframe.estimated,
        no_torque=tuple(name for name, servo in plane.setup.servos.items() if not servo.torque),
        airspeed=TRIM_SPEED,
        modes=lagging,
        settled_modes=settled,
        derivatives=stability_derivatives(plane, trim),
        derivatives_off=stability_derivatives(plane, trim, power=False),
    )


def own_modes(plane: Plane, trim: Trim) -> tuple[tuple[Mode, ...], tuple[Mode, ...]]:
    """The modes of the eight rigid-body states about `trim`, slowest last: with a flow that lags, and with one at rest.

    Servos, rotor and flow follow the body; height, place, heading and battery charge are held: they only drift.
    """
    whole = linearise(plane, trim, free=True).without(*PLACE)
    lagging, settled = (tuple(modes(whole.reduced(RIGID, order))) for order in (LAG_ORDER, 0))
    return lagging, settled


def overall_length(airframe: Airframe) -> float:
    """From the propeller to the last edge, m."""
    ends = [airframe.thrust_line.at[0], *(s.x for s in airframe.fuselage.stations)]
    for s in airframe.surfaces:
        ends += [s.root[0], s.tip[0], s.root[0] - s.root_chord, s.tip[0] - s.tip_chord]
    return max(ends) - min(ends)


# ---- how far the margins may be off -------------------------------------------------------------------------------------


def margin_spreads(setup: Setup) -> dict[str, Spread]:
    """Spreads of `margins_of` from what cannot be measured exactly of balance and alignment.

    Throws take no part: margins are those of fixed controls.  Raises `CannotFly`.
    """
    case = Case(free_tray(setup))
    try:
        return spreads(case, margins_of, accuracies_of(setup, BALANCE, ALIGNMENT))
    except NoTrim as stop:
        raise CannotFly(f"{setup.name}: {stop}") from None


def margins_of(case: Case) -> dict[str, float]:
    """CG and neutral point (m aft of the wing root leading edge), margins (fractions of MAC) and elevator per g (rad).

    Raises `NoTrim`.
    """
    plane = build(case.setup)
    trim = level_trim(plane, TRIM_SPEED, TRIM_HEIGHT)
    off, on = pitch_stability(plane, trim), pitch_margins(plane, trim)
    return {
        "cg": plane.cg_station,
        "neutral_point": off.neutral_point,
        "static_margin": off.static_margin,
        "static_margin_power": on.power,
        "speed_margin": on.speed,
        "manoeuvre_margin": on.manoeuvre,
        "elevator_per_g": on.elevator_per_g,
    }


# ---- side to side -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Lateral:
    """`right` (m) where the CG lies, `tip` the weight that cures it, and what level flight costs meanwhile.

    `aileron` (rad, rolling right) is that share of the level trim which the CG's place takes; `per_10_g` what 10 g at a
    wing tip takes, `cg_per_10_g` (m) how far they move the CG.
    """

    right: float
    tip: TipWeight
    aileron: float
    per_10_g: float
    cg_per_10_g: float


TEN_GRAMS = 0.010


def lateral(plane: Plane) -> Lateral:
    """The balance of `plane` from side to side, its ailerons from two level trims.  Raises `CannotFly`."""
    airframe, right = plane.setup.airframe, float(plane.mass.cg[1])
    at = wing_tip(airframe, 1.0)
    # the CG is held along the fuselage, so that nothing else changes
    held = replace(free_tray(plane.setup), cg=(plane.cg_station, "m"))
    heavier = build(with_ballast(held, Ballast(Place("the right wing tip", at), TEN_GRAMS)))
    try:
        rolled = [float(level_trim(each, TRIM_SPEED, TRIM_HEIGHT).command[L.AILERON_LEFT]) for each in (plane, heavier)]
    except NoTrim as stop:
        raise CannotFly(f"{plane.setup.name}: {stop}") from None
    per_10_g = rolled[1] - rolled[0]
    # level trim is linear in the moment of weight about the centre line
    share = plane.mass.mass * right / (TEN_GRAMS * at[1])
    return Lateral(
        right, tip_weight(airframe, plane.items), per_10_g * share, per_10_g, float(heavier.mass.cg[1]) - right
    )
