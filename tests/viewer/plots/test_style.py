"""The look: lines that grey and colour-blind readers tell apart, and text that fits."""

import itertools
import re
import xml.etree.ElementTree

import matplotlib.colors
import numpy as np
import pytest

from viewer.plots.style import (
    ALARM,
    EDGE,
    FILL,
    FILL_DARK,
    FILL_LIGHT,
    FOOT,
    SEPARATION,
    SERIES,
    SHADES,
    filled,
    foot_lines,
    page,
    place,
    style,
    svg,
    width_of,
)  # fmt: skip
from viewer.words import CAUTIONS


def luminance(colour) -> float:
    """Relative luminance, WCAG 2.1 (from sRGB, IEC 61966-2-1)."""
    rgb = np.array(matplotlib.colors.to_rgb(colour))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one, other) -> float:
    """Contrast ratio of two colours, WCAG 2.1."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_every_line_has_a_dash_and_a_marker_of_its_own():
    assert len({str(look.linestyle) for look in SERIES}) == len({look.marker for look in SERIES}) == len(SERIES)


@pytest.mark.parametrize("colour", [*(look.color for look in SERIES), ALARM])
def test_lines_stand_out_on_paper(colour):
    assert contrast(colour, "white") >= 3.0  # WCAG 2.1, 1.4.11: graphical objects


def seen_by(colour, kind) -> np.ndarray:
    """What a dichromat sees, in linear sRGB: Viénot, Brettel and Mollon 1999, protanope and deuteranope (from memory)."""
    rgb = np.array(matplotlib.colors.to_rgb(colour))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    matrix = {
        "protan": [[0.11238, 0.88762, 0.0], [0.11238, 0.88762, 0.0], [0.00401, -0.00401, 1.0]],
        "deutan": [[0.29275, 0.70725, 0.0], [0.29275, 0.70725, 0.0], [-0.02234, 0.02234, 1.0]],
    }[kind]
    return np.array(matrix) @ linear


@pytest.mark.parametrize("kind", ["protan", "deutan"])
def test_four_lines_stay_different_for_dichromats(kind):
    for one, other in itertools.combinations(SERIES[:4], 2):
        assert np.abs(seen_by(one.color, kind) - seen_by(other.color, kind)).max() > 0.05


@pytest.mark.parametrize("shades", [SEPARATION, SHADES])
def test_shades_rise_or_fall_without_a_turn_in_grey(shades):
    levels = np.array([luminance(shades(x)) for x in np.linspace(0.0, 1.0, 60)])
    steps = np.diff(levels)
    assert (steps < 0.0).all() or (steps > 0.0).all()
    assert abs(levels[-1] - levels[0]) > 0.4


def test_bars_keep_their_order_in_grey():
    assert luminance(FILL_DARK) < luminance(FILL) - 0.2 < luminance(FILL_LIGHT) - 0.4


def test_text_is_filled_to_its_width_as_it_is_drawn():
    """The widths that lines are filled by are those that matplotlib draws."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    lines = filled(CAUTIONS, 5.0, FOOT)
    assert " ".join(lines) == CAUTIONS
    with style():
        figure = page(8.0, 4.0)
        FigureCanvasAgg(figure)
        for line in lines:
            drawn = figure.text(0.0, 0.5, line, fontsize=FOOT)
            inches = drawn.get_window_extent().width / figure.dpi
            assert inches == pytest.approx(width_of(line, FOOT), rel=0.02) and inches < 5.0 * 1.02
    assert foot_lines(5.0, "caption", cautions=False) == ["caption"]


def test_places_are_inches_from_the_upper_left():
    figure = page(8.0, 4.0)
    box = place(figure, 1.0, 0.5, 2.0, 1.0).get_position()
    assert (box.x0, box.y1, box.width, box.height) == pytest.approx((1.0 / 8.0, 3.5 / 4.0, 0.25, 0.25)) and EDGE < 1.0


def test_an_embedded_picture_has_ids_of_its_own_and_no_size():
    with style():
        figure = page(4.0, 2.0)
        axes = place(figure, 0.5, 0.2, 3.0, 1.5)
        axes.plot([0.0, 1.0], [0.0, 1.0], **SERIES[1].line(2))
        axes.set_ylabel("height, m")
    text = svg(figure, "one")
    root = xml.etree.ElementTree.fromstring(text)
    assert text.startswith("<svg") and "viewBox" in root.attrib and "width" not in root.attrib
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids)) and all(one.startswith("one-") for one in ids)
    used = re.findall(r'(?:href="#|url\(#)([^")]+)', text)
    assert used and set(used) <= set(ids)
    assert "height, m" in [t.text for t in root.iter("{http://www.w3.org/2000/svg}text")]
