"""Short flights from a steady state that show what a cure leaves over: sticks let go, and how far the plane turns."""

from __future__ import annotations

import numpy as np

from scenarios.cures.states import DEG, speed_of
from scenarios.manoeuvres import Flown, manoeuvre_from_text
from scenarios.steady import fly_from
from sim.build import Plane
from sim.integration import FRAME
from sim.trim import Trim


def _flown(plane: Plane, level: Trim, state: Trim, phases: str) -> Flown:
    """`phases` flown from the steady `state`; an airspeed that is held is that of the state."""
    start = f"start: {{from: level flight, airspeed: {speed_of(state):.2f} m/s, height: 100 m}}"
    text = f"format: 1\nkind: manoeuvre\nname: cure\n{start}\nphases:\n{phases}"
    return fly_from(plane, level, state, manoeuvre_from_text(text))


KNIFE_EDGE = """\
  - {name: held, pilot: [aileron, elevator, rudder], hold: height, throttle: hold airspeed, for: 2 s}
  - {name: elevator let go, release: [elevator], for: 2 s}
  - {name: held again, pilot: [elevator], for: 4 s}
  - {name: ailerons let go, release: [aileron], for: 1 s}
"""
LINE = """\
  - {name: held, for: 0.6 s}
  - {name: hands off, release: [aileron, elevator, rudder], for: 3 s}
"""
ROLL = "  - {{name: roll, aileron: {stick} %, for: 0.8 s}}\n"


def _turned(flown: Flown, phase: str, rate: str) -> float:
    return float(flown.flight.channel(rate)[flown.flight.frames_of(flown.phase(phase))].sum() * FRAME) * DEG


def knife_edge_let_go(plane: Plane, level: Trim, state: Trim) -> tuple[float, float]:
    """Pitch (deg, 2 s, toward the canopy) with the elevator let go in knife edge, roll (deg, 1 s, right) with the ailerons."""
    flown = _flown(plane, level, state, KNIFE_EDGE)
    return _turned(flown, "elevator let go", "pitch rate"), _turned(flown, "ailerons let go", "roll rate")


def hands_off(plane: Plane, level: Trim, state: Trim) -> tuple[float, float]:
    """Mean pitch and yaw rate (deg/s, toward the canopy, right) over 3 s with all sticks let go on a line.

    The trims are those of `level`; the flight begins in `state`.
    """
    flown = _flown(plane, level, state, LINE)
    return _turned(flown, "hands off", "pitch rate") / 3.0, _turned(flown, "hands off", "yaw rate") / 3.0


def yawed_in_roll(plane: Plane, level: Trim, state: Trim, side: str, until: float = 45.0) -> float:
    """Yaw (deg, toward the side of the roll) about the path's own axes over the first `until` deg of a roll at full aileron.

    Early, so that gravity has had no time to pull the nose aside.
    """
    flight = _flown(plane, level, state, ROLL.format(stick=100 if side == "right" else -100)).flight
    p, r, alpha = (flight.channel(name) for name in ("roll rate", "yaw rate", "alpha"))
    rolled = np.abs(np.cumsum(p) * FRAME * DEG)
    stop = int(np.argmax(rolled >= until)) if rolled.max() >= until else len(rolled)
    yaw = float((r * np.cos(alpha[0]) - p * np.sin(alpha[0]))[:stop].sum() * FRAME) * DEG
    return yaw if side == "right" else -yaw
