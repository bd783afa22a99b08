"""What can be turned in flight, one step at a time: balance, throws, exponential, trims."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scenarios.inputs import inputs_of
from scenarios.live import ByHand

# input, step, unit, decimals shown, and what a pilot calls it; a throw that differs both ways is two knobs
_KNOBS = (
    ("cg", 1.0, "mm", 0, "CG from leading edge"),
    ("elevator throw", 1.0, "deg", 0, "elevator throw"),
    ("elevator up throw", 1.0, "deg", 0, "elevator throw up"),
    ("elevator down throw", 1.0, "deg", 0, "elevator throw down"),
    ("aileron throw", 1.0, "deg", 0, "aileron throw"),
    ("aileron up throw", 1.0, "deg", 0, "aileron throw up"),
    ("aileron down throw", 1.0, "deg", 0, "aileron throw down"),
    ("rudder throw", 1.0, "deg", 0, "rudder throw"),
    ("elevator exponential", 5.0, "%", 0, "elevator exponential"),
    ("aileron exponential", 5.0, "%", 0, "aileron exponential"),
    ("rudder exponential", 5.0, "%", 0, "rudder exponential"),
    ("elevator centring", 0.2, "deg", 1, "elevator trim, up"),
    ("aileron centring", 0.2, "deg", 1, "aileron trim, right"),
    ("rudder centring", 0.2, "deg", 1, "rudder trim, right"),
)
_SCALE = {"mm": 1000.0, "deg": 180.0 / math.pi, "%": 100.0}


@dataclass(frozen=True)
class Knob:
    """An input that can be turned: its value now in `unit`, as text, and what a step makes of it."""

    name: str
    words: str
    value: float
    step: float
    unit: str
    decimals: int

    @property
    def text(self) -> str:
        """The value as it is shown."""
        shown = f"{self.value:.{self.decimals}f}"
        return f"{shown.removeprefix('-') if float(shown) == 0.0 else shown} {self.unit}"

    def turned(self, steps: int) -> str:
        """The value some steps further, on the grid of steps, as text that the input reads."""
        on_grid = (round(self.value / self.step) + steps) * self.step
        return f"{on_grid:.{self.decimals}f} {self.unit}"


def knobs(flight: ByHand) -> list[Knob]:
    """What can be turned on the plane that flies now, in the order that it is listed in."""
    known, out, whole = inputs_of(flight.setup), [], set()
    for name, step, unit, decimals, words in _KNOBS:
        one = known.get(name)
        if one is None or not one.now(flight.case):
            continue
        control, *way = name.removesuffix(" throw").split()
        if name.endswith("throw") and not way:
            whole.add(control)
        elif name.endswith("throw") and control in whole:
            continue
        value = flight.live.plane.cg_station if name == "cg" else one.value(flight.case)
        out.append(Knob(name, words, _SCALE[unit] * float(value), step, unit, decimals))
    return out
