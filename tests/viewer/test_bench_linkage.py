"""`upline bench linkage`: what it says on every plane, its picture, its JSON, and every wrong option."""

import json
import math

import pytest

from models.loader import known_setups

LINKED = ["precision", "extreme", "slow-3d", "scree-270-slow-3d"]


def narrow(text):
    return all(len(line) <= 80 for line in text.splitlines())


@pytest.mark.parametrize("setup", LINKED)
def test_all_controls_and_each(upline, setup):
    code, out, err = upline("bench", "linkage", setup)
    assert code == 0 and err == "" and narrow(out) and "clears nothing to fly" in out
    for control in ("aileron", "elevator", "rudder"):
        code, out, err = upline("bench", "linkage", setup, "--control", control)
        assert code == 0 and err == "" and narrow(out) and "clears nothing to fly" in out
        assert ("other half" in out) == (control != "rudder")


@pytest.mark.parametrize("setup", [name for name, _ in known_setups()])
def test_the_way_back_on_every_plane(upline, setup):
    for control in ("aileron", "elevator", "rudder"):
        code, out, err = upline("bench", "linkage", setup, "--control", control, "--wanted", "40 deg")
        assert code == 0 and narrow(out) and "Best: arm" in out and "commonly have" in out


def test_json_agrees_with_itself(upline):
    code, out, err = upline("bench", "linkage", "extreme", "--json", "--torque", "2.5 N m")
    document = json.loads(out)
    assert code == 0 and "clears nothing" in err
    assert [b["control"] for b in document["linkages"]] == ["aileron", "elevator", "rudder"]
    elevator = document["linkages"][1]
    assert len(elevator["stick"]) == 41 and elevator["stick"][-1]["surface"] == {
        "value": pytest.approx(62.0),
        "unit": "deg",
    }
    chord, edge = elevator["chord"]["value"], elevator["stick"][-1]["edge"]
    assert edge == {"value": pytest.approx(2 * chord * math.sin(math.radians(31.0))), "unit": "mm"}
    full = elevator["full_up"]
    assert full["leverage"]["value"] * full["rate"]["value"] == pytest.approx(1.0)
    assert full["torque"]["unit"] == "N m" and full["torque"]["value"] > 0.0
    servos = full["torque"]["value"] / (2.5 * full["leverage"]["value"])
    assert servos == pytest.approx(round(servos))
    code, out, _ = upline("bench", "linkage", "extreme", "--json", "--control", "rudder", "--wanted", "50 deg")
    holes = json.loads(out)
    assert (
        holes["wanted"] == {"value": pytest.approx(50.0), "unit": "deg"}
        and holes["ranked"][0]["servo_arm"]["unit"] == "mm"
    )


