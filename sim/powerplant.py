"""Electric power: battery, controller and motor, as torque and current at a rotor speed."""

from __future__ import annotations

import math

from sim import layout as L
from sim.compiled import kernel


@kernel
def electric_torque(m, duty, omega, charge):
    """Shaft torque (N m) and battery current (A) at controller duty 0..1, rotor speed `omega` rad/s, charge used A s.

    The controller is a buck converter without braking: it never takes current back
    from the motor.  Open-circuit voltage falls linearly with the charge used.
    """
    used = min(1.0, max(0.0, charge / m[L.CAPACITY]))
    volts = m[L.CELL_VOLTS_FULL] + used * (m[L.CELL_VOLTS_EMPTY] - m[L.CELL_VOLTS_FULL])
    current = (duty * volts - omega / m[L.KV]) / (m[L.WINDING_RESISTANCE] + duty * duty * m[L.BATTERY_RESISTANCE])
    current = min(m[L.CURRENT_LIMIT], max(0.0, current))
    friction = m[L.NO_LOAD_CURRENT] * omega / (abs(omega) + 5.0)
    return (current - friction) / m[L.KV], current * duty


@kernel
def duty_for_torque(m, torque, omega, charge):
    """The duty that gives `torque` at `omega`, or a value above 1 when full throttle does not reach it."""
    used = min(1.0, max(0.0, charge / m[L.CAPACITY]))
    volts = m[L.CELL_VOLTS_FULL] + used * (m[L.CELL_VOLTS_EMPTY] - m[L.CELL_VOLTS_FULL])
    friction = m[L.NO_LOAD_CURRENT] * omega / (abs(omega) + 5.0)
    current = torque * m[L.KV] + friction
    # current (Rm + duty^2 Rb) = duty V - omega / kv: the smaller root
    a = current * m[L.BATTERY_RESISTANCE]
    c = current * m[L.WINDING_RESISTANCE] + omega / m[L.KV]
    inside = volts * volts - 4.0 * a * c
    if inside < 0.0 or current > m[L.CURRENT_LIMIT]:
        return 2.0
    return 2.0 * c / (volts + math.sqrt(inside))
