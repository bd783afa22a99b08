"""What stands in a file, field by field: generic over the schema, so that a new field is seen wherever fields are listed."""

from __future__ import annotations

import typing
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from models.fields import PropellerSize, Quantity, Written
from models.reading import Read
from models.units import DIMENSIONS, in_unit

Path = tuple[str, ...]


@dataclass(frozen=True)
class Entry:
    """One value: keys that lead to it, value in SI, and text as written ("": left out, the schema's own holds)."""

    path: Path
    value: Any
    text: str
    kind: Written | None

    @property
    def shown(self) -> str:
        """The text, or in brackets what holds where it is left out."""
        return self.text or (f"({as_written(self.value, self.kind)})" if self.value not in (None, (), "") else "")


def entries(read: Read[Any]) -> dict[Path, Entry]:
    """Every value of a document that is given or has a value of its own, in the order of the schema."""
    return {entry.path: entry for entry in _of_group(read.value, read.tree.data, ())}


def kind_of(info: FieldInfo) -> Written | None:
    """The type of the values of a field, or of those in its list; None for a group."""
    marks = [*info.metadata, *_marks(info.annotation)]
    return next((mark for mark in marks if isinstance(mark, Written)), None)


def _marks(annotation: Any) -> Iterator[Any]:
    if isinstance(annotation, Written):
        yield annotation
    if not (isinstance(annotation, type) and issubclass(annotation, BaseModel)):
        arguments = typing.get_args(annotation)
        for argument in arguments[1:] if typing.get_origin(annotation) is dict else arguments:  # keys are no values
            yield from _marks(argument)


def as_written(value: Any, kind: Written | None) -> str:
    """A value in SI as a file could have it, to five digits."""
    if isinstance(value, tuple) and not isinstance(kind, PropellerSize) and all(isinstance(v, float) for v in value):
        return f"[{', '.join(as_written(v, kind) for v in value)}]"
    if isinstance(kind, Quantity):
        unit = DIMENSIONS[kind.dimension].sample.partition(" ")[2]
        return f"{in_unit(value, kind.dimension, unit):.5g} {unit}" if unit else f"{value:.5g}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


def _of_group(group: BaseModel, data: Any, here: Path) -> Iterator[Entry]:
    for name, info in type(group).model_fields.items():
        key = info.alias or name
        below = data.get(key) if isinstance(data, dict) else None
        yield from _of_value(getattr(group, name), below, (*here, key), kind_of(info))


def _of_value(value: Any, data: Any, here: Path, kind: Written | None) -> Iterator[Entry]:
    if isinstance(value, BaseModel):
        yield from _of_group(value, data, here)
    elif isinstance(value, dict):
        for key, part in value.items():
            yield from _of_value(part, data.get(key) if isinstance(data, dict) else None, (*here, str(key)), kind)
    elif isinstance(value, tuple) and value and all(isinstance(part, BaseModel) for part in value):
        known = data if isinstance(data, list) else [None] * len(value)
        for label, part, below in zip(_labels(known), value, known):
            said = (
                ()
                if label.startswith("#")
                else ("name",)
                if isinstance(below, dict) and "name" in below
                else ("from", "to")
            )
            found = list(_of_value(part, below, (*here, label), kind))
            yield from [
                entry for entry in found if entry.path[len(here) + 1 :] not in [(key,) for key in said]
            ] or found
    elif value is not None or data is not None:
        yield Entry(here, value, _text(data), kind)


def _labels(parts: list[Any]) -> list[str]:
    """What tells the groups of a list apart: a name, or where from and where to, else the number."""
    labels: list[str] = []
    for number, part in enumerate(parts, 1):
        part = part if isinstance(part, dict) else {}
        label = part.get("name") or (f"{part['from']} to {part['to']}" if "from" in part and "to" in part else "")
        label = str(label) or f"#{number}"
        labels.append(f"{label} (#{number})" if label in labels else label)
    return labels


def _text(data: Any) -> str:
    if isinstance(data, list):
        return f"[{', '.join(_text(part) for part in data)}]"
    return "" if data is None else " ".join(str(data).split())
