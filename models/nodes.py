"""The plain content of one YAML text (text, lists, groups) with the line and column of every value.

Nothing is constructed: `yaml` only splits the text, and scalars stay text.  The text may
be hostile, so size, depth and count are bounded, depth in a streaming pass before
anything recursive runs.  Tags, anchors, aliases, directives and several documents are
refused: no file of a plane needs them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import yaml

from models.errors import Problem, Refused, UserFileError, printable, quoted
from models.messages import refused

LARGEST = 1 << 20  # bytes
DEEPEST = 20
MOST_NODES = 20_000

Location = tuple[str | int, ...]

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_NOT_YAML = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_TAB_INDENT = re.compile(r"^ *\t[ \t]*[^ \t\r\n#]", re.MULTILINE)
_DIRECTIVE = re.compile(r"^%", re.MULTILINE)
_NOT_FINITE = re.compile(r"[+-]?\.?(nan|inf|infinity)", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?[0-9.]+[eE][+-]?[0-9]+")


@dataclass(frozen=True)
class Source:
    """A text: what messages call it, and the folder that paths in it are relative to (None: of a built-in file)."""

    file: str
    text: str
    folder: Path | None = None


class Place(NamedTuple):
    """Where something stands: line and column count from 1."""

    source: Source
    line: int
    column: int


@dataclass
class Tree:
    """A file's content and where each part of it stands.

    `data` is the whole; `values` and `keys` give places by location; `problems` are
    faults that do not stop the reading, by location.  `sources` is the file itself, then
    those that it builds on; `gone` are the locations that it takes away from them.
    """

    sources: tuple[Source, ...]
    data: Any = None
    values: dict[Location, Place] = field(default_factory=dict)
    keys: dict[Location, Place] = field(default_factory=dict)
    problems: list[tuple[Location, Problem]] = field(default_factory=list)
    gone: set[Location] = field(default_factory=set)

    @property
    def text(self) -> str:
        """The text of the file itself."""
        return self.sources[0].text

    def path(self, location: Location) -> str:
        """The location in words: keys joined by " > ", list members by their name or number."""
        words, here = [], self.data
        for part in location:
            if isinstance(here, dict):
                here = here.get(part)
            elif isinstance(here, list) and isinstance(part, int) and part < len(here):
                here = here[part]
            else:
                here = None
            if isinstance(part, int):
                name = here.get("name") if isinstance(here, dict) else None
                words.append(printable(name, 40) if isinstance(name, str) and name else f"#{part + 1}")
            else:
                words.append(printable(part, 40))
        return " > ".join(words)

    def problem(self, location: Location, why: Refused, at_key: bool = False) -> Problem:
        """The refusal with its place; a location that is not in the file stands at its nearest holder's key."""
        known = location
        while known and known not in self.values:
            known = known[:-1]
        at_key = at_key or known != location
        source, line, column = (self.keys if at_key else self.values).get(known) or self.values[known]
        return Problem(source.file, line, column, self.path(location), why)


def read_tree(source: Source) -> Tree:
    """The content of one YAML document whose top level is a group of keys.  Raises `UserFileError`."""
    tree = Tree((source,))
    text, file = source.text, source.file
    _check_characters(text, file)
    try:
        _check_events(text, file)
        node = yaml.compose(text, Loader=_LOADER)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        raise _fault(file, mark, _syntax(error)) from None
    except (yaml.YAMLError, RecursionError, ValueError):
        raise _fault(file, None, refused("not YAML")) from None
    if not isinstance(node, yaml.MappingNode):
        kind = "a list" if isinstance(node, yaml.SequenceNode) else quoted(getattr(node, "value", None))
        raise _fault(file, getattr(node, "start_mark", None), refused("no group", found=kind))
    tree.data = _plain(node, (), tree)
    return tree


def _fault(file: str, mark: Any, why: Refused) -> UserFileError:
    line, column = (mark.line + 1, mark.column + 1) if mark is not None else (1, 1)
    return UserFileError([Problem(file, line, column, "", why)])


def _at(text: str, file: str, offset: int, why: Refused) -> UserFileError:
    line = text.count("\n", 0, offset) + 1
    column = offset - (text.rfind("\n", 0, offset) + 1) + 1
    return UserFileError([Problem(file, line, column, "", why)])


def _check_characters(text: str, file: str) -> None:
    """Refuse what no parser should see: too much, control characters, tabs as indentation, directives."""
    if len(text) > LARGEST:
        raise _fault(file, None, refused("too large"))
    if not text.strip("\ufeff \t\r\n"):
        raise _fault(file, None, refused("empty"))
    if match := _NOT_YAML.search(text):
        raise _at(text, file, match.start(), refused("control character", code=ord(match[0])))
    if match := _TAB_INDENT.search(text):
        tab = text.index("\t", match.start())
        raise _at(text, file, tab, refused("tab"))
    if match := _DIRECTIVE.search(text):
        raise _at(text, file, match.start(), refused("directive"))


