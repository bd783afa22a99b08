"""`upline card`."""

from __future__ import annotations

import argparse

from viewer.commands.shared import cg_option, inches_option, prepare, show

ABOUT = "what it takes to set the real plane up: CG, throws in degrees and mm, mixes, servos, with room for findings"
EXAMPLES = ["upline card precision", "upline card my-setup.yaml > card.txt"]


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setup", metavar="SETUP")
    cg_option(sub)
    inches_option(sub)


def run(options: argparse.Namespace) -> int:
    """Do the work and return the exit code."""
    from models.loader import load

    loaded = load(options.setup, options.cg)
    progress = prepare()
    from scenarios.card import card
    from scenarios.manoeuvres import flyable
    from viewer.card import card_document, card_text

    made = card(loaded, flyable(loaded.setup), options.cg)
    progress.clear()
    show(card_text(made, options.also_inches), card_document(made), options.json)
    return 0
