"""Flights as the page holds them: a few channels, thinned and packed, phases, and how they ended."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenarios.account import Account, account
from scenarios.manoeuvres import Flown
from scenarios.measures import NotMeasured
from scenarios.outcomes import outcome
from sim import layout as L
from sim.integration import FRAME
from sim.recording import STATE_AT

DEG = 180.0 / np.pi
EVERY = 4  # frames between two kept ones, at least
MOST_NUMBERS = 600_000  # over all flights of a page, some 1.6 MB
SHADES, SHADED, STALLS = (
    16,
    10,
    0.1,
)  # of a stall map: shades, frames a column; share of the wing from which there is one
STEPS, MISSING = 65534, 65535  # of a packed channel


@dataclass(frozen=True)
class Channel:
    """A recorded channel as a chart has it: `factor` times the record is in `unit`; `positive` says which way that is."""

    name: str
    label: str
    unit: str
    factor: float = 1.0
    positive: str = ""


CHANNELS = (
    Channel("airspeed", "airspeed", "m/s"),
    Channel("height", "height above the field", "m"),
    Channel("climb rate", "climb rate", "m/s", positive="up"),
    Channel("path angle", "path above the horizon", "deg", DEG, "climbing"),
    Channel("pitch", "nose above the horizon", "deg", DEG, "up"),
    Channel("bank", "bank", "deg", DEG, "right wing down"),
    Channel("heading", "heading of the nose", "deg", DEG, "from north"),
    Channel("alpha", "angle of attack", "deg", DEG, "air from below"),
    Channel("beta", "sideslip", "deg", DEG, "wind from the right"),
    Channel("pitch rate", "pitch rate", "deg/s", DEG, "toward the canopy"),
    Channel("roll rate", "roll rate", "deg/s", DEG, "right"),
    Channel("yaw rate", "yaw rate", "deg/s", DEG, "nose right"),
    Channel("load z", "load factor", "g", positive="toward the canopy"),
    Channel("load y", "side load", "g", positive="right"),
    Channel("stalled", "share of the wing stalled", "%", 100.0),
    Channel("elevator stick", "elevator stick", "%", 100.0, "pull"),
    Channel("aileron stick", "aileron stick", "%", 100.0, "right"),
    Channel("rudder stick", "rudder stick", "%", 100.0, "right"),
    Channel("throttle", "throttle stick", "%", 100.0),
    Channel("left aileron", "left aileron", "deg", DEG, "trailing edge down"),
    Channel("right aileron", "right aileron", "deg", DEG, "trailing edge down"),
    Channel("elevator", "elevator", "deg", -DEG, "up"),
    Channel("rudder", "rudder", "deg", -DEG, "right"),
    Channel("thrust", "thrust", "N"),
)
# what a manoeuvre's charts show first, by how its name begins
FIRST = {
    "level": ("height", "pitch"), "upline": ("pitch rate", "path angle"), "downline": ("pitch rate", "path angle"),
    "vertical": ("path angle", "airspeed"), "knife-edge": ("pitch rate", "bank"), "stall": ("airspeed", "alpha"),
    "hover": ("roll rate", "height"), "harrier": ("alpha", "bank"), "roll": ("roll rate", "height"),
    "snap": ("roll rate", "alpha"), "spin": ("yaw rate", "height"), "flat-spin": ("yaw rate", "height"),
    "loop": ("load z", "airspeed"), "high-speed": ("load z", "airspeed"),
}  # fmt: skip
USUAL = ("airspeed", "pitch rate")


def first_channels(manoeuvre: str) -> tuple[str, str]:
    """The channels that the charts of a manoeuvre begin with."""
    return next((names for start, names in FIRST.items() if manoeuvre.startswith(start)), USUAL)


@dataclass(frozen=True)
class Trace:
    """One flight: `time` (n,) s, `values` (channels, n) in CHANNELS' units, `place` (n, 3) north, east, height in m,
    `attitude` (n, 4) quaternion; `phases` (name, start s); `zero`, the start of the phase that the first measure is of;
    `span` (strips,) places of the wing's strips in half-spans, right positive, `separated` (n, strips) 0 to 1."""

    manoeuvre: str
    setup: str
    time: np.ndarray
    values: np.ndarray
    place: np.ndarray
    attitude: np.ndarray
    phases: tuple[tuple[str, float], ...]
    zero: float
    looked_at: str
    ending: str
    words: str
    why: Account | None
    span: np.ndarray
    separated: np.ndarray


def trace_of(flown: Flown) -> Trace:
    """What the page keeps of a flight, and the account of its first measure's phase."""
    flight = flown.flight
    try:
        why = account(flown)
    except NotMeasured:
        why = None
    starts = [
        (phase.name, FRAME * int(start))
        for phase, start in zip(flown.manoeuvre.phases, flight.phase_start)
        if start >= 0
    ]
    became = outcome(flown)
    ended = flight.ending
    if ended != "completed":
        ended += f' in "{flown.manoeuvre.phases[flight.phase].name}"'
    states = flight.rows[:, STATE_AT:]
    model = flown.plane.model
    strips = [i for i in range(int(model[L.N_STRIPS])) if model[L.PART + i] in (L.WING_LEFT, L.WING_RIGHT)]
    return Trace(
        flown.manoeuvre.name, flown.setup.name, flight.channel("time"),
        np.array([c.factor * _unwrapped(c, flight.channel(c.name)) for c in CHANNELS]),
        np.stack([flight.channel(name) for name in ("north", "east", "height")], axis=1),
        states[:, L.QUATERNION : L.QUATERNION + 4].copy(), tuple(starts),
        dict(starts).get(why.phase, 0.0) if why else 0.0, why.phase if why else "", ended,
        became.words if became else "", why,
        np.array([model[L.Y + i] + flown.plane.mass.cg[1] for i in strips]) / (0.5 * flown.plane.span),
        1.0 - states[:, [L.SEPARATION + i for i in strips]],
    )  # fmt: skip


