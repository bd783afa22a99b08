"""What differs between files: every field of whatever schema, as written, and nothing that is the same in another spelling."""

import re
from pathlib import Path
from typing import Annotated, ClassVar

import pytest

import models
from models.entries import as_written, entries, kind_of
from models.fields import Document, Flag, Group, Name, Quantity
from models.loader import load
from models.reading import read_text
from scenarios.differences import _between, differences, joined

MODELS = Path(models.__file__).parent
MORE = """
mixes:
  - {from: rudder, to: elevator, gain: -3 %}
  - {from: rudder, to: aileron, gain: 2 %}
throttle curve: [0 %, 40 %, 100 %]
thrust line: {at: [-460 mm, 0 mm, 20 mm], down: 1 deg, right: 2 deg}
incidence: {wing: 1 deg, stabiliser: -0.5 deg}
trims: {aileron: 1 deg, elevator: 0.5 deg, rudder: -1 deg}
low rates: {aileron: 50 %, elevator: 55 %, rudder: 60 %}
propeller turns: anticlockwise
propeller mass: 80 g
"""


@pytest.fixture
def changed(tmp_path):
    """`changed(old, new)`: what differs between a setup that has every field and one with an edit, in the file of `kind`."""

    def of(old: str, new: str, kind: str = "setup"):
        loaded = []
        for number, edit in enumerate(((old, old), (old, new))):
            folder = tmp_path / str(number)
            folder.mkdir(exist_ok=True)
            setup = (MODELS / "setups" / "precision.yaml").read_text(encoding="utf-8") + MORE
            setup = re.sub(r"(?m) +#.*$", "", setup).replace("airframe: tarn-220", "airframe: plane.yaml")
            plane = (MODELS / "airframes" / "tarn-220.yaml").read_text(encoding="utf-8")
            assert edit[0] in (setup if kind == "setup" else plane)
            if kind == "setup":
                setup = setup.replace(*edit, 1)
            else:
                plane = plane.replace(*edit, 1)
            (folder / "setup.yaml").write_text(setup, encoding="utf-8")
            (folder / "plane.yaml").write_text(plane, encoding="utf-8")
            loaded.append(load(folder / "setup.yaml"))
        return differences(loaded)

    return of


@pytest.mark.parametrize(
    "old, new, field, cells",
    [
        ("cg: 31 %", "cg: 150 mm", "cg", ("31 %", "150 mm")),
        ("propeller: 20x13", "propeller: 20x13x3", "propeller", ("20x13", "20x13x3")),
        ("propeller mass: 80 g", "propeller mass: 3 oz", "propeller mass", ("80 g", "3 oz")),
        ("anticlockwise", "clockwise", "propeller turns", ("anticlockwise", "clockwise")),
        ("way of flying: precision", "way of flying: extreme", "way of flying", ("precision", "extreme")),
        ("{up: 12 deg, down: 12 deg, exponential: 20 %}", "{up: 12 deg, down: 12 deg}",
         "throws > elevator > exponential", ("20 %", "(0 %)")),
        ("gain: -3 %", "gain: 3 %", "mixes > rudder to elevator > gain", ("-3 %", "3 %")),
        ("[0 %, 40 %, 100 %]", "[0 %, 100 %]", "throttle curve", ("[0 %, 40 %, 100 %]", "[0 %, 100 %]")),
        ("down: 1 deg", "down: 0.5 deg", "thrust line > down", ("1 deg", "0.5 deg")),
        ("20 mm], down", "25 mm], down", "thrust line > at", ("[-460 mm, 0 mm, 20 mm]", "[-460 mm, 0 mm, 25 mm]")),
        ("incidence: {wing: 1 deg, ", "incidence: {", "incidence > wing", ("1 deg", "")),
        ("elevator: 0.5 deg", "elevator: 0.6 deg", "trims > elevator", ("0.5 deg", "0.6 deg")),
        ("elevator: 55 %", "elevator: 50 %", "low rates > elevator", ("55 %", "50 %")),
        ("aileron: {speed: 0.12 s/60deg,", "aileron: {speed: 0.12 s/60deg, lag: 30 ms,", "servos > aileron > lag",
         ("(0.02 s)", "30 ms")),
    ],
)  # fmt: skip
def test_one_edit_is_one_difference(changed, old, new, field, cells):
    assert [(d.field, d.cells) for d in changed(old, new)] == [(field, cells)]


@pytest.mark.parametrize(
    "old, new",
    [
        ("up: 12 deg", "up: 12.0deg"),
        ("propeller mass: 80 g", "propeller mass: 0.08 kg"),
        ("name: precision", "name: other"),
        ("trims: {aileron: 1 deg, elevator", "trims: {elevator: 0.5 deg, aileron: 1 deg, rudder: -1 deg}\n#"),
    ],
)
def test_another_spelling_is_no_difference(changed, old, new):
    assert changed(old, new) == []


def test_an_edited_airframe_is_told_field_by_field(changed):
    found = changed("name: battery, mass: 1.42 kg", "name: battery, mass: 1.6 kg", "airframe")
    assert [(d.field, d.cells) for d in found] == [("airframe > items > battery > mass", ("1.42 kg", "1.6 kg"))]


def test_another_aeroplane_is_summed_up():
    found = {d.field: d.cells for d in differences([load("precision"), load("moor-220-precision")])}
    assert found["airframe > mass"] == ("6.49 kg", "6.68 kg") or found["airframe > mass"][0] == "6.49 kg"
    assert not any("items" in field for field in found)


def test_rows_with_the_same_cells_are_taken_together():
    fields = [d.field for d in joined(differences([load("precision"), load("slow-3d")]))]
    assert "throws > elevator > up, down" in fields
    assert "servos > aileron, elevator, rudder > speed" in fields


class Step(Group):
    name: Name
    hold: Annotated[float, Quantity("torque")] | None = None


class Novelty(Document):
    """A schema that nobody has thought of yet."""

    KIND: ClassVar[str] = "novelty"

    kind: Name
    on: Flag = False
    parts: dict[Name, Step]
    steps: tuple[Step, ...] = ()


def test_fields_that_come_later_are_seen_too():
    def read(text: str):
        return entries(read_text(f"format: 1\nkind: novelty\nparts: {{a: {{name: x}}}}\n{text}", "f.yaml", Novelty))

    one = read("steps: [{name: up, hold: 2 N m}]\n")
    other = read("steps: [{name: in-between}, {name: up, hold: 25 kg cm}]\non: yes\n")
    assert {d.field: d.cells for d in _between([one, other])} == {
        "on": ("(no)", "yes"),
        "steps > up > hold": ("2 N m", "25 kg cm"),
        "steps > in-between > name": ("", "in-between"),
    }


def test_every_default_can_be_shown():
    for kind in ("precision", "corrie-310-precision"):
        for read in load(kind).documents.values():
            for entry in entries(read).values():
                assert entry.shown or entry.value in (None, (), "")
    assert as_written(
        0.02, kind_of(type(load("precision").documents["setup"].value.servos.aileron).model_fields["lag"])
    ) == ("0.02 s")
