"""`upline plot`."""

from __future__ import annotations

import argparse

from viewer.commands.shared import prepare, show

ABOUT = "flights of records as pictures: path, attitude, sticks, loads, stall over the span, moments by part"
EXAMPLES = [
    "upline plot my-stall --picture stall.pdf",
    'upline plot stall-precision stall-slow-3d --align "start of released" --of path,stall --picture stalls.png',
    'upline plot my-knife-edge --of rates,moments --phase "elevator let go" --picture let-go.svg',
]
NOTES = """\
pictures: path, speed, attitude, rates, flow (alpha, beta, stalled wing), sticks, surfaces, loads, stall, moments, power,
  servos; without --of a page with everything.  A record is what upline fly --save keeps; up to four are laid over one
  another.  --align "start of PHASE", "end of PHASE" or "3.2 s" brings their clocks to 0 at that instant of each."""


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("records", metavar="RECORD", nargs="+")
    sub.add_argument("--picture", metavar="FILE", required=True, help="a .png, .svg or .pdf file")
    sub.add_argument("--of", metavar="WHAT", help='what to draw, as in "path,stall" (default: everything on a page)')
    sub.add_argument("--phase", metavar="PHASE", help="only this phase of each flight")
    sub.add_argument("--align", metavar="INSTANT", help='where all clocks are 0: "start of released", "3.2 s"')


def run(options: argparse.Namespace) -> int:
    """Read the records, draw them, and say what was drawn."""
    from models.errors import OptionError, Refused
    from models.options import Gathered, one_of
    from viewer.files import picture_path, write_picture
    from viewer.plots.flights import MOST, aligned, cut, named, read_flight
    from viewer.plots.words import WHAT

    if len(options.records) > MOST:
        raise OptionError("plot", Refused(f"{len(options.records)} records", f"one to {MOST}"))
    gathered = Gathered()
    picture = gathered.read(picture_path, "--picture", options.picture)
    wanted = None
    if options.of is not None:
        wanted = [gathered.read(one_of, "--of", word.strip(), WHAT) for word in options.of.split(",")]
    flights = [gathered.read(read_flight, record) for record in options.records]
    gathered.check()
    flights = aligned(named(flights), options.align)
    if options.phase is not None:
        flights = cut(flights, options.phase)
    progress = prepare()
    progress.note("drawing")
    from viewer.plots.figures import figure_of, said
    from viewer.plots.sheet import sheet
    from viewer.plots.style import save

    figure = figure_of(wanted, flights) if wanted else sheet(flights)
    write_picture("--picture", picture, lambda file, kind: save(figure, file, kind))
    progress.clear()
    document = {
        "picture": str(picture),
        "of": wanted or "everything",
        "flights": [{"name": f.name, "setup": f.setup, "manoeuvre": f.manoeuvre, "from": float(f.time[0]),
                     "to": float(f.time[-1]), "unit": "s"} for f in flights],
    }  # fmt: skip
    show("\n".join(said(flights, wanted, str(picture))), document, options.json)
    return 0
