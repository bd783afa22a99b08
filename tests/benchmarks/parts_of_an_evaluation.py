"""What one evaluation of the rates costs, part by part, in single precision (flights) and in double (trim).

    python -m tests.benchmarks.parts_of_an_evaluation

Each part is called in a compiled loop on the rows that an evaluation has left, of a level trim, of a stall at 40 deg
(separated wakes cast shadows) and of the same trim five metres above the ground.  Microseconds on one core; shares compare
within one run, whose rounds go over all parts in turn.
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
from sim.single_precision import in_single, use_single_precision
from sim.slipstream import fill_slipstream
from sim.trim import blank_state, level_trim, relax_flow

CALLS, ROUNDS = 1000, 15


@kernel
def _whole(n, x, command, m, table, dx):
    for _ in range(n):
        derivatives(x, command, m, table, dx)


@kernel
def _slipstream(n, m):
    v = m[L.AT_HUB :]
    for _ in range(n):
        fill_slipstream(m, v[0], v[1], v[2], v[3], v[4], v[5], m[L.MOTION + 6])


@kernel
def _shade(n, m):
    d, v = m[L.DOWNSTREAM :], m[L.MOTION :]
    for _ in range(n):
        shade(m, d[0], d[1], d[2], v[0], v[1], v[2])


@kernel
def _induce(n, m):
    d = m[L.DOWNSTREAM :]
    for _ in range(n):
        induce(m, d[0], d[1], d[2])


@kernel
def _ground(n, m):
    d, g = m[L.DOWNSTREAM :], m[L.DOWN :]
    for _ in range(n):
        add_ground(m, d[0], d[1], d[2], g[0], g[1], g[2], m[L.HEIGHT])


@kernel
def _strips(n, m):
    v = m[L.MOTION :]
    for _ in range(n):
        load_strips(m, v[0], v[1], v[2], v[3], v[4], v[5], v[6])


@kernel
def _bodies(n, m):
    v, a = m[L.MOTION :], m[L.AT_HUB :]
    for _ in range(n):
        load_bodies(m, v[0], v[1], v[2], v[3], v[4], v[5], v[6], -a[6], -a[7], -a[8], a[3], a[4])


PARTS = {
    "slipstream": _slipstream,
    "separated wakes": _shade,
    "induced velocity": _induce,
    "ground": _ground,
    "strips": _strips,
    "bodies": _bodies,
}


def costs(plane, x: np.ndarray, command: np.ndarray, single: bool) -> dict[str, float]:
    """Microseconds of the whole evaluation and of its parts at the state `x`: least of the rounds."""
    model, dx = plane.model.copy(), np.zeros(L.STATE)
    if single:
        use_single_precision(model)
    rows = model[L.TWIN :][: (L.TWINNED + 1) // 2].view(np.float32) if single else model
    works = {"whole evaluation": (_whole, x, command, model, plane.table, dx)}
    works |= {name: (in_single(part) if single else part, rows) for name, part in PARTS.items()}
    best = dict.fromkeys(works, math.inf)
    for work in works.values():
        work[0](1, *work[1:])
    for _ in range(ROUNDS):
        for name, (work, *arguments) in works.items():
            start = time.perf_counter()
            work(CALLS, *arguments)
            best[name] = min(best[name], time.perf_counter() - start)
    return {name: 1e6 * cost / CALLS for name, cost in best.items()}


def main() -> None:
    plane = build(load_setup("precision"))
    trim = level_trim(plane, 25.0, 100.0)
    stalled = blank_state(100.0)
    stalled[L.VELOCITY], stalled[L.VELOCITY + 2] = 15.0 * math.cos(0.7), 15.0 * math.sin(0.7)
    stalled[L.ROTOR] = trim.x[L.ROTOR]
    low = trim.x.copy()
    low[L.POSITION + 2] = -1.5
    for x in (stalled, low):
        relax_flow(x, trim.command, plane.model.copy(), plane.table, np.zeros(L.STATE), 2000)
    for single in (True, False):
        table = [costs(plane, x, trim.command, single) for x in (trim.x, stalled, low)]
        print(f"{'single' if single else 'double'} precision{'level':>13}{'stalled':>9}{'low':>8}   us")
        for name in table[0]:
            print(f"  {name:<20}" + "".join(f"{column[name]:9.2f}" for column in table))


if __name__ == "__main__":
    main()
