"""The columns of a study's table: a measure of a manoeuvre each, with its unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from models.errors import UserError, unknown_name
from scenarios.measures import MEASURES
from scenarios.schema import ManoeuvreFile

if TYPE_CHECKING:
    from scenarios.ensemble.work import Work


@dataclass(frozen=True)
class Column:
    """One measure of one manoeuvre."""

    manoeuvre: str
    measure: str
    unit: str

    @property
    def name(self) -> str:
        """Its heading, unit in it."""
        return f"{self.manoeuvre} {self.measure}" + (f" ({self.unit})" if self.unit else "")


def columns_of(work: Work, manoeuvres: list[ManoeuvreFile]) -> tuple[Column, ...]:
    """The columns of `work` in flying order.  Raises `UserError` for a measure that a manoeuvre does not have."""
    asked = dict(work.measures)
    columns = []
    for manoeuvre in manoeuvres:
        for name in asked.get(manoeuvre.name, manoeuvre.measures):
            if name not in manoeuvre.measures:
                raise UserError(f"measure of {manoeuvre.name}: {unknown_name('measure', name, manoeuvre.measures)}")
            columns.append(Column(manoeuvre.name, name, MEASURES[name].unit))
    return tuple(columns)
