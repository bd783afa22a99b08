"""The air that moves: steady wind over grass, low-altitude Dryden turbulence, and one 1-cosine gust.

*Steady wind* grows with the logarithm of height, W(h) = W_ref ln(h / z0) / ln(h_ref / z0), zero below the roughness
length z0 (MIL-F-8785C, 1980, section 3.7; its z0 for take-off and landing, 0.15 ft, is short grass).

*Turbulence* is the low-altitude Dryden model of the same section, L_w = h and L_u = L_v (not the doubled scales of
MIL-HDBK-1797).  With Omega in rad/m and the variance as the integral from 0,

    Phi_u = sigma_u^2 2 L_u / pi / (1 + (L_u Omega)^2)
    Phi_v = sigma_v^2 L_v / pi (1 + 3 (L_v Omega)^2) / (1 + (L_v Omega)^2)^2, and Phi_w likewise
    Phi_p = sigma_w^2 / L_w 0.8 (pi L_w / 4 b)^(1/3) / (1 + (4 b Omega / pi)^2)

The field is frozen: components are series over the distance flown through the air (state AIR_PATH), and every part of
the plane meets them where it stands along the path, so pitching and yawing gusts come by themselves; the rolling
gust turns the air about body x.  Series are sampled from the shaping filters exactly (their transition matrix and
the covariance of its noise), so their variance is right at any step, and close to a ring that a long flight repeats.

Departures: u runs along the steady wind and not along its horizontal part relative to the aeroplane, which is
undefined on a vertical line and would turn over at the top of a loop.  Scales are those of the height that the
flight starts at; intensities follow the height, held at their values at 10 ft and 1000 ft outside.  Slower through
the air than the larger eddies move, the plane is swept by them (Tennekes, J. Fluid Mech. 67, 1975, from memory), so
that a hover in a calm meets gusts too.

*Gust*: U / 2 (1 - cos(2 pi s / length)) over the distance s into it (14 CFR 25.341: length 2 H).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sim import layout as L
from sim.compiled import formula, kernel
from sim.frames import body_to_earth

if TYPE_CHECKING:
    from sim.build import Plane

FOOT = 0.3048  # m
GRASS = 0.15 * FOOT  # m, roughness length
TWENTY_FEET = 20.0 * FOOT
SEVERITY = {"light": 15.0, "moderate": 30.0, "severe": 45.0}  # kt at 20 ft, MIL-F-8785C
STEP = 0.2  # m between samples: linear interpolation costs 1 % of the rolling gust's variance, less of the others
COUNT = 16384  # samples, a power of two: 3.3 km, then the same again
COLUMNS = 4  # u, v, w over their sigma; p over sigma_w (rad/m)
ENTRY = 10.0  # m of path over which a flight, trimmed in steady air, enters the turbulence
BROADSIDE = 1.0  # m/s: slower than that through the air, "ahead" fades


@dataclass(frozen=True)
class Gust:
    """One 1-cosine gust: `velocity` (m/s, earth axes) at its middle, `length` (m), met by the CG `after` m of path."""

    velocity: tuple[float, float, float]
    length: float
    after: float


@dataclass(frozen=True)
class Wind:
    """Wind `speed` (m/s at the height `at` m) from `from_` (rad from north), roughness length `roughness` (m; 0: the
    same at all heights), `w20` (m/s at 20 ft) that sets the turbulence, the `seed` of its series, and a gust."""

    speed: float = 0.0
    from_: float = 0.0
    at: float = 10.0
    roughness: float = GRASS
    w20: float = 0.0
    seed: int = 1
    gust: Gust | None = None

    def speed_at(self, height: float) -> float:
        """Steady wind in m/s at `height` m."""
        if self.roughness == 0.0:
            return self.speed
        return self.speed * math.log(max(height / self.roughness, 1.0)) / math.log(self.at / self.roughness)


def scales(height: float) -> tuple[float, float]:
    """L_u = L_v and L_w in m at `height` m, held below 10 ft and above 1000 ft."""
    h = min(1000.0, max(10.0, height / FOOT))
    return h / (0.177 + 0.000823 * h) ** 1.2 * FOOT, h * FOOT


@kernel
def intensity_ratio(height):
    """sigma_u over sigma_w at `height` m, held below 10 ft and above 1000 ft."""
    h = min(1000.0, max(10.0, height / FOOT))
    return (0.177 + 0.000823 * h) ** -0.4


def rolling_intensity(height: float, span: float) -> float:
    """sigma_p over sigma_w (rad/m) for a wing of `span` m: the root of the integral of Phi_p."""
    _, scale = scales(height)
    corner = 4.0 * span / math.pi
    return math.sqrt(0.8 / scale * (scale / corner) ** (1.0 / 3.0) * 0.5 * math.pi / corner)


def turbulence(height: float, span: float, seed: int, step: float = STEP, count: int = COUNT) -> np.ndarray:
    """Series of the frozen field every `step` m, shape (count, COLUMNS), for the scales at `height` m."""
    along, upward = scales(height)
    noise = np.random.default_rng(seed).standard_normal((count, 6))
    series = np.empty((count, COLUMNS))
    settings = np.array([*_transverse(step / along), *_transverse(step / upward)])
    decay = math.exp(-step / along), math.exp(-step * math.pi / (4.0 * span))
    _run_filters(noise, settings, *decay, series)
    series[:, 3] *= rolling_intensity(height, span)
    return series


def _transverse(step: float) -> tuple[float, ...]:
    """The filter (1 + sqrt(3) s) / (1 + s)^2 sampled every `step` scales: decay, coupling, and the noise's root.

    States z1' = -z1 + n, z2' = z1 - z2, output sqrt(3) z1 + (1 - sqrt(3)) z2 of variance 1.
    """
    decay = math.exp(-step)
    move = decay * np.array([[1.0, 0.0], [step, 1.0]])
    stationary = np.array([[0.5, 0.25], [0.25, 0.25]])
    root = np.linalg.cholesky(stationary - move @ stationary @ move.T)
    return decay, step * decay, root[0, 0], root[1, 0], root[1, 1]


@kernel
def _run_filters(noise, transverse, decay_u, decay_p, series):
    """Fill `series` from `noise` (count, 6) on the second of two laps: the first brings the filters to the ring's state."""
    root3 = math.sqrt(3.0)
    noise_u, noise_p = math.sqrt(1.0 - decay_u * decay_u), math.sqrt(1.0 - decay_p * decay_p)
    u = p = 0.0
    z = np.zeros(4)
    for _ in range(2):
        for i in range(noise.shape[0]):
            u = decay_u * u + noise_u * noise[i, 0]
            p = decay_p * p + noise_p * noise[i, 5]
            series[i, 0] = u
            series[i, 3] = p
            for axis in range(2):
                a, t = 2 * axis, transverse[5 * axis : 5 * axis + 5]
                first, second = noise[i, 1 + a], noise[i, 2 + a]
                z[a + 1] = t[0] * z[a + 1] + t[1] * z[a] + t[3] * first + t[4] * second
                z[a] = t[0] * z[a] + t[2] * first
                series[i, 1 + axis] = root3 * z[a] + (1.0 - root3) * z[a + 1]


