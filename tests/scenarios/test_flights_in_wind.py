"""Manoeuvres flown in wind: carried along at the start, the same for the same seed, kept in the record."""

from __future__ import annotations

import numpy as np
import pytest

from models.loader import load as load_setup_texts
from scenarios.account import account
from scenarios.manoeuvres import fly_manoeuvre, manoeuvre_from_text
from scenarios.record import fly_again, load, save
from sim import layout as L
from sim.recording import STATE_AT
from sim.wind import TWENTY_FEET, Wind
from tests.scenarios.flying import HEAD, manoeuvre, setup_of

HOLD = "{name: hold, pilot: [aileron, elevator, rudder], hold: height, throttle: hold airspeed, for: 3 s}"
FREE = "{name: free, for: 1 s}"


def level(wind: str) -> str:
    return f"start: {{from: level flight, airspeed: 25 m/s, height: 50 m, wind: {{{wind}}}}}\n"


def fly(phases: str, start: str):
    return fly_manoeuvre(setup_of("precision"), manoeuvre(phases, start))


def test_the_start_is_steady_in_the_wind_and_drifts_with_it():
    flown = fly(FREE, level("speed: 5 m/s, from: 270 deg"))
    blowing = Wind(5.0).speed_at(50.0)
    assert flown.flight.channel("airspeed")[0] == pytest.approx(25.0, abs=1e-9)
    assert flown.flight.channel("wind east")[0] == pytest.approx(blowing)
    assert flown.flight.channel("east")[-1] == pytest.approx(blowing * flown.flight.channel("time")[-1], rel=0.01)
    assert np.abs(flown.flight.channel("load z") - flown.flight.channel("load z")[0]).max() < 0.01
    assert flown.flight.channel("airspeed")[-1] == pytest.approx(25.0, abs=0.05)


def test_the_same_seed_is_the_same_flight_and_another_is_not():
    gusty = "speed: 5 m/s, from: 270 deg, turbulence: moderate, seed: "
    first, again, other = (fly(HOLD, level(gusty + seed)) for seed in ("7", "7", "8"))
    assert first.flight.rows.tobytes() == again.flight.rows.tobytes()
    assert np.abs(first.flight.channel("load z") - 1.0).max() > 0.3
    assert np.abs(first.flight.channel("height")[:100] - other.flight.channel("height")[:100]).max() > 0.01
    assert first.flight.channel("load z")[0] == pytest.approx(1.0, abs=0.02)  # trimmed before it meets the first gust


def test_a_flight_in_turbulence_is_flown_again_from_its_record(tmp_path):
    start = level("speed: 5 m/s, from: 200 deg, turbulence: 6 m/s, seed: 41")
    text = f"{HEAD}{start}phases:\n  - {HOLD}\n"
    flown = fly_manoeuvre(setup_of("precision"), manoeuvre_from_text(text))
    folder = save(tmp_path / "gusty", flown, load_setup_texts("precision").texts, text)
    inputs, arrays = load(folder)
    assert inputs["seed"] == 41
    assert fly_again(folder)[1] is True
    with np.load(folder / "flight.npz") as archive:  # the loads come from the air that was flown in
        load_z = -np.delete(archive["loads"], L.WEIGHT, axis=1)[:, :, 2].sum(axis=1)
    assert load_z == pytest.approx(
        flown.flight.channel("load z") * flown.plane.mass.mass * 9.80665, rel=1e-6
    )  # single precision in flight


def test_turbulence_as_the_wind_takes_its_speed_at_twenty_feet():
    flown = fly(FREE, level("speed: 5 m/s, from: 0 deg, turbulence: as the wind"))
    assert flown.plane.model[L.TURBULENCE] == pytest.approx(0.1 * Wind(5.0).speed_at(TWENTY_FEET))


@pytest.mark.parametrize("after", ["after: 0.4 s", "after distance: 10 m"])
def test_a_gust_comes_when_and_where_it_is_asked_for(after):
    flown = fly(FREE, level(f"gust: {{speed: 3 m/s, from: below, length: 5 m, {after}}}"))
    load, path = flown.flight.channel("load z"), flown.flight.rows[:, STATE_AT + L.AIR_PATH]
    assert np.abs(load[path < 9.0] - load[0]).max() < 1e-3
    assert 1.0 < path[np.argmax(load)] - 10.0 < 4.0  # m into it
    assert load.max() > 1.5


def test_the_account_compares_with_level_flight_in_still_air():
    windy, still = (account(fly(FREE, start)) for start in (level("speed: 8 m/s, from: 90 deg, turbulence: severe"),
                    "start: {from: level flight, airspeed: 25 m/s, height: 50 m}\n"))  # fmt: skip
    assert windy.level == still.level


@pytest.mark.parametrize("wind", ["turbulence: moderate", "speed: 5 m/s, from: 30 deg, turbulence: as the wind"])
def test_a_pilot_hovers_in_turbulence(wind):
    start = f"start: {{from: hover, height: 50 m, wind: {{{wind}}}}}\n"
    flown = fly_manoeuvre(setup_of("slow-3d"), manoeuvre(
        "{name: hang, pilot: [elevator, rudder, aileron], hold: place, throttle: hold height, for: 4 s}", start))  # fmt: skip
    assert np.isfinite(flown.flight.rows).all()
    assert flown.flight.ending == "completed"
