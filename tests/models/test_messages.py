"""Every message of the catalogue is given by some wrong file, and is shown whole by a test.

Messages about single values and between fields are in test_bad_files, test_units, test_bases and test_power.
"""

import os
import stat
from pathlib import Path
from typing import ClassVar

import pytest

from models import messages
from models.blade_schema import BladeFamilyFile
from models.errors import UserError
from models.fields import Document
from models.loader import known_airframes, known_setups, load_setup, setup_from_texts
from models.reading import read_text
from models.schema import AirframeFile
from models.setup_schema import SetupFile
from tests.models.test_bad_files import BLADES, EDITS, MODELS, PLANE, SETUP, WHOLE_FILES

SETUPS = ", ".join(name for name, _ in known_setups())
AIRFRAMES = ", ".join(name for name, _ in known_airframes())
TOP = ", ".join(info.alias or name for name, info in AirframeFile.model_fields.items())
HEAD = "format: 1\nkind: setup\n"

# (what is replaced once in which file, by what, the whole message), as in test_bad_files
MORE_EDITS = [
    (PLANE, "kind: airframe\n", "", 'f.yaml:3:1: kind: found nothing; allowed: airframe; try: add the line "kind: airframe"'),
    (PLANE, "  kind: electric\n", "", ('f.yaml:69:1: power > kind: found nothing; allowed: a value, for this key is needed;'
     ' try: add "kind: electric"')),
    (PLANE, "  kind: electric", "  kind: eletric", ('f.yaml:70:9: power > kind: found "eletric"; allowed: electric, piston;'
     " try: electric")),
    (PLANE, "power:\n", "power: strong\nmore:\n", ('f.yaml:69:8: power: found "strong"; allowed: a group of keys with "kind:"'
     " electric, piston\n"
     f'f.yaml:70:1: more: found an unknown key "more"; allowed: {TOP}')),
    (PLANE, "    root: {at: [0 mm, 0 mm, 0 mm], chord: 500 mm}", "    root: here",
     'f.yaml:11:11: surfaces > wing > root: found "here"; allowed: a group of keys: at, chord'),
    (SETUP, "cg: 31 %", "cg: ~", ('f.yaml:7:5: cg: found "~" without a number; allowed: a value; try: an estimate such as'
     ' "~620 g", or leave the line out')),
    (SETUP, "cg: 31 %", "cg: ~~31 %", ('f.yaml:7:5: cg: found "~~31 %"; allowed: one "~" ahead of a number that is an'
     ' estimate; try: "~31 %"')),
    (SETUP, "servos:", "throttle curve: [0 %]\nservos:", "f.yaml:15:17: throttle curve: found 1 entries; allowed: at least 2"),
    (SETUP, "servos:", f"throttle curve: [{'0 %, ' * 18}0 %]\nservos:",
     "f.yaml:15:17: throttle curve: found 19 entries; allowed: at most 17"),
]  # fmt: skip


def edited(text, old, new):
    read_text(text.replace(old, new, 1), "f.yaml", MODELS[text])


def written(path: Path, text: str | bytes) -> Path:
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def setup_with(folder: Path, old: str, new: str) -> Path:
    written(folder / "plane.yaml", PLANE)
    written(folder / "blades.yml", BLADES)
    assert old in SETUP
    return written(folder / "mine.yaml", SETUP.replace(old, new, 1))


def chain(folder: Path, length: int) -> Path:
    for n in range(length):
        below = f"s{n + 1}.yaml" if n < length - 1 else "precision"
        written(folder / f"s{n}.yaml", f"{HEAD}name: s{n}\nfrom: {below}\n")
    return folder / "s0.yaml"


def large(folder: Path, length: int) -> Path:
    path = chain(folder, length)
    for part in folder.glob("s*.yaml"):
        part.write_text(part.read_text() + "".join(f"{part.stem}k{n}: 1\n" for n in range(9900)))
    return path


def pipe(folder: Path) -> Path:
    os.mkfifo(folder / "pipe.yaml")
    return folder / "pipe.yaml"


