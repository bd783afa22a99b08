"""What a pilot would change to take a coupling out of a setup: causes, cure, what is left over, and its price.

Found from steady states and small changes of them, then tried on the changed setup, in flights too.
"""

from __future__ import annotations

from collections.abc import Callable

from scenarios.cures.balance_point import cg_cures
from scenarios.cures.down_line import down_line_cures
from scenarios.cures.knife_edge import knife_edge_cures
from scenarios.cures.report import Cure
from scenarios.cures.rolls import roll_cures
from scenarios.cures.thrust import thrust_cures
from scenarios.manoeuvres import CannotFly, flyable
from sim.description import Setup
from sim.trim import NoTrim, level_trim

SPEED, HEIGHT = 25.0, 100.0  # m/s, m: level flight that the trims are set in
GROUPS = {
    "knife-edge": ("knife edge, right and left", knife_edge_cures),
    "rolls": ("rolls", roll_cures),
    "thrust": ("up-lines with power", thrust_cures),
    "down-line": ("down-line at idle", down_line_cures),
    "cg": ("45-degree line over CG", cg_cures),
}


def cures(setup: Setup, only: str | None = None, progress: Callable[[str], None] = lambda what: None) -> list[Cure]:
    """The cures of `setup`, all or those of one of `GROUPS`.

    A cure that cannot be computed says why in its `reason`.  Raises `UserError` when the CG
    cannot be reached, `CannotFly` without level flight.
    """
    out: list[Cure] = []
    for group, (what, find) in GROUPS.items():
        if only not in (None, group):
            continue
        progress(what)
        plane = flyable(setup)
        try:
            level = level_trim(plane, SPEED, HEIGHT)
        except NoTrim as stop:
            raise CannotFly(f"{setup.name}: {stop}") from None
        try:
            out += find(setup, plane, level)
        except NoTrim as stop:  # a state that only the changed setup has to reach
            out.append(Cure(group, what, reason=str(stop)))
    return out
