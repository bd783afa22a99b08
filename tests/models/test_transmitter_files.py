"""The transmitter's part of a setup file: what it becomes, its JSON Schema, and every message about what is wrong."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from models.errors import UserFileError
from models.loader import json_schema, load, setup_from_texts
from models.reading import read_text
from models.setup_schema import SetupFile
from sim.description import Link, Rate
from tests.models.json_schema import content, faults

SETUP = (Path(__file__).parent / "files" / "setup.yaml").read_text(encoding="utf-8")
DEG = math.pi / 180.0
WHOLE = """\
rates:
  high: {elevator: {exponential: 35 %}}
  middle: {aileron: {share: 75 %, exponential: 30 %}}
  low: {rudder: {share: 50 %}}
mixes:
  - {from: rudder, to: elevator, gain: {left: 5 %, right: 8 %}}
  - {from: elevator, to: flaps, gain: {up: 20 %, down: 10 %}}
  - {from: rudder, to: aileron, curve: [4 %, 0 %, -4 %]}
  - {from: throttle, to: rudder, curve: [0 %, 0 %, 6 %]}
  - {from: throttle, to: elevator, gain: -6 %, only below: 10 %}
  - {from: throttle, to: rudder, gain: 3 %, only above: 60 %}
  - {from: aileron, to: rudder, gain: 4 %}
end points:
  aileron: {up: 16 deg, down: 15 deg}
  rudder: {left: 20 deg, right: 25 deg}
trims: {flaps: -2 deg}
modes:
  - name: snap
    switch time: 0.3 s
    rates: {low: {elevator: {share: 30 %}}}
    mixes: []
    trims: {elevator: 1 deg}
    throttle curve: [0 %, 60 %, 100 %]
  - {name: calm}
