"""Draws of several works flown on all cores, in any order, each kept; chunks that are in a folder are not flown again."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from models.errors import UserError, printable
from scenarios.ensemble import Row, Stopped, Work, fly_draw
from scenarios.ensemble.local import cores

CHUNK = 5  # draws of one work that a worker flies before it tells


def _fly(work: Work, indices: tuple[int, ...]) -> list[Row]:
    return [fly_draw(work, index) for index in indices]


def _heedless() -> None:
    """Ctrl-C is for the process that asks."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


class Flights:
    """Rows by (key of the work, index of the draw).  A context: leaving it ends the workers."""

    def __init__(self, folder: Path | None = None, workers: int | None = None):
        self.rows: dict[tuple[str, int], Row] = {}
        self.folder = folder
        self.workers = workers or cores()
        self.pool: ProcessPoolExecutor | None = None
        if folder is not None:
            self._read()

    def __enter__(self) -> Flights:
        return self

    def __exit__(self, *failed) -> None:
        if self.pool is not None:
            self.pool.shutdown(wait=not any(failed), cancel_futures=True)

    def missing(self, wanted: Iterable[tuple[Work, Iterable[int]]]) -> int:
        """How many draws of `wanted` are still to be flown."""
        return sum((work.key, index) not in self.rows for work, indices in wanted for index in indices)

    def fly(self, wanted: list[tuple[Work, Iterable[int]]], tell: Callable[[int], None] = lambda flown: None) -> None:
        """Fly what is missing of (work, draws); `tell` is told how many draws were just flown."""
        chunks = []
        for work, indices in wanted:
            left = [index for index in indices if (work.key, index) not in self.rows]
            chunks += [(work, tuple(left[n : n + CHUNK])) for n in range(0, len(left), CHUNK)]
        while chunks and (self.workers == 1 or self.pool is None):
            work, indices = chunks.pop(0)
            self._keep(work, indices, _fly(work, indices))
            tell(len(indices))
            if self.workers > 1:  # what had to be compiled is compiled now, once for all of them
                self.pool = ProcessPoolExecutor(self.workers, get_context("spawn"), _heedless)
        if not chunks:
            return
        waiting = {self.pool.submit(_fly, work, indices): (work, indices) for work, indices in chunks}
        try:
            for done in as_completed(waiting):
                work, indices = waiting[done]
                self._keep(work, indices, done.result())
                tell(len(indices))
        except BrokenProcessPool:
            kept = (
                "what was flown is in the folder"
                if self.folder
                else "with --folder what was flown would have been kept"
            )
            raise Stopped(f"a process that flew ended before its time; {kept}; try: --workers 1") from None

    def of(self, work: Work, count: int) -> tuple[np.ndarray, np.ndarray, list[tuple[str, ...]]]:
        """Values (draws, columns), endings (draws, manoeuvres) and reasons of the nominal flight and `count` draws."""
        rows = [self.rows[work.key, index] for index in range(count + 1)]
        return (
            np.array([row.values for row in rows]),
            np.array([row.endings for row in rows]),
            [r.reasons for r in rows],
        )

    def _keep(self, work: Work, indices: tuple[int, ...], rows: list[Row]) -> None:
        for index, row in zip(indices, rows):
            self.rows[work.key, index] = row
        if self.folder is None:
            return
        chunk = {
            "key": work.key,
            "draws": [
                {
                    "index": i,
                    "values": [float(v).hex() for v in r.values],
                    "endings": r.endings.tolist(),
                    "reasons": r.reasons,
                }
                for i, r in zip(indices, rows)
            ],
        }
        path = self.folder / f"{work.key}-{indices[0]}.json"
        beside = path.with_suffix(f".{os.getpid()}.part")
        try:
            beside.write_text(json.dumps(chunk), encoding="utf-8")
            os.replace(beside, path)
        except OSError as error:
            raise UserError(f"--folder: {printable(str(path), 200)}: {error.strerror or error}") from None

    def _read(self) -> None:
        """Take what the folder holds; a file that is no chunk of ours is passed over and flown again."""
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            files = sorted(self.folder.glob("*.json"))
            for file in files:
                self._take(file)
        except OSError as error:
            raise UserError(f"--folder: {printable(str(self.folder), 200)}: {error.strerror or error}") from None

    def _take(self, file: Path) -> None:
        try:
            chunk = json.loads(file.read_text(encoding="utf-8"))
            for draw in chunk["draws"]:
                values = np.array([float.fromhex(v) for v in draw["values"]])
                row = Row(values, np.array(draw["endings"], dtype=np.int8), tuple(draw["reasons"]))
                self.rows[str(chunk["key"]), int(draw["index"])] = row
        except (ValueError, KeyError, TypeError):
            return
