"""The propeller bench as a table of 80 columns with a few sentences, and as a JSON document."""

from __future__ import annotations

from typing import Any

from scenarios.bench.propeller import Benched, Row, rows_for
from scenarios.bench.propeller_checks import COMPARED, MACH, REYNOLDS
from sim.description import Setup
from viewer.documents import quantity
from viewer.map_tables import Footnotes
from viewer.text import in_blocks, table, wrapped

LOUD = 0.6  # tip Mach number (common practice, no source)
UNBRAKED = "braking at a higher advance ratio than was checked (1.3 times that of zero thrust)"
HEADINGS = {  # what a heading that a pilot may not know stands for
    "current it asks for": "at full throttle standing still, through the motor, as if there were no current limit; "
    "all other values keep to the limit",
    "static, of peak-power rpm": "static speed in % of the engine's speed of peak power",
    "left at top speed": "how far the engine's speed in level flight at full throttle stays below the end of its torque "
    "map",
    "weight per % stick": "change of thrust per 1 % of throttle stick about the hover, in % of the plane's weight: small "
    "is fine",
    "pitch speed, static rpm": "static speed times pitch, as it is often quoted; in flight the propeller turns faster and "
    "its camber pulls on: thrust ends at the speed in the next line",
    "gyro, 180 deg/s, full": "moment that swings the nose to the side when the plane pitches at 180 deg/s with "
    "full rpm: of all that turns",
    "10 to 90 % up": "of the step in rotor speed from idle to full throttle and back, the plane held",
}


def said(row: Row, airspeed: float) -> str:
    """The heading of a row."""
    return row.heading.format(airspeed=f"{airspeed:.4g} m/s")


def shown(value: float, row: Row) -> str:
    """A value with the decimals of its row; never "-0.0"."""
    text = f"{value:.{row.decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def propeller_text(setup: Setup, found: list[Benched], airspeed: float) -> str:
    """What `upline bench propeller` prints, without the cautions."""
    rows, notes = rows_for(setup), Footnotes()
    marks = ["".join(notes.mark(text) for text in [b.cannot_run, *b.unchecked] if text) for b in found]
    cells = [[_cell(b, row, notes) for b in found] for row in rows]
    units = [row.unit for row in rows]
    mixed = len({b.propeller.family.name for b in found}) > 1

    def block(chosen: range) -> str:
        head = ["", "", *(found[n].size + ("*" if found[n].own else "") for n in chosen)]
        families = ["blades", "", *(found[n].propeller.family.name for n in chosen)]
        body = [[said(row, airspeed), unit, *(line[n] for n in chosen)] for row, unit, line in zip(rows, units, cells)]
        under = ["not checked", "", *(marks[n] for n in chosen)]
        rest = [under] if any(marks[n] for n in chosen) else []
        return table(head, [*([families] if mixed else []), *body, *rest], left=2)

    title = f"propellers for {setup.name} on {setup.airframe.name}"
    blades = "" if mixed else f"blades: {found[0].propeller.family.name}"
    own = "* as it is in the setup" if any(b.own for b in found) else ""
    under = "; ".join(filter(None, (blades, own)))
    parts = [
        "\n".join(filter(None, (title, under))),
        *in_blocks(len(found), block),
        "\n".join(wrapped(line, "    ", "") for line in notes.lines()),
        "\n".join(wrapped(f"{heading}: {text}.", "  ", "") for heading, text in _explained(rows)),
        "\n".join(wrapped(line, "  ", "- ") for line in sentences(setup, found)),
        "\n".join(wrapped(line, "  ", "") for line in checked(found)),
    ]
    return "\n\n".join(filter(None, parts))


def _cell(b: Benched, row: Row, notes: Footnotes) -> str:
    if b.cannot_run:
        return "-"
    reading = b.readings[row.name]
    if reading.value is None:
        return f"- {notes.mark(reading.reason)}"
    beyond = notes.mark(UNBRAKED) if row.name in b.braking_unchecked else ""
    return f"{shown(reading.value, row)} {beyond}".rstrip()


def _explained(rows: list[Row]) -> list[tuple[str, str]]:
    headings = [row.heading for row in rows]
    return [(heading, text) for heading, text in HEADINGS.items() if heading in headings]


# ---- sentences ---------------------------------------------------------------------------------------------------------


