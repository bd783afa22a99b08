"""`upline balance`: a wanted CG, ballast that is flown, scales, and the page of every built-in plane."""

import json

import pytest

PLANES = ("precision", "beck-150-extreme", "corrie-310-precision", "moor-220-precision", "scree-270-slow-3d")


def document(result):
    code, out, err = result
    assert code == 0, err
    return json.loads(out, parse_constant=lambda word: pytest.fail(f"{word} in JSON"))


def fits(result) -> str:
    code, out, err = result
    assert code == 0, err
    assert max(map(len, out.splitlines())) <= 80, max(out.splitlines(), key=len)
    assert "clears nothing to fly" in out
    return out


@pytest.mark.parametrize("name", PLANES)
def test_the_page_of_every_plane(upline, name):
    out = fits(upline("balance", name, "--cg", "50 %", "--scales", "left 2 kg, right 2.3 kg, tail 0.4 kg"))
    assert "ballast does the rest" in out and "Do not fly it" in out and "check readings" in out
    assert "left wing tip" in out and "neutral point, propeller off" in out and "manoeuvre point" in out


def test_margins_stand_side_by_side_with_how_far_they_may_be_off(upline):
    got = document(upline("balance", "precision", "--json"))
    margins = got["margins"]
    assert margins["static_margin"]["value"] == pytest.approx(got["static_margin"]["value"])
    # 2 mm of 396 mm of MAC is the most of it
    assert 0.5 <= margins["static_margin"]["sigma"]["value"] < 0.6
    assert list(margins["static_margin"]["from"])[0] == "cg"
    assert margins["manoeuvre_margin"]["value"] > margins["static_margin_power"]["value"]
    assert margins["elevator_per_g"]["value"] > 0.0 and margins["elevator_per_g"]["unit"] == "deg"
    assert margins["model"] == {"value": pytest.approx(3.3), "unit": "%"}
    assert got["gyration_radius"]["roll"]["unit"] == "mm"
    text = " ".join(fits(upline("balance", "precision")).split())
    assert (
        "one standard deviation" in text and "3.3 % of MAC further aft" in text and "hung at spinner and tail" in text
    )


def test_a_cg_within_reach_says_where_the_battery_goes(upline):
    text = " ".join(fits(upline("balance", "precision", "--cg", "165 mm")).split())
    assert "the battery goes 105 mm ahead of the wing root leading edge, 28 mm further aft" in text
    assert "no ballast is needed" in text


def test_ballast_that_is_written_down_is_flown(upline, own):
    got = document(upline("balance", "precision", "--cg", "240 mm", "--json"))
    wanted = got["wanted"]
    assert not wanted["within_reach"] and wanted["tray"][1]["value"] == pytest.approx(160.0)
    first = wanted["ballast"][0]
    assert [b["place"] for b in wanted["ballast"]] == ["the tail post", "the tail wheel"]
    assert first["mass"]["value"] == pytest.approx(wanted["without"]["mass"]["value"] + first["ballast"]["value"])
    assert first["stall_speed_change"]["value"] == pytest.approx(
        100.0 * ((first["mass"]["value"] / wanted["without"]["mass"]["value"]) ** 0.5 - 1.0)
    )
    path = own("setup.yaml", "cg: 31 % ", f"ballast:\n  {first['setup_line']}\ncg: 240 mm ")
    flown = document(upline("balance", path, "--json"))
    assert "wanted" not in flown and flown["cg"]["value"] == pytest.approx(240.0)
    for axis in ("roll", "pitch", "yaw"):
        assert flown["inertia"][axis]["value"] == pytest.approx(first["inertia"][axis]["value"])
    assert document(upline("fly", "level-trim", "--setup", path, "--json"))["ended"] == "completed"
    assert "ballast" in upline("compare", "precision", path, "--manoeuvre", "level-trim")[1]


def test_named_places_and_a_cg_that_no_ballast_reaches(upline):
    out = fits(upline("balance", "corrie-310-precision", "--cg", "45 %", "--ballast-at", "1500 mm"))
    assert "\n1500 mm " in out and "at: [1500 mm, 0 mm, 9" in out
    out = fits(upline("balance", "corrie-310-precision", "--cg", "20 %", "--ballast-at", "engine with ignition"))
    assert "\nengine with igniti, -470 mm" in out and "g, at: [-470 mm, 0 mm, 70 mm]}" in out
    text = " ".join(fits(upline("balance", "precision", "--cg", "1800 mm")).split())
    assert "No place on the aeroplane lies far enough" in text
    code, _, err = upline("balance", "precision", "--cg", "-400 mm", "--ballast-at", "spinner")
    assert code == 2 and "a place at least 540 mm ahead of the wanted CG at -400 mm" in err
    assert "lighter than the plane" in fits(upline("balance", "precision", "--cg", "-400 mm")).replace("\n", " ")
    fits(upline("balance", "beck-150-extreme", "--cg", "-60 mm"))
    heavy = upline("balance", "precision", "--cg", "750 mm")
    assert "cannot be looked at in flight" in fits(heavy)
    assert "more than its throw" in document(upline("balance", "precision", "--cg", "750 mm", "--json"))["not_flown"]
    text = " ".join(fits(upline("balance", "precision", "--cg", "600 mm")).split())
    assert "over 10 % of the plane" in text


