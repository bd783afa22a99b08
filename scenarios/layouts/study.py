"""Level flight, knife edges, 45-degree lines and stall of one plane at one CG, and what asks for the elevator in knife edge."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from models.loader import load_setup
from scenarios.manoeuvres import CannotFly, fly_manoeuvre, flyable, load_manoeuvre, manoeuvre_from_text
from scenarios.measures import Taken, take_measures
from scenarios.steady import fly_from, steady_flight
from sim import layout as L
from sim.account import loads_of
from sim.build import Plane, with_cg
from sim.description import Setup
from sim.linearisation import pitch_stability
from sim.trim import LAPS, NoTrim, Trim, level_trim, relax_flow

SETUPS = ("precision", "beck-150-extreme", "moor-220-precision", "scree-270-slow-3d", "corrie-310-precision")
CGS = (0.30, 0.34, 0.38)  # of the mean aerodynamic chord
FAST, SLOW, HEIGHT = 25.0, 18.0, 100.0  # m/s, m
DEG = 180.0 / math.pi
SIDES = {"right": 0.5 * math.pi, "left": -0.5 * math.pi}
LINES = {"upright": 0.0, "inverted": math.pi}

_HEAD = "format: 1\nkind: manoeuvre\nname: from-steady-flight\nstart: {from: level flight, airspeed: 25 m/s, height: 100 m}\n"
_KNIFE_EDGE = (
    _HEAD
    + """phases:
  - name: held
    pilot: [aileron, elevator, rudder]
    hold: height
    throttle: hold airspeed
    for: 2 s
  - {name: elevator let go, release: [elevator], for: 2 s}
  - {name: held again, pilot: [elevator], for: 4 s}
  - {name: ailerons let go, release: [aileron], for: 1 s}
measures: [pitch_coupling, alpha_after, roll_coupling]
"""
)
_LINE = _HEAD + """phases:
  - {name: set the line, for: 0.6 s}
  - {name: hands off, release: [aileron, elevator, rudder], for: 3 s}
