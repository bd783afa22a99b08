"""The page in Markdown: tables, and the words around them."""

from __future__ import annotations

import math

from models.loader import load_setup
from scenarios.layouts.changes import CHANGED, MARGIN
from scenarios.layouts.reading import reading, signed
from scenarios.layouts.study import CAUSES, CGS, FAST, SETUPS, SIDES, SLOW, Findings
from scenarios.manoeuvres import flyable
from sim.build import Plane, with_cg
from sim.description import Setup, Surface
from sim.trim import static_thrust_ratio


class Notes:
    """Footnotes: one number for each reason, in the order they came up."""

    def __init__(self) -> None:
        self.reasons: list[str] = []

    def cell(self, found: Findings, name: str, decimals: int, base: Findings | None = None) -> str:
        """A signed value, or its change from `base`, or a dash with the number of the reason."""
        if name not in found.values or (base is not None and name not in base.values):
            reason = found.reasons.get(name) or (base.reasons.get(name) if base else "") or "not taken"
            if reason not in self.reasons:
                self.reasons.append(reason)
            return f"- ({self.reasons.index(reason) + 1})"
        value = found.values[name] - (base.values[name] if base else 0.0)
        return signed(value, decimals)

    def lines(self) -> str:
        """The footnotes, one a line."""
        return "\n".join(f"({n}) not measured: {reason}  " for n, reason in enumerate(self.reasons, start=1))


def table(head: list[str], rows: list[list[str]]) -> str:
    """A Markdown table, the first column left, the others right."""
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" + "---:|" * (len(head) - 1)]
    return "\n".join(lines + ["| " + " | ".join(row) + " |" for row in rows])


def page(names: tuple[str, ...], found: list[Findings], changes: list[tuple[str, Findings]]) -> str:
    """The whole page."""
    notes = Notes()
    parts = [
        INTRODUCTION,
        "## The planes\n\n" + planes_table(names) + "\n\n" + PLANES_LEGEND,
        "## Knife edge\n\n" + KNIFE_EDGE_LEGEND + "\n\n" + layouts_table(found, KNIFE_EDGE, notes),
        "### Where the elevator comes from\n\n" + CAUSES_LEGEND + "\n\n" + causes_table(found),
        "## 45-degree line, hands off\n\n" + LINE_LEGEND + "\n\n" + layouts_table(found, LINES_45, notes),
        "## Stall\n\n" + STALL_LEGEND + "\n\n" + layouts_table(found, STALL, notes),
        "## One change at a time\n\n" + CHANGES_LEGEND + "\n\n" + changes_table(changes, notes),
    ]
    if notes.reasons:
        parts.append(notes.lines())
    if names == SETUPS:
        parts.append(reading(found, changes))
    parts.append(CAUTION)
    return "\n\n".join(parts)


# ---- the planes --------------------------------------------------------------------------------------------


def planes_table(names: tuple[str, ...]) -> str:
    """Geometry that decides coupling, one row a plane."""
    rows = []
    for name in names:
        setup = load_setup(name)
        plane = flyable(with_cg(setup, CGS[0], "mac"))
        rows.append([setup.airframe.name, name, *_geometry(setup, plane)])
    head = [
        "plane",
        "setup",
        "span m",
        "kg",
        "kg/m2",
        "T/W",
        "taper",
        "dihedral deg",
        "stabiliser above wing mm (% span)",
    ]
    head += ["tail arm / MAC", "tail volume", "shaft above wing mm", "down thrust deg"]
    return table(head, rows)


def _geometry(setup: Setup, plane: Plane) -> list[str]:
    surfaces = {s.name: s for s in setup.airframe.surfaces}
    wing, tail, line = surfaces["wing"], surfaces["stabiliser"], setup.thrust_line or setup.airframe.thrust_line
    arm = quarter_chord(tail) - (plane.mac_leading_edge + 0.25 * plane.mac)
    area = (tail.root_chord + tail.tip_chord) * tail.tip[1]
    height = wing.root[2] - tail.root[2]
    return [
        f"{plane.span:.1f}",
        f"{plane.mass.mass:.1f}",
        f"{plane.mass.mass / plane.wing_area:.1f}",
        f"{static_thrust_ratio(plane):.1f}",
        f"{wing.tip_chord / wing.root_chord:.2f}",
        f"{math.degrees(math.atan2(wing.root[2] - wing.tip[2], wing.tip[1] - wing.root[1])):.0f}",
        f"{signed(1000 * height, 0)} ({signed(100 * height / plane.span, 1)})",
        f"{arm / plane.mac:.1f}",
        f"{area * arm / (plane.wing_area * plane.mac):.2f}",
        signed(1000 * (wing.root[2] - line.at[2]), 0),
        f"{math.degrees(line.down):.1f}",
    ]


