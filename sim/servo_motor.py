"""What a servo draws: a permanent-magnet motor behind gears and a bridge that switches the supply.

With m the motor's torque over its own at stall, and u the share of the supply that the bridge puts on it, a motor
with a straight torque-speed line has u = m + rate / top speed, draws m times its stall current in its winding and u m
times it from the supply.  So the electrical power V I u m is the winding's heat V I m^2 plus the shaft's
V I m rate / top speed, and what the bridge brakes is not given back.  The motor carries the load, the friction
of its gears, and its own inertia (the first-order lag of the servo is its mechanical time constant).

Stall torque and speed without load are those of a catalogue, at the servo's shaft and with friction in both: torque at
the motor is (1 + friction) times the one, its top speed (1 + friction) times the other, and power over stall current
follows from V I = torque * top speed.  Where a stall current is given it decides the friction; else FRICTION does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sim.description import Servo

FRICTION = 0.2  # of gears and brushes, over stall torque (common practice, no source): best efficiency 0.35
LEAST_FRICTION = 0.05
VOLTS = 7.4  # where the setup does not say
IDLE = 0.03  # A, the servo's electronics at rest (common practice, no source)
STANDS = 0.1  # rad/s below which friction gives way to rest


@dataclass(frozen=True)
class Motor:
    """One servo as its supply sees it: `volts`, `stall_current` (A), `friction` over stall torque, `speed` (rad/s) and
    `lag` (s) as in the setup, `torque` (N m); `estimated` the names of values that the setup does not give."""

    volts: float
    stall_current: float
    friction: float
    speed: float
    lag: float
    torque: float
    estimated: tuple[str, ...]

    @property
    def agrees(self) -> bool:
        """Whether torque, speed, voltage and stall current can be those of one servo: no power from nothing."""
        return self.volts * self.stall_current >= self.torque * self.speed * (1.0 + LEAST_FRICTION) ** 2 * (1.0 - 1e-9)


def motor_of(servo: Servo) -> Motor:
    """The motor of `servo`, whose torque has to be given."""
    volts = VOLTS if servo.volts is None else servo.volts
    shaft = servo.torque * servo.speed
    if servo.stall_current is None:
        friction, current = FRICTION, shaft * (1.0 + FRICTION) ** 2 / volts
    else:
        current = servo.stall_current
        friction = max(LEAST_FRICTION, math.sqrt(volts * current / shaft) - 1.0)
    given = {"voltage": servo.volts, "stall current": servo.stall_current}
    estimated = tuple(name for name, value in given.items() if value is None)
    return Motor(volts, current, friction, servo.speed, servo.lag, servo.torque, estimated)


def motor_torque(motor: Motor, load: np.ndarray, rate: np.ndarray, acceleration: np.ndarray) -> np.ndarray:
    """Torque of the motor over its own at stall, positive the way of a positive angle.

    `load` is the torque of the air over the servo's stall torque, `rate` (rad/s) and
    `acceleration` (rad/s2) the servo's at its shaft.
    """
    friction = motor.friction * rate / (np.abs(rate) + STANDS)
    return (friction - load + motor.lag / motor.speed * acceleration) / (1.0 + motor.friction)


def power_drawn(motor: Motor, load: np.ndarray, rate: np.ndarray, acceleration: np.ndarray) -> np.ndarray:
    """Electrical power (W) of one servo, its electronics included; arguments as `motor_torque`."""
    torque = motor_torque(motor, load, rate, acceleration)
    share = np.clip(torque + rate / (motor.speed * (1.0 + motor.friction)), -1.0, 1.0)
    return motor.volts * (motor.stall_current * np.maximum(share * torque, 0.0) + IDLE)
