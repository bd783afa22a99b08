"""Propeller loads from blade elements and momentum, tabulated over inflow and in-plane speed.

The tables run over V_axial / (|V_axial| + k 0.7 Omega R) and mu = V_in-plane / V, not over the
advance ratio, so that static, windmilling, braking, stopped and reversed flow lie inside
one smooth table with its rows close together where the disk may stand in its own wake.

Each annulus carries its own induced velocity: momentum theory where it has an answer
(climb, hover, fast descent, oblique flow), the measured mean curve in the vortex-ring and
turbulent wake states between (`induced_ratio`), Prandtl's tip factor, the swirl that goes
with the lift, and in oblique flow Pitt and Peters' first-harmonic tilt of the wake
(15 pi / 32 tan(chi / 2)).  Loads are averaged over a revolution.

Blade sections are a cambered version of the whole-circle section.  Rotation delays their
separation near the hub (Snel), and their drag rises as the Reynolds number falls.  Tables
are free of rev/min, so one Reynolds number stands for a propeller: that of `TYPICAL_TIP_SPEED`.
Mach number is left out: lift slopes rise by 1 / sqrt(1 - M^2), 4 % at three quarters of a
radius whose tip runs at 125 m/s and 11 % at 200 m/s; above tip Mach 0.7 (240 m/s) wave
drag begins and the model is out of its range.

Source: any helicopter text (for example Leishman, Principles of Helicopter
Aerodynamics, chapters 2 and 3).  Held against the UIUC Propeller Database.
"""

from __future__ import annotations

import math

import numpy as np

from sim.compiled import kernel
from sim.description import Propeller

INFLOW_STEPS, MU_STEPS = 121, 13
INFLOW_SCALE = 0.3  # of 0.7 Omega R: the axial speed halfway through the table
MU_MAX = 0.995
COLUMNS = (
    7  # thrust, torque, in-plane drag, in-plane side, moment about drag axis, moment about side axis, induced speed
)
STATIONS, AZIMUTHS = 16, 12
BLADE_SLOPE = 5.9  # per rad
TYPICAL_TIP_SPEED = 130.0  # m/s: hover to full throttle is 100 to 190 for large propellers
NU = 1.46e-5  # m2/s
RING_EDGE = 6.0  # (axial over in-plane speed)^2 beyond which a sinking disk stands in its own wake
FADE_IN, FADE_OUT = 0.5, 0.77  # sin(alpha) between which rotation ceases to delay separation
LOSS_REACH = 0.16  # rad above zero lift where the laminar lower side has attached again
LOSS_DRAG = 0.15  # drag over the lift lost there
NOSE_BELOW = 0.75  # share of the nose's pull lost below the ideal angle: blades are flat below and sharp; set on the
# wind-tunnel runs of one slow-flying propeller beyond the end of its thrust
# rows of a blade's stations
(RADIUS, CHORD, SIN_PITCH, COS_PITCH, DRAG, NOSE, IDEAL, LOSS, DELAY) = range(9)


@kernel
def blade_section(s, c, drag, nose, ideal, loss, delay):
    """Lift and drag coefficient of a blade section at any angle: `s`, `c` its sine and cosine from zero lift.

    `drag` is the drag coefficient at low lift; `ideal` (rad from zero lift) the angle at which the flow meets the
    nose without a suction peak, `nose` the share of that peak's pull lost above it; `loss` lift lost near zero lift
    at low Reynolds number; `delay` the share of lift lost in the stall that rotation gives back.
    """
    a = abs(s)
    stall = 0.15 + 0.8 * ideal if c > 0.0 else 0.12  # where the section is 70 % attached; camber raises it
    e = math.exp(-abs(a - stall) / (0.05 if a < stall else 0.08))
    f = 1.0 - 0.3 * e if a < stall else 0.7 * e
    k = 0.5 * (1.0 + math.sqrt(f))
    share = (k * k - 0.25) * (4.0 / 3.0)
    plate = 1.6 * s / (0.44 * a + 0.56)
    if c > 0.0:
        share += (1.0 - share) * delay * min(1.0, max(0.0, (FADE_OUT - a) / (FADE_OUT - FADE_IN)))
        off = s - ideal
        suction = share * BLADE_SLOPE * (s * s - (nose if off > 0.0 else NOSE_BELOW) * off * off)
        lost = share * loss * min(1.0, max(0.0, 1.0 - s / LOSS_REACH))
        drag += LOSS_DRAG * lost
    else:
        suction = share * 0.28 * BLADE_SLOPE * s * s
        lost = 0.0
    normal = share * BLADE_SLOPE * s + (1.0 - share) * plate - lost
    return normal * c + suction * s, normal * s - suction * c + drag


