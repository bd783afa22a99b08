"""The International Standard Atmosphere (ISO 2533:1975) below 11 km."""

from __future__ import annotations

import math

from sim.compiled import kernel

T0 = 288.15  # K
P0 = 101325.0  # Pa
LAPSE = 0.0065  # K/m
R_AIR = 287.05287  # J/(kg K)
G0 = 9.80665  # m/s2
EXPONENT = G0 / (R_AIR * LAPSE)
RHO0 = P0 / (R_AIR * T0)


@kernel
def density(height):
    """Air density (kg/m3) at a geopotential height in m, sea level to 11 km."""
    return RHO0 * (1.0 - LAPSE * height / T0) ** (EXPONENT - 1.0)


def standard_atmosphere(height: float) -> tuple[float, float, float, float, float]:
    """Temperature (K), pressure (Pa), density (kg/m3), speed of sound (m/s) and viscosity (Pa s) at `height` m.

    Geopotential height, 0 to 11 km.  Viscosity by Sutherland's formula as ISO 2533 gives it.
    """
    temperature = T0 - LAPSE * height
    pressure = P0 * (temperature / T0) ** EXPONENT
    viscosity = 1.458e-6 * temperature**1.5 / (temperature + 110.4)
    return temperature, pressure, pressure / (R_AIR * temperature), math.sqrt(1.4 * R_AIR * temperature), viscosity
