"""The mark "~": what it marks, what it refuses, and that it changes no value."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.errors import UserError
from models.loader import json_schema, load, setup_from_texts
from models.units import DIMENSIONS

TEXTS = load("precision").texts


def edited(file: str, *edits: tuple[str, str]):
    text = TEXTS[file]
    for old, new in edits:
        assert old in text
        text = text.replace(old, new, 1)
    return setup_from_texts({**TEXTS, file: text})


MARKED = [
    ("airframe", "chord: 500 mm", "chord: ~500 mm", "surfaces > wing > root > chord"),
    ("airframe", "mass: 620 g", "mass: ~ 620 g", "items > right wing half > mass"),
    ("airframe", "mass: 620 g", 'mass: "~620 g"', "items > right wing half > mass"),
    ("airframe", "[205 mm, 470 mm", "[~205 mm, 470 mm", "items > right wing half > at > x"),
    ("airframe", "thickness: 13 %", "thickness: ~0.13", "surfaces > wing > thickness"),
    ("airframe", "x: -380 mm", "x: ~-380 mm", "fuselage > stations > #2 > x"),
    ("airframe", "cross-flow drag: 1.8", "cross-flow drag: ~1.8", "fuselage > cross-flow drag"),
    ("airframe", "cells: 12", "cells: ~12", "power > cells"),
    ("airframe", "kv: 152 rpm/V", "kv: ~152 rpm/V", "power > kv"),
    ("airframe", "slides: {from: -220 mm", "slides: {from: ~-220 mm", "items > battery > slides > from"),
    ("setup", "cg: 31 %", "cg: ~31 %", "cg"),
    ("setup", "propeller: 20x13", "propeller: ~20x13", "propeller"),
    ("setup", "speed: 0.12 s/60deg", "speed: ~0.12 s/60deg", "servos > aileron > speed"),
]


@pytest.mark.parametrize("file, old, new, path", MARKED, ids=[m[2] for m in MARKED])
def test_a_marked_number_is_read_and_listed(file, old, new, path):
    plain, marked = setup_from_texts(TEXTS), edited(file, (old, new))
    where = (lambda s: s.airframe.estimated) if file == "airframe" else (lambda s: s.estimated)
    assert path in where(marked) and path not in where(plain)
    if file == "airframe":
        assert path in plain.airframe.measured and path not in marked.airframe.measured
    same = [vars(s) | {"airframe": None, "estimated": ()} for s in (plain, marked)]
    assert same[0] == same[1]
    for field, value in vars(plain.airframe).items():
        assert field in ("estimated", "measured") or getattr(marked.airframe, field) == value


@settings(max_examples=20)
@given(
    st.sampled_from([("mass", "g"), ("mass", "oz"), ("mass", "lb"), ("mass", "kg")]),
    st.decimals(1, 900, places=3),
    st.sampled_from(["~", "~ ", " ~  "]),
)
def test_the_mark_changes_no_value(kind, number, mark):
    dimension, unit = kind
    assert unit in DIMENSIONS[dimension].units
    value = f"{float(number) / (60 if unit in ('kg', 'lb') else 1):.5f} {unit}"
    old = "{name: canopy, mass: 180 g"
    plain, marked = (edited("airframe", (old, f'{{name: canopy, mass: "{m}{value}"')) for m in ("", mark))
    assert plain.airframe.items == marked.airframe.items


MASS = "recorded airframe:51:35: items > right wing half > mass: "
ALLOWED = "allowed: a mass in g, kg, oz, lb, over 0 g and under 60 kg; "


@pytest.mark.parametrize(
    "text, message",
    [
        ("~", f'{MASS}found "~" without a number; allowed: a value; try: an estimate such as "~620 g", or leave the line out'),
        ("~ ~5 g", f'{MASS}found "~ ~5 g"; allowed: one "~" ahead of a number that is an estimate; try: "~5 g"'),
        ('"~ "', f'{MASS}found "~ "; allowed: one "~" ahead of a number that is an estimate; try: "~620 g"'),
        ("~70 kg", f'{MASS}found "~70 kg"; allowed: a mass over 0 g and under 60 kg'),
        ("~5", f'{MASS}found "~5", a number without a unit; {ALLOWED}try: "5 g"'),
        ("~heavy", f'{MASS}found "~heavy", which does not start with a number; {ALLOWED}try: "620 g"'),
        ("5 g ~", f'{MASS}found "5 g ~", with an unknown unit "g ~"; {ALLOWED}try: "620 g"'),
    ],
)  # fmt: skip
def test_whole_message_of_a_wrong_mark(text, message):
    with pytest.raises(UserError) as caught:
        edited("airframe", ("mass: 620 g", f"mass: {text}"))
    assert str(caught.value).splitlines()[0].startswith(message[:100])
    assert message.split("; try")[0] in str(caught.value)


@pytest.mark.parametrize(
    "old, new",
    [("symmetric: yes", "symmetric: ~yes"), ("strips: 10", "strips: ~10"), ("kind: electric", "kind: ~electric"),
     ("format: 1", "format: ~1"), ("name: aileron", "name: ~aileron")],
)  # fmt: skip
def test_what_is_no_number_of_the_plane_takes_no_mark(old, new):
    with pytest.raises(UserError, match="found .~"):
        edited("airframe", (old, new))


def test_a_manoeuvre_and_a_blade_family_take_no_mark(tmp_path):
    from scenarios.manoeuvres import load_manoeuvre

    text = load_manoeuvre("level-trim")[1]
    assert "airspeed: 25 m/s" in text
    path = tmp_path / "mine.yaml"
    path.write_text(text.replace("airspeed: 25 m/s", "airspeed: ~25 m/s"), encoding="utf-8")
    with pytest.raises(UserError, match='found "~25 m/s"'):
        load_manoeuvre(str(path))
    with pytest.raises(UserError, match='found "~90 g"'):
        edited("blade family", ("mass at 20 in: 90 g", "mass at 20 in: ~90 g"))


def test_a_cg_given_instead_is_no_estimate():
    text = TEXTS["setup"].replace("cg: 31 %", "cg: ~31 %")
    assert setup_from_texts({**TEXTS, "setup": text}).estimated == ("cg",)
    assert setup_from_texts({**TEXTS, "setup": text}, "150 mm").estimated == ()


def test_json_schema_knows_the_mark_where_it_is_read():
    defs = json_schema("airframe")["$defs"]
    mass = defs["ItemPart"]["properties"]["mass"]["pattern"]
    assert re.search(mass, "~620 g") and re.search(mass, "620 g") and not re.search(mass, "~~620 g")
    cells = defs["ElectricPart"]["properties"]["cells"]["anyOf"]
    assert re.search(cells[0]["pattern"], "~12") and cells[1]["type"] == "integer" and cells[1]["maximum"] == 16
    share = defs["FlapPart"]["properties"]["from"]["anyOf"][0]["pattern"]
    assert all(re.search(share, text) for text in ("9 %", "~9 %", "~0.09"))
    assert "~" not in str(json_schema("blade family")) and '"measured"' not in str(json_schema("setup"))
    assert re.search(json_schema("setup")["$defs"]["whole"]["properties"]["propeller"]["pattern"], "~20x13")
