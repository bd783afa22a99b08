"""The objects of `sim.description` from files that have been read: body axes, and estimates for what was left out.

File stations are x aft, y right, z up; body axes are x forward, y right, z down, with the
same origin, the wing root leading edge: (x, y, z) becomes (-x, y, -z).

Estimates, each listed in `Airframe.estimated` where it was used, after the numbers that the file marks with "~":

- surface thickness 12 % of the chord; incidence and twist 0 deg (a fin's are not listed:
  it is set straight unless someone says so)
- fuselage cross-flow drag coefficient 1.2, a rounded square cylinder across the flow
- drag body: side and top areas 0; drag coefficient 1.0, a bluff body
- thrust line: down and right thrust 0 deg
- item size: a cube of 1.5 g/cm3, between a servo's and a battery's density
- cell resistance 10 mohm Ah divided by the capacity (a pack of 5 Ah: 2 mohm a cell)
- winding resistance: 5 % of the pack's 3.7 V a cell lost at the current limit
- no-load current: 2 % of the current limit
- rotor inertia of an electric motor 2000 g cm2
- piston engines, all common practice without a source: brake mean effective pressure of 5 bar
  (two-stroke) or 8.5 bar (four-stroke) at the peak of the torque, which lies at 6000 rpm, or
  at 1/1.3 of the speed of peak power; throttle lag 0.12 s; 500 (350) g/kWh at peak power;
  crank and flywheel 4000 g cm2 at 60 cm3 a cylinder, with displacement to the power 5/3
- the default torque curve: a parabola above its peak such that peak power lies where it is
  stated (else at 1.3 times that speed), and below it one that starts at half the greatest torque

Not listed, for no bench measures them: friction of 10 % of the greatest torque at rest and
as much again at the end of the torque map; pumping against a shut throttle, 8 % (12 %).
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Mapping

from models.blade_schema import BladeFamilyFile
from models.linkages import linkage
from models.materials import MATERIALS
from models.power_schema import ElectricPart, PistonPart
from models.schema import AirframeFile, FlapPart, ItemPart, SurfacePart, WheelsPart
from models.setup_schema import SetupFile
from models.structure_schema import StructurePart
from models.transmitter_schema import EndPoints, MixPart, Rates, Trims
from sim import description as d

THICKNESS = 0.12
CROSS_FLOW_DRAG = 1.2
BLUFF_DRAG = 1.0
ITEM_DENSITY = 1500.0  # kg/m3
CELL_RESISTANCE_TIMES_CAPACITY = 0.010 * 3600  # ohm A s
CELL_VOLTAGE = 3.7
WINDING_LOSS = 0.05
NO_LOAD_SHARE = 0.02
ROTOR_INERTIA = 2.0e-4  # kg m2
MEAN_PRESSURE = {"two-stroke": 5.0e5, "four-stroke": 8.5e5}  # Pa
RADIANS_PER_CYCLE = {"two-stroke": 2.0 * math.pi, "four-stroke": 4.0 * math.pi}
CONSUMPTION = {"two-stroke": 0.500 / 3.6e6, "four-stroke": 0.350 / 3.6e6}  # kg/J
PUMPING = {"two-stroke": 0.08, "four-stroke": 0.12}
FRICTION = (0.10, 0.10)
PEAK_TORQUE_AT = 6000 * 2.0 * math.pi / 60.0
PEAK_POWER_OVER_PEAK_TORQUE = 1.3  # speeds
THROTTLE_LAG = 0.12  # s
CRANK_INERTIA = 4.0e-4  # kg m2 at 60 cm3 a cylinder
PETROL = 740.0  # kg/m3
GRAVITY = 9.80665  # m/s2: a load factor is written in g
TWENTY_INCHES = 20 * 0.0254


def body(point: tuple[float, float, float]) -> d.Vector:
    """A file's station in body axes; a zero stays a plain zero, so that equal planes compare and print equal."""
    x, y, z = point
    return (0.0 - x, y, 0.0 - z)


class _Estimates:
    """Collects the paths of values that were filled by a rule, after those that the file marks."""

    def __init__(self, marked: tuple[str, ...]) -> None:
        self.paths: list[str] = list(marked)

    def fill(self, value: float | None, estimate: float, *path: str) -> float:
        """`value`, or the estimate with its path noted."""
        if value is not None:
            return value
        self.paths.append(" > ".join(path))
        return estimate


