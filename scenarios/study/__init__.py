"""Tolerance studies: how far measures spread because inputs are not known exactly, and which input to measure better."""

from scenarios.study.findings import (
    Better,
    Endings,
    Finding,
    Study,
    counted,
    first_of,
    study_of,
    to_measure_better,
    with_rows,
)
from scenarios.study.uncertain import in_wind, uncertain_inputs

__all__ = [
    "Better",
    "Endings",
    "Finding",
    "Study",
    "counted",
    "first_of",
    "in_wind",
    "study_of",
    "to_measure_better",
    "uncertain_inputs",
    "with_rows",
]
