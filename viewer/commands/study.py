"""`upline study`."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

ABOUT = "how far measures spread because nothing is measured exactly, and what to measure better"
EXAMPLES = [
    "upline study precision upline-45 knife-edge-right stall",
    'upline study precision stall --uncertain "cg: 5 mm, incidence of wing: +- 0.5 deg" --picture stall.png',
    "upline study slow-3d hover harrier --wind 3m/s --draws 1000 --folder hover-study --csv hover.csv",
    'upline study extreme knife-edge-right --measure pitch_coupling --only --uncertain "cg: 2 mm, down thrust: 0.5 deg"',
    "upline study precision stall --measure wing_drop --variance",
    "upline study precision balance --measure static_margin --measure time_to_double",
]
NOTES = """\
"balance" in place of a manoeuvre flies nothing: its measures are those of upline balance, from static_margin to
spiral_growth; a wrong --measure lists them.
By default every input that is measured on the bench is off by what is usual (CG 2 mm, a scale 0.5 %, incidences
0.2 to 0.3 deg, thrust line 0.5 deg, throws 1 deg, sideways 5 g at a wing tip, surfaces centring to 0.1 deg) and the
pilot's delay by 20 ms, each on its own, in calm air.
--uncertain changes or adds inputs: "cg: 3 mm" is one standard deviation, "cg: +- 5 mm" anything between,
  "cg: triangular +- 5 mm" rather near the middle, "mass of battery: 2 %" of its value, "cg: 0" exactly known,
  "wind direction: any".  Inputs are those of upline map.
--only leaves the usual ones out.  --wind 3m/s is any wind up to it, from anywhere, with its turbulence.
--variance flies more, to tell apart what inputs do alone and together: half as many draws again for each input.
With --folder a study that was stopped goes on where it was, and more draws add to those there.
The same seed gives the same numbers on any machine of a kind, however many workers."""

MOST_DRAWS = 100_000


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments and options of the command."""
    from viewer.commands.shared import cg_option, pilot_option

    sub.add_argument("setup", metavar="SETUP")
    sub.add_argument("manoeuvres", metavar="MANOEUVRE", nargs="+", help='what is flown, or "balance"')
    sub.add_argument(
        "--measure", metavar="MEASURE", action="append", default=[],
        help="only this one, of the manoeuvres that have it; may be repeated (default: all)",
    )  # fmt: skip
    sub.add_argument(
        "--uncertain", metavar='"INPUT: SPREAD, ..."', action="append", default=[],
        help='"cg: 3 mm, down thrust: +- 1 deg"; may be repeated',
    )  # fmt: skip
    sub.add_argument("--only", action="store_true", help="nothing is uncertain but what --uncertain says")
    sub.add_argument("--wind", metavar="SPEED", help='any wind up to "3 m/s", from anywhere, with turbulence')
    sub.add_argument(
        "--set", metavar='"INPUT: VALUE"', action="append", default=[], dest="fixed",
        help="another value for the whole study; may be repeated",
    )  # fmt: skip
    cg_option(sub)
    pilot_option(sub)
    sub.add_argument("--draws", metavar="N", default="300", help="how many flights of each manoeuvre (default 300)")
    sub.add_argument("--seed", metavar="N", default="1", help="another seed, other draws (default 1)")
    sub.add_argument("--variance", action="store_true", help="indices of variance, by more flights")
    sub.add_argument("--workers", metavar="N", help="processes at once (default: one a core)")
    sub.add_argument("--folder", metavar="DIR", help="keeps what was flown, and goes on from it")
    sub.add_argument("--cluster", metavar="ADDRESS", help="flies on a cluster instead of here")
    sub.add_argument("--csv", metavar="FILE", help="every draw as a .csv file, numbers in full")
    sub.add_argument("--parquet", metavar="FILE", help="every draw as a .parquet file")
    sub.add_argument("--picture", metavar="FILE", help="the study as a .png, .svg or .pdf picture")


