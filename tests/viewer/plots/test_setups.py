"""Setups side by side: which measures are chosen, and what is drawn of them."""

import matplotlib.text
import pytest

from scenarios.compare import Comparison, Row
from scenarios.measures import MEASURES
from viewer.plots.setups import OF_ONE, SHOWN, description, difference, differing_most, figure_of
from viewer.text import number


def row(manoeuvre, measure, *values):
    return Row(
        manoeuvre, MEASURES[measure], list(values), ["" if v is not None else "not measured: why" for v in values]
    )


ROWS = [
    row("upline-45", "pitch_drift", -0.2, -6.9),
    row("upline-45", "roll_drift", 0.9, 0.8),
    row("stall", "stall_speed", 11.1, 11.3),
    row("stall", "nose_drop", 22.3, 11.5),
    row("hover", "aileron_to_stop_roll", None, 22.5),
    row("hover", "hover_throttle", 72.4, 72.4),
]


def test_differences_count_in_what_a_pilot_would_notice():
    assert difference(ROWS[0]) == pytest.approx(6.7 / 4.0) and difference(ROWS[3]) == pytest.approx(10.8 * 6.0 / 22.3)
    assert difference(ROWS[4]) == difference(ROWS[5]) == 0.0  # one number alone, and no difference
    most = differing_most(ROWS)
    assert [r.measure.name for r in most] == [
        "pitch_drift",
        "roll_drift",
        "stall_speed",
        "nose_drop",
    ]  # in flying order
    assert [r.measure.name for r in differing_most(ROWS, 2)] == ["pitch_drift", "nose_drop"]


def test_no_manoeuvre_fills_the_page():
    many = [row("hover", name, 1.0, 2.0) for name in list(MEASURES)[:8]]
    assert len(differing_most(many)) == OF_ONE <= SHOWN


def test_the_numbers_and_units_of_every_setup_are_drawn():
    comparison = Comparison(["first", "second"], [], ROWS)
    figure = figure_of(comparison)
    assert len(figure.axes) == 4
    for axes, one in zip(figure.axes, differing_most(ROWS)):
        name, unit = one.measure.name.replace("_", " "), one.measure.unit
        assert axes.get_title(loc="left") == f"{one.manoeuvre}\n{name}, {unit}"
        ends = [float(line.get_xdata()[-1]) for line in axes.get_lines() if line.get_marker() not in ("None", "")]
        assert ends == one.values
        said = [text.get_text().split(" ")[0] for text in axes.texts]
        assert said == [number(value, unit) for value in one.values]
        markers = [line.get_marker() for line in axes.get_lines() if line.get_marker() not in ("None", "")]
        assert len(set(markers)) == 2
    said = " ".join(" ".join(text.get_text().split()) for text in figure.findobj(matplotlib.text.Text))
    assert "first" in said and "4 of 6 measures" in said and "clears nothing to fly" in said
    assert "pitch_drift in upline-45, deg/s: first -0.2, second -6.9" in description(comparison)


def test_what_only_some_could_measure_is_said():
    figure = figure_of(Comparison(["a", "b", "c"], [], [row("hover", "aileron_to_stop_roll", None, 22.5, 34.4)]))
    assert "not measured" in figure.axes[0].texts[0].get_text()


def test_nothing_that_differs_is_said():
    figure = figure_of(Comparison(["a", "b"], [], ROWS[5:]))
    assert not figure.axes and any("differs" in text.get_text() for text in figure.texts)


def test_the_command_draws(upline, tmp_path):
    asked = ("compare", "precision", "slow-3d", "--manoeuvre", "upline-45", "--picture")
    code, out, err = upline(*asked, "a.svg")
    assert code == 0 and "written: a.svg" in out, err
    text = (tmp_path / "a.svg").read_text(encoding="utf-8")
    assert "What differs most: precision, slow-3d" in text and "pitch drift, deg/s" in text
    code, _, err = upline(*asked, "a.doc")
    assert code == 2 and "--picture: found" in err
