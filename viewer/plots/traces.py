"""What is drawn over time: every quantity with its name, unit, the words for its sign, and how it is read from a flight."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scenarios.measures.registry import DEG
from sim import layout as L
from sim.servo import commanded_surfaces, servo_loads
from viewer.plots.flights import Flight

RPM = 30.0 / math.pi
CONTROLS = ("left aileron", "right aileron", "elevator", "rudder")
# the least range of an axis: what is smaller than this is not worth a zigzag over the whole height
LEAST = {
    "deg": 4.0,
    "deg/s": 10.0,
    "%": 10.0,
    "m/s": 2.0,
    "m": 4.0,
    "g": 0.4,
    "A": 5.0,
    "rpm": 200.0,
    "N": 10.0,
    "N m": 0.2,
}


@dataclass(frozen=True)
class Trace:
    """A quantity over time: `read` gives it (n,) in `unit`; `up` and `down` say what its signs mean; `turn` where it wraps.

    `also` is a second, fainter line for a single flight, and `also_name` what it is called.
    """

    name: str
    unit: str
    read: Callable[[Flight], np.ndarray]
    up: str = ""
    down: str = ""
    turn: float = 0.0
    also: Callable[[Flight], np.ndarray] | None = None
    also_name: str = ""

    @property
    def label(self) -> str:
        """As an axis is called."""
        return f"{self.name}, {self.unit}"

    def values(self, flight: Flight) -> np.ndarray:
        """The quantity over the flight's time, in `unit`, with gaps where it wraps or is not finite."""
        found = np.array(self.read(flight), dtype=float)
        found[~np.isfinite(found)] = np.nan
        if self.turn:
            found[1:][np.abs(np.diff(found)) > 0.5 * self.turn] = np.nan
        return found


def _channel(name: str, scale: float = 1.0) -> Callable[[Flight], np.ndarray]:
    return lambda flight: scale * flight.channel(name)


def _of(
    name: str, unit: str, up: str = "", down: str = "", scale: float = 1.0, called: str = "", turn: float = 0.0
) -> Trace:
    return Trace(called or name, unit, _channel(name, scale), up, down, turn)


def _asked(control: int) -> Callable[[Flight], np.ndarray]:
    return lambda flight: DEG * commanded_surfaces(flight.plane.model, flight.commands)[:, control]


def _surface(control: int) -> Trace:
    name = CONTROLS[control]
    up, down = ("left", "right") if name == "rudder" else ("down", "up")
    return Trace(
        name, "deg", _channel(name, DEG), f"edge {up}", f"edge {down}", also=_asked(control), also_name="asked for"
    )


def servo_load(control: int) -> Trace:
    """The load of a control's servos, % of their stall torque."""

    def read(flight: Flight) -> np.ndarray:
        found = servo_loads(
            flight.plane.model, flight.controls("left aileron"), flight.controls("left aileron hinge moment")
        )
        return 100.0 * found[:, control]

    return Trace(f"{CONTROLS[control]} servo", "%", read, "air pushes down" if control < L.RUDDER else "air pushes left",
                 "air pushes up" if control < L.RUDDER else "air pushes right")  # fmt: skip


def _hardest(flight: Flight) -> np.ndarray:
    surfaces, hinges = flight.controls("left aileron"), flight.controls("left aileron hinge moment")
    return 100.0 * np.abs(servo_loads(flight.plane.model, surfaces, hinges)).max(axis=1)


HARDEST = Trace("hardest worked servo", "%", _hardest)


def hinge_moment(control: int) -> Trace:
    """The moment of the air about a control's hinge."""
    way = ("down", "up") if control < L.RUDDER else ("left", "right")
    return _of(f"{CONTROLS[control]} hinge moment", "N m", f"pushes {way[0]}", f"pushes {way[1]}",
               called=f"{CONTROLS[control]} hinge")  # fmt: skip


AIRSPEED, HEIGHT, CLIMB = _of("airspeed", "m/s"), _of("height", "m"), _of("climb rate", "m/s", "climbs", "sinks")
BANK = _of("bank", "deg", "right wing down", "left wing down", DEG, turn=360.0)
PITCH = _of("pitch", "deg", "nose up", "nose down", DEG)
HEADING = _of("heading", "deg", "right", "left", DEG, turn=360.0)
ROLL_RATE = _of("roll rate", "deg/s", "right", "left", DEG)
PITCH_RATE = _of("pitch rate", "deg/s", "to canopy", "to gear", DEG)
YAW_RATE = _of("yaw rate", "deg/s", "nose right", "nose left", DEG)
ALPHA = _of("alpha", "deg", "wind from gear", "from canopy", DEG, turn=360.0)
BETA = _of("beta", "deg", "wind from right", "from left", DEG)
STALLED = _of("stalled", "%", scale=100.0, called="wing stalled")
LOAD = _of("load z", "g", "to canopy", "to gear", called="load factor")
SIDE_LOAD = _of("load y", "g", "to right wing", "to left wing", called="side load")
THRUST_LOAD = _of("load x", "g", "forward", "aft", called="load along")
AILERON = _of("aileron stick", "%", "right", "left", 100.0)
ELEVATOR = _of("elevator stick", "%", "pull", "push", 100.0)
RUDDER = _of("rudder stick", "%", "right", "left", 100.0)
THROTTLE = _of("throttle", "%", "open", "shut", 100.0)
CURRENT = _of("current", "A", called="battery current")
ROTOR = _of("rotor speed", "rpm", scale=RPM, called="propeller")
THRUST = _of("thrust", "N", "pulls", "brakes")
SURFACES = tuple(_surface(control) for control in range(L.CONTROLS))

GROUPS: dict[str, tuple[Trace, ...]] = {
    "speed": (AIRSPEED, HEIGHT, CLIMB),
    "attitude": (BANK, PITCH, HEADING),
    "rates": (ROLL_RATE, PITCH_RATE, YAW_RATE),
    "flow": (ALPHA, BETA, STALLED),
    "sticks": (AILERON, ELEVATOR, RUDDER, THROTTLE),
    "surfaces": SURFACES,
    "loads": (LOAD, SIDE_LOAD, THRUST_LOAD),
    "power": (THROTTLE, ROTOR, CURRENT, THRUST),
}


def servos(flights: list[Flight]) -> tuple[Trace, ...]:
    """Servo loads where every flight's setup gives the torque of that control, else hinge moments."""
    given = [all(f.plane.model[L.SERVO_GIVE + c] > 0.0 for f in flights) for c in range(L.CONTROLS)]
    return tuple(servo_load(c) if given[c] else hinge_moment(c) for c in range(L.CONTROLS))


def has_current(flights: list[Flight]) -> bool:
    """Whether any of the flights draws from a battery."""
    return any(np.any(flight.channel("current") != 0.0) for flight in flights)


def has_torque(flights: list[Flight]) -> bool:
    """Whether every flight's setup gives the torque of some servo."""
    return all(np.any(f.plane.model[L.SERVO_GIVE : L.SERVO_GIVE + L.CONTROLS] > 0.0) for f in flights)


def group(what: str, flights: list[Flight]) -> tuple[Trace, ...]:
    """The traces of a group; without the battery current where no flight has one."""
    if what == "servos":
        return servos(flights)
    found = GROUPS[what]
    if what == "power" and not has_current(flights):
        found = tuple(trace for trace in found if trace is not CURRENT)
    return found
