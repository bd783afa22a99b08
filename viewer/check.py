"""What `upline check` prints: a table of rules, what does not hold and why, and what drifted from the baseline."""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass
from typing import Any

from scenarios.rules import (
    FAILED,
    HOLDS,
    UNFLOWN,
    WARNING,
    BaselineFile,
    Check,
    Conditions,
    Drift,
    Judgement,
    changed,
    drifts,
)
from scenarios.rules import exit_code as rules_code
from scenarios.rules.judging import fewest_draws
from scenarios.rules.limits import SHARE, Limit
from scenarios.rules.schema import FAILS, SUCCEEDS
from viewer.documents import quantity
from viewer.text import WIDTH, number, table, wrapped
from viewer.version import version
from viewer.words import meaning

WORDS = {HOLDS: "pass", WARNING: "warn", FAILED: "FAIL", UNFLOWN: "not flown"}
LEAST_NAME = 16  # columns that a rule's name keeps
CONFIDENT = "95 % confidence"


@dataclass(frozen=True)
class Held:
    """One setup checked, and held against a baseline where there is one; `changed` says what is not as it was then."""

    check: Check
    drifts: tuple[Drift, ...] | None = None
    changed: tuple[str, ...] = ()

    @property
    def drifted(self) -> tuple[Drift, ...]:
        """The drifts that fail a check."""
        return tuple(drift for drift in self.drifts or () if drift.counts)


def held_against(checks: list[Check], baseline: BaselineFile | None) -> list[Held]:
    """The checks, with what drifted from `baseline` where there is one."""
    if baseline is None:
        return [Held(one) for one in checks]
    return [Held(one, tuple(drifts(baseline, one)), tuple(changed(baseline, one, version()))) for one in checks]


def exit_code(held: list[Held], strict: bool = False) -> int:
    """1 where a rule that must hold fails (any where `strict`) or a measure drifted, else 3 where one was not flown, else 0."""
    return 1 if any(one.drifted for one in held) else rules_code([one.check for one in held], strict)


def check_text(held: list[Held], under: Conditions) -> str:
    """All setups, one after the other."""
    return "\n\n".join(_setup_text(one, under) for one in held)


def _setup_text(held: Held, under: Conditions) -> str:
    check = held.check
    setup, plan = check.readings.setup, check.plan
    pilot = "" if under.skill == "expert" else f", pilot {under.skill}"
    lines = [wrapped(f"{check.name} on {setup.airframe.name} by the rules {' and '.join(plan.files)}{pilot}")]
    if plan.skipped:
        names = ", ".join(rule.name for rule in plan.skipped)
        lines.append(wrapped(f"not for {setup.way_of_flying}, and not looked at: {names}"))
    lines += ["", _table(check.judgements)] if check.judgements else ["", "No rule is for this way of flying."]
    drawn = [one for one in check.judgements if one.share]
    lines += ["", _draws_text(drawn, under)] if drawn else []
    faults = [one for one in check.judgements if not one.holds]
    lines += ["", *(wrapped(fault(one), "  ", "") for one in faults)] if faults else []
    lines += ["", wrapped(summary(check))]
    if held.drifts is not None:
        lines += ["", _drift_text(held)]
    return "\n".join(lines)


def summary(check: Check) -> str:
    """One sentence: how many rules hold and how many do not."""
    counts = {verdict: sum(one.verdict == verdict for one in check.judgements) for verdict in WORDS}
    said = [f"{counts[HOLDS]} of {len(check.judgements)} rules hold"]
    said += [f"{counts[FAILED]} that must hold fail" if counts[FAILED] != 1 else "1 that must hold fails"]
    said += [f"{counts[WARNING]} warning{'s' if counts[WARNING] != 1 else ''}"] if counts[WARNING] else []
    said += [f"{counts[UNFLOWN]} not flown"] if counts[UNFLOWN] else []
    return f"{check.name}: {', '.join(said)}."


def _table(judgements: tuple[Judgement, ...]) -> str:
    """Verdict, rule, number, limit and headroom; a name too long for the page goes on below."""
    rows = []
    for one in judgements:
        rows.append([WORDS[one.verdict], one.rule.name, measured_text(one), limit_text(one), headroom_text(one)])
    head = ["", "rule", "measured", "limit", "headroom"]
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(5)]
    room = max(LEAST_NAME, WIDTH - sum(widths) + widths[1] - 2 * 4)
    cells = []
    for row in rows:
        name, *more = textwrap.wrap(row[1], room, subsequent_indent="  ") or [""]
        cells.append([row[0], name, *row[2:]])
        cells += [["", rest, "", "", ""] for rest in more]
    return table(head, cells, left=2)


