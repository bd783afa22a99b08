"""The card of a setup as text to take to the field, and as a document."""

from __future__ import annotations

from typing import Any

from scenarios.card import BALANCE, RIGGING, SERVOS, THROWS, Card, Row
from viewer.documents import quantity
from viewer.text import WIDTH, in_inches, number, wrapped

BLANK = "_______"
TITLES = {
    BALANCE: "Balance, from the wing root leading edge",
    THROWS: "Throws, and edge travel at the root end",
    RIGGING: "Thrust line, and incidence (nose up)",
    SERVOS: "Servos, and their turn at full throw",
}
TO_FIND = (
    "date, place, wind",
    "control directions checked",
    "CG as balanced, mm",
    "hover, throttle %",
    "level at cruise, elevator trim",
    "45-degree line drifts toward",
    "right knife edge pulls toward",
    "left knife edge pulls toward",
    "stall: wing that drops",
    "changed since",
)
LABEL, SET, TRAVEL, INCHES = 24, 13, 7, 13  # widths of columns


def card_text(card: Card, inches: bool = False) -> str:
    """What `upline card` prints, without the cautions."""
    purpose = f"for {card.way_of_flying}: {card.about}" if card.about else f"for {card.way_of_flying}"
    lines = [f"Setup card: {card.setup} on {card.airframe}", wrapped(purpose)]
    before = LABEL + SET + TRAVEL + 4 + (INCHES + 2 if inches else 0)
    for section in dict.fromkeys(row.section for row in card.rows):
        rows = [row for row in card.rows if row.section == section]
        if rows:
            title = TITLES.get(section, section)
            lines += ["", f"{title.ljust(before)}  {'found' if any(row.to_check for row in rows) else ''}".rstrip()]
            lines += [line for row in rows for line in _lines(row, inches)]
    lines += ["", "Found on the field", *(f"  {what.ljust(32)} {'_' * 40}" for what in TO_FIND)]
    return "\n".join(lines)


def value_of(row: Row) -> str:
    """The value as it is printed."""
    if row.value is None:
        return row.text
    shown = f"{row.value:.3f}" if row.unit == "s/60deg" else number(row.value, row.unit)
    return f"{shown} {row.unit}"


def travel_of(row: Row) -> str:
    """The travel at the trailing edge as it is printed; "" where there is none."""
    return "" if row.travel is None else f"{number(1000.0 * row.travel, 'mm')} mm"


def _lines(row: Row, inches: bool) -> list[str]:
    value = value_of(row)
    travel = travel_of(row)
    also = in_inches(travel or value).rjust(INCHES) + "  " if inches else ""
    blank = BLANK if row.to_check else ""
    if len(row.label) > LABEL or len(value) > SET:
        note = f"  ({row.note})" if row.note else ""
        return [wrapped(f"  {row.label}: {value}{note}{f'  {BLANK}' if blank else ''}", "    ", "")]
    line = f"{row.label.ljust(LABEL)}  {value.rjust(SET)}  {travel.rjust(TRAVEL)}  {also}{blank.ljust(len(BLANK))}"
    if len(line) + 2 + len(row.note) <= WIDTH:
        return [f"{line}  {row.note}".rstrip()]
    return [line.rstrip(), wrapped(row.note, " " * (LABEL + 2))]


def card_document(card: Card, files: list[str]) -> dict[str, Any]:
    """The document of `upline card`; its `file` is a setup file from which the same plane is built, `files` what was written."""
    rows = []
    for row in card.rows:
        entry: dict[str, Any] = {"section": row.section, "label": row.label.strip()}
        entry["set"] = row.text if row.value is None else quantity(row.value, row.unit)
        if row.travel is not None:
            entry["travel"] = quantity(1000.0 * row.travel, "mm")
        entry |= {key: value for key, value in (("note", row.note), ("field", " > ".join(row.path))) if value}
        rows.append(entry)
    return {
        "setup": card.setup,
        "airframe": card.airframe,
        "about": card.about,
        "way_of_flying": card.way_of_flying,
        "rows": rows,
        "file": card.file,
        "files": files,
    }
