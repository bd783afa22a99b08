"""Propellers for a setup side by side: each is put on the plane and run, hovered and flown by the model that flies.

Static values hold at sea level, the hover at the height of the manoeuvre "hover", lines at 100 m; standard air, no
wind, battery or tank full where nothing else is said.  A propeller's own mass changes its inertia; the plane's mass
and CG stay as they are.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from models.errors import UserError
from models.loader import load_blades
from scenarios.bench.full_throttle import flight_at_throttle, start_of
from scenarios.bench.propeller_checks import beyond_zero_thrust, outside, reynolds
from scenarios.bench.shaft import Running, Shaft
from scenarios.inputs import INCH, Case, inputs_of, with_inputs
from scenarios.manoeuvres import flyable
from sim import layout as L
from sim.atmosphere import density, standard_atmosphere
from sim.build import Plane
from sim.description import PistonPower, Propeller, Setup
from sim.equations_of_motion import derivatives
from sim.frames import G
from sim.powerplant import shaft_torque, throttle_for_torque
from sim.propeller import COLUMNS
from sim.trim import NoTrim, Trim, hover_trim, level_trim

RPM = 60.0 / (2.0 * math.pi)
HOVER_HEIGHT, LINE_HEIGHT = 40.0, 100.0  # m
USED = 0.8  # share of battery or tank that endurance counts (common practice, no source: land with a fifth left)
PITCH_RATE = math.radians(180.0)  # rad/s, at which the gyroscopic moment is given
CLIMBS = tuple(range(90, 0, -10))  # deg, among which the best climb is found


@dataclass(frozen=True)
class Row:
    """A quantity of the bench: `power` "electric" or "piston" where it is of one kind alone; `better` for sorting."""

    name: str
    heading: str
    unit: str
    decimals: int
    better: str = "more"
    power: str = ""


ROWS = (
    Row("mass", "propeller mass", "g", 0, "less"),
    Row("static_thrust", "static thrust", "N", 1),
    Row("thrust_over_weight", "thrust over weight", "", 2),
    Row("static_rpm", "static speed", "rpm", 0),
    Row("shaft_power", "shaft power, static", "W", 0),
    Row("battery_power", "battery power, static", "W", 0, "less", "electric"),
    Row("current", "current it asks for", "A", 1, "less", "electric"),
    Row("current_left", "left to the limit", "%", 0, "more", "electric"),
    Row("volts_full", "pack under load, full", "V", 1, "more", "electric"),
    Row("volts_half", "pack under load, half", "V", 1, "more", "electric"),
    Row("static_thrust_half", "static thrust, half", "N", 1, "more", "electric"),
    Row("rpm_of_peak_power", "static, of peak-power rpm", "%", 0, "more", "piston"),
    Row("rpm_left", "left at top speed", "%", 0, "more", "piston"),
    Row("hover_throttle", "hover throttle stick", "%", 1, "less"),
    Row("hover_fineness", "weight per % stick", "%", 2, "less"),
    Row("hover_current", "hover current", "A", 1, "less", "electric"),
    Row("hover_rpm", "hover speed", "rpm", 0, "less"),
    Row("thrust_at_airspeed", "thrust at {airspeed}", "N", 1),
    Row("top_speed", "level top speed", "m/s", 1),
    Row("vertical_climb", "vertical climb", "m/s", 1),
    Row("best_climb", "best climb rate", "m/s", 1),
    Row("best_climb_angle", "  its path", "deg", 0),
    Row("pitch_speed", "pitch speed, static rpm", "m/s", 1),
    Row("thrust_ends", "thrust ends at", "m/s", 1),
    Row("idle_drag", "idle drag at {airspeed}", "N", 1),
    Row("down_line", "down-line at idle", "m/s", 1, "less"),
    Row("inertia", "inertia of propeller", "kg cm2", 1, "less"),
    Row("inertia_turning", "  with all that turns", "kg cm2", 1, "less"),
    Row("gyroscopic_moment", "gyro, 180 deg/s, full", "N m", 2, "less"),
    Row("spool_up", "10 to 90 % up", "s", 2, "less"),
    Row("spool_down", "10 to 90 % down", "s", 2, "less"),
    Row("tip_mach", "tip Mach, static", "", 2, "less"),
    Row("tip_mach_fast", "tip Mach, top speed", "", 2, "less"),
    Row("hover_endurance", "hover, to 20 % left", "min", 1),
    Row("full_endurance", "full static, to 20 % left", "min", 1),
)


@dataclass(frozen=True)
class Reading:
    """A value in the unit of its row, or None with the reason."""

    value: float | None
    reason: str = ""


@dataclass(frozen=True)
class Curve:
    """Full throttle over airspeed: speed of the axial air (m/s), thrust (N), and battery current (A) or rpm."""

    airspeed: np.ndarray
    thrust: np.ndarray
    drive: np.ndarray


@dataclass
class Benched:
    """One propeller on the plane: readings by name, what lies outside of the checks, and why if it cannot run at all."""

    size: str
    propeller: Propeller
    own: bool
    readings: dict[str, Reading] = field(default_factory=dict)
    unchecked: list[str] = field(default_factory=list)
    braking_unchecked: frozenset[str] = frozenset()  # names of rows
    reynolds: float = math.nan
    cannot_run: str = ""
    curve: Curve | None = None

    def __getitem__(self, name: str) -> float | None:
        return self.readings[name].value if name in self.readings else None


def rows_for(setup: Setup) -> list[Row]:
    """The rows that the setup's kind of power has."""
    kind = "piston" if isinstance(setup.airframe.power, PistonPower) else "electric"
    return [row for row in ROWS if row.power in ("", kind)]


