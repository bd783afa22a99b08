"""Records made by hand for the tests of measures: any phases, any channels, a plane that only has what measures ask of it."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np

from scenarios.manoeuvres import Flown, manoeuvre_from_text
from scenarios.measures import MEASURES
from scenarios.schema import ManoeuvreFile
from sim import layout as L
from sim.description import Servo
from sim.flight import Flight
from sim.integration import FRAME
from sim.recording import INDEX, ROW, STATE_AT
from tests.scenarios.flying import HEAD, LEVEL

DEG = math.pi / 180.0
THROW = SimpleNamespace(positive=0.5, negative=0.4)
SERVO = Servo(10.0, torque=2.0)
# phases of each kind of manoeuvre, and seconds that they take in a record
SHAPES = {
    "level-trim": {"hands off": 4.0, "small pull": 0.6},
    "power": {"idle": 3.0, "full power": 3.0},
    "upline-45": {"pull up": 1.0, "set the line": 5.0, "hands off": 3.0},
    "knife-edge": {"roll in": 0.8, "held": 8.0, "elevator let go": 2.0, "held again": 5.0, "ailerons let go": 1.0},
    "stall": {"slow down": 5.0, "release": 0.7, "recover": 2.0},
    "spin": {"enter": 1.0, "spin": 4.0, "recover": 2.0},
    "roll": {"roll": 2.0, "stop": 1.0},
    "snap": {"snap": 1.0, "stop": 1.0},
    "loop": {"loop": 8.0},
    "stall-turn": {"climb": 2.0, "turn": 1.0, "down": 2.0},
    "hover": {"held": 6.0, "ailerons let go": 6.0, "climb out": 2.0},
    "harrier": {"slow down": 1.0, "harrier": 8.0},
    "tumble": {"enter": 1.0, "tumble": 2.0, "recover": 2.0},
    "wall": {"wall": 2.0, "recover": 1.0},
    "pass": {"full stick": 1.0, "recover": 1.0},
}


def level_state() -> SimpleNamespace:
    x, command = np.zeros(L.STATE), np.zeros(L.COMMAND)
    x[L.VELOCITY], x[L.VELOCITY + 2] = 20.0, 2.0
    command[L.ELEVATOR], command[L.RUDDER] = -0.02, 0.01
    command[L.AILERON_LEFT], command[L.AILERON_RIGHT] = 0.005, -0.005
    x[L.SERVO : L.SERVO + L.CONTROLS] = command[: L.CONTROLS]
    return SimpleNamespace(x=x, command=command, elevator=-0.02, duty=0.3)


def by_hand() -> SimpleNamespace:
    """What the measures ask of a plane: six wing strips over 2 m of span, CG 10 mm to the right, servos of 2 N m."""
    model = np.zeros(L.SIZE)
    model[L.Y + 2 : L.Y + 8] = [-0.9, -0.5, -0.1, 0.1, 0.5, 0.9]
    model[L.SERVO_SPEED : L.SERVO_SPEED + 4], model[L.SERVO_LAG : L.SERVO_LAG + 4] = 10.0, 0.02
    model[L.SERVO_GIVE : L.SERVO_GIVE + 4] = 1.0 / SERVO.torque
    cg = SimpleNamespace(cg=np.array([0.0, 0.01, 0.0]))
    wing = {"wing": slice(2, 8)}
    return SimpleNamespace(
        throttle_for_duty=lambda duty: 2.0 * duty, span=2.0, model=model, strips=wing, mass=cg, known={}
    )


def manoeuvre(shape: str | dict[str, float], measures: tuple[str, ...] = (), start: str = LEVEL) -> ManoeuvreFile:
    """A manoeuvre with the phases of `shape`."""
    phases = SHAPES[shape] if isinstance(shape, str) else shape
    lines = "".join(f"  - {{name: {name}, for: {seconds} s}}\n" for name, seconds in phases.items())
    return manoeuvre_from_text(f"{HEAD}{start}phases:\n{lines}measures: [{', '.join(measures)}]\n")


def record(shape, reached=None, ending="completed", **channels) -> Flown:
    """A record of the manoeuvre `shape`; `reached` the seconds of the phases that were, all of them when left out.

    A channel is a number, or a function of (time, phase index) over the frames.
    """
    phases = SHAPES[shape] if isinstance(shape, str) else shape
    return of(manoeuvre(phases), tuple(phases.values()) if reached is None else reached, ending, **channels)


def of(manoeuvre, seconds, ending="completed", ended_in=None, **channels) -> Flown:
    frames = [int(round(s / FRAME)) for s in seconds]
    starts = np.full(len(manoeuvre.phases), -1, dtype=np.int64)
    starts[: len(frames)] = np.cumsum([0, *frames[:-1]])
    rows = np.zeros((sum(frames), ROW))
    time = np.arange(len(rows)) * FRAME
    phase = np.repeat(np.arange(len(frames)), frames)
    rows[:, INDEX["time"]] = time
    rows[:, STATE_AT + L.SEPARATION :] = 1.0
    for channel, value in channels.items():
        filled = value(time, phase) if callable(value) else value
        rows[:, INDEX[channel.replace("_", " ")]] = filled
    flight = Flight(rows, starts, ending, len(frames) - 1 if ended_in is None else ended_in, "")
    plane = by_hand()
    controls = ("aileron", "elevator", "rudder")
    setup = SimpleNamespace(
        name="by hand", throws=dict.fromkeys(controls, THROW), servos=dict.fromkeys(controls, SERVO)
    )
    nothing = np.zeros(4)
    return Flown(setup, manoeuvre, plane, level_state(), flight, np.zeros(L.STATE), nothing, nothing, nothing)


def take(name: str, flown: Flown) -> float:
    return MEASURES[name].take(flown)


def last(p, t, phase, end, seconds, inside, outside):
    """`inside` in the last `seconds` of `phase`, which ends at time `end`; else `outside`."""
    return np.where((p == phase) & (t >= end - seconds - 1e-9), inside, outside)
