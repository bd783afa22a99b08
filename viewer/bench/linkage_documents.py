"""The linkage bench as JSON documents, every number with its unit."""

from __future__ import annotations

import math
from typing import Any

from models.units import in_unit
from scenarios.bench.linkage import Bench, Place, edge_travel
from scenarios.bench.linkage_holes import Holes
from viewer.bench.linkage import SIDES
from viewer.documents import quantity


def bench_document(b: Bench) -> dict[str, Any]:
    """One control's bench with units."""
    link = b.linkage
    sides = SIDES[b.control]
    return {
        "control": b.control,
        "positive_is": sides[0] + (" on the right aileron" if b.control == "aileron" else ""),
        "linkage": {
            "servo_arm": _mm(link.arm),
            "horn_height": _mm(link.horn),
            "horn_offset": _mm(link.horn_offset),
            "arm_neutral": _deg(link.neutral),
            "servo_to_hinge": _mm(link.distance),
            "hinge_height": _mm(link.height),
            "rod_length": _mm(b.rod_length),
            "servo_travel": _deg(link.travel),
            "rod_play": _mm(link.rod_play),
            "gear_play": _deg(link.gear_play),
            "estimated": list(link.estimated),
        },
        "exponential": quantity(100.0 * b.throw.exponential, "%"),
        "chord": {**_mm(b.chord), "at_share_of_span": quantity(100.0 * b.chord_at, "%")},
        "link_steps": b.drive.steps,
        "stick": [
            {
                "stick": quantity(100.0 * p.stick, "%"),
                "servo": _deg(p.servo),
                "surface": _deg(p.surface),
                "edge": _mm(edge_travel(b.chord, p.surface)),
                "straight": _deg(p.straight),
                "rate": quantity(p.rate, "deg/deg"),
                "leverage": quantity(1.0 / p.rate, ""),
            }
            for p in b.points
        ],
        "centre": _place(b.centre, b.chord),
        f"full_{sides[0]}": _place(b.positive, b.chord),
        f"full_{sides[1]}": _place(b.negative, b.chord),
        "most": {side: {**_deg(a), "ended_by": end} for side, (a, end) in zip(sides, b.ends)},
        "servo_left_to_dead_point": {side: _deg(a) for side, a in zip(sides, b.dead)},
        "equal_servo_angle": dict(zip(("servo", *sides), map(_deg, b.differential))),
        "other_half": [
            {
                "about": m.about,
                f"farther_at_full_{sides[0]}": _deg(m.positive),
                f"farther_at_full_{sides[1]}": _deg(m.negative),
                "most_with_full_throws_matched": _deg(m.between),
            }
            for m in b.halves
        ],
    }


def holes_document(control: str, wanted: float, chord: float, can: list[Holes], cannot: list[Holes]) -> dict[str, Any]:
    """The ranked holes with units."""
    return {
        "control": control,
        "wanted": _deg(wanted),
        "ranked": [
            {
                "servo_arm": _mm(h.arm),
                "horn_height": _mm(h.horn),
                "servo_used": _deg(h.travel),
                "leverage": quantity(h.leverage, ""),
                "centre": _place(h.centre, chord),
                "full_positive": _place(h.positive, chord),
                "full_negative": _place(h.negative, chord),
            }
            for h in can
        ],
        "cannot": [
            {"servo_arm": _mm(h.arm), "horn_height": _mm(h.horn), "most": _deg(h.most), "reason": h.reason}
            for h in cannot
        ],
    }


def _place(p: Place, chord: float) -> dict[str, Any]:
    return {
        "servo": _deg(p.servo),
        "surface": _deg(p.surface),
        "rate": quantity(p.rate, "deg/deg"),
        "leverage": quantity(p.leverage, ""),
        "link_step": _deg(p.step),
        "gear_play": _deg(p.gear_slop),
        "rod_play": _deg(p.rod_slop),
        "play": _deg(p.slop),
        "play_at_edge": _mm(chord * p.slop),
        "torque": quantity(p.torque, "N m"),
        "time_from_neutral": quantity(p.time, "s"),
    }


def _deg(value: float | None) -> dict[str, Any]:
    return quantity(None if value is None else math.degrees(value), "deg")


def _mm(value: float) -> dict[str, Any]:
    return quantity(in_unit(value, "length", "mm"), "mm")
