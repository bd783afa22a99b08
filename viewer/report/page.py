"""The page: results put into the template, with its scripts, its styles and every input."""

from __future__ import annotations

import base64
import hashlib
import io
import shlex
from datetime import UTC, datetime
from importlib import resources
from typing import Any

from scenarios.cures.report import Cure
from scenarios.trust import NOT_COMPARED, NOT_SEEN
from sim.build import mean_aerodynamic_chord
from viewer.cures import SIGNS
from viewer.report import tables as T
from viewer.report.asked import inputs_document
from viewer.report.results import Results, numbers_document
from viewer.report.traces import (
    CHANNELS,
    MISSING,
    STEPS,
    alt_text,
    first_channels,
    stall_text,
    stalls,
    step_for,
    trace_document,
)
from viewer.report.verdict import verdict, worst
from viewer.text import number
from viewer.version import version
from viewer.walk import verdict as walk_verdict
from viewer.words import CAUTIONS, at_once, what_changed

STYLES = ("uPlot.css", "page.css")
SCRIPTS = ("uPlot.js", "common.js", "charts.js", "stall.js", "replay.js")  # in the order in which they run
# how a setup's line looks, told apart by dash as well as by colour; each has a contrast of at least 4.5 to white
LOOKS = (
    {"colour": "#0b5c8a", "dash": [], "words": "unbroken"},
    {"colour": "#b23b06", "dash": [9, 5], "words": "dashed"},
    {"colour": "#3b6b22", "dash": [2, 4], "words": "dotted"},
    {"colour": "#6b3fa0", "dash": [12, 4, 2, 4], "words": "dash and dot"},
    {"colour": "#725800", "dash": [16, 6], "words": "long dashes"},
    {"colour": "#4a4a4a", "dash": [4, 2], "words": "short dashes"},
)


def page_of(results: Results) -> str:
    """The whole page as text."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("viewer.report", "page"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    environment.policies["json.dumps_kwargs"] = {"allow_nan": False}  # and in the order that things were asked in
    return environment.get_template("page.html").render(
        **_words(results), **_tables(results), **_inputs(results), flights=_flights(results),
        licence=_text("uPlot.LICENSE.txt"), looks=LOOKS, styles=[Markup(_text(name)) for name in STYLES],
        scripts=[Markup(_text(name)) for name in SCRIPTS],
    )  # fmt: skip


def _text(name: str) -> str:
    return (resources.files("viewer.report") / "page" / name).read_text(encoding="utf-8")


def _words(results: Results) -> dict[str, Any]:
    asked, names = results.asked, results.comparison.setups
    planes = " and ".join(dict.fromkeys(one.setup.airframe.name for one in asked.loaded))
    flown = [manoeuvre.name for manoeuvre, _ in asked.manoeuvres]
    what = "How does this setup fly" if len(names) == 1 else "How do these setups differ, and how does each fly"
    line = f"{what}? Flown: {', '.join(flown)}, by the {asked.pilot} pilot, and what the rules of each way of flying ask for."
    parts = [
        ("asked", "What was asked"), ("verdict", "Verdict"), ("cautions", "Cautions"),
        *([("differences", "What differs")] if len(names) > 1 else []), ("replay", "Replay"), ("balance", "Balance"),
        ("rules", "Rules"), ("manoeuvres", "Manoeuvres"), *([("cures", "Causes and cures")] if results.cures else []),
        *([("rearward", "CG further aft")] if results.walks else []), ("trust", "How far to trust it"),
        ("inputs-part", "Inputs"),
    ]  # fmt: skip
    now = datetime.now(UTC).strftime("%d %B %Y, %H:%M UTC")
    return {
        "title": f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0],
        "parts": parts,
        "flown": bool(results.traces),
        "asked": line + (" The CG was walked aft until a limit tripped." if asked.rearward else ""),
        "setups": [
            {"name": s.name, "airframe": s.airframe.name, "way": s.way_of_flying, "about": s.about}
            for s in (one.setup for one in asked.loaded)
        ],
        "verdict": verdict(results),
        "changed": [*what_changed(results.comparison), *at_once(results.found)] if len(names) > 1 else [],
        "cautions": CAUTIONS,
        "not_compared": NOT_COMPARED,
        "not_seen": NOT_SEEN,
        "cure_signs": SIGNS,
        "made": f"Made by upline {version()} for {planes} on {now}.",
    }


def _tables(results: Results) -> dict[str, Any]:
    return {
        "files": T.files_table(results),
        "balance": T.balance_table(results),
        "modes": T.modes_table(results),
        "rules": [T.rules_table(check) for check in results.checks],
        "manoeuvres": [_manoeuvre(results, n) for n in range(len(results.asked.manoeuvres))],
        "cures": [
            {"setup": name, "cures": [_cure(cure, name) for cure in found]}
            for name, found in zip(results.comparison.setups, results.cures)
        ],
        "walks": [_walk(walked) for walked in results.walks],
        "trust": T.trust_table(),
        "known": T.inputs_table(results),
        "estimated": [
            f"Estimated values of {plane.name}: {', '.join(plane.estimated)}."
            for plane in {one.setup.airframe.name: one.setup.airframe for one in results.asked.loaded}.values()
            if plane.estimated
        ],
    }


def _manoeuvre(results: Results, n: int) -> dict[str, Any]:
    """A manoeuvre's words, tables and what its charts begin with."""
    manoeuvre, names = results.asked.manoeuvres[n][0], results.comparison.setups
    traces = results.traces_of(manoeuvre.name)
    lines = []
    for trace in traces:
        ended = f"ended: {trace.ending}" if trace.ending != "completed" or not trace.words else ""
        said = "; ".join(filter(None, (trace.words, ended)))
        lines.append(f"{trace.setup}: {said}." if said else f"{trace.setup}: {trace.ending}.")
    flown = [trace.setup for trace in traces]
    lines += [f"{name}: not flown." for name in names if name not in flown]
    first = [channel for name in first_channels(manoeuvre.name) for channel in CHANNELS if channel.name == name]
    return {
        "name": manoeuvre.name,
        "about": manoeuvre.about,
        "lines": lines,
        "measures": T.measures_table(results, manoeuvre.name),
        "flown": [names.index(name) for name in flown],
        "charts": [{"name": c.name, "alt": alt_text(manoeuvre.name, c, traces)} for c in first] if traces else [],
        "stalls": [
            {"setup": trace.setup, "flight": n, "alt": stall_text(trace)}
            for n, trace in enumerate(traces)
            if stalls(trace)
        ],
        "accounts": [
            {
                "setup": f'{trace.setup}, over "{trace.why.phase}"',
                "table": T.account_table(trace.setup, manoeuvre.name, trace.why),
            }
            for trace in traces
            if trace.why
        ],
    }


