"""`upline report`: run again from its own page, with cures and a walk in it, and what it says to a wrong question."""

import json
import os

import pytest

from models.loader import load
from scenarios.cures import cures
from tests.viewer.report.conftest import MANOEUVRES
from tests.viewer.report.elements import elements
from viewer.report.asked import asked_again, read_page
from viewer.report.page import page_of
from viewer.report.results import not_the_same, results_of


def test_a_page_is_made_again_from_its_own_texts(upline, page_path, tmp_path, monkeypatch):
    monkeypatch.setattr("models.loader._builtin", lambda kind: pytest.fail("a built-in file was looked at"))
    code, out, _ = upline("report", "--again", page_path, "--to", "again.html")
    assert code == 0 and "flown again: every number is the same" in out
    before, after = read_page(page_path), read_page(tmp_path / "again.html")
    assert before[1] == after[1] and len(before[1]["measures"]) == 26
    assert before[0]["setups"] == after[0]["setups"]
    assert list(before[0]["manoeuvres"].items()) == list(after[0]["manoeuvres"].items())
    assert list(before[0]["manoeuvres"]) == list(MANOEUVRES)
    assert "--again" in after[0]["command"]


CLUB = """format: 1
kind: rules
name: club
rules:
  - {name: margin, of: balance, measure: static_margin, limit: at least 5 %, reason: as agreed}
"""


def test_a_number_that_is_not_the_same_is_told_and_rules_of_a_club_come_from_the_page(upline, tmp_path):
    (tmp_path / "club.yaml").write_text(CLUB, encoding="utf-8")
    few = ["--manoeuvre", "level-trim", "--no-cures", "--rules", "club.yaml"]
    assert upline("report", "precision", *few, "--to", "old.html")[0] == 0
    (tmp_path / "club.yaml").unlink()
    code, out, _ = upline("report", "--again", "old.html", "--to", "again.html")
    assert code == 0 and "precision: 1 of 1 rules of club.yaml hold." in out
    said = " ".join(out.split())
    assert (
        "no rule is broken; least room is left in margin: " in said
        and "where at least 5 % is allowed, 8.2 % to go" in said
    )
    text = (tmp_path / "old.html").read_text(encoding="utf-8")
    harmed = text.replace('"value": 63.', '"value": 64.', 1)  # throttle_trim
    assert harmed != text
    (tmp_path / "old.html").write_text(harmed, encoding="utf-8")
    code, out, _ = upline("report", "--again", "old.html", "--to", "again.html")
    assert code == 1 and "flown again: NOT the same" in out
    assert "measures, level-trim > throttle_trim > precision: was 64." in out and ", is 63." in out


def test_lines_of_what_differs():
    was = {
        "measures": {"a": {"value": 1.0, "unit": "m"}, "b": {"value": None, "unit": "s"}},
        "rearward": {"x": "180 mm"},
    }
    now = {"measures": {"a": {"value": 1.0, "unit": "m"}, "c": {"value": 2.0, "unit": "deg"}}, "rearward": {"x": None}}
    assert not_the_same(was, was) == []
    assert not_the_same(was, now) == [
        "measures, b: was nothing, is nothing",
        "measures, c: was nothing, is 2 deg",
        "rearward, x: was 180 mm, is nothing",
    ]


def test_json_names_the_file_and_the_text_has_the_verdict_and_the_cautions(upline, tmp_path):
    code, out, err = upline(
        "report", "precision", "--manoeuvre", "level-trim", "--no-cures", "--to", "p.html", "--json"
    )
    assert code == 0 and "clears nothing to fly" in err
    got = json.loads(out)
    assert got["files"] == ["p.html"] and got["bytes"] == (tmp_path / "p.html").stat().st_size
    assert [name.name for name in tmp_path.iterdir()] == ["p.html"]
    found = elements((tmp_path / "p.html").read_text(encoding="utf-8"))
    assert "What differs" not in [e.text for e in found if e.tag == "h2"]  # of one setup