@kernel
def glauert(x, y):
    """Induced velocity of a disk in climb `x` and oblique flow `y`, all over that of the hover.

    The root of w^2 (y^2 + (x + w)^2) = 1 with w > 0, which is one while x >= 0 or y^2 >= x^2 / 8.
    """
    low, high = 0.0, 1.0 + max(0.0, -x)
    for _ in range(30):
        w = 0.5 * (low + high)
        if w * w * (y * y + (x + w) * (x + w)) < 1.0:
            low = w
        else:
            high = w
    return 0.5 * (low + high)


@kernel
def axial_descent(x):
    """Induced velocity of a disk that sinks along its axis at `x` < 0, both over the hover's.

    Beyond x = -2 the windmill branch of momentum theory; between -2 and 0 the mean of
    measurements, 1 - 1.125 x - 1.372 x^2 - 1.718 x^3 - 0.655 x^4 (Leishman, section 2.13.5;
    from memory), the last coefficient changed by 0.0016 so that both meet at -2.
    """
    if x < -2.0:
        return -0.5 * x - math.sqrt(0.25 * x * x - 1.0)
    return 1.0 + x * (-1.125 + x * (-1.372 + x * (-1.718 - 0.656625 * x)))


@kernel
def induced_ratio(x, y):
    """Induced velocity over the hover's for any axial speed `x` and in-plane speed `y`, over the same: one value.

    In descent momentum theory has several answers or none where the disk stands in its own
    wake.  From y^2 = x^2 / 8 on Glauert's equation has one root; from x^2 / 6 on that root is
    also free of steps, and taken.  Inside, the value goes over from the measured axial
    curve to that root.
    """
    if x >= 0.0:
        return glauert(x, y)
    edge = -x / math.sqrt(RING_EDGE)
    if y >= edge:
        return glauert(x, y)
    oblique = glauert(x, edge)
    return oblique + (1.0 - (y * y) / (edge * edge)) * (axial_descent(x) - oblique)


@kernel
def _momentum(thrust, axial, in_plane, area):
    """Induced velocity at which an annulus of `area` (m2) carries `thrust` (N) in air of unit density."""
    hover = math.sqrt(abs(thrust) / (2.0 * area)) + 1e-9
    sign = 1.0 if thrust >= 0.0 else -1.0
    return sign * hover * induced_ratio(sign * axial / hover, in_plane / hover)


@kernel
def _tip_factor(blades, r, axial, tangential):
    """Prandtl's factor for the finite number of blades."""
    sin_in = max(abs(axial) / (math.sqrt(axial * axial + tangential * tangential) + 1e-9), 0.02)
    return max(0.6366 * math.acos(min(1.0, math.exp(-0.5 * blades * (1.0 - r) / (r * sin_in)))), 0.05)


@kernel
def _swirl(w, through, tangential):
    """Speed (m/s) with which the air turns at the disk: induced velocity is normal to the flow that the blade meets.

    For a stopped blade the axial part belongs to drag, and makes no swirl.
    """
    slope = through / (tangential + 1e-9)
    return w * slope / (1.0 + slope * slope * slope * slope)


@kernel
def _wake_tilt(w, axial, in_plane):
    """First harmonic of the induced velocity over its mean, per radius: 15 pi / 32 tan(half the skew angle).

    A disk that sinks into its own wake has none that could be skewed: the ring's own motion, as fast as the
    slower of the two streams, counts as flow through the disk (judgement, no source).
    """
    ring = min(abs(axial), abs(w)) if axial * w < 0.0 else 0.0
    through = math.sqrt((axial + w) * (axial + w) + ring * ring) + 1e-6
    return 15.0 * math.pi / 32.0 * math.tan(0.5 * math.atan2(in_plane, through))


