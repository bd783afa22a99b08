"""A tolerance study in words and tables of 80 columns."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scenarios.balance import TRIM_SPEED
from scenarios.inputs import Input, inputs_of
from scenarios.study import Better, Endings, Finding, Study, to_measure_better
from scenarios.study.distribution import CONFIDENCE, Distribution, Share, share_of
from scenarios.study.influence import Ranking
from scenarios.study.uncertain import said
from scenarios.study.variance import Indices
from sim.description import Setup
from viewer.balance import MARGINS, MODEL_NOTE
from viewer.map_tables import Footnotes
from viewer.text import DECIMALS, WIDTH, number, table, wrapped

MOST_NAMED = 3  # inputs that stand behind a measure
LEAST_NAMED = 0.05  # share of the variance under which an input is not worth its words
WORTH = 0.2  # how much narrower a spread must become for an input to be worth better tools
MOST_MEASURES = 4  # that are named behind an input to measure better
LITTLE = 0.5  # share of the variance left over that is said
TOGETHER = 0.2  # share of the variance that inputs must bring together to be said
WIDE_BOUNDS = 0.25  # of a share, from which they are said
NO_BREAK = "\u00a0"  # taken for a space again once lines are cut
SIDES = "cg to the right", "aileron centring", "rudder centring", "aileron left over right"
MORE_DECIMALS = 1  # that a narrow spread may take beyond the usual ones of its unit


def title(study: Study, setup: Setup) -> str:
    """What was studied."""
    return f"{setup.name} on {setup.airframe.name}: {study.draws} draws from seed {study.work.seed}"


def conditions(study: Study) -> str:
    """Who flew, in what air, and what else was set."""
    fixed = [f"{name} {text}" for name, text in study.work.fixed]
    if not any(text for _, text in study.work.manoeuvres):
        at_rest = f"nothing is flown: the plane at rest, and its level flight at {TRIM_SPEED:.0f} m/s"
        return "; ".join([at_rest, *([f"set: {', '.join(fixed)}"] if fixed else [])])
    air = [] if any(name == "wind" for name, _ in study.work.fixed) else ["no wind but a manoeuvre's own"]
    return "; ".join([f"{study.work.pilot} pilot", *air, *([f"set: {', '.join(fixed)}"] if fixed else [])])


def study_table(study: Study, setup: Setup) -> str:
    """What `upline study` prints, without the cautions."""
    lines = [title(study, setup), _cut(conditions(study), "  "), _cut(off_by(study, setup), "  "), ""]
    notes = Footnotes()
    for endings in study.endings:
        lines += [_manoeuvre(study, endings, notes), ""]
    lines += [_cut(note, "    ") for note in notes.lines()] + [""] * bool(notes.first)
    lines += [_cut(line, "  ") for line in _legend(study)]
    return "\n".join([*lines, "", *_open(study), *_better(study, setup)])


def _cut(text: str, indent: str, first: str = "") -> str:
    return wrapped(text, indent, first).replace(NO_BREAK, " ")


def off_by(study: Study, setup: Setup) -> str:
    """How far every input may be off, inputs that share a spread together."""
    together: dict[str, list[str]] = {}
    for one in study.work.uncertain:
        together.setdefault(said(one, setup), []).append(one.input)
    texts = [f"{_joined(names)} {spread.replace(' ', NO_BREAK)}" for spread, names in together.items()]
    return "off by (one standard deviation, or +- the most), each on its own: " + "; ".join(texts)


def _joined(names: list[str]) -> str:
    """Names in a row, a common first or last word said once: "incidence of wing, fin", "down, right thrust"."""
    out: list[str] = []
    start = "incidence of "
    for name in names:
        last = name.rpartition(" ")[2]
        if out and last in ("throw", "thrust", "centring") and out[-1].endswith(f" {last}"):
            out[-1] = out[-1].removesuffix(f" {last}")
        out.append(name.removeprefix(start) if any(o.startswith(start) for o in out) else name)
    return ", ".join(out)


# ---- a manoeuvre --------------------------------------------------------------------------------


def _manoeuvre(study: Study, endings: Endings, notes: Footnotes) -> str:
    rows, words = [], []
    for finding in study.of(endings.manoeuvre):
        nominal, *spread = figures(finding)
        if finding.nominal is None:
            nominal += f" {notes.mark(finding.nominal_reason)}"
        if finding.missing.count:
            spread[-1] += f" {notes.mark(_missing(finding))}"
        rows.append([finding.column.measure, finding.column.unit, nominal, *spread])
        words.append(mostly(finding))
    plain = table([endings.manoeuvre, "", "nominal", "5 %", "50 %", "95 %"], rows, left=2).split("\n")
    room = WIDTH - max(map(len, plain)) - 2
    out = [plain[0], plain[1]]
    for line, text in zip(plain[2:], words):
        beside = len(text) <= room
        out.append(f"{line}  {text}".rstrip().replace(NO_BREAK, " ") if beside else line)
        if not beside:
            out.append(_cut(text, "      ", "    "))
    return "\n".join([*out, *(_cut(line, "    ", "  ") for line in _ended(endings))])


def figures(finding: Finding) -> list[str]:
    """Nominal, 5, 50 and 95 % of a measure, with as many decimals as its spread takes."""
    unit, found = finding.column.unit, finding.distribution
    values = [finding.nominal, *([None] * 3 if found is None else [q.value for q in found.quantiles])]
    usual = DECIMALS.get(unit, 2)
    more = 0
    if found is not None and not found.constant:
        wide = found.quantiles[-1].value - found.quantiles[0].value
        more = 0 if wide <= 0.0 else min(MORE_DECIMALS, max(0, math.ceil(-math.log10(wide / 5.0)) - usual))
    return [number(v, unit, usual + more) for v in values]


def _missing(finding: Finding) -> str:
    share = finding.missing
    most = "" if finding.reason_count == share.count else f", {finding.reason_count} of them"
    return f"{share.count} of {share.of} draws {'is' if share.count == 1 else 'are'} not in it{most}: {finding.reason}"


@dataclass(frozen=True)
class Part:
    """An input behind a measure: its name and (+) or (-), its share of the variance, and the bounds of that."""

    words: str
    value: float
    low: float
    high: float

    @property
    def text(self) -> str:
        """In one piece; with the bounds where they are wide."""
        bounds = f" [{max(0.0, self.low):.2f} to {self.high:.2f}]" if self.high - self.low > WIDE_BOUNDS else ""
        return f"{self.words} {self.value:.2f}{bounds}".replace(" ", NO_BREAK)


def shares_of(finding: Finding) -> tuple[list[Part], str]:
    """The inputs that a measure hangs on, the largest share first, or why there are none."""
    if finding.distribution is None:
        return [], ""
    if finding.distribution.constant:
        return [], "the same in every draw"
    if finding.indices is not None and not finding.indices.why_not:
        parts = _by_variance(finding.indices, finding.ranking)
    else:
        parts = _by_ranking(finding.ranking)
    why_not = finding.ranking.why_not
    return parts, "" if parts else "not told apart" + (f": {why_not}" if why_not else "")


def mostly(finding: Finding) -> str:
    """The inputs that a measure hangs on, with their shares of its variance, in words."""
    parts, why_not = shares_of(finding)
    if not parts:
        return why_not
    if finding.indices is not None and not finding.indices.why_not:
        together = 1.0 - sum(max(0.0, index.value) for index in finding.indices.first.values())
        return _in_order(parts, True) + (f"; {together:.2f} of several at once" if together > TOGETHER else "")
    left = 1.0 - finding.ranking.explained
    return _in_order(parts, finding.ranking.first_told_apart) + (
        f"; {left:.2f}{NO_BREAK}left{NO_BREAK}over" if left > LITTLE else ""
    )


def _by_ranking(found: Ranking) -> list[Part]:
    named = [one for one in found.found if one.share >= LEAST_NAMED][:MOST_NAMED]
    return [Part(f"{one.input} {_sign(one.correlation)}", one.share, one.low, one.high) for one in named]


def _by_variance(found: Indices, ranked: Ranking) -> list[Part]:
    signs = {one.input: f" {_sign(one.correlation)}" for one in ranked.found}
    order = sorted(found.first, key=lambda name: -found.first[name].value)
    named = [n for n in order if found.first[n].matters and found.first[n].value >= LEAST_NAMED][:MOST_NAMED]
    return [
        Part(n + signs.get(n, ""), min(1.0, found.first[n].value), found.first[n].low, min(1.0, found.first[n].high))
        for n in named
    ]


def _in_order(parts: list[Part], first_apart: bool) -> str:
    first, *rest = (part.text for part in parts)
    return f"mostly {first}" + (f"{', then' if first_apart else ' or'} {', '.join(rest)}" if rest else "")


def _sign(value: float) -> str:
    return "(+)" if value > 0.0 else "(-)"


def _ended(endings: Endings) -> list[str]:
    """How the flights ended, where not all were flown to their end."""
    if set(endings.shares) == {"completed"} and endings.nominal == "completed":
        return []
    shares = ", ".join(f"{name} {_percent(share)}" for name, share in endings.shares.items())
    parts = _by_ranking(endings.ranking)
    decided = f".  Not to the end: {_in_order(parts, endings.ranking.first_told_apart)}" if parts else ""
    return [f"ended: {shares}; with no errors: {endings.nominal}{decided}"]


def _percent(share: Share) -> str:
    return NO_BREAK.join(
        f"{100.0 * share.value:.0f} % ({100.0 * share.low:.0f} to {100.0 * share.high:.0f})".split(" ")
    )


# ---- below the tables ---------------------------------------------------------------------------


def _legend(study: Study) -> list[str]:
    margins = {name for name, _ in MARGINS}
    five = share_of(round(0.05 * study.draws), study.draws)
    wind = ", in one wind of these" if any(name == "wind" for name, _ in study.work.fixed) else ""
    lines = [
        f"5, 50, 95 %: so many draws stay under it; nominal: no errors{wind}.  With {study.draws} draws, {5}{NO_BREAK}% may be "
        f"{100.0 * five.low:.1f} to {100.0 * five.high:.0f}{NO_BREAK}% of all flights, and 95{NO_BREAK}% likewise.",
        "Behind inputs: their share of the variance [bounds where wide]; (+) rises with the input, (-) falls with it; "
        '"a or b": which is the larger is not told apart; left over: what turns back, takes two inputs at once, or chance.',
        f"{_sides(study)}, and how far the model itself may be off, come on top.",
    ]
    if any(finding.column.measure in margins for finding in study.findings):
        lines.append(f"Of margins, the model itself: {MODEL_NOTE}")
    if any(set(e.shares) - {"completed"} for e in study.endings):
        lines.append(
            f"Behind a share of endings stand its {100 * CONFIDENCE:.0f}{NO_BREAK}% bounds.  Numbers of flights that were "
            "lost, diverged or met the ground are in no distribution."
        )
    if study.more:
        lines.append(f"Shares are first-order indices of variance, from {study.more} more flights of each manoeuvre.")
    return lines


def _sides(study: Study) -> str:
    """What the errors are, and which left-right differences are not among them."""
    if any(one.input in SIDES for one in study.work.uncertain):
        return "These are errors of measuring and centring.  Halves of wing and elevator that are not alike"
    return "These are errors that are the same on both sides of the plane.  Left-right differences"


def _open(study: Study) -> list[str]:
    """Measures of which not even the sign is settled."""
    found = [f for f in study.findings if f.distribution is not None and f.distribution.open]
    said = [text for f in found if (text := _either(f, f.distribution))]
    return ["Which way is open with these errors", *(_cut(text, "  ", "- ") for text in said), ""] if said else []


def _either(finding: Finding, found: Distribution) -> str:
    measure = finding.column.definition
    if not measure.positive:
        return ""
    above = 100.0 * found.above.value
    shares = f"{measure.positive} in {above:.0f} % of draws, {measure.negative} in {100.0 - above:.0f} %"
    return f"{finding.column.manoeuvre} {measure.name}: " + shares.replace(" %", f"{NO_BREAK}%")


def _better(study: Study, setup: Setup) -> list[str]:
    """What to measure better, and what no bench settles, in words."""
    known = inputs_of(setup)
    found = [one for one in to_measure_better(study) if one.narrower[0][1] >= WORTH]
    bench = [one for one in found if not in_flight(one.input, known)]
    others = [one for one in found if one not in bench]
    lines = ["What to measure better (known exactly, these would spread so much less)"] if bench else []
    lines += [_one_better(one, study, setup) for one in bench] or [
        "What to measure better: no input alone is worth it."
    ]
    if others:
        lines += ["", "What no bench settles (the same of the pilot and the air)"]
        lines += [_one_better(one, study, setup) for one in others]
    return lines


def in_flight(name: str, known: dict[str, Input]) -> bool:
    """Whether an input, or a part of one, is of the pilot or the air."""
    return name not in known or known[name].in_flight


def _one_better(one: Better, study: Study, setup: Setup) -> str:
    uncertain = next((u for u in study.work.uncertain if u.input == one.input), None)
    spread = "" if uncertain is None else f" ({said(uncertain, setup)})".replace(" ", NO_BREAK)
    named = [f"{c.manoeuvre} {c.measure} {100.0 * by:.0f}{NO_BREAK}%" for c, by in one.narrower if by >= WORTH]
    more = len(named) - MOST_MEASURES
    text = ", ".join(named[:MOST_MEASURES]) + (f" and {more} more" if more > 0 else "")
    return _cut(f"{one.input}{spread}: {text}", "  ", "- ")