def _cure(cure: Cure, setup: str) -> dict[str, Any]:
    return {
        "title": cure.coupling[0].upper() + cure.coupling[1:],
        "causes": "; ".join(T.causes_words(cure)) + ".",
        "reason": cure.reason,
        "options": [
            {
                "letter": letter, "label": option.label, "edit": option.edit, "warning": option.warning,
                "amounts": ", ".join(f"{what} {number(value, unit)} {unit}".rstrip() for what, value, unit in option.amounts),
            }
            for letter, option in zip("ABCDEFG", cure.options)
        ],
        "tables": T.cure_tables(cure, setup),
        "notes": cure.notes,
        "trust": cure.trust,
    }  # fmt: skip


def _walk(walked) -> dict[str, Any]:
    """A walk's words, its table, and its picture."""
    from viewer.plots.walk import draw

    file = io.BytesIO()
    draw(walked, file, "png")
    lines = walk_verdict(walked)
    name = walked.plan.loaded.setup.name
    return {
        "setup": name,
        "verdict": lines,
        "table": T.walk_table(walked),
        "alt": f"Every limit over the CG of {name}, with the band of the draws. {' '.join(lines)}",
        "caption": f"Limits over the CG of {name}; hatched is beyond a limit.",
        "picture": "data:image/png;base64," + base64.b64encode(file.getvalue()).decode("ascii"),
    }


def _inputs(results: Results) -> dict[str, Any]:
    """The inputs as people read them and as `--again` does."""
    document = inputs_document(results.asked)
    texts = [
        (f"{entry['name']}: {kind}", text) for entry in document["setups"] for kind, text in entry["files"].items()
    ]
    texts += [(f"manoeuvre {name}", text) for name, text in document["manoeuvres"].items()]
    texts += [(f"rules {name}", text) for name, text in document["rules"].items()]
    listed = [
        [title, str(text.count("\n") + 1), hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]]
        for title, text in texts
    ]
    return {
        "inputs": document,
        "numbers": numbers_document(results),
        "texts": [{"title": title, "text": text} for title, text in texts],
        "versions": T.Table("Versions", ["part", "version"], [[k, v] for k, v in document["versions"].items()]),
        "file_list": T.Table("Files, whole in this page", ["file", "lines", "SHA-256 begins"], listed),
        "again": shlex.join(["upline", "report", "--again", "THIS-PAGE.html", "--to", "again.html"]),
    }


def _flights(results: Results) -> dict[str, Any]:
    """What the page's scripts draw from."""
    names = results.comparison.setups
    every = step_for(results.traces)
    spans = []
    for one in results.asked.loaded:
        wing = next(s for s in one.setup.airframe.surfaces if s.name == "wing")
        spans.append(mean_aerodynamic_chord(wing)[3])
    flown = [manoeuvre.name for manoeuvre, _ in results.asked.manoeuvres if results.traces_of(manoeuvre.name)]
    bad = [one.rule.of for one in map(worst, results.checks) if one is not None and one.rule.of in flown]
    order = [manoeuvre.name for manoeuvre, _ in results.asked.manoeuvres]
    return {
        "first": order.index([*bad, *flown][0])
        if flown
        else 0,  # what the replay begins with: where the worst was seen
        "steps": STEPS,
        "missing": MISSING,
        "looks": LOOKS,
        "setups": [{"name": n, "span": span, "faces": faces} for n, span, faces in zip(names, spans, results.faces)],
        "channels": [{"name": c.name, "label": c.label, "unit": c.unit, "positive": c.positive} for c in CHANNELS],
        "manoeuvres": [
            {
                "name": manoeuvre.name,
                "flights": [
                    trace_document(trace, names.index(trace.setup), every)
                    for trace in results.traces_of(manoeuvre.name)
                ],
            }
            for manoeuvre, _ in results.asked.manoeuvres
        ],
    }
