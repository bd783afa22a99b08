"""A human-like pilot: delay, lag, limited stick speed, gains from the crossover model.

In each axis the pilot acts on the angle between where the nose (or the wings) should
point and where it points, seen in body axes, so that elevator, rudder and aileron keep
their meaning in knife edge, inverted and in the hover.  With the plane's own response
the open loop is close to omega_c exp(-j omega tau) / (j omega) near crossover (McRuer
and others, AFFDL-TR-65-15, 1965, from memory: omega_c 2 to 5 rad/s, tau 0.2 to 0.5 s).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sim import layout as L
from sim.account import loads_of
from sim.build import Plane
from sim.compiled import kernel
from sim.description import Link
from sim.equations_of_motion import derivatives
from sim.frames import cross
from sim.integration import FRAME, advance_frame
from sim.transmitter import EXPONENTIAL, select, transmit
from sim.trim import Trim

# layout of the pilot's parameters
GAIN, LEAD, INTEGRAL, ANTICIPATION = 0, 3, 6, 9  # per axis (aileron, elevator, rudder)
PATH_GAIN, PATH_INTEGRAL = 12, 15  # per axis, when the flight path is steered instead of the attitude
DELAY, LAG, STICK_SPEED, REFERENCE_SPEED, THROTTLE_GAIN, DEAD_BAND = 18, 19, 20, 21, 22, 23
STEADY_RATE = 24  # rad/s per effect that an axis settles at, or would
SIZE = 27

CROSSOVER = 2.0  # rad/s with a path to hold besides: low in McRuer's range
HOVER_CROSSOVER = 3.2  # rad/s, full attention to the attitude: his typical value for K / s^2
PATH_CROSSOVER = (
    0.8  # rad/s, the outer loop that steers the flight path: two and a half times slower than the inner one
)
TRIM_OUT = 0.4  # 1/s, how fast a steady error is trimmed out
DELAY_FRAMES = 64  # longest delay that fits


@dataclass(frozen=True)
class Skill:
    """How well somebody flies: `perception` and `neuromuscular` lags (s), share of the crossover frequencies that he
    dares (`attention`), stick half-travels a second, smallest error he sees (rad), share of a rehearsed motion
    that he leads with.  Delays from 0.26 to 0.45 s span McRuer's 0.2 to 0.5; the rest is common practice, no source."""

    perception: float
    neuromuscular: float
    attention: float
    stick_speed: float
    dead_band: float
    lead: float


SKILLS = {
    "expert": Skill(0.16, 0.10, 1.0, 5.0, math.radians(0.1), 1.0),
    "practised": Skill(0.22, 0.12, 0.8, 4.0, math.radians(0.6), 0.6),
    "learner": Skill(0.30, 0.15, 0.6, 3.0, math.radians(1.5), 0.2),
}


@dataclass(frozen=True)
class Response:
    """How one axis answers a small stick step: `kind` "attitude", "rate" or "acceleration" (what a held stick gives
    in the end), `power` M (rad/s2 per full-throw effect), `time_constant` T (s) of the rate, `angle` (rad per effect)
    that an attitude-like axis settles at, `bend` (rad/s per effect) how fast the path then turns about that axis."""

    kind: str
    power: float
    time_constant: float
    angle: float
    bend: float = 1.0


