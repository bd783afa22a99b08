"""A setup flown by hand: a steady start, sticks from outside frame by frame, and changes to the setup in flight.

A change is an input of `scenarios.inputs` with its value as text ("cg", "152 mm"), or one of the transmitter's switches:
"rates" (high, middle, low) or "mode".  What is changed before the first frame belongs to the start: the plane is
trimmed with it.  Later the trims stay where they are, as on the field.  Sticks and changes with their frames are all
that a record needs to fly it again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import yaml

from models.errors import OptionError, Refused, UserError, nearest, quoted
from models.fields import Quantity
from models.options import option_value
from models.reading import read_text
from scenarios.compiler import compile_phases
from scenarios.inputs import Case, inputs_of, named
from scenarios.manoeuvres import Change, Flown, enter_wind, flyable, load_manoeuvre, started
from scenarios.schema import ManoeuvreFile
from scenarios.sticks import mode_number
from sim import pilot as H
from sim.build import Plane
from sim.description import Setup
from sim.integration import FRAME
from sim.live import LiveFlight
from sim.recording import INDEX
from sim.transmitter import MODE, RATE, RATES, STICKS, modes_of

BY_HAND = "by hand"  # who flew it, where a record names the pilot
NAME = "hands-on"
MINUTE = 6000  # frames: a phase of the record
MOST_MINUTES = 20  # longer flights are ended: a record has to fit into memory
MOST_CHANGES = 500  # each of them is another plane
SWITCHES = ("rates", "mode")
STICK_CHANNELS = slice(INDEX["aileron stick"], INDEX["aileron stick"] + 4)
STARTS = ("level flight", "hover")
AIRSPEED, HEIGHTS = "25 m/s", {"level flight": "60 m", "hover": "25 m"}  # of a start of which nothing else is said


class ByHand:
    """A flight of `setup` by hand from the start that stands in the text of a manoeuvre, `changes` made before it begins.

    `fly(sticks)` flies a frame, `change(what, value)` changes something from the next frame on; `changes` are those
    made so far.  Raises `CannotFly` when there is no steady start, `UserError` for a change that is not allowed.
    """

    def __init__(self, setup: Setup, start: str, changes: Iterable[tuple[str, str]] = ()):
        self.asked, self.start = setup, start
        self.manoeuvre = read_text(start, "start", ManoeuvreFile).value
        self._begin([Change(0, what, value) for what, value in changes])

    def _begin(self, changes: list[Change]) -> None:
        case, start = Case(self.asked, self.manoeuvre), self.manoeuvre.start
        for change in changes:
            if change.what == "rates":
                start = start.model_copy(update={"rates": dict.fromkeys(STICKS[:3], _rate(change.value))})
            elif change.what == "mode":
                mode_number(modes_of(case.setup), change.value)
                start = start.model_copy(update={"mode": change.value})
            else:
                case = _changed(case, change.what, change.value)
        plane, level, still, sticks = started(flyable(case.setup), self.manoeuvre.model_copy(update={"start": start}))
        self.case, self.level, self.sticks0, self._still = case, level, sticks, still
        self.plane, self.x0 = self._in_the_air(plane)
        self.changes, self.later = list(changes), []
        self.live = LiveFlight(self.plane, self.x0, sticks, phase_frames=MINUTE)

    def _in_the_air(self, plane: Plane) -> tuple[Plane, np.ndarray]:
        """`plane` in the wind of the start, and the state that it starts from."""
        wind = self.manoeuvre.start.wind
        return (plane, self._still) if wind is None else enter_wind(plane, self._still, wind)

    @property
    def setup(self) -> Setup:
        """The setup as it is now."""
        return self.case.setup

    @property
    def rates(self) -> str:
        """The rates that are switched on, such as "low"; of each control where they differ."""
        each = [RATES[int(rate)] for rate in self.live.chain[RATE : RATE + 3]]
        return each[0] if len(set(each)) == 1 else ", ".join(f"{s} {rate}" for s, rate in zip(STICKS, each))

    @property
    def mode(self) -> str:
        """The flight mode that is switched on."""
        return modes_of(self.setup)[int(self.live.chain[MODE])]

    def fly(self, sticks: Sequence[float]) -> np.ndarray:
        """Fly a frame with `sticks`, limited to their travel; returns its row.  ValueError when the flight has ended."""
        row = self.live.fly(np.clip(np.asarray(sticks, dtype=float), (-1.0, -1.0, -1.0, 0.0), 1.0))
        if self.live.frames >= MINUTE * MOST_MINUTES and not self.live.ending:
            self.live.ending = "completed"
        return row

    def change(self, what: str, value: str) -> None:
        """Change an input or a switch; raises `UserError`, and nothing has changed then."""
        frame = self.live.frames
        if len(self.changes) >= MOST_CHANGES:
            raise UserError(f"{what}: found {MOST_CHANGES} changes in one flight; allowed: no more; try: a new start")
        if frame == 0:  # it belongs to the start
            self._begin([*(c for c in self.changes if c.what != what), Change(0, what, value)])
            return
        if what in SWITCHES:
            rates = [int(rate) for rate in self.live.chain[RATE : RATE + 3]]
            mode = int(self.live.chain[MODE])
            if what == "rates":
                rates = [RATES.index(_rate(value))] * 3
            else:
                mode = int(mode_number(modes_of(self.setup), value))
            self.live.switch(mode, tuple(rates))
        else:
            case = _changed(self.case, what, value)
            plane, _ = self._in_the_air(flyable(case.setup))
            self.live.change(plane)
            self.case = case
            self.later.append((frame, self.live.plane))
        self.changes.append(Change(frame, what, value))

    def flown(self) -> Flown:
        """What has been flown, as any other flight."""
        manoeuvre = read_text(self.text(), NAME, ManoeuvreFile).value
        table = compile_phases(manoeuvre, modes=modes_of(self.plane.setup))
        return Flown(
            self.plane.setup, manoeuvre, self.plane, self.level, self.live.flight(), self.x0, self.sticks0, table,
            np.zeros(H.SIZE), BY_HAND, tuple(self.changes), tuple(self.later),
        )  # fmt: skip

    def text(self) -> str:
        """The manoeuvre file of what has been flown: its start, and a phase for every minute."""
        frames = max(self.live.frames, 2)
        return _with_phases(yaml.safe_load(self.start), frames)


def again(setup: Setup, start: str, changes: Sequence[Change], sticks: np.ndarray) -> ByHand:
    """The flight of `sticks` (frames, 4) with `changes` in the order of their frames, flown once more."""
    first = [(c.what, c.value) for c in changes if c.frame == 0]
    flight, waiting = ByHand(setup, start, first), [c for c in changes if c.frame > 0]
    for frame, stick in enumerate(sticks):
        while waiting and waiting[0].frame <= frame:
            change = waiting.pop(0)
            flight.change(change.what, change.value)
        flight.fly(stick)
        if flight.live.ending:
            break
    return flight


def with_changes(setup: Setup, changes: Iterable[Change]) -> Setup:
    """`setup` with the inputs among `changes`; the switches are the transmitter's.  Raises `OptionError`."""
    case = Case(setup)
    for change in changes:
        if change.what not in SWITCHES:
            case = _changed(case, change.what, change.value)
    return case.setup


