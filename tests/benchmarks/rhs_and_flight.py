"""How fast the kernel is: one evaluation, flights, and ratios to other ways of flying the same plane.

    python -m tests.benchmarks.rhs_and_flight

Prints microseconds for one evaluation of the rates, in still air and in turbulence, times real time of two ten-second
flights on one core (level, and a tumble from full up elevator; strips in single precision, as flights are flown, and in
double) with their distance from DOP853, and, in the same run, the time that scipy's solve_ivp takes with the same compiled
rates at equal or smaller error, and that the NumPy build-up takes.  Whole flights, pilot and record included, come last.
Ratios compare within one run; absolute figures belong to the machine.
"""

from __future__ import annotations

import statistics
import time

import numpy as np
from scipy.integrate import solve_ivp

from models.loader import load_setup
from scenarios.manoeuvres import fly_manoeuvre, load_manoeuvre
from sim import layout as L
from sim.build import build
from sim.compiled import kernel
from sim.equations_of_motion import WAKE_TILT, derivatives
from sim.flight import fly
from sim.integration import FRAME, leave_frame
from sim.single_precision import use_single_precision
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


@kernel
def _evaluate(n, x, command, m, table, dx):
    for _ in range(n):
        derivatives(x, command, m, table, dx)


@kernel
def _frames(n, x, command, m, table, steps, k, stage):
    for _ in range(n):
        derivatives(x, command, m, table, k[0])
        leave_frame(x, command, m, table, steps, k, stage)


def main() -> None:
    plane = build(load_setup("precision"))
    trim = level_trim(plane, 22.0, 200.0)
    model, table = plane.model, plane.table
    dx = np.zeros(L.STATE)

    quick = model.copy()
    use_single_precision(quick)

    def evaluations(model=quick):
        _evaluate(2000, trim.x, trim.command, model, table, dx)

    arrays = numpy_build_up.NumpyPlane(model, table)

    def array_evaluations():
        for _ in range(50):
            numpy_build_up.derivatives(arrays, trim.x, trim.command, WAKE_TILT)

    one, double, other = (
        median_time(evaluations),
        median_time(lambda: evaluations(model)),
        median_time(array_evaluations),
    )
    one, double, other = one / 2000, double / 2000, other / 50
    print(f"strips {int(model[L.N_STRIPS])}, nodes {int(model[L.N_NODES])}")
    print(
        f"one evaluation: {1e6 * one:.2f} us, in double precision {1e6 * double:.2f}, NumPy arrays {1e6 * other:.0f} us"
    )
    print(f"  ratio NumPy / kernel {other / one:.0f}")

    made = median_time(lambda: turbulence(200.0, plane.span, 1))
    gusty = in_wind(plane, Wind(5.0, w20=5.0, gust=Gust((0.0, 0.0, -2.0), 20.0, 50.0)), 200.0)
    use_single_precision(gusty.model)

    def gusty_evaluations():
        _evaluate(2000, trim.x, trim.command, gusty.model, table, dx)

    print(
        f"  in turbulence and gust {1e6 * median_time(gusty_evaluations) / 2000:.2f} us; its series {1e3 * made:.1f} ms"
    )

    k, stage = np.zeros((4, L.STATE)), np.zeros(L.STATE)

    def frames(x, command, seconds, steps=0, model=quick):
        x = x.copy()
        _frames(round(seconds / FRAME), x, command, model, table, steps, k, stage)
        return x

    tumble = trim.command.copy()
    tumble[L.ELEVATOR], tumble[L.THROTTLE] = -plane.setup.throws["elevator"].positive, 1.0
    kick = trim.command.copy()
    kick[L.ELEVATOR] -= 0.04
    kick[L.AILERON_LEFT] += 0.05
    kick[L.AILERON_RIGHT] -= 0.05

    def rates_under(command):
        def rate(_, x):
            out = np.zeros(L.STATE)
            derivatives(x, command, model, table, out)
            return out

        return rate

    for name, command in (("level", trim.command), ("tumbling", tumble)):
        true = solve_ivp(rates_under(command), (0.0, 2.0), trim.x, method="DOP853", rtol=1e-10, atol=1e-11).y[:3, -1]
        print(f"flight of 10 s on one core, {name}:")
        for precision, used in (("single", quick), ("double", model)):
            taken = median_time(lambda command=command, used=used: frames(trim.x, command, 10.0, model=used))
            off = np.linalg.norm(frames(trim.x, command, 2.0, model=used)[:3] - true)
            print(
                f"  {precision}: {1e3 * taken:.1f} ms = {10.0 / taken:.0f} times real time, {1e3 * off:.3f} mm off after 2 s"
            )

    rate = rates_under(kick)

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

    slow, brief = median_time(array_flight, 3), median_time(lambda: frames(trim.x, kick, 0.1, 2))
    print("0.1 s of flight, two steps a frame:", end=" ")
    print(f"NumPy {1e3 * slow:.0f} ms, kernel {1e3 * brief:.3f} ms; ratio {slow / brief:.0f}")

    setup = load_setup("precision")
    print("whole flights, pilot and record included:")
    for name in ("upline-45", "knife-edge", "hover", "stall"):
        flown = fly_manoeuvre(setup, load_manoeuvre(name)[0])
        again = (flown.plane, flown.x0, flown.sticks0, flown.table, flown.pilot)
        taken = median_time(lambda again=again: fly(*again))
        seconds = FRAME * len(flown.flight.rows)
        print(f"  {name}: {seconds:.1f} s in {1e3 * taken:.1f} ms = {seconds / taken:.0f} times real time")


if __name__ == "__main__":
    main()
