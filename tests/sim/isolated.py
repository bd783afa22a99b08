"""Surfaces alone in a stream, without fuselage or propeller: models and their steady coefficients."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sim import layout as L
from sim.added_mass import set_mass
from sim.description import Surface
from sim.lifting_surfaces import place_surfaces
from sim.propeller import COLUMNS, INFLOW_STEPS, MU_STEPS
from sim.trim import blank_state, relax_flow

NO_PROPELLER = np.zeros(INFLOW_STEPS * MU_STEPS * COLUMNS)
RHO = 1.225


def blank_model() -> np.ndarray:
    """A model of 1 kg with unit inertia, no strips, no bodies and a propeller of no consequence."""
    model = np.zeros(L.SIZE)
    set_mass(model, 1.0, np.eye(3))
    model[L.SHAFT] = 1.0
    model[L.DISK_RADIUS], model[L.SENSE], model[L.ROTOR_INERTIA] = 0.1, 1.0, 1.0
    model[L.CELL_VOLTS_FULL], model[L.CELL_VOLTS_EMPTY], model[L.CAPACITY] = 1.0, 1.0, 1.0
    model[L.BATTERY_RESISTANCE], model[L.KV], model[L.WINDING_RESISTANCE] = 1.0, 1.0, 1.0
    model[L.CURRENT_LIMIT] = 1.0
    model[L.SERVO_SPEED : L.SERVO_SPEED + 4] = 10.0
    model[L.SERVO_LAG : L.SERVO_LAG + 4] = 0.02
    return model


def straight(aspect: float, taper: float = 1.0, strips: int = 18, area: float = 0.8, sweep_quarter: float = 0.0,
             thickness: float = 0.12, name: str = "wing", at=(0.0, 0.0, 0.0)) -> Surface:  # fmt: skip
    """A straight-tapered symmetric wing of `area` m2; its quarter-chord line is swept by `sweep_quarter` rad."""
    span = math.sqrt(aspect * area)
    root = 2.0 * area / (span * (1.0 + taper))
    tip = taper * root
    start = np.asarray(at, float)
    # the tip's quarter-chord point lies span/2 tan(sweep) behind the root's
    back = 0.25 * (root - tip) + 0.5 * span * math.tan(sweep_quarter)
    end = start + np.array([-back, 0.5 * span, 0.0])
    return Surface(name, True, tuple(start), tuple(end), root, tip, thickness=thickness, strips=strips)


@dataclass
class Stream:
    """Surfaces in a stream of `speed` m/s; `flow` settles the strips, the loads are about the reference point."""

    surfaces: tuple[Surface, ...]
    speed: float = 30.0
    at: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def __post_init__(self):
        self.model = blank_model()
        self.strips = place_surfaces(self.surfaces, np.asarray(self.at, float), self.model)
        wing = self.surfaces[0]
        half = math.hypot(wing.tip[1] - wing.root[1], wing.tip[2] - wing.root[2])
        sides = 2.0 if wing.symmetric else 1.0
        self.span = sides * half
        self.area = sides * half * 0.5 * (wing.root_chord + wing.tip_chord)
        self.aspect = self.span**2 / self.area

    def flow(self, alpha: float, beta: float = 0.0, rates=(0.0, 0.0, 0.0), deflection=(0.0,) * 4, start=None):
        """State with the flow settled at these angles (rad), rates (rad/s) and deflections (rad)."""
        x = blank_state(0.0) if start is None else start.copy()
        x[L.VELOCITY : L.VELOCITY + 3] = self.speed * np.array(
            [math.cos(alpha) * math.cos(beta), math.sin(beta), math.sin(alpha) * math.cos(beta)]
        )
        x[L.RATES : L.RATES + 3] = rates
        x[L.SERVO : L.SERVO + 4] = deflection
        self.left = relax_flow(x, np.zeros(L.COMMAND), self.model, NO_PROPELLER, np.zeros(L.STATE), 6000)
        return x

    def loads(self, *args, **kwargs) -> np.ndarray:
        """Force and moment (6,) of all surfaces in body axes with the flow settled."""
        self.flow(*args, **kwargs)
        account = self.model[L.ACCOUNT : L.ACCOUNT + 6 * L.N_PARTS].reshape(L.N_PARTS, 6)
        return account[: L.FUSELAGE].sum(axis=0)

    def lift_and_drag(self, alpha: float, **kwargs) -> tuple[float, float]:
        """CL and CD on the first surface's area."""
        force = self.loads(alpha, **kwargs)
        q = 0.5 * RHO * self.speed**2 * self.area
        return (force[0] * math.sin(alpha) - force[2] * math.cos(alpha)) / q, -(
            force[0] * math.cos(alpha) + force[2] * math.sin(alpha)
        ) / q
