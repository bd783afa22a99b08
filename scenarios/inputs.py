"""Everything that can be varied between flights, by the name a pilot would use: one registry.

An `Input` knows how its value is written and bounded (the same field types as the files have), what it is in a
`Case`, and how to make the case with another value.  Which inputs there are depends on the plane: its items and its
surfaces have one each.  Used by whatever flies a case more than once with something changed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Annotated, Any, get_args

from models.assemble import propeller_mass
from models.errors import OptionError, Refused, nearest, quoted
from models.fields import CentreOfGravity, OneOf, PropellerSize, Quantity, Written
from models.loader import known_blade_families, load_blades
from models.schema import ItemPart, Tilt
from models.transmitter_schema import AileronThrow, Deflection, Exponential, LinkPart, MixShare, RateShare
from models.transmitter_schema import Trim as TrimAngle
from models.units import written
from scenarios.schema import ManoeuvreFile, TurbulenceWish, WindPart
from sim.description import BladeFamily, Item, Link, Mix, Rate, Setup, Surface, ThrustLine
from sim.pilot import SKILLS
from sim.transmitter import TARGETS, rate_of

MassScale = Annotated[float, Quantity("ratio", least="50 %", most="200 %")]
Delay = Annotated[float, Quantity("duration", least="0 ms", most="600 ms")]
Sideways = Annotated[float, Quantity("length", least="-100 mm", most="100 mm")]
Mismatch = Annotated[float, Quantity("angle", least="-20 deg", most="20 deg")]
INCH = 0.0254


@dataclass(frozen=True)
class Case:
    """What is looked at: a setup, the manoeuvre that it flies (None: it is only weighed and balanced), who flies."""

    setup: Setup
    manoeuvre: ManoeuvreFile | None = None
    pilot: str = "expert"  # one of `sim.pilot.SKILLS`
    delay: float | None = None  # s from what he sees to his hand's move; None: that of his skill


@dataclass(frozen=True)
class Input:
    """`name`, `about`, how a value is `written` in text, and two functions of a case.

    `now` is the value in a case as text, "" when it has none; `apply` the case with another value, as `written.read`
    gives it.  An input `in_flight` belongs to the manoeuvre; `idle` says why it does nothing in a case, "" if it does.
    """

    name: str
    about: str
    written: Written
    now: Callable[[Case], str]
    apply: Callable[[Case, Any], Case]
    in_flight: bool = False
    idle: Callable[[Case], str] = lambda case: ""
    exact: Callable[[Case], Any] | None = None  # the value in a case where its text is rounded

    def value(self, case: Case) -> Any:
        """The value in a case that has one."""
        return self.exact(case) if self.exact else self.read(self.now(case))

    def acts_in(self, case: Case) -> bool:
        """Whether the case has it: nothing of the pilot and the air where nothing is flown."""
        return case.manoeuvre is not None or not self.in_flight

    def read(self, text: str) -> Any:
        """The value that `text` stands for.  Raises `Refused` where it is not allowed."""
        return self.written.read(text)


def inputs_of(setup: Setup) -> dict[str, Input]:
    """Every input of `setup`'s plane by name, in the order that they are listed in."""
    found = [
        Input("cg", "centre of gravity, in % of MAC or behind the wing root leading edge", CentreOfGravity(), _cg_now,
              lambda case, cg: _with(case, cg=cg), exact=lambda case: case.setup.cg),
        _lateral_cg(),
        *_throws(),
        _left_over_right(),
        *(_centring(control) for control in WAYS),
        *_mixes(),
        _latency(),
        *(_thrust(way) for way in ("down", "right")),
        *(_incidence(surface) for surface in setup.airframe.surfaces),
        Input("propeller", "diameter x pitch in inches, and blades if not 2", PropellerSize(), _size_now, _with_size),
        Input("blade family", "a built-in name or the path of a file", BladeFamilyName(),
              lambda case: case.setup.propeller.family.name, _with_blades),
        Input("mass scale", "factor on the mass of every item", _type(MassScale), lambda case: "100 %", _scaled,
              exact=lambda case: 1.0),
        *(_item_mass(item) for item in setup.airframe.items),
        *_winds(),
        Input("pilot", "who flies", OneOf(*SKILLS), lambda case: case.pilot if case.manoeuvre else "",
              lambda case, skill: replace(case, pilot=skill), in_flight=True),
        Input("pilot delay", "from what he sees to the move of his hand", _type(Delay), _delay_now,
              lambda case, delay: replace(case, delay=delay), in_flight=True),
    ]  # fmt: skip
    return {i.name: i for i in found}


