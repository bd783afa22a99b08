"""What a flight by hand comes to in numbers, as text and as a document."""

from __future__ import annotations

import math
from typing import Any

from scenarios.manoeuvres import Flown
from sim.integration import FRAME
from viewer.documents import quantity
from viewer.text import number, wrapped

# channel, words, unit, factor
_RANGES = (
    ("airspeed", "airspeed", "m/s", 1.0),
    ("height", "height", "m", 1.0),
    ("load z", "load factor", "g", 1.0),
    ("alpha", "alpha", "deg", math.degrees(1.0)),
    ("roll rate", "roll rate", "deg/s", math.degrees(1.0)),
    ("throttle", "throttle", "%", 100.0),
)


def ranges(flown: Flown) -> list[tuple[str, str, float, float]]:
    """(words, unit, least, greatest) of what a pilot asks for first."""
    out = []
    for channel, words, unit, factor in _RANGES:
        values = factor * flown.flight.channel(channel)
        out.append((words, unit, float(values.min()), float(values.max())))
    return out


def ranges_text(flown: Flown) -> str:
    """The ranges, a line each."""
    return "\n".join(
        f"  {words.ljust(12)} {number(least, unit).rjust(7)} to {number(most, unit).rjust(7)} {unit}"
        for words, unit, least, most in ranges(flown)
    )


def ranges_document(flown: Flown) -> dict[str, Any]:
    """The ranges as a part of a document."""
    return {
        words: {"least": quantity(least, unit), "greatest": quantity(most, unit)}
        for words, unit, least, most in ranges(flown)
    }


def changes_document(flown: Flown) -> list[dict[str, Any]]:
    """What was changed, as a part of a document."""
    return [{"time": quantity(c.frame * FRAME, "s"), "what": c.what, "value": c.value} for c in flown.changes]


def summary_text(flown: Flown) -> str:
    """How long it was, between what and what everything lay, how it ended, and what was changed."""
    flight = flown.flight
    lines = [f"{flown.setup.name} flown by hand for {len(flight.rows) * FRAME:.1f} s on {flown.setup.airframe.name}"]
    if flight.ending != "completed":
        lines.append(f"ended: {flight.ending}" + (f"; first bad quantity: {flight.bad}" if flight.bad else ""))
    lines += ["", ranges_text(flown)]
    for change in flown.changes:
        at = "before the start" if change.frame == 0 else f"at {change.frame * FRAME:.2f} s"
        lines.append(wrapped(f"{at}: {change.what} {change.value}", "    ", "  "))
    return "\n".join(lines)


def summary_document(flown: Flown) -> dict[str, Any]:
    """The same as a document."""
    return {
        "setup": flown.setup.name,
        "airframe": flown.setup.airframe.name,
        "pilot": flown.skill,
        "ended": flown.flight.ending,
        "duration": quantity(len(flown.flight.rows) * FRAME, "s"),
        "ranges": ranges_document(flown),
        "changes": changes_document(flown),
    }
