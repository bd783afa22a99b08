"""The rates of the state once more, as a readable build-up of NumPy arrays: the slow second route.

Same physics as `sim.equations_of_motion.derivatives`, written from its formulas with vectors and influence matrices
instead of flat rows: every trailing leg's velocity at every strip is formed and summed.  It serves two ends: the
kernel is held against it (tests/sim/test_two_routes.py), and it is what the same build-up costs without a compiler
(tests/benchmarks/rhs_and_flight.py).
"""

from __future__ import annotations

import numpy as np

from sim import layout as L
from sim.propeller import COLUMNS, INFLOW_SCALE, INFLOW_STEPS, MU_MAX, MU_STEPS

G = 9.80665  # m/s2
NU = 1.46e-5  # m2/s


def _vectors(model, x, y, z, count):
    return np.stack([model[row : row + count] for row in (x, y, z)], axis=1)


class NumpyPlane:
    """A model of `sim.layout` taken apart into named arrays."""

    def __init__(self, model: np.ndarray, table: np.ndarray):
        m = self.model = model
        n, nodes = int(m[L.N_STRIPS]), int(m[L.N_NODES])

        def row(at, count=n):
            return m[at : at + count].copy()

        self.n = n
        self.mass = m[L.MASS]
        self.inertia = m[L.INERTIA : L.INERTIA + 9].reshape(3, 3).copy()
        self.inverse_mass = m[L.INVERSE_MASS : L.INVERSE_MASS + 36].reshape(6, 6).copy()
        self.load_point = _vectors(m, L.X, L.Y, L.Z, n)
        self.flow_point = _vectors(m, L.VX, L.VY, L.VZ, n)
        self.forward = _vectors(m, L.FX, L.FY, L.FZ, n)
        self.normal = _vectors(m, L.NX, L.NY, L.NZ, n)
        self.span = _vectors(m, L.SX, L.SY, L.SZ, n)
        self.chord, self.area, self.half_width, self.blocked = (
            row(r) for r in (L.CHORD, L.AREA, L.HALF_WIDTH, L.BLOCKED)
        )
        self.suction_gain, self.slope, self.plate, self.break_width = (
            row(r) for r in (L.SUCTION_GAIN, L.LIFT_SLOPE, L.PLATE_NORMAL, L.BREAK_WIDTH)
        )
        self.tau, self.flap, self.flap_load = row(L.FLAP_TAU), row(L.FLAP_CHORD), row(L.FLAP_LOAD)
        self.side_edge, self.surface = row(L.SIDE_EDGE), row(L.SURFACE)
        self.span_reach, self.leg_arm = row(L.SPAN_REACH), row(L.LEG_ARM)
        panels = int(m[L.N_PANELS])
        self.panel = [
            {
                "at": _vectors(m, L.PANEL_X, L.PANEL_Y, L.PANEL_Z, L.PANELS)[k],
                "span": _vectors(m, L.PANEL_SX, L.PANEL_SY, L.PANEL_SZ, L.PANELS)[k],
                "normal": _vectors(m, L.PANEL_NX, L.PANEL_NY, L.PANEL_NZ, L.PANELS)[k],
                "half": m[L.PANEL_HALF + k],
                "chord": m[L.PANEL_CHORD + k],
                "drag": m[L.PANEL_DRAG + k],
                "strips": slice(int(m[L.PANEL_FIRST + k]), int(m[L.PANEL_LAST + k])),
                "surface": m[L.PANEL_SURFACE + k],
            }
            for k in range(panels)
        ]
        self.control, self.part = row(L.CONTROL).astype(int), row(L.PART).astype(int)
        self.node = _vectors(m, L.NODE_X, L.NODE_Y, L.NODE_Z, nodes)
        self.before = row(L.NODE_BEFORE, nodes).astype(int)
        self.after = row(L.NODE_AFTER, nodes).astype(int)
        self.arm = self.flow_point[:, None, :] - self.node[None, :, :]  # (strip, node, 3)
        self.reach = np.linalg.norm(self.arm, axis=2)

        def block(at, count):
            return m[at : at + count * L.PAD].reshape(count, L.PAD)[:, :n].T.copy()

        self.core2 = block(L.REACH_CORE, nodes) - self.reach**2
        self.stall_core2 = block(L.STALL_CORE, nodes)
        self.bound_forward, self.bound_normal = block(L.BOUND_F, n), block(L.BOUND_N, n)
        self.hub, self.shaft = m[L.HUB : L.HUB + 3].copy(), m[L.SHAFT : L.SHAFT + 3].copy()
        self.radius, self.sense, self.rotor_inertia = m[L.DISK_RADIUS], m[L.SENSE], m[L.ROTOR_INERTIA]
        self.table = table.reshape(INFLOW_STEPS, MU_STEPS, COLUMNS)
        bodies, self.n_fuselage = int(m[L.N_BODIES]), int(m[L.N_FUSELAGE])
        self.body = _vectors(m, L.BODY_X, L.BODY_Y, L.BODY_Z, bodies)
        self.body_length, self.body_width, self.body_height, self.body_blocked = (
            row(r, bodies) for r in (L.BODY_LENGTH, L.BODY_WIDTH, L.BODY_HEIGHT, L.BODY_BLOCKED)
        )
        self.growth = np.stack([row(L.BODY_GROWTH_L, bodies), row(L.BODY_GROWTH_V, bodies)], axis=1)
        self.body_drag = np.stack(
            [m[row : row + bodies] for row in (L.BODY_DRAG_X, L.BODY_DRAG_Y, L.BODY_DRAG_Z)], axis=1
        )
        self.cross_drag = m[L.FUSELAGE_CROSS_DRAG]
        self.hinge = {"scale": row(L.HINGE_SCALE), "alpha": row(L.HINGE_ALPHA), "delta": row(L.HINGE_DELTA)}
        names = ("speed", "lag", "loaded", "give", "band", "play", "play_held", "yield", "play_yield", "low", "high")
        self.servo = {name: row(getattr(L, f"SERVO_{name.upper()}"), 4) for name in names}
        self.linkage = {c: [row(at + c * L.LINKAGE_POINTS, L.LINKAGE_POINTS) for at in (L.LINKAGE_ANGLE, L.LINKAGE_RATE)]
                        for c in range(4) if m[L.LINKAGE_SCALE + c] > 0.0}  # fmt: skip
        self.linkage_top = {c: 1.0 / m[L.LINKAGE_SCALE + c] for c in self.linkage}