def named(inputs: dict[str, Input], name: str, option: str) -> Input:
    """The input called `name`.  Raises `OptionError` with the nearest ones."""
    if name in inputs:
        return inputs[name]
    families = {"mix ": "mix STICK to CONTROL", "incidence of ": "incidence of SURFACE", "mass of ": "mass of ITEM"}
    own = next((start for start in families if name.startswith(start)), None)
    if own:
        shown = [n for n in inputs if n.startswith(own)]
    else:
        shown = [n for n in inputs if not n.startswith(tuple(families))] + list(families.values())
    allowed = "an input: " + ", ".join(shown)
    raise OptionError(option, Refused(quoted(name), allowed, " or ".join(nearest(name, inputs))))


def with_inputs(case: Case, values: Iterable[tuple[Input, Any]]) -> Case:
    """`case` with the values of some inputs, one after the other."""
    for what, value in values:
        case = what.apply(case, value)
    return case


class BladeFamilyName(Written):
    """A blade family by name or path, with the mass of its two-blade propeller of 20 in."""

    description = "a built-in blade family or a path that ends in .yaml"

    @property
    def sample(self) -> str:
        return known_blade_families()[0][0]

    def read(self, value: object) -> tuple[BladeFamily, float]:
        return load_blades(str(value).strip())


def _type(annotated: Any) -> Written:
    """The field type of an annotated type of a file."""
    return next(a for a in get_args(annotated) if isinstance(a, Written))


def _field(group: type, name: str) -> Written:
    """The field type of one field of a file."""
    return next(a for a in group.model_fields[name].metadata if isinstance(a, Written))


def _with(case: Case, **changes) -> Case:
    return replace(case, setup=replace(case.setup, **changes))


def _with_plane(case: Case, **changes) -> Case:
    return _with(case, airframe=replace(case.setup.airframe, **changes))


def _angle(radians: float) -> str:
    return f"{math.degrees(radians):.4g} deg"


def _share(value: float) -> str:
    return f"{100.0 * value:.4g} %"


# ---- balance, throws, mixes ---------------------------------------------------------------------


def _cg_now(case: Case) -> str:
    value, kind = case.setup.cg
    return _share(value) if kind == "mac" else written(value, "length", "mm")


def _lateral_cg() -> Input:
    """As if everything on board stood further to one side; the outline stays."""

    def exact(case: Case) -> float:
        items = (*case.setup.airframe.items, *case.setup.ballast)
        return sum(i.mass * i.at[1] for i in items) / sum(i.mass for i in items)

    def apply(case: Case, right: float) -> Case:
        by = right - exact(case)

        def shifted(items: tuple[Item, ...]) -> tuple[Item, ...]:
            return tuple(replace(i, at=(i.at[0], i.at[1] + by, i.at[2])) for i in items)

        shifted_plane = _with_plane(case, items=shifted(case.setup.airframe.items))
        return _with(shifted_plane, ballast=shifted(case.setup.ballast)) if by else case

    return Input("cg to the right", "centre of gravity right of the centre line, to the left below 0", _type(Sideways),
                 lambda case: written(exact(case), "length", "mm"), apply, exact=exact)  # fmt: skip


# which way of a control is positive stick (`description.Throw`), and the other one
WAYS = {"aileron": ("up", "down"), "elevator": ("up", "down"), "rudder": ("right", "left")}


