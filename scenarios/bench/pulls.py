"""Full elevator at one speed after the other: the load factor it comes to, beside what the wing's greatest lift allows.

A wing that stalls at Vs in level flight lifts at most (V / Vs)^2 times the weight when it flows steadily.  A quick pull
passes that, as separation follows the angle of attack only after some chords, and body, tail and propeller carry too.
Speeds that level flight does not reach begin in the shallowest dive that holds them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scenarios.manoeuvres import CannotFly, Flown, manoeuvre_from_text
from scenarios.steady import fly_from
from sim import layout as L
from sim.account import loads_of
from sim.atmosphere import density
from sim.build import Plane
from sim.frames import G
from sim.trim import NoTrim, Trim, blank_state, level_trim, relax_flow

if TYPE_CHECKING:
    from scenarios.bench.structure import Hardest

SPEEDS = (15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0)  # m/s
TRIMMED_AT, HEIGHT = 25.0, 150.0  # m/s, m
DIVES = (0.0, 10.0, 20.0, 30.0, 45.0, 60.0, 75.0)  # deg below the horizon
LIFT_AT = 20.0  # m/s: speed of the Reynolds number at which greatest lift is looked for
TEXT = """format: 1
kind: manoeuvre
name: full-elevator
start: {from: level flight, airspeed: 25 m/s, height: 150 m}
phases:
  - {name: full elevator, elevator: 100 %, within: 0.1 s, throttle: as it is, for: 1 s}
"""


@dataclass(frozen=True)
class Pull:
    """Full elevator from `speed` (m/s), `dive` rad below the horizon: greatest `load_factor`, the `bound` (V/Vs)^2, and the
    `hardest` instant of the wing's roots."""

    speed: float
    dive: float
    load_factor: float
    bound: float
    hardest: Hardest


def pull_through(plane: Plane, look: Callable[[Flown], Hardest]) -> list[Pull]:
    """A pull at every speed that the plane reaches.  Raises `CannotFly` when level flight cannot be trimmed."""
    try:
        level = level_trim(plane, TRIMMED_AT, HEIGHT)
    except NoTrim as stop:
        raise CannotFly(f"full elevator with {plane.setup.name}: {stop}") from None
    stall, manoeuvre, pulls = top_lift_speed(plane), manoeuvre_from_text(TEXT), []
    for speed in SPEEDS:
        start = _start(plane, speed) if speed > 1.05 * stall else None
        if start is None:
            continue
        state, dive = start
        flown = fly_from(plane, level, state, manoeuvre)
        load = flown.flight.channel("load z")
        if flown.flight.ending == "diverged":
            continue
        pulls.append(Pull(speed, dive, float(load.max()), (speed / stall) ** 2, look(flown)))
    return pulls


def _start(plane: Plane, speed: float) -> tuple[Trim, float] | None:
    """Steady flight at `speed`, level or in the shallowest dive, and that dive in rad; None where there is none."""
    for degrees in DIVES:
        try:
            return level_trim(plane, speed, HEIGHT, -math.radians(degrees)), math.radians(degrees)
        except NoTrim:
            pass
    return None


def greatest_lift(plane: Plane, speed: float = LIFT_AT) -> float:
    """First peak of the lift coefficient of the plane with controls neutral and no propeller, flow settled."""
    still, command, dx = np.zeros_like(plane.table), np.zeros(L.COMMAND), np.zeros(L.STATE)
    model, best = plane.model.copy(), 0.0
    area = 0.5 * density(HEIGHT) * speed**2 * plane.wing_area
    for degrees in np.arange(4.0, 26.5, 0.5):
        alpha = math.radians(degrees)
        x = blank_state(HEIGHT)
        x[L.VELOCITY], x[L.VELOCITY + 2] = speed * math.cos(alpha), speed * math.sin(alpha)
        relax_flow(x, command, model, still, dx, 1500)
        air = np.delete(loads_of(model), [L.WEIGHT, L.THRUST, L.OBLIQUE, L.GYROSCOPIC, L.TORQUE], axis=0).sum(axis=0)
        lift = (air[0] * math.sin(alpha) - air[2] * math.cos(alpha)) / area
        if lift < best:
            break
        best = lift
    return float(best)


def top_lift_speed(plane: Plane) -> float:
    """Slowest speed at which the wing's greatest lift holds the weight, m/s."""
    if "greatest lift" not in plane.known:
        plane.known["greatest lift"] = greatest_lift(plane)
    return math.sqrt(2.0 * plane.mass.mass * G / (density(HEIGHT) * plane.wing_area * plane.known["greatest lift"]))


def crossing(places: Sequence[float], values: Sequence[float], limit: float) -> float | None:
    """Where `values` first pass `limit`, on straight lines between `places`; None where they do not, the first place where
    they have done so from the start."""
    for i, value in enumerate(values):
        if value > limit:
            if i == 0:
                return float(places[0])
            share = (limit - values[i - 1]) / (value - values[i - 1])
            return float(places[i - 1] + share * (places[i] - places[i - 1]))
    return None
