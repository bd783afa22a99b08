"""The numbers a pilot recognises, each computed from the record of a flight in one place; a module a family."""

from scenarios.measures import (  # noqa: F401, I001 - the order they are listed in
    level,
    stability,
    lines,
    rotations,
    knife_edge,
    stall,
    spins,
    hover,
    high_alpha,
    loads,
    servos,
    pilot_work,
)
from scenarios.measures.registry import (
    JUDGEMENTS,
    MEASURES,
    STYLES,
    Measure,
    NotMeasured,
    Taken,
    take_measures,
    window,
)

__all__ = ["JUDGEMENTS", "MEASURES", "STYLES", "Measure", "NotMeasured", "Taken", "take_measures", "window"]
