"""Exact factors, what is refused and how it is said, and the way back to text."""

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.errors import Refused
from models.units import DIMENSIONS, in_unit, parse, parse_propeller, written

# NIST Special Publication 811 (2008), appendix B.8: factors printed in bold there are exact.
NIST_EXACT = [
    ("1 in", "length", 0.0254),
    ("1 ft", "length", 0.3048),
    ("1 lb", "mass", 0.45359237),
    ("1 oz", "mass", 0.45359237 / 16),
    ("1 kt", "speed", 1852 / 3600),
    ("1 mph", "speed", 0.44704),
    ("1 km/h", "speed", 1 / 3.6),
    ("1 ft/s", "speed", 0.3048),
    ("1 in2", "area", 6.4516e-4),
    ("1 kgf", "force", 9.80665),
    ("1 lbf", "force", 4.4482216152605),
    ("1 g", "acceleration", 9.80665),
    ("1 Ah", "charge", 3600.0),
    ("1 min", "duration", 60.0),
    ("360 deg", "angle", 2 * math.pi),
    ("60 rpm", "angular rate", 2 * math.pi),
]


@pytest.mark.parametrize(("text", "dimension", "si"), NIST_EXACT)
def test_factors_are_the_published_ones(text, dimension, si):
    # One rounding in the expected value and one in ours: two units in the last place.
    assert parse(text, dimension) == pytest.approx(si, rel=2**-51, abs=0)


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("152 mm", "length", 0.152),
        ("14 in", "length", 0.3556),
        ("1.05 m", "length", 1.05),
        ("-40mm", "length", -0.04),
        ("\u221240 mm", "length", -0.04),
        ("25 \u00b5m", "length", 25e-6),
        ("25 \u03bcm", "length", 25e-6),
        ('14"', "length", 0.3556),
        ("1/2 in", "length", 0.0127),
        ("14 1/2 in", "length", 0.3683),
        ('14-1/2"', "length", 0.3683),
        ("-14 1/2 in", "length", -0.3683),
        ("6 ft 2 1/4 in", "length", 1.88595),
        ("-1 ft 6 in", "length", -0.4572),
        ('1 ft 6"', "length", 0.4572),
        ("5 lb 6 oz", "mass", 2.43805898875),
        ("5lbs 6.5oz", "mass", 86.5 * 0.45359237 / 16),
        ("1 min 30 s", "duration", 90.0),
        ("1/2", "ratio", 0.5),
        ("25 kg cm", "torque", 2.4516625),
        ("347 oz in", "torque", 347 * 0.45359237 / 16 * 9.80665 * 0.0254),
        ("33 %", "ratio", 0.33),
        ("33%", "ratio", 0.33),
        ("0.33", "ratio", 0.33),
        ("5000 mAh", "charge", 18000.0),
        ("2.0 mohm", "resistance", 0.002),
        ("16 m\u03a9", "resistance", 0.016),
        ("178 rpm/V", "speed constant", 178 * 2 * math.pi / 60),
        ("0.12 s/60deg", "servo speed", math.pi / 3 / 0.12),
        ("0.12 s / 60 deg", "servo speed", math.pi / 3 / 0.12),
        ("0.12 s/60\u00b0", "servo speed", math.pi / 3 / 0.12),
        ("28\u00b0", "angle", math.radians(28)),
        ("120 cm2", "area", 0.012),
        ("120 cm\u00b2", "area", 0.012),
        ("2.5 Nm", "torque", 2.5),
        ("1.2", "number", 1.2),
        ("1e-3 m", "length", 0.001),
    ],
)
def test_as_people_write_them(text, dimension, si):
    assert parse(text, dimension) == pytest.approx(si, rel=1e-15, abs=0)


LENGTHS = "allowed: a length in mm, cm, m, in, ft"


