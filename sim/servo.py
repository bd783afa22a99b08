"""Servos under load: a motor's torque-speed line behind a position loop, the linkage, and the surface's way under both.

The state is the surface itself (rad).  A servo without load goes to its command as a
first-order lag below its speed.  A load changes two things:

* the motor gives up speed for torque along a straight line from its speed without load to
  its stall torque: driven fully one way it turns at `speed` (1 + load), the other way at
  `speed` (load - 1), with `load` the torque of the air over the stall torque, positive
  the way of a positive angle.  Beyond 1 it is pushed back against full drive (backdriven);
* the position loop pulls with full torque at an error of `band`, so at rest it is off by
  `band` times the load.

Between servo and surface stand the linkage (`sim.linkage`: rate of surface over servo)
and its play: the surface rests at the side of it that the air pushes to, and goes over
smoothly where the hinge moment changes its sign.  The servo's dead band is taken into the
play: within it the motor is without current and gives way.

Left out: friction of the gears, which holds a servo that stands up to about 1.5 times its stall
torque (1 over the square of the gears' efficiency), but is shaken loose in flight; the
motor's heat, which costs torque; flutter; inertia of the surface.

Stability: a surface that yields settles at up to (1 + yield) / lag, where yield is the angle that the load
gives back for one that is asked for.  Rates are divided by what of that is over FASTEST, which a frame taken in one
step still damps, so a weak servo asks for no smaller step.  Where it rests does not change; only a servo so weak that
it holds a few degrees is pushed back more slowly, within 1 / FASTEST.

Angles and rates here are the servo's times the linkage's rate at neutral ("as at the
surface"): without a linkage simply those of the surface.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from sim import layout as L
from sim.atmosphere import density
from sim.compiled import kernel
from sim.description import Linkage, Servo, Setup
from sim.linkage import rate, servo_angle, surface_angle, way
from sim.section_aero import FLAP_PLATE_ARM, PLATE_2D, PLATE_B
from sim.transmitter import FAR, SIZE, STEP, STOP_NEGATIVE, STOP_POSITIVE, THROW_NEGATIVE, THROW_POSITIVE

CONTROLS = ("aileron", "aileron", "elevator", "rudder")  # in the order of `layout`
FASTEST = 240.0  # 1/s: 2.4 in a frame of 10 ms taken in one step, half of what `sim.integration` damps
LEAST_LAG = 0.008  # s: quicker is not seen in a frame of 10 ms, and would shake a step of one
PLAY_HELD = (
    0.02  # share of the stall torque below which friction holds a surface inside its play (common practice, no source)
)
PLAY_HELD_TORQUE = 0.03  # N m, likewise, where the torque is not given
RATES = (0.1, 5.0)  # of a linkage, over that at neutral: at its dead points the rate is 0 or has no bound
PAST_THROW = 1.2  # mechanical stop over the greater throw, where no linkage says (common practice, no source)


@kernel
def servo_rate(position, command, speed, lag):
    """Rate (rad/s) of a surface at `position` asked to go to `command` (rad), without load."""
    return min(speed, max(-speed, (command - position) / lag))


@kernel
def loaded_rate(error, load, speed, lag, band):
    """Rate (rad/s) of a servo `error` (rad) short of its command under `load`, torque of the air over stall torque."""
    return min(speed * (load + 1.0), max(speed * (load - 1.0), (error + band * load) / lag))


@kernel
def linkage_at(m, c, deflection):
    """Servo angle, as at the surface, for a deflection of control `c`, and the linkage's rate there over that at neutral."""
    at = (deflection * m[L.LINKAGE_SCALE + c] + 1.0) * (0.5 * (L.LINKAGE_POINTS - 1))
    at = min(L.LINKAGE_POINTS - 1.0, max(0.0, at))
    k = min(int(at), L.LINKAGE_POINTS - 2)
    t = at - k
    a = L.LINKAGE_ANGLE + c * L.LINKAGE_POINTS + k
    r = L.LINKAGE_RATE + c * L.LINKAGE_POINTS + k
    return m[a] + t * (m[a + 1] - m[a]), m[r] + t * (m[r + 1] - m[r])


