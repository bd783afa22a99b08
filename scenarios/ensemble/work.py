"""What a study is to do, and one draw of it flown.

`Work` holds texts and numbers alone, so that it goes to another process or machine, into a file, and into a key.
The pilot is the nominal plane's: nobody learns to fly again for 2 mm of CG.  Steady states of a draw are searched from
the nominal plane's.  So a row is the flight that `fly_manoeuvre` gives for the draw's case `like` the nominal plane.
"""

from __future__ import annotations

import hashlib
import json
import threading
from dataclasses import asdict, dataclass, replace
from functools import cache, cached_property
from pathlib import Path

import numpy as np

import models
import scenarios
from models.loader import Loaded, setup_from_texts
from scenarios.at_rest import weigh
from scenarios.ballast import free_tray
from scenarios.draws import Uncertain, checked, draw, mixed, off_by
from scenarios.ensemble.columns import Column, columns_of
from scenarios.inputs import Case, Input, inputs_of, named
from scenarios.manoeuvres import CannotFly, fly_manoeuvre, flyable, know, manoeuvre_from_text
from scenarios.measures import take_measures
from scenarios.reasons import of_a_kind
from sim.build import Plane, build
from sim.compiled import kernels_version
from sim.flight import ENDINGS
from sim.mass_properties import OutOfReach

ENDED = (*ENDINGS, "not flown")  # how a manoeuvre of a draw ended, by its code
NOT_FLOWN = len(ENDINGS)
COMPLETED = ENDINGS.index("completed")
DIVERGED = ENDINGS.index("diverged")
NOTHING_FLOWN = ""  # the text of a manoeuvre that only weighs and balances the plane