def airframe(file: AirframeFile, estimated: tuple[str, ...] = (), measured: tuple[str, ...] = ()) -> d.Airframe:
    """The plane of an airframe file, with the paths of its estimated values.

    `estimated` and `measured` are the paths of the numbers in the file that are marked as estimates, and of the others.
    """
    estimates = _Estimates(estimated)
    surfaces = tuple(_surface(name, part, estimates) for name, part in file.surfaces.items())
    fuselage = d.Fuselage(
        tuple(d.FuselageStation(0.0 - s.x, s.width, s.height, 0.0 - s.z) for s in file.fuselage.stations),
        estimates.fill(file.fuselage.cross_flow_drag, CROSS_FLOW_DRAG, "fuselage", "cross-flow drag"),
    )
    shaft = file.thrust_line
    return d.Airframe(
        name=file.name,
        about=file.about,
        surfaces=surfaces,
        fuselage=fuselage,
        drag_bodies=_drag_bodies(file, estimates),
        items=tuple(_item(part, estimates) for part in file.items),
        thrust_line=d.ThrustLine(
            body(shaft.at),
            estimates.fill(shaft.down, 0.0, "thrust line", "down"),
            estimates.fill(shaft.right, 0.0, "thrust line", "right"),
        ),
        power=_electric(file.power, estimates)
        if isinstance(file.power, ElectricPart)
        else _piston(file.power, estimates),
        estimated=tuple(estimates.paths),
        structure=_structure(file.structure),
        measured=measured,
        wheels=None if file.wheels is None else wheels(file.wheels),
    )


def wheels(part: WheelsPart) -> d.Wheels:
    """The axles of a file's group of wheels that is in order."""
    name = "tail" if part.tail is not None else "nose"
    third = part.tail if part.tail is not None else part.nose
    return d.Wheels(body(part.main), body(third), name, (part.main_diameter, part.tail_diameter or part.nose_diameter))


def _structure(part: StructurePart | None) -> d.Structure | None:
    if part is None:
        return None
    joiners = tuple(
        d.Joiner(
            surface=name,
            diameter=joiner.outside_diameter,
            wall=min(joiner.wall, 0.5 * joiner.outside_diameter),
            material=MATERIALS[joiner.material],
            x=0.0 - joiner.x,
            reach=joiner.reach,
            root_rib=joiner.root_rib,
            tubes=joiner.tubes,
            pin=joiner.pin,
        )
        for name, joiner in part.joiners.items()
    )
    return d.Structure(joiners, None if part.load_factor is None else part.load_factor / GRAVITY)


def _surface(name: str, part: SurfacePart, estimates: _Estimates) -> d.Surface:
    straight = {"incidence": part.incidence, "twist": part.twist}
    if name != "fin":
        straight = {key: estimates.fill(value, 0.0, "surfaces", name, key) for key, value in straight.items()}
    return d.Surface(
        name=name,
        symmetric=part.symmetric,
        root=body(part.root.at),
        tip=body(part.tip.at),
        root_chord=part.root.chord,
        tip_chord=part.tip.chord,
        incidence=straight["incidence"] or 0.0,
        twist=straight["twist"] or 0.0,
        tip_rounding=part.tip_rounding,
        thickness=estimates.fill(part.thickness, THICKNESS, "surfaces", name, "thickness"),
        strips=part.strips,
        flap=_flap(part.flap),
    )


def _flap(part: FlapPart | None) -> d.Flap | None:
    if part is None:
        return None
    return d.Flap(part.name, part.chord_at_root, part.chord_at_tip, part.from_, part.to)


def _drag_bodies(file: AirframeFile, estimates: _Estimates) -> tuple[d.DragBody, ...]:
    bodies = []
    for part in file.drag_bodies:
        here = ("drag bodies", part.name)
        side = estimates.fill(part.side_area, 0.0, *here, "side area")
        top = estimates.fill(part.top_area, 0.0, *here, "top area")
        drag = estimates.fill(part.drag_coefficient, BLUFF_DRAG, *here, "drag coefficient")
        bodies.append(d.DragBody(part.name, body(part.at), (part.frontal_area * drag, side * drag, top * drag)))
    return tuple(bodies)


def _item(part: ItemPart, estimates: _Estimates) -> d.Item:
    size = part.size
    if size is None:
        edge = estimates.fill(None, (part.mass / ITEM_DENSITY) ** (1 / 3), "items", part.name, "size")
        size = (edge, edge, edge)
    # The tray's ends trade places: aft in the file is less in body x.
    slide = None if part.slides is None else (0.0 - part.slides.to, 0.0 - part.slides.from_)
    return d.Item(part.name, part.mass, body(part.at), size, slide)


