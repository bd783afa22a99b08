"""Every word of a rule file, as a page made from the schema: `python -m scenarios.rules.page > scenarios/RULES.md`."""

from __future__ import annotations

from models.pages import collect, groups_of, key_table
from models.reading import read_text
from scenarios.at_rest import BALANCE_MEASURES
from scenarios.rules.loading import built_in_rules, known_rules
from scenarios.rules.schema import UNSOURCED, RulesFile

# what the schema does not say of a key: its forms are told there
WHAT = {
    ("RulesFile", "kind"): "what kind of file it is",
    ("RulesFile", "name"): "what the set of rules is called",
    ("RulesFile", "about"): "one line on what the rules are for",
    ("RulesFile", "rules"): "the rules, in the order that they are reported in",
    ("RulePart", "of"): "what is flown for it; balance: the plane weighed and balanced, nothing flown",
    (
        "RulePart",
        "measure",
    ): "the number that is looked at; `upline list --measures` explains them and tells their units",
    ("RulePart", "against"): "the setup that the limit leans on, flown as well",
    ("RulePart", "limit"): "what the number must keep to, in the unit of its measure; a limit holds at its own value",
    ("RulePart", "for"): "ways of flying that the rule is for",
    ("RulePart", "severity"): "must: the check fails; should: a warning",
    ("RulePart", "drift"): "how far the measure may be off its baseline (`upline check --baseline`)",
}
HOLDS = {
    ("RulesFile", "about"): "nothing is said",
    ("RulePart", "measure"): "an outcome stands for it",
    ("RulePart", "against"): "the limit stands for itself",
    ("RulePart", "limit"): "an outcome stands for it",
    ("RulePart", "outcome"): "a measure stands for it",
    ("RulePart", "for"): "all of them",
    ("RulePart", "sure"): "the plane as written alone",
    ("RulePart", "drift"): "what rounding and integration make, by unit",
    ("RulePart", "source"): UNSOURCED,
}
EXAMPLE = """\
format: 1
kind: rules
name: club
about: what we agreed on for the big planes
rules:
  - name: static margin
    of: balance
    measure: static_margin
    limit: between 8 % and 15 %
    sure: 95 %
    drift: 0.5 %
    reason: as agreed
    source: club evening in March
  - name: no faster stall than precision
    of: stall
    measure: stall_speed
    against: precision
    limit: at most 105 % of it
    for: [extreme, slow 3D]
    severity: should
    reason: landings stay slow
  - {name: spin, of: spin, outcome: succeeds, reason: part of the schedule}
"""
LIMITS = (
    ("at least 5 %", "not under it"),
    ("at most 12 m/s", "not over it"),
    ("between 8 % and 15 %", "in between, both included"),
    ("at most 5 deg either way", "the sign does not matter"),
    ("at least 90 % of it", "with `against`: of the size of the other setup's number"),
    ("at most 2 m less", "with `against`: no more than 2 m under the other setup's number; `more`: over it"),
)
HEAD = """\
# The words of a rule file

Made from the schema by `python -m scenarios.rules.page > scenarios/RULES.md`. For editors: `upline schema rules --out rules.json`.

A rule file says what setups are held to. `upline check precision` uses the built-in one of the setup's way of flying,
`upline check mine.yaml --rules club.yaml` one of your own. A manoeuvre that is flown both ways makes a rule for either side.
The exit code is 1 where a rule that must hold fails. Holding all rules clears nothing to fly."""


def page() -> str:
    """The page as Markdown."""
    examples: dict[tuple[type, str], str] = {}
    for read in (read_text(EXAMPLE, "club.yaml", RulesFile), *(built_in_rules(name) for name, _ in known_rules())):
        collect(read.value, read.tree.data, examples)
    lines = [HEAD, "", "```yaml", *EXAMPLE.splitlines(), "```"]
    for path, group in groups_of(RulesFile, ()):
        lines += ["", f"## {'A rule' if path else 'The file'}", "", *key_table(group, examples, HOLDS, WHAT)]
    lines += [
        "", "A rule has a measure with a limit, or an outcome.", "", "## Limits", "", "| written | what holds |", "|---|---|",
        *(f"| `{text}` | {words} |" for text, words in LIMITS),
        "", "## Measures of the balance", "", "Those of flights stand in the manoeuvres.", "", "| measure | unit | what it is |",
        "|---|---|---|",
        *(f"| `{m.name}` | {m.unit} | {m.about} |".replace("|  |", "| |") for m in BALANCE_MEASURES.values()),
        "", "## Built in", "", "| name | rules | for |", "|---|---|---|",
        *(f"| `{name}` | {len(built_in_rules(name).value.rules)} | {about} |" for name, about in known_rules()),
        "", "Their limits are common practice unless a source stands beside them; the built-in setups break some of them.",
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(page(), end="")
