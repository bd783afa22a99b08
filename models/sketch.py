"""A plane from what its pilot knows: every value answered, or estimated by `models.proportions`, with the rule in words.

Lengths in m, axes of the files (x aft of the wing root leading edge, y right, z up).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from models.errors import Refused
from models.marks import MARK
from models.proportions import RULES
from models.questions import BY_KEY, OF_KIND, Answer, sweep_of
from models.template_items import ITEMS, LEVERS, Thing
from models.units import in_unit, written

INCH = 0.0254
RPM = 2.0 * math.pi / 60.0
CELL_VOLTAGE, UNLOADED = 3.7, 0.85  # V; static speed over the unloaded one
PETROL = 740.0  # kg/m3
TANK_ITSELF, TANK_LINES = 120.0, 0.06  # kg per m3 of fuel, and kg: common practice, no source
ENGINE_POWER_LAW = 0.905
LOADING = (3.0, 16.0)  # kg/m2; trade figures are 6 to 12 (common practice), a light small plane has 4
SCALE = (0.5, 1.8)  # of the estimated items, so that all add up to the weight
NOSE = (0.05, 0.40)  # of the span, ahead of the wing


@dataclass(frozen=True)
class Value:
    """A value in SI, its text with the mark where it is an estimate, and the rule (with its source) that gave it."""

    si: float
    text: str
    rule: str = ""

    @property
    def estimated(self) -> bool:
        return self.text.startswith(MARK)


@dataclass(frozen=True)
class Outline:
    """What items and sections are placed by: span, chords and places in short names, as formulas use them."""

    b: float
    half: float
    cr: float
    ct: float
    sweep: float
    dihedral: float  # rise of the tip
    bs: float
    cs: float
    cst: float
    xs: float
    zs: float
    stabiliser_sweep: float
    hf: float
    cf: float
    cft: float
    xf: float
    fin_sweep: float
    foot: float  # height of the fin's lower end
    nose: float
    tail: float
    depth: float
    width: float
    shaft: float  # height
    hub: float

    @property
    def length(self) -> float:
        return self.tail - self.nose

    @property
    def area(self) -> float:
        return self.half * (self.cr + self.ct)


@dataclass(frozen=True)
class Mass:
    """An item of the template with its mass (a pair: of each)."""

    thing: Thing
    mass: Value


@dataclass(frozen=True)
class Sketch:
    """A plane that can be written down.  `scale` is what the shares of the items were multiplied by."""

    name: str
    kind: str
    values: Mapping[str, Value]
    outline: Outline
    items: tuple[Mass, ...]
    scale: float
    propeller: tuple[float, float, int]
    places: Mapping[str, float]  # stations (m) of items that are not where the template has them
    doubts: tuple[tuple[str, Refused], ...]  # what cannot be so, by the key of the answer

    def estimated(self, *keys: str) -> bool:
        """Whether any of these values is an estimate."""
        return any(self.values[key].estimated for key in keys)


def kind_of(answers: Mapping[str, Answer]) -> str:
    """Electric or piston, as answered, or as the other answers tell; electric where nothing does."""
    if "power" in answers:
        return str(answers["power"].value)
    return "piston" if any(OF_KIND.get(key) == "piston" for key in answers) else "electric"


class _Filler:
    """Takes values from answers, and estimates those that are missing."""

    def __init__(self, answers: Mapping[str, Answer], span: float):
        self.answers, self.span = answers, span
        self.values: dict[str, Value] = {}

    def take(self, key: str, of: float, dimension: str, unit: str, rule: str = "") -> float:
        """The answer to `key`, else its rule's factor times `of`, rounded as it is written."""
        answer = self.answers.get(key)
        if answer is not None:
            text = MARK + answer.text if answer.estimated else answer.text
            self.values[key] = Value(float(answer.value), text, "as answered" if answer.estimated else "")
            return self.values[key].si
        found = RULES[rule or key]
        self.values[key] = estimate(found.factor(self.span) * of, dimension, unit, found.said(self.span))
        return self.values[key].si

    def derive(self, key: str, si: float, dimension: str, unit: str, words: str) -> float:
        """A value by a rule of its own, in `words`."""
        self.values[key] = estimate(si, dimension, unit, words)
        return self.values[key].si


def estimate(si: float, dimension: str, unit: str, rule: str) -> Value:
    """An estimated value, rounded to what a pilot would write."""
    number = in_unit(si, dimension, unit)
    step = 5.0 if abs(number) >= 300.0 and unit in ("mm", "g", "rpm", "rpm/V") else 1.0
    step = {"deg": 0.5, "%": 1.0, "kg": 0.1, "mAh": 100.0, "ml": 10.0, "W": 50.0}.get(unit, step)
    number = round(number / step) * step
    text = f"{number:.1f}".removesuffix(".0")
    return Value(number * si_of(dimension, unit), f"{MARK}{'0' if text == '-0' else text} {unit}", rule)


