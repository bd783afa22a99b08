"""`upline report`."""

from __future__ import annotations

import argparse
import shlex

from models.errors import OptionError, Refused
from viewer.commands.shared import manoeuvres_with_texts, pilot_option, prepare, seed_asked, show, skill, told_apart

ABOUT = "one page for a browser: verdict, tables, charts, replay, causes and cures, and every input"
EXAMPLES = [
    "upline report precision --to precision.html",
    "upline report precision slow-3d --manoeuvre stall --manoeuvre hover --to both.html",
    "upline report mine.yaml --rules club.yaml --rearward --to mine.html",
    "upline report --again mine.html --to again.html",
]
NOTES = """\
The page needs no network. --again flies a page's own inputs again and says
whether the numbers are the same; exit code 1 where they are not."""
LISTED = 10  # numbers that are not the same


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setups", metavar="SETUP", nargs="*")
    sub.add_argument("--to", metavar="FILE", help="the .html file to write")
    sub.add_argument(
        "--manoeuvre",
        metavar="MANOEUVRE",
        action="append",
        help="only this one; may be repeated (default: those of upline compare)",
    )
    sub.add_argument("--whole-set", action="store_true", help="every built-in manoeuvre")
    sub.add_argument(
        "--rules", metavar="FILE", action="append", help="as upline check (default: by the setup's way of flying)"
    )
    sub.add_argument("--rearward", action="store_true", help="walk the CG aft too, as upline rearward (minutes)")
    sub.add_argument("--no-cures", action="store_true", help="leave causes and cures out (they take longest)")
    sub.add_argument("--draws", metavar="N", help="draws of what cannot be measured exactly (default 100)")
    sub.add_argument("--seed", metavar="S", help="of those draws (default 1)")
    sub.add_argument("--again", metavar="FILE", help="fly the inputs of a page again instead")
    pilot_option(sub)


def run(options: argparse.Namespace) -> int:
    """Read everything first, fly it, write the page."""
    from viewer.files import check_writable, write_whole

    if options.to is None:
        raise OptionError("report", Refused("no --to", "the file to write", "--to report.html"))
    path = check_writable("--to", options.to, (".html",))
    asked, before = _asked(options) if options.again is None else _again(options)
    progress = prepare()
    from viewer.report.page import page_of
    from viewer.report.results import not_the_same, numbers_document, results_of

    results = results_of(asked, progress.note)
    progress.note("writing the page")
    page = page_of(results).encode("utf-8")
    write_whole("--to", path, lambda file: file.write(page))
    progress.clear()
    lines = [f"written: {path}"]
    document: dict = {"setups": asked.names, "files": [str(path)], "bytes": len(page)}
    apart: list[str] = []
    if before is not None:
        apart = not_the_same(before, numbers_document(results))
        document |= {"identical": not apart, "not_the_same": apart}
        lines.append("flown again: every number is the same" if not apart else "flown again: NOT the same numbers")
        lines += [f"  {line}" for line in apart[:LISTED]]
        lines += [f"  and {len(apart) - LISTED} more"] if len(apart) > LISTED else []
    show("\n".join([*_said(results), "", *lines]), document, options.json)
    return 1 if apart else 0


def _said(results) -> list[str]:
    """The verdict for the terminal."""
    from viewer.report.verdict import verdict
    from viewer.text import wrapped

    return [
        text for said in verdict(results) for text in (said.about, *(wrapped(s, "  ", "- ") for s in said.sentences))
    ]


def _asked(options: argparse.Namespace) -> tuple:
    """What the options ask for; there is no page to hold it against.  Raises `UserError`."""
    from models.fields import Count
    from models.loader import load
    from models.options import Gathered, option_value
    from scenarios import rules as R
    from scenarios.manoeuvres import CORE_SET
    from viewer.report.asked import Asked, rule_text

    if not options.setups:
        raise OptionError("report", Refused("no setup", "one or more", "upline report precision --to precision.html"))
    gathered = Gathered()
    read = gathered.read
    loaded = [read(load, name) for name in options.setups]
    manoeuvres = read(manoeuvres_with_texts, options, CORE_SET)
    draws = read(option_value, "--draws", Count(1, 10_000).read, options.draws, R.DRAWS)
    seed = read(seed_asked, options, R.SEED)
    who = read(skill, options)
    gathered.check()
    loaded = told_apart("report", loaded, options.setups)
    plans = tuple(R.plan(one, options.rules) for one in loaded)
    texts = {name: rule_text(name) for plan in plans for name in plan.files}
    asked = Asked(
        tuple(loaded), tuple(manoeuvres), plans, texts, who, options.rearward, draws, seed, not options.no_cures,
        _command(options),
    )  # fmt: skip
    return asked, None


def _again(options: argparse.Namespace) -> tuple:
    """What the page of `--again` was asked for, and its numbers.  Raises `UserError`."""
    from pathlib import Path

    from viewer.report.asked import asked_again, read_page

    given = {
        "SETUP": options.setups, "--manoeuvre": options.manoeuvre, "--whole-set": options.whole_set, "--rules": options.rules,
        "--rearward": options.rearward, "--no-cures": options.no_cures, "--draws": options.draws, "--seed": options.seed,
    }  # fmt: skip
    for name, value in given.items():
        if value:
            raise OptionError("--again", Refused(f"{name} beside it", "a page alone: it holds its own inputs"))
    path = Path(options.again)
    inputs, numbers = read_page(path)
    return asked_again(inputs, path, _command(options)), numbers


def _command(options: argparse.Namespace) -> str:
    """The command line again, from what was read of it."""
    words = ["upline", "report", *options.setups]
    for name in ("manoeuvre", "rules"):
        words += [word for value in getattr(options, name) or () for word in (f"--{name}", value)]
    words += [f"--{name}" for name in ("whole-set", "rearward", "no-cures") if getattr(options, name.replace("-", "_"))]
    for name in ("draws", "seed", "again", "to"):
        words += [f"--{name}", getattr(options, name)] if getattr(options, name) is not None else []
    return shlex.join([*words, *(["--pilot", options.pilot] if options.pilot != "expert" else [])])
