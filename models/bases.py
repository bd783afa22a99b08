"""Setups that build on another: the chain of `from:`, and the content put together with the place of every value.

Groups are put together key by key, down to single values; lists are replaced whole.  A value `none` takes away what the
base has there.  What a file says about itself (`OWN`) is never taken over.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import TypeVar

from pydantic import BaseModel

from models.errors import Refused, UserFileError, quoted
from models.fields import Text
from models.messages import refused
from models.nodes import MOST_NODES, Location, Source, Tree
from models.reading import Read, checked, tree_of

M = TypeVar("M", bound=BaseModel)

DEEPEST = 8  # setups below one
OWN = ("format", "kind", "name", "about", "from")
NONE = "none"

Find = Callable[[str, Tree], tuple[Source, Hashable]]


def read_with_bases(source: Source, identity: Hashable, find: Find, model: type[M]) -> Read[M]:
    """The document in `source`, put together with those it builds on.

    `find(name, tree)` is the source that `tree` names as its base, and what tells it from any other; it raises
    `Refused` or `UserFileError`.  Raises `UserFileError`: also for a circle, for more than `DEEPEST`
    bases, and for more than `MOST_NODES` values in all of them.
    """
    trees, seen = [tree_of(source, model)], [identity]
    while "from" in trees[-1].data:
        tree = trees[-1]
        try:
            name = Text(300).read(tree.data["from"])
            base, other = find(name, tree)
            if other in seen:
                way = " > ".join(t.sources[0].file for t in (*trees[seen.index(other) :], trees[seen.index(other)]))
                raise refused("circle", name=quoted(name), way=way)
            if len(trees) > DEEPEST:
                raise refused("too many bases", most=DEEPEST)
        except Refused as why:
            raise UserFileError([tree.problem(("from",), why)]) from None
        trees.append(tree_of(base, model))
        seen.append(other)
        if sum(len(part.values) for part in trees) > MOST_NODES:
            raise UserFileError([tree.problem(("from",), refused("too many together", most=MOST_NODES))])
    own = trees[0].data.get("name")
    if any(own == tree.data.get("name") for tree in trees[1:]):
        why = refused("name of the base", name=quoted(own))
        trees[0].problems.append((("name",), trees[0].problem(("name",), why)))
    whole = trees[-1]
    for tree in reversed(trees[:-1]):
        whole = _on(tree, whole)
    return checked(whole, model)


def _on(own: Tree, base: Tree) -> Tree:
    """`own` on `base`, which has been put together itself."""
    whole = Tree(own.sources + base.sources, values=dict(own.values), keys=dict(own.keys))
    whole.problems = list(own.problems)
    hidden: set[Location] = {(key,) for key in OWN} | {()}  # places of the base that are seen no more
    inherited = {key: value for key, value in base.data.items() if key not in OWN}
    whole.data = _merged(own.data, inherited, (), whole, hidden)
    whole.gone |= base.gone

    def seen(location: Location) -> bool:
        return not any(location[:end] in hidden for end in range(1, len(location) + 1)) and location != ()

    for places, below in ((whole.values, base.values), (whole.keys, base.keys)):
        for location, place in below.items():
            if seen(location):
                places.setdefault(location, place)
    whole.problems += [(location, problem) for location, problem in base.problems if seen(location)]
    return whole


def _merged(own: dict, base: dict, here: Location, whole: Tree, hidden: set[Location]) -> dict:
    """The two groups at the location `here` as one."""
    merged = dict(base)
    for key, value in own.items():
        location = (*here, key)
        if value == NONE and key not in OWN:
            if key in base:
                hidden.add(location)
                whole.gone.add(location)
                del merged[key]
                continue
            whole.problems.append((location, whole.problem(location, refused("nothing to take away"))))
        if isinstance(value, dict) and isinstance(base.get(key), dict):
            merged[key] = _merged(value, base[key], location, whole, hidden)
        else:
            hidden.add(location)
            merged[key] = value
    return merged
