"""How the channels of a record are shown: the unit a pilot reads, the decimals it deserves, a word for either sign."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sim.recording import CHANNELS

USUAL = ("airspeed", "height", "load z", "pitch rate")
_DEGREES = 180.0 / math.pi
_RPM = 30.0 / math.pi
# the name here, where the record's own says too little; the sign's words are those of sim.recording
_CALLED = {"load x": "load, lengthwise", "load y": "load, sideways", "load z": "load, toward canopy",
           "alpha": "angle of attack", "beta": "sideslip", "rolled": "rolled in the phase", "pitched": "pitched in the phase",
           "turned": "turned in the phase", "rotor speed": "propeller speed", "stalled": "stalled part of wing"}  # fmt: skip
_NOT_SHOWN = ("time", "phase time")


@dataclass(frozen=True)
class Shown:
    """A channel as it is shown: `values` of the record times `factor` are in `unit`."""

    channel: str
    name: str
    unit: str
    factor: float
    decimals: int

    def values(self, values: np.ndarray) -> np.ndarray:
        """The record's values (SI) in the unit shown."""
        return np.asarray(values, dtype=float) * self.factor


def _shown(name: str, unit: str) -> Shown:
    called = _CALLED.get(name, name)
    if name == "rotor speed":
        return Shown(name, called, "rpm", _RPM, 0)
    if name.startswith("load"):
        return Shown(name, called, "g", 1.0, 2)
    if unit == "1":
        return Shown(name, called, "%", 100.0, 0)
    if unit in ("rad", "rad/s"):
        return Shown(name, called, unit.replace("rad", "deg"), _DEGREES, 1 if unit == "rad" else 0)
    return Shown(name, called, unit, 1.0, {"m": 1, "m/s": 1, "N m": 2}.get(unit, 0))


ALL = {name: _shown(name, unit) for name, unit, _ in CHANNELS if name not in _NOT_SHOWN}
