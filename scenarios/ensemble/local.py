"""Chunks flown on the cores of this machine, by processes of their own.

Building planes and taking measures hold the interpreter for a third of a draw's time, so threads would scale worse.
Each process is asked by one thread here; one that dies is started again and its chunk is flown anew.  They end with
this one, however that ends, for then their input does.
"""

from __future__ import annotations

import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator

import numba

from scenarios.ensemble.chunks import Chunk
from scenarios.ensemble.store import Stopped
from scenarios.ensemble.work import Work

DEATHS = 3  # of processes over one chunk, after which it is given up


def cores() -> int:
    """How many this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def fly_here(work: Work, ranges: list[tuple[int, int]], workers: int) -> Iterator[Chunk]:
    """The chunks of `ranges` of draws as they are flown, by so many processes.  Raises `Stopped`."""
    asked: queue.SimpleQueue = queue.SimpleQueue()
    for one in ranges:
        asked.put(one)
    answers: queue.Queue = queue.Queue(maxsize=2 * workers)  # whoever is ahead of the disk waits
    hands = [_Hand(work, asked, answers) for _ in range(min(workers, len(ranges)))]
    try:
        for hand in hands:
            hand.start()
        for _ in ranges:
            answer = answers.get()
            if isinstance(answer, Exception):
                raise answer
            yield answer
    finally:
        for hand in hands:
            hand.stop()


class _Hand(threading.Thread):
    """A thread that has chunks flown by one process after the other, should they die."""

    def __init__(self, work: Work, asked: queue.SimpleQueue, answers: queue.Queue):
        super().__init__(daemon=True)
        self.work, self.asked, self.answers = work, asked, answers
        self.process: subprocess.Popen | None = None
        self.stopped = False

    def run(self) -> None:
        try:
            while not self.stopped:
                self._tell(self._flown(*self.asked.get_nowait()))
        except queue.Empty:
            pass
        except Exception as fault:
            self._tell(fault)
        finally:
            self.stop()

    def stop(self) -> None:
        """End the process, whatever it does."""
        self.stopped = True
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            for stream in (self.process.stdin, self.process.stdout):
                try:
                    stream.close()
                except OSError:
                    pass

    def _tell(self, answer: Chunk | Exception) -> None:
        while not self.stopped:
            try:
                return self.answers.put(answer, timeout=0.2)
            except queue.Full:
                continue

    def _flown(self, first: int, last: int) -> Chunk:
        for _ in range(DEATHS):
            try:
                if self.process is None:
                    self.process = _started(self.work)
                pickle.dump((first, last), self.process.stdin)
                self.process.stdin.flush()
                answer = pickle.load(self.process.stdout)
            except (EOFError, OSError, pickle.UnpicklingError):
                if self.stopped:
                    break
                code = self.process.wait() if self.process is not None else None
                self.process = None
                continue
            if isinstance(answer, str):
                raise RuntimeError(f"a fault of the program in draws {first} to {last - 1}:\n{answer}")
            return answer
        raise Stopped(
            f"draws {first} to {last - 1}: the process that flew them died {DEATHS} times{_of_what(code)};"
            " what was flown before is kept; try: the same command with fewer workers, which goes on from there"
        )


def _of_what(code: int | None) -> str:
    if code is None or code >= 0:
        return ""
    try:
        return f" ({signal.Signals(-code).name})"
    except ValueError:
        return f" (signal {-code})"


def _started(work: Work) -> subprocess.Popen:
    """A process that is ready to be asked for draws of `work`."""
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join(path for path in sys.path if path),
        "NUMBA_CACHE_DIR": numba.config.CACHE_DIR,  # also where it is a temporary one: kernels are compiled once
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
    }
    # of its own group: Ctrl-C is for the process that asks
    group = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP} if os.name == "nt" else {"start_new_session": True}
    process = subprocess.Popen(
        [sys.executable, "-m", "scenarios.ensemble.worker"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=environment,
        **group,
    )
    pickle.dump(work, process.stdin)
    process.stdin.flush()
    return process
