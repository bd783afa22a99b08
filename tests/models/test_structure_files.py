"""The `structure:` group of an airframe file: in SI, left out, and refused with what is allowed."""

import pytest

from models.errors import UserError
from models.loader import json_schema, known_airframes, load, load_airframe, setup_from_texts
from models.materials import MATERIALS


def with_structure(lines: str):
    """The precision setup on its plane with another structure group; nothing: none."""
    texts = dict(load("precision").texts)
    texts["airframe"] = texts["airframe"].split("structure:")[0] + lines
    return setup_from_texts(texts).airframe.structure


def test_a_joiner_in_si_and_body_axes():
    structure = with_structure(
        "structure:\n  load factor: 9 g\n  joiners:\n    wing: {outside diameter: 1 in, wall: 0.049 in, "
        "material: 7075-T6, x: 160 mm, reach: 300 mm, tubes: 2, root rib: 95 mm, pin: 170 mm}\n"
    )
    assert structure.load_factor == pytest.approx(9.0, rel=1e-12)
    (joiner,) = structure.joiners
    assert (joiner.surface, joiner.tubes, joiner.material) == ("wing", 2, MATERIALS["7075-T6"])
    found = (joiner.diameter, joiner.wall, joiner.x, joiner.reach, joiner.root_rib, joiner.pin)
    assert found == pytest.approx((0.0254, 0.049 * 0.0254, -0.160, 0.300, 0.095, 0.170), rel=1e-12)


def test_it_may_be_left_out_in_part_or_whole():
    assert with_structure("") is None
    stated = with_structure("structure: {load factor: 6 g}\n")
    assert stated.joiners == () and stated.load_factor == pytest.approx(6.0)
    assert "structure" not in load_airframe("tarn-220").estimated
    for name, _ in known_airframes():
        joiners = load_airframe(name).structure.joiners
        assert [joiner.surface for joiner in joiners] == ["wing", "stabiliser"]
    assert "joiners" in str(json_schema("airframe"))


GOOD = "outside diameter: 30 mm, wall: 1 mm, material: 6061-T6, x: 150 mm, reach: 300 mm"


@pytest.mark.parametrize(
    "surface, old, new, words",
    [
        ("wing", "6061-T6", "7075T6", ['"7075T6"', "try: 7075-T6", "woven carbon"]),
        ("wing", "wall: 1 mm", "wall: 16 mm", ["wing > wall", "a wall of 16 mm in a tube of 30 mm", "a solid rod"]),
        ("wing", "wall: 1 mm, ", "", ["wing > wall", "nothing"]),
        ("wing", "x: 150 mm", "x: 600 mm", ["wing > x", "x of 600 mm", "from 0.0 mm to 500 mm"]),
        ("wing", "reach: 300 mm", "reach: 1200 mm", ["wing > reach", "1200 mm", "ends 1100 mm from the middle"]),
        ("wing", "diameter: 30", "diameter: 80", ["wing > outside diameter", "80 mm", "a root of 65 mm in height"]),
        ("wing", "reach: 300 mm", "reach: 300 mm, pin: 700 mm", ["wing > pin", "700 mm", "500 mm"]),
        ("wing", "30 mm", "30", ["outside diameter", "without a unit", '"30 mm"']),
        ("stabilizer", "", "", ['"stabilizer"', "wing, stabiliser", "try: stabiliser"]),
        ("fin", "", "", ['"fin"', "a surface with two halves"]),
    ],
)
def test_refused(surface, old, new, words):
    text = GOOD.replace(old, new, 1) if old else GOOD
    with pytest.raises(UserError) as refused:
        with_structure(f"structure:\n  joiners:\n    {surface}: {{{text}}}\n")
    for word in words:
        assert word in str(refused.value), str(refused.value)
    assert "structure > joiners" in str(refused.value)


def test_a_load_factor_has_a_unit_and_bounds():
    for text in ("8", "0.5 g", "100 g"):
        with pytest.raises(UserError, match="structure > load factor"):
            with_structure(f"structure: {{load factor: {text}}}\n")
