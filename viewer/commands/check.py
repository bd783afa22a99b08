"""`upline check`."""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from models.errors import OptionError, Refused
from models.options import option_value
from viewer.commands.shared import pilot_option, prepare, seed_asked, show, skill, told_apart

ABOUT = "setups against rules: limits with headroom, drift from a baseline"
EXAMPLES = [
    "upline check precision",
    "upline check mine.yaml --rules club.yaml --junit check.xml",
    "upline check mine.yaml --baseline mine.baseline.yaml --accept",
]
NOTES = """\
exit code: 0 every rule that must hold does; 1 one fails, or a measure drifted
from the baseline; 2 wrong input; 3 a flight that a rule needs was not flown"""
YAML = (".yaml", ".yml")


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setups", metavar="SETUP", nargs="+")
    sub.add_argument(
        "--rules",
        metavar="RULES",
        action="append",
        help="a rule file, or precision, extreme, slow-3d; may be repeated (default: by the setup's way of flying)",
    )
    sub.add_argument("--baseline", metavar="FILE", help="a .yaml file: say what drifted from it")
    sub.add_argument("--accept", action="store_true", help="write the baseline instead, from this check")
    sub.add_argument("--junit", metavar="FILE", help="write JUnit XML too, a .xml file")
    sub.add_argument("--strict", action="store_true", help='rules that only "should" hold fail the check too')
    sub.add_argument("--draws", metavar="N", help='flights with errors for each rule that says "sure" (default 100)')
    sub.add_argument("--seed", metavar="S", help="of those errors (default 1)")
    sub.add_argument("--workers", metavar="N", help="at once (default: one a core)")
    pilot_option(sub)


def run(options: argparse.Namespace) -> int:
    """Read everything first, fly it, judge it, write and show it."""
    from models.fields import Count
    from models.loader import load
    from scenarios import rules as R
    from viewer.files import check_writable

    if options.accept and options.baseline is None:
        raise OptionError("--accept", Refused("no --baseline", "the file to write beside it", "--baseline FILE"))
    under = R.Conditions(
        skill(options),
        option_value("--draws", Count(1, 1_000_000).read, options.draws, R.DRAWS),
        seed_asked(options, R.SEED),
    )
    workers = option_value("--workers", Count(1, 256).read, options.workers)
    loaded = told_apart("check", [load(name) for name in options.setups], options.setups)
    plans = [R.plan(one, options.rules) for one in loaded]
    names = [one.setup.name for one in loaded]
    report = check_writable("--junit", options.junit, (".xml",)) if options.junit is not None else None
    baseline, accepted = None, None
    if options.accept:
        accepted = check_writable("--baseline", options.baseline, YAML)
        R.check_replaceable(accepted, names)
    elif options.baseline is not None:
        baseline = R.read_baseline(options.baseline)
        R.check_same(baseline, names, under, options.baseline)
    return _checked(plans, under, workers, options, baseline, accepted, report)


def _checked(plans, under, workers, options, baseline, accepted: Path | None, report: Path | None) -> int:
    from datetime import UTC, datetime

    from scenarios import rules as R
    from viewer.check import check_document, check_text, exit_code, held_against
    from viewer.files import write_whole
    from viewer.version import version

    started, clock = datetime.now(UTC), time.monotonic()
    progress = prepare()

    def note(done: int, total: int, what: str) -> None:
        progress.counted(done, total, f"{done} of {total} {what}")

    checks = R.check(plans, under, workers, note)
    held = held_against(checks, baseline)
    code = exit_code(held, options.strict)
    files = []
    if report is not None:
        from viewer.junit import junit

        document = junit(held, started, time.monotonic() - clock)
        write_whole("--junit", report, lambda file: file.write(document))
        files.append(str(report))
    if accepted is not None:
        text = R.baseline_text(checks, under, version()).encode("utf-8")
        write_whole("--baseline", accepted, lambda file: file.write(text))
        files.append(str(accepted))
    progress.clear()
    said = "\n".join([check_text(held, under), *([""] if files else []), *(f"written: {name}" for name in files)])
    show(said, check_document(held, under, code, files), options.json)
    return code
