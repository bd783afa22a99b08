"""What `upline balance` prints: mass, CG, margins, inertia, how the plane swings, and the derivatives behind it."""

from __future__ import annotations

import math
from typing import Any

from models.units import in_unit
from scenarios.accuracy import MODEL
from scenarios.balance import Balance
from scenarios.spread import Spread
from sim.modes import Mode
from viewer.documents import quantity
from viewer.text import in_inches, number, table, wrapped

ROOM = 16  # characters beside the table of margins
LONGEST_ITEM = 30  # characters of an item's name in the first column


def mm(metres: float) -> str:
    """A length as pilots read it."""
    return f"{number(in_unit(metres, 'length', 'mm'), 'mm')} mm"


def behind(station: float) -> list[str]:
    """A station as a distance and the word for its side."""
    return [mm(abs(station)), f"{'behind' if station >= 0.0 else 'ahead of'} the wing root leading edge"]


def right_or_left(metres: float) -> str:
    """The side that a distance to the right lies on."""
    return "on the centre line" if abs(metres) < 0.0005 else "to the right" if metres > 0.0 else "to the left"


def balance_table(b: Balance, spread: dict[str, Spread], inches: bool = False) -> str:
    """Mass, CG, what the tray allows, and inertia, then the margins; `inches` puts inches and pounds beside the former."""
    mac = b.mac_leading_edge
    rows = [
        ["mass", f"{b.mass:.2f} kg", f"wing loading {b.wing_loading:.1f} kg/m2"],
        ["centre of gravity", *behind(b.cg)],
        ["", f"{number(100.0 * b.cg_mac, '%')} %", "of MAC"],
        ["  up or down", mm(abs(b.cg_height)), f"{'above' if b.cg_height >= 0.0 else 'below'} the wing root chord"],
        ["  sideways", mm(abs(b.cg_right)), right_or_left(b.cg_right)],
        [b.moved_item[:LONGEST_ITEM], *behind(b.item_station)],
        ["  its tray reaches from", *behind(b.tray[0])],
        ["  to", *behind(b.tray[1])],
        ["  so the CG can go from", *behind(b.reach[0])],
        ["  to", *behind(b.reach[1])],
        [
            "mean chord (MAC)",
            mm(b.mac),
            f"leading edge {mm(abs(mac))} {'behind' if mac >= 0.0 else 'ahead of'} the root's",
        ],
    ]
    width = max(len(r[0]) for r in rows)
    if inches:
        shorter = [note.replace("wing root leading", "leading") for *_, note in rows]
        rows = [[a, f"{v.rjust(9)}  {in_inches(v).rjust(11)}", note] for (a, v, _), note in zip(rows, shorter)]
    lines = [wrapped(f"{a.ljust(width)}  {v.rjust(9)}  {note}", " " * (width + 26), "") for a, v, note in rows]
    return "\n".join([*lines, "", inertia_table(b), "", margins_table(b, spread)])


def inertia_table(b: Balance) -> str:
    """Moments of inertia about the CG, and their radii against those of the textbook."""
    sizes = ((b.span, "span"), (b.length, "length"), (b.span + b.length, "span and length"))
    rows = [
        [axis, f"{inertia:.2f}", mm(radius), f"{radius / size:.3f}", f"{typical / size:.3f}", of]
        for axis, inertia, radius, typical, (size, of) in zip(
            ("roll", "pitch", "yaw"), b.inertia, b.gyration, b.typical, sizes
        )
    ]
    rows.append(["product roll-yaw", number(b.inertia[3], "N m"), "", "", "", ""])
    lines = table(["inertia about the CG", "kg m2", "radius", "over", "typical"], [row[:-1] for row in rows]).split(
        "\n"
    )
    width = max(map(len, lines))
    lines = [f"{line.ljust(width)}  {of}".rstrip() for line, of in zip(lines, ["of", "", *(row[-1] for row in rows)])]
    note = (
        "Typical: full-size aeroplanes with one propeller. Aerobatic models carry more at their ends (one of 1.1 m swung "
        "0.150, 0.24 and 0.135, its length guessed)."
    )
    return "\n".join([*lines, "", wrapped(note)])


MARGINS = (
    ("static_margin", "neutral point, propeller off"),
    ("static_margin_power", "  with power, at one speed"),
    ("speed_margin", "  with power, trim over speed"),
    ("manoeuvre_margin", "manoeuvre point, with power"),
)

MODEL_NOTE = (
    f"its neutral point lies about {100.0 * MODEL:.1f} % of MAC further aft than linear theory has it, so every margin may "
    "read that much too large."
)


