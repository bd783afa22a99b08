"""The steps of a walk: a value of one input each; for a CG that goes aft, what has to be moved or carried to get there."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from models.errors import OptionError, Refused, UserError, quoted
from models.fields import CentreOfGravity, Quantity
from models.loader import Loaded, setup_from_texts
from models.options import option_value
from models.units import written
from scenarios.axes import Axis, read_axis
from scenarios.ballast import Place, Wanted, wanted
from scenarios.inputs import Case, inputs_of
from sim.description import Setup

STEP = 0.003  # m; 3 to 5 mm or 1 % of MAC is common practice
MOST_STEPS = 40
LEAST_STEP, LARGEST_STEP = "0.5 mm", "50 mm"


@dataclass(frozen=True)
class Step:
    """One step: the value as `text`, as a `number` of the walk's unit, and what a `Work` is made of to fly it.

    `fixed` are its inputs, `setup_text` a setup file that differs from the walk's ("": the same).  `item` (m aft of the
    wing root leading edge) is where the moved item goes and `ballast` (kg) what is carried besides, in a walk of the CG.
    """

    text: str
    number: float
    fixed: tuple[tuple[str, str], ...]
    setup_text: str = ""
    item: float | None = None
    ballast: float = 0.0


@dataclass(frozen=True)
class Path:
    """The steps of a walk of `input`, numbers in `unit`; `end` says in words what ends it if no limit does.

    `stops`: whether the walk ends at the first step that is not sound; else each step is judged for itself.
    """

    input: str
    unit: str
    steps: tuple[Step, ...]
    end: str
    stops: bool
    backwards: bool = False  # the CG goes aft


def rearward(loaded: Loaded, by: str | None = None, to: str | None = None, at: Place | None = None) -> Path:
    """The CG of a setup from where it is towards the tail, in steps of `by`, up to `to`, ballast `at` a place where the
    tray ends.  Raises `UserError` when not even one step can be made."""
    setup = loaded.setup
    step = option_value("--by", Quantity("length", least=LEAST_STEP, most=LARGEST_STEP).read, by, STEP)
    here = wanted(setup)
    last = here.reach[1]
    moved = here.item.name
    end = f"the tray of the {moved} ends at CG {written(last, 'length', 'mm', 1)}"
    if at is not None:
        last, end = here.station + MOST_STEPS * step, f"{MOST_STEPS} steps were flown"
    if to is not None:
        asked = wanted(replace(setup, cg=option_value("--to", CentreOfGravity().read, to))).station
        if asked <= here.station:
            raise OptionError("--to", Refused(quoted(to), f"a CG behind the present {_mm(here.station)}"))
        if asked <= last + 1e-9:
            last, end = asked, f"the walk was to end at {_mm(asked)}"
    if not here.within:
        raise UserError(f"{setup.name}: its CG, {_mm(here.station)}, is out of reach; try: upline balance {setup.name}")
    first = round(1000.0 * here.station, 1)
    places = [first + 1000.0 * step * n for n in range(1, MOST_STEPS + 1)]
    places = [place for place in places if place <= 1000.0 * last + 1e-6]
    if not places:
        found = f"{end}, {written(last - here.station, 'length', 'mm', 1)} behind the present one"
        advice = 'smaller steps, or ballast: --ballast-at "tail post"'
        raise OptionError("--by", Refused(found, f"room for a step of {_mm(step)}", advice))
    steps = [Step(_mm(here.station), first, (), item=here.needed)]
    steps += [_backwards(loaded, place, at) for place in places]
    return Path("cg", "mm", tuple(steps), end, stops=True, backwards=True)


def _backwards(loaded: Loaded, place: float, at: Place | None) -> Step:
    """The step with the CG `place` mm aft of the wing root leading edge."""
    text = f"{place:.1f} mm"
    here = wanted(replace(loaded.setup, cg=(place / 1000.0, "m")), at)
    if here.within:
        return Step(text, place, (("cg", text),), item=here.needed)
    if not here.ballast:
        least = f"a place more than {_mm(here.station)} aft" if at else "a place"
        raise OptionError("--ballast-at", Refused(quoted(at.name if at else ""), least, '"tail post"'))
    ballast = here.ballast[0]
    setup_text = with_line(loaded.texts["setup"], ballast.line)
    carried = wanted(replace(setup_from_texts({**loaded.texts, "setup": setup_text}), cg=(place / 1000.0, "m")))
    return Step(text, place, (("cg", text),), setup_text, carried.needed, ballast.mass)


def with_line(text: str, line: str) -> str:
    """The text of a setup file with one more `line` of ballast.  Raises `UserError` where its own is on one line."""
    found = re.search(r"^ballast:(.*)$", text, re.MULTILINE)
    if found is None:
        return f"{text.rstrip()}\nballast:\n  {line}\n"
    if found[1].partition("#")[0].strip():
        raise UserError(
            'setup: found ballast on the line of its key; allowed: a list below it, "- {mass: ..., at: ...}"'
        )
    indent = re.match(r"\n( *)-", text[found.end() :])
    return f"{text[: found.end()]}\n{indent[1] if indent else '  '}{line}{text[found.end() :]}"


def general(loaded: Loaded, text: str) -> Path:
    """The steps that `text`, "INPUT: FROM to TO by STEP" or "INPUT: VALUE, VALUE", describes.  Raises `OptionError`."""
    option = "steps"
    axis = read_axis(text, inputs_of(loaded.setup), option, falling=True)
    if axis.input.in_flight:
        raise OptionError(
            option, Refused(quoted(axis.input.name), "a number of the setup, not of the air or the pilot")
        )
    if not 2 <= len(axis.texts) <= MOST_STEPS:
        raise OptionError(option, Refused(f"{len(axis.texts)} values", f"2 to {MOST_STEPS}"))
    numbers = axis.numbers or tuple(float(n) for n in range(len(axis.texts)))
    item = _item_places(loaded.setup, axis) if axis.input.name == "cg" else [None] * len(numbers)
    steps = tuple(
        Step(value, number, ((axis.input.name, value),), item=place)
        for value, number, place in zip(axis.texts, numbers, item)
    )
    ranged = axis.numbers is not None and " to " in text
    return Path(axis.input.name, axis.unit, steps, "the values asked for were flown", stops=ranged)


def _item_places(setup: Setup, axis: Axis) -> list[float | None]:
    there: list[Wanted] = [wanted(axis.input.apply(Case(setup), value).setup) for value in axis.values]
    return [one.needed if one.within else None for one in there]


def _mm(length: float) -> str:
    return written(length, "length", "mm", 1)