def attitude(q):
    """Body-to-earth matrix of a quaternion."""
    s, v = q[0], q[1:]
    skew = np.array([[0.0, -v[2], v[1]], [v[2], 0.0, -v[0]], [-v[1], v[0], 0.0]])
    return np.eye(3) + 2.0 * s * skew + 2.0 * (np.outer(v, v) - v @ v * np.eye(3))


def look_up(plane, axial, in_plane, tip_speed):
    """The propeller's seven columns by bilinear interpolation, and the reference speed squared."""
    swing = 0.7 * tip_speed
    ref2 = axial**2 + swing**2 + 1e-6
    all2 = ref2 + in_plane**2
    a = 0.5 * (1.0 + axial / (abs(axial) + INFLOW_SCALE * swing + 1e-9)) * (INFLOW_STEPS - 1)
    b = min(np.sqrt(max(0.0, 1.0 - ref2 / all2)), MU_MAX) / MU_MAX * (MU_STEPS - 1)
    i, k = min(max(int(a), 0), INFLOW_STEPS - 2), min(max(int(b), 0), MU_STEPS - 2)
    weight_a, weight_b = np.array([1.0 - a + i, a - i]), np.array([1.0 - b + k, b - k])
    return np.einsum("i,k,ikc->c", weight_a, weight_b, plane.table[i : i + 2, k : k + 2]), all2


