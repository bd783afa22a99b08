"""`upline new`."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from models.question_words import WORDS, option
from viewer.commands.shared import prepare, show

ABOUT = "files of your own plane from what you know of it: the rest is estimated and marked"
EXAMPLES = [
    "upline new  # asks, one question after the other",
    'upline new --name my-plane --span "2.2 m" --weight "6.5 kg" --propeller 20x13',
    'upline new --span "106 in" --weight "27 lb" --power piston --displacement "120 cm3" --out big.yaml',
]
NOTES = """\
Everything but the span may be left out.  With an option or more and no terminal nothing is asked; --defaults never
asks, --ask always does.  Two new files are written, the plane and its first setup; none is ever overwritten."""
ENDINGS = (".yaml", ".yml")


def add_to(sub: argparse.ArgumentParser) -> None:
    """One option a question, and where the files go."""
    for key, words in WORDS.items():
        sub.add_argument(option(key), metavar="VALUE", help=words)
    sub.add_argument("--out", metavar="FILE", help="the airframe file (default: NAME.yaml; its setup: NAME-first.yaml)")
    sub.add_argument("--defaults", action="store_true", help="ask nothing: estimate all that is not given")
    sub.add_argument("--ask", action="store_true", help="ask also where the answers come from a pipe, one a line")


def run(options: argparse.Namespace) -> int:
    """Take or ask for the answers, estimate the rest, write both files and say what to measure first."""
    from models.errors import OptionError, Refused
    from models.new_files import setup_name
    from models.sketch import sketch
    from viewer.dialogue import ask_all

    answers = _given(options)
    if options.out is not None:
        _paths(options.out)  # before anybody answers thirty questions
    terminal = sys.stdin is not None and sys.stdin.isatty()
    if options.ask or (terminal and not options.defaults):
        answers = ask_all(answers)
    if "span" not in answers:
        allowed = "the wing span, from which everything else can be estimated"
        raise OptionError("--span", Refused("nothing", allowed, '--span "2.2 m"'))
    plane = sketch(answers)
    _refuse(plane.doubts)
    paths = _paths(options.out if options.out is not None else f"{plane.name}.yaml")

    progress = prepare()
    from scenarios.first_setup import first_setup
    from scenarios.sensitivity import sensitivity
    from viewer.new_plane import new_document, new_table

    first = first_setup(plane, paths[0].name)
    estimates = sensitivity(first.plane, first.trim)
    progress.clear()
    _write(paths, (first.airframe, first.setup))
    names = tuple(str(path) for path in paths)
    show(
        new_table(plane, first, estimates, names),
        new_document(plane, first, estimates, names, setup_name(plane)),
        options.json,
    )
    return 0


def _given(options: argparse.Namespace):
    """The answers given as options.  Raises `UserError` with every one that is wrong."""
    from models.errors import OptionError, Refused, UserError, quoted
    from models.questions import KINDS, OF_KIND, QUESTIONS, read_answer
    from models.sketch import kind_of

    answers, wrong = {}, []
    for question in QUESTIONS:
        text = getattr(options, question.key)
        if text is None:
            continue
        try:
            answers[question.key] = read_answer(question, text)
        except Refused as refused:
            wrong.append(str(OptionError(question.option, refused)))
    kind = kind_of(answers)
    for key in answers:
        if OF_KIND.get(key, kind) != kind:
            other = next(k for k in KINDS if k != kind)
            refused = Refused(f"{quoted(answers[key].text)} for a plane with {kind} power", f"with {other} power only")
            wrong.append(str(OptionError(option(key), refused)))
    if wrong:
        raise UserError("\n".join(wrong))
    return answers


def _refuse(doubts) -> None:
    from models.errors import OptionError, UserError
    from models.questions import BY_KEY

    if doubts:
        raise UserError("\n".join(str(OptionError(BY_KEY[key].option, refused)) for key, refused in doubts))


def _paths(name: str) -> tuple[Path, Path]:
    """The two new files.  Raises `UserError` when one is there already or cannot be written."""
    from models.errors import OptionError, Refused, quoted
    from viewer.files import check_writable

    plane = check_writable("--out", name, ENDINGS)
    paths = plane, plane.with_name(f"{plane.stem}-first{plane.suffix}")
    for path in paths:
        if path.exists():
            refused = Refused(f"{quoted(str(path))}, which is there already", "the name of a new file", "another name")
            raise OptionError("--out", refused)
    return paths


def _write(paths: tuple[Path, Path], texts: tuple[str, str]) -> None:
    """Both files or none."""
    from viewer.files import write_whole

    done = []
    try:
        for path, text in zip(paths, texts):
            write_whole("--out", path, lambda file, text=text: file.write(text.encode("utf-8")))
            done.append(path)
    except BaseException:
        for path in done:
            path.unlink(missing_ok=True)
        raise
