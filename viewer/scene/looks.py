"""What can be switched on and off in a picture, and what the switches are called."""

from __future__ import annotations

from dataclasses import dataclass, fields


@dataclass(frozen=True)
class Switches:
    """What is drawn besides the plane."""

    ribbon: bool = True
    ghost: bool = True
    stall: bool = True
    slipstream: bool = False
    forces: bool = False
    references: bool = True
    shadow: bool = True
    propeller: bool = True


# field, the word on a command line, what a legend calls it
SWITCHES = (
    ("ribbon", "path", "path"),
    ("ghost", "second", "second flight"),
    ("stall", "stall", "stalled strips"),
    ("slipstream", "slipstream", "slipstream"),
    ("forces", "forces", "forces by part"),
    ("references", "lines", "lines and field"),
    ("shadow", "shadow", "shadow and plumb line"),
    ("propeller", "propeller", "propeller disk"),
)
assert tuple(name for name, _, _ in SWITCHES) == tuple(f.name for f in fields(Switches))
