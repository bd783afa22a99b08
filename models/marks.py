"""The mark "~" ahead of a number that is an estimate: taken off before a file is checked, and remembered by field path.

"~620 g" reads as 620 g.  Only what is measured on a plane can be marked (`fields.Written.measured`), in files that
take marks (`fields.Document.ESTIMATES`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel

from models.errors import Problem, Refused, quoted
from models.fields import Document, Written
from models.messages import refused
from models.nodes import Location, Tree
from models.types_at import below, marks_of, strip, tagged

MARK = "~"
COORDINATES = ("x", "y", "z")


@dataclass
class Marks:
    """Paths of the `estimated` and of the `measured` numbers of a file, and marked texts by their location."""

    estimated: list[str] = field(default_factory=list)
    measured: list[str] = field(default_factory=list)
    texts: dict[Location, str] = field(default_factory=dict)

    def as_written(self, location: Location, problem: Problem) -> Problem:
        """The problem at a location, quoting the text with the mark that it had."""
        if location not in self.texts:
            return problem
        marked, r = self.texts[location], problem.refused
        found = r.found.replace(quoted(bare(marked)), quoted(marked), 1)
        return Problem(problem.file, problem.line, problem.column, problem.path, Refused(found, r.allowed, r.advice))


def bare(text: str) -> str:
    """The text without its mark."""
    return text.strip().removeprefix(MARK).strip()


def is_marked(text: object) -> bool:
    """Whether a text begins with the mark."""
    return isinstance(text, str) and text.lstrip().startswith(MARK)


def take_off(tree: Tree, model: type[BaseModel]) -> Marks:
    """The marks of `tree`, whose numbers stand without them afterwards; nothing where `model` takes none.

    A second mark, or one without a number, becomes a problem of the tree.
    """
    marks = Marks()
    if issubclass(model, Document) and model.ESTIMATES:
        _walk(tree, model, [], tree.data, (), marks)
    return marks


def _walk(tree: Tree, annotation: Any, metadata: list[Any], data: Any, here: Location, marks: Marks) -> Any:
    """`data` without marks."""
    kind = strip(annotation)
    if isinstance(data, dict):
        kind = tagged(kind).get(data.get("kind"), kind)
        for key, value in data.items():
            data[key] = _walk(tree, *below(kind, key), value, (*here, key), marks)
    elif isinstance(data, list):
        for index, value in enumerate(data):
            data[index] = _walk(tree, *below(kind, index), value, (*here, index), marks)
    elif isinstance(data, str):
        written = next((m for m in (*metadata, *marks_of(annotation)) if isinstance(m, Written)), None)
        if written is not None and written.measured:
            return _number(tree, data, here, _is_coordinate(tree, here), marks)
    return data


def _number(tree: Tree, text: str, here: Location, coordinate: bool, marks: Marks) -> str:
    words = tree.path(here[:-1]) + f" > {COORDINATES[here[-1]]}" if coordinate else tree.path(here)  # type: ignore
    if not is_marked(text):
        marks.measured.append(words)
        return text
    number = bare(text)
    if not number or is_marked(number):
        why = refused("odd mark", found=quoted(text), number=number.lstrip(MARK + " ") or "620 g")
        tree.problems.append((here, tree.problem(here, why)))
    marks.estimated.append(words)
    marks.texts[here] = text
    return number


def _is_coordinate(tree: Tree, here: Location) -> bool:
    """Whether a place is one of three values of a point or a size."""
    return len(here) > 1 and here[-2] in ("at", "size") and here[-1] in (0, 1, 2)


def in_schema(schema: Any, marks: bool) -> Any:
    """A JSON Schema in which every number of the plane can also be text with the mark, if the file takes `marks`.

    Such numbers carry a key "measured" (`fields.Written`), which is taken out.
    """
    if isinstance(schema, list):
        return [in_schema(part, marks) for part in schema]
    if not isinstance(schema, dict):
        return schema
    plain = {key: in_schema(value, marks) for key, value in schema.items() if key != "measured"}
    if not marks or schema.get("measured") is not True:
        return plain
    shapes = plain.pop("anyOf", None)
    if shapes is None:
        about = {key: plain.pop(key) for key in ("description", "examples") if key in plain}
        shapes, plain = [plain], about
    numbers = [s for s in shapes if "pattern" not in s]
    patterns = [s["pattern"].replace("^ *", f"^ *({MARK} *)?", 1) for s in shapes if "pattern" in s]
    if numbers:
        digits = r"[0-9]+" if numbers[0]["type"] == "integer" else r"[+\-]?([0-9]+\.?[0-9]*|\.[0-9]+)"
        patterns.append(rf"^ *{MARK} *{digits} *$")
    text = {"type": "string", "pattern": "|".join(patterns)}
    return {"anyOf": [text, *numbers], **plain} if numbers else {**text, **plain}
