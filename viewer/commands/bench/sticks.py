"""`upline bench sticks`."""

from __future__ import annotations

import argparse

from models.options import one_of, option_value
from viewer.commands.shared import cg_option, prepare, show

ABOUT = "stick to surface to rate of turn: slopes, steps of the link, what is limited, what mixes do in the corners"
EXAMPLES = [
    "upline bench sticks extreme",
    "upline bench sticks extreme --rate low --picture sticks.png",
    "upline bench sticks my-setup.yaml --mode snap",
]


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setup", metavar="SETUP")
    cg_option(sub)
    sub.add_argument(
        "--rate", metavar="RATE", default="high", help="high (default), middle or low, for all three sticks"
    )
    sub.add_argument("--mode", metavar="MODE", default="", help="a flight mode of the setup (default: normal)")
    sub.add_argument("--airspeed", metavar="SPEED", default="25 m/s", help='of the level flight (default: "25 m/s")')
    sub.add_argument("--picture", metavar="FILE", help="draw all three rates: a .png, .svg or .pdf file")


def run(options: argparse.Namespace) -> int:
    """Do the work and return the exit code."""
    from models.fields import Quantity
    from models.loader import load_setup
    from scenarios.sticks import mode_number
    from sim.transmitter import RATES, modes_of
    from viewer.files import picture_path, write_picture

    one_of("--rate", options.rate, RATES)
    speed = option_value("--airspeed", Quantity("speed", least="3 m/s", most="80 m/s").read, options.airspeed)
    setup = load_setup(options.setup, options.cg)
    mode_number(modes_of(setup), options.mode, "--mode")
    picture = picture_path("--picture", options.picture)
    progress = prepare()
    from scenarios.bench.sticks import bench, curves
    from viewer.bench.sticks import bench_document, bench_text

    progress.note("the sticks")
    result = bench(setup, options.mode, options.rate, speed)
    text = bench_text(result)
    if picture is not None:
        progress.note("drawing")
        from viewer.plots.sticks import draw

        by_rate = curves(setup, options.mode, speed)
        write_picture("--picture", picture, lambda file, kind: draw(by_rate, file, kind))
        text += f"\n\nwritten: {picture}"
    progress.clear()
    document = bench_document(result) | ({"files": [str(picture)]} if picture else {})
    show(text, document, options.json)
    return 0
