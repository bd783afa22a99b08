"""What is said about each class of wrong file: whole messages, and no file takes long to refuse."""

import os
import time
from pathlib import Path

import pytest

from models.blade_schema import BladeFamilyFile
from models.errors import UserError, UserFileError
from models.loader import known_airframes, known_setups, load, load_airframe, load_setup
from models.reading import read_document, read_text
from models.schema import AirframeFile
from models.setup_schema import SetupFile

FILES = Path(__file__).parent / "files"
PLANE = (FILES / "plane.yaml").read_text(encoding="utf-8")
SETUP = (FILES / "setup.yaml").read_text(encoding="utf-8")
BLADES = (FILES / "blades.yml").read_text(encoding="utf-8")
AIRFRAMES = ", ".join(name for name, _ in known_airframes())
MODELS = {PLANE: AirframeFile, SETUP: SetupFile, BLADES: BladeFamilyFile}


def refusal(text, model=AirframeFile):
    """The message about `text`; it must come within 2 s."""
    start = time.process_time()
    with pytest.raises(UserFileError) as caught:
        read_text(text, "f.yaml", model)
    assert time.process_time() - start < 2.0
    return str(caught.value)


LINES = 'allowed: lines of "key: value"'
FIRST = f'{LINES}, the first of them "format: 1"'
LOOK = "try: look for a missing colon, space after a colon, quote, bracket or level of indentation here or just above"
CHORD = "f.yaml:11:43: surfaces > wing > root > chord"
LENGTHS = "allowed: a length in mm, cm, m, in, ft, from 5 mm to 3 m"
NAME = "allowed: a name of lower-case letters a-z, digits and hyphens, at most 60 characters"
TOP = "format, kind, name, about, surfaces, fuselage, drag bodies, thrust line, items, power, structure, wheels"