def jet(plane, points, half_width, blocked, cross, axial, w0):
    """Axial speed gained, share of swirl, offset from the centre line, local radius squared, axial speed; per point."""
    s = -points @ plane.shaft
    behind = np.maximum(s, 0.0)
    w = w0 * (1.0 + behind / np.hypot(behind, plane.radius))
    through = np.maximum(axial + w, 0.25)
    local2 = plane.radius**2 * max(axial + w0, 0.25) / through + blocked
    drift = behind / np.maximum(axial + 0.5 * (w + w0), 0.25)
    offset = points + s[:, None] * plane.shaft - drift[:, None] * cross
    local = np.sqrt(local2)
    mixed = 0.1 * local + 0.13 * behind * np.abs(w) / (through + abs(axial))
    share = np.minimum(1.0, np.abs(w) / through)
    wide = mixed**2 / local2
    away = np.linalg.norm(offset, axis=1)
    t = np.clip(0.5 + 0.5 * (local + 0.257 * mixed * share - away) / (mixed + half_width), 0.0, 1.0)
    inside = t**2 * (3.0 - 2.0 * t) * np.where(s > 0.0, np.clip(axial + w0, 0.0, 1.0), 0.0)
    axial_gain = w * inside / (1.0 + (0.2 - 0.1 * share) * wide)
    return axial_gain, inside / (1.0 + (0.6 - 0.25 * share) * wide), offset, local2, through


def plate(sine, broadside):
    """Normal force coefficient of a separated plate."""
    return (1.8 + (broadside - 1.8) * sine**2) * sine / (0.44 * np.abs(sine) + 0.56)


def section(plane, sin_a, cos_a, sin_s, f, speed_chord, turn, flap_sin, flap_cos):
    """Normal, chordwise and drag coefficient, moment about c/4, and the steady separation point; per strip."""
    forward = cos_a > 0.0
    reynolds = speed_chord / NU
    nose_turn = 0.35 * turn
    sin_t, cos_t = nose_turn * (1.0 - nose_turn**2 / 6.0), 1.0 - 0.5 * nose_turn**2
    size = np.abs(np.where(forward, sin_a * cos_t + cos_a * sin_t, sin_a))
    at = np.where(forward, 0.138 + 0.121 * reynolds / (reynolds + 6.0e5), 0.15)
    width = np.where(size < at, np.where(forward, 0.075, 0.03), np.where(forward, plane.break_width, 0.03))
    e = np.exp(-np.minimum(np.abs(size - at) / width, 16.0))
    f_steady = np.where(size < at, 1.0 - 0.3 * e, 0.7 * e)

    share = ((0.5 * (1.0 + np.sqrt(f))) ** 2 - 0.25) / 0.75
    loose = 1.0 - share
    attached = plane.slope * (sin_a + np.where(forward, cos_a * turn * (1.0 - turn**2 / 6.0), 0.0))
    suction = np.where(forward, 0.98, 0.0) * attached * sin_s
    straight = plate(sin_a, plane.plate)
    flap = plane.flap * plate(sin_a * flap_cos + cos_a * flap_sin, plane.plate)
    hinged = (1.0 - plane.flap) * straight + flap * flap_cos
    bent = plate(sin_a * (1.0 - 0.5 * turn**2) + cos_a * turn * (1.0 - turn**2 / 6.0), plane.plate)
    normal = share * attached + loose * (hinged + np.where(forward, cos_a**2, 0.0) * (bent - hinged))
    chordwise = share * suction - loose * flap * flap_sin
    drag = (0.0040 + 2.7 / np.sqrt(reynolds + 2.0e4)) * np.where(forward, 1.0, 2.0)
    drag += share * 1.15 * plane.flap * flap_sin**2
    flap_arm = 0.25 * (1.0 - plane.flap * (1.36 - 0.28 * plane.flap))
    moment = share * np.where(forward, -flap_arm * plane.slope * turn, -0.5 * attached)
    arm = np.where(forward, 0.25 * np.abs(sin_a), 0.5 - 0.25 * np.abs(sin_a))
    moment -= loose * (arm * straight + (0.75 - 0.5 * plane.flap) * (flap - plane.flap * straight))
    return normal, chordwise, drag, moment, f_steady, share


