"""Wind, turbulence and gusts: the model against the standard, and what a plane does in them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sim import layout as L
from sim.account import loads_of
from sim.atmosphere import density
from sim.equations_of_motion import derivatives
from sim.frames import G
from sim.integration import FRAME, advance_frame
from sim.linearisation import pitch_stability
from sim.trim import blank_state
from sim.wind import (
    COUNT,
    FOOT,
    GRASS,
    SEVERITY,
    STEP,
    TWENTY_FEET,
    Gust,
    Wind,
    calm,
    carried,
    gust_at,
    in_wind,
    intensity_ratio,
    rolling_intensity,
    scales,
    set_gusts,
    turbulence,
)
from tests.sim.isolated import NO_PROPELLER, Stream, straight
from tests.sim.reference import facts

LEVEL = np.eye(3).ravel()
KNOT = 1852.0 / 3600.0


# ---- steady wind ------------------------------------------------------------------------------------


def test_wind_over_height_is_the_standard_log_law(precision):
    """MIL-F-8785C 3.7 (formula from memory): W(h) = W20 ln(h / z0) / ln(20 ft / z0), z0 = 0.15 ft."""
    plane = in_wind(precision, Wind(6.0, math.radians(270.0), at=TWENTY_FEET), 50.0)
    for feet in (3.0, 20.0, 100.0, 1000.0):
        x, dx = blank_state(feet * FOOT), np.zeros(L.STATE)
        derivatives(x, np.zeros(L.COMMAND), plane.model, plane.table, dx)
        north, east, down = plane.model[L.AIR : L.AIR + 3]
        expected = 6.0 * math.log(feet / 0.15) / math.log(20.0 / 0.15)
        assert (north, east, down) == pytest.approx((0.0, expected, 0.0), abs=1e-9)  # wind from the west blows east
        assert dx[L.AIR_PATH] == pytest.approx(expected, rel=1e-12)  # at rest over the ground


def test_there_is_no_wind_at_the_ground():
    wind = Wind(6.0, at=10.0)
    assert wind.speed_at(0.0) == wind.speed_at(0.5 * GRASS) == 0.0
    assert wind.speed_at(10.0) == 6.0


def test_the_log_law_is_close_to_the_seventh_root_over_grass():
    """The power law with exponent 1/7 (common practice) from 6 to 30 m; the two forms differ by some 6 %."""
    wind = Wind(6.0, at=6.0)
    assert wind.speed_at(30.0) == pytest.approx(6.0 * 5.0 ** (1.0 / 7.0), rel=0.08)


def flight(plane, x, command, seconds):
    """Positions (n, 3), loads by part (n, parts, 6) of a flight with the controls held."""
    x, k, stage, dx = x.copy(), np.zeros((4, L.STATE)), np.zeros(L.STATE), np.zeros(L.STATE)
    places, loads = [], []
    for _ in range(round(seconds / FRAME)):
        derivatives(x, command, plane.model, plane.table, dx)
        places.append(x[:3].copy())
        loads.append(loads_of(plane.model))
        advance_frame(x, command, plane.model, plane.table, 0, k, stage)
    return np.array(places), np.array(loads)


def test_a_uniform_wind_carries_the_flight_and_changes_nothing_else(precision, cruise):
    """Galilean invariance, in a turn with a kick on the controls.  Only rounding differs, and what it grows to."""
    command = cruise.command.copy()
    command[L.ELEVATOR] -= 0.03
    command[L.AILERON_LEFT] += 0.03
    windy = in_wind(precision, Wind(9.0, math.radians(200.0), roughness=0.0), 100.0)
    still_places, still_loads = flight(precision, cruise.x, command, 3.0)
    places, loads = flight(windy, carried(windy.model, cruise.x), command, 3.0)
    toward = 9.0 * np.array([-math.cos(math.radians(200.0)), -math.sin(math.radians(200.0)), 0.0])
    drift = np.arange(len(places))[:, None] * FRAME * toward
    assert np.abs(places - still_places - drift).max() < 1e-6  # m: the wind turns in body axes, step by step
    # the rounding of a difference of two speeds of 30 m/s, 1e-15 of it, seen through the fast circulation
    assert np.abs(loads - still_loads).max() < 1e-7 * precision.mass.mass * G


def test_climbing_into_more_headwind_raises_the_airspeed(precision, cruise):
    """dV/dt = w dW/dh at first: an inertial plane feels the shear that it climbs through."""
    windy = in_wind(precision, Wind(8.0, 0.0), 20.0)
    x = cruise.x.copy()
    x[L.POSITION + 2] = -20.0
    x = carried(windy.model, x)
    speeds = []
    for height in (20.0, 20.1):
        x[L.POSITION + 2] = -height
        dx = np.zeros(L.STATE)
        derivatives(x, cruise.command, windy.model, windy.table, dx)
        speeds.append(dx[L.AIR_PATH])
    gradient = 8.0 / math.log(10.0 / GRASS) / 20.05
    assert speeds[1] - speeds[0] == pytest.approx(0.1 * gradient, rel=1e-3)


# ---- turbulence: the model ---------------------------------------------------------------------------


def cases():
    return facts("dryden_low_altitude.yaml")["cases"]


@pytest.mark.parametrize("case", cases(), ids=lambda case: f"{case['h_ft']} ft")
def test_scales_and_intensities_are_the_standard_ones(case, precision):
    height = case["h_ft"] * FOOT
    along, upward = scales(height)
    assert (along / FOOT, upward / FOOT) == pytest.approx((case["L_u_ft"], case["L_w_ft"]), rel=1e-3)
    plane = in_wind(precision, Wind(w20=case["W20_kt"] * KNOT), height)
    vertical = plane.model[L.TURBULENCE]
    assert vertical / FOOT == pytest.approx(case["sigma_w_ft_s"], rel=1e-3)
    assert vertical * intensity_ratio(height) / FOOT == pytest.approx(case["sigma_u_ft_s"], rel=1e-3)


def test_the_classes_are_the_standard_ones():
    assert SEVERITY == {"light": 15.0, "moderate": 30.0, "severe": 45.0}  # kt at 20 ft, MIL-F-8785C


def standard_spectra(height, span, omega):
    """Phi of u, v, w over their variance and of p over sigma_w^2 (MIL-F-8785C 3.7, from memory), shape (4, n)."""
    along, upward = scales(height)

    def across(scale):
        return scale / math.pi * (1.0 + 3.0 * (scale * omega) ** 2) / (1.0 + (scale * omega) ** 2) ** 2

    u = 2.0 * along / math.pi / (1.0 + (along * omega) ** 2)
    p = 0.8 / upward * (math.pi * upward / (4.0 * span)) ** (1.0 / 3.0) / (1.0 + (4.0 * span * omega / math.pi) ** 2)
    return np.array([u, across(along), across(upward), p])


def sampled_spectra(height, span, seeds, step=STEP):
    """Omega (rad/m) and mean spectra (4, n) of rings of turbulence; a ring needs no window."""
    from scipy.signal import welch

    total = 0.0
    for seed in range(seeds):
        series = turbulence(height, span, seed, step)
        cycles, power = welch(series.T, 1.0 / step, window="boxcar", nperseg=COUNT, detrend=False)
        total = total + power
    return 2.0 * math.pi * cycles[1:], total[:, 1:] / seeds / (2.0 * math.pi)


@pytest.mark.parametrize("height", [10.0, 50.0])
def test_spectra_are_the_standard_ones_in_every_band(height):
    """Bands hold at least 3 frequencies of 200 rings: scatter 4 % at most.  Up to 3 rad/m folding adds 1 to 2 %."""
    span = 2.2
    omega, found = sampled_spectra(height, span, 200)
    expected = standard_spectra(height, span, omega)
    edges = (0.005, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0)
    for low, high in zip(edges, edges[1:]):
        band = (omega >= low) & (omega < high)
        assert found[:, band].sum(axis=1) == pytest.approx(expected[:, band].sum(axis=1), rel=0.10)


@pytest.mark.parametrize("step", [0.1, 0.2, 1.0])
def test_variance_holds_at_any_step(step):
    """Exact sampling.  Of a ring of `n` scales the mean square scatters by sqrt(2 / n): 200 rings leave 3 % at most."""
    height, span = 10.0, 2.2
    square = np.mean([(turbulence(height, span, seed, step) ** 2).mean(axis=0) for seed in range(200)], axis=0)
    assert square[:3] == pytest.approx(1.0, rel=0.10)
    assert math.sqrt(square[3]) == pytest.approx(rolling_intensity(height, span), rel=0.05)


def test_length_scales_are_found_back_in_the_correlations():
    """R_u(d) = exp(-d / L_u), R_w(d) = (1 - d / 2 L_w) exp(-d / L_w): the transforms of the spectra; scatter 0.02."""
    height = 10.0
    along, upward = scales(height)
    rings = [turbulence(height, 2.2, seed) for seed in range(200)]
    for apart in (2.0, 5.0, 10.0, 20.0, 60.0):
        lag = round(apart / STEP)
        found = np.mean([(ring * np.roll(ring, -lag, axis=0)).mean(axis=0) for ring in rings], axis=0)
        assert found[0] == pytest.approx(math.exp(-apart / along), abs=0.05)
        assert found[1] == pytest.approx((1.0 - 0.5 * apart / along) * math.exp(-apart / along), abs=0.05)
        assert found[2] == pytest.approx((1.0 - 0.5 * apart / upward) * math.exp(-apart / upward), abs=0.05)


def test_components_do_not_know_of_each_other():
    rings = np.concatenate([turbulence(10.0, 2.2, seed) for seed in range(100)])
    together = np.corrcoef(rings.T) - np.eye(4)
    assert (
        np.abs(together).max() < 0.05
    )  # 2 L_u / length: 2800 independent samples, four sigma 0.08 for u, v; less else


def test_the_ring_closes_without_a_jump():
    """A step of the vertical gust is about sqrt(3 step / L): the one from the last sample to the first is like any other."""
    steps = np.array([np.diff(np.vstack([r, r[:1]]), axis=0) for r in (turbulence(50.0, 2.2, s) for s in range(100))])
    at_seam, elsewhere = steps[:, -1].std(axis=0), steps[:, :-1].std(axis=(0, 1))
    assert at_seam == pytest.approx(elsewhere, rel=0.3)  # 100 samples: 7 % each


def test_same_seed_same_air():
    assert turbulence(50.0, 2.2, 7).tobytes() == turbulence(50.0, 2.2, 7).tobytes()
    assert np.abs(turbulence(50.0, 2.2, 7) - turbulence(50.0, 2.2, 8)).max() > 1.0


def test_the_gusts_that_a_point_of_the_plane_meets_have_the_standard_intensity(precision):
    """Through the kernel, between the samples too: linear interpolation takes less than 1 % of the variance of w."""
    height, w20 = 15.24, 15.0 * KNOT
    found = []
    for seed in range(40):
        model = in_wind(precision, Wind(w20=w20, seed=seed, from_=0.3), height).model
        for path in np.arange(20.0, 3000.0, 7.3):
            roll = set_gusts(model, path, height, 22.0, 0.0, 0.0, LEVEL)
            found.append((*gust_at(model, 0.7, 0.2, 0.1), roll))
    rms = np.sqrt(np.mean(np.square(found), axis=0))
    assert rms[2] / FOOT == pytest.approx(2.5317, rel=0.05)  # the reference file's 50 ft, 15 kt
    assert rms[:2] / FOOT == pytest.approx(4.6549, rel=0.10)
    assert rms[3] == pytest.approx(2.5317 * FOOT * rolling_intensity(height, precision.span), rel=0.05)


# ---- the 1-cosine gust -------------------------------------------------------------------------------


def test_the_gust_has_the_shape_of_the_regulation(precision):
    """14 CFR 25.341: U / 2 (1 - cos(pi s / H)) for 0 <= s <= 2 H, where the point stands along the path."""
    model = in_wind(precision, Wind(gust=Gust((1.0, -2.0, -3.0), 20.0, 50.0)), 60.0).model
    ahead = 1.2 * 25.0 / math.hypot(25.0, 1.0)  # of a point 1.2 m ahead of the CG
    for path in (45.0, 50.0, 55.0, 60.0, 65.0, 71.0):
        assert set_gusts(model, path, 60.0, 25.0, 0.0, 0.0, LEVEL) == 0.0
        into = path + ahead - 50.0
        share = 0.5 * (1.0 - math.cos(math.pi * into / 10.0)) if 0.0 <= into <= 20.0 else 0.0
        assert gust_at(model, 1.2, 0.5, 0.0) == pytest.approx(share * np.array([1.0, -2.0, -3.0]), abs=1e-12)


def history(surface, gust, speed, seconds, step):
    """Force along body z over time of one surface held at `speed`, flying into `gust`."""
    stream = Stream((surface,), speed)
    model = stream.model
    model[L.GUSTS], model[L.GUST_LENGTH], model[L.GUST_AFTER] = 1.0, gust.length, gust.after
    model[L.GUST_PEAK : L.GUST_PEAK + 3] = gust.velocity
    x, dx, force = blank_state(0.0), np.zeros(L.STATE), []
    x[L.VELOCITY] = speed
    flow = slice(L.CIRCULATION, L.STATE)
    for _ in range(round(seconds / step)):
        derivatives(x, np.zeros(L.COMMAND), model, NO_PROPELLER, dx)
        force.append(loads_of(model)[:8, 2].sum())
        x[flow] += step * dx[flow]
    return np.array(force)


def test_a_surface_further_aft_meets_the_gust_later_by_its_distance_over_the_speed():
    """The same surface 1.2 m further aft feels the same, 1.2 m / V later; 1e-4 by interpolation between the steps."""
    speed, step = 24.0, 0.0005
    gust = Gust((0.0, 0.0, -2.0), 4.0, 2.0)
    front, aft = (history(straight(5.0, at=(at, 0.0, 0.0)), gust, speed, 0.4, step) for at in (0.0, -1.2))
    later = 1.2 * math.sqrt(1.0 - 1.0 / (speed**2 + 1.0)) / speed / step  # "ahead" is a unit vector but for 0.1 %
    times = np.arange(len(front))
    shifted = np.interp(times - later, times, front, left=0.0)
    assert np.abs(front).max() > 20.0
    assert np.abs(aft - shifted).max() < 1e-3 * np.abs(front).max()


def test_the_gust_reaches_the_tail_later_than_the_wing(precision, cruise):
    """By l_t / V, in the plane held at its motion.  15 %: the wing's lift lags, and its downwash is at the tail at once."""
    model = in_wind(precision, Wind(gust=Gust((0.0, 0.0, -2.0), 4.0, 3.0)), 100.0).model
    x, dx, step, up = cruise.x.copy(), np.zeros(L.STATE), 0.0005, []
    for _ in range(900):
        derivatives(x, cruise.command, model, precision.table, dx)
        loads = loads_of(model)[:, 2]
        up.append((-loads[L.WING_LEFT] - loads[L.WING_RIGHT], -loads[L.STABILISER]))
        x[L.CIRCULATION :] += step * dx[L.CIRCULATION :]
    wing, tail = np.argmax(up, axis=0) * step
    station = [precision.model[L.VX : L.VX + L.PAD][precision.strips[name]].mean() for name in ("wing", "stabiliser")]
    assert tail - wing == pytest.approx((station[0] - station[1]) / 22.0, rel=0.15)


