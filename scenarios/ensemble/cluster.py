"""Jobs flown by many machines, through Dask: an extra, `pip install "upline[cluster]"`.

A scheduler and workers that have the same version of this program run elsewhere (`dask scheduler`, `dask worker ADDRESS`).
A worker that dies is Dask's to replace: its jobs are flown by the others.
"""

from __future__ import annotations

import contextlib
import logging
import time
from collections.abc import Iterator

from models.errors import OptionError, Refused, UserError, printable, quoted
from scenarios.ensemble.chunks import Chunk, Job, Lost, fly_chunk
from scenarios.ensemble.work import Work, program_version

WAIT = 10.0  # s for the scheduler to answer
PATIENCE = 60.0  # s without any worker
SAMPLE = '"tcp://192.0.2.7:8786", or "192.0.2.7:8786"'


class Cluster:
    """The workers of the scheduler at `address`.  A context.  Raises `UserError`."""

    def __init__(self, address: str):
        self.address = address
        self.client = _connected(address)
        self.flying: dict = {}  # future -> job
        self.asked = False  # for the workers' version

    def __enter__(self) -> Cluster:
        return self

    def __exit__(self, *failed) -> None:
        with contextlib.suppress(Exception):
            self.client.cancel(list(self.flying))
        with contextlib.suppress(Exception):
            self.client.close(timeout=2)

    def fly(self, jobs: list[Job]) -> Iterator[tuple[Job, Chunk]]:
        """Every job with its chunk, as they are flown.  Raises `Lost`, `UserError`."""
        waiting = list(reversed(jobs))
        seen = time.monotonic()
        try:
            if not self.asked:
                _of_one_version(self.client)
                self.asked = True
            while waiting or self.flying:
                threads = sum(self.client.nthreads().values())
                while waiting and len(self.flying) < 2 * threads:
                    job = waiting.pop()
                    self.flying[self.client.submit(_answer, *job, pure=False, retries=2)] = job
                if threads:
                    seen = time.monotonic()
                elif time.monotonic() - seen > PATIENCE:
                    raise Lost(f"--cluster {printable(self.address, 100)}: no worker for {PATIENCE:.0f} s")
                for future in _first_done(self.client, self.flying):
                    job = self.flying.pop(future)
                    yield job, _checked(future, job)
        except OSError as error:
            raise Lost(f"--cluster {printable(self.address, 100)}: the scheduler is gone ({error})") from None


def _answer(work: Work, first: int, last: int) -> tuple[str, Chunk]:
    return program_version(), fly_chunk(work, first, last)


def _checked(future, job: Job) -> Chunk:
    from distributed import KilledWorker

    try:
        version, chunk = future.result()
    except KilledWorker:
        raise Lost(f"{job}: the workers that flew them died") from None
    if version != program_version():  # one that came later
        raise _other_version("a worker")
    return chunk


def _first_done(client, futures: dict) -> list:
    from distributed import TimeoutError as NotYet
    from distributed import wait

    if not futures:
        time.sleep(0.2)
        return []
    try:
        with client.as_current():
            return list(wait(list(futures), timeout=1.0, return_when="FIRST_COMPLETED").done)
    except NotYet:
        return []


def _connected(address: str):
    try:
        from distributed import Client
    except ImportError:
        refused = Refused("no Dask on this machine", "Dask", 'pip install "dask[distributed]"')
        raise OptionError("--cluster", refused) from None
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        return Client(address, timeout=WAIT, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        why = f" ({printable(str(error), 120)})" if str(error) else ""
        refused = Refused(
            f"{quoted(address)}, where no scheduler answers{why}", "the address of a Dask scheduler", SAMPLE
        )
        raise OptionError("--cluster", refused) from None


def _of_one_version(client) -> None:
    """Raises `UserError` where a worker has another version of this program, or none."""
    try:
        versions = client.run(program_version)
    except ModuleNotFoundError as error:
        refused = Refused(f"workers without {error.name}", "workers with this program installed")
        raise OptionError("--cluster", refused) from None
    for worker, version in versions.items():
        if version != program_version():
            raise _other_version(worker)


def _other_version(worker: str) -> UserError:
    return OptionError(
        "--cluster",
        Refused(f"{printable(worker, 100)} with another version of this program", "the same version on every machine"),
    )
