"""`upline portrait`: a setup's strengths and weaknesses for three ways of flying, why, and what would change them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from viewer.text import number, wrapped

if TYPE_CHECKING:
    from scenarios.portrait import Portrait, Tried
    from scenarios.traits import Judgement, Mark

SHOWN = 3  # changes that are shown
RELATIVE = "0 to 1: from the worst to the best of the three built-in styles on this plane; relative, not absolute"


def portrait_text(p: Portrait) -> str:
    """What the command prints, a screenful."""
    from scenarios.traits import TRAITS

    ways = list(p.ways)
    own = p.setup.way_of_flying
    names = [f"{way} *" if way == p.toward else way for way in ways]
    lines = [wrapped(f"{p.setup.name} on {p.setup.airframe.name}, set up for {own}"), ""]
    lines.append("flown as".ljust(27) + "".join(name.ljust(18) for name in names).rstrip())
    for trait in TRAITS:
        cells = [f"{p.ways[way][trait].word:<10}  {_score(p.ways[way][trait])}" for way in ways]
        lines.append(trait.ljust(27) + "".join(cell.ljust(18) for cell in cells).rstrip())
    lines.append(wrapped(f"{RELATIVE}{put_on(p)}."))
    lines += ["", f"* Why, flown as {p.toward} (in brackets: 0 to 1)"]
    for trait in TRAITS:
        judged = p.ways[p.toward][trait]
        lines.append(wrapped(f"{trait.capitalize()}, {judged.word}: {_decided(judged)}. {because(trait, p)}", "  ", ""))
    lines += ["", *_changes_text(p)]
    return "\n".join(lines)


def put_on(p: Portrait) -> str:
    return " (their CG, throws and exponential put on it)" if p.scaled else ""


def _score(judged: Judgement) -> str:
    return "-" if judged.score is None else f"{judged.score:.2f}"


def valued(mark: Mark) -> str:
    """A measure with its number, or why it has none."""
    unit = mark.part.measure.unit
    value = mark.outcome.value
    if value is None:
        return f"{mark.part.label}: {mark.outcome.reason.removeprefix('not measured: ')}"
    return f"{mark.part.label} {number(abs(value), _fine(unit, value))} {unit}".rstrip()


def _fine(unit: str, value: float) -> str:
    """The unit whose decimals suit a small rate."""
    return "" if unit == "deg/s" and abs(value) < 1.0 else unit


def _decided(judged: Judgement) -> str:
    """The best and the worst of the measures that count."""
    counted = sorted((m for m in judged.marks if m.mark is not None), key=lambda m: -m.mark)
    if not counted:
        return "nothing in it could be judged"
    shown = counted[:1] if len(counted) == 1 else [counted[0], counted[-1]]
    return "; ".join(f"{valued(m)} ({m.mark:.2f})" for m in shown)


def because(trait: str, p: Portrait) -> str:
    """One sentence from the setup's numbers: how CG, throws, exponential and thrust make the trait so."""
    f, throws = p.facts, p.setup.throws

    def value(manoeuvre: str, name: str) -> float | None:
        return p.outcomes[manoeuvre, name].value

    def throw(name: str) -> str:
        return f"{max(math.degrees(throws[name].positive), math.degrees(throws[name].negative)):.0f} deg"

    def curve(name: str) -> str:
        return f"{100.0 * throws[name].exponential:.0f} %"

    margin = f"margin {100.0 * f.static_margin:.1f} % of MAC"
    thrust = f"thrust {f.thrust_over_weight:.2f} of weight"
    if trait == "lines and resolution":
        steps = [f"{number(value('upline-45', name), '')} deg/s of {axis}"
                 for name, axis in (("pitch_step", "pitch"), ("roll_step", "roll"))]  # fmt: skip
        return (
            f"CG at {100.0 * f.cg_mac:.1f} %, {margin}, sets how lines bend; a link step at the centre is "
            f"{steps[0]}, {steps[1]}."
        )
    if trait == "rotation rates and stops":
        return (
            f"Aileron {throw('aileron')}: {_rate(value('roll-high-rates-right', 'steady_roll_rate'))} at full stick; "
            f"a unit of stick at the centre is {_rate(f.roll_per_stick)} with {curve('aileron')} exponential."
        )
    if trait == "slow high-alpha control":
        change = value("stall", "trim_change_with_speed")
        trim = "" if change is None else f"; the trim moves {abs(change):.1f} deg"
        alpha = value("harrier", "harrier_alpha")
        held = "do not hold a harrier" if alpha is None else f"hold a harrier at {alpha:.0f} deg of alpha"
        return f"Elevator {throw('elevator')}, {margin}, {thrust} {held}{trim}."
    if trait == "stall and recovery":
        return f"Elevator {throw('elevator')} with {margin} brings the stall, {thrust} ends it."
    if trait == "loads":
        speed = "" if f.pass_speed is None else f" at {f.pass_speed:.0f} m/s"
        return (
            f"Elevator {throw('elevator')}{speed} turns {_rate(f.full_stick_pitch_rate)} with {margin}; more speed or "
            "throw, more load."
        )
    shares = "/".join(curve(name).removesuffix(" %") for name in ("aileron", "elevator", "rudder"))
    return (
        f"At the centre a unit of stick is {_rate(f.roll_per_stick)} of roll, {_rate(f.pitch_per_stick)} of pitch "
        f"(exponential {shares} %)."
    )


