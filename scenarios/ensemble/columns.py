"""The columns of a study's table: a measure of a manoeuvre each, with its unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from models.errors import UserError, unknown_name
from scenarios.at_rest import BALANCE_MEASURES, KNOWN
from scenarios.measures import Measure
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
    def definition(self) -> Measure:
        """What the measure is."""
        return KNOWN[self.measure]

    @property
    def name(self) -> str:
        """Its heading, unit in it."""
        return f"{self.manoeuvre} {self.measure}" + (f" ({self.unit})" if self.unit else "")


def columns_of(work: Work, manoeuvres: list[ManoeuvreFile | None]) -> tuple[Column, ...]:
    """The columns of `work` in flying order.  Raises `UserError` for a measure that a manoeuvre does not have."""
    asked = dict(work.measures)
    columns = []
    for (flown, _), manoeuvre in zip(work.manoeuvres, manoeuvres):
        own = manoeuvre.measures if manoeuvre else tuple(BALANCE_MEASURES)
        for name in asked.get(flown, own):
            if name not in own:
                raise UserError(f"measure of {flown}: {unknown_name('measure', name, own)}")
            columns.append(Column(flown, name, KNOWN[name].unit))
    return tuple(columns)
