"""Integration error of every measure: the flight as flown against DOP853 at tight tolerance, and against finer steps.

    python -m tests.benchmarks.measures_error [SETUP ...]

Two columns of error.  "DOP853": the recorded commands, held over each frame as the servos receive them,
integrated by scipy's DOP853 (rtol 1e-9) from the same start, so the pilot does not correct what the integrator got
wrong; in the hover, which is unstable, errors then grow as they would with nobody at the sticks.  "fine": the whole
flight again, pilot in the loop, with 32 steps a frame.  Errors in the measure's unit.
"""

from __future__ import annotations

import copy
import sys

import numpy as np
from scipy.integrate import solve_ivp

from models.loader import load_setup
from scenarios.manoeuvres import Flown, fly_manoeuvre, flyable, known_manoeuvres, load_manoeuvre
from scenarios.measures import take_measures
from sim import layout as L
from sim.equations_of_motion import derivatives
from sim.integration import FRAME
from sim.recording import COMMAND_AT, INDEX, STATE_AT, fill_channels


def replay(flown: Flown) -> Flown:
    """`flown` with its states integrated anew by DOP853 under the recorded commands."""
    rows = flown.flight.rows.copy()
    model, table = flown.plane.model.copy(), flown.plane.table
    x, dx = rows[0, STATE_AT:].copy(), np.zeros(L.STATE)
    first_stick = INDEX["aileron stick"]

    for n, row in enumerate(rows):
        command = row[COMMAND_AT:STATE_AT].copy()
        sticks = row[first_stick : first_stick + 4].copy()

        def rates(_, state, command=command):
            out = np.zeros(L.STATE)
            derivatives(state, command, model, table, out)
            return out

        derivatives(x, command, model, table, dx)
        fill_channels(x, sticks, dx, model, row[0], row[1], row)
        row[STATE_AT:] = x
        if n + 1 < len(rows):
            x = np.ascontiguousarray(solve_ivp(rates, (0.0, FRAME), x, "DOP853", rtol=1e-9, atol=1e-10).y[:, -1])
    again = copy.copy(flown)
    again.flight = copy.copy(flown.flight)
    again.flight.rows = rows
    return again


def main(setups: list[str]) -> None:
    print(f"{'':42}{'value':>10} {'DOP853':>10} {'fine':>10}")
    for name in setups:
        setup = load_setup(name)
        plane = flyable(setup)
        for manoeuvre in (load_manoeuvre(known)[0] for known, _ in known_manoeuvres()):
            flown = fly_manoeuvre(setup, manoeuvre, plane)
            tight = take_measures(replay(flown))
            fine = take_measures(fly_manoeuvre(setup, manoeuvre, plane, steps=32))
            print(f"{name}, {manoeuvre.name}")
            for a, b, c in zip(take_measures(flown), tight, fine):
                label = f"  {a.measure.name} ({a.measure.unit})"
                if None in (a.value, b.value, c.value):
                    print(f"{label:42}{'-':>10}")
                else:
                    print(f"{label:42}{a.value:10.3f} {a.value - b.value:10.1e} {a.value - c.value:10.1e}")


if __name__ == "__main__":
    main(sys.argv[1:] or ["precision"])