def _throws() -> list[Input]:
    out = []
    for control, (positive, negative) in WAYS.items():
        for words, ends in (
            (f"{control} throw", ("positive", "negative")),
            (f"{control} {positive} throw", ("positive",)),
            (f"{control} {negative} throw", ("negative",)),
        ):
            about = "at full stick" + ("" if len(ends) == 1 else ", both ways")
            out.append(_of_throw(words, about, _type(Deflection), control, ends, _angle))
        words = f"{control} exponential"
        out.append(_of_throw(words, "0 % is linear", _type(Exponential), control, ("exponential",), _share))
        out += [_rate(control, rate) for rate in ("middle", "low")]
        out += [_rate_exponential(control, rate) for rate in ("middle", "low")]
    out.append(
        Input("aileron differential", "share that the down-going aileron is given less", _field(AileronThrow, "differential"),
              lambda case: _share(case.setup.differential), lambda case, share: _with(case, differential=share))
    )  # fmt: skip
    return out


def _of_throw(name: str, about: str, written_as: Written, control: str, ends: tuple[str, ...], text) -> Input:
    def now(case: Case) -> str:
        values = {getattr(case.setup.throws[control], end) for end in ends}
        return text(values.pop()) if len(values) == 1 else ""

    def exact(case: Case) -> float:
        return getattr(case.setup.throws[control], ends[0])

    def apply(case: Case, value: float) -> Case:
        throw = replace(case.setup.throws[control], **dict.fromkeys(ends, value))
        return _with(case, throws={**case.setup.throws, control: throw})

    return Input(name, about, written_as, now, apply, exact=exact)


def _left_over_right() -> Input:
    """What the two ailerons' throws differ by is what a straight mix of aileron to flaps adds to one and takes from the other.

    The one that goes further is still stopped where throw or end point stop it.
    """

    def share(mixes: tuple[Mix, ...]) -> float:
        return sum(m.gain for m in mixes if (m.source, m.target) == ("aileron", "flaps"))

    def apart(setup: Setup) -> float:
        throw = setup.throws["aileron"]
        return throw.positive + throw.negative  # rad that a share of 1 is

    def exact(case: Case) -> float:
        return share(case.setup.mixes) * apart(case.setup)

    def apply(case: Case, angle: float) -> Case:
        more = (angle - exact(case)) / apart(case.setup)

        def with_more(mixes: tuple[Mix, ...] | None) -> tuple[Mix, ...] | None:
            if mixes is None:
                return None  # the mode has those of the setup
            others = tuple(m for m in mixes if m.points or (m.source, m.target) != ("aileron", "flaps"))
            gain = share(mixes) + more
            return (*others, Mix("aileron", "flaps", gain)) if gain else others

        if not more:
            return case
        modes = tuple(replace(mode, mixes=with_more(mode.mixes)) for mode in case.setup.modes)
        return _with(case, mixes=with_more(case.setup.mixes), modes=modes)

    return Input("aileron left over right", "how much further the left aileron goes than the right one at full stick",
                 _type(Mismatch), lambda case: _angle(exact(case)), apply, exact=exact)  # fmt: skip


def _centring(control: str) -> Input:
    """What a setup's own trims add to those of level flight."""

    def exact(case: Case) -> float:
        return case.setup.trims.get(control, 0.0)

    return Input(
        f"{control} centring",
        f"where it stands with the stick let go, beyond level flight's trim, {WAYS[control][0]} positive",
        _type(TrimAngle),
        lambda case: _angle(exact(case)),
        lambda case, angle: _with(case, trims={**case.setup.trims, control: angle}),
        exact=exact,
    )


def _on_rate(case: Case, rate: str, control: str, **changes) -> Case:
    now = case.setup.rates.get(rate, {})
    rates = {**case.setup.rates, rate: {**now, control: replace(now.get(control, Rate()), **changes)}}
    changed = _with(case, rates=rates)
    same = rate_of(changed.setup, rate, control) == rate_of(case.setup, rate, control)
    return case if same else changed


def _rate(control: str, rate: str) -> Input:
    def apply(case: Case, share: float) -> Case:
        if rate == "low" and case.setup.rates.get("low", {}).get(control, Rate()).share is None:
            return _with(case, low_rates={**case.setup.low_rates, control: share})
        return _on_rate(case, rate, control, share=share)

    return Input(
        f"{control} {rate} rate",
        f"share of full throw on the {rate} rate",
        _type(RateShare),
        lambda case: _share(rate_of(case.setup, rate, control)[0]),
        apply,
    )