def in_wind(plane: Plane, wind: Wind, height: float) -> Plane:
    """`plane` with a model that carries `wind`, its turbulence made for a flight about `height` m."""
    series = turbulence(height, plane.span, wind.seed).ravel() if wind.w20 else np.empty(0)
    model = np.concatenate([plane.model, series])
    toward = -math.cos(wind.from_), -math.sin(wind.from_)
    model[L.WIND : L.WIND + 3] = wind.speed * toward[0], wind.speed * toward[1], 0.0
    model[L.WIND_ROUGHNESS] = wind.roughness
    model[L.WIND_PROFILE] = 1.0 / math.log(wind.at / wind.roughness) if wind.roughness else 1.0
    model[L.GUSTS] = 1.0 if wind.w20 or wind.gust else 0.0
    sigma = model[L.TURBULENCE] = 0.1 * wind.w20
    model[L.TURBULENCE_AXIS : L.TURBULENCE_AXIS + 2] = toward
    swept = sigma * math.sqrt(1.0 + 2.0 * intensity_ratio(height) ** 2)
    if wind.gust:
        model[L.GUST_PEAK : L.GUST_PEAK + 3] = wind.gust.velocity
        model[L.GUST_AFTER], model[L.GUST_LENGTH] = wind.gust.after, wind.gust.length
        swept = max(swept, math.sqrt(sum(v * v for v in wind.gust.velocity)))
    model[L.SWEPT] = swept
    return replace(plane, model=model, known={})


def calm(model: np.ndarray) -> np.ndarray:
    """A copy of `model` in still air."""
    still = model[: L.SIZE].copy()
    for start, count in ((L.WIND, 3), (L.GUSTS, 1), (L.SWEPT, 1), (L.BODY_GX, 3 * L.BODIES)):
        still[start : start + count] = 0.0
    return still