link: {latency: 25 ms, period: 20 ms, steps: 1024}
"""


def of(more: str, *edits: str):
    """The precision setup with more in its file."""
    texts = dict(load("precision").texts)
    for old, new in zip(edits[::2], edits[1::2]):
        assert old in texts["setup"]
        texts["setup"] = texts["setup"].replace(old, new, 1)
    return setup_from_texts({**texts, "setup": texts["setup"] + more})


def test_everything_that_can_be_written_is_read():
    setup = of(WHOLE, "down: 14 deg, exponential", "down: 14 deg, differential: 15 %, exponential")
    assert setup.differential == pytest.approx(0.15)
    assert setup.rates == {
        "high": {"elevator": Rate(None, 0.35)}, "middle": {"aileron": Rate(0.75, 0.3)}, "low": {"rudder": Rate(0.5, None)}
    }  # fmt: skip
    # what full stick that way adds: elevator's up is full pull, the positive side
    assert [mix.points for mix in setup.mixes] == [
        ((-1.0, 0.05), (0.0, 0.0), (1.0, 0.08)),
        ((-1.0, 0.10), (0.0, 0.0), (1.0, 0.20)),
        ((-1.0, 0.04), (0.0, 0.0), (1.0, -0.04)),
        ((0.0, 0.0), (0.5, 0.0), (1.0, 0.06)),
        ((0.0, -0.06), (0.10, 0.0)),
        ((0.60, 0.0), (1.0, 0.03)),
        (),
    ]
    assert (setup.mixes[-1].source, setup.mixes[-1].target, setup.mixes[-1].gain) == ("aileron", "rudder", 0.04)
    assert set(setup.end_points) == {"aileron", "rudder"}
    assert setup.end_points["aileron"] == pytest.approx((16 * DEG, 15 * DEG))
    assert setup.end_points["rudder"] == pytest.approx((25 * DEG, 20 * DEG))  # positive stick is to the right
    assert setup.trims == {"flaps": -2 * DEG}
    snap, calm = setup.modes
    assert (snap.name, snap.switch_time, snap.mixes, snap.throttle_curve) == ("snap", 0.3, (), (0.0, 0.6, 1.0))
    assert snap.rates == {"low": {"elevator": Rate(0.3, None)}} and snap.trims == {"elevator": 1 * DEG}
    assert (calm.mixes, calm.rates, calm.trims, calm.throttle_curve) == (None, {}, {}, None)
    assert setup.link == Link(0.025, 0.020, 1024)


def test_a_link_that_is_named_is_a_typical_one_where_nothing_is_said():
    assert of("link: {latency: 50 ms}\n").link == Link(0.050, 0.0, 2048)
    assert of("link: {steps: 0}\n").link == Link(0.020, 0.0, 0)
    assert of("").link is None


MIX = "f.yaml:16:"
SIDES = "one for each side of the rudder stick: left and right; try: {left: 5 %, right: 8 %}"
WRONG = [
    (
        "mixes:\n  - {from: rudder, to: elevator}",
        'f.yaml:16:5: mixes > #1 > gain: found nothing; allowed: a gain or a curve, one of them is needed; try: add "gain: 5 %"',
    ),
    (
        "mixes:\n  - {from: rudder, to: elevator, gain: {left: 5 %}}",
        f"f.yaml:16:40: mixes > #1 > gain: found a gain for left; allowed: {SIDES}",
    ),
    (
        "mixes:\n  - {from: rudder, to: elevator, gain: {up: 5 %, down: 3 %}}",
        f"f.yaml:16:40: mixes > #1 > gain: found a gain for up and down; allowed: {SIDES}",
    ),
    (
        "mixes:\n  - {from: rudder, to: elevator, gain: {lft: 5 %, right: 3 %}}",
        'f.yaml:16:40: mixes > #1 > gain: found "lft"; allowed: left and right, or up and down; try: left',
    ),
    (
        "mixes:\n  - {from: rudder, to: elevator, gain: 5}",
        'f.yaml:16:40: mixes > #1 > gain: found "5"; allowed: a share from -100 % to 100 %; try: "5 %", if a percentage was'
        " meant",
    ),
    (
        "mixes:\n  - {from: throttle, to: elevator, gain: {left: 5 %, right: 3 %}}",
        "f.yaml:16:42: mixes > #1 > gain: found a gain for each side of the throttle; allowed: one gain, or"
        ' "only below: 10 %" beside it',
    ),
    (
        "mixes:\n  - {from: rudder, to: elevator, gain: 5 %, only below: 10 %}",
        "f.yaml:16:57: mixes > #1 > only below: found a range of the rudder; allowed: a range of the throttle alone; try: a"
        " curve",
    ),
    (
        "mixes:\n  - {from: throttle, to: elevator, curve: [0 %, 5 %], only above: 10 %}",
        "f.yaml:16:67: mixes > #1 > only above: found a range of a curve; allowed: a range of one gain; try: points of 0 % in"
        " the curve",
    ),
    (
        "mixes:\n  - {from: throttle, to: elevator, gain: 5 %, only below: 10 %, only above: 60 %}",
        'f.yaml:16:77: mixes > #1 > only above: found "only above" beside "only below"; allowed: one of the two; try: a mix'
        " for each",
    ),
    (
        "mixes:\n  - {from: rudder, to: elevator, gain: 5 %, curve: [0 %, 5 %]}",
        "f.yaml:16:52: mixes > #1 > curve: found a curve beside a gain; allowed: one of the two",
    ),
    (
        "mixes:\n  - {from: rudder, to: flap, gain: 5 %}",
        'f.yaml:16:24: mixes > #1 > to: found "flap"; allowed: aileron, elevator, rudder, flaps; try: flaps',
    ),
    (
        "mixes:\n  - {from: rudder, to: aileron, curve: [5 %]}",
        "f.yaml:16:40: mixes > #1 > curve: found 1 entries; allowed: at least 2",
    ),
    (
        "rates: {medium: {aileron: {share: 50 %}}}",
        'f.yaml:15:9: rates > medium: found an unknown key "medium"; allowed: high, middle, low',
    ),
    (
        "rates: {low: {aileron: {share: 0 %}}}",
        'f.yaml:15:32: rates > low > aileron > share: found "0 %"; allowed: a share over 0 % and at most 100 %',
    ),
    (
        "low rates: {rudder: 50 %}\nrates: {low: {rudder: {share: 40 %}}}",
        'f.yaml:16:31: rates > low > rudder > share: found a share for the rudder\'s low rate beside that under "low rates";'
        " allowed: one of the two",
    ),
    (
        "end points: {elevator: {up: 15 deg}}",
        'f.yaml:15:14: end points > elevator > down: found nothing; allowed: a value, for this key is needed; try: add "down:'
        ' 28 deg"',
    ),
    (
        "modes: [{name: normal}]",
        'f.yaml:15:16: modes > normal > name: found "normal"; allowed: a name that no other mode has, and not normal, which is'
        " the setup as it stands",
    ),
    (
        "modes: [{name: a, mixes: [{from: rudder, to: rudder, gain: 5 %}]}]",
        'f.yaml:15:46: modes > a > mixes > #1 > to: found "rudder"; allowed: another control than rudder',
    ),
    (
        "modes: [{name: a, switch time: 9 s}]",
        'f.yaml:15:32: modes > a > switch time: found "9 s"; allowed: a time from 0 s to 5 s',
    ),
    (
        "link: {latency: 20}",
        'f.yaml:15:17: link > latency: found "20", a number without a unit; allowed: a time in s, ms, min, from 0 s to 0.2 s;'
        ' try: "20 s"',
    ),
    (
        "link: {steps: 2048.5}",
        'f.yaml:15:15: link > steps: found "2048.5"; allowed: a whole number from 0 to 65536',
    ),
]


@pytest.mark.parametrize("text, wanted", WRONG, ids=[text[-46:] for text, _ in WRONG])
def test_the_whole_message_of_what_is_wrong(text, wanted):
    assert SETUP.count("servos:") == 1
    with pytest.raises(UserFileError) as caught:
        read_text(SETUP.replace("servos:", f"{text}\nservos:"), "f.yaml", SetupFile)
    assert str(caught.value) == wanted


def test_several_faults_are_said_at_once():
    text = "mixes:\n  - {from: rudder, to: rudder, gain: 5 %}\n  - {from: elevator, to: rudder, gain: {left: 1 %, right: 2 %}}\n"
    with pytest.raises(UserFileError) as caught:
        read_text(SETUP.replace("servos:", f"{text}modes: [{{name: a}}, {{name: a}}]\nservos:"), "f.yaml", SetupFile)
    assert [problem.path for problem in caught.value.problems] == [
        "mixes > #1 > to",
        "mixes > #2 > gain",
        "modes > a > name",
    ]


def test_the_json_schema_takes_all_of_it_and_refuses_what_the_reader_refuses():
    schema = json_schema("setup")
    mine = {"format": 1, "kind": "setup", "name": "mine", "from": "precision"}
    assert faults(mine | content(WHOLE, True), schema, schema) == []
    for wrong in (
        "mixes: [{from: rudder, to: elevator, gain: {left: 5 %}}]",
        "mixes: [{from: rudder, to: elevator, gain: {left: 5 %, up: 5 %}}]",
        "mixes: [{from: rudder, to: elevator}]",
        "mixes: [{from: rudder, to: flap, gain: 5 %}]",
        "rates: {medium: {}}",
        "rates: {low: {aileron: {share: 20 deg}}}",
        "link: {latency: 20}",
        "link: {steps: many}",
        "modes: [{name: a, switch time: 9 kg}]",
        "modes: [{switch time: 1 s}]",
        "trims: {flap: 1 deg}",
    ):
        assert faults(mine | content(wrong, True), schema, schema) != [], wrong