EDITS = [
    # (file, what is replaced once, by what, the whole message)
    (PLANE, "500 mm", "500", f'{CHORD}: found "500", a number without a unit; {LENGTHS}; try: "500 mm"'),
    (PLANE, "500 mm", "500 g", f'{CHORD}: found "500 g", which is a mass; {LENGTHS}; try: "152 mm"'),
    (PLANE, "500 mm", "0 mm", f'{CHORD}: found "0 mm"; allowed: a length from 5 mm to 3 m'),
    (PLANE, "500 mm", ".nan", f'{CHORD}: found ".nan"; allowed: a finite number'),
    (PLANE, "500 mm", ".inf", f'{CHORD}: found ".inf"; allowed: a finite number'),
    (PLANE, "500 mm", "1e999", f'{CHORD}: found "1e999"; allowed: a finite number'),
    (PLANE, "500 mm", "[500 mm]", f'{CHORD}: found a list; {LENGTHS}; try: "152 mm"'),
    (PLANE, "500 mm", "{a: 1}", f'{CHORD}: found a group of keys; {LENGTHS}; try: "152 mm"'),
    (
        PLANE,
        "500 mm",
        '"5\\e[31m"',
        f'{CHORD}: found "5\\x1b[31m", with an unknown unit "\\x1b[31m"; {LENGTHS}; try: "152 mm"',
    ),
    (
        PLANE,
        "500 mm",
        "!!python/object/apply:os.system [x]",
        'f.yaml:11:43: found a tag "!!python/object/apply:os.system"; allowed: values without a tag; try: leave it out',
    ),
    (PLANE, "500 mm", "&a 500 mm", 'f.yaml:11:43: found an anchor "&a"; allowed: values in full'),
    (PLANE, "500 mm", "*a", 'f.yaml:11:43: found an alias "*a"; allowed: values in full'),
    (
        PLANE,
        "mass: 620 g",
        "mass: -620 g",
        'f.yaml:50:35: items > right wing half > mass: found "-620 g"; allowed: a mass over 0 g and under 60 kg',
    ),
    (
        PLANE,
        "chord: 500 mm",
        "chrod: 500 mm",
        (
            "f.yaml:11:5: surfaces > wing > root > chord: found nothing; allowed: a value, for this key is needed;"
            ' try: add "chord: 152 mm"\n'
            'f.yaml:11:36: surfaces > wing > root > chrod: found an unknown key "chrod"; allowed: at, chord; try: chord'
        ),
    ),
    (
        PLANE,
        "chord: 500 mm",
        "chord: 1,5 m",
        (
            'f.yaml:11:43: surfaces > wing > root > chord: found "1", a number without a unit;'
            f' {LENGTHS}; try: "1 mm"\n'
            'f.yaml:11:45: surfaces > wing > root > 5 m: found an unknown key "5 m"; allowed: at, chord;'
            " try: a point for decimals, if this is the end of a number with a comma"
        ),
    ),
    (
        PLANE,
        "[0 mm, 0 mm, 0 mm]",
        "[0 mm, 0 mm]",
        (
            "f.yaml:11:16: surfaces > wing > root > at: found 2 values; allowed: 3 values;"
            " try: [x, y, z] in brackets, such as [60 mm, 0 mm, -230 mm]"
        ),
    ),
    (
        PLANE,
        "[0 mm, 0 mm, 0 mm]",
        "0 mm",
        (
            'f.yaml:11:16: surfaces > wing > root > at: found "0 mm"; allowed: a list;'
            " try: [x, y, z] in brackets, such as [60 mm, 0 mm, -230 mm]"
        ),
    ),
    (
        PLANE,
        "cells: 12",
        "cells: twelve",
        'f.yaml:71:10: power > cells: found "twelve"; allowed: a whole number from 1 to 16',
    ),
    (
        PLANE,
        "cells: 12",
        "cells:",
        (
            "f.yaml:71:9: power > cells: found nothing; allowed: a value;"
            " try: write one after the colon, or leave the line out"
        ),
    ),
    (
        PLANE,
        "cells: 12",
        "cells: 12\n  cells: 13",
        'f.yaml:72:3: power > cells: found "cells" a second time; allowed: each key once (first at 71:3)',
    ),
    (PLANE, "power:", "? [a]\n: b\npower:", "f.yaml:69:3: found a list as a key; allowed: a word or words as a key"),
    (
        PLANE,
        "symmetric: yes",
        "symmetric: 1",
        'f.yaml:10:16: surfaces > wing > symmetric: found "1"; allowed: yes or no',
    ),
    (
        PLANE,
        "symmetric: yes",
        "symmetric: no",
        'f.yaml:10:16: surfaces > wing > symmetric: found no second half; allowed: a wing with "symmetric: yes"',
    ),
    (PLANE, "  fin:", "  Fin:", f'f.yaml:23:3: surfaces > Fin: found "Fin"; {NAME}; try: fin'),
    (
        PLANE,
        "name: aileron",
        "name: elevator",
        'f.yaml:15:18: surfaces > wing > flap > name: found "elevator"; allowed: aileron, which the wing carries',
    ),
    (
        PLANE,
        "from: 12 %",
        "from: 99 %",
        (
            'f.yaml:15:11: surfaces > wing > flap: found from 99 % to 98 %; allowed: "from" less than "to",'
            " from the root to the tip"
        ),
    ),
    (
        PLANE,
        "1100 mm, 0 mm], chord: 270",
        "11 m, 0 mm], chord: 270",
        'f.yaml:12:23: surfaces > wing > tip > at > #2: found "11 m"; allowed: a length from -5 m to 5 m',
    ),
    (
        PLANE,
        "1100 mm, 0 mm], chord: 270",
        "100 mm, 0 mm], chord: 270",
        (
            "f.yaml:12:15: surfaces > wing > tip > at: found y of 100 mm, a whole span of 200 mm;"
            " allowed: y over that of the root, and a whole span from 500 mm to 5000 mm"
        ),
    ),
    (
        PLANE,
        "x: -380 mm",
        "x: -480 mm",
        (
            "f.yaml:33:11: fuselage > stations > #2 > x: found -480 mm after -440 mm;"
            " allowed: stations from the nose to the tail"
        ),
    ),
    (
        PLANE,
        "name: canopy",
        "name: motor",
        'f.yaml:55:12: items > motor > name: found "motor" a second time; allowed: each name once in its list',
    ),
    (
        PLANE,
        "slides: {from: -220 mm",
        "slides: {from: 0 mm",
        "f.yaml:58:40: items > battery > at: found x of -40 mm; allowed: x within its tray, from 0 mm to 160 mm",
    ),
    (
        PLANE,
        "format: 1",
        "format: 2",
        'f.yaml:3:9: format: found "2"; allowed: 1; try: a newer release of this program, if the file was made for one',
    ),
    (
        PLANE,
        "format: 1\n",
        "",
        'f.yaml:3:1: format: found nothing; allowed: "format: 1"; try: add the line "format: 1"',
    ),
    (PLANE, "kind: airframe", "kind: setup", 'f.yaml:4:7: kind: found "setup"; allowed: airframe'),
    (
        PLANE,
        "power:",
        "powre: {}\npower:",
        f'f.yaml:69:1: powre: found an unknown key "powre"; allowed: {TOP}; try: power',
    ),
    (
        PLANE,
        "surfaces:\n  wing:",
        "surfaces:\n\twing:",
        "f.yaml:9:1: found a tab that indents a line; allowed: spaces only; try: two spaces for each tab",
    ),
    (
        SETUP,
        "20x13 ",
        "21x ",
        (
            'f.yaml:9:12: propeller: found "21x"; allowed: diameter x pitch in inches, and the'
            ' blade count if it is not 2; try: "21x13" or "21x13x3"'
        ),
    ),
    (
        SETUP,
        "up: 14 deg",
        "up: 80 deg",
        'f.yaml:12:17: throws > aileron > up: found "80 deg"; allowed: an angle over 0 deg and at most 75 deg',
    ),
    (
        SETUP,
        "exponential: 15 %",
        "exponential: 15",
        (
            'f.yaml:14:54: throws > rudder > exponential: found "15"; allowed: a share from 0 % to 100 %;'
            ' try: "15 %", if a percentage was meant'
        ),
    ),
    (
        SETUP,
        "cg: 31 % ",
        "cg: 150 ",
        (
            'f.yaml:7:5: cg: found "150", a number without a unit; allowed: a share of the mean aerodynamic chord from'
            ' -50 % to 150 %, such as "33 %", or a distance behind the wing root leading edge from -1 m to 2 m, such as'
            ' "150 mm"; try: "150 mm" or "150 %"'
        ),
    ),
    (
        SETUP,
        "way of flying: precision",
        "way of flying: precise",
        'f.yaml:6:16: way of flying: found "precise"; allowed: precision, extreme, slow 3D; try: precision',
    ),
    (
        SETUP,
        "servos:",
        "mixes:\n  - {from: rudder, to: rudder, gain: 3 %}\nservos:",
        'f.yaml:16:24: mixes > #1 > to: found "rudder"; allowed: another control than rudder',
    ),
    (
        BLADES,
        "radius: 30 %",
        "radius: 10 %",
        "f.yaml:9:14: blade > #2 > radius: found 10 % after 15 %; allowed: stations from the hub to the tip",
    ),
]


