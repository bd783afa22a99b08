"""What is plotted: flights of records or just flown, brought to one clock and cut to a phase."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from models.errors import OptionError, Refused, UserError, nearest, printable, quoted
from scenarios.playback import Phase, Playback, instant, load_playback
from scenarios.record import load
from sim import layout as L
from sim.build import Plane
from sim.recording import COMMAND_AT, INDEX, STATE_AT

MOST = 4  # flights in one picture


@dataclass(frozen=True)
class Flight:
    """A flight to plot, `whole` or the part of it that `time` (n,) s tells, on the clock of its picture.

    That clock begins at `zero` (s) of the flight's own.  `rows` (n, recording.ROW); `loads` (n, N_PARTS, 6), N and N m by
    part about the CG, body axes; `phases` on the picture's clock.
    """

    name: str
    whole: Playback
    time: np.ndarray
    rows: np.ndarray
    loads: np.ndarray
    phases: tuple[Phase, ...]
    zero: float = 0.0

    @property
    def plane(self) -> Plane:
        """The plane that was flown, in the wind of its flight."""
        return self.whole.plane

    @property
    def setup(self) -> str:
        """The name of the setup."""
        return self.plane.setup.name

    @property
    def manoeuvre(self) -> str:
        """What was flown."""
        return self.whole.manoeuvre.name if self.whole.manoeuvre else "free flight"

    def channel(self, name: str) -> np.ndarray:
        """One channel over time, shape (n,), SI; names and units: `sim.recording.CHANNELS`."""
        return self.rows[:, INDEX[name]]

    def controls(self, first: str) -> np.ndarray:
        """Four neighbouring channels of the controls from the one called `first`, shape (n, CONTROLS)."""
        return self.rows[:, INDEX[first] : INDEX[first] + L.CONTROLS]

    @property
    def commands(self) -> np.ndarray:
        """What the servos were told, shape (n, CONTROLS), rad."""
        return self.rows[:, COMMAND_AT : COMMAND_AT + L.CONTROLS]

    def attached(self, surface: str) -> np.ndarray:
        """Where the flow leaves each strip of a surface, shape (n, strips): 1 at the trailing edge, 0 at the leading edge."""
        strips, at = self.plane.strips[surface], STATE_AT + L.SEPARATION
        return self.rows[:, at + strips.start : at + strips.stop]


def read_flight(folder: Path | str) -> Flight:
    """The flight of a record.  Raises `UserError` when it is none, is cut short, of another version or has no frames."""
    whole = load_playback(folder)
    loads = load(Path(folder))[1]["loads"][: whole.frames]
    if loads.shape != (whole.frames, L.N_PARTS, 6) or loads.dtype.kind != "f":
        shown = printable(str(folder), 200)
        raise UserError(f"{shown}: found loads that are not those of a flight; allowed: a folder written by --save")
    return Flight(whole.setup.name, whole, whole.time, whole.rows, loads, tuple(whole.phases))


def named(flights: Sequence[Flight]) -> list[Flight]:
    """The flights under names that differ: the setups', with the manoeuvres' where they do not tell, then a number."""
    for make in (
        lambda f, n: f.setup,
        lambda f, n: f"{f.setup}, {f.manoeuvre}",
        lambda f, n: f"{f.setup}, {f.manoeuvre} ({n + 1})",
    ):
        names = [make(flight, n) for n, flight in enumerate(flights)]
        if len(set(names)) == len(names):
            break
    return [replace(flight, name=name) for flight, name in zip(flights, names)]


def aligned(flights: Sequence[Flight], at: str | None, option: str = "--align") -> list[Flight]:
    """The flights with their clocks at 0 at `at` of each: "start of PHASE", "end of PHASE" or a time such as "3.2 s".

    As they are where it is None.  Raises `OptionError`.
    """
    return [flight if at is None else _moved(flight, instant(flight.whole, at, option)) for flight in flights]


def _moved(flight: Flight, zero: float) -> Flight:
    phases = tuple(Phase(p.name, p.start - zero, p.end - zero) for p in flight.phases)
    return replace(flight, time=flight.time - zero, phases=phases, zero=flight.zero + zero)


def cut(flights: Sequence[Flight], phase: str, option: str = "--phase") -> list[Flight]:
    """Each flight from the start of `phase` to its end.  Raises `OptionError` where it was not flown."""
    out = []
    for flight in flights:
        one = next((p for p in flight.phases if p.name == phase), None)
        if one is None:
            names = [p.name for p in flight.phases]
            allowed = f"a phase of {flight.name}: " + ", ".join(quoted(name) for name in names)
            near = " or ".join(quoted(name) for name in nearest(phase, names))
            raise OptionError(option, Refused(quoted(phase), allowed, near))
        kept = (flight.time >= one.start - 1e-9) & (flight.time <= one.end + 1e-9)
        if kept.sum() < 2:
            found = f"{quoted(phase)}, which ended as it began in {flight.name}"
            raise OptionError(option, Refused(found, "a phase of at least two frames"))
        out.append(
            replace(flight, time=flight.time[kept], rows=flight.rows[kept], loads=flight.loads[kept], phases=(one,))
        )
    return out
