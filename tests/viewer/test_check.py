"""The command `upline check`: table, exit codes, JUnit XML, JSON, baselines, refusals."""

import json
import re
import time
import xml.etree.ElementTree as ET

import pytest

from scenarios.at_rest import BALANCE_MEASURES
from tests.scenarios.rules_by_hand import write

MARGIN = "name: margin, of: balance, measure: static_margin, limit: between 8 % and 15 %"
TIGHT = "name: tight, of: balance, measure: static_margin, limit: at most 13.2 %"
LEVEL = "name: level, of: level-trim, measure: bank_drift, limit: at most 5 deg either way"
TRIM = "name: trim, of: level-trim, outcome: succeeds"
SHOULD = ", severity: should"


def done(result, code=0):
    found, out, err = result
    assert found == code, err
    return out


@pytest.mark.parametrize("name", ["precision"])  # the others are judged by hand: each takes 2 to 3 s
def test_a_built_in_setup_by_its_own_rules(upline, name):
    """Judged as they are: what fails stays failing."""
    started = time.monotonic()
    code, out, err = upline("check", name)
    assert code in (0, 1), err
    lines = out.splitlines()
    assert max(map(len, lines)) <= 80 and "clears nothing to fly" in out
    rows = [line for line in lines if line.startswith(("pass  ", "warn  ", "FAIL  "))]
    assert len(rows) >= 24
    assert (code == 1) == any(line.startswith("FAIL") for line in rows)
    for line in rows:
        if line.startswith("FAIL"):
            rule = line[6:].split("  ")[0]
            assert f"FAIL, {rule}" in " ".join(out.split())
    assert time.monotonic() - started < 60.0  # 2 to 3 s of processor time; a shared machine may take its time


def test_a_table(upline, tmp_path):
    path = write(tmp_path, MARGIN, TIGHT, LEVEL, TRIM)
    out = done(upline("check", "precision", "--rules", path), 1)
    cells = [re.split(r"\s{2,}", line.strip()) for line in out.splitlines()]
    assert ["rule", "measured", "limit", "headroom"] in cells
    assert ["pass", "margin", "13.2", "8 to 15 %", "1.8"] in cells
    assert ["pass", "level", "0.0", "within 5 deg", "5.0"] in cells and ["pass", "trim", "yes", "succeeds"] in cells
    tight = next(row for row in cells if row[:2] == ["FAIL", "tight"])
    assert float(tight[2]) > 13.2 and float(tight[4]) < 0.0  # not rounded to just inside
    assert "precision: 3 of 4 rules hold, 1 that must hold fails." in out


def test_long_names_and_units_keep_to_the_page(upline, tmp_path):
    long = "a rule whose name takes all forty places"
    line = f"name: {long}, of: level-trim, measure: pitch_response, limit: {{}}"
    path = write(tmp_path, line.format("between 8.123 deg/s per deg and 12.345 deg/s per deg"))
    out = done(upline("check", "precision", "--rules", path))
    assert max(map(len, out.splitlines())) <= 80 and len(long) == 40
    assert "pass  a rule whose name takes" in out and re.search(r"\n {8}[a-z ]*places\n", out)


@pytest.mark.parametrize(
    "line, strict, code",
    [(MARGIN, False, 0), (TIGHT, False, 1), (TIGHT + SHOULD, False, 0), (TIGHT + SHOULD, True, 1), (MARGIN, True, 0)],
)
def test_exit_codes(upline, tmp_path, line, strict, code):
    done(upline("check", "precision", "--rules", write(tmp_path, line), *["--strict"] * strict), code)


