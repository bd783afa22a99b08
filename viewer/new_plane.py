"""What `upline new` says about a plane that was just written down: how it balances, what to measure first, what is next."""

from __future__ import annotations

from typing import Any

from models.proportions import SPANS
from models.sketch import Sketch
from scenarios.first_setup import First
from scenarios.sensitivity import Sensitivity
from viewer.documents import quantity
from viewer.estimates import estimates_document, largest_table
from viewer.text import wrapped

FIRST = 8  # estimates that are named
WEAK, STRONG = 1.3, 2.8  # static thrust over weight that such planes have, at the widest (common practice, no source)


def new_table(s: Sketch, first: First, estimates: Sensitivity, files: tuple[str, ...]) -> str:
    """The plane in a few lines, the estimates that matter most, and the next commands."""
    p, g, place = first.plane, s.outline, -_moved(first).at[0]
    rows = [
        ["weight", f"{p.mass.mass:.2f} kg", f"{p.mass.mass / p.wing_area:.1f} kg/m2 on {100 * p.wing_area:.0f} dm2"],
        ["neutral point", f"{1000 * first.neutral_point:.0f} mm", "behind the wing root leading edge"],
        [
            "CG for first flights",
            f"{1000 * p.cg_station:.0f} mm",
            f"behind it; margin {100 * first.margin:.0f} % of MAC",
        ],
        [
            _moved(first).name,
            f"{1000 * abs(place):.0f} mm",
            f"{'behind' if place >= 0.0 else 'ahead of'} it, for that CG",
        ],
        ["static thrust", f"{first.thrust:.1f}", "times the weight"],
    ]
    width, wide = (max(len(row[i]) for row in rows) for i in (0, 1))
    counts = f"{len(estimates.measured)} numbers as you gave them or by definition, "
    estimated = len(estimates.estimates) + len(estimates.idle)
    lines = [f"written: {', '.join(files)}", "", f"{s.name}, {g.b:.2f} m, {s.kind}", ""]
    lines += [f"{a.ljust(width)}  {v.rjust(wide)}  {note}" for a, v, note in rows]
    lines += [
        "",
        wrapped(f"{counts}{estimated} estimated: the estimates say how planes of this size are, not how yours is."),
    ]
    lines += [wrapped(note, "  ", "") for note in notes(s, first)]
    lines += ["", "Measure first, and replace in the file without the mark", ""]
    lines += [largest_table(estimates, FIRST), "", wrapped(_advice(s)), ""]
    lines += ["Next", "", *(f"  {command}" for command in next_commands(files[1]))]
    return "\n".join(lines)


def _moved(first: First):
    return next(item for item in first.plane.items if item.name == first.plane.setup.moved_item)


def _advice(s: Sketch) -> str:
    heavy = "battery and motor" if s.kind == "electric" else "engine and packs"
    return (
        f"Weigh {heavy}, wing and tail apart, and note where they sit; measure chords and the way from wing to stabiliser "
        "with a ruler, incidences with a gauge. Then balance the plane on a stand: the CG found there is the one that counts."
    )


def notes(s: Sketch, first: First) -> list[str]:
    """What a pilot should know of the result before trusting it."""
    said = []
    span = s.outline.b
    if not SPANS[0] <= span <= SPANS[-1]:
        said.append(
            f"Proportions are known from {SPANS[0]} to {SPANS[-1]} m; a plane of {span:.2f} m has those of the nearest."
        )
    off = first.plane.cg_station - first.wanted_cg
    if abs(off) > 0.001:
        said.append(
            f"The {_moved(first).name} does not reach the CG wanted, {1000 * first.wanted_cg:.0f} mm: at the end of its tray "
            f"the CG is {1000 * abs(off):.0f} mm further {'aft' if off > 0.0 else 'forward'}."
        )
    if not WEAK <= first.thrust <= STRONG:
        what = "kv, cells" if s.kind == "electric" else "displacement"
        said.append(
            f"Static thrust of {first.thrust:.1f} times the weight is unusual for such a plane: look at {what} and propeller."
        )
    if first.slow:
        said.append(
            f"Level flight at 25 m/s cannot be held (looked at {first.speed:.0f} m/s instead), so upline balance will refuse: "
            "look at power and propeller."
        )
    return said


def next_commands(setup: str) -> list[str]:
    """What to run next."""
    setup = f'"{setup}"' if " " in setup else setup
    return [f"upline balance {setup}", f"upline fly level-trim --setup {setup}", f"upline fly stall --setup {setup}"]


def new_document(
    s: Sketch, first: First, estimates: Sensitivity, files: tuple[str, ...], setup_name: str
) -> dict[str, Any]:
    """The document of `upline new`."""
    p = first.plane
    return {
        "files": {"airframe": files[0], "setup": files[1]},
        "airframe": s.name,
        "setup": setup_name,
        "power": s.kind,
        "mass": quantity(p.mass.mass, "kg"),
        "wing_area": quantity(p.wing_area, "m2"),
        "neutral_point": quantity(1000.0 * first.neutral_point, "mm"),
        "cg": quantity(1000.0 * p.cg_station, "mm"),
        "cg_wanted": quantity(1000.0 * first.wanted_cg, "mm"),
        "static_margin": quantity(100.0 * first.margin, "%"),
        "thrust_over_weight": quantity(first.thrust, ""),
        "moved_item": {"name": _moved(first).name, "at": quantity(-1000.0 * _moved(first).at[0], "mm")},
        "values": {
            key: {"text": value.text, "estimated": value.estimated, "rule": value.rule}
            for key, value in s.values.items()
        },
        "notes": notes(s, first),
        "next": next_commands(files[1]),
        **estimates_document(estimates),
    }