def gust_response(plane, trim, gust, seconds, pitching):
    """Loads by part (n, parts, 6) every 2.5 ms from the trim into `gust`, controls held; without `pitching`, heave alone."""
    model, h = in_wind(plane, Wind(gust=gust), 100.0).model, 0.0025
    x, loads = trim.x.copy(), []

    def rate(state):
        dx = np.zeros(L.STATE)
        derivatives(state, trim.command, model, plane.table, dx)
        if not pitching:
            dx[L.RATES : L.RATES + 3] = 0.0
        return dx

    for _ in range(round(seconds / h)):
        k1 = rate(x)
        loads.append(loads_of(model))
        k2 = rate(x + 0.5 * h * k1)
        k3 = rate(x + 0.5 * h * k2)
        x = x + h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + rate(x + h * k3))
    return np.array(loads), h


@pytest.mark.parametrize("pitching, least, most", [(False, 0.9, 1.15), (True, 0.95, 1.35)])
def test_gust_load_factor_is_near_the_alleviated_one(precision, cruise, pitching, least, most):
    """Pratt and Walker, NACA TR-1206, 1954 (from memory): dn = K rho V U a S / 2 W, K = 0.88 mu / (5.3 + mu).

    The formula is for a rigid plane that heaves and does not pitch, and a gust of 25 chords: found 1.07 of it.  Wagner's
    and Kuessner's lags there, one lag of circulation here: 10 %.  Free to pitch, the plane is turned up first, for the
    wing, ahead of the CG, meets the gust before the tail does: 0.004 rad and 0.045 rad/s at the peak, found 1.21.
    """
    speed, peak = 22.0, 1.0
    chord, weight = precision.wing_area / precision.span, precision.mass.mass * G
    slope = pitch_stability(precision, cruise).lift_slope
    rho = density(100.0)
    mu = 2.0 * weight / precision.wing_area / (rho * chord * slope * G)
    expected = 0.88 * mu / (5.3 + mu) * rho * speed * peak * slope * precision.wing_area / (2.0 * weight)
    loads, _ = gust_response(precision, cruise, Gust((0.0, 0.0, -peak), 25.0 * chord, 5.0), 1.0, pitching)
    lift = -np.delete(loads, L.WEIGHT, axis=1)[:, :, 2].sum(axis=1) / weight
    assert least < (lift - lift[0]).max() / expected < most


