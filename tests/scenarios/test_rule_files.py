"""Rule files: the built-in ones, and every message about a wrong one in full."""

import re
from pathlib import Path

import pytest

from models.errors import UserError, nearest
from models.loader import known_setups
from models.pages import groups_of
from scenarios import rules
from scenarios.measures import MEASURES
from scenarios.outcomes import JUDGES
from scenarios.rules import RulesFile, known_rules, load_rules, page
from scenarios.rules.limits import read_limit
from scenarios.rules.quantities import DIMENSION, OWN, read_quantity, sample
from scenarios.rules.schema import KNOWN, both_sides
from tests.scenarios.rules_by_hand import HEAD, write

WAYS = ("precision", "extreme", "slow-3d")
REASON = ", reason: a test"


@pytest.mark.parametrize("name", WAYS)
def test_built_in_rules(name):
    rules = load_rules(name)
    assert len(rules) >= 15 and len({rule.name for rule in rules}) == len(rules)
    for rule in rules:
        assert rule.part.reason and rule.part.source
        assert rule.flight is None or rule.part.outcome or rule.part.measure in rule.flight.manoeuvre.measures
        if rule.part.outcome:
            assert both_sides(rule.of) in JUDGES
    assert {rule.of for rule in rules} >= {"balance", "level-trim", "stall", "high-speed-pass"}


def test_the_page_of_words_is_that_of_the_schema():
    made = Path(rules.__file__).parents[1].joinpath("RULES.md").read_text(encoding="utf-8")
    assert made == page.page(), "python -m scenarios.rules.page > scenarios/RULES.md"
    keys = {(group.__name__, info.alias or name): info for _, group in groups_of(RulesFile, ())
            for name, info in group.model_fields.items()}  # fmt: skip
    assert set(page.WHAT) <= set(keys)
    assert set(page.HOLDS) <= {key for key, info in keys.items() if not info.is_required()}
    rows = {line.split(" | ")[0][3:-1]: line.split(" | ") for line in made.splitlines() if line.startswith("| `")}
    for (_, key), info in keys.items():
        cells = rows[key]
        assert len(cells) == 5 and cells[1] and cells[2] and (cells[3] == "needed") == info.is_required(), key
        assert cells[4].startswith("`") or key == "rules", key
    assert all(f"| `{name}` |" in made and about and about in made for name, about in known_rules())


def test_the_example_and_the_limits_on_the_page_are_read(tmp_path):
    path = tmp_path / "club.yaml"
    path.write_text(page.EXAMPLE, encoding="utf-8")
    found = load_rules(path)
    assert [rule.name for rule in found][:2] == ["static margin", "no faster stall than precision"] and len(found) == 4
    for text, _ in page.LIMITS:
        unit = next(u for u in ("m/s", "deg", "%", "m") if f" {u}" in f"{text} ")
        assert read_limit(text, unit, text.endswith(("of it", "less"))).text == text


def test_a_manoeuvre_of_two_sides_is_two_rules(tmp_path):
    both = "name: a, of: spin, measure: turns_to_stop, limit: at most 1 turn"
    one = "name: b, of: spin-left, measure: turns_to_stop, limit: at most 1 turn"
    assert [(r.name, r.of, r.flight.manoeuvre.mirrored) for r in load_rules(write(tmp_path, both, one))] == [
        ("a, right", "spin-right", False),
        ("a, left", "spin-left", True),
        ("b", "spin-left", True),
    ]


def test_every_unit_of_a_measure_can_be_written():
    for measure in KNOWN.values():
        assert measure.unit in DIMENSION or measure.unit in OWN
        assert read_quantity(sample(measure.unit), measure.unit) == 2.0, measure.unit


def refused(path) -> list[str]:
    with pytest.raises(UserError) as error:
        load_rules(path)
    return str(error.value).replace(str(path), "FILE").split("\n")


