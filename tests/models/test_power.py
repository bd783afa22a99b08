"""The power group of an airframe file: electric or piston, its estimates, and what is said when it is wrong."""

import dataclasses
import re

import pytest

from models.errors import UserError
from models.loader import load, load_airframe
from sim.description import ElectricPower, PistonPower
from tests.models.test_loader import SETUP

RPM = 2 * 3.141592653589793 / 60

PISTON = """power:
  kind: piston
  cycle: two-stroke
  displacement: 62 cm3
  peak power: 4.6 kW
  peak power at: 7500 rpm
  peak torque at: 6000 rpm
  idle: 1700 rpm
  throttle lag: 150 ms
  fuel: 750 ml
  fuel consumption: 520 g/kWh
  rotor inertia: 4500 g cm2
"""


def airframe_with(folder, power: str):
    text = re.sub(r"power:\n(  .*\n)+", power, load(SETUP).texts["airframe"])
    path = folder / "plane.yaml"
    path.write_text(text, encoding="utf-8")
    return load_airframe(path)


def without(*keys: str) -> str:
    return "".join(f"{line}\n" for line in PISTON.splitlines() if line.split(":")[0].strip() not in keys)


def test_piston_in_si(tmp_path):
    power = airframe_with(tmp_path, PISTON).power
    assert isinstance(power, PistonPower)
    assert (power.idle, power.throttle_lag, power.rotor_inertia) == pytest.approx((1700 * RPM, 0.15, 4.5e-4))
    assert power.fuel == pytest.approx(0.75 * 0.740)  # petrol
    assert power.consumption == pytest.approx(0.520 / 3.6e6)
    # T = P / omega at the speed of peak power, where the product of torque and speed is greatest
    speeds, torques = zip(*power.torque)
    best = max(range(len(speeds)), key=lambda i: speeds[i] * torques[i])
    assert speeds[best] * torques[best] == pytest.approx(4600.0, rel=0.01)
    assert speeds[best] == pytest.approx(7500 * RPM, rel=0.05)
    assert speeds[max(range(len(speeds)), key=torques.__getitem__)] == pytest.approx(6000 * RPM)
    assert min(torques) > 0.0 and list(speeds) == sorted(speeds)


def test_electric_is_still_read(tmp_path):
    assert isinstance(load_airframe(SETUP.parent / "plane.yaml").power, ElectricPower)


def test_displacement_alone_is_enough_and_what_was_estimated_is_listed(tmp_path):
    bare = without("peak power", "peak power at", "peak torque at", "throttle lag", "fuel consumption", "rotor inertia")
    plane = airframe_with(tmp_path, bare)
    assert max(t for _, t in plane.power.torque) == pytest.approx(5.0e5 * 62e-6 / 6.283185, rel=1e-6)  # 5 bar
    for field in ("peak power", "peak torque at", "throttle lag", "fuel consumption", "rotor inertia"):
        assert f"power > {field}" in plane.estimated
    four = airframe_with(tmp_path, bare.replace("two-stroke", "four-stroke"))
    assert max(t for _, t in four.power.torque) == pytest.approx(8.5e5 * 62e-6 / 12.56637, rel=1e-6)
    twin = airframe_with(tmp_path, bare + "  cylinders: 2\n")
    assert twin.power.rotor_inertia == pytest.approx(plane.power.rotor_inertia / 2 ** (2 / 3))
    assert dataclasses.replace(twin.power, rotor_inertia=0.0) == dataclasses.replace(plane.power, rotor_inertia=0.0)


def test_torque_points_are_taken_as_they_are(tmp_path):
    points = "  torque: [{at: 2000 rpm, torque: 4 N m}, {at: 6000 rpm, torque: 6 N m}, {at: 8000 rpm, torque: 5 N m}]\n"
    plane = airframe_with(tmp_path, without("peak power", "peak power at", "peak torque at") + points)
    assert [t for _, t in plane.power.torque] == pytest.approx([4.0, 6.0, 5.0])
    assert [w / RPM for w, _ in plane.power.torque] == pytest.approx([2000, 6000, 8000])
    assert "power > peak power" not in plane.estimated


ROWS = [
    (
        PISTON.replace("kind: piston", "kind: pistn"),
        'power > kind: found "pistn"; allowed: electric, piston; try: piston',
    ),
    (
        without("kind"),
        'power > kind: found nothing; allowed: a value, for this key is needed; try: add "kind: electric"',
    ),
    ("power: lots\n", 'power: found "lots"; allowed: a group of keys with "kind:" electric, piston'),
    (
        PISTON.replace("62 cm3", "62"),
        'power > displacement: found "62", a number without a unit; allowed: a volume in cm3, ml, l, in3, '
        'from 2 cm3 to 400 cm3; try: "62 cm3"',
    ),
    (
        PISTON.replace("750 ml", "750 g"),
        'power > fuel: found "750 g", which is a mass; allowed: a volume in cm3, ml, l, in3, from 5 ml to 20 l',
    ),
    (
        PISTON.replace("displacement", "displacment"),
        'power > displacment: found an unknown key "displacment"; allowed: kind, cycle, cylinders, displacement',
    ),
    (
        PISTON.replace("4.6 kW", "46 kW"),
        "power > peak power: found a brake mean effective pressure of 59 bar with 62 cm3; allowed: 1 to 20 bar",
    ),
    (
        without("peak power at"),
        'power > peak power at: found nothing; allowed: peak power and its speed together; try: add "peak power at:"',
    ),
    (
        PISTON.replace("at: 6000 rpm", "at: 7600 rpm"),
        "power > peak torque at: found 7600 rpm, with the peak power at 7500 rpm; allowed: a speed below that",
    ),
    (
        PISTON.replace("idle: 1700 rpm", "idle: 6000 rpm"),
        "power > idle: found 6000 rpm; allowed: an idle speed below that of the peak torque",
    ),
    (
        PISTON + "  torque: [{at: 2000 rpm, torque: 4 N m}, {at: 6000 rpm, torque: 6 N m}]\n",
        "power > peak power: found a peak beside torque points; allowed: torque points or the peaks, not both",
    ),
    (
        without("peak power", "peak power at", "peak torque at")
        + "  torque: [{at: 6000 rpm, torque: 4 N m}, {at: 2000 rpm, torque: 6 N m}]\n",
        "power > torque > #2 > at: found 2000 rpm after 6000 rpm; allowed: speeds in rising order",
    ),
    (PISTON + "  cells: 12\n", 'power > cells: found an unknown key "cells"'),
]


@pytest.mark.parametrize("power, message", ROWS)
def test_wrong_power_is_refused_in_plain_words(tmp_path, power, message):
    with pytest.raises(UserError) as caught:
        airframe_with(tmp_path, power)
    assert message in str(caught.value)
    assert re.search(r"plane\.yaml:\d+:\d+: ", str(caught.value))
