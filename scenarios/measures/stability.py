"""How a plane holds its level trim with the sticks fixed: margin, and how fast what grows in pitch grows."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scenarios.accuracy import MODEL
from scenarios.balance import own_modes
from scenarios.ballast import free_tray
from scenarios.measures.registry import NotMeasured, measure
from sim.build import Plane, build
from sim.linearisation import pitch_stability
from sim.modes import Mode
from sim.trim import NoTrim, level_trim
from sim.wind import calm

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

PITCH = ("u", "w", "q", "theta")  # states of the motion in the plane of symmetry
MARGIN = "definition: Nelson, Flight Stability and Automatic Control, chapter 2 (from memory)"
GROWTH = "definition: MIL-F-8785C, 3.2.1.1 (from memory)"


@measure("%", "neutral point behind the CG in MAC, stick fixed, power off, at the level trim", (), "stable",
         "unstable", source=MARGIN)  # fmt: skip
def stick_fixed_margin(flown: Flown) -> float:
    return 100.0 * pitch_stability(_still(flown), flown.level).static_margin


@measure("1/s", "fastest growth of a motion in pitch at the level trim; 0.69 over it is the time to double", (),
         "grows", "dies away", source=GROWTH)  # fmt: skip
def pitch_growth(flown: Flown) -> float:
    return fastest_growth(own_modes(_still(flown), flown.level)[0])


@measure("1/s", f"the same with the CG {100.0 * MODEL:.1f} % of MAC further aft, by which this model's neutral point may"
         " lie too far aft", (), "grows", "dies away", source=GROWTH)  # fmt: skip
def pitch_growth_aft(flown: Flown) -> float:
    plane = flown.plane
    further = build(free_tray(replace(plane.setup, cg=(plane.cg_station + MODEL * plane.mac, "m"))))
    try:
        trim = level_trim(further, flown.manoeuvre.trim, flown.manoeuvre.start.height)
    except NoTrim as stop:
        raise NotMeasured(str(stop)) from None
    return fastest_growth(own_modes(further, trim)[0])


def fastest_growth(modes: tuple[Mode, ...]) -> float:
    """The largest real part (1/s) among the modes that the motion in pitch has more than half of.

    Negative where all of them die away.  Raises `NotMeasured` where there is none.
    """
    own = [m.eigenvalue.real for m in modes if sum(m.participation.get(state, 0.0) for state in PITCH) > 0.5]
    if not own:
        raise NotMeasured("no mode of its own in pitch")
    return max(own)


def _still(flown: Flown) -> Plane:
    """The plane as it was flown, in still air: the level trim is one of still air."""
    return replace(flown.plane, model=calm(flown.plane.model), known={})
