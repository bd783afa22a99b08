"""Free rotation of a rigid body against closed forms, published check cases and a general-purpose physics engine."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ellipj

from sim import layout as L
from sim.added_mass import set_mass
from sim.equations_of_motion import rigid_body_rates
from sim.frames import body_to_earth, euler_angles, quaternion_from_euler
from tests.sim.isolated import blank_model
from tests.sim.reference import facts, table

FOOT, SLUG = 0.3048, 14.593903


def body(inertia: np.ndarray, mass: float = 1.0) -> np.ndarray:
    model = blank_model()
    set_mass(model, mass, inertia)
    return model


def fly(model, x, seconds, step, load=lambda x: (0.0,) * 6):
    """States (n + 1, 13) of a classical Runge-Kutta integration at `step` s under `load(x)` (body force and moment)."""

    def rate(x):
        dx = np.zeros(13)
        rigid_body_rates(x, model, *load(x), dx)
        return dx

    path = [x.copy()]
    for _ in range(round(seconds / step)):
        k1 = rate(x)
        k2 = rate(x + 0.5 * step * k1)
        k3 = rate(x + 0.5 * step * k2)
        k4 = rate(x + step * k3)
        x = x + step / 6.0 * (k1 + 2 * k2 + 2 * k3 + k4)
        path.append(x)
    return np.array(path)


def at_rest(rates=(0.0, 0.0, 0.0)) -> np.ndarray:
    x = np.zeros(13)
    x[L.QUATERNION] = 1.0
    x[L.RATES : L.RATES + 3] = rates
    return x


def turn(x) -> np.ndarray:
    return np.array(body_to_earth(*x[L.QUATERNION : L.QUATERNION + 4])).reshape(3, 3)


def test_torque_free_rates_are_jacobi_elliptic_functions():
    # Landau & Lifshitz, Mechanics, section 37 (I1 < I2 < I3, M^2 > 2 E I2): Omega = (cn, sn, dn)
    i1, i2, i3 = 0.6, 1.1, 1.5
    rates = np.array([1.0, 0.0, 3.0])  # starts where sn = 0
    energy2 = i1 * rates[0] ** 2 + i3 * rates[2] ** 2
    momentum2 = (i1 * rates[0]) ** 2 + (i3 * rates[2]) ** 2
    assert momentum2 > energy2 * i2
    pace = math.sqrt((i3 - i2) * (momentum2 - energy2 * i1) / (i1 * i2 * i3))
    modulus2 = (i2 - i1) * (energy2 * i3 - momentum2) / ((i3 - i2) * (momentum2 - energy2 * i1))
    path = fly(body(np.diag([i1, i2, i3])), at_rest(rates), 20.0, 0.005)
    time = 0.005 * np.arange(len(path))
    sn, cn, dn, _ = ellipj(pace * time, modulus2)
    amplitude = math.sqrt((energy2 * i3 - momentum2) / (i2 * (i3 - i2)))
    expected = np.c_[rates[0] * cn, amplitude * sn, rates[2] * dn]
    # rad/s; the Runge-Kutta error of 20 s in 5 ms steps is of the order 20 s x (3/s)^5 x (5 ms)^4 = 3e-6
    assert np.abs(path[:, L.RATES : L.RATES + 3] - expected).max() < 3e-6


def test_a_tumbling_asymmetric_body_follows_a_physics_engine():
    mujoco = pytest.importorskip("mujoco")
    inertia = np.array([[0.30, -0.02, 0.05], [-0.02, 0.55, 0.01], [0.05, 0.01, 0.75]])
    mass, rates = 6.9, (2.0, -1.0, 1.5)
    engine = mujoco.MjModel.from_xml_string(f"""
        <mujoco><option gravity="0 0 0" timestep="0.001" integrator="RK4"/>
        <worldbody><body><freejoint/><inertial pos="0 0 0" mass="{mass}"
        fullinertia="0.30 0.55 0.75 -0.02 0.05 0.01"/></body></worldbody></mujoco>""")
    data = mujoco.MjData(engine)
    data.qvel[3:6] = rates  # a free joint's angular velocity is in body axes
    for _ in range(5000):
        mujoco.mj_step(engine, data)
    end = fly(body(inertia, mass), at_rest(rates), 5.0, 0.002)[-1]
    # both integrate with fourth order at 1 to 2 ms: differences of 1e-8 are rounding and truncation
    same = np.sign(end[L.QUATERNION] * data.qpos[3])
    assert np.abs(end[L.QUATERNION : L.QUATERNION + 4] - same * data.qpos[3:7]).max() < 1e-7
    assert np.abs(end[L.RATES : L.RATES + 3] - data.qvel[3:6]).max() < 1e-7  # rad/s


def test_energy_and_angular_momentum_are_kept():
    # rigid_body_identities.yaml: both constant without torque, tolerance 1e-6
    inertia = np.array([[0.30, -0.02, 0.05], [-0.02, 0.55, 0.01], [0.05, 0.01, 0.75]])
    path = fly(body(inertia), at_rest((4.0, -3.0, 5.0)), 10.0, 0.002)
    rates = path[:, L.RATES : L.RATES + 3]
    energy = 0.5 * np.einsum("ni,ij,nj->n", rates, inertia, rates)
    momentum = np.array([turn(x) @ inertia @ x[L.RATES : L.RATES + 3] for x in path[::50]])
    assert np.abs(energy / energy[0] - 1.0).max() < 1e-6
    assert np.abs(momentum - momentum[0]).max() / np.linalg.norm(momentum[0]) < 1e-6


def test_spin_about_the_middle_axis_diverges_at_the_textbook_rate():
    example = facts("rigid_body_identities.yaml")["middle_axis_example"]
    i1, i2, i3 = example["I1_I2_I3"]
    growth = example["divergence_rate_per_s"]
    # start on the growing eigenvector: delta q1 : q3 = (I2 - I3) W / I1 : growth
    w = example["spin_rad_s"]
    small = 1e-6 * np.array([(i2 - i3) * w / i1, 0.0, growth]) / growth
    path = fly(body(np.diag([i1, i2, i3])), at_rest(np.array([0.0, w, 0.0]) + small), 2.0, 0.002)
    measured = math.log(path[-1, L.RATES + 2] / path[0, L.RATES + 2]) / 2.0
    assert measured == pytest.approx(growth, rel=1e-6)


def test_axisymmetric_body_precesses_at_the_textbook_rate():
    example = facts("rigid_body_identities.yaml")["axisymmetric_precession_example"]
    axial, across, spin = example["I_axial"], example["I_transverse"], example["spin_axial_rad_s"]
    path = fly(body(np.diag([axial, across, across])), at_rest((spin, 0.1, 0.0)), 1.0, 0.001)
    phase = math.atan2(path[-1, L.RATES + 2], path[-1, L.RATES + 1])
    expected = example["body_precession_rad_s"] * 1.0  # rad after one second, less whole turns
    assert math.remainder(phase - expected, 2 * math.pi) == pytest.approx(0.0, abs=1e-6)


def test_gyroscopic_moment_of_a_clockwise_propeller_yawed_right_is_nose_down():
    from sim.equations_of_motion import derivatives
    from sim.trim import blank_state
    from tests.sim.isolated import NO_PROPELLER

    example = facts("rigid_body_identities.yaml")["gyroscopic_moment_example"]
    model, x = blank_model(), blank_state(0.0)
    model[L.ROTOR_INERTIA] = example["I_prop_kg_m2"]
    x[L.ROTOR], x[L.RATES + 2] = example["spin_rad_s"], example["yaw_rate_rad_s"]
    derivatives(x, np.zeros(L.COMMAND), model, NO_PROPELLER, np.zeros(L.STATE))
    moment = model[L.ACCOUNT + 6 * L.GYROSCOPIC :][3:6]
    assert moment == pytest.approx([0.0, -example["pitch_moment_magnitude_N_m"], 0.0], abs=1e-9)


def test_nasa_check_case_2_tumbling_brick():
    # NASA/TM-2015-218675 Vol. II, case 2 (rates with respect to inertial space do not depend on the Earth);
    # trajectory file: own integration, 4e-5 deg/s from the published end state.  Tolerance 1e-4 deg/s: its digits.
    rows = table("nasa_checkcase_02_trajectory.csv")
    brick = np.diag([0.001894220, 0.006211019, 0.007194665]) * SLUG * FOOT**2
    path = fly(body(brick, 0.155404754 * SLUG), at_rest(np.radians([10.0, 20.0, 30.0])), 30.0, 0.01)
    flown = np.degrees(path[::100, L.RATES : L.RATES + 3])
    published = np.array([[r["p_deg_s"], r["q_deg_s"], r["r_deg_s"]] for r in rows])
    assert flown.shape == published.shape
    assert np.abs(flown - published).max() < 1e-4


def test_flat_earth_sphere_falls_and_flies_as_the_nasa_analogues():
    # flat_earth_sphere_analogues.csv: cases 4, 7, 9 of NASA/TM-2015-218675 on a flat Earth with constant gravity
    # and geopotential air density.  2e-6 relative: printed digits; 2e-4 m/s beside that, because the file does not
    # state the radius in its geopotential conversion.
    from sim.atmosphere import density

    mass, area = 14.5939, 0.0182415
    model = body(np.eye(3), mass)
    for case, wind in (("drop_still", 0.0), ("drop_wind_20fps_east", 6.096), ("cannon_45deg", 0.0)):
        rows = table("flat_earth_sphere_analogues.csv", case=case)
        x = at_rest()
        x[:3] = rows[0]["x"], rows[0]["y"], -rows[0]["z"]
        x[7:10] = rows[0]["vx"], rows[0]["vy"], -rows[0]["vz"]

        def load(x, wind=wind):
            height = -x[2]
            air = x[7:10] - np.array([0.0, wind, 0.0])
            geopotential = height * 6356766.0 / (6356766.0 + height)  # US 1976, earth radius 6356.766 km
            drag = -0.5 * density(geopotential) * 0.1 * area * np.linalg.norm(air) * air
            return (*(drag + np.array([0.0, 0.0, mass * 9.80665])), 0.0, 0.0, 0.0)

        path = fly(model, x, rows[-1]["t_s"], 0.02, load)
        for row in rows:
            x = path[round(row["t_s"] / 0.02)]
            assert x[:3] * [1, 1, -1] == pytest.approx([row["x"], row["y"], row["z"]], rel=2e-6, abs=1e-4)  # m
            assert x[7:10] * [1, 1, -1] == pytest.approx([row["vx"], row["vy"], row["vz"]], rel=2e-6, abs=2e-4)


def test_euler_angles_invert_the_quaternion():
    for bank, pitch, heading in ((0.3, -0.7, 2.0), (-2.9, 1.2, -0.4), (1.0, 0.0, 3.0)):
        r = np.array(body_to_earth(*quaternion_from_euler(bank, pitch, heading)))
        assert euler_angles(r[0], r[3], r[6], r[7], r[8]) == pytest.approx((bank, pitch, heading), abs=1e-12)
