"""Numbers in SI from quantities as people write them ("152 mm", "62 oz", "0.12 s/60deg"), and back.

Factors are exact: 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 lb = 0.45359237 kg, 1 mile =
1609.344 m, 1 kt = 1852 m/h, standard gravity 9.80665 m/s2 (NIST Special Publication 811,
2008 edition, appendix B), so a quantity is rounded once, to the nearest float.

There is no algebra of units: a field expects one dimension, and only that dimension's
units are looked up.  So "g" is a gram where a mass is expected and standard gravity
where an acceleration is.

Two ways in which people write inches and pounds are read too: fractions ("1/2 in",
"14 1/2 in"), and a unit with the next smaller one behind it ("5 lb 6 oz", "6 ft 2 in").
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from fractions import Fraction

from models.errors import Refused, nearest, quoted

LONGEST = 60  # characters; no honest quantity is longer

_INCH = Fraction("0.0254")
_FOOT = Fraction("0.3048")
_POUND = Fraction("0.45359237")
_OUNCE = _POUND / 16
_GRAVITY = Fraction("9.80665")
_DEGREE = Fraction(math.pi) / 180
_TURN = Fraction(math.pi) * 2
_MILLI = Fraction(1, 1000)
SMALLER = {"lb": ("oz", 16), "ft": ("in", 12), "min": ("s", 60)}  # what may follow a unit, and how many make one of it


@dataclass(frozen=True)
class Dimension:
    """A kind of quantity: its name with article, its units with their factors to SI, and a sample.

    `aliases` are other spellings.  `inverse` units divide: a servo speed in s/60deg is a
    time for an angle.  With `bare` a plain number is taken as it is.  `rare` units are
    accepted and not offered.
    """

    a_name: str
    units: dict[str, Fraction]
    sample: str
    aliases: dict[str, str] = field(default_factory=dict)
    inverse: dict[str, Fraction] = field(default_factory=dict)
    bare: bool = False
    rare: tuple[str, ...] = ()

    @property
    def spellings(self) -> tuple[str, ...]:
        """Every accepted spelling of a unit, the plain ones first."""
        return (*self.units, *self.inverse, *self.aliases)

    @property
    def in_words(self) -> str:
        """What is allowed, in words."""
        units = ", ".join(unit for unit in (*self.units, *self.inverse) if unit not in self.rare)
        if not units:
            return self.a_name
        return f"{self.a_name} in {units}, or a plain number" if self.bare else f"{self.a_name} in {units}"

    @property
    def pattern(self) -> str:
        """A regular expression (of the kind that JSON Schema has) for the texts that `parse` takes."""
        number = r"([0-9]{1,4}[ -])?[0-9]{1,4}/[1-9][0-9]?|([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?"
        forms = ["|".join(_unit_pattern(unit) for unit in self.spellings)]
        for big, (small, _) in SMALLER.items():
            if big in self.units:
                bigs, smalls = (
                    "|".join(n for n in self.spellings if n == u or self.aliases.get(n) == u) for u in (big, small)
                )
                forms.append(rf"({bigs}) *[0-9 ./-]+ *({smalls})")
        return rf"^ *[+\u2212-]?({number}) *({'|'.join(forms)}){'?' if self.bare else ''} *$"


def _unit_pattern(unit: str) -> str:
    """A unit with the signs that may stand for its letters."""
    text = unit.replace("s/60", "s ?/ ?60").replace("deg", "(deg|\u00b0)").replace("ohm", "(ohm|\u2126|\u03a9)")
    return re.sub("2$", "[2\u00b2]", re.sub("^u", "[u\u00b5\u03bc]", text))


DIMENSIONS: dict[str, Dimension] = {
    "length": Dimension(
        "a length",
        {
            "mm": _MILLI,
            "cm": Fraction(1, 100),
            "m": Fraction(1),
            "in": _INCH,
            "ft": _FOOT,
            "km": Fraction(1000),
            "um": Fraction(1, 10**6),
        },
        "152 mm",
        {'"': "in"},
        rare=("km", "um"),
    ),
    "mass": Dimension("a mass", {"g": _MILLI, "kg": Fraction(1), "oz": _OUNCE, "lb": _POUND}, "620 g", {"lbs": "lb"}),
    "angle": Dimension("an angle", {"deg": _DEGREE, "rad": Fraction(1)}, "28 deg"),
    "ratio": Dimension("a share", {"%": Fraction(1, 100)}, "33 %", bare=True),
    "number": Dimension("a plain number", {}, "1.2", bare=True),
    "area": Dimension(
        "an area",
        {"cm2": Fraction(1, 10**4), "dm2": Fraction(1, 100), "m2": Fraction(1), "in2": _INCH**2, "ft2": _FOOT**2},
        "120 cm2",
    ),
    "volume": Dimension(
        "a volume",
        {"cm3": Fraction(1, 10**6), "ml": Fraction(1, 10**6), "l": Fraction(1, 1000), "in3": _INCH**3},
        "62 cm3",
        {"cc": "cm3", "ccm": "cm3", "cu in": "in3"},
    ),
    "fuel consumption": Dimension("a fuel consumption", {"g/kWh": Fraction(1, 10**3 * 3_600_000)}, "500 g/kWh"),
    "inertia": Dimension("a moment of inertia", {"kg m2": Fraction(1), "g cm2": Fraction(1, 10**7)}, "2000 g cm2"),
    "force": Dimension(
        "a force", {"N": Fraction(1), "kgf": _GRAVITY, "lbf": _POUND * _GRAVITY, "ozf": _OUNCE * _GRAVITY}, "45 N"
    ),
    "torque": Dimension(
        "a torque",
        {
            "N m": Fraction(1),
            "N cm": Fraction(1, 100),
            "kg cm": _GRAVITY / 100,
            "oz in": _OUNCE * _GRAVITY * _INCH,
        },
        "2.5 N m",
        {"Nm": "N m", "Ncm": "N cm"},
    ),
    "power": Dimension("a power", {"W": Fraction(1), "kW": Fraction(1000)}, "3.2 kW"),
    "current": Dimension("a current", {"A": Fraction(1), "mA": _MILLI}, "2.5 A"),
    "voltage": Dimension("a voltage", {"V": Fraction(1), "mV": _MILLI}, "44.4 V"),
    "charge": Dimension("a battery capacity", {"mAh": Fraction(36, 10), "Ah": Fraction(3600)}, "5000 mAh"),
    "resistance": Dimension(
        "a resistance",
        {"mohm": _MILLI, "ohm": Fraction(1), "uohm": Fraction(1, 10**6)},
        "16 mohm",
        {"mOhm": "mohm", "Ohm": "ohm"},
        rare=("uohm",),
    ),
    "speed constant": Dimension("a motor speed constant", {"rpm/V": _TURN / 60}, "178 rpm/V"),
    "servo speed": Dimension(
        "a servo speed",
        {"deg/s": _DEGREE},
        "0.12 s/60deg",
        {"s/60 deg": "s/60deg", "sec/60deg": "s/60deg", "sec/60 deg": "s/60deg"},
        {"s/60deg": 60 * _DEGREE},
    ),
    "duration": Dimension("a time", {"s": Fraction(1), "ms": _MILLI, "min": Fraction(60)}, "1.5 s", {"sec": "s"}),
    "speed": Dimension(
        "a speed",
        {
            "m/s": Fraction(1),
            "km/h": Fraction(1000, 3600),
            "mph": _FOOT * 5280 / 3600,
            "kt": Fraction(1852, 3600),
            "ft/s": _FOOT,
        },
        "18 m/s",
        {"kts": "kt"},
    ),
    "angular rate": Dimension(
        "a turning rate",
        {"deg/s": _DEGREE, "rad/s": Fraction(1), "rpm": _TURN / 60},
        "360 deg/s",
    ),
    "acceleration": Dimension("an acceleration", {"g": _GRAVITY, "m/s2": Fraction(1)}, "4 g"),
    "frequency": Dimension("a frequency", {"Hz": Fraction(1), "kHz": Fraction(1000)}, "50 Hz"),
}

_NUMBER = re.compile(
    r"[+-]?(?:[0-9]{1,4}/[1-9][0-9]?(?![0-9./])|[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3}(?![0-9]))?"
)
_MIXED = re.compile(r"([+-]?[0-9]{1,4})[ -]([0-9]{1,2}/[1-9][0-9]?)(?![0-9./])")
_SECOND = re.compile(
    r"(lbs?|ft|min) ?([0-9]{1,3}(?:\.[0-9]+|[ -][0-9]{1,2}/[1-9][0-9]?|/[1-9][0-9]?)?) ?(oz|in|\"|s|sec)"
)
_NOT_FINITE = re.compile(r"[+-]?\.?(?:nan|inf|infinity)\b", re.IGNORECASE)
_PLAIN = str.maketrans(
    {
        "\u2212": "-",
        "\u00b5": "u",
        "\u03bc": "u",
        "\u00b0": "deg",
        "\u00b2": "2",
        "\u00b7": " ",
        "\u2126": "ohm",
        "\u03a9": "ohm",
        "\u00a0": " ",
        "\u202f": " ",
        "\u2009": " ",
        "\u00d7": "x",
    }
)


def parse(value: object, dimension: str) -> float:
    """The quantity in SI: m, kg, rad, m2, N, A s, ohm, rad/s (also for rpm and servo speed), rad/s per V, Hz.

    `value` is the text as written, `dimension` a key of `DIMENSIONS`.  Raises `Refused`
    when the unit is missing, unknown or of another dimension, and when the number is not
    a finite decimal number.
    """
    wanted = DIMENSIONS[dimension]
    shown = quoted(value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        value = str(value)  # a caller with numbers in hand is held to the same rule
    if not isinstance(value, str) or not value.strip():
        raise Refused(shown, wanted.in_words, f'"{wanted.sample}"')
    if len(value) > LONGEST:
        raise Refused(f"{shown} ({len(value)} characters)", wanted.in_words, f'"{wanted.sample}"')
    text = " ".join(value.translate(_PLAIN).split())
    number, unit = _split(text, wanted, shown)
    if match := _SECOND.fullmatch(unit):
        return _in_two_units(number, match, wanted, shown)
    return _to_si(number, _known_unit(unit, number, wanted, shown), wanted, shown)


def _in_two_units(number: str, rest: re.Match[str], wanted: Dimension, shown: str) -> float:
    """The value of "5 lb 6 oz" in SI, `rest` being what follows the five."""
    big, small = (_known_unit(wanted.aliases.get(unit, unit), number, wanted, shown) for unit in (rest[1], rest[3]))
    below, most = SMALLER[big]
    first, second = _exact(number), _exact(rest[2])
    if small != below or second >= most:
        raise Refused(
            f"{shown}, with {quoted(f'{rest[2]} {small}')} after {big}", f"less than {most} {below} after {big}"
        )
    exact = abs(first) * wanted.units[big] + second * wanted.units[small]
    return _rounded(-exact if number.startswith("-") else exact, wanted, shown)


def _exact(number: str) -> Fraction:
    """The number as written: "2.5", "1/2" or "14 1/2"."""
    if match := _MIXED.fullmatch(number):
        share = Fraction(match[2])
        return int(match[1]) - share if number.startswith("-") else int(match[1]) + share
    return Fraction(number)


def _split(text: str, wanted: Dimension, shown: str) -> tuple[str, str]:
    """The number and the unit of `text`, or a refusal that says what is wrong with the number."""
    if _NOT_FINITE.match(text):
        raise Refused(shown, f"{wanted.in_words}, finite", f'"{wanted.sample}"')
    match = _MIXED.match(text)
    if match is None or Fraction(match[2]) >= 1:  # fourteen and three halves is more likely a typing error
        match = _NUMBER.match(text)
    if match is None:
        raise Refused(f"{shown}, which does not start with a number", wanted.in_words, f'"{wanted.sample}"')
    number, rest = match[0], text[match.end() :]
    if re.match(r"[eE][+-]?[0-9]", rest):
        raise Refused(f"{shown}, a number out of range", f"{wanted.in_words}, finite", f'"{wanted.sample}"')
    if re.match(r",[0-9]", rest):
        point = re.sub(r",", ".", text) if text.count(",") == 1 else wanted.sample
        advice = f'a point for decimals and no thousands separator, as in "{point}" or "{text.replace(",", "")}"'
        raise Refused(f"{shown}, a number with a comma", wanted.in_words, advice)
    if re.match(r"[ _'’][0-9]", rest):
        raise Refused(f"{shown}, a number in several groups", wanted.in_words, "digits without separators")
    if rest[:1] in (".", "-", "+"):
        raise Refused(f"{shown}, which is not one number and one unit", wanted.in_words, f'"{wanted.sample}"')
    return number, re.sub(r"\s*/\s*", "/", rest.strip())


def _known_unit(unit: str, number: str, wanted: Dimension, shown: str) -> str:
    """`unit` in its plain spelling, "" for none where none is needed, or a refusal."""
    unit = wanted.aliases.get(unit, unit)
    if unit in wanted.units or unit in wanted.inverse or (not unit and wanted.bare):
        return unit
    usual = next(reversed(wanted.sample.split(" ", 1)))
    if not unit:
        raise Refused(f"{shown}, a number without a unit", wanted.in_words, f'"{number} {usual}"')
    for other in DIMENSIONS.values():
        if unit in other.spellings:
            raise Refused(f"{shown}, which is {other.a_name}", wanted.in_words, f'"{wanted.sample}"')
    near = [wanted.aliases.get(name, name) for name in nearest(unit, wanted.spellings, 1)]
    advice = f'"{number} {near[0]}"' if near else f'"{wanted.sample}"'
    raise Refused(f"{shown}, with an unknown unit {quoted(unit)}", wanted.in_words, advice)


def _to_si(number: str, unit: str, wanted: Dimension, shown: str) -> float:
    """The value in SI, rounded once."""
    try:
        exact = _exact(number)
        if unit in wanted.inverse:
            exact = wanted.inverse[unit] / exact
        elif unit:
            exact *= wanted.units[unit]
    except ZeroDivisionError:
        exact = Fraction(10**400)  # no float is as large
    return _rounded(exact, wanted, shown)


def _rounded(exact: Fraction, wanted: Dimension, shown: str) -> float:
    try:
        return float(exact)
    except OverflowError:
        raise Refused(f"{shown}, a number out of range", f"{wanted.in_words}, finite", f'"{wanted.sample}"') from None


def in_unit(value: float, dimension: str, unit: str) -> float:
    """The SI `value` expressed in `unit` of `dimension` (KeyError if it has no such unit)."""
    kind = DIMENSIONS[dimension]
    if unit in kind.inverse:
        return float(kind.inverse[unit]) / value if value else math.inf
    return value / float(kind.units[unit])


def written(value: float, dimension: str, unit: str, decimals: int = 1) -> str:
    """The SI `value` as text with its unit, rounded to `decimals`: written(0.152, "length", "mm", 0) is "152 mm"."""
    text = f"{in_unit(value, dimension, unit):.{decimals}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")  # "-0.0" makes a reader look for a meaning that is not there
    return f"{text} {unit}"


_PROPELLER = re.compile(r"([0-9]{1,3}(?:\.[0-9]{1,3})?) ?[xX] ?([0-9]{1,3}(?:\.[0-9]{1,3})?)(?: ?[xX] ?([0-9]{1,2}))?")


def parse_propeller(value: object) -> tuple[float, float, int]:
    """Diameter in m, pitch in m and blade count of a designation in inches such as "21x13" or "21x13x3".

    Without a third number a propeller has two blades.  Raises `Refused`.
    """
    allowed = "diameter x pitch in inches, and the blade count if it is not 2"
    text = " ".join(value.translate(_PLAIN).split()) if isinstance(value, str) and len(value) <= LONGEST else ""
    match = _PROPELLER.fullmatch(text)
    if match is None:
        raise Refused(quoted(value), allowed, '"21x13" or "21x13x3"')
    diameter, pitch = Fraction(match[1]), Fraction(match[2])
    blades = int(match[3] or 2)
    if not 5 <= diameter <= 40:
        raise Refused(f"{quoted(value)}, a diameter of {match[1]} in", "a diameter from 5 in to 40 in")
    if not 1 <= pitch <= 40:
        raise Refused(f"{quoted(value)}, a pitch of {match[2]} in", "a pitch from 1 in to 40 in")
    if not 2 <= blades <= 6:
        raise Refused(f"{quoted(value)}, {blades} blades", "2 to 6 blades")
    return float(diameter * _INCH), float(pitch * _INCH), blades
