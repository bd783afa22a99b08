"""Propeller and power plant on a shaft held in a straight stream: where they run, how they spin up, how long they last.

Everything comes from the kernels of the flight (`sim.powerplant`, `sim.propeller`); here is only the search for the
speed at which both torques agree, and the integration over time.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sim import layout as L
from sim.atmosphere import density
from sim.build import Plane
from sim.powerplant import ELECTRIC, shaft_torque
from sim.propeller import COLUMNS, propeller_look_up

FASTEST = 4000.0  # rad/s, beyond any such propeller
STEP = 1e-3  # s
LONGEST = 30.0  # s that a step of the throttle is followed


@dataclass(frozen=True)
class Running:
    """A shaft in steady running: rotor speed (rad/s), thrust (N), torque (N m), drain (A from the battery, or kg/s)."""

    omega: float
    thrust: float
    torque: float
    drain: float

    @property
    def power(self) -> float:
        """Shaft power in W."""
        return self.torque * self.omega


@dataclass(frozen=True)
class Shaft:
    """The shaft of a plane: its model and propeller table, and the density of the air (kg/m3)."""

    model: np.ndarray
    table: np.ndarray
    rho: float

    @classmethod
    def of(cls, plane: Plane, height: float = 0.0) -> Shaft:
        """The shaft of `plane` at `height` m; its model is copied."""
        return cls(plane.model.copy(), plane.table, density(height))

    @property
    def electric(self) -> bool:
        """Whether a motor turns it."""
        return self.model[L.POWER_KIND] == ELECTRIC

    @property
    def store(self) -> float:
        """What the full battery or tank holds, A s or kg."""
        return float(self.model[L.CAPACITY] if self.electric else self.model[L.FUEL])

    def unlimited(self) -> Shaft:
        """The same with a controller that has no current limit: what the propeller would ask for."""
        model = self.model.copy()
        model[L.CURRENT_LIMIT] = 1e6
        return replace(self, model=model)

    def loads(self, omega: float, axial: float) -> tuple[float, float]:
        """Thrust (N) and the torque that the rotor feels (N m) at a rotor speed and an axial speed of the air."""
        out, radius = np.zeros(COLUMNS + 1), self.model[L.DISK_RADIUS]
        propeller_look_up(self.table, axial, 0.0, omega * radius, out)
        force = self.rho * out[COLUMNS] * radius * radius
        return float(out[0] * force), float(out[1] * force * radius)

    def running(self, throttle: float, axial: float = 0.0, used: float = 0.0) -> Running:
        """Steady running at a `throttle` (what the transmitter sends) with `used` drained from the store (A s or kg)."""
        low, high = 1e-6, FASTEST
        for _ in range(60):
            omega = 0.5 * (low + high)
            spare = shaft_torque(self.model, throttle, omega, used, throttle)[0] - self.loads(omega, axial)[1]
            low, high = (omega, high) if spare > 0.0 else (low, omega)
        thrust, torque = self.loads(omega, axial)
        drain = shaft_torque(self.model, throttle, omega, used, throttle)[1]
        return Running(omega, thrust, torque, float(drain))

    def volts(self, drain: float, used: float = 0.0) -> float:
        """Voltage of the battery while `drain` A are taken from it."""
        m = self.model
        share = min(1.0, max(0.0, used / m[L.CAPACITY]))
        open_circuit = m[L.CELL_VOLTS_FULL] + share * (m[L.CELL_VOLTS_EMPTY] - m[L.CELL_VOLTS_FULL])
        return float(open_circuit - drain * m[L.BATTERY_RESISTANCE])

    def spool(self, before: float, after: float) -> float:
        """Time in s from 10 to 90 % of the change of rotor speed after a step of the throttle, at rest; nan if too long.

        Classical Runge-Kutta steps of 1 ms on the rotor's speed and the throttle that acts.
        """
        start, end = self.running(before).omega, self.running(after).omega

        def rates(omega: float, acting: float) -> tuple[float, float]:
            torque, _, rate = shaft_torque(self.model, after, omega, 0.0, acting)
            return (torque - self.loads(omega, 0.0)[1]) / self.model[L.ROTOR_INERTIA], rate

        omega, acting, times = start, before, []
        for k in range(round(LONGEST / STEP)):
            k1 = rates(omega, acting)
            k2 = rates(omega + 0.5 * STEP * k1[0], acting + 0.5 * STEP * k1[1])
            k3 = rates(omega + 0.5 * STEP * k2[0], acting + 0.5 * STEP * k2[1])
            k4 = rates(omega + STEP * k3[0], acting + STEP * k3[1])
            was = (omega - start) / (end - start)
            omega += STEP / 6.0 * (k1[0] + 2.0 * k2[0] + 2.0 * k3[0] + k4[0])
            acting += STEP / 6.0 * (k1[1] + 2.0 * k2[1] + 2.0 * k3[1] + k4[1])
            now = (omega - start) / (end - start)
            for mark in (0.1, 0.9)[len(times) :]:
                if now >= mark:
                    times.append(STEP * (k + (mark - was) / (now - was)))
            if len(times) == 2:
                return times[1] - times[0]
        return math.nan

    def endurance(self, drain_at: Callable[[float], float | None], share: float) -> float:
        """Time in s until `share` of the store is used, when `drain_at(used)` is taken from it, or until that is None."""
        end = self.store * share
        if drain_at(end) is None:
            low, high = 0.0, end
            for _ in range(30):
                end = 0.5 * (low + high)
                low, high = (low, end) if drain_at(end) is None else (end, high)
            end = low
        used = np.linspace(0.0, end, 9)
        pace = np.array([1.0 / drain_at(q) for q in used])
        return float(end / 24.0 * (pace @ np.array([1, 4, 2, 4, 2, 4, 2, 4, 1])))  # Simpson's rule