def margins_table(b: Balance, spread: dict[str, Spread]) -> str:
    """Neutral and manoeuvre points with their margins, and how far those may be off."""
    rows = []
    for name, label in MARGINS:
        s = spread[name]
        point = b.cg + s.value * b.mac
        # what one sigma of it comes from, by the two largest parts
        largest = [(a, part) for a, part in s.parts[:2] if abs(part) > 0.25 * s.sigma]
        rows.append([
            label, mm(point), number(100.0 * (point - b.mac_leading_edge) / b.mac, "%"), number(100.0 * s.value, "%"),
            f"+-{number(100.0 * s.sigma, '%')}", _short([a.name for a, _ in largest]),
        ])  # fmt: skip
    head = ["point, stick fixed", "behind LE", "% MAC", "margin", "", "mostly from"]
    plain = [row[:-1] for row in rows]
    lines = table(head[:-1], plain).split("\n")
    lines = [f"{line.ljust(max(map(len, lines)))}  {extra}".rstrip() for line, extra in
             zip(lines, [head[-1], "", *(row[-1] for row in rows)])]  # fmt: skip
    pull, off = spread["elevator_per_g"], 100.0 * b.static_margin
    word = "stable" if off > 0.0 else "unstable, CG behind neutral point"
    known = {a.name: f"{a.text} of {a.name}" for s in spread.values() for a, _ in s.parts}
    note = (
        f"Margins in % of MAC behind the CG, {word}; +- is one standard deviation of what cannot be measured exactly "
        f"({', '.join(known.values())}). On top of it the model itself: {MODEL_NOTE} "
        "Trim over speed: where elevator trim would no longer change with speed at this throttle."
    )
    pulled = math.degrees(-pull.value)
    text = (
        f"One g more in a steady pull at {b.airspeed:.0f} m/s takes {number(abs(pulled), 'deg')} deg of elevator "
        f"{'up' if pulled >= 0.0 else 'down'} (+-{math.degrees(pull.sigma):.2f})."
    )
    return "\n".join([f"Pitch stability in level flight at {b.airspeed:.0f} m/s", "", *lines, "", wrapped(note),
                      wrapped(text)])  # fmt: skip


def _short(names: list[str]) -> str:
    """Names of inputs in the room that the table leaves, the first alone where both are too long."""
    short = [name.removeprefix("incidence of ").removesuffix(" scale") for name in names]
    both = ", ".join(short)
    return both if len(both) <= ROOM else short[0][:ROOM]


# the classical modes as a pilot sees them, and the states for those that have no such name
SEEN_AS = {
    "short period": "nose bobs",
    "phugoid": "speed against height",
    "Dutch roll": "tail wags, wings rock",
    "roll": "a started roll stops",
    "spiral": "bank creeps",
}
STATE_WORDS = {
    "u": "speed", "w": "alpha", "q": "pitch rate", "theta": "pitch", "v": "sideslip", "p": "roll rate",
    "r": "yaw rate", "phi": "bank",
}  # fmt: skip


def modes_table(b: Balance) -> str:
    """How the plane swings about level flight, hands off."""
    rows = []
    for mode in b.modes:
        taking = [STATE_WORDS[state] for state in mode.takes_part() if state in STATE_WORDS][:2]
        period = f"{_seconds(mode.period)} s" if mode.oscillates else "-"
        fades = f"{_seconds(mode.time_to_half_or_double)} s to {'double' if mode.grows else 'half'}"
        seen = SEEN_AS.get(mode.name, ", ".join(taking))
        rows.append([mode.name, seen, period, number(mode.damping_ratio, ""), fades])
    head = ["mode", "what is seen", "period", "damping", "fades or grows"]
    return f"Level flight at {b.airspeed:.0f} m/s, hands off\n\n" + table(head, rows, left=2)


def _seconds(seconds: float) -> str:
    return f"{seconds:.2f}" if seconds < 10.0 else f"{seconds:.0f}" if seconds < 1000.0 else ">1000"


DERIVATIVES = (
    ("CL_alpha", "lift with angle of attack"), ("CD_alpha", "drag with angle of attack"),
    ("Cm_alpha", "pitch stability"), ("Cm_q", "pitch damping"), ("Cm_u", "pitch with speed"),
    ("CL_de", "elevator: lift"), ("Cm_de", "elevator: pitch"), ("CY_beta", "side force with sideslip"),
    ("Cl_beta", "dihedral effect"), ("Cn_beta", "weathercock stability"), ("Cl_p", "roll damping"),
    ("Cn_p", "yaw with roll rate"), ("Cl_r", "roll with yaw rate"), ("Cn_r", "yaw damping"),
    ("Cl_da", "aileron: roll"), ("Cn_da", "aileron: adverse yaw"), ("CY_dr", "rudder: side force"),
    ("Cl_dr", "rudder: roll"), ("Cn_dr", "rudder: yaw"),
)  # fmt: skip