def test_what_cannot_be_flown_is_code_3(upline, own, tmp_path):
    setup = own("setup.yaml", "propeller: 20x13", "propeller: 10x4")
    rules = write(tmp_path, "name: hover, of: hover, measure: hover_throttle, limit: at most 90 %", MARGIN)
    code, out, err = upline("check", setup, "--rules", rules, "--junit", "a.xml")
    assert code == 3 and "0 of 2 rules hold, 0 that must hold fail, 2 not flown" in out
    assert "no steady state found for level flight" in " ".join(out.split())
    (suite,) = ET.parse(tmp_path / "a.xml").getroot()
    assert (suite.get("errors"), suite.get("failures")) == ("2", "0")
    assert suite.find("testcase/error").get("type") == "not flown"


def test_two_setups_compared(upline, tmp_path):
    line = "name: work, of: level-trim, measure: {}, limit: at least 90 % of it, against: slow-3d"
    path = write(tmp_path, line.format("pitch_response"))
    out = done(upline("check", "precision", "slow-3d", "--rules", path), 1)
    assert "slow-3d having" in out and "slow-3d: 1 of 1 rules hold" in out and "precision: 0 of 1 rules hold" in out
    document = json.loads(done(upline("check", "precision", "--rules", path, "--json"), 1))
    (rule,) = document["setups"][0]["rules"]
    other = rule["against"]["measured"]["value"]
    assert rule["headroom"]["value"] == pytest.approx(rule["measured"]["value"] - 0.9 * other)
    assert rule["headroom"]["unit"] == "deg/s per deg" and rule["against"]["setup"] == "slow-3d"


def test_json(upline, tmp_path):
    path = write(tmp_path, MARGIN + ", sure: 90 %", TIGHT + SHOULD, TRIM, LEVEL + ", for: extreme")
    document = json.loads(done(upline("check", "precision", "--rules", path, "--json", "--draws", "5", "--seed", "3")))
    assert (document["pilot"], document["draws"], document["seed"], document["exit_code"]) == ("expert", 5, 3, 0)
    (setup,) = document["setups"]
    assert setup["for_other_ways"] == ["level"] and setup["way_of_flying"] == "precision"
    margin, tight, trim = setup["rules"]
    assert margin["measured"]["unit"] == "%" and margin["draws"]["of"] == 5 and not margin["draws"]["settled"]
    assert (tight["verdict"], tight["severity"], trim["verdict"]) == ("warning", "should", "pass")
    assert "measured" not in trim and trim["reason"].startswith("level flight")
    assert all(rule["why"] == "a test" and rule["source"] for rule in setup["rules"])


def test_draws_say_whether_they_settle_it(upline, tmp_path):
    path = write(tmp_path, MARGIN + ", sure: 95 %")
    out = " ".join(done(upline("check", "precision", "--rules", path, "--draws", "5")).split())
    assert "margin: 5 of 5, 47.8 to 100.0 %; wanted 95 %; not settled by 5 draws, at least --draws 72 can" in out


# ---- JUnit ------------------------------------------------------------------------------------------------------------

# What the published schema of the Ant JUnit task's reports requires (JUnit.xsd, 2011, its version for testsuites): the
# attributes of each element, and the elements below it in this order
REQUIRED = {
    "testsuites": (),
    "testsuite": ("package", "id", "name", "timestamp", "hostname", "tests", "failures", "errors", "time"),
    "properties": (),
    "property": ("name", "value"),
    "testcase": ("name", "classname", "time"),
    "failure": ("type",),
    "error": ("type",),
    "system-out": (),
    "system-err": (),
}
OPTIONAL = {"failure": ("message",), "error": ("message",)}
BELOW = {
    "testsuites": r"(testsuite )*",
    "testsuite": r"properties (testcase )*system-out system-err ",
    "properties": r"(property )*",
    "testcase": r"(error |failure )?",
}


def follows_the_schema(element):
    required = REQUIRED[element.tag]
    assert set(required) <= set(element.keys()) <= {*required, *OPTIONAL.get(element.tag, ())}, element.tag
    below = "".join(f"{child.tag} " for child in element)
    assert re.fullmatch(BELOW.get(element.tag, ""), below), (element.tag, below)
    for child in element:
        follows_the_schema(child)


