"""A checked document from a YAML file: bounds first, then the schema, and every problem with its line and column.

`read_document(path, Model)` is the usual way in; `read_file` and `read_text` keep the
text and the places too, for checks that need a second file.
"""

from __future__ import annotations

import stat
import typing
from copy import deepcopy
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import BaseModel, ValidationError

from models.errors import Problem, Refused, UserFileError, nearest, printable, quoted
from models.fields import Document, Location, Written
from models.marks import take_off
from models.messages import refused
from models.nodes import LARGEST, Source, Tree, read_tree
from models.types_at import strip, tagged, type_at

M = TypeVar("M", bound=BaseModel)

_POINT = "[60 mm, 0 mm, -230 mm]"


@dataclass(frozen=True)
class Read(Generic[M]):
    """A document that passed: the value, its verbatim text, and where things stand in it.

    `estimated` and `measured` are the paths of its numbers with and without the mark "~"; both are empty where the
    document takes no marks.
    """

    value: M
    tree: Tree
    estimated: tuple[str, ...] = ()
    measured: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        return self.tree.text

    def error(self, location: Location, why: Refused) -> UserFileError:
        """An error at a place of this document, for a check that was made later."""
        return UserFileError([self.tree.problem(location, why)])


def read_document(path: str | Path, model: type[M]) -> M:
    """The document in the file `path` as a `model`.  Raises `UserFileError` with every problem found."""
    return read_file(path, model).value


def read_file(path: str | Path, model: type[M]) -> Read[M]:
    """As `read_document`, with text and places kept."""
    return checked(tree_of(source_of(path), model), model)


def read_text(text: str, file: str, model: type[M]) -> Read[M]:
    """As `read_file`, from the text itself; `file` is what messages call it."""
    return checked(tree_of(Source(file, text), model), model)


def source_of(path: str | Path) -> Source:
    """The file `path` as a source.  Raises `UserFileError` when it cannot be read."""
    return Source(printable(str(path), 200), text_of(path), Path(path).parent)


def tree_of(source: Source, model: type[BaseModel]) -> Tree:
    """The content of `source`, which is the kind of file that `model` is for.  Raises `UserFileError`."""
    tree = read_tree(source)
    _check_kind(tree, model)
    return tree


def checked(tree: Tree, model: type[M]) -> Read[M]:
    """The content as a `model`.  Raises `UserFileError` with every problem found."""
    bare = replace(tree, data=deepcopy(tree.data))  # the tree itself keeps what was written
    marks = take_off(bare, model)
    problems: list[Problem] = []
    faulty = {location for location, _ in tree.problems if location}
    unknown: set[Location] = set()
    value: M | None = None
    try:
        value = model.model_validate(bare.data)
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            location = _in_file(tree, detail["loc"])
            if detail["type"] == "extra_forbidden":
                unknown.add(location)  # whatever else is wrong there goes when the key goes
            elif location in faulty or _is_echo(detail):
                continue
            problems.append(marks.as_written(location, _translated(tree, model, detail)))
    problems += _own_problems(tree, unknown)
    if value is not None and isinstance(value, Document):
        problems += [tree.problem(location, why) for location, why in value.cross_check()]
    if problems or value is None:
        raise UserFileError(_in_order(problems, tree))
    return Read(value, tree, tuple(marks.estimated), tuple(marks.measured))


def text_of(path: str | Path) -> str:
    """The text of a file that is regular, not too large, and UTF-8.  Raises `UserFileError`."""
    path = Path(path)
    name = printable(str(path), 200)

    def refuse(message: str, **words: object) -> UserFileError:
        return UserFileError([Problem(name, 0, 0, "", refused(message, **words))])

    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise refuse("folder", near=_like(path, ".yaml"))
        if not stat.S_ISREG(mode):  # opening a pipe would wait for ever
            raise refuse("not regular")
        with path.open("rb") as file:
            content = file.read(LARGEST + 1)
    except FileNotFoundError:
        raise refuse("no file", near=_like(path)) from None
    except PermissionError:
        raise refuse("no permission") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a possible file name"
        raise refuse("unreadable", reason=reason) from None
    if len(content) > LARGEST:
        raise refuse("too large")
    if b"\0" in content:
        raise refuse("binary")
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise refuse("not UTF-8", line=line) from None


