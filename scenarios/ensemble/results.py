"""What a study found: a row for every draw."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from scenarios.ensemble.chunks import Chunk
from scenarios.ensemble.columns import Column
from scenarios.ensemble.work import ENDED, Work, prepare


@dataclass(frozen=True)
class Results:
    """`values` (count, columns), NaN where not taken; `endings` (count, manoeuvres) codes of `ENDED`; `reasons`
    (count, columns) numbers into `texts`, whose first is ""."""

    work: Work
    columns: tuple[Column, ...]
    values: np.ndarray
    endings: np.ndarray
    reasons: np.ndarray
    texts: tuple[str, ...]

    def reason(self, index: int, column: int) -> str:
        """Why a measure of a draw was not taken, without numbers; "" where it was."""
        return self.texts[self.reasons[index, column]]

    def ended(self, manoeuvre: int) -> dict[str, int]:
        """How many draws ended how, of those ways that any did."""
        counts = np.bincount(self.endings[:, manoeuvre], minlength=len(ENDED))
        return {name: int(n) for name, n in zip(ENDED, counts) if n}

    def taken(self, column: int) -> np.ndarray:
        """The values of a column that were taken, in the order of the draws."""
        values = self.values[:, column]
        return values[~np.isnan(values)]


def put_together(work: Work, chunks: Iterable[Chunk]) -> Results:
    """The results of `work` from its chunks, in whatever order they come."""
    columns = prepare(work).columns
    values = np.full((work.count, len(columns)), np.nan)
    endings = np.zeros((work.count, len(work.manoeuvres)), dtype=np.int8)
    reasons = np.zeros((work.count, len(columns)), dtype=np.uint16)
    found: dict[str, int] = {"": 0}
    for chunk in chunks:
        rows = slice(chunk.first, min(chunk.first + len(chunk.values), work.count))
        n = rows.stop - rows.start
        values[rows], endings[rows] = chunk.values[:n], chunk.endings[:n]
        number = np.array([found.setdefault(text, len(found)) for text in chunk.texts], dtype=np.uint16)
        draw, column, text = chunk.gaps[chunk.gaps[:, 0] < n].T
        reasons[chunk.first + draw, column] = number[text]
    # numbers of reasons by text, so that they do not tell in which order the chunks came
    texts = ("", *sorted(text for text in found if text))
    order = np.array([texts.index(text) for text in found], dtype=np.uint16)
    return Results(work, columns, values, endings, order[reasons], texts)