def step_response(plane: Plane, trim: Trim, axis: int, effect: float = 0.08) -> Response:
    """The response in one axis to a step of the stick's effect at the trim, everything else held.

    The kind is told from the angle after 1.0 s over that after 0.5 s: near 1 for an
    attitude, 2 for a rate, 4 for an acceleration.  Rates after 0.2 and 0.4 s are fitted
    by M T (1 - exp(-t / T)), T within 0.05..3 s.
    """
    chain = plane.chain.copy()
    select(chain, 0, 0.0, 0.0, 0.0)  # his gains are those of the setup as it stands, at high rates
    chain[EXPONENTIAL : EXPONENTIAL + 3] = 0.0
    sticks, still, moved = np.zeros(4), np.zeros(L.COMMAND), np.zeros(L.COMMAND)
    transmit(sticks, chain, still)
    sticks[axis] = effect
    transmit(sticks, chain, moved)
    command = trim.command.copy()
    command[: L.CONTROLS] += (moved - still)[: L.CONTROLS]
    rates, push = np.zeros((2, 101)), np.zeros((2, 101))
    for row, pushed, asked in zip(rates, push, (trim.command.copy(), command)):
        x, k, stage = trim.x.copy(), np.zeros((4, L.STATE)), np.zeros(L.STATE)
        for frame in range(1, 101):
            advance_frame(x, asked, plane.model, plane.table, 0, k, stage)
            row[frame] = x[L.RATES + axis]
            air = np.delete(loads_of(plane.model), L.WEIGHT, axis=0).sum(axis=0)
            pushed[frame] = -air[2] if axis == 1 else air[1]
    rate = (rates[1] - rates[0]) / effect
    angle = np.cumsum(rate) * FRAME
    grown = angle[100] / max(angle[50], 1e-6)
    kind = "attitude" if grown < 1.5 else "rate" if grown < 2.8 else "acceleration"
    ratio = rate[40] / rate[20] - 1.0 if rate[20] > 1e-6 else 1.0
    constant = 3.0 if ratio >= 0.93 else 0.05 if ratio <= 0.02 else -0.2 / math.log(ratio)
    constant = min(3.0, max(0.05, constant))
    power = max(float(rate[40]), 1e-3) / (constant * (1.0 - math.exp(-0.4 / constant)))
    speed = max(float(np.linalg.norm(trim.x[L.VELOCITY : L.VELOCITY + 3])), 3.0)
    bend = float((push[1] - push[0])[50:].mean()) / effect / (plane.mass.mass * speed)
    return Response(kind, power, constant, float(angle[40:].mean()), bend)


def _plane_loop(response: Response, lead: float, crossover: float) -> complex:
    s = 1j * crossover
    return (1.0 + lead * s) * response.power / (s * (s + 1.0 / response.time_constant))


def crossover_law(
    response: Response, crossover: float = CROSSOVER, path_crossover: float = PATH_CROSSOVER
) -> tuple[float, ...]:
    """Gain (effect per rad), lead (s), integral (effect per rad s), anticipation (effect per rad/s), and the gain and
    integral with which the flight path is steered, for one axis.

    McRuer's adaptation: the pilot makes the open loop an integrator near crossover.  A
    rate-like axis takes plain gain with the lead that cancels its lag, up to 0.5 s.  An
    attitude-like axis (rudder against weathercock stability) is integrated, with gain kept
    small because a pilot cannot damp a swing faster than his delay; on a path it is
    already an integrator, for sideslip or angle of attack bends the path: as fast as the step showed.
    """
    if response.kind == "attitude":
        angle = max(response.angle, 0.05)
        on_path = path_crossover / max(response.bend, 0.3 * angle)
        return 0.3 / angle, 0.0, 0.8 / angle, 0.0, on_path, 0.2 * on_path
    lead = min(0.5, response.time_constant)
    gain = 1.0 / max(abs(_plane_loop(response, lead, crossover)), 0.2)
    steady = response.power * min(response.time_constant, 0.5)
    on_path = gain * PATH_CROSSOVER / CROSSOVER  # the same share of the inner loop's
    return gain, lead, TRIM_OUT * gain, 1.0 / max(steady, 0.2), on_path, TRIM_OUT * on_path


def slowed_by_link(hand: Skill, link: Link | None) -> float:
    """The factor on a pilot's crossover frequencies behind a link: crossover times whole delay stays, and with it his
    phase margin (McRuer's trade of crossover against delay, from memory).  The mean age of a frame sent every
    `period` is half of it."""
    own = hand.perception + hand.neuromuscular
    return own / (own + link.latency + 0.5 * link.period) if link else 1.0