def size_of(propeller: Propeller) -> str:
    """The propeller as people write it: diameter x pitch in inches, and blades if not 2."""
    size = f"{propeller.diameter / INCH:.4g}x{propeller.pitch / INCH:.4g}"
    return size + (f"x{propeller.blades}" if propeller.blades != 2 else "")


def neighbours(propeller: Propeller) -> list[str]:
    """Sizes to look at beside a propeller: an inch of diameter for one of pitch, a step of pitch, and three blades.

    Common practice, no source: an inch off the diameter pays for an inch of pitch or for a third blade.
    """
    diameter, pitch = round(propeller.diameter / INCH), round(propeller.pitch / INCH)
    two = [(diameter + 1, pitch - 1), (diameter - 1, pitch + 1), (diameter, pitch + 1), (diameter, pitch - 1)]
    sizes = [f"{d}x{p}" for d, p in two if d > 4 and p > 1]
    return sizes + ([f"{diameter - 1}x{pitch}x3"] if propeller.blades == 2 and diameter > 5 else [])


def with_size(setup: Setup, size: str, family: str | None) -> Setup:
    """`setup` with a propeller of that size, of the blade family of that name or its own.  Raises `UserError`."""
    inputs = inputs_of(setup)
    case = Case(setup, None)
    if family is not None:
        case = with_inputs(case, [(inputs["blade family"], load_blades(family))])
    size_input = inputs["propeller"]
    if size != size_of(setup.propeller):
        case = with_inputs(case, [(size_input, size_input.read(size))])
    return case.setup


def bench(
    setups: list[Setup], own: Setup, airspeed: float, progress: Callable[[int, int], None] = lambda done, total: None
) -> list[Benched]:
    """Every propeller of `setups` on the bench, in that order; `own` is the setup that they came from.

    Each is worked out on a thread with a plane of its own (the kernels let go of the interpreter).
    """
    flyable(own)  # trouble with the plane itself is said once, and as such
    done = 0
    out: list[Benched] = []
    with ThreadPoolExecutor(max_workers=min(4, os.cpu_count() or 1)) as pool:
        for result in pool.map(lambda s: _bench_one(s, own, airspeed), setups):
            out.append(result)
            done += 1
            progress(done, len(setups))
    return out


def order(found: list[Benched], row: Row) -> list[Benched]:
    """The propellers with the best of a row first, those without a value last."""
    sign = -1.0 if row.better == "more" else 1.0
    return sorted(found, key=lambda b: math.inf if b[row.name] is None else sign * b[row.name])


def _bench_one(setup: Setup, own: Setup, airspeed: float) -> Benched:
    out = Benched(size_of(setup.propeller), setup.propeller, setup.propeller == own.propeller)
    try:
        plane = flyable(setup)
    except UserError as error:
        out.cannot_run = str(error).removeprefix(f"{setup.airframe.name}: ")
        return out
    idle, full = setup.throttle_curve[0], setup.throttle_curve[-1]
    shaft = Shaft.of(plane)
    static = shaft.running(full)
    values = _static(plane, shaft, static, full)
    values |= _spin(plane, shaft, static, idle, full)
    values |= _hover(plane, shaft, static, full)
    values |= _lines(plane, airspeed, idle, full)
    if isinstance(setup.airframe.power, PistonPower):
        values |= _engine(setup.airframe.power, static, values)
    values |= _mach(setup.propeller, static, values)
    out.readings = {name: v if isinstance(v, Reading) else Reading(float(v)) for name, v in values.items()}
    out.curve = _curve(shaft, full, out["thrust_ends"])
    out.reynolds = reynolds(setup.propeller, static.omega)
    out.unchecked = outside(setup.propeller, max(v for v in (out["tip_mach"], out["tip_mach_fast"]) if v is not None))
    out.braking_unchecked = _brakes_beyond(plane, out, airspeed, idle, full)
    return out