@pytest.mark.parametrize(
    ("text", "old", "new", "whole"), EDITS, ids=[f"{old.strip()}->{new}"[:60] for _, old, new, _ in EDITS]
)
def test_one_mistake(text, old, new, whole):
    assert old in text
    assert refusal(text.replace(old, new, 1), MODELS[text]) == whole


DEEP = "found more than 20 levels of lists and groups; allowed: at most 20 levels"
MANY = "found more than 20000 values; allowed: at most 20000"
BOMB = "a: &a [x, x]\nb: &b [*a, *a]\nc: &c [*b, *b]\nd: [*c, *c]\n"

WHOLE_FILES = [
    ("empty", "", f"f.yaml:1:1: found an empty file; {FIRST}"),
    ("blank", " \n\n", f"f.yaml:1:1: found an empty file; {FIRST}"),
    ("comments", "# a\n# b\n", f"f.yaml:1:1: found nothing but comments; {FIRST}"),
    ("list", "- a\n- b\n", f"f.yaml:1:1: found a list; {FIRST}"),
    ("word", "hello\n", f'f.yaml:1:1: found "hello"; {FIRST}'),
    ("two documents", "a: 1\n---\na: 1\n", ('f.yaml:2:1: found a second document; allowed: one document;'
     ' try: leave the line "---" out')),
    ("directive", "%YAML 1.1\n---\na: 1\n", (f'f.yaml:1:1: found a line that starts with "%"; {LINES};'
     " try: leave the line out")),
    ("control", "a: 1\nb: \x1b[31m\n", "f.yaml:2:4: found the control character U+001B; allowed: plain text in UTF-8"),
    ("deep lists", "[" * 100_000, f"f.yaml:1:1001: {DEEP}"),
    ("deep dashes", "- " * 100_000, f"f.yaml:1:41: {DEEP}"),
    ("deep groups", "{a: " * 100_000, f"f.yaml:1:81: {DEEP}"),
    ("deep keys", "? " * 100_000, f"f.yaml:1:41: {DEEP}"),
    ("alias bomb", BOMB, 'f.yaml:1:4: found an anchor "&a"; allowed: values in full'),
    ("many values", "a: [" + "x," * 100_000, f"f.yaml:1:39999: {MANY}"),
    ("merge key", "<<: {a: 1}\n", 'f.yaml:1:1: format: found nothing; allowed: "format: 1"; try: add the line "format: 1"'),
    ("open bracket", "a: [1, 2\nb: 3\n", (f"f.yaml:2:2: found text that does not read as YAML (did not find expected"
     f" ',' or ']'); {LINES}; {LOOK}")),
    ("huge text", "x" * ((1 << 20) + 1), "f.yaml:1:1: found more than 1 MiB; allowed: a file of at most 1 MiB"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "whole"), [case[1:] for case in WHOLE_FILES], ids=[case[0] for case in WHOLE_FILES])