# ---- what the plane feels --------------------------------------------------------------------------------


def field(plane, columns):
    """A model in turbulence of sigma_w = 1 m/s whose series are `columns` (COUNT, 4), already past the entry."""
    model = in_wind(plane, Wind(w20=10.0), 100.0).model
    model[L.SIZE :] = columns.ravel()
    return model


def pitch_and_roll(plane, model, x, command):
    state = x.copy()
    state[L.AIR_PATH] = 200.0
    derivatives(state, command, model, plane.table, np.zeros(L.STATE))
    loads = np.delete(loads_of(model), [L.WEIGHT, L.GYROSCOPIC], axis=0).sum(axis=0)
    return loads[4], loads[3]


def test_air_that_rolls_right_acts_like_a_plane_that_rolls_left(precision, cruise):
    still, turning = cruise.x.copy(), cruise.x.copy()
    turning[L.RATES] = -0.5
    columns = np.zeros((COUNT, 4))
    columns[:, 3] = 0.5
    by_air = pitch_and_roll(precision, field(precision, columns), still, cruise.command)
    by_plane = pitch_and_roll(precision, precision.model, turning, cruise.command)
    assert by_air == pytest.approx(by_plane, rel=1e-9)
    assert by_air[1] > 1.0  # N m, to the right


def test_a_gust_that_grows_along_the_path_acts_like_a_pitching_plane(precision, cruise):
    """w_g = k x meets a plane as q = k does, but for arms above and below the CG: 1 %."""
    k = 0.4
    columns = np.zeros((COUNT, 4))
    columns[:, 2] = k * (np.arange(COUNT) * STEP - 200.0)
    calm_pitch, _ = pitch_and_roll(precision, precision.model, cruise.x, cruise.command)
    by_air, _ = pitch_and_roll(precision, field(precision, columns), cruise.x, cruise.command)
    turning = cruise.x.copy()
    turning[L.RATES + 1] = k
    by_plane, _ = pitch_and_roll(precision, precision.model, turning, cruise.command)
    assert by_air - calm_pitch == pytest.approx(by_plane - calm_pitch, rel=0.01)
    assert by_air - calm_pitch < -1.0  # N m: both are damped