def _unwrapped(channel: Channel, values: np.ndarray) -> np.ndarray:
    """An angle that jumps at 180 deg counted on through its jumps."""
    return np.unwrap(values) if channel.name in ("bank", "heading") and np.isfinite(values).all() else values


def step_for(traces: list[Trace]) -> int:
    """Frames between two that are kept, so that the page stays small enough."""
    numbers = sum(len(trace.time) for trace in traces) * (len(CHANNELS) + 7)
    return max(EVERY, -(-numbers // MOST_NUMBERS))


def packed(values: np.ndarray) -> dict[str, Any]:
    """`values` in 65534 steps between the least and the largest, as text; what is not finite is marked as missing."""
    finite = np.isfinite(values)
    low, high = (float(f(values[finite])) for f in (np.min, np.max)) if finite.any() else (0.0, 0.0)
    share = (np.where(finite, values, low) - low) / ((high - low) or 1.0)
    steps = np.where(finite, np.rint(STEPS * share), MISSING).astype("<u2")
    return {"low": low, "high": high, "data": base64.b64encode(steps.tobytes()).decode("ascii")}


def unpacked(entry: dict[str, Any]) -> np.ndarray:
    """What was `packed`, NaN where it was missing."""
    steps = np.frombuffer(base64.b64decode(entry["data"]), "<u2").astype(float)
    return np.where(steps == MISSING, np.nan, entry["low"] + (entry["high"] - entry["low"]) * steps / STEPS)


def trace_document(trace: Trace, setup: int, every: int) -> dict[str, Any]:
    """The flight of setup number `setup` for the page's scripts."""
    begin = round(trace.zero / FRAME) % every  # so that time 0 is one of the frames that are kept
    kept = slice(begin, None, every)
    return {
        "setup": setup,
        "frames": len(trace.time[kept]),
        "begin": round(FRAME * begin, 3),
        "step": FRAME * every,
        "zero": round(trace.zero, 3),
        "phases": [[name, round(start, 3)] for name, start in trace.phases],
        "channels": {c.name: packed(row[kept]) for c, row in zip(CHANNELS, trace.values)},
        "place": [packed(trace.place[kept, n]) for n in range(3)],
        "attitude": [packed(trace.attitude[kept, n]) for n in range(4)],
        **({"stall": _stall_map(trace)} if stalls(trace) else {}),
    }


def stalls(trace: Trace) -> bool:
    """Whether so much of the wing stalled that a map of it has something to show."""
    return float(np.nanmax(_stalled(trace), initial=0.0)) >= STALLS


def _stalled(trace: Trace) -> np.ndarray:
    """Share of the wing's area that is more than half separated, (n,)."""
    return trace.values[[c.name for c in CHANNELS].index("stalled")] / 100.0


def _stall_map(trace: Trace) -> dict[str, Any]:
    """Separation of every strip, a hexadecimal digit each, a text a strip from the left tip to the right."""
    shades = np.rint((SHADES - 1) * np.nan_to_num(np.clip(trace.separated[::SHADED], 0.0, 1.0))).astype(int)
    return {
        "step": FRAME * SHADED,
        "span": [round(float(y), 4) for y in trace.span],
        "rows": ["".join(f"{shade:x}" for shade in strip) for strip in shades.T],
    }


def stall_text(trace: Trace) -> str:
    """What a stall map shows, for who cannot see it."""
    gone = trace.separated > 0.5
    when = int(np.argmax(gone.any(axis=1)))
    where = trace.span[gone[when]]
    first = where[np.argmin(np.abs(where))]
    other = np.any(np.abs(where + first) < 0.01)
    side = "each" if other else "the right" if first > 0.0 else "the left"
    most = _stalled(trace)
    return (
        f"Stall over the wing and time in {trace.manoeuvre}, {trace.setup}: the first strip to be more than half separated "
        f"lies at {100.0 * abs(first):.0f} % of {side} half-span, {trace.time[when] - trace.zero:.1f} s; at most "
        f"{100.0 * np.nanmax(most):.0f} % of the wing is stalled, {trace.time[int(np.nanargmax(most))] - trace.zero:.1f} s."
    )


def alt_text(manoeuvre: str, channel: Channel, traces: list[Trace]) -> str:
    """What a chart shows, for who cannot see it."""
    index = CHANNELS.index(channel)
    said = []
    for trace in traces:
        row = trace.values[index][np.isfinite(trace.values[index])]
        if len(row):
            said.append(f"{trace.setup} from {row.min():.1f} to {row.max():.1f}, at the end {row[-1]:.1f}")
    way = f", {channel.positive} positive" if channel.positive else ""
    return f"{channel.label} in {channel.unit} over time in {manoeuvre}{way}: {'; '.join(said) or 'no flight'}."
