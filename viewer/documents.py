"""The JSON documents: one per command, every number with its unit."""

from __future__ import annotations

import json
import math
from typing import Any

from models.units import in_unit
from scenarios.account import Account, PartLoad
from scenarios.balance import Balance
from scenarios.compare import Comparison
from scenarios.manoeuvres import Flown
from scenarios.measures import Taken
from scenarios.outcomes import outcome
from sim.modes import Mode
from viewer.words import wind_line


def quantity(value: float | None, unit: str) -> dict[str, Any]:
    """{"value", "unit"}; a number that is not finite becomes null."""
    return {"value": float(value) if value is not None and math.isfinite(value) else None, "unit": unit}


def _mm(metres: float) -> dict[str, Any]:
    return quantity(in_unit(metres, "length", "mm"), "mm")


def balance_document(name: str, airframe: str, b: Balance) -> dict[str, Any]:
    """The document of `upline balance`."""
    return {
        "setup": name,
        "airframe": airframe,
        "mass": quantity(b.mass, "kg"),
        "cg": _mm(b.cg),
        "cg_mac": quantity(100.0 * b.cg_mac, "%"),
        "cg_height": _mm(b.cg_height),
        "cg_right": _mm(b.cg_right),
        "neutral_point": _mm(b.neutral_point),
        "neutral_point_mac": quantity(100.0 * b.neutral_point_mac, "%"),
        "static_margin": quantity(100.0 * b.static_margin, "%"),
        "mac": _mm(b.mac),
        "mac_leading_edge": _mm(b.mac_leading_edge),
        "wing_loading": quantity(b.wing_loading, "kg/m2"),
        "lift_slope": quantity(b.lift_slope, "1/rad"),
        "inertia": {k: quantity(v, "kg m2") for k, v in zip(("roll", "pitch", "yaw", "roll_yaw_product"), b.inertia)},
        "moved_item": {
            "name": b.moved_item,
            "at": _mm(b.item_station),
            "tray": [_mm(x) for x in b.tray],
            "cg_reach": [_mm(x) for x in b.reach],
        },
        "level_flight": {
            "airspeed": quantity(b.airspeed, "m/s"),
            "modes": [_mode(m) for m in b.modes],
            "modes_with_settled_flow": [_mode(m) for m in b.settled_modes],
            "derivatives": {
                "reference": {
                    "wing_area": quantity(b.derivatives.area, "m2"),
                    "chord": quantity(b.derivatives.chord, "m"),
                    "span": quantity(b.derivatives.span, "m"),
                },
                "power_on": {symbol: quantity(v, _per(symbol)) for symbol, v in b.derivatives.values.items()},
                "power_off": {symbol: quantity(v, _per(symbol)) for symbol, v in b.derivatives_off.values.items()},
            },
        },
        "estimated": list(b.estimated),
    }


def _per(symbol: str) -> str:
    return "1/rad" if "_" in symbol and not symbol.endswith("_u") else ""


def _mode(mode: Mode) -> dict[str, Any]:
    time = "time_to_double" if mode.grows else "time_to_half"
    return {
        "name": mode.name,
        "eigenvalue": {
            "real": quantity(mode.eigenvalue.real, "1/s"),
            "imaginary": quantity(mode.eigenvalue.imag, "1/s"),
        },
        "natural_frequency": quantity(mode.natural_frequency, "rad/s"),
        "damping_ratio": quantity(mode.damping_ratio, ""),
        "period": quantity(mode.period, "s"),
        time: quantity(mode.time_to_half_or_double, "s"),
        "participation": {state: round(share, 4) for state, share in mode.participation.items() if share >= 0.01},
    }


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


def compare_document(comparison: Comparison) -> dict[str, Any]:
    """The document of `upline compare`."""
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
    return {"setups": comparison.setups, "endings": comparison.endings, "rows": rows}


def written(document: dict[str, Any]) -> str:
    """The document as text; never NaN or Infinity."""
    return json.dumps(document, indent=1, allow_nan=False, ensure_ascii=True)