def si_of(dimension: str, unit: str) -> float:
    """One `unit` in SI."""
    return 1.0 / in_unit(1.0, dimension, unit)


def sketch(answers: Mapping[str, Answer]) -> Sketch:
    """The plane that the answers (at least the span) and the rules make; what cannot be so is in its `doubts`."""
    span = float(answers["span"].value)
    fill = _Filler(answers, span)
    kind = kind_of(answers)
    fill.take("span", 0.0, "length", "mm", "dihedral")
    weight = fill.take("weight", 1.0, "mass", "kg")
    outline = _outline(fill, answers, span)
    known = _electric(fill, weight) if kind == "electric" else _piston(fill, weight)
    items, scale = _masses(ITEMS[kind], weight, known)
    made = Sketch(
        name=str(answers["name"].value) if "name" in answers else "my-plane",
        kind=kind,
        values=fill.values,
        outline=outline,
        items=items,
        scale=scale,
        propeller=_propeller(fill),
        places={},
        doubts=(),
    )
    return replace(made, doubts=tuple(_doubts(made, answers)))


def moved_aft(s: Sketch, moment: float) -> Sketch:
    """`s` with its levers moved aft (forward where negative) by `moment` in kg m, or as far as they go."""
    g, rooms = s.outline, {}
    for item in s.items:
        if item.thing.name in LEVERS:
            low, high = LEVERS[item.thing.name](g)
            at = s.places.get(item.thing.name, item.thing.at(g)[0])
            rooms[item.thing.name] = at, (max(0.0, high - at) if moment > 0.0 else min(0.0, low - at)), item.mass.si
    whole = sum(room * mass for _, room, mass in rooms.values())
    part = min(1.0, moment / whole) if whole else 0.0
    return replace(s, places={name: at + part * room for name, (at, room, _) in rooms.items()})


def _mm(fill: _Filler, key: str, of: float, rule: str = "") -> float:
    return fill.take(key, of, "length", "mm", rule)


def _outline(fill: _Filler, answers: Mapping[str, Answer], b: float) -> Outline:
    half = 0.5 * b
    cr, ct = _wing_chords(fill, answers, b)
    if "wing_sweep" in answers:
        answer = answers["wing_sweep"]
        at = sweep_of(answer.value, half)
        fill.values["wing_sweep"] = Value(at, (MARK if answer.estimated else "") + written(at, "length", "mm", 0))
    else:
        at = _mm(fill, "wing_sweep", cr - ct)
    dihedral = fill.take("dihedral", 1.0, "angle", "deg")
    for key in ("wing_thickness", "stabiliser_thickness"):
        fill.take(key, 1.0, "ratio", "%")
    bs = _mm(fill, "stabiliser_span", b)
    cs = _mm(fill, "stabiliser_root_chord", cr)
    cst = _mm(fill, "stabiliser_tip_chord", cs)
    xs, zs = _mm(fill, "stabiliser_at", b), _mm(fill, "stabiliser_height", b)
    hf = _mm(fill, "fin_height", b)
    cf = _mm(fill, "fin_root_chord", hf)
    cft = _mm(fill, "fin_tip_chord", cf)
    for key in ("aileron", "elevator", "rudder"):
        fill.take(key, 1.0, "ratio", "%")

    def by(rule: str, of: float) -> float:
        return RULES[rule].factor(b) * of

    tail = xs + by("tail_end", cs)
    if "fuselage_length" in answers:
        nose = tail - _mm(fill, "fuselage_length", 0.0, "nose")
    else:
        nose = -by("nose", b)
        words = f"{RULES['nose'].said(b)}, {RULES['tail_end'].said(b)}"
        fill.derive("fuselage_length", tail - nose, "length", "mm", words)
    depth = _mm(fill, "fuselage_depth", b)
    return Outline(
        b=b, half=half, cr=cr, ct=ct, sweep=at, dihedral=half * math.tan(dihedral), bs=bs, cs=cs, cst=cst, xs=xs, zs=zs,
        stabiliser_sweep=by("stabiliser_sweep", cs - cst), hf=hf, cf=cf, cft=cft, xf=xs - by("fin_at", b),
        fin_sweep=by("fin_sweep", cf - cft), foot=zs - by("fin_foot", hf), nose=nose, tail=tail, depth=depth,
        width=by("fuselage_width", depth), shaft=_mm(fill, "thrust_height", b), hub=nose - by("hub", b),
    )  # fmt: skip


