"""How fast the kernel is: one evaluation, flights, and ratios to other ways of flying the same plane.

    python -m tests.benchmarks.rhs_and_flight

Prints microseconds for one evaluation of the rates, in still air and in turbulence, times real time of two ten-second
flights on one core (level, and a tumble from full up elevator), and, in the same run, the time that scipy's solve_ivp
takes with the same compiled rates at equal or smaller error, and that the NumPy build-up takes.  Ratios compare
within one run; absolute figures belong to the machine.
"""

from __future__ import annotations

import statistics
import time

import numpy as np
from scipy.integrate import solve_ivp

from models.loader import load_setup
from sim import layout as L
from sim.build import build
from sim.equations_of_motion import WAKE_TILT, derivatives
from sim.integration import FRAME, advance_frame
from sim.trim import level_trim
from sim.wind import Gust, Wind, in_wind, turbulence
from tests.benchmarks import numpy_build_up

ROUNDS = 5


def median_time(work, rounds=ROUNDS):
    """Median wall time in s of `work()` over some rounds, after one to warm up."""
    work()
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    plane = build(load_setup("precision"))
    trim = level_trim(plane, 22.0, 200.0)
    model, table = plane.model, plane.table
    dx = np.zeros(L.STATE)

    def evaluations():
        for _ in range(2000):
            derivatives(trim.x, trim.command, model, table, dx)

    arrays = numpy_build_up.NumpyPlane(model, table)

    def array_evaluations():
        for _ in range(50):
            numpy_build_up.derivatives(arrays, trim.x, trim.command, WAKE_TILT)

    one, other = median_time(evaluations) / 2000, median_time(array_evaluations) / 50
    print(f"strips {int(model[L.N_STRIPS])}, nodes {int(model[L.N_NODES])}")
    print(f"one evaluation: kernel {1e6 * one:.2f} us (call from Python included), NumPy arrays {1e6 * other:.0f} us")
    print(f"  ratio NumPy / kernel {other / one:.0f}")

    made = median_time(lambda: turbulence(200.0, plane.span, 1))
    gusty = in_wind(plane, Wind(5.0, w20=5.0, gust=Gust((0.0, 0.0, -2.0), 20.0, 50.0)), 200.0)
    x = trim.x.copy()

    def gusty_evaluations():
        for _ in range(2000):
            x[L.AIR_PATH] += 0.1
            derivatives(x, trim.command, gusty.model, table, dx)

    print(
        f"  in turbulence and gust {1e6 * median_time(gusty_evaluations) / 2000:.2f} us; its series {1e3 * made:.1f} ms"
    )

    k, stage = np.zeros((4, L.STATE)), np.zeros(L.STATE)

    def frames(x, command, seconds, steps=0):
        x = x.copy()
        for _ in range(round(seconds / FRAME)):
            advance_frame(x, command, model, table, steps, k, stage)
        return x

    tumble = trim.command.copy()
    tumble[L.ELEVATOR], tumble[L.THROTTLE] = -plane.setup.throws["elevator"].positive, 1.0
    kick = trim.command.copy()
    kick[L.ELEVATOR] -= 0.04
    kick[L.AILERON_LEFT] += 0.05
    kick[L.AILERON_RIGHT] -= 0.05

    for name, command in (("level", trim.command), ("tumbling", tumble)):
        taken = median_time(lambda command=command: frames(trim.x, command, 10.0))
        print(f"flight of 10 s, {name}: {1e3 * taken:.1f} ms = {10.0 / taken:.0f} times real time on one core")

    def rate(_, x):
        out = np.zeros(L.STATE)
        derivatives(x, kick, model, table, out)
        return out

    seconds = 4.0
    true = solve_ivp(rate, (0.0, seconds), trim.x, method="DOP853", rtol=1e-11, atol=1e-12).y[:, -1]

    def error(x):
        return float(np.linalg.norm(x[:3] - true[:3]))

    own_error = error(frames(trim.x, kick, seconds))
    own = median_time(lambda: frames(trim.x, kick, seconds))
    print(f"mild manoeuvre of {seconds:.0f} s: frames {1e3 * own:.2f} ms, error {1e6 * own_error:.2f} um")
    for method in ("RK45", "DOP853"):
        for exponent in np.arange(3.0, 11.5, 0.5):
            tolerance = 10.0**-exponent

            def solve(tolerance=tolerance, method=method):
                return solve_ivp(rate, (0.0, seconds), trim.x, method=method, rtol=tolerance, atol=tolerance)

            solution = solve()
            if error(solution.y[:, -1]) <= max(own_error, 1e-7):
                break
        taken = median_time(solve, 3)
        print(
            f"  solve_ivp {method}, tolerance 1e-{exponent:.1f}: {1e3 * taken:.1f} ms, "
            f"error {1e6 * error(solution.y[:, -1]):.2f} um, {solution.nfev} evaluations; ratio {taken / own:.1f}"
        )

    # the NumPy build-up with the same steps as the frames (classical Runge-Kutta, two steps a frame)
    def array_flight():
        x, h = trim.x.copy(), 0.5 * FRAME
        for _ in range(20):
            k1 = numpy_build_up.derivatives(arrays, x, kick, WAKE_TILT)
            k2 = numpy_build_up.derivatives(arrays, x + 0.5 * h * k1, kick, WAKE_TILT)
            k3 = numpy_build_up.derivatives(arrays, x + 0.5 * h * k2, kick, WAKE_TILT)
            k4 = numpy_build_up.derivatives(arrays, x + h * k3, kick, WAKE_TILT)
            x = x + h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)

    slow, quick = median_time(array_flight, 3), median_time(lambda: frames(trim.x, kick, 0.1, 2))
    print("0.1 s of flight, two steps a frame:", end=" ")
    print(f"NumPy {1e3 * slow:.0f} ms, kernel {1e3 * quick:.3f} ms; ratio {slow / quick:.0f}")


if __name__ == "__main__":
    main()
