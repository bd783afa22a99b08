"""The page of a walk: limits with their sources, where they lie, the step that trips and what to fly."""

import matplotlib.text
import numpy as np
import pytest

from models.loader import load
from scenarios.walk.field import checks_of
from scenarios.walk.limits import limits_of, with_limits
from scenarios.walk.steps import rearward
from scenarios.walk.walking import Plan, walk
from viewer.plots.walk import figure_of, verdict_line


@pytest.fixture(scope="module")
def aft():
    """Two limits of precision over steps of 9 mm."""
    loaded = load("precision", None)
    kept = {"static margin", "dive"}
    limits = limits_of("precision")
    limits = with_limits(limits, None, [f"{one.name}: off" for one in limits if one.name not in kept])
    return walk(Plan(loaded, rearward(loaded, "9 mm", None, None), limits, draws=3), workers=1)


def test_every_limit_is_drawn_where_it_is_with_its_source(aft):
    figure = figure_of(aft)
    said = " ".join(" ".join(text.get_text().split()) for text in figure.findobj(matplotlib.text.Text))
    drawn = figure.axes[1:]
    limits = [(n, limit) for n, limit in enumerate(aft.plan.limits) if limit.bound is not None]
    assert len(drawn) == len(limits) == 2
    for axes, (n, limit) in zip(drawn, limits):
        levels = [line.get_ydata()[0] for line in axes.get_lines() if len(set(line.get_ydata())) == 1]
        assert any(np.isclose(level, limit.value) for level in levels)
        dots = next(line for line in axes.get_lines() if line.get_marker() == "o")
        assert np.allclose(dots.get_ydata() - limit.value, [step.judged.headroom[0, n] for step in aft.flown])
        assert np.allclose(dots.get_xdata(), [step.step.number for step in aft.flown])
        assert f"{limit.side} {limit.text}" in said and limit.name in said
    assert "common practice, no source" in said and "clears nothing to fly" in said and "precision on tarn-220" in said


def test_the_step_that_trips_is_marked_and_told(aft):
    place = aft.flown[aft.tripped].step
    for axes in figure_of(aft).axes:
        uprights = [
            float(line.get_xdata()[0])
            for line in axes.get_lines()
            if len(set(line.get_xdata())) == 1 and len(line.get_xdata()) == 2
        ]
        assert any(np.isclose(x, place.number) for x in uprights)
    told = verdict_line(aft)
    assert f"Furthest sound step: {aft.flown[aft.furthest].step.text}." in told
    assert f"{place.text} trips: static margin" in told and "Advised: no further than" in told


def test_what_to_fly_stands_in_its_order(aft):
    figure = figure_of(aft)
    said = " ".join(" ".join(text.get_text().split()) for text in figure.texts)
    places = [said.index(f"{n} {check.title}: ") for n, check in enumerate(checks_of(aft), 1)]
    assert places == sorted(places) and "BACK: it tucks under" in said
