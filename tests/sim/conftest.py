"""The demo planes, built once a session, with servos that no load moves, straight on their surfaces.

So the checks of the aeroplane's own physics have the surfaces where they are put, left as right.  Servos under load and
behind linkages have checks of their own (test_servo, test_linkage).
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from models.loader import load, load_setup, setup_from_texts
from sim.build import build
from sim.trim import hover_trim, level_trim


def stiff(setup):
    """`setup` with servos without torque or linkage: surfaces stand where they are commanded."""
    servos = {name: replace(servo, torque=None) for name, servo in setup.servos.items()}
    return replace(setup, servos=servos, linkages={})


@pytest.fixture(scope="session")
def precision():
    """The precision setup of the demo aeroplane."""
    return build(stiff(load_setup("precision")))


PETROL = """power:
  kind: piston
  cycle: two-stroke
  displacement: 40 cm3
  peak power: 3.2 kW
  peak power at: 7500 rpm
  idle: 1700 rpm
  fuel: 500 ml
"""


@pytest.fixture(scope="session")
def piston():
    """The precision setup with a petrol engine in place of motor and battery pack."""
    texts = dict(load("precision").texts)
    texts["airframe"] = re.sub(r"power:\n(  .*\n)+", PETROL, texts["airframe"])
    return build(stiff(setup_from_texts(texts)))


@pytest.fixture(scope="session")
def slow_3d():
    """The slow-3D setup of the demo aeroplane (larger propeller, rearward CG)."""
    return build(stiff(load_setup("slow-3d")))


@pytest.fixture(scope="session")
def cruise(precision):
    """Level flight of the precision setup at 22 m/s and 100 m."""
    return level_trim(precision, 22.0, 100.0)


@pytest.fixture(scope="session")
def hover(slow_3d):
    """Still hover of the slow-3D setup."""
    return hover_trim(slow_3d, 50.0)
