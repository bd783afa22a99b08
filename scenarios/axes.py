"""An axis of a map from the words of a pilot: "cg: 28 % to 40 % by 2 %", or a list, "propeller: 20x12, 20x13, 21x12".

The values of a range are counted in decimals and read as texts, as if each had been typed alone: a cell of a map is
the same flight, bit for bit, as the one with that value.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np

from models.errors import OptionError, Refused, quoted
from scenarios.inputs import Case, Input, named

LONGEST = 1000  # characters of one axis
MOST_VALUES = 2000
_NUMBER = re.compile(r"([+-]?(?:[0-9]{1,9}(?:\.[0-9]{0,9})?|\.[0-9]{1,9}))(?![0-9.,xX])\s*(.*)")
_RANGE = re.compile(r"(.+?)\s+to\s+(.+?)(?:\s+by\s+(.+))?")


@dataclass(frozen=True)
class Axis:
    """The values of one input: `texts` as they would be typed, `values` as read, and `numbers` in `unit`.

    `numbers` is None where the values have no number, or not one unit.
    """

    input: Input
    texts: tuple[str, ...]
    values: tuple[Any, ...]
    numbers: tuple[float, ...] | None
    unit: str

    @property
    def heading(self) -> str:
        """The input and the unit of its numbers."""
        return f"{self.input.name}, {self.unit}" if self.unit else self.input.name

    def labels(self) -> list[str]:
        """Every value as it stands under the heading."""
        return (
            list(self.texts) if self.numbers is None else [text.removesuffix(self.unit).strip() for text in self.texts]
        )

    def place(self, case: Case) -> float | None:
        """Where a case stands on the axis, in its unit; None off its ends, and where it cannot be told."""
        if self.numbers is None or not self.input.now(case):
            return None
        wanted, known = _number(self.input.read(self.input.now(case))), [_number(value) for value in self.values]
        if wanted is None or any(value is None or value[1] != wanted[1] for value in known):
            return None
        pairs = sorted((value[0], number) for value, number in zip(known, self.numbers))
        slack = 1e-9 * (abs(pairs[0][0]) + abs(pairs[-1][0]))
        if not pairs[0][0] - slack <= wanted[0] <= pairs[-1][0] + slack:
            return None
        return float(np.interp(wanted[0], *zip(*pairs)))


def _number(value: Any) -> tuple[float, str] | None:
    """A value as one number, with what it is counted in where that may differ (a CG); None for anything else."""
    if isinstance(value, tuple) and len(value) == 2 and isinstance(value[1], str):
        return value
    return (float(value), "") if isinstance(value, int | float) else None


def read_axis(text: str, inputs: dict[str, Input], option: str, falling: bool = False) -> Axis:
    """The axis that `text` describes; a range may go down where `falling` is allowed.  Raises `OptionError`."""
    what, rest = read_name(text, inputs, option)
    try:
        texts = _texts(rest, falling)
        values = tuple(what.read(t) for t in texts)
    except Refused as refused:
        raise OptionError(f"{option} {quoted(what.name)}", refused) from None
    numbers, unit = _numbers(texts)
    return Axis(what, tuple(texts), values, numbers, unit)


def read_name(text: str, inputs: dict[str, Input], option: str) -> tuple[Input, str]:
    """The input that stands before the colon of `text`, and what stands behind it.  Raises `OptionError`."""
    name, colon, rest = text.replace("\u2212", "-").partition(":")
    if not colon or len(text) > LONGEST:
        found = quoted(text) + (f" ({len(text)} characters)" if len(text) > LONGEST else "")
        raise OptionError(option, Refused(found, "INPUT: values", '"cg: 28 % to 40 % by 2 %"'))
    return named(inputs, " ".join(name.split()), option), rest.strip()


def _texts(rest: str, falling: bool) -> list[str]:
    match = _RANGE.fullmatch(rest)
    if match:
        return _counted(rest, *match.groups(), falling)
    texts = [" ".join(part.split()) for part in rest.split(",")]
    if not all(texts):
        allowed = "a range or a list of values"
        raise Refused(quoted(rest) if rest else "no values", allowed, '"28 % to 40 % by 2 %" or "28 %, 31 %, 36 %"')
    for n, text in enumerate(texts):
        if text in texts[:n]:
            raise Refused(f"{quoted(text)} a second time", "each value once")
    return texts


def _counted(rest: str, low: str, high: str, step: str | None, falling: bool) -> list[str]:
    sample = '"28 % to 40 % by 2 %"'
    if step is None:
        raise Refused(f"{quoted(rest)}, a range without a step", "FROM to TO by STEP", sample)
    parts = [_NUMBER.fullmatch(part.strip()) for part in (low, high, step)]
    if not all(parts):
        wrong = next(part for part, match in zip((low, high, step), parts) if not match)
        raise Refused(quoted(wrong), "a range of numbers with a unit, or a list of values", sample)
    units = dict.fromkeys(match[2].strip() for match in parts if match[2].strip())
    if len(units) > 1:
        raise Refused(f"{quoted(rest)}, with units {' and '.join(units)}", "one unit in a range", sample)
    first, last, by = (Decimal(match[1]) for match in parts)
    if by <= 0:
        raise Refused(f"a step of {quoted(step)}", "a step over 0", sample)
    if last < first and falling:
        by = -by
    elif last < first:
        raise Refused(f"{quoted(rest)}, an empty range", "from the smaller value to the larger", sample)
    count = int((last - first) / by) + 1
    if count > MOST_VALUES:
        raise Refused(f"{quoted(rest)}, {count} values", f"at most {MOST_VALUES}", "a larger step")
    unit = next(iter(units), "")
    return [f"{first + n * by:f} {unit}".strip() for n in range(count)]


def _numbers(texts: list[str]) -> tuple[tuple[float, ...] | None, str]:
    matches = [_NUMBER.fullmatch(text) for text in texts]
    if not all(matches) or len({match[2] for match in matches}) > 1:
        return None, ""
    return tuple(float(match[1]) for match in matches), matches[0][2]
