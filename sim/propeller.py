"""Propeller loads from blade elements and momentum, tabulated over inflow angle and in-plane speed.

The tables run over phi = atan2(V_axial, 0.7 Omega R) and mu = V_in-plane / V_ref with
V_ref = hypot(V_axial, 0.7 Omega R), not over the advance ratio, so that static,
windmilling, braking, stopped and reversed flow lie inside one smooth table.

Each annulus carries its own induced velocity from Glauert's momentum balance,
dT = 4 pi rho r F w sqrt(V_t^2 + (V_x + w)^2) dr, with Prandtl's tip factor F and, in
oblique flow, Pitt and Peters' first-harmonic tilt of the wake (15 pi / 32 tan(chi / 2)).
Loads are averaged over a revolution.  Blade sections use a cambered version of the
whole-circle section; Reynolds and Mach number effects along the blade are not modelled.

Source: any helicopter text (for example Leishman, Principles of Helicopter
Aerodynamics, chapters 2 and 3).  Held against the UIUC Propeller Database.
"""

from __future__ import annotations

import math

import numpy as np

from sim.compiled import kernel
from sim.description import Propeller

PHI_STEPS, MU_STEPS = 121, 11
MU_MAX = 0.999
COLUMNS = (
    7  # thrust, torque, in-plane drag, in-plane side, moment about drag axis, moment about side axis, induced speed
)
STATIONS, AZIMUTHS = 14, 12
BLADE_SLOPE = 5.9  # per rad
BLADE_STALL = 0.20  # rad above zero lift where the blade section is 70 % attached
BLADE_DRAG = 0.016  # section drag at low lift, Reynolds number about 1e5
HUB = 0.15  # inner end of the working blade, r/R


@kernel
def _blade_section(alpha):
    """Lift and drag coefficient of a blade section at `alpha` rad from zero lift, any angle."""
    s, c = math.sin(alpha), math.cos(alpha)
    a = abs(s)
    stall = BLADE_STALL if c > 0.0 else 0.12
    e = math.exp(-abs(a - stall) / (0.05 if a < stall else 0.08))
    f = 1.0 - 0.3 * e if a < stall else 0.7 * e
    k = 0.5 * (1.0 + math.sqrt(f))
    share = (k * k - 0.25) * (4.0 / 3.0)
    plate = 1.6 * s / (0.44 * a + 0.56)
    normal = share * BLADE_SLOPE * s + (1.0 - share) * plate
    suction = share * 0.92 * BLADE_SLOPE * s * s * (1.0 if c > 0.0 else 0.3)
    return normal * c + suction * s, normal * s - suction * c + BLADE_DRAG


@kernel
def blade_element_loads(axial, in_plane, omega_r, blades, radius, chord, pitch_angle, out):
    """Fill `out` with the loads of a unit-radius propeller in air of unit density.

    `axial` is the speed of the disk along its axis, `in_plane` across it, `omega_r` the
    tip speed.  `radius`, `chord` and `pitch_angle` (rad, from zero lift) describe the
    blade at equal steps.  `out`: thrust; torque that the rotor feels against its turning;
    in-plane force against the in-plane motion; in-plane force to the side
    (axis x motion); moment about the motion direction; moment about the side direction;
    mean induced velocity.  Turning sense positive about the axis.
    """
    n = radius.size
    dr = (1.0 - HUB) / n
    for c in range(COLUMNS):
        out[c] = 0.0
    wake_sum = 0.0
    area_sum = 0.0
    for j in range(n):
        r = radius[j]
        tangential = omega_r * r
        # one annulus: find w with blade thrust = momentum thrust by bisection
        low, high = -1.2 * (abs(axial) + omega_r) - 0.05, 1.2 * (abs(axial) + omega_r) + 0.05
        w = 0.0
        tip = 1.0
        for _ in range(28):
            w = 0.5 * (low + high)
            inflow = math.atan2(abs(axial + w), abs(tangential) + 1e-9)
            sin_in = max(abs(math.sin(inflow)), 0.02)
            tip = 0.6366 * math.acos(min(1.0, math.exp(-0.5 * blades * (1.0 - r) / (r * sin_in))))
            tip = max(tip, 0.05)
            thrust = 0.0
            for a in range(AZIMUTHS):
                psi = 2.0 * math.pi * (a + 0.5) / AZIMUTHS
                across = tangential + in_plane * math.sin(psi)
                through = axial + w
                speed2 = across * across + through * through
                inflow = math.atan2(through, across)
                cl, cd = _blade_section(pitch_angle[j] - inflow)
                thrust += 0.5 * speed2 * chord[j] * (cl * math.cos(inflow) - cd * math.sin(inflow))
            thrust *= blades / AZIMUTHS
            momentum = 4.0 * math.pi * r * tip * w * math.sqrt(in_plane * in_plane + (axial + w) ** 2 + 0.04 * w * w)
            if thrust > momentum:
                low = w
            else:
                high = w
        wake_sum += w * r
        area_sum += r
        skew = math.atan2(in_plane, abs(axial + w) + 1e-6)
        tilt = 15.0 * math.pi / 32.0 * math.tan(0.5 * skew)
        for a in range(AZIMUTHS):
            # psi from the point that trails the in-plane motion, turning positive about the axis
            psi = 2.0 * math.pi * (a + 0.5) / AZIMUTHS
            cos_p, sin_p = math.cos(psi), math.sin(psi)
            across = tangential + in_plane * sin_p
            through = axial + w * (1.0 + tilt * r * cos_p)
            speed2 = across * across + through * through
            inflow = math.atan2(through, across)
            cl, cd = _blade_section(pitch_angle[j] - inflow)
            load = 0.5 * speed2 * chord[j] * dr * blades / AZIMUTHS
            lift = load * (cl * math.cos(inflow) - cd * math.sin(inflow))
            drag = load * (cl * math.sin(inflow) + cd * math.cos(inflow))
            out[0] += lift
            out[1] += drag * r
            # The blade stands at -cos(psi) along the motion and -sin(psi) to the side (axis x motion),
            # and moves along (sin(psi), -cos(psi)); its drag acts against that.
            out[2] += drag * sin_p
            out[3] += drag * cos_p
            # moment of thrust: r x T axis, with motion m, side s = axis x m:  m x axis = -s,  s x axis = m
            out[4] += -sin_p * r * lift
            out[5] += cos_p * r * lift
    out[6] = wake_sum / area_sum