def run(options: argparse.Namespace) -> int:
    """Read what was asked for, fly the draws, show the study and write its files."""
    from viewer.commands.shared import prepare, refuse, show
    from viewer.files import PICTURES, check_writable, write_whole
    from viewer.text import say

    work, setup = _work(options)
    files = {
        "--csv": (options.csv, (".csv",)),
        "--parquet": (options.parquet, (".parquet",)),
        "--picture": (options.picture, PICTURES),
    }
    paths = {o: check_writable(o, name, endings) for o, (name, endings) in files.items() if name is not None}
    if "--parquet" in paths:
        _must_write_parquet()
    flights = _Flights(work, options, prepare())
    from scenarios.study import study_of, with_rows

    if options.variance:
        say(f"--variance: {with_rows(work).count - 1} flights of each manoeuvre besides the draws", sys.stderr)
    try:
        results = flights.fly(work, options.folder, "draw")
        _must_fly(results)
        plan = None
        if options.variance:
            more = with_rows(work)
            folder = None if options.folder is None else Path(options.folder) / f"variance-{more.rows}"
            plan = flights.fly(more, folder, "variance, flight")
    except KeyboardInterrupt:
        return refuse(flights.stopped(), 130)
    study = study_of(results, plan)
    from viewer.study import study_table
    from viewer.study_document import study_document

    for option, path in paths.items():
        flights.progress.note(f"writing {path.name}")
        write_whole(option, path, lambda file, o=option, p=path: _write(o, p, file, study, setup, results))
    flights.progress.clear()
    written = [str(path) for path in paths.values()]
    text = study_table(study, setup) + "".join(f"\n\nwritten: {', '.join(written)}" for _ in written[:1])
    show(text, study_document(study, setup, written), options.json)
    return 0


def _work(options: argparse.Namespace):
    """The work that was asked for, and the setup.  Raises `UserError` with every mistake found."""
    from models.fields import Count
    from models.loader import load
    from models.options import Gathered, option_value

    loaded = load(options.setup, options.cg)
    from scenarios.at_rest import BALANCE
    from scenarios.ensemble import NOTHING_FLOWN, Work
    from scenarios.inputs import Case
    from scenarios.manoeuvres import load_manoeuvre
    from scenarios.study import uncertain_inputs
    from viewer.commands.shared import seed_asked, skill

    gathered = Gathered()
    tried = gathered.read
    draws = tried(option_value, "--draws", Count(10, MOST_DRAWS).read, options.draws)
    seed = tried(seed_asked, options)
    options.workers = tried(option_value, "--workers", Count(1, 1024).read, options.workers)
    pilot = tried(skill, options)
    names, manoeuvres = [], []  # with its text each; None at rest
    for name in options.manoeuvres:
        if read := (None, NOTHING_FLOWN) if name == BALANCE else tried(load_manoeuvre, name):
            manoeuvres.append(read)
            names.append(read[0].name if read[0] else BALANCE)
    tried(_each_once, names)
    measures = tried(_measures, options.measure, [(n, m) for n, (m, _) in zip(names, manoeuvres)]) or ()
    fixed, uncertain = tried(_wind, options.wind, manoeuvres) or ((), ())
    cases = [Case(loaded.setup, manoeuvre, pilot or "expert") for manoeuvre, _ in manoeuvres]
    settled = tried(_fixed, [*fixed, *_pairs(options.fixed)], loaded.setup, cases)
    found = tried(uncertain_inputs, [*uncertain, *options.uncertain], settled, options.only) if settled else None
    gathered.check()
    work = Work.of(
        loaded, [(name, text) for name, (_, text) in zip(names, manoeuvres)], draws + 1, cg=options.cg,
        measures=measures, pilot=pilot, fixed=(*fixed, *_pairs(options.fixed)), uncertain=found, seed=seed,
    )  # fmt: skip
    return work, loaded.setup


def _wind(speed: str | None, manoeuvres: list) -> tuple:
    """Fixed inputs and uncertain ones, as texts, of --wind.  Raises `OptionError`."""
    from models.errors import OptionError, Refused
    from scenarios.study import in_wind

    if speed is None:
        return (), ()
    if manoeuvres and not any(manoeuvre for manoeuvre, _ in manoeuvres):
        raise OptionError("--wind", Refused("a wind where nothing is flown", "a manoeuvre beside balance"))
    return in_wind(speed)


def _each_once(names: list[str]) -> None:
    from models.errors import OptionError, Refused, quoted

    twice = next((name for n, name in enumerate(names) if name in names[:n]), None)
    if twice:
        raise OptionError("manoeuvre", Refused(f"{quoted(twice)} a second time", "each manoeuvre once"))


