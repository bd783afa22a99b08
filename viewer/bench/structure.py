"""What the structure bench prints, and its JSON document."""

from __future__ import annotations

import math
from typing import Any

from models.units import in_unit
from scenarios.bench.structure import NOT_SEEN, Hardest, Loads, StructureBench
from sim import span_loads as S
from sim import structure as T
from sim.description import Joiner
from viewer.documents import quantity
from viewer.text import number, table, wrapped

MPA = 1e-6
EXAMPLE = (
    "structure: {load factor: 8 g, joiners: {wing: {outside diameter: 30 mm, wall: 1 mm, material: 6061-T6, "
    "x: 150 mm, reach: 300 mm}}}"
)
SIGNS = (
    "Bending up (fin: right) and forward at the root rib, of the half that is harder loaded, at its hardest instant; "
    "torsion, leading edge up positive, is the greatest of the flight. Stress is that of both bendings on the tube "
    "alone. Margin: allowed over found, less 1; allowed is yield, or 1/1.5 of breaking where that is less."
)


def not_seen() -> str:
    """What the bench is blind to, in one sentence."""
    return f"Not seen here: {', '.join(NOT_SEEN)}."


def structure_table(bench: StructureBench) -> str:
    """The whole text."""
    parts = [f"{bench.setup.name} on {bench.setup.airframe.name}: loads at the roots", described(bench)]
    if bench.flights:
        parts += [_loads_table(bench, surface) for surface in bench.surfaces]
    if bench.pulls:
        parts.append("Full elevator from steady flight\n\n" + _pulls_table(bench))
    parts += ["\n".join(wrapped(s, "  ", "") for s in sentences(bench)), wrapped(SIGNS), wrapped(not_seen())]
    return "\n\n".join(parts)


def described(bench: StructureBench) -> str:
    """What carries the loads, and who says so."""
    lines = []
    for surface in bench.surfaces:
        joiner = bench.joiners.get(surface)
        if joiner is not None:
            lines.append(wrapped(f"{surface}: {_joiner(joiner, bench.ribs[f'{surface} right'])}", "  ", ""))
    for material in {j.material.name: j.material for j in bench.joiners.values()}.values():
        lines.append(wrapped(f"{material.name}: {_strength(material)}; {material.source}", "  ", ""))
    missing = [s for s in bench.surfaces if s not in bench.joiners and s != "fin"]
    if missing:
        words = f"joiner of {' and '.join(missing)}: not described, so loads are shown without stress; try: {EXAMPLE}"
        lines.append(wrapped(words, "  ", ""))
    stated = "not stated" if bench.load_factor is None else f"{number(bench.load_factor, 'g')} g"
    lines.append(f"load factor you mean to fly it with: {stated}")
    kept = [n for n in bench.relief if n in ("wing right", "wing left")]
    masses = " and ".join(f"{bench.relief[n]:.2f}" for n in kept)
    lines.append(wrapped(f"inertia relief: {masses} kg beyond the right and left wing root rib", "  ", ""))
    return "\n".join(lines)


def _joiner(joiner: Joiner, rib: float) -> str:
    many = "a tube" if joiner.tubes == 1 else f"{joiner.tubes} tubes"
    if joiner.wall >= 0.5 * joiner.diameter:
        many = many.replace("tube", "solid rod")
        size = f"{_mm(joiner.diameter)} mm"
    else:
        size = f"{_mm(joiner.diameter)} x {_mm(joiner.wall)} mm"
    side = " (the fuselage's side)" if joiner.root_rib is None else ""
    reach = f"{in_unit(joiner.reach, 'length', 'mm'):.0f} mm into each half"
    return f"{many} of {size}, {joiner.material.name}, {reach}, root rib at {1000 * rib:.0f} mm{side}"


def _mm(length: float) -> str:
    return f"{in_unit(length, 'length', 'mm'):.2f}".rstrip("0").rstrip(".")


