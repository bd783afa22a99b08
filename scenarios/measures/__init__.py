"""The numbers a pilot recognises, each computed from the record of a flight in one place; a module a family."""

from scenarios.measures import level, lines, knife_edge, stall, hover  # noqa: F401, I001 - the order they are listed in
from scenarios.measures.registry import MEASURES, Measure, NotMeasured, Taken, take_measures, window

__all__ = ["MEASURES", "Measure", "NotMeasured", "Taken", "take_measures", "window"]
