"""The right-hand side: rates of the whole state of one flight, and the account of loads by part."""

from __future__ import annotations

import math

from sim import layout as L
from sim.account import add_load
from sim.atmosphere import density
from sim.compiled import kernel
from sim.frames import G, body_to_earth, cross
from sim.loads_in_flow import from_rows, load_in_flow, load_in_flow_single, to_rows
from sim.powerplant import shaft_torque
from sim.propeller import COLUMNS, propeller_look_up
from sim.servo import surface_rate
from sim.single_precision import twin
from sim.wind import fill_gusts, gust_at, set_gusts, steady_share

WAKE_TILT = 1.7  # of the induced speed at the disk bends the trailing legs aft: what the jet has gained behind the wing, for the
# strips that carry load in the hover lie in it; next to nothing at flying speed
STILL_WAKE = 0.05  # m/s


@kernel
def derivatives(x, command, m, table, dx):
    """Fill `dx` (STATE,) with the rates of the state `x` (STATE,) under `command` (COMMAND,).

    `m` is the model of `sim.layout` (its scratch rows are overwritten; ACCOUNT then holds
    forces and moments by part), `table` the propeller's.  Newton-Euler in body axes about
    the CG, flat earth.
    """
    q0, q1, q2, q3 = x[L.QUATERNION], x[L.QUATERNION + 1], x[L.QUATERNION + 2], x[L.QUATERNION + 3]
    turn = body_to_earth(q0, q1, q2, q3)
    r00, r01, r02, r10, r11, r12, r20, r21, r22 = turn
    vx, vy, vz = x[L.VELOCITY], x[L.VELOCITY + 1], x[L.VELOCITY + 2]
    p, q, r = x[L.RATES], x[L.RATES + 1], x[L.RATES + 2]
    rho = density(-x[L.POSITION + 2])
    share = steady_share(m, -x[L.POSITION + 2])
    wind_n, wind_e, wind_d = share * m[L.WIND], share * m[L.WIND + 1], share * m[L.WIND + 2]
    u = vx - (r00 * wind_n + r10 * wind_e + r20 * wind_d)
    v = vy - (r01 * wind_n + r11 * wind_e + r21 * wind_d)
    w = vz - (r02 * wind_n + r12 * wind_e + r22 * wind_d)
    m[L.AIR], m[L.AIR + 1], m[L.AIR + 2] = wind_n, wind_e, wind_d
    gx = gy = gz = 0.0  # gust at the hub
    p_air = p
    if m[L.GUSTS] > 0.0:
        p_air -= set_gusts(m, x[L.AIR_PATH], -x[L.POSITION + 2], u, v, w, turn)
        gx, gy, gz = gust_at(m, 0.0, 0.0, 0.0)
        m[L.AIR] += r00 * gx + r01 * gy + r02 * gz
        m[L.AIR + 1] += r10 * gx + r11 * gy + r12 * gz
        m[L.AIR + 2] += r20 * gx + r21 * gy + r22 * gz
        gx, gy, gz = gust_at(m, m[L.HUB], m[L.HUB + 1], m[L.HUB + 2])
    for i in range(6 * L.N_PARTS):
        m[L.ACCOUNT + i] = 0.0

    # ---- propeller -------------------------------------------------------------------
    hx, hy, hz = m[L.HUB], m[L.HUB + 1], m[L.HUB + 2]
    sx, sy, sz = m[L.SHAFT], m[L.SHAFT + 1], m[L.SHAFT + 2]
    radius, sense = m[L.DISK_RADIUS], m[L.SENSE]
    omega = x[L.ROTOR]
    ax, ay, az = u + q * hz - r * hy - gx, v + r * hx - p_air * hz - gy, w + p_air * hy - q * hx - gz
    axial = ax * sx + ay * sy + az * sz
    cx, cy, cz = ax - axial * sx, ay - axial * sy, az - axial * sz
    across = math.sqrt(cx * cx + cy * cy + cz * cz)
    prop = m[L.PROP_OUT : L.PROP_OUT + COLUMNS + 1]
    propeller_look_up(table, axial, across, max(omega, 0.0) * radius, prop)
    ref2 = prop[COLUMNS]
    force = rho * ref2 * radius * radius
    thrust, torque_air = prop[0] * force, prop[1] * force * radius
    w0 = prop[6] * math.sqrt(ref2)
    add_load(m, L.THRUST, thrust * sx, thrust * sy, thrust * sz, hx, hy, hz)
    inverse = 1.0 / (across + 1e-6)
    mx, my, mz = cx * inverse, cy * inverse, cz * inverse
    kx, ky, kz = sy * mz - sz * my, sz * mx - sx * mz, sx * my - sy * mx
    drag, side = -prop[2] * force, prop[3] * force * sense
    add_load(m, L.OBLIQUE, drag * mx + side * kx, drag * my + side * ky, drag * mz + side * kz, hx, hy, hz)
    about_m, about_k = prop[4] * force * radius * sense, prop[5] * force * radius
    at = L.ACCOUNT + 6 * L.OBLIQUE
    m[at + 3] += about_m * mx + about_k * kx
    m[at + 4] += about_m * my + about_k * ky
    m[at + 5] += about_m * mz + about_k * kz

    torque_motor, drain, lag_rate = shaft_torque(m, command[L.THROTTLE], omega, x[L.CHARGE], x[L.POWER_LAG])
    at = L.ACCOUNT + 6 * L.TORQUE
    m[at + 3] = -sense * torque_motor * sx
    m[at + 4] = -sense * torque_motor * sy
    m[at + 5] = -sense * torque_motor * sz
    spin = sense * m[L.ROTOR_INERTIA] * omega
    at = L.ACCOUNT + 6 * L.GYROSCOPIC
    m[at + 3] = -spin * (q * sz - r * sy)
    m[at + 4] = -spin * (r * sx - p * sz)
    m[at + 5] = -spin * (p * sy - q * sx)

    # ---- surfaces and bodies ----------------------------------------------------------------
    bx, by, bz = u + WAKE_TILT * w0 * sx, v + WAKE_TILT * w0 * sy, w + WAKE_TILT * w0 * sz
    length = math.sqrt(bx * bx + by * by + bz * bz)
    blend = STILL_WAKE / (length + STILL_WAKE)
    bx, by, bz = bx + blend * STILL_WAKE * sx, by + blend * STILL_WAKE * sy, bz + blend * STILL_WAKE * sz
    scale = -1.0 / math.sqrt(bx * bx + by * by + bz * bz + 1e-12)
    motion, at_hub = (u, v, w, p_air, q, r, rho), (ax, ay, az, axial, w0, torque_air, cx, cy, cz)
    downstream, down = (scale * bx, scale * by, scale * bz), (r20, r21, r22)
    if m[L.QUICK] > 0.0:
        single = twin(m)
        to_rows(x, single, motion, at_hub, downstream, down)
        if m[L.GUSTS] > 0.0:
            fill_gusts(m, single)
        load_in_flow_single(single)
        from_rows(m, single, dx)
    else:
        to_rows(x, m, motion, at_hub, downstream, down)
        if m[L.GUSTS] > 0.0:
            fill_gusts(m, m)
        load_in_flow(m)
        from_rows(m, m, dx)
    at = L.ACCOUNT + 6 * L.WEIGHT
    weight = m[L.MASS] * G
    m[at] = weight * r20
    m[at + 1] = weight * r21
    m[at + 2] = weight * r22

    # ---- rigid body ------------------------------------------------------------------------------
    fx = fy = fz = tx = ty = tz = 0.0
    for part in range(L.N_PARTS):
        at = L.ACCOUNT + 6 * part
        fx += m[at]
        fy += m[at + 1]
        fz += m[at + 2]
        tx += m[at + 3]
        ty += m[at + 4]
        tz += m[at + 5]
    # the air that is moved along accelerates against the wind, not against the earth: solve for the velocity through
    # the steady air, which in body axes changes by the turning wind besides
    wx, wy, wz = cross(p, q, r, vx - u, vy - v, vz - w)
    mass = m[L.MASS]
    rigid_body_rates(x, m, fx + mass * wx, fy + mass * wy, fz + mass * wz, tx, ty, tz, dx)
    dx[L.VELOCITY] -= wx
    dx[L.VELOCITY + 1] -= wy
    dx[L.VELOCITY + 2] -= wz
    dx[L.ROTOR] = (torque_motor - torque_air) / m[L.ROTOR_INERTIA]
    dx[L.CHARGE] = drain
    dx[L.POWER_LAG] = lag_rate
    airspeed = math.sqrt(u * u + v * v + w * w)
    in_jet = airspeed + 2.0 * abs(w0)
    for c in range(L.CONTROLS):
        dx[L.SERVO + c] = surface_rate(m, c, x[L.SERVO + c], command[c], m[L.HINGE_MOMENT + c], in_jet * in_jet)
    dx[L.AIR_PATH] = max(airspeed, m[L.SWEPT])