# name in the catalogue, what makes the file, the whole message with "DIR/" for its folder
CASES = [
    ("no file", lambda d: (written(d / "mine.yaml", SETUP), d / "mime.yaml")[1],
     "DIR/mime.yaml: found no such file; allowed: a YAML file; try: DIR/mine.yaml"),
    ("folder", lambda d: (written(d / "mine.yaml", SETUP), d)[1],
     "DIR: found a folder; allowed: a YAML file; try: DIR/mine.yaml"),
    ("not regular", pipe, "DIR/pipe.yaml: found something that is not a regular file; allowed: a YAML file"),
    ("unreadable", lambda d: d / "a\0.yaml",
     "DIR/a\\x00.yaml: found a file that cannot be read (not a possible file name); allowed: a YAML file"),
    ("too large", lambda d: written(d / "a.yaml", b"a" * ((1 << 20) + 1)),
     "DIR/a.yaml: found more than 1 MiB; allowed: a file of at most 1 MiB"),
    ("binary", lambda d: written(d / "a.yaml", b"a\0b"),
     "DIR/a.yaml: found binary data; allowed: plain text in UTF-8"),
    ("not UTF-8", lambda d: written(d / "a.yaml", b"a: 1\nb: caf\xe9\n"),
     "DIR/a.yaml: found text that is not UTF-8 on line 2; allowed: plain text in UTF-8; try: save it as UTF-8"),
    ("unknown name", lambda d: "slow3d",
     f'setup: found "slow3d"; allowed: a built-in setup ({SETUPS}) or a path that ends in .yaml; try: slow-3d'),
    ("unknown name", lambda d: setup_with(d, "plane.yaml", "tarn"),
     (f'DIR/mine.yaml:5:11: airframe: found "tarn"; allowed: a built-in airframe ({AIRFRAMES}) or a path that ends in'
      " .yaml; try: tarn-220")),
    ("named file", lambda d: setup_with(d, "plane.yaml", "plan.yaml"),
     'DIR/mine.yaml:5:11: airframe: found "plan.yaml", which is no such file; allowed: a YAML file; try: DIR/plane.yaml'),
    ("no tray", lambda d: setup_with(d, "moved item: battery", "moved item: motor"),
     ('DIR/mine.yaml:8:13: moved item: found "motor", which has no tray; allowed: an item of the airframe with a tray:'
      ' battery; try: a line "slides:" for it in the airframe')),
    ("no such item", lambda d: setup_with(d, "moved item: battery", "moved item: batery"),
     ('DIR/mine.yaml:8:13: moved item: found "batery"; allowed: an item of the airframe with a tray: battery;'
      " try: battery")),
    ("no such surface", lambda d: setup_with(d, "cg: 31 %", "incidence: {wng: 1 deg}\ncg: 31 %"),
     'DIR/mine.yaml:7:18: incidence > wng: found "wng"; allowed: wing, stabiliser, fin; try: wing'),
    ("name taken", lambda d: setup_with(d, "servos:", "ballast: [{name: motor, mass: 50 g, at: [0 m, 0 m, 0 m]}]\nservos:"),
     ('DIR/mine.yaml:15:18: ballast > motor > name: found "motor" a second time; allowed: a name that no item of the airframe'
      " or ballast has")),
    ("circle", lambda d: written(d / "a.yaml", f"{HEAD}name: a\nfrom: ./a.yaml\n"),
     ('DIR/a.yaml:4:7: from: found "./a.yaml", which builds on this one (DIR/a.yaml > DIR/a.yaml); allowed: a setup that'
      " does not")),
    ("too many bases", lambda d: chain(d, 9),
     "DIR/s8.yaml:4:7: from: found more than 8 setups, each of which builds on the next; allowed: at most 8"),
    ("too many together", lambda d: large(d, 3), ("DIR/s1.yaml:4:7: from: found more than 20000 values with those of the setups"
     " it builds on; allowed: at most 20000")),
    ("name of the base", lambda d: written(d / "a.yaml", f"{HEAD}name: precision\nfrom: precision\n"),
     'DIR/a.yaml:3:7: name: found "precision", the name of a setup that it builds on; allowed: a name of its own'),
    ("nothing to take away", lambda d: written(d / "a.yaml", f"{HEAD}name: a\nfrom: precision\ntrims: none\n"),
     ('DIR/a.yaml:5:8: trims: found "none"; allowed: a value, for the base has nothing there to take away; try: leave the'
      " line out")),
]  # fmt: skip


@pytest.fixture
def given(monkeypatch):
    """The names of the messages that were given."""
    names: set[str] = set()

    class Recording(dict):
        def __getitem__(self, name):
            names.add(name)
            return super().__getitem__(name)

    monkeypatch.setattr(messages, "CATALOGUE", Recording(messages.CATALOGUE))
    return names


def message_of(call, *arguments) -> str:
    with pytest.raises(UserError) as caught:
        call(*arguments)
    return str(caught.value)


