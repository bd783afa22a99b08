"""A check as JUnit XML, as continuous integration reads it: a suite a setup, a case a rule, a case for each flight of a baseline.

The shape is that of the published schema of the Ant JUnit task's reports (its attributes, their order of elements).
"""

from __future__ import annotations

from datetime import UTC, datetime
from xml.etree import ElementTree as ET

from models.errors import printable
from scenarios.rules import FAILED, UNFLOWN, WARNING, Judgement
from viewer.check import Held, drift_cells, limit_text, summary
from viewer.text import number

LONGEST = 2000  # characters of a text


def junit(held: list[Held], started: datetime, seconds: float) -> bytes:
    """The document, UTF-8; `started` in UTC.  A warning is a passed case and stands in the suite's output."""
    root = ET.Element("testsuites")
    for number_, one in enumerate(held):
        _suite(root, number_, one, started, seconds / max(len(held), 1))
    ET.indent(root)
    return ET.tostring(root, encoding="utf-8", xml_declaration=True) + b"\n"


def _suite(root: ET.Element, place: int, held: Held, started: datetime, seconds: float) -> None:
    check = held.check
    flights = list(dict.fromkeys(drift.of for drift in held.drifts or ()))
    broken = [of for of in flights if any(drift.of == of for drift in held.drifted)]
    failures = [one for one in check.judgements if one.verdict == FAILED]
    errors = [one for one in check.judgements if one.verdict == UNFLOWN and one.must]
    suite = ET.SubElement(
        root,
        "testsuite",
        package=_text(check.readings.setup.airframe.name),
        id=str(place),
        name=_text(check.name),
        timestamp=started.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S"),
        hostname="localhost",  # where it ran is nobody's business
        tests=str(len(check.judgements) + len(flights)),
        failures=str(len(failures) + len(broken)),
        errors=str(len(errors)),
        time=f"{seconds:.3f}",
    )
    properties = ET.SubElement(suite, "properties")
    for name, value in (("rules", ", ".join(check.plan.files)), ("way of flying", check.readings.setup.way_of_flying)):
        ET.SubElement(properties, "property", name=name, value=_text(value))
    notes = [summary(check)]
    for one in check.judgements:
        case = _case(suite, f"{check.name}.rules", one.rule.name)
        if one in failures or one in errors:
            word = "failure" if one in failures else "error"
            fault = ET.SubElement(case, word, type=one.verdict, message=_text(_said(one)))
            fault.text = _text(f"{_said(one)}\n{one.rule.part.reason} ({one.rule.part.source})")
        elif not one.holds:
            word = "not flown" if one.verdict == UNFLOWN else WARNING
            notes.append(f"{word}, {one.rule.name}: {_said(one)}. {one.rule.part.reason} ({one.rule.part.source})")
    for of in flights:
        case = _case(suite, f"{check.name}.baseline", of)
        lines = [
            f"{drift.measure}: was {was}, is {now}"
            + (f", change {change}, allowed {allowed} {drift.unit}" if change else "")
            for drift in held.drifted
            if drift.of == of
            for was, now, change, allowed in [drift_cells(drift)]
        ]
        if lines:
            fault = ET.SubElement(case, "failure", type="drift", message=_text("; ".join(lines)))
            fault.text = _text("\n".join(lines))
    ET.SubElement(suite, "system-out").text = _text("\n".join(notes))
    ET.SubElement(suite, "system-err")


def _case(suite: ET.Element, group: str, name: str) -> ET.Element:
    return ET.SubElement(suite, "testcase", name=_text(name), classname=_text(group), time="0.000")


def _said(one: Judgement) -> str:
    """What was found and allowed, in a line."""
    part = one.rule.part
    if part.outcome or one.value is None:
        return one.reason
    said = f"{part.measure} {number(one.value, one.rule.measure.unit)} {one.rule.measure.unit}".strip()
    said += f", limit {limit_text(one)}"
    return said + (f", {one.share.held} of {one.share.draws} draws hold" if one.share else "")


def _text(text: str) -> str:
    """Text that XML can hold: control characters escaped, lines kept, not without end."""
    return "\n".join(printable(line, LONGEST) for line in text[: 10 * LONGEST].split("\n"))
