"""`upline study`."""

from __future__ import annotations

import argparse
import time
from pathlib import Path

ABOUT = "how far measures spread because nothing is measured exactly, and what to measure better"
EXAMPLES = [
    "upline study precision upline-45 knife-edge-right stall",
    'upline study precision stall --uncertain "cg: 5 mm, incidence of wing: +- 0.5 deg" --plot stall.png',
    "upline study slow-3d hover harrier --wind 3m/s --draws 1000 --folder hover-study --csv hover.csv",
    'upline study extreme knife-edge-right --measure pitch_coupling --only --uncertain "cg: 2 mm, down thrust: 0.5 deg"',
    "upline study precision stall --measure wing_drop --variance",
]
NOTES = """\
By default every input that is measured on the bench is off by what is usual (CG 2 mm, a scale 0.5 %, incidences
0.2 to 0.3 deg, thrust line 0.5 deg, throws 1 deg), each on its own, in calm air, with the same pilot.
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
    sub.add_argument("manoeuvres", metavar="MANOEUVRE", nargs="+", help="what is flown")
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
    sub.add_argument("--plot", metavar="FILE", help="the study as a .png, .svg or .pdf picture")


def run(options: argparse.Namespace) -> int:
    """Read what was asked for, fly the draws, show the study and write its files."""
    from viewer.commands.shared import prepare, show
    from viewer.files import check_writable, write_whole

    work, setup = _work(options)
    files = {
        "--csv": (options.csv, (".csv",)),
        "--parquet": (options.parquet, (".parquet",)),
        "--plot": (options.plot, (".png", ".svg", ".pdf")),
    }
    paths = {o: check_writable(o, name, endings) for o, (name, endings) in files.items() if name is not None}
    progress = prepare()
    from scenarios.study import study_of, with_rows

    results = _flown(work, options, options.folder, progress, "draw")
    plan = None
    if options.variance:
        more = with_rows(work)
        folder = None if options.folder is None else Path(options.folder) / "variance"
        plan = _flown(more, options, folder, progress, f"variance, {more.count - 1} more flights: flight")
    study = study_of(results, plan)
    from viewer.study import study_document, study_table

    for option, path in paths.items():
        progress.note(f"writing {path.name}")
        write_whole(option, path, lambda file, o=option, p=path: _write(o, p, file, study, setup, results))
    progress.clear()
    written = [str(path) for path in paths.values()]
    text = study_table(study, setup) + "".join(f"\n\nwritten: {', '.join(written)}" for _ in written[:1])
    show(text, study_document(study, setup, written), options.json)
    return 0
