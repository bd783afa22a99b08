"""What several commands share: options, the progress line, and how a result is shown and refused."""

from __future__ import annotations

import argparse
import sys

from models.errors import OptionError, Refused, nearest, quoted


def cg_option(sub: argparse.ArgumentParser) -> None:
    """`--cg`."""
    sub.add_argument(
        "--cg", metavar="PLACE", help='another CG: "150 mm" behind the wing root leading edge, or "30 %%" of MAC'
    )


def inches_option(sub: argparse.ArgumentParser) -> None:
    """`--also-inches`."""
    sub.add_argument(
        "--also-inches", action="store_true", help="inches, ounces and pounds beside millimetres and grams"
    )


def pilot_option(sub: argparse.ArgumentParser) -> None:
    """`--pilot`."""
    sub.add_argument(
        "--pilot", metavar="SKILL", default="expert", help="who flies: expert (default), practised or learner"
    )


def skill(options: argparse.Namespace) -> str:
    """The pilot that was asked for.  Raises `OptionError`."""
    from sim.pilot import SKILLS

    if options.pilot not in SKILLS:
        near = " or ".join(nearest(options.pilot, SKILLS))
        raise OptionError("--pilot", Refused(quoted(options.pilot), ", ".join(SKILLS), near))
    return options.pilot


def prepare():
    """A progress line, and a word about the first run's wait."""
    from viewer.text import Progress

    progress = Progress()
    from sim.compiled import cache_folder

    first = not any(cache_folder().glob("**/*.nbi"))
    progress.note("preparing the flight kernels, once on this machine (about half a minute)" if first else "flying")
    return progress


def show(text: str, document: dict | None, as_json: bool, advice: bool = True) -> None:
    """The human text or the JSON document on stdout, with the cautions where there is advice."""
    from viewer.text import say

    if as_json:
        from viewer.documents import written

        say(written(document or {}))
    else:
        say(text)
    if advice:
        from viewer.words import cautions

        say("\n" + cautions(), sys.stderr if as_json else sys.stdout)


def refuse(message: str, code: int) -> int:
    """Say on the error stream why there is no result, and return `code`."""
    from viewer.text import Progress, say

    Progress().clear()
    say(f"upline: {message}", sys.stderr)
    return code
