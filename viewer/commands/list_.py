"""`upline list`."""

from __future__ import annotations

import argparse

from viewer.commands.shared import reading, show

ABOUT = "what is built in"
EXAMPLES = ["upline list --manoeuvres"]


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    for what in ("setups", "airframes", "manoeuvres", "rules", "measures"):
        sub.add_argument(f"--{what}", action="store_true", help=f"only the {what}")


def run(options: argparse.Namespace) -> int:
    """Do the work and return the exit code."""
    reading()
    from models.loader import known_airframes, known_setups, setup_bases
    from scenarios.at_rest import BALANCE_MEASURES
    from scenarios.manoeuvres import known_manoeuvres
    from scenarios.measures import MEASURES
    from scenarios.rules import known_rules
    from viewer.text import wrapped

    document: dict = {}
    wanted = [k for k in ("airframes", "setups", "manoeuvres", "rules", "measures") if getattr(options, k)]
    for key, known in (
        ("airframes", known_airframes),
        ("setups", known_setups),
        ("manoeuvres", known_manoeuvres),
        ("rules", known_rules),
    ):
        if key in wanted or not wanted:
            document[key] = [{"name": name, "about": about} for name, about in known()]
    for entry in document.get("setups", ()):
        if base := setup_bases().get(entry["name"]):
            entry["from"] = base
    if "measures" in wanted or (options.json and not wanted):
        document["measures"] = [
            {"name": m.name, "unit": m.unit, "about": m.about, "source": m.source, "better": m.better}
            for m in MEASURES.values()
        ]
        document["measures of the balance"] = [
            {"name": m.name, "unit": m.unit, "about": m.about, "source": m.source} for m in BALANCE_MEASURES.values()
        ]
    lines = []
    for key, entries in document.items():
        width = max(len(e["name"]) for e in entries)
        lines += [
            key,
            *(wrapped(f"  {e['name'].ljust(width)}  {_about(e)}", " " * (width + 4), "") for e in entries),
            "",
        ]
    if "measures" not in document:
        lines.append("upline list --measures explains every measure.")
    show("\n".join(lines).rstrip(), document, options.json, advice=False)
    return 0


def _about(entry: dict) -> str:
    return f"{entry['about']} (builds on {entry['from']})" if "from" in entry else entry["about"]
