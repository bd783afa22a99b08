"""What the pilot has to do: how far, how often and how hard against the stops he moves the sticks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import measure, window
from sim.integration import FRAME

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

STICKS = ("aileron stick", "elevator stick", "rudder stick")
HELD = ("held", "harrier", "set the line", "roll", "loop")  # what a pilot holds by hand
SEEN = 0.02  # stick travel, centre to stop 1, below which a move is no correction
STOP = 0.99


def reversals(stick: np.ndarray, least: float = SEEN) -> int:
    """How often `stick` turns back by more than `least` of its travel from centre to stop."""
    count, direction, turn = 0, 0, float(stick[0])
    for position in stick:
        if direction * (position - turn) > 0.0:
            turn = position
        elif abs(position - turn) > least:
            count += direction != 0
            direction, turn = (1 if position > turn else -1), position
    return count


@measure("1/s", "stick movement while held: sum over three sticks of travel a second", HELD, better="less")
def stick_work(flown: Flown) -> float:
    frames = window(flown, HELD)
    work = 0.0
    for stick in STICKS:
        work += float(np.abs(np.diff(flown.flight.channel(stick)[frames])).sum())
    return work / ((frames.stop - frames.start) * FRAME)


@measure("1/s", "corrections while held: turns back of a stick by over 2 %, three sticks together", HELD, better="less")
def corrections(flown: Flown) -> float:
    frames = window(flown, HELD, least=1.0)
    turns = sum(reversals(flown.flight.channel(stick)[frames]) for stick in STICKS)
    return turns / ((frames.stop - frames.start) * FRAME)


@measure("%", "share of the time held in which one of the three sticks stands on its stop", HELD, better="less")
def on_the_stops(flown: Flown) -> float:
    frames = window(flown, HELD)
    at_stop = np.stack([np.abs(flown.flight.channel(stick)[frames]) > STOP for stick in STICKS]).any(axis=0)
    return 100.0 * float(at_stop.mean())