def _like(path: Path, suffix: str = "") -> str:
    """Names beside `path` that look like it, for a typing error; "" if there are none."""
    folder = path if suffix else path.parent
    try:
        names = {entry.stem: entry.name for entry in folder.iterdir() if entry.suffix in (".yaml", ".yml")}
    except (OSError, ValueError):
        return ""
    found = sorted(names.values())[:3] if suffix else [names[stem] for stem in nearest(path.stem, names)]
    return " or ".join(printable(str(folder / name), 200) for name in found)


def _check_kind(tree: Tree, model: type[BaseModel]) -> None:
    """Refuse another version or kind of file alone: nothing else said about it would make sense."""
    if not issubclass(model, Document):
        return
    version = tree.data.get("format")
    if version != str(model.FORMAT):
        which = "other format" if "format" in tree.data else "no format"
        why = refused(which, found=quoted(version), format=model.FORMAT)
        raise UserFileError([tree.problem(("format",), why)])
    kind = tree.data.get("kind")
    if kind != model.KIND:
        which = "other kind" if "kind" in tree.data else "no kind"
        raise UserFileError([tree.problem(("kind",), refused(which, found=quoted(kind), kind=model.KIND))])


def _own_problems(tree: Tree, unknown: set[Location]) -> typing.Iterator[Problem]:
    """The reader's own problems, with paths, which were not known while the file was still being read."""
    for location, problem in tree.problems:
        if location in unknown:
            continue
        path = problem.path or tree.path(location)
        yield Problem(problem.file, problem.line, problem.column, path, problem.refused)


def _in_order(problems: list[Problem], tree: Tree) -> list[Problem]:
    """File order, and one problem a field: the first is the cause, others are its echoes."""
    files = [source.file for source in tree.sources]
    seen = set()
    kept = []
    for problem in sorted(problems, key=lambda p: (files.index(p.file), p.line, p.column)):
        key = (problem.file, problem.line, problem.column, problem.path)
        if key not in seen:
            seen.add(key)
            kept.append(problem)
    return kept


def _in_file(tree: Tree, location: tuple[Any, ...]) -> Location:
    """The location as far as it is in the file, without the marks that pydantic adds for unions and keys."""
    found: Location = ()
    for part in location:
        if (*found, part) in tree.values:
            found = (*found, part)
    return found


def _is_echo(detail: Any) -> bool:
    """Whether a list is called too short only because its entries, reported on their own, are wrong."""
    return bool(detail["type"] == "too_short" and len(detail["input"]) >= detail["ctx"]["min_length"])


