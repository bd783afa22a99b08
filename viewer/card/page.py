"""The card of a setup as one page to print: what to set, where it is measured, what to fly first, and room for findings.

What does not fit is left out from the end, and the page says so; nothing is set smaller than can be read outdoors.
"""

from __future__ import annotations

from typing import BinaryIO

from scenarios.card import ALSO, BALANCE, MIXES, POWER, RIGGING, SERVOS, THROWS, Card, Row
from scenarios.first_flights import GROUND, SOURCE, first_flights
from sim.build import Plane
from viewer.card.entries import Entry, flow, in_degrees, not_here_height, running
from viewer.card.order import order_table
from viewer.card.paper import LARGE, PLAIN, SMALL, Paper, filled, pitch, shortened, width
from viewer.card.plan_view import LETTERS, draw_plan
from viewer.card.text import TITLES, travel_of, value_of
from viewer.words import CAUTIONS

LEFT = 106.0  # mm, of the balance and the throws; the plane from above stands beside them
ROW = 4.5  # mm, of a row with something to write
GAP = 1.6  # mm, between two blocks
NOTE_LINE = 5.5  # mm, of a blank line for findings
LEAST_NOTES = 1
ITEM = "item that is moved"
BEHIND = ("blade family", "propeller turns")  # told behind the row above
LISTED = (POWER, RIGGING, SERVOS, MIXES)  # a row each; of other sections everything runs on
LEAST_WANTED = (ALSO, "Linkages")  # on the field; left out first


def draw(made: Card, plane: Plane, paper: str, file: BinaryIO) -> None:
    """The card `made` of the built `plane` on a sheet "a4" or "letter", as a PDF."""
    page = Paper(paper)
    title = f"{made.setup} on {made.airframe}"
    y = heading(page, title, f"for {made.way_of_flying}{': ' * bool(made.about)}{made.about}")
    top = y
    y = _balance(page, y, made)
    y = _throws(page, y + GAP, made)
    draw_plan(page, plane, page.left + LEFT + 2.0, top, page.right - page.left - LEFT - 2.0, y - top - 4.0)
    page.text(
        page.right, y - 0.4, f"{', '.join(LETTERS.values())}: edge where a throw is measured", SMALL, align="right"
    )
    end = cautions(page)
    flights = [
        (f.check.title, f.check.how, f.check.well, f.check.back, f.found) for f in first_flights(made.way_of_flying)
    ]
    order = order_table(page, flights)
    room = end - order.height - _ground_height() - LEAST_NOTES * 4.0 - 3.0 * GAP - y
    y = _rest(page, y + GAP, made, room) + GAP
    y = _ground(page, y)
    y = order.draw(y) + GAP
    notes(page, y, end)
    page.save(file, f"Field card: {title}")


def heading(page: Paper, title: str, about: str) -> float:
    """What the page is of, blanks for the day; where the next block begins."""
    y = page.top + 5.0
    kind = "Field card"
    page.text(page.right, y, kind, PLAIN, align="right")
    room = page.right - page.left - width(kind, PLAIN) - 4.0
    size = next((s for s in (LARGE, 12.0, 10.0) if width(title, s, True) <= room), PLAIN)
    page.text(page.left, y, shortened(title, room, size, True), size, True)
    y += 4.6
    for line in filled(about, page.right - page.left)[:2]:
        page.text(page.left, y, line)
        y += pitch()
    y += 1.8
    x, each = page.left, (page.right - page.left) / 4.0
    for what in ("date", "place", "wind", "pilot"):
        page.text(x, y, what)
        page.line(x + width(what) + 1.2, y + 0.4, x + each - 3.0, y + 0.4, 0.5)
        x += each
    return y + 2.0


def title_line(page: Paper, x: float, y: float, words: str, right: float) -> float:
    """The title of a block over a rule; where its first row begins."""
    page.text(x, y + 3.2, words, PLAIN, True)
    page.line(x, y + 4.3, right, y + 4.3, 0.9)
    return y + 4.6


def _blank(page: Paper, x: float, right: float, y: float) -> None:
    page.line(x, y + 0.5, right, y + 0.5, 0.5)


def _balance(page: Paper, y: float, made: Card) -> float:
    """The CG, large, and where the item sits that is moved for it; `_aside` has the rest."""
    right = page.left + LEFT
    y = title_line(page, page.left, y, TITLES[BALANCE], right)
    page.text(right, y - 1.4, "found", SMALL, align="right")
    for row in (row for row in made.rows if row.section == BALANCE and row not in _aside(made)):
        first = row.label == "centre of gravity"
        if row.label == ITEM:
            y += ROW - 0.7
            page.text(page.left, y - 1.2, shortened(row.text, LEFT, SMALL, True), SMALL, True)
            continue
        y += ROW + 0.8 if first else ROW if row.to_check else ROW - 0.7
        inset = 2.0 if row.label.startswith("  ") else 0.0
        page.text(page.left + inset, y - 1.2, row.label.strip(), PLAIN if first else SMALL, first)
        page.text(page.left + 56.0, y - 1.2, in_degrees(value_of(row)), 12.0 if first else 10.0, True, "right")
        page.text(page.left + 58.0, y - 1.2, row.note)
        if row.to_check:
            _blank(page, right - 22.0, right, y - 1.2)
    return y


def _aside(made: Card) -> list[Row]:
    """Rows of the balance and of the throws that are told with what runs on."""
    return [row for row in made.rows if row.label.startswith("  moved ")]


