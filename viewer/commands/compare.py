"""`upline compare`."""

from __future__ import annotations

import argparse

from models.errors import OptionError, Refused, quoted
from viewer.commands.shared import cg_option, inches_option, manoeuvres_asked, pilot_option, prepare, show, skill

ABOUT = "two or more setups through the same manoeuvres"
EXAMPLES = [
    "upline compare precision slow-3d --manoeuvre stall",
    "upline compare precision extreme slow-3d --whole-set --picture styles.pdf",
]
WHOLE_SET = "every built-in manoeuvre"
CORE = "level flight, both 45-degree up-lines, both knife edges, stall and hover"


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setups", metavar="SETUP", nargs="+")
    cg_option(sub)
    inches_option(sub)
    sub.add_argument(
        "--manoeuvre",
        metavar="MANOEUVRE",
        action="append",
        help=f"only this one; may be repeated (default: {CORE})",
    )
    sub.add_argument("--whole-set", action="store_true", help=WHOLE_SET)
    sub.add_argument("--picture", metavar="FILE", help="what differs most as a .png, .svg or .pdf picture")
    pilot_option(sub)


def run(options: argparse.Namespace) -> int:
    """Do the work and return the exit code."""
    from models.loader import load

    loaded = [load(name, options.cg) for name in options.setups]
    setups = _told_apart([one.setup for one in loaded], options.setups)
    from scenarios.manoeuvres import CORE_SET

    who = skill(options)
    manoeuvres = manoeuvres_asked(options, CORE_SET)
    from viewer.files import picture_path, write_picture

    picture = picture_path("--picture", options.picture)
    progress = prepare()
    from scenarios.compare import compare
    from scenarios.differences import differences
    from viewer.documents import compare_document
    from viewer.tables import compare_tables

    result = compare(setups, manoeuvres, progress.flights, who)
    if picture:
        progress.note("drawing")
        from viewer.plots.setups import figure_of
        from viewer.plots.style import save

        figure = figure_of(result)
        write_picture("--picture", picture, lambda file, kind: save(figure, file, kind))
    progress.clear()
    found = [d for d in differences(loaded) if options.cg is None or d.path != ("cg",)]
    text = compare_tables(result, found, options.also_inches) + (f"\n\nwritten: {picture}" if picture else "")
    document = compare_document(result, found) | ({"picture": str(picture)} if picture else {})
    show(text, document, options.json)
    return 0


def _told_apart(setups: list, arguments: list[str]) -> list:
    """The setups, those of one name (an edited copy, say) called by their file names instead.  Raises `OptionError`."""
    from dataclasses import replace
    from pathlib import Path

    from models.errors import printable

    allowed, example = "two or more different setups", "upline compare precision slow-3d"
    if len(setups) < 2:
        raise OptionError("compare", Refused("one setup", allowed, example))
    for rename in (lambda argument: Path(argument).stem, str):
        names = [setup.name for setup in setups]
        setups = [
            replace(setup, name=printable(rename(argument), 200)) if names.count(setup.name) > 1 else setup
            for setup, argument in zip(setups, arguments)
        ]
    names = [setup.name for setup in setups]
    if len(set(names)) < len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise OptionError("compare", Refused(f"{quoted(twice)} a second time", allowed, example))
    return setups
