"""A limit as it is written ("at most 5 deg either way", "at least 90 % of it"), and how far inside it a number lies.

Every limit holds at its own value.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from models.errors import Refused, quoted
from scenarios.rules.quantities import LONGEST, read_quantity, sample

SHARE, MORE = "of it", "more"  # how a limit leans on another setup's number
PLAIN = '"at least ...", "at most ..." or "between ... and ...", then "either way" if the sign does not matter'
LEANING = 'with "against": "at least ... of it" or "at most ... of it" in %, or "... more" or "... less"'
_FORM = re.compile(
    r"(?:(at least|at most)\s+(?P<one>.+?)|between\s+(?P<low>.+?)\s+and\s+(?P<high>.+?))"
    r"(?:\s+(?P<lean>of it|more|less))?(?:\s+(?P<size>either way))?"
)


@dataclass(frozen=True)
class Limit:
    """`low` and `high` (None: no bound) in the measure's unit; of the size alone where `either_way`.

    `lean` "of it": shares of the size of another setup's number; "more": differences from it.  `text` as written.
    """

    low: float | None
    high: float | None
    either_way: bool = False
    lean: str = ""
    text: str = ""

    def headroom(self, value: float, other: float | None = None) -> float:
        """How far `value` is inside, in the measure's unit; negative outside, 0 at a bound.  `other`: the number leant on."""
        if self.either_way or self.lean == SHARE:
            value = abs(value)
        low, high = self.low, self.high
        if self.lean == SHARE:
            low, high = (None if bound is None else bound * abs(other) for bound in (low, high))
        elif self.lean == MORE:
            value -= abs(other) if self.either_way else other
        rooms = [value - low] if low is not None else []
        rooms += [high - value] if high is not None else []
        return min(rooms)


def read_limit(text: object, unit: str | None, leaning: bool) -> Limit:
    """The limit that `text` says of a measure in `unit` (None: of a measure unknown so far, which checks its form alone).

    `leaning` where it compares with another setup.  Raises `Refused`.
    """
    form = f"{PLAIN}; {LEANING}" if leaning else PLAIN
    words = " ".join(text.split()) if isinstance(text, str) and len(text) <= 4 * LONGEST else ""
    match = _FORM.fullmatch(words)
    if match is None:
        raise Refused(quoted(text), form, f'"at most {sample(unit or "")}"')
    lean, either = match["lean"] or "", match["size"] is not None
    if lean and not leaning:
        raise Refused(f'{quoted(text)} without "against"', form, 'a line "against: SETUP" in this rule')
    if leaning and not lean:
        advice = '"at least 100 % of it" for no less than the other'
        raise Refused(f'{quoted(text)} beside "against"', LEANING, advice)
    if unit is None and lean != SHARE:
        return Limit(None, None, either, lean, words)
    wanted = "%" if lean == SHARE else unit
    scale = 0.01 if lean == SHARE else 1.0
    if match["one"]:
        bound = scale * read_quantity(match["one"], wanted)
        low, high = (bound, None) if match[1] == "at least" else (None, bound)
    else:
        low, high = (scale * read_quantity(match[name], wanted) for name in ("low", "high"))
        if low > high:
            advice = f'"between {match["high"]} and {match["low"]}"'
            raise Refused(f"{quoted(text)}, limits the wrong way round", "the smaller limit first", advice)
    if (either or lean == SHARE) and min(b for b in (low, high, math.inf) if b is not None) < 0.0:
        raise Refused(f"{quoted(text)}, a size under 0", "sizes from 0")
    if lean == "less":  # no more than 2 m less than the other is at least -2 m more
        low, high, lean = None if high is None else -high, None if low is None else -low, MORE
    return Limit(low, high, either, lean, words)
