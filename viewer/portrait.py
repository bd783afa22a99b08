"""`upline portrait`: a setup's strengths and weaknesses for three ways of flying, why, and what would change them."""

from __future__ import annotations

import argparse
import math
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from models.errors import OptionError, Refused, UserError, nearest, printable, quoted
from viewer.text import Progress, number, wrapped

if TYPE_CHECKING:
    from scenarios.portrait import Portrait, Tried
    from scenarios.traits import Judgement, Mark

KINDS = (".png", ".svg", ".pdf")
SHOWN = 3  # changes that are shown
LONGEST_NOTE = 46  # characters below a bar of the picture
ABOUT = (
    "strengths and weaknesses of a setup for precision, extreme and slow 3D in six traits, why, and three changes. "
    "Judged relative to the three built-in styles on the same plane (0 the worst of them, 1 the best), not absolutely: "
    "where the plane has no setup for each way of flying, their CG, throws and exponential are put on it"
)
RELATIVE = "0 to 1: from the worst to the best of the three built-in styles on this plane; relative, not absolute"


def options(sub: argparse.ArgumentParser) -> None:
    """The options of the command."""
    sub.add_argument("setup", metavar="SETUP")
    sub.add_argument(
        "--toward", metavar="WAY", help="precision, extreme or slow 3D: what the changes are for (default: its own way)"
    )
    sub.add_argument(
        "--picture", metavar="FILE", help="draw it too: a .png, .svg or .pdf (needs matplotlib: pip install matplotlib)"
    )


def run(options: argparse.Namespace) -> int:
    """The command: 0, or an error as every command's."""
    from models.loader import load_setup
    from scenarios.measures import STYLES
    from viewer.command_line import prepare, print_result

    toward = " ".join(options.toward.split()).replace("slow-3d", "slow 3D") if options.toward is not None else ""
    if options.toward is not None and toward not in STYLES:
        near = " or ".join(quoted(name) for name in nearest(toward, STYLES))
        raise OptionError("--toward", Refused(quoted(options.toward), ", ".join(STYLES), near))
    picture = _picture_file(options.picture) if options.picture is not None else None
    setup = load_setup(options.setup)
    progress = prepare()
    from scenarios.portrait import portrait

    result = portrait(setup, toward, _time_left(progress))
    progress.clear()
    if picture is not None:
        draw(result, picture)
    print_result(portrait_text(result), portrait_document(result), options.json)
    return 0


def _picture_file(text: str) -> Path:
    """The file of --picture, whose folder exists; checked before anything is flown.  Raises `UserError`."""
    path = Path(text)
    if path.suffix.lower() not in KINDS:
        raise OptionError(
            "--picture", Refused(quoted(text), f"a file that ends in {', '.join(KINDS)}", '"portrait.png"')
        )
    if not path.parent.is_dir() or path.is_dir():
        raise OptionError("--picture", Refused(quoted(text), "a file in a folder that exists"))
    try:
        import matplotlib  # noqa: F401 - only whether it is there
    except ImportError:
        raise UserError("--picture: matplotlib is not installed; try: pip install matplotlib") from None
    return path


def _time_left(progress: Progress):
    started = time.monotonic()

    def show(done: int, total: int) -> None:
        left = (time.monotonic() - started) / done * (total - done)
        progress.note(f"setup {done} of {total} flown, about {left:.0f} s left" if done < total else "")

    return show


# ---- text ------------------------------------------------------------------------------------------------------------


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
    lines.append(wrapped(f"{RELATIVE}{_put_on(p)}."))
    lines += ["", f"* Why, flown as {p.toward} (in brackets: 0 to 1)"]
    for trait in TRAITS:
        judged = p.ways[p.toward][trait]
        lines.append(wrapped(f"{trait.capitalize()}, {judged.word}: {_decided(judged)}. {because(trait, p)}", "  ", ""))
    lines += ["", *_changes_text(p)]
    return "\n".join(lines)


def _put_on(p: Portrait) -> str:
    return " (their CG, throws and exponential put on it)" if p.scaled else ""


def _score(judged: Judgement) -> str:
    return "-" if judged.score is None else f"{judged.score:.2f}"


