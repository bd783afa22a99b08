"""Rudder mixes for knife edge: what elevator and aileron each side needs per rudder, at two speeds and two throttles."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from scenarios.cures.flights import knife_edge_let_go
from scenarios.cures.report import Cause, Cure, Option, Row, percent
from scenarios.cures.states import (
    DEG,
    PITCH,
    ROLL,
    changes_by_part,
    control_to_still,
    moments,
    moved,
    with_throttle,
)
from scenarios.manoeuvres import flyable
from scenarios.steady import steady_flight
from scenarios.sticks import angle, beyond_throttle, mixed_by, own_effects, set_trims
from sim import layout as L
from sim.build import Plane
from sim.description import Mix, Setup
from sim.transmitter import STICKS
from sim.trim import NoTrim, Trim

SPEEDS = (25.0, 18.0)  # m/s; mixes are set at the first
SIDES = {"right": 0.5 * math.pi, "left": -0.5 * math.pi}
AXES = {  # stick: column of moments, coupling, what its sign means to the plane and to the stick
    "elevator": (PITCH, "pitch", ("toward the canopy", "toward the gear"), ("up", "down")),
    "aileron": (ROLL, "roll", ("right", "left"), ("right", "left")),
}
RUDDER = STICKS.index("rudder")


@dataclass(frozen=True)
class Held:
    """One held knife edge: rudder stick (after its exponential, right positive) and what elevator and aileron have to
    show beyond trim and throttle mixes, as shares of full throw (up or right positive): at the throttle that it
    takes, and with full throttle."""

    side: str
    speed: float
    state: Trim
    rudder: float
    needed: dict[str, float]
    needed_at_full: dict[str, float]

    @property
    def label(self) -> str:
        return f"{self.side}, {self.speed:.0f} m/s"


def with_mix(
    setup: Setup, source: str, target: str, gain: float, points: tuple[tuple[float, float], ...] = ()
) -> Setup:
    """`setup` with one mix from `source` to `target`, of a gain or of `points`, in place of those it has between the two."""
    others = tuple(m for m in setup.mixes if (m.source, m.target) != (source, target))
    return replace(setup, mixes=(*others, Mix(source, target, gain, points)) if gain or points else others)


def hold(plane: Plane, level: Trim, side: str, speed: float) -> Held:
    """The knife edge of one side and speed.  Raises NoTrim with what stopped it."""
    state = steady_flight(plane, level, speed, -float(level.x[L.POSITION + 2]), 0.0, SIDES[side])
    full = with_throttle(plane, state, 1.0)
    extra = control_to_still(plane, full.x, full.command, {"aileron": ROLL, "elevator": PITCH})
    for stick, more in extra.items():
        full.command = moved(full.command, stick, more)

    def needed(trim: Trim) -> dict[str, float]:
        beyond = beyond_throttle(plane, trim)
        return {stick: float(beyond[STICKS.index(stick)]) for stick in AXES}

    return Held(side, speed, state, float(own_effects(plane, state)[RUDDER]), needed(state), needed(full))


def knife_edge_cures(setup: Setup, plane: Plane, level: Trim) -> list[Cure]:
    """Rudder to elevator, and rudder to aileron."""
    set_trims(plane, level)
    found: dict[tuple[str, float], Held] = {}
    reasons = []
    for side in SIDES:
        for speed in SPEEDS:
            try:
                found[side, speed] = hold(plane, level, side, speed)
            except NoTrim as stop:
                reasons.append(f"{side} knife edge, {speed:.0f} m/s: {stop}")
    return [_cure(stick, setup, plane, level, found, reasons) for stick in AXES]


def _cure(stick: str, setup: Setup, plane: Plane, level: Trim, found: dict, reasons: list[str]) -> Cure:
    column, turn, words, _ = AXES[stick]
    axis = STICKS.index(stick)
    cure = Cure("knife-edge", f"knife edge: {turn} with rudder", notes=list(reasons))
    set_at = {side: found[side, SPEEDS[0]] for side in SIDES if (side, SPEEDS[0]) in found}
    for side, held in set_at.items():
        at_trim = moved(held.state.command, stick, -angle(plane, axis, held.needed[stick]))
        before, after = moments(plane, level.x, level.command), moments(plane, held.state.x, at_trim)
        parts = changes_by_part(before, after, column)
        cure.causes += [Cause(f"{side} knife edge", part, moment, *words) for part, moment in parts]
    gains = {side: held.needed[stick] / held.rudder for side, held in set_at.items()}
    if not gains:
        cure.reason, cure.notes = "; ".join(reasons), []
        return cure
    columns = [(f"{side} side", Mix("rudder", stick, gain)) for side, gain in gains.items()]
    if len(gains) == 2:
        columns.append(("both sides, one straight mix", Mix("rudder", stick, 0.5 * sum(gains.values()))))
        # right knife edge is held with left rudder, and the other way round
        ends = {math.copysign(1.0, held.rudder): gains[side] for side, held in set_at.items()}
        if len(ends) == 2:
            points = (-1.0, -ends[-1.0]), (0.0, 0.0), (1.0, ends[1.0])
            columns.append(("each rudder by itself", Mix("rudder", stick, points=points)))
    kept = []
    for label, mix in columns:
        most = max((mix.at(-1.0), mix.at(1.0)), key=abs)
        if abs(most) > 1.0:
            cure.notes.append(f"{label}: the mix would need {percent(most)}, more than 100 % of the {stick} throw.")
            continue
        kept.append(mix)
        shown = [held.side for held in found.values()].index(label.split()[0]) if label.split()[0] in SIDES else 0
        cure.options.append(_option(label, mix, plane, 3 * shown + 2))
    if not kept:
        cure.reason = " ".join(cure.notes)
        return cure
    planes = [plane] + [flyable(with_mix(setup, "rudder", stick, mix.gain, mix.points)) for mix in kept]
    for held in found.values():
        _left_over(cure, stick, planes, level, held)
    _price(cure, stick, planes, level)
    for side, gain in gains.items():
        slow = found.get((side, SPEEDS[1]))
        if slow is not None and slow.needed[stick] / slow.rudder * gain < 0.0:
            cure.notes.append(
                f"At {SPEEDS[1]:.0f} m/s the {side} side needs the {stick} the other way: what cures {SPEEDS[0]:.0f} m/s "
                f"worsens {SPEEDS[1]:.0f}."
            )
    if len(gains) == 2:
        same = gains["right"] * gains["left"] > 0.0
        cure.notes.append(
            f"Both sides need the {stick} on the same side of the mix: one straight mix serves them, as far as the table "
            "says."
            if same
            else f"Right and left knife edge need the same {stick} with opposite rudder: a straight mix serves one side and "
            "worsens the other. Mix each rudder direction by itself."
        )
    return cure


def _option(label: str, mix: Mix, plane: Plane, made_for: int) -> Option:
    """The option of one mix from the rudder, straight or with a gain for each side."""
    stick = mix.target
    axis = STICKS.index(stick)
    right, left = angle(plane, axis, mix.at(1.0)) * DEG, angle(plane, axis, mix.at(-1.0)) * DEG
    if mix.points:
        gain = f"{{left: {percent(mix.at(-1.0))}, right: {percent(mix.at(1.0))}}}"
        change = f"rudder to {stick} {percent(mix.at(-1.0))} left, {percent(mix.at(1.0))} right"
        amounts = (
            ("full left rudder adds", 100.0 * mix.at(-1.0), "%"),
            ("full right rudder adds", 100.0 * mix.at(1.0), "%"),
            (f"{stick} per full left rudder", left, "deg"),
            (f"{stick} per full right rudder", right, "deg"),
        )
    else:
        gain, change = percent(mix.gain), f"rudder to {stick} {percent(mix.gain)}"
        amounts = (("gain", 100.0 * mix.gain, "%"), (f"{stick} per full right rudder", right, "deg"))
    return Option(label, f"mixes > - {{from: rudder, to: {stick}, gain: {gain}}}", change, amounts, made_for)


def _left_over(cure: Cure, stick: str, planes: list[Plane], level: Trim, held: Held) -> None:
    """Stick still to hold, exactly; then flown, the stick let go."""
    _, turn, words, stick_words = AXES[stick]
    axis = STICKS.index(stick)
    for needed, power in ((held.needed, ""), (held.needed_at_full, ", full throttle")):
        left = (needed[stick] - float(mixed_by(plane, "rudder", held.rudder)[axis]) for plane in planes)
        values = tuple(angle(planes[0], axis, share) * DEG for share in left)
        cure.left.append(Row(f"{held.label}{power}: {stick} to hold", "deg", values, *stick_words))
    flown = [knife_edge_let_go(plane, level, held.state)[0 if stick == "elevator" else 1] for plane in planes]
    time = 2 if stick == "elevator" else 1
    cure.left.append(Row(f"{held.label}: {turn} in {time} s, let go", "deg", tuple(flown), *words))


def _price(cure: Cure, stick: str, planes: list[Plane], level: Trim) -> None:
    """What half rudder then does in level flight, at once: acceleration in the mixed axis."""
    column, turn, words, _ = AXES[stick]
    plane, axis = planes[0], STICKS.index(stick)
    inertia = plane.mass.inertia[axis, axis]
    for side, rudder in (("right", 0.5), ("left", -0.5)):
        values = []
        for one in planes:
            command = moved(level.command, "rudder", angle(plane, RUDDER, rudder))
            command = moved(command, stick, angle(plane, axis, float(mixed_by(one, "rudder", rudder)[axis])))
            values.append(float(moments(plane, level.x, command)[:, column].sum()) / inertia * DEG)
        cure.price.append(Row(f"level, half {side} rudder: {turn} at once", "deg/s2", tuple(values), *words))