Values = dict[str, "float | Reading"]


def _static(plane: Plane, shaft: Shaft, static: Running, full: float) -> Values:
    weight = plane.mass.mass * G
    values: Values = {
        "mass": 1000.0 * plane.setup.propeller.mass,
        "static_thrust": static.thrust,
        "thrust_over_weight": static.thrust / weight,
        "static_rpm": static.omega * RPM,
        "shaft_power": static.power,
        "pitch_speed": static.omega / (2.0 * math.pi) * plane.setup.propeller.pitch,
        "full_endurance": shaft.endurance(lambda used: shaft.running(full, used=used).drain, USED) / 60.0,
    }
    if shaft.electric:
        limit, half = plane.model[L.CURRENT_LIMIT], 0.5 * shaft.store
        asked = shaft.unlimited().running(full).drain / full  # through the motor
        at_half = shaft.running(full, used=half)
        values |= {
            "battery_power": static.drain * shaft.volts(static.drain),
            "current": asked,
            "current_left": 100.0 * (1.0 - asked / limit),
            "volts_full": shaft.volts(static.drain),
            "volts_half": shaft.volts(at_half.drain, half),
            "static_thrust_half": at_half.thrust,
        }
    return values


def _spin(plane: Plane, shaft: Shaft, static: Running, idle: float, full: float) -> Values:
    turning = float(plane.model[L.ROTOR_INERTIA])
    return {
        "inertia": 1e4 * (turning - plane.setup.airframe.power.rotor_inertia),
        "inertia_turning": 1e4 * turning,
        "gyroscopic_moment": turning * static.omega * PITCH_RATE,
        "spool_up": shaft.spool(idle, full),
        "spool_down": shaft.spool(full, idle),
    }


def _hover(plane: Plane, shaft: Shaft, static: Running, full: float) -> Values:
    names = ("hover_throttle", "hover_fineness", "hover_rpm", "hover_endurance")
    if shaft.electric:
        names += ("hover_current",)
    weight = plane.mass.mass * G
    try:
        trim = hover_trim(plane, HOVER_HEIGHT)
        if trim.duty > full:
            raise NoTrim("the hover needs more than full stick gives")
    except NoTrim as stop:
        return {name: Reading(None, str(stop)) for name in names}
    here = Shaft.of(plane, HOVER_HEIGHT)
    omega, torque = float(trim.x[L.ROTOR]), _torque(plane, trim)
    stick = plane.throttle_for_duty(trim.duty)
    thrusts = [here.running(_sent(plane, stick + step)).thrust for step in (-0.01, 0.01)]

    def drain(used: float) -> float | None:
        throttle = throttle_for_torque(plane.model, torque, omega, used)
        return None if throttle > full else shaft_torque(plane.model, throttle, omega, used, throttle)[1]

    values: Values = {
        "hover_throttle": 100.0 * stick,
        "hover_fineness": 100.0 * (thrusts[1] - thrusts[0]) / (2.0 * weight),
        "hover_rpm": omega * RPM,
        "hover_endurance": shaft.endurance(drain, USED) / 60.0,
    }
    return values | ({"hover_current": drain(0.0)} if shaft.electric else {})


def _torque(plane: Plane, trim: Trim) -> float:
    """Torque of the air on the rotor in a steady state, N m."""
    derivatives(trim.x, trim.command, plane.model, plane.table, np.zeros(L.STATE))
    rho, radius = density(-trim.x[L.POSITION + 2]), plane.model[L.DISK_RADIUS]
    return float(plane.model[L.PROP_OUT + 1] * rho * plane.model[L.PROP_OUT + COLUMNS] * radius**3)


def _sent(plane: Plane, stick: float) -> float:
    """What the transmitter sends for a throttle stick, through the throttle curve."""
    curve = plane.setup.throttle_curve
    return float(np.interp(stick, np.linspace(0.0, 1.0, len(curve)), curve))


