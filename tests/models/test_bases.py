"""Setups that build on another: what is taken over, where errors point, and what is refused."""

import dataclasses
import math
from pathlib import Path

import pytest

from models.bases import DEEPEST
from models.errors import UserError
from models.loader import known_setups, load, load_setup, setup_bases, setup_from_texts
from scenarios.manoeuvres import fly_manoeuvre, load_manoeuvre
from scenarios.record import fly_again, save

FILES = Path(__file__).parent / "files"
HEAD = "format: 1\nkind: setup\n"
SETUPS = ", ".join(name for name, _ in known_setups())


def message_of(call, *args):
    with pytest.raises(UserError) as caught:
        call(*args)
    return str(caught.value)


@pytest.fixture
def files(tmp_path):
    """`files(name=text, ...)` writes setups into a folder and returns the path of the first."""

    def write(**texts: str) -> Path:
        for name, text in texts.items():
            (tmp_path / f"{name}.yaml").write_text(f"{HEAD}name: {name}\n{text}", encoding="utf-8")
        return tmp_path / f"{next(iter(texts))}.yaml"

    return write


def test_the_built_in_example():
    base, aft = load_setup("precision"), load_setup("precision-aft")
    assert setup_bases() == {"precision-aft": "precision"}
    assert aft == dataclasses.replace(base, name=aft.name, about=aft.about, cg=(0.36, "mac"))


def test_groups_are_put_together_down_to_single_values(files):
    mine = files(
        mine="from: half.yaml\nthrows: {elevator: {up: 20 deg}}\nincidence: {wing: 1 deg}\n",
        half="from: precision\nthrows:\n  elevator: {up: 16 deg, down: 15 deg}\nincidence: {stabiliser: -0.5 deg}\n"
        "mixes:\n  - {from: rudder, to: elevator, gain: 3 %}\n  - {from: rudder, to: aileron, gain: 2 %}\n",
    )
    setup, base = load_setup(mine), load_setup("precision")
    elevator = setup.throws["elevator"]
    assert (elevator.positive, elevator.negative) == pytest.approx((math.radians(20), math.radians(15)))
    assert elevator.exponential == 0.2
    assert setup.throws["aileron"] == base.throws["aileron"]
    tilts = {surface.name: surface.incidence for surface in setup.airframe.surfaces}
    assert (tilts["wing"], tilts["stabiliser"]) == pytest.approx((math.radians(1), math.radians(-0.5)))
    assert len(setup.mixes) == 2
    assert (setup.name, setup.about) == ("mine", "")  # what a file says about itself is not taken over


def test_lists_are_replaced_whole_and_none_takes_away(files):
    half = "from: precision\nmixes:\n  - {from: rudder, to: elevator, gain: 3 %}\n  - {from: rudder, to: aileron, gain: 2 %}\n"
    half += "throttle curve: [0 %, 40 %, 100 %]\ntrims: {elevator: 1 deg}\n"
    one = load_setup(files(one="from: half.yaml\nmixes: [{from: rudder, to: aileron, gain: 5 %}]\n", half=half))
    assert [(m.target, m.gain) for m in one.mixes] == [("aileron", 0.05)]
    gone = "from: half.yaml\nmixes: none\nthrottle curve: none\ntrims: none\nthrows: {aileron: {exponential: none}}\n"
    none = load_setup(files(none=gone, half=half))
    assert (none.mixes, none.throttle_curve, none.trims) == ((), (0.0, 1.0), {})
    assert none.throws["aileron"].exponential == 0.0


def test_paths_are_relative_to_the_file_that_names_them(tmp_path):
    folder = tmp_path / "planes"
    folder.mkdir()
    for name in ("plane.yaml", "setup.yaml", "blades.yml"):
        (folder / name).write_text((FILES / name).read_text(encoding="utf-8"), encoding="utf-8")
    mine = tmp_path / "mine.yaml"
    mine.write_text(f"{HEAD}name: mine\nfrom: planes/setup.yaml\ncg: 33 %\n", encoding="utf-8")
    base = load_setup(FILES / "setup.yaml")
    assert load_setup(mine) == dataclasses.replace(base, name="mine", about="", cg=(0.33, "mac"))