@kernel
def surface_rate(m, c, deflection, command, hinge, speed2):
    """Rate (rad/s) of control `c` at `deflection` under `command` (rad) and the hinge moment `hinge` (N m).

    `speed2` (m2/s2) is the square of the greatest speed that the air may have there.
    """
    speed, lag = m[L.SERVO_SPEED + c], m[L.SERVO_LAG + c]
    if m[L.SERVO_LOADED + c] == 0.0:
        return servo_rate(deflection, command, speed, lag)
    angle, ratio = deflection, 1.0
    if m[L.LINKAGE_SCALE + c] > 0.0:
        angle, ratio = linkage_at(m, c, deflection)
    error = command - angle
    if m[L.SERVO_PLAY + c] > 0.0:
        held = m[L.SERVO_PLAY_HELD + c]
        error += m[L.SERVO_PLAY + c] / ratio * hinge / math.sqrt(hinge * hinge + held * held)
    turning = loaded_rate(error, hinge * ratio * m[L.SERVO_GIVE + c], speed, lag, m[L.SERVO_BAND + c])
    yields = (m[L.SERVO_YIELD + c] * ratio * ratio + m[L.SERVO_PLAY_YIELD + c]) * speed2
    turning *= ratio / max(1.0, (1.0 + yields) / (FASTEST * lag))
    return min((m[L.SERVO_HIGH + c] - deflection) / lag, max((m[L.SERVO_LOW + c] - deflection) / lag, turning))


# ---- placing -----------------------------------------------------------------------------------------------------


def place_servos(setup: Setup, model: np.ndarray, chain: np.ndarray) -> None:
    """Write the servos and linkages of `setup` into `model`, whose strips are placed, and the transmitter's `chain`.

    With a linkage the transmitter's end points become those at which the surface reaches its throws.
    """
    for axis, name in enumerate(("aileron", "elevator", "rudder")):
        linkage = setup.linkages.get(name)
        if linkage is not None:
            for block in range(0, chain.size, SIZE):
                _through_linkage(linkage, axis, chain[block : block + SIZE])
    stiffness = _hinge_stiffness(model)
    for c, name in enumerate(CONTROLS):
        _place(setup.servos[name], setup.linkages.get(name), setup.throws[name], float(stiffness[c]), c, model)


def _through_linkage(linkage: Linkage, axis: int, block: np.ndarray) -> None:
    """Throws, end points and the step of one control in a block of the chain, from angles at the surface to its commands."""
    widest = []
    for throw, stop, sign in ((THROW_POSITIVE, STOP_POSITIVE, -1.0), (THROW_NEGATIVE, STOP_NEGATIVE, 1.0)):
        # positive stick is a negative deflection: an aileron and the elevator up, the rudder right
        for at in (throw + axis, stop + axis):
            if block[at] < FAR:
                angle = abs(_as_at_surface(linkage, sign * block[at]))
                widest.append((block[at], angle))
                block[at] = angle
    at_surface, commanded = (max(angles) for angles in zip(*widest))
    commands = (L.AILERON_LEFT, L.AILERON_RIGHT) if axis == 0 else (L.ELEVATOR,) if axis == 1 else (L.RUDDER,)
    for command in commands:
        block[STEP + command] *= commanded / at_surface


def _as_at_surface(linkage: Linkage, deflection: float) -> float:
    """Servo angle for a deflection, times the linkage's rate at neutral; where it cannot go, to the end of its way."""
    ends = way(linkage)
    angle = float(servo_angle(linkage, deflection))
    if not math.isfinite(angle) or not ends.low <= angle <= ends.high:
        angle = ends.high if deflection > 0.0 else ends.low
    return angle * _rate_at_neutral(linkage)


def _place(servo: Servo, linkage: Linkage | None, throw, stiffness: float, c: int, model: np.ndarray) -> None:
    neutral = 1.0 if linkage is None else _rate_at_neutral(linkage)
    model[L.SERVO_SPEED + c] = servo.speed * neutral
    lag = model[L.SERVO_LAG + c] = max(servo.lag, LEAST_LAG)
    give = model[L.SERVO_GIVE + c] = neutral / (servo.count * servo.torque) if servo.torque else 0.0
    band = model[L.SERVO_BAND + c] = servo.band * neutral
    play = 0.5 * servo.dead_band * neutral
    if linkage is None:
        stop = PAST_THROW * max(throw.positive, throw.negative)
        model[L.SERVO_LOW + c], model[L.SERVO_HIGH + c] = -stop, stop
    else:
        play += 0.5 * (linkage.rod_play / math.hypot(linkage.horn, linkage.horn_offset) + linkage.gear_play * neutral)
        _place_linkage(linkage, c, model)
    held = PLAY_HELD / give if give else PLAY_HELD_TORQUE
    model[L.SERVO_PLAY + c], model[L.SERVO_PLAY_HELD + c] = play, held
    model[L.SERVO_YIELD + c] = stiffness * give * max(servo.speed * neutral * lag, band)
    model[L.SERVO_PLAY_YIELD + c] = stiffness * play / held
    model[L.SERVO_LOADED + c] = float(bool(give) or linkage is not None or play > 0.0)


