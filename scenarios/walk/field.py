"""What is flown on the field at every step of a walk, in which order, what shows that all is well, and the sign to go back.

Order and signs are common practice, no source (`retreat two steps on tuck, inverted climb, recovery over one turn,
constant correction, buzz`); the numbers are those of the step's own flights.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenarios.walk.limits import EDGES, SPINS
from scenarios.walk.walking import Flown, Walk

RANGE = (0.05, 0.95)  # of the draws, shown as the spread


@dataclass(frozen=True)
class Check:
    """One thing to fly: `manoeuvres` as they are called here, `how`, what shows that all is `well`, the sign to go `back`.

    `seen` are (measure, what it is called); `step` is what a step aft adds to what is seen.
    """

    title: str
    manoeuvres: tuple[str, ...]
    how: str
    seen: tuple[tuple[str, str], ...]
    well: str
    back: str
    step: str = ""

    @property
    def well_at_a_step(self) -> str:
        """What shows that all is well at a step of a walk."""
        return ", ".join(filter(None, (self.well, self.step)))


CHECKS = (
    Check(
        "Slow flight", ("slow-flight",), "as slow as is comfortable, height held, both ways along the field",
        (("corrections", "corrections"),),
        "the nose stays where it is put, with few and small corrections", "constant correction, a nose that hunts",
    ),
    Check(
        "Trim", ("level-trim",), "hands off at cruise, then a small pull",
        (("elevator_trim", "elevator trim, up"), ("pitch_response", "pitch per elevator")),
        "it repeats", "trim that does not repeat: look for slop first",
        "with a little less up elevator than the step before",
    ),
    Check(
        "Dive test", ("dive-test",), "trimmed at cruise, 30 deg down at that throttle, then let go",
        (("pitch_drift", "dive, toward canopy"),),
        "it pulls out by itself", "it tucks under", "a little later at every step",
    ),
    Check(
        "Inverted", ("inverted-flight",), "level, then the elevator let go",
        (("pitch_drift", "inverted, toward canopy"),),
        "it sinks (toward the canopy)", "it climbs", "less at every step",
    ),
    Check(
        "Stalls", ("stall",), "idle, level, slowed to the break; let go, then power",
        (("stall_speed", "stall speed"), ("height_lost", "stall height lost"), ("wing_drop", "wing drop, right")),
        "the nose drops and it flies again at once", "it rolls over, or sinks on with the nose down",
        "within the height shown",
    ),
    Check(
        "Spins of one turn", SPINS, "stall at idle, full rudder and elevator; after one turn let go",
        (("turns_to_stop", "turns to stop"),),
        "it stops by itself in less than one more turn", "more than one turn to stop",
    ),
    Check(
        "Approach", (), "long and shallow, with a little power, then a flare (not flown here)", (),
        "speed and sink stay where they are put", "it balloons or sinks on: go around",
    ),
    Check(
        "Knife edge", EDGES, "both ways, held, then the elevator let go for two seconds",
        (("elevator_to_hold", "elevator held, up"), ("pitch_coupling", "pitch in 2 s, canopy")),
        "it is held with rudder to spare", "it goes to the gear so fast that you cannot wait two seconds",
    ),
    Check(
        "Hover", ("hover",), "at height, held", (("elevator_left", "elevator left over"),),
        "it stands on small corrections", "the nose falls out of it", "with no more elevator than before",
    ),
)  # fmt: skip
LAST = "Snap rolls, harriers and whatever else is flown for show come last, at the step that is kept."


@dataclass(frozen=True)
class Seen:
    """What one measure is at a step: the nominal flight's `value`, and `low` and `high`, between which nine of ten draws
    lie (None where not taken, or not drawn)."""

    value: float | None
    low: float | None
    high: float | None


def checks_of(walk: Walk) -> list[Check]:
    """The checks that go with what was flown, those that nothing flies here too."""
    return [check for check in CHECKS if not check.manoeuvres or set(check.manoeuvres) <= set(walk.plan.manoeuvres)]


def rows_of(walk: Walk) -> list[tuple[Check, str, str, str, str]]:
    """(check, manoeuvre, measure, what it is called, unit) of everything that is predicted for each step."""
    units = {(manoeuvre, measure): unit for manoeuvre, measure, unit in walk.columns}
    rows = []
    for check in checks_of(walk):
        for measure, label in check.seen:
            for manoeuvre in check.manoeuvres:
                side = next((f" {side}" for side in ("right", "left") if manoeuvre.endswith(f"-{side}")), "")
                rows.append((check, manoeuvre, measure, label + side, units[manoeuvre, measure]))
    return rows


def seen(walk: Walk, flown: Flown, manoeuvre: str, measure: str) -> Seen:
    """A measure at a step, with its spread."""
    at = next(n for n, (m, name, _) in enumerate(walk.columns) if (m, name) == (manoeuvre, measure))
    value, drawn = float(flown.values[0, at]), flown.values[1:, at]
    drawn = drawn[np.isfinite(drawn)]
    low, high = (float(v) for v in np.quantile(drawn, RANGE)) if len(drawn) > 1 else (None, None)
    return Seen(value if np.isfinite(value) else None, low, high)