def derivatives_table(b: Balance) -> str:
    """The handbook's derivatives in level flight with the lengths they are made with."""
    on, off = b.derivatives, b.derivatives_off
    rows = [
        [words, symbol, *(f"{d.values[symbol]:.3f}".replace("-0.000", "0.000") for d in (on, off))]
        for symbol, words in DERIVATIVES
    ]
    note = (
        f"Per radian, about the CG, axes along the flight path, flow settled; wing area {on.area:.3f} m2, chord "
        f"{on.chord:.3f} m, span {on.span:.2f} m; rates as q c/2V, p b/2V, r b/2V, speed as a fraction. Positive "
        "elevator (de), aileron (da) and rudder (dr) give negative moments. Power on: rotor speed held."
    )
    return "\n".join([table(["derivative", "", "power on", "power off"], rows, left=2), "", wrapped(note)])


# ---- the document -------------------------------------------------------------------------------------------------------


def mm_quantity(metres: float | None) -> dict[str, Any]:
    """A length in a document."""
    return quantity(None if metres is None else in_unit(metres, "length", "mm"), "mm")


def share_quantity(share: float | None) -> dict[str, Any]:
    """A share in a document, in %."""
    return quantity(None if share is None else 100.0 * share, "%")


def balance_document(name: str, airframe: str, b: Balance, spread: dict[str, Spread]) -> dict[str, Any]:
    """The document of `upline balance`."""
    return {
        "setup": name,
        "airframe": airframe,
        "mass": quantity(b.mass, "kg"),
        "cg": mm_quantity(b.cg),
        "cg_mac": share_quantity(b.cg_mac),
        "cg_height": mm_quantity(b.cg_height),
        "cg_right": mm_quantity(b.cg_right),
        "neutral_point": mm_quantity(b.neutral_point),
        "neutral_point_mac": share_quantity(b.neutral_point_mac),
        "static_margin": share_quantity(b.static_margin),
        "mac": mm_quantity(b.mac),
        "mac_leading_edge": mm_quantity(b.mac_leading_edge),
        "wing_loading": quantity(b.wing_loading, "kg/m2"),
        "lift_slope": quantity(b.lift_slope, "1/rad"),
        "inertia": {k: quantity(v, "kg m2") for k, v in zip(("roll", "pitch", "yaw", "roll_yaw_product"), b.inertia)},
        "gyration_radius": {
            axis: {**mm_quantity(radius), "typical": mm_quantity(typical)}
            for axis, radius, typical in zip(("roll", "pitch", "yaw"), b.gyration, b.typical)
        },
        "moved_item": {
            "name": b.moved_item,
            "at": mm_quantity(b.item_station),
            "tray": [mm_quantity(x) for x in b.tray],
            "cg_reach": [mm_quantity(x) for x in b.reach],
        },
        "margins": {
            **{name: _margin(b, spread[name]) for name, _ in MARGINS},
            "elevator_per_g": {
                **quantity(-math.degrees(spread["elevator_per_g"].value), "deg"),
                "sigma": quantity(math.degrees(spread["elevator_per_g"].sigma), "deg"),
            },
            "model": share_quantity(MODEL),
            "measured_to": {
                a.name: {"text": a.text, "how": a.how, "source": a.source} for a, _ in spread["static_margin"].parts
            },
        },
        "level_flight": {
            "airspeed": quantity(b.airspeed, "m/s"),
            "modes": [_mode(m) for m in b.modes],
            "modes_with_settled_flow": [_mode(m) for m in b.settled_modes],
            "derivatives": {
                "reference": {
                    "wing_area": quantity(b.derivatives.area, "m2"),
                    "chord": quantity(b.derivatives.chord, "m"),
                    "span": quantity(b.derivatives.span, "m"),
                },
                "power_on": {symbol: quantity(v, _per(symbol)) for symbol, v in b.derivatives.values.items()},
                "power_off": {symbol: quantity(v, _per(symbol)) for symbol, v in b.derivatives_off.values.items()},
            },
        },
        "estimated": list(b.estimated),
        "servo_torque_not_given": list(b.no_torque),
    }


def _margin(b: Balance, s: Spread) -> dict[str, Any]:
    return {
        **share_quantity(s.value),
        "sigma": share_quantity(s.sigma),
        "point": mm_quantity(b.cg + s.value * b.mac),
        "from": {a.name: share_quantity(part) for a, part in s.parts},
    }


def _per(symbol: str) -> str:
    return "1/rad" if "_" in symbol and not symbol.endswith("_u") else ""


def _mode(mode: Mode) -> dict[str, Any]:
    time = "time_to_double" if mode.grows else "time_to_half"
    return {
        "name": mode.name,
        "eigenvalue": {
            "real": quantity(mode.eigenvalue.real, "1/s"),
            "imaginary": quantity(mode.eigenvalue.imag, "1/s"),
        },
        "natural_frequency": quantity(mode.natural_frequency, "rad/s"),
        "damping_ratio": quantity(mode.damping_ratio, ""),
        "period": quantity(mode.period, "s"),
        time: quantity(mode.time_to_half_or_double, "s"),
        "participation": {state: round(share, 4) for state, share in mode.participation.items() if share >= 0.01},
    }
