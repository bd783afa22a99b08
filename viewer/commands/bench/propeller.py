"""`upline bench propeller`."""

from __future__ import annotations

import argparse

from models.errors import OptionError, Refused, UserError, nearest, quoted
from models.options import option_value
from viewer.commands.shared import prepare, show

ABOUT = "propellers for a setup side by side: thrust, current, hover, speeds, braking, inertia"
EXAMPLES = [
    'upline bench propeller precision --propellers "20x12, 21x10, 22x8, 20x13x3" --picture props.png',
    'upline bench propeller slow-3d --family thin-light --sort "top speed"',
]
NOTES = """\
The setup's own propeller is always among them.  Values come from the model that flies: static ones at sea level, the
hover as in the manoeuvre, lines at 100 m, in standard air, with a full battery or tank.  The plane's mass stays."""
MOST = 24  # propellers at a time


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setup", metavar="SETUP")
    sub.add_argument(
        "--propellers", metavar='"20x12, 21x10"',
        help="diameter x pitch in inches, and blades if not 2 (default: near the setup's own)",
    )  # fmt: skip
    sub.add_argument("--family", metavar="FAMILY", help="blade family of all of them, a built-in name or a file")
    sub.add_argument(
        "--airspeed", metavar="SPEED", default="25 m/s",
        help='where thrust and idle drag are compared (default: "25 m/s")',
    )  # fmt: skip
    sub.add_argument("--sort", metavar="ROW", help='the best of a row first: "static thrust", "top speed", ...')
    sub.add_argument(
        "--picture", metavar="FILE", help="thrust and current over airspeed as a .png, .svg or .pdf picture"
    )


def run(options: argparse.Namespace) -> int:
    """Read what was asked for, put the propellers on the bench, show and draw them."""
    from models.loader import load_setup
    from viewer.files import picture_path, write_picture

    setup = load_setup(options.setup)
    airspeed = option_value("--airspeed", _airspeed, options.airspeed)
    from scenarios.bench.propeller import bench, neighbours, order, rows_for, size_of, with_size

    own = size_of(setup.propeller)
    sizes = neighbours(setup.propeller) if options.propellers is None else _sizes(options.propellers)
    sizes = list(dict.fromkeys([own, *sizes]))
    setups = [with_size(setup, size, options.family) for size in sizes]
    if options.family is not None:
        setups = list({s.propeller: s for s in [setup, *setups]}.values())
    by = _row(options.sort, rows_for(setup), airspeed)
    plot = picture_path("--picture", options.picture)

    progress = prepare()
    from viewer.bench.propeller import propeller_document, propeller_text

    def note(done: int, total: int) -> None:
        progress.counted(done, total, f"propeller {done} of {total} done")

    found = bench(setups, setup, airspeed, note)
    if by is not None:
        found = order(found, by)
    if plot:
        progress.note("drawing")
        from viewer.plots.propeller import draw

        write_picture("--picture", plot, lambda file, kind: draw(setup, found, file, kind))
    progress.clear()
    written = f"\n\nwritten: {plot}" if plot else ""
    document = propeller_document(setup, found, airspeed) | {"files": [str(plot)] if plot else []}
    show(propeller_text(setup, found, airspeed) + written, document, options.json)
    return 0


def _airspeed(text: str) -> float:
    from models.units import parse

    airspeed = parse(text, "speed")
    if not 0.0 < airspeed <= 80.0:
        raise Refused(quoted(text), "an airspeed over 0 and up to 80 m/s", '"25 m/s"')
    return airspeed


def _sizes(text: str) -> list[str]:
    """The sizes of a list, as the bench writes them.  Raises `UserError` with every wrong one."""
    from models.fields import PropellerSize
    from scenarios.bench.propeller import INCH

    parts = [part.strip() for part in text.replace(";", ",").split(",")]
    read, wrong = [], []
    for part in parts:
        try:
            diameter, pitch, blades = PropellerSize().read(part)
            read.append(f"{diameter / INCH:.4g}x{pitch / INCH:.4g}" + (f"x{blades}" if blades != 2 else ""))
        except Refused as refused:
            wrong.append(f"--propellers: {refused}")
    if wrong:
        raise UserError("\n".join(wrong[:10]))
    if len(read) > MOST:
        raise OptionError("--propellers", Refused(f"{len(read)} propellers", f"up to {MOST} at a time"))
    return read


def _row(text: str | None, rows, airspeed: float):
    """The row to sort by, None for none.  Raises `OptionError`."""
    if text is None:
        return None
    from viewer.bench.propeller import said

    wanted = " ".join(text.lower().replace("_", " ").replace("-", " ").split())
    for row in rows:
        if wanted in (row.name.replace("_", " "), said(row, airspeed).strip().replace("-", " ")):
            return row
    names = [row.name.replace("_", " ") for row in rows]
    raise OptionError("--sort", Refused(quoted(text), ", ".join(names), " or ".join(nearest(wanted, names))))