@kernel
def _fill(table, blades, radius, chord, pitch_angle):
    out = np.zeros(COLUMNS)
    for i in range(PHI_STEPS):
        phi = math.pi * (i / (PHI_STEPS - 1) - 0.5)
        for k in range(MU_STEPS):
            mu = MU_MAX * k / (MU_STEPS - 1)
            # V_ref = 1 without the in-plane part; mu is that part over the whole
            across = mu / math.sqrt(1.0 - mu * mu) if mu < 0.97 else mu / math.sqrt(1.0 - 0.97 * 0.97)
            blade_element_loads(math.sin(phi), across, math.cos(phi) / 0.7, blades, radius, chord, pitch_angle, out)
            scale = 1.0 / (1.0 + across * across)
            for c in range(COLUMNS - 1):
                table[(i * MU_STEPS + k) * COLUMNS + c] = out[c] * scale
            table[(i * MU_STEPS + k) * COLUMNS + COLUMNS - 1] = out[6] * math.sqrt(scale)


def blade_stations(propeller: Propeller) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Radius r/R, chord c/R and pitch angle from zero lift (rad) at equal steps of the working blade, each (STATIONS,)."""
    radius = HUB + (1.0 - HUB) * (np.arange(STATIONS) + 0.5) / STATIONS
    chord = np.interp(radius, propeller.family.radius, propeller.family.chord)
    angle = np.arctan(propeller.pitch / (math.pi * propeller.diameter * radius)) - propeller.family.zero_lift
    return radius, chord, angle


def propeller_table(propeller: Propeller) -> np.ndarray:
    """The table of loads, shape (PHI_STEPS * MU_STEPS * COLUMNS,), per rho V^2 R^2 (forces) and rho V^2 R^3 (moments).

    V^2 = V_axial^2 + V_in-plane^2 + (0.7 Omega R)^2; the last column is induced speed over V.
    """
    radius, chord, angle = blade_stations(propeller)
    table = np.zeros(PHI_STEPS * MU_STEPS * COLUMNS)
    _fill(table, float(propeller.blades), radius, chord, angle)
    return table


def thrust_and_power(propeller: Propeller, advance_ratio: float) -> tuple[float, float]:
    """C_T and C_P (T / rho n^2 D^4, P / rho n^3 D^5) in axial flow at J = V / (n D)."""
    radius, chord, angle = blade_stations(propeller)
    out = np.zeros(COLUMNS)
    blade_element_loads(advance_ratio * 2.0, 0.0, 2.0 * math.pi, float(propeller.blades), radius, chord, angle, out)
    # n = 1, R = 1, D = 2
    return out[0] / 16.0, out[1] * 2.0 * math.pi / 32.0


@kernel
def propeller_look_up(table, axial, in_plane, tip_speed, out):
    """Fill `out` with the seven columns at this flow (bilinear), then V^2: multiply by rho R^2 V^2 for forces."""
    swing = 0.7 * tip_speed
    ref2 = axial * axial + swing * swing + 1e-6
    all2 = ref2 + in_plane * in_plane
    phi = math.atan2(axial, swing + 1e-9)
    mu = math.sqrt(max(0.0, 1.0 - ref2 / all2))
    a = (phi / math.pi + 0.5) * (PHI_STEPS - 1)
    b = min(mu, MU_MAX) / MU_MAX * (MU_STEPS - 1)
    i = min(max(int(a), 0), PHI_STEPS - 2)
    k = min(max(int(b), 0), MU_STEPS - 2)
    a -= i
    b -= k
    at = (i * MU_STEPS + k) * COLUMNS
    for c in range(COLUMNS):
        near = table[at + c] + b * (table[at + COLUMNS + c] - table[at + c])
        far = table[at + MU_STEPS * COLUMNS + c]
        far += b * (table[at + (MU_STEPS + 1) * COLUMNS + c] - far)
        out[c] = near + a * (far - near)
    out[COLUMNS] = all2
