"""`upline bench servos`."""

from __future__ import annotations

import argparse

from models.options import one_of, option_value
from viewer.commands.shared import prepare, show

ABOUT = "hinge moments over airspeed and deflection, blow-back, times under load, torque to ask for, and the draw"
EXAMPLES = [
    "upline bench servos extreme",
    'upline bench servos precision --control rudder --at "30 m/s"',
    'upline bench servos beck-150-extreme --manoeuvre high-speed-pass --pack "2000 mAh" --picture servos.png',
]
CONTROLS = ("aileron", "elevator", "rudder")


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setup", metavar="SETUP")
    sub.add_argument("--control", metavar="CONTROL", help="aileron, elevator or rudder in full (default: all in brief)")
    sub.add_argument(
        "--at", metavar="SPEED", help='airspeed that they are judged at, "30 m/s" (default: level top speed)'
    )
    sub.add_argument(
        "--manoeuvre", metavar="MANOEUVRE", action="append", default=[],
        help="what the draw is taken over; may be repeated (default: a mixed set of seven)",
    )  # fmt: skip
    sub.add_argument("--pack", metavar="CHARGE", help='capacity of the receiver pack, "2500 mAh"')
    sub.add_argument("--picture", metavar="FILE", help="draw it: a .png, .svg or .pdf file")


def run(options: argparse.Namespace) -> int:
    """Read what was asked for, work it out, draw and show it."""
    from models.fields import Quantity
    from models.loader import load_setup
    from viewer.files import picture_path, write_picture

    if options.control is not None:
        one_of("--control", options.control, CONTROLS)
    at = option_value("--at", Quantity("speed", least="1 m/s", most="120 m/s").read, options.at)
    pack = option_value("--pack", Quantity("charge", least="50 mAh", most="50 Ah").read, options.pack)
    setup = load_setup(options.setup)
    picture = picture_path("--picture", options.picture)
    from scenarios.manoeuvres import load_manoeuvre

    for name in options.manoeuvre:
        load_manoeuvre(name)
    progress = prepare()
    from scenarios.bench.servos import MIXED, bench
    from viewer.bench.servos import servos_document, servos_text

    controls = CONTROLS if options.control is None else (options.control,)
    result = bench(setup, controls, at, tuple(options.manoeuvre) or MIXED, progress.note)
    if picture is not None:
        from viewer.plots.servos import draw

        write_picture("--picture", picture, lambda file, kind: draw(result, file, kind))
    progress.clear()
    show(servos_text(result, options.control is not None, pack), servos_document(result, pack), options.json)
    return 0