def _throws(page: Paper, y: float, made: Card) -> float:
    """A row for each way of each control, its low rate beside it; what else belongs to the controls follows."""
    rows = [row for row in made.rows if row.section == THROWS]
    right = page.left + LEFT
    lows = any(row.label == "  on low rates" for row in rows)
    y = title_line(page, page.left, y, TITLES[THROWS], right)
    ends = (38.5, 55.5, 67.5, 85.0)  # mm: full throw and its travel, low rate and its travel
    if lows:
        page.text(page.left + ends[3] + 3.5, y - 1.4, "low rate", SMALL, align="right")
    page.text(right, y - 1.4, "found", SMALL, align="right")
    said: dict[str, list[str]] = {}
    for n, row in enumerate(rows):
        if row.label.startswith("  "):
            continue  # stands beside the row above
        control = row.label.split()[0]
        if row.travel is None:
            said.setdefault(control, []).append(f"{row.label.removeprefix(control).strip()} {value_of(row)}")
            continue
        y += ROW
        page.text(page.left, y - 1.2, LETTERS[control], SMALL, True)
        page.text(page.left + 4.5, y - 1.2, row.label)
        low = rows[n + 1] if n + 1 < len(rows) and rows[n + 1].label == "  on low rates" else None
        for one, at, travel_at in ((row, ends[0], ends[1]), (low, ends[2], ends[3])):
            if one is not None:
                page.text(page.left + at, y - 1.2, in_degrees(value_of(one)), 10.0, True, "right")
                page.text(page.left + travel_at, y - 1.2, travel_of(one), 10.0, True, "right")
        _blank(page, right - (17.0 if lows else 40.0), right, y - 1.2)
        if row.note:
            said.setdefault(control, []).append(row.note)
    lines = filled("; ".join(f"{LETTERS[control]} {', '.join(words)}" for control, words in said.items()), LEFT)
    for line in lines:
        y += pitch()
        page.text(page.left, y - 0.6, line)
    return y + 0.4


def _rest(page: Paper, y: float, made: Card, room: float) -> float:
    """Everything else that is set, in two columns, and what runs on below them; at most `room` mm of it."""
    entries: list[Entry] = []
    for section in LISTED:
        rows = [row for row in made.rows if row.section == section]
        entries += [Entry(TITLES.get(section, section), title=True)] * bool(rows)
        entries += _entries(rows)
    others = _aside(made) + [row for row in made.rows if row.section not in (*LISTED, BALANCE, THROWS)]
    others.sort(key=lambda row: LEAST_WANTED.index(row.section) if row.section in LEAST_WANTED else -1)
    sections = [row.section for row in made.rows]
    ended, missing = flow(page, y, entries, room - not_here_height(page, sections, made.setup))
    return running(page, ended, others, room - (ended - y), missing, made.setup)


def _entries(rows: list[Row]) -> list[Entry]:
    """An entry for each row; rows that belong to the one above are told behind it."""
    found: list[Entry] = []
    for row in rows:
        if found and (row.label.startswith("  ") or row.label in BEHIND):
            found[-1] = found[-1].with_more(f"{row.label.strip()} {in_degrees(value_of(row))} {row.note}".strip())
        else:
            label, value = row.label.removeprefix("mix "), in_degrees(value_of(row))
            found.append(Entry(label, value, in_degrees(row.note), row.to_check, section=row.section))
    return found


def _ground_height() -> float:
    return 4.6 + ROW * -(-len(GROUND) // 2) + GAP


def _ground(page: Paper, y: float) -> float:
    """What is checked before the first flight of a day, with boxes to tick."""
    y = title_line(page, page.left, y, f"On the ground, every day ({SOURCE})", page.right)
    half = 0.5 * (page.right - page.left)
    lines = -(-len(GROUND) // 2)
    for n, (words, found) in enumerate(GROUND):
        x, at = page.left + half * (n // lines), y + ROW * (n % lines + 1) - 1.2
        page.shape([(x, at - 2.4), (x + 2.6, at - 2.4), (x + 2.6, at + 0.2), (x, at + 0.2)])
        page.text(x + 4.0, at, words)
        if found:
            start = x + 4.0 + width(words) + 3.0
            page.text(start, at, found)
            _blank(page, start + width(found) + 1.0, x + half - 4.0, at)
    return y + ROW * lines + GAP


def notes(page: Paper, y: float, end: float) -> None:
    """Blank lines for findings from y down to `end`."""
    y += 3.0
    if y + 0.5 > end:
        return
    page.text(page.left, y, "Found, changed", PLAIN, True)
    page.line(page.left + width("Found, changed", PLAIN, True) + 1.5, y + 0.5, page.right, y + 0.5, 0.5)
    while y + NOTE_LINE <= end:
        y += NOTE_LINE
        page.line(page.left, y + 0.5, page.right, y + 0.5, 0.5)


def cautions(page: Paper) -> float:
    """The cautions at the foot of the page; where they begin."""
    lines = filled(CAUTIONS, page.right - page.left, SMALL, True)
    top = page.bottom - pitch() * len(lines)
    page.line(page.left, top - 1.0, page.right, top - 1.0, 0.9)
    for n, line in enumerate(lines, 1):
        page.text(page.left, top + pitch() * n - 0.8, line, SMALL, True)
    return top - 2.0
