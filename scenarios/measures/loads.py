"""Loads, and the height and time that a figure and its recovery take."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import from_to, furthest, gained, mean, measure, window
from sim.integration import FRAME

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

FIGURE = (
    "full stick", "snap", "roll", "loop", "wall", "parachute", "flat spin", "tumble", "knife-edge spin", "spin", "pull",
    "turn",
)  # fmt: skip
BEGINNING = ("enter", *FIGURE)
LOAD = "definition: 14 CFR 1.1, load factor (from memory)"


def _figure(flown: Flown) -> slice:
    """Frames of the figure, its recovery too where the manoeuvre has one."""
    return from_to(flown, FIGURE, ("recover", *FIGURE))


@measure("g", "largest load factor of the figure and its recovery", FIGURE, "toward the canopy", "toward the gear",
         source=LOAD)  # fmt: skip
def peak_load(flown: Flown) -> float:
    return furthest(flown.flight.channel("load z")[_figure(flown)])


@measure("g", "largest side load of the figure and its recovery", FIGURE, "toward the right wing",
         "toward the left wing", source=LOAD)  # fmt: skip
def peak_side_load(flown: Flown) -> float:
    return furthest(flown.flight.channel("load y")[_figure(flown)])


@measure("s", "from full stick to the largest load factor", "full stick", better=("", "less", ""))
def time_to_peak_load(flown: Flown) -> float:
    load = flown.flight.channel("load z")[window(flown, "full stick")]
    return float(np.argmax(np.abs(load))) * FRAME


@measure("m/s", "airspeed when the stick is pulled to its stop", "full stick")
def pass_speed(flown: Flown) -> float:
    return float(flown.flight.channel("airspeed")[window(flown, "full stick").start])


@measure("m/s", "airspeed lost from the start of the figure to its end, stopping included", FIGURE, better="less")
def speed_lost(flown: Flown) -> float:
    return -gained(flown, "airspeed", from_to(flown, FIGURE, ("stop", *FIGURE)))


@measure("m", "height lost from the start of the entry to the lowest point of figure and recovery", FIGURE,
         better="less")  # fmt: skip
def figure_height_lost(flown: Flown) -> float:
    frames = from_to(flown, BEGINNING, ("recover", *FIGURE))
    height = flown.flight.channel("height")[frames]
    return float(height[0] - height.min())


@measure("s", "length of the recovery, to its end condition", "recover", better="less")
def time_to_recover(flown: Flown) -> float:
    frames = window(flown, "recover", least=0.05)
    return (frames.stop - frames.start) * FRAME


@measure("m", "height lost in the recovery, to its lowest point", "recover", better="less")
def height_to_recover(flown: Flown) -> float:
    height = flown.flight.channel("height")[window(flown, "recover", least=0.05)]
    return float(height[0] - height.min())


@measure("m/s", "airspeed at the end of the recovery", "recover")
def speed_recovered(flown: Flown) -> float:
    return mean(flown, "airspeed", window(flown, "recover", 0.1, 0.05))