def test_texts_alone_rebuild_it_and_a_record_is_flown_again(files, tmp_path):
    mine = files(
        mine="from: half.yaml\ncg: 35 %\n", half="from: slow-3d\nthrows: {elevator: {up: 40 deg, down: 40 deg}}\n"
    )
    loaded = load(mine)
    assert set(loaded.texts) == {"setup", "airframe", "blade family", "base 1", "base 2"}
    assert loaded.texts["base 1"] == (tmp_path / "half.yaml").read_text(encoding="utf-8")
    assert setup_from_texts(loaded.texts) == loaded.setup
    manoeuvre, text = load_manoeuvre("level-trim")
    save(tmp_path / "kept", fly_manoeuvre(loaded.setup, manoeuvre), loaded.texts, text)
    for path in tmp_path.glob("*.yaml"):
        path.unlink()
    flown, same = fly_again(tmp_path / "kept")
    assert same and flown.setup == loaded.setup
    without = {kind: text for kind, text in loaded.texts.items() if kind != "base 2"}
    assert message_of(setup_from_texts, without) == (
        "recorded base 2: found nothing; allowed: the text of the setup that it builds on"
    )


@pytest.mark.parametrize(
    "mine, half, whole",
    [
        # the offending value stands in the file itself
        ("from: half.yaml\nthrows: {elevator: {up: 80 deg}}\n", "from: precision\n",
         'mine.yaml:5:25: throws > elevator > up: found "80 deg"; allowed: an angle over 0 deg and at most 75 deg'),
        # in the base
        ("from: half.yaml\n", "from: precision\nthrows: {elevator: {up: 80 deg}}\n",
         'half.yaml:5:25: throws > elevator > up: found "80 deg"; allowed: an angle over 0 deg and at most 75 deg'),
        ("from: half.yaml\n", "from: precision\nmoved item: batery\n",
         ('half.yaml:5:13: moved item: found "batery"; allowed: an item of the airframe with a tray: battery;'
          " try: battery")),
        ("from: half.yaml\n", "from: precision\nmixes: [{from: rudder, to: rudder, gain: 3 %}]\n",
         'half.yaml:5:28: mixes > #1 > to: found "rudder"; allowed: another control than rudder'),
        # between the two
        ("from: half.yaml\nthrows: {elevtor: {up: 20 deg}}\n", "from: precision\n",
         ('mine.yaml:5:10: throws > elevtor: found an unknown key "elevtor"; allowed: aileron, elevator, rudder;'
          " try: elevator")),
        ("from: half.yaml\ncg: none\n", "from: precision\n",
         'mine.yaml:5:5: cg: found "none"; allowed: a value, for this key is needed; try: add "cg: 33 %"'),
        ("from: half.yaml\ntrims: none\n", "from: precision\n",
         ('mine.yaml:5:8: trims: found "none"; allowed: a value, for the base has nothing there to take away;'
          " try: leave the line out")),
        # both at once: the file's own first
        ("from: half.yaml\n\ncg: 150\n", "from: precision\npropeller: 21x\n",
         ('mine.yaml:6:5: cg: found "150", a number without a unit; allowed: a share of the mean aerodynamic chord from'
          ' -50 % to 150 %, such as "33 %", or a distance behind the wing root leading edge from -1 m to 2 m, such as'
          ' "150 mm"; try: "150 mm" or "150 %"\n'
          'half.yaml:5:12: propeller: found "21x"; allowed: diameter x pitch in inches, and the blade count if it is'
          ' not 2; try: "21x13" or "21x13x3"')),
        # a base that is no base
        ("from: [half.yaml]\n", "", "mine.yaml:4:7: from: found a list; allowed: text of 1 to 300 characters"),
        ("from: precison\n", "",
         (f'mine.yaml:4:7: from: found "precison"; allowed: a built-in setup ({SETUPS}) or a path that ends in .yaml;'
          " try: precision or precision-aft or moor-220-precision")),
        ("from: hlf.yaml\n", "from: precision\n",
         'mine.yaml:4:7: from: found "hlf.yaml", which is no such file; allowed: a YAML file; try: half.yaml'),
        ("from: half.yaml\n", "from: mine.yaml\n",
         ('half.yaml:4:7: from: found "mine.yaml", which builds on this one (mine.yaml > half.yaml > mine.yaml);'
          " allowed: a setup that does not")),
        ("from: ./mine.yaml\n", "",
         ('mine.yaml:4:7: from: found "./mine.yaml", which builds on this one (mine.yaml > mine.yaml);'
          " allowed: a setup that does not")),
        ("from: half.yaml\n", "from: precision\n  cg: 3\n",
         ("half.yaml:5:5: found text that does not read as YAML (mapping values are not allowed in this context);"
          ' allowed: lines of "key: value"; try: look for a missing colon, space after a colon, quote, bracket or'
          " level of indentation here or just above")),
    ],
)  # fmt: skip
def test_whole_messages(files, tmp_path, mine, half, whole):
    path = files(mine=mine, half=half)
    assert message_of(load_setup, path).replace(f"{tmp_path}/", "") == whole


