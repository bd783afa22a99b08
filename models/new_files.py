"""The airframe and the setup file of a sketch: commented YAML in which every estimate is marked "~" and its rule named."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Iterable

from models.marks import MARK
from models.proportions import PRACTICE, RULES, between
from models.sketch import Outline, Sketch
from models.template_items import DEEPEST, HEIGHTS, MOVED, SECTIONS, WIDTHS, middle
from models.units import written

WIDTH = 110
HEAD = f"""\
# Written from what its pilot knew; stations are x aft of the wing root leading edge, y to the right, z up.
# A number with "~" is an estimate: replace it by what you measure, without the mark.  Rules of estimates stand
# beside them; they are {PRACTICE}.
"""
STRIPS = 10, 5, 5
THROWS = {"aileron": 15, "elevator": 13, "rudder": 30}  # deg, between low rates and second rates of precision
EXPONENTIAL = {"aileron": 25, "elevator": 25, "rudder": 20}  # %
CARBURETTOR = "[0 %, 12 %, 27 %, 52 %, 100 %]"
BLADES = {"electric": "broad-sport", "piston": "stiff-wood"}


def setup_name(s: Sketch) -> str:
    """The name of the first setup of a plane."""
    return f"{s.name}-first"


def airframe_text(s: Sketch) -> str:
    """The airframe file."""
    g = s.outline
    parts = [
        HEAD.rstrip(),
        "format: 1",
        "kind: airframe",
        f"name: {s.name}",
        f"about: {s.values['span'].text} {s.kind} aeroplane of about {s.values['weight'].si:.1f} kg",
        "",
        *_surfaces(s, g),
        "",
        *_fuselage(s, g),
        "",
        *_drag_bodies(s, g),
        "",
        *_comment(s, {"height of the shaft": "thrust_height"}, f"place ({RULES['hub'].said(g.b)})"),
        f"thrust line: {{at: {_point((g.hub, 0.0, g.shaft))}, down: ~0 deg, right: ~2 deg}}",
        "",
        *_items(s, g),
        "",
        *(_electric(s) if s.kind == "electric" else _piston(s)),
    ]
    return "\n".join(parts) + "\n"


def _comment(s: Sketch, names: dict[str, str], *more: str, indent: str = "") -> list[str]:
    """Comment lines with the rules of those values, named in words, that are estimates."""
    said = [f"{words} ({s.values[key].rule})" for words, key in names.items() if s.values[key].rule]
    said += more
    return _note("; ".join(said), indent) if said else []


def _note(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        f"estimated: {text}", WIDTH, initial_indent=f"{indent}# ~ ", subsequent_indent=f"{indent}#   ",
        break_on_hyphens=False,
    )  # fmt: skip


def _mm(length: float, estimated: bool = True) -> str:
    """A length in whole millimetres, or five of them where it is long; 0 on the centre line is no estimate."""
    mm = 1000.0 * length
    step = 5.0 if estimated and abs(mm) >= 100.0 else 1.0 if estimated else 0.1
    text = f"{round(mm / step) * step:.1f}".removesuffix(".0")
    return f"{MARK if estimated else ''}{'0' if text == '-0' else text} mm"


def _point(point: Iterable[float], estimated: tuple[bool, bool, bool] = (True, True, True)) -> str:
    """[x, y, z]; y on the centre line is no estimate."""
    x, y, z = point
    marks = (estimated[0], estimated[1] and y != 0.0, estimated[2])
    return "[" + ", ".join(_mm(v, mark) for v, mark in zip((x, y, z), marks)) + "]"


def _surfaces(s: Sketch, g: Outline) -> list[str]:
    v = {key: value.text for key, value in s.values.items()}
    rise = s.estimated("dihedral")
    wing = _point((g.sweep, g.half, g.dihedral), (s.estimated("wing_sweep"), s.estimated("span"), rise))
    at, high = s.estimated("stabiliser_at"), s.estimated("stabiliser_height")
    root = _point((g.xs, 0.0, g.zs), (at, False, high))
    tip = _point((g.xs + g.stabiliser_sweep, 0.5 * g.bs, g.zs), (True, s.estimated("stabiliser_span"), high))
    foot = _point((g.xf, 0.0, g.foot))
    top = _point((g.xf + g.fin_sweep, 0.0, g.foot + g.hf))
    return [
        "surfaces:",
        *_comment(s, {"root chord": "wing_root_chord", "tip chord": "wing_tip_chord", "tip's edge": "wing_sweep",
                      "height of the tip": "dihedral", "section": "wing_thickness", "aileron": "aileron"},
                  "incidence and twist none", indent="  "),
        "  wing:",
        "    symmetric: yes",
        f"    root: {{at: [0 mm, 0 mm, 0 mm], chord: {v['wing_root_chord']}}}",
        f"    tip: {{at: {wing}, chord: {v['wing_tip_chord']}}}",
        "    incidence: ~0 deg",
        "    twist: ~0 deg",
        f"    thickness: {v['wing_thickness']}",
        f"    strips: {STRIPS[0]}",
        f"    flap: {{name: aileron, chord at root: {v['aileron']}, chord at tip: {v['aileron']}, from: ~9 %, to: ~98 %}}",
        *_comment(s, {"place": "stabiliser_at", "height": "stabiliser_height", "span": "stabiliser_span",
                      "root chord": "stabiliser_root_chord", "tip chord": "stabiliser_tip_chord", "elevator": "elevator"},
                  f"tip's edge ({RULES['stabiliser_sweep'].said(g.b)})", indent="  "),
        "  stabiliser:",
        "    symmetric: yes",
        f"    root: {{at: {root}, chord: {v['stabiliser_root_chord']}}}",
        f"    tip: {{at: {tip}, chord: {v['stabiliser_tip_chord']}}}",
        "    incidence: ~0 deg",
        "    twist: ~0 deg",
        f"    thickness: {v['stabiliser_thickness']}",
        f"    strips: {STRIPS[1]}",
        f"    flap: {{name: elevator, chord at root: {v['elevator']}, chord at tip: {v['elevator']}, from: ~8 %, to: ~100 %}}",
        *_comment(s, {"height": "fin_height", "chord at the foot": "fin_root_chord", "chord at the top": "fin_tip_chord",
                      "rudder": "rudder"}, *(f"{name} ({RULES[key].said(g.b)})"
                      for name, key in (("place", "fin_at"), ("foot", "fin_foot"), ("top's edge", "fin_sweep"))),
                  indent="  "),
        "  fin:",
        f"    root: {{at: {foot}, chord: {v['fin_root_chord']}}}",
        f"    tip: {{at: {top}, chord: {v['fin_tip_chord']}}}",
        f"    thickness: {v['stabiliser_thickness']}",
        f"    strips: {STRIPS[2]}",
        f"    flap: {{name: rudder, chord at root: {v['rudder']}, chord at tip: {v['rudder']}, from: ~2 %, to: ~98 %}}",
    ]  # fmt: skip


def _fuselage(s: Sketch, g: Outline) -> list[str]:
    lines = [
        "fuselage:",
        *_comment(s, {"length": "fuselage_length", "greatest depth": "fuselage_depth"},
                  f"greatest width ({RULES['fuselage_width'].said(g.b)}); outline as on planes of this kind", indent="  "),
        "  cross-flow drag: ~1.7   # flat sides with rounded corners; 1.2 if round, 2 if sharp",
        "  stations:",
    ]  # fmt: skip
    for i, (along, high, wide) in enumerate(zip(SECTIONS, HEIGHTS, WIDTHS[s.kind])):
        height = _mm(high * g.depth, i != DEEPEST or s.estimated("fuselage_depth"))
        x, width, z = g.nose + along * g.length, _mm(wide * g.width), _mm(middle(g, i))
        lines.append(f"    - {{x: {_mm(x)}, width: {width}, height: {height}, z: {z}}}")
    return lines


def _drag_bodies(s: Sketch, g: Outline) -> list[str]:
    gear = RULES["gear_area"].factor(g.b) * g.b**2
    openings = RULES[f"openings_{s.kind}"].factor(g.b) * g.b**2

    def area(square: float) -> str:
        return f"{MARK}{round(square * 1e4)} cm2"

    return [
        "drag bodies:",
        *_note(
            f"legs ({RULES['gear_area'].words}), side and top 0.8 and 0.55 of the front; openings "
            f"({RULES[f'openings_{s.kind}'].words})",
            "  ",
        ),
        f"  - {{name: landing gear, at: {_point((0.1 * g.cr, 0.0, g.shaft - 0.65 * g.depth))}, frontal area: {area(gear)}, "
        f"side area: {area(0.8 * gear)}, top area: {area(0.55 * gear)}, drag coefficient: ~1.0}}",
        f"  - {{name: cowl openings, at: {_point((g.nose + 0.007 * g.length, 0.0, g.shaft))}, frontal area: {area(openings)}, "
        "side area: 0 cm2, top area: 0 cm2, drag coefficient: ~1.0}",
    ]


def _items(s: Sketch, g: Outline) -> list[str]:
    known = [key for key in ("battery_mass", "motor_mass", "engine_mass", "tank_mass") if key in s.values]
    rules = {key.replace("_", " "): key for key in known if s.values[key].rule}
    moved = (
        [f"but {', '.join(s.places)} where the plane balances with the {MOVED[s.kind]} on its tray"] if s.places else []
    )
    lines = [
        "items:",
        *_comment(s, rules, f"other masses as shares of the weight, scaled by {s.scale:.2f} so that all items weigh "
                  f"{s.values['weight'].si:.3f} kg; places and sizes as on planes of this kind", *moved, indent="  "),
        "  # Weigh what comes off the plane; the CG is the better for every mark that goes.",
    ]  # fmt: skip
    for item in s.items:
        x, y, z = item.thing.at(g)
        x = s.places.get(item.thing.name, x)
        if item.thing.tray is not None:
            x = min(max(x, item.thing.tray(g)[0] + 0.005), item.thing.tray(g)[1] - 0.005)  # inside also when rounded
        for name, side in ((f"right {item.thing.name}", 1.0), (f"left {item.thing.name}", -1.0))[
            : 2 if item.thing.pair else 1
        ]:
            label = name if item.thing.pair else item.thing.name
            line = f"  - {{name: {label}, mass: {item.mass.text}, at: {_point((x, side * y, z))}"
            if item.thing.size is not None:
                line += ", size: [" + ", ".join(_mm(length) for length in item.thing.size(g)) + "]"
            if item.thing.tray is not None:
                line += ", slides: {{from: {}, to: {}}}".format(*map(_mm, item.thing.tray(g)))
            lines.append(line + "}")
    return lines


def _electric(s: Sketch) -> list[str]:
    v = s.values
    return [
        "power:",
        *_comment(s, {"cells": "cells", "capacity": "capacity", "kv": "motor_kv", "limit": "motor_power"}, indent="  "),
        "  # resistances and no-load current are left out, and estimated on reading",
        "  kind: electric",
        f"  cells: {v['cells'].text}",
        f"  capacity: {v['capacity'].text}",
        f"  kv: {v['motor_kv'].text}",
        f"  current limit: {v['motor_power'].text}",
    ]


def _piston(s: Sketch) -> list[str]:
    v = s.values
    rules = {
        "displacement": "displacement",
        "power": "peak_power",
        "its speed": "peak_power_at",
        "idle": "idle",
        "fuel": "tank",
    }
    return [
        "power:",
        *_comment(s, rules, "two cylinders from 85 cm3 up", indent="  "),
        "  kind: piston",
        "  cycle: two-stroke",
        f"  cylinders: {MARK}{2 if v['displacement'].si >= 85e-6 else 1}",
        f"  displacement: {v['displacement'].text}",
        f"  peak power: {v['peak_power'].text}",
        f"  peak power at: {v['peak_power_at'].text}",
        f"  idle: {v['idle'].text}",
        f"  fuel: {v['tank'].text}",
    ]


def _quoted(name: str) -> str:
    """A file's name as YAML has it."""
    return name if re.fullmatch(r"[A-Za-z0-9][\w.-]*", name) else json.dumps(name, ensure_ascii=False)


