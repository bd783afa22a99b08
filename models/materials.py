"""What joiner tubes are made of: strengths and moduli with where they are from.

Metals: specification minimum of drawn tube, as in MIL-HDBK-5 (E, Ftu, Fty, Fsu), from memory; typical values are 5 to
20 % higher (ASM Metals Handbook, Desk Edition).  Carbon: half of what coupons of a good prepreg carry, for a tube of
unknown make has more resin, fibres that wander and plies across; modulus likewise lower.  Wood: six tenths of the mean of
small clear pieces, for knots, grain and spread; the strength in bending stands for tension and compression.
"""

from __future__ import annotations

from sim.description import Material

_KSI, _MSI = 6.894757e6, 6.894757e9  # Pa
_TUBE = "MIL-HDBK-5 minimum of drawn tube, {} (from memory)"
_COUPON = "half of coupon values, {} (Daniel and Ishai, table A.4, from memory); modulus lowered, an estimate"
_CLEAR = "six tenths of clear wood at 12 % moisture, {} (Wood Handbook FPL-GTR-190, table 5-3, from memory)"


def _metal(name: str, modulus: float, ultimate: float, yields: float, shear: float, specification: str) -> Material:
    """From MIL-HDBK-5's Msi and ksi."""
    strength = ultimate * _KSI
    return Material(name, modulus * _MSI, strength, strength, shear * _KSI, yields * _KSI, _TUBE.format(specification))


def _wood(name: str, modulus: float, rupture: float, shear: float, species: str) -> Material:
    """From the handbook's means, Pa; clear wood's modulus is kept, as stiffness spreads little."""
    strength = 0.6 * rupture
    return Material(name, modulus, strength, strength, 0.6 * shear, None, _CLEAR.format(species))


MATERIALS: dict[str, Material] = {
    material.name: material
    for material in (
        _metal("6061-T6", 9.9, 42.0, 35.0, 27.0, "WW-T-700/6"),
        _metal("2024-T3", 10.5, 64.0, 42.0, 39.0, "WW-T-700/3"),
        _metal("7075-T6", 10.3, 77.0, 66.0, 46.0, "WW-T-700/7"),
        Material(
            "unidirectional carbon", 120e9, 1.14e9, 0.72e9, 38e6, None, _COUPON.format("AS4/3501-6, fibres along")
        ),
        Material("woven carbon", 55e9, 480e6, 450e6, 35e6, None, _COUPON.format("AGP370-5H/3501-6S fabric")),
        _wood("birch", 13.9e9, 114e6, 13.0e6, "yellow birch"),
        _wood("spruce", 10.8e9, 70e6, 7.9e6, "Sitka spruce"),
    )
}