def carried(model: np.ndarray, x: np.ndarray) -> np.ndarray:
    """The state `x` of a flight in still air, carried along by the steady wind of `model` at its height."""
    share = steady_share(model, -x[L.POSITION + 2])
    turn = np.array(body_to_earth(*x[L.QUATERNION : L.QUATERNION + 4])).reshape(3, 3)
    moved = x.copy()
    moved[L.VELOCITY : L.VELOCITY + 3] += share * (model[L.WIND : L.WIND + 3] @ turn)
    return moved


@kernel
def steady_share(m, height):
    """The steady wind at `height` m over that at its reference height."""
    if m[L.WIND_ROUGHNESS] <= 0.0:
        return 1.0
    return math.log(max(height / m[L.WIND_ROUGHNESS], 1.0)) * m[L.WIND_PROFILE]


@kernel
def set_gusts(m, path, height, u, v, w, r):
    """Lay out the gusts about the CG in the row GUST_FRAME for `gust_at`; returns the rolling gust (rad/s).

    `path` (m) is the distance flown through the air, `u, v, w` the velocity through the steady air (body axes), `r` the
    nine elements of the body-to-earth matrix.
    """
    at = L.GUST_FRAME
    ahead = 1.0 / math.sqrt(u * u + v * v + w * w + BROADSIDE * BROADSIDE)
    m[at], m[at + 1], m[at + 2], m[at + 3] = path, ahead * u, ahead * v, ahead * w
    vertical = m[L.TURBULENCE] * min(1.0, max(0.0, path / ENTRY))
    level = vertical * intensity_ratio(height)
    wn, we = level * m[L.TURBULENCE_AXIS], level * m[L.TURBULENCE_AXIS + 1]
    gn, ge, gd = m[L.GUST_PEAK], m[L.GUST_PEAK + 1], m[L.GUST_PEAK + 2]
    for axis in range(3):
        north, east, down = r[axis], r[3 + axis], r[6 + axis]
        m[at + 4 + axis] = north * wn + east * we
        m[at + 7 + axis] = east * wn - north * we
        m[at + 10 + axis] = down * vertical
        m[at + 13 + axis] = north * gn + east * ge + down * gd
    if m[L.TURBULENCE] == 0.0:
        return 0.0
    s = path * (1.0 / STEP)
    i = int(math.floor(s))
    here, there = m[L.SIZE + COLUMNS * (i & (COUNT - 1)) + 3], m[L.SIZE + COLUMNS * ((i + 1) & (COUNT - 1)) + 3]
    return vertical * (here + (s - i) * (there - here))


@formula
def gust_at(m, px, py, pz):
    """Velocity of the gusts (m/s, body axes) at a point `px, py, pz` from the CG; without the rolling gust."""
    at = L.GUST_FRAME
    path = m[at] + m[at + 1] * px + m[at + 2] * py + m[at + 3] * pz
    gx = gy = gz = 0.0
    if m[L.TURBULENCE] > 0.0:
        s = path * (1.0 / STEP)
        i = int(math.floor(s))
        t = s - i
        here, there = L.SIZE + COLUMNS * (i & (COUNT - 1)), L.SIZE + COLUMNS * ((i + 1) & (COUNT - 1))
        a = m[here] + t * (m[there] - m[here])
        b = m[here + 1] + t * (m[there + 1] - m[here + 1])
        c = m[here + 2] + t * (m[there + 2] - m[here + 2])
        gx = m[at + 4] * a + m[at + 7] * b + m[at + 10] * c
        gy = m[at + 5] * a + m[at + 8] * b + m[at + 11] * c
        gz = m[at + 6] * a + m[at + 9] * b + m[at + 12] * c
    into = path - m[L.GUST_AFTER]
    if 0.0 < into < m[L.GUST_LENGTH]:
        share = 0.5 - 0.5 * math.cos(2.0 * math.pi * into / m[L.GUST_LENGTH])
        gx += share * m[at + 13]
        gy += share * m[at + 14]
        gz += share * m[at + 15]
    return gx, gy, gz


@kernel
def fill_gusts(m, w):
    """Fill the gust rows of strips and bodies in `w` (the model `m` or its twin)."""
    for i in range(int(m[L.N_STRIPS])):
        w[L.GUST_X + i], w[L.GUST_Y + i], w[L.GUST_Z + i] = gust_at(m, m[L.VX + i], m[L.VY + i], m[L.VZ + i])
    for i in range(int(m[L.N_BODIES])):
        gx, gy, gz = gust_at(m, m[L.BODY_X + i], m[L.BODY_Y + i], m[L.BODY_Z + i])
        w[L.BODY_GX + i], w[L.BODY_GY + i], w[L.BODY_GZ + i] = gx, gy, gz