@cache
def program_version() -> str:
    """A key of everything that numbers come from: sources of flight, files and measures, and numba's version."""
    digest = hashlib.sha256(kernels_version().encode())
    for package in (models, scenarios):
        for path in sorted(Path(package.__file__).parent.rglob("*.py")):
            digest.update(path.name.encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


@dataclass(frozen=True)
class Work:
    """`files` (kind, text) of the setup as `models.loader.Loaded.texts`, `cg` as typed; `manoeuvres` (name, text), of which
    ("balance", NOTHING_FLOWN) is the plane at rest;
    `measures` (manoeuvre, names), all of a manoeuvre that is not named; `fixed` inputs (name, value as typed) of every
    draw; `uncertain` ones; `seed` and `count` of the draws; where there are `rows`, they are those of `draws.mixed`."""

    files: tuple[tuple[str, str], ...]
    manoeuvres: tuple[tuple[str, str], ...]
    count: int
    cg: str | None = None
    measures: tuple[tuple[str, tuple[str, ...]], ...] = ()
    pilot: str = "expert"
    fixed: tuple[tuple[str, str], ...] = ()
    uncertain: tuple[Uncertain, ...] = ()
    seed: int = 1
    rows: int = 0

    @classmethod
    def of(cls, loaded: Loaded, manoeuvres: list[tuple[str, str]], count: int, **more) -> Work:
        """The work of a setup as loaded and of (name, text) of manoeuvres."""
        return cls(tuple(loaded.texts.items()), tuple(manoeuvres), count, **more)

    @property
    def document(self) -> dict:
        """All of it in plain lists and numbers; `Work.read` is the way back."""
        return asdict(self)

    @classmethod
    def read(cls, document: dict) -> Work:
        """The work of a `document`, of JSON perhaps."""
        pairs = {name: tuple(tuple(pair) for pair in document[name]) for name in ("files", "manoeuvres", "fixed")}
        measures = tuple((name, tuple(names)) for name, names in document["measures"])
        uncertain = tuple(Uncertain(**one) for one in document["uncertain"])
        return cls(**{**document, **pairs, "measures": measures, "uncertain": uncertain})

    def errors(self, index: int) -> dict[str, float]:
        """The errors of one draw by input."""
        if self.rows:
            return mixed(self.uncertain, self.seed, self.rows, index)
        return draw(self.uncertain, self.seed, index)

    @cached_property
    def key(self) -> str:
        """What tells this work from any other that gives other numbers; how many draws there are does not."""
        what = {**self.document, "count": None, "program": program_version()}
        return hashlib.sha256(json.dumps(what, sort_keys=True).encode()).hexdigest()[:32]


@dataclass(frozen=True)
class Row:
    """One draw: `values` (columns,), NaN where not taken, `reasons` for that ("" where taken), `endings` (manoeuvres,)
    codes of `ENDED`."""

    values: np.ndarray
    endings: np.ndarray
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Ready:
    """A work read, and its nominal plane known: `cases` by manoeuvre, `plane`, `inputs` that are drawn, `columns`."""

    cases: tuple[Case, ...]
    plane: Plane
    inputs: dict[str, Input]
    columns: tuple[Column, ...]


_READY: dict[str, Ready] = {}  # of the last works, by key
_AT_ONCE = threading.Lock()
KEPT = 8


def prepare(work: Work) -> Ready:
    """`work` with its texts read and the nominal plane trimmed and learnt; kept, as every draw needs it.  Raises `UserError`."""
    with _AT_ONCE:
        if work.key not in _READY:
            while len(_READY) >= KEPT:
                del _READY[next(iter(_READY))]
            _READY[work.key] = _prepared(work)
        return _READY[work.key]


def _prepared(work: Work) -> Ready:
    setup = setup_from_texts(dict(work.files), work.cg)
    known = inputs_of(setup)
    uncertain = checked(work.uncertain, setup, "uncertain")
    cases = []
    for name, text in work.manoeuvres:
        case = Case(setup, None if text == NOTHING_FLOWN else manoeuvre_from_text(text, name), work.pilot)
        for word, value in work.fixed:
            what = named(known, word, "--set")
            if what.acts_in(case):
                case = what.apply(case, what.read(value))
        cases.append(case)
    columns = columns_of(work, [case.manoeuvre for case in cases])
    plane = flyable(cases[0].setup)
    for case in cases:
        if case.manoeuvre:
            know(plane, case.manoeuvre, case.pilot)
    return Ready(tuple(cases), plane, {one.input: known[one.input] for one in uncertain}, columns)


def cases_of(work: Work, index: int) -> list[Case]:
    """What a draw flies: a case for every manoeuvre.  A CG is off because it was measured badly, not because the moved
    item stands elsewhere: its tray does not bound the draws."""
    ready = prepare(work)
    errors, setup = work.errors(index), ready.cases[0].setup
    if errors:
        setup = off_by(Case(free_tray(setup)), errors, ready.inputs).setup
    in_flight = {name: amount for name, amount in errors.items() if ready.inputs[name].in_flight}
    return [off_by(replace(case, setup=setup), in_flight, ready.inputs) for case in ready.cases]


def fly_draw(work: Work, index: int) -> Row:
    """Every manoeuvre of one draw.  What cannot be flown or diverges is told by its ending; its measures are not taken."""
    ready = prepare(work)
    values = np.full(len(ready.columns), np.nan)
    reasons = [""] * len(ready.columns)
    endings = np.full(len(ready.cases), NOT_FLOWN, dtype=np.int8)
    cases = cases_of(work, index)
    plane, stopped = _plane(ready, cases[0], index)
    for number, (case, (name, _)) in enumerate(zip(cases, work.manoeuvres)):
        taken, why = {}, stopped
        if plane is not None:
            endings[number], taken, why = _flown(ready, plane, case) if case.manoeuvre else _weighed(ready, plane, name)
        for i, column in enumerate(ready.columns):
            if column.manoeuvre == name:
                value, reason = taken.get(column.measure, (None, why))
                if value is None:
                    reasons[i] = of_a_kind(reason)
                else:
                    values[i] = value
    return Row(values, endings, tuple(reasons))


Taken = dict[str, tuple[float | None, str]]  # value and reason by measure


def _flown(ready: Ready, plane: Plane, case: Case) -> tuple[int, Taken, str]:
    """How a flight ended, its measures, and why there are none."""
    try:
        flown = fly_manoeuvre(case.setup, case.manoeuvre, plane, skill=case.pilot, like=ready.plane, delay=case.delay)
    except CannotFly as stop:
        return NOT_FLOWN, {}, f"not flown: {stop}"
    ending = ENDINGS.index(flown.flight.ending)
    if ending == DIVERGED:
        where = case.manoeuvre.phases[flown.flight.phase].name
        return ending, {}, f'not measured: the flight diverged in "{where}"'
    return ending, {t.measure.name: (t.value, t.reason) for t in take_measures(flown)}, ""


def _weighed(ready: Ready, plane: Plane, name: str) -> tuple[int, Taken, str]:
    """The same of a plane at rest, where nothing can go wrong on the way."""
    found = weigh(plane, [column.measure for column in ready.columns if column.manoeuvre == name])
    return COMPLETED, {measure: (one.value, one.reason) for measure, one in found.items()}, ""


def _plane(ready: Ready, case: Case, index: int) -> tuple[Plane | None, str]:
    """The plane of a draw, or None and why there is none; the nominal one is a copy, as a plane that flies is written to."""
    if index == 0:
        nominal = ready.plane
        model, chain, known = nominal.model.copy(), nominal.chain.copy(), dict(nominal.known)
        return replace(nominal, model=model, chain=chain, known=known), ""
    try:
        return build(case.setup), ""
    except OutOfReach as out:
        return None, f"not flown: {out.item.name} would sit off its tray"
    except ValueError as fault:
        return None, f"not flown: {fault}"
