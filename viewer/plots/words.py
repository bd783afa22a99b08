"""What plots are called, how they are read, and what was the most in them: for commands, captions and alternative texts."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sim.description import ElectricPower
from viewer.plots.flights import Flight
from viewer.text import number
from viewer.words import NO_TORQUE

ABOUT = {
    "path": "The path, from the side and from above",
    "speed": "Speed and height",
    "attitude": "Attitude",
    "rates": "Rates of turn",
    "flow": "Angle of attack, sideslip, share of the wing that is stalled",
    "sticks": "Sticks",
    "surfaces": "Control surfaces",
    "loads": "Load factor",
    "stall": "Stall over the span",
    "moments": "Moments by part about the CG",
    "power": "Power",
    "servos": "What the air asks of the servos",
}
WHAT = tuple(ABOUT)
OVER_TIME = tuple(what for what in WHAT if what not in ("path", "stall", "moments"))


def flown_by(flights: Sequence[Flight]) -> str:
    """The setups, the planes that they are on, and what was flown."""
    planes = dict.fromkeys(f.plane.setup.airframe.name for f in flights)
    manoeuvres = dict.fromkeys(f.manoeuvre for f in flights)
    return f"{', '.join(dict.fromkeys(f.setup for f in flights))} on {' and '.join(planes)}, {' and '.join(manoeuvres)}"


def clock(flights: Sequence[Flight]) -> str:
    """The name of the time axis."""
    return "time, s" if all(f.zero == 0.0 for f in flights) else "time from the instant that they share, s"


def caption(what: str, flights: Sequence[Flight]) -> str:
    """How to read one of WHAT."""
    many, said = len(flights) > 1, []
    if what == "path":
        said.append(
            "Arrows: the way the nose points, and the time; crosses: where phases begin; one scale in all directions."
        )
        said += ["Heights are the flights' own; along and across, all go through 0 at 0 s."] if many else []
    elif what == "stall":
        said.append(
            "Share of the chord, by strip, behind the point where the flow leaves the surface; black line: half of it, from which"
            " on a strip counts as stalled. Span from the middle, right positive; a fin from its root."
        )
    elif what == "moments":
        said.append(
            "Thick: all together. The parts with the largest moments have lines of their own, the others are summed."
        )
    elif many:
        said.append(f"Bands behind the lines: phases of {flights[0].name}.")
    if what == "surfaces" and not many:
        said.append("Thin dashes: where the surface was asked to go.")
    if what == "servos":
        torques = all(servo.torque for f in flights for servo in f.plane.setup.servos.values())
        said.append("Torque of the air on the servos, % of the stall torque in the setup file.")
        said += [] if torques else [f"Where a {NO_TORQUE}; the hinge moment stands there instead."]
    if what == "loads":
        said.append("Force without weight over weight: 1 g in level flight.")
    if what == "power":
        powers = [f.plane.setup.airframe.power for f in flights]
        limits = sorted({power.current_limit for power in powers if isinstance(power, ElectricPower)})
        said += [f"Current limit in the airframe file: {', '.join(f'{one:g}' for one in limits)} A."] if limits else []
    return " ".join(said)


def description(what: str, flights: Sequence[Flight]) -> str:
    """An alternative text for those who do not see the picture: what it shows, of what, and the most that it reaches."""
    from viewer.plots.traces import group

    said = [f"{ABOUT[what]}: {flown_by(flights)}."]
    for flight in flights:
        told = []
        if what == "path":
            heights = flight.channel("height")
            told.append(f"height from {number(np.nanmin(heights), 'm')} to {number(np.nanmax(heights), 'm')} m")
        elif what == "stall":
            told.append(f"at most {number(100.0 * np.nanmax(flight.channel('stalled')), '%')} % of the wing stalled")
        elif what == "moments":
            told.append("of all together at most " + ", ".join(
                f"{name} {number(np.nanmax(np.abs(flight.loads[:, :, column].sum(axis=1))), 'N m')} N m"
                for name, column in (("roll", 3), ("pitch", 4), ("yaw", 5))))  # fmt: skip
        else:
            for trace in group(what, list(flights)):
                values = trace.values(flight)
                if np.isfinite(values).any():
                    low, high = (number(float(pick(values)), trace.unit) for pick in (np.nanmin, np.nanmax))
                    told.append(f"{trace.name} {low} to {high} {trace.unit}")
        named = f"{flight.name}: " if len(flights) > 1 else ""
        said.append(f"{named}{'; '.join(told)}.")
    return " ".join(said)