@pytest.mark.parametrize(
    ("value", "whole"),
    [
        ("152", f'found "152", a number without a unit; {LENGTHS}; try: "152 mm"'),
        ("0", f'found "0", a number without a unit; {LENGTHS}; try: "0 mm"'),
        (152, f'found 152, a number without a unit; {LENGTHS}; try: "152 mm"'),
        ("12 deg", f'found "12 deg", which is an angle; {LENGTHS}; try: "152 mm"'),
        ("12 foot", f'found "12 foot", with an unknown unit "foot"; {LENGTHS}; try: "12 ft"'),
        ("12 MM", f'found "12 MM", with an unknown unit "MM"; {LENGTHS}; try: "12 mm"'),
        ("nan mm", f'found "nan mm"; {LENGTHS}, finite; try: "152 mm"'),
        ("-.inf", f'found "-.inf"; {LENGTHS}, finite; try: "152 mm"'),
        ("1e999 m", f'found "1e999 m", a number out of range; {LENGTHS}, finite; try: "152 mm"'),
        ("1e999999999 m", f'found "1e999999999 m", a number out of range; {LENGTHS}, finite; try: "152 mm"'),
        (
            "1,5 mm",
            (
                f'found "1,5 mm", a number with a comma; {LENGTHS}; try: a point for decimals and no thousands'
                ' separator, as in "1.5 mm" or "15 mm"'
            ),
        ),
        ("1 500 mm", f'found "1 500 mm", a number in several groups; {LENGTHS}; try: digits without separators'),
        ("14 3/2 in", f'found "14 3/2 in", a number in several groups; {LENGTHS}; try: digits without separators'),
        ("1/0 in", f'found "1/0 in", with an unknown unit "/0 in"; {LENGTHS}; try: "1 in"'),
        ("1/2", f'found "1/2", a number without a unit; {LENGTHS}; try: "1/2 mm"'),
        ("6 ft 12 in", 'found "6 ft 12 in", with "12 in" after ft; allowed: less than 12 in after ft'),
        ("5 lb 6 oz", f'found "5 lb 6 oz", which is a mass; {LENGTHS}; try: "152 mm"'),
        ("1e400 ft 6 in", f'found "1e400 ft 6 in", a number out of range; {LENGTHS}, finite; try: "152 mm"'),
        ("1_500 mm", f'found "1_500 mm", a number in several groups; {LENGTHS}; try: digits without separators'),
        ("wide", f'found "wide", which does not start with a number; {LENGTHS}; try: "152 mm"'),
        ("1.2.3 mm", f'found "1.2.3 mm", which is not one number and one unit; {LENGTHS}; try: "152 mm"'),
        ("", f'found an empty text; {LENGTHS}; try: "152 mm"'),
        (None, f'found nothing; {LENGTHS}; try: "152 mm"'),
        ([], f'found a list; {LENGTHS}; try: "152 mm"'),
        (True, f'found True; {LENGTHS}; try: "152 mm"'),
    ],
)
def test_whole_message_of_a_refused_length(value, whole):
    with pytest.raises(Refused) as caught:
        parse(value, "length")
    assert str(caught.value) == whole


def test_a_servo_that_takes_no_time_is_refused():
    with pytest.raises(Refused, match="out of range"):
        parse("0 s/60deg", "servo speed")


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_every_sample_is_accepted(dimension):
    assert math.isfinite(parse(DIMENSIONS[dimension].sample, dimension))


@settings(deadline=None)
@given(st.text(max_size=70), st.sampled_from(sorted(DIMENSIONS)))
def test_any_text_gives_a_finite_number_or_a_refusal(text, dimension):
    try:
        assert math.isfinite(parse(text, dimension))
    except Refused as refused:
        assert str(refused).isprintable()


@settings(deadline=None)
@given(st.floats(-1e6, 1e6), st.sampled_from(["mm", "m", "in", "ft"]))
def test_out_and_in_again(value, unit):
    # Printed with 9 decimals of a unit of at most 0.3048 m to 1 m.
    assert parse(written(value, "length", unit, 9), "length") == pytest.approx(value, rel=1e-12, abs=1e-9)


