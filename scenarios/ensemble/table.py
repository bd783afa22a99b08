"""A study as one table with a row for every draw: CSV, or Parquet through pyarrow (an extra, `pip install "upline[parquet]"`).

Columns: the draw; how each manoeuvre ended; the error of every drawn input, in the unit that pilots use; every measure,
empty where it was not taken.  Units stand in the headings, in Parquet in the fields' metadata besides.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from models.errors import OptionError, Refused
from models.fields import CentreOfGravity, Quantity, Written
from models.units import in_unit
from scenarios.draws import WHOLE
from scenarios.ensemble.results import Results
from scenarios.ensemble.work import ENDED, prepare

ENDINGS = (".csv", ".parquet")
BLOCK = 5000  # draws that are held at once
SHOWN = {"length": "mm", "angle": "deg", "ratio": "%", "mass": "g", "duration": "ms", "speed": "m/s"}


@dataclass(frozen=True)
class Field:
    """A column of the table: `take` gives its values for a range of draws."""

    name: str
    unit: str
    about: str
    take: Callable[[range], Any]

    @property
    def heading(self) -> str:
        """Its name with the unit."""
        return f"{self.name} ({self.unit})" if self.unit else self.name


def fields_of(results: Results) -> list[Field]:
    """The columns of the table of `results`."""
    work = results.work
    words = np.array(ENDED)

    @lru_cache(maxsize=1)  # every column of inputs asks for the same block
    def drawn(draws: range) -> list[dict[str, float]]:
        return [work.errors(index) for index in draws]

    fields = [Field("draw", "", "0 is the nominal case, without errors", lambda draws: np.array(draws))]
    for number, (name, _) in enumerate(work.manoeuvres):
        fields.append(
            Field(
                f"{name} ended",
                "",
                "how the flight ended",
                lambda draws, n=number: words[results.endings[_s(draws), n]],
            )
        )
    for one in work.uncertain:
        unit, scale = _unit(prepare(work).inputs[one.input].written)
        if one.input in WHOLE:
            unit, scale = "", 1.0
        about = f"error of the input, drawn {one.kind}" if one.input not in WHOLE else "drawn, as a share of its range"

        def errors(draws: range, one=one, scale=scale) -> np.ndarray:
            return np.array([scale * errors.get(one.input, 0.0) for errors in drawn(draws)])

        fields.append(Field(f"error of {one.input}", unit, about, errors))
    for number, column in enumerate(results.columns):
        fields.append(
            Field(
                f"{column.manoeuvre} {column.measure}",
                column.unit,
                column.definition.about,
                lambda draws, n=number: results.values[_s(draws), n],
            )
        )
    return fields


def _s(draws: range) -> slice:
    return slice(draws.start, draws.stop)


def _unit(written: Written) -> tuple[str, float]:
    """The unit that an error of such an input is shown in, and how many of it there are in SI's."""
    if isinstance(written, CentreOfGravity):
        return "mm", 1000.0
    dimension = written.dimension if isinstance(written, Quantity) else "speed"
    unit = SHOWN.get(dimension, "")
    return unit, in_unit(1.0, dimension, unit) if unit else 1.0


def _blocks(count: int) -> Iterator[range]:
    return (range(first, min(first + BLOCK, count)) for first in range(0, count, BLOCK))


def write_csv(results: Results, file: BinaryIO) -> None:
    """The table as CSV (RFC 4180), numbers in full; a measure that was not taken is empty."""
    text = io.TextIOWrapper(file, encoding="utf-8", newline="", write_through=True)
    writer = csv.writer(text)
    fields = fields_of(results)
    writer.writerow([field.heading for field in fields])
    for draws in _blocks(results.work.count):
        columns = [field.take(draws).tolist() for field in fields]
        writer.writerows([["" if value != value else value for value in row] for row in zip(*columns)])
    text.detach()


def write_parquet(results: Results, file: BinaryIO) -> None:
    """The table as Parquet; a measure that was not taken is null.  Raises `OptionError` without pyarrow."""
    arrow, parquet = arrow_or_refuse()
    fields = fields_of(results)
    kinds = {"U": arrow.string(), "i": arrow.int64(), "f": arrow.float64()}
    schema = arrow.schema(
        [
            arrow.field(f.heading, kinds[f.take(range(1)).dtype.kind], metadata={"unit": f.unit, "about": f.about})
            for f in fields
        ],
        metadata={"study": json.dumps(results.work.document), "key": results.work.key},
    )
    with parquet.ParquetWriter(file, schema) as writer:
        for draws in _blocks(results.work.count):
            arrays = [
                arrow.array(f.take(draws), type=column.type, from_pandas=True) for f, column in zip(fields, schema)
            ]
            writer.write_table(arrow.Table.from_arrays(arrays, schema=schema))


def arrow_or_refuse():
    """The two modules of pyarrow that are used.  Raises `OptionError` where it is not installed."""
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        refused = Refused(
            "no pyarrow on this machine", "pyarrow for .parquet files", "pip install pyarrow, or a .csv file"
        )
        raise OptionError("--table", refused) from None
    return pyarrow, pyarrow.parquet


def write_table(results: Results, path: Path, file: BinaryIO) -> None:
    """The table, in the format that the name `path` asks for, into an open `file`."""
    (write_parquet if path.suffix.lower() == ".parquet" else write_csv)(results, file)
