"""A map: one or two inputs swept over measures of a manoeuvre, every cell a flight of its own.

Cells are flown on threads (the kernels let go of the interpreter), each on a plane built for it alone, so neither
the number of threads nor the order in which they end shows in the numbers.  A cell that could not be measured keeps
the reason.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from itertools import product

from models.errors import OptionError, Refused, UserError, nearest, quoted
from scenarios.at_rest import BALANCE, BALANCE_MEASURES, weigh
from scenarios.axes import Axis
from scenarios.inputs import Case, Input, with_inputs
from scenarios.manoeuvres import CannotFly, CgOutOfReach, fly_manoeuvre
from scenarios.measures import MEASURES, Measure, take_measures
from sim.build import Plane, build
from sim.mass_properties import OutOfReach

MOST_CELLS = 2000


@dataclass(frozen=True)
class Cell:
    """One place of a map: per measure a value, or None and the reason.  `ended` is how the flight ended, "" if none."""

    values: tuple[float | None, ...]
    reasons: tuple[str, ...]
    ended: str = ""
    stopped: Exception | None = None  # what kept the plane from being built or the flight from starting


@dataclass(frozen=True)
class Map:
    """A map of `case`: `cells` in the order of the axes, the last one running fastest."""

    case: Case
    axes: tuple[Axis, ...]
    measures: tuple[Measure, ...]
    cells: tuple[Cell, ...]

    @property
    def shape(self) -> tuple[int, ...]:
        """How many values each axis has."""
        return tuple(len(axis.texts) for axis in self.axes)

    @property
    def manoeuvre(self) -> str:
        """The name of what was flown."""
        return self.case.manoeuvre.name if self.case.manoeuvre else BALANCE

    def grid(self, measure: int) -> list[list[tuple[float | None, str]]]:
        """Value and reason of one measure, a row for each value of the first axis, a column for each of the second."""
        across = self.shape[1] if len(self.axes) == 2 else 1
        flat = [(cell.values[measure], cell.reasons[measure]) for cell in self.cells]
        return [flat[n : n + across] for n in range(0, len(flat), across)]


def measures_of(case: Case, names: list[str]) -> tuple[Measure, ...]:
    """The measures called `names`, of the case's manoeuvre or of its balance.  Raises `OptionError`."""
    known = {name: MEASURES[name] for name in case.manoeuvre.measures} if case.manoeuvre else {}
    known = {**BALANCE_MEASURES, **known}
    for n, name in enumerate(names):
        where = case.manoeuvre.name if case.manoeuvre else BALANCE
        if name in names[:n]:
            raise OptionError("measure", Refused(f"{quoted(name)} a second time", "each measure once"))
        if name not in known:
            own = ", ".join(case.manoeuvre.measures) if case.manoeuvre else ""
            flown = f"of {where} ({own}), or " if own else ""
            allowed = f"a measure {flown}of the balance ({', '.join(BALANCE_MEASURES)})"
            raise OptionError("measure", Refused(quoted(name), allowed, " or ".join(nearest(name, known))))
    return tuple(known[name] for name in names)


def cases_of(case: Case, axes: tuple[Axis, ...]) -> list[Case]:
    """The case of every cell, the last axis running fastest.  Raises `OptionError` when the map cannot be made so."""
    names = [axis.input.name for axis in axes]
    if not 1 <= len(axes) <= 2:
        raise OptionError("--vary", Refused(f"{len(axes)} inputs", "one or two", '--vary "cg: 28 % to 40 % by 2 %"'))
    if len(set(names)) < len(names):
        raise OptionError("--vary", Refused(f"{quoted(names[0])} twice", "two different inputs"))
    count = math.prod(len(axis.texts) for axis in axes)
    if count > MOST_CELLS:
        raise OptionError("--vary", Refused(f"{count} cells", f"at most {MOST_CELLS}", "larger steps"))
    for axis in axes:
        needs_a_flight(case, axis.input, "--vary")
    cells = [
        with_inputs(case, zip((axis.input for axis in axes), values)) for values in product(*(a.values for a in axes))
    ]
    for axis in axes:
        idle = [axis.input.idle(cell) for cell in cells]
        if all(idle):
            advice = {"no wind": '--set "wind: 5 m/s"', "no turbulence": '--set "turbulence: light"'}.get(idle[0], "")
            found = f"{quoted(axis.input.name)} with {idle[0]}, where it changes nothing"
            raise OptionError("--vary", Refused(found, "an input that changes something", advice))
    return cells


def needs_a_flight(case: Case, what: Input, option: str) -> None:
    """Raises `OptionError` for an input of the flight where nothing is flown."""
    if not what.acts_in(case):
        raise OptionError(option, Refused(f"{quoted(what.name)} with {BALANCE}", "an input of the setup or the plane"))


def sweep(
    case: Case,
    axes: tuple[Axis, ...],
    measures: tuple[Measure, ...],
    progress: Callable[[int, int], None] = lambda done, total: None,
    workers: int | None = None,
) -> Map:
    """The map of `measures` over `axes`, on `workers` threads (default: one a core); `progress` is told cells done and all.

    Raises `OptionError` for axes that do not go together, and what stopped the first cell when every cell was stopped.
    """
    cases = cases_of(case, axes)
    with ThreadPoolExecutor(workers or os.cpu_count()) as pool:
        waiting = [pool.submit(look_at, cell, measures) for cell in cases]
        try:
            for done, one in enumerate(as_completed(waiting), 1):
                one.result()  # a fault of the program ends the sweep here
                progress(done, len(cases))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    cells = tuple(one.result() for one in waiting)
    if all(cell.stopped for cell in cells):
        raise cells[0].stopped
    return Map(case, axes, measures, cells)


def look_at(case: Case, measures: tuple[Measure, ...]) -> Cell:
    """One cell: the plane of `case` weighed where a measure asks for it, and flown where one does."""
    at_rest = tuple(m for m in measures if BALANCE_MEASURES.get(m.name) is m)
    in_flight = tuple(m for m in measures if m not in at_rest)
    taken: dict[str, tuple[float | None, str]] = {}
    ended, stopped = "", None
    try:
        if at_rest:
            found = weigh(build(case.setup), [m.name for m in at_rest])
            taken.update({name: (one.value, one.reason) for name, one in found.items()})
        if in_flight:
            ended, flown = _flown(case, build(case.setup))
            taken.update(flown)
    except OutOfReach as out:
        stopped = CgOutOfReach(case.setup)
        where = f"{out.item.name} would sit at {-1000.0 * out.needed:.0f} mm, which is off its tray"
        taken.update({m.name: (None, f"CG out of reach: {where}") for m in measures})
    except ValueError as error:
        stopped = UserError(f"{case.setup.airframe.name}: {error}")
        taken.update({m.name: (None, f"not built: {error}") for m in measures})
    except CannotFly as stop:
        stopped, ended = None if at_rest else stop, "not flown"
        taken.update({m.name: (None, f"not flown: {stop}") for m in in_flight})
    values, reasons = zip(*(taken[m.name] for m in measures))
    return Cell(values, reasons, ended, stopped)


def _flown(case: Case, plane: Plane) -> tuple[str, dict[str, tuple[float | None, str]]]:
    flown = fly_manoeuvre(case.setup, case.manoeuvre, plane, skill=case.pilot, delay=case.delay)
    taken = {t.measure.name: (t.value, t.reason) for t in take_measures(flown)}
    if flown.flight.ending == "diverged":
        phase = case.manoeuvre.phases[flown.flight.phase].name
        taken = dict.fromkeys(taken, (None, f'not measured: the flight diverged in "{phase}"'))
    return flown.flight.ending, taken
