"""How far inputs may be off, from the words of a pilot: "cg: 3 mm, elevator up throw: +- 2 deg, turbulence seed: any".

A plain amount is one standard deviation of a normal error, "+-" half the range of a uniform one, "triangular +-" of a
triangular one.  A share of an input that is no share itself is of its value ("mass of battery: 2 %").  What is given
takes the place of the default for that input, or is added; "0" leaves one out.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Any

from models.errors import OptionError, Refused, UserError, quoted
from models.fields import CentreOfGravity, Count, Quantity
from models.units import DIMENSIONS, parse, written
from scenarios.accuracy import accuracies_of
from scenarios.draws import Uncertain, uncertain_of, within
from scenarios.inputs import WAYS, Case, Input, inputs_of, named
from scenarios.schema import TurbulenceWish
from sim.build import mean_aerodynamic_chord
from sim.description import Setup

OPTION = "--uncertain"
LONGEST = 2000  # characters of one option
SAMPLE = '"cg: 3 mm, elevator up throw: +- 2 deg"'
ANY = "wind direction", "turbulence seed"  # inputs of which any value is as likely as any other
MOST_CG = 0.2  # m
HALF_TURN = math.pi
# how far a pilot's delay differs from day to day; a third of what sets skills apart; common practice, no source
DELAY = Uncertain("pilot delay", "normal", 0.020)
_KINDS = re.compile(r"(?:(normal|uniform|triangular)\s+)?(\+-|\+/-|\u00b1)?\s*(.*)", re.DOTALL)
_DEFAULTS = {f"{control} throw": [f"{control} {way} throw" for way in ways] for control, ways in WAYS.items()}


def uncertain_inputs(texts: Iterable[str], cases: list[Case], only: bool = False) -> tuple[Uncertain, ...]:
    """What is uncertain in a study of `cases`, which share a setup: the defaults (none with `only`) and what `texts` say.

    Raises `UserError` with every mistake found.
    """
    setup = cases[0].setup
    flown = any(case.manoeuvre for case in cases)
    found = {} if only else {one.input: one for one in (*uncertain_of(setup), *[DELAY] * flown)}
    given: set[str] = set()
    wrong: list[str] = []
    for text in texts:
        for entry in _entries(text, wrong):
            try:
                one = _read(entry, setup, cases, given)
            except OptionError as error:
                wrong.append(str(error))
                continue
            for name in (one.input, *_overlapping(one.input)):
                found.pop(name, None)
            if one.spread > 0.0:
                found[one.input] = one
    if wrong:
        raise UserError("\n".join(wrong))
    if not found:
        raise OptionError(OPTION, Refused("nothing that is uncertain", "one input or more", SAMPLE))
    return tuple(found.values())


def said(one: Uncertain, setup: Setup) -> str:
    """How far an input may be off, as a pilot says it."""
    if one.input in ANY and (one.input == ANY[1] or one.spread >= HALF_TURN):
        return "any"
    dimension, unit, decimals = shown_in(inputs_of(setup)[one.input])
    text = written(one.spread, dimension, unit, decimals) if dimension else f"{one.spread:.3g}"
    return text if one.kind == "normal" else f"+- {text}" + (", triangular" if one.kind == "triangular" else "")


def how(name: str, setup: Setup) -> str:
    """By what means the default accuracy of an input is reached; "" where it has none."""
    return next((a.how for a in accuracies_of(setup) if a.name == name), "")


def standard_deviation(one: Uncertain) -> float:
    """Of the error of `one`, in its SI unit."""
    return one.spread / {"normal": 1.0, "uniform": math.sqrt(3.0), "triangular": math.sqrt(6.0)}[one.kind]


def _entries(text: str, wrong: list[str]) -> list[str]:
    entries = [" ".join(part.split()) for part in text.replace("\u2212", "-").split(",")]
    if len(text) > LONGEST or not all(entries):
        found = quoted(text) + (f" ({len(text)} characters)" if len(text) > LONGEST else "")
        wrong.append(str(OptionError(OPTION, Refused(found, "INPUT: SPREAD, with commas between", SAMPLE))))
        return []
    return entries


def _read(entry: str, setup: Setup, cases: list[Case], given: set[str]) -> Uncertain:
    name, colon, amount = (part.strip() for part in entry.partition(":"))
    if not colon or not amount:
        raise OptionError(OPTION, Refused(quoted(entry), "INPUT: SPREAD", SAMPLE))
    what = named(inputs_of(setup), name, OPTION)
    option = f"{OPTION} {quoted(name)}"
    again = next((other for other in (name, *_overlapping(name)) if other in given), None)
    if again:
        found = "it a second time" if again == name else f"it beside {quoted(again)}, which it is a part of or holds"
        raise OptionError(option, Refused(found, "each input once"))
    given.add(name)
    try:
        one = _spread(what, amount, cases[0])
        if one.spread > 0.0:
            _must_act(what, one, cases)
    except Refused as refused:
        raise OptionError(option, refused) from None
    return one


def _overlapping(name: str) -> list[str]:
    """Inputs that move the same thing as `name`."""
    return _DEFAULTS.get(name, []) + [both for both, ways in _DEFAULTS.items() if name in ways]


def _spread(what: Input, amount: str, case: Case) -> Uncertain:
    kind, plus_minus, rest = _KINDS.fullmatch(amount).groups()
    if rest == "any" and what.name in ANY and not kind and not plus_minus:
        return Uncertain(what.name, "uniform", HALF_TURN)
    if isinstance(what.written, Count):
        raise Refused(quoted(amount), "any", f'"{what.name}: any"')
    if kind is None:
        kind = "uniform" if plus_minus else "normal"
    if kind == "normal" and plus_minus:
        raise Refused(quoted(amount), "normal SPREAD (one standard deviation), or uniform +- SPREAD", f'"{rest}"')
    spread = 0.0 if rest == "0" else _amount(what, rest, case)
    if spread < 0.0:
        raise Refused(quoted(amount), "a spread from 0", quoted(rest.lstrip("+-")))
    if isinstance(what.written, CentreOfGravity) and spread > MOST_CG:
        raise Refused(quoted(amount), f"a spread of the CG up to {written(MOST_CG, 'length', 'mm', 0)}")
    return Uncertain(what.name, kind, spread)


def _amount(what: Input, text: str, case: Case) -> float:
    """A spread in SI."""
    dimension = shown_in(what)[0]
    if not dimension:
        raise Refused(f"{quoted(text)} for an input without a number", "an input with a unit")
    if text.endswith("%") and dimension != "ratio":
        share = parse(text, "ratio")
        if isinstance(what.written, CentreOfGravity):
            return share * mean_aerodynamic_chord(next(s for s in case.setup.airframe.surfaces if s.name == "wing"))[0]
        return share * abs(what.value(case))
    return parse(text, dimension)


def shown_in(what: Input) -> tuple[str, str, int]:
    """Dimension of an input, unit and decimals that a spread is shown with; "" where it has no number."""
    if isinstance(what.written, CentreOfGravity):
        return "length", "mm", 1
    if isinstance(what.written, TurbulenceWish):
        return "speed", "m/s", 1
    if isinstance(what.written, Quantity):
        dimension = what.written.dimension
        unit, decimals = {
            "length": ("mm", 1),
            "mass": ("g", 0),
            "angle": ("deg", 1),
            "ratio": ("%", 1),
            "duration": ("ms", 0),
        }.get(dimension, (DIMENSIONS[dimension].sample.split(" ", 1)[-1], 2))
        return dimension, unit, decimals
    return "", "", 0


IDLE_ADVICE = {"no wind": '--set "wind: 3 m/s"', "no turbulence": '--set "turbulence: light"'}


def _must_act(what: Input, one: Uncertain, cases: list[Case]) -> None:
    """Raises `Refused` where the input does nothing, has no one value, or would be pushed over its bounds."""
    cases = [case for case in cases if what.acts_in(case)]
    if not cases:
        raise Refused("it with nothing flown, where it changes nothing", "an input of the setup or the plane")
    idle = [what.idle(case) for case in cases]
    if all(idle):
        allowed = "an input that changes something"
        raise Refused(f"it with {idle[0]}, where it changes nothing", allowed, IDLE_ADVICE.get(idle[0], ""))
    if one.input in ANY:
        return
    for case in cases:
        if not what.now(case):
            parts = ", ".join(_DEFAULTS.get(what.name, []))
            raise Refused("an input that has not one value here", "an input with one value", parts)
        _must_fit(what, one, what.value(case))


def _must_fit(what: Input, one: Uncertain, now: Any) -> None:
    if not isinstance(now, float) or isinstance(what.written, TurbulenceWish):
        return
    for end in (now - one.spread, now + one.spread):
        if not math.isclose(within(what.written, end), end, rel_tol=1e-6, abs_tol=1e-9):
            dimension, unit, decimals = shown_in(what)
            reach = f"{written(end, dimension, unit, decimals)} (it is {written(now, dimension, unit, decimals)})"
            bounds = what.written.bounds_in_words()
            raise Refused(
                f"a spread that reaches {reach}", f"values {bounds}", "another value by --set, or less spread"
            )


def in_wind(speed: str) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """What "--wind SPEED" stands for: fixed inputs, and uncertain ones as texts.

    Any wind up to `speed`, from anywhere, with the turbulence that goes with it.  Raises `OptionError`.
    """
    try:
        most = parse(speed, "speed")
        if not 0.0 < most <= 20.0:
            raise Refused(quoted(speed), "a wind over 0 m/s and at most 20 m/s", '"3 m/s"')
    except Refused as refused:
        raise OptionError("--wind", refused) from None
    half = f"{most / 2.0:.6g} m/s"
    fixed = (("wind", half), ("turbulence", "as the wind"))
    return fixed, (f"wind: +- {half}, wind direction: any, turbulence seed: any",)
