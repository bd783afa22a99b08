"""Inputs that nobody knows exactly, and how a study draws their errors.

A draw is a number of its own: its errors come from a counter-based generator (Philox; Salmon and others, 2011) keyed by
the study's seed, the draw's index and the input's name.  So they are the same whatever flies them, in whatever order,
and an input more leaves the errors of the others as they were.  Draw 0 is the nominal case: no errors.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from scipy.special import ndtri

from models.errors import OptionError, Refused
from models.fields import CentreOfGravity, Count, Quantity, Written
from models.units import parse
from scenarios.accuracy import accuracies_of
from scenarios.inputs import Case, Input, inputs_of, named
from scenarios.schema import TurbulenceWish
from sim.build import mean_aerodynamic_chord
from sim.description import Setup

KINDS = ("normal", "uniform", "triangular")
WHOLE = ("turbulence seed",)  # inputs that are whole numbers: any is as likely as any other
TURN = 2.0 * math.pi


@dataclass(frozen=True)
class Uncertain:
    """The input called `input`, off by an error of `kind`: `spread` is one standard deviation, or half of the range.

    In SI (a CG in m); of a whole number any is as likely as any other, and `spread` is not looked at.
    """

    input: str
    kind: str
    spread: float


def uncertain_of(setup: Setup) -> tuple[Uncertain, ...]:
    """What a pilot cannot measure exactly of `setup`'s plane, by common practice (`scenarios.accuracy`)."""
    return tuple(Uncertain(a.name, "normal", a.sigma) for a in accuracies_of(setup))


def checked(uncertain: Iterable[Uncertain], setup: Setup, option: str) -> tuple[Uncertain, ...]:
    """`uncertain`, where each can be drawn for `setup`.  Raises `OptionError`."""
    known, taken = inputs_of(setup), set()
    for one in uncertain:
        what = named(known, one.input, option)
        if one.kind not in KINDS:
            raise OptionError(f"{option} {one.input}", Refused(f'"{one.kind}"', ", ".join(KINDS)))
        if one.input in taken:
            raise OptionError(f"{option} {one.input}", Refused("it a second time", "each input once"))
        if not isinstance(what.written, Quantity | CentreOfGravity | TurbulenceWish) and one.input not in WHOLE:
            raise OptionError(f"{option} {one.input}", Refused("an input without a number", "an input with a unit"))
        if not (math.isfinite(one.spread) and one.spread >= 0.0):
            raise OptionError(f"{option} {one.input}", Refused(f"a spread of {one.spread}", "a spread from 0"))
        taken.add(one.input)
    return tuple(uncertain)


def chance(seed: int, index: int, name: str) -> float:
    """A number between 0 and 1 (neither of them) that belongs to this study, draw and input alone."""
    place = int.from_bytes(hashlib.blake2b(name.encode(), digest_size=8).digest(), "little")
    bits = np.random.Philox(key=[seed, index], counter=[0, 0, 0, place]).random_raw()
    return ((int(bits) >> 11) + 0.5) / 2.0**53


def error(one: Uncertain, at: float) -> float:
    """The error that a share `at` of all errors does not reach, in SI."""
    if one.kind == "normal":
        return one.spread * float(ndtri(at))
    if one.kind == "uniform":
        return one.spread * (2.0 * at - 1.0)
    return one.spread * (math.sqrt(2.0 * at) - 1.0 if at < 0.5 else 1.0 - math.sqrt(2.0 * (1.0 - at)))


def draw(uncertain: Iterable[Uncertain], seed: int, index: int) -> dict[str, float]:
    """The errors of a draw by input, in SI; of a whole number the share of its range that lies below.  Draw 0 has none."""
    if index == 0:
        return {}
    return {
        one.input: at if one.input in WHOLE else error(one, at)
        for one in uncertain
        for at in (chance(seed, index, one.input),)
    }


def mixed(uncertain: tuple[Uncertain, ...], seed: int, rows: int, index: int) -> dict[str, float]:
    """The errors of a plan for variance-based indices: those of draws 1 to `rows`, one input's of draws 1 + `rows` on.

    Indices 1 to `rows` change the first input, the next `rows` the second, and so on; 0 has no errors.
    """
    if index == 0:
        return {}
    which, row = divmod(index - 1, rows)
    return {**draw(uncertain, seed, 1 + row), **draw(uncertain[which : which + 1], seed, 1 + rows + row)}


def off_by(case: Case, errors: dict[str, float], known: dict[str, Input]) -> Case:
    """`case` with every input of `known` off by its error, within the input's bounds; those of a flight, where there is one."""
    for name, amount in errors.items():
        what = known[name]
        if what.acts_in(case):
            case = what.apply(case, _moved(case, what, amount))
    return case


def _moved(case: Case, what: Input, amount: float) -> Any:
    if isinstance(what.written, Count):
        low, high = what.written.least, what.written.most
        return low + int(amount * (high - low + 1))
    now = what.value(case)
    if isinstance(now, tuple):  # a CG, in m or as a share of the mean aerodynamic chord
        value, kind = now
        wing = next(s for s in case.setup.airframe.surfaces if s.name == "wing")
        return value + (amount / mean_aerodynamic_chord(wing)[0] if kind == "mac" else amount), kind
    if what.name == "wind direction":
        return (now + amount) % TURN
    if isinstance(what.written, TurbulenceWish) and now < 0.0:
        return now  # it goes with the wind
    return within(what.written, now + amount)


def within(written: Written, value: float) -> float:
    """`value`, or the nearest that `written` allows."""
    low, high = _bounds(written)
    return min(max(value, low), high)


@lru_cache(maxsize=256)
def _bounds(written: Written) -> tuple[float, float]:
    if not isinstance(written, Quantity):
        return 0.0, math.inf  # how gusty it is
    bounds = [written.least, written.over, written.most, written.under]
    least, over, most, under = (None if b is None else parse(b, written.dimension) for b in bounds)
    low = least if least is not None else -math.inf if over is None else over + 1e-9
    high = most if most is not None else math.inf if under is None else under - 1e-9
    return min(low, high), max(low, high)  # a unit that divides turns them round
