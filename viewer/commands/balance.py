"""`upline balance`."""

from __future__ import annotations

import argparse

from viewer.commands.shared import cg_option, prepare, show

ABOUT = "mass, CG, neutral point, static margin, where the battery sits, and how the plane swings hands off"
EXAMPLES = ['upline balance precision --cg "150 mm"']


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setup", metavar="SETUP")
    cg_option(sub)
    sub.add_argument(
        "--derivatives", action="store_true", help="stability and control derivatives too (always in --json)"
    )


def run(options: argparse.Namespace) -> int:
    """Do the work and return the exit code."""
    from models.loader import load_setup

    setup = load_setup(options.setup, options.cg)
    progress = prepare()
    from scenarios.balance import balance
    from scenarios.manoeuvres import flyable
    from viewer.documents import balance_document
    from viewer.tables import balance_table

    result = balance(flyable(setup))
    progress.clear()
    names = setup.name, setup.airframe.name
    show(balance_table(*names, result, options.derivatives), balance_document(*names, result), options.json)
    return 0