def quarter_chord(surface: Surface) -> float:
    """Station (m aft of the wing root leading edge) of the quarter point of its mean aerodynamic chord."""
    taper = surface.tip_chord / surface.root_chord
    share = (1.0 + 2.0 * taper) / (3.0 * (1.0 + taper))
    mean = 2.0 / 3.0 * surface.root_chord * (1.0 + taper + taper * taper) / (1.0 + taper)
    return -(surface.root[0] + share * (surface.tip[0] - surface.root[0])) + 0.25 * mean


# ---- tables over layouts and CG ------------------------------------------------------------------------------

Columns = tuple[tuple[str, str, int], ...]  # heading, measure, decimals
KNIFE_EDGE: Columns = (
    ("margin % MAC", "margin", 1),
    ("level trim", "elevator_trim", 1),
    ("E right", "right elevator", 1),
    ("E left", "left elevator", 1),
    ("E slow right", "slow right elevator", 1),
    ("E slow left", "slow left elevator", 1),
    ("pitch right", "right pitch_coupling", 0),
    ("pitch left", "left pitch_coupling", 0),
    ("roll right", "right roll_coupling", 0),
    ("roll left", "left roll_coupling", 0),
    ("sideslip", "right sideslip", 0),
    ("slow", "slow right sideslip", 0),
    ("rudder", "right rudder", 0),
    ("slow", "slow right rudder", 0),
)
LINES_45: Columns = (
    ("margin % MAC", "margin", 1),
    ("level trim", "elevator_trim", 1),
    ("upright deg/s", "upright pitch_drift", 1),
    ("inverted deg/s", "inverted pitch_drift", 1),
    ("upright g", "upright path_curvature", 2),
    ("inverted g", "inverted path_curvature", 2),
    ("held upright deg", "upright line_elevator", 1),
    ("held inverted deg", "inverted line_elevator", 1),
)
STALL: Columns = (
    ("margin % MAC", "margin", 1),
    ("stall speed m/s", "stall stall_speed", 1),
    ("alpha deg", "stall stall_alpha", 0),
    ("first to go, % half-span", "stall first_separation", 0),
    ("nose drop deg", "stall nose_drop", 0),
    ("wing drop deg", "stall wing_drop", 0),
    ("height lost m", "stall height_lost", 1),
    ("recovery s", "stall recovery_time", 2),
)
UNSIGNED = ("margin", "stall ")


def layouts_table(found: list[Findings], columns: Columns, notes: Notes) -> str:
    """One row for each plane and CG."""
    rows = []
    for one in found:
        cells = [notes.cell(one, name, decimals) for _, name, decimals in columns]
        plain = [c.lstrip("+") if n.startswith(UNSIGNED) else c for c, (_, n, _) in zip(cells, columns)]
        rows.append([one.airframe, f"{100 * one.cg:.0f} %", *plain])
    return table(["plane", "CG", *(heading for heading, _, _ in columns)], rows)


def causes_table(found: list[Findings]) -> str:
    """What asks for the elevator in knife edge, at the middle CG."""
    rows = []
    for one in found:
        if abs(one.cg - CGS[1]) > 0.005:
            continue
        for side in SIDES:
            if side not in one.causes:
                continue
            causes = one.causes[side]
            held = sum(causes[c] for c in CAUSES)
            shown = [*(causes[c] for c in CAUSES), held, causes["swirl"]]
            rows.append([f"{one.airframe}, {side}", *(signed(value, 2) for value in shown)])
    return table(["knife edge", *CAUSES, "E", "swirl"], rows)


# ---- one change at a time ---------------------------------------------------------------------------------------

