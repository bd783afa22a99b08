"""Planes from a few answers: proportions, masses that add up, answers as people write them, and what cannot be."""

import pytest

from models.errors import Refused
from models.new_files import airframe_text
from models.proportions import PRACTICE, RULES, SPANS
from models.questions import BY_KEY, Answer, read_answer
from models.sketch import kind_of, sketch
from models.template_items import ITEMS


def answers(**texts: str) -> dict[str, Answer]:
    return {key: read_answer(BY_KEY[key], text) for key, text in texts.items()}


# span m: weight kg, wing area m2, propeller in.  Trade figures for such planes: common practice, no source, so a
# plausibility band and nothing more.  A propeller's pitch is that of precision flying up to 1.9 m.
TRADE = {
    1.5: ((2.3, 3.0), (0.48, 0.55), (15, 16), (7, 8)),
    1.9: ((4.4, 5.0), (0.60, 0.70), (20, 22), (10, 14)),
    2.2: ((7.0, 8.5), (0.95, 1.10), (22, 23), (8, 10)),
    2.7: ((11.5, 14.0), (1.35, 1.55), (27, 28), (9, 11)),
    3.1: ((17.0, 20.0), (1.75, 2.05), (31, 33), (10, 13)),
}


@pytest.mark.parametrize("kind", ["electric", "piston"])
@pytest.mark.parametrize("span", SPANS)
def test_templates_have_the_proportions_of_the_trade(span, kind):
    s = sketch(answers(span=f"{span} m", power=kind))
    weight, area, diameter, pitch = TRADE[span]
    g, inch = s.outline, 0.0254
    assert s.doubts == ()
    assert weight[0] <= s.values["weight"].si <= weight[1]
    assert area[0] <= g.area <= area[1]
    assert (
        diameter[0] <= round(s.propeller[0] / inch) <= diameter[1]
        and pitch[0] <= round(s.propeller[1] / inch) <= pitch[1]
    )
    # tail volume of aerobatic planes about 0.5 (common practice, no source): 0.4 to 0.65
    mac = 2.0 / 3.0 * (g.cr + g.ct - g.cr * g.ct / (g.cr + g.ct))
    arm = g.xs + 0.25 * g.cs - 0.25 * g.cr
    assert 0.4 <= 0.5 * g.bs * (g.cs + g.cst) * arm / (g.area * mac) <= 0.65
    for key in ("elevator", "rudder"):  # research planes have surfaces up to half the chord, rudders of the trade more
        assert 0.4 <= s.values[key].si <= 0.65


@pytest.mark.parametrize(
    "texts",
    [
        {"span": "1.5 m", "weight": "2.345 kg"},
        {"span": "2.2 m", "weight": "6.49 kg", "battery_mass": "50.09 oz", "motor_mass": "1.6 lb"},
        {"span": "106 in", "weight": "27 lb", "displacement": "120 cm3"},
        {"span": "3.1 m", "weight": "17.2 kg", "power": "piston", "engine_mass": "3.9 kg", "tank": "700 ml"},
        {"span": "1.9 m", "cells": "10S", "capacity": "4500 mAh"},
    ],
)
def test_items_add_up_to_the_weight(texts):
    s = sketch(answers(**texts))
    from models.reading import read_text
    from models.schema import AirframeFile

    read = read_text(airframe_text(s), "new.yaml", AirframeFile)
    # the fuselage takes what rounding leaves, to a tenth of a gram
    assert sum(item.mass for item in read.value.items) == pytest.approx(s.values["weight"].si, abs=6e-5)
    assert {item.name for item in read.value.items} >= {"right wing half", "left wing half", "fuselage"}
    given = {k for k in ("battery_mass", "motor_mass", "engine_mass") if k in texts}
    names = {"battery_mass": "battery", "motor_mass": "motor", "engine_mass": "engine with ignition"}
    for key in given:
        assert f"items > {names[key]} > mass" in read.measured
    assert "items > fuselage > mass" in read.estimated


