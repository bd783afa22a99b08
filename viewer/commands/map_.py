"""`upline map`."""

from __future__ import annotations

import argparse
import time

from viewer.commands.shared import prepare, show

ABOUT = "measures over one or two inputs, as table, CSV and picture"
EXAMPLES = [
    'upline map precision knife-edge-right pitch_coupling --vary "cg: 28 % to 40 % by 2 %"',
    'upline map precision balance static_margin mass --vary "mass of battery: 1.2 kg to 1.6 kg by 0.1 kg"',
    'upline map slow-3d hover hover_throttle --vary "propeller: 22x8, 23x8, 23x10"',
    'upline map extreme upline-45 pitch_drift --vary "cg: 30 % to 38 % by 2 %" '
    '--vary "wind: 0 m/s to 6 m/s by 2 m/s" --csv drift.csv --picture drift.png',
    'upline map extreme stall wing_drop --set "turbulence: light" --vary "turbulence seed: 1 to 12 by 1"',
]
NOTES = """\
inputs: cg; cg to the right; elevator, aileron, rudder throw (or one way: elevator up throw, rudder left throw),
  exponential, middle or low rate, middle or low exponential; aileron differential; aileron left over right; elevator,
  aileron, rudder centring; mix STICK to CONTROL (rudder to elevator, elevator to flaps), mix STICK SIDE to CONTROL
  (rudder left to elevator); link latency; down thrust, right thrust; incidence of SURFACE; propeller; blade family;
  mass scale; mass of ITEM; wind, wind direction, turbulence, turbulence seed; pilot.  A wrong name lists them.
"balance" in place of a manoeuvre flies nothing; its measures go with every manoeuvre too: static_margin,
  neutral_point, cg_mac, mass, time_to_double and more (upline list --measures, those of the balance)."""


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments and options of the command."""
    sub.add_argument("setup", metavar="SETUP")
    sub.add_argument("manoeuvre", metavar="MANOEUVRE", help='what is flown, or "balance"')
    sub.add_argument("measures", metavar="MEASURE", nargs="+", help="what is measured")
    sub.add_argument(
        "--vary", metavar='"INPUT: VALUES"', action="append", default=[], required=True,
        help='"cg: 28 %% to 40 %% by 2 %%" or a list, "propeller: 20x12, 21x12"; once or twice',
    )  # fmt: skip
    sub.add_argument(
        "--set", metavar='"INPUT: VALUE"', action="append", default=[], dest="fixed",
        help="another value for the whole map; may be repeated",
    )  # fmt: skip
    sub.add_argument("--csv", metavar="FILE", help="the map as a .csv file, numbers in full")
    sub.add_argument("--picture", metavar="FILE", help="the map as a .png, .svg or .pdf picture")


def run(options: argparse.Namespace) -> int:
    """Read what was asked for, fly the map, show it and write its files."""
    from models.errors import quoted
    from models.loader import load_setup
    from models.options import option_value
    from viewer.files import check_writable, picture_path, write_picture, write_whole
    from viewer.text import time_left

    setup = load_setup(options.setup)
    from scenarios.at_rest import BALANCE
    from scenarios.axes import read_axis, read_name
    from scenarios.inputs import Case, inputs_of, with_inputs
    from scenarios.manoeuvres import load_manoeuvre
    from scenarios.maps import cases_of, measures_of, needs_a_flight, sweep

    manoeuvre = None if options.manoeuvre == BALANCE else load_manoeuvre(options.manoeuvre)[0]
    case, inputs = Case(setup, manoeuvre), inputs_of(setup)
    fixed = []
    for text in options.fixed:
        what, value = read_name(text, inputs, "--set")
        needs_a_flight(case, what, "--set")
        case = with_inputs(case, [(what, option_value(f"--set {quoted(what.name)}", what.read, value))])
        fixed.append((what, value))
    axes = tuple(read_axis(text, inputs, "--vary") for text in options.vary)
    measures = measures_of(case, options.measures)
    cases_of(case, axes)
    csv = check_writable("--csv", options.csv, (".csv",)) if options.csv is not None else None
    plot = picture_path("--picture", options.picture)

    progress = prepare()
    from viewer.map_tables import map_csv, map_document, map_table

    began = time.monotonic()

    def note(done: int, total: int) -> None:
        left = (time.monotonic() - began) / done * (total - done)
        progress.note(f"cell {done} of {total}, {time_left(left)}")

    result = sweep(case, axes, measures, note)
    if csv:
        write_whole("--csv", csv, lambda file: map_csv(result, file))
    if plot:
        progress.note("drawing")
        from viewer.plots.maps import draw

        write_picture("--picture", plot, lambda file, kind: draw(result, fixed, file, kind))
    progress.clear()
    files = [str(path) for path in (csv, plot) if path]
    text = map_table(result, fixed) + "".join(f"\n\nwritten: {', '.join(files)}" for _ in files[:1])
    show(text, map_document(result, fixed, files), options.json)
    return 0