def _measures(wanted: list[str], manoeuvres: list) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Which of the wanted measures each of the named `manoeuvres` has (None: the balance); none where all are wanted."""
    from models.errors import OptionError, Refused, nearest, quoted
    from scenarios.at_rest import BALANCE_MEASURES

    own = {name: manoeuvre.measures if manoeuvre else tuple(BALANCE_MEASURES) for name, manoeuvre in manoeuvres}
    known = list(dict.fromkeys(name for names in own.values() for name in names))
    for n, name in enumerate(wanted):
        if name in wanted[:n]:
            raise OptionError("--measure", Refused(f"{quoted(name)} a second time", "each measure once"))
        if manoeuvres and name not in known:
            allowed = "a measure of what is flown: " + ", ".join(known)
            raise OptionError("--measure", Refused(quoted(name), allowed, " or ".join(nearest(name, known))))
    chosen = [(of, tuple(name for name in names if name in wanted)) for of, names in own.items()]
    idle = [name for name, names in chosen if not names]
    if wanted and idle:
        allowed = "manoeuvres that have one of the measures asked for"
        raise OptionError("--measure", Refused(f"none of {', '.join(idle)}", allowed, f"without {', '.join(idle)}"))
    return tuple(chosen) if wanted else ()


def _pairs(texts: list[str]) -> list[tuple[str, str]]:
    """Name and value of what --set says."""
    return [(" ".join(name.split()), value.strip()) for name, _, value in (text.partition(":") for text in texts)]


def _fixed(pairs: list[tuple[str, str]], setup, cases: list) -> list:
    """`cases` with the values that are set.  Raises `OptionError`."""
    from models.errors import OptionError, Refused, quoted
    from models.options import option_value
    from scenarios.inputs import inputs_of, named, with_inputs
    from scenarios.maps import needs_a_flight

    known, values = inputs_of(setup), []
    for n, (name, text) in enumerate(pairs):
        if not text:
            raise OptionError("--set", Refused(quoted(name), "INPUT: VALUE", '"cg: 31 %"'))
        what = named(known, name, "--set")
        if name in (other for other, _ in pairs[:n]):
            raise OptionError("--set", Refused(f"{quoted(name)} a second time", "each input once"))
        if not any(case.manoeuvre for case in cases):
            needs_a_flight(cases[0], what, "--set")
        values.append((what, option_value(f"--set {quoted(name)}", what.read, text)))
    return [with_inputs(case, [(what, v) for what, v in values if what.acts_in(case)]) for case in cases]


class _Flights:
    """Flies what a study needs, with a word on how far it has come."""

    def __init__(self, work, options: argparse.Namespace, progress) -> None:
        self.seed, self.folder, self.cluster = work.seed, options.folder, options.cluster
        self.workers = options.workers
        self.progress = progress
        self.came = ""

    def fly(self, work, folder, what: str):
        """The results of `work`, kept in `folder` where there is one."""
        from scenarios.ensemble import run
        from viewer.text import time_left

        def note(done: int, total: int, left: float) -> None:
            self.came = f"{what} {done} of {total}, seed {self.seed}"
            rest = f", {time_left(left)}" if left == left else ""
            self.progress.note(self.came + rest)

        return run(work, folder, self.workers, self.cluster, note)

    def stopped(self) -> str:
        """What to say when the user has seen enough."""
        at = f" at {self.came}" if self.came else f", seed {self.seed}"
        how = f"the same command goes on from {self.folder}" if self.folder else "kept is what is flown with --folder"
        return f"stopped{at}; {how}"


def _must_fly(results) -> None:
    """Raises `CannotFly` where no flight could be started."""
    from scenarios.ensemble import NOT_FLOWN
    from scenarios.manoeuvres import CannotFly

    if (results.endings == NOT_FLOWN).all():
        raise CannotFly(results.reason(0, 0).removeprefix("not flown: "))


def _write(option: str, path: Path, file, study, setup, results) -> None:
    if option == "--picture":
        from viewer.plots.study import draw

        draw(study, setup, results, file, path.suffix.lower().removeprefix("."))
        return
    from scenarios.ensemble import write_table

    write_table(results, path, file)


def _must_write_parquet() -> None:
    """Raises `OptionError`, before anything is flown, where the package that writes it is missing."""
    from importlib.util import find_spec

    from models.errors import OptionError, Refused

    if find_spec("pyarrow") is None:
        refused = Refused("no pyarrow on this machine", "pyarrow for .parquet files", "pip install pyarrow, or --csv")
        raise OptionError("--parquet", refused)
