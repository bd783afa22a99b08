"""Power at the propeller shaft: an electric motor or a petrol engine, as torque and drain at a rotor speed.

Both kinds answer to the same two kernels.  `shaft_torque` gives the torque, what it takes
from the store (battery current in A, or fuel in kg/s), and the rate of the throttle that
acts; `throttle_for_torque` is its inverse.  The state CHARGE holds what has been drained
(A s or kg), POWER_LAG the throttle that acts.

**Electric.**  The controller is a buck converter without braking: it never takes current
back from the motor.  It answers at once.  Open-circuit voltage falls linearly with the
charge used; once the capacity is used up, the controller shuts down within 2 % more.

**Piston.**  Full-throttle brake torque is a map over speed.  A throttle plate and the
engine's own pumping stand in series: a share p of the full charge gets in where
p^2 / (1 - p) = u^2, u = opening / speed (orifice flow, the engine as a volumetric pump), so a
nearly closed throttle passes a constant flow and its torque falls with speed: it idles.
Indicated torque goes with the charge, friction rises with speed, and pumping against the
plate is what brakes a windmilling propeller.  Fuel goes with the indicated work.  The
engine never stops by itself while it has fuel; when that runs out, it drags.  The throttle
acts through a first-order lag (carburettor and crankcase filling).  A plate that turns by
a right angle opens 1 - cos of the way (Heywood, Internal Combustion Engine Fundamentals,
chapter 7; from memory); friction and pumping shares are common practice, no source.
"""

from __future__ import annotations

import math

import numpy as np

from sim import layout as L
from sim.atmosphere import density
from sim.compiled import kernel
from sim.description import ElectricPower, PistonPower, Propeller
from sim.propeller import COLUMNS, propeller_look_up

ELECTRIC, PISTON = 0.0, 1.0
CELL_FULL, CELL_EMPTY = 4.1, 3.5  # V open circuit, lithium polymer (common practice, no source)
FULL_CHARGE = 0.94  # share of a free intake's charge that an open throttle passes at the end of the torque map
OUT_OF_REACH = 2.0  # throttle that stands for more than the power plant has
SHUT_DOWN = 0.02  # of the capacity, over which the controller lets go of an empty battery
LAST_FUEL = 0.002  # kg over which the engine fades when its tank runs dry


@kernel
def _duty(m, current, omega, volts):
    """The share of time that sends `current` (A) through a motor at `omega` from a battery of `volts`; -1 when none does.

    current (Rm + duty^2 Rb) = duty volts - omega / kv: the smaller root.
    """
    a = current * m[L.BATTERY_RESISTANCE]
    c = current * m[L.WINDING_RESISTANCE] + omega / m[L.KV]
    inside = volts * volts - 4.0 * a * c
    return 2.0 * c / (volts + math.sqrt(inside)) if inside >= 0.0 else -1.0


@kernel
def shaft_torque(m, throttle, omega, used, acting):
    """Shaft torque (N m), drain (A or kg/s) and rate of the acting throttle (1/s).

    `throttle` 0..1 is what the transmitter sends, `omega` the rotor speed (rad/s), `used`
    what has been drained (A s or kg), `acting` the throttle that acts.
    """
    if m[L.POWER_KIND] == ELECTRIC:
        volts = _open_circuit_volts(m, used)
        current = throttle * volts - omega / m[L.KV]
        current /= m[L.WINDING_RESISTANCE] + throttle * throttle * m[L.BATTERY_RESISTANCE]
        limit = _current_limit(m, used)
        if current > limit:  # the controller chops until the motor's current is the limit, and the battery gives less
            current, throttle = limit, _duty(m, limit, omega, volts)
        current = max(0.0, current)
        return (current - _no_load(m, omega)) / m[L.KV], current * throttle, 0.0
    full = full_torque(m, omega)
    charge = _charge(m, plate_opening(m, acting), omega)
    firing = min(1.0, max(0.0, (m[L.FUEL] - used) / LAST_FUEL))
    drag, pumping = _friction(m, omega)
    indicated = firing * _indicated_at_full_charge(m, full, drag, pumping, omega) * charge
    torque = indicated - drag - pumping * (1.0 - charge)
    drain = m[L.FUEL_PER_JOULE] * indicated * abs(omega)
    return torque, drain, (throttle - acting) / m[L.THROTTLE_LAG]


@kernel
def throttle_for_torque(m, torque, omega, used):
    """The throttle that gives `torque` at `omega` in steady running.

    Above 1 when full throttle does not reach it, below 0 when a closed one gives more.
    """
    if m[L.POWER_KIND] == ELECTRIC:
        volts = _open_circuit_volts(m, used)
        current = torque * m[L.KV] + _no_load(m, omega)
        duty = _duty(m, current, omega, volts)
        return OUT_OF_REACH if duty < 0.0 or current > _current_limit(m, used) else duty
    firing = min(1.0, max(0.0, (m[L.FUEL] - used) / LAST_FUEL))
    drag, pumping = _friction(m, omega)
    indicated = firing * _indicated_at_full_charge(m, full_torque(m, omega), drag, pumping, omega)
    charge = (torque + drag + pumping) / (indicated + pumping)
    if charge <= 0.0:
        return -1.0
    if charge >= 1.0:
        return OUT_OF_REACH
    opening = charge / math.sqrt(1.0 - charge) * abs(omega) / m[L.BREATHING]
    share = (opening - m[L.IDLE_OPENING]) / (1.0 - m[L.IDLE_OPENING])
    return OUT_OF_REACH if share > 1.0 else -1.0 if share < 0.0 else math.acos(1.0 - share) * 2.0 / math.pi


