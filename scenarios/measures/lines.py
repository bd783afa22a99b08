"""Straight lines, 45 degrees or vertical, up or down, upright or inverted: set by the pilot, then hands off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import (
    DEG,
    NotMeasured,
    body_axes,
    drift_rate,
    from_to,
    gained,
    mean,
    measure,
    turned,
    window,
    wrapped,
)
from sim.integration import FRAME

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

LINES = (-90.0, -45.0, 0.0, 45.0, 90.0)  # deg above the horizon
STEEP = 75.0  # deg: beyond it a path has no track worth the name
SLOWEST = 3.0  # m/s: below it a path has no direction worth the name
SETTLED = 1.0  # m/s2: a speed that changes by less is the terminal one


def _aimed_at(flown: Flown, path: float) -> float:
    """The pitch last aimed at up to the line, deg; without an aim the line nearest to `path`."""
    before = flown.manoeuvre.phases[: flown.phase("set the line") + 1]
    aims = [phase.aim.pitch for phase in before if phase.aim is not None and phase.aim.pitch is not None]
    return aims[-1] * DEG if aims else min(LINES, key=lambda line: abs(line - path))


def _set_line(flown: Flown) -> float:
    """The path in deg above the horizon when the sticks are let go.  Raises NotMeasured when no line was set."""
    frames = window(flown, "set the line", 0.5)
    path = mean(flown, "path angle", frames) * DEG
    wanted = _aimed_at(flown, path)
    if abs(path - wanted) > 5.0:
        raise NotMeasured(f"the line was not set: path at {path:.0f} deg instead of {wanted:.0f}")
    rate = abs(mean(flown, "pitch rate", frames)) * DEG
    if rate > 3.0:
        raise NotMeasured(f"the line was not steady: still turning at {rate:.0f} deg/s")
    return path


@measure("deg/s", "body pitch rate hands-off on the line, mean", "hands off", "toward the canopy", "toward the gear",
         better="zero")  # fmt: skip
def pitch_drift(flown: Flown) -> float:
    _set_line(flown)
    return mean(flown, "pitch rate", window(flown, "hands off")) * DEG


@measure("g", "curvature of the path hands-off, as acceleration across it", "hands off", "toward the canopy",
         "toward the gear", better="zero")  # fmt: skip
def path_curvature(flown: Flown) -> float:
    _set_line(flown)
    frames = window(flown, "hands off")
    weightless = np.cos(flown.flight.channel("pitch")[frames]) * np.cos(flown.flight.channel("bank")[frames])
    return float((flown.flight.channel("load z")[frames] - weightless).mean())


@measure("deg/s", "roll rate hands-off on the line, mean", "hands off", "right", "left", better="zero")
def roll_drift(flown: Flown) -> float:
    _set_line(flown)
    return mean(flown, "roll rate", window(flown, "hands off")) * DEG


@measure("deg/s", "turn of the track hands-off on the line", "hands off", "right", "left", better="zero")
def heading_drift(flown: Flown) -> float:
    if abs(_set_line(flown)) > STEEP:
        raise NotMeasured("a vertical line has no track")
    return drift_rate(flown, "track", window(flown, "hands off")) * DEG


def _path_turned(flown: Flown, axis: int) -> float:
    """Angle in deg of the path at the end of hands-off from its start, along a body axis as it stood at the start."""
    _set_line(flown)
    frames = window(flown, "hands off")
    slowest = flown.flight.channel("airspeed")[frames].min()
    if slowest < SLOWEST:
        raise NotMeasured(f"down to {slowest:.1f} m/s on the line")
    path, track = flown.flight.channel("path angle")[frames], flown.flight.channel("track")[frames]
    way = np.stack([np.cos(path) * np.cos(track), np.cos(path) * np.sin(track), -np.sin(path)], axis=1)
    body = body_axes(flown, slice(frames.start, frames.start + 1))[0]
    across, along = body[axis] @ way[-1], body[0] @ way[-1]
    before = np.arctan2(body[axis] @ way[0], body[0] @ way[0])
    return wrapped(float(np.arctan2(across, along) - before)) * DEG


@measure("deg", "how far the path bends hands-off in pitch, start to end of hands-off", "hands off",
         "toward the canopy", "toward the gear", better="zero")  # fmt: skip
def bend_in_pitch(flown: Flown) -> float:
    return -_path_turned(flown, 2)


@measure("deg", "how far the path bends hands-off sideways, start to end of hands-off", "hands off",
         "toward the right wing", "toward the left wing", better="zero")  # fmt: skip
def bend_sideways(flown: Flown) -> float:
    return _path_turned(flown, 1)


@measure("deg", "angle rolled hands-off on the line", "hands off", "right", "left", better="zero")
def roll_off_line(flown: Flown) -> float:
    _set_line(flown)
    return turned(flown, "roll rate", window(flown, "hands off")) * DEG


@measure("m/s", "airspeed when the sticks are let go", "set the line")
def line_speed(flown: Flown) -> float:
    return mean(flown, "airspeed", window(flown, "set the line", 0.2, 0.1))


@measure("deg", "elevator that held the line, less level trim", "set the line", "up", "down", better="zero")
def line_elevator(flown: Flown) -> float:
    _set_line(flown)
    held = mean(flown, "elevator", window(flown, "set the line", 0.5))
    return -(held - flown.level.elevator) * DEG


@measure("m", "height gained from the start of the line to the end of hands-off", "hands off")
def line_height(flown: Flown) -> float:
    _set_line(flown)
    return gained(flown, "height", from_to(flown, "set the line", "hands off"))


@measure("m/s", "airspeed at the end of the line", "hands off")
def line_end_speed(flown: Flown) -> float:
    _set_line(flown)
    return mean(flown, "airspeed", window(flown, "hands off", 0.2, 0.1))


@measure("m/s", "airspeed at which a down-line no longer accelerates", "hands off", better=("less", "", "less"))
def terminal_speed(flown: Flown) -> float:
    path = _set_line(flown)
    if path > -30.0:
        raise NotMeasured(f"no down-line: path at {path:.0f} deg")
    airspeed = flown.flight.channel("airspeed")[window(flown, "hands off", 1.0, 0.9)]
    gain = float(airspeed[-1] - airspeed[0]) / ((len(airspeed) - 1) * FRAME)
    if abs(gain) > SETTLED:
        raise NotMeasured(f"still {'gaining' if gain > 0 else 'losing'} {abs(gain):.1f} m/s every second")
    return float(airspeed[-1])