CHANGE_COLUMNS: Columns = (
    ("CG % MAC", "cg", 1),
    ("E right", "right elevator", 2),
    ("E left", "left elevator", 2),
    ("E slow right", "slow right elevator", 2),
    ("E slow left", "slow left elevator", 2),
    ("pitch right", "right pitch_coupling", 0),
    ("pitch left", "left pitch_coupling", 0),
    ("roll right", "right roll_coupling", 0),
    ("roll left", "left roll_coupling", 0),
    ("line upright", "upright pitch_drift", 1),
    ("line inverted", "inverted pitch_drift", 1),
    ("stall speed", "stall stall_speed", 2),
    ("height lost", "stall height_lost", 1),
    ("wing drop", "stall wing_drop", 0),
)


def changes_table(changes: list[tuple[str, Findings]], notes: Notes) -> str:
    """The plane as it is, and what each change adds."""
    base = changes[0][1]
    rows = []
    for label, found in changes:
        against = None if found is base else base
        cells = [notes.cell(found, name, decimals, against) for _, name, decimals in CHANGE_COLUMNS]
        rows.append([label, *cells])
    rows[0] = [f"**{cell}**" for cell in rows[0]]
    return table(["change", *(heading for heading, _, _ in CHANGE_COLUMNS)], rows)


# ---- words --------------------------------------------------------------------------------------------------------

_CGS = ", ".join(f"{100 * cg:.0f}" for cg in CGS)
INTRODUCTION = f"""# What the layout decides

Made by `python -m scenarios.layouts > models/LAYOUTS.md` in about half a minute, the same numbers every time for the
same code; with names or paths of setups behind it, the page is about those. All planes are invented. Every
plane flies with the same code and the same pilot at {FAST:.0f} m/s, balanced at {_CGS} % of the mean aerodynamic
chord (MAC) by sliding its battery or its receiver packs. Knife edges and lines begin in their steady state;
`upline fly` rolls or pulls in first, so its numbers differ by some tenths of a degree of elevator and a few degrees
of pitch."""

PLANES_LEGEND = """Tail arm: from a quarter of the wing's MAC to a quarter of the stabiliser's. T/W: static thrust over
weight. beck-150 has plates at the wing tips for side force."""

KNIFE_EDGE_LEGEND = f"""`E`: elevator that holds the knife edge, less level trim; degrees, + up. A plane that needs down
(-) goes to the canopy when the elevator is let go, one that needs up (+) to the gear. `pitch`: body pitch in 2 s after
letting go of the elevator, degrees, + toward the canopy. `roll`: degrees in 1 s after letting go of the ailerons, +
right. `slow`: at {SLOW:.0f} m/s. Right: right wing down. Sideslip and rudder are those of the right knife edge."""

CAUSES_LEGEND = f"""Degrees of elevator that each cause asks for, at {100 * CGS[1]:.0f} % MAC and {FAST:.0f} m/s, + up. `lift gone`:
in knife edge the wing does not lift, and the elevator that trimmed it in level flight is left over. `power`: the
throttle is further open. The rest is what sideslip, rudder and ailerons do, by the part on which the air
pushes (propeller: thrust line, oblique inflow). All add up to `E`. `swirl`: what the turning of the slipstream has
done among them."""

LINE_LEGEND = f"""Elevator at level trim, up-line at {FAST:.0f} m/s. deg/s: mean body pitch rate over 3 s; g: curvature of the
path; both + toward the canopy. Held: elevator that holds the line, less level trim, + up."""

STALL_LEGEND = """The built-in manoeuvre `stall` with the plane's own setup: idle, slowed down level, released, full
throttle. Wing drop: + right. First to go: where the wing separates first."""

CHANGES_LEGEND = f"""`{CHANGED}` with one thing changed, and the CG moved until the static margin is {100 * MARGIN:.0f} % again. The
first row holds values, the others what the change adds to them. Columns as above; `line`: deg/s on the 45-degree
line, + toward the canopy. Surfaces move with their mass; the fuselage stays as it is. Taper keeps span, area and
quarter-chord line."""

CAUTION = """A simulation clears nothing to fly: one change at a time, in small steps, at height, away from people. Sizes
in knife edge hang on slipstream, swirl and fuselage side force, the least certain parts of the model (DEVELOPERS.md)."""