def _wing_chords(fill: _Filler, answers: Mapping[str, Answer], b: float) -> tuple[float, float]:
    """Root and tip chord: from each other where one is known, else from the mean chord of planes of that span."""
    taper, mean = RULES["wing_taper"].factor(b), RULES["mean_chord"].factor(b)
    words = RULES["wing_taper"].said(b)
    if "wing_root_chord" in answers:
        return (root := _mm(fill, "wing_root_chord", 0.0, "nose")), _mm(fill, "wing_tip_chord", root, "wing_taper")
    if "wing_tip_chord" in answers:
        tip = _mm(fill, "wing_tip_chord", 0.0, "nose")
        return fill.derive("wing_root_chord", tip / taper, "length", "mm", words), tip
    root = 2.0 * mean * b / (1.0 + taper)
    root = fill.derive("wing_root_chord", root, "length", "mm", f"{RULES['mean_chord'].said(b)}, {words}")
    return root, fill.derive("wing_tip_chord", taper * root, "length", "mm", words)


def _electric(fill: _Filler, weight: float) -> dict[str, Value]:
    """Battery and motor; pack and mass tell each other.  Returns the masses that are known or made apart."""
    answers, density = fill.answers, RULES["battery_density"].factor(fill.span)
    cells = _number(fill, "cells")
    if "battery_mass" in answers or "capacity" not in answers:
        mass = fill.take("battery_mass", weight, "mass", "g")
        if "capacity" in answers:
            fill.take("capacity", 0.0, "charge", "mAh", "nose")
        else:
            words = RULES["battery_density"].said(fill.span)
            fill.derive("capacity", mass / (density * cells), "charge", "mAh", words)
    else:
        capacity = fill.take("capacity", 0.0, "charge", "mAh", "nose")
        words = RULES["battery_density"].said(fill.span)
        fill.derive("battery_mass", density * cells * capacity, "mass", "g", words)
    fill.take("motor_mass", weight, "mass", "g")
    fill.take("motor_power", weight / (CELL_VOLTAGE * cells), "current", "A")
    per_volt = RPM / (UNLOADED * CELL_VOLTAGE * cells)
    fill.take("motor_kv", per_volt, "speed constant", "rpm/V", "static_rpm")
    return _apart(fill, "battery_mass", "motor_mass", others={"battery_mass": "capacity"})


def _piston(fill: _Filler, weight: float) -> dict[str, Value]:
    volume = fill.take("displacement", weight, "volume", "cm3")
    if "engine_mass" in fill.answers:
        fill.take("engine_mass", 0.0, "mass", "g")
    else:
        mass = RULES["engine_mass"].factor(fill.span) * (volume * 1e6) ** ENGINE_POWER_LAW
        fill.derive("engine_mass", mass, "mass", "g", RULES["engine_mass"].said(fill.span))
    fuel = fill.take("tank", volume, "volume", "ml")
    fill.take("peak_power", volume, "power", "W")
    for key in ("peak_power_at", "idle"):
        fill.take(key, RPM, "angular rate", "rpm")
    words = "half the fuel, and the tank with its lines"
    fill.derive("tank_mass", (0.5 * PETROL + TANK_ITSELF) * fuel + TANK_LINES, "mass", "g", words)
    known = _apart(fill, "engine_mass", others={"engine_mass": "displacement"})
    return {**known, "tank_mass": fill.values["tank_mass"]}


def _apart(fill: _Filler, *keys: str, others: Mapping[str, str]) -> dict[str, Value]:
    """The masses that do not share in what is left: answered ones, and those that another answer gives."""
    asked = fill.answers
    return {key: fill.values[key] for key in keys if key in asked or others.get(key) in asked}


def _number(fill: _Filler, key: str) -> int:
    """A count, answered or the nearest even number to its rule's."""
    if key in fill.answers:
        answer = fill.answers[key]
        fill.values[key] = Value(answer.value, (MARK if answer.estimated else "") + str(answer.value))
        return int(answer.value)
    count = 2 * round(RULES[key].factor(fill.span) / 2)
    fill.values[key] = Value(count, f"{MARK}{count}", RULES[key].said(fill.span))
    return count


