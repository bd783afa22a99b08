"""Jobs flown on the cores of this machine, by processes of their own.

Building planes and taking measures hold the interpreter for a third of a draw's time, so threads would scale worse.
Each process is asked by one thread here; one that dies is started again and its job is flown anew.  They end with
this one, however that ends, for then their input does.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from itertools import islice

import numba

from scenarios.ensemble.chunks import Chunk, Job, Lost, fly_chunk
from scenarios.ensemble.work import fly_draw

DEATHS = 3  # of processes over one job, after which it is given up
WORTHWHILE = 4.0  # s of work from which processes are started: each takes about 1.5 s until it flies


def cores() -> int:
    """How many this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Cores:
    """`workers` processes (1: this one flies; None: one a core).  A context: they are started by the first jobs that are
    worth it, kept for those that follow, and ended on leaving."""

    def __init__(self, workers: int | None = None):
        self.asked_for = workers is not None
        self.hands = [_Hand() for _ in range(workers or cores())]
        self.idle = list(self.hands)
        self.threads = ThreadPoolExecutor(len(self.hands))
        self.begun = False
        self.pace: float | None = None  # s a draw
        self.draws = 0  # that were asked for before there were processes

    def __enter__(self) -> Cores:
        return self

    def __exit__(self, *failed) -> None:
        for hand in self.hands:
            hand.stop()
        self.threads.shutdown(cancel_futures=True)

    def fly(self, jobs: list[Job]) -> Iterator[tuple[Job, Chunk]]:
        """Every job with its chunk, as they are flown.  Raises `Lost`."""
        self.begun = self.begun or self._worthwhile(jobs)
        if not self.begun:
            yield from ((job, fly_chunk(*job)) for job in jobs)
            return
        waiting = iter(jobs)
        flying = {self.threads.submit(self._flown, job) for job in islice(waiting, 2 * len(self.hands))}
        while flying:
            done, flying = wait(flying, return_when=FIRST_COMPLETED)
            for future in done:
                yield future.result()  # to one who writes it to the disk, perhaps; what is flown meanwhile is bounded
                flying |= {self.threads.submit(self._flown, job) for job in islice(waiting, 1)}

    def _flown(self, job: Job) -> tuple[Job, Chunk]:
        hand = self.idle.pop()
        try:
            return job, hand.fly(job)
        finally:
            self.idle.append(hand)

    def _worthwhile(self, jobs: list[Job]) -> bool:
        """Whether other processes are to fly; then what had to be compiled is compiled, once for all of them."""
        self.draws += sum(job.last - job.first for job in jobs)
        if not jobs or len(self.hands) == 1 or (len(jobs) == 1 and not self.asked_for):
            return False
        if self.pace is None:
            self.pace = _pace(jobs[0])
        return self.asked_for or self.pace * self.draws > WORTHWHILE


def _pace(job: Job) -> float:
    """Time in s that a draw takes one process, from one that was flown before and is flown again."""
    fly_draw(job.work, job.first)
    began = time.perf_counter()
    fly_draw(job.work, job.first)
    return time.perf_counter() - began


class _Hand:
    """One process that flies, and those that follow it should it die."""

    def __init__(self) -> None:
        self.process: subprocess.Popen | None = None
        self.stopped = False

    def stop(self) -> None:
        """End the process, whatever it does."""
        self.stopped = True
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            for stream in (self.process.stdin, self.process.stdout):
                with contextlib.suppress(OSError):
                    stream.close()

    def fly(self, job: Job) -> Chunk:
        """The chunk of a job.  Raises `Lost`."""
        code = None
        for _ in range(DEATHS):
            try:
                if self.process is None:
                    self.process = _started()
                if self.stopped:  # while it was started
                    self.stop()
                    break
                pickle.dump(job, self.process.stdin)
                self.process.stdin.flush()
                answer = pickle.load(self.process.stdout)
            except (EOFError, OSError, pickle.UnpicklingError):
                if self.stopped:
                    break
                code = self.process.wait() if self.process is not None else None
                self.process = None
                continue
            if isinstance(answer, str):
                raise RuntimeError(f"a fault of the program in {job}:\n{answer}")
            return answer
        raise Lost(
            f"{job}: the process that flew them died {DEATHS} times{_of_what(code)}",
            "the same command with fewer workers",
        )


def _of_what(code: int | None) -> str:
    if code is None or code >= 0:
        return ""
    try:
        return f" ({signal.Signals(-code).name})"
    except ValueError:
        return f" (signal {-code})"


def _started() -> subprocess.Popen:
    """A process that is ready to be asked."""
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join(path for path in sys.path if path),
        "NUMBA_CACHE_DIR": numba.config.CACHE_DIR,  # also where it is a temporary one: kernels are compiled once
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
    }
    # of its own group: Ctrl-C is for the process that asks
    group = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP} if os.name == "nt" else {"start_new_session": True}
    return subprocess.Popen(
        [sys.executable, "-m", "scenarios.ensemble.worker"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=environment,
        **group,
    )
