"""What a study costs: flights a second, scaling over processes and threads, memory, and a million flights laid out.

    python -m tests.benchmarks.study_speed [draws]

Each draw is one flight of 10 s with everything drawn that a pilot cannot measure.  Ratios compare within one run.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from models.loader import load
from scenarios.draws import uncertain_of
from scenarios.ensemble import Work, cases_of, fly_draw, prepare, run, write_table
from scenarios.ensemble.chunks import MOST_CHUNKS, Job, ranges
from scenarios.ensemble.local import Cores
from scenarios.manoeuvres import fly_manoeuvre
from sim.build import build
from sim.flight import fly

TEN_SECONDS = """\
format: 1
kind: manoeuvre
name: ten-seconds
start: {from: level flight, airspeed: 25 m/s, height: 150 m}
phases:
  - {name: pull up, pilot: [aileron, elevator, rudder], aim: {bank: 0 deg, pitch: 45 deg, at: 45 deg/s}, for: 3 s}
  - {name: hands off, release: [aileron, elevator, rudder], for: 3 s}
  - {name: level out, pilot: [aileron, elevator, rudder], aim: {bank: 0 deg, pitch: 0 deg, at: 45 deg/s}, for: 4 s}
measures: [pitch_drift, path_curvature, roll_drift, heading_drift, line_speed, elevator_trim, throttle_trim, alpha_trim]
"""


class Memory(threading.Thread):
    """The most memory (MiB) that this process and its children held together."""

    def __init__(self):
        super().__init__(daemon=True)
        self.most, self.done = 0.0, False

    def run(self) -> None:
        while not self.done:
            total = 0
            for entry in Path("/proc").iterdir():
                try:
                    status = (entry / "status").read_text()
                except OSError:
                    continue
                if f"\nPid:\t{os.getpid()}\n" in status or f"\nPPid:\t{os.getpid()}\n" in status:
                    rss = next((line for line in status.splitlines() if line.startswith("VmRSS")), "VmRSS: 0")
                    total += int(rss.split()[1])
            self.most = max(self.most, total / 1024.0)
            time.sleep(0.2)


def timed(work: Work, **how) -> tuple[float, float]:
    """Wall time in s of a study, and the most memory in MiB."""
    memory = Memory()
    memory.start()
    began = time.perf_counter()
    run(work, **how)
    took = time.perf_counter() - began
    memory.done = True
    memory.join()
    return took, memory.most


def parts(work: Work, draws: range) -> dict[str, float]:
    """Processor time in ms of the parts of a draw."""
    like, found = prepare(work).plane, {}

    def cpu(name: str, what, over) -> list:
        began = time.process_time()
        out = [what(one) for one in over]
        found[name] = 1000.0 * (time.process_time() - began) / len(out)
        return out

    cases = cpu("draw, and change the setup", lambda i: cases_of(work, i)[0], draws)
    planes = cpu("build the plane", lambda case: build(case.setup), cases)
    flown = cpu(
        "trim and fly",
        lambda pair: fly_manoeuvre(pair[0].setup, pair[0].manoeuvre, pair[1], like=like),
        zip(cases, planes),
    )
    cpu("  of which the flight", lambda f: fly(f.plane, f.x0, f.sticks0, f.table, f.pilot), flown)
    cpu("a draw in all", lambda i: fly_draw(work, i), draws)
    return found


def spent_so_far() -> float:
    """Processor time in s of this process and of those that it has ended."""
    return sum(resource.getrusage(who).ru_utime for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))


def by_processes(work: Work, workers: int) -> float:
    """Flights a second of so many processes, their start counted."""
    began = time.perf_counter()
    with Cores(workers) as crew:
        flown = crew.fly([Job(work, *piece) for piece in ranges(work.count, 100)])
        assert sum(len(chunk.values) for _, chunk in flown) == work.count
    return work.count / (time.perf_counter() - began)


def by_threads(work: Work, workers: int) -> float:
    """Flights a second of so many threads of this process."""
    began = time.perf_counter()
    with ThreadPoolExecutor(workers) as pool:
        for _ in pool.map(lambda i: fly_draw(work, i), range(work.count)):
            pass
    return work.count / (time.perf_counter() - began)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    loaded = load("precision")
    work = Work.of(loaded, [("ten-seconds", TEN_SECONDS)], count, uncertain=uncertain_of(loaded.setup))
    fly_draw(work, 1)
    print(f"{count} draws of a flight of 10 s, {len(os.sched_getaffinity(0))} cores; flights a second")
    for name, rate in (("processes", by_processes), ("threads", by_threads)):
        one, two = rate(work, 1), rate(work, 2)
        print(f"  1 or 2 {name:<10} {one:6.1f} {two:6.1f}   scaling {two / one / 2:.2f}")
    with tempfile.TemporaryDirectory() as folder:
        study = Path(folder) / "study"
        before = spent_so_far()
        took, most = timed(work, folder=study, workers=2)
        spent = spent_so_far() - before
        print(f"  2 processes, kept in a folder: {took:.1f} s, {most:.0f} MiB at most, all processes together")
        print(
            f"  10 000 flights: {took / count * 1e4:.0f} s as found, {spent / count * 1e4 / 2:.0f} s with two cores for itself"
        )
        size = sum(file.stat().st_size for file in study.glob("chunk-*.npz"))
        began = time.perf_counter()
        results = run(work, study)
        read = time.perf_counter() - began
        tables = {}
        for kind in ("csv", "parquet"):
            began, path = time.perf_counter(), Path(folder) / f"table.{kind}"
            with open(path, "wb") as file:
                write_table(results, path, file)
            tables[kind] = path.stat().st_size, time.perf_counter() - began
    million, per = 1_000_000, 1_000_000 // MOST_CHUNKS
    rows = results.values.nbytes + results.endings.nbytes + results.reasons.nbytes
    print(f"a million draws of one manoeuvre and {len(results.columns)} measures, from these figures")
    print(
        f"  {MOST_CHUNKS} files of {per} draws, {size / count * million / 1e6:.0f} MB; a chunk takes {2 * took / count * per:.0f} s"
    )
    print(
        f"  2 cores {took / count * million / 3600:.1f} h, 64 cores {took / count * million / 3600 / 32 * 60:.0f} min"
    )
    print(f"  read back {read / count * million:.0f} s, {rows / count * million / 1e6:.0f} MB of memory")
    for kind, (volume, seconds) in tables.items():
        print(f"  {kind}: {volume / count * million / 1e6:.0f} MB, {seconds / count * million:.0f} s")
    print("processor time of a draw, ms")
    for part, spent in parts(work, range(2, 102)).items():
        print(f"  {part:<28} {spent:6.2f}")


if __name__ == "__main__":
    main()
