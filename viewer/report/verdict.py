"""The verdict: a few sentences made from the results, each from numbers that stand in the page's tables."""

from __future__ import annotations

from dataclasses import dataclass

from scenarios.accuracy import MODEL
from scenarios.rules import FAILED, HOLDS, UNFLOWN, WARNING, Check, Judgement
from scenarios.trust import NOT_COMPARED, NOT_SEEN
from scenarios.walk.verdict import FLIGHT
from scenarios.walk.walking import Walk
from viewer.check import headroom_text, limit_text, measured_text
from viewer.report.results import Results
from viewer.text import number
from viewer.words import at_once, meaning, what_changed

MOST = 3  # differences, and names of rules, that the verdict tells; the rest stands below


@dataclass(frozen=True)
class Said:
    """One part of the verdict: what it is about and its sentences."""

    about: str
    sentences: tuple[str, ...]


def verdict(results: Results) -> list[Said]:
    """The verdict on the setups."""
    said = [Said("Rules", tuple(_rules(check) for check in results.checks))]
    if len(results.asked.loaded) > 1:
        changed = what_changed(results.comparison)
        more = len(changed) - MOST
        rest = (f"{more} more stand{'s' if more == 1 else ''} under What differs.",) if more > 0 else ()
        said.append(Said("What differs most", (*changed[:MOST], *rest, *at_once(results.found))))
    if results.walks:
        said.append(Said("CG further aft", tuple(_walked(walked) for walked in results.walks)))
    said.append(Said("Look first at", tuple(_first(check) for check in results.checks)))
    said.append(Said("Not known", tuple(_unknown(results))))
    return said


def _rules(check: Check) -> str:
    judged = check.judgements
    if not judged:
        return f"{check.name}: no rule is for this way of flying."
    rules = " and ".join(check.plan.files)
    held = sum(one.verdict == HOLDS for one in judged)
    line = f"{check.name}: {held} of {len(judged)} rules of {rules} hold."
    broken = [one.rule.name for one in judged if one.verdict == FAILED]
    line += f" Broken that must hold: {_few(broken)}." if broken else " Every rule that must hold and was flown does."
    warned = [one.rule.name for one in judged if one.verdict == WARNING]
    line += f" Outside what is usual: {_few(warned)}." if warned else ""
    unflown = [one.rule.name for one in judged if one.verdict == UNFLOWN]
    return line + (f" Not flown: {_few(unflown)}." if unflown else "")


def _few(names: list[str]) -> str:
    if len(names) <= MOST + 1:
        return "; ".join(names)
    return f"{'; '.join(names[:MOST])}; and {len(names) - MOST} more"


def worst(check: Check) -> Judgement | None:
    """The rule that is broken furthest, of those that must hold if one of these is; None where none is."""
    judged = check.judgements
    broken = [one for one in judged if one.verdict == FAILED] or [one for one in judged if one.verdict == WARNING]
    return min(broken, key=_room, default=None)


def _first(check: Check) -> str:
    """The worst rule in a sentence; where none is broken, the one with the least room left."""
    broken = worst(check)
    if broken is not None:
        return f"{check.name}: {_broken(broken)}"
    close = [one for one in check.judgements if one.headroom is not None]
    if not close:
        return f"{check.name}: nothing that the rules look at stands out."
    one = min(close, key=_room)
    left = f"{headroom_text(one)} {one.rule.measure.unit}".strip()
    return (
        f"{check.name}: no rule is broken; least room is left in {one.rule.name}: {_taken(one)}, where {limit_text(one)} is "
        f"allowed, {left} to go."
    )


def _broken(one: Judgement) -> str:
    """A rule that is broken: what was seen, what is allowed, and why the rule is there."""
    part, said = one.rule.part, [f"{one.rule.name} ({one.rule.of})"]
    if one.value is not None:
        said.append(f"{_taken(one)}, allowed {limit_text(one)}")
    if one.share:
        said.append(f"{one.share.held} of {one.share.draws} draws hold, wanted {100.0 * part.sure:g} %")
    said += [one.reason] if one.reason else []
    return f"{'; '.join(said)}. Why the rule: {part.reason} ({part.source})."


def _taken(one: Judgement) -> str:
    """What was measured, by what it is and with the word for its sign."""
    measure, word = one.rule.measure, meaning(one.rule.measure, one.value)
    shown = measured_text(one).removeprefix("-") if word else measured_text(one)
    return " ".join(f"{measure.about}: {shown} {measure.unit} {word}".split())


def _room(one: Judgement) -> float:
    """Headroom as a share of the limit; what has no number, an outcome say, counts as just broken."""
    if one.headroom is None:
        return 0.0 if one.verdict == HOLDS else -1e-9
    bounds = [abs(b) for b in (one.rule.part.limit.low, one.rule.part.limit.high, one.other) if b]
    return one.headroom / max(bounds, default=1.0)


def _walked(walked: Walk) -> str:
    name, steps = walked.plan.loaded.setup.name, walked.flown
    if walked.furthest is None:
        return f"{name}: already at CG {steps[0].step.text} {_limits(walked, 0)}; do not go aft."
    line = f"{name}: CG {steps[walked.furthest].step.text} is the furthest step found sound"
    if walked.advised is not None:
        line += f", {steps[walked.advised].step.text} the furthest worth flying"
    if walked.tripped is None:
        return f"{line}; no limit tripped: {walked.plan.path.end}."
    return f"{line}; at {steps[walked.tripped].step.text} {_limits(walked, walked.tripped)}."


def _limits(walked: Walk, n: int) -> str:
    """Which limits a step of the walk breaks."""
    named = ["a flight to its end" if one.limit == FLIGHT else one.limit for one in walked.broke(n)]
    return f"these limits are broken: {_few(named)}"


def _unknown(results: Results) -> list[str]:
    comparison, lines = results.comparison, []
    values = [value for row in comparison.rows for value in row.values]
    missing = sum(value is None for value in values)
    if missing:
        lines.append(f"{missing} of {len(values)} numbers could not be taken; each table says why.")
    ended = [
        f"{manoeuvre} with {name}: {ending}"
        for manoeuvre, endings in comparison.endings.items()
        for name, ending in zip(comparison.setups, endings)
        if ending != "completed"
    ]
    if ended:
        lines.append(f"Not flown to the end: {_few(ended)}.")
    spreads = [100.0 * each["static_margin"].sigma for each in results.spreads]
    lines.append(
        f"Static margins are known to +-{number(max(spreads), '%')} % of MAC from measuring alone, and may read "
        f"{number(100.0 * MODEL, '%')} % too large besides."
    )
    for name, balance in zip(comparison.setups, comparison.balances):
        if balance.no_torque:
            lines.append(
                f"{name}: servo torque of {', '.join(balance.no_torque)} is not given, so blow-back is not seen."
            )
    guessed = {one.setup.airframe.name: len(one.setup.airframe.estimated) for one in results.asked.loaded}
    lines += [f"{count} values of {name} are estimates, not measured." for name, count in guessed.items() if count]
    return [*lines, f"{NOT_COMPARED} Not seen at all: {NOT_SEEN}."]
