"""A tolerance study as tables of 80 columns and as a JSON document."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from scenarios.study import Endings, Finding, Study, first_of, to_measure_better
from scenarios.study.distribution import CONFIDENCE, Quantile, Share, share_of
from scenarios.study.influence import Ranking
from scenarios.study.uncertain import how, said
from scenarios.study.variance import Indices
from sim.description import Setup
from viewer.documents import quantity
from viewer.map_tables import Footnotes
from viewer.text import WIDTH, number, table, wrapped

MOST_NAMED = 3  # inputs that stand behind a measure
LEAST_NAMED = 0.05  # share of the variance under which an input is not worth its words
MOST_MEASURES = 4  # that are named behind an input to measure better
LITTLE = 0.5  # share explained under which what is left over is said


def title(study: Study, setup: Setup) -> str:
    """What was studied."""
    return f"{setup.name} on {setup.airframe.name}: {study.draws} draws from seed {study.work.seed}"


def study_table(study: Study, setup: Setup) -> str:
    """What `upline study` prints, without the cautions."""
    lines = [title(study, setup), *_uncertain(study, setup), ""]
    notes = Footnotes()
    for endings in study.endings:
        lines += [_manoeuvre(study, endings, notes), ""]
    lines += [wrapped(note, "    ", "") for note in notes.lines()] + [""] * bool(notes.first)
    return "\n".join([*lines, *(wrapped(line, "  ", "") for line in _legend(study)), "", *_better(study, setup)])


def _uncertain(study: Study, setup: Setup) -> list[str]:
    """How far every input may be off, inputs that share a spread together."""
    together: dict[str, list[str]] = {}
    for one in study.work.uncertain:
        together.setdefault(said(one, setup), []).append(one.input)
    texts = [f"{_joined(names)} {spread}" for spread, names in together.items()]
    fixed = [f"set: {name} {text}" for name, text in study.work.fixed]
    first = "uncertain, one standard deviation (or +- half the range), each on its own: "
    return [wrapped(first + "; ".join(texts), "  ", ""), *(wrapped(line, "  ", "") for line in fixed)]


def _joined(names: list[str]) -> str:
    """Names in a row, a common last word said once: "down, right thrust"."""
    out: list[str] = []
    for name in names:
        head, _, last = name.rpartition(" ")
        if out and head and out[-1].rpartition(" ")[2] == last and last in ("throw", "thrust"):
            out[-1] = out[-1].removesuffix(f" {last}")
        start = "incidence of "
        out.append(name.removeprefix(start) if any(o.startswith(start) for o in out) and last else name)
    return ", ".join(out)


def _manoeuvre(study: Study, endings: Endings, notes: Footnotes) -> str:
    rows, words = [], []
    for finding in study.of(endings.manoeuvre):
        unit = finding.column.unit
        nominal = number(finding.nominal, unit)
        if finding.nominal is None:
            nominal += f" {notes.mark(finding.nominal_reason)}"
        found = finding.distribution
        spread = ["-"] * 3 if found is None else [number(q.value, unit) for q in found.quantiles]
        if finding.missing.count:
            spread[-1] += f" {notes.mark(_missing(finding))}"
        rows.append([finding.column.measure, unit, nominal, *spread])
        words.append(mostly(finding))
    head = [endings.manoeuvre, "", "nominal", "5 %", "50 %", "95 %"]
    plain = table(head, rows, left=2).split("\n")
    room = WIDTH - max(map(len, plain)) - 2
    out = [f"{plain[0]}  mostly from" if room >= len("mostly from") else plain[0], plain[1]]
    for line, text in zip(plain[2:], words):
        beside = len(text) <= room
        out.append(f"{line}  {text}".rstrip() if beside else line)
        if not beside:
            out.append(wrapped(f"mostly from {text}" if text[0].isalpha() and "(" in text else text, "      ", "    "))
    return "\n".join([*out, *(wrapped(line, "    ", "  ") for line in _ended(endings))])


def _missing(finding: Finding) -> str:
    share = finding.missing
    most = "" if finding.reason_count == share.count else f", {finding.reason_count} of them"
    return f"{share.count} of {share.of} draws are not in it{most}: {finding.reason}"


def mostly(finding: Finding) -> str:
    """The inputs that a measure hangs on, with their shares of its variance."""
    if finding.distribution is None or finding.distribution.constant:
        return "" if finding.distribution is None else "the same in every draw"
    if finding.indices is not None and not finding.indices.why_not:
        return _by_variance(finding.indices, finding.ranking)
    return _by_ranking(finding.ranking)


def _by_ranking(found: Ranking) -> str:
    if found.why_not:
        return found.why_not
    named = [one for one in found.found if one.share >= LEAST_NAMED][:MOST_NAMED]
    if not named:
        return "none told apart"
    texts = [f"{one.input} {_sign(one.correlation)} {one.share:.2f}" for one in named]
    text = ", ".join(texts)
    if len(named) > 1 and not found.first_told_apart:
        text = " or ".join(texts[:2]) + "".join(f", {t}" for t in texts[2:])
    return text if found.explained > LITTLE else f"{text}; {1.0 - found.explained:.2f} left over"


def _by_variance(found: Indices, ranked: Ranking) -> str:
    signs = {one.input: _sign(one.correlation) for one in ranked.found}
    order = sorted(found.first, key=lambda name: -found.first[name].value)
    named = [n for n in order if found.first[n].matters and found.first[n].value >= LEAST_NAMED][:MOST_NAMED]
    together = 1.0 - sum(max(0.0, index.value) for index in found.first.values())
    texts = [" ".join(filter(None, (name, signs.get(name, ""), f"{min(found.first[name].value, 1.0):.2f}"))) for name in named]
    left = f"{together:.2f} by several at once" if together > 0.2 else ""
    return "; ".join(filter(None, (", ".join(texts) or "none told apart alone", left)))


def _sign(value: float) -> str:
    return "(+)" if value > 0.0 else "(-)"


def _ended(endings: Endings) -> list[str]:
    """How the flights ended, where not all were flown to their end."""
    if set(endings.shares) == {"completed"} and endings.nominal == "completed":
        return []
    shares = ", ".join(f"{name} {_percent(share)}" for name, share in endings.shares.items())
    line = f"ended: {shares}; with no errors: {endings.nominal}"
    decided = _by_ranking(endings.ranking) if endings.ranking.found else ""
    return [line + (f".  Not flown to its end mostly from {decided}" if decided else "")]


def _percent(share: Share) -> str:
    return f"{100.0 * share.value:.0f} % ({100.0 * share.low:.0f} to {100.0 * share.high:.0f})"


def _legend(study: Study) -> list[str]:
    five = share_of(round(0.05 * study.draws), study.draws)
    lines = [
        f"5, 50, 95 %: so many of the draws stay under it; nominal: no errors.  With {study.draws} draws what stands "
        f"under 5 % may be {100.0 * five.low:.1f} to {100.0 * five.high:.0f} % of all flights, 95 % likewise.",
        'Figures behind inputs are shares of the variance; (+) rises with the input, (-) falls; "a or b": which of '
        "them is the larger is not told apart; left over: what turns back, or takes two inputs at once, or chance.",
    ]
    if any(set(e.shares) - {"completed"} for e in study.endings):
        lines.append(
            f"Brackets behind a share of endings: its {100 * CONFIDENCE:.0f} % bounds.  Numbers of flights that were "
            "lost, diverged or met the ground are in no distribution."
        )
    if study.more:
        lines.append(f"Shares are first-order indices of variance, from {study.more} more flights of each manoeuvre.")
    return lines


def _better(study: Study, setup: Setup) -> list[str]:
    """What to measure better, in words."""
    found = [one for one in to_measure_better(study) if one.narrower[0][1] >= LEAST_NAMED]
    if not found:
        return ["What to measure better: no input stands out."]
    by_name = {one.input: one for one in study.work.uncertain}
    lines = ["What to measure better (known exactly, spreads would be so much narrower)"]
    for one in found:
        uncertain = by_name.get(one.input)
        spread = "" if uncertain is None else f" ({said(uncertain, setup)})"
        named = [f"{column.manoeuvre} {column.measure} {100.0 * by:.0f} %" for column, by in one.narrower]
        more = len(named) - MOST_MEASURES
        text = ", ".join(named[:MOST_MEASURES]) + (f" and {more} more" if more > 0 else "")
        lines.append(wrapped(f"{one.input}{spread}: {text}", "  ", "- "))
    return lines


# ---- the document -------------------------------------------------------------------------------


def study_document(study: Study, setup: Setup, files: list[str]) -> dict[str, Any]:
    """The document of `upline study`."""
    work = study.work
    return {
        "setup": setup.name,
        "airframe": setup.airframe.name,
        "pilot": work.pilot,
        "seed": work.seed,
        "draws": study.draws,
        "more_flights_for_variance": study.more,
        "confidence": CONFIDENCE,
        "set": dict(work.fixed),
        "uncertain": [
            {"input": one.input, "kind": one.kind, "spread": said(one, setup), "how": how(one.input, setup) or None}
            for one in work.uncertain
        ],
        "manoeuvres": [
            {
                "manoeuvre": endings.manoeuvre,
                "nominal_ended": endings.nominal,
                "endings": {name: _share(share) for name, share in endings.shares.items()},
                "endings_from": _ranking(endings.ranking, ""),
                "measures": [_finding(finding) for finding in study.of(endings.manoeuvre)],
            }
            for endings in study.endings
        ],
        "measure_better": [
            {
                "input": one.input,
                "narrower": [
                    {"manoeuvre": column.manoeuvre, "measure": column.measure, "by": quantity(100.0 * by, "%")}
                    for column, by in one.narrower
                ],
            }
            for one in to_measure_better(study)
        ],
        "files": files,
    }


def _finding(finding: Finding) -> dict[str, Any]:
    unit, found = finding.column.unit, finding.distribution
    out: dict[str, Any] = {
        "measure": finding.column.measure,
        "unit": unit,
        "nominal": quantity(finding.nominal, unit),
        "nominal_reason": finding.nominal_reason or None,
        "missing": _share(finding.missing),
        "missing_reason": finding.reason or None,
        "mostly_from": first_of(finding)[0] or None,
        "ranking": _ranking(finding.ranking, unit),
    }
    if found is not None:
        out["draws_in_it"] = found.count
        out["quantiles"] = [_quantile(q, unit) for q in found.quantiles]
        out |= {name: quantity(getattr(found, name), unit) for name in ("mean", "sd", "least", "most")}
    if finding.indices is not None:
        orders = {"first": finding.indices.first, "total": finding.indices.total}
        out["variance"] = {
            "rows": finding.indices.rows,
            "of": finding.indices.of,
            "why_not": finding.indices.why_not or None,
            **{order: {name: asdict(index) for name, index in found.items()} for order, found in orders.items()},
        }
    return out


def _quantile(one: Quantile, unit: str) -> dict[str, Any]:
    return {"share": one.share, **quantity(one.value, unit), "low": one.low, "high": one.high}


def _share(share: Share) -> dict[str, Any]:
    return {"draws": share.count, "of": share.of, "share": share.value, "low": share.low, "high": share.high}


def _ranking(found: Ranking, unit: str) -> dict[str, Any]:
    if found.why_not:
        return {"why_not": found.why_not}
    return {
        "explained": found.explained,
        "first_told_apart": found.first_told_apart,
        "inputs": [
            {**{k: v for k, v in asdict(one).items() if k != "per_sigma"}, "per_sigma": quantity(one.per_sigma, unit)}
            for one in found.influences
        ],
    }