@kernel
def steady_throttle_state(m, throttle):
    """What POWER_LAG holds in steady running: an electric motor has no such lag and leaves it at 0."""
    return throttle if m[L.POWER_KIND] == PISTON else 0.0


@kernel
def _open_circuit_volts(m, used):
    share = min(1.0, max(0.0, used / m[L.CAPACITY]))
    return m[L.CELL_VOLTS_FULL] + share * (m[L.CELL_VOLTS_EMPTY] - m[L.CELL_VOLTS_FULL])


@kernel
def _current_limit(m, used):
    left = 1.0 + SHUT_DOWN - used / m[L.CAPACITY]
    return m[L.CURRENT_LIMIT] * min(1.0, max(0.0, left / SHUT_DOWN))


@kernel
def _no_load(m, omega):
    return m[L.NO_LOAD_CURRENT] * omega / (abs(omega) + 5.0)


@kernel
def full_torque(m, omega):
    """Brake torque (N m) of the piston engine at full throttle, from its map; 0 past the end."""
    at = max(0.0, omega) / m[L.TORQUE_TOP] * (L.TORQUE_POINTS - 1)
    if at >= L.TORQUE_POINTS - 1:
        return 0.0
    i = int(at)
    low = m[L.TORQUE_MAP + i]
    return low + (at - i) * (m[L.TORQUE_MAP + i + 1] - low)


@kernel
def plate_opening(m, throttle):
    """Open share of the carburettor's throat; the idle stop keeps a little."""
    turned = min(1.0, max(0.0, throttle))
    return m[L.IDLE_OPENING] + (1.0 - m[L.IDLE_OPENING]) * (1.0 - math.cos(0.5 * math.pi * turned))


@kernel
def _charge(m, opening, omega):
    """Share of a full charge that gets past the plate: p^2 / (1 - p) = u^2."""
    inverse = abs(omega) / (opening * m[L.BREATHING])
    return 2.0 / (1.0 + math.sqrt(1.0 + 4.0 * inverse * inverse))


@kernel
def _friction(m, omega):
    """Mechanical drag and greatest pumping torque (N m) against the sense of turning."""
    sign = omega / (abs(omega) + 5.0)
    return sign * (m[L.FRICTION] + m[L.FRICTION_SLOPE] * abs(omega)), sign * m[L.PUMPING]


@kernel
def _indicated_at_full_charge(m, full, drag, pumping, omega):
    """Indicated torque per share of charge such that a full throttle gives the map's brake torque."""
    charge = _charge(m, 1.0, omega)
    return (full + drag + pumping * (1.0 - charge)) / charge


def place_power(power: ElectricPower | PistonPower, propeller: Propeller, table: np.ndarray, model: np.ndarray) -> None:
    """Fill the power scalars of `model`; `propeller` and its `table` set a piston engine's idle stop.

    Raises ValueError when a shut throttle would have to be more than half open for the propeller to idle.
    """
    if isinstance(power, ElectricPower):
        model[L.POWER_KIND] = ELECTRIC
        model[L.CELL_VOLTS_FULL], model[L.CELL_VOLTS_EMPTY] = power.cells * CELL_FULL, power.cells * CELL_EMPTY
        model[L.CAPACITY] = power.capacity
        model[L.BATTERY_RESISTANCE] = power.cells * power.cell_resistance
        model[L.KV] = power.kv
        model[L.WINDING_RESISTANCE] = power.winding_resistance
        model[L.NO_LOAD_CURRENT] = power.no_load_current
        model[L.CURRENT_LIMIT] = power.current_limit
        return
    speeds, torques = np.array(power.torque).T
    most, last = float(torques.max()), float(speeds[-1])
    top = 1.25 * last
    model[L.POWER_KIND] = PISTON
    model[L.FUEL], model[L.THROTTLE_LAG] = power.fuel, power.throttle_lag
    model[L.TORQUE_TOP] = top
    map_ = np.interp(np.linspace(0.0, top, L.TORQUE_POINTS), np.r_[speeds, top], np.r_[torques, 0.0])
    model[L.TORQUE_MAP : L.TORQUE_MAP + L.TORQUE_POINTS] = map_
    model[L.FRICTION] = power.friction_share[0] * most
    model[L.FRICTION_SLOPE] = power.friction_share[1] * most / last
    model[L.PUMPING] = power.pumping_share * most
    model[L.BREATHING] = last * FULL_CHARGE / math.sqrt(1.0 - FULL_CHARGE)
    model[L.FUEL_PER_JOULE] = 1.0
    at = float(speeds[np.argmax(speeds * torques)])
    _, indicated, _ = shaft_torque(model, 1.0, at, -1.0, 1.0)
    model[L.FUEL_PER_JOULE] = power.consumption * full_torque(model, at) * at / indicated
    # the idle stop, as it is set on the field: with this propeller, standing still
    loads, radius = np.zeros(COLUMNS + 1), 0.5 * propeller.diameter
    propeller_look_up(table, 0.0, 0.0, power.idle * radius, loads)
    torque = loads[1] * loads[COLUMNS] * density(0.0) * radius**3
    low, high = 1e-6, 0.5
    for _ in range(50):
        model[L.IDLE_OPENING] = 0.5 * (low + high)
        enough = shaft_torque(model, 0.0, power.idle, 0.0, 0.0)[0] > torque
        low, high = (low, model[L.IDLE_OPENING]) if enough else (model[L.IDLE_OPENING], high)
    if high == 0.5:
        rpm = power.idle * 60.0 / (2.0 * math.pi)
        raise ValueError(f"the engine cannot turn this propeller at an idle of {rpm:.0f} rpm")
