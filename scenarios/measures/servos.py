"""What the air asks of the servos, and how far it pushes the surfaces back."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.loads import FIGURE as FIGURES
from scenarios.measures.registry import DEG, NotMeasured, measure, window
from sim import layout as L
from sim.integration import FRAME
from sim.recording import COMMAND_AT, INDEX
from sim.servo import commanded_surfaces, servo_loads, servo_rate

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

SURFACES = {"aileron": (L.AILERON_LEFT, L.AILERON_RIGHT), "elevator": (L.ELEVATOR,), "rudder": (L.RUDDER,)}
THERE, RESTS = math.radians(0.2), 5  # a servo this near to its command for so many frames has arrived
ASKED = math.radians(2.0)  # commands smaller than this are no deflection to be pushed back
FIGURE = (*FIGURES, "held")
LOAD = "definition: torque of the air on the servos over their stall torque"
SHORTFALL = "definition: commanded less reached, where a servo without load would have arrived"


def channels_of(flown: Flown, first: str, frames: slice) -> np.ndarray:
    """Four neighbouring channels of the controls from the one called `first`, shape (frames, CONTROLS)."""
    at = INDEX[first]
    return flown.flight.rows[frames, at : at + L.CONTROLS]


def loads(flown: Flown, control: str, frames: slice) -> np.ndarray:
    """Torque of the air over stall torque, shape (frames, surfaces of the control).  Raises NotMeasured without torque."""
    if not flown.setup.servos[control].torque:
        raise NotMeasured("servo torque not given: blow-back is not seen")
    surfaces, hinges = (channels_of(flown, n, frames) for n in ("left aileron", "left aileron hinge moment"))
    return servo_loads(flown.plane.model, surfaces, hinges)[:, SURFACES[control]]


def unloaded(model: np.ndarray, commands: np.ndarray) -> np.ndarray:
    """Where servos without load would stand, as commands count, shape (frames, CONTROLS)."""
    out = np.array(commands, dtype=float)
    for n in range(len(out) - 1):
        for c in range(L.CONTROLS):
            speed, lag = model[L.SERVO_SPEED + c], model[L.SERVO_LAG + c]
            out[n + 1, c] = out[n, c] + FRAME * servo_rate(out[n, c], commands[n, c], speed, max(lag, FRAME))
    return out


def blow_back(flown: Flown, control: str) -> float:
    """Degrees by which the surface stays behind its command.  Raises NotMeasured."""
    frames = window(flown, FIGURE)
    loads(flown, control, frames)
    commands = flown.flight.rows[frames, COMMAND_AT : COMMAND_AT + L.CONTROLS]
    asked, reached = commanded_surfaces(flown.plane.model, commands), channels_of(flown, "left aileron", frames)
    near = np.abs(unloaded(flown.plane.model, commands) - commands) < THERE
    there = np.all([np.roll(near, n, axis=0) for n in range(RESTS)], axis=0)
    there[: RESTS - 1] = False
    seen = (there & (np.abs(asked) > ASKED))[:, SURFACES[control]]
    if not seen.any():
        raise NotMeasured(f"no {control} of more than {ASKED * DEG:.0f} deg was held")
    behind = (np.sign(asked) * (asked - reached))[:, SURFACES[control]]
    return float(behind[seen].max()) * DEG


def _largest_hinge_moment(flown: Flown, control: str) -> float:
    hinges = channels_of(flown, "left aileron hinge moment", window(flown, FIGURE))[:, SURFACES[control]]
    return float(np.abs(hinges).max())


@measure("N m", "largest hinge moment of the air on one aileron in the figure", FIGURE, better="less")
def aileron_hinge_moment(flown: Flown) -> float:
    return _largest_hinge_moment(flown, "aileron")


@measure("N m", "largest hinge moment of the air on the elevator in the figure, both halves", FIGURE, better="less")
def elevator_hinge_moment(flown: Flown) -> float:
    return _largest_hinge_moment(flown, "elevator")


@measure("N m", "largest hinge moment of the air on the rudder in the figure", FIGURE, better="less")
def rudder_hinge_moment(flown: Flown) -> float:
    return _largest_hinge_moment(flown, "rudder")


@measure("%", "largest load of an aileron's servos in the figure, of their stall torque", FIGURE, better="less",
         source=LOAD)  # fmt: skip
def aileron_servo_load(flown: Flown) -> float:
    return 100.0 * float(np.abs(loads(flown, "aileron", window(flown, FIGURE))).max())


@measure("%", "largest load of the elevator's servos in the figure, of their stall torque", FIGURE, better="less",
         source=LOAD)  # fmt: skip
def elevator_servo_load(flown: Flown) -> float:
    return 100.0 * float(np.abs(loads(flown, "elevator", window(flown, FIGURE))).max())


@measure("%", "largest load of the rudder's servos in the figure, of their stall torque", FIGURE, better="less",
         source=LOAD)  # fmt: skip
def rudder_servo_load(flown: Flown) -> float:
    return 100.0 * float(np.abs(loads(flown, "rudder", window(flown, FIGURE))).max())


@measure("deg", "most that an aileron stays behind its command once a servo without load would be there", FIGURE,
         better="less", source=SHORTFALL)  # fmt: skip
def aileron_blow_back(flown: Flown) -> float:
    return blow_back(flown, "aileron")


@measure("deg", "most that the elevator stays behind its command once a servo without load would be there", FIGURE,
         better="less", source=SHORTFALL)  # fmt: skip
def elevator_blow_back(flown: Flown) -> float:
    return blow_back(flown, "elevator")


@measure("deg", "most that the rudder stays behind its command once a servo without load would be there", FIGURE,
         better="less", source=SHORTFALL)  # fmt: skip
def rudder_blow_back(flown: Flown) -> float:
    return blow_back(flown, "rudder")