def _electric(part: ElectricPart, estimates: _Estimates) -> d.ElectricPower:
    cell = CELL_RESISTANCE_TIMES_CAPACITY / part.capacity
    winding = WINDING_LOSS * CELL_VOLTAGE * part.cells / part.current_limit
    no_load = NO_LOAD_SHARE * part.current_limit
    return d.ElectricPower(
        cells=part.cells,
        capacity=part.capacity,
        cell_resistance=estimates.fill(part.cell_resistance, cell, "power", "cell resistance"),
        kv=part.kv,
        winding_resistance=estimates.fill(part.winding_resistance, winding, "power", "winding resistance"),
        no_load_current=estimates.fill(part.no_load_current, no_load, "power", "no-load current"),
        current_limit=part.current_limit,
        rotor_inertia=estimates.fill(part.rotor_inertia, ROTOR_INERTIA, "power", "rotor inertia"),
    )


def _piston(part: PistonPart, estimates: _Estimates) -> d.PistonPower:
    cylinder = part.displacement / part.cylinders
    crank = CRANK_INERTIA * part.cylinders * (cylinder / 60.0e-6) ** (5 / 3)
    return d.PistonPower(
        torque=tuple((point.at, point.torque) for point in part.torque) or _torque_curve(part, estimates),
        idle=part.idle,
        fuel=part.fuel * PETROL,
        consumption=estimates.fill(part.fuel_consumption, CONSUMPTION[part.cycle], "power", "fuel consumption"),
        throttle_lag=estimates.fill(part.throttle_lag, THROTTLE_LAG, "power", "throttle lag"),
        rotor_inertia=estimates.fill(part.rotor_inertia, crank, "power", "rotor inertia"),
        friction_share=FRICTION,
        pumping_share=PUMPING[part.cycle],
    )


def _torque_curve(part: PistonPart, estimates: _Estimates) -> tuple[tuple[float, float], ...]:
    """Full-throttle torque over speed from its peaks; the form is given at the top of this module."""
    torque_at = part.peak_torque_at
    if torque_at is None:
        guess = PEAK_TORQUE_AT
        if part.peak_power_at is not None:
            guess = part.peak_power_at / PEAK_POWER_OVER_PEAK_TORQUE
        torque_at = estimates.fill(None, guess, "power", "peak torque at")
    x = PEAK_POWER_OVER_PEAK_TORQUE if part.peak_power_at is None else part.peak_power_at / torque_at
    # torque 1 - bend (x - 1)^2 with the greatest product of torque and speed at x
    bend = 1.0 / ((x - 1.0) * (3.0 * x - 1.0))
    if part.peak_power is not None and part.peak_power_at is not None:
        most = part.peak_power / part.peak_power_at / (1.0 - bend * (x - 1.0) ** 2)
    else:
        most = MEAN_PRESSURE[part.cycle] * part.displacement / RADIANS_PER_CYCLE[part.cycle]
        estimates.fill(None, most, "power", "peak power")
    last = 1.0 + min(0.5, 0.8 / math.sqrt(bend))  # well past peak power, torque still above nothing
    speeds = [k / 8 for k in range(9)] + [1.0 + (last - 1.0) * k / 8 for k in range(1, 9)]
    return tuple((s * torque_at, most * (1.0 - (0.5 if s < 1.0 else bend) * (s - 1.0) ** 2)) for s in speeds)


def blade_family(file: BladeFamilyFile) -> d.BladeFamily:
    """The blade shape of a blade family file."""
    return d.BladeFamily(
        name=file.name,
        radius=tuple(station.radius for station in file.blade),
        chord=tuple(station.chord for station in file.blade),
        thickness=tuple(station.thickness for station in file.blade),
        zero_lift=file.zero_lift_angle,
        pitch=tuple(station.pitch for station in file.blade),
    )


def propeller_mass(mass_at_20_in: float, diameter: float, blades: int) -> float:
    """Mass in kg of a propeller of a family: solids of one shape, so with the cube of the diameter, and per blade."""
    return mass_at_20_in * (diameter / TWENTY_INCHES) ** 3 * blades / 2


