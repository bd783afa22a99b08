"""What a cure is made of: the coupling, its causes by part, what to change, what is left over, what it costs."""

from __future__ import annotations

from dataclasses import dataclass, field

# from "How far to trust this" in DEVELOPERS.md
TRUST = {
    "knife-edge": (
        "Knife edge hands-off holds as direction and order over CG, and the difference between right and left as "
        "direction; rudder and sideslip to within 25 %, too large. Start with half of a mix and fly both sides."
    ),
    "rolls": (
        "Control response at small angles holds to within 20 %. Yaw in a roll is a small difference of large loads: "
        "take the differential as direction and order."
    ),
    "thrust": (
        "45-degree lines hold as direction and order over CG; yaw from swirl is half of what was measured in the "
        "hover. Take the change as direction; move half a degree at a time."
    ),
    "down-line": (
        "Zero crossings of lines hands-off shift by several % MAC, and with them a mix of a few per cent changes its "
        "sign. Take it as direction; step by 1 %."
    ),
    "cg": (
        "45-degree lines hold as direction and order over CG; zero crossings shift by several % MAC, and the static "
        "margin by 3 to 4 % MAC, likely too large."
    ),
}


@dataclass(frozen=True)
class Cause:
    """Moment (N m) that a part adds to the coupling `of`; `positive` and `negative` say which way it turns the plane."""

    of: str
    part: str
    moment: float
    positive: str
    negative: str


@dataclass(frozen=True)
class Option:
    """One way to set the cure.

    `label` says what for, `edit` what to write in the setup file, `change` the same in short, `amounts` its
    numbers (name, value, unit), `made_for` the row of what is left over that shows it, `warning` why not to follow it.
    """

    label: str
    edit: str
    change: str
    amounts: tuple[tuple[str, float, str], ...] = ()
    made_for: int = 0
    warning: str = ""


@dataclass(frozen=True)
class Row:
    """A quantity as it is and under each option, in `unit`; None where it was not found."""

    what: str
    unit: str
    values: tuple[float | None, ...]
    positive: str = ""
    negative: str = ""


@dataclass
class Cure:
    """The cure of one `coupling`: `left` is what it leaves over, `price` what it changes besides.

    `notes` are sentences that a pilot has to read beside the numbers; `reason` says why there is no option.
    """

    group: str
    coupling: str
    causes: list[Cause] = field(default_factory=list)
    options: list[Option] = field(default_factory=list)
    left: list[Row] = field(default_factory=list)
    price: list[Row] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    reason: str = ""

    @property
    def trust(self) -> str:
        """How far to trust it."""
        return TRUST[self.group]


def percent(share: float) -> str:
    """A share as the setup file writes it, never "-0.0 %"."""
    return f"{round(100.0 * share, 1) + 0.0:g} %"