def test_what_is_replaced_is_looked_at_no_more(files):
    half = "from: precision\ncg:\npropeller: 21x\nmixes: [{from: a, from: b}]\nthrows: {elevator: {up: &x 1}}\n"
    assert ":8:25: found an anchor" in message_of(load_setup, files(half=half))
    half = half.replace("&x 1", "")
    places = [line.split(": ")[0].split(":", 1)[1] for line in message_of(load_setup, files(half=half)).splitlines()]
    assert places == ["5:4", "6:12", "7:9", "7:19", "8:25"]  # a missing key where its group stands
    mine = "from: half.yaml\ncg: 33 %\npropeller: 21x13\nmixes: []\nthrows: {elevator: {up: 13 deg}}\n"
    assert load_setup(files(mine=mine, half=half)).cg == (0.33, "mac")


def test_a_name_of_its_own(files, tmp_path):
    path = files(mine="from: precision\n")
    path.write_text(f"{HEAD}from: precision\n", encoding="utf-8")
    assert message_of(load_setup, path) == (
        f'{path}:1:1: name: found nothing; allowed: a value, for this key is needed; try: add "name: my-plane"'
    )
    path.write_text(f"{HEAD}name: precision\nfrom: precision\n", encoding="utf-8")
    assert message_of(load_setup, path) == (
        f'{path}:3:7: name: found "precision", the name of a setup that it builds on; allowed: a name of its own'
    )


def test_another_kind_of_file_is_no_base(files, tmp_path):
    path = files(mine="from: plane.yaml\n")
    plane = tmp_path / "plane.yaml"
    plane.write_text((FILES / "plane.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    assert message_of(load_setup, path) == f'{plane}:4:7: kind: found "airframe"; allowed: setup'


def test_a_chain_ends_somewhere(files):
    def chain(length: int) -> Path:
        names = [f"s{i}" for i in range(length)]
        texts = {a: f"from: {b}.yaml\n" for a, b in zip(names, names[1:])}
        return files(**texts, **{names[-1]: "from: precision\n"})

    assert load_setup(chain(DEEPEST)).cg == load_setup("precision").cg
    message = message_of(load_setup, chain(DEEPEST + 1))
    assert message.endswith(
        "s8.yaml:4:7: from: found more than 8 setups, each of which builds on the next; allowed: at most 8"
    )
