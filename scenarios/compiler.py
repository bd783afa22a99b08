"""From a manoeuvre file to the table of phases that the kernel interprets (`sim.phases`)."""

from __future__ import annotations

import numpy as np

from scenarios.schema import ManoeuvreFile, PhasePart
from sim import phases as P
from sim.recording import INDEX

STICK_ROW = {"aileron": P.STICKS, "elevator": P.STICKS + 3, "rudder": P.STICKS + 6}
RELEASE_TIME = 0.05  # s for a stick to spring back (common practice, no source)
PATHS = {"attitude": 0.0, "height": 1.0, "path": 2.0, "place": 3.0}


def compile_phases(manoeuvre: ManoeuvreFile) -> np.ndarray:
    """The table, shape (phases, phases.COLUMNS).  What a phase does not name goes on from the phase before."""
    table = np.zeros((len(manoeuvre.phases), P.COLUMNS))
    for i, phase in enumerate(manoeuvre.phases):
        if i:
            table[i] = _carried_on(table[i - 1])
        _write(phase, table[i], manoeuvre.start.airspeed or 0.0)
    return table


def _carried_on(before: np.ndarray) -> np.ndarray:
    row = before.copy()
    for at in (*STICK_ROW.values(), P.THROTTLE):
        if row[at] == P.MOVE:  # the move is over: the stick stays where it went
            row[at] = P.KEEP
    row[P.CONDITION_A : P.JOIN + 1] = 0.0
    row[P.AIM] = 0.0
    return row


def _write(phase: PhasePart, row: np.ndarray, start_airspeed: float) -> None:
    row[P.LIMIT] = phase.for_ if phase.for_ is not None else phase.at_most
    row[P.NEEDS_CONDITION] = 0.0 if phase.until is None else 1.0
    if phase.until:
        row[P.JOIN] = 1.0 if len(phase.until) == 1 else 2.0 if phase.when == "any" else 3.0
        for at, condition in zip((P.CONDITION_A, P.CONDITION_B), phase.until):
            row[at : at + 3] = INDEX[condition.channel], condition.sign, condition.value
    for stick, at in STICK_ROW.items():
        position = getattr(phase, stick)
        if stick in phase.pilot:
            row[at : at + 3] = P.PILOT, 0.0, 0.0
        elif stick in phase.release:
            row[at : at + 3] = P.MOVE, 0.0, RELEASE_TIME
        elif position is not None:
            row[at : at + 3] = P.MOVE, position, phase.within
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
