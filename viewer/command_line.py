"""The command `upline`: options, one call into the library, and exit codes.

0 done; 2 the user's input is wrong; 3 the flight could not be flown; 130 stopped by the
user.  `--json` puts one document on stdout and everything else on stderr.
"""

from __future__ import annotations

import argparse
import errno
import os
import re
import sys
from typing import NoReturn

from models.errors import OptionError, Refused, UserError, nearest, quoted
from viewer import map_command, portrait

FIRST_STEPS = """\
upline: fly a setup in simulation before you move a battery.

  upline list                          what is built in: planes, setups, manoeuvres
  upline balance precision             CG, neutral point, static margin, battery place
  upline fly knife-edge-right --setup slow-3d --why
                                       one manoeuvre, its measures and what caused them
  upline compare precision slow-3d     the whole set for two setups, side by side
  upline map precision stall stall_speed --vary "cg: 28 % to 40 % by 2 %"
                                       a measure over one or two things varied

SETUP is a name from the list or the path of your own file (copy a built-in one).
A simulation clears nothing to fly: see the cautions under every result."""

WHOLE_SET = "every built-in manoeuvre"
CORE = "level flight, both 45-degree up-lines, both knife edges, stall and hover"


class _Parser(argparse.ArgumentParser):
    """A parser whose complaint is a `UserError` like every other; options are written in full."""

    def __init__(self, **keywords) -> None:
        super().__init__(allow_abbrev=False, **keywords)

    def error(self, message: str) -> NoReturn:
        raise UserError(f"{message}; try: {self.prog} --help")


