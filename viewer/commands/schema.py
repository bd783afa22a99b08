"""`upline schema`."""

from __future__ import annotations

import argparse

from models.errors import OptionError, Refused, nearest, quoted
from viewer.commands.shared import reading, show

ABOUT = "the JSON Schema of a kind of file, for editors that complete and check while you write"
EXAMPLES = ["upline schema setup --out setup.json"]
NOTES = "Every key in words: models/FILES.md, scenarios/LANGUAGE.md and scenarios/RULES.md."
KINDS = ("airframe", "setup", "blade-family", "manoeuvre", "rules")


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("kind", metavar="KIND", help=", ".join(KINDS))
    sub.add_argument("--out", metavar="FILE", help="write it to a file that ends in .json")


def run(options: argparse.Namespace) -> int:
    """Do the work and return the exit code."""
    kind = options.kind.replace(" ", "-")
    if kind not in KINDS:
        near = " or ".join(nearest(kind, KINDS))
        raise OptionError("kind of file", Refused(quoted(options.kind), ", ".join(KINDS), near))
    reading()
    from models.editors import schema_of
    from models.loader import json_schema
    from viewer.documents import written
    from viewer.files import check_writable, write_whole

    path = check_writable("--out", options.out, (".json",)) if options.out is not None else None
    if kind == "manoeuvre":
        from scenarios.schema import ManoeuvreFile

        schema = schema_of(ManoeuvreFile)
    elif kind == "rules":
        from scenarios.rules import RulesFile

        schema = schema_of(RulesFile)
    else:
        schema = json_schema(kind.replace("-", " "))
    text = written(schema)
    if path is None:
        show(text, schema, options.json, advice=False)
        return 0
    write_whole("--out", path, lambda file: file.write(f"{text}\n".encode()))
    show(f"{path}: the schema of {kind} files", {"kind": kind, "file": str(path)}, options.json, advice=False)
    return 0
