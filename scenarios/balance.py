"""Where a plane balances: mass, CG, neutral point, static margin, what the moved item's tray allows, and how it swings."""

from __future__ import annotations

from dataclasses import dataclass

from scenarios.manoeuvres import CannotFly
from sim.build import Plane
from sim.linearisation import LAG_ORDER, PLACE, RIGID, linearise, pitch_stability
from sim.modes import Mode, modes
from sim.stability_derivatives import StabilityDerivatives, stability_derivatives
from sim.trim import NoTrim, Trim, level_trim

TRIM_SPEED, TRIM_HEIGHT = 25.0, 100.0  # m/s, m: cruise, where neutral point, modes and derivatives are taken


@dataclass(frozen=True)
class Balance:
    """Lengths in m; stations count aft from the wing root leading edge; `_mac` and the margin are fractions of MAC.

    `neutral_point` is stick fixed, propeller off.  `reach` is the CG range that `tray`
    allows by moving `moved_item` alone.  `modes` are those of the plane's own motion in level
    flight at `airspeed` (m/s), hands off, with a flow that lags (to second order in the lag); `settled_modes` the
    same with the flow at rest at every instant, as two-state forms of handbooks have it.  `derivatives` with power,
    `derivatives_off` with a propeller that does nothing.
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
    inertia: tuple[float, float, float, float]
    moved_item: str
    item_station: float
    tray: tuple[float, float]
    reach: tuple[float, float]
    mac: float
    mac_leading_edge: float
    wing_loading: float
    estimated: tuple[str, ...]
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
        inertia=(float(inertia[0, 0]), float(inertia[1, 1]), float(inertia[2, 2]), -float(inertia[0, 2])),
        moved_item=item.name,
        item_station=station,
        tray=tray,
        reach=reach,
        mac=plane.mac,
        mac_leading_edge=plane.mac_leading_edge,
        wing_loading=mass.mass / plane.wing_area,
        estimated=plane.setup.airframe.estimated,
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