def test_a_file_that_is_wrong_as_a_whole(text, whole):
    assert refusal(text) == whole


@pytest.mark.parametrize(
    "text",
    [
        "%TAG ! x\n" * 100_000,
        "#" * 1_000_000,
        "a: " * 300_000,
        "'" * 1_000_000,
        "\n" * 1_000_000 + "a",
        "k: " + "x" * 1_000_000,
        "x" * 1_000_000 + ": 1",
        "format: 1\nkind: airframe\n" + "".join(f"k{i}: 1\n" for i in range(9000)),
        "format: 1\nkind: airframe\nitems: [" + "{name: a}," * 6000 + "]",
        "format: 1\nkind: airframe\nabout: " + "1" * 1_000_000,
    ],
    ids=lambda text: text[:30],
)
def test_no_text_takes_long(text):
    message = refusal(text)
    assert len(message) < 8000


def test_many_problems_are_reported_together_up_to_ten():
    message = refusal(PLANE.replace(" g,", " gg,"))
    lines = message.splitlines()
    assert len(lines) == 11
    assert lines[0] == (
        'f.yaml:50:35: items > right wing half > mass: found "620 gg", with an unknown unit "gg";'
        ' allowed: a mass in g, kg, oz, lb, over 0 g and under 60 kg; try: "620 g"'
    )
    assert lines[-1] == "f.yaml: and 7 more; mend these first"


def message_of(call, *args):
    with pytest.raises(UserError) as caught:
        call(*args)
    assert caught.value.exit_code == 2
    return str(caught.value)


def test_files_that_cannot_be_read(tmp_path):
    (tmp_path / "mine.yaml").write_text(SETUP, encoding="utf-8")
    missing = tmp_path / "mime.yaml"
    found = "found no such file; allowed: a YAML file"
    assert message_of(load_setup, missing) == f"{missing}: {found}; try: {tmp_path / 'mine.yaml'}"
    assert message_of(load_setup, tmp_path) == (
        f"{tmp_path}: found a folder; allowed: a YAML file; try: {tmp_path / 'mine.yaml'}"
    )
    large = tmp_path / "large.yaml"
    large.write_bytes(b"a" * 10_000_000)
    assert message_of(load_setup, large) == f"{large}: found more than 1 MiB; allowed: a file of at most 1 MiB"
    binary = tmp_path / "binary.yaml"
    binary.write_bytes(b"a\0b")
    assert message_of(load_setup, binary) == f"{binary}: found binary data; allowed: plain text in UTF-8"
    latin = tmp_path / "latin.yaml"
    latin.write_bytes(b"a: 1\nb: caf\xe9\n")
    assert message_of(load_setup, latin) == (
        f"{latin}: found text that is not UTF-8 on line 2; allowed: plain text in UTF-8; try: save it as UTF-8"
    )
    assert message_of(load_setup, "a\0.yaml") == (
        "a\\x00.yaml: found a file that cannot be read (not a possible file name); allowed: a YAML file"
    )
    assert "found" in message_of(load_setup, "x" * 5000 + ".yaml")


