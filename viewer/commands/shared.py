"""What several commands share: options, the progress line, and how a result is shown and refused."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from models.errors import OptionError, Refused, quoted
from models.options import one_of, option_value


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


def paper_option(sub: argparse.ArgumentParser) -> None:
    """`--paper`."""
    sub.add_argument("--paper", metavar="PAPER", default="a4", help="of the page: a4 (default) or letter")


def sheet(options: argparse.Namespace) -> str:
    """The paper that was asked for.  Raises `OptionError`."""
    return one_of("--paper", options.paper.lower(), ["a4", "letter"])


def pilot_option(sub: argparse.ArgumentParser) -> None:
    """`--pilot`."""
    sub.add_argument(
        "--pilot", metavar="SKILL", default="expert", help="who flies: expert (default), practised or learner"
    )


def skill(options: argparse.Namespace) -> str:
    """The pilot that was asked for.  Raises `OptionError`."""
    from sim.pilot import SKILLS

    return one_of("--pilot", options.pilot, list(SKILLS))


def manoeuvres_asked(options: argparse.Namespace, usual: Sequence[str]) -> list:
    """The manoeuvres of `--manoeuvre` or `--whole-set`, else the `usual` ones, each once.  Raises `UserError`."""
    return [manoeuvre for manoeuvre, _ in manoeuvres_with_texts(options, usual)]


def manoeuvres_with_texts(options: argparse.Namespace, usual: Sequence[str]) -> list[tuple]:
    """As `manoeuvres_asked`, each with the text of its file.  Raises `UserError`."""
    from scenarios.manoeuvres import known_manoeuvres, load_manoeuvre

    wanted = options.manoeuvre or ([name for name, _ in known_manoeuvres()] if options.whole_set else usual)
    manoeuvres = [load_manoeuvre(name) for name in dict.fromkeys(wanted)]
    names = [manoeuvre.name for manoeuvre, _ in manoeuvres]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise OptionError("--manoeuvre", Refused(f"two manoeuvres of the name {quoted(twice)}", "different names"))
    return manoeuvres


def told_apart(command: str, loaded: list, arguments: list[str]) -> list:
    """The setups, those of one name called by what they were asked for.  Raises `OptionError` for one asked for twice."""
    from models.errors import printable
    from scenarios.rules import named_apart

    apart = named_apart(loaded, [printable(argument, 200) for argument in arguments])
    names = [one.setup.name for one in apart]
    if len(set(names)) < len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise OptionError(command, Refused(f"{quoted(twice)} a second time", "each setup once"))
    return apart


def reading() -> None:
    """Say that files are read, where that takes a second or two; `show` takes it away."""
    from viewer.text import Progress

    Progress().note("reading")


def prepare(doing: str = "flying"):
    """A progress line that says what is done, and a word about the first run's wait."""
    from viewer.text import Progress

    progress = Progress()
    from sim.compiled import cache_folder

    first = not any(cache_folder().glob("**/*.nbi"))
    progress.note("preparing the flight kernels, once on this machine (about half a minute)" if first else doing)
    return progress


def show(text: str, document: dict | None, as_json: bool, advice: bool = True) -> None:
    """The human text or the JSON document on stdout, with the cautions where there is advice."""
    from viewer.text import Progress, say

    Progress().clear()
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


def seed_asked(options: argparse.Namespace, usual: int | None = None) -> int | None:
    """The seed that `--seed` asks for, `usual` where it does not.  Raises `OptionError`."""
    from models.fields import Count

    return option_value("--seed", Count(0, 999_999_999).read, options.seed, usual)
