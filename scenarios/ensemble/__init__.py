"""Many flights: the same manoeuvres with every draw of what nobody knows exactly."""

from scenarios.ensemble.columns import Column
from scenarios.ensemble.crew import crew_of
from scenarios.ensemble.results import Results
from scenarios.ensemble.running import read, run
from scenarios.ensemble.store import Stopped
from scenarios.ensemble.table import write_table
from scenarios.ensemble.work import ENDED, NOT_FLOWN, NOTHING_FLOWN, Row, Work, cases_of, fly_draw, prepare

__all__ = [
    "ENDED", "NOT_FLOWN", "NOTHING_FLOWN", "Column", "Results", "Row", "Stopped", "Work", "cases_of", "crew_of",
    "fly_draw", "prepare", "read", "run", "write_table",
]  # fmt: skip
