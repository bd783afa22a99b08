"""The part of JSON Schema (draft 2020-12) that the exported schemas use, and YAML as editors read it."""

import re
from typing import Any

import yaml

KNOWN = {
    "$schema", "$ref", "$defs", "title", "description", "examples", "type", "enum", "const", "pattern", "minLength",
    "maxLength", "minimum", "maximum", "properties", "required", "additionalProperties", "patternProperties",
    "propertyNames", "minProperties", "maxProperties", "items", "prefixItems", "minItems", "maxItems", "anyOf", "oneOf", "if", "then",
    "else",
}  # fmt: skip
TYPES = {"string": str, "boolean": bool, "object": dict, "array": list}


def content(text: str, yes_is_true: bool) -> Any:
    """The content of a YAML text, with numbers and truth values as YAML 1.2 has them, "yes" as in 1.1 if wanted."""
    return _plain(yaml.compose(text, Loader=yaml.SafeLoader), yes_is_true)


def _plain(node, yes_is_true: bool) -> Any:
    if isinstance(node, yaml.MappingNode):
        return {key.value: _plain(value, yes_is_true) for key, value in node.value}
    if isinstance(node, yaml.SequenceNode):
        return [_plain(value, yes_is_true) for value in node.value]
    if node.style:
        return node.value
    words = {"true": True, "false": False} | ({"yes": True, "no": False} if yes_is_true else {})
    if node.value.lower() in words:
        return words[node.value.lower()]
    if re.fullmatch(r"[-+]?[0-9]+", node.value):
        return int(node.value)
    if re.fullmatch(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", node.value):
        return float(node.value)
    return node.value


def faults(value: Any, schema: Any, root: Any, here: str = "") -> list[str]:
    """What is wrong with `value`, each with its place; [] if it is valid."""
    unknown = set(schema) - KNOWN if isinstance(schema, dict) else set()
    assert not unknown, unknown
    if schema in (True, {}):
        return []
    out: list[str] = []

    def check(right: bool, what: str) -> None:
        if not right:
            out.append(f"{here}: {what}")

    if "$ref" in schema:
        out += faults(value, root["$defs"][schema["$ref"].removeprefix("#/$defs/")], root, here)
    kind = schema.get("type")
    if isinstance(kind, list):
        check(any(not faults(value, {"type": one}, root) for one in kind), f"none of {kind}")
    elif kind in TYPES:
        check(isinstance(value, TYPES[kind]), f"no {kind}")
    elif kind in ("number", "integer"):
        number = isinstance(value, int | float) and not isinstance(value, bool)
        check(number and (kind == "number" or float(value).is_integer()), f"no {kind}")
    check("enum" not in schema or value in schema.get("enum", ()), "not in enum")
    check("const" not in schema or value == schema.get("const"), "not the constant")
    if isinstance(value, str):
        check(re.search(schema.get("pattern", ""), value) is not None, "pattern")
        check(schema.get("minLength", 0) <= len(value) <= schema.get("maxLength", 10**9), "length")
    if isinstance(value, int | float) and not isinstance(value, bool):
        check(schema.get("minimum", value) <= value <= schema.get("maximum", value), "range")
    if isinstance(value, dict):
        known = schema.get("properties", {})
        out += [f"{here} > {key}: missing" for key in schema.get("required", ()) if key not in value]
        check(schema.get("minProperties", 0) <= len(value) <= schema.get("maxProperties", 10**9), "number of keys")
        more = schema.get("additionalProperties", True)
        for key, part in value.items():
            named = next((s for p, s in schema.get("patternProperties", {}).items() if re.search(p, key)), None)
            out += faults(key, schema.get("propertyNames", True), root, f"{here} > {key}")
            if key in known:
                out += faults(part, known[key], root, f"{here} > {key}")
            elif named is not None:
                out += faults(part, named, root, f"{here} > {key}")
            elif more is False:
                out.append(f"{here} > {key}: unknown")
            else:
                out += faults(part, more, root, f"{here} > {key}")
    if isinstance(value, list):
        check(schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", 10**9), "number of items")
        first = schema.get("prefixItems", [])
        for index, part in enumerate(value):
            item = first[index] if index < len(first) else schema.get("items", True)
            out += faults(part, item, root, f"{here} > {index}")
    for key in ("anyOf", "oneOf"):
        if key in schema:
            tried = [faults(value, part, root, here) for part in schema[key]]
            if [] not in tried or (key == "oneOf" and tried.count([]) > 1):
                out += min(tried, key=len) or [f"{here}: several of {key}"]
    if "if" in schema:
        out += faults(value, schema["else" if faults(value, schema["if"], root) else "then"], root, here)
    return out