def _lines(plane: Plane, airspeed: float, idle: float, full: float) -> Values:
    shaft = Shaft.of(plane, LINE_HEIGHT)
    values: Values = {
        "thrust_at_airspeed": shaft.running(full, airspeed).thrust,
        "idle_drag": -shaft.running(idle, airspeed).thrust,
        "thrust_ends": _end_of_thrust(shaft, full),
    }
    try:
        cruise = _cruise(plane)
        level = flight_at_throttle(plane, full, 0.0, LINE_HEIGHT, (cruise,), "level flight at full throttle")
        values |= {"top_speed": _speed(level), "top_rpm": level.x[L.ROTOR] * RPM}
    except NoTrim as stop:
        return values | {
            name: Reading(None, str(stop))
            for name in ("top_speed", "vertical_climb", "best_climb", "best_climb_angle", "down_line")
        }
    values |= _climbs(plane, full, level)
    try:
        down = flight_at_throttle(plane, idle, -0.5 * math.pi, LINE_HEIGHT, (cruise, start_of(level)), "the down-line")
        values["down_line"] = _speed(down)
    except NoTrim as stop:
        values["down_line"] = Reading(None, str(stop))
    return values


def _cruise(plane: Plane):
    """A start for the search of level flight: the first of some speeds that the plane holds."""
    for airspeed in (25.0, 20.0, 30.0, 16.0, 13.0):
        try:
            return start_of(level_trim(plane, airspeed, LINE_HEIGHT))
        except NoTrim as stop:
            last = stop
    raise last


def _climbs(plane: Plane, full: float, level: Trim) -> Values:
    rates: dict[int, float] = {}
    reason, start = "", start_of(level)
    for angle in CLIMBS:
        try:
            what = f"a climb of {angle} deg at full throttle"
            climb = flight_at_throttle(plane, full, math.radians(angle), LINE_HEIGHT, (start,), what)
        except NoTrim as stop:
            reason = reason or str(stop)
            continue
        start = start_of(climb)
        rates[angle] = _speed(climb) * math.sin(math.radians(angle))
        if rates[angle] < 0.9 * max(rates.values()):
            break
    values: Values = {"vertical_climb": rates.get(90, Reading(None, "no steady vertical climb"))}
    if not rates:
        return values | {name: Reading(None, reason) for name in ("best_climb", "best_climb_angle")}
    best = max(rates, key=rates.__getitem__)
    return values | {"best_climb": rates[best], "best_climb_angle": best}


def _engine(power: PistonPower, static: Running, values: Values) -> Values:
    speeds, torques = np.array(power.torque).T
    of_peak = float(speeds[np.argmax(speeds * torques)])
    fast = values.get("top_rpm")
    left = Reading(None, "no level top speed") if fast is None else 100.0 * (1.0 - fast / RPM / speeds[-1])
    return {"rpm_of_peak_power": 100.0 * static.omega / of_peak, "rpm_left": left}


def _mach(propeller: Propeller, static: Running, values: Values) -> Values:
    sound, radius = standard_atmosphere(0.0)[3], 0.5 * propeller.diameter
    out: Values = {"tip_mach": static.omega * radius / sound}
    fast = values.get("top_rpm")
    if fast is None:
        return out | {"tip_mach_fast": Reading(None, "no level top speed")}
    tip = math.hypot(fast / RPM * radius, values["top_speed"])
    return out | {"tip_mach_fast": tip / standard_atmosphere(LINE_HEIGHT)[3]}


def _end_of_thrust(shaft: Shaft, full: float) -> float:
    low, high = 0.0, 150.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if shaft.running(full, middle).thrust > 0.0 else (low, middle)
    return 0.5 * (low + high)


def _brakes_beyond(plane: Plane, b: Benched, airspeed: float, idle: float, full: float) -> frozenset[str]:
    """Names of the rows in which the propeller brakes at a greater advance ratio than was checked."""
    shaft, diameter, ends = Shaft.of(plane, LINE_HEIGHT), b.propeller.diameter, b["thrust_ends"]
    end_of_thrust = ends * 2.0 * math.pi / (shaft.running(full, ends).omega * diameter)
    speeds = {"idle_drag": airspeed, "down_line": b["down_line"]}
    return frozenset(
        name
        for name, speed in speeds.items()
        if speed is not None and beyond_zero_thrust(speed, shaft.running(idle, speed).omega, diameter, end_of_thrust)
    )


def _curve(shaft: Shaft, full: float, ends: float) -> Curve:
    airspeed = np.linspace(0.0, 1.05 * ends, 60)
    running = [shaft.running(full, v) for v in airspeed]
    drive = [r.drain if shaft.electric else r.omega * RPM for r in running]
    return Curve(airspeed, np.array([r.thrust for r in running]), np.array(drive))


def _speed(trim: Trim) -> float:
    return float(np.linalg.norm(trim.x[L.VELOCITY : L.VELOCITY + 3]))
