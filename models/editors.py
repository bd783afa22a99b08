"""JSON Schema of the files, for editors that complete and check while one writes."""

from __future__ import annotations

from typing import Any

from models.bases import NONE, OWN
from models.fields import Document
from models.marks import in_schema

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema_of(model: type[Document]) -> dict[str, Any]:
    """The JSON Schema of files of that model."""
    whole: dict[str, Any] = _without_null(in_schema(model.model_json_schema(), model.ESTIMATES))
    if "from" in whole["properties"]:
        whole = _with_bases(whole)
    return {"$schema": DIALECT, **whole}


def _without_null(schema: Any) -> Any:
    """The schema with optional keys as keys that may be left out: a null value is refused by the reader."""
    if isinstance(schema, list):
        return [_without_null(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    # Defaults are SI values, which is not how a file writes them.
    plain = {key: _without_null(part) for key, part in schema.items() if key != "default"}
    choices = plain.get("anyOf")
    if isinstance(choices, list) and {"type": "null"} in choices:
        rest = [choice for choice in choices if choice != {"type": "null"}]
        del plain["anyOf"]
        plain = {**rest[0], **plain} if len(rest) == 1 else {**plain, "anyOf": rest}
    return plain


def _with_bases(schema: dict[str, Any]) -> dict[str, Any]:
    """The schema of a file that stands for itself or, with `from`, has only what differs from another."""
    groups = schema.pop("$defs", {})
    title, about = schema.pop("title", ""), schema.pop("description", "")
    part = _partial(schema, top=True) | {"required": ["format", "kind", "name", "from"]}
    groups |= {f"{name}InPart": _partial(group) for name, group in groups.items()}
    return {
        "title": title,
        "description": about,
        "type": "object",
        "if": {"required": ["from"]},
        "then": {"$ref": "#/$defs/differing"},
        "else": {"$ref": "#/$defs/whole"},
        "$defs": {"whole": schema, "differing": part, **groups},
    }


def _partial(group: Any, top: bool = False) -> Any:
    """A group of which any key may be left out, or be `none`."""
    if isinstance(group, list):
        return [_partial(part) for part in group]
    if not isinstance(group, dict):
        return group
    if "properties" in group:
        keys = {
            key: value if top and key in OWN else {"anyOf": [_partial(value), {"const": NONE}]} | _words(value)
            for key, value in group["properties"].items()
        }
        return {key: value for key, value in group.items() if key != "required"} | {"properties": keys}
    if group.get("type") == "array":  # lists are replaced whole
        return group
    return {key: f"{part}InPart" if key == "$ref" else _partial(part) for key, part in group.items()}


def _words(value: dict[str, Any]) -> dict[str, Any]:
    return {key: value[key] for key in ("description",) if key in value}
