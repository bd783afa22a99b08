"""A joiner tube as a beam: section, stresses, what it allows, and how far it bends.

Elastic beam formulas of the round tube (Timoshenko, Strength of Materials; Roark's Formulas for Stress and Strain, both
from memory).  The tube bends most at the root rib: between the ribs the fuselage takes only the difference of the two
halves, and beyond the rib the wing takes the moment over, to nothing at the end of the tube.  Bending stress is greatest
where shear stress is nothing and the other way round, so each is held against its own limit.

Limits: what the flight loads a tube with must not bend it for good, and 1.5 times that must not break it (14 CFR
23.303 and 23.305 before amendment 64, from memory).  Left out: plastic reserve (a tube that yields outside carries
more), local buckling of thin walls, holes, and the sleeve's grip.
"""

from __future__ import annotations

import math

import numpy as np

from sim.description import Joiner, Material

SAFETY = 1.5  # ultimate over limit load


def second_moment(diameter: float, wall: float) -> float:
    """Second moment of area of a round tube (m4): pi / 64 (D^4 - d^4)."""
    return math.pi / 64.0 * (diameter**4 - (diameter - 2.0 * wall) ** 4)


def section_area(diameter: float, wall: float) -> float:
    """Area of the ring (m2)."""
    return math.pi * wall * (diameter - wall)


def bending_stress(joiner: Joiner, moment: np.ndarray) -> np.ndarray:
    """Largest stress (Pa) of a bending `moment` (N m, its magnitude) that the tubes share evenly: M R / I."""
    return np.abs(moment) * 0.5 * joiner.diameter / (joiner.tubes * second_moment(joiner.diameter, joiner.wall))


def shear_stress(joiner: Joiner, force: np.ndarray) -> np.ndarray:
    """Largest shear stress (Pa) of a force across the tubes (N), at the neutral axis: V Q / (I b).

    4 V / 3 A times (R^2 + R r + r^2) / (R^2 + r^2): 4/3 of the mean in a rod, twice the mean in a thin tube.
    """
    outer, inner = 0.5 * joiner.diameter, 0.5 * joiner.diameter - joiner.wall
    peak = 4.0 / 3.0 * (outer**2 + outer * inner + inner**2) / (outer**2 + inner**2)
    return np.abs(force) * peak / (joiner.tubes * section_area(joiner.diameter, joiner.wall))


def breaking_stress(material: Material) -> float:
    """Bending stress (Pa) at which it breaks, on the weaker side."""
    return min(material.tension, material.compression)


def allowed_bending(material: Material) -> tuple[float, str]:
    """Bending stress (Pa) that a flight may reach, and which limit that is: "yield" or "break"."""
    broken = breaking_stress(material) / SAFETY
    if material.yields is not None and material.yields < broken:
        return material.yields, "yield"
    return broken, "break"


def allowed_shear(material: Material) -> float:
    """Shear stress (Pa) that a flight may reach; metals yield in shear at the tensile stress over root 3 (von Mises)."""
    broken = material.shear / SAFETY
    return broken if material.yields is None else min(broken, material.yields / math.sqrt(3.0))


def margin(joiner: Joiner, bending: np.ndarray, shear: np.ndarray) -> np.ndarray:
    """Margin of safety of stresses (Pa): allowed over found, less 1, the worse of bending and shear; 0 is the limit."""
    used = np.maximum(bending / allowed_bending(joiner.material)[0], shear / allowed_shear(joiner.material))
    return 1.0 / np.maximum(used, 1e-9) - 1.0


def bend_angle(joiner: Joiner, rib: float, moment: float) -> float:
    """Angle (rad) by which the tubes let one half rise under its moment (N m) at the root `rib`; the half itself is stiff.

    Constant moment from the middle to the rib turns the rib by M a / E I; beyond it the tube stands in the half on two
    bearings, the rib and its own end, and turns there by M l / 3 E I (Roark, end couple, from memory).
    """
    stiffness = joiner.tubes * joiner.material.modulus * second_moment(joiner.diameter, joiner.wall)
    return moment * (rib + joiner.reach / 3.0) / stiffness