def hinge_moment(plane, sin_a, cos_a, share, flap_sin, flap_cos):
    """Hinge moment coefficient of every strip on its flap's chord squared."""
    attached = np.where(cos_a > 0.0, share, 0.0)
    plate_like = -0.45 * plate(sin_a * flap_cos + cos_a * flap_sin, plane.plate)
    return attached * (plane.hinge["alpha"] * sin_a + plane.hinge["delta"] * flap_sin) + (1.0 - attached) * plate_like


def surface_rates(plane, deflection, command, hinge, fastest):
    """Rates of the four surfaces under hinge moments (N m); `fastest` is the greatest speed that the air may have there."""
    s = plane.servo
    angle, ratio = deflection.copy(), np.ones(4)
    for c, (angles, rates) in plane.linkage.items():
        even = np.linspace(-1.0, 1.0, L.LINKAGE_POINTS) * plane.linkage_top[c]
        angle[c], ratio[c] = np.interp(deflection[c], even, angles), np.interp(deflection[c], even, rates)
    free = np.clip((command - deflection) / s["lag"], -s["speed"], s["speed"])
    load = hinge * ratio * s["give"]
    error = command - angle + s["band"] * load
    error += s["play"] / ratio * hinge / np.hypot(hinge, s["play_held"])
    held = np.clip(error / s["lag"], s["speed"] * (load - 1.0), s["speed"] * (load + 1.0))
    quickest = (1.0 + (s["yield"] * ratio**2 + s["play_yield"]) * fastest**2) / s["lag"]
    held *= ratio / np.maximum(1.0, quickest / 240.0)
    held = np.clip(held, (s["low"] - deflection) / s["lag"], (s["high"] - deflection) / s["lag"])
    return np.where(s["loaded"] > 0.0, held, free)


def effective_rotation(deflection, load):
    over = (np.abs(deflection) * load - 0.30) / 0.68
    return deflection / (1.0 + 0.5 * (over + np.sqrt(over**2 + 0.02)) - 0.0110)


def shade(plane, d, f):
    """Share of the stream's speed that the separated wakes of panels take at each strip."""
    kept = np.ones(plane.n)
    for panel in plane.panel:
        across = np.cross(d, panel["span"])
        across2 = across @ across
        strips = panel["strips"]
        if strips.stop > strips.start:
            facing = abs(d @ panel["normal"])
            loose = np.average(1.0 - f[strips], weights=plane.area[strips])
            drag, chord, thick = loose * plate(facing, panel["drag"]) * facing, panel["chord"], facing
        else:
            drag = panel["drag"] * across2
            chord = (panel["chord"] * abs(d[2]) + panel["normal"][0] * abs(d[1])) / (np.hypot(d[1], d[2]) + 1e-6)
            thick = 1.0
        if drag < 0.02 or across2 < 0.02:
            continue
        normal = across / np.sqrt(across2)
        seen, dead = 0.5 * chord * thick, min(0.5 * chord * thick, 0.5 * drag * chord)
        r = plane.load_point - panel["at"]
        # r = behind d + aside span + off normal, with d and span at an angle
        parts = np.linalg.solve(np.stack([d, panel["span"], normal], axis=1), r.T)
        behind = parts[0] / chord - 0.5
        x = np.maximum(behind, 0.0)
        spread2 = (0.68 * chord) ** 2 * drag * (x + 0.15)
        wide = np.sqrt(dead**2 + spread2)
        reach = np.sqrt(seen**2 + spread2)
        reach = (
            reach + plane.half_width * np.abs(plane.span @ normal) + 0.5 * plane.chord * np.abs(plane.forward @ normal)
        )
        t = np.minimum(1.0, np.abs(parts[2]) / reach)
        edge = np.clip(0.5 + 0.5 * (panel["half"] - np.abs(parts[1])) / (0.3 * wide + plane.half_width), 0.0, 1.0)
        loss = (
            np.minimum(0.95, 2.42 * np.sqrt(drag) / (x + 0.3)) * wide / reach * (1.0 - t) ** 2 * (1.0 + 2.0 * t) * edge
        )
        loss *= min(1.0, (drag - 0.02) / 0.02) * np.clip(2.0 * behind + 1.0, 0.0, 1.0)
        kept *= np.where(plane.surface == panel["surface"], 1.0, np.sqrt(1.0 - loss))
    return 1.0 - kept


