"""The page's tables as data: cells in words and units as people write them, ready for the template."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from scenarios.account import Account
from scenarios.accuracy import accuracies_of
from scenarios.cures.report import Cure
from scenarios.cures.report import Row as CureRow
from scenarios.differences import joined
from scenarios.rules import Check
from scenarios.trust import GROUPS, trust_in
from scenarios.walk.walking import Walk
from viewer.balance import SEEN_AS, mm, right_or_left
from viewer.check import WORDS, headroom_text, limit_text, measured_text
from viewer.report.results import Results
from viewer.text import number
from viewer.words import meaning

SHEET = 34  # rows that surely fit on a sheet of A4


@dataclass
class Table:
    """A `caption`, a `head` of column names, and `rows` whose first cell names the row; `notes` stand below.

    `numbers` is how many of the last columns hold numbers; `marks` are classes of rows, by index.
    """

    caption: str
    head: Sequence[str]
    rows: list[list[str]]
    notes: list[str] = field(default_factory=list)
    words: int = 1  # columns at the left, and any beyond `numbers`, that hold words
    numbers: int = 0
    marks: dict[int, str] = field(default_factory=dict)

    @property
    def fits(self) -> bool:
        """Whether it fits on one sheet of paper, and so need not be cut."""
        return len(self.rows) <= SHEET

    def is_number(self, column: int) -> bool:
        """Whether a column is set to the right."""
        return self.words <= column < self.words + self.numbers


def files_table(results: Results) -> Table | None:
    """What differs in the files; None where nothing does."""
    names = results.comparison.setups
    rows = [[difference.field, *(cell or "-" for cell in difference.cells)] for difference in joined(results.found)]
    return Table("What differs in the files, as written there", ["field", *names], rows) if rows else None


def balance_table(results: Results) -> Table:
    """Mass, CG and margins, with what is not known of them."""
    rows: list[list[str]] = []

    def row(label: str, cells: Sequence[str]) -> None:
        rows.append([label, *cells])

    balances, spreads = results.comparison.balances, results.spreads
    row("mass", [f"{b.mass:.2f} kg" for b in balances])
    row("wing loading", [f"{b.wing_loading:.1f} kg/m2" for b in balances])
    row("CG behind the wing root leading edge", [mm(b.cg) for b in balances])
    row("CG in the mean chord", [f"{100.0 * b.cg_mac:.1f} % of MAC" for b in balances])
    row("CG sideways", [f"{mm(abs(b.cg_right))} {right_or_left(b.cg_right)}" for b in balances])
    row("moved item, and where it sits", [f"{b.moved_item}, {mm(b.item_station)}" for b in balances])
    row("CG that its tray allows", [f"{mm(b.reach[0])} to {mm(b.reach[1])}" for b in balances])
    row("neutral point, propeller off", [mm(b.neutral_point) for b in balances])
    for name, label in (
        ("static_margin", "static margin, propeller off"), ("static_margin_power", "static margin with power"),
        ("manoeuvre_margin", "manoeuvre margin with power"),
    ):  # fmt: skip
        row(label, [_spread(100.0 * s[name].value, 100.0 * s[name].sigma, "% of MAC") for s in spreads])
    row("elevator for one g more", [_elevator(s["elevator_per_g"]) for s in spreads])
    note = "+- is one standard deviation of what cannot be measured exactly (see How far to trust it)."
    return Table("Balance", ["", *results.comparison.setups], rows, [note])


def _spread(value: float, sigma: float, unit: str) -> str:
    return f"{number(value, '%')} +-{number(sigma, '%')} {unit}"


def _elevator(spread) -> str:
    pulled = math.degrees(-spread.value)
    return f"{abs(pulled):.2f} +-{math.degrees(spread.sigma):.2f} deg {'up' if pulled >= 0.0 else 'down'}"


def modes_table(results: Results) -> Table:
    """How each plane swings in level flight, hands off."""
    rows = []
    for name, balance in zip(results.comparison.setups, results.comparison.balances):
        for mode in balance.modes:
            fades = f"{mode.time_to_half_or_double:.3g} s to {'double' if mode.grows else 'half'}"
            period = f"{mode.period:.3g} s" if mode.oscillates else "no swing"
            rows.append(
                [f"{mode.name}, {name}", SEEN_AS.get(mode.name, "-"), period, number(mode.damping_ratio, ""), fades]
            )
    rows.sort(key=lambda row: row[0].rsplit(", ", 1)[0])
    speed = results.comparison.balances[0].airspeed
    head = ["mode", "what is seen", "period", "damping", "fades or grows"]
    return Table(f"How it swings in level flight at {speed:.0f} m/s, hands off", head, rows)


def measures_table(results: Results, manoeuvre: str) -> Table:
    """Every measure of a manoeuvre: values with the words for their signs, and how far to trust each."""
    names, rows, notes = results.comparison.setups, [], []
    for row in (row for row in results.comparison.rows if row.manoeuvre == manoeuvre):
        cells = []
        for name, value, reason in zip(names, row.values, row.reasons):
            if value is None:
                note = f"{name}: {reason}"
                notes += [note] if note not in notes else []
                cells.append(f"not taken ({notes.index(note) + 1})")
                continue
            word = meaning(row, value)
            shown = abs(value) if word else value
            cells.append(f"{number(shown, row.measure.unit)} {word}".strip())
        rows.append([row.measure.about, row.measure.unit or "-", *cells, trust_in(manoeuvre, row.measure.name).short])
    numbered = [f"({n}) {note}" for n, note in enumerate(notes, 1)]
    head = ["measure", "unit", *names, "trust"]
    return Table(f"Measures of {manoeuvre}", head, rows, numbered, words=2, numbers=len(names))


def account_table(setup: str, manoeuvre: str, why: Account) -> Table:
    """Moments by part over a phase, and what each was in level trim."""
    level = {part.part: part for part in why.level}
    rows = []
    for part in (*why.parts, why.swirl):
        before, cells = level.get(part.part), []
        for axis in ("pitch", "roll", "yaw"):
            cells.append(number(getattr(part, axis), "N m"))
            cells.append(number(getattr(before, axis), "N m") if before else "-")
        rows.append([part.part if before else "of it, swirl of the slipstream", *cells])
    head = ["part", "pitch", "pitch, level", "roll", "roll, level", "yaw", "yaw, level"]
    caption = f'Mean moments in N m about the CG over "{why.phase}" of {manoeuvre}, {setup}'
    return Table(caption, head, rows, numbers=6)


def rules_table(check: Check) -> Table:
    """Every rule of a setup, what was measured and how much room is left."""
    rows, marks, notes = [], {}, []
    for n, one in enumerate(check.judgements):
        unit = one.rule.measure.unit if one.rule.measure else ""
        word = meaning(one.rule.measure, one.value) if one.rule.measure else ""
        shown = measured_text(one).removeprefix("-") if word else measured_text(one)
        measured = " ".join(f"{shown} {unit if one.value is not None else ''} {word}".split())
        room = f"{headroom_text(one)} {unit}".strip() if one.headroom is not None else "-"
        rows.append([one.rule.name, WORDS[one.verdict], one.rule.part.severity, measured, limit_text(one), room])
        if not one.holds and one.reason:
            notes.append(f"{one.rule.name}: {one.reason}.")
        marks[n] = "" if one.holds else one.verdict.replace(" ", "-")
    head = ["rule", "verdict", "must or should", "measured", "allowed", "room left"]
    notes = (
        [f"Not for this way of flying: {', '.join(rule.name for rule in check.plan.skipped)}."]
        if check.plan.skipped
        else []
    )
    return Table(f"Rules of {check.name} ({' and '.join(check.plan.files)})", head, rows, notes, marks=marks)


def cure_tables(cure: Cure, setup: str) -> list[Table]:
    """What the options of a cure leave over, and their price."""
    letters = [letter for letter, _ in zip("ABCDEFG", cure.options)]
    tables = []
    for title, rows in (("What is left over", cure.left), ("Price", cure.price)):
        if rows:
            cells = [[row.what, row.unit or "-", *(_signed(row, value) for value in row.values)] for row in rows]
            head = ["", "unit", "as it is", *letters]
            caption = f"{title}: {cure.coupling}, {setup}"
            tables.append(Table(caption, head, cells, words=2, numbers=1 + len(letters)))
    return tables


def _signed(row: CureRow, value: float | None) -> str:
    shown = number(value, row.unit)
    if value is None or not row.positive or float(shown) == 0.0:
        return shown
    return f"{shown.removeprefix('-')} {row.positive if value > 0.0 else row.negative}"


def causes_words(cure: Cure) -> list[str]:
    """The causes of a coupling, a line for each thing that they turn."""
    lines = []
    for of in dict.fromkeys(cause.of for cause in cure.causes):
        named = [
            f"{cause.part} {number(abs(cause.moment), 'N m')} N m {cause.positive if cause.moment > 0.0 else cause.negative}"
            for cause in cure.causes if cause.of == of
        ]  # fmt: skip
        lines.append(f"{of}: {', '.join(named)}")
    return lines


def walk_table(walked: Walk) -> Table:
    """Every step of a walk of the CG aft."""
    rows = []
    for n, flown in enumerate(walked.flown):
        judged, broke = flown.judged, walked.broke(n)
        nominal = bool(judged.broken[0].any())
        kept = "-" if nominal else f"{judged.count - judged.bad} of {judged.count}"
        least = "-" if nominal else f"{100.0 * walked.least(n):.0f} %"
        words = "; ".join(one.limit if one.nominal else f"{one.limit} in {one.draws}" for one in broke) or "none"
        rows.append([flown.step.text, "yes" if walked.sound(n) else "no", kept, least, words])
    head = ["CG", "sound", "draws that kept every limit", "at least", "limits broken"]
    note = (
        f"Draws are flights with what nobody measures exactly a little off, seed {walked.plan.seed}; at least: of all like "
        f"these, at {100.0 * walked.plan.confidence:.0f} % confidence."
    )
    return Table(f"CG of {walked.plan.loaded.setup.name} walked aft", head, rows, [note])


def inputs_table(results: Results) -> Table:
    """How well what is measured on the bench is known: one standard deviation each."""
    rows: dict[str, list[str]] = {}
    for one in results.asked.loaded:
        for accuracy in accuracies_of(one.setup):
            name = re.sub(r"\bcg\b", "CG", accuracy.name)
            rows.setdefault(name, [name, accuracy.text, accuracy.how, accuracy.source])
    return Table("How well each input can be measured", ["input", "one sigma", "how", "source"], list(rows.values()))


def trust_table() -> Table:
    """How far to trust each group of measures."""
    rows = [[what, trust.words, trust.why] for what, trust in GROUPS.items()]
    return Table("How far each number holds", ["measure", "to within", "what decides it"], rows)