def _translated(tree: Tree, model: type[BaseModel], detail: Any) -> Problem:
    """One pydantic error as a problem in plain words."""
    kind, raw, value = detail["type"], detail["loc"], detail["input"]
    context = detail.get("ctx", {})
    location = _in_file(tree, raw)
    reason = context.get("error")
    if isinstance(reason, Refused):
        return tree.problem(location, reason, at_key=raw[-1:] == ("[key]",))
    if kind == "missing":
        if isinstance(raw[-1], int):
            return tree.problem(location, _wrong_number(model, raw[:-1], value))
        sample = _sample(model, raw)
        here = (*_in_file(tree, raw[:-1]), raw[-1])
        found = '"none"' if here in tree.gone else "nothing"
        return tree.problem(
            here, refused("key missing", found=found, key=raw[-1], sample=f" {sample}" if sample else "")
        )
    if kind == "extra_forbidden":
        return tree.problem(location, _unknown_key(_keys(model, raw[:-1]), str(raw[-1])), at_key=True)
    found = quoted(value)
    if kind in ("too_long", "too_short"):
        if _fixed_length(model, raw):
            return tree.problem(location, _wrong_number(model, raw, value))
        which = "too many entries" if kind == "too_long" else "too few entries"
        most, least = context.get("max_length"), context.get("min_length")
        return tree.problem(location, refused(which, count=len(value), most=most, least=least))
    if kind in ("tuple_type", "list_type"):
        return tree.problem(location, refused("no list", found=found, how=_list_advice(model, raw)))
    if kind in ("model_type", "model_attributes_type", "dict_type", "mapping_type"):
        keys = ", ".join(_keys(model, raw))
        return tree.problem(location, refused("no group of keys", found=found, keys=f": {keys}" if keys else ""))
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        return _translated_form(tree, location, value, tuple(_forms(model, raw)))
    # Types that the fields of `models.fields` never give; another schema may use pydantic's own.
    words = detail["msg"].removeprefix("Value error, ").removeprefix("Input should be ").removeprefix("a valid ")
    return tree.problem(location, refused("other type", found=found, words=words))


def _translated_form(tree: Tree, location: Location, value: Any, forms: tuple[str, ...]) -> Problem:
    """A group that comes in several forms, told apart by its key `kind`, does not say which it is."""
    if not isinstance(value, dict):
        return tree.problem(location, refused("no form", found=quoted(value), forms=", ".join(forms)))
    here = (*location, "kind")
    if "kind" not in value:
        return tree.problem(here, refused("form missing", form=forms[0]))
    near = " or ".join(nearest(value["kind"], forms) if isinstance(value["kind"], str) else [])
    return tree.problem(here, refused("other form", found=quoted(value["kind"]), forms=", ".join(forms), near=near))


def _forms(model: type[BaseModel], location: tuple[Any, ...]) -> dict[str, Any]:
    """The forms of a group told apart by `kind`: name and type; {} if it has but one form."""
    return tagged(strip(type_at(model, location)[0]))


def _unknown_key(keys: list[str], key: str) -> Refused:
    advice = " or ".join(nearest(key, keys))
    if key[:1].isdigit():  # "{chord: 1,5 mm}" is read as two keys, the second of them "5 mm"
        advice = "a point for decimals, if this is the end of a number with a comma"
    return refused("unknown key", key=quoted(key), known=", ".join(keys), near=advice)


def _fixed_length(model: type[BaseModel], location: tuple[Any, ...]) -> int:
    """The number of values in a list of fixed length, such as a point; 0 if any number will do."""
    annotation = strip(type_at(model, location)[0])
    arguments = typing.get_args(annotation)
    return len(arguments) if typing.get_origin(annotation) is tuple and Ellipsis not in arguments else 0


def _wrong_number(model: type[BaseModel], location: tuple[Any, ...], value: Any) -> Refused:
    wanted, how = _fixed_length(model, location), _list_advice(model, location)
    return refused("wrong length", count=len(value), wanted=wanted, how=how)


def _list_advice(model: type[BaseModel], location: tuple[Any, ...]) -> str:
    if _fixed_length(model, location) == 3:
        return f"[x, y, z] in brackets, such as {_POINT}"
    return 'one line starting with "- " for each entry, or [a, b, c] in brackets'


def _keys(model: type[BaseModel], location: tuple[Any, ...]) -> list[str]:
    """The keys that a group at a location may have; [] if it is not a group of known keys."""
    annotation = strip(type_at(model, location)[0]) if location else model
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [info.alias or name for name, info in annotation.model_fields.items()]
    return []


def _sample(model: type[BaseModel], location: tuple[Any, ...]) -> str:
    """A value that the field at a location would take, or ""."""
    for mark in type_at(model, location)[1]:
        if isinstance(mark, Written):
            return mark.sample
    return _POINT if _fixed_length(model, location) == 3 else ""
