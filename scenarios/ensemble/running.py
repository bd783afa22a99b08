"""A study flown from its first draw to its last, or gone on with."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from pathlib import Path

from models.errors import OptionError, Refused, printable
from scenarios.ensemble import store
from scenarios.ensemble.chunks import Job, chunk_size, ranges
from scenarios.ensemble.crew import crew_of
from scenarios.ensemble.results import Results, put_together
from scenarios.ensemble.work import Work, prepare

Progress = Callable[[int, int, float], None]  # draws done, all draws, s left (NaN until known)


def run(
    work: Work,
    folder: Path | str | None = None,
    workers: int | None = None,
    cluster: str | None = None,
    progress: Progress = lambda done, total, left: None,
) -> Results:
    """Every draw of `work`: the same numbers whoever flies it.

    `folder` keeps what was flown: a study stopped there goes on from there, and may be made longer.  `workers` processes
    fly it (1: this one; None: one a core where that is worth it), or those of the Dask scheduler at `cluster`.
    Raises `UserError`.
    """
    if work.count < 1 or (workers is not None and workers < 1):
        what, found = ("draws", work.count) if work.count < 1 else ("--workers", workers)
        raise OptionError(what, Refused(str(found), "a whole number from 1"))
    prepare(work)
    with store.opened(Path(folder), work) if folder is not None else contextlib.nullcontext() as kept:
        pieces = ranges(work.count, kept.size if kept else chunk_size(work))
        had = {piece[0] for piece in pieces if kept and kept.load(*piece)}
        missing = [piece for piece in pieces if piece[0] not in had]
        done = work.count - sum(last - first for first, last in missing)
        progress(done, work.count, float("nan"))
        began, before, held = time.monotonic(), done, []
        with crew_of(workers, cluster, kept is not None) as crew:
            for _, chunk in crew.fly([Job(work, *piece) for piece in missing]):
                if kept:
                    kept.save(chunk)
                else:
                    held.append(chunk)
                done += len(chunk.values)
                progress(done, work.count, (time.monotonic() - began) / (done - before) * (work.count - done))
        return put_together(work, (kept.load(*piece) for piece in pieces) if kept else held)


def read(folder: Path | str) -> Results:
    """What the study in `folder` found.  Raises `UserError` where it has not been flown to its end."""
    work, study = store.read_study(Path(folder))
    kept = store.Folder(Path(folder), study["draws of a chunk"])
    pieces = ranges(work.count, kept.size)
    there = sum(last - first for first, last in pieces if kept.load(first, last))
    if there < work.count:
        refused = Refused(
            f"{there} of {work.count} draws", "a study that is complete", "the command that began it, again"
        )
        raise OptionError(printable(str(folder), 200), refused)
    return put_together(work, (kept.load(*piece) for piece in pieces))
