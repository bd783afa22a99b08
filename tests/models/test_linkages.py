"""Linkages of setup files: estimates, what is refused in whole messages, and that the built-in ones give their throws."""

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.errors import UserFileError
from models.linkage_schema import FIELDS, HalfLinkagePart, LinkageChange, RudderLinkagePart
from models.linkages import changed, largest_throws, linkage
from models.loader import known_setups, load, load_setup, setup_from_texts
from models.reading import read_text
from models.setup_schema import SetupFile
from sim.linkage import rod_length
from tests.models.test_random_edits import PIECES, run

SETUP = (Path(__file__).parent / "files" / "setup.yaml").read_text(encoding="utf-8")
SCREE = load("scree-270-slow-3d").texts
LINES = SETUP.count("\n")  # the linkages come below: they begin on line LINES + 1
ELEVATOR, CONTROL = f"f.yaml:{LINES + 2}", "linkages > elevator"


def half(**values):
    return HalfLinkagePart.model_validate({key.replace("_", " "): value for key, value in values.items()})


def refusal(line):
    with pytest.raises(UserFileError) as caught:
        read_text(f"{SETUP}linkages:\n  {line}\n", "f.yaml", SetupFile)
    return str(caught.value)


def test_estimates_are_those_of_the_docstring_and_are_marked():
    made = linkage(half(servo_arm="20 mm", horn_height="30 mm"))
    assert made.distance == pytest.approx(0.120)
    assert made.height == pytest.approx(-0.010)  # rod along the chord
    assert rod_length(made) == pytest.approx(0.120)
    assert (made.travel, made.gear_play) == pytest.approx((math.radians(60.0), math.radians(0.3)))
    assert (made.rod_play, made.push) == (1.0e-4, -1.0)
    assert made.estimated == (
        "arm neutral", "horn offset", "hinge height", "servo to hinge", "rod side", "servo travel", "rod play", "gear play",
    )  # fmt: skip
    rudder = linkage(RudderLinkagePart.model_validate({"servo arm": "20 mm", "horn height": "30 mm"}))
    assert rudder.push == 1.0  # rod on the right: pushing turns the trailing edge to the left
    full = half(
        servo_arm="20 mm", horn_height="30 mm", horn_offset="1 mm", arm_neutral="2 deg", servo_to_hinge="90 mm",
        hinge_height="3 mm", servo_travel="70 deg", rod_side="above", rod_play="0.2 mm", gear_play="0.1 deg",
    )  # fmt: skip
    assert linkage(full).estimated == () and linkage(full).push == 1.0


def test_rod_length_stands_for_the_distance():
    by_rod = linkage(half(servo_arm="20 mm", horn_height="30 mm", rod_length="100 mm", hinge_height="5 mm"))
    assert rod_length(by_rod) == pytest.approx(0.100)
    assert by_rod.distance == pytest.approx(math.sqrt(0.100**2 - 0.015**2))
    part = half(servo_arm="20 mm", horn_height="30 mm", rod_length="100 mm")
    again = changed(part, LinkageChange.model_construct(servo_to_hinge=0.2))
    assert again.rod_length is None and linkage(again).distance == 0.2


def test_the_other_half_has_what_it_does_not_say_from_this_one():
    made = linkage(half(servo_arm="20 mm", horn_height="30 mm", gear_play="0 deg") .model_copy(
        update={"other_half": LinkageChange.model_construct(horn_height=0.029)}
    ))  # fmt: skip
    assert (made.other_half.arm, made.other_half.horn, made.other_half.gear_play) == (0.020, 0.029, 0.0)
    assert made.other_half.other_half is None


def test_every_key_of_a_change_can_be_read():
    assert list(FIELDS) == [
        "servo arm", "horn height", "horn offset", "arm neutral", "servo to hinge", "rod length", "hinge height",
        "servo travel", "rod play", "gear play",
    ]  # fmt: skip
    for field, kind in FIELDS.values():
        assert isinstance(kind.read(kind.least), float) and field in LinkageChange.model_fields