def _strength(material) -> str:
    yields = f"yields at {material.yields * MPA:.0f}, " if material.yields is not None else ""
    return f"{yields}breaks at {T.breaking_stress(material) * MPA:.0f}, E {material.modulus * MPA:.0f} MPa"


# ---- tables ----------------------------------------------------------------------------------------------


def _mega(pascal: float | None) -> str:
    return "-" if pascal is None else f"{pascal * MPA:.0f}"


def _loads_table(bench: StructureBench, surface: str) -> str:
    """One surface's hardest instants by manoeuvre."""
    joined = surface in bench.joiners
    head = [
        f"{surface} root, N m",
        "peak g",
        "up",
        "forward",
        "torsion",
        *(["MPa", "margin"] if joined else []),
        "at s",
    ]
    if surface == "fin":
        head[2] = "right"
    rows = []
    for flight in bench.flights:
        found = flight.hardest.get(surface)
        if found is None:
            rows.append([flight.manoeuvre, *["-"] * (len(head) - 2), flight.ending])
            continue
        moments = found.bending, float(found.loads[S.BENDING_FORWARD]), flight.torsion[surface]
        row = [
            flight.manoeuvre,
            number(flight.peak, "g"),
            *(f"{moment:.1f}".replace("-0.0", "0.0") for moment in moments),
        ]
        row += [_mega(found.stress), number(found.margin, "")] if joined else []
        rows.append([*row, number(found.time, "s")])
    return table(head, rows)


def _pulls_table(bench: StructureBench) -> str:
    joined = "wing" in bench.joiners
    rows = []
    for p in bench.pulls:
        found = p.hardest
        start = "level" if p.dive == 0.0 else f"{math.degrees(p.dive):.0f} deg down"
        row = [f"{p.speed:.0f} m/s", start, number(p.load_factor, "g"), number(p.bound, ""), f"{found.bending:.1f}"]
        rows.append(row + ([_mega(found.stress), number(found.margin, "")] if joined else []))
    head = ["speed", "from", "peak g", "(V/Vs)^2", "wing up, N m", *(["MPa", "margin"] if joined else [])]
    return table(head, rows, left=2)


# ---- words -----------------------------------------------------------------------------------------------------


def sentences(bench: StructureBench) -> list[str]:
    """What it comes to, the worst first."""
    said = []
    for surface in (s for s in bench.surfaces if s in ("wing", *bench.joiners)):
        worst = bench.worst(surface)
        if worst:
            said.append(_worst(bench, surface, *worst))
    said += _stated(bench)
    said += _pins(bench)
    uneven = max((f for f in bench.flights if f.uneven), key=lambda f: abs(f.uneven["wing"].bending), default=None)
    if uneven:
        found = uneven.uneven["wing"]
        said.append(
            f"Uneven lift bends the wing roots apart by up to {abs(found.bending):.1f} N m each ({uneven.manoeuvre}): that "
            "part rolls the fuselage, the even part goes through the tube."
        )
    return said


def _worst(bench: StructureBench, surface: str, flight: Loads, found: Hardest) -> str:
    ahead, root = float(found.loads[S.BENDING_FORWARD]), found.half.split()[-1]
    way, forward = "up" if found.bending >= 0.0 else "down", "forward" if ahead >= 0.0 else "back"
    when = f'{flight.manoeuvre} at {found.time:.2f} s, in "{found.phase}", at {number(found.load_factor, "g")} g'
    words = (
        f"Hardest on the {surface}: {when}: {abs(found.bending):.1f} N m {way} and {abs(ahead):.1f} N m {forward} at the "
        f"{root} root"
    )
    joiner = bench.joiners.get(surface)
    if joiner is None or found.stress is None:
        return words + "."
    allowed, limit = T.allowed_bending(joiner.material)
    named = "its yield" if limit == "yield" else f"{T.breaking_stress(joiner.material) * MPA:.0f} it breaks at over 1.5"
    words += f", {found.stress * MPA:.0f} MPa of the {allowed * MPA:.0f} allowed ({named}): margin {found.margin:.2f}"
    if found.margin < 0.0:
        words += ", PAST THE LIMIT"
    rise = bench.tip_rise(found)
    return words + f". The tube's bend lets the tip go {abs(rise) * 1000.0:.0f} mm {way}."


