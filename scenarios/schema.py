"""The schema of a manoeuvre file: start, phases, end conditions and the measures to take."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

from pydantic import Field, PrivateAttr

from models.errors import Refused, nearest, quoted
from models.fields import Count, Document, Group, Location, Name, OneOf, PlainName, Quantity, Text, Written
from models.units import parse
from sim.phases import HORIZONTAL, MOST_CONDITIONS, VERTICAL
from sim.recording import CHANNELS
from sim.transmitter import RATES
from sim.wind import GRASS, SEVERITY

LONGEST_PHASE = "60 s"
MOST_WIND = 30.0  # m/s
STICKS = ("aileron", "elevator", "rudder")
UNIT_DIMENSION = {"s": "duration", "m": "length", "m/s": "speed", "rad": "angle", "rad/s": "angular rate", "1": "ratio"}
WATCHED = {name: UNIT_DIMENSION[unit] for name, unit, _ in CHANNELS if unit in UNIT_DIMENSION}

Span = Annotated[float, Quantity("duration", over="0 s", most=LONGEST_PHASE)]
Turn = Annotated[float, Quantity("angle", least="-360 deg", most="360 deg")]


@dataclass(frozen=True)
class Condition:
    """A channel above (+1) or below (-1) a value in SI."""

    channel: str
    sign: float
    value: float


class Until(Written):
    """Conditions as a group: channel, then "above" or "below" and a value."""

    description = "end conditions, such as {bank: above 88 deg, climb rate: below -1 m/s}"

    @property
    def sample(self) -> str:
        return "{bank: above 88 deg}"

    def read(self, value: object) -> tuple[Condition, ...]:
        if not isinstance(value, dict) or not 1 <= len(value) <= MOST_CONDITIONS:
            raise Refused(quoted(value), f"one to {MOST_CONDITIONS} conditions, such as {{bank: above 88 deg}}")
        return tuple(self._condition(str(k), v) for k, v in value.items())

    def _condition(self, channel: str, text: object) -> Condition:
        if channel not in WATCHED:
            raise Refused(quoted(channel), "a channel: " + ", ".join(WATCHED), " or ".join(nearest(channel, WATCHED)))
        match = re.fullmatch(r"\s*(above|below)\s+(.{1,40})", text) if isinstance(text, str) else None
        if not match:
            raise Refused(quoted(text), "above or below and a value", f"{channel}: above 1 {_unit(channel)}".strip())
        return Condition(channel, 1.0 if match[1] == "above" else -1.0, parse(match[2], WATCHED[channel]))

    def json_schema(self) -> dict[str, Any]:
        text = {"type": "string", "pattern": "^ *(above|below) +.+$"}
        return {"type": "object", "properties": {name: text for name in WATCHED}, "additionalProperties": False,
                "minProperties": 1, "maxProperties": MOST_CONDITIONS, "description": self.description}  # fmt: skip


def _unit(channel: str) -> str:
    return {"angle": "deg", "angular rate": "deg/s", "speed": "m/s", "length": "m", "duration": "s"}.get(
        WATCHED[channel], ""
    )


class ThrottleWish(Written):
    """What the throttle does: ("keep",), ("speed",), ("height",) or ("move", value)."""

    description = '"as it is", "hold airspeed", "hold height", or a stick position such as "60 %"'

    @property
    def sample(self) -> str:
        return "as it is"

    def read(self, value: object) -> tuple[str, float]:
        words = {"as it is": "keep", "hold airspeed": "speed", "hold height": "height"}
        text = value.strip() if isinstance(value, str) else ""
        if text in words:
            return words[text], 0.0
        try:
            amount = parse(text, "ratio")
        except Refused:
            raise Refused(quoted(value), self.description) from None
        if not 0.0 <= amount <= 1.0:
            raise Refused(quoted(value), "a stick position from 0 % to 100 %")
        return "move", amount

    def json_schema(self) -> dict[str, Any]:
        return {"type": "string", "description": self.description}


class StickList(Written):
    """Some of the three sticks, as a list."""

    description = "a list of sticks: aileron, elevator, rudder"

    @property
    def sample(self) -> str:
        return "[elevator]"

    def read(self, value: object) -> tuple[str, ...]:
        if not isinstance(value, list) or not value:
            raise Refused(quoted(value), self.description, "[elevator]")
        for word in value:
            if word not in STICKS:
                raise Refused(quoted(word), ", ".join(STICKS), " or ".join(nearest(str(word), STICKS)))
        return tuple(dict.fromkeys(value))

    def json_schema(self) -> dict[str, Any]:
        return {"type": "array", "items": {"enum": list(STICKS)}, "description": self.description}


HOLDS = {  # what a stick can hold: channel, its dimension, which way each stick moves it (aileron, elevator, rudder)
    "bank": ("bank", "angle", (1.0, 0.0, 0.0)),
    "pitch": ("pitch", "angle", (0.0, VERTICAL, VERTICAL)),
    "heading": ("heading", "angle", (0.0, HORIZONTAL, HORIZONTAL)),
    "path angle": ("path angle", "angle", (0.0, VERTICAL, VERTICAL)),
    "track": ("track", "angle", (0.0, HORIZONTAL, HORIZONTAL)),
    "alpha": ("alpha", "angle", (0.0, 1.0, 0.0)),
    "sideslip": ("beta", "angle", (0.0, 0.0, -1.0)),
    "height": ("height", "length", (0.0, VERTICAL, VERTICAL)),
    "airspeed": ("airspeed", "speed", (0.0, -1.0, 0.0)),
    "roll rate": ("roll rate", "angular rate", (1.0, 0.0, 0.0)),
    "pitch rate": ("pitch rate", "angular rate", (0.0, 1.0, 0.0)),
    "yaw rate": ("yaw rate", "angular rate", (0.0, 0.0, 1.0)),
}


@dataclass(frozen=True)
class StickWish:
    """What a stick does: `kind` "move", "doublet", "sweep" or "hold"; `value` (share of travel, or SI of what is held);
    `time` of one side of a doublet (s); `first` and `last` frequency of a sweep (Hz); `held` a key of HOLDS."""

    kind: str
    value: float
    time: float = 0.0
    first: float = 0.0
    last: float = 0.0
    held: str = ""


class StickWord(Written):
    """A stick position, or a group: a doublet, a sweep, or something that the pilot holds with that stick."""

    description = (
        'a position such as "50 %", or {doublet: 30 %, each: 0.3 s}, or {sweep: 10 %, from: 0.2 Hz, to: 3 Hz}, or'
        " {hold: alpha, at: 45 deg}"
    )

    @property
    def sample(self) -> str:
        return "50 %"

    def read(self, value: object) -> StickWish:
        if not isinstance(value, dict):
            return StickWish("move", _travel(value))
        keys = set(map(str, value))
        if keys == {"doublet", "each"}:
            return StickWish("doublet", _travel(value["doublet"]), time=_number(value["each"], "duration", 0.05, 10.0))
        if keys == {"sweep", "from", "to"}:
            first, last = (_number(value[key], "frequency", 0.05, 10.0) for key in ("from", "to"))
            return StickWish("sweep", _travel(value["sweep"]), first=first, last=last)
        if keys in ({"hold", "at"}, {"hold"}):
            held = str(value["hold"])
            if held not in HOLDS:
                raise Refused(quoted(held), "one of " + ", ".join(HOLDS), " or ".join(nearest(held, HOLDS)))
            if held == "height":
                if "at" in value:
                    raise Refused("a height to hold", '"hold: height" alone: that of the start of the phase')
                return StickWish("hold", 0.0, held=held)
            if "at" not in value:
                raise Refused(f'"hold: {held}" without "at"', f'what to hold, such as "{{hold: {held}, at: ...}}"')
            return StickWish("hold", _number(value["at"], HOLDS[held][1], -1000.0, 1000.0), held=held)
        raise Refused(quoted(value), self.description)

    def json_schema(self) -> dict[str, Any]:
        return {"type": ["string", "object"], "description": self.description}


def _travel(value: object) -> float:
    return _number(value, "ratio", -1.0, 1.0, "-100 % to 100 % of the stick's travel")


def _number(value: object, dimension: str, least: float, most: float, allowed: str = "") -> float:
    number = parse(value, dimension) if isinstance(value, str) else math.nan
    if not least <= number <= most:
        raise Refused(quoted(value), allowed or f"a {dimension} in reason, with its unit")
    return number


StickPosition = Annotated[StickWish, StickWord()]


class TurbulenceWish(Written):
    """How gusty: the steady wind at 20 ft (m/s) that goes with it, or -1 for that of the wind itself."""

    description = (
        '"light", "moderate", "severe", "as the wind", or the wind at 20 ft that goes with it, such as "6 m/s"'
    )

    @property
    def sample(self) -> str:
        return "light"

    def read(self, value: object) -> float:
        text = value.strip() if isinstance(value, str) else ""
        if text in SEVERITY:
            return parse(f"{SEVERITY[text]} kt", "speed")
        if text == "as the wind":
            return -1.0
        try:
            speed = parse(text, "speed")
        except Refused:
            raise Refused(quoted(value), self.description, " or ".join(nearest(text, SEVERITY))) from None
        if not 0.0 <= speed <= MOST_WIND:
            raise Refused(quoted(value), "a wind at 20 ft from 0 m/s to 30 m/s")
        return speed

    def json_schema(self) -> dict[str, Any]:
        return {"type": "string", "description": self.description}


class GustFrom(Written):
    """Where a gust blows from, as a unit vector of its velocity in earth axes (north, east, down)."""

    description = '"below", "above", or a compass direction such as "270 deg"'

    @property
    def sample(self) -> str:
        return "below"

    def read(self, value: object) -> tuple[float, float, float]:
        text = value.strip() if isinstance(value, str) else ""
        if text in ("below", "above"):
            return 0.0, 0.0, -1.0 if text == "below" else 1.0
        try:
            angle = parse(text, "angle")
        except Refused:
            raise Refused(quoted(value), self.description) from None
        if not 0.0 <= angle <= 2.0 * math.pi:
            raise Refused(quoted(value), "a compass direction from 0 deg to 360 deg")
        return -math.cos(angle), -math.sin(angle), 0.0

    def json_schema(self) -> dict[str, Any]:
        return {"type": "string", "description": self.description}


class GustPart(Group):
    """A 1-cosine gust, met after a distance through the air, or after a time at the speed of the start."""

    speed: Annotated[float, Quantity("speed", over="0 m/s", most="20 m/s", description="in its middle")]
    from_: Annotated[tuple[float, float, float], GustFrom()]
    length: Annotated[
        float, Quantity("length", least="1 m", most="500 m", description="along the path, from calm to calm")
    ]
    after: Annotated[float, Quantity("duration", least="0 s", most="600 s")] | None = None
    after_distance: Annotated[float, Quantity("length", least="0 m", most="10 km")] | None = None


class WindPart(Group):
    """Wind at the start and through the flight: steady, with turbulence, with one gust."""

    speed: Annotated[float, Quantity("speed", least="0 m/s", most="30 m/s")] = 0.0
    from_: Annotated[float, Quantity("angle", least="0 deg", most="360 deg", description="compass direction")] = 0.0
    at: Annotated[
        float, Quantity("length", least="1 m", most="300 m", description="height that the speed is measured at")
    ] = 10.0
    roughness: Annotated[
        float, Quantity("length", least="0.1 mm", most="500 mm", description="of the ground; grass unless said")
    ] = GRASS
    turbulence: Annotated[float, TurbulenceWish()] = 0.0
    seed: Annotated[int, Count(0, 999_999_999, "of the turbulence: the same seed, the same flight")] = 1
    gust: GustPart | None = None


class RatesWish(Written):
    """The rates switched on, by stick: those of the sticks that are named."""

    description = '"high", "middle" or "low" for all three sticks, or by stick: {aileron: low, elevator: high}'

    @property
    def sample(self) -> str:
        return "low"

    def read(self, value: object) -> dict[str, str]:
        if isinstance(value, dict) and value:
            for stick, rate in value.items():
                if stick not in STICKS:
                    raise Refused(quoted(stick), ", ".join(STICKS), " or ".join(nearest(str(stick), STICKS)))
                _known_rate(rate)
            return {str(stick): _known_rate(rate) for stick, rate in value.items()}
        return dict.fromkeys(STICKS, _known_rate(value))

    def json_schema(self) -> dict[str, Any]:
        word = {"type": "string", "enum": list(RATES)}
        group = {"type": "object", "properties": dict.fromkeys(STICKS, word), "additionalProperties": False,
                 "minProperties": 1}  # fmt: skip
        return {"anyOf": [word, group], "description": self.description}


def _known_rate(value: object) -> str:
    text = value.strip() if isinstance(value, str) else ""
    if text not in RATES:
        near = " or ".join(nearest(text, RATES))
        raise Refused(quoted(value), ", ".join(RATES) + ", or a group by stick such as {aileron: low}", near)
    return text


ModeName = Annotated[str, PlainName(description="a flight mode of the setup; normal is the setup as it stands")]
RatesOn = Annotated[dict[str, str], RatesWish()]


class Start(Group):
    """How the flight starts: steady level flight, or a steady hover, carried along by the wind where there is one."""

    from_: Annotated[str, OneOf("level flight", "hover")]
    height: Annotated[float, Quantity("length", over="0 m", most="1000 m")]
    airspeed: Annotated[float, Quantity("speed", least="3 m/s", most="80 m/s")] | None = None
    wind: WindPart | None = None
    rates: RatesOn | None = None
    mode: ModeName | None = None


class Aim(Group):
    """Where the pilot points the plane; heading counts from that at the start.  Left out: as before."""

    bank: Turn | None = None
    pitch: Annotated[float, Quantity("angle", least="-90 deg", most="90 deg")] | None = None
    heading: Turn | None = None
    at: Annotated[float, Quantity("angular rate", over="0 deg/s", most="720 deg/s")] = 1.5707963267948966


class PhasePart(Group):
    """One phase.  A stick that is not named goes on as it was."""

    name: Annotated[str, Text(40)]
    pilot: Annotated[tuple[str, ...], StickList()] = ()
    release: Annotated[tuple[str, ...], StickList()] = ()
    aileron: StickPosition | None = None
    elevator: StickPosition | None = None
    rudder: StickPosition | None = None
    within: Annotated[float, Quantity("duration", least="0 s", most="10 s")] = 0.0
    throttle: Annotated[tuple[str, float], ThrottleWish()] | None = None
    aim: Aim | None = None
    hold: Annotated[str, OneOf("attitude", "height", "path", "place")] | None = None
    rates: RatesOn | None = None
    mode: ModeName | None = None
    for_: Span | None = None
    until: Annotated[tuple[Condition, ...], Until()] | None = None
    when: Annotated[str, OneOf("any", "all")] = "any"
    at_most: Span | None = None


class ManoeuvreFile(Document):
    """A manoeuvre: how it starts, its phases, what is measured."""

    KIND: ClassVar[str] = "manoeuvre"

    kind: Annotated[str, OneOf("manoeuvre")]
    name: Name
    about: Annotated[str, Text(200, least=0)] = ""
    trim: Annotated[
        float, Quantity("speed", least="3 m/s", most="80 m/s", description="airspeed that the trims are set at")
    ] = 25.0
    sides: Annotated[
        str, OneOf("one", "both", description="both: written for the right, and flown mirrored to the left as well")
    ] = "one"
    start: Start
    phases: Annotated[tuple[PhasePart, ...], Field(min_length=1, max_length=40)]
    measures: Annotated[tuple[Annotated[str, Text(60)], ...], Field(max_length=60)] = ()
    _mirrored: bool = PrivateAttr(default=False)

    @property
    def mirrored(self) -> bool:
        """Flown to the left, right and left changing places."""
        return self._mirrored

    def cross_check(self) -> Iterator[tuple[Location, Refused]]:
        from scenarios.measures import MEASURES

        if self.start.from_ == "level flight" and self.start.airspeed is None:
            yield ("start",), Refused("level flight without an airspeed", "an airspeed, such as airspeed: 25 m/s")
        if self.start.from_ == "hover" and self.start.airspeed is not None:
            yield ("start", "airspeed"), Refused("an airspeed for a hover", "no airspeed")
        wind = self.start.wind
        if wind and wind.speed > 0.0 and "from_" not in wind.model_fields_set:
            yield (
                ("start", "wind"),
                Refused("a wind speed without a direction", "where it blows from, such as from: 270 deg"),
            )
        if wind and wind.turbulence < 0.0 and wind.speed == 0.0:
            yield ("start", "wind", "turbulence"), Refused('"as the wind" without a wind', "a speed beside it")
        if wind and wind.gust and (wind.gust.after is None) == (wind.gust.after_distance is None):
            found = "no start" if wind.gust.after is None else 'both "after" and "after distance"'
            yield (
                ("start", "wind", "gust"),
                Refused(f"a gust with {found}", 'either "after: 2 s" or "after distance: 50 m"'),
            )
        seen: set[str] = set()
        for i, phase in enumerate(self.phases):
            at: Location = ("phases", i)
            if phase.name in seen:
                yield (*at, "name"), Refused(quoted(phase.name), "a name that no other phase has")
            seen.add(phase.name)
            if (phase.for_ is None) == (phase.until is None):
                found = "no end" if phase.for_ is None else 'both "for" and "until"'
                yield at, Refused(f"a phase with {found}", 'either "for: 2 s", or "until: {...}" with "at most: 5 s"')
            if phase.until is not None and phase.at_most is None:
                yield at, Refused('"until" without "at most"', 'a longest time beside it, such as "at most: 5 s"')
            if phase.at_most is not None and phase.until is None:
                yield (*at, "at most"), Refused('"at most" without "until"', 'an end condition, or "for"')
            moved = [s for s in STICKS if getattr(phase, s) is not None]
            for stick in STICKS:
                if (stick in phase.pilot) + (stick in phase.release) + (stick in moved) > 1:
                    yield at, Refused(f"{stick} asked to do two things", "each stick once in a phase")
                wish = getattr(phase, stick)
                if wish is not None and wish.kind == "hold" and not HOLDS[wish.held][2][STICKS.index(stick)]:
                    able = [s for s in STICKS if HOLDS[wish.held][2][STICKS.index(s)]]
                    yield (*at, stick), Refused(f"{wish.held} held with the {stick}", f"with {' or '.join(able)}")
                if wish is not None and wish.kind == "sweep" and phase.for_ is None:
                    yield (*at, stick), Refused('a sweep without "for"', 'how long it takes, such as "for: 10 s"')
        for i, name in enumerate(self.measures):
            if name not in MEASURES:
                yield (
                    ("measures", i),
                    Refused(quoted(name), "a measure: " + ", ".join(MEASURES), " or ".join(nearest(name, MEASURES))),
                )