UPLINE = "pitch_drift, path_curvature, roll_drift, heading_drift, line_speed, line_elevator"
PLAIN = '"at least ...", "at most ..." or "between ... and ...", then "either way" if the sign does not matter'
LEANING = 'with "against": "at least ... of it" or "at most ... of it" in %, or "... more" or "... less"'
SETUPS = [name for name, _ in known_setups()]
BAD = {
    "unknown measure": (
        "name: a, of: upline-45, measure: pitch_drif, limit: at most 5 deg/s",
        f'FILE:5:AT: rules > a > measure: found "pitch_drif"; allowed: a measure of upline-45: {UPLINE}; try: pitch_drift',
    ),
    "a measure of another manoeuvre": (
        "name: a, of: upline-45, measure: stall_speed, limit: at most 5 m/s",
        'FILE:5:AT: rules > a > measure: found "stall_speed", which is not measured there; allowed: a measure of '
        f"upline-45: {UPLINE}; try: line_speed",
    ),
    "a unit of another kind": (
        "name: a, of: upline-45, measure: pitch_drift, limit: at most 5 m",
        'FILE:5:AT: rules > a > limit: found "5 m", which is a length; allowed: a turning rate in deg/s, rad/s, rpm; '
        'try: "2 deg/s"',
    ),
    "a unit of its own": (
        "name: a, of: spin, measure: turns_to_stop, limit: at most 1 s",
        'FILE:5:AT: rules > a > limit: found "1 s", which is a time; allowed: a number in turns; try: "1 turn"',
    ),
    "a percentage without its sign": (
        "name: a, of: balance, measure: static_margin, limit: at least 8",
        'FILE:5:AT: rules > a > limit: found "8", a number without a unit; allowed: a share in %; try: "8 %"',
    ),
    "limits the wrong way round": (
        "name: a, of: balance, measure: static_margin, limit: between 15 % and 8 %",
        'FILE:5:AT: rules > a > limit: found "between 15 % and 8 %", limits the wrong way round; allowed: the smaller '
        'limit first; try: "between 8 % and 15 %"',
    ),
    "no limit": (
        "name: a, of: balance, measure: static_margin",
        f'FILE:5:5: rules > a: found a measure without a limit; allowed: {PLAIN}; try: add "limit: at most 2 %"',
    ),
    "another form of limit": (
        "name: a, of: balance, measure: static_margin, limit: over 8 %",
        f'FILE:5:AT: rules > a > limit: found "over 8 %"; allowed: {PLAIN}; try: "at most 2 %"',
    ),
    "an unknown setup in a comparison": (
        "name: a, of: stall, measure: stall_speed, against: precison, limit: at most 110 % of it",
        f'FILE:5:AT: rules > a > against: found "precison"; allowed: a built-in setup ({", ".join(SETUPS)}) or a '
        f"path that ends in .yaml; try: {' or '.join(nearest('precison', SETUPS))}",
    ),
    "a comparison with nothing": (
        "name: a, of: stall, measure: stall_speed, limit: at most 110 % of it",
        f'FILE:5:AT: rules > a > limit: found "at most 110 % of it" without "against"; allowed: {PLAIN}; try: a line '
        '"against: SETUP" in this rule',
    ),
    "a comparison that is none": (
        "name: a, of: stall, measure: stall_speed, against: slow-3d, limit: at most 11 m/s",
        f'FILE:5:AT: rules > a > limit: found "at most 11 m/s" beside "against"; allowed: {LEANING}; try: "at least 100 '
        '% of it" for no less than the other',
    ),
    "an unknown way of flying": (
        "name: a, of: stall, measure: stall_speed, limit: at most 11 m/s, for: [precision, slow3d]",
        'FILE:5:AT: rules > a > for: found "slow3d"; allowed: precision, extreme, slow 3D; try: slow 3D',
    ),
    "a severity of another name": (
        "name: a, of: stall, measure: stall_speed, limit: at most 11 m/s, severity: shall",
        'FILE:5:AT: rules > a > severity: found "shall"; allowed: must, should',
    ),
    "surer than sure": (
        "name: a, of: stall, measure: stall_speed, limit: at most 11 m/s, sure: 120 %",
        'FILE:5:AT: rules > a > sure: found "120 %"; allowed: a share over 0 % and at most 100 %',
    ),
    "an outcome and a measure": (
        "name: a, of: stall, measure: stall_speed, outcome: succeeds",
        'FILE:5:5: rules > a: found both "measure" and "outcome"; allowed: one of the two',
    ),
    "nothing to judge": (
        "name: a, of: stall",
        'FILE:5:5: rules > a: found neither "measure" nor "outcome"; allowed: one of the two',
    ),
    "an outcome of the balance": (
        "name: a, of: balance, outcome: succeeds",
        f'FILE:5:AT: rules > a > of: found "balance", whose outcome nothing here tells; allowed: {", ".join(sorted(JUDGES))}',
    ),
    "a limit for an outcome": (
        "name: a, of: stall, outcome: succeeds, limit: at most 3 m",
        'FILE:5:AT: rules > a > limit: found "limit" beside "outcome"; allowed: "limit" with a measure',
    ),
    "a drift with a sign": (
        "name: a, of: stall, measure: stall_speed, limit: at most 11 m/s, drift: -1 m/s",
        'FILE:5:AT: rules > a > drift: found "-1 m/s"; allowed: a number from 0; try: "2 m/s"',
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_the_whole_message(tmp_path, case):
    line, message = BAD[case]
    said = refused(write(tmp_path, line))
    key = message.split(": found")[0].split(" > ")[-1]
    at = len("  - {") + line.find(f", {key}: ") + len(f", {key}: ") + 1  # where the value of that key stands
    assert said == [message.replace(":AT:", f":{at}:")]


def test_a_missing_reason_and_a_double_name(tmp_path):
    path = tmp_path / "r.yaml"
    line = "  - {name: a, of: stall, outcome: succeeds}\n"
    path.write_text(HEAD + line, encoding="utf-8")
    words = 'add "reason: some words"'
    assert refused(path) == [
        f"FILE:5:5: rules > a > reason: found nothing; allowed: a value, for this key is needed; try: {words}"
    ]
    twice = refused(write(tmp_path, "name: a, of: stall, outcome: succeeds", "name: a, of: hover, outcome: succeeds"))
    assert twice == ['FILE:6:12: rules > a > name: found "a" a second time; allowed: a name that no other rule has']


def test_all_faults_at_once(tmp_path):
    said = refused(
        write(
            tmp_path,
            "name: a, of: uplin-45, measure: pitch_drift, limit: between 5 deg/s and 1 deg/s",
            "name: b, of: upline-45, measure: pitch_drif, limit: at most 5 deg/s, severity: maybe",
            "name: c, of: balance, measure: mass, limit: at most 6 m, sure: often",
        )
    )
    assert [re.match(r"FILE:\d+:\d+: rules > (\w+ > \w+):", line)[1] for line in said] == [
        "a > of", "a > limit", "b > measure", "b > severity", "c > limit", "c > sure",
    ]  # fmt: skip
    assert "try: upline-45 or " in said[0]


def test_files_that_a_rule_names(tmp_path):
    said = refused(write(tmp_path, "name: a, of: mine.yaml, measure: stall_speed, limit: at most 11 m/s",
                         "name: b, of: stall, measure: stall_speed, limit: at most 100 % of it, against: other.yaml"))  # fmt: skip
    assert len(said) == 2
    assert said[0].startswith(
        'FILE:5:19: rules > a > of: found "mine.yaml", which is no such file; allowed: a YAML file'
    )
    assert said[1].startswith(
        'FILE:6:85: rules > b > against: found "other.yaml", which is no such file; allowed: a YAML file'
    )
    assert not any("try:" in line for line in said)  # the only file beside them is the rule file itself


def test_a_manoeuvre_of_ones_own_beside_the_rules(tmp_path):
    from importlib import resources

    text = (resources.files("scenarios") / "manoeuvres" / "spin.yaml").read_text(encoding="utf-8")
    (tmp_path / "mine.yaml").write_text(text.replace("name: spin", "name: my-spin"), encoding="utf-8")
    lines = ("name: a, of: mine.yaml, measure: turns_to_stop, limit: at most 1 turn",
             "name: b, of: mine.yaml-left, measure: turns_to_stop, limit: at most 1 turn")  # fmt: skip
    rules = load_rules(write(tmp_path, *lines))
    assert [r.name for r in rules] == ["a, right", "a, left", "b"]
    assert [r.of for r in rules] == ["my-spin-right", "my-spin-left", "my-spin-left"]
    said = refused(write(tmp_path, "name: a, of: mine.yaml, measure: stall_speed, limit: at most 11 m/s"))
    assert '"stall_speed", which is not measured there; allowed: a measure of my-spin-right: spins, ' in said[0]
    assert (
        "whose outcome nothing here tells" in refused(write(tmp_path, "name: a, of: mine.yaml, outcome: succeeds"))[0]
    )


@pytest.mark.parametrize(
    "text, words",
    [
        ("", "found an empty file"),
        ("# nothing\n", "found nothing but comments"),
        (HEAD, 'found nothing; allowed: a value'),
        (HEAD.replace("rules:\n", "rules: []\n"), "found 0 entries; allowed: at least 1"),
        ("format: 1\nkind: setup\n", 'found "setup"; allowed: rules'),
        ("format: 9\nkind: rules\n", 'found "9"; allowed: 1'),
        ("rules: " + "[" * 50 + "]" * 50, "levels of lists and groups"),
        ("a: &x 1\nb: *x\n", "found an anchor"),
        ("a: !!python/object:os.system {}\n", "found a tag"),
        (HEAD + "  - {name: \"\\x1b[2J\", of: stall, outcome: succeeds, reason: x}\n", "without control characters"),
        (HEAD + "  - 5\n", 'found "5"; allowed: a group of keys: name, of, measure'),
        (HEAD + "".join(f"  - {{name: a{n}, of: stall, outcome: succeeds, reason: x}}\n" for n in range(501)),
         "501 entries; allowed: at most 500"),
        ("x" * 1_100_000, "more than 1 MiB"),
    ],
    ids=["empty", "comments", "no rules", "an empty list", "a setup", "another version", "deep", "anchor", "tag",
         "escape", "a number", "too many", "too large"],
)  # fmt: skip
def test_files_that_are_no_rules(tmp_path, text, words):
    path = tmp_path / "r.yaml"
    path.write_text(text, encoding="utf-8")
    said = " ".join(refused(path))
    assert words in said and said.startswith("FILE") and "\x1b" not in said


def test_unknown_built_in_rules():
    with pytest.raises(UserError) as error:
        load_rules("precison")
    assert str(error.value) == (
        'rules: found "precison"; allowed: a built-in rule file (extreme, precision, slow-3d) or a path that ends in .yaml; '
        "try: precision"
    )


def test_the_schema_for_editors():
    schema = RulesFile.model_json_schema()
    rule = schema["$defs"]["RulePart"]
    assert {"name", "of", "reason"} == set(rule["required"]) and "for" in rule["properties"]
    names = rule["properties"]["measure"]["anyOf"][0]["enum"]
    assert set(names) == set(KNOWN) >= set(MEASURES)
    pattern = rule["properties"]["limit"]["anyOf"][0]["pattern"]
    for name in WAYS:
        for one in load_rules(name):
            assert one.part.limit is None or re.search(pattern, one.part.limit.text)
