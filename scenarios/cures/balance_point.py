"""CG: where the 45-degree up-line needs no elevator, upright and inverted, and the static margin that leaves."""

from __future__ import annotations

import math
from collections.abc import Callable

from scipy.optimize import brentq

from scenarios.ballast import free_tray
from scenarios.cures.flights import hands_off
from scenarios.cures.report import Cause, Cure, Option, Row
from scenarios.cures.states import DEG, PITCH, changes_by_part, fastest_straight, moments, moved, speed_of, straight
from scenarios.manoeuvres import flyable
from scenarios.sticks import angle, beyond_throttle, set_trims
from sim import layout as L
from sim.build import Plane, with_cg
from sim.description import Setup
from sim.linearisation import pitch_stability
from sim.transmitter import STICKS
from sim.trim import NoTrim, Trim, level_trim

SPEED, CLIMB = 25.0, 0.25 * math.pi  # m/s, rad
ELEVATOR = STICKS.index("elevator")
LINES = {"upright": 0.0, "inverted": math.pi}
LEAST_MARGIN = 0.05  # of MAC: below it a CG is not to be followed
SEARCH = 0.25  # of MAC, ahead of and behind the present CG
PITCHES = ("toward the canopy", "toward the gear")


class Balances:
    """The plane over its CG (m aft of the wing root leading edge): level trim, margin, and what its lines ask for."""

    def __init__(self, setup: Setup, speeds: dict[str, float]):
        self.setup, self.speeds = free_tray(setup), speeds
        self.known: dict[float, tuple[Plane, Trim]] = {}

    def at(self, cg: float) -> tuple[Plane, Trim]:
        """The plane and its level flight."""
        if cg not in self.known:
            plane = flyable(with_cg(self.setup, cg, "m"))
            self.known[cg] = plane, level_trim(plane, SPEED, 100.0)
            set_trims(*self.known[cg])
        return self.known[cg]

    def line(self, cg: float, line: str) -> Trim:
        """Steady flight on the line."""
        return straight(*self.at(cg), self.speeds[line], CLIMB, LINES[line])

    def elevator(self, cg: float, line: str) -> float:
        """Elevator (rad, up) that the line needs beyond the trim of level flight and what the throttle mixes in."""
        plane, _ = self.at(cg)
        return angle(plane, ELEVATOR, float(beyond_throttle(plane, self.line(cg, line))[ELEVATOR]))

    def margin(self, cg: float) -> float:
        """Static margin, fraction of MAC."""
        return pitch_stability(*self.at(cg)).static_margin

    def trim(self, cg: float) -> float:
        """Elevator (rad, up) of level flight."""
        return -self.at(cg)[1].elevator

    def answer(self, cg: float) -> float:
        """Pitch acceleration, at once, per degree of elevator in level flight, deg/s2."""
        plane, level = self.at(cg)
        pulled = moments(plane, level.x, moved(level.command, "elevator", 1.0 / DEG))
        return float(pulled[:, PITCH].sum()) / plane.mass.inertia[1, 1] * DEG

    def drift(self, cg: float, line: str) -> float:
        """Pitch rate hands off, deg/s, flown."""
        return hands_off(*self.at(cg), self.line(cg, line))[0]


def cg_cures(setup: Setup, plane: Plane, level: Trim) -> list[Cure]:
    """The CG for the upright line, for the inverted one, where both drift alike, and the last one with a margin of 5 %."""
    cure = Cure("cg", "45-degree up-line: pitch hands off")
    speeds: dict[str, float] = {}
    for line, roll in LINES.items():
        try:
            state = fastest_straight(plane, level, SPEED, CLIMB, roll)
        except NoTrim as stop:
            cure.notes.append(f"{line}: {stop}")
            continue
        # a little slower than what full throttle holds, so that a CG further aft, with more drag, still holds it
        speeds[line] = speed_of(state) - (0.5 if speed_of(state) < SPEED - 0.01 else 0.0)
        at_trim = moved(state.command, "elevator", float((state.command - level.command)[L.ELEVATOR]))
        parts = changes_by_part(moments(plane, level.x, level.command), moments(plane, state.x, at_trim), PITCH)
        cure.causes += [Cause(f"{line} line", part, moment, *PITCHES) for part, moment in parts]
    if not speeds:
        cure.reason, cure.notes = "; ".join(cure.notes), []
        return [cure]
    balances = Balances(setup, speeds)
    places = _places(cure, balances, plane)
    if not places:
        cure.reason, cure.notes = " ".join(cure.notes), []
        return [cure]
    for label, cg in places:
        line = next((n for n, name in enumerate(speeds) if name in label.split()), len(speeds) - 1)
        cure.options.append(_option(cure, label, line, cg, setup, plane, balances))
    stations = [plane.cg_station, *(cg for _, cg in places)]
    for line, speed in speeds.items():
        drifts, held = _each(balances.drift, stations, line), _each(balances.elevator, stations, line)
        cure.left.append(Row(f"{line}, {speed:.0f} m/s: pitch rate hands off, 3 s", "deg/s", drifts, *PITCHES))
        cure.left.append(Row(f"{line}, {speed:.0f} m/s: elevator to hold", "deg", _in_degrees(held), "up", "down"))
    margins = tuple(None if m is None else 100.0 * m for m in _each(balances.margin, stations))
    cure.price.append(Row("static margin", "% of MAC", margins))
    cure.price.append(
        Row(f"level, {SPEED:.0f} m/s: elevator trim", "deg", _in_degrees(_each(balances.trim, stations)), "up", "down")
    )
    cure.price.append(Row("level: pitch answer to 1 deg of elevator", "deg/s2", _each(balances.answer, stations)))
    return [cure]


