"""`upline bench structure`."""

from __future__ import annotations

import argparse

from viewer.commands.shared import cg_option, manoeuvres_asked, pilot_option, prepare, show, skill

ABOUT = "bending and torsion at wing and tail roots in flight, stress in the joiner tubes, margins"
EXAMPLES = [
    "upline bench structure extreme",
    "upline bench structure precision --manoeuvre high-speed-pass --manoeuvre snap-roll-right --picture loads.png",
]
NOTES = """\
The airframe file may describe its joiners in a group "structure:"; without it loads are shown and no stress.
By default the built-in figures that load a plane most are flown, and full elevator at 15 to 50 m/s."""


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the bench."""
    sub.add_argument("setup", metavar="SETUP")
    cg_option(sub)
    sub.add_argument(
        "--manoeuvre",
        metavar="MANOEUVRE",
        action="append",
        help="only this one; may be repeated (default: the hard ones)",
    )
    sub.add_argument("--whole-set", action="store_true", help="every built-in manoeuvre")
    pilot_option(sub)
    sub.add_argument(
        "--picture", metavar="FILE", help="bending along the wing and peaks as a .png, .svg or .pdf picture"
    )


def run(options: argparse.Namespace) -> int:
    """Do the work and return the exit code."""
    from models.errors import OptionError, Refused
    from models.loader import load_setup
    from viewer.files import picture_path, write_picture

    if options.manoeuvre and options.whole_set:
        raise OptionError("--whole-set", Refused("--manoeuvre beside it", "one of the two"))
    setup = load_setup(options.setup, options.cg)
    from scenarios.bench.structure import HARD_SET, structure_bench

    manoeuvres = manoeuvres_asked(options, HARD_SET)
    plot = picture_path("--picture", options.picture)
    who = skill(options)
    progress = prepare()
    from viewer.bench.structure import structure_document, structure_table

    bench = structure_bench(setup, manoeuvres, who, progress.flights)
    if plot:
        progress.note("drawing")
        from viewer.plots.structure import draw

        write_picture("--picture", plot, lambda file, kind: draw(bench, file, kind))
    progress.clear()
    files = [str(plot)] if plot else []
    text = structure_table(bench) + "".join(f"\n\nwritten: {name}" for name in files)
    show(text, structure_document(bench, files), options.json)
    return 0
