"""Trust shown beside a number is that of the contributors' page: known measures, and the same figures."""

import re
from pathlib import Path

from scenarios import trust
from scenarios.at_rest import KNOWN
from scenarios.trust import OF_MEASURE, Trust

PAGE = Path(__file__).parents[2] / "DEVELOPERS.md"


def test_every_measure_that_is_trusted_exists():
    assert set(OF_MEASURE) <= set(KNOWN)


def test_every_figure_stands_on_the_contributors_page():
    section = PAGE.read_text(encoding="utf-8").split("## How far to trust this")[1].split("\n## ")[0]
    known = set(re.findall(r"\d+", section))
    groups = [value for value in vars(trust).values() if isinstance(value, Trust)]
    assert len(groups) > 10
    for group in groups:
        assert set(re.findall(r"\d+", group.short + group.words)) <= known, group
