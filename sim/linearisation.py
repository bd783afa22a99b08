"""Slopes of the loads about a steady state: lift slope, neutral point, static margin, control power."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sim import layout as L
from sim.account import loads_of
from sim.build import Plane
from sim.trim import LAPS, Trim, blank_state, relax_flow


@dataclass(frozen=True)
class PitchStability:
    """`neutral_point` station (m aft of the wing root leading edge), `static_margin` (fraction of MAC),
    `lift_slope` (per rad, on wing area), stick fixed, controls at the trim."""

    neutral_point: float
    static_margin: float
    lift_slope: float


def steady_loads(plane: Plane, x: np.ndarray, command: np.ndarray, table: np.ndarray | None = None) -> np.ndarray:
    """Forces and moments by part, shape (N_PARTS, 6), with the flow settled at the motion in `x` (unchanged).

    `table` stands in for the propeller's.
    """
    state, dx = x.copy(), np.zeros(L.STATE)
    relax_flow(state, command, plane.model, plane.table if table is None else table, dx, LAPS)
    return loads_of(plane.model)


PROPULSION = (L.THRUST, L.OBLIQUE, L.TORQUE, L.GYROSCOPIC)


def pitch_stability(plane: Plane, trim: Trim, step: float = math.radians(0.5)) -> PitchStability:
    """Stick-fixed pitch stability about the angle of attack of `trim`, propeller off (no thrust, no slipstream).

    Central difference over +-`step` rad of alpha, flow settled at each.
    """
    airspeed = float(np.linalg.norm(trim.x[L.VELOCITY : L.VELOCITY + 3]))
    alpha0 = math.atan2(trim.x[L.VELOCITY + 2], trim.x[L.VELOCITY])
    still = np.zeros_like(plane.table)  # a propeller that does nothing
    rows = []
    for alpha in (alpha0 - step, alpha0 + step):
        x = blank_state(-trim.x[L.POSITION + 2])
        x[L.VELOCITY], x[L.VELOCITY + 2] = airspeed * math.cos(alpha), airspeed * math.sin(alpha)
        x[L.SERVO : L.SERVO + L.CONTROLS] = trim.command[: L.CONTROLS]
        loads = steady_loads(plane, x, trim.command, still)
        loads = np.delete(loads, [L.WEIGHT, *PROPULSION], axis=0).sum(axis=0)
        lift = loads[0] * math.sin(alpha) - loads[2] * math.cos(alpha)
        rows.append((lift, loads[4]))
    d_lift, d_moment = np.subtract(rows[1], rows[0]) / (2.0 * step)
    margin = -d_moment / d_lift / plane.mac
    pressure = 0.5 * 1.225 * airspeed**2
    return PitchStability(
        plane.cg_station + margin * plane.mac, float(margin), float(d_lift / (pressure * plane.wing_area))
    )