@kernel
def blade_element_loads(axial, in_plane, omega_r, blades, station, out):
    """Fill `out` with the loads of a unit-radius propeller in air of unit density.

    `axial` is the speed of the disk along its axis, `in_plane` across it, `omega_r` the
    tip speed.  `station` (9, n): the blade at equal steps, see `blade_stations`.  `out`: thrust; torque that
    the rotor feels against its turning; in-plane force against the in-plane motion;
    in-plane force to the side (axis x motion); moment about the motion direction; moment
    about the side direction; induced velocity of an even disk with this thrust.  Turning sense positive about the axis.
    """
    dr = station[0, 1] - station[0, 0]
    azimuths = AZIMUTHS // 2 if in_plane > 0.0 else 1  # from the front to the back: the other half blows alike
    for i in range(COLUMNS):
        out[i] = 0.0
    for j in range(station.shape[1]):
        r, chord, sin_p, cos_p = station[RADIUS, j], station[CHORD, j], station[SIN_PITCH, j], station[COS_PITCH, j]
        drag, nose, ideal, loss, delay = (
            station[DRAG, j], station[NOSE, j], station[IDEAL, j], station[LOSS, j], station[DELAY, j]
        )  # fmt: skip
        tangential = omega_r * r
        # one annulus: w at which blade thrust gives w; thrust falls with w, and w rises with thrust
        low, high = -1.5 * (abs(axial) + omega_r + in_plane) - 0.05, 1.5 * (abs(axial) + omega_r + in_plane) + 0.05
        w = 0.0
        for _ in range(26):
            w = 0.5 * (low + high)
            through = axial + w
            turning = tangential - _swirl(w, through, tangential)
            thrust = 0.0
            for a in range(azimuths):
                across = turning - in_plane * math.cos(math.pi * (a + 0.5) / azimuths)
                speed = math.sqrt(across * across + through * through) + 1e-12
                cos_in, sin_in = across / speed, through / speed
                s, c = sin_p * cos_in - cos_p * sin_in, cos_p * cos_in + sin_p * sin_in
                cl, cd = blade_section(s, c, drag, nose, ideal, loss, delay)
                thrust += 0.5 * speed * chord * (cl * across - cd * through)
            thrust *= blades / azimuths
            factor = _tip_factor(blades, r, through, tangential)
            if _momentum(thrust, axial, in_plane, 2.0 * math.pi * r * factor) > w:
                low = w
            else:
                high = w
        tilt = _wake_tilt(w, axial, in_plane)
        turning = tangential - _swirl(w, axial + w, tangential)
        for a in range(AZIMUTHS):
            # psi from the point that trails the in-plane motion, turning positive about the axis
            psi = 2.0 * math.pi * (a + 0.5) / AZIMUTHS
            cos_a, sin_a = math.cos(psi), math.sin(psi)
            across = turning + in_plane * sin_a
            through = axial + w * (1.0 + tilt * r * cos_a)
            speed = math.sqrt(across * across + through * through) + 1e-12
            cos_in, sin_in = across / speed, through / speed
            s, c = sin_p * cos_in - cos_p * sin_in, cos_p * cos_in + sin_p * sin_in
            cl, cd = blade_section(s, c, drag, nose, ideal, loss, delay)
            load = 0.5 * speed * chord * dr * blades / AZIMUTHS
            along = load * (cl * across - cd * through)
            against = load * (cl * through + cd * across)
            out[0] += along
            out[1] += against * r
            # The blade stands at -cos(psi) along the motion and -sin(psi) to the side (axis x motion),
            # and moves along (sin(psi), -cos(psi)); its drag acts against that.
            out[2] += against * sin_a
            out[3] += against * cos_a
            # moment of thrust: r x T axis, with motion m, side s = axis x m:  m x axis = -s,  s x axis = m
            out[4] += -sin_a * r * along
            out[5] += cos_a * r * along
    out[6] = _momentum(out[0], axial, in_plane, math.pi)  # so that an even jet carries the thrust


@kernel
def _fill(table, blades, station):
    out = np.zeros(COLUMNS)
    for i in range(INFLOW_STEPS):
        u = 2.0 * i / (INFLOW_STEPS - 1) - 1.0
        # axial speed and 0.7 Omega R of the row, V = 1 without the in-plane part
        ratio = INFLOW_SCALE * u / (1.0 - abs(u) + 1e-12)
        swing = 1.0 / math.sqrt(1.0 + ratio * ratio)
        for k in range(MU_STEPS):
            mu = MU_MAX * k / (MU_STEPS - 1)
            across = mu / math.sqrt(1.0 - mu * mu)
            blade_element_loads(ratio * swing, across, swing / 0.7, blades, station, out)
            scale = 1.0 - mu * mu
            for c in range(COLUMNS - 1):
                table[(i * MU_STEPS + k) * COLUMNS + c] = out[c] * scale
            table[(i * MU_STEPS + k) * COLUMNS + COLUMNS - 1] = out[6] * math.sqrt(scale)


def section_drag(reynolds: np.ndarray, thickness: np.ndarray) -> np.ndarray:
    """Drag coefficient at low lift over Reynolds number and thickness-chord ratio.

    A mean through UIUC Low-Speed Airfoil Tests of cambered sections about 11 % thick (0.017 at 6e4, 0.013 at 1e5,
    0.0097 at 2e5, 0.0083 at 3e5, from memory), with Hoerner's factor for thickness (from memory).
    """
    form = (1.0 + 2.0 * thickness + 60.0 * thickness**4) / 1.229
    return form * (0.0045 + 0.0038 * (3.0e5 / reynolds) ** 0.75)