def _rate_exponential(control: str, rate: str) -> Input:
    return Input(
        f"{control} {rate} exponential",
        f"on the {rate} rate; the throw's own unless the setup says",
        _type(Exponential),
        lambda case: _share(rate_of(case.setup, rate, control)[1]),
        lambda case, value: _on_rate(case, rate, control, exponential=value),
    )


# the two ways of a stick that can be mixed each by itself, negative first
SIDES = {"aileron": ("left", "right"), "elevator": ("down", "up"), "rudder": ("left", "right")}


def _mixes() -> list[Input]:
    pairs = [(source, target) for source in (*WAYS, "throttle") for target in TARGETS if source != target]
    out = []
    for source, target in pairs:
        out.append(_mix(source, target))
        out += [_mix_side(source, side, target) for side in SIDES.get(source, ())]
    return out


def _between(setup: Setup, source: str, target: str) -> tuple[tuple[Mix, ...], tuple[Mix, ...]]:
    """The mixes from `source` to `target`, and the others."""
    own = tuple(m for m in setup.mixes if (m.source, m.target) == (source, target))
    return own, tuple(m for m in setup.mixes if m not in own)


def _full_of(target: str) -> str:
    return "throw of both ailerons, down together," if target == "flaps" else f"{target}'s full throw"


def _mix(source: str, target: str) -> Input:
    def now(case: Case) -> str:
        own, _ = _between(case.setup, source, target)
        return "" if any(m.points for m in own) else _share(sum(m.gain for m in own))

    def apply(case: Case, gain: float) -> Case:
        _, others = _between(case.setup, source, target)
        return _with(case, mixes=(*others, Mix(source, target, gain)) if gain else others)

    about = f"share of the {_full_of(target)} that full {source} stick adds"
    return Input(f"mix {source} to {target}", about, _type(MixShare), now, apply)


def _mix_side(source: str, side: str, target: str) -> Input:
    """What full stick to one side adds; what the other side adds stays."""
    way = -1.0 if side == SIDES[source][0] else 1.0

    def at(case: Case, place: float) -> float:
        return sum(m.at(place) for m in _between(case.setup, source, target)[0])

    def apply(case: Case, share: float) -> Case:
        _, others = _between(case.setup, source, target)
        ends = ((-1.0, share), (1.0, at(case, 1.0))) if way < 0.0 else ((-1.0, at(case, -1.0)), (1.0, share))
        if ends[0][1] == -ends[1][1]:  # both sides are one straight mix
            return _mix(source, target).apply(case, ends[1][1])
        return _with(case, mixes=(*others, Mix(source, target, points=(ends[0], (0.0, 0.0), ends[1]))))

    about = f"share of the {_full_of(target)} that full {side} {source} stick adds, the other side by itself"
    return Input(f"mix {source} {side} to {target}", about, _type(MixShare), lambda case: _share(at(case, way)), apply)


def _latency() -> Input:
    def apply(case: Case, seconds: float) -> Case:
        link = case.setup.link or Link(0.0, steps=0)
        if link.latency == seconds:
            return case
        return _with(case, link=replace(link, latency=seconds))

    return Input(
        "link latency", "from stick to servo; steps and period stay", _field(LinkPart, "latency"),
        lambda case: f"{1000.0 * (case.setup.link.latency if case.setup.link else 0.0):.4g} ms", apply,
    )  # fmt: skip


# ---- plane --------------------------------------------------------------------------------------


def _thrust(way: str) -> Input:
    def line(case: Case) -> ThrustLine:
        return case.setup.thrust_line or case.setup.airframe.thrust_line

    return Input(
        f"{way} thrust",
        f"how far the shaft points {way}",
        _type(Tilt),
        lambda case: _angle(getattr(line(case), way)),
        lambda case, angle: _with(case, thrust_line=replace(line(case), **{way: angle})),
        exact=lambda case: getattr(line(case), way),
    )


