"""`upline portrait`."""

from __future__ import annotations

import argparse

from models.errors import OptionError, Refused, nearest, quoted
from viewer.commands.shared import prepare, show
from viewer.portrait import portrait_document, portrait_text

ABOUT = "strengths and weaknesses for three ways of flying, why, and three changes"
LONG = (
    "Strengths and weaknesses of a setup flown as precision, extreme and slow 3D in six traits, why, and three changes. "
    "Judged relative to the three built-in styles on the same plane (0 the worst of them, 1 the best), not absolutely: "
    "where the plane has no setup for each way of flying, their CG, throws and exponential are put on it."
)
EXAMPLES = ["upline portrait extreme --picture extreme.png"]


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.description = LONG
    sub.add_argument("setup", metavar="SETUP")
    sub.add_argument(
        "--toward", metavar="WAY", help="precision, extreme or slow 3D: what the changes are for (default: its own way)"
    )
    sub.add_argument("--picture", metavar="FILE", help="draw it too: a .png, .svg or .pdf file")


def run(options: argparse.Namespace) -> int:
    """Read what was asked for, fly it, draw and show it."""
    from models.loader import load_setup
    from scenarios.measures import STYLES
    from viewer.files import picture_path, write_picture

    toward = " ".join(options.toward.split()).replace("slow-3d", "slow 3D") if options.toward is not None else ""
    if options.toward is not None and toward not in STYLES:
        near = " or ".join(quoted(name) for name in nearest(toward, STYLES))
        raise OptionError("--toward", Refused(quoted(options.toward), ", ".join(STYLES), near))
    setup = load_setup(options.setup)
    picture = picture_path("--picture", options.picture)
    progress = prepare()
    from scenarios.portrait import portrait

    result = portrait(
        setup, toward, lambda done, total: progress.counted(done, total, f"setup {done} of {total} flown")
    )
    if picture is not None:
        progress.note("drawing")
        from viewer.plots.portrait import draw

        write_picture("--picture", picture, lambda file, kind: draw(result, file, kind))
    progress.clear()
    show(portrait_text(result), portrait_document(result), options.json)
    return 0