def in_ground(plane, d, down, height, padded):
    """Velocity at each strip (n, 3) of the vortices mirrored in the ground; `padded` circulation with a zero behind it."""
    span = plane.model[L.WING_SPAN]
    share = min(1.0, max(0.0, 3.0 * span - 2.0 * height) / (span + 1e-9)) * max(0.0, 1.0 - 2.0 * abs(d @ down))
    if share <= 0.0:
        return np.zeros((plane.n, 3))
    far = 2.0 * np.maximum(height - plane.flow_point @ down, 0.0)
    mirrored = plane.flow_point + far[:, None] * down
    arm = mirrored[:, None, :] - plane.node
    reach = np.linalg.norm(arm, axis=2)
    tau = padded[plane.before] - padded[plane.after]
    velocity = np.einsum("ikv,ik->iv", np.cross(d, arm), tau / (reach * (reach - arm @ d) + 0.0064))
    bound = np.flatnonzero(plane.after < L.PAD)
    leg = plane.node[bound + 1] - plane.node[bound]
    a, b = arm[:, bound], arm[:, bound] - leg
    cross = np.cross(a, b)
    turn = ((a / reach[:, bound, None] - b / np.linalg.norm(b, axis=2)[:, :, None]) * leg).sum(axis=2)
    size = (cross**2).sum(axis=2) + 0.0064 * (leg**2).sum(axis=1)
    velocity += np.einsum("ikv,ik->iv", cross, padded[plane.after[bound]] * turn / size)
    return share / (4.0 * np.pi) * (velocity - 2.0 * np.outer(velocity @ down, down))


def power(m, throttle, omega, used, acting):
    """Shaft torque, drain and rate of the acting throttle, as in `sim.powerplant`."""
    sign = omega / (abs(omega) + 5.0)
    if m[L.POWER_KIND] == 0.0:
        share = np.clip(used / m[L.CAPACITY], 0.0, 1.0)
        volts = (1.0 - share) * m[L.CELL_VOLTS_FULL] + share * m[L.CELL_VOLTS_EMPTY]
        limit = m[L.CURRENT_LIMIT] * np.clip((1.02 - used / m[L.CAPACITY]) / 0.02, 0.0, 1.0)
        resistance = m[L.WINDING_RESISTANCE] + throttle**2 * m[L.BATTERY_RESISTANCE]
        current = max(0.0, (throttle * volts - omega / m[L.KV]) / resistance)
        if current > limit:  # chopped down to it
            roots = np.roots(
                [limit * m[L.BATTERY_RESISTANCE], -volts, limit * m[L.WINDING_RESISTANCE] + omega / m[L.KV]]
            )
            current, throttle = limit, roots.real.min()
        return (current - m[L.NO_LOAD_CURRENT] * sign) / m[L.KV], current * throttle, 0.0
    speeds = np.linspace(0.0, m[L.TORQUE_TOP], L.TORQUE_POINTS)
    brake = np.interp(omega, speeds, m[L.TORQUE_MAP : L.TORQUE_MAP + L.TORQUE_POINTS], right=0.0)
    drag, pumping = sign * (m[L.FRICTION] + m[L.FRICTION_SLOPE] * abs(omega)), sign * m[L.PUMPING]
    opening = 1.0 - (1.0 - m[L.IDLE_OPENING]) * np.cos(0.5 * np.pi * np.clip(acting, 0.0, 1.0))
    flow = np.array([opening, 1.0]) * m[L.BREATHING] / abs(omega)
    charge, most = 2.0 * flow / (flow + np.sqrt(flow**2 + 4.0))  # p^2 = u^2 (1 - p)
    indicated = charge / most * (brake + drag + pumping * (1.0 - most)) * np.clip((m[L.FUEL] - used) / 0.002, 0.0, 1.0)
    drain = m[L.FUEL_PER_JOULE] * indicated * abs(omega)
    return indicated - drag - pumping * (1.0 - charge), drain, (throttle - acting) / m[L.THROTTLE_LAG]


