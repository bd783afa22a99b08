"""What a flight writes down every frame: the channels, their units and how they are computed from the state."""

from __future__ import annotations

import math

from sim import layout as L
from sim.compiled import kernel
from sim.frames import G, body_to_earth, euler_angles
from sim.powerplant import ELECTRIC

# name, unit of the SI value kept, meaning
CHANNELS = (
    ("time", "s", "since the start of the flight"),
    ("phase time", "s", "since the start of the phase"),
    ("north", "m", "place"),
    ("east", "m", "place"),
    ("height", "m", "above the field"),
    ("airspeed", "m/s", "speed through the air, gusts included, as alpha and beta"),
    ("alpha", "rad", "angle of attack"),
    ("beta", "rad", "sideslip, positive wind from the right"),
    ("path angle", "rad", "of the flight path above the horizon"),
    ("track", "rad", "direction of the flight path, from north"),
    ("bank", "rad", "right wing down positive"),
    ("pitch", "rad", "nose above the horizon"),
    ("heading", "rad", "of the nose, from north"),
    ("roll rate", "rad/s", "about body x, right wing down"),
    ("pitch rate", "rad/s", "about body y, toward the canopy"),
    ("yaw rate", "rad/s", "about body z, nose right"),
    ("load x", "1", "force without weight over weight, body x"),
    ("load y", "1", "force without weight over weight, body y"),
    ("load z", "1", "normal load factor, toward the canopy positive"),
    ("climb rate", "m/s", "upward speed"),
    ("aileron stick", "1", "-1..1, right positive"),
    ("elevator stick", "1", "-1..1, pull positive"),
    ("rudder stick", "1", "-1..1, right positive"),
    ("throttle", "1", "stick, 0..1"),
    ("left aileron", "rad", "surface, trailing edge down positive"),
    ("right aileron", "rad", "surface, trailing edge down positive"),
    ("elevator", "rad", "surface, trailing edge down positive"),
    ("rudder", "rad", "surface, trailing edge left positive"),
    ("rotor speed", "rad/s", "propeller"),
    ("thrust", "N", "propeller, along its shaft"),
    ("current", "A", "from the battery; 0 with a piston engine"),
    ("stalled", "1", "share of the wing area that is more than half separated"),
    ("wind north", "m/s", "velocity of the air at the CG, gusts included"),
    ("wind east", "m/s", "likewise"),
    ("wind down", "m/s", "likewise"),
    ("rolled", "rad", "angle turned about body x since the start of the phase, right positive"),
    ("pitched", "rad", "likewise about body y, toward the canopy positive"),
    ("turned", "rad", "likewise about the vertical, right positive"),
    ("left aileron hinge moment", "N m", "of the air, trailing edge down positive"),
    ("right aileron hinge moment", "N m", "of the air, trailing edge down positive"),
    ("elevator hinge moment", "N m", "of the air on both halves, trailing edge down positive"),
    ("rudder hinge moment", "N m", "of the air, trailing edge left positive"),
)
NAMES = tuple(name for name, _, _ in CHANNELS)
N_CHANNELS = len(CHANNELS)
INDEX = {name: i for i, name in enumerate(NAMES)}
# a row of the record: channels, commands to the servos and controller, whole state
COMMAND_AT = N_CHANNELS
STATE_AT = N_CHANNELS + L.COMMAND
ROW = STATE_AT + L.STATE

_T, _PT, _N, _E, _H, _V, _ALPHA, _BETA, _GAMMA, _CHI = range(10)
_BANK, _PITCH, _HEADING, _P, _Q, _R, _NX, _NY, _NZ, _CLIMB = range(10, 20)
_STICKS, _SURFACES, _ROTOR, _THRUST, _CURRENT, _STALLED, _WIND, TURNED, _HINGES = 20, 24, 28, 29, 30, 31, 32, 35, 38


