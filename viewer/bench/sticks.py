"""The stick bench as text and as a document."""

from __future__ import annotations

import math
from typing import Any

from scenarios.bench.sticks import Axis, Bench, Corner, Fineness, Place
from viewer.documents import quantity
from viewer.text import number, table, wrapped

DEG = 180.0 / math.pi
SURFACES = ("left aileron", "right aileron", "elevator", "rudder")
WAYS = {"aileron": ("left", "right"), "elevator": ("push", "pull"), "rudder": ("left", "right")}
TURNS = {"aileron": "roll rate", "elevator": "pitch rate", "rudder": "yaw rate"}


def bench_text(b: Bench) -> str:
    """The tables of `upline bench sticks`."""
    trims = ", ".join(f"{name} {_deg(t)}" for name, t in zip(SURFACES, b.trims))
    lines = [
        f"Sticks of {b.setup.name} on {b.setup.airframe.name}: {b.rate} rates, {b.mode} mode",
        "",
        wrapped(
            f"Trimmed level at {number(b.speed, 'm/s')} m/s, throttle at {100.0 * b.throttle:.0f} %. Surfaces in deg from "
            f"there, without load, up and right positive; the trims put them at: {trims}. Rates are steady, one stick moved, "
            "the servos under the air's load."
        ),
        "",
    ]
    for axis in b.axes:
        lines += [_axis_table(axis), "", *(wrapped(note, "  ", "- ") for note in _notes(axis)), ""]
    lines += [_fineness_table(b), ""]
    lines += [wrapped(note, "  ", "- ") for note in _link_notes(b)]
    lines += ["", *_corner_lines(b)]
    return "\n".join(lines).rstrip()


def _deg(angle: float | None) -> str:
    return number(None if angle is None else angle * DEG, "deg")


def _axis_table(axis: Axis) -> str:
    negative, positive = WAYS[axis.stick]
    sides = [(positive, 1.0), (negative, -1.0)]
    show = {"aileron": (0, 1), "elevator": (2,), "rudder": (3,)}[axis.stick]
    head = [f"{axis.stick} stick, %"]
    for side, _ in sides:
        head += [f"{side}: {SURFACES[k].replace(' aileron', '')}" if n == 0 else SURFACES[k].replace(" aileron", "")
                 for n, k in enumerate(show)]  # fmt: skip
        head.append("deg/s")
        head += ["g"] if axis.stick == "elevator" else ["slip"] if axis.stick == "rudder" else []
    at = {p.stick: p for p in axis.places}
    rows = []
    for stop in sorted(s for s in at if s >= 0.0):
        row = [f"{100.0 * stop:.0f}"]
        for _, sign in sides:
            place = at[sign * stop]
            row += [_deg(place.surfaces[k]) for k in show]
            row += [_deg(place.rate), *_besides(axis.stick, place)]
        rows.append(row)
    return table(head, rows)


def _besides(stick: str, place: Place) -> list[str]:
    if stick == "elevator":
        return [number(place.load, "g")]
    return [_deg(None if place.sideslip is None else abs(place.sideslip))] if stick == "rudder" else []


