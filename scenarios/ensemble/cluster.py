"""Chunks flown by many machines, through Dask: an extra, `pip install "upline[cluster]"`.

A scheduler and workers that have the same version of this program run elsewhere (`dask scheduler`, `dask worker ADDRESS`).
A worker that dies is Dask's to replace: its chunks are flown by the others.
"""

from __future__ import annotations

import contextlib
import logging
import time
from collections.abc import Iterator

from models.errors import OptionError, Refused, UserError, printable, quoted
from scenarios.ensemble.chunks import Chunk, fly_chunk
from scenarios.ensemble.store import Stopped
from scenarios.ensemble.work import Work, program_version

WAIT = 10.0  # s for the scheduler to answer
PATIENCE = 60.0  # s without any worker
SAMPLE = '"tcp://192.0.2.7:8786", or "192.0.2.7:8786"'


def fly_on(work: Work, ranges: list[tuple[int, int]], address: str) -> Iterator[Chunk]:
    """The chunks of `ranges` of draws as they are flown, by the workers of the scheduler at `address`.  Raises `UserError`."""
    client = _connected(address)
    try:
        _of_one_version(client)
        waiting = list(reversed(ranges))
        futures: dict = {}
        seen = time.monotonic()
        while waiting or futures:
            threads = sum(client.nthreads().values())
            while waiting and len(futures) < 2 * threads:
                one = waiting.pop()
                futures[client.submit(_answer, work, *one, pure=False, retries=2)] = one
            if threads:
                seen = time.monotonic()
            elif time.monotonic() - seen > PATIENCE:
                raise Stopped(f"--cluster {printable(address, 100)}: no worker for {PATIENCE:.0f} s; {KEPT}")
            for future in _first_done(client, futures):
                yield _checked(future, *futures.pop(future))
    except OSError as error:
        raise Stopped(f"--cluster {printable(address, 100)}: the scheduler is gone ({error}); {KEPT}") from None
    finally:
        with contextlib.suppress(Exception):
            client.cancel(list(futures))
        with contextlib.suppress(Exception):
            client.close(timeout=2)


KEPT = "what was flown before is kept; try: the same command again, which goes on from there"


def _answer(work: Work, first: int, last: int) -> tuple[str, Chunk]:
    return program_version(), fly_chunk(work, first, last)


def _checked(future, first: int, last: int) -> Chunk:
    from distributed import KilledWorker

    try:
        version, chunk = future.result()
    except KilledWorker:
        raise Stopped(f"draws {first} to {last - 1}: the workers that flew them died; {KEPT}") from None
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
