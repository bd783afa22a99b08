"""Speed of the flown stall against level flight at the model's own greatest lift: V = sqrt(2 m g / (rho S CL))."""

import math

import numpy as np
import pytest

from sim import layout as L
from sim.atmosphere import density
from sim.frames import G
from sim.trim import blank_state, relax_flow
from tests.scenarios.flying import plane_of, value

HEIGHT = 120.0  # m, where the manoeuvre starts


def greatest_lift(plane, speed: float) -> tuple[float, float]:
    """First peak of the lift coefficient and its alpha in deg, propeller off, controls neutral, alpha from 4 to 26 deg.

    Far past it body and tail may carry as much again; no one-g stall gets there.
    """
    still, command, dx = np.zeros_like(plane.table), np.zeros(L.COMMAND), np.zeros(L.STATE)
    best = (0.0, 0.0)
    pressure = 0.5 * density(HEIGHT) * speed**2
    for degrees in np.arange(4.0, 26.5, 0.5):
        alpha = math.radians(degrees)
        x = blank_state(HEIGHT)
        x[L.VELOCITY], x[L.VELOCITY + 2] = speed * math.cos(alpha), speed * math.sin(alpha)
        relax_flow(x, command, plane.model, still, dx, 1500)
        loads = plane.model[L.ACCOUNT : L.ACCOUNT + 6 * L.N_PARTS].reshape(L.N_PARTS, 6)
        aero = np.delete(loads, [L.WEIGHT, L.THRUST, L.OBLIQUE, L.GYROSCOPIC, L.TORQUE], axis=0).sum(axis=0)
        lift = (aero[0] * math.sin(alpha) - aero[2] * math.cos(alpha)) / (pressure * plane.wing_area)
        if lift < best[0]:
            return best
        best = (lift, float(degrees))
    return best


@pytest.mark.parametrize("setup", ["precision", "extreme", "slow-3d"])
def test_the_flown_stall_is_that_of_level_flight_at_the_greatest_lift(setup):
    # 7 %: the tail's download, the drag of the windmilling propeller (3 N of 64 N weight) and the pace of the slow-down
    # that it sets, 1.2 m/s in a second, are not in the formula.
    plane = plane_of(setup)
    measured = value("stall_speed", setup, "stall")
    lift, alpha = greatest_lift(plane, measured)
    assert 4.0 < alpha < 26.0  # a maximum inside the sweep, not at its edge
    assert measured == pytest.approx(level_speed(plane, lift), rel=0.07)


def level_speed(plane, lift: float) -> float:
    """Level flight at one g with the lift coefficient `lift`."""
    return math.sqrt(2.0 * plane.mass.mass * G / (density(HEIGHT) * plane.wing_area * lift))