def _incidence(surface: Surface) -> Input:
    name = surface.name

    def apply(case: Case, angle: float) -> Case:
        surfaces = case.setup.airframe.surfaces
        return _with_plane(case, surfaces=tuple(replace(s, incidence=angle) if s.name == name else s for s in surfaces))

    def exact(case: Case) -> float:
        return next(s.incidence for s in case.setup.airframe.surfaces if s.name == name)

    def now(case: Case) -> str:
        return _angle(exact(case))

    return Input(f"incidence of {name}", "nose up against the fuselage", _type(Tilt), now, apply, exact=exact)


def _item_mass(item: Item) -> Input:
    name = item.name

    def apply(case: Case, mass: float) -> Case:
        items = case.setup.airframe.items
        return _with_plane(case, items=tuple(replace(i, mass=mass) if i.name == name else i for i in items))

    def exact(case: Case) -> float:
        return next(i.mass for i in case.setup.airframe.items if i.name == name)

    def now(case: Case) -> str:
        return written(exact(case), "mass", "g", 0)

    return Input(f"mass of {name}", "its place and size stay", _field(ItemPart, "mass"), now, apply, exact=exact)


def _scaled(case: Case, factor: float) -> Case:
    def scaled(items: tuple[Item, ...]) -> tuple[Item, ...]:
        return tuple(replace(i, mass=i.mass * factor) for i in items)

    return _with(_with_plane(case, items=scaled(case.setup.airframe.items)), ballast=scaled(case.setup.ballast))


def _delay_now(case: Case) -> str:
    if case.manoeuvre is None:
        return ""
    return written(SKILLS[case.pilot].perception if case.delay is None else case.delay, "duration", "ms", 0)


def _size_now(case: Case) -> str:
    p = case.setup.propeller
    return f"{p.diameter / INCH:.4g}x{p.pitch / INCH:.4g}" + (f"x{p.blades}" if p.blades != 2 else "")


def _with_size(case: Case, size: tuple[float, float, int]) -> Case:
    """Another size of the same blades; its mass goes with it (`models.assemble.propeller_mass`), the item's does not."""
    diameter, pitch, blades = size
    before = case.setup.propeller
    mass = before.mass * (diameter / before.diameter) ** 3 * blades / before.blades
    return _with(case, propeller=replace(before, diameter=diameter, pitch=pitch, blades=blades, mass=mass))


def _with_blades(case: Case, family: tuple[BladeFamily, float]) -> Case:
    blades, mass_at_20_in = family
    before = case.setup.propeller
    mass = propeller_mass(mass_at_20_in, before.diameter, before.blades)
    return _with(case, propeller=replace(before, family=blades, mass=mass))


# ---- the air ------------------------------------------------------------------------------------


def _winds() -> list[Input]:
    def of(name: str, about: str, field: str, text: Callable[[Any], str], idle=lambda case: "") -> Input:
        def now(case: Case) -> str:
            return text(getattr(_wind(case), field)) if case.manoeuvre else ""

        def apply(case: Case, value: Any) -> Case:
            wind = _wind(case).model_copy(update={field: value})
            start = case.manoeuvre.start.model_copy(update={"wind": wind})
            return replace(case, manoeuvre=case.manoeuvre.model_copy(update={"start": start}))

        return Input(name, about, _field(WindPart, field), now, apply, in_flight=True, idle=idle)

    def calm(case: Case) -> str:
        wind = _wind(case)
        return "" if wind.speed or wind.turbulence or wind.gust else "no wind"

    def steady(case: Case) -> str:
        return "" if _wind(case).turbulence else "no turbulence"

    return [
        of("wind", "steady wind at 10 m, or at the height that the manoeuvre says", "speed", lambda v: f"{v:.4g} m/s"),
        of("wind direction", "where it blows from; every flight starts towards 0 deg", "from_", _angle, calm),
        of("turbulence", TurbulenceWish.description, "turbulence",
           lambda v: "as the wind" if v < 0.0 else f"{v:.4g} m/s"),
        of("turbulence seed", "another seed, another piece of the same weather", "seed", str, steady),
    ]  # fmt: skip


def _wind(case: Case) -> WindPart:
    """The wind of the manoeuvre; calm where it has none."""
    return case.manoeuvre.start.wind or WindPart()