def test_a_pipe_is_not_waited_for(tmp_path):
    pipe = tmp_path / "pipe.yaml"
    os.mkfifo(pipe)
    assert message_of(load_setup, pipe) == (f"{pipe}: found something that is not a regular file; allowed: a YAML file")


def test_unknown_names():
    setups = ", ".join(name for name, _ in known_setups())
    allowed = f"allowed: a built-in setup ({setups}) or a path that ends in .yaml"
    assert message_of(load_setup, "slow3d") == f'setup: found "slow3d"; {allowed}; try: slow-3d'
    assert message_of(load_setup, "zzz") == f'setup: found "zzz"; {allowed}'
    assert message_of(load_airframe, "tarn") == (
        f'airframe: found "tarn"; allowed: a built-in airframe ({AIRFRAMES}) or a path that ends in .yaml; try: tarn-220'
    )


def test_a_file_left_without_its_ending_is_offered(tmp_path, monkeypatch):
    (tmp_path / "mine.yaml").write_text(SETUP, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert message_of(load_setup, "mine").endswith("; try: mine.yaml")


def test_wrong_cg_names_the_option():
    assert message_of(load_setup, "precision", "32 percent") == (
        '--cg: found "32 percent", with an unknown unit "percent"; allowed: a share of the mean aerodynamic chord from'
        ' -50 % to 150 %, such as "33 %", or a distance behind the wing root leading edge from -1 m to 2 m, such as'
        ' "150 mm"; try: "33 %" or "150 mm"'
    )


@pytest.mark.parametrize(
    ("old", "new", "whole"),
    [
        (
            "moved item: battery",
            "moved item: batery",
            ':8:13: moved item: found "batery"; allowed: an item of the airframe with a tray: battery; try: battery',
        ),
        (
            "moved item: battery",
            "moved item: motor",
            (
                ':8:13: moved item: found "motor", which has no tray; allowed: an item of the airframe with a tray: battery;'
                ' try: a line "slides:" for it in the airframe'
            ),
        ),
        (
            "airframe: plane.yaml",
            "airframe: tarn",
            (
                f':5:11: airframe: found "tarn"; allowed: a built-in airframe ({AIRFRAMES}) or a path that ends in .yaml;'
                " try: tarn-220"
            ),
        ),
        (
            "airframe: plane.yaml",
            "airframe: ../none.yaml",
            ':5:11: airframe: found "../none.yaml", which is no such file; allowed: a YAML file',
        ),
        (
            "cg: 31 %",
            "incidence: {wng: 1 deg}\ncg: 31 %",
            ':7:18: incidence > wng: found "wng"; allowed: wing, stabiliser, fin; try: wing',
        ),
    ],
)
def test_what_a_setup_names_must_exist(tmp_path, old, new, whole):
    assert old in SETUP
    folder = tmp_path / "setups"
    folder.mkdir()
    path = folder / "mine.yaml"
    (folder / "plane.yaml").write_text(PLANE, encoding="utf-8")
    (folder / "blades.yml").write_text(BLADES, encoding="utf-8")
    path.write_text(SETUP.replace(old, new), encoding="utf-8")
    assert message_of(load, path) == f"{path}{whole}"


def test_read_document_is_the_way_in(tmp_path):
    path = tmp_path / "plane.yaml"
    path.write_text(PLANE.replace("format", "fromat"), encoding="utf-8")
    assert message_of(read_document, path, AirframeFile) == (
        f'{path}:3:1: format: found nothing; allowed: "format: 1"; try: add the line "format: 1"'
    )
