"""What is set, as entries of a page: a name, its value in bold, a blank to write what was found, a note."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from scenarios.card import WAYS, Row
from viewer.card.paper import PLAIN, SMALL, Paper, filled, pitch, width
from viewer.card.text import value_of

BETWEEN = 5.0  # mm, between two columns
TAB = 30.0  # mm, where values begin beside short names
BLANK = 15.0  # mm, to write into
TALL = 4.1  # mm, of a line of an entry
OWNERS = ("servos", *WAYS)
Runs = list[tuple[str, bool]]  # (word, whether bold)


def in_degrees(text: str) -> str:
    """The text with degrees as their sign."""
    return re.sub(r"(?<=[0-9]) ?deg\b(?!/)", "\N{DEGREE SIGN}", text)


@dataclass(frozen=True)
class Entry:
    """One thing that is set, or the title of those below it."""

    label: str
    value: str = ""
    note: str = ""
    blank: bool = False
    title: bool = False
    section: str = ""

    def with_more(self, words: str) -> Entry:
        """The same with `words` behind its note."""
        return replace(self, note="; ".join(filter(None, (self.note, words))))

    def lines(self, room: float) -> list[Runs]:
        """Its words in lines of at most `room` mm."""
        if self.title:
            return [[(self.label, True)]]
        words = [(w, False) for w in self.label.split()] + [(w, True) for w in self.value.split()]
        words += [(w, False) for w in self.note.split()]
        return _broken(words, room - (BLANK + 2.0) * self.blank, len(self.label.split()))


def _size(bold: bool) -> float:
    return PLAIN if bold else SMALL


def _space() -> float:
    return width("a b") - width("ab")


def _broken(words: Runs, room: float, named: int) -> list[Runs]:
    """`words` in lines; `named` of them are the name, behind which the value begins at the tab where there is room."""
    lines: list[Runs] = [[]]
    at = 0.0
    for n, (word, bold) in enumerate(words):
        for part in filled(word, room, _size(bold), bold):
            wide = width(part, _size(bold), bold)
            start = max(at, TAB) if n == named and len(lines) == 1 else at
            if lines[-1] and start + wide > room:
                lines.append([])
                start = 0.0
            lines[-1].append((part, bold))
            at = start + wide + _space()
    return lines


def flow(page: Paper, y: float, entries: list[Entry], room: float) -> tuple[float, list[str]]:
    """The entries in two columns from y, at most `room` mm tall: where they end, and the sections of those that did not fit."""
    wide = 0.5 * (page.right - page.left - BETWEEN)
    heights = [TALL * len(entry.lines(wide)) + (1.0 if entry.title else 0.0) for entry in entries]
    tall = 0.5 * sum(heights)
    while _columns(entries, heights, tall)[-1] < len(entries) and tall < room:
        tall = min(tall + 0.5, room)
    first, last = _columns(entries, heights, min(tall, room))
    ends = [y]
    for x, chosen in ((page.left, range(first)), (page.left + wide + BETWEEN, range(first, last))):
        at = y
        for n in chosen:
            _draw(page, x, at, entries[n], wide)
            at += heights[n]
        ends.append(at)
    return max(ends), [entry.section for entry in entries[last:] if not entry.title]


def _columns(entries: list[Entry], heights: list[float], tall: float) -> list[int]:
    """Behind which entry either column ends; no title stands alone at a foot."""
    ends, n = [], 0
    for _ in range(2):
        used = 0.0
        while n < len(entries) and used + heights[n] <= tall:
            used += heights[n]
            n += 1
        if 0 < n < len(entries) and entries[n - 1].title:
            n -= 1
        ends.append(n)
    return ends


def _draw(page: Paper, x: float, y: float, entry: Entry, wide: float) -> None:
    if entry.title:
        page.text(x, y + 3.8, entry.label, PLAIN, True)
        page.line(x, y + 4.9, x + wide, y + 4.9, 0.9)
        return
    named = len(entry.label.split())
    count = 0
    for row, runs in enumerate(entry.lines(wide)):
        at = 0.0
        for word, bold in runs:
            if count == named and row == 0:
                at = max(at, TAB)
            page.text(x + at, y + TALL * (row + 1) - 0.6, word, _size(bold), bold)
            at += width(word, _size(bold), bold) + _space()
            count += 1
    if entry.blank:
        page.line(x + wide - BLANK, y + TALL, x + wide, y + TALL, 0.5)


def running(page: Paper, y: float, rows: list[Row], room: float, missing: list[str], setup: str) -> float:
    """Rows that run on as one paragraph, at most `room` mm; then what found no place, the sections `missing` first."""
    wide = page.right - page.left
    kept = len(rows)
    if missing or len(_paragraph(rows, wide)) > int(room / pitch()):
        lines = int((room - 0.6) / pitch()) - len(_not_here([*missing, *(row.section for row in rows)], setup, wide))
        kept = next((n for n in range(len(rows), 0, -1) if len(_paragraph(rows[:n], wide)) <= lines), 0)
        missing = [*missing, *(row.section for row in rows[kept:])]
    for line in _paragraph(rows[:kept], wide):
        y += pitch()
        page.text(page.left, y, line)
    if missing:
        y += 0.6
        for line in _not_here(missing, setup, wide):
            y += pitch()
            page.text(page.left, y, line, SMALL, True)
    return y + 0.8


def not_here_height(page: Paper, sections: list[str], setup: str) -> float:
    """The most that it takes to say what found no place, mm."""
    return pitch() * len(_not_here(sections, setup, page.right - page.left)) + 1.4


def _not_here(sections: list[str], setup: str, wide: float) -> list[str]:
    """What is said of the rows, one of `sections` each, that found no place."""
    counted = ", ".join(f"{section} ({sections.count(section)})" for section in dict.fromkeys(sections))
    return filled(
        f"NOT ALL IS HERE, for want of room: {counted}. upline card {setup} --text has it.", wide, SMALL, True
    )


def _paragraph(rows: list[Row], wide: float) -> list[str]:
    """The lines of a paragraph that has the rows, section by section."""
    sections = dict.fromkeys(row.section for row in rows)
    told = [f"{section}: {_told([row for row in rows if row.section == section])}." for section in sections]
    return filled(" ".join(told), wide)


def _told(rows: list[Row]) -> str:
    """Rows one behind the other; what they belong to is said once."""
    text, before = "", []
    for row in rows:
        words = row.label.strip().replace(" > ", " ").split()
        of = [word for word in words[:-1] if word in OWNERS]
        same = of and of == before
        told = [word for word in words if not (word in OWNERS and (same or word in before))]
        note = f" ({in_degrees(row.note)})" if row.note else ""
        text += (", " if same else "; ") * bool(text) + f"{' '.join(told)} {in_degrees(value_of(row))}{note}"
        before = of
    return text