@kernel
def fill_channels(x, sticks, dx, m, time, phase_time, row):
    """Fill the channels at the front of `row` from the state `x` and its rates `dx` (just evaluated with `m`)."""
    r00, r01, r02, r10, r11, r12, r20, r21, r22 = body_to_earth(
        x[L.QUATERNION], x[L.QUATERNION + 1], x[L.QUATERNION + 2], x[L.QUATERNION + 3]
    )
    bank, pitch, heading = euler_angles(r00, r10, r20, r21, r22)
    vn, ve, vd = dx[0], dx[1], dx[2]
    an, ae, ad = vn - m[L.AIR], ve - m[L.AIR + 1], vd - m[L.AIR + 2]
    u = r00 * an + r10 * ae + r20 * ad
    v = r01 * an + r11 * ae + r21 * ad
    w = r02 * an + r12 * ae + r22 * ad
    airspeed = math.sqrt(u * u + v * v + w * w)
    speed = math.sqrt(vn * vn + ve * ve + vd * vd)
    row[_T] = time
    row[_PT] = phase_time
    row[_N], row[_E], row[_H] = x[0], x[1], -x[2]
    row[_V] = airspeed
    row[_ALPHA] = math.atan2(w, u)
    row[_BETA] = math.asin(min(1.0, max(-1.0, v / (airspeed + 1e-9))))
    row[_GAMMA] = math.asin(min(1.0, max(-1.0, -vd / (speed + 1e-9))))
    row[_CHI] = math.atan2(ve, vn)
    row[_BANK], row[_PITCH], row[_HEADING] = bank, pitch, heading
    row[_P], row[_Q], row[_R] = x[L.RATES], x[L.RATES + 1], x[L.RATES + 2]
    fx = fy = fz = 0.0
    for part in range(L.N_PARTS):
        if part != L.WEIGHT:
            fx += m[L.ACCOUNT + 6 * part]
            fy += m[L.ACCOUNT + 6 * part + 1]
            fz += m[L.ACCOUNT + 6 * part + 2]
    weight = m[L.MASS] * G
    row[_NX], row[_NY], row[_NZ] = fx / weight, fy / weight, -fz / weight
    row[_CLIMB] = -vd
    for i in range(4):
        row[_STICKS + i] = sticks[i]
        row[_SURFACES + i] = x[L.SERVO + i]
        row[_HINGES + i] = m[L.HINGE_MOMENT + i]
    row[_ROTOR] = x[L.ROTOR]
    t = L.ACCOUNT + 6 * L.THRUST
    row[_THRUST] = m[t] * m[L.SHAFT] + m[t + 1] * m[L.SHAFT + 1] + m[t + 2] * m[L.SHAFT + 2]
    row[_CURRENT] = dx[L.CHARGE] if m[L.POWER_KIND] == ELECTRIC else 0.0
    stalled = area = 0.0
    for i in range(int(m[L.N_STRIPS])):
        if m[L.PART + i] == L.WING_LEFT or m[L.PART + i] == L.WING_RIGHT:
            area += m[L.AREA + i]
            if x[L.SEPARATION + i] < 0.5:
                stalled += m[L.AREA + i]
    row[_STALLED] = stalled / area
    row[_WIND], row[_WIND + 1], row[_WIND + 2] = m[L.AIR], m[L.AIR + 1], m[L.AIR + 2]


@kernel
def keep(x, command, turned, row):
    """Write the angles `turned` so far (3,), the `command` and the whole state `x` behind the channels of `row`."""
    for i in range(3):
        row[TURNED + i] = turned[i]
    for i in range(L.COMMAND):
        row[COMMAND_AT + i] = command[i]
    for i in range(L.STATE):
        row[STATE_AT + i] = x[i]


@kernel
def turn_on(x, time, turned):
    """Add the angles of `time` s at the rates of `x` to `turned` (3,): about body x, body y and the vertical."""
    r = body_to_earth(x[L.QUATERNION], x[L.QUATERNION + 1], x[L.QUATERNION + 2], x[L.QUATERNION + 3])
    p, q, yaw = x[L.RATES], x[L.RATES + 1], x[L.RATES + 2]
    turned[0] += p * time
    turned[1] += q * time
    turned[2] += (r[6] * p + r[7] * q + r[8] * yaw) * time
