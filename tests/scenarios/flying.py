"""Flights for the tests: each one is flown once a session and shared; short manoeuvres from text."""

from __future__ import annotations

from functools import cache

import pytest

from models.loader import load_setup
from scenarios.manoeuvres import Flown, fly_manoeuvre, flyable, load_manoeuvre, manoeuvre_from_text
from scenarios.measures import take_measures
from scenarios.schema import ManoeuvreFile
from sim.build import Plane
from sim.description import Setup

HEAD = "format: 1\nkind: manoeuvre\nname: a-test\n"
LEVEL = "start: {from: level flight, airspeed: 25 m/s, height: 100 m}\n"


@cache
def setup_of(name: str, cg: str | None = None) -> Setup:
    """The built-in setup, at its own or another CG."""
    return load_setup(name, cg)


@cache
def plane_of(name: str, cg: str | None = None) -> Plane:
    """The built plane of a setup."""
    return flyable(setup_of(name, cg))


@cache
def flown(setup: str, manoeuvre: str, cg: str | None = None, steps: int = 0) -> Flown:
    """A built-in manoeuvre flown with a built-in setup; on a plane of its own, for a flight sets the trims."""
    return fly_manoeuvre(setup_of(setup, cg), load_manoeuvre(manoeuvre)[0], steps=steps)


def values(flight: Flown) -> dict[str, float]:
    """Every measure of a flight by name; the test fails when one was not taken."""
    taken = take_measures(flight)
    missing = {t.measure.name: t.reason for t in taken if t.value is None}
    if missing:
        pytest.fail(f"{flight.setup.name}, {flight.manoeuvre.name}: {missing}")
    return {t.measure.name: t.value for t in taken}


def value(name: str, setup: str, manoeuvre: str, cg: str | None = None) -> float:
    """One measure of a flight; the test fails when it was not taken."""
    for taken in take_measures(flown(setup, manoeuvre, cg)):
        if taken.measure.name == name:
            if taken.value is None:
                pytest.fail(f"{setup} {cg}, {manoeuvre}: {name} {taken.reason}")
            return taken.value
    raise AssertionError(f"{manoeuvre} does not take {name}")


def manoeuvre(phases: str, start: str = LEVEL) -> ManoeuvreFile:
    """A manoeuvre of the given phases, written one a line."""
    lines = "".join(f"  - {line.strip()}\n" for line in phases.strip().splitlines())
    return manoeuvre_from_text(f"{HEAD}{start}phases:\n{lines}")


def fly_text(phases: str, start: str = LEVEL, setup: str = "precision") -> Flown:
    """Phases given as text, flown with a built-in setup."""
    return fly_manoeuvre(setup_of(setup), manoeuvre(phases, start))