def _propeller(fill: _Filler) -> tuple[float, float, int]:
    if "propeller" in fill.answers:
        answer = fill.answers["propeller"]
        text = (MARK if answer.estimated else "") + answer.text
        fill.values["propeller"] = Value(answer.value[0], text, "as answered" if answer.estimated else "")
        return answer.value
    diameter, pitch = (round(RULES[key].factor(fill.span)) for key in ("diameter", "pitch"))
    fill.values["propeller"] = Value(diameter * INCH, f"{MARK}{diameter}x{pitch}", RULES["diameter"].said(fill.span))
    return diameter * INCH, pitch * INCH, 2


def _masses(things: tuple[Thing, ...], weight: float, known: Mapping[str, Value]) -> tuple[tuple[Mass, ...], float]:
    """The mass of every item, and what the shares of the estimated ones were scaled by; the fuselage takes the rounding."""
    rest = weight - sum(value.si for value in known.values())
    shares = sum(t.share * (2 if t.pair else 1) for t in things if t.known not in known)
    scale = rest / (shares * weight)
    words = "share of the weight"
    masses = {
        t.name: known[t.known] if t.known in known else estimate(scale * t.share * weight, "mass", "g", words)
        for t in things
    }
    sum_of_others = sum(masses[t.name].si * (2 if t.pair else 1) for t in things if t.name != "fuselage")
    left = weight - sum_of_others
    masses["fuselage"] = Value(left, f"{MARK}{written(left, 'mass', 'g', 1).replace('.0 ', ' ')}", words)
    return tuple(Mass(t, masses[t.name]) for t in things), scale


def _doubts(s: Sketch, answers: Mapping[str, Answer]):
    """What cannot be so, at the answer that is likeliest wrong."""
    g, kg = s.outline, s.values["weight"].si
    for tip, root in (("wing_tip_chord", "wing_root_chord"), ("stabiliser_tip_chord", "stabiliser_root_chord"),
                      ("fin_tip_chord", "fin_root_chord")):  # fmt: skip
        if tip in answers and root in answers and s.values[tip].si > 1.2 * s.values[root].si:
            yield tip, Refused(_shown(s, tip), f"at most 1.2 times the chord at the root, {_shown(s, root)}")
    if "weight" in answers and not LOADING[0] <= kg / g.area <= LOADING[1]:
        found = f"{_shown(s, 'weight')} on a wing of {g.area * 100:.0f} dm2, {kg / g.area:.1f} kg/m2"
        allowed = f"{LOADING[0] * g.area:.1f} to {LOADING[1] * g.area:.1f} kg with that wing"
        yield "weight", Refused(found, allowed, "the whole weight with battery, and the whole span")
    if "stabiliser_span" in answers and g.bs > 0.8 * g.b:
        yield (
            "stabiliser_span",
            Refused(_shown(s, "stabiliser_span"), f"at most 0.8 of the wing span, {_mm_text(0.8 * g.b)}"),
        )
    if "stabiliser_at" in answers and not 1.1 * g.cr <= g.xs <= 0.9 * g.b:
        allowed = f"{_mm_text(1.1 * g.cr)} (behind the wing) to {_mm_text(0.9 * g.b)}"
        advice = "the distance from leading edge to leading edge at the roots"
        yield "stabiliser_at", Refused(_shown(s, "stabiliser_at"), allowed, advice)
    if "fuselage_length" in answers and not NOSE[0] * g.b <= -g.nose <= NOSE[1] * g.b:
        low, high = (g.tail + share * g.b for share in NOSE)
        found = f"{_shown(s, 'fuselage_length')}, with the tail end {_mm_text(g.tail)} behind the wing's leading edge"
        yield "fuselage_length", Refused(found, f"{_mm_text(low)} to {_mm_text(high)}")
    if not SCALE[0] <= s.scale <= SCALE[1]:
        known = [item for item in s.items if item.thing.known and not item.mass.rule.startswith("share")]
        heavy = max(known, key=lambda item: item.mass.si, default=None)
        key = next(
            (k for k in (heavy.thing.known if heavy else "", "capacity", "displacement") if k in answers), "weight"
        )
        total = sum(item.mass.si for item in known)
        found = f"{kg:.2f} kg in all, of which {total:.2f} kg are battery, motor, engine or tank"
        usual = (kg - total) / s.scale
        low, high = total + SCALE[0] * usual, total + SCALE[1] * usual
        yield key, Refused(found, f"a weight of {low:.1f} to {high:.1f} kg with these")


def _shown(s: Sketch, key: str) -> str:
    return f'"{s.values[key].text}"'


def _mm_text(length: float) -> str:
    return written(length, "length", "mm", 0)


def asked_in(answers: Mapping[str, Answer]) -> list[str]:
    """The keys of the questions that make sense for the kind of power, in order."""
    kind = kind_of(answers)
    return [key for key, question in BY_KEY.items() if question.kind in ("", kind)]
