"""Flights in pieces: so many draws of a work together are flown, sent and kept."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from scenarios.ensemble.work import Row, Work, fly_draw

FLIGHTS = 100  # of a chunk, about a second's work: what is lost with a process
MOST_CHUNKS = 2000  # of a study, which is how many files a folder gets


class Job(NamedTuple):
    """A chunk to be flown: the draws of `work` from `first` to `last` (not included)."""

    work: Work
    first: int
    last: int

    def __str__(self) -> str:
        return f"draws {self.first} to {self.last - 1}"


class Lost(Exception):
    """Whoever flew is gone, and why; the flights can go on from what is kept if the user does as `advice` says."""

    def __init__(self, why: str, advice: str = "the same command again"):
        super().__init__(why)
        self.advice = advice


@dataclass(frozen=True)
class Chunk:
    """Draws `first` and on: `values` (draws, columns), `endings` (draws, manoeuvres), `gaps` (n, 3) of a draw of the chunk,
    a column, and the number of the reason in `texts`."""

    first: int
    values: np.ndarray
    endings: np.ndarray
    gaps: np.ndarray
    texts: tuple[str, ...]

    def reasons(self) -> list[tuple[str, ...]]:
        """Why a measure was not taken ("" where it was), for every draw and column."""
        found = np.full(self.values.shape, "", dtype=object)
        for n, column, text in self.gaps:
            found[n, column] = self.texts[text]
        return [tuple(row) for row in found]


def chunk_size(work: Work) -> int:
    """How many draws of `work` make a chunk."""
    return max(math.ceil(FLIGHTS / len(work.manoeuvres)), math.ceil(work.count / MOST_CHUNKS))


def ranges(count: int, size: int) -> list[tuple[int, int]]:
    """First and last draw (not included) of every chunk."""
    return [(first, min(first + size, count)) for first in range(0, count, size)]


def fly_chunk(work: Work, first: int, last: int) -> Chunk:
    """The draws from `first` to `last` (not included)."""
    return gathered(first, (fly_draw(work, index) for index in range(first, last)))


def gathered(first: int, rows: Iterable[Row]) -> Chunk:
    """Rows as one chunk."""
    values, endings, gaps, texts = [], [], [], {}
    for n, row in enumerate(rows):
        values.append(row.values)
        endings.append(row.endings)
        gaps += [(n, c, texts.setdefault(text, len(texts))) for c, text in enumerate(row.reasons) if text]
    return Chunk(
        first, np.array(values), np.array(endings), np.array(gaps, dtype=np.int32).reshape(-1, 3), tuple(texts)
    )