@kernel
def rigid_body_rates(x, m, fx, fy, fz, tx, ty, tz, dx):
    """Fill the thirteen rigid-body rates of `dx` from the total force and moment (body axes, weight included)."""
    q0, q1, q2, q3 = x[L.QUATERNION], x[L.QUATERNION + 1], x[L.QUATERNION + 2], x[L.QUATERNION + 3]
    r00, r01, r02, r10, r11, r12, r20, r21, r22 = body_to_earth(q0, q1, q2, q3)
    vx, vy, vz = x[L.VELOCITY], x[L.VELOCITY + 1], x[L.VELOCITY + 2]
    p, q, r = x[L.RATES], x[L.RATES + 1], x[L.RATES + 2]
    dx[0] = r00 * vx + r01 * vy + r02 * vz
    dx[1] = r10 * vx + r11 * vy + r12 * vz
    dx[2] = r20 * vx + r21 * vy + r22 * vz
    pull = 0.5 * (1.0 - (q0 * q0 + q1 * q1 + q2 * q2 + q3 * q3))  # holds the quaternion's length at 1
    dx[L.QUATERNION] = 0.5 * (-q1 * p - q2 * q - q3 * r) + pull * q0
    dx[L.QUATERNION + 1] = 0.5 * (q0 * p + q2 * r - q3 * q) + pull * q1
    dx[L.QUATERNION + 2] = 0.5 * (q0 * q + q3 * p - q1 * r) + pull * q2
    dx[L.QUATERNION + 3] = 0.5 * (q0 * r + q1 * q - q2 * p) + pull * q3
    mass = m[L.MASS]
    fx -= mass * (q * vz - r * vy)
    fy -= mass * (r * vx - p * vz)
    fz -= mass * (p * vy - q * vx)
    a = L.INERTIA
    hx = m[a] * p + m[a + 1] * q + m[a + 2] * r
    hy = m[a + 3] * p + m[a + 4] * q + m[a + 5] * r
    hz = m[a + 6] * p + m[a + 7] * q + m[a + 8] * r
    tx -= q * hz - r * hy
    ty -= r * hx - p * hz
    tz -= p * hy - q * hx
    for i in range(6):
        a = L.INVERSE_MASS + 6 * i
        rate = m[a] * fx + m[a + 1] * fy + m[a + 2] * fz + m[a + 3] * tx + m[a + 4] * ty + m[a + 5] * tz
        dx[(L.VELOCITY if i < 3 else L.RATES - 3) + i] = rate