def test_written():
    assert written(0.152, "length", "mm", 0) == "152 mm"
    assert written(-1e-9, "length", "mm", 1) == "0.0 mm"
    assert written(math.radians(28), "angle", "deg") == "28.0 deg"
    assert written(0.33, "ratio", "%", 0) == "33 %"
    assert written(1.42, "mass", "g", 0) == "1420 g"
    assert in_unit(parse("0.12 s/60deg", "servo speed"), "servo speed", "s/60deg") == pytest.approx(0.12, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("21x13", (0.5334, 0.3302, 2)),
        ("21 x 13", (0.5334, 0.3302, 2)),
        ("21x13x3", (0.5334, 0.3302, 3)),
        ("20.5X12.5", (0.5207, 0.3175, 2)),
        ("21\u00d713", (0.5334, 0.3302, 2)),
    ],
)
def test_propeller(text, size):
    assert parse_propeller(text) == size


PROPELLER = "allowed: diameter x pitch in inches, and the blade count if it is not 2"


@pytest.mark.parametrize(
    ("text", "whole"),
    [
        ("21x", f'found "21x"; {PROPELLER}; try: "21x13" or "21x13x3"'),
        ("21", f'found "21"; {PROPELLER}; try: "21x13" or "21x13x3"'),
        ("21x13x2x2", f'found "21x13x2x2"; {PROPELLER}; try: "21x13" or "21x13x3"'),
        ("4x4", 'found "4x4", a diameter of 4 in; allowed: a diameter from 5 in to 40 in'),
        ("20x50", 'found "20x50", a pitch of 50 in; allowed: a pitch from 1 in to 40 in'),
        ("20x10x9", 'found "20x10x9", 9 blades; allowed: 2 to 6 blades'),
    ],
)
def test_whole_message_of_a_refused_propeller(text, whole):
    with pytest.raises(Refused) as caught:
        parse_propeller(text)
    assert str(caught.value) == whole


PIECES = ["1", "14", "1/2", "14 1/2", "-", "+", ".5", "2.5", "1e3", " ", "", "x", "9/0", "\u2212"]


@settings(deadline=None, max_examples=400)
@given(st.data())
def test_the_pattern_for_editors_takes_what_is_read(data):
    name = data.draw(st.sampled_from(sorted(DIMENSIONS)))
    kind = DIMENSIONS[name]
    units = [*kind.spellings, "", "28\u00b0", "oz", "furlong"]
    parts = [data.draw(st.sampled_from(PIECES)), data.draw(st.sampled_from(PIECES)), data.draw(st.sampled_from(units))]
    parts += [data.draw(st.sampled_from(["", " ", " 3 in", " 3 oz", "5s"]))]
    text = "".join(parts)
    try:
        parse(text, name)
    except Refused:
        return  # the pattern knows no bounds and no relation of one number to another
    assert re.search(kind.pattern, text), text


@pytest.mark.parametrize("text", ["28", "28 furlongs", "28 mm mm", "mm", "28 g", "1/2 1/2 mm", "x 28 mm"])
def test_the_pattern_for_editors_refuses(text):
    assert not re.search(DIMENSIONS["length"].pattern, text)


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("28\u00b0", "angle"),
        ("0.12 s / 60\u00b0", "servo speed"),
        ("25 \u00b5m", "length"),
        ("25 \u03bcm", "length"),
        ("16 m\u03a9", "resistance"),
        ("120 cm\u00b2", "area"),
        ("\u22123 m", "length"),
        ("4 lb 1 1/2 oz", "mass"),
    ],
)
def test_the_pattern_for_editors_knows_signs(text, dimension):
    assert math.isfinite(parse(text, dimension))
    assert re.search(DIMENSIONS[dimension].pattern, text)
