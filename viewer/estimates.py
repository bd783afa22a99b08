"""Where a plane's numbers come from, and how much each estimate matters to the static margin."""

from __future__ import annotations

import math
from typing import Any

from models.units import in_unit
from scenarios.sensitivity import Estimate, Sensitivity
from viewer.documents import quantity
from viewer.text import number, table, wrapped

LONGEST_LABEL = 44
SAID = {
    ("root", "at", "x"): "place",
    ("root", "at", "z"): "height",
    ("tip", "at", "x"): "leading edge of the tip",
    ("tip", "at", "y"): "half-span",
    ("tip", "at", "z"): "height of the tip",
}
MOST_ROWS = 12
LEAST = 0.0005  # a change of the margin that shows, as a fraction of MAC
PARTS = (
    ("items", "mass", "masses of items"),
    ("items", "at", "places of items"),
    ("items", "", "sizes and trays of items"),
    ("fuselage", "", "fuselage"),
    ("drag bodies", "", "drag bodies"),
    ("thrust line", "", "thrust line"),
    ("power", "", "power"),
    ("structure", "", "structure"),
)


def estimates_table(s: Sensitivity) -> str:
    """What `upline balance` says about measured and estimated values."""
    estimated = [e.path for e in s.estimates] + list(s.idle)
    lines = [f"Measured {len(s.measured)} values, estimated {len(estimated)}"]
    if not estimated:
        return wrapped(lines[0] + ": weigh the plane and try its balance on a stand all the same.")
    lines += ["", _sources(s.measured, estimated)]
    shown = _largest(s, MOST_ROWS)
    if shown:
        lines += ["", "What matters most, each by its plausible error", "", largest_table(s, MOST_ROWS)]
    lines += ["", wrapped(_together(s, len(shown)))]
    return "\n".join(lines)


def largest_table(s: Sensitivity, most: int) -> str:
    """The estimates that move the margin most, at most so many, and by how much."""
    head = ["estimate", "may be off by", "CG aft, mm", "margin, % MAC"]
    rows = [[label(e.path), _off(e), _signed(1000.0 * e.cg), _signed(100.0 * e.margin)] for e in _largest(s, most)]
    return table(head, rows)


def _largest(s: Sensitivity, most: int) -> list[Estimate]:
    return [e for e in s.estimates if abs(e.margin) >= LEAST][:most]


def _together(s: Sensitivity, shown: int) -> str:
    left = len(s.estimates) - shown
    said = []
    if left:
        most = max(abs(e.margin) for e in s.estimates[shown:])
        said.append(f"{left} more change the margin by at most {max(0.1, math.ceil(1000.0 * most) / 10.0):.1f} % each.")
    if s.idle:
        said.append(f"{len(s.idle)} do not touch it (sizes of items, fin, power and the like).")
    if not s.estimates:
        return " ".join(said)
    said.append(
        f"Together: CG within {number(1000.0 * s.cg, 'mm')} mm, neutral point within "
        f"{number(1000.0 * s.neutral_point, 'mm')} mm, margin within {number(100.0 * s.margin, '%')} % of MAC. "
        "A plane balanced on a stand has no error of CG left, only that of the neutral point."
    )
    return " ".join(said)


def _sources(measured: tuple[str, ...], estimated: list[str]) -> str:
    """How many values of each part are measured and estimated."""
    names = list(dict.fromkeys(part_of(path) for path in (*measured, *estimated)))
    rows = []
    for name in names:
        counts = [sum(part_of(path) == name for path in paths) for paths in (measured, estimated)]
        rows.append([name, *map(str, counts)])
    return table(["", "measured", "estimated"], rows)


def part_of(path: str) -> str:
    """The part of a plane that a field path belongs to, in words."""
    kind, *inside = path.split(" > ")
    if kind == "surfaces":
        return inside[0]
    for name, field, words in PARTS:
        if kind == name and (not field or field in inside[1:2]):
            return words
    return "setup"


def label(path: str) -> str:
    """A field path as a row's name: "stabiliser, root chord"."""
    kind, *inside = path.split(" > ")
    words = inside if kind in ("surfaces", "items", "drag bodies") else [kind, *inside]
    if tuple(words[-3:]) in SAID:
        words = [*words[:-3], SAID[tuple(words[-3:])]]
    words = [w for w in words if w not in ("at", "stations")]
    words = [f"station {w[1:]}" if w.startswith("#") else w for w in words]
    text = f"{words[0]}, {' '.join(words[1:])}" if len(words) > 1 else words[0]
    return text if len(text) <= LONGEST_LABEL else text[: LONGEST_LABEL - 3] + "..."


def _off(e: Estimate) -> str:
    if e.unit == "share":
        return f"{100.0 * e.error:.0f} %"
    if e.unit == "%":
        return f"{100.0 * e.error:.0f} points"
    if e.unit == "deg":
        return f"{math.degrees(e.error):.1f} deg"
    return f"{in_unit(e.error, 'length', 'mm'):.0f} mm"


def _signed(value: float) -> str:
    text = number(value, "%")
    return text if text.startswith("-") or float(text) == 0.0 else f"+{text}"


def estimates_document(s: Sensitivity) -> dict[str, Any]:
    """The keys that estimates add to the document of `upline balance`."""
    units = {"share": "%", "%": "%", "deg": "deg", "mm": "mm"}
    scale = {"share": 100.0, "%": 100.0, "deg": math.degrees(1.0), "mm": 1000.0}
    return {
        "measured": list(s.measured),
        "estimated": [e.path for e in s.estimates] + list(s.idle),
        "estimates": [
            {
                "path": e.path,
                "may_be_off_by": {**quantity(e.error * scale[e.unit], units[e.unit]), "of_value": e.unit == "share"},
                "cg": quantity(1000.0 * e.cg, "mm"),
                "neutral_point": quantity(1000.0 * e.neutral_point, "mm"),
                "static_margin": quantity(100.0 * e.margin, "%"),
            }
            for e in s.estimates
        ],
        "estimates_together": {
            "cg": quantity(1000.0 * s.cg, "mm"),
            "neutral_point": quantity(1000.0 * s.neutral_point, "mm"),
            "static_margin": quantity(100.0 * s.margin, "%"),
        },
    }