@pytest.mark.parametrize(
    "line, message",
    [
        (
            "elevator: {horn height: 30 mm}",
            f"{ELEVATOR}:3: {CONTROL} > servo arm: found nothing; allowed: a value, for this key is needed;"
            ' try: add "servo arm: 30 mm"',
        ),
        (
            "elevator: {servo arm: 200 mm, horn height: 30 mm}",
            f'{ELEVATOR}:25: {CONTROL} > servo arm: found "200 mm"; allowed: a length from 3 mm to 160 mm',
        ),
        (
            "elevator: {servo arm: 20 mm, horn height: 30 mm, horn ofset: 1 mm}",
            f'{ELEVATOR}:52: {CONTROL} > horn ofset: found an unknown key "horn ofset"; allowed: servo arm, horn height,'
            " horn offset, arm neutral, servo to hinge, rod length, hinge height, servo travel, rod play, gear play,"
            " rod side, other half; try: horn offset or horn height",
        ),
        (
            "elevator: {servo arm: 20 mm, horn height: 30 mm, rod length: 90 mm, servo to hinge: 90 mm}",
            f'{ELEVATOR}:64: {CONTROL} > rod length: found "rod length" beside "servo to hinge"; allowed: one of the two',
        ),
        (
            "elevator: {servo arm: 20 mm, horn height: 30 mm, rod length: 10 mm, hinge height: 5 mm}",
            f"{ELEVATOR}:13: {CONTROL}: found 10.0 mm, too short to reach the horn; allowed: a rod of at least 16 mm at"
            " this hinge height",
        ),
        (
            "elevator: {servo arm: 30 mm, horn height: 30 mm, servo to hinge: 10 mm, horn offset: -8 mm}",
            f"{ELEVATOR}:13: {CONTROL}: found a rod of 2.0 mm from hole to hole; allowed: at least 5 mm; try: a larger"
            " servo to hinge",
        ),
        (
            "elevator: {servo arm: 30 mm, horn height: 5 mm, hinge height: 100 mm, horn offset: 20 mm}",
            f"{ELEVATOR}:13: {CONTROL}: found an arm and a horn with which the rod is past its dead point at neutral;"
            " allowed: holes that both stand off the rod's line on the same side at neutral; try: less arm neutral or"
            " horn offset",
        ),
        (
            "rudder: {servo arm: 20 mm, horn height: 30 mm, rod side: below}",
            f'{ELEVATOR}:60: linkages > rudder > rod side: found "below"; allowed: right, left',
        ),
        (
            "rudder: {servo arm: 10 mm, horn height: 30 mm}",
            "f.yaml:14:18: throws > rudder > left: found 28.0 deg, more than its linkage gives; allowed: at most 16.6 deg,"
            " where the servo's travel ends; try: a servo arm of 16.5 mm or a horn height of 18.0 mm\n"
            "f.yaml:14:33: throws > rudder > right: found 28.0 deg, more than its linkage gives; allowed: at most 16.8 deg,"
            " where the servo's travel ends; try: a servo arm of 16.5 mm or a horn height of 18.0 mm",
        ),
        (
            "aileron: {servo arm: 20 mm, horn height: 30 mm, other half: {servo arm: 5 mm}}",
            "f.yaml:12:17: throws > aileron > up: found 14.0 deg, more than the other half's linkage gives; allowed: at"
            " most 8.2 deg, where the servo's travel ends; try: a servo arm of 8.5 mm or a horn height of 17.5 mm\n"
            "f.yaml:12:31: throws > aileron > down: found 14.0 deg, more than the other half's linkage gives; allowed: at"
            " most 8.3 deg, where the servo's travel ends; try: a servo arm of 8.5 mm or a horn height of 17.5 mm",
        ),
    ],
)  # fmt: skip
def test_refusals(line, message):
    assert refusal(line) == message


def test_over_centre_is_named_and_the_advice_holds():
    line = "rudder: {servo arm: 12 mm, horn height: 30 mm, servo travel: 120 deg}"
    said = refusal(line)
    assert "where arm and rod come into line" in said
    arm = said.split("a servo arm of ")[1].split(" mm")[0]
    mended = f"{SETUP}linkages:\n  {line.replace('12 mm', arm + ' mm')}\n"
    assert read_text(mended, "f.yaml", SetupFile).value.linkages.rudder.servo_arm == pytest.approx(float(arm) / 1000.0)


def test_round_trip_through_the_recorded_texts():
    loaded = load("scree-270-slow-3d")
    assert setup_from_texts(loaded.texts).linkages == loaded.setup.linkages
    assert loaded.setup.linkages["elevator"].other_half is not None


def test_no_linkages_is_straight():
    assert load_setup(Path(__file__).parent / "files" / "setup.yaml").linkages == {}


def test_built_in_linkages_give_their_throws_with_something_left():
    seen = 0
    for name, _ in known_setups():
        setup = load_setup(name)
        for control, made in setup.linkages.items():
            throw, (low, high, _, _) = setup.throws[control], largest_throws(made)
            assert min(-low - throw.positive, high - throw.negative) > math.radians(3.0)  # room for trims
            seen += 1
    assert seen >= 12


@settings(deadline=None, max_examples=40)
@given(st.data())
def test_random_edits_of_linkages_give_a_setup_or_a_message(data):
    head, tail = SCREE["setup"].split("linkages:")
    for _ in range(data.draw(st.integers(1, 3))):
        if data.draw(st.booleans()):  # another number somewhere
            words = tail.split(" ")
            numbers = [n for n, word in enumerate(words) if word.lstrip("-").replace(".", "").isdigit()]
            words[data.draw(st.sampled_from(numbers or [0]))] = str(data.draw(st.integers(-90, 160)))
            tail = " ".join(words)
        else:
            at = data.draw(st.integers(0, len(tail)))
            tail = tail[:at] + data.draw(st.sampled_from(PIECES)) + tail[at + data.draw(st.integers(0, 8)) :]
    run({**SCREE, "setup": f"{head}linkages:{tail}"})
