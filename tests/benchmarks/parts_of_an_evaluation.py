"""What one evaluation of the rates costs, part by part.

    python -m tests.benchmarks.parts_of_an_evaluation

Each part is called in a compiled loop on the state of a level trim, of a stall at 40 deg (separated wakes
cast shadows) and of the same trim five metres above the ground.  Microseconds on one core; shares compare within one run.
"""

from __future__ import annotations

import math
import time

import numpy as np

from models.loader import load_setup
from sim import layout as L
from sim.blanketing import shade
from sim.build import build
from sim.compiled import kernel
from sim.equations_of_motion import derivatives
from sim.fuselage_aero import load_bodies
from sim.ground_effect import add_ground
from sim.induced_velocity import induce
from sim.lifting_surfaces import load_strips
from sim.slipstream import fill_slipstream
from sim.trim import blank_state, level_trim, relax_flow

CALLS = 2000


@kernel
def _whole(n, x, command, m, table, dx):
    for _ in range(n):
        derivatives(x, command, m, table, dx)


@kernel
def _slipstream(n, m, v):
    for _ in range(n):
        fill_slipstream(m, v[0], v[1], v[2], v[0], 3.0, 2.0, 1.2)


@kernel
def _shade(n, m, v, d):
    for _ in range(n):
        shade(m, d[0], d[1], d[2], v[0], v[1], v[2])


@kernel
def _induce(n, m, d):
    for _ in range(n):
        induce(m, d[0], d[1], d[2])


@kernel
def _ground(n, m, d, height):
    for _ in range(n):
        add_ground(m, d[0], d[1], d[2], 0.0, 0.0, 1.0, height)


@kernel
def _strips(n, m, v):
    for _ in range(n):
        load_strips(m, v[0], v[1], v[2], 0.0, 0.0, 0.0, 1.2)


@kernel
def _bodies(n, m, v):
    for _ in range(n):
        load_bodies(m, v[0], v[1], v[2], 0.0, 0.0, 0.0, 1.2, 0.0, 0.0, 0.0, v[0], 3.0)


def microseconds(work, *args) -> float:
    """Least of seven rounds, per call."""
    work(1, *args)
    best = math.inf
    for _ in range(7):
        start = time.perf_counter()
        work(CALLS, *args)
        best = min(best, time.perf_counter() - start)
    return 1e6 * best / CALLS


def main() -> None:
    plane = build(load_setup("precision"))
    trim = level_trim(plane, 25.0, 100.0)
    stalled = blank_state(100.0)
    stalled[L.VELOCITY], stalled[L.VELOCITY + 2] = 15.0 * math.cos(0.7), 15.0 * math.sin(0.7)
    stalled[L.ROTOR] = trim.x[L.ROTOR]
    low = trim.x.copy()
    low[L.POSITION + 2] = -1.5
    dx = np.zeros(L.STATE)
    print(f"{'part':<22}{'level':>8}{'stalled':>9}{'low':>8}   us")
    table = {}
    for x in (trim.x.copy(), stalled, low):
        m, command = plane.model.copy(), trim.command
        relax_flow(x, command, m, plane.table, dx, 2000)
        v = x[L.VELOCITY : L.VELOCITY + 3]
        d = -v / np.linalg.norm(v)
        for name, cost in (
            ("whole evaluation", microseconds(_whole, x, command, m, plane.table, dx)),
            ("slipstream", microseconds(_slipstream, m, v)),
            ("separated wakes", microseconds(_shade, m, v, d)),
            ("induced velocity", microseconds(_induce, m, d)),
            ("ground", microseconds(_ground, m, d, -x[L.POSITION + 2])),
            ("strips", microseconds(_strips, m, v)),
            ("bodies", microseconds(_bodies, m, v)),
        ):
            table.setdefault(name, []).append(cost)
    for name, (level, high, near) in table.items():
        print(f"{name:<22}{level:8.2f}{high:9.2f}{near:8.2f}")


if __name__ == "__main__":
    main()
