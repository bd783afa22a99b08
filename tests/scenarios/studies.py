"""Small studies for the tests: short flights, so that many can be flown."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from models.loader import Loaded, load
from scenarios.draws import Uncertain, uncertain_of
from scenarios.ensemble import Results, Work, local

ROOT = Path(__file__).parents[2]
SHORT = """\
format: 1
kind: manoeuvre
name: short
start: {from: level flight, airspeed: 25 m/s, height: 100 m}
phases:
  - {name: hands off, for: 0.4 s}
  - {name: small pull, elevator: 10 %, for: 0.6 s}
measures: [elevator_trim, throttle_trim, alpha_trim, pitch_response]
"""
HOVER = """\
format: 1
kind: manoeuvre
name: short-hover
start: {from: hover, height: 40 m}
phases:
  - {name: held, pilot: [aileron, elevator, rudder], hold: place, throttle: hold height, for: 0.6 s}
  - {name: ailerons let go, release: [aileron], for: 0.4 s}
measures: [hover_throttle, thrust_over_weight, elevator_left, hover_drift]
"""
GUSTY = SHORT.replace(
    "height: 100 m}", "height: 100 m, wind: {speed: 4 m/s, from: 270 deg, turbulence: light}}"
).replace("name: short\n", "name: gusty\n")


@cache
def loaded(setup: str = "precision") -> Loaded:
    """A built-in setup with its texts."""
    return load(setup)


def work(count: int, *manoeuvres: tuple[str, str], setup: str = "precision", more=(), **changes) -> Work:
    """What a pilot cannot measure, and `more`, drawn for short flights of a built-in setup."""
    uncertain = (*uncertain_of(loaded(setup).setup), *more)
    return Work.of(loaded(setup), list(manoeuvres) or [("short", SHORT)], count, **{"uncertain": uncertain, **changes})


FLIGHT = (
    Uncertain("wind", "uniform", 3.0),
    Uncertain("wind direction", "uniform", 3.0),
    Uncertain("turbulence seed", "uniform", 0.0),
    Uncertain("pilot delay", "normal", 0.03),
)


def same(a: Results, b: Results) -> bool:
    """Whether two studies found the same, bit for bit."""
    return (
        a.values.tobytes() == b.values.tobytes()
        and a.endings.tobytes() == b.endings.tobytes()
        and a.reasons.tobytes() == b.reasons.tobytes()
        and a.texts == b.texts
    )


def started(script: str, *arguments: str) -> subprocess.Popen:
    """A Python process of its own that runs `script` with `arguments`."""
    return subprocess.Popen(
        [sys.executable, "-c", script, *arguments],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


KEEP_FLYING = """\
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background jobs are started deaf to Ctrl-C
from scenarios.ensemble import chunks, run
from tests.scenarios.studies import work
chunks.FLIGHTS = 6
count, folder, workers = int(sys.argv[1]), sys.argv[2], int(sys.argv[3])
run(work(count), folder, workers=workers, progress=lambda done, total, left: print(done, flush=True))
"""


@contextmanager
def dask_cluster(folder: Path, workers: int = 2) -> Iterator[tuple[str, list[subprocess.Popen]]]:
    """A scheduler and workers in processes of their own on this machine: its address, and the workers."""
    file = folder / "scheduler.json"
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}

    def begun(*arguments: str) -> subprocess.Popen:
        command = [sys.executable, "-m", "dask", *arguments, "--scheduler-file", str(file), "--no-dashboard"]
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        return subprocess.Popen(command, env=environment, cwd=folder, **quiet)

    own = ["--host", "127.0.0.1"]
    processes = [begun("scheduler", *own, "--port", "0")]
    try:
        deadline = time.monotonic() + 60.0
        while not file.exists() and time.monotonic() < deadline:
            time.sleep(0.1)
        processes += [begun("worker", *own, "--nthreads", "1", "--no-nanny") for _ in range(workers)]
        yield json.loads(file.read_text())["address"], processes[1:]
    finally:
        for process in processes:
            process.kill()
            process.wait()


def die_at_once(monkeypatch) -> None:
    """From now on every process that is started to fly is killed."""
    begin = local._started

    def doomed():
        process = begin()
        process.kill()
        return process

    monkeypatch.setattr(local, "_started", doomed)