def through_the_air(plane, x, turn, velocity):
    """Velocity through the steady wind (body axes), the gust as a function of points from the CG, the rolling gust."""
    m, height = plane.model, -x[L.POSITION + 2]
    share = 1.0
    if m[L.WIND_ROUGHNESS] > 0.0:
        share = max(0.0, np.log(height / m[L.WIND_ROUGHNESS])) * m[L.WIND_PROFILE]
    air = velocity - share * (turn.T @ m[L.WIND : L.WIND + 3])
    ahead = air / np.sqrt(air @ air + 1.0)
    vertical = m[L.TURBULENCE] * np.clip(0.1 * x[L.AIR_PATH], 0.0, 1.0)
    level = vertical / (0.177 + 0.000823 * np.clip(height / 0.3048, 10.0, 1000.0)) ** 0.4
    north, east = m[L.TURBULENCE_AXIS : L.TURBULENCE_AXIS + 2]
    axes = np.array([[north, east, 0.0], [-east, north, 0.0], [0.0, 0.0, 1.0]])
    series = m[L.SIZE :].reshape(-1, 4) if m.size > L.SIZE else np.zeros((1, 4))

    def samples(distance):
        step = 0.2 * np.arange(-20, len(series) + 20)
        around = series[np.arange(-20, len(series) + 20) % len(series)]
        return np.stack([np.interp(distance % (0.2 * len(series)), step, column) for column in around.T], axis=-1)

    def gust(points):
        distance = x[L.AIR_PATH] + points @ ahead
        blowing = samples(distance)[..., :3] * [level, level, vertical] @ axes
        into = distance - m[L.GUST_AFTER]
        inside = (into > 0.0) & (into < m[L.GUST_LENGTH])
        wave = np.where(inside, np.sin(np.pi * into / max(m[L.GUST_LENGTH], 1e-9)) ** 2, 0.0)
        blowing = blowing + wave[..., None] * m[L.GUST_PEAK : L.GUST_PEAK + 3]
        return m[L.GUSTS] * blowing @ turn

    return air, gust, m[L.GUSTS] * vertical * samples(x[L.AIR_PATH])[3]


