"""`upline card`."""

from __future__ import annotations

import argparse
import sys

from viewer.commands.shared import cg_option, inches_option, paper_option, prepare, sheet, show

ABOUT = "what it takes to set the real plane up and what to fly first: in the terminal, or one page to print"
EXAMPLES = [
    "upline card precision",
    "upline card precision --to precision.pdf",
    "upline card my-setup.yaml --to my-card.pdf --paper letter",
    "upline card my-setup.yaml --text > card.txt",
]
NOTES = """\
Without --to the card is printed here, and nothing is written. --text prints it here beside a page."""


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setup", metavar="SETUP")
    cg_option(sub)
    inches_option(sub)
    sub.add_argument("--to", metavar="FILE", help="one page to print, a .pdf file")
    paper_option(sub)
    sub.add_argument("--text", action="store_true", help="the card in the terminal, beside --to too")


def run(options: argparse.Namespace) -> int:
    """Do the work and return the exit code."""
    from models.loader import load
    from models.options import Gathered
    from viewer.files import check_writable, write_whole

    loaded = load(options.setup, options.cg)
    gathered = Gathered()
    paper = gathered.read(sheet, options)
    out = gathered.read(check_writable, "--to", options.to, (".pdf",)) if options.to is not None else None
    gathered.check()
    progress = prepare("weighing the plane")
    from scenarios.card import card
    from scenarios.manoeuvres import flyable
    from viewer.card.text import card_document, card_text
    from viewer.text import say

    plane = flyable(loaded.setup)
    made = card(loaded, plane, options.cg)
    files = []
    if out is not None:
        progress.note("drawing the page")
        from viewer.card.page import draw

        write_whole("--to", out, lambda file: draw(made, plane, paper, file))
        files = [str(out)]
    progress.clear()
    text = (
        card_text(made, options.also_inches)
        if options.text or out is None
        else f"Field card: {made.setup} on {made.airframe}"
    )
    text += f"\n\nwritten: {out}, one page on {options.paper} paper" if out is not None else ""
    show(text, card_document(made, files), options.json)
    if out is None and not options.json and not options.text and sys.stdout.isatty() and progress.shown:
        say(f"\nA page to print: upline card {options.setup} --to {made.setup}.pdf", sys.stderr)
    return 0