def setup_text(s: Sketch, airframe: str, cg: float, why_cg: str) -> str:
    """The first setup file of a plane whose airframe file is called `airframe`; `cg` in m, `why_cg` its rule in words."""
    servo = f"{MARK}{between(RULES['servo'].factors, s.outline.b):.2f} s/60deg"
    propeller = s.values["propeller"]
    lines = [
        f'# The first setup of {s.name}: for first flights, forward CG and moderate throws.  "~" marks estimates.',
        "format: 1",
        "kind: setup",
        f"name: {setup_name(s)}",
        "about: first flights, forward CG from the computed neutral point, moderate throws",
        f"airframe: {_quoted(airframe)}",
        "way of flying: precision",
        *_note(why_cg),
        f"cg: {MARK}{written(cg, 'length', 'mm', 0)}",
        f"moved item: {MOVED[s.kind]}   # slides along its tray to reach the CG",
        *(_note(propeller.rule) if propeller.rule else []),
        f"propeller: {propeller.text}",
        f"blade family: {BLADES[s.kind]}   # the built-in family nearest to what is on most planes of this kind",
        f"# throws: moderate, between low and second rates of precision flying; {PRACTICE}",
        "throws:",
    ]
    for name, throw in THROWS.items():
        ways = ("left", "right") if name == "rudder" else ("up", "down")
        both = ", ".join(f"{way}: {throw} deg" for way in ways)
        lines.append(f"  {name}: {{{both}, exponential: {EXPONENTIAL[name]} %}}")
    lines += [*_note("as servos of this size"), "servos:"]
    lines += [f"  {name}: {{speed: {servo}}}" for name in THROWS]
    if s.kind == "piston":
        lines.append(
            f"throttle curve: {CARBURETTOR}   # a carburettor opens early: this puts the hover near half stick"
        )
    return "\n".join(lines) + "\n"
