"""Files from others: whatever they hold is a value or a `UserError` within 2 s, in bounded memory, and writes nothing.

Bytes, not texts: what `test_random_edits` cannot make.  The edits are drawn from a seeded generator, so that a
failure is found again.
"""

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from models.errors import UserError
from models.loader import load, load_airframe, load_blade_family, load_setup

FILES = Path(__file__).parent / "files"
SETUP = (FILES / "setup.yaml").read_bytes()
PLANE = (FILES / "plane.yaml").read_bytes()
BLADES = (FILES / "blades.yml").read_bytes()
KINDS = {
    "setup.yaml": (SETUP, load_setup),
    "plane.yaml": (PLANE, load_airframe),
    "blades.yml": (BLADES, load_blade_family),
}
LONGEST = 2.0  # s
MOST_MEMORY = 64  # MiB more than the plane itself takes: 1 MiB of text a few times over, and 20 000 values (found: 8)


def laughs(levels: int) -> bytes:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, levels)]
    return "\n".join(lines).encode()


MIB = 1 << 20
HOSTILE = {
    "nothing": b"",
    "zeros": b"\0" * MIB,
    "a line of one letter": b"x" * (MIB - 1),
    "a value of one letter": b"format: 1\nkind: setup\nabout: " + b"x" * (MIB - 100),
    "a key of one letter": b"format: 1\nkind: setup\n" + b"x" * (MIB - 100) + b": 1",
    "a comment": b"#" * (MIB - 1),
    "spaces": b" " * (MIB - 1),
    "line ends": b"\r" * (MIB - 1),
    "quotes": b'"' * (MIB - 1),
    "escapes": b'a: "' + b"\\x41" * (MIB // 4 - 10) + b'"',
    "brackets": b"[" * (MIB - 1),
    "braces": b"{a: " * (MIB // 4 - 1),
    "closing brackets": b"]" * (MIB - 1),
    "question marks": b"? " * (MIB // 2 - 1),
    "dashes": b"- " * (MIB // 2 - 1),
    "steps inward": b"".join(b" " * n + b"a:\n" for n in range(1400)),
    "folded": b"a: >\n" + b" x\n" * (MIB // 3 - 10),
    "anchors": b"a: [" + b"&a x," * (MIB // 5 - 10) + b"]",
    "aliases": b"a: &a x\nb: [" + b"*a," * (MIB // 3 - 10) + b"]",
    "laughs": laughs(12),
    "merges": b"a: &a {b: 1}\n" + b"<<: *a\n" * 10_000,
    "tags": b"!!python/object/apply:os.system ['touch hacked']",
    "tags in a value": SETUP.replace(b"31 %", b"!!python/object/new:os.system [touch hacked]", 1),
    "documents": b"---\n" * (MIB // 4 - 1),
    "directives": b"%YAML 9.9\n" * (MIB // 10),
    "many keys": b"format: 1\nkind: setup\n" + b"".join(b"k%d: 1\n" % n for n in range(80_000)),
    "one key": b"format: 1\n" * (MIB // 10),
    "many items": PLANE.replace(b"items:\n", b"items:\n" + b"  - {name: a, mass: 1 g, at: [0 m, 0 m, 0 m]}\n" * 3000, 1),
    "huge numbers": SETUP.replace(b"31 %", b"9" * 50 + b" %", 1),
    "huge exponent": SETUP.replace(b"31 %", b"1e999999999 %", 1),
    "tiny numbers": SETUP.replace(b"14 deg", b"1e-999 deg", 1),
    "long fraction": SETUP.replace(b"14 deg", b"1/" + b"9" * 50 + b" deg", 1),
    "digits": SETUP.replace(b"14 deg", b"9" * (MIB // 2) + b" deg", 1),
    "half a letter": SETUP[:-1] + b"\xe2\x82",
    "overlong letter": SETUP + b"# \xc0\xaf",
    "surrogate": SETUP + b"# \xed\xa0\x80",
    "other encoding": SETUP.decode().encode("utf-16"),
    "byte order marks": b"\xef\xbb\xbf" * 100 + SETUP,
    "bells": SETUP.replace(b"about: forward", b'about: "\\a\\e]0;x\\a', 1),
    "right to left": SETUP.replace(b"forward CG", "\u202eforward".encode(), 1),
    "a base in itself": SETUP + b"from: setup.yaml\n",
    "a base that is a device": SETUP + b"from: /dev/zero\n",
    "a plane that is the setup": SETUP.replace(b"plane.yaml", b"setup.yaml", 1),
}  # fmt: skip


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder with the three files, in which nothing else may turn up."""
    monkeypatch.chdir(tmp_path)
    for name, (text, _) in KINDS.items():
        (tmp_path / name).write_bytes(text)
    return tmp_path


def read(folder: Path, name: str, content: bytes) -> str:
    """What is said about the file with that content; "" if it is read."""
    path = folder / name
    path.write_bytes(content)
    start = time.perf_counter()
    message = ""
    try:
        KINDS[name][1](path)
    except UserError as error:
        message = str(error)
        assert message and all(line.isprintable() for line in message.splitlines())
        assert len(message) < 20_000
    assert time.perf_counter() - start < LONGEST
    assert sorted(p.name for p in folder.iterdir()) == sorted(KINDS)
    assert path.read_bytes() == content
    return message


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_files(folder, name):
    target = "plane.yaml" if name == "many items" else "setup.yaml"
    message = read(folder, target, HOSTILE[name])
    harmless = ("right to left",) if "found" not in message else ()
    assert message or name in harmless


@pytest.mark.parametrize("name", KINDS)
def test_bytes_changed_at_random(folder, name):
    whole = KINDS[name][0]
    draw = random.Random(f"bytes {name}")
    refused = 0
    for _ in range(150):
        content = bytearray(whole)
        for _ in range(draw.randint(1, 6)):
            at, how = draw.randrange(len(content)), draw.randrange(4)
            if how == 0:
                content[at] = draw.randrange(256)
            elif how == 1:
                del content[at : at + draw.randrange(1, 40)]
            elif how == 2:
                content[at:at] = bytes(draw.randrange(256) for _ in range(draw.randrange(1, 8)))
            else:
                other = draw.randrange(len(content))
                content[at:at] = content[other : other + draw.randrange(1, 60)]
        refused += bool(read(folder, name, bytes(content)))
    assert refused > 75  # the edits bite


def test_bytes_at_random(folder):
    draw = random.Random("noise")
    for size in [0, 1, 2, 3, 7, 60, 1000, 30_000] * 4:
        read(folder, "setup.yaml", bytes(draw.randrange(256) for _ in range(size)))
        read(folder, "setup.yaml", "".join(draw.choice("[]{}:,-?&*!|>'\"%@`# \n\tab1") for _ in range(size)).encode())


@pytest.mark.parametrize("name", KINDS)
def test_cut_short_anywhere(folder, name):
    whole = KINDS[name][0].replace(b"about: ", "about: \u2708 ".encode(), 1)
    draw = random.Random(f"cut {name}")
    for _ in range(60):
        read(folder, name, whole[: draw.randrange(len(whole))])
    assert "not UTF-8" in read(folder, name, whole[: whole.index("\u2708".encode()) + 2])


def test_memory_is_bounded(tmp_path):
    """All hostile files one after the other in a process of its own, whose peak is looked at."""
    resource = pytest.importorskip("resource")
    assert resource
    code = f"""
import resource, sys
sys.path.insert(0, {str(Path(__file__).parents[2])!r})
from tests.models.test_hostile_files import HOSTILE, KINDS
from models.errors import UserError
from pathlib import Path
folder = Path({str(tmp_path)!r})
for name, (text, call) in KINDS.items():
    (folder / name).write_bytes(text)
for name, (text, call) in KINDS.items():
    call(folder / name)
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
for content in HOSTILE.values():
    (folder / "setup.yaml").write_bytes(content)
    try:
        KINDS["setup.yaml"][1](folder / "setup.yaml")
    except UserError:
        pass
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-2000:]
    assert float(done.stdout) < MOST_MEMORY


def test_a_built_in_setup_still_loads():
    assert load("precision").setup.name == "precision"
