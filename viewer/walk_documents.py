"""A walk as a JSON document and as CSV."""

from __future__ import annotations

import csv
import io
import math
from typing import Any, BinaryIO

from scenarios.walk.field import checks_of, seen
from scenarios.walk.limits import Limit
from scenarios.walk.verdict import FLIGHT
from scenarios.walk.walking import Walk
from viewer.documents import quantity
from viewer.walk import label, verdict


def walk_document(walk: Walk, files: list[str]) -> dict[str, Any]:
    """The JSON document of a walk."""
    plan, path = walk.plan, walk.plan.path
    setup = plan.loaded.setup
    return {
        "setup": setup.name,
        "airframe": setup.airframe.name,
        "way_of_flying": setup.way_of_flying,
        "input": path.input,
        "manoeuvres": list(plan.manoeuvres),
        "draws": plan.draws,
        "seed": plan.seed,
        "pilot": plan.pilot,
        "flights": walk.flights,
        "share_that_may_break": quantity(100.0 * plan.share, "%"),
        "confidence": quantity(100.0 * plan.confidence, "%"),
        "drawn": [{"input": u.input, "kind": u.kind, "spread": quantity(u.spread, "SI")} for u in plan.errors()],
        "limits": [_limit(limit, bool(walk.set_aside[n])) for n, limit in enumerate(plan.limits)],
        "steps": [_step(walk, n) for n in range(len(walk.flown))],
        "furthest_sound": _place(walk, walk.furthest),
        "first_not_sound": _place(walk, walk.tripped),
        "advised": _place(walk, walk.advised if path.backwards else None),
        "end": path.end,
        "trends": [
            {
                "limit": plan.limits[t.limit].name,
                "start": quantity(t.start, plan.limits[t.limit].measure_unit),
                "end": quantity(t.end, plan.limits[t.limit].measure_unit),
                "slope": quantity(t.slope, f"{plan.limits[t.limit].measure_unit} per {path.unit or 'step'}"),
                "gone_at": quantity(t.place, path.unit),
            }
            for t in walk.trends()
        ],
        "verdict": verdict(walk),
        "field_order": [
            {"title": c.title, "manoeuvres": list(c.manoeuvres), "how": c.how, "well": c.well_at_a_step, "back": c.back}
            for c in checks_of(walk)
        ],
        "files": files,
    }


def _place(walk: Walk, n: int | None) -> dict[str, Any] | None:
    return None if n is None else {"step": n + 1, "value": walk.flown[n].step.text}


def _limit(limit: Limit, aside: bool) -> dict[str, Any]:
    return {
        "name": limit.name,
        "manoeuvres": list(limit.manoeuvres),
        "measure": limit.measure,
        "side": limit.side,
        "bound": quantity(None if limit.bound is None else limit.value, limit.measure_unit),
        "written": limit.text,
        "taken_off_the_measure": quantity(limit.allowance, limit.measure_unit),
        "about": limit.about,
        "source": limit.source,
        "set_aside": aside,
    }


def _step(walk: Walk, n: int) -> dict[str, Any]:
    flown, limits = walk.flown[n], walk.plan.limits
    judged = flown.judged
    least, why = judged.least_headroom(walk.plan.share), {b.limit: b.why for b in walk.broke(n)}
    return {
        "value": flown.step.text,
        "moved_item_at": quantity(None if flown.step.item is None else 1000.0 * flown.step.item, "mm"),
        "ballast": quantity(1000.0 * flown.step.ballast, "g"),
        "draws": judged.count,
        "kept_all_limits": judged.count - judged.bad,
        "at_least": quantity(100.0 * walk.least(n), "%"),
        "sound": walk.sound(n),
        "limits": {
            limit.name: {
                "nominal_headroom": quantity(judged.headroom[0, k], limit.measure_unit),
                "headroom_of_most_draws": quantity(least[k], limit.measure_unit),
                "draws_that_broke_it": int(judged.breaks[k]),
                "why_not_measured": why.get(limit.name, ""),
                "nominal_broke_it": bool(judged.broken[0, k]),
            }
            for k, limit in enumerate(limits)
        }
        | {
            FLIGHT: {
                "draws_that_broke_it": int(judged.breaks[-1]),
                "nominal_broke_it": bool(judged.broken[0, -1]),
                "why_not_measured": why.get(FLIGHT, ""),
            }
        },
        "measures": {
            f"{manoeuvre} {measure}": {
                name: quantity(getattr(seen(walk, flown, manoeuvre, measure), name), unit)
                for name in ("value", "low", "high")
            }
            for manoeuvre, measure, unit in walk.columns
        },
    }


def walk_csv(walk: Walk, file: BinaryIO) -> None:
    """A row for each step: verdict, headroom of every limit, every measure with its spread; numbers in full."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    head = [f"{walk.plan.path.input} ({walk.plan.path.unit})" if walk.plan.path.unit else walk.plan.path.input]
    head += ["moved item (mm)", "ballast (g)", "sound", "draws", "kept all limits", "at least (%)"]
    for limit in walk.plan.limits:
        head += [
            f"{limit.name}: nominal headroom ({limit.measure_unit})",
            f"{limit.name}: headroom of most draws",
            f"{limit.name}: broke",
        ]
    for manoeuvre, measure, unit in walk.columns:
        head += [f"{manoeuvre} {measure} ({unit})", f"{manoeuvre} {measure} low", f"{manoeuvre} {measure} high"]
    writer.writerow(head)
    for n, flown in enumerate(walk.flown):
        judged, least = flown.judged, flown.judged.least_headroom(walk.plan.share)
        row = [label(walk, flown), "" if flown.step.item is None else repr(1000.0 * flown.step.item)]
        row += [repr(1000.0 * flown.step.ballast), int(walk.sound(n)), judged.count, judged.count - judged.bad]
        row.append(repr(100.0 * walk.least(n)))
        for k in range(len(walk.plan.limits)):
            row += [_full(judged.headroom[0, k]), _full(least[k]), int(judged.breaks[k])]
        for manoeuvre, measure, _ in walk.columns:
            here = seen(walk, flown, manoeuvre, measure)
            row += [_full(here.value), _full(here.low), _full(here.high)]
        writer.writerow(row)
    file.write(text.getvalue().encode("utf-8"))


def _full(value: float | None) -> str:
    return "" if value is None or not math.isfinite(value) else repr(float(value))
