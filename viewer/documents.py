"""The JSON documents: one per command, every number with its unit."""

from __future__ import annotations

import json
import math
from typing import Any

from scenarios.account import Account, PartLoad
from scenarios.compare import Comparison
from scenarios.differences import Difference
from scenarios.manoeuvres import Flown
from scenarios.measures import Taken
from scenarios.outcomes import outcome
from viewer.words import wind_line


def quantity(value: float | None, unit: str) -> dict[str, Any]:
    """{"value", "unit"}; a number that is not finite becomes null."""
    return {"value": float(value) if value is not None and math.isfinite(value) else None, "unit": unit}


def fly_document(flown: Flown, taken: list[Taken], why: Account | None) -> dict[str, Any]:
    """The document of `upline fly`."""
    document: dict[str, Any] = {
        "manoeuvre": flown.manoeuvre.name,
        "setup": flown.setup.name,
        "airframe": flown.setup.airframe.name,
        "ended": flown.flight.ending,
        "ended_in": flown.manoeuvre.phases[flown.flight.phase].name,
        "measures": {},
    }
    became = outcome(flown)
    if became is not None:
        document["outcome"] = {"was_it": became.was, "words": became.words}
    wind = flown.manoeuvre.start.wind
    if wind is not None:
        document["wind"], document["seed"] = wind_line(wind), wind.seed
    if flown.flight.bad:
        document["first_bad"] = flown.flight.bad
    for t in taken:
        entry = quantity(t.value, t.measure.unit)
        if t.value is None:
            entry["reason"] = t.reason
        document["measures"][t.measure.name] = entry
    if why is not None:
        document["why"] = {
            "phase": why.phase,
            "parts": [_load(p) for p in why.parts],
            "level_trim": [_load(p) for p in why.level],
            "swirl": _load(why.swirl),
        }
    return document


def _load(p: PartLoad) -> dict[str, Any]:
    return {"part": p.part, **{axis: quantity(getattr(p, axis), "N m") for axis in ("roll", "pitch", "yaw")}}


def compare_document(comparison: Comparison, found: list[Difference]) -> dict[str, Any]:
    """The document of `upline compare`; `found` is what differs in the files, as written there."""
    files = [{"field": d.field, "values": dict(zip(comparison.setups, (c or None for c in d.cells)))} for d in found]
    rows = []
    for row in comparison.rows:
        entry: dict[str, Any] = {
            "manoeuvre": row.manoeuvre,
            "measure": row.measure.name,
            "unit": row.measure.unit,
            "values": dict(zip(comparison.setups, row.values)),
        }
        reasons = {s: r for s, v, r in zip(comparison.setups, row.values, row.reasons) if v is None}
        if reasons:
            entry["reasons"] = reasons
        rows.append(entry)
    return {"setups": comparison.setups, "files": files, "endings": comparison.endings, "rows": rows}


def written(document: dict[str, Any]) -> str:
    """The document as text; never NaN or Infinity."""
    return json.dumps(document, indent=1, allow_nan=False, ensure_ascii=True)
