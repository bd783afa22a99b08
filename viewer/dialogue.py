"""Questions on the terminal: asked on the error stream, so that a document on standard output stays alone."""

from __future__ import annotations

import sys
from collections.abc import Callable

from models.errors import Refused, UserError
from models.questions import BY_KEY, Answer, Question, read_answer
from models.sketch import asked_in, kind_of, sketch
from viewer.text import say, wrapped

BACK = "back"
OPENING = (
    "Answer with a unit (2.2 m, 19.7 in, 62 oz, 6.5 kg). Press Enter where you do not know: the value is estimated and "
    f'marked "~". "~6.5 kg" is an answer that you are not sure of. "{BACK}" returns to the question before.'
)


def ask_all(given: dict[str, Answer], read_line: Callable[[], str] | None = None) -> dict[str, Answer]:
    """The answers that were `given`, and those of a person to all other questions.

    A wrong answer is explained and asked for again.  Raises `UserError` where the answers end, `KeyboardInterrupt` as it comes.
    """
    read_line = read_line or (lambda: sys.stdin.readline())
    say(wrapped(OPENING) + "\n", sys.stderr)
    answers, passed = dict(given), []
    while (key := next((k for k in asked_in(answers) if k not in given and k not in passed), None)) is not None:
        question = BY_KEY[key]
        text = _line(_prompt(question, answers), read_line)
        if text.lower() == BACK:
            if passed:
                answers.pop(passed.pop(), None)
            continue
        try:
            answer = _answer(question, text, answers)
        except Refused as refused:
            say(wrapped(f"{question.words}: {refused}", "    ", "  "), sys.stderr)
            continue
        if answer is not None:
            answers[key] = answer
        passed.append(key)
    return answers


def _line(prompt: str, read_line: Callable[[], str]) -> str:
    sys.stderr.write(prompt)
    sys.stderr.flush()
    text = read_line()
    if not text:
        say("", sys.stderr)
        raise UserError("new: found the end of the answers; allowed: an answer to every question, or an empty line")
    return text.strip()


def _prompt(question: Question, answers: dict[str, Answer]) -> str:
    """The question, and what is taken where nothing is answered."""
    if question.needed:
        return f"{question.words}: "
    if question.key == "name":
        return f"{question.words} [my-plane]: "
    if question.key == "power":
        return f"{question.words} [{kind_of(answers)}]: "
    return f"{question.words} [{sketch(answers).values[question.key].text}]: "


def _answer(question: Question, text: str, answers: dict[str, Answer]) -> Answer | None:
    """The answer, or None to estimate.  Raises `Refused`, also where it cannot be together with the others."""
    if not text:
        if question.needed:
            raise Refused("nothing", "a value, for all estimates begin here", '"2.2 m"')
        return None
    answer = read_answer(question, text)
    together = {**answers, question.key: answer}
    if "span" not in together:
        return answer
    before = {key for key, _ in sketch(answers).doubts} if "span" in answers else set()
    for key, refused in sketch(together).doubts:
        if key not in before:
            where = "" if key == question.key else f"{BY_KEY[key].words}: "
            advice = refused.advice or f'another answer, or "{BACK}" to change one before'
            raise Refused(f"{where}{refused.found}", refused.allowed, advice)
    return answer
