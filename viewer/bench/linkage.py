"""The linkage bench in words and tables."""

from __future__ import annotations

import math

from models.units import in_unit
from scenarios.bench.linkage import NEAR_DEAD, SLOP_AIM, Bench, Mismatch, Place, edge_travel
from scenarios.bench.linkage_holes import Holes
from sim.linkage import rod_length
from viewer.text import number, table, wrapped

SIDES = {"aileron": ("up", "down"), "elevator": ("up", "down"), "rudder": ("right", "left")}
ENDS = {"servo": "the servo's travel", "horn": "horn and rod in line", "arm": "arm and rod in line"}
ROWS, ROWS_OF_CANNOT = 12, 8  # of the tables of holes
TRIM_ROOM = math.radians(5.0)  # of servo (common practice, no source)


def deg(value: float | None, decimals: int = 1) -> str:
    """An angle in rad as degrees, a dash for None."""
    return "-" if value is None else _plain(math.degrees(value), decimals)


def mm(value: float, decimals: int = 0) -> str:
    """A length in m as millimetres."""
    return _plain(in_unit(value, "length", "mm"), decimals)


def _plain(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text.lstrip("-") if float(text) == 0.0 else text


def bench_text(setup: str, plane: str, b: Bench) -> str:
    """One control's bench."""
    return "\n".join(
        [*_opening(setup, plane, b), "", _stick_table(b), "", *_reading(b), "", _places(b), "", *_notes(b)]
    )


def _opening(setup: str, plane: str, b: Bench) -> list[str]:
    link, up, down = b.linkage, *SIDES[b.control]
    exponential = number(100.0 * b.throw.exponential, "")
    said = [
        f"{b.control} of {setup} on {plane}",
        wrapped(
            f"arm {mm(link.arm, 1)} mm, horn {mm(link.horn, 1)} mm, rod {mm(b.rod_length, 1)} mm from hole to hole; "
            f"throws {deg(b.throw.positive)} deg {up}, {deg(b.throw.negative)} deg {down}, "
            f"exponential {exponential.removesuffix('.00')} %"
        ),
        wrapped(
            f"servo used: {deg(b.positive.servo)} deg for {up}, {deg(-b.negative.servo)} deg for {down}, "
            f"of {deg(link.travel)} deg each way; the most it gives: "
            + ", ".join(f"{deg(a)} deg {side} ({ENDS[end]})" for side, (a, end) in zip((up, down), b.ends))
        ),
    ]
    if link.estimated:
        said.append(wrapped(f"estimated, not measured: {', '.join(link.estimated)}"))
    return said


def _stick_table(b: Bench) -> str:
    up, _ = SIDES[b.control]
    rows = [
        [
            _plain(100.0 * p.stick, 0),
            deg(p.servo),
            deg(p.surface),
            mm(edge_travel(b.chord, p.surface), 1),
            deg(p.straight),
            _plain(p.rate, 2),
            _plain(1.0 / p.rate, 2),
        ]
        for p in b.points[::4]
    ]
    head = ["stick %", "servo deg", "surface deg", "edge mm", "straight deg", "deg per deg", "leverage"]
    return f"(+ is {up}{', on the right aileron' if b.control == 'aileron' else ''})\n" + table(head, rows, left=0)


def _reading(b: Bench) -> list[str]:
    where = f"at {_plain(100.0 * b.chord_at, 0)} % of the {'span' if b.control == 'rudder' else 'half-span'}"
    said = [
        f"edge: straight from the neutral trailing edge to the deflected one, at the largest chord behind the hinge "
        f"line, {mm(b.chord)} mm {where}{_ruler(b)}.",
        "straight: without a linkage; deg per deg: surface per servo; leverage: torque at the surface over the servo's, "
        "without friction.",
    ]
    return [wrapped(s, "  ", "") for s in said]


def _ruler(b: Bench) -> str:
    """What the ruler's millimetres at the larger throw pass for by the formulas that are about; "" if nothing is lost."""
    throw = max(b.throw.positive, b.throw.negative)
    h = edge_travel(b.chord, throw)
    tangent = math.atan(h / b.chord)
    sine = math.asin(h / b.chord) if h <= b.chord else None
    if throw - tangent < math.radians(1.0):
        return ""
    by_sine = "no angle at all" if sine is None else f"{deg(sine, 0)} deg"
    return f"; from {mm(h, 1)} mm a tangent would make {deg(tangent, 0)} deg and a sine {by_sine}, where it is {deg(throw, 0)}"


def _places(b: Bench) -> str:
    up, down = SIDES[b.control]
    places = (b.centre, b.positive, b.negative)

    def row(name: str, value) -> list[str]:
        return [name, *(value(p) for p in places)]

    rows = [
        row("one link step, deg", lambda p: deg(p.step, 3)),
        row("one link step, edge mm", lambda p: mm(b.chord * p.step, 2)),
        row("time from neutral without load, s", lambda p: _plain(p.time, 3)),
        row("leverage", lambda p: _plain(p.leverage, 2)),
    ]
    if b.centre.torque is not None:
        rows.append(row("torque at the surface, N m", lambda p: _plain(p.torque, 2)))
    rows += [
        row("play of the gears, deg", lambda p: deg(p.gear_slop, 2)),
        row("play of the rod, deg", lambda p: deg(p.rod_slop, 2)),
        row("play together, deg", lambda p: deg(p.slop, 2)),
        row("play together, edge mm", lambda p: mm(b.chord * p.slop, 1)),
        ["servo left to a dead point, deg", "", *(deg(a) for a in b.dead)],
    ]
    return table(["", "centre", f"full {up}", f"full {down}"], rows)


def _notes(b: Bench) -> list[str]:
    said = [_bend(b), _differential(b)]
    link = b.linkage
    said.append(
        f"Steps are those of a link of {b.drive.steps} over the servo's whole travel ({deg(2.0 * link.travel, 0)} deg); "
        "play is end to end."
    )
    if b.centre.torque is None:
        said.append("The servo's torque is not known: multiply it by the leverage, or give it with --torque.")
    else:
        said.append(
            "Torque is that of the control's servos together at stall, on one aileron or on both elevator halves."
        )
    if b.centre.slop > SLOP_AIM:
        said.append(f"Play at the centre is over {deg(SLOP_AIM)} deg, the usual aim: see to gears and rod ends.")
    if min(b.dead) < NEAR_DEAD:
        said.append(
            f"Under {deg(NEAR_DEAD, 0)} deg of servo from a dead point play and rod load grow out of hand: "
            "a shorter arm would use more of the servo."
        )
    text = [wrapped(s) for s in said]
    if b.halves:
        text += ["", *_halves(b)]
    return text


def _bend(b: Bench) -> str:
    """What the geometry does to the feel, next to the exponential."""
    straight = 0.5 * (b.throw.positive / b.positive.servo + b.throw.negative / -b.negative.servo)
    softer = 1.0 - b.centre.rate / straight
    total = 1.0 - (1.0 - b.throw.exponential) * (1.0 - softer)
    if abs(softer) < 0.01:
        return "The geometry adds nothing to the exponential: the way is straight to one part in a hundred."
    word = "softer" if softer > 0.0 else "sharper"
    return (
        f"At the centre the geometry is {_plain(100.0 * abs(softer), 0)} % {word} than straight: with the "
        f"exponential of {_plain(100.0 * b.throw.exponential, 0)} % the stick feels like {_plain(100.0 * total, 0)} %."
    )


def _differential(b: Bench) -> str:
    up, down = SIDES[b.control]
    servo, positive, negative = b.differential
    percent = 100.0 * (1.0 - negative / positive)
    opening = (
        f"The same servo angle both ways, {deg(servo)} deg, gives {deg(positive)} deg {up} and {deg(negative)} {down}"
    )
    if abs(percent) < 0.5:
        return f"{opening}: no differential from the geometry."
    more, less = (up, down) if percent > 0.0 else (down, up)
    share = 100.0 * (1.0 - min(positive, negative) / max(positive, negative))
    return f"{opening}: {_plain(share, 0)} % less {less} than {more}, which the end points take out at full stick."


def _halves(b: Bench) -> list[str]:
    up, down = SIDES[b.control]
    rows = [[m.about, deg(m.positive), deg(m.negative), deg(m.between, 2), _edge(b, m)] for m in b.halves]
    head = ["the other half, neutral set", f"full {up}", f"full {down}", "between", "edge mm"]
    return [
        table(head, rows),
        wrapped(
            "deg that the other half goes farther on equal servo angles; between, and its mm: the most that is left "
            "at part stick once each half has end points of its own.",
            "  ",
            "",
        ),
    ]


def _edge(b: Bench, m: Mismatch) -> str:
    return "-" if m.between is None else mm(edge_travel(b.chord, m.between), 1)


def summary_text(setup: str, plane: str, benches: list[Bench]) -> str:
    """All controls side by side."""
    rows = [
        ["arm, horn mm", *(f"{mm(b.linkage.arm, 1)}, {mm(b.linkage.horn, 1)}" for b in benches)],
        ["throws deg", *(f"{deg(b.throw.positive)}, {deg(b.throw.negative)}" for b in benches)],
        ["servo used deg", *(f"{deg(b.positive.servo)}, {deg(-b.negative.servo)}" for b in benches)],
        ["servo travel each way deg", *(deg(b.linkage.travel) for b in benches)],
        ["edge at full throw mm", *(mm(edge_travel(b.chord, b.throw.positive), 1) for b in benches)],
        ["one link step, centre deg", *(deg(b.centre.step, 3) for b in benches)],
        ["time to full throw s", *(_pair(b, lambda p: _plain(p.time, 3)) for b in benches)],
        ["leverage, centre", *(_plain(b.centre.leverage, 2) for b in benches)],
        ["leverage, full throws", *(_pair(b, lambda p: _plain(p.leverage, 2)) for b in benches)],
    ]
    if any(b.centre.torque is not None for b in benches):
        rows.append(["torque, full throws N m", *(_pair(b, _torque) for b in benches)])
    rows += [
        ["play, centre deg", *(deg(b.centre.slop, 2) for b in benches)],
        ["play, full throws deg", *(_pair(b, lambda p: deg(p.slop, 2)) for b in benches)],
    ]
    ways = " and ".join(f"{b.control} {', '.join(SIDES[b.control])}" for b in benches[:1] + benches[2:3])
    return "\n".join(
        [
            f"linkages of {setup} on {plane}",
            "",
            table(["", *(b.control for b in benches)], rows),
            wrapped(f"Pairs: {ways}. --control shows one of them in full.", "  ", ""),
        ]
    )


def _pair(b: Bench, value) -> str:
    return f"{value(b.positive)}, {value(b.negative)}"


def _torque(p: Place) -> str:
    return "-" if p.torque is None else _plain(p.torque, 2)


def holes_text(
    about: str, wanted: float, chord: float, can: list[Holes], cannot: list[Holes], usual: bool, steps: int
) -> str:
    """The ranked holes; `about` names control and setup, `usual` says whether a default set of holes was tried."""
    said = [f"{about}: holes for {deg(wanted)} deg both ways"]
    if usual:
        said.append(wrapped("Holes tried are those that arms and horns commonly have; give your own: --arms, --horns."))
    known = next((h.linkage for h in (*can, *cannot) if h.linkage is not None), None)
    if known is not None and known.estimated:
        said.append(wrapped(f"estimated, not measured: {', '.join(known.estimated)}"))
    if can:
        rows = [_hole_row(n, h, chord) for n, h in enumerate(can[:ROWS], 1)]
        head = ["", "arm", "horn", "servo", "time", "step", "step", "play", "play", "leverage", "torque"]
        units = ["", "mm", "mm", "deg", "s", "deg", "edge mm", "deg", "edge mm", "at full", "N m"]
        if can[0].centre.torque is None:
            head, units, rows = head[:-1], units[:-1], [row[:-1] for row in rows]
        said += ["", table(head, [units, *rows], left=0)]
        if len(can) > ROWS:
            said.append(f"and {len(can) - ROWS} more")
        said.append(
            wrapped(
                f"servo: the larger angle it turns, time: without load; step: of a link of {steps} over the servo's "
                "travel, and play, both at the centre; leverage at full throw, the weaker side. In order of step, then "
                "play, then leverage.",
                "  ",
                "",
            )
        )
        best = can[0]
        said += ["", wrapped(_advice(best))]
    else:
        said += ["", "None of them gives it."]
    if cannot:
        rows = [[mm(h.arm, 1), mm(h.horn, 1), deg(_floored(h.most)), h.reason] for h in cannot[:ROWS_OF_CANNOT]]
        said += ["", "cannot, nearest first", table(["arm mm", "horn mm", "most deg", "what ends it"], rows, left=0)]
        if len(cannot) > ROWS_OF_CANNOT:
            said.append(f"and {len(cannot) - ROWS_OF_CANNOT} more")
    return "\n".join(said)


def _floored(angle: float) -> float:
    """An angle cut to tenths of a degree: what is not quite enough must not read as enough."""
    return math.radians(math.floor(math.degrees(angle) * 10.0 + 1e-6) / 10.0)


def _hole_row(n: int, h: Holes, chord: float) -> list[str]:
    torque = None if h.centre.torque is None else min(h.positive.torque, h.negative.torque)
    return [
        str(n),
        mm(h.arm, 1),
        mm(h.horn, 1),
        deg(h.travel),
        _plain(max(h.positive.time, h.negative.time), 3),
        deg(h.centre.step, 3),
        mm(chord * h.centre.step, 2),
        deg(h.centre.slop, 2),
        mm(chord * h.centre.slop, 1),
        _plain(h.leverage, 2),
        "-" if torque is None else _plain(torque, 2),
    ]


def _advice(h: Holes) -> str:
    left = h.linkage.travel - h.travel
    trims = f"That leaves {deg(left)} deg of servo for trims. " if left < TRIM_ROOM else ""
    return (
        f"Best: arm {mm(h.arm, 1)} mm, horn {mm(h.horn, 1)} mm, rod {mm(rod_length(h.linkage), 1)} mm; end points at "
        f"{deg(h.positive.servo)} and {deg(-h.negative.servo)} deg of servo of {deg(h.linkage.travel)} each way. {trims}"
        "Turn the surface by hand through the whole throw before power: nothing may bind."
    )
