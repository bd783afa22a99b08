"""Where everything lies, for any size; pure arithmetic."""

import itertools

import pytest

from viewer.window.layout import LEAST_WINDOW, Box, Sizes, arrange

SIZES = [
    (1280, 720),
    LEAST_WINDOW,
    (1366, 768),
    (1920, 1080),
    (1920, 1200),
    (2560, 1440),
    (3840, 2160),
    (3440, 1440),
    (1200, 1600),
]
PARTS = ("header", "view", "time_line", "chart", "buttons", "sticks", "surfaces", "switches")


def overlap(a: Box, b: Box) -> float:
    width = min(a.right, b.right) - max(a.x, b.x)
    height = min(a.top, b.top) - max(a.y, b.y)
    return max(0.0, width) * max(0.0, height)


@pytest.mark.parametrize("chart", [True, False])
@pytest.mark.parametrize("column", [True, False])
@pytest.mark.parametrize("size", SIZES)
def test_parts_fill_the_window_and_none_lies_over_another(size, chart, column):
    places = arrange(*size, chart=chart, column=column)
    boxes = {name: getattr(places, name) for name in PARTS}
    for (one, a), (other, b) in itertools.combinations(boxes.items(), 2):
        assert overlap(a, b) < 1e-6, (one, other)
    assert sum(b.width * b.height for b in boxes.values()) == pytest.approx(size[0] * size[1])
    for box in boxes.values():
        assert box.x >= 0 and box.y >= 0 and box.right <= size[0] + 1e-6 and box.top <= size[1] + 1e-6
    assert places.view.height >= size[1] / 3 - 1 and places.view.width >= size[0] / 2
    assert places.time_line.x <= places.plot_left < places.plot_right <= places.time_line.right


def test_without_chart_or_column_the_view_grows():
    whole = arrange(1280, 720)
    bare = arrange(1280, 720, chart=False, column=False)
    assert bare.chart.height == 0 and bare.sticks.width == 0
    assert bare.view.height > 1.4 * whole.view.height and bare.view.width == 1280


def test_text_grows_with_the_window_and_with_the_screens_pixels():
    heights = [Sizes.of(*size).text for size in ((960, 600), (1280, 720), (1920, 1080), (3840, 2160))]
    assert heights == sorted(heights) and heights[1] == 14 and 30 <= heights[3] <= 42
    assert Sizes.of(*LEAST_WINDOW).tiny >= 9
    assert Sizes.of(2560, 1440, ratio=2.0).text == 28  # twice the pixels for the same desktop size


def test_boxes_split_and_hold_points():
    box = Box(10, 20, 100, 50)
    top, rest = box.split_top(20)
    assert (top.y, top.top, rest.top, rest.y) == (50, 70, 50, 20)
    assert box.contains(10, 20) and not box.contains(110, 30)
    assert [c.x for c in box.columns(3, 5)] == pytest.approx([10, 45, 80])
    assert [round(r.top) for r in box.rows(2, 10)] == [70, 40]
    assert box.inset(60).width == 0