def _each(find: Callable[..., float], stations: list[float], *more: str) -> tuple[float | None, ...]:
    """The quantity at each CG; None where there is no steady flight."""
    out: list[float | None] = []
    for cg in stations:
        try:
            out.append(float(find(cg, *more)))
        except NoTrim:
            out.append(None)
    return tuple(out)


def _in_degrees(angles: tuple[float | None, ...]) -> tuple[float | None, ...]:
    return tuple(None if angle is None else angle * DEG for angle in angles)


def _places(cure: Cure, balances: Balances, plane: Plane) -> list[tuple[str, float]]:
    """CG stations by what they are for."""
    places = []
    for line in balances.speeds:
        cg = _root(lambda c, line=line: balances.elevator(c, line), plane)
        if cg is None:
            cure.notes.append(f"{line}: no CG within {100 * SEARCH:.0f} % of MAC makes the line need no elevator.")
        else:
            places.append((f"for the {line} line", cg))
    if len(balances.speeds) == 2:
        cg = _root(lambda c: balances.drift(c, "upright") + balances.drift(c, "inverted"), plane)
        if cg is not None:
            places.append(("as much drift upright as inverted", cg))
    cg = _root(lambda c: balances.margin(c) - LEAST_MARGIN, plane)
    if cg is not None:
        places.append(("last one with a margin of 5 %", cg))
    return places


def _root(find: Callable[[float], float], plane: Plane) -> float | None:
    """The CG nearest the present one at which `find` is zero, or None; looked for outwards in steps of 2.5 % MAC."""
    here, step = plane.cg_station, 0.025 * plane.mac

    def value(cg: float) -> float:
        try:
            return find(cg)
        except NoTrim:
            return math.nan

    middle = value(here)
    fore = aft = middle
    for n in range(1, int(SEARCH / 0.025) + 1):
        ahead, behind = value(here - n * step), value(here + n * step)
        for inner, outer, sign in ((aft, behind, 1), (fore, ahead, -1)):
            if inner * outer <= 0.0:
                try:
                    return float(brentq(find, here + sign * (n - 1) * step, here + sign * n * step, xtol=1e-5))
                except NoTrim:
                    return None
        fore, aft = ahead, behind
    return None


def _option(cure: Cure, label: str, line: int, cg: float, setup: Setup, plane: Plane, balances: Balances) -> Option:
    """The move in mm and % MAC, where the item goes, and what forbids it; `line` counts the line that it is shown on."""
    item = {item.name: item for item in setup.airframe.items}[setup.moved_item]
    now = -next(i.at[0] for i in plane.items if i.name == item.name)
    goes = now + (cg - plane.cg_station) * plane.mass.mass / item.mass
    tray = sorted(-x for x in item.slide or (0.0, 0.0))
    margin = balances.margin(cg)
    share = plane.mac_of_station(cg)
    aft, way = cg - plane.cg_station, "aft" if cg >= plane.cg_station else "forward"
    amounts = (
        (f"CG moved {way}", 1000.0 * abs(aft), "mm"),
        ("or", 100.0 * abs(aft) / plane.mac, "% of MAC"),
        (f"{item.name} at", 1000.0 * goes, "mm"),
        ("static margin", 100.0 * margin, "% of MAC"),
    )
    warnings = []
    if not tray[0] - 1e-9 <= goes <= tray[1] + 1e-9:
        warnings.append("past its tray")
        cure.notes.append(
            f"CG {label}: the {item.name} would have to sit at {1000 * goes:.0f} mm; its tray reaches from "
            f"{1000 * tray[0]:.0f} to {1000 * tray[1]:.0f} mm."
        )
    if margin < LEAST_MARGIN - 5e-4:
        warnings.insert(0, "do not follow")
        cure.notes.append(
            f"CG {label}: it leaves a static margin of {100 * margin:.1f} % of MAC, under 5 %. Do not follow it."
        )
    change = f"CG {1000 * abs(aft):.0f} mm {way}, margin {100 * margin:.1f} %"
    return Option(label, f"cg: {100 * share:.1f} %", change, amounts, 2 * line, ", ".join(warnings))
