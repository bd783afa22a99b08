"""`upline bench sticks`: its numbers against the parts they come from, every plane, JSON, picture, wrong options."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from models.loader import load_setup
from scenarios.bench.sticks import bench
from sim.frames import G
from sim.linkage import rate, servo_angle, surface_angle
from tests.sim.conftest import stiff

DEG = 180.0 / math.pi
MIXED = """
format: 1
kind: setup
name: mixed
from: precision
linkages: none
mixes:
  - {from: elevator, to: flaps, gain: 50 %}
  - {from: rudder, to: elevator, gain: {left: 4 %, right: 8 %}}
end points: {elevator: {up: 10 deg, down: 13 deg}}
modes: [{name: calm, mixes: [], trims: {flaps: -3 deg}}]
link: {latency: 20 ms, steps: 512}
"""


@pytest.fixture(scope="module")
def precision():
    """Surfaces where they are commanded, so that they can be worked out by hand."""
    return bench(stiff(load_setup("precision")))


def test_surfaces_are_those_of_the_chain(precision):
    aileron, elevator, rudder = precision.axes
    # exponential 20 %: half stick 0.5 x 0.8 + 0.125 x 0.2 = 0.425 of 14 deg; both ailerons, the right one up
    half = {p.stick: p for p in aileron.places}[0.5]
    assert np.array(half.surfaces) * DEG == pytest.approx([-0.425 * 14.0, 0.425 * 14.0, 0.0, 0.0], abs=1e-9)
    full = elevator.places[-1].surfaces
    assert full[2] * DEG == pytest.approx(12.0) and rudder.places[0].surfaces[3] * DEG == pytest.approx(-30.0)


def test_through_a_linkage_full_stick_gives_the_throw_and_half_stick_the_bent_way():
    setup = load_setup("extreme")
    elevator = bench(setup).axes[1]
    linkage, full = setup.linkages["elevator"], math.radians(62.0)
    # the trim of level flight, 0.3 deg, moves the servo: 1.7 times that at the surface where the linkage is at its end
    assert elevator.places[-1].surfaces[2] == pytest.approx(full, abs=0.02)
    half = {p.stick: p for p in elevator.places}[0.5]
    servo = (0.5 * 0.3 + 0.125 * 0.7) * servo_angle(linkage, -full)
    straight = (0.5 * 0.3 + 0.125 * 0.7) * full
    assert half.surfaces[2] == pytest.approx(-surface_angle(linkage, servo), abs=0.005)
    assert half.surfaces[2] < straight - 0.015  # softer at the middle than without a linkage


def test_behind_a_linkage_a_step_at_the_surface_goes_with_its_leverage():
    setup = load_setup("extreme")
    elevator, linkage = bench(setup, stops=(0.0, 1.0)).axes[1], setup.linkages["elevator"]
    # the link's 2048 steps lie over the servo's way between the throws: one of them in rad of the servo, times the rate
    servo = max(abs(float(servo_angle(linkage, sign * math.radians(62.0)))) for sign in (1.0, -1.0)) / 1024.0
    assert elevator.centre.from_link
    assert elevator.centre.step_surface == pytest.approx(servo * float(rate(linkage, 0.0)), rel=0.03)  # at the trim
    stick = elevator.full[1].surface * 100.0 / 1024.0  # at the end the stick's own step is the larger
    assert not elevator.full[1].from_link and elevator.full[1].step_surface == pytest.approx(stick)


def test_slopes_and_steps_against_the_formula(precision):
    aileron = precision.axes[0]
    # 1 % of stick at the centre: (1 - e) of 0.14 deg; at the end 1 + 2 e of it, the difference quotient over 2 % being
    # 3 e times 1 % less.  A stick of 2048 steps has 2 / 2048 of its travel each, and so has the control as it is sent
    assert aileron.centre.surface * DEG == pytest.approx(0.14 * 0.8, rel=1e-3)
    assert aileron.full[1].surface * DEG == pytest.approx(0.14 * 1.4, rel=0.01)
    assert aileron.centre.step_surface * DEG == pytest.approx(14.0 / 1024.0) and aileron.centre.from_link
    assert (
        aileron.full[1].step_surface * DEG == pytest.approx(1.4 * 14.0 / 1024.0, rel=0.01)
        and not aileron.full[1].from_link
    )
    for f in (aileron.centre, *aileron.full):
        assert f.step_rate == pytest.approx(f.rate * f.step_surface / f.surface)


def test_roll_rate_is_that_of_a_flown_roll(precision):
    from tests.scenarios.flying import value

    # the roll flown with full ailerons, its steady rate a mean over its later part; 6 %: a flown roll slips
    found = precision.axes[0].places[-1].rate * DEG
    assert found == pytest.approx(value("steady_roll_rate", "precision", "roll-high-rates-right"), rel=0.06)


def test_pull_turns_the_path_as_its_load_says(precision):
    # steady curve of a level path: (n - 1) g = V q, n along the body's vertical, which leans by alpha, below 12 deg
    for place in precision.axes[1].places:
        turn = (place.load - 1.0) * G / 25.0
        assert place.rate == pytest.approx(turn, rel=0.06, abs=0.002)
    loads = [p.load for p in precision.axes[1].places]
    assert loads == sorted(loads)


def test_rudder_turns_flat_to_the_side_of_the_stick(precision):
    rates = [p.rate for p in precision.axes[2].places]
    assert rates == sorted(rates) and rates[4] == 0.0
    assert precision.axes[2].places[-1].sideslip < 0.0 < precision.axes[2].places[0].sideslip


@pytest.fixture
def mixed(tmp_path):
    """precision without linkages, so that surfaces follow the chain straight, and with all that mixes and limits."""
    file = tmp_path / "mixed.yaml"
    file.write_text(MIXED, encoding="utf-8")
    return str(file)


def test_corners_say_what_the_limits_take(mixed):
    b = bench(load_setup(mixed), stops=(0.0, 1.0))
    by = {c.sticks: c for c in b.corners if c.throttle == b.throttle}
    corner = by[(1.0, 1.0, 1.0)]
    asked, got = np.array(corner.asked) * DEG, np.array(corner.surfaces) * DEG
    trim = np.array(b.trims) * DEG
    # full right aileron with full pull: the left aileron is asked for 150 % down of 14 deg, the right for 50 % up
    assert asked[:2] == pytest.approx([-21.0, 7.0]) and got[:2] == pytest.approx([-14.0, 7.0])
    # elevator 100 % pull and 8 % from right rudder, 12 deg each: stopped 10 deg up, from where the trim has it
    assert asked[2] == pytest.approx(12.96) and got[2] == pytest.approx(10.0 - trim[2])
    assert corner.limited == (True, False, True, False)
    # (10 - 1.4) of 12 deg: 0.8 s + 0.2 s^3 = 0.717
    assert b.axes[1].stops_at[1] == pytest.approx(0.785, abs=0.01)


def test_text_fits_and_says_what_matters(upline, mixed):
    code, out, err = upline("bench", "sticks", mixed)
    assert (code, err) == (0, "") and max(map(len, out.splitlines())) <= 80 and "clears nothing to fly" in out
    for words in (
        "pull: throw or end point has the elevator at its end from 79 % stick.",
        "The setup's link: 512 steps, 20 ms late.",
        "left aileron: asked for",
        "deg are lost",
        "mixes move besides: full push: left aileron 7.0, right aileron 7.0",
        "held back by throw or end point",
    ):
        assert words in " ".join(out.split()), words
    code, out, err = upline("bench", "sticks", mixed, "--mode", "calm", "--rate", "low")
    assert (code, err) == (0, "") and "low rates, calm mode" in out and "left aileron 3.0" in out
    assert "asked for" not in out


@pytest.mark.parametrize("setup", ["scree-270-slow-3d", "beck-150-extreme"])
def test_every_plane_has_a_bench(upline, setup):
    code, out, err = upline("bench", "sticks", setup, "--rate", "middle")
    assert (code, err) == (0, "") and max(map(len, out.splitlines())) <= 80
    assert "No mix acts and nothing is limited" in " ".join(out.split())
    assert "A typical link of 2048 steps is assumed" in out


def test_json_and_picture(upline, mixed, tmp_path):
    code, out, err = upline("bench", "sticks", mixed, "--json", "--picture", "sticks.svg")
    assert code == 0 and "clears nothing" in err
    got = json.loads(out, parse_constant=lambda word: pytest.fail(f"{word} in JSON"))
    assert (got["mode"], got["rates"], got["link"]) == ("normal", "high", {"steps": 512, "typical": False})
    elevator = got["sticks"]["elevator"]
    assert [p["stick"]["value"] for p in elevator["places"]] == [-100, -75, -50, -25, 0, 25, 50, 75, 100]
    assert elevator["limited_from"]["pull"]["value"] == pytest.approx(78.5, abs=1.0)
    assert elevator["limited_from"]["push"] == {"value": None, "unit": "%"}
    assert elevator["places"][-1]["load"]["unit"] == "g" and elevator["places"][-1]["pitch_rate"]["unit"] == "deg/s"
    assert len(got["corners"]) == 24 and got["files"] == ["sticks.svg"]
    picture = (tmp_path / "sticks.svg").read_text(encoding="utf-8")
    assert picture.startswith("<?xml") and not list(tmp_path.glob(".upline-*"))


@pytest.mark.parametrize(
    "options, wanted",
    [
        (["--rate", "hihg"], '--rate: found "hihg"; allowed: high, middle, low; try: high'),
        (["--mode", "snap"], '--mode: found "snap"; allowed: a flight mode of the setup: normal'),
        (
            ["--airspeed", "25"],
            '--airspeed: found "25", a number without a unit; allowed: a speed in m/s, km/h, mph, kt, ft/s, from 3 m/s to 80'
            ' m/s; try: "25 m/s"',
        ),
        (
            ["--picture", "a.txt"],
            '--picture: found "a.txt"; allowed: the name of a file that ends in .png, .svg, .pdf; try: a.png',
        ),
    ],
)
def test_a_wrong_option_is_refused_whole(upline, options, wanted):
    code, out, err = upline("bench", "sticks", "precision", *options)
    assert (code, out, err) == (2, "", f"upline: {wanted}\n")


def test_no_level_flight_is_said(upline):
    code, out, err = upline("bench", "sticks", "precision", "--airspeed", "6 m/s")
    assert (code, out) == (3, "") and err.startswith(
        "upline: cannot be flown: precision: level flight at 6.0 m/s is too slow"
    )
