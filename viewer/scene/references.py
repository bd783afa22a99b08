"""What a manoeuvre is judged by, as lines: the line that was to be flown, the height of the entry, the place held, the box.

Earth axes, m.  A manoeuvre that measures how a line bends has one: its pilot points the plane up or down it, and it begins where
the path first lies on it, along the path's own direction there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from scenarios.playback import Playback
from viewer.scene import colours as C
from viewer.scene.cameras import Station

LINE_MEASURE = "path_curvature"
STEEP = math.radians(25.0)  # least pitch of what is a line up or down
LINES_AT = math.radians(15.0)  # a nose at 44 or 46 degrees is to fly a line of 45
ON_THE_LINE = (
    math.radians(1.5),
    math.radians(6.0),
)  # how near the path has to be; the second where it never comes so near
BOX = math.radians(60.0)  # to both sides of the pilot's middle: FAI Sporting Code, class F3A (from memory)
MARKS = 50.0  # m between the marks on the centre line
RISE = 0.02


@dataclass(frozen=True)
class Line:
    """A straight line from `start` to `end`, `width` in pixels of a picture 720 high; `dash` in m, 0: unbroken."""

    start: np.ndarray
    end: np.ndarray
    colour: C.Colour
    width: float = 2.0
    dash: float = 0.0


@dataclass(frozen=True)
class Mark:
    """A word at a place."""

    at: np.ndarray
    text: str


def references(flight: Playback) -> tuple[list[Line], list[Mark]]:
    """The lines in the air that belong to the manoeuvre that was flown; none for a flight without one."""
    manoeuvre = flight.manoeuvre
    if manoeuvre is None or flight.frames < 2:
        return [], []
    lines, marks, hold, pitch = [], [], "", 0.0
    parts = {part.name: part for part in manoeuvre.phases}
    phases = flight.phases
    drawn_to = -1.0
    for number, phase in enumerate(phases):
        part = parts[phase.name]
        hold = part.hold or hold
        pitch = part.aim.pitch if part.aim is not None and part.aim.pitch is not None else pitch
        if phase.start < drawn_to or not part.pilot and part.hold is None and number:
            continue
        if hold == "place":
            at = flight.pose(phase.start).position
            lines.append(Line(at * [1.0, 1.0, 0.0], at + [0.0, 0.0, -6.0], C.REFERENCE, 2.0, 1.0))
            marks.append(Mark(at + [0.0, 0.0, -6.0], "place to hold"))
            drawn_to = flight.end
        elif hold in ("path", "attitude") and abs(pitch) > STEEP and LINE_MEASURE in manoeuvre.measures:
            drawn = _line(
                flight, phase.start, phases[min(number + 2, len(phases) - 1)].end, LINES_AT * round(pitch / LINES_AT)
            )
            if drawn is not None:
                line, drawn_to = drawn
                lines.append(line)
                marks.append(Mark(line.end, line_name(line)))
    if manoeuvre.start.from_ == "level flight":
        lines.append(_entry(flight))
        marks.append(Mark(lines[-1].end, "entry height"))
    return lines, marks


def line_name(line: Line) -> str:
    """ "vertical", or how steep the line is."""
    way = line.end - line.start
    angle = math.degrees(math.atan2(abs(way[2]), math.hypot(way[0], way[1])))
    return "vertical" if angle > 89.0 else f"{angle:.0f}° line"


def _line(flight: Playback, start: float, end: float, pitch: float) -> tuple[Line, float] | None:
    """The line of that pitch from where the path first lies on it, and the time it is drawn to."""
    time = flight.time
    off = np.where((time >= start) & (time <= end), np.abs(flight.channel("path angle") - pitch), np.inf)
    near = next((near for near in ON_THE_LINE if off.min() < near), None)
    if near is None:
        return None
    frames = np.flatnonzero(off < near)
    last = int(np.searchsorted(time, end)) - 1
    first = int(frames[0])
    begin = flight.position[first]
    track = flight.pose(float(time[first])).velocity * [1.0, 1.0, 0.0]
    if abs(pitch) > 1.4:
        track = np.zeros(3)
    size = float(np.linalg.norm(track))
    level = track / size if size > 0.1 else np.zeros(3)
    way = math.cos(pitch) * level - math.sin(pitch) * np.array([0.0, 0.0, 1.0])
    reach = max(float(((flight.position[first : last + 1] - begin) @ way).max()), 10.0)
    return Line(begin, begin + 1.05 * reach * way, C.REFERENCE, 2.5, 2.0), float(time[last])


def _entry(flight: Playback) -> Line:
    """The line that the flight would have gone on along, at the height of its start, as far as it reaches."""
    begin = flight.position[0]
    velocity = flight.pose(flight.start).velocity * [1.0, 1.0, 0.0]
    way = velocity / max(float(np.linalg.norm(velocity)), 1e-6)
    reach = (flight.position - begin) @ way
    return Line(begin + min(reach.min(), 0.0) * way, begin + max(reach.max(), 20.0) * way, C.REFERENCE, 1.5, 4.0)


def field(flight: Playback, stand: Station) -> tuple[list[Line], list[Mark]]:
    """On the ground: the centre line below the flight with a mark every 50 m, the pilot's station, and the ends of the box."""
    along = stand.along
    right = np.array([-along[1], along[0], 0.0])
    eye = stand.eye * [1.0, 1.0, 0.0]
    away = float(np.mean((eye - flight.position) @ right)) if flight.frames else 50.0
    up = np.array([0.0, 0.0, -RISE])
    middle = eye - away * right + up
    s = (flight.position - middle) @ along
    half = MARKS * max(2, math.ceil(max(abs(s.min()), abs(s.max()), away * math.tan(BOX)) / MARKS))
    lines = [Line(middle - half * along, middle + half * along, C.CENTRE_LINE, 2.5)]
    marks = []
    for number in range(-int(half / MARKS), int(half / MARKS) + 1):
        at = middle + number * MARKS * along
        long = 6.0 if number == 0 else 3.0
        lines.append(Line(at - long * right, at + long * right, C.CENTRE_LINE, 2.0))
        marks.append(Mark(at, f"{abs(number) * MARKS:.0f} m" if number else "middle"))
    for sign in (-1.0, 1.0):
        way = math.cos(BOX) * -right + sign * math.sin(BOX) * along
        lines.append(Line(eye + up, eye + up + away / math.cos(BOX) * way, C.CENTRE_LINE, 1.5, 3.0))
    for way in (along, right):
        lines.append(Line(eye + up - 2.0 * way, eye + up + 2.0 * way, C.CENTRE_LINE, 3.0))
    marks.append(Mark(eye + up, "pilot"))
    return lines, marks