def _check_events(text: str, file: str) -> None:
    """Stream through the text once and refuse depth, count, and what could build or multiply anything."""
    depth = count = documents = 0
    for event in yaml.parse(text, Loader=_LOADER):
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                raise _fault(file, event.start_mark, refused("second document"))
        elif isinstance(event, yaml.AliasEvent):
            raise _fault(file, event.start_mark, refused("alias", alias=quoted(f"*{event.anchor}")))
        elif isinstance(event, yaml.NodeEvent):
            count += 1
            if event.anchor is not None:
                raise _fault(file, event.start_mark, refused("anchor", anchor=quoted("&" + event.anchor)))
            tag = getattr(event, "tag", None)
            if tag is not None:
                raise _fault(
                    file,
                    event.start_mark,
                    refused("tag", tag=quoted(_as_written(tag))),
                )
            if isinstance(event, yaml.CollectionStartEvent):
                depth += 1
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
        if depth > DEEPEST:
            raise _fault(file, event.start_mark, _too_deep())
        if count > MOST_NODES:
            raise _fault(file, event.start_mark, refused("too many", most=MOST_NODES))
    if documents == 0:
        raise _fault(file, None, refused("comments alone"))


def _too_deep() -> Refused:
    return refused("too deep", most=DEEPEST)


def _as_written(tag: str) -> str:
    """A tag as it stood in the file; the parser gives the long form of "!!"."""
    prefix = "tag:yaml.org,2002:"
    return f"!!{tag.removeprefix(prefix)}" if tag.startswith(prefix) else tag


def _syntax(error: yaml.MarkedYAMLError) -> Refused:
    """A parser's complaint in words; the parser's own phrase is kept, for it is what can be looked up."""
    said = printable(" ".join(str(error.problem or error.context or "").split()))
    if "nesting depth" in said:  # the parser's own bound, met while it looks ahead
        return _too_deep()
    return refused("syntax", said=said)


def _plain(node: yaml.Node, location: Location, tree: Tree) -> Any:
    """The node's content as text, list or dict; places and faults go to `tree`.  Depth was bounded before."""
    tree.values[location] = _place(node, tree)
    if isinstance(node, yaml.SequenceNode):
        return [_plain(child, (*location, index), tree) for index, child in enumerate(node.value)]
    if isinstance(node, yaml.MappingNode):
        return _group(node, location, tree)
    text: str = node.value
    style = getattr(node, "style", None)
    if not style and node.tag == "tag:yaml.org,2002:null":
        _fault_at(tree, location, refused("lone mark" if text.strip() == "~" else "no value"))
        return None
    if _NOT_FINITE.fullmatch(text) or _overflows(text):
        _fault_at(tree, location, refused("not finite", found=quoted(text)))
    return text


def _overflows(text: str) -> bool:
    return len(text) <= 60 and _NUMBER.fullmatch(text) is not None and _float(text) in (float("inf"), -float("inf"))


def _float(text: str) -> float:
    try:
        return float(text)
    except ValueError:  # "1.2.3e4"
        return 0.0


def _group(node: yaml.MappingNode, location: Location, tree: Tree) -> dict[str, Any]:
    group: dict[str, Any] = {}
    for key_node, value_node in node.value:
        place = _place(key_node, tree)
        if not isinstance(key_node, yaml.ScalarNode):
            kind = "a list" if isinstance(key_node, yaml.SequenceNode) else "a group"
            problem = _problem(place, tree.path(location), refused("odd key", found=kind))
            tree.problems.append((location, problem))
            continue
        key: str = key_node.value
        here = (*location, key)
        if key in group:
            first = tree.keys[here]
            twice = refused("key twice", key=quoted(key), line=first.line, column=first.column)
            words = " > ".join(filter(None, (tree.path(location), printable(key, 40))))
            tree.problems.append((here, _problem(place, words, twice)))
            continue
        tree.keys[here] = place
        group[key] = _plain(value_node, here, tree)
    return group


def _fault_at(tree: Tree, location: Location, why: Refused) -> None:
    tree.problems.append((location, _problem(tree.values[location], "", why)))


def _place(node: yaml.Node, tree: Tree) -> Place:
    return Place(tree.sources[0], node.start_mark.line + 1, node.start_mark.column + 1)


def _problem(place: Place, path: str, why: Refused) -> Problem:
    return Problem(place.source.file, place.line, place.column, path, why)
