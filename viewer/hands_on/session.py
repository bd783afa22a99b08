"""A session at the sticks, without a window: flights one after the other, pause, changes, and what the screen says."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from models.errors import UserError
from scenarios.live import MOST_MINUTES, ByHand
from scenarios.manoeuvres import CannotFly
from sim.description import Setup
from sim.transmitter import RATES, STICKS, modes_of
from viewer.hands_on.controllers import Assignment, Controller, sticks_of
from viewer.hands_on.keeping import LEAST, Keeper
from viewer.hands_on.keys import KeySticks
from viewer.hands_on.knobs import Knob, knobs
from viewer.hands_on.pace import Pace

READY = "Ready."
_WAYS = (("right", "left"), ("pull", "push"), ("right", "left"))  # of aileron, elevator and rudder stick
GONE = "The controller is gone. Nothing is lost: plug it in again, or go on with the keys."


class Session:
    """Flights of `setup` from one start.  `begun` is called when another flight begins, `flown` with every row.

    It begins paused.  A controller that goes away pauses the flight.
    """

    def __init__(
        self,
        setup: Setup,
        start: str,
        keeper: Keeper,
        pace: Pace | None = None,
        begun: Callable[[ByHand], None] = lambda flight: None,
        flown: Callable[[np.ndarray], None] = lambda row: None,
    ) -> None:
        self.setup, self.start, self.keeper = setup, start, keeper
        self.pace, self.begun, self.flown = pace or Pace(), begun, flown
        self.keys = KeySticks()
        self.controller: Controller | None = None
        self.assignment: Assignment | None = None
        self.paused, self.why, self.note = True, READY, ""
        self.knob, self._knobs_of = 0, (0, 0)
        self.flight: ByHand
        self.before: ByHand | None = None  # the flight before the last new start
        self._begin(ByHand(setup, start))

    def _begin(self, flight: ByHand) -> None:
        self.flight = flight
        self.keys.stand_at(flight.sticks0)
        self.row: np.ndarray | None = None
        self.begun(flight)

    # ---- sticks ----------------------------------------------------------------------------------------------
    def use(self, controller: Controller | None, assignment: Assignment | None = None) -> None:
        """Fly with a controller's sticks, those that it has; None: with the keys alone."""
        self.controller, self.assignment = controller, assignment

    @property
    def hands(self) -> str:
        """What moves the sticks."""
        return self.controller.name if self.controller else "keys"

    @property
    def held_at_start(self) -> str:
        """What holds the start, where sticks that spring to the centre would not; "" once something has been flown."""
        held = [
            f"{name} {round(100.0 * abs(at))} % {ways[0] if at > 0.0 else ways[1]}"
            for name, at, ways in zip(STICKS, self.flight.sticks0, _WAYS)
            if abs(at) >= 0.02
        ]
        if not held or self.controller is not None or self.flight.live.frames:
            return ""
        return f"This start is held with {', '.join(held)}; without a key those sticks go to their centres."

    def _sticks(self) -> np.ndarray:
        sticks = self.keys.frame()
        if self.controller is not None and self.assignment is not None:
            sticks[:] = sticks_of(self.controller, self.assignment, sticks.tolist())
            self.keys.sticks[3] = sticks[3]  # a throttle stays where it is when the keys take over
        return sticks

    # ---- time ------------------------------------------------------------------------------------------------
    def tick(self) -> int:
        """Fly what is due by the clock; returns the frames flown."""
        if self.controller is not None and not self.controller.connected:
            name = self.controller.name
            self.controller.close()
            self.use(None)
            self.pause(f"{name}: {GONE[0].lower()}{GONE[1:]}")
        if self.paused:
            return 0
        due = self.pace.due()
        for n in range(due):
            self.row = self.flight.fly(self._sticks())
            self.flown(self.row)
            if self.flight.live.ending:
                self._ended()
                return n + 1
        return due

    def _ended(self) -> None:
        ending = self.flight.live.ending
        if ending == "completed":
            ending = f"{MOST_MINUTES} minutes are the longest flight that is kept"
        elif ending == "diverged":
            ending = f"the computation diverged, first in {self.flight.live.bad}: its last numbers are worth nothing"
        self.paused, self.why = True, f"{ending[0].upper()}{ending[1:]}."
        self._keep_always()

    def pause(self, why: str = "Paused.") -> None:
        """Stop time."""
        self.paused, self.why = True, why

    def go_on(self) -> bool:
        """Let time run; False when the flight is over and only a new start is left."""
        if self.flight.live.ending:
            self.note = "This flight is over: start anew."
            return False
        self.paused, self.why, self.note = False, "", ""
        self.pace.start()
        return True

    @property
    def slow(self) -> str:
        """What the screen says of a machine that is too slow, "" when it keeps up."""
        return "" if self.paused else self.pace.words

    # ---- flights -----------------------------------------------------------------------------------------------
    def reset(self) -> None:
        """Back to the start with the setup as it is now; the flight so far is kept where every flight is.

        Where it cannot be kept, there is no new start; where nothing asked for that, `keep` still takes it.
        """
        self._keep_always()
        if self.keeper.always and self.flight.live.frames >= LEAST and not self.keeper.kept_as(self.flight):
            self.pause()
            return
        made: dict[str, str] = {}  # the last word on everything, in the order in which it was said
        for change in self.flight.changes:
            made.pop(change.what, None)
            made[change.what] = change.value
        try:
            flight = ByHand(self.setup, self.start, made.items())
        except (CannotFly, UserError) as why:
            self.pause()
            self.note = f"No steady start with the setup as it is now: {why}"
            return
        before, self.note = self.flight, ""
        self._begin(flight)
        self.pause(READY)
        if before.live.frames >= LEAST:
            self.before = before
            place = self.keeper.kept_as(before)
            self.note = f"The flight before is kept as {place}" if place else "K keeps the flight before."

    @property
    def last(self) -> ByHand:
        """The flight so far, or the one before it where nothing has been flown yet."""
        return self.before if self.before is not None and self.flight.live.frames < LEAST else self.flight

    @property
    def kept(self) -> bool:
        """Whether nothing of the last flight would be lost."""
        return self.last.live.frames < LEAST or self.keeper.kept_as(self.last) is not None

    def keep(self) -> None:
        """Put the last flight away as a record, and say where."""
        flight = self.last
        try:
            place = self.keeper.keep(flight)
        except UserError as error:
            self.note = str(error)
            return
        place = place or self.keeper.kept_as(flight)
        self.note = f"Kept as {place}" if place else "Nothing has been flown yet."

    def _keep_always(self) -> None:
        if self.keeper.always and self.flight.live.frames:
            self.keep()

    # ---- changes -----------------------------------------------------------------------------------------------
    def change(self, what: str, value: str) -> bool:
        """Change something from the next frame on; False, and a note why, when it is not allowed."""
        before = self.flight.live
        try:
            self.flight.change(what, value)
        except (UserError, CannotFly) as error:
            self.note = str(error)
            return False
        if self.flight.live is not before:  # nothing had been flown: trimmed anew
            self._begin(self.flight)
        self.note = f"{what}: {value}"
        return True

    @property
    def knobs(self) -> list[Knob]:
        """What can be turned."""
        made = (id(self.flight), len(self.flight.changes))
        if made != self._knobs_of:
            self._knobs, self._knobs_of = knobs(self.flight), made
        return self._knobs

    def choose(self, step: int) -> None:
        """Take the next knob, or the one before."""
        self.knob = (self.knob + step) % len(self.knobs)

    def turn(self, steps: int) -> bool:
        """Turn the chosen knob."""
        knob = self.knobs[self.knob % len(self.knobs)]
        return self.change(knob.name, knob.turned(steps))

    def next_rates(self) -> bool:
        """High, middle, low, and high again."""
        now = self.flight.rates
        return self.change("rates", RATES[(RATES.index(now) + 1) % len(RATES)] if now in RATES else RATES[0])

    def next_mode(self) -> bool:
        """The next of the setup's flight modes."""
        names = modes_of(self.flight.setup)
        if len(names) == 1:
            self.note = "This setup has no flight modes."
            return False
        return self.change("mode", names[(names.index(self.flight.mode) + 1) % len(names)])
