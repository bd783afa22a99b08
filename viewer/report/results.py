"""What a report tells: everything that was asked for, flown once and kept as small as a page needs it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from scenarios import rules as R
from scenarios.balance import Lateral, lateral, margin_spreads
from scenarios.compare import Comparison, compare
from scenarios.cures import cures
from scenarios.cures.report import Cure
from scenarios.differences import Difference, differences
from scenarios.manoeuvres import flyable
from scenarios.spread import Spread
from scenarios.walk.limits import limits_of
from scenarios.walk.steps import rearward
from scenarios.walk.walking import Plan, Walk, walk
from viewer.documents import quantity
from viewer.report.asked import Asked
from viewer.report.plane import faces_of
from viewer.report.traces import Trace, trace_of


@dataclass
class Results:
    """By setup, in the order asked for: `spreads` of the margins, balance from `sides`, `checks`, `cures` (empty where not
    asked for), `walks` (likewise), `faces` of the plane; `traces` of every flight; `found`, what differs in the files."""

    asked: Asked
    found: list[Difference]
    comparison: Comparison
    checks: list[R.Check]
    spreads: list[dict[str, Spread]]
    sides: list[Lateral]
    faces: list[list[dict[str, Any]]]
    cures: list[list[Cure]] = field(default_factory=list)
    walks: list[Walk] = field(default_factory=list)
    traces: list[Trace] = field(default_factory=list)

    def traces_of(self, manoeuvre: str) -> list[Trace]:
        """The flights of a manoeuvre, by setup; those that could not be flown are not among them."""
        return [trace for trace in self.traces if trace.manoeuvre == manoeuvre]


def results_of(asked: Asked, note: Callable[[str], None] = lambda what: None) -> Results:
    """Fly and look at all that is `asked`.  Raises `UserError`, and `CannotFly` where a plane has no level flight."""
    setups = [one.setup for one in asked.loaded]
    traces: list[Trace] = []
    comparison = compare(
        setups,
        [manoeuvre for manoeuvre, _ in asked.manoeuvres],
        lambda done, total, what: note(f"flight {done + 1} of {total}: {what}" if done < total else "balance"),
        asked.pilot,
        lambda flown: traces.append(trace_of(flown)),
    )
    planes = [flyable(setup) for setup in setups]
    under = R.Conditions(asked.pilot, asked.draws, asked.seed)
    results = Results(
        asked, differences(asked.loaded), comparison,
        R.check(list(asked.plans), under, progress=lambda done, total, what: note(f"rules: {done} of {total} {what}")),
        [margin_spreads(setup) for setup in setups], [lateral(plane) for plane in planes],
        [faces_of(plane) for plane in planes], traces=traces,
    )  # fmt: skip
    for one in asked.loaded if asked.cures else ():
        name = one.setup.name
        results.cures.append(cures(one.setup, None, lambda what, name=name: note(f"cures of {name}: {what}")))
    for one in asked.loaded if asked.rearward else ():
        plan = Plan(one, rearward(one), limits_of(one.setup.way_of_flying), asked.draws, asked.seed, pilot=asked.pilot)
        name = one.setup.name
        results.walks.append(
            walk(plan, progress=lambda what, done, total, _, name=name: note(f"{name}, {what}: draw {done} of {total}"))
        )
    return results


def numbers_document(results: Results) -> dict[str, Any]:
    """Every measure of the page in full, to hold another run against."""
    comparison = results.comparison
    return {
        "measures": {
            f"{row.manoeuvre} > {row.measure.name} > {name}": quantity(value, row.measure.unit)
            for row in comparison.rows
            for name, value in zip(comparison.setups, row.values)
        },
        "margins": {
            f"{name} > {margin}": quantity(spread.value, "")
            for name, spreads in zip(comparison.setups, results.spreads)
            for margin, spread in spreads.items()
        },
        "rules": {
            f"{check.name} > {one.rule.name}": quantity(one.value, one.rule.measure.unit if one.rule.measure else "")
            | {"verdict": one.verdict}
            for check in results.checks
            for one in check.judgements
        },
        "rearward": {
            walked.plan.loaded.setup.name: None if walked.furthest is None else walked.flown[walked.furthest].step.text
            for walked in results.walks
        },
    }


def not_the_same(before: dict[str, Any], now: dict[str, Any]) -> list[str]:
    """What two documents of numbers have differently, a line each: none where both runs found the same."""
    lines = []
    for group in dict.fromkeys((*before, *now)):
        was, is_ = before.get(group) or {}, now.get(group) or {}
        for name in dict.fromkeys((*was, *is_)):
            if was.get(name) != is_.get(name):
                lines.append(f"{group}, {name}: was {_shown(was.get(name))}, is {_shown(is_.get(name))}")
    return lines


def _shown(entry: Any) -> str:
    if not isinstance(entry, dict):
        return "nothing" if entry is None else str(entry)
    value = entry.get("value")
    shown = "nothing" if value is None else f"{value:.6g} {entry.get('unit', '')}".strip()
    return f"{shown} ({entry['verdict']})" if "verdict" in entry else shown
