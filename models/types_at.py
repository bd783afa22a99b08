"""Which type a schema has at a place of a file: the annotations that pydantic's models are made of, walked by location."""

from __future__ import annotations

import typing
from functools import cache
from typing import Any

from pydantic import BaseModel, Tag


def type_at(model: type[BaseModel], location: tuple[Any, ...]) -> tuple[Any, list[Any]]:
    """The type of the field at a location and its metadata; (None, []) where the schema has no such place."""
    annotation: Any = model
    metadata: list[Any] = []
    for part in location:
        annotation, metadata = below(annotation, part)
    if typing.get_origin(annotation) is typing.Annotated:
        metadata = [*metadata, *typing.get_args(annotation)[1:]]
    return annotation, metadata


def below(annotation: Any, part: Any) -> tuple[Any, list[Any]]:
    """Type and metadata one step down: at a key, an index, or the name of a form of a group, as pydantic gives it."""
    annotation = strip(annotation)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        fields = _fields(annotation)
        return (fields[part].annotation, list(fields[part].metadata)) if part in fields else (None, [])
    arguments = [a for a in typing.get_args(annotation) if a is not Ellipsis]
    if not arguments:
        return None, []
    forms = tagged(annotation)
    if forms:
        return forms.get(part), []
    return arguments[part] if isinstance(part, int) and part < len(arguments) else arguments[-1], []


@cache
def _fields(model: type[BaseModel]) -> dict[str, Any]:
    return {info.alias or name: info for name, info in model.model_fields.items()}


def strip(annotation: Any) -> Any:
    """The annotation without `Annotated` and `| None`."""
    return _unwrapped(annotation)[0]


def marks_of(annotation: Any) -> list[Any]:
    """What `Annotated` says about a type, also about one that may be left out."""
    return _unwrapped(annotation)[1]


def _unwrapped(annotation: Any) -> tuple[Any, list[Any]]:
    if typing.get_origin(annotation) is typing.Annotated:
        inner, *marks = typing.get_args(annotation)
        annotation, more = _unwrapped(inner)
        return annotation, [*marks, *more]
    arguments = [a for a in typing.get_args(annotation) if a is not type(None)]
    if len(arguments) == 1 and type(None) in typing.get_args(annotation):
        return _unwrapped(arguments[0])
    return annotation, []


def tagged(annotation: Any) -> dict[str, Any]:
    """The forms of a group that are told apart by its key `kind`: name and type; {} if it has but one form."""
    forms = {}
    for choice in typing.get_args(annotation):
        for mark in typing.get_args(choice)[1:] if typing.get_origin(choice) is typing.Annotated else ():
            if isinstance(mark, Tag):
                forms[mark.tag] = choice
    return forms
