"""The compiled kernel against an independent build-up of NumPy arrays, over the whole sphere of flow directions."""

from __future__ import annotations

import numpy as np
import pytest

from sim import layout as L
from sim.equations_of_motion import WAKE_TILT, derivatives
from sim.integration import advance_frame
from sim.single_precision import use_single_precision
from sim.wind import Gust, Wind, in_wind
from tests.benchmarks import numpy_build_up


def random_state(plane, rng):
    """State and command: any attitude, flow direction, rates, deflections, circulation and separation."""
    n = int(plane.model[L.N_STRIPS])
    x = np.zeros(L.STATE)
    x[L.POSITION + 2] = -rng.uniform(0.0, 500.0)
    q, v = rng.normal(size=4), rng.normal(size=3)
    x[L.QUATERNION : L.QUATERNION + 4] = q / np.linalg.norm(q) * rng.uniform(0.999, 1.001)
    x[L.VELOCITY : L.VELOCITY + 3] = v / np.linalg.norm(v) * rng.uniform(0.0, 45.0)
    x[L.RATES : L.RATES + 3] = 3.0 * rng.normal(size=3)
    x[L.ROTOR] = rng.uniform(0.0, 800.0)
    x[L.CHARGE] = rng.uniform(0.0, 1.02) * (plane.model[L.CAPACITY] or plane.model[L.FUEL])
    x[L.POWER_LAG] = rng.uniform(0.0, 1.0)
    x[L.SERVO : L.SERVO + 4] = rng.uniform(-0.9, 0.9, size=4)
    x[L.CIRCULATION : L.CIRCULATION + n] = 2.0 * rng.normal(size=n)
    x[L.SEPARATION : L.SEPARATION + n] = rng.uniform(-0.02, 1.02, size=n)
    return x, np.r_[rng.uniform(-0.9, 0.9, size=4), rng.uniform(0.0, 1.0)]


UNIFORM = Wind(3.6, 2.6, roughness=0.0)
GUSTY = Wind(6.0, 4.0, w20=12.0, seed=5, gust=Gust((1.0, -2.0, -4.0), 15.0, 100.0))


@pytest.mark.parametrize("wind", [UNIFORM, GUSTY], ids=["uniform wind", "turbulence and gust"])
@pytest.mark.parametrize("plane_name", ["precision", "slow_3d", "piston"])
def test_kernel_and_arrays_give_the_same_rates(plane_name, wind, request):
    plane = in_wind(request.getfixturevalue(plane_name), wind, 60.0)
    arrays = numpy_build_up.NumpyPlane(plane.model, plane.table)
    rng, path = np.random.default_rng(11), np.random.default_rng(12)
    n = int(plane.model[L.N_STRIPS])
    rigid = flow = separation = 0.0
    for _ in range(100):
        x, command = random_state(plane, rng)
        x[L.AIR_PATH] = path.choice([path.uniform(0.0, 20.0), path.uniform(95.0, 120.0)])  # into both gusts
        dx = np.zeros(L.STATE)
        derivatives(x, command, plane.model, plane.table, dx)
        other = numpy_build_up.derivatives(arrays, x, command, WAKE_TILT)

        def apart(part, dx=dx, other=other):
            return np.abs(dx[part] - other[part]).max() / np.abs(other[part]).max()

        edges = (0, 3, 7, 10, 13, 14, 15, 16, 20)  # position, attitude, velocity, rates, rotor, charge, lag, servos
        groups = [*(slice(a, b) for a, b in zip(edges, edges[1:])), slice(L.AIR_PATH, L.STATE)]
        rigid = max(rigid, *(apart(g) for g in groups if np.abs(other[g]).max() > 0.0))
        flow = max(flow, apart(slice(L.CIRCULATION, L.CIRCULATION + n)))
        separation = max(separation, apart(slice(L.SEPARATION, L.SEPARATION + n)))
    print(f"worst relative difference: motion {rigid:.1e}, circulation {flow:.1e}, separation {separation:.1e}")
    # rounding in sums of some 2000 terms
    assert rigid < 1e-9
    assert flow < 1e-9
    # the kernel's exponential is a series, 1.1e-7 absolute on a separation point of at most 1, divided by rates
    assert separation < 3e-7


@pytest.mark.parametrize("plane_name", ["precision", "slow_3d", "piston"])
def test_single_precision_gives_the_same_rates(plane_name, request):
    plane = request.getfixturevalue(plane_name)
    model, single, rng = plane.model.copy(), plane.model.copy(), np.random.default_rng(3)
    use_single_precision(single)
    worst = 0.0
    for _ in range(200):
        x, command = random_state(plane, rng)
        plain, quick = np.zeros(L.STATE), np.zeros(L.STATE)
        derivatives(x, command, model, plane.table, plain)
        derivatives(x, command, single, plane.table, quick)
        assert np.isfinite(quick).all()
        for group in (slice(L.VELOCITY, L.RATES), slice(L.RATES, L.ROTOR), slice(L.CIRCULATION, L.SEPARATION)):
            worst = max(worst, np.abs(quick[group] - plain[group]).max() / np.abs(plain[group]).max())
    print(f"worst relative difference {worst:.1e}")
    # seven digits, less what cancels between the two sums of a leg (c sum(tau e) - sum(tau e n)) and in a leg's own
    # denominator: random circulation of 2 m2/s makes that two digits and a half, the flows of flights less
    assert 1e-8 < worst < 4e-4


def test_a_flight_in_single_precision_ends_where_one_in_double_does(precision, cruise):
    flown = []
    for quick in (False, True):
        model, x = precision.model.copy(), cruise.x.copy()
        if quick:
            use_single_precision(model)
        command = cruise.command + [0.15, -0.15, -0.15, 0.1, 0.2]  # a barrel roll
        k, stage = np.zeros((4, L.STATE)), np.zeros(L.STATE)
        for _ in range(400):
            advance_frame(x, command, model, precision.table, 0, k, stage)
        flown.append(x)
    apart = np.linalg.norm(flown[0][:3] - flown[1][:3])
    print(f"{1e3 * apart:.4f} mm after 4 s, {np.linalg.norm(flown[0][:3] - cruise.x[:3]):.0f} m of flight")
    assert apart < 0.5e-3  # the step's own error is 1 mm