# ---- starts ------------------------------------------------------------------------------------------------------


def start_text(
    kind: str | None = None, airspeed: str | None = None, height: str | None = None, like: str | None = None
) -> str:
    """The text of a start: level flight or hover (`kind`), or that of the manoeuvre called `like`, with its wind and its
    switches.  Raises `UserError`, in the words of the command's options."""
    if like is not None:
        if kind is not None:
            raise OptionError("--like", Refused("--start beside it", "one of the two"))
        text = load_manoeuvre(like)[1]
        written = read_text(text, like, ManoeuvreFile).tree.data
        start = dict(written["start"])
        trim = {"trim": written["trim"]} if "trim" in written else {}
    else:
        if kind is not None and kind not in STARTS:
            near = " or ".join(nearest(kind, STARTS))
            allowed = ", ".join(STARTS) + " (there is no ground to start from)"
            raise OptionError("--start", Refused(quoted(kind), allowed, near))
        kind = kind or STARTS[0]
        start, trim = {"from": kind, "height": HEIGHTS[kind]}, {}
        if start["from"] == "level flight":
            start["airspeed"] = AIRSPEED
    if airspeed is not None:
        if start["from"] == "hover":
            raise OptionError("--airspeed", Refused("an airspeed for a hover", "none with a hover"))
        option_value("--airspeed", Quantity("speed", least="3 m/s", most="80 m/s").read, airspeed)
        start["airspeed"] = airspeed
    if height is not None:
        option_value("--height", Quantity("length", over="0 m", most="1000 m").read, height)
        start["height"] = height
    return _with_phases(
        {"format": 1, "kind": "manoeuvre", "name": NAME, "about": BY_HAND, **trim, "start": start}, MINUTE
    )


def _with_phases(data: dict[str, Any], frames: int) -> str:
    """A manoeuvre file with a phase for every minute."""
    lengths = [min(MINUTE, frames - at) for at in range(0, frames, MINUTE)]
    phases = [{"name": f"minute {n}", "for": f"{length * FRAME:.2f} s"} for n, length in enumerate(lengths, 1)]
    return yaml.safe_dump({**data, "phases": phases}, sort_keys=False, allow_unicode=True, width=110)


def _rate(value: str) -> str:
    if value not in RATES:
        raise OptionError("rates", Refused(quoted(value), ", ".join(RATES), " or ".join(nearest(value, RATES))))
    return value


def _changed(case: Case, what: str, value: str) -> Case:
    """`case` with an input changed.  Raises `OptionError`."""
    known = {name: one for name, one in inputs_of(case.setup).items() if not one.in_flight}
    wanted = named(known, what, "change")
    try:
        return wanted.apply(case, wanted.read(value))
    except Refused as refused:
        raise OptionError(what, refused) from None