@lru_cache(maxsize=64)
def _rate_at_neutral(linkage: Linkage) -> float:
    return float(rate(linkage, 0.0))


def _place_linkage(linkage: Linkage, c: int, model: np.ndarray) -> None:
    """The linkage as an even table over deflection."""
    angle, ratio, top, low, high = _tabled(linkage)
    block = slice(c * L.LINKAGE_POINTS, (c + 1) * L.LINKAGE_POINTS)
    model[L.LINKAGE_ANGLE :][block], model[L.LINKAGE_RATE :][block] = angle, ratio
    model[L.LINKAGE_SCALE + c] = 1.0 / top
    model[L.SERVO_LOW + c], model[L.SERVO_HIGH + c] = low, high


@lru_cache(maxsize=64)
def _tabled(linkage: Linkage) -> tuple[np.ndarray, np.ndarray, float, float, float]:
    """Servo angle (as at the surface) and rate over that at neutral at even deflections, the last of those, and the stops."""
    ends, neutral = way(linkage), _rate_at_neutral(linkage)
    low, high = (float(surface_angle(linkage, end)) for end in (ends.low, ends.high))
    top = max(-low, high)
    deflection = np.linspace(-top, top, L.LINKAGE_POINTS)
    inside = np.clip(deflection, low, high)
    angle = np.clip(np.nan_to_num(servo_angle(linkage, inside)), ends.low, ends.high)
    ratio = np.clip(rate(linkage, angle) / neutral, *RATES)
    angle = angle * neutral + (deflection - inside)  # past the end of the way: straight on, behind the stop
    return angle, ratio, top, low, high


def _hinge_stiffness(model: np.ndarray) -> np.ndarray:
    """Hinge moment per rad of deflection over speed squared, shape (CONTROLS,): the steepest that the section laws have."""
    strips = int(model[L.N_STRIPS])
    slope = np.maximum(np.abs(model[L.HINGE_DELTA :][:strips]), FLAP_PLATE_ARM * PLATE_2D / PLATE_B)
    each = 0.5 * density(0.0) * model[L.HINGE_SCALE :][:strips] * slope
    return np.bincount(model[L.CONTROL :][:strips].astype(int), each, L.CONTROLS)


# ---- looking at them ---------------------------------------------------------------------------------------------


def servo_loads(model: np.ndarray, deflections: np.ndarray, hinges: np.ndarray) -> np.ndarray:
    """Torque of the air over the stall torque, shape (..., CONTROLS), at surfaces (rad) under hinge moments (N m).

    Positive the way of a positive deflection; 0 where the torque is not given.
    """
    loads = np.asarray(hinges) * model[L.SERVO_GIVE : L.SERVO_GIVE + L.CONTROLS]
    return loads * _table(model, L.LINKAGE_RATE, np.asarray(deflections), lambda d: np.ones_like(d))


def servo_angles(model: np.ndarray, deflections: np.ndarray) -> np.ndarray:
    """Servo angles, as at the surface, shape (..., CONTROLS), where the surfaces stand at `deflections` (rad)."""
    return _table(model, L.LINKAGE_ANGLE, np.asarray(deflections), lambda d: d)


def commanded_surfaces(model: np.ndarray, commands: np.ndarray) -> np.ndarray:
    """Surfaces (rad), shape (..., CONTROLS), that commands would bring without load and play."""
    out = np.array(commands, dtype=float)
    for c in range(L.CONTROLS):
        if model[L.LINKAGE_SCALE + c] > 0.0:
            block = slice(c * L.LINKAGE_POINTS, (c + 1) * L.LINKAGE_POINTS)
            even = np.linspace(-1.0, 1.0, L.LINKAGE_POINTS) / model[L.LINKAGE_SCALE + c]
            out[..., c] = np.interp(out[..., c], model[L.LINKAGE_ANGLE :][block], even)
    return out


def _table(model: np.ndarray, row: int, deflections: np.ndarray, without) -> np.ndarray:
    out = without(deflections)
    for c in range(L.CONTROLS):
        if model[L.LINKAGE_SCALE + c] > 0.0:
            block = slice(c * L.LINKAGE_POINTS, (c + 1) * L.LINKAGE_POINTS)
            even = np.linspace(-1.0, 1.0, L.LINKAGE_POINTS) / model[L.LINKAGE_SCALE + c]
            out[..., c] = np.interp(deflections[..., c], even, model[row:][block])
    return out