def test_the_calm_copy_is_the_model_in_still_air(precision, cruise):
    windy = in_wind(precision, Wind(7.0, 1.0, w20=8.0, gust=Gust((0.0, 0.0, -3.0), 20.0, 0.0)), 100.0).model
    x, dx, other = cruise.x.copy(), np.zeros(L.STATE), np.zeros(L.STATE)
    x[L.AIR_PATH] = 8.0
    derivatives(x, cruise.command, windy, precision.table, dx)
    derivatives(x, cruise.command, calm(windy), precision.table, dx)
    derivatives(x, cruise.command, precision.model, precision.table, other)
    assert dx.tobytes() == other.tobytes()


@pytest.mark.parametrize("wind", [Wind(0.0, w20=20.0, seed=3), Wind(6.0, 1.0, w20=20.0, seed=4)])
def test_turbulence_on_a_hovering_plane_is_finite_and_felt(slow_3d, hover, wind):
    plane = in_wind(slow_3d, wind, 50.0)
    x, k, stage, dx = carried(plane.model, hover.x), np.zeros((4, L.STATE)), np.zeros(L.STATE), np.zeros(L.STATE)
    derivatives(x, hover.command, plane.model, plane.table, dx)
    for _ in range(150):  # nobody at the sticks: soon out of the hover, at any attitude
        advance_frame(x, hover.command, plane.model, plane.table, 0, k, stage)
    assert np.isfinite(x).all()
    assert x[L.AIR_PATH] > 1.0  # m: in a calm the eddies still pass
    assert np.abs(x[L.RATES : L.RATES + 3]).max() > 0.02