def test_cures_and_a_walk_are_in_the_page(page_path, tmp_path):
    """With one group of cures, and a walk of two steps and three draws, to keep it short."""
    from dataclasses import replace

    from scenarios.walk.limits import limits_of
    from scenarios.walk.steps import rearward
    from scenarios.walk.walking import Plan, walk

    inputs, _ = read_page(page_path)
    inputs["manoeuvres"] = {"upline-45": inputs["manoeuvres"]["upline-45"]}
    inputs["setups"] = inputs["setups"][1:]
    asked = replace(asked_again(inputs, page_path, "upline report"), plans=())
    results = results_of(asked)
    results.cures = [cures(asked.loaded[0].setup, "rolls")]
    one = load("slow-3d")
    path = rearward(one, "20 mm", "230 mm")
    limits = tuple(limit for limit in limits_of(one.setup.way_of_flying) if limit.name == "static margin")
    results.walks = [walk(Plan(one, path, limits, draws=3), workers=1)]
    page = page_of(results)
    found = elements(page)
    assert {"Causes and cures", "CG further aft"} <= {e.text for e in found if e.tag == "h2"}
    cure = results.cures[0][0]
    text = next(e for e in found if e.of.get("class") == "cure").text
    assert cure.options[0].edit in text and cure.causes[0].part in text and cure.trust in text
    picture = next(e for e in found if e.tag == "img")
    assert picture.of["src"].startswith("data:image/png;base64,") and "slow-3d" in picture.of["alt"]
    walked = results.walks[0]
    verdict = next(e for e in found if e.of.get("class") == "verdict").text
    last = walked.flown[0 if walked.furthest is None else walked.furthest].step.text
    assert "CG further aft" in verdict and f"CG {last}" in verdict
    table = next(e for e in found if e.tag == "table" and "walked aft" in e.text)
    assert sum(e.tag == "tr" for e in table.parts) == 1 + len(results.walks[0].flown)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["precision"], "found no --to; allowed: the file to write; try: --to report.html"),
        (["--to", "a.html"], "found no setup"),
        (["precision", "--to", "a.txt"], "allowed: the name of a file that ends in .html; try: a.html"),
        (["precision", "precision", "--to", "a.html"], 'found "precision" a second time'),
        (["precison", "--to", "a.html"], "precision"),
        (["precision", "--to", "a.html", "--draws", "0", "--seed", "-1"], "--seed"),
        (["precision", "--manoeuvre", "stal", "--to", "a.html"], "stall"),
        (["precision", "--again", "b.html", "--to", "a.html"], "--again: found SETUP beside it"),
        (["--again", "b.html", "--to", "a.html"], "--again: found b.html: No such file or directory"),
        (["precision", "--to", "no/such/folder.html"], "No such file or directory"),
    ],
)
def test_a_wrong_question_gets_one_message_and_leaves_nothing(upline, tmp_path, arguments, words):
    code, out, err = upline("report", *arguments)
    assert code == 2 and not out and words in err and "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (lambda page: page[: page.index('id="numbers"') + 400], "cut short or damaged"),
        (lambda page: page[:2000], "which has no inputs of a report"),
        (lambda page: "not a page", "which has no inputs of a report"),
        (
            lambda page: page.replace('"kind": "report"', '"kind": "card"'),
            "another kind of page",
        ),
        (
            lambda page: page.replace('"format": 1, "kind": "report"', '"format": 9, "kind": "report"'),
            "format 9; allowed: format 1",
        ),
        (lambda page: page.replace('"pilot": "expert"', '"pilot": "ace"', 1), "whose inputs are not those of a report"),
        (lambda page: page.replace("cg: 31 %", "cg: 31 furlongs"), "recorded setup"),
    ],
)
def test_a_page_that_is_no_whole_report_is_refused(upline, page, tmp_path, harm, words):
    harmed = harm(page)
    assert harmed != page
    (tmp_path / "bad.html").write_text(harmed, encoding="utf-8")
    code, out, err = upline("report", "--again", "bad.html", "--to", "a.html")
    assert code == 2 and not out and words in err and not (tmp_path / "a.html").exists()


def test_a_file_that_is_no_text_is_refused(upline, tmp_path):
    (tmp_path / "bad.html").write_bytes(b"\xff\xfe\x00")
    code, _, err = upline("report", "--again", "bad.html", "--to", "a.html")
    assert code == 2 and "which is no text" in err


def test_a_page_that_cannot_be_finished_leaves_the_old_one(upline, tmp_path, monkeypatch):
    (tmp_path / "a.html").write_text("the old one", encoding="utf-8")
    monkeypatch.setattr(os, "replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    code, _, err = upline("report", "precision", "--manoeuvre", "level-trim", "--no-cures", "--to", "a.html")
    assert code == 2 and "No space left" in err
    assert [(f.name, f.read_text()) for f in tmp_path.iterdir()] == [("a.html", "the old one")]