@pytest.mark.parametrize(("name", "make", "whole"), CASES, ids=[case[0] for case in CASES])
def test_whole_messages_about_files(tmp_path, given, name, make, whole):
    message = message_of(load_setup, make(tmp_path))
    assert message.replace(str(tmp_path), "DIR") == whole
    assert name in given


@pytest.mark.parametrize(
    ("text", "old", "new", "whole"), MORE_EDITS, ids=[f"{old!r}->{new!r}"[:50] for _, old, new, _ in MORE_EDITS]
)
def test_whole_messages_about_keys(text, old, new, whole):
    assert old in text
    assert message_of(edited, text, old, new) == whole


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(tmp_path):
    path = written(tmp_path / "a.yaml", SETUP)
    path.chmod(stat.S_IWUSR)
    assert (
        message_of(load_setup, path)
        == f"{path}: found a file that may not be read; allowed: a file with read permission"
    )


def no_permission(monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", lambda *_, **__: (_ for _ in ()).throw(PermissionError(13, "no")))
        path = Path(__file__)
        return message_of(load_setup, path).replace(str(path), "F")


def not_yaml(monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr("yaml.compose", lambda *_, **__: (_ for _ in ()).throw(ValueError))
        return message_of(read_text, "a: 1", "F", SetupFile)


def test_whole_messages_that_need_a_fault_elsewhere(monkeypatch):
    assert no_permission(monkeypatch) == "F: found a file that may not be read; allowed: a file with read permission"
    assert not_yaml(monkeypatch) == 'F:1:1: found text that is not YAML; allowed: lines of "key: value"'
    assert message_of(setup_from_texts, {"setup": SETUP, "airframe": PLANE}) == (
        "recorded blade family: found nothing; allowed: the text of the blade family file"
    )
    based = {
        "setup": f"{HEAD}name: a\nfrom: b.yaml\n",
        "base 1": SETUP.replace("plane.yaml", "tarn-220"),
        "airframe": PLANE,
    }
    assert setup_from_texts({**based, "blade family": BLADES}).name == "a"


def test_a_built_in_file_names_no_path(monkeypatch):
    from models import loader
    from models.nodes import Source

    source = Source("setups/a.yaml", SETUP, None)
    monkeypatch.setattr(loader, "_source", lambda kind, name: (source, name))
    assert (
        message_of(load_setup, "a") == 'setups/a.yaml:5:11: airframe: found "plane.yaml"; allowed: a built-in airframe'
    )


class Plain(Document):
    """A schema with a type of pydantic's own."""

    KIND: ClassVar[str] = "plain"

    kind: str
    size: int


def test_types_that_are_not_ours():
    text = "format: 1\nkind: plain\nsize: large\n"
    assert message_of(read_text, text, "F", Plain) == (
        'F:3:7: size: found "large"; allowed: integer, unable to parse string as an integer'
    )


def test_every_message_of_the_catalogue_is_given(tmp_path, given, monkeypatch):
    for text, old, new, _ in [*EDITS, *MORE_EDITS]:
        message_of(edited, text, old, new)
    for _, text, _ in WHOLE_FILES:
        message_of(read_text, text, "f.yaml", AirframeFile)
    for number, (_, make, _) in enumerate(CASES):
        folder = tmp_path / str(number)
        folder.mkdir()
        message_of(load_setup, make(folder))
    test_whole_messages_that_need_a_fault_elsewhere(monkeypatch)
    test_a_built_in_file_names_no_path(monkeypatch)
    test_types_that_are_not_ours()
    assert given == set(messages.CATALOGUE)


@pytest.mark.parametrize("name", messages.CATALOGUE)
def test_a_message_says_what_is_allowed(name):
    message = messages.CATALOGUE[name]
    assert message.found and message.allowed
    assert not message.found.startswith("found") and not message.allowed.endswith(".")


def test_no_message_of_the_readers_is_written_elsewhere():
    folder = Path(messages.__file__).parent
    for module in ("nodes", "reading", "loader", "bases", "errors"):
        text = (folder / f"{module}.py").read_text(encoding="utf-8")
        assert " Refused(" not in text.replace("class Refused(", ""), module


def test_several_problems_in_several_places_at_once():
    text = SETUP.replace("cg: 31 %", "cg: 31").replace("20x13", "21x").replace("way of flying: precision", "way: fast")
    message = message_of(read_text, text, "f.yaml", SetupFile)
    assert [line.split(": ")[1] for line in message.splitlines()] == ["way of flying", "way", "cg", "propeller"]


def test_blades_are_told_as_blades():
    assert 'found "setup"; allowed: blade family' in message_of(read_text, SETUP, "f.yaml", BladeFamilyFile)