def pilot_for(plane: Plane, trim: Trim, skill: str = "expert") -> np.ndarray:
    """The pilot's parameters, shape (SIZE,), for `plane` about `trim`: gains found from small stick steps."""
    hand = SKILLS[skill]
    pilot = np.zeros(SIZE)
    speed = float(np.linalg.norm(trim.x[L.VELOCITY : L.VELOCITY + 3]))
    flying = speed > 5.0
    attention = hand.attention * slowed_by_link(hand, plane.setup.link)
    for axis in range(3):
        inner = attention * (CROSSOVER if flying else HOVER_CROSSOVER)
        response = step_response(plane, trim, axis)
        law = crossover_law(response, inner, attention * PATH_CROSSOVER)
        pilot[STEADY_RATE + axis] = max(response.power * min(response.time_constant, 0.5), 0.2)
        for at, value in zip((GAIN, LEAD, INTEGRAL, ANTICIPATION, PATH_GAIN, PATH_INTEGRAL), law):
            pilot[at + axis] = value
    pilot[ANTICIPATION : ANTICIPATION + 3] *= hand.lead
    pilot[DELAY] = round(hand.perception / FRAME)
    pilot[LAG] = hand.neuromuscular
    pilot[STICK_SPEED] = hand.stick_speed
    pilot[DEAD_BAND] = hand.dead_band
    pilot[REFERENCE_SPEED] = speed if flying else 0.0
    pilot[THROTTLE_GAIN] = throttle_gain(plane, trim)
    return pilot


def throttle_gain(plane: Plane, trim: Trim) -> float:
    """Throttle stick per m/s2 along the shaft, from the thrust after 0.5 s of a small step."""
    step, thrust = 0.05, []
    for asked in (trim.duty, min(1.0, trim.duty + step)):
        command = trim.command.copy()
        command[L.THROTTLE] = asked
        x, k, stage = trim.x.copy(), np.zeros((4, L.STATE)), np.zeros(L.STATE)
        for _ in range(50):
            advance_frame(x, command, plane.model, plane.table, 0, k, stage)
        derivatives(x, command, plane.model, plane.table, np.zeros(L.STATE))
        thrust.append(plane.model[L.ACCOUNT + 6 * L.THRUST])
    slope = (thrust[1] - thrust[0]) / max(min(1.0, trim.duty + step) - trim.duty, 1e-3) / plane.mass.mass
    return 1.0 / max(slope, 2.0)


@kernel
def pointing_error(r, nx, ny, nz, yx, yy, yz):
    """Rotations (rad) about body x, y, z that bring the nose to `n` and the right wing to `y` (earth axes).

    `r` holds the nine elements of the body-to-earth matrix.
    """
    bx = r[0] * nx + r[3] * ny + r[6] * nz
    by = r[1] * nx + r[4] * ny + r[7] * nz
    bz = r[2] * nx + r[5] * ny + r[8] * nz
    side = math.sqrt(by * by + bz * bz)
    turn = math.atan2(side, bx) / (side + 1e-9)
    wing_y = r[1] * yx + r[4] * yy + r[7] * yz
    wing_z = r[2] * yx + r[5] * yy + r[8] * yz
    return math.atan2(wing_z, wing_y), -bz * turn, by * turn


@kernel
def path_error(r, vn, ve, vd, climb, course):
    """Rotations (rad) about body x, y, z that bring the velocity `vn, ve, vd` (earth) to the direction `climb`, `course`."""
    speed = math.sqrt(vn * vn + ve * ve + vd * vd) + 1e-9
    wn, we, wd = math.cos(climb) * math.cos(course), math.cos(climb) * math.sin(course), -math.sin(climb)
    cn, ce, cd = cross(vn / speed, ve / speed, vd / speed, wn, we, wd)
    size = math.sqrt(cn * cn + ce * ce + cd * cd)
    turn = math.atan2(size, (vn * wn + ve * we + vd * wd) / speed) / (size + 1e-9)
    return (
        turn * (r[0] * cn + r[3] * ce + r[6] * cd),
        turn * (r[1] * cn + r[4] * ce + r[7] * cd),
        turn * (r[2] * cn + r[5] * ce + r[8] * cd),
    )
