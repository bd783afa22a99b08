"""From a manoeuvre file to the table of phases that the kernel interprets (`sim.phases`)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scenarios.schema import HOLDS, STICKS, ManoeuvreFile, PhasePart, StickWish
from scenarios.sticks import mode_number
from sim import phases as P
from sim.recording import INDEX
from sim.transmitter import NORMAL, RATES

STICK_ROW = {name: P.STICKS + P.STICK_COLUMNS * axis for axis, name in enumerate(STICKS)}
RELEASE_TIME = 0.05  # s for a stick to spring back (common practice, no source)
PATHS = {"attitude": 0.0, "height": 1.0, "path": 2.0, "place": 3.0}
HELD_MODE = {"roll rate": P.HOLD_RATE, "pitch rate": P.HOLD_RATE, "yaw rate": P.HOLD_RATE, "height": P.STICK_HOLDS_HEIGHT,
             "airspeed": P.STICK_HOLDS_SPEED, "path angle": P.HOLD_PATH, "track": P.HOLD_PATH,
             "alpha": P.HOLD_FLOW, "sideslip": P.HOLD_FLOW}  # fmt: skip
# what changes sign in a mirror in the plane of symmetry
MIRRORED_CHANNELS = ("bank", "heading", "track", "beta", "roll rate", "yaw rate", "east", "load y", "aileron stick",
                     "rudder stick", "rolled", "turned", "wind east")  # fmt: skip
MIRRORED_STICKS = ("aileron", "rudder")


def compile_phases(manoeuvre: ManoeuvreFile, mirrored: bool = False, modes: Sequence[str] = (NORMAL,)) -> np.ndarray:
    """The table, shape (phases, phases.COLUMNS).  What a phase does not name goes on from the phase before.

    `mirrored`: right and left change places.  `modes` are the names of the setup's flight modes.  Raises `OptionError`
    when the manoeuvre names another.
    """
    table = np.zeros((len(manoeuvre.phases), P.COLUMNS))
    start = manoeuvre.start
    for i, phase in enumerate(manoeuvre.phases):
        if i:
            table[i] = _carried_on(table[i - 1])
        else:
            _switch(start.rates, start.mode, table[0], modes, f"{manoeuvre.name}: start > mode")
        _switch(phase.rates, phase.mode, table[i], modes, f"{manoeuvre.name}: phases > {phase.name} > mode")
        _write(phase, table[i], manoeuvre.start.airspeed or 0.0)
    if mirrored:
        for row in table:
            _mirror(row)
    return table


def _carried_on(before: np.ndarray) -> np.ndarray:
    row = before.copy()
    for at in (*STICK_ROW.values(), P.THROTTLE):
        if row[at] in (P.MOVE, P.DOUBLET, P.SWEEP):  # it is over: the stick stays where it went
            row[at] = P.KEEP
    row[P.CONDITIONS : P.JOIN + 1] = 0.0
    row[P.AIM] = 0.0
    return row


def _write(phase: PhasePart, row: np.ndarray, start_airspeed: float) -> None:
    row[P.LIMIT] = phase.for_ if phase.for_ is not None else phase.at_most
    row[P.NEEDS_CONDITION] = 0.0 if phase.until is None else 1.0
    if phase.until:
        row[P.JOIN] = 1.0 if phase.when == "any" else 2.0
        for i, condition in enumerate(phase.until):
            at = P.CONDITIONS + 3 * i
            row[at : at + 3] = INDEX[condition.channel], condition.sign, condition.value
    for stick, at in STICK_ROW.items():
        wish = getattr(phase, stick)
        if stick in phase.pilot:
            row[at : at + P.STICK_COLUMNS] = P.PILOT, 0.0, 0.0, 0.0, 0.0, 0.0
        elif stick in phase.release:
            row[at : at + P.STICK_COLUMNS] = P.MOVE, 0.0, RELEASE_TIME, 0.0, 0.0, 0.0
        elif wish is not None:
            row[at : at + P.STICK_COLUMNS] = _stick(wish, stick, phase.within)
    if phase.throttle is not None:
        wish, value = phase.throttle
        mode = {"keep": P.KEEP, "speed": P.HOLD_SPEED, "height": P.HOLD_HEIGHT, "move": P.MOVE}[wish]
        row[P.THROTTLE : P.THROTTLE + 3] = mode, start_airspeed if wish == "speed" else value, phase.within
    if phase.aim is not None:
        row[P.AIM] = 1.0
        for at, value in ((P.BANK, phase.aim.bank), (P.PITCH, phase.aim.pitch), (P.HEADING, phase.aim.heading)):
            if value is not None:
                row[at] = value
        row[P.SLEW] = phase.aim.at
    if phase.hold is not None:
        row[P.PATH] = PATHS[phase.hold]


def _switch(rates: dict[str, str] | None, mode: str | None, row: np.ndarray, modes: Sequence[str], where: str) -> None:
    for stick, rate in (rates or {}).items():
        row[P.RATES + STICKS.index(stick)] = RATES.index(rate)
    if mode is not None:
        row[P.FLIGHT_MODE] = mode_number(modes, mode, where)


def _stick(wish: StickWish, stick: str, within: float) -> tuple[float, ...]:
    if wish.kind == "doublet":
        return P.DOUBLET, wish.value, wish.time, 0.0, 0.0, 0.0
    if wish.kind == "sweep":
        return P.SWEEP, wish.value, 0.0, wish.first, wish.last, 0.0
    if wish.kind == "hold":
        channel, _, signs = HOLDS[wish.held]
        return HELD_MODE.get(wish.held, P.HOLD_ANGLE), wish.value, 0.0, INDEX[channel], 0.0, signs[STICKS.index(stick)]
    return P.MOVE, wish.value, within, 0.0, 0.0, 0.0


def _mirror(row: np.ndarray) -> None:
    channels = [INDEX[name] for name in MIRRORED_CHANNELS]
    for i in range(P.MOST_CONDITIONS):
        at = P.CONDITIONS + 3 * i
        if row[at + 1] and row[at] in channels:
            row[at + 1], row[at + 2] = -row[at + 1], -row[at + 2]
    for stick, at in STICK_ROW.items():
        held = row[at] >= P.HOLD_ANGLE
        if (held and row[at + P.FIRST] in channels) or (not held and stick in MIRRORED_STICKS):
            row[at + P.VALUE] = -row[at + P.VALUE]
    row[P.BANK], row[P.HEADING] = -row[P.BANK], -row[P.HEADING]