def _parser() -> _Parser:
    parser = _Parser(
        prog="upline", description="Fly setups of radio-controlled aerobatic aeroplanes in simulation and compare them."
    )
    parser.add_argument("--version", action="store_true", help="print the version")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")

    def command(name: str, about: str, example: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(
            name, help=about, description=about + ".", epilog=f"example:\n  {example}",
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )  # fmt: skip
        sub.add_argument("--json", action="store_true", help="one JSON document on stdout, numbers with their units")
        return sub

    def cg(sub: argparse.ArgumentParser) -> None:
        sub.add_argument(
            "--cg", metavar="PLACE", help='another CG: "150 mm" behind the wing root leading edge, or "30 %%" of MAC'
        )

    def pilot(sub: argparse.ArgumentParser) -> None:
        sub.add_argument(
            "--pilot", metavar="SKILL", default="expert", help="who flies: expert (default), practised or learner"
        )

    sub = command("list", "what is built in", "upline list --manoeuvres")
    for what in ("setups", "airframes", "manoeuvres", "measures"):
        sub.add_argument(f"--{what}", action="store_true", help=f"only the {what}")
    sub = command(
        "balance",
        "mass, CG, neutral point, static margin, where the battery sits, and how the plane swings hands off",
        'upline balance precision --cg "150 mm"',
    )
    sub.add_argument("setup", metavar="SETUP")
    cg(sub)
    sub.add_argument(
        "--derivatives", action="store_true", help="stability and control derivatives too (always in --json)"
    )
    sub = command("fly", "one manoeuvre with one setup", "upline fly stall --setup extreme --save my-stall")
    sub.add_argument("manoeuvre", metavar="MANOEUVRE", nargs="?")
    sub.add_argument("--setup", metavar="SETUP")
    cg(sub)
    sub.add_argument(
        "--why",
        metavar="PHASE",
        nargs="?",
        const="",
        help="moments by part over the phase the first measure is taken in, or PHASE",
    )
    pilot(sub)
    sub.add_argument("--save", metavar="DIR", help="keep the flight record in a new folder")
    sub.add_argument("--again", metavar="DIR", help="fly a kept record again and say whether it is identical")
    sub = command(
        "compare",
        "two or more setups through the same manoeuvres",
        "upline compare precision slow-3d --manoeuvre stall",
    )
    sub.add_argument("setups", metavar="SETUP", nargs="+")
    cg(sub)
    sub.add_argument(
        "--manoeuvre",
        metavar="MANOEUVRE",
        action="append",
        help=f"only this one; may be repeated (default: {CORE})",
    )
    sub.add_argument("--whole-set", action="store_true", help=WHOLE_SET)
    pilot(sub)
    sub = command("map", "measures over one or two inputs, as table, CSV and picture", "")
    map_command.add_to(sub)
    sub = command(
        "cures",
        "what takes a coupling out: causes, cure, what it leaves over and costs",
        "upline cures precision --only rolls",
    )
    sub.add_argument("setup", metavar="SETUP")
    cg(sub)
    sub.add_argument("--only", metavar="WHAT", help="knife-edge, rolls, thrust, down-line or cg (default: all)")
    portrait.options(command("portrait", portrait.SHORT, "upline portrait extreme --picture extreme.png"))
    return parser


def main(argv: list[str] | None = None) -> int:
    """Run the command in `argv` (default: the process's) and return its exit code."""
    try:
        code = _run(sys.argv[1:] if argv is None else list(argv))
        sys.stdout.flush()  # here, where a reader that has gone can still be dealt with
        return code
    except UserError as error:
        return _refuse(str(error), 2)
    except KeyboardInterrupt:
        return _refuse("stopped", 130)
    except OSError as error:
        return _no_room(error)
    except Exception as error:
        from scenarios.manoeuvres import CannotFly

        if isinstance(error, CannotFly):
            return _refuse(f"cannot be flown: {error}", 3)
        raise


def _run(arguments: list[str]) -> int:
    if arguments and not arguments[0].startswith("-") and arguments[0] not in COMMANDS:
        near = " or ".join(f"upline {name}" for name in nearest(arguments[0], COMMANDS)) or "upline --help"
        raise OptionError("command", Refused(quoted(arguments[0]), ", ".join(COMMANDS), near))
    try:
        options = _parser().parse_args(_cg_joined(arguments))
    except SystemExit:  # argparse has printed the help that was asked for
        return 0
    if options.version or not options.command:
        print(f"upline {_version()}" if options.version else FIRST_STEPS)
        return 0
    return COMMANDS[options.command](options)


def _cg_joined(arguments: list[str]) -> list[str]:
    """The arguments with a CG ahead of the leading edge, "--cg -20mm", as one, or it would pass for an option."""
    out: list[str] = []
    for argument in arguments:
        if out and out[-1] == "--cg" and re.match(r"-\.?[0-9]", argument):
            out[-1] = f"--cg={argument}"
        else:
            out.append(argument)
    return out


def _no_room(error: OSError) -> int:
    """The exit code after output that could not be written, or a file that went away while it was read."""
    if error.filename is not None:
        return _refuse(f"{error.filename}: {error.strerror or error}", 2)
    try:  # what is still waiting must not be tried again when the program ends
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        pass
    if isinstance(error, BrokenPipeError) or (os.name == "nt" and error.errno == errno.EINVAL):
        return 0  # the reader of our output has seen enough
    return _refuse(f"the output could not be written: {error.strerror or error}", 2)


def _refuse(message: str, code: int) -> int:
    from viewer.text import Progress, say

    Progress().clear()
    say(f"upline: {message}", sys.stderr)
    return code


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("upline")
    except PackageNotFoundError:
        return "(not installed as a package)"


def _print(text: str, document: dict | None, as_json: bool, advice: bool = True) -> None:
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


def _list(options: argparse.Namespace) -> int:
    from models.loader import known_airframes, known_setups
    from scenarios.manoeuvres import known_manoeuvres
    from scenarios.measures import MEASURES
    from viewer.text import wrapped

    document: dict = {}
    wanted = [k for k in ("airframes", "setups", "manoeuvres", "measures") if getattr(options, k)]
    for key, known in (("airframes", known_airframes), ("setups", known_setups), ("manoeuvres", known_manoeuvres)):
        if key in wanted or not wanted:
            document[key] = [{"name": name, "about": about} for name, about in known()]
    if "measures" in wanted or (options.json and not wanted):
        document["measures"] = [
            {"name": m.name, "unit": m.unit, "about": m.about, "source": m.source, "better": m.better}
            for m in MEASURES.values()
        ]
    lines = []
    for key, entries in document.items():
        width = max(len(e["name"]) for e in entries)
        lines += [
            key,
            *(wrapped(f"  {e['name'].ljust(width)}  {e['about']}", " " * (width + 4), "") for e in entries),
            "",
        ]
    if "measures" not in document:
        lines.append("upline list --measures explains every measure.")
    _print("\n".join(lines).rstrip(), document, options.json, advice=False)
    return 0


def _balance(options: argparse.Namespace) -> int:
    from models.loader import load_setup

    setup = load_setup(options.setup, options.cg)
    progress = _prepare()
    from scenarios.balance import balance
    from scenarios.manoeuvres import flyable
    from viewer.documents import balance_document
    from viewer.tables import balance_table

    result = balance(flyable(setup))
    progress.clear()
    names = setup.name, setup.airframe.name
    _print(balance_table(*names, result, options.derivatives), balance_document(*names, result), options.json)
    return 0


def _fly(options: argparse.Namespace) -> int:
    for name in ("save", "again"):
        if getattr(options, name) == "":
            raise OptionError(f"--{name}", Refused("an empty text", "the name of a folder"))
    if options.again is not None:
        return _fly_again(options)
    if not options.manoeuvre or not options.setup:
        found = "--setup SETUP" if options.manoeuvre else "manoeuvre"
        advice = "upline fly stall --setup precision"
        if options.why and not options.manoeuvre:
            advice = f"--why at the end, if {quoted(options.why)} is the manoeuvre"
        raise OptionError("fly", Refused(f"no {found}", "a manoeuvre and --setup SETUP", advice))
    from models.loader import load

    loaded = load(options.setup, options.cg)
    from scenarios.manoeuvres import fly_manoeuvre, flyable, load_manoeuvre

    manoeuvre, text = load_manoeuvre(options.manoeuvre)
    if options.why and options.why not in [p.name for p in manoeuvre.phases]:
        phases = [p.name for p in manoeuvre.phases]
        allowed = f"a phase of {manoeuvre.name}: " + ", ".join(quoted(name) for name in phases)
        near = " or ".join(quoted(name) for name in nearest(options.why, phases))
        raise OptionError("--why", Refused(quoted(options.why), allowed, near))
    if options.save:
        from scenarios.record import check_free

        check_free(options.save)
    skill = _skill(options)
    progress = _prepare()
    flown = fly_manoeuvre(loaded.setup, manoeuvre, flyable(loaded.setup), skill=skill)
    if options.save:
        from pathlib import Path

        from scenarios.record import save

        progress.note("writing the record")
        save(Path(options.save), flown, loaded.texts, text, options.cg)
    progress.clear()
    return _show_flight(flown, options)


def _skill(options: argparse.Namespace) -> str:
    from sim.pilot import SKILLS

    if options.pilot not in SKILLS:
        near = " or ".join(nearest(options.pilot, SKILLS))
        raise OptionError("--pilot", Refused(quoted(options.pilot), ", ".join(SKILLS), near))
    return options.pilot


def _fly_again(options: argparse.Namespace) -> int:
    for name in ("manoeuvre", "setup", "cg", "save"):
        if getattr(options, name) is not None:
            raise OptionError("--again", Refused(f"{name} beside it", "a record alone: it holds its own inputs"))
    progress = _prepare()
    from pathlib import Path

    from scenarios.record import fly_again
    from viewer.text import say

    flown, same = fly_again(Path(options.again))
    progress.clear()
    word = "identical, bit for bit" if same else "NOT identical: another version or machine than the one that wrote it"
    say(f"flown again: {word}", sys.stderr if options.json else sys.stdout)
    return _show_flight(flown, options, {"identical": same})


def _show_flight(flown, options: argparse.Namespace, extra: dict | None = None) -> int:
    from scenarios.account import account
    from scenarios.measures import NotMeasured, take_measures
    from viewer.documents import fly_document
    from viewer.tables import fly_table
    from viewer.text import say

    taken, why = take_measures(flown), None
    if options.why is not None:
        try:
            why = account(flown, options.why or None)
        except NotMeasured as reason:
            say(f"no account: {reason}", sys.stderr)
    _print(fly_table(flown, taken, why), {**fly_document(flown, taken, why), **(extra or {})}, options.json)
    if flown.flight.ending != "diverged":
        return 0
    phase = flown.manoeuvre.phases[flown.flight.phase].name
    return _refuse(f'the flight diverged in "{phase}", first in {flown.flight.bad}: its numbers are worth nothing', 3)


def _compare(options: argparse.Namespace) -> int:
    from models.loader import load_setup

    setups = _told_apart([load_setup(name, options.cg) for name in options.setups], options.setups)
    from scenarios.manoeuvres import CORE_SET, known_manoeuvres, load_manoeuvre

    wanted = options.manoeuvre or ([name for name, _ in known_manoeuvres()] if options.whole_set else CORE_SET)
    skill = _skill(options)
    manoeuvres = [load_manoeuvre(name)[0] for name in dict.fromkeys(wanted)]
    names = [manoeuvre.name for manoeuvre in manoeuvres]
    if len(set(names)) < len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise OptionError("--manoeuvre", Refused(f"two manoeuvres of the name {quoted(twice)}", "different names"))
    progress = _prepare()
    from scenarios.compare import compare
    from viewer.documents import compare_document
    from viewer.tables import compare_tables

    result = compare(setups, manoeuvres, progress.flights, skill)
    progress.clear()
    _print(compare_tables(setups, result), compare_document(result), options.json)
    return 0


def _cures(options: argparse.Namespace) -> int:
    from models.loader import load_setup

    setup = load_setup(options.setup, options.cg)
    from scenarios.cures import GROUPS, cures
    from viewer.cures import cures_document, cures_table

    if options.only is not None and options.only not in GROUPS:
        near = " or ".join(quoted(name) for name in nearest(options.only, GROUPS))
        raise OptionError("--only", Refused(quoted(options.only), ", ".join(GROUPS), near))
    progress = _prepare()
    found = cures(setup, options.only, lambda what: progress.note(f"cures: {what}"))
    progress.clear()
    names = setup.name, setup.airframe.name
    _print(cures_table(*names, found), cures_document(*names, found), options.json)
    return 0


def _told_apart(setups: list, arguments: list[str]) -> list:
    """The setups, those of one name (an edited copy, say) called by their file names instead.  Raises `OptionError`."""
    from dataclasses import replace
    from pathlib import Path

    from models.errors import printable

    allowed, example = "two or more different setups", "upline compare precision slow-3d"
    if len(setups) < 2:
        raise OptionError("compare", Refused("one setup", allowed, example))
    for rename in (lambda argument: Path(argument).stem, str):
        names = [setup.name for setup in setups]
        setups = [
            replace(setup, name=printable(rename(argument), 200)) if names.count(setup.name) > 1 else setup
            for setup, argument in zip(setups, arguments)
        ]
    names = [setup.name for setup in setups]
    if len(set(names)) < len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise OptionError("compare", Refused(f"{quoted(twice)} a second time", allowed, example))
    return setups


def _map(options: argparse.Namespace) -> int:
    return map_command.run(options, _prepare, _print)


def _prepare():
    """A progress line, and a word about the first run's wait."""
    from viewer.text import Progress

    progress = Progress()
    from sim.compiled import cache_folder

    first = not any(cache_folder().glob("**/*.nbi"))
    progress.note("preparing the flight kernels, once on this machine (about half a minute)" if first else "flying")
    return progress


COMMANDS = {
    "list": _list,
    "balance": _balance,
    "fly": _fly,
    "compare": _compare,
    "portrait": lambda options: portrait.run(options, _prepare, _print),
    "cures": _cures,
    "map": _map,
}

if __name__ == "__main__":
    sys.exit(main())