def _stated(bench: StructureBench) -> list[str]:
    """What the stated load factor, full elevator and an even pull come to."""
    said, limit = [], bench.load_factor
    if limit is not None:
        stated = f"the {number(limit, 'g')} g you mean to fly"
        if bench.flights:
            passed = [f.manoeuvre for f in bench.flights if f.hardest and abs(f.peak) > limit]
            said.append(f"Past {stated}: {', '.join(passed) or 'none of these flights'}.")
        if bench.limit_speed is not None:
            said.append(f"Full elevator passes {stated} from {bench.limit_speed:.1f} m/s on.")
        elif bench.pulls:
            said.append(f"Full elevator does not pass {stated} up to {bench.pulls[-1].speed:.0f} m/s.")
    joiner, per_g = bench.joiners.get("wing"), bench.stress_per_g()
    if joiner is None or per_g is None:
        return said
    material, pull = joiner.material, bench.reference()
    bent = f"stays bent from {material.yields / per_g:.1f} g and " if material.yields is not None else ""
    words = (
        f"In an even pull (loads as in full elevator at {pull.speed:.0f} m/s) the wing's tube {bent}breaks at "
        f"{T.breaking_stress(material) / per_g:.1f} g"
    )
    if limit is not None:
        stress = per_g * limit
        margin = T.allowed_bending(material)[0] / stress - 1.0
        words += f"; at {number(limit, 'g')} g it carries {stress * MPA:.0f} MPa, margin {margin:.2f}"
    said.append(words + ".")
    if bench.margin_speed is not None:
        said.append(f"Its margin is gone with full elevator from {bench.margin_speed:.1f} m/s on.")
    return said


def _pins(bench: StructureBench) -> list[str]:
    said = []
    for surface, joiner in bench.joiners.items():
        twists = [abs(f.torsion[surface]) for f in bench.flights if surface in f.torsion]
        if not twists:
            continue
        words = f"Torsion of the {surface}, up to {number(max(twists), 'N m')} N m about its tube, "
        if joiner.pin is None:
            words += "is for the anti-rotation pin, which is not described."
        else:
            words += f"puts {max(twists) / joiner.pin:.0f} N on the pin {joiner.pin * 1000.0:.0f} mm from it."
        said.append(words)
    return said


# ---- JSON ---------------------------------------------------------------------------------------------------------


def structure_document(bench: StructureBench, files: list[str]) -> dict[str, Any]:
    """The document of `upline bench structure`."""
    return {
        "setup": bench.setup.name,
        "airframe": bench.setup.airframe.name,
        "load_factor_stated": quantity(bench.load_factor, "g"),
        "joiners": {s: _joiner_document(bench, s) for s in bench.surfaces if s != "fin"},
        "halves": {
            name: {
                "root_rib": quantity(1000.0 * bench.ribs[name], "mm"),
                "tip": quantity(1000.0 * bench.tips[name], "mm"),
                "relief": quantity(bench.relief[name], "kg"),
                "items": list(bench.counted[name]),
            }
            for name in bench.ribs
        },
        "flights": [_flight_document(flight) for flight in bench.flights],
        "full_elevator": [
            {
                "airspeed": quantity(p.speed, "m/s"),
                "dive": quantity(math.degrees(p.dive), "deg"),
                "load_factor": quantity(p.load_factor, "g"),
                "bound": quantity(p.bound, ""),
                "wing": _hardest_document(p.hardest),
            }
            for p in bench.pulls
        ],
        "stall_speed_of_greatest_lift": quantity(bench.stall_speed, "m/s"),
        "full_elevator_passes_stated_from": quantity(bench.limit_speed, "m/s"),
        "full_elevator_takes_margin_from": quantity(bench.margin_speed, "m/s"),
        "stress_per_g": quantity(None if bench.stress_per_g() is None else bench.stress_per_g() * MPA, "MPa"),
        "along_the_wing": _along_document(bench),
        "words": sentences(bench),
        "not_seen": list(NOT_SEEN),
        "files": files,
    }


