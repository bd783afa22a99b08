"""`upline cures`."""

from __future__ import annotations

import argparse

from models.errors import OptionError, Refused, nearest, quoted
from viewer.commands.shared import cg_option, prepare, show

ABOUT = "what takes a coupling out: causes, cure, what it leaves over and costs"
EXAMPLES = ["upline cures precision --only rolls"]


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setup", metavar="SETUP")
    cg_option(sub)
    sub.add_argument("--only", metavar="COUPLING", help="knife-edge, rolls, thrust, down-line or cg (default: all)")


def run(options: argparse.Namespace) -> int:
    """Do the work and return the exit code."""
    from models.loader import load_setup

    setup = load_setup(options.setup, options.cg)
    from scenarios.cures import GROUPS, cures
    from viewer.cures import cures_document, cures_table

    if options.only is not None and options.only not in GROUPS:
        near = " or ".join(quoted(name) for name in nearest(options.only, GROUPS))
        raise OptionError("--only", Refused(quoted(options.only), ", ".join(GROUPS), near))
    progress = prepare()
    looked_for = [what for group, (what, _) in GROUPS.items() if options.only in (None, group)]

    def note(what: str) -> None:
        done, total = looked_for.index(what), len(looked_for)
        progress.counted(done, total, f"cures {done + 1} of {total}: {what}")

    found = cures(setup, options.only, note)
    progress.clear()
    names = setup.name, setup.airframe.name
    show(cures_table(*names, found), cures_document(*names, found), options.json)
    return 0
