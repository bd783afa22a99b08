"""Loads, and the height and time that a figure and its recovery take."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import NotMeasured, from_to, furthest, gained, mean, measure, window
from sim.integration import FRAME
from sim.recording import COMMAND_AT

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

FIGURE = (
    "full stick", "snap", "roll", "loop", "wall", "parachute", "flat spin", "tumble", "knife-edge spin", "spin", "pull",
    "turn",
)  # fmt: skip
BEGINNING = ("enter", *FIGURE)
LOAD = "definition: 14 CFR 1.1, load factor (from memory)"
BENDING = "definition: Timoshenko, Strength of Materials, bending moment of a cantilever (from memory)"
MARGIN = "definition: MMPDS, margin of safety; 14 CFR 23.303 and 23.305 (from memory)"


def _figure(flown: Flown) -> slice:
    """Frames of the figure, its recovery too where the manoeuvre has one."""
    return from_to(flown, FIGURE, ("recover", *FIGURE))


def _finite(flown: Flown, frames: slice) -> slice:
    """The frames, when states and commands of all are finite.  Raises NotMeasured otherwise."""
    if not np.isfinite(flown.flight.rows[frames, COMMAND_AT:]).all():
        raise NotMeasured("the recorded states are not finite")
    return frames


@measure("g", "largest load factor of the figure and its recovery", FIGURE, "toward the canopy", "toward the gear",
         source=LOAD)  # fmt: skip
def peak_load(flown: Flown) -> float:
    return furthest(flown.flight.channel("load z")[_figure(flown)])


@measure("g", "largest side load of the figure and its recovery", FIGURE, "toward the right wing",
         "toward the left wing", source=LOAD)  # fmt: skip
def peak_side_load(flown: Flown) -> float:
    return furthest(flown.flight.channel("load y")[_figure(flown)])


@measure("N m", "largest bending at a wing root over the figure and its recovery, inertia relief taken off", FIGURE,
         "tips up", "tips down", source=BENDING)  # fmt: skip
def root_bending(flown: Flown) -> float:
    frames = _finite(flown, _figure(flown))
    from sim import span_loads as S

    halves = [half for half in S.halves(flown.plane) if half.surface == "wing"]
    now = S.instants(flown.plane, flown.flight.rows[frames])
    return furthest(np.concatenate([S.section_loads(flown.plane, half, now)[:, S.BENDING] for half in halves]))


@measure("", "least margin of the wing joiner over the figure and its recovery: stress allowed over found, less 1", FIGURE,
         better="more", source=MARGIN)  # fmt: skip
def joiner_margin(flown: Flown) -> float:
    frames = _finite(flown, _figure(flown))
    from scenarios.bench.structure import loads_of_flight

    margin = loads_of_flight(flown, frames=frames).hardest["wing"].margin
    if margin is None:
        raise NotMeasured("the airframe file does not describe the wing's joiner")
    return margin


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
