"""Draws of several works flown together and kept; what is in a folder is not flown again."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from scenarios.ensemble import Work
from scenarios.ensemble.chunks import Chunk, Job, ranges
from scenarios.ensemble.crew import Crew
from scenarios.ensemble.store import load_chunk, made, save_chunk

CHUNK = 5  # draws of one work that are flown, sent and kept together


class Flights:
    """What a `crew` has flown, in a `folder` too if there is one.  Raises `UserError`."""

    def __init__(self, crew: Crew, folder: Path | None = None):
        self.crew, self.folder = crew, folder
        self.chunks: dict[tuple[str, int], Chunk] = {}  # by the key of the work and the first draw
        if folder is not None:
            made(folder)

    def missing(self, works: list[Work], draws: int) -> list[Job]:
        """What is still to be flown of the nominal flight and so many draws of each work."""
        return [job for work in works for job in _jobs(work, draws) if not self._has(job)]

    def fly(self, jobs: list[Job]) -> Iterator[Job]:
        """Fly the jobs, in any order: each as it is done.  Raises `Stopped`."""
        for job, chunk in self.crew.fly(jobs):
            if self.folder is not None:
                save_chunk(self._file(job), chunk)
            self.chunks[job.work.key, job.first] = chunk
            yield job

    def of(self, work: Work, draws: int) -> tuple[np.ndarray, np.ndarray, list[tuple[str, ...]]]:
        """Values (draws, columns), endings (draws, manoeuvres) and reasons of the nominal flight and so many draws."""
        chunks = [self.chunks[work.key, job.first] for job in _jobs(work, draws)]
        return (
            np.concatenate([chunk.values for chunk in chunks])[: draws + 1],
            np.concatenate([chunk.endings for chunk in chunks])[: draws + 1],
            [reasons for chunk in chunks for reasons in chunk.reasons()][: draws + 1],
        )

    def _has(self, job: Job) -> bool:
        chunk = self.chunks.get((job.work.key, job.first))
        if chunk is None and self.folder is not None:
            chunk = load_chunk(self._file(job), job.first, job.last)
        if chunk is None or len(chunk.values) < job.last - job.first:
            return False
        self.chunks[job.work.key, job.first] = chunk
        return True

    def _file(self, job: Job) -> Path:
        return self.folder / f"{job.work.key}-{job.first}.npz"


def _jobs(work: Work, draws: int) -> list[Job]:
    """The nominal flight alone, as it is wanted first, then the draws in pieces."""
    return [Job(work, 0, 1), *(Job(work, 1 + first, 1 + last) for first, last in ranges(draws, CHUNK))]
