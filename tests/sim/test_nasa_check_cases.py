"""Atmospheric check cases 1, 3, 4, 6, 7 and 9 of NASA/TM-2015-218675 (case 2 is in test_rigid_body).

Two routes, so that each error is known to be the flat earth's:

* the very definitions of the cases: `rigid_body_rates` in inertial axes through the centre
  of the earth, under the gravity, air and loads of the case.  It meets the published states.
* the flat earth that pilots fly in (`derivatives`: constant standard gravity, height taken
  as geopotential, no rotation, no curvature), with an aeroplane that is one drag body.  It
  is the first route with the earth made flat, to the printed digits, so whatever it misses
  of the published states is the earth model; how much is in the table `MISSED`.

What a flat, still earth cannot meet: gravity 0.13 % (sphere) to 0.54 % (turning earth at the
Equator, of which the turning takes 0.35 %) below standard over these falls; Coriolis drift
(2.1 ft/s eastward after a fall of 30 s, and 2 V times the earth's rate of lift in case 9); the
vertical that turns with the earth and with longitude (0.125 and 0.06 deg in 30 s).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from sim import layout as L
from sim.atmosphere import density
from sim.description import DragBody, Fuselage, FuselageStation
from sim.equations_of_motion import derivatives
from sim.frames import G, euler_angles, quaternion_from_euler
from sim.fuselage_aero import place_bodies
from sim.integration import rk_step
from sim.trim import blank_state
from tests.sim.isolated import NO_PROPELLER
from tests.sim.reference import facts, table
from tests.sim.test_rigid_body import FOOT, SLUG, at_rest, body, fly, turn

PUBLISHED = facts("nasa_checkcases.yaml")
CASES = {case["id"]: case for case in PUBLISHED["cases"]}
EARTH = PUBLISHED["constants"]
WIND_EAST = {7: 20.0 * FOOT}  # m/s


def vehicle(name: str) -> tuple[float, np.ndarray, dict]:
    """Mass (kg), inertia (kg m2) and the published entries of "sphere" or "brick"."""
    given = PUBLISHED["vehicles"][name]
    inertia = np.diag(given["Ixx_Iyy_Izz_slug_ft2"]) * SLUG * FOOT**2
    return given["mass_slug"] * SLUG, inertia, given


def start(case: dict) -> tuple[float, np.ndarray, np.ndarray, np.ndarray]:
    """Height (m), velocity over ground north east down (m/s), Euler angles (rad), rates in inertial space (rad/s)."""
    initial = case["initial"]
    return (
        initial["alt_ft"] * FOOT,
        np.array(initial["v_ned_ft_s"]) * FOOT,
        np.radians(initial["euler_rpy_deg"]),
        np.radians(initial["rate_inertial_deg_s"]),
    )


# ---- the definitions themselves, with the rigid-body kernel in inertial axes -----------------------------------------


class Earth:
    """The earth of a case, all motion in the plane of the Equator.

    Inertial axes through its centre are north, east and down of the start; seen there, a
    body at angle `theta` has turned eastward by it.
    """

    def __init__(self, case: dict):
        self.mu = float(EARTH["mu_ft3_s2"]) * FOOT**3
        round_still = case["earth"].startswith("sphere")
        self.radius = (EARTH["earth_sphere_radius_ft"] if round_still else EARTH["earth_equatorial_radius_ft"]) * FOOT
        self.j2 = 0.0 if round_still else EARTH["J2"]
        self.rate = 0.0 if round_still else EARTH["earth_rate_rad_s"]
        self.wind = WIND_EAST.get(case["id"], 0.0)

    def geopotential(self, height: float) -> float:
        """The height that the standard atmosphere counts in (m): US 1976, radius 6356.766 km."""
        return height * 6356766.0 / (6356766.0 + height)

    def gravity(self, reach: float) -> float:
        """m/s2 at `reach` m from the centre, in the plane of the Equator (J2 adds there)."""
        return self.mu / reach**2 * (1.0 + 1.5 * self.j2 * (self.radius / reach) ** 2)

    def local(self, place: np.ndarray) -> tuple[float, np.ndarray]:
        """Distance from the centre (m), and local north, east, down as columns in inertial axes."""
        reach = float(np.linalg.norm(place))
        _, sine, cosine = place / reach * [1.0, 1.0, -1.0]
        return reach, np.array([[1.0, 0.0, 0.0], [0.0, cosine, -sine], [0.0, sine, cosine]])

    def air_velocity(self, place: np.ndarray, with_wind=True) -> np.ndarray:
        """Of the air (or the ground), in inertial axes (m/s)."""
        reach, axes = self.local(place)
        return axes @ [0.0, self.rate * reach + (self.wind if with_wind else 0.0), 0.0]


class FlatEarth(Earth):
    """The same without rotation or curvature: "down" everywhere alike, standard gravity, geopotential height = height."""

    def __init__(self, case: dict):
        super().__init__(case)
        self.radius, self.rate = 0.0, 0.0

    def geopotential(self, height: float) -> float:
        return height

    def gravity(self, reach: float) -> float:
        return G

    def local(self, place: np.ndarray) -> tuple[float, np.ndarray]:
        return -place[2], np.eye(3)


def fly_definition(case: dict, world=Earth) -> list[dict]:
    """Rows of one second each of the case in the given world, by `rigid_body_rates`."""
    earth = world(case)
    mass, inertia, given = vehicle(case["vehicle"]["name"])
    drag_area = case["vehicle"].get("CD", given["CD"]) * given["S_ft2"] * FOOT**2
    damped = case["vehicle"].get("damping", False)
    height, velocity, attitude, rates = start(case)
    x = at_rest(rates)
    x[2] = -(earth.radius + height)
    x[L.QUATERNION : L.QUATERNION + 4] = quaternion_from_euler(*attitude)
    x[L.VELOCITY : L.VELOCITY + 3] = turn(x).T @ (velocity + earth.air_velocity(x[:3], with_wind=False))

    def load(x):
        to_inertial = turn(x)
        reach, axes = earth.local(x[:3])
        height = reach - earth.radius
        air = x[L.VELOCITY : L.VELOCITY + 3] - to_inertial.T @ earth.air_velocity(x[:3])
        speed = np.linalg.norm(air)
        rho = density(earth.geopotential(height))
        pull = to_inertial.T @ axes[:, 2] * earth.gravity(reach)
        force = mass * pull - 0.5 * rho * drag_area * speed * air
        moment = np.zeros(3)
        if damped:
            span, chord = given["b_ft"] * FOOT, given["c_ft"] * FOOT
            length = np.array([span, chord, span])
            derivative = np.array([given["Clp"], given["Cmq"], given["Cnr"]])
            # q S l C (rate l / 2 V), in which one V cancels
            moment = 0.25 * rho * speed * given["S_ft2"] * FOOT**2 * length**2 * derivative * x[L.RATES : L.RATES + 3]
        return (*force, *moment)

    step = 0.02
    path = fly(body(inertia, mass), x, case["duration_s"], step, load)[:: round(1.0 / step)]
    rows = []
    for second, x in enumerate(path):
        reach, axes = earth.local(x[:3])
        ground = axes.T @ (turn(x) @ x[L.VELOCITY : L.VELOCITY + 3] - earth.air_velocity(x[:3], with_wind=False))
        r = axes.T @ turn(x)
        angles = np.degrees(euler_angles(r[0, 0], r[1, 0], r[2, 0], r[2, 1], r[2, 2]))
        rates = np.degrees(x[L.RATES : L.RATES + 3])
        longitude = math.degrees(math.atan2(x[1], -x[2]) - earth.rate * second)
        numbers = [second, (reach - earth.radius) / FOOT, longitude, *(ground / FOOT), *angles, *rates]
        names = "t_s alt_ft lon_deg v_north v_east v_down roll pitch yaw p_deg_s q_deg_s r_deg_s".split()
        rows.append(dict(zip(names, numbers)))
    return rows


# ft, ft/s, deg and deg/s: the rows are good to 1e-4 and better; Runge-Kutta in steps of 20 ms adds 1e-5
ROW_TOLERANCE = dict(alt_ft=2e-4, lon_deg=1e-9, v_north=1e-5, v_east=1e-5, v_down=1e-5, roll=5e-5, pitch=5e-5, yaw=5e-5,
                     p_deg_s=1e-5, q_deg_s=1e-5, r_deg_s=1e-5)  # fmt: skip
IN_ROWS = dict(roll_deg="roll", pitch_deg="pitch", yaw_deg="yaw")
# The notes on quality: 0.1 ft, 0.01 ft/s, 0.01 deg.  Case 3: 0.5 deg (the report's own tools differ by 0.05 to 0.65).
END_TOLERANCE = dict(alt_ft=0.02, v_east=1e-3, v_down=1e-3, lon_deg=1e-7, roll_deg=1e-4, pitch_deg=1e-4, yaw_deg=1e-4)


@pytest.mark.parametrize("number", [1, 3, 4, 6, 7, 9])
def test_the_rigid_body_kernel_meets_the_case_as_published(number):
    case = CASES[number]
    rows = fly_definition(case)
    own = table(f"nasa_checkcase_{number:02d}_trajectory.csv")
    assert len(rows) == len(own) == 31
    for flown, expected in zip(rows, own):
        for name, tolerance in ROW_TOLERANCE.items():
            difference = flown[name] - expected[name]
            if name in ("roll", "pitch", "yaw"):
                difference = math.remainder(difference, 360.0)
            assert abs(difference) < tolerance, (expected["t_s"], name)
    for name, published in case["published_end_state_t30"].items():
        tolerance = 0.15 if number == 3 else END_TOLERANCE[name]
        assert rows[-1][IN_ROWS.get(name, name)] == pytest.approx(published, abs=tolerance), name


# ---- the flat earth that pilots fly in --------------------------------------------------------------------------------


def sphere(drag_coefficient: float, wind_east: float = 0.0) -> np.ndarray:
    """A model that is one drag body, alike from all sides, at the centre of gravity."""
    mass, inertia, given = vehicle("sphere")
    model = body(inertia, mass)
    model[L.WIND : L.WIND + 3] = 0.0, wind_east, 0.0
    speck = tuple(FuselageStation(x, 1e-9, 1e-9) for x in (1e-3, -1e-3))  # a fuselage of no consequence
    area = drag_coefficient * given["S_ft2"] * FOOT**2
    place_bodies(Fuselage(speck), (DragBody("sphere", (0.0, 0.0, 0.0), (area,) * 3),), np.zeros(3), model)
    return model


def fly_flat(model, height, velocity, attitude, rates, seconds: int) -> np.ndarray:
    """States at every second of a flight by the full right-hand side; `velocity` over ground in m/s."""
    x, command = blank_state(height), np.zeros(L.COMMAND)
    x[L.QUATERNION : L.QUATERNION + 4] = quaternion_from_euler(*attitude)
    x[L.VELOCITY : L.VELOCITY + 3] = turn(x).T @ velocity
    x[L.RATES : L.RATES + 3] = rates
    k, stage, path = np.zeros((4, L.STATE)), np.zeros(L.STATE), [x.copy()]
    for _ in range(seconds):
        for _ in range(400):
            derivatives(x, command, model, NO_PROPELLER, k[0])
            rk_step(x, command, model, NO_PROPELLER, 0.0025, k, stage)
        path.append(x.copy())
    return np.array(path)


def flat(number: int):
    """End of a case on the flat earth: altitude (ft), velocity north, east, down (ft/s), Euler angles (deg), rates (deg/s)."""
    case = CASES[number]
    drag = case["vehicle"].get("CD", PUBLISHED["vehicles"]["sphere"]["CD"])
    x = fly_flat(sphere(drag, WIND_EAST.get(number, 0.0)), *start(case), case["duration_s"])[-1]
    r = turn(x)
    angles = np.degrees(euler_angles(r[0, 0], r[1, 0], r[2, 0], r[2, 1], r[2, 2]))
    velocity = r @ x[L.VELOCITY : L.VELOCITY + 3] / FOOT
    return -x[2] / FOOT, velocity, angles, np.degrees(x[L.RATES : L.RATES + 3])


# ft and ft/s at 30 s, flat earth less published: what constant gravity and a still earth cost (found here)
MISSED = {
    1: dict(alt_ft=-77.2, v_down=4.93, v_east=-2.10),
    4: dict(alt_ft=-17.0, v_down=0.81),
    6: dict(alt_ft=-70.1, v_down=3.91, v_east=-1.84),
    7: dict(alt_ft=-70.1, v_down=3.91, v_east=-1.83),
    9: dict(alt_ft=-99.1, v_down=6.10, v_east=1.00),
}


@pytest.mark.parametrize("number", MISSED)
def test_the_flat_earth_is_the_case_with_its_earth_made_flat(number):
    altitude, velocity, angles, rates = flat(number)
    expected = fly_definition(CASES[number], FlatEarth)[-1]
    # ft, ft/s, deg: two Runge-Kutta rules, 1e-6 ft/s apart: the definition takes steps of 20 ms; 1e-6 m/s2 of jet and fuselage specks
    assert altitude == pytest.approx(expected["alt_ft"], abs=1e-5)
    assert velocity == pytest.approx([expected[n] for n in ("v_north", "v_east", "v_down")], abs=2e-6)
    assert angles == pytest.approx([expected[n] for n in ("roll", "pitch", "yaw")], abs=1e-7)
    assert rates == pytest.approx([expected[n] for n in ("p_deg_s", "q_deg_s", "r_deg_s")], abs=1e-7)


@pytest.mark.parametrize("number", MISSED)
def test_what_the_flat_earth_misses_of_the_published_state(number):
    altitude, velocity, angles, _ = flat(number)
    published = CASES[number]["published_end_state_t30"]
    found = dict(alt_ft=altitude, v_east=velocity[1], v_down=velocity[2])
    for name, missed in MISSED[number].items():
        assert found[name] - published[name] == pytest.approx(missed, abs=0.06), name  # the digits of the table
    # 0.55 %, the largest share of gravity missed, is the largest error of a fall: of no account beside 10 % of drag
    if number != 9:
        top = CASES[number]["initial"]["alt_ft"]
        assert (top - altitude) / (top - published["alt_ft"]) - 1.0 == pytest.approx(0.0, abs=0.0055)
    if number == 4:  # neither earth turns under a straight fall: attitudes are met outright
        assert angles == pytest.approx([published[n] for n in ("roll_deg", "pitch_deg", "yaw_deg")], abs=1e-6)


def test_the_fall_without_drag_misses_by_gravity_alone():
    # d(fall) / fall = G / g - 1, with g of the case (turning included) at the mean over the double integral of
    # time, a sixth of the fall below the start.  1e-5 of 5.4e-3: the eastward drift lightens by 2 rate v.
    case = CASES[1]
    earth, top = Earth(case), case["initial"]["alt_ft"]
    fall = top - case["published_end_state_t30"]["alt_ft"]
    reach = earth.radius + (top - fall / 6.0) * FOOT
    gravity = earth.gravity(reach) - earth.rate**2 * reach
    assert (top - flat(1)[0]) / fall - 1.0 == pytest.approx(G / gravity - 1.0, abs=1e-5)


@pytest.mark.parametrize("case, wind", [("drop_still", 0.0), ("drop_wind_20fps_east", 6.096), ("cannon_45deg", 0.0)])
def test_flat_earth_analogues_by_the_full_right_hand_side(case, wind):
    # flat_earth_sphere_analogues.csv.  The kernel takes height as geopotential, the file converts it (13 m at 9144 m,
    # 0.15 % of density; likewise a cannon ball that climbs to 3 km): 0.2 m after a fall of 4.2 km, 0.02 m/s.
    first, *rows = table("flat_earth_sphere_analogues.csv", case=case)
    velocity = np.array([first["vx"], first["vy"], -first["vz"]])
    path = fly_flat(sphere(0.1, wind), first["z"], velocity, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0), 30)
    for row in rows:
        x = path[int(row["t_s"])]
        assert x[:3] * [1, 1, -1] == pytest.approx([row["x"], row["y"], row["z"]], abs=0.2)  # m
        assert x[7:10] * [1, 1, -1] == pytest.approx([row["vx"], row["vy"], row["vz"]], abs=0.02)  # m/s
