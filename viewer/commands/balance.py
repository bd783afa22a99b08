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
    from scenarios.sensitivity import sensitivity
    from viewer.documents import balance_document
    from viewer.estimates import estimates_document, estimates_table
    from viewer.tables import balance_table

    plane = flyable(setup)
    result = balance(plane)
    estimates = sensitivity(plane)
    progress.clear()
    names = setup.name, setup.airframe.name
    text = balance_table(*names, result, options.derivatives) + "\n\n" + estimates_table(estimates)
    show(text, balance_document(*names, result) | estimates_document(estimates), options.json)
    return 0
