"""`upline portrait`: its text, document and picture, and what it refuses."""

import json
import math

import pytest

import scenarios.portrait

TRAITS = ["lines and resolution", "rotation rates and stops", "slow high-alpha control", "stall and recovery", "loads",
          "stick work"]  # fmt: skip


@pytest.fixture
def few_changes(monkeypatch):
    """Two changes instead of all: the others take half a minute and differ in nothing that is looked at here."""
    every = scenarios.portrait.changes
    monkeypatch.setattr(scenarios.portrait, "changes", lambda *a: [c for c in every(*a) if c.knob == "aileron throw"])


def test_text_is_one_screen_and_the_same_again(upline, few_changes, tmp_path):
    runs = [upline("portrait", "precision", "--toward", "slow-3d", "--picture", tmp_path / f"{n}.svg") for n in (1, 2)]
    code, out, err = runs[0]
    assert code == 0, err
    lines = out.splitlines()
    assert max(map(len, lines)) <= 80 and len(lines) <= 54
    assert all(any(line.startswith(trait) for line in lines) for trait in TRAITS)
    assert "relative, not absolute" in " ".join(out.split()) and "clears nothing to fly" in out
    assert "1 aileron throw 14 to 17.5 deg" in out and "Price:" in out and "slow 3D *" in out
    assert runs[1] == runs[0]
    one, two = ((tmp_path / f"{n}.svg").read_text(encoding="utf-8") for n in (1, 2))
    assert one == two and "precision on tarn-220" in one.replace("<!--", "")


def test_document(upline, few_changes):
    code, out, err = upline("portrait", "beck-150-extreme", "--json")
    assert code == 0, err
    got = json.loads(out, parse_constant=lambda word: pytest.fail(f"{word} in JSON"))
    assert (got["setup"], got["way_of_flying"], got["toward"]) == ("beck-150-extreme", "extreme", "extreme")
    assert got["scale"]["put_on_this_plane"] is True and set(got["scale"]["references"]) == set(got["ways"])
    assert list(got["ways"]) == ["precision", "extreme", "slow 3D"]
    for traits in got["ways"].values():
        assert list(traits) == TRAITS
        for judged in traits.values():
            score = judged["score"]["value"]
            assert score is None or 0.0 <= score <= 1.0
            assert judged["word"] in ("strong", "fair", "weak", "not judged")
            for m in judged["measures"]:
                assert m["value"] is None and m["reason"] or math.isfinite(m["value"])
                assert m["mark"]["value"] is not None or m["note"]
    assert set(got["why"]) == set(TRAITS) and all(got["facts"][key]["unit"] is not None for key in got["facts"])
    assert [c["change"] for c in got["changes"]] and {"gain", "gains_both_ways", "moves", "price"} < set(
        got["changes"][0]
    )
    assert "clears nothing to fly" in err


def test_picture(upline, few_changes, tmp_path):
    code, _, err = upline("portrait", "slow-3d", "--picture", tmp_path / "p.png")
    assert code == 0, err
    assert (tmp_path / "p.png").read_bytes().startswith(b"\x89PNG")


def test_help_says_that_it_is_relative(upline):
    code, out, _ = upline("portrait", "--help")
    assert (
        code == 0
        and "relative" in out
        and "not absolutely" in " ".join(out.split())
        and "example:\n  upline portrait" in out
    )


@pytest.mark.parametrize(
    "arguments, said",
    [
        (("precisoin",), "precision"),
        (("precision", "--toward", "freestyle"), "allowed: precision, extreme, slow 3D"),
        (("precision", "--picture", "p.bmp"), "allowed: the name of a file that ends in .png, .svg, .pdf"),
        (("precision", "--picture", "nowhere/p.png"), "No such file"),
        ((), "setup"),
    ],
)
def test_bad_input_is_2_with_what_is_allowed(upline, arguments, said):
    code, out, err = upline("portrait", *arguments)
    assert code == 2 and not out and said in err.replace("SETUP", "setup")


def test_a_plane_that_cannot_fly_is_3(upline, own):
    setup = own("setup.yaml", "elevator: {up: 12 deg, down: 12 deg", "elevator: {up: 0.2 deg, down: 0.2 deg")
    code, out, err = upline("portrait", setup)
    assert code == 3 and not out and "elevator" in err