def sentences(setup: Setup, found: list[Benched]) -> list[str]:
    """Which propeller is best at what, and what to watch, in plain words."""
    lines = []
    running = [b for b in found if not b.cannot_run]
    for name, text, most, unit in (
        ("static_thrust", "Most static thrust", True, "N"),
        ("top_speed", "Highest level top speed", True, "m/s"),
        ("vertical_climb", "Fastest vertical climb", True, "m/s"),
        ("down_line", "Most braking: the slowest down-line at idle", False, "m/s"),
        ("hover_fineness", "Finest throttle in the hover", False, "% of the weight per 1 % of stick"),
        ("hover_endurance", "Longest hover", True, "min"),
        ("inertia", "Highest inertia", True, "kg cm2"),
        ("spool_up", "Slowest to full rpm", True, "s"),
        ("gyroscopic_moment", "Strongest gyroscopic swing, pitching 180 deg/s at full throttle", True, "N m"),
    ):
        values = [(b[name], b.size) for b in running if b[name] is not None]
        ranked = sorted(values, reverse=most)
        if values and ranked[0][0] != ranked[-1][0]:
            best, last = ranked[0], ranked[-1]
            places = 2 if name in ("hover_fineness", "spool_up", "gyroscopic_moment") else 1
            lines.append(
                f"{text}: {best[1]} with {best[0]:.{places}f} {unit} (other end: {last[1]}, {last[0]:.{places}f})."
            )
    return lines + _watch(running) + [f"{b.size} cannot be run: {b.cannot_run}." for b in found if b.cannot_run]


def _watch(running: list[Benched]) -> list[str]:
    lines = []

    def those(test) -> str:
        return ", ".join(b.size for b in running if test(b))

    over = those(lambda b: (b["current_left"] or 0.0) < 0.0)
    if over:
        lines.append(
            f"Watch the current: more than the limit is asked for at full throttle by {over}. Here the controller holds it "
            "to the limit and thrust is what is left; a real one may cut out or "
            "burn."
        )
    near = those(lambda b: b["current_left"] is not None and 0.0 <= b["current_left"] < 10.0)
    if near:
        lines.append(f"Watch the current: within 10 % of the limit with {near}.")
    quick = those(lambda b: (b["rpm_left"] if b["rpm_left"] is not None else 1.0) < 0.0)
    if quick:
        lines.append(f"Watch the engine: past the end of its torque map in level flight at full throttle with {quick}.")
    weak = those(lambda b: b["thrust_over_weight"] <= 1.0)
    if weak:
        lines.append(f"No hover and no vertical climb, for thrust is less than the plane weighs: {weak}.")
    fast = those(lambda b: max(b["tip_mach"], b["tip_mach_fast"] or 0.0) > MACH)
    if fast:
        lines.append(
            f"Watch the tips: beyond Mach {MACH:g} with {fast}: loud, and real thrust and top speed are less than shown, "
            "for compressibility is left out."
        )
    loud = those(lambda b: LOUD < max(b["tip_mach"], b["tip_mach_fast"] or 0.0) <= MACH)
    if loud:
        lines.append(f"Noise: tips between Mach {LOUD:g} and {MACH:g}, which is loud (common practice), with {loud}.")
    lines.append(
        "The plane's mass and CG are left as they are: another propeller's mass needs the battery or another item moved. "
        "Clearance to the ground, and what rpm the maker allows for the blades, are not seen here."
    )
    return lines


def checked(found: list[Benched]) -> list[str]:
    """Against what these propellers' families were held, and how far from it they run."""
    lines = []
    for name in dict.fromkeys(b.propeller.family.name for b in found):
        facts = COMPARED.get(name)
        if facts is None:
            lines.append(f"{name}: a blade family of your own, compared with nothing.")
            continue
        text = f"{name}: compared with wind-tunnel runs of {facts.sizes}" if facts.sizes else f"{name}: shape compared"
        lines.append(text + ("; held out: " if facts.sizes else " only with ") + facts.held_out + ".")
    most = [b.reynolds for b in found if not b.cannot_run]
    if most and max(most) > REYNOLDS:
        lines.append(
            f"Blades run here at Reynolds numbers of {_large(min(most))} to {_large(max(most))} (three quarters of the "
            f"radius, static); the tunnel runs end at {_large(REYNOLDS)}. Drag at low lift falls with it by the law of "
            "the sections; large propellers at full rpm were not compared with measurements."
        )
    return lines


def _large(number: float) -> str:
    return f"{round(number, -4):,.0f}".replace(",", " ")


# ---- JSON --------------------------------------------------------------------------------------------------------------


def propeller_document(setup: Setup, found: list[Benched], airspeed: float) -> dict[str, Any]:
    """The document of `upline bench propeller`."""
    return {
        "setup": setup.name,
        "airframe": setup.airframe.name,
        "airspeed": quantity(airspeed, "m/s"),
        "propellers": [_one(setup, b) for b in found],
        "sentences": sentences(setup, found),
        "checked": checked(found),
    }


def _one(setup: Setup, b: Benched) -> dict[str, Any]:
    p = b.propeller
    out: dict[str, Any] = {
        "propeller": b.size,
        "in_the_setup": b.own,
        "diameter": quantity(1000.0 * p.diameter, "mm"),
        "pitch": quantity(1000.0 * p.pitch, "mm"),
        "blades": p.blades,
        "blade_family": p.family.name,
        "not_checked": b.unchecked + ([UNBRAKED] if b.braking_unchecked else []),
    }
    if b.cannot_run:
        return out | {"cannot_run": b.cannot_run}
    out["reynolds_number"] = quantity(b.reynolds, "")
    for row in rows_for(setup):
        reading = b.readings[row.name]
        out[row.name] = quantity(reading.value, row.unit) | ({"reason": reading.reason} if reading.reason else {})
    return out