def test_what_is_tried_is_what_is_shown(upline):
    _, out, _ = upline(
        "bench", "linkage", "slow-3d", "--control", "rudder", "--try", "horn height: 36 mm, rod play: 0 mm"
    )
    assert "horn 36.0 mm" in out and "estimated, not measured: arm neutral, horn offset, servo travel" in out
    _, out, _ = upline(
        "bench",
        "linkage",
        "moor-220-precision",
        "--control",
        "elevator",
        "--try",
        "servo arm: 16 mm, horn height: 36 mm",
    )
    assert "arm 16.0 mm, horn 36.0 mm" in out and "gear play" in out
    _, out, _ = upline("bench", "linkage", "slow-3d", "--control", "elevator", "--other-half", "horn height: 31 mm")
    assert "the other half of the setup" in out


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_a_picture(upline, tmp_path, kind):
    code, _, err = upline("bench", "linkage", "extreme", "--control", "elevator", "--picture", f"one.{kind}")
    assert code == 0 and err == ""
    starts = {"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}
    assert (tmp_path / f"one.{kind}").read_bytes().startswith(starts[kind])


def test_a_ruler_is_warned_of_where_it_matters(upline):
    _, out, _ = upline("bench", "linkage", "extreme", "--control", "elevator")
    assert "from 115.9 mm a tangent would make 46 deg and a sine no angle" in " ".join(out.split())
    _, out, _ = upline("bench", "linkage", "precision", "--control", "aileron")
    assert "tangent" not in out


ELEVATOR = ["precision", "--control", "elevator"]
RADII = "allowed: a length in mm, cm, m, in, ft, from 3 mm to 160 mm"


@pytest.mark.parametrize(
    "arguments, message",
    [
        (
            ["moor-220-precision"],
            'moor-220-precision: found no linkages; allowed: a setup with linkages; try: a group "linkages:" in a copy of'
            ' the setup, or --control elevator --try "servo arm: 30 mm, horn height: 30 mm"',
        ),
        (
            ["moor-220-precision", "--control", "rudder", "--try", "servo arm: 20 mm"],
            "--try: found no linkage for the rudder in moor-220-precision, and not all of one here; allowed: servo arm and"
            ' horn height at least; try: --try "servo arm: 30 mm, horn height: 30 mm"',
        ),
        (["precision", "--control", "flap"], '--control: found "flap"; allowed: aileron, elevator, rudder'),
        (
            ["precision", "--wanted", "45 deg"],
            "--wanted: found no --control; allowed: one control; try: --control elevator",
        ),
        (
            [*ELEVATOR, "--wanted", "45"],
            '--wanted: found "45", a number without a unit; allowed: an angle in deg, rad, over 0 deg and at most 75 deg;'
            ' try: "45 deg"',
        ),
        (
            [*ELEVATOR, "--wanted", "-5 deg"],
            '--wanted: found "-5 deg"; allowed: an angle over 0 deg and at most 75 deg',
        ),
        (
            [*ELEVATOR, "--wanted", "45 deg", "--picture", "x.png"],
            "--picture: found --wanted beside it; allowed: one of the two",
        ),
        (
            ["precision", "--arms", "20 mm"],
            '--arms: found no --wanted; allowed: a wanted throw beside it; try: --wanted "45 deg"',
        ),
        (
            [*ELEVATOR, "--wanted", "45 deg", "--arms", "20, 30 mm"],
            f'--arms: found "20", a number without a unit; {RADII}; try: "20 mm"',
        ),
        (
            [*ELEVATOR, "--wanted", "45 deg", "--horns", ",".join(["20 mm"] * 21)],
            "--horns: found 21 lengths; allowed: at most 20",
        ),
        (
            [*ELEVATOR, "--try", "servo arm 30"],
            '--try: found "servo arm 30"; allowed: "key: value", with commas between; try: "servo arm: 30 mm"',
        ),
        (
            [*ELEVATOR, "--try", "horn hight: 30 mm"],
            '--try: found "horn hight"; allowed: servo arm, horn height, horn offset, arm neutral, servo to hinge, rod'
            " length, hinge height, servo travel, rod play, gear play; try: horn height or hinge height or horn offset",
        ),
        (
            [*ELEVATOR, "--try", "servo arm: 30"],
            f'--try: servo arm: found "30", a number without a unit; {RADII}; try: "30 mm"',
        ),
        (
            [*ELEVATOR, "--try", "rod play: 0 mm, rod play: 1 mm"],
            '--try: found "rod play" a second time; allowed: each key once',
        ),
        (
            [*ELEVATOR, "--try", "rod length: 90 mm, servo to hinge: 90 mm"],
            '--try: linkages > elevator > rod length: found "rod length" beside "servo to hinge"; allowed: one of the two',
        ),
        (
            ["precision", "--control", "rudder", "--other-half", "servo arm: 20 mm"],
            "--other-half: found --control rudder; allowed: aileron or elevator, which have two halves",
        ),
        (["precision", "--steps", "3"], '--steps: found "3"; allowed: a whole number from 64 to 1000000'),
        (
            ["precision", "--torque", "3 kg"],
            '--torque: found "3 kg", which is a mass; allowed: a torque in N m, N cm, kg cm, oz in, over 0 N m and at most'
            ' 100 N m; try: "2.5 N m"',
        ),
        (
            ["precision", "--picture", "x.txt"],
            '--picture: found "x.txt"; allowed: the name of a file that ends in .png, .svg, .pdf; try: x.png',
        ),
    ],
)
def test_refusals(upline, tmp_path, arguments, message):
    code, out, err = upline("bench", "linkage", *arguments)
    assert (code, out, err) == (2, "", f"upline: {message}\n")
    assert not list(tmp_path.iterdir())


def test_a_throw_out_of_reach_by_what_is_tried(upline):
    code, out, err = upline("bench", "linkage", *ELEVATOR, "--other-half", "servo arm: 5 mm")
    assert code == 2 and out == ""
    assert all(line.removeprefix("upline: ").startswith("--other-half: throws > elevator") for line in err.splitlines())
    code, _, err = upline("bench", "linkage", *ELEVATOR, "--try", "servo arm: 5 mm")
    assert code == 2 and err.startswith(
        "upline: --try: throws > elevator > up: found 12.0 deg, more than its linkage gives"
    )


def test_a_file_whose_linkage_is_too_short(upline, own):
    path = own("setup.yaml", "{servo arm: 25 mm, horn height: 38 mm", "{servo arm: 12 mm, horn height: 38 mm")
    for command in (["bench", "linkage"], ["balance"]):
        code, out, err = upline(*command, path)
        assert (
            code == 2 and out == "" and "throws > rudder > left: found 30.0 deg" in err and "try: a servo arm of" in err
        )
