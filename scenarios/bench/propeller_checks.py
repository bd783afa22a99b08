"""How far the propeller model was held against wind tunnels, and which propellers lie outside of that.

Facts of `tests/sim/test_propeller.py` and `tests/sim/test_propeller_held_out.py`; all data are of the UIUC Propeller
Database (Brandt, Deters, Ananda, Dantsker, Selig).  Blade elements with momentum are one theory for all families, so
pitch over diameter, blade count and Reynolds number count over all of them; a family is a blade shape, and
`COMPARED` says at which size its shape was compared.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sim.description import Propeller
from sim.propeller import NU

PITCH_OVER_DIAMETER = (0.34, 0.94)  # 11x3.8 (held out) to 14x13
HIGHEST_PITCH = 1.2  # 10x12, held out: thrust 19 %, power 24 % of static low before the blades unstall
BLADES = (2, 3)  # three: one set (NR640, 9 in)
REYNOLDS = 1.5e5  # at 0.75 R: 16x8 at 5960 rev/min
PAST_ZERO_THRUST = 1.30  # times the advance ratio where thrust ends: 11x3.8; most others end at 1.05 to 1.25
MACH = 0.7  # of the blade tip: wave drag begins, and compressibility is left out (`sim.propeller`)


@dataclass(frozen=True)
class Comparison:
    """Against what a blade family was held: `sizes` its shape was set beside, and runs `held_out`, in words."""

    sizes: str
    held_out: str = ""


COMPARED = {
    "broad-sport": Comparison(
        "14x13 sport (its shape was estimated beside these runs: thrust within 10 %, power 15 % of static)",
        "a 9x8 sport propeller of another make: thrust within 4 %, power within 19 % of static",
    ),
    "thin-light": Comparison(
        "17x12 electric (its shape was estimated beside these runs: thrust within 14 %, power 21 % of static)",
        "19x12 of the same make: thrust 14 %, power 23 % of static low at the worst",
    ),
    "narrow-carbon": Comparison(
        "16x8 folding carbon (its shape was estimated beside these runs: thrust within 16 %, power 24 % of static)",
        "10x12 of the same make: thrust 20 %, power 25 % of static low at the worst",
    ),
    "slow-broad": Comparison(
        "11x4.7 slow-flying (its shape was estimated beside these runs: thrust within 13 %, power 23 % of static)",
        "11x3.8 and 10x7 of the same make: thrust within 10 %, power within 15 % of static",
    ),
    "stiff-wood": Comparison(
        "",
        "an 11x7 wooden propeller, alone, at a fraction of the Reynolds number: thrust 40 % of static too high, "
        "power 11 %; whether large wooden propellers do better is not known",
    ),
}


def reynolds(propeller: Propeller, omega: float) -> float:
    """Reynolds number of the blade at three quarters of the radius, at rotor speed `omega` (rad/s), standing still."""
    radius = 0.5 * propeller.diameter
    chord = float(np.interp(0.75, propeller.family.radius, propeller.family.chord)) * radius
    return 0.75 * radius * omega * chord / NU


def outside(propeller: Propeller, fastest_tip_mach: float) -> list[str]:
    """What about `propeller` lies outside of what was checked, in words."""
    said = []
    ratio = propeller.pitch / propeller.diameter
    low, high = PITCH_OVER_DIAMETER
    if ratio > HIGHEST_PITCH + 0.005:
        said.append(f"beyond {HIGHEST_PITCH:g} pitch/diameter: not checked")
    elif ratio > high + 0.005:
        said.append(f"beyond {high:g} pitch/diameter: one run, at {HIGHEST_PITCH:g}; static thrust 19 % low there")
    elif ratio < low - 0.005:
        said.append(f"below {low:g} pitch/diameter: not checked")
    if propeller.blades not in BLADES:
        said.append(f"{propeller.blades} blade{'s' * (propeller.blades > 1)}: only 2 and 3 were checked")
    if fastest_tip_mach > MACH:
        said.append(f"blade tips beyond Mach {MACH:g}: compressibility is left out, real thrust is less")
    return said


def beyond_zero_thrust(axial: float, omega: float, diameter: float, end_of_thrust: float) -> bool:
    """Whether a braking propeller runs at a greater advance ratio than was checked; `end_of_thrust` is a J."""
    return axial * 2.0 * math.pi > PAST_ZERO_THRUST * end_of_thrust * max(omega, 1e-9) * diameter
