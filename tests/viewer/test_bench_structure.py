"""`upline bench structure`: what it prints, its JSON, its picture, and what it refuses."""

import json

import pytest

from scenarios.bench.structure import NOT_SEEN


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """Text, document and picture of one run."""
    import contextlib
    import io

    from viewer.command_line import main

    picture = tmp_path_factory.mktemp("structure") / "loads.png"
    out = []
    for more in (["--picture", str(picture)], ["--json"]):
        text = io.StringIO()
        with contextlib.redirect_stdout(text), contextlib.redirect_stderr(io.StringIO()):
            assert main(["bench", "structure", "extreme", "--manoeuvre", "high-speed-pass", *more]) == 0
        out.append(text.getvalue())
    return out[0], json.loads(out[1]), picture


def test_text(told):
    text, document, picture = told
    assert max(len(line) for line in text.splitlines()) <= 80
    flat = " ".join(text.split())
    assert "Hardest on the wing: high-speed-pass" in flat and "PAST THE LIMIT" in flat
    assert "Full elevator passes the 8.00 g you mean to fly from" in flat
    assert "from memory" in flat and "clears nothing to fly" in flat and f"written: {picture}" in text
    for part in NOT_SEEN:
        assert part in flat
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_document(told):
    _, document, _ = told
    (flight,) = document["flights"]
    wing = flight["surfaces"]["wing"]
    assert wing["stress"]["unit"] == "MPa" and wing["bending"]["unit"] == "N m"
    # margin by hand: 193.05 MPa allowed (42 ksi over 1.5) over what is found
    assert wing["margin"]["value"] == pytest.approx(42 * 6.894757 / 1.5 / wing["stress"]["value"] - 1.0, abs=1e-6)
    assert document["joiners"]["wing"]["allowed_by"] == "breaking over 1.5"
    assert document["not_seen"] == list(NOT_SEEN)
    assert document["along_the_wing"]["halves"]["wing left"]["place"]["unit"] == "mm"
    assert document["full_elevator"][0]["load_factor"]["unit"] == "g"


def test_a_plane_whose_joiners_are_not_described(upline, own):
    text = (own.folder / "plane.yaml").read_text(encoding="utf-8")
    (own.folder / "plane.yaml").write_text(text.split("structure:")[0], encoding="utf-8")
    code, out, _ = upline("bench", "structure", own.folder / "setup.yaml", "--manoeuvre", "wall")
    flat = " ".join(out.split())
    assert code == 0 and "joiner of wing and stabiliser: not described" in flat and "MPa" not in flat
    document = json.loads(upline("bench", "structure", own.folder / "setup.yaml", "--manoeuvre", "wall", "--json")[1])
    assert document["joiners"]["wing"] == "not described" and document["not_seen"]
    assert document["flights"][0]["surfaces"]["wing"]["margin"]["value"] is None


@pytest.mark.parametrize(
    "arguments, words",
    [
        (["extrem"], ['"extrem"', "try: extreme"]),
        (["extreme", "--manoeuvre", "wal"], ['"wal"', "try: wall"]),
        (["extreme", "--manoeuvre", "wall", "--whole-set"], ["--whole-set", "one of the two"]),
        (["extreme", "--picture", "loads.doc"], ["--picture", ".png, .svg, .pdf"]),
        (["extreme", "--pilot", "ace"], ["--pilot", '"ace"']),
        (["extreme", "--cg", "600 mm"], ["battery", "its tray"]),
    ],
)
def test_refused(upline, tmp_path, arguments, words):
    code, out, err = upline("bench", "structure", *arguments)
    assert code == 2 and out == "" and "Traceback" not in err
    for word in words:
        assert word in err, err
    assert not [p for p in tmp_path.iterdir() if p.name != "own"]