def measured_text(one: Judgement) -> str:
    """What was measured, as a table has it; "yes" or "no" for an outcome."""
    if one.rule.part.outcome:
        return "-" if one.verdict == UNFLOWN else "yes" if one.holds == (one.rule.part.outcome == "succeeds") else "no"
    return _number(one, one.value)


def headroom_text(one: Judgement) -> str:
    """How far inside its limit a measure lies, negative outside; "" where there is no number."""
    return _number(one, one.headroom) if one.headroom is not None else ""


def _number(one: Judgement, value: float | None) -> str:
    """A number of the rule with its usual decimals, and more of them where a number just outside would look just inside."""
    unit = one.rule.measure.unit
    if value is None or not one.headroom or float(number(one.headroom, unit)) != 0.0:
        return number(value, unit)
    return f"{value:.{min(12, 1 - math.floor(math.log10(abs(one.headroom))))}f}"


def limit_text(one: Judgement) -> str:
    """The limit in short, in the measure's unit: "at most 5 deg/s", "8 to 15 %", "within 5 deg"."""
    if one.rule.part.outcome:
        return one.rule.part.outcome
    limit, unit = one.rule.part.limit, one.rule.measure.unit
    if limit.lean and one.other is None:
        return limit.text
    low, high = _bounds(limit, one.other)
    if low is None:
        words = f"within {_plain(high)}" if limit.either_way and not limit.lean else f"at most {_plain(high)}"
    else:
        words = f"at least {_plain(low)}" if high is None else f"{_plain(low)} to {_plain(high)}"
    unit = "turn" if unit == "turns" and words.endswith(" 1") else unit
    return f"{words} {unit}".strip()


def _bounds(limit: Limit, other: float | None) -> tuple[float | None, float | None]:
    """Both bounds as numbers of the measure, where the limit leans on `other`."""
    if limit.lean == SHARE:
        return tuple(None if bound is None else bound * abs(other) for bound in (limit.low, limit.high))
    if limit.lean:
        start = abs(other) if limit.either_way else other
        return tuple(None if bound is None else start + bound for bound in (limit.low, limit.high))
    return limit.low, limit.high


def _plain(value: float) -> str:
    return f"{value:.4g}"


def _draws_text(drawn: list[Judgement], under: Conditions) -> str:
    """How many flights with errors of measuring held, and whether that settles it."""
    lines = [
        wrapped(
            f"Flown {under.draws} times more with what nobody measures exactly a little off (seed {under.seed}); how "
            f"many held, and what share of very many would ({CONFIDENT}):"
        )
    ]
    for one in drawn:
        share, wanted = one.share, one.rule.part.sure
        line = (
            f"{one.rule.name}: {share.held} of {share.draws}, {100 * share.low:.1f} to {100 * share.high:.1f} %; "
            f"wanted {100 * wanted:g} %"
        )
        if not share.settled(wanted):
            line += f"; not settled by {share.draws} draws{_more(wanted, share.draws)}"
        lines.append(wrapped(line, "    ", "  "))
    return "\n".join(lines)


def _more(wanted: float, draws: int) -> str:
    fewest = fewest_draws(wanted)
    if not fewest:
        return ", nor by any number"
    return f", at least --draws {fewest} can" if draws < fewest else ", more --draws may"


def fault(one: Judgement) -> str:
    """Why a rule does not hold, in a few words."""
    part, unit = one.rule.part, one.rule.measure.unit if one.rule.measure else ""
    said = []
    if one.value is not None:
        word = meaning(one.rule.measure, one.value)
        shown = _number(one, abs(one.value) if word else one.value)
        said.append(" ".join(f"{part.measure} of {one.rule.of} is {shown} {unit} {word}".split()))
    if part.limit:
        of = (
            f", {one.rule.other.setup.name} having {number(one.other, unit)} {unit}".rstrip()
            if one.other is not None
            else ""
        )
        said.append(f"allowed {part.limit.text}{of}")
    if one.share:
        said.append(f"{one.share.held} of {one.share.draws} draws hold, wanted {100 * part.sure:g} %")
    if one.reason:
        said.append(one.reason)
    return f"{WORDS[one.verdict]}, {one.rule.name}: {'; '.join(said)}. Why: {part.reason} ({part.source})."


# ---- baseline -----------------------------------------------------------------------------------------------------------