def _notes(axis: Axis) -> list[str]:
    """What a pilot has to read under an axis."""
    notes = [
        f"{axis.stick}: {100.0 * axis.share:.0f} % of full throw, {100.0 * axis.exponential:.0f} % exponential: at the centre "
        f"{100.0 * (1.0 - axis.exponential):.0f} % as steep as a straight stick of that throw, at the ends "
        f"{100.0 * (1.0 + 2.0 * axis.exponential):.0f} %."
    ]
    for way, stick in zip(WAYS[axis.stick], axis.stops_at):
        if stick is not None:
            word = "at its end from" if abs(stick) < 0.995 else "at its end at"
            notes.append(f"{way}: throw or end point has the {axis.stick} {word} {100.0 * abs(stick):.0f} % stick.")
    for way, stick in zip(WAYS[axis.stick], axis.stalls_at):
        if stick is not None:
            notes.append(f"{way}: the wing stalls before {100.0 * abs(stick):.0f} % stick: no steady curve from there.")
    for n, way in enumerate(WAYS[axis.stick]):
        none = [f"{100.0 * abs(p.stick):.0f}" for p in axis.places if p.rate is None and (p.stick > 0.0) == (n == 1)]
        if none and axis.stalls_at[n] is None:
            notes.append(f"{way}: no steady turn was found at {' and '.join(sorted(none, key=float))} % stick.")
    ends = axis.places[0], axis.places[-1]
    moved = []
    for way, place in zip(WAYS[axis.stick], ends):
        left, right, elevator, rudder = place.surfaces
        others = [] if axis.stick == "aileron" else [("left aileron", left), ("right aileron", right)]
        others += [("elevator", elevator)] if axis.stick != "elevator" else []
        others += [("rudder", rudder)] if axis.stick != "rudder" else []
        words = [f"{name} {_deg(angle)}" for name, angle in others if abs(angle) > math.radians(0.05)]
        moved += [f"full {way}: {', '.join(words)}"] if words else []
    if moved:
        notes.append("mixes move besides: " + "; ".join(moved) + ".")
    return notes


def _fineness_table(b: Bench) -> str:
    head = ["how fine", "at", "deg/1 %", "deg/s/1 %", "step, deg", "step, deg/s", "step of"]
    rows = []
    for axis in b.axes:
        negative, positive = WAYS[axis.stick]
        same = _alike(*axis.full)
        places = [("centre", axis.centre)]
        places += (
            [("full", axis.full[1])]
            if same
            else [(f"full {positive}", axis.full[1]), (f"full {negative}", axis.full[0])]
        )
        for n, (where, f) in enumerate(places):
            rows.append(
                [
                    f"{axis.stick}" if n == 0 else "",
                    where,
                    f"{f.surface * DEG:.3f}",
                    _deg2(f.rate),
                    f"{f.step_surface * DEG:.3f}",
                    _deg2(f.step_rate),
                    "link" if f.from_link else "stick",
                ]  # fmt: skip
            )
    return table(head, rows, left=2)


def _alike(one: Fineness, other: Fineness) -> bool:
    """Whether both ends are the same within 3 %, as near as a pilot could tell."""
    pairs = [(one.surface, other.surface), (one.rate, other.rate)]
    if any((a is None) != (b is None) for a, b in pairs):
        return False
    return all(a is None or abs(a - b) <= 0.03 * max(abs(a), abs(b)) for a, b in pairs)


def _deg2(rate: float | None) -> str:
    return "-" if rate is None else f"{rate * DEG:.2f}"


def _link_notes(b: Bench) -> list[str]:
    link = b.setup.link
    if b.typical:
        first = f"A typical link of {b.steps} steps is assumed: the setup names none, and its flights have neither steps nor delay."
    else:
        first = f"The setup's link: {b.steps} steps, {1000.0 * link.latency:.0f} ms late."
    return [
        first,
        "1 % is of the stick's way from centre to end. A step is the larger of one step of the stick as it is read and one "
        "of the control as it is sent, over its largest throw or end point; exponential makes the first finer at the "
        "centre and coarser at the ends, never the second. Where the linkage leaves servo travel unused, steps are "
        "coarser: see upline bench linkage.",
    ]


def _corner_lines(b: Bench) -> list[str]:
    """The corners of all sticks, where mixes add up or a limit holds something back."""
    shown = [c for c in b.corners if c.throttle == b.throttle]
    held = any(any(c.limited) for c in b.corners)
    if not b.mixes and not held:
        return [
            wrapped("No mix acts and nothing is limited: with all sticks in the corners every surface has its throw.")
        ]
    rows = [
        [*_ends(c), *(f"{_deg(s)}{'!' if limited else ' '}" for s, limited in zip(c.surfaces, c.limited))]
        for c in shown
    ]
    lines = [table(["aileron", "elevator", "rudder", *SURFACES], rows, left=3), ""]
    lines.append(wrapped("Sticks at their ends, throttle as trimmed; ! held back by throw or end point.", "  ", "- "))
    lines += [wrapped(text, "  ", "- ") for text in _held_back(b)]
    return lines