def setup(
    file: SetupFile,
    plane: d.Airframe,
    blades: BladeFamilyFile,
    cg: tuple[float, str] | None = None,
    estimated: tuple[str, ...] = (),
) -> d.Setup:
    """The setup of a setup file on `plane`; `cg` replaces the file's if given, `estimated` are the paths marked in it.

    The surfaces named under `incidence` must exist; `models.loader` has checked that.
    """
    diameter, pitch, count = file.propeller
    mass = file.propeller_mass
    if mass is None:
        mass = propeller_mass(blades.mass_at_20_in, diameter, count)
    throws = file.throws
    shaft = None
    if file.thrust_line is not None:
        change, base = file.thrust_line, plane.thrust_line
        shaft = d.ThrustLine(
            base.at if change.at is None else body(change.at),
            base.down if change.down is None else change.down,
            base.right if change.right is None else change.right,
        )
    return d.Setup(
        name=file.name,
        about=file.about,
        airframe=_with_incidence(plane, file.incidence),
        way_of_flying=file.way_of_flying,
        cg=file.cg if cg is None else cg,
        moved_item=file.moved_item,
        propeller=d.Propeller(
            diameter, pitch, count, blade_family(blades), mass, 1.0 if file.propeller_turns == "clockwise" else -1.0
        ),
        throws={
            "aileron": d.Throw(throws.aileron.up, throws.aileron.down, throws.aileron.exponential),
            "elevator": d.Throw(throws.elevator.up, throws.elevator.down, throws.elevator.exponential),
            "rudder": d.Throw(throws.rudder.right, throws.rudder.left, throws.rudder.exponential),
        },
        servos={name: part.to_description() for name, part in file.servos},
        linkages={name: linkage(part) for name, part in file.linkages or () if part is not None},
        mixes=_mixes(file.mixes),
        throttle_curve=file.throttle_curve,
        thrust_line=shaft,
        low_rates={} if file.low_rates is None else dict(file.low_rates),
        trims=_trims(file.trims),
        differential=throws.aileron.differential,
        rates=_rates(file.rates),
        end_points=_end_points(file.end_points),
        modes=tuple(
            d.Mode(
                name=mode.name,
                switch_time=mode.switch_time,
                rates=_rates(mode.rates),
                mixes=None if mode.mixes is None else _mixes(mode.mixes),
                trims=_trims(mode.trims),
                throttle_curve=mode.throttle_curve,
            )
            for mode in file.modes
        ),
        link=None if file.link is None else d.Link(file.link.latency, file.link.period, file.link.steps),
        estimated=tuple(path for path in estimated if cg is None or path != "cg"),
        ballast=_ballast(file, plane),
    )


def _mixes(parts: tuple[MixPart, ...]) -> tuple[d.Mix, ...]:
    return tuple(
        d.Mix(part.from_, part.to, points=part.points)
        if part.points
        else d.Mix(part.from_, part.to, part.gain if isinstance(part.gain, float) else 0.0)
        for part in parts
    )


def _trims(part: Trims | None) -> dict[str, float]:
    return {} if part is None else {name: value for name, value in part if value}


def _rates(part: Rates | None) -> dict[str, dict[str, d.Rate]]:
    rates = {}
    for name, controls in part or ():
        stated = {control: d.Rate(one.share, one.exponential) for control, one in controls or () if one is not None}
        if stated:
            rates[name] = stated
    return rates


def _end_points(part: EndPoints | None) -> dict[str, tuple[float, float]]:
    """Furthest deflection at positive and at negative stick, by control."""
    if part is None:
        return {}
    stops = {name: (one.up, one.down) for name, one in (("aileron", part.aileron), ("elevator", part.elevator)) if one}
    return stops | ({"rudder": (part.rudder.right, part.rudder.left)} if part.rudder else {})


def _ballast(file: SetupFile, plane: d.Airframe) -> tuple[d.Item, ...]:
    """The ballast of a setup as items; what has no name is called "ballast", and counted where there is more of it."""
    taken = {item.name for item in plane.items} | {part.name for part in file.ballast if part.name}
    items = []
    for part in file.ballast:
        names = (f"ballast {n}" if n > 1 else "ballast" for n in itertools.count(1))
        name = part.name or next(free for free in names if free not in taken)
        taken.add(name)
        items.append(d.Item(name, part.mass, body(part.at)))
    return tuple(items)


def _with_incidence(plane: d.Airframe, incidence: Mapping[str, float]) -> d.Airframe:
    """The plane with the incidence of named surfaces replaced; a value that was set is no longer an estimate."""
    if not incidence:
        return plane
    surfaces = tuple(
        dataclasses.replace(s, incidence=incidence[s.name]) if s.name in incidence else s for s in plane.surfaces
    )
    measured = {f"surfaces > {name} > incidence" for name in incidence}
    estimated = tuple(path for path in plane.estimated if path not in measured)
    return dataclasses.replace(plane, surfaces=surfaces, estimated=estimated)
