"""What is checked on the ground, then flown, when a plane flies in a setup for the first time, and in which order.

Order, words and signs are common practice, no source; what is flown is told in the words of the walk's field order
(`scenarios.walk.field`).
"""

from __future__ import annotations

from dataclasses import dataclass

from scenarios.walk.field import CHECKS, Check
from scenarios.walk.limits import FREE, PRACTICE

SOURCE = PRACTICE
# what is done before the first flight of a day, and what to write down of it
GROUND = (
    ("Weigh and balance as it flies", "CG found"),
    ("Hinges, horns, rods, wing and tail bolts, spar: tight, no cracks", ""),
    ("Every control moves the right way, and back to neutral", ""),
    ("Each switch: rates, mixes, modes as on this card", ""),
    ("Range check, then leave the low-power mode", "paces"),
    ("Failsafe: plane held, transmitter off, the motor stops or idles", ""),
)


@dataclass(frozen=True)
class FirstFlight:
    """One thing to fly as a `check`, and what is written down of it."""

    check: Check
    found: tuple[str, ...] = ()


_KNOWN = {check.title: check for check in CHECKS}
_CLIMB = Check(
    "Take-off", (), "low rates, straight out, up to 150 m; nobody below", (),
    "it climbs with little stick, all in trim", "it wants much trim, or any surface buzzes: land at once",
)  # fmt: skip
_LINES = Check(
    "45-degree up-line", ("upline-45",), "set, then hands off, upright and inverted", (),
    "a slow drift, the same each time", "upright it bends hard to the gear: CG forward",
)  # fmt: skip
_RATES = Check(
    "High rates", (), "one control at a time, at cruise", (),
    "it stops where the stick stops", "you chase it; any buzz",
)  # fmt: skip


def first_flights(way_of_flying: str) -> list[FirstFlight]:
    """What to fly in a new setup for a way of flying, one of `STYLES`, in order."""
    order = [
        FirstFlight(_CLIMB),
        FirstFlight(_KNOWN["Trim"], ("elevator trim",)),
        FirstFlight(_KNOWN["Slow flight"]),
        FirstFlight(_KNOWN["Stalls"], ("wing that drops",)),
        FirstFlight(_KNOWN["Dive test"], ("pulls / holds / tucks",)),
        FirstFlight(_KNOWN["Inverted"], ("sinks / holds / climbs",)),
        FirstFlight(_LINES, ("upright to", "inverted to")),
        FirstFlight(_KNOWN["Knife edge"], ("right to", "left to")),
        FirstFlight(_RATES),
        FirstFlight(_KNOWN["Spins of one turn"], ("turns to stop",)),
    ]
    if way_of_flying in FREE:
        order.append(FirstFlight(_KNOWN["Hover"], ("throttle %",)))
    return order
