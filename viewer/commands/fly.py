"""`upline fly`."""

from __future__ import annotations

import argparse
import sys

from models.errors import OptionError, Refused, nearest, quoted
from viewer.commands.shared import cg_option, pilot_option, prepare, refuse, show, skill

ABOUT = "one manoeuvre with one setup"
EXAMPLES = ["upline fly stall --setup extreme --save my-stall"]


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("manoeuvre", metavar="MANOEUVRE", nargs="?")
    sub.add_argument("--setup", metavar="SETUP")
    cg_option(sub)
    sub.add_argument(
        "--why",
        metavar="PHASE",
        nargs="?",
        const="",
        help="moments by part over the phase the first measure is taken in, or PHASE",
    )
    pilot_option(sub)
    sub.add_argument("--save", metavar="DIR", help="keep the flight record in a new folder")
    sub.add_argument("--again", metavar="DIR", help="fly a kept record again and say whether it is identical")


def run(options: argparse.Namespace) -> int:
    """Do the work and return the exit code."""
    for name in ("save", "again"):
        if getattr(options, name) == "":
            raise OptionError(f"--{name}", Refused("an empty text", "the name of a folder"))
    if options.again is not None:
        return _fly_again(options)
    if not options.manoeuvre or not options.setup:
        found = "--setup SETUP" if options.manoeuvre else "manoeuvre"
        advice = "upline fly stall --setup precision"
        if options.why and not options.manoeuvre:
            advice = f"--why at the end, if {quoted(options.why)} is the manoeuvre"
        raise OptionError("fly", Refused(f"no {found}", "a manoeuvre and --setup SETUP", advice))
    from models.loader import load

    loaded = load(options.setup, options.cg)
    from scenarios.manoeuvres import fly_manoeuvre, flyable, load_manoeuvre

    manoeuvre, text = load_manoeuvre(options.manoeuvre)
    if options.why and options.why not in [p.name for p in manoeuvre.phases]:
        phases = [p.name for p in manoeuvre.phases]
        allowed = f"a phase of {manoeuvre.name}: " + ", ".join(quoted(name) for name in phases)
        near = " or ".join(quoted(name) for name in nearest(options.why, phases))
        raise OptionError("--why", Refused(quoted(options.why), allowed, near))
    if options.save:
        from scenarios.record import check_free

        check_free(options.save)
    who = skill(options)
    progress = prepare()
    flown = fly_manoeuvre(loaded.setup, manoeuvre, flyable(loaded.setup), skill=who)
    if options.save:
        from pathlib import Path

        from scenarios.record import save

        progress.note("writing the record")
        save(Path(options.save), flown, loaded.texts, text, options.cg)
    progress.clear()
    return _show_flight(flown, options)


def _fly_again(options: argparse.Namespace) -> int:
    for name in ("manoeuvre", "setup", "cg", "save"):
        if getattr(options, name) is not None:
            raise OptionError("--again", Refused(f"{name} beside it", "a record alone: it holds its own inputs"))
    progress = prepare()
    from pathlib import Path

    from scenarios.record import fly_again
    from viewer.text import say

    flown, same = fly_again(Path(options.again))
    progress.clear()
    word = "identical, bit for bit" if same else "NOT identical: another version or machine than the one that wrote it"
    say(f"flown again: {word}", sys.stderr if options.json else sys.stdout)
    return _show_flight(flown, options, {"identical": same})


def _show_flight(flown, options: argparse.Namespace, extra: dict | None = None) -> int:
    from scenarios.account import account
    from scenarios.live import BY_HAND
    from scenarios.measures import NotMeasured, take_measures
    from viewer.documents import fly_document
    from viewer.hands_on.summary import changes_document, ranges_document, summary_text
    from viewer.tables import fly_table, why_table
    from viewer.text import say

    taken, why = take_measures(flown), None
    if options.why is not None:
        try:
            why = account(flown, options.why or None)
        except NotMeasured as reason:
            say(f"no account: {reason}", sys.stderr)
    text, document = fly_table(flown, taken, why), {**fly_document(flown, taken, why), **(extra or {})}
    if flown.skill == BY_HAND:
        text = summary_text(flown) + ("\n\n" + why_table(why) if why else "")
        document |= {"ranges": ranges_document(flown), "changes": changes_document(flown)}
    show(text, document, options.json)
    if flown.flight.ending != "diverged":
        return 0
    phase = flown.manoeuvre.phases[flown.flight.phase].name
    return refuse(f'the flight diverged in "{phase}", first in {flown.flight.bad}: its numbers are worth nothing', 3)
