"""A tolerance study as a JSON document."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from models.units import in_unit
from scenarios.draws import Uncertain
from scenarios.inputs import inputs_of
from scenarios.study import Finding, Study, first_of, to_measure_better
from scenarios.study.distribution import CONFIDENCE, Quantile, Share
from scenarios.study.influence import Ranking
from scenarios.study.uncertain import ANY, how, said, shown_in
from sim.description import Setup
from viewer.documents import quantity
from viewer.study import in_flight


def study_document(study: Study, setup: Setup, files: list[str]) -> dict[str, Any]:
    """The document of `upline study`."""
    work, known = study.work, inputs_of(setup)
    return {
        "setup": setup.name,
        "airframe": setup.airframe.name,
        "pilot": work.pilot,
        "seed": work.seed,
        "draws": study.draws,
        "more_flights_for_variance": study.more,
        "confidence": CONFIDENCE,
        "set": dict(work.fixed),
        "uncertain": [_uncertain(one, setup) for one in work.uncertain],
        "manoeuvres": [
            {
                "manoeuvre": endings.manoeuvre,
                "nominal_ended": endings.nominal,
                "endings": {name: _share(share) for name, share in endings.shares.items()},
                "endings_from": _ranking(endings.ranking, ""),
                "measures": [_finding(finding) for finding in study.of(endings.manoeuvre)],
            }
            for endings in study.endings
        ],
        "measure_better": [
            {
                "input": one.input,
                "on_the_bench": not in_flight(one.input, known),
                "narrower": [
                    {"manoeuvre": column.manoeuvre, "measure": column.measure, "by": quantity(100.0 * by, "%")}
                    for column, by in one.narrower
                ],
            }
            for one in to_measure_better(study)
        ],
        "files": files,
    }


def _uncertain(one: Uncertain, setup: Setup) -> dict[str, Any]:
    dimension, unit, _ = shown_in(inputs_of(setup)[one.input])
    out = {"input": one.input, "kind": one.kind, "how": how(one.input, setup) or None}
    if not dimension or (one.input in ANY and said(one, setup) == "any"):
        return {**out, "spread": "any"}
    return {**out, "spread": quantity(in_unit(one.spread, dimension, unit), unit)}


def _finding(finding: Finding) -> dict[str, Any]:
    unit, found = finding.column.unit, finding.distribution
    out: dict[str, Any] = {
        "measure": finding.column.measure,
        "unit": unit,
        "nominal": quantity(finding.nominal, unit),
        "nominal_reason": finding.nominal_reason or None,
        "missing": _share(finding.missing),
        "missing_reason": finding.reason or None,
        "mostly_from": first_of(finding)[0] or None,
        "ranking": _ranking(finding.ranking, unit),
    }
    if found is not None:
        out["draws_in_it"] = found.count
        out["quantiles"] = [_quantile(q, unit) for q in found.quantiles]
        out |= {name: quantity(getattr(found, name), unit) for name in ("mean", "sd", "least", "most")}
        out["above_zero"] = _share(found.above)
    if finding.indices is not None:
        orders = {"first": finding.indices.first, "total": finding.indices.total}
        out["variance"] = {
            "rows": finding.indices.rows,
            "of": finding.indices.of,
            "why_not": finding.indices.why_not or None,
            **{order: {name: asdict(index) for name, index in found.items()} for order, found in orders.items()},
        }
    return out


def _quantile(one: Quantile, unit: str) -> dict[str, Any]:
    return {"share": one.share, **quantity(one.value, unit), "low": one.low, "high": one.high}


def _share(share: Share) -> dict[str, Any]:
    return {"draws": share.count, "of": share.of, "share": share.value, "low": share.low, "high": share.high}


def _ranking(found: Ranking, unit: str) -> dict[str, Any]:
    if found.why_not:
        return {"why_not": found.why_not}
    return {
        "explained": found.explained,
        "first_told_apart": found.first_told_apart,
        "inputs": [{**asdict(one), "per_sigma": quantity(one.per_sigma, unit)} for one in found.influences],
    }
