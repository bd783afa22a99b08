"""A map as a table of 80 columns, as a JSON document, and as CSV."""

from __future__ import annotations

import csv
import io
from typing import Any, BinaryIO

from scenarios.axes import Axis
from scenarios.inputs import Input
from scenarios.maps import Map
from scenarios.measures import Measure
from scenarios.reasons import of_a_kind
from viewer.documents import quantity
from viewer.text import in_blocks, number, table, wrapped


class Footnotes:
    """Reasons by number.  Reasons that differ in their figures alone share one, which shows the first's."""

    def __init__(self) -> None:
        self.first: dict[str, str] = {}
        self.count: dict[str, int] = {}
        self.same: dict[str, bool] = {}

    def mark(self, reason: str) -> str:
        """The mark that stands for `reason`, counted once more."""
        kind = of_a_kind(reason)
        self.same[kind] = self.same.get(kind, True) and self.first.get(kind, reason) == reason
        self.first.setdefault(kind, reason)
        self.count[kind] = self.count.get(kind, 0) + 1
        return f"({list(self.first).index(kind) + 1})"

    def lines(self) -> list[str]:
        """The notes, in the order of their first marks."""
        out = []
        for n, (kind, text) in enumerate(self.first.items(), 1):
            alike = "" if self.same[kind] else f"; {self.count[kind]} times, figures of the first"
            out.append(f"({n}) {text}{alike}")
        return out


def title(result: Map) -> str:
    """What was mapped: manoeuvre, setup and plane."""
    setup = result.case.setup
    return f"{result.manoeuvre} with {setup.name} on {setup.airframe.name}"


def held(fixed: list[tuple[Input, str]], result: Map) -> list[str]:
    """What was set to another value than the setup's for the whole map, and how each varied input is in the setup."""
    out = [f"set: {what.name} {text}" for what, text in fixed]
    now = [(axis.input.name, axis.input.now(result.case)) for axis in result.axes]
    as_it_is = ", ".join(f"{name} {text}" for name, text in now if text)
    return out + ([f"as it is: {as_it_is}"] if as_it_is else [])


def signs(measure: Measure) -> str:
    """What the sign of a measure means, "" where it has no words."""
    if not measure.positive:
        return ""
    return f"positive {measure.positive}, negative {measure.negative}"


def map_table(result: Map, fixed: list[tuple[Input, str]]) -> str:
    """What `upline map` prints, without the cautions."""
    notes = Footnotes()
    lines = [title(result), *(wrapped(line, "  ", "") for line in held(fixed, result)), ""]
    if len(result.axes) == 1:
        lines += [*_columns(result, notes), ""]
    else:
        for n, measure in enumerate(result.measures):
            lines += [wrapped(_about(measure)), "", *_grid(result, n, notes), ""]
    lines += [wrapped(line, "    ", "") for line in notes.lines()]
    return "\n".join(lines).rstrip()


def _about(measure: Measure) -> str:
    unit = f" ({measure.unit})" if measure.unit else ""
    return "; ".join(filter(None, (f"{measure.name}{unit}: {measure.about}", signs(measure))))


def _shown(value: float | None, reason: str, unit: str, notes: Footnotes) -> str:
    return number(value, unit) if value is not None else f"- {notes.mark(reason)}"


def _columns(result: Map, notes: Footnotes) -> list[str]:
    """One input: a row for each value, a column for each measure."""
    axis, measures = result.axes[0], result.measures
    cells = [
        [_shown(v, r, m.unit, notes) for v, r, m in zip(cell.values, cell.reasons, measures)] for cell in result.cells
    ]

    def block(chosen: range) -> str:
        head = [axis.heading, *(measures[n].name for n in chosen)]
        units = ["", *(measures[n].unit for n in chosen)]
        rows = [[label, *(row[n] for n in chosen)] for label, row in zip(axis.labels(), cells)]
        return table(head, [units, *rows] if any(units) else rows, left=0 if axis.numbers else 1)

    out = [line for text in in_blocks(len(measures), block) for line in (text, "")]
    return out + [wrapped(_about(measure), "  ", "") for measure in measures]


def _grid(result: Map, measure: int, notes: Footnotes) -> list[str]:
    """Two inputs: a row for each value of the first, a column for each of the second."""
    down, across = result.axes
    unit = result.measures[measure].unit
    cells = [[_shown(v, r, unit, notes) for v, r in row] for row in result.grid(measure)]
    labels = across.labels()

    def block(chosen: range) -> str:
        rows = [[label, *(row[n] for n in chosen)] for label, row in zip(down.labels(), cells)]
        return table([down.heading, *(labels[n] for n in chosen)], rows, left=0 if down.numbers else 1)

    texts = in_blocks(len(labels), block)
    return [line for n, text in enumerate(texts) for line in ([""] * (n > 0) + [f"across: {across.heading}", text])]


def map_document(result: Map, fixed: list[tuple[Input, str]], files: list[str]) -> dict[str, Any]:
    """The document of `upline map`; values and reasons nest as the axes do."""
    setup = result.case.setup

    def nested(flat: list[Any]) -> list[Any]:
        across = result.shape[-1]
        return flat if len(result.axes) == 1 else [flat[n : n + across] for n in range(0, len(flat), across)]

    return {
        "manoeuvre": result.manoeuvre,
        "setup": setup.name,
        "airframe": setup.airframe.name,
        "set": {what.name: text for what, text in fixed},
        "axes": [_axis(axis, axis.input.now(result.case)) for axis in result.axes],
        "measures": [
            {
                "name": measure.name,
                "unit": measure.unit,
                "about": measure.about,
                "values": nested([quantity(c.values[n], measure.unit)["value"] for c in result.cells]),
                "reasons": nested([c.reasons[n] or None for c in result.cells]),
            }
            for n, measure in enumerate(result.measures)
        ],
        "endings": nested([c.ended or None for c in result.cells]),
        "files": files,
    }


def _axis(axis: Axis, now: str) -> dict[str, Any]:
    values = list(axis.texts) if axis.numbers is None else list(axis.numbers)
    return {"input": axis.input.name, "unit": axis.unit, "values": values, "as_it_is": now or None}


def map_csv(result: Map, file: BinaryIO) -> None:
    """The map as CSV: a row for each cell, numbers in full, and the reason behind a value that is missing."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    head = [_with_unit(axis.input.name, axis.unit) for axis in result.axes]
    for measure in result.measures:
        head += [_with_unit(measure.name, measure.unit), f"{measure.name}: why not"]
    writer.writerow(["setup", "manoeuvre", *head, "ended"])
    places = [[]]
    for axis in result.axes:
        places = [[*place, label] for place in places for label in axis.labels()]
    for place, cell in zip(places, result.cells):
        row = [entry for v, r in zip(cell.values, cell.reasons) for entry in ("" if v is None else repr(v), r)]
        writer.writerow([result.case.setup.name, result.manoeuvre, *place, *row, cell.ended])
    file.write(text.getvalue().encode("utf-8"))


def _with_unit(name: str, unit: str) -> str:
    return f"{name} ({unit})" if unit else name
