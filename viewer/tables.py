"""The tables that the commands print."""

from __future__ import annotations

from scenarios.account import Account
from scenarios.compare import Comparison
from scenarios.differences import Difference
from scenarios.manoeuvres import Flown
from scenarios.measures import Taken
from scenarios.outcomes import outcome
from viewer.differences import file_rows, in_words
from viewer.text import WIDTH, in_blocks, number, table, wrapped
from viewer.words import at_once, causes, meaning, what_changed, wind_line

LONGEST_HEAD = 20  # characters of a setup's name above a column; a longer one is called by a letter


def fly_table(flown: Flown, taken: list[Taken], why: Account | None) -> str:
    """What `upline fly` prints."""
    flight = flown.flight
    ended = f"ended: {flight.ending}"
    if flight.ending != "completed":
        ended += f' in "{flown.manoeuvre.phases[flight.phase].name}"'
    if flight.bad:
        ended += f"; first bad quantity: {flight.bad}"
    lines = [f"{flown.manoeuvre.name} with {flown.setup.name} on {flown.setup.airframe.name}", ended]
    became = outcome(flown)
    if became is not None:
        lines.append(wrapped(became.words, "  ", ""))
    if flown.manoeuvre.start.wind is not None:
        lines.append(wrapped(wind_line(flown.manoeuvre.start.wind)))
    lines.append("")
    rows, notes = [], []
    for t in taken:
        rows.append([t.measure.name, number(t.value, t.measure.unit), t.measure.unit, meaning(t.measure, t.value)])
        if t.value is None:
            notes.append(f"{t.measure.name}: {t.reason}")
    width = max((len(r[0]) for r in rows), default=0)
    for t, (name, value, unit, word) in zip(taken, rows):
        note = "; ".join(filter(None, (word, t.measure.about)))
        lines.append(wrapped(f"{name.ljust(width)}  {value.rjust(7)} {unit.ljust(13)} {note}", " " * (width + 24), ""))
    lines += [""] * bool(notes) + [wrapped(note, "  ", "") for note in notes]
    if why is not None:
        lines += ["", why_table(why)]
        others = [f'"{p.name}"' for p in flown.manoeuvre.phases if p.name != why.phase]
        if others:
            lines += ["", wrapped("The same for another phase: --why with " + " or ".join(others) + ".")]
    return "\n".join(lines)


def why_table(why: Account) -> str:
    """Moments by part over a phase, with what each was in level trim."""
    level = {p.part: p for p in why.level}
    rows = []
    for p in [*why.parts, why.swirl]:
        before = level.get(p.part)
        cells = [p.part if before else "of it, slipstream swirl"]
        for axis in ("pitch", "roll", "yaw"):
            cells.append(number(getattr(p, axis), "N m"))
            cells.append(f"({number(getattr(before, axis), 'N m')})" if before else "")
        rows.append(cells)
    head = ["moment by part, N m", "pitch", "(level)", "roll", "(level)", "yaw", "(level)"]
    title = wrapped(
        f'Over "{why.phase}", mean moments about the CG; in brackets the same part in trimmed level flight. '
        "Pitch toward the canopy, roll right and yaw right are positive."
    )
    return "\n".join([title, "", table(head, rows), "", causes(why)])


def compare_tables(comparison: Comparison, found: list[Difference], inches: bool = False) -> str:
    """What `upline compare` prints, without the cautions; `found` is what differs in the files."""
    names, heads = comparison.setups, comparison.setups
    notes: list[str] = []
    lines: list[str] = []
    if max(map(len, names)) > LONGEST_HEAD:
        heads = [f"({chr(ord('A') + n)})" if n < 26 else f"({n})" for n in range(len(names))]
        lines = [*(f"{head} {name}" for head, name in zip(heads, names)), ""]

    def columns(cells: list[str], chosen: range, left: int) -> list[str]:
        return [*cells[:left], *(cells[left + n] for n in chosen)]

    def blocks(rows: list[list[str]]) -> list[str]:
        def block(chosen: range) -> str:
            return table(columns(["", *heads], chosen, 1), [columns(row, chosen, 1) for row in rows])

        return in_blocks(len(names), block) if rows else []

    lines += ["What differs in the files", ""]
    rows, long = file_rows(found, inches)
    for text in [*blocks(rows), *(in_words(field, heads, cells) for field, cells in long)] or ["nothing"]:
        lines += [text, ""]
    if balance_rows := _balance_rows(comparison, inches):
        lines += ["What that makes of the balance", ""]
        lines += [line for text in blocks(balance_rows) for line in (text, "")]
    for manoeuvre in dict.fromkeys(row.manoeuvre for row in comparison.rows):
        rows = []
        for row in (r for r in comparison.rows if r.manoeuvre == manoeuvre):
            cells = [row.measure.name, row.measure.unit]
            for name, value, reason in zip(names, row.values, row.reasons):
                shown = number(value, row.measure.unit)
                if value is None:
                    note = f"{name}: {reason}"
                    if note not in notes:
                        notes.append(note)
                    shown = f"- ({notes.index(note) + 1})"
                cells.append(shown)
            rows.append((cells, [meaning(row, v) for v in row.values]))
        endings = comparison.endings[manoeuvre]
        ended = (
            ""
            if set(endings) == {"completed"}
            else f"{manoeuvre}, how it ended: " + ", ".join(f"{n} {e}" for n, e in zip(names, endings))
        )

        def block(chosen: range, title: str = manoeuvre, rows: list = rows) -> str:
            some = [(columns(cells, chosen, 2), [words[n] for n in chosen]) for cells, words in rows]
            return _with_words(columns([title, "", *heads], chosen, 2), some)

        lines += [wrapped(ended, "  ")] if ended else []
        lines += [line for text in in_blocks(len(names), block) for line in (text, "")]
    lines += [wrapped(f"({n}) {note}", "    ", "") for n, note in enumerate(notes, 1)]
    lines += (
        [""] * bool(notes)
        + ["What changed", ""]
        + [wrapped(s, "  ", "- ") for s in (*what_changed(comparison), *at_once(found))]
    )
    return "\n".join(lines)


def _with_words(head: list[str], rows: list[tuple[list[str], list[str]]]) -> str:
    """A table of measure, unit, values, with the meaning of signs behind it where there is room, else below the row."""
    plain = table(head, [cells for cells, _ in rows], left=2).split("\n")
    room = WIDTH - max(len(line) for line in plain) - 2
    out = plain[:2]
    for line, (_, words) in zip(plain[2:], rows):
        same = len(set(words)) == 1
        text = "" if not any(words) else words[0] if same else " / ".join(word or "-" for word in words)
        out.append(f"{line}  {text}".rstrip() if len(text) <= room else line)
        if len(text) > room:
            out.append(wrapped(text, "    "))
    return "\n".join(out)


def _balance_rows(comparison: Comparison, inches: bool) -> list[list[str]]:
    balances = comparison.balances
    rows = [
        ["CG, mm behind the root leading edge", *(f"{1000 * b.cg:.0f}" for b in balances)],
        ["CG, in", *(f"{b.cg / 0.0254:.2f}" if inches else "" for b in balances)],
        ["CG, % of MAC", *(f"{100 * b.cg_mac:.1f}" for b in balances)],
        ["static margin, % of MAC", *(f"{100 * b.static_margin:.1f}" for b in balances)],
        ["mass, kg", *(f"{b.mass:.2f}" for b in balances)],
    ]
    return [row for row in rows if len(set(row[1:])) > 1]
