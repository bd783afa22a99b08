"""`upline rearward`, and what it shares with `upline walk`."""

from __future__ import annotations

import argparse
from pathlib import Path

from viewer.commands.shared import paper_option, pilot_option, prepare, seed_asked, sheet, show, skill

ABOUT = (
    "the CG walked aft step by step until a limit trips: how far is sound, what goes first, what to fly at each step"
)
EXAMPLES = [
    "upline rearward precision",
    'upline rearward extreme --by "5 mm" --draws 200 --picture aft.png',
    'upline rearward slow-3d --limit "static margin: -2 %" --limit "knife edge: off"',
    "upline rearward precision --card aft.pdf --paper letter",
    'upline rearward moor-220-precision --ballast-at "tail post" --folder aft-moor',
]
NOTES = """\
limits: static margin, time to double, corrections, stick work, dive, inverted, stall height, wing drop,
  spin recovery, knife edge, hover; a value or "off". A file of them: format: 1, kind: limits, name: mine,
  limits: {static margin: 5 %}"""


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setup", metavar="SETUP")
    sub.add_argument("--by", metavar="LENGTH", help='how far each step goes (default "3 mm"; 1 %% of MAC is 3 to 5 mm)')
    sub.add_argument("--to", metavar="PLACE", help='where the walk ends at the latest: "180 mm", or "36 %%" of MAC')
    sub.add_argument(
        "--ballast-at", metavar="PLACE", help='go on with ballast where the tray ends: "tail post", "1250 mm"'
    )
    walk_options(sub)
    sub.add_argument("--card", metavar="FILE", help="the steps as one page for the field, a .pdf file")
    paper_option(sub)


def walk_options(sub: argparse.ArgumentParser) -> None:
    """The options of every walk."""
    sub.add_argument("--draws", metavar="N", help="draws of what cannot be measured exactly (default 100)")
    sub.add_argument("--seed", metavar="N", help="another seed, other draws (default 1)")
    sub.add_argument(
        "--limit", metavar='"NAME: VALUE"', action="append", default=[], help='"static margin: 5 %%"; may be repeated'
    )
    sub.add_argument("--limits", metavar="FILE", help="limits from a YAML file")
    sub.add_argument("--share", metavar="SHARE", help="of the draws that may break a limit (default 5 %%)")
    sub.add_argument(
        "--folder", metavar="FOLDER", help="keep every flight there; the same walk goes on where it stopped"
    )
    sub.add_argument(
        "--workers", metavar="N", help="processes that fly (default: one a core); the numbers are the same"
    )
    sub.add_argument("--cluster", metavar="ADDRESS", help="flies on a cluster instead of here")
    sub.add_argument("--csv", metavar="FILE", help="every step as a .csv file, numbers in full")
    sub.add_argument("--picture", metavar="FILE", help="the limits over the steps as a .png, .svg or .pdf picture")
    pilot_option(sub)


def run(options: argparse.Namespace) -> int:
    """Walk the CG aft and show it."""
    from models.loader import load
    from scenarios.ballast import place_named
    from scenarios.walk.steps import rearward

    loaded = load(options.setup)
    at = None if options.ballast_at is None else place_named(options.ballast_at, loaded.setup.airframe)
    return run_walk(options, loaded, lambda: rearward(loaded, options.by, options.to, at))


def run_walk(options: argparse.Namespace, loaded, steps) -> int:
    """Read the options of a walk, fly the path that `steps` gives, show it and write its files."""
    from models.fields import Count, Quantity
    from models.options import Gathered, option_value
    from scenarios.walk.limits import limits_of, with_limits
    from scenarios.walk.walking import Plan, walk
    from viewer.files import check_writable, picture_path, write_picture, write_whole
    from viewer.text import time_left, wrapped

    gathered = Gathered()
    read = gathered.read
    path = read(steps)
    limits = read(with_limits, limits_of(loaded.setup.way_of_flying), options.limits, options.limit)
    draws = read(option_value, "--draws", Count(1, 10_000).read, options.draws, 100)
    seed = read(seed_asked, options, 1)
    share = read(option_value, "--share", Quantity("ratio", least="0 %", under="100 %").read, options.share, 0.05)
    workers = read(option_value, "--workers", Count(1, 256).read, options.workers)
    who = read(skill, options)
    csv = read(check_writable, "--csv", options.csv, (".csv",)) if options.csv else None
    plot = read(picture_path, "--picture", options.picture) if options.picture else None
    card = getattr(options, "card", None)
    card = read(check_writable, "--card", card, (".pdf",)) if card else None
    paper = read(sheet, options) if card else ""
    gathered.check()
    progress = prepare()

    def note(what: str, done: int, total: int, left: float) -> None:
        progress.note(f"{what}: draw {done} of about {total}, {time_left(left)}")

    plan = Plan(loaded, path, limits, draws, seed, share, pilot=who)
    folder = Path(options.folder) if options.folder else None
    result = walk(plan, folder, workers, note, options.cluster)
    from viewer.walk import walk_text
    from viewer.walk_documents import walk_csv, walk_document

    if csv:
        write_whole("--csv", csv, lambda file: walk_csv(result, file))
    if plot:
        progress.note("drawing")
        from viewer.plots.walk import draw

        write_picture("--picture", plot, lambda file, kind: draw(result, file, kind))
    none = bool(card) and result.furthest is None
    if card and not none:
        progress.note("drawing the card")
        from viewer.card.walk_page import draw_walk

        write_whole("--card", card, lambda file: draw_walk(result, paper, file))
    progress.clear()
    files = [str(name) for name in (csv, plot, None if none else card) if name]
    text = walk_text(result) + (f"\n\nwritten: {', '.join(files)}" if files else "")
    text += f"\n\n{wrapped(f'{card} is not written: no step is sound, so there is nothing to fly.')}" if none else ""
    show(text, walk_document(result, files), options.json)
    return 0
