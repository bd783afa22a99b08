"""What `upline cures` prints, and its document."""

from __future__ import annotations

import textwrap
from itertools import zip_longest
from typing import Any

from scenarios.cures.report import Cause, Cure, Row
from viewer.documents import quantity
from viewer.text import WIDTH, number, table, wrapped

LABEL, CHANGE = 24, 30  # characters of what an option is for and of its change, in the short table
SIGNS = (
    "Positive: elevator up, aileron and rudder right, pitch toward the canopy, roll and yaw right; in rolls, toward "
    "the side of the aileron stick. As a setup file would be edited; nothing has been changed in yours."
)


def cures_table(name: str, airframe: str, found: list[Cure]) -> str:
    """All cures, one after another."""
    parts = [f"Cures for {name} on {airframe}\n\n{wrapped(SIGNS)}", _in_short(found)]
    for n, cure in enumerate(found):
        last = n + 1 == len(found) or found[n + 1].group != cure.group
        parts.append(_cure(cure) + ("\n" + wrapped("trust: " + cure.trust, "  ", "- ") if last else ""))
    return "\n\n".join(part for part in parts if part)


def _in_short(found: list[Cure]) -> str:
    """One table: every cure, and the measure that it was made for (flown, but for rolls), before and after."""
    rows: list[list[str]] = []
    titles: dict[int, str] = {}  # by the row they stand above
    for cure in found:
        titles[len(rows)] = cure.coupling + (": no cure, see below" if cure.reason else "")
        rows += [[""] * 5] if cure.reason else []
        for letter, option in zip("ABCDEFG", cure.options):
            row = cure.left[option.made_for]
            now, then = row.values[0], row.values[1 + cure.options.index(option)]
            label = textwrap.wrap(f"  ({letter}) {option.label}", LABEL, subsequent_indent="      ")
            change = textwrap.wrap(option.change, CHANGE) + textwrap.wrap(option.warning, CHANGE)
            rows.append([label[0], change[0], number(now, row.unit), number(then, row.unit), row.unit])
            for below, under in zip_longest(label[1:], change[1:], fillvalue=""):
                rows.append([below, under, "", "", ""])
    head, rule, *lines = table(["in short", "change", "as it is", "cured", ""], rows, left=2).split("\n")
    out = [head, rule]
    for n, line in enumerate(lines):
        out += [text for text in (titles.get(n, ""), line) if text]
    return "\n".join(out)


def _cure(cure: Cure) -> str:
    title = cure.coupling[0].upper() + cure.coupling[1:]
    lines = [title, "=" * len(title)]
    for of in dict.fromkeys(cause.of for cause in cure.causes):
        named = [_cause(cause) for cause in cure.causes if cause.of == of]
        lines.append(wrapped(f"cause, {of}: {', '.join(named)}", "  ", ""))
    if cure.reason:
        lines += ["", wrapped(f"No cure: {cure.reason}.".replace("..", "."), "  ", "")]
        return "\n".join(lines)
    lines.append("")
    for letter, option in zip("ABCDEFG", cure.options):
        lines += [wrapped(f"({letter}) {option.label}", "    ", ""), wrapped(option.edit, "      ", "    ")]
        amounts = ", ".join(f"{what} {number(value, unit)} {unit}".rstrip() for what, value, unit in option.amounts)
        lines.append(wrapped(amounts, "    "))
    heads = ["as it is", *(f"({letter})" for letter, _ in zip("ABCDEFG", cure.options))]
    lines += ["", _rows("left over", heads, cure.left), "", _rows("price", heads, cure.price), ""]
    lines += [wrapped(note, "  ", "- ") for note in cure.notes]
    return "\n".join(lines).rstrip()


def _cause(cause: Cause) -> str:
    word = cause.positive if cause.moment > 0.0 else cause.negative
    return f"{cause.part} {number(abs(cause.moment), 'N m')} N m {word}"


def _rows(title: str, heads: list[str], rows: list[Row]) -> str:
    """A table whose first column is broken into lines where it would not fit beside the numbers."""
    cells = [[number(value, row.unit) for value in row.values] for row in rows]
    wide = [max(len(line[i]) for line in [heads, *cells]) for i in range(len(heads))]
    units = max((len(row.unit) for row in rows), default=0)
    room = WIDTH - sum(wide) - 2 * len(wide) - units - 2
    body: list[list[str]] = []
    for row, line in zip(rows, cells):
        *above, last = textwrap.wrap(row.what, room, subsequent_indent="  ")
        body += [[text, "", *([""] * len(heads))] for text in above] + [[last, row.unit, *line]]
    return table([title, "", *heads], body, left=2)


def cures_document(name: str, airframe: str, found: list[Cure]) -> dict[str, Any]:
    """The document of `upline cures`."""
    return {"setup": name, "airframe": airframe, "signs": SIGNS, "cures": [_document(cure) for cure in found]}


def _document(cure: Cure) -> dict[str, Any]:
    return {
        "group": cure.group,
        "coupling": cure.coupling,
        "causes": [{"of": c.of, "part": c.part, "moment": quantity(c.moment, "N m")} for c in cure.causes],
        "options": [
            {
                "for": option.label,
                "setup_file": option.edit,
                "warning": option.warning or None,
                "amounts": {what: quantity(value, unit) for what, value, unit in option.amounts},
            }
            for option in cure.options
        ],
        "left_over": [_row(row) for row in cure.left],
        "price": [_row(row) for row in cure.price],
        "notes": cure.notes,
        "reason": cure.reason or None,
        "trust": cure.trust,
    }


def _row(row: Row) -> dict[str, Any]:
    now, *then = row.values
    out: dict[str, Any] = {"what": row.what, "as_it_is": quantity(now, row.unit)}
    out["under_each_option"] = [quantity(value, row.unit) for value in then]
    if row.positive:
        out["positive"], out["negative"] = row.positive, row.negative
    return out
