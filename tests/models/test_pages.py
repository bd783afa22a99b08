"""The page of keys and messages, and the JSON Schema for editors: both made from the schema, both held to the files."""

import re
from pathlib import Path

import pytest

import models
import scenarios
from models import pages
from models.editors import schema_of
from models.loader import document_schemas, json_schema, load_airframe
from models.messages import CATALOGUE
from scenarios.rules import RulesFile
from scenarios.schema import ManoeuvreFile
from tests.models.json_schema import content, faults
from tests.models.test_bad_files import EDITS, PLANE, SETUP

MODELS = Path(models.__file__).parent
FILES = {
    "setup": sorted((MODELS / "setups").glob("*.yaml")),
    "airframe": sorted((MODELS / "airframes").glob("*.yaml")),
    "blade family": sorted((MODELS / "parts").glob("*.yaml")),
    "manoeuvre": sorted((Path(scenarios.__file__).parent / "manoeuvres").glob("*.yaml")),
    "rules": sorted((Path(scenarios.__file__).parent / "rule_files").glob("*.yaml")),
}
SCHEMAS = {kind: json_schema(kind) for kind in document_schemas()} | {
    "manoeuvre": schema_of(ManoeuvreFile),
    "rules": schema_of(RulesFile),
}


def test_the_page_is_that_of_the_schema():
    page = MODELS / "FILES.md"
    assert page.read_text(encoding="utf-8") == pages.page(), "python -m models.pages > models/FILES.md"


def test_every_key_is_on_the_page():
    page = pages.page()
    for model in document_schemas().values():
        for _, group in pages.groups_of(model, ()):
            for name, info in group.model_fields.items():
                row = f"| `{info.alias or name}` |"
                assert row in page
    assert all(f"| {name} |" in page for name in CATALOGUE)


def test_what_holds_where_a_key_is_left_out_is_said_of_keys_that_exist():
    keys = {
        (form.__name__, info.alias or name)
        for model in document_schemas().values()
        for _, group in pages.groups_of(model, ())
        for form in group.__mro__
        for name, info in getattr(form, "model_fields", {}).items()
        if not info.is_required()
    }
    assert set(pages.LEFT_OUT) <= keys


def test_every_estimate_is_on_the_page(tmp_path):
    """What an airframe with nothing but the needed keys has estimated."""
    groups = {group.__name__ for _, group in pages.groups_of(document_schemas()["airframe"], ())}
    said = {key for (name, key), words in pages.LEFT_OUT.items() if name in groups and words.startswith("estimate")}
    petrol = (MODELS / "airframes" / "corrie-310.yaml").read_text(encoding="utf-8")
    found = set()
    for text in (PLANE, petrol):
        for key in said - {"peak power"}:
            text = re.sub(rf"(?m)^ +{key}: .*\n", "", text)
            text = re.sub(rf", {key}: (\[[^]]*\]|[^,}}]*)", "", text)
        path = tmp_path / "plane.yaml"
        path.write_text(text, encoding="utf-8")
        found |= {place.split(" > ")[-1] for place in load_airframe(path).estimated}
    assert found <= said and said - found <= {"peak power"}


@pytest.mark.parametrize("path", [p for paths in FILES.values() for p in paths], ids=lambda path: path.stem)
@pytest.mark.parametrize("yes_is_true", [True, False], ids=["yes-is-true", "yes-is-a-word"])
def test_built_in_files_are_valid(path, yes_is_true):
    kind = next(kind for kind, paths in FILES.items() if path in paths)
    schema = SCHEMAS[kind]
    assert faults(content(path.read_text(encoding="utf-8"), yes_is_true), schema, schema) == []


WRONG = [
    (SETUP, "setup", "cg: 31 % ", "cg: 31 kg ", ["cg"]),
    (SETUP, "setup", "up: 14 deg", "upp: 14 deg", ["throws > aileron > up", "throws > aileron > upp"]),
    (SETUP, "setup", "propeller: 20x13 ", "propeller: 20 ", ["propeller"]),
    (SETUP, "setup", "way of flying: precision", "way of flying: fast", ["way of flying"]),
    (SETUP, "setup", "cg: 31 % ", "from: x\ncg: none ", []),
    (SETUP, "setup", "cg: 31 % ", "cg: none ", ["cg"]),
    (PLANE, "airframe", "mass: 620 g", "mass: 620", ["items > 0 > mass"]),
    (PLANE, "airframe", "strips: 10", "strips: 13", ["surfaces > wing > strips"]),
    (PLANE, "airframe", "[0 mm, 0 mm, 0 mm]", "[0 mm, 0 mm]", ["surfaces > wing > root > at"]),
    (PLANE, "airframe", "symmetric: yes", "symmetric: maybe", ["surfaces > wing > symmetric"]),
]


@pytest.mark.parametrize(("text", "kind", "old", "new", "places"), WRONG)
def test_an_editor_marks_what_is_wrong(text, kind, old, new, places):
    assert old in text
    found = faults(content(text.replace(old, new, 1), True), SCHEMAS[kind], SCHEMAS[kind])
    assert {fault.split(": ")[0].removeprefix(" > ") for fault in found} == set(places)


def test_a_setup_on_another_needs_next_to_nothing():
    schema = SCHEMAS["setup"]
    mine = {"format": 1, "kind": "setup", "name": "mine", "from": "precision"}
    assert faults(mine, schema, schema) == []
    assert faults(mine | {"throws": {"elevator": {"up": "20 deg"}}, "mixes": "none"}, schema, schema) == []
    assert faults(mine | {"throws": {"elevator": {"up": "20 mm"}}}, schema, schema) != []
    assert faults(mine | {"throws": {"elevater": {}}}, schema, schema) != []
    assert faults(mine | {"mixes": [{"from": "rudder", "to": "elevator"}]}, schema, schema) != []  # lists stay whole
    assert faults({**mine, "name": "none!"}, schema, schema) != []
    del mine["from"]
    assert len(faults(mine, schema, schema)) >= 8


def test_what_the_reader_takes_an_editor_takes(tmp_path):
    """Edits that the reader refuses may pass an editor (bounds, checks between fields), never the other way about."""
    from models.reading import read_text
    from tests.models.test_bad_files import MODELS as OF_TEXT

    edits = {(text, old) for text, old, *_ in EDITS if old.strip()}
    for text, old in sorted(edits)[::3]:
        edited = text.replace(old, old.replace(" deg", "\u00b0").replace(" mm", "mm").replace(" %", "%"), 1)
        read_text(edited, "f.yaml", OF_TEXT[text])
        schema = SCHEMAS[OF_TEXT[text].KIND]
        assert faults(content(edited, True), schema, schema) == []
