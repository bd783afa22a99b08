"""What a measure is, the register of all of them, and the windows of a record that they look at.

A measure that could not be taken raises `NotMeasured` with the reason; there is no
silent number.  Signs: pitch positive toward the canopy, elevator positive up, roll and
yaw positive right.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING

import numpy as np

from sim.integration import FRAME
from sim.recording import COMMAND_AT

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown
    from scenarios.schema import ManoeuvreFile

DEG = 180.0 / math.pi
STYLES = ("precision", "extreme", "slow 3D")  # ways of flying
JUDGEMENTS = ("more", "less", "zero", "")  # what is better: a larger, a smaller, a vanishing number; "" none of them
PRACTICE = "common practice"


class NotMeasured(Exception):
    """Why a measure could not be taken."""


@dataclass(frozen=True)
class Measure:
    """`name`, `unit` of the number, `about` its definition, `take`, which computes it or raises `NotMeasured`.

    `phases` are those whose loads explain it (the first that a manoeuvre has counts); `positive` and `negative` the words
    for its sign; `source` "common practice" or "definition: " and where it stands; `better` one of JUDGEMENTS by style.
    """

    name: str
    unit: str
    about: str
    take: Callable[[Flown], float]
    phases: tuple[str, ...]
    positive: str
    negative: str
    source: str
    better: dict[str, str]

    def phase_in(self, manoeuvre: ManoeuvreFile) -> str:
        """The phase of `manoeuvre` that explains the measure; "" when it has none."""
        names = {phase.name for phase in manoeuvre.phases}
        return next((name for name in self.phases if name in names), "")


MEASURES: dict[str, Measure] = {}


def measure(
    unit: str,
    about: str,
    phase: str | tuple[str, ...] = (),
    positive: str = "",
    negative: str = "",
    better: str | tuple[str, str, str] = "",
    source: str = PRACTICE,
):
    """Register the function below as a measure; `better` for all STYLES or one by one."""

    def register(take):
        @wraps(take)
        def finite(flown: Flown) -> float:
            value = float(take(flown))
            if not math.isfinite(value):
                raise NotMeasured("not a finite number")
            return value

        if take.__name__ in MEASURES:
            raise ValueError(f"two measures called {take.__name__}")
        phases = (phase,) if isinstance(phase, str) else phase
        judged = dict(zip(STYLES, (better,) * 3 if isinstance(better, str) else better))
        MEASURES[take.__name__] = Measure(
            take.__name__, unit, about, finite, phases, positive, negative, source, judged
        )
        return finite

    return register


# ---- windows ------------------------------------------------------------------------------------------


def phase_index(flown: Flown, phase: str | tuple[str, ...]) -> int:
    """The index of `phase`, or of the first of them that the manoeuvre has.  Raises NotMeasured when there is none."""
    wanted = (phase,) if isinstance(phase, str) else phase
    for name in wanted:
        if flown.phase(name) >= 0:
            return flown.phase(name)
    raise NotMeasured("the manoeuvre has no phase " + " or ".join(f'"{name}"' for name in wanted))


def window(flown: Flown, phase: str | tuple[str, ...] | int, last: float = 0.0, least: float = 0.2) -> slice:
    """Frames of `phase` (its `last` seconds, 0: all).  Raises NotMeasured when it was not flown to its end."""
    index = phase if isinstance(phase, int) else phase_index(flown, phase)
    name = flown.manoeuvre.phases[index].name
    frames = flown.flight.frames_of(index)
    if frames.stop - frames.start == 0 or (flown.flight.ending != "completed" and flown.flight.phase <= index):
        where = flown.manoeuvre.phases[flown.flight.phase].name
        raise NotMeasured(f'{flown.flight.ending} in "{where}", before the end of "{name}"')
    if last:
        frames = slice(max(frames.start, frames.stop - int(round(last / FRAME))), frames.stop)
    if (frames.stop - frames.start) * FRAME < least:
        raise NotMeasured(f'"{name}" was too short')
    if not np.isfinite(flown.flight.rows[frames, :COMMAND_AT]).all():
        raise NotMeasured(f'the record of "{name}" is not finite')
    return frames


def later_half(flown: Flown, phase: str | tuple[str, ...]) -> slice:
    """The second half of `phase`, where a held figure has settled."""
    frames = window(flown, phase, least=0.4)
    return slice((frames.start + frames.stop) // 2, frames.stop)


def from_to(flown: Flown, first: str | tuple[str, ...], last: str | tuple[str, ...]) -> slice:
    """Frames from the start of `first` to the end of `last`.  Raises NotMeasured unless they come in this order."""
    index = phase_index(flown, first)
    end = phase_index(flown, last)
    start, stop = window(flown, index, least=0.05).start, window(flown, end, least=0.05).stop
    if end < index:
        names = [flown.manoeuvre.phases[i].name for i in (end, index)]
        raise NotMeasured('"{}" does not come after "{}"'.format(*names))
    return slice(start, stop)


def whole(flown: Flown) -> slice:
    """Every frame of a flight that was flown to its end."""
    return from_to(flown, flown.manoeuvre.phases[0].name, flown.manoeuvre.phases[-1].name)


# ---- what is read off them ---------------------------------------------------------------------------------


def mean(flown: Flown, channel: str, frames: slice) -> float:
    """Mean of a channel."""
    return float(flown.flight.channel(channel)[frames].mean())


def turned(flown: Flown, rate: str, frames: slice) -> float:
    """Angle in rad that a body rate has turned through."""
    return float(flown.flight.channel(rate)[frames].sum() * FRAME)


def wrapped(angle: float) -> float:
    """`angle` in rad brought between -pi and pi."""
    return (angle + math.pi) % (2.0 * math.pi) - math.pi


def gained(flown: Flown, channel: str, frames: slice) -> float:
    """Last value of a channel less its first."""
    values = flown.flight.channel(channel)[frames]
    return float(values[-1] - values[0])


def drift_rate(flown: Flown, channel: str, frames: slice) -> float:
    """Mean rate in rad/s of an angle channel, counted through its jump at 180 deg."""
    angle = np.unwrap(flown.flight.channel(channel)[frames])
    return float((angle[-1] - angle[0]) / ((len(angle) - 1) * FRAME))


def furthest(values: np.ndarray) -> float:
    """The value with the largest magnitude, its sign kept."""
    return float(values[np.argmax(np.abs(values))])


def body_axes(flown: Flown, frames: slice) -> np.ndarray:
    """Unit vectors forward, right and down of the body in earth axes (north, east, down), shape (frames, 3, 3)."""
    bank, pitch, heading = (flown.flight.channel(name)[frames] for name in ("bank", "pitch", "heading"))
    cb, sb, cp, sp, ch, sh = (f(a) for a in (bank, pitch, heading) for f in (np.cos, np.sin))
    forward = np.stack([cp * ch, cp * sh, -sp], axis=1)
    right = np.stack([sb * sp * ch - cb * sh, sb * sp * sh + cb * ch, sb * cp], axis=1)
    down = np.stack([cb * sp * ch + sb * sh, cb * sp * sh - sb * ch, cb * cp], axis=1)
    return np.stack([forward, right, down], axis=1)


def turn_about_vertical(flown: Flown, frames: slice) -> np.ndarray:
    """Rate of turn about the vertical in rad/s, to the right seen from above positive; any attitude."""
    rates = np.stack([flown.flight.channel(name)[frames] for name in ("roll rate", "pitch rate", "yaw rate")], axis=1)
    return (rates * body_axes(flown, frames)[:, :, 2]).sum(axis=1)


def flow_angle(flown: Flown, frames: slice) -> np.ndarray:
    """Angle in rad between the nose and the oncoming air, whichever side it comes from."""
    alpha, beta = flown.flight.channel("alpha")[frames], flown.flight.channel("beta")[frames]
    return np.arccos(np.clip(np.cos(alpha) * np.cos(beta), -1.0, 1.0))


# ---- taking them ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Taken:
    """A measure of one flight: `value` in the measure's unit, or None and the `reason`."""

    measure: Measure
    value: float | None
    reason: str = ""


def take_measures(flown: Flown) -> list[Taken]:
    """Every measure that the manoeuvre asks for."""
    taken = []
    for name in flown.manoeuvre.measures:
        asked = MEASURES[name]
        try:
            taken.append(Taken(asked, asked.take(flown)))
        except NotMeasured as reason:
            taken.append(Taken(asked, None, f"not measured: {reason}"))
    return taken
