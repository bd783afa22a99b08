"""Sentences made from numbers, and the cautions that go with every piece of advice."""

from __future__ import annotations

import math

from scenarios.account import Account
from scenarios.compare import Comparison, Row
from scenarios.differences import Difference
from scenarios.schema import WindPart
from viewer.text import number, wrapped

CAUTIONS = (
    "A simulation clears nothing to fly. Move in small steps, at height, away from people, after a range check and "
    "with failsafe set; stand clear of the propeller. Inspect for flutter and spar damage: glue joints, hinges and "
    "flutter are not seen here. Local rules, your club and experienced pilots decide."
)

NO_TORQUE = "servo torque not given: blow-back is not seen"


def cautions() -> str:
    """The cautions, filled to the width of a terminal."""
    return wrapped(CAUTIONS)


def meaning(row_or_measure, value: float | None) -> str:
    """The word for the sign of a value, such as "toward the canopy"; empty where there is none."""
    measure = getattr(row_or_measure, "measure", row_or_measure)
    if value is None or float(number(value, measure.unit)) == 0.0:
        return ""
    return measure.positive if value > 0.0 else measure.negative


# measures worth a sentence, how they read, and the difference that a pilot would notice
TOLD = (
    ("upline-45", "pitch_drift", "Hands off on the upright 45-degree line", 1.0),
    ("upline-45-inverted", "pitch_drift", "Hands off on the inverted 45-degree line", 1.0),
    ("knife-edge-right", "pitch_coupling", "With the elevator let go in right knife edge", 3.0),
    ("knife-edge-left", "pitch_coupling", "With the elevator let go in left knife edge", 3.0),
    ("level-trim", "pitch_response", "Pitch answers a degree of elevator", 0.5),
    ("stall", "stall_speed", "The stall comes", 0.2),
    ("hover", "torque_roll_rate", "With the ailerons let go in the hover", 10.0),
)


def what_changed(comparison: Comparison) -> list[str]:
    """Plain sentences on the largest differences between the setups; only what was measured for all of them."""
    rows = {(row.manoeuvre, row.measure.name): row for row in comparison.rows}
    margins = [100.0 * b.static_margin for b in comparison.balances]
    shown = [f"{number(m, '%')} % of MAC" for m in margins]
    said = ["Static margin: " + _each(comparison.setups, shown) + "."] if len(set(shown)) > 1 else []
    for manoeuvre, name, opening, least in TOLD:
        row = rows.get((manoeuvre, name))
        if row is None or any(v is None for v in row.values) or max(row.values) - min(row.values) < least:
            continue
        said.append(f"{opening}: " + _each(comparison.setups, [_in_words(row, v) for v in row.values]) + ".")
    for row in comparison.rows:
        missing = [s for s, v in zip(comparison.setups, row.values) if v is None]
        if (
            missing
            and len(missing) < len(comparison.setups)
            and row.measure.name in ("aileron_to_stop_roll", "elevator_to_hold")
        ):
            reason = next(r for r in row.reasons if r)
            said.append(f"{row.manoeuvre}, {', '.join(missing)}: {reason.removeprefix('not measured: ')}.")
    return said or ["Nothing that these sentences look at differs by as much as a pilot would notice."]


def at_once(found: list[Difference]) -> list[str]:
    """A caution when more than one thing differs between the files of setups; what a setup is for is no such thing."""
    names = ["exponential" if d.path[-1] == "exponential" else d.path[0] for d in found]
    names = list(dict.fromkeys(name.replace("cg", "CG") for name in names if name != "way of flying"))
    if len(names) < 2:
        return []
    listed = ", ".join(names[:-1]) + f" and {names[-1]}"
    return [f"The setups differ in {listed} at once: which of them did what is not told apart here."]


def _in_words(row: Row, value: float) -> str:
    shown = abs(value) if row.measure.positive else value
    return f"{number(shown, row.measure.unit)} {row.measure.unit} {meaning(row, value)}".strip()


def _each(names: list[str], texts: list[str]) -> str:
    return "; ".join(f"{name} {text}" for name, text in zip(names, texts))


def causes(account: Account) -> str:
    """A sentence that names the parts with the largest change of moment from level trim, per axis."""
    level = {p.part: p for p in account.level}
    axes = (
        ("pitch", "toward the canopy", "toward the gear"),
        ("roll", "to the right", "to the left"),
        ("yaw", "nose right", "nose left"),
    )
    said = []
    for axis, positive, negative in axes:
        changes = [(getattr(p, axis) - getattr(level[p.part], axis), p.part) for p in account.parts]
        changes = sorted(changes, key=lambda c: -abs(c[0]))[:3]
        named = [f"{part} {abs(c):.2f} N m {positive if c > 0 else negative}" for c, part in changes if abs(c) >= 0.05]
        if named:
            said.append(f"{axis.capitalize()}, against level trim: {', '.join(named)}.")
    return "\n".join(wrapped(s, "  ", "") for s in said)


def wind_line(wind: WindPart) -> str:
    """The wind of a flight in words, with the seed that it takes to fly it again."""
    parts = [
        f"wind: {wind.speed:.1f} m/s from {math.degrees(wind.from_):.0f} deg at {wind.at:.0f} m"
        if wind.speed
        else "wind: calm"
    ]
    if wind.turbulence:
        strength = "as the wind" if wind.turbulence < 0.0 else f"of {wind.turbulence:.1f} m/s at 20 ft"
        parts.append(f"turbulence {strength}, seed {wind.seed}")
    if wind.gust:
        parts.append(f"gust of {wind.gust.speed:.1f} m/s over {wind.gust.length:.0f} m")
    return "; ".join(parts)