def _joiner_document(bench: StructureBench, surface: str) -> dict[str, Any] | str:
    joiner = bench.joiners.get(surface)
    if joiner is None:
        return "not described"
    material = joiner.material
    allowed, limit = T.allowed_bending(material)
    return {
        "tubes": joiner.tubes,
        "outside_diameter": quantity(1000.0 * joiner.diameter, "mm"),
        "wall": quantity(1000.0 * joiner.wall, "mm"),
        "reach": quantity(1000.0 * joiner.reach, "mm"),
        "pin": quantity(None if joiner.pin is None else 1000.0 * joiner.pin, "mm"),
        "material": material.name,
        "yields_at": quantity(None if material.yields is None else material.yields * MPA, "MPa"),
        "breaks_at": quantity(T.breaking_stress(material) * MPA, "MPa"),
        "allowed": quantity(allowed * MPA, "MPa"),
        "allowed_by": "yield" if limit == "yield" else "breaking over 1.5",
        "modulus": quantity(material.modulus * MPA, "MPa"),
        "source": material.source,
    }


def _hardest_document(found: Hardest | None) -> dict[str, Any] | None:
    if found is None:
        return None
    names = {"shear": S.SHEAR, "shear_forward": S.SHEAR_FORWARD, "pull_outwards": S.AXIAL}
    turns = {"bending": S.BENDING, "bending_forward": S.BENDING_FORWARD, "torsion": S.TORSION}
    return {
        "half": found.half,
        "time": quantity(found.time, "s"),
        "phase": found.phase,
        "load_factor": quantity(found.load_factor, "g"),
        **{name: quantity(found.loads[i], "N") for name, i in names.items()},
        **{name: quantity(found.loads[i], "N m") for name, i in turns.items()},
        "stress": quantity(None if found.stress is None else found.stress * MPA, "MPa"),
        "shear_stress": quantity(None if found.shear is None else found.shear * MPA, "MPa"),
        "margin": quantity(found.margin, ""),
    }


def _flight_document(flight: Loads) -> dict[str, Any]:
    document: dict[str, Any] = {"manoeuvre": flight.manoeuvre, "ended": flight.ending}
    if flight.reason:
        return {**document, "reason": flight.reason}
    return {
        **document,
        "peak_load": quantity(flight.peak, "g"),
        "surfaces": {
            surface: {**_hardest_document(found), "greatest_torsion": quantity(flight.torsion[surface], "N m")}
            for surface, found in flight.hardest.items()
        },
        "uneven": {
            surface: {"bending": quantity(u.bending, "N m"), "time": quantity(u.time, "s"), "phase": u.phase}
            for surface, u in flight.uneven.items()
        },
    }


def _along_document(bench: StructureBench) -> dict[str, Any] | None:
    along = bench.along
    if along is None:
        return None
    columns = {"shear": (S.SHEAR, "N"), "bending": (S.BENDING, "N m"), "torsion": (S.TORSION, "N m")}
    return {
        "manoeuvre": along.manoeuvre,
        "time": quantity(along.hardest.time, "s"),
        "halves": {
            name: {
                "place": {"values": [round(1000.0 * float(p), 3) for p in along.places[name]], "unit": "mm"},
                **{
                    key: {"values": [round(float(v), 6) for v in along.loads[name][:, i]], "unit": unit}
                    for key, (i, unit) in columns.items()
                },
            }
            for name in along.places
        },
    }