def test_scales_that_agree_and_scales_that_do_not(upline):
    # the model's own plane on scales: tail 6.49 kg x (158.9 - 50) / 1210
    text = " ".join(fits(upline("balance", "precision", "--scales", "main 5.906 kg, tail 584 g")).split())
    assert "nothing to correct" in text and "mass agrees" in text and '--tail-low "8.9 deg"' in text
    got = document(upline("balance", "precision", "--scales", "main 5.9 kg, tail 0.62 kg", "--json"))["weighed"]
    assert got["cg"]["value"] == pytest.approx(50.0 + 1210.0 * 0.62 / 6.52)
    assert got["difference"]["cg"]["value"] == pytest.approx(got["cg"]["value"] - got["model"]["cg"]["value"])
    assert any('"cg: 165 mm"' in line for line in got["advice"])
    same = document(upline("balance", "precision", "--scales", "main 13.007 lb, tail 21.87 oz", "--json"))["weighed"]
    assert same["cg"]["value"] == pytest.approx(got["cg"]["value"], abs=0.1)


def test_wheels_in_the_file_or_on_the_command_line(upline, own):
    import re

    text = (own.folder / "plane.yaml").read_text(encoding="utf-8")
    bare = re.sub(r"wheels:.*\n(  .*\n)+", "", text)
    (own.folder / "plane.yaml").write_text(bare, encoding="utf-8")
    path = own.folder / "setup.yaml"
    readings = ("--scales", "main 5.9 kg, tail 0.62 kg")
    code, out, err = upline("balance", path, *readings)
    assert code == 2 and "does not say where its wheels stand" in err and 'group "wheels:"' in err
    axles = "main [50 mm, 230 mm, -245 mm], tail [1260 mm, 0 mm, -80 mm]"
    got = document(upline("balance", path, *readings, "--wheels", axles, "--json"))["weighed"]
    assert got["cg"]["value"] == pytest.approx(50.0 + 1210.0 * 0.62 / 6.52) and got["on_its_own_wheels"] is None


@pytest.mark.parametrize(
    "file, old, new, words",
    [
        ("setup.yaml", "throws:", "ballast: [{mass: 0 g, at: [0 mm, 0 mm, 0 mm]}]\nthrows:", ["ballast", "over 0 g"]),
        ("setup.yaml", "throws:", "ballast: [{mass: 50 g}]\nthrows:", ["ballast", "at"]),
        ("setup.yaml", "throws:", "ballast: [{mass: 50 g, at: [1 m, 0 mm, 0 mm], name: battery}]\nthrows:",
         ['"battery" a second time']),
        ("plane.yaml", "  tail: [1260 mm", "  tail: [20 mm", ["wheels", "behind the main wheels"]),
        ("plane.yaml", "  tail: [1260 mm", "  nose: [1260 mm", ["wheels", "ahead of the main wheels"]),
        ("plane.yaml", "  main: [50 mm, 230 mm", "  main: [50 mm, -230 mm", ["right main wheel"]),
    ],
)  # fmt: skip
def test_wrong_ballast_and_wheels_in_files(upline, own, file, old, new, words):
    code, out, err = upline("balance", own(file, old, new))
    assert (code, out) == (2, "") and all(word in err for word in words), err


def test_a_lopsided_plane_says_which_wing_drops(upline, own):
    path = own("plane.yaml", "right aileron servo, mass: 80 g", "right aileron servo, mass: 130 g")
    text = " ".join(fits(upline("balance", path)).split())
    assert "so the right wing drops" in text and "27 g at the left wing tip" in text and "aileron to the left" in text
    got = document(upline("balance", path, "--json"))["side_to_side"]
    assert got["drops"] == "right" and got["tip_weight"]["mass"]["value"] == pytest.approx(0.05 * 0.6 / 1.1)
    assert got["aileron_in_level_flight"]["value"] < 0.0