def blade_stations(propeller: Propeller, tip_speed: float = TYPICAL_TIP_SPEED) -> np.ndarray:
    """The blade at equal steps from its root to the tip, shape (9, STATIONS); Reynolds numbers as at `tip_speed` (m/s).

    Rows: r/R; c/R; sine and cosine of the pitch angle from zero lift; then section properties as in `blade_section`:

    - DRAG: see `section_drag`
    - NOSE: 0.15 up to Re 2e5, then as the friction does (UIUC sections of 10 %, cl 0.6 to 0.85: 0.12 to 0.2, and
      0.06 at 5e5)
    - IDEAL: along the chord line, which for a circular camber line lies the zero-lift angle above zero lift
    - LOSS: thick sections lose camber below Re 1e5: 1/2 of it at 6e4.  Set, with LOSS_DRAG, on the zero-thrust advance
      ratios and powers of three wind-tunnel propellers together; at Re 2e5 it is 8 %, at 4e5 2 %
    - DELAY: 3 (c/r)^2 (Snel and others, 1993: a boundary layer that is thrown outwards separates later)
    """
    family = propeller.family
    root = family.radius[0]
    radius = root + (1.0 - root) * (np.arange(STATIONS) + 0.5) / STATIONS
    chord = np.interp(radius, family.radius, family.chord)
    thickness = np.interp(radius, family.radius, family.thickness)
    share = np.interp(radius, family.radius, family.pitch) if family.pitch else 1.0
    angle = np.arctan(share * propeller.pitch / (math.pi * propeller.diameter * radius)) - family.zero_lift
    reynolds = tip_speed * radius * chord * 0.5 * propeller.diameter / NU
    ideal = np.full(STATIONS, max(0.0, -family.zero_lift))
    thin = np.clip((thickness - 0.05) / 0.04, 0.0, 1.0)
    return np.stack(
        [
            radius,
            chord,
            np.sin(angle),
            np.cos(angle),
            section_drag(reynolds, thickness),
            0.15 * np.minimum(1.0, 2.0e5 / reynolds) ** 0.75,
            ideal,
            BLADE_SLOPE * ideal * thin / (1.0 + (reynolds / 6.0e4) ** 2),
            np.minimum(1.0, 3.0 * (chord / radius) ** 2),
        ]
    )


def propeller_table(propeller: Propeller) -> np.ndarray:
    """The table of loads, shape (INFLOW_STEPS * MU_STEPS * COLUMNS,), per rho V^2 R^2 and rho V^2 R^3 (moments).

    V^2 = V_axial^2 + V_in-plane^2 + (0.7 Omega R)^2; the last column is induced speed over V.
    """
    table = np.zeros(INFLOW_STEPS * MU_STEPS * COLUMNS)
    _fill(table, float(propeller.blades), blade_stations(propeller))
    return table


def thrust_and_power(
    propeller: Propeller, advance_ratio: float, tip_speed: float = TYPICAL_TIP_SPEED
) -> tuple[float, float]:
    """C_T and C_P (T / rho n^2 D^4, P / rho n^3 D^5) in axial flow at J = V / (n D), section drag as at `tip_speed` (m/s)."""
    out = np.zeros(COLUMNS)
    station = blade_stations(propeller, tip_speed)
    blade_element_loads(advance_ratio * 2.0, 0.0, 2.0 * math.pi, float(propeller.blades), station, out)
    # n = 1, R = 1, D = 2
    return out[0] / 16.0, out[1] * 2.0 * math.pi / 32.0


@kernel
def propeller_look_up(table, axial, in_plane, tip_speed, out):
    """Fill `out` with the seven columns at this flow (bilinear), then V^2: multiply by rho R^2 V^2 for forces."""
    swing = 0.7 * tip_speed
    ref2 = axial * axial + swing * swing + 1e-6
    all2 = ref2 + in_plane * in_plane
    inflow = axial / (abs(axial) + INFLOW_SCALE * swing + 1e-9)
    mu = math.sqrt(max(0.0, 1.0 - ref2 / all2))
    a = (inflow + 1.0) * 0.5 * (INFLOW_STEPS - 1)
    b = min(mu, MU_MAX) / MU_MAX * (MU_STEPS - 1)
    i = min(max(int(a), 0), INFLOW_STEPS - 2)
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
