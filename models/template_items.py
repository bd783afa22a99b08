"""The things on the scale of a plane that nobody has weighed: shares of the weight, places and sizes, in one table.

Shares and places are about those of the five built-in planes, which are invented: common practice, no source.  A share
is scaled until all items add up to the weight; `known` names the answer that gives a mass instead.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from models.sketch import Outline

Triple = tuple[float, float, float]


@dataclass(frozen=True)
class Thing:
    """One item, or a left and right `pair`: share of the weight, and of an outline its place, size and tray (m, file axes)."""

    name: str
    share: float
    at: Callable[[Outline], Triple]
    size: Callable[[Outline], Triple] | None = None
    pair: bool = False
    known: str = ""
    tray: Callable[[Outline], tuple[float, float]] | None = None


def _on_wing(g: Outline, along: float, chord: float) -> Triple:
    """A point of the right wing half, as shares of the half-span and of the chord there."""
    return (along * g.sweep + chord * (g.cr + along * (g.ct - g.cr)), along * g.half, along * g.dihedral)


def _airframe(wing, tube, fuselage, canopy, stabiliser, fin, gear, tail_wheel) -> tuple[Thing, ...]:
    """What every plane has, with its shares of the weight."""
    return (
        Thing("wing half", wing, lambda g: _on_wing(g, 0.42, 0.42),
              lambda g: (0.76 * g.cr, 0.98 * g.half, 0.09 * g.cr), pair=True),
        Thing("wing tube and bolts", tube, lambda g: (0.3 * g.cr, 0.0, 0.0), lambda g: (0.014 * g.b, 0.36 * g.b, 0.014 * g.b)),
        Thing("fuselage", fuselage, lambda g: (g.nose + 0.485 * g.length, 0.0, g.shaft + 0.04 * g.depth),
              lambda g: (g.length, 0.8 * g.width, 0.7 * g.depth)),
        Thing("canopy", canopy, lambda g: (0.45 * g.cr, 0.0, g.shaft + 0.4 * g.depth),
              lambda g: (0.32 * g.length, 0.8 * g.width, 0.27 * g.depth)),
        Thing("stabiliser halves", stabiliser, lambda g: (g.xs + 0.45 * g.cs, 0.0, g.zs),
              lambda g: (0.78 * g.cs, 0.98 * g.bs, 0.009 * g.b)),
        Thing("fin and rudder", fin, lambda g: (g.xf + 0.565 * g.cf, 0.0, g.foot + 0.5 * g.hf),
              lambda g: (0.74 * g.cf, 0.007 * g.b, 0.95 * g.hf)),
        Thing("landing gear and wheels", gear, lambda g: (0.08 * g.cr, 0.0, g.shaft - 0.6 * g.depth),
              lambda g: (0.03 * g.b, 0.23 * g.b, 0.08 * g.b)),
        Thing("tail wheel", tail_wheel, lambda g: (g.tail - 0.018 * g.length, 0.0, g.zs - 0.3 * g.depth)),
    )  # fmt: skip


def _servos(
    aileron: float, elevator: float, rudder: float, rudder_at: Callable[[Outline], Triple]
) -> tuple[Thing, ...]:
    return (
        Thing("aileron servo", aileron, lambda g: _on_wing(g, 0.52, 0.5), pair=True),
        Thing("elevator servos", elevator, lambda g: (g.xs, 0.0, g.zs)),
        Thing("rudder servo", rudder, rudder_at),
    )


_PROPELLER_SIZE = 0.036, 0.04, 0.04

ELECTRIC = (
    *_airframe(0.0925, 0.031, 0.153, 0.028, 0.031, 0.026, 0.052, 0.0055),
    Thing("motor", 0.115, lambda g: (g.nose + 0.062 * g.length, 0.0, g.shaft),
          lambda g: (0.037 * g.b, 0.032 * g.b, 0.032 * g.b), known="motor_mass"),
    Thing("propeller and spinner", 0.03, lambda g: (g.hub, 0.0, g.shaft), lambda g: _scaled(g, _PROPELLER_SIZE)),
    Thing("speed controller", 0.033, lambda g: (g.nose + 0.122 * g.length, 0.0, g.shaft - 0.17 * g.depth),
          lambda g: (0.045 * g.b, 0.027 * g.b, 0.011 * g.b)),
    Thing("battery", 0.22, lambda g: (0.1 * g.cr, 0.0, g.shaft - 0.1 * g.depth),
          lambda g: (0.077 * g.b, 0.027 * g.b, 0.04 * g.b), known="battery_mass",
          tray=lambda g: (g.nose + 0.125 * g.length, 0.5 * g.cr)),
    *_servos(0.012, 0.023, 0.013, lambda g: (0.95 * g.cr, 0.0, g.shaft)),
    Thing("receiver and its packs", 0.034, lambda g: (0.52 * g.cr, 0.0, g.shaft - 0.05 * g.depth),
          lambda g: (0.09 * g.b, 0.036 * g.b, 0.018 * g.b)),
)  # fmt: skip

PISTON = (
    *_airframe(0.087, 0.029, 0.151, 0.027, 0.0335, 0.0265, 0.05, 0.0063),
    Thing("cowl", 0.0215, lambda g: (g.nose + 0.048 * g.length, 0.0, g.shaft),
          lambda g: (0.12 * g.length, 1.2 * g.width, 0.58 * g.depth)),
    Thing("engine with ignition", 0.23, lambda g: (g.nose + 0.056 * g.length, 0.0, g.shaft),
          lambda g: (0.064 * g.b, 0.1 * g.b, 0.052 * g.b), known="engine_mass"),
    Thing("propeller and spinner", 0.0325, lambda g: (g.hub, 0.0, g.shaft), lambda g: _scaled(g, _PROPELLER_SIZE)),
    Thing("canister mufflers", 0.05, lambda g: (0.23 * g.cr, 0.0, g.shaft - 0.28 * g.depth),
          lambda g: (0.19 * g.b, 0.057 * g.b, 0.022 * g.b)),
    Thing("fuel tank half full", 0.033, lambda g: (0.295 * g.cr, 0.0, g.shaft - 0.05 * g.depth),
          lambda g: (0.068 * g.b, 0.038 * g.b, 0.029 * g.b), known="tank_mass"),
    Thing("receiver and ignition packs", 0.062, lambda g: (0.4 * g.cr, 0.0, g.shaft - 0.08 * g.depth),
          lambda g: (0.048 * g.b, 0.046 * g.b, 0.015 * g.b),
          tray=lambda g: (g.nose + 0.135 * g.length, 0.6 * g.xs)),
    *_servos(0.0136, 0.0115, 0.0167, lambda g: (0.88 * g.xs, 0.0, g.shaft)),
    Thing("receiver and switches", 0.0175, lambda g: (0.67 * g.cr, 0.0, g.shaft - 0.02 * g.depth),
          lambda g: (0.057 * g.b, 0.038 * g.b, 0.013 * g.b)),
)  # fmt: skip

ITEMS = {"electric": ELECTRIC, "piston": PISTON}
MOVED = {"electric": "battery", "piston": "receiver and ignition packs"}

# Items of which nobody knows where they are until the plane is weighed, and between which stations they may be: moved
# together as far as it takes for the moved item to reach the CG, as a builder does who wants the plane to balance.
LEVERS: dict[str, Callable[[Outline], tuple[float, float]]] = {
    "fuselage": lambda g: (g.nose + 0.405 * g.length, g.nose + 0.565 * g.length),
    "rudder servo": lambda g: (0.3 * g.cr, 0.9 * g.xs),
    "receiver and its packs": lambda g: (g.nose + 0.25 * g.length, 0.6 * g.xs),
    "receiver and switches": lambda g: (g.nose + 0.25 * g.length, 0.6 * g.xs),
}

# cross-sections of the fuselage from nose to tail: place over length, width and height over the greatest
SECTIONS = (0.0, 0.034, 0.138, 0.253, 0.368, 0.511, 0.655, 0.799, 0.914, 1.0)
HEIGHTS = (0.30, 0.52, 0.70, 0.83, 1.0, 0.95, 0.76, 0.57, 0.41, 0.23)
WIDTHS = {
    "electric": (0.58, 0.90, 1.0, 1.0, 0.97, 0.89, 0.68, 0.46, 0.24, 0.08),
    "piston": (0.69, 1.20, 1.09, 1.02, 1.0, 0.91, 0.67, 0.45, 0.24, 0.08),
}
DEEPEST = 4  # the section of the greatest height


def _scaled(g: Outline, shares: Triple) -> Triple:
    return (shares[0] * g.b, shares[1] * g.b, shares[2] * g.b)


def middle(g: Outline, section: int) -> float:
    """Height (m) of the middle of a section: on the shaft at the nose, a little above it at the deepest, then to the tail."""
    top, end = g.shaft + 0.09 * g.depth, g.zs - 0.13 * g.depth
    if section < DEEPEST:
        return g.shaft + (top - g.shaft) * max(0.0, (section - 2) / (DEEPEST - 2))
    return top + (end - top) * max(0.0, (SECTIONS[section] - SECTIONS[5]) / (1.0 - SECTIONS[5]))