def test_what_was_answered_stands_in_the_file_as_it_was_written():
    s = sketch(answers(span="2.2 m", wing_root_chord="19.7 in", motor_kv="152KV", cells="12s", weight="~6.5 kg",
                       wing_tip_chord="~270 mm"))  # fmt: skip
    text = airframe_text(s)
    assert "root: {at: [0 mm, 0 mm, 0 mm], chord: 19.7 in}" in text and "1100 mm, ~0 mm], chord: ~270 mm}" in text
    assert "  kv: 152 rpm/V\n" in text and "  cells: 12\n" in text
    assert s.estimated("weight", "wing_tip_chord") and not s.estimated("wing_root_chord", "span", "motor_kv")


def test_known_values_lead_to_the_others():
    # a tip of 270 mm at 0.54 of the root: a root of 500 mm
    assert sketch(answers(span="2.2 m", wing_tip_chord="270 mm")).outline.cr == pytest.approx(0.5, abs=0.005)
    # 12 cells of 5 Ah at 24 g each: 1440 g
    assert sketch(answers(span="2.2 m", cells="12", capacity="5 Ah")).values["battery_mass"].si == pytest.approx(1.44)
    assert sketch(answers(span="2.2 m", cells="12", battery_mass="1440 g")).values["capacity"].si == pytest.approx(
        18000.0
    )
    # sweep of the edge: 1.1 m times the tangent of 4 degrees
    assert sketch(answers(span="2.2 m", wing_sweep="4 deg")).outline.sweep == pytest.approx(0.0769, abs=1e-4)
    long, short = (sketch(answers(span="2.2 m", fuselage_length=f"{n} mm")).outline for n in (1900, 1700))
    assert long.length == pytest.approx(1.9) and short.nose - long.nose == pytest.approx(0.2)
    assert kind_of(answers(displacement="60 cc")) == "piston" and kind_of({}) == "electric"


@pytest.mark.parametrize(
    "texts, key, words",
    [
        ({"weight": "1 kg"}, "weight", "kg with that wing"),
        ({"wing_root_chord": "300 mm", "wing_tip_chord": "500 mm"}, "wing_tip_chord", "at most 1.2 times"),
        ({"stabiliser_at": "400 mm"}, "stabiliser_at", "behind the wing"),
        ({"fuselage_length": "900 mm"}, "fuselage_length", "mm to"),
        ({"weight": "7 kg", "battery_mass": "5 kg"}, "battery_mass", "a weight of"),
        ({"stabiliser_span": "1.9 m"}, "stabiliser_span", "at most 0.8"),
    ],
)
def test_what_cannot_be_so_is_said_where_it_is_likeliest_wrong(texts, key, words):
    found = dict(sketch(answers(span="2.2 m", **texts)).doubts)
    assert key in found and words in found[key].allowed


@pytest.mark.parametrize(
    "key, text, advice",
    [
        ("span", "2.2", '"2.2 m"'),
        ("weight", "6.5", '"6.5 kg" or "6.5 lb"'),
        ("weight", "6500", '"6500 g"'),
        ("battery_mass", "~", ""),
        ("cells", "twelve", ""),
        ("power", "~electric", '"electric"'),
        ("propeller", "22", '"21x13"'),
        ("wing_sweep", "4", ""),
    ],
)
def test_a_wrong_answer_is_explained(key, text, advice):
    with pytest.raises(Refused) as caught:
        read_answer(BY_KEY[key], text)
    assert advice in str(caught.value)


def test_every_rule_says_what_it_does_and_where_it_is_from():
    for rule in RULES.values():
        assert len(rule.factors) in (1, len(SPANS)) and rule.said(2.2) and rule.source == PRACTICE
    for things in ITEMS.values():  # shares of everything on the scale: within the rounding of the table of one
        assert sum(t.share * (2 if t.pair else 1) for t in things) == pytest.approx(1.0, abs=0.03)
