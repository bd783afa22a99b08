"""A flight that goes on frame by frame, its sticks moved from outside: by a hand, or by what a hand did before.

Transmitter, link, physics and record are those of `sim.flight`, and so is the order in which a frame calls them: the
same sticks give the same rows.  There is no pilot in it.  Nothing here knows a clock; a frame is 10 ms of the flight,
however long it took to fly.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sim import layout as L
from sim.build import Plane
from sim.compiled import kernel
from sim.equations_of_motion import derivatives
from sim.flight import COMPLETED, DIVERGED, ENDINGS, GOES_ON, Flight, ended_by, name_of
from sim.frames import body_to_earth
from sim.integration import FRAME, leave_frame
from sim.recording import ROW, fill_channels, keep, turn_on
from sim.single_precision import use_single_precision
from sim.transmitter import (
    LINK_FRAMES,
    MODE,
    RATE,
    SIZE,
    SWITCH_TIME,
    TRIM,
    own_trims,
    read_sticks,
    select,
    through_link,
    transmit,
)

# what a frame remembers for the next one: the transmitter's commands, what a switch of modes left, and what was sent
WANTED, LEFT_BY_SWITCH = 0, L.COMMAND
TURNED_SO_FAR = 2 * L.COMMAND  # about body x, body y and the vertical
SWITCHED, SWITCHING = TURNED_SO_FAR + 3, TURNED_SO_FAR + 4  # frame of the last switch, and its time in s
MEMORY = SWITCHING + 1


@kernel
def begin(x, sticks, m, table, chain, memory, sent, k, row):
    """What comes before the first frame: the sticks have stood where they are for long."""
    read, command = np.zeros(4), np.zeros(L.COMMAND)
    read_sticks(sticks, chain, read)
    transmit(read, chain, memory)
    for i in range(LINK_FRAMES):
        through_link(memory, sent, i, FRAME, chain, command)
    derivatives(x, command, m, table, k[0])
    fill_channels(x, sticks, k[0], m, 0.0, 0.0, row)
    keep(x, command, memory[TURNED_SO_FAR:], row)


@kernel
def switch(sticks, chain, memory, frame, mode, aileron_rate, elevator_rate, rudder_rate):
    """Switch flight mode and rates; what another mode changes comes in over its time."""
    other_mode = mode != chain[MODE]
    select(chain, mode, aileron_rate, elevator_rate, rudder_rate)
    if other_mode:
        read, new = np.zeros(4), np.zeros(L.COMMAND)
        read_sticks(sticks, chain, read)
        transmit(read, chain, new)
        for i in range(L.COMMAND):
            memory[LEFT_BY_SWITCH + i] = memory[WANTED + i] - new[i]
        memory[SWITCHED], memory[SWITCHING] = frame, chain[SWITCH_TIME]


@kernel
def fly_frame(x, sticks, m, table, chain, memory, sent, frame, phase_frame, steps, k, stage, row):
    """Fly one frame with `sticks` (4,) and write its `row`; returns an ending or GOES_ON, and the index of what is bad.

    `phase_frame` counts from the start of the phase.  `memory` (MEMORY,) and `sent` go from frame to frame.
    """
    read, command = np.zeros(4), np.zeros(L.COMMAND)
    read_sticks(sticks, chain, read)
    transmit(read, chain, memory)
    if memory[SWITCHING] > 0.0:
        left = 1.0 - (frame - memory[SWITCHED]) * FRAME / memory[SWITCHING]
        for i in range(L.COMMAND):
            memory[WANTED + i] += max(0.0, left) * memory[LEFT_BY_SWITCH + i]
        if left <= 0.0:
            memory[SWITCHING] = 0.0
    through_link(memory, sent, frame, FRAME, chain, command)
    derivatives(x, command, m, table, k[0])
    fill_channels(x, sticks, k[0], m, frame * FRAME, phase_frame * FRAME, row)
    turned = memory[TURNED_SO_FAR : TURNED_SO_FAR + 3]
    if phase_frame > 0:
        turn_on(x, FRAME, turned)
    else:
        turned[:] = 0.0
    keep(x, command, turned, row)
    ending, bad = ended_by(x)
    if ending == GOES_ON:
        leave_frame(x, command, m, table, steps, k, stage)
    return ending, bad


class LiveFlight:
    """A flight of `plane` from the state `x` (STATE,), with the sticks (4,) where they have stood for long.

    `fly(sticks)` flies a frame; `ending` is "" until the plane has met the ground or the flight diverged, and then
    one of `sim.flight.ENDINGS`.  Every `phase_frames` frames a phase of the record begins.  `x`, `sticks` and the plane are left as
    they were; `steps` per frame, 0 chooses.
    """

    def __init__(self, plane: Plane, x: np.ndarray, sticks: np.ndarray, steps: int = 0, phase_frames: int = 6000):
        self.x, self.sticks = x.copy(), sticks.copy()
        self.frames, self.ending, self.bad = 0, "", ""
        self.steps, self.phase_frames = steps, phase_frames
        self._memory, self._sent = np.zeros(MEMORY), np.zeros((LINK_FRAMES, L.COMMAND))
        self._k, self._stage = np.zeros((4, L.STATE)), np.zeros(L.STATE)
        self._log = np.zeros((4096, ROW))
        self._take(plane)
        self.start = np.zeros(ROW)  # the row of the start, before anything has been flown
        begin(self.x, self.sticks, self._model, plane.table, self.chain, self._memory, self._sent, self._k, self.start)

    def _take(self, plane: Plane) -> None:
        self.plane, self.chain = plane, plane.chain.copy()
        self._model = plane.model.copy()
        use_single_precision(self._model)

    def fly(self, sticks: np.ndarray) -> np.ndarray:
        """Fly one frame with `sticks` (4,): aileron, elevator, rudder -1..1, throttle 0..1.  Returns its row (ROW,).

        Raises ValueError when the flight has ended.
        """
        if self.ending:
            raise ValueError("the flight has ended")
        if self.frames == len(self._log):
            self._log = np.concatenate([self._log, np.zeros_like(self._log)])
        self.sticks[:] = sticks
        row = self._log[self.frames]
        ending, bad = fly_frame(
            self.x, self.sticks, self._model, self.plane.table, self.chain, self._memory, self._sent, self.frames,
            self.frames % self.phase_frames, self.steps, self._k, self._stage, row,
        )  # fmt: skip
        self.frames += 1
        if ending != GOES_ON:
            self.ending, self.bad = ENDINGS[ending], name_of(int(bad)) if ending == DIVERGED else ""
        return row

    def switch(self, mode: int, rates: tuple[int, int, int]) -> None:
        """Switch to a flight mode and a rate on each control, as indices, from the next frame on."""
        switch(self.sticks, self.chain, self._memory, self.frames, float(mode), *(float(rate) for rate in rates))

    def change(self, plane: Plane) -> None:
        """Go on with another plane, in the same air, from the next frame on: the airframe keeps its place and its motion.

        The state counts from the CG; where that has moved in the airframe, place and velocity are those of the new one.
        Flow, servos, rotor and battery go on as they are, and so do the switches.  The trims stay where they stand,
        less what the old setup put there itself and with what the new one does.
        """
        before = self.plane
        moved = np.asarray(plane.mass.cg) - np.asarray(before.mass.cg)
        q, p = self.x[L.QUATERNION : L.QUATERNION + 4], self.x[L.RATES : L.RATES + 3]
        self.x[L.POSITION : L.POSITION + 3] += np.array(body_to_earth(*q)).reshape(3, 3) @ moved
        self.x[L.VELOCITY : L.VELOCITY + 3] += np.cross(p, moved)
        chain, old = plane.chain.copy(), self.chain
        for block in range(len(chain) // SIZE):
            mode = int(old[MODE]) if block == 0 else block - 1
            trims = slice(SIZE * block + TRIM, SIZE * block + TRIM + 4)
            chain[trims] = old[trims] + (own_trims(plane.setup, mode) - own_trims(before.setup, mode))
        select(chain, old[MODE], *old[RATE : RATE + 3])
        self._take(replace(plane, chain=chain))

    @property
    def rows(self) -> np.ndarray:
        """What has been flown, shape (frames, ROW); a view."""
        return self._log[: self.frames]

    def flight(self) -> Flight:
        """What has been flown, as any flight; "completed" where nothing ended it."""
        starts = np.arange(0, max(self.frames, 1), self.phase_frames, dtype=np.int64)
        return Flight(self.rows.copy(), starts, self.ending or ENDINGS[COMPLETED], len(starts) - 1, self.bad)
