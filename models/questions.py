"""What is asked of a plane before its first file is written: one table, with how each answer is written and bounded.

An answer that is left out is estimated (`models.sketch`); one that begins with "~" is taken and stays an estimate.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any, get_args

from models.errors import Refused, quoted
from models.fields import Count, OneOf, PlainName, PropellerSize, Quantity, Written
from models.marks import MARK, bare, is_marked
from models.power_schema import POWER_KINDS
from models.question_words import WORDS, option
from models.schema import Tilt
from models.units import DIMENSIONS

KINDS = POWER_KINDS


@dataclass(frozen=True)
class Question:
    """`key` names the answer; `needed` if it cannot be estimated; `kind` of power it belongs to."""

    key: str
    written: Written
    needed: bool = False
    kind: str = ""

    @property
    def words(self) -> str:
        """The words that ask for it."""
        return WORDS[self.key]

    @property
    def option(self) -> str:
        """The option of the command line."""
        return option(self.key)


@dataclass(frozen=True)
class Answer:
    """A value in SI, the text it was given as (without a mark), and whether it was marked as an estimate."""

    value: Any
    text: str
    estimated: bool = False


class PlaneName(PlainName):
    """A name that leaves room for the setup's, which is made from it."""

    longest = 50


class Edge(Written):
    """(m, "m") or (rad, "rad"): how far the leading edge of the tip lies behind the root's, or the sweep of that edge."""

    measured = True
    sample = "80 mm"  # type: ignore[assignment]

    def read(self, value: object) -> tuple[float, str]:
        text = str(value)
        if re.search(r"deg|rad|°", text):
            return Quantity("angle", least="-30 deg", most="45 deg").read(text), "rad"
        return Quantity("length", least="-500 mm", most="1 m").read(text), "m"


class Cells(Count):
    """Cells in series, also as they stand on a pack: "12S"."""

    def plain(self, text: str) -> str:
        """The text as a file has it."""
        return re.sub(r"(?i)\s*s$", "", text)


class SpeedConstant(Quantity):
    """A motor's speed constant, also as it stands on one: "190 KV" or a plain number."""

    def plain(self, text: str) -> str:
        """The text as a file has it."""
        return re.sub(r"(?i)^\s*([0-9.]+)\s*(kv)?\s*$", r"\1 rpm/V", text)


def _length(least: str, most: str) -> Quantity:
    return Quantity("length", least=least, most=most)


def _mass(least: str, most: str) -> Quantity:
    return Quantity("mass", least=least, most=most)


SHARE = Quantity("ratio", least="10 %", most="90 %")
TILT: Any = next(a for a in get_args(Tilt) if isinstance(a, Written))

QUESTIONS = (
    Question("name", PlaneName()),
    Question("span", _length("1 m", "4 m"), needed=True),
    Question("weight", _mass("800 g", "40 kg")),
    Question("power", OneOf(*KINDS)),
    Question("wing_root_chord", _length("80 mm", "1.5 m")),
    Question("wing_tip_chord", _length("50 mm", "1.5 m")),
    Question("wing_sweep", Edge()),
    Question("dihedral", TILT),
    Question("stabiliser_span", _length("200 mm", "2 m")),
    Question("stabiliser_root_chord", _length("50 mm", "1 m")),
    Question("stabiliser_tip_chord", _length("30 mm", "1 m")),
    Question("stabiliser_at", _length("300 mm", "3 m")),
    Question("stabiliser_height", _length("-500 mm", "500 mm")),
    Question("fin_height", _length("100 mm", "1.2 m")),
    Question("fin_root_chord", _length("80 mm", "1 m")),
    Question("fin_tip_chord", _length("40 mm", "1 m")),
    Question("aileron", SHARE),
    Question("elevator", SHARE),
    Question("rudder", SHARE),
    Question("fuselage_length", _length("600 mm", "4 m")),
    Question("fuselage_depth", _length("80 mm", "1 m")),
    Question("thrust_height", _length("-300 mm", "300 mm")),
    Question("cells", Cells(1, 16, measured=True), kind="electric"),
    Question("capacity", Quantity("charge", least="500 mAh", most="30 Ah"), kind="electric"),
    Question("battery_mass", _mass("50 g", "10 kg"), kind="electric"),
    Question("motor_kv", SpeedConstant("speed constant", least="30 rpm/V", most="2000 rpm/V"),
             kind="electric"),
    Question("motor_mass", _mass("50 g", "5 kg"), kind="electric"),
    Question("displacement", Quantity("volume", least="8 cm3", most="300 cm3"), kind="piston"),
    Question("engine_mass", _mass("200 g", "10 kg"), kind="piston"),
    Question("tank", Quantity("volume", least="50 ml", most="5 l"), kind="piston"),
    Question("propeller", PropellerSize()),
)  # fmt: skip
BY_KEY = {q.key: q for q in QUESTIONS}
# keys that only one kind of power has, beside the question of the kind itself
OF_KIND = {q.key: q.kind for q in QUESTIONS if q.kind}


def read_answer(question: Question, text: str) -> Answer:
    """The answer that `text` gives.  Raises `Refused`."""
    marked = is_marked(text)
    number = bare(text) if marked else text.strip()
    if marked and (not number or is_marked(number) or not question.written.measured):
        allowed = f'one "{MARK}" ahead of a number that is an estimate' if question.written.measured else "no mark here"
        raise Refused(quoted(text), allowed, "" if not number else quoted(number.lstrip(MARK + " ")))
    plain = getattr(question.written, "plain", None)
    number = plain(number) if plain else number
    try:
        return Answer(question.written.read(number), number, marked)
    except Refused as refused:
        meant = _with_units(question.written, number)
        raise Refused(refused.found, refused.allowed, meant or refused.advice) from None


def _with_units(written: Written, number: str) -> str:
    """What a number without a unit may have meant: those units that make an allowed value of it."""
    if not isinstance(written, Quantity) or not re.fullmatch(r"[+-]?[0-9]+\.?[0-9]*", number):
        return ""
    kind, meant = DIMENSIONS[written.dimension], []
    for unit in kind.units:
        try:
            written.read(f"{number} {unit}")
        except Refused:
            continue
        if unit not in kind.rare:
            meant.append(f'"{number} {unit}"')
    return " or ".join(meant[:2])


def sweep_of(answer: tuple[float, str], half_span: float) -> float:
    """How far the tip's leading edge lies behind the root's (m) from an answer to `wing_sweep`."""
    value, kind = answer
    return value if kind == "m" else half_span * math.tan(value)