def test_junit(upline, tmp_path):
    path = write(tmp_path, MARGIN, TIGHT, TRIM, TIGHT.replace("tight", "wish") + SHOULD)
    done(upline("check", "precision", "extreme", "--rules", path, "--junit", "a.xml"), 1)
    root = ET.parse(tmp_path / "a.xml").getroot()
    follows_the_schema(root)
    assert [(suite.get("id"), suite.get("name")) for suite in root] == [("0", "precision"), ("1", "extreme")]
    suite = root[0]
    assert (
        re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d", suite.get("timestamp")) and suite.get("hostname") == "localhost"
    )
    cases = suite.findall("testcase")
    assert suite.get("tests") == "4" == str(len(cases))
    assert suite.get("failures") == "1" == str(len(suite.findall("testcase/failure"))) and suite.get("errors") == "0"
    assert float(suite.get("time")) >= 0.0 and all(float(case.get("time")) >= 0.0 for case in cases)
    assert len({(case.get("classname"), case.get("name")) for case in cases}) == len(cases)
    failure = suite.find("testcase/failure")
    assert "static_margin 13." in failure.get("message") and "a test" in failure.text
    assert "warning, wish: static_margin" in suite.find("system-out").text  # a passed case, told in the output


def test_junit_of_a_baseline_and_of_hostile_names(upline, tmp_path):
    sly = 'name: "<a> & \\"b\\" ]]>", of: level-trim, measure: bank_drift, limit: at most 5 deg either way'
    done(upline("check", "precision", "--rules", write(tmp_path, sly), "--baseline", "b.yaml", "--accept"))
    text = (tmp_path / "b.yaml").read_text(encoding="utf-8")
    off = re.sub(r"throttle_trim: [0-9.]+", "throttle_trim: 50.0", text)
    (tmp_path / "b.yaml").write_text(off, encoding="utf-8")
    done(
        upline("check", "precision", "--rules", tmp_path / "rules.yaml", "--baseline", "b.yaml", "--junit", "a.xml"), 1
    )
    root = ET.parse(tmp_path / "a.xml").getroot()
    follows_the_schema(root)
    names = {(c.get("classname"), c.get("name")): c.find("failure") for c in root.iter("testcase")}
    assert names["precision.rules", '<a> & "b" ]]>'] is None and names["precision.baseline", "balance"] is None
    assert (
        "throttle_trim: was 50.00, is 63.86, change +13.86, allowed 0.25 %"
        in names["precision.baseline", "level-trim"].text
    )


# ---- baselines -------------------------------------------------------------------------------------------------------

ALL = len(BALANCE_MEASURES) + 7  # of the balance, and six measures and the outcome of level-trim


def test_a_baseline_is_accepted_kept_and_told(upline, own, tmp_path):
    rules = write(tmp_path, MARGIN, LEVEL)
    setup = own("setup.yaml", "cg: 31 %", "cg: 31 %")
    arguments = ("check", setup, "--rules", rules, "--baseline", "b.yaml")
    assert "written: b.yaml" in done(upline(*arguments, "--accept"))
    before = (tmp_path / "b.yaml").read_bytes()
    out = done(upline(*arguments))
    assert f"0 of {ALL} measures drifted." in out and "as they were then" in out
    done(upline(*arguments, "--accept"))
    assert (tmp_path / "b.yaml").read_bytes() == before  # the same check, the same file
    own("setup.yaml", "cg: 31 %", "cg: 30 %")
    out = done(upline(*arguments), 1)
    assert "Not as it was then: the setup file." in out and max(map(len, out.splitlines())) <= 80
    (row,) = [line.split() for line in out.splitlines() if line.startswith("  cg_mac ")]
    assert row == ["cg_mac", "31.00", "30.00", "-1.00", "0.1", "%"]
    document = json.loads(done(upline(*arguments, "--json"), 1))
    measures = {(m["of"], m["measure"]): m for m in document["setups"][0]["baseline"]["measures"]}
    assert measures["balance", "cg_mac"]["change"]["value"] == pytest.approx(-1.0) and len(measures) == ALL
    assert measures["balance", "mass"]["state"] == "same"