def _rate(value: float | None) -> str:
    return "an unknown rate" if value is None else f"{value:.0f} deg/s"


def _shown(p: Portrait) -> list[Tried]:
    from scenarios.portrait import LEAST_GAIN

    return [t for t in p.tried if t.gain >= LEAST_GAIN and not t.chance][:SHOWN]


def _changes_text(p: Portrait) -> list[str]:
    from scenarios.traits import DEFINING

    shown = _shown(p)
    title = wrapped(
        f"Toward {p.toward}, one change at a time, by its gain in {DEFINING[p.toward]} (below 0.05: perhaps chance)"
    )
    if not shown:
        return [title, f"  none of the {len(p.tried)} changes tried clearly adds to it"]
    lines = [title]
    for n, t in enumerate(shown, 1):
        lines.append(wrapped(f"{n} {t.change}: +{t.gain:.2f}; {_step(t.up)}. {price_words(t, p)}", "  ", ""))
    return lines


def _step(move) -> str:
    _, _, before, after = move
    unit = before.part.measure.unit
    texts = [
        "not held" if o.value is None else number(abs(o.value), _fine(unit, o.value))
        for o in (before.outcome, after.outcome)
    ]
    return f"{before.part.label} {texts[0]} to {texts[1]} {unit}".rstrip()


def price_words(t: Tried, p: Portrait) -> str:
    """What a change costs in the setup's own way of flying."""
    if t.price is None:
        return "Price: none seen in these measures."
    before, after, _, _ = t.price
    return f"Price: {before.trait} {after.score - before.score:+.2f}, {_step(t.price)}."


# ---- document --------------------------------------------------------------------------------------------------------


def portrait_document(p: Portrait) -> dict[str, Any]:
    """The document of the command: every number with its unit."""
    from viewer.documents import quantity

    f = p.facts
    references = {way: {"setup": r.name, "cg": _cg(r), "throws": _throws(r)} for way, r in p.references.items()}
    return {
        "setup": p.setup.name,
        "airframe": p.setup.airframe.name,
        "way_of_flying": p.setup.way_of_flying,
        "toward": p.toward,
        "scale": {"about": f"{RELATIVE}{put_on(p)}", "put_on_this_plane": p.scaled, "references": references},
        "facts": {
            "cg_mac": quantity(100.0 * f.cg_mac, "%"),
            "static_margin": quantity(100.0 * f.static_margin, "%"),
            "thrust_over_weight": quantity(f.thrust_over_weight, ""),
            "roll_per_stick": quantity(f.roll_per_stick, "deg/s"),
            "pitch_per_stick": quantity(f.pitch_per_stick, "deg/s"),
            "full_stick_pitch_rate": quantity(f.full_stick_pitch_rate, "deg/s"),
            "pass_speed": quantity(f.pass_speed, "m/s"),
        },
        "ways": {
            way: {trait: _judgement(judged, way, p) for trait, judged in traits.items()}
            for way, traits in p.ways.items()
        },
        "why": {trait: because(trait, p) for trait in p.ways[p.toward]},
        "changes": [_tried(t) for t in p.tried],
        "not_tried": [{"change": change, "reason": reason} for change, reason in p.not_tried],
    }


def _cg(setup) -> dict[str, Any]:
    from viewer.documents import quantity

    value, kind = setup.cg
    return quantity(100.0 * value, "% of MAC") if kind == "mac" else quantity(1000.0 * value, "mm")


def _throws(setup) -> dict[str, Any]:
    from viewer.documents import quantity

    return {
        name: {
            "positive": quantity(math.degrees(t.positive), "deg"),
            "negative": quantity(math.degrees(t.negative), "deg"),
            "exponential": quantity(100.0 * t.exponential, "%"),
        }
        for name, t in setup.throws.items()
    }


def _judgement(judged: Judgement, way: str, p: Portrait) -> dict[str, Any]:
    from viewer.documents import quantity

    return {
        "score": quantity(judged.score, ""),
        "word": judged.word,
        "measures": [
            {
                **_measured(m),
                "better": m.part.measure.better[way],
                "mark": quantity(m.mark, ""),
                "note": m.note,
                "references": {
                    name: quantity(taken[m.part.key].value, m.part.measure.unit)
                    for name, taken in p.reference_outcomes.items()
                },
            }
            for m in judged.marks
        ],
    }


def _measured(mark: Mark) -> dict[str, Any]:
    from viewer.documents import quantity

    out = {"manoeuvre": mark.part.manoeuvre, "measure": mark.part.measure.name, "label": mark.part.label}
    out |= quantity(mark.outcome.value, mark.part.measure.unit)
    return out if mark.outcome.value is not None else {**out, "reason": mark.outcome.reason}


def _tried(t: Tried) -> dict[str, Any]:
    from viewer.documents import quantity

    def move(m) -> dict[str, Any] | None:
        if m is None:
            return None
        before, after, was, now = m
        return {
            "trait": before.trait,
            "score_before": quantity(before.score, ""),
            "score_after": quantity(after.score, ""),
            "before": _measured(was),
            "after": _measured(now),
        }

    return {
        "change": t.change,
        "gain": quantity(t.gain, ""),
        "gains_both_ways": t.chance,
        "moves": move(t.up),
        "price": move(t.price),
    }