def derivatives(plane: NumpyPlane, x: np.ndarray, command: np.ndarray, wake_tilt: float) -> np.ndarray:
    """Rates of the state, shape (STATE,); padding rows zero.  `wake_tilt` as in `sim.equations_of_motion`."""
    m, n = plane.model, plane.n
    turn = attitude(x[L.QUATERNION : L.QUATERNION + 4])
    velocity, rates = x[L.VELOCITY : L.VELOCITY + 3], x[L.RATES : L.RATES + 3]
    air, gust, rolling = through_the_air(plane, x, turn, velocity)
    rates_in_air = rates - np.array([rolling, 0.0, 0.0])
    rho = (
        101325.0
        / (287.05287 * 288.15)
        * (1.0 + 0.0065 * x[L.POSITION + 2] / 288.15) ** (9.80665 / (287.05287 * 0.0065) - 1.0)
    )
    gamma = x[L.CIRCULATION : L.CIRCULATION + n]
    separation = x[L.SEPARATION : L.SEPARATION + n]
    f = np.clip(separation, 0.0, 1.0)
    force, moment = np.zeros(3), np.zeros(3)

    # propeller
    at_hub = air + np.cross(rates_in_air, plane.hub) - gust(plane.hub)
    axial = at_hub @ plane.shaft
    cross = at_hub - axial * plane.shaft
    across = np.linalg.norm(cross)
    omega = x[L.ROTOR]
    column, ref2 = look_up(plane, axial, across, max(omega, 0.0) * plane.radius)
    push = rho * ref2 * plane.radius**2
    along = cross / (across + 1e-6)
    aside = np.cross(plane.shaft, along)
    prop = push * (column[0] * plane.shaft - column[2] * along + plane.sense * column[3] * aside)
    torque_air, w0 = column[1] * push * plane.radius, column[6] * np.sqrt(ref2)
    force += prop
    moment += np.cross(plane.hub, prop)
    moment += push * plane.radius * (plane.sense * column[4] * along + column[5] * aside)

    torque, drain, lag_rate = power(m, command[L.THROTTLE], omega, x[L.CHARGE], x[L.POWER_LAG])
    moment -= plane.sense * torque * plane.shaft
    moment -= np.cross(rates, plane.sense * plane.rotor_inertia * omega * plane.shaft)

    # slipstream and swirl at the strips (air velocities)
    from_hub = plane.flow_point - plane.hub
    gained, swirl, offset, local2, through = jet(plane, from_hub, plane.half_width, plane.blocked, -cross, axial, w0)
    spin = 0.75 * m[L.SWIRL_ON] * plane.sense * torque_air / (2.0 * np.pi * 0.31106 * rho)
    ring = local2**1.5 - plane.blocked**1.5
    size = spin * swirl / (ring * through * np.sqrt((offset**2).sum(axis=1) + 0.0625 * local2))
    outside = max(axial, 0.0)
    contrast = (through**2 - outside**2) / (through**2 + outside**2)
    z = plane.chord / np.sqrt(local2)
    edge = contrast * swirl / (np.pi * np.sqrt(local2)) * (z / np.sqrt(9.0 + z**2) + 0.5 * contrast) * gamma
    slip = -gained[:, None] * plane.shaft + size[:, None] * np.cross(plane.shaft, offset)

    # velocity induced by all trailing legs and by what is fixed to the body
    wake = air + wake_tilt * w0 * plane.shaft
    speed = np.linalg.norm(wake)
    wake = wake + 0.05 / (speed + 0.05) * 0.05 * plane.shaft
    d = -wake / np.sqrt(wake @ wake + 1e-12)
    padded = np.r_[gamma, np.zeros(L.PAD + 1 - n)]
    slip = slip + shade(plane, d, f)[:, None] * air
    strength = (padded[plane.before] - padded[plane.after]) / (4.0 * np.pi)
    near = np.minimum(1.0, f / 0.7)
    denominator = (
        plane.reach**2 + plane.core2 + (1.0 - near)[:, None] * plane.stall_core2 - plane.reach * (plane.arm @ d)
    )
    influence = np.cross(d, plane.arm) / denominator[:, :, None]  # (strip, node, 3) of unit strength
    induced = np.einsum("ikv,k->iv", influence, strength)
    induced += in_ground(plane, d, turn[2], -x[L.POSITION + 2], padded)
    bound_forward, bound_normal = near * (plane.bound_forward @ gamma), near * (plane.bound_normal @ gamma)

    # strips
    local = air + np.cross(rates_in_air, plane.flow_point) - gust(plane.flow_point) - slip - induced
    along_chord = (local * plane.forward).sum(axis=1) - bound_forward
    into = bound_normal - (local * plane.normal).sum(axis=1) - edge
    speed2 = along_chord**2 + into**2 + 1.0e-4
    speed = np.sqrt(speed2)
    wash = (induced * plane.normal).sum(axis=1) + bound_normal
    deflection = x[L.SERVO : L.SERVO + 4][plane.control]
    lift, chordwise, drag, twist, f_steady, share = section(
        plane, into / speed, along_chord / speed, (into + edge - plane.suction_gain * wash) / speed, f, speed * plane.chord,
        plane.tau * effective_rotation(deflection, plane.flap_load), np.sin(deflection), np.cos(deflection),
    )  # fmt: skip
    hinge = hinge_moment(plane, into / speed, along_chord / speed, share, np.sin(deflection), np.cos(deflection))
    hinge *= 0.5 * rho * speed2 * plane.hinge["scale"]
    bound = 0.5 * plane.chord * (lift * along_chord + chordwise * into)
    free = (into + edge - wash) / speed
    lift = lift + (gamma - bound) / (plane.chord * speed)  # half of the load follows at once (Wagner)
    lift = lift + plane.side_edge * share * free * np.abs(free) * np.maximum(along_chord / speed, 0.0)
    pressure = 0.5 * rho * plane.area
    strip = (pressure * speed2)[:, None] * (lift[:, None] * plane.normal + chordwise[:, None] * plane.forward)
    strip -= (pressure * drag * np.linalg.norm(local, axis=1))[:, None] * local
    along_span = rho * gamma * (local * plane.span).sum(axis=1)
    strip += (along_span * plane.span_reach)[:, None] * plane.normal
    moment -= ((along_span * plane.leg_arm)[:, None] * plane.forward).sum(axis=0)
    force += strip.sum(axis=0)
    moment += np.cross(plane.load_point, strip).sum(axis=0)
    moment += ((pressure * speed2 * plane.chord * twist)[:, None] * plane.span).sum(axis=0)
    pace = (speed + 2.0) / plane.chord

    # fuselage slices and bluff parts
    half = 0.25 * (plane.body_width + plane.body_height)
    gained = jet(plane, plane.body - plane.hub, half, plane.body_blocked, -cross, axial, w0)[0]
    local = air + np.cross(rates_in_air, plane.body) - gust(plane.body) + gained[:, None] * plane.shaft
    speed = np.linalg.norm(local, axis=1)
    hull = slice(0, plane.n_fuselage)
    load = -0.5 * rho * speed[:, None] * plane.body_drag * local
    sides = np.stack([plane.body_height, plane.body_width], axis=1)[hull]
    length, v = plane.body_length[hull], local[hull]
    skin = 0.5 * rho * 0.006 * 2.0 * sides.sum(axis=1) * length * speed[hull]
    load[hull] = -skin[:, None] * v
    load[hull, 1:] -= rho * v[:, :1] * v[:, 1:] * plane.growth[hull]
    load[hull, 1:] -= (0.5 * rho * plane.cross_drag * length * np.hypot(v[:, 1], v[:, 2]))[:, None] * sides * v[:, 1:]
    force += load.sum(axis=0)
    moment += np.cross(plane.body, load).sum(axis=0)
    force += plane.mass * G * turn[2]

    # rigid body and lags
    dx = np.zeros(L.STATE)
    dx[L.POSITION : L.POSITION + 3] = turn @ velocity
    q = x[L.QUATERNION : L.QUATERNION + 4]
    dx[L.QUATERNION] = -0.5 * q[1:] @ rates
    dx[L.QUATERNION + 1 : L.QUATERNION + 4] = 0.5 * (q[0] * rates + np.cross(q[1:], rates))
    dx[L.QUATERNION : L.QUATERNION + 4] += 0.5 * (1.0 - q @ q) * q
    loads = np.r_[force - plane.mass * np.cross(rates, air), moment - np.cross(rates, plane.inertia @ rates)]
    acceleration = plane.inverse_mass @ loads
    dx[L.VELOCITY : L.VELOCITY + 3] = acceleration[:3] - np.cross(rates, velocity - air)
    dx[L.RATES : L.RATES + 3] = acceleration[3:]
    dx[L.ROTOR] = (torque - torque_air) / plane.rotor_inertia
    dx[L.CHARGE] = drain
    dx[L.POWER_LAG] = lag_rate
    dx[L.AIR_PATH] = max(np.linalg.norm(air), m[L.SWEPT])
    by_control = np.bincount(plane.control, hinge, 4)
    dx[L.SERVO : L.SERVO + 4] = surface_rates(
        plane, x[L.SERVO : L.SERVO + 4], command[:4], by_control, np.linalg.norm(air) + 2.0 * abs(w0)
    )
    dx[L.CIRCULATION : L.CIRCULATION + n] = (bound - gamma) * pace / 3.0
    dx[L.SEPARATION : L.SEPARATION + n] = (f_steady - separation) * pace / 5.0
    return dx
