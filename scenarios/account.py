"""Why the plane did what it did: moments by part over a phase of a flight, from its record.

The record keeps every state and command, so the loads are computed again, exactly, from
it; nothing has to be guessed from accelerations.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenarios.manoeuvres import Flown
from scenarios.measures import MEASURES, NotMeasured
from sim import layout as L
from sim.account import loads_of
from sim.equations_of_motion import derivatives
from sim.recording import COMMAND_AT, STATE_AT
from sim.wind import calm

EVERY = 5  # frames: loads change slowly against 50 ms


@dataclass(frozen=True)
class PartLoad:
    """Moments in N m about the CG: roll right, pitch toward the canopy and yaw right are positive."""

    part: str
    roll: float
    pitch: float
    yaw: float


@dataclass(frozen=True)
class Account:
    """`parts` averaged over `phase`, `level` the same parts in trimmed level flight, and the share of
    `parts` that is due to the slipstream's swirl."""

    phase: str
    parts: list[PartLoad]
    level: list[PartLoad]
    swirl: PartLoad


def loads_by_part(flown: Flown, frames: slice, every: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Forces and moments by part, shape (n, N_PARTS, 6), and those due to swirl, shape (n, 6), at recorded frames."""
    numbers = np.arange(len(flown.flight.rows))[frames][::every]
    loads, swirl = np.zeros((len(numbers), L.N_PARTS, 6)), np.zeros((len(numbers), 6))
    for flown_in, plane in flown.planes():
        model, table = plane.model.copy(), plane.table
        for n in np.flatnonzero((numbers >= flown_in.start) & (numbers < flown_in.stop)):
            row = flown.flight.rows[numbers[n]]
            loads[n] = _evaluate(model, table, row, 1.0)
            swirl[n] = loads[n].sum(axis=0) - _evaluate(model, table, row, 0.0).sum(axis=0)
    return loads, swirl


def _evaluate(model: np.ndarray, table: np.ndarray, row: np.ndarray, swirl: float) -> np.ndarray:
    model[L.SWIRL_ON] = swirl
    x = np.ascontiguousarray(row[STATE_AT : STATE_AT + L.STATE])
    command = np.ascontiguousarray(row[COMMAND_AT : COMMAND_AT + L.COMMAND])
    derivatives(x, command, model, table, np.zeros(L.STATE))
    return loads_of(model)


def account(flown: Flown, phase: str | None = None) -> Account:
    """The account of `phase`, or of the phase that the manoeuvre's first measure was taken in.

    Raises `NotMeasured` when that phase was not flown.
    """
    if phase is None:
        named = [phase for name in flown.manoeuvre.measures if (phase := MEASURES[name].phase_in(flown.manoeuvre))]
        phase = named[0] if named else flown.manoeuvre.phases[-1].name
    index = flown.phase(phase)
    frames = flown.flight.frames_of(index) if index >= 0 else slice(0, 0)
    if frames.stop <= frames.start:
        raise NotMeasured(f'the phase "{phase}" was not flown')
    loads, swirl = loads_by_part(flown, frames, EVERY)
    mean = loads.mean(axis=0)
    model, table = calm(flown.plane.model), flown.plane.table
    derivatives(flown.level.x, flown.level.command, model, table, np.zeros(L.STATE))
    level = loads_of(model)
    shown = [i for i in range(L.N_PARTS) if i != L.WEIGHT and (np.any(loads[:, i]) or np.any(level[i]))]

    def rows(table: np.ndarray) -> list[PartLoad]:
        return [PartLoad(L.PARTS[i], *(float(m) for m in table[i, 3:])) for i in shown]

    return Account(phase, rows(mean), rows(level), PartLoad("swirl", *(float(m) for m in swirl.mean(axis=0)[3:])))