def _ends(c: Corner) -> list[str]:
    return [WAYS[stick][1 if c.sticks[n] > 0.0 else 0] for n, stick in enumerate(WAYS)]


def _held_back(b: Bench) -> list[str]:
    """For each surface, the corner that it is asked most beyond its limit in."""
    lines = []
    for k, name in enumerate(SURFACES):
        worst = max(b.corners, key=lambda c: (abs(c.asked[k] - c.surfaces[k]), c.throttle == b.throttle))
        if worst.limited[k]:
            throttle = "" if worst.throttle == b.throttle else f", throttle {100.0 * worst.throttle:.0f} %"
            where = ", ".join(f"{stick} {way}" for stick, way in zip(WAYS, _ends(worst)))
            lines.append(
                f"{name}: asked for {_deg(worst.asked[k])} deg, gets {_deg(worst.surfaces[k])} ({where}{throttle}): "
                f"{_deg(abs(worst.asked[k] - worst.surfaces[k]))} deg are lost."
            )
    return lines


def bench_document(b: Bench) -> dict[str, Any]:
    """The document of `upline bench sticks`."""

    def deg(value: float | None, unit: str = "deg") -> dict[str, Any]:
        return quantity(None if value is None else value * DEG, unit)

    def place(axis: Axis, p: Place) -> dict[str, Any]:
        out: dict[str, Any] = {"stick": quantity(100.0 * p.stick, "%")}
        out |= {name.replace(" ", "_"): deg(s) for name, s in zip(SURFACES, p.surfaces)}
        out[TURNS[axis.stick].replace(" ", "_")] = deg(p.rate, "deg/s")
        out |= {"load": quantity(p.load, "g")} if axis.stick == "elevator" else {}
        return out | ({"sideslip": deg(p.sideslip)} if axis.stick == "rudder" else {})

    def fine(f: Fineness) -> dict[str, Any]:
        return {
            "surface_per_percent": deg(f.surface),
            "rate_per_percent": deg(f.rate, "deg/s"),
            "step_at_surface": deg(f.step_surface),
            "step_of_rate": deg(f.step_rate, "deg/s"),
            "step_of": "link" if f.from_link else "stick",
        }

    axes = {}
    for axis in b.axes:
        negative, positive = WAYS[axis.stick]
        axes[axis.stick] = {
            "share": quantity(100.0 * axis.share, "%"),
            "exponential": quantity(100.0 * axis.exponential, "%"),
            "places": [place(axis, p) for p in axis.places],
            "centre": fine(axis.centre),
            f"full_{negative}": fine(axis.full[0]),
            f"full_{positive}": fine(axis.full[1]),
            "limited_from": {
                way: quantity(None if s is None else 100.0 * s, "%")
                for way, s in zip((negative, positive), axis.stops_at)
            },
            "stalls_before": {
                way: quantity(None if s is None else 100.0 * s, "%")
                for way, s in zip((negative, positive), axis.stalls_at)
            },
        }
    return {
        "setup": b.setup.name,
        "airframe": b.setup.airframe.name,
        "mode": b.mode,
        "rates": b.rate,
        "airspeed": quantity(b.speed, "m/s"),
        "throttle": quantity(100.0 * b.throttle, "%"),
        "trims": {name.replace(" ", "_"): deg(t) for name, t in zip(SURFACES, b.trims)},
        "link": {"steps": b.steps, "typical": b.typical},
        "sticks": axes,
        "corners": [
            {
                "sticks": dict(zip(WAYS, _ends(c))),
                "throttle": quantity(100.0 * c.throttle, "%"),
                "surfaces": {name.replace(" ", "_"): deg(s) for name, s in zip(SURFACES, c.surfaces)},
                "asked": {name.replace(" ", "_"): deg(s) for name, s in zip(SURFACES, c.asked)},
            }
            for c in b.corners
        ],
    }