def _valued(mark: Mark) -> str:
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
    return "; ".join(f"{_valued(m)} ({m.mark:.2f})" for m in shown)


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
    title = wrapped(f"Toward {p.toward}, one change at a time, by its gain in {DEFINING[p.toward]}")
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
        "scale": {"about": f"{RELATIVE}{_put_on(p)}", "put_on_this_plane": p.scaled, "references": references},
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


# ---- picture ---------------------------------------------------------------------------------------------------------

SHADES = {
    "strong": "#1b4f72",
    "fair": "#7fa8c4",
    "weak": "#e3e3e3",
    "not judged": "#ffffff",
}  # dark to light in grey too


def draw(p: Portrait, file: Path) -> None:
    """One page: three panels, one for each way of flying, six bars each.  Raises `UserError` where it cannot be written."""
    import matplotlib
    from matplotlib.figure import Figure

    from scenarios.traits import STRONG, TRAITS, WEAK

    figure = Figure(figsize=(11.0, 6.0))
    panels = figure.subplots(1, 3, sharey=True)
    traits = list(TRAITS)
    for panel, (way, judged) in zip(panels, p.ways.items()):
        for row, trait in enumerate(traits):
            j = judged[trait]
            score = j.score or 0.0
            panel.barh(row, score, 0.5, color=SHADES[j.word], edgecolor="black", linewidth=0.8)
            text = j.word if j.score is None else f"{j.score:.2f} {j.word}"
            inside = score > 0.6
            panel.text(
                score - 0.02 if inside else score + 0.02, row, text, va="center", ha="right" if inside else "left",
                fontsize=9.5, color="white" if inside and j.word == "strong" else "black",
            )  # fmt: skip
            panel.text(0.012, row + 0.27, _deciding(j), va="top", fontsize=7.5)
        for limit in (WEAK, STRONG):
            panel.axvline(limit, color="0.6", linewidth=0.6, linestyle=(0, (1, 3)), zorder=0)
        own = " (its own way)" if way == p.setup.way_of_flying else ""
        panel.set_title(f"flown as {way}{own}", fontsize=11, pad=14, fontweight="bold" if own else "normal")
        panel.set_xlim(0.0, 1.0)
        panel.set_xticks([0.0, 0.5, 1.0], ["0", "0.5", "1"], fontsize=9)
        panel.text(0.0, 1.005, "worst", fontsize=8, transform=panel.transAxes, va="bottom")
        panel.text(1.0, 1.005, "best", fontsize=8, transform=panel.transAxes, va="bottom", ha="right")
        panel.spines[["top", "right"]].set_visible(False)
    panels[0].set_yticks(range(len(traits)), traits, fontsize=10.5)
    panels[0].set_ylim(len(traits) - 0.4, -0.6)
    figure.suptitle(f"{p.setup.name} on {p.setup.airframe.name}", fontsize=14, x=0.02, ha="left")
    notes = f"{RELATIVE}{_put_on(p)}.\n{_short_caution()}"
    figure.text(0.02, 0.02, notes, fontsize=8.5, va="bottom")
    figure.subplots_adjust(left=0.19, right=0.985, top=0.84, bottom=0.16, wspace=0.1)
    try:
        with matplotlib.rc_context({"svg.hashsalt": "upline"}):  # names inside the file that do not change
            figure.savefig(file, dpi=150, metadata=_undated(file))
    except OSError as error:
        raise UserError(f"--picture: {printable(str(file), 200)}: {error.strerror or error}") from None


def _deciding(judged: Judgement) -> str:
    """The measure that lies furthest from the middle, short enough to stand below a bar."""
    counted = [m for m in judged.marks if m.mark is not None]
    if not counted:
        return ""
    mark = max(counted, key=lambda m: abs(m.mark - 0.5))
    text = _valued(mark) if mark.outcome.value is not None else mark.outcome.reason
    return text if len(text) <= LONGEST_NOTE else text[: LONGEST_NOTE - 3].rstrip() + "..."


def _undated(file: Path) -> dict[str, None]:
    """Metadata that leaves the date out, so that the same portrait is the same file."""
    return {".svg": {"Date": None}, ".pdf": {"CreationDate": None}}.get(file.suffix.lower(), {})


def _short_caution() -> str:
    from viewer.words import CAUTIONS

    return CAUTIONS.split("; stand clear")[0] + "."
