"""Readers for the published numbers in tests/reference: each file names its source in its first lines."""

from __future__ import annotations

import csv
import pathlib

import yaml

FOLDER = pathlib.Path(__file__).parents[1] / "reference"


def table(name: str, **chosen) -> list[dict]:
    """Rows of a csv file as dicts (numbers where they are numbers), those whose columns equal `chosen`."""
    with open(FOLDER / name, encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    rows = [{key: _number(value) for key, value in row.items()} for row in rows]
    return [row for row in rows if all(row[key] == value for key, value in chosen.items())]


def facts(name: str) -> dict:
    """A yaml file as it stands."""
    return yaml.safe_load((FOLDER / name).read_text(encoding="utf-8"))


def _number(text: str):
    try:
        return float(text)
    except (TypeError, ValueError):
        return text
