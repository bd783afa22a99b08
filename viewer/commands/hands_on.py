"""`upline hands-on`."""

from __future__ import annotations

import argparse

from models.errors import OptionError, Refused
from models.options import one_of
from viewer.commands.shared import cg_option, prepare, show

ABOUT = "fly a setup yourself, with keys or a game controller, in real time"
EXAMPLES = [
    "upline hands-on precision",
    'upline hands-on slow-3d --start hover --height "30 m" --save my-hover',
    "upline hands-on extreme --like upline-45 --assign",
]
NOTES = (
    "Keys are listed in the window. Which axis of a controller is which stick is\n"
    "asked for once (key C, or --assign) and kept. Flights start in the air; there\n"
    "is no ground to take off from or to land on."
)
VIEWS = ("pilot", "chase", "tip", "top")


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setup", metavar="SETUP")
    cg_option(sub)
    sub.add_argument("--start", metavar="HOW", help='"level flight" (default) or hover')
    sub.add_argument("--airspeed", metavar="SPEED", help='of level flight, such as "20 m/s" (default 25 m/s)')
    sub.add_argument("--height", metavar="HEIGHT", help='such as "80 m" (default 60 m, of a hover 25 m)')
    sub.add_argument("--like", metavar="MANOEUVRE", help="start as a manoeuvre does, in its wind, with its switches")
    sub.add_argument("--view", metavar="VIEW", default="pilot", help="pilot (default), chase, tip or top")
    sub.add_argument("--assign", action="store_true", help="ask anew which axis of the controller is which stick")
    sub.add_argument("--save", metavar="DIR", help="keep every flight: DIR, then DIR-2 after a new start, and so on")


def run(options: argparse.Namespace) -> int:
    """Read what was asked for, open the window, and say what was flown and where it is kept."""
    if options.save == "":
        raise OptionError("--save", Refused("an empty text", "the name of a folder"))
    view = one_of("--view", options.view, VIEWS)
    from models.loader import load

    loaded = load(options.setup, options.cg)
    from scenarios.live import ByHand, start_text
    from viewer.hands_on.assignments import assignments_file, read_assignments
    from viewer.hands_on.flying import check_screen, fly_by_hand
    from viewer.hands_on.keeping import Keeper
    from viewer.hands_on.session import Session

    start = start_text(options.start, options.airspeed, options.height, options.like)
    if options.save:
        from scenarios.record import check_free

        check_free(options.save)
    if not options.assign:  # a file that is wrong is said before the window opens
        read_assignments(assignments_file())
    check_screen()
    progress = prepare()
    session = Session(loaded.setup, start, Keeper(loaded.texts, options.cg, options.save, loaded.setup.name))
    scratch = ByHand(loaded.setup, start)
    scratch.fly(scratch.sticks0)
    scratch.change("rates", "low")  # what is compiled once is compiled now, not at the first frame
    progress.clear()
    fly_by_hand(session, assignments_file(), view, options.assign)
    return _say(session, options.json)


def _say(session, as_json: bool) -> int:
    from viewer.hands_on.summary import summary_document, summary_text

    flight, keeper = session.last, session.keeper
    if flight.live.frames < 2:
        show("Nothing was flown.", {"kept": [str(place) for place in keeper.written]}, as_json, advice=False)
        return 0
    flown = flight.flown()
    kept = keeper.kept_as(flight)
    places = [str(place) for place in keeper.written]
    lines = [summary_text(flown), ""]
    if kept is None:
        lines.append("This flight was not kept: press K in the window, or fly with --save DIR, to keep the next one.")
    if places:
        lines.append("Kept: " + ", ".join(places) + f". See it: upline replay {places[-1]}")
        lines.append(f"Fly it again: upline fly --again {places[-1]}")
    show("\n".join(lines), {**summary_document(flown), "kept": places}, as_json)
    return 0