def _drift_text(held: Held) -> str:
    drifts, drifted = held.drifts, held.drifted
    new = [drift for drift in drifts if drift.state == "new"]
    compared = len(drifts) - len(new)
    lines = [wrapped(f"Against the baseline: {len(drifted)} of {compared} measures drifted{_new_words(new)}.")]
    since = ", ".join(held.changed)
    lines.append(
        wrapped(f"Not as it was then: {since}." if since else "Files, kernels and version are as they were then.")
    )
    if drifted:
        rows = []
        for of in dict.fromkeys(drift.of for drift in drifted):
            rows += [[of, *[""] * 5]]
            rows += [[f"  {drift.measure}", *drift_cells(drift), drift.unit] for drift in drifted if drift.of == of]
        lines += ["", table(["drifted", "was", "is", "change", "allowed", "in"], rows)]
    return "\n".join(lines)


def _new_words(new: list[Drift]) -> str:
    if not new:
        return ""
    places = ", ".join(dict.fromkeys(drift.of for drift in new))
    return f"; {len(new)} are new since ({places}): --accept takes them up"


def drift_cells(drift: Drift) -> list[str]:
    """Was, is, change and allowed as a table has them, in the drift's unit."""

    def shown(value: float | str | None) -> str:
        if value is None:
            return "-"
        return {SUCCEEDS: "yes", FAILS: "no"}[value] if isinstance(value, str) else _fine(value, drift)

    if drift.state == "vanished":
        return [shown(drift.was), "vanished", "", ""]
    change = "" if drift.change is None else _fine(drift.change, drift, sign=True)
    return [shown(drift.was), shown(drift.now), change, "" if drift.allowed is None else f"{drift.allowed:.2g}"]


def _fine(value: float, drift: Drift, sign: bool = False) -> str:
    """`value` with decimals enough to see the allowed drift."""
    decimals = 2
    while drift.allowed and decimals < 6 and drift.allowed < 10.0**-decimals:
        decimals += 1
    return f"{value:{'+' if sign else ''}.{decimals}f}"


# ---- the document ----------------------------------------------------------------------------------------------------


def check_document(held: list[Held], under: Conditions, code: int, files: list[str]) -> dict[str, Any]:
    """The document of `upline check`."""
    return {
        "pilot": under.skill,
        "draws": under.draws,
        "seed": under.seed,
        "exit_code": code,
        "setups": [_setup_document(one) for one in held],
        "files": files,
    }


def _setup_document(held: Held) -> dict[str, Any]:
    check = held.check
    setup = check.readings.setup
    document: dict[str, Any] = {
        "setup": check.name,
        "airframe": setup.airframe.name,
        "way_of_flying": setup.way_of_flying,
        "rules_from": list(check.plan.files),
        "rules": [_judgement(one) for one in check.judgements],
        "for_other_ways": [rule.name for rule in check.plan.skipped],
    }
    if held.drifts is not None:
        document["baseline"] = {
            "not_as_it_was": list(held.changed),
            "measures": [_drift_document(drift) for drift in held.drifts],
        }
    return document


def _judgement(one: Judgement) -> dict[str, Any]:
    rule, part = one.rule, one.rule.part
    unit = rule.measure.unit if rule.measure else ""
    document: dict[str, Any] = {
        "rule": rule.name,
        "file": rule.file,
        "of": rule.of,
        "severity": part.severity,
        "verdict": one.verdict,
        "why": part.reason,
        "source": part.source,
    }
    if part.outcome:
        document["outcome"] = part.outcome
    else:
        document |= {
            "measure": part.measure,
            "limit": part.limit.text,
            "measured": quantity(one.value, unit),
            "headroom": quantity(one.headroom, unit),
        }
    if rule.other:
        document["against"] = {"setup": rule.other.setup.name, "measured": quantity(one.other, unit)}
    if one.share:
        share = one.share
        document["draws"] = {
            "held": share.held,
            "of": share.draws,
            "wanted": quantity(100.0 * part.sure, "%"),
            "share_of_very_many": [quantity(100.0 * share.low, "%"), quantity(100.0 * share.high, "%")],
            "settled": share.settled(part.sure),
        }
    if one.reason:
        document["reason"] = one.reason
    return document


def _drift_document(drift: Drift) -> dict[str, Any]:
    def entry(value: float | str | None) -> Any:
        return value if isinstance(value, str) else quantity(value, drift.unit)

    return {
        "of": drift.of,
        "measure": drift.measure,
        "state": drift.state,
        "was": entry(drift.was),
        "is": entry(drift.now),
        "change": quantity(drift.change, drift.unit),
        "allowed": quantity(drift.allowed, drift.unit),
    }
