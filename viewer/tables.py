"""The tables that the commands print."""

from __future__ import annotations

import math

from models.units import in_unit
from scenarios.account import Account
from scenarios.balance import Balance
from scenarios.compare import Comparison
from scenarios.manoeuvres import Flown
from scenarios.measures import Taken
from sim.description import Setup
from viewer.text import number, table, wrapped
from viewer.words import causes, meaning, what_changed


def _mm(metres: float) -> str:
    return f"{number(in_unit(metres, 'length', 'mm'), 'mm')} mm"


def _behind(station: float) -> list[str]:
    """A station as a distance and the word for its side."""
    return [_mm(abs(station)), f"{'behind' if station >= 0.0 else 'ahead of'} the wing root leading edge"]


def balance_table(name: str, airframe: str, b: Balance) -> str:
    """What `upline balance` prints."""
    margin = 100.0 * b.static_margin
    word = "stable" if margin > 0.0 else "CG behind the neutral point: unstable in pitch"
    rows = [
        ["mass", f"{b.mass:.2f} kg", f"wing loading {b.wing_loading:.1f} kg/m2"],
        ["centre of gravity", _mm(b.cg), f"{100.0 * b.cg_mac:.1f} % of MAC, behind the root leading edge"],
        ["neutral point", _mm(b.neutral_point), f"{100.0 * b.neutral_point_mac:.1f} % of MAC, stick fixed, power off"],
        ["static margin", f"{margin:.1f} %", f"of MAC; {word}"],
        [b.moved_item, *_behind(b.item_station)],
        ["  its tray reaches from", *_behind(b.tray[0])],
        ["  to", *_behind(b.tray[1])],
        ["  so the CG can go from", _mm(b.reach[0]), f"to {_mm(b.reach[1])}"],
        ["mean chord (MAC)", _mm(b.mac), f"its leading edge at {_mm(b.mac_leading_edge)}"],
        ["inertia", f"{b.inertia[0]:.2f}", f"roll; {b.inertia[1]:.2f} pitch, {b.inertia[2]:.2f} yaw, kg m2"],
    ]
    width = max(len(r[0]) for r in rows)
    lines = [f"{name} on {airframe}", ""]
    lines += [f"{a.ljust(width)}  {v.rjust(9)}  {note}" for a, v, note in rows]
    if b.estimated:
        lines += ["", wrapped("Estimated, not measured: " + ", ".join(b.estimated) + ".", "  ", "")]
    return "\n".join(lines)


def fly_table(flown: Flown, taken: list[Taken], why: Account | None) -> str:
    """What `upline fly` prints."""
    flight = flown.flight
    ended = f"ended: {flight.ending}"
    if flight.ending != "completed":
        ended += f' in "{flown.manoeuvre.phases[flight.phase].name}"'
    if flight.bad:
        ended += f"; first bad quantity: {flight.bad}"
    lines = [f"{flown.manoeuvre.name} with {flown.setup.name} on {flown.setup.airframe.name}", ended, ""]
    rows, notes = [], []
    for t in taken:
        rows.append([t.measure.name, number(t.value, t.measure.unit), t.measure.unit, meaning(t.measure, t.value)])
        if t.value is None:
            notes.append(f"{t.measure.name}: {t.reason}")
    width = max((len(r[0]) for r in rows), default=0)
    for t, (name, value, unit, word) in zip(taken, rows):
        note = word or t.measure.about
        lines.append(wrapped(f"{name.ljust(width)}  {value.rjust(7)} {unit.ljust(13)} {note}", " " * (width + 25), ""))
    lines += [""] * bool(notes) + [wrapped(note, "  ", "") for note in notes]
    if why is not None:
        lines += ["", why_table(why)]
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


def compare_tables(setups: list[Setup], comparison: Comparison) -> str:
    """What `upline compare` prints, without the cautions."""
    names = comparison.setups
    lines = ["What differs in the setups", "", table(["", *names], _setup_rows(setups, comparison)), ""]
    notes: list[str] = []
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
            words = [meaning(row, v) for v in row.values]
            cells.append(
                "" if not any(words) else words[0] if len(set(words)) == 1 else " / ".join(w or "-" for w in words)
            )
            rows.append(cells)
        endings = comparison.endings[manoeuvre]
        ended = (
            "" if set(endings) == {"completed"} else "  (" + ", ".join(f"{n} {e}" for n, e in zip(names, endings)) + ")"
        )
        lines += [_with_words([manoeuvre + ended, "", *names], rows), ""]
    lines += [wrapped(f"({n}) {note}", "    ", "") for n, note in enumerate(notes, 1)]
    lines += [""] * bool(notes) + ["What changed", ""] + [wrapped(s, "  ", "- ") for s in what_changed(comparison)]
    return "\n".join(lines)


def _with_words(head: list[str], rows: list[list[str]]) -> str:
    """A table of measure, unit, values, with the meaning of signs behind it where there is room, else below the row."""
    plain = table(head, [r[:-1] for r in rows], left=2).split("\n")
    room = 80 - max(len(line) for line in plain) - 2
    out = plain[:2]
    for line, row in zip(plain[2:], rows):
        out.append(f"{line}  {row[-1]}".rstrip() if len(row[-1]) <= room else line)
        if len(row[-1]) > room:
            out.append(f"    {row[-1]}")
    return "\n".join(out)


def _setup_rows(setups: list[Setup], comparison: Comparison) -> list[list[str]]:
    def degrees(value: float) -> str:
        return f"{math.degrees(value):.0f}"

    rows = [
        ["CG, mm behind the root leading edge", *(f"{1000 * b.cg:.0f}" for b in comparison.balances)],
        ["CG, % of MAC", *(f"{100 * b.cg_mac:.1f}" for b in comparison.balances)],
        ["static margin, % of MAC", *(f"{100 * b.static_margin:.1f}" for b in comparison.balances)],
    ]
    for stick in ("aileron", "elevator", "rudder"):
        throws = [s.throws[stick] for s in setups]
        rows.append([f"{stick} throw, deg", *(f"{degrees(t.positive)}/{degrees(t.negative)}" for t in throws)])
        rows.append([f"{stick} exponential, %", *(f"{100 * t.exponential:.0f}" for t in throws)])
    rows.append(["propeller, in", *(_propeller(s) for s in setups)])
    return [row for row in rows if len(set(row[1:])) > 1 or len(setups) == 1]


def _propeller(setup: Setup) -> str:
    p = setup.propeller
    blades = f"x{p.blades}" if p.blades != 2 else ""
    return f"{p.diameter / 0.0254:g}x{p.pitch / 0.0254:g}{blades}"