measures: [pitch_drift, path_curvature, line_elevator]
"""  # fmt: skip

# what stands behind the elevator that knife edge needs, in this order
CAUSES = ("lift gone", "power", "wing", "stabiliser", "fin", "other surfaces", "fuselage", "gear and cowl", "propeller")
_PARTS_OF = {
    "wing": (L.WING_LEFT, L.WING_RIGHT),
    "stabiliser": (L.STABILISER,),
    "fin": (L.FIN,),
    "other surfaces": (L.OTHER,),
    "fuselage": (L.FUSELAGE,),
    "gear and cowl": (L.DRAG_BODIES,),
    "propeller": (L.THRUST, L.OBLIQUE, L.GYROSCOPIC, L.TORQUE),
}


@dataclass
class Findings:
    """What one plane at one CG was found to do: `values` by measure, `reasons` for those that were not taken,
    `causes` of the elevator in knife edge by side (deg of elevator, up positive)."""

    setup: str
    airframe: str
    cg: float
    values: dict[str, float] = field(default_factory=dict)
    reasons: dict[str, str] = field(default_factory=dict)
    causes: dict[str, dict[str, float]] = field(default_factory=dict)

    def take(self, prefix: str, taken: list[Taken]) -> None:
        """Keep measures under `prefix` and their name."""
        for one in taken:
            self.put(f"{prefix} {one.measure.name}", one.value, one.reason)

    def put(self, name: str, value: float | None, reason: str = "") -> None:
        """Keep one value, or the reason why there is none."""
        if value is None:
            self.reasons[name] = reason.removeprefix("not measured: ")
        else:
            self.values[name] = value


def study(setup: Setup) -> Findings:
    """Level flight, knife edges, 45-degree lines and stall of `setup`.

    What cannot be flown is left out with its reason.  Raises `UserError` when the CG cannot
    be reached, `CannotFly` without level flight.
    """
    plane = flyable(setup)
    try:
        level = level_trim(plane, FAST, HEIGHT)
    except NoTrim as stop:
        raise CannotFly(f"{setup.name}: {stop}") from None
    found = Findings(setup.name, setup.airframe.name, plane.mac_of_station(plane.cg_station))
    stability = pitch_stability(plane, level)
    found.put("cg", 100.0 * found.cg)
    found.put("margin", 100.0 * stability.static_margin)
    found.put("elevator_trim", -level.elevator * DEG)
    for side, bank in SIDES.items():
        _knife_edge(plane, level, side, bank, found)
    for line, bank in LINES.items():
        _line(plane, level, line, bank, found)
    try:
        found.take("stall", take_measures(fly_manoeuvre(setup, load_manoeuvre("stall")[0], plane)))
    except CannotFly as stop:
        for name in ("stall_speed", "height_lost", "wing_drop", "recovery_time"):
            found.put(f"stall {name}", None, str(stop))
    return found


def _knife_edge(plane: Plane, level: Trim, side: str, bank: float, found: Findings) -> None:
    for speed, name in ((SLOW, f"slow {side}"), (FAST, side)):
        try:
            state = steady_flight(plane, level, speed, HEIGHT, 0.0, bank)
        except NoTrim as stop:
            for measure in ("elevator", "rudder", "sideslip", "pitch_coupling", "roll_coupling"):
                found.put(f"{name} {measure}", None, str(stop))
            continue
        found.put(f"{name} elevator", -(state.elevator - level.elevator) * DEG)
        found.put(f"{name} rudder", float((state.x - level.x)[L.SERVO + L.RUDDER]) * DEG)
        found.put(f"{name} sideslip", math.asin(state.x[L.VELOCITY + 1] / speed) * DEG)
        if speed == FAST:
            found.causes[side] = elevator_by_cause(plane, level, state)
            found.take(side, take_measures(fly_from(plane, level, state, manoeuvre_from_text(_KNIFE_EDGE))))


def _line(plane: Plane, level: Trim, line: str, bank: float, found: Findings) -> None:
    try:
        state = steady_flight(plane, level, FAST, HEIGHT, 0.25 * math.pi, bank)
    except NoTrim as stop:
        for measure in ("pitch_drift", "path_curvature", "line_elevator"):
            found.put(f"{line} {measure}", None, str(stop))
        return
    found.take(line, take_measures(fly_from(plane, level, state, manoeuvre_from_text(_LINE))))


def elevator_by_cause(plane: Plane, level: Trim, state: Trim) -> dict[str, float]:
    """Degrees of elevator (up positive) that each cause asks for, from level flight to the knife edge `state`.

    Three steps with the elevator at its level trim: the wing's lift goes (angle of attack of
    the knife edge, wings and rudder as in level flight), then the throttle goes to that of the knife
    edge, then rudder, aileron and sideslip come, part by part.  A pitching moment counts as
    the elevator that would balance it in the knife edge.  `CAUSES` add up to the elevator to
    hold, as far as its power is straight; "swirl" is the slipstream's share in them.
    """
    model, dx = plane.model.copy(), np.zeros(L.STATE)
    alpha = math.atan2(state.x[L.VELOCITY + 2], state.x[L.VELOCITY])
    speed = float(np.linalg.norm(state.x[L.VELOCITY : L.VELOCITY + 3]))
    unloaded = level.x.copy()
    unloaded[L.VELOCITY : L.VELOCITY + 3] = speed * math.cos(alpha), 0.0, speed * math.sin(alpha)
    powered = unloaded.copy()
    powered[L.ROTOR] = state.x[L.ROTOR]
    surfaces = slice(L.SERVO, L.SERVO + L.CONTROLS)
    at_level, at_trim = level.x[surfaces], state.x[surfaces].copy()
    at_trim[L.ELEVATOR] = level.elevator
    one_up = at_trim.copy()
    one_up[L.ELEVATOR] -= 1.0 / DEG

    def pitching(x: np.ndarray, held: np.ndarray, command: np.ndarray) -> np.ndarray:
        x = x.copy()
        x[surfaces] = held
        relax_flow(x, command, model, plane.table, dx, LAPS)
        return loads_of(model)[:, 4]

    parts = pitching(state.x, at_trim, state.command)
    per_degree = float((pitching(state.x, one_up, state.command) - parts).sum())
    without_lift, with_power = (pitching(x, at_level, level.command) for x in (unloaded, powered))
    moments = {"lift gone": float(without_lift.sum()), "power": float((with_power - without_lift).sum())}
    for cause, rows in _PARTS_OF.items():
        moments[cause] = float((parts - with_power)[list(rows)].sum())
    model[L.SWIRL_ON] = 0.0
    moments["swirl"] = float((parts - with_power).sum())
    moments["swirl"] -= float(
        (pitching(state.x, at_trim, state.command) - pitching(powered, at_level, level.command)).sum()
    )
    return {cause: -moment / per_degree for cause, moment in moments.items()}


def over_cg(names: tuple[str, ...], progress: Callable[[str], None] = lambda what: None) -> list[Findings]:
    """Every setup at each of `CGS`.  Raises `UserError` when a tray does not reach so far."""
    out = []
    for name in names:
        for cg in CGS:
            progress(f"{name}, CG {100 * cg:.0f} %")
            out.append(study(with_cg(load_setup(name), cg, "mac")))
    return out