def test_new_measures_are_told_and_vanished_ones_fail(upline, tmp_path):
    few, more = write(tmp_path, MARGIN, name="few.yaml"), write(tmp_path, MARGIN, LEVEL, name="more.yaml")
    done(upline("check", "precision", "--rules", few, "--baseline", "b.yaml", "--accept"))
    out = " ".join(done(upline("check", "precision", "--rules", more, "--baseline", "b.yaml")).split())
    assert f"0 of {len(BALANCE_MEASURES)} measures drifted; 7 are new since (level-trim): --accept takes them up" in out
    done(upline("check", "precision", "--rules", more, "--baseline", "c.yaml", "--accept"))
    out = done(upline("check", "precision", "--rules", few, "--baseline", "c.yaml"), 1)
    assert f"7 of {ALL} measures drifted" in out and out.count("vanished") == 7


def test_a_baseline_is_never_half(upline, tmp_path, monkeypatch):
    rules = write(tmp_path, MARGIN)
    done(upline("check", "precision", "--rules", rules, "--baseline", "b.yaml", "--accept"))
    before = (tmp_path / "b.yaml").read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    code, out, err = upline("check", "precision", "--rules", rules, "--baseline", "b.yaml", "--accept")
    assert code == 2 and out == "" and "--baseline: b.yaml: No space left on device" in err
    assert (tmp_path / "b.yaml").read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["b.yaml", "rules.yaml"]


BAD = [
    ([], ["SETUP", "upline check --help"]),
    (["precison"], ['"precison"', "try: precision"]),
    (["precision", "precision"], ['"precision" a second time']),
    (["precision", "--rules", "nowhere.yaml"], ["nowhere.yaml", "no such file"]),
    (["precision", "--rules", "slow3d"], ['"slow3d"', "try: slow-3d"]),
    (["precision", "--accept"], ["--accept", "no --baseline"]),
    (["precision", "--baseline", "nowhere.yaml"], ["nowhere.yaml", "no such file"]),
    (["precision", "--baseline", "rules.yaml"], ['"rules"; allowed: baseline']),
    (["precision", "--baseline", "rules.yaml", "--accept"], ['"rules"; allowed: baseline']),
    (["precision", "--baseline", "b.json", "--accept"], ["ends in .yaml, .yml", "try: b.yaml"]),
    (["precision", "--junit", "a.txt"], ["--junit", "ends in .xml", "try: a.xml"]),
    (["precision", "--junit", "no/a.xml"], ["--junit", "No such file or directory"]),
    (["precision", "--draws", "0"], ["--draws", '"0"', "a whole number from 1 to 1000000"]),
    (["precision", "--seed", "x"], ["--seed", '"x"', "a whole number"]),
    (["precision", "--workers", "-2"], ["--workers"]),
    (["precision", "--pilot", "exprt"], ["--pilot", "try: expert"]),
]


@pytest.mark.parametrize("arguments, words", BAD, ids=[" ".join(a) or "nothing" for a, _ in BAD])
def test_a_mistake_is_one_message_and_writes_nothing(upline, tmp_path, arguments, words):
    write(tmp_path, MARGIN)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    code, out, err = upline("check", *arguments)
    assert code == 2 and out == "" and err.startswith("upline: ") and "Traceback" not in err
    for word in words:
        assert word in err, err
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_mistakes_are_found_before_anything_is_flown(upline, tmp_path, monkeypatch):
    def never(*_, **__):
        raise AssertionError("flown")

    monkeypatch.setattr("scenarios.rules.readings.fly_manoeuvre", never)
    rules = write(tmp_path, LEVEL)
    assert upline("check", "precision", "--rules", rules, "--junit", "a.txt")[0] == 2
    assert upline("check", "precision", "--rules", rules, "--baseline", "nowhere.yaml")[0] == 2
