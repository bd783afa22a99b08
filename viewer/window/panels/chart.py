"""The strip chart: one lane a measure over one axis of time, phases as bands behind, the instant shown as a line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from viewer.text import number
from viewer.window import mesh, theme
from viewer.window.layout import Box
from viewer.window.panels.time_axis import TimeAxisPanel


@dataclass(frozen=True)
class Lane:
    """A measure of one or two flights, in the unit shown; times in seconds of the first flight's clock."""

    name: str
    unit: str
    times: np.ndarray
    values: np.ndarray
    second_times: np.ndarray = field(default_factory=lambda: np.zeros(0))
    second_values: np.ndarray = field(default_factory=lambda: np.zeros(0))
    decimals: int = 1
    turn: float = 0.0  # what a whole turn is, for angles that jump there; 0 for what never jumps

    def at(self, time: float) -> list[float | None]:
        """The values of the first and, if there is one, the second flight; None outside a flight."""
        pairs = [(self.times, self.values), (self.second_times, self.second_values)]
        return [_at(times, values, time) for times, values in pairs if len(times)]


def _at(times: np.ndarray, values: np.ndarray, time: float) -> float | None:
    slack = 1e-6 + (times[-1] - times[0]) / max(1, len(times) - 1)  # a frame: flights end between frames
    if not times[0] - slack <= time <= times[-1] + slack:
        return None
    after = min(len(times) - 1, int(np.searchsorted(times, time)))
    near = after - 1 if after and time - times[after - 1] < times[after] - time else after
    value = float(values[near])
    return value if math.isfinite(value) else None


def nice_step(span: float, most: int) -> float:
    """The smallest of 1, 2, 5 times a power of ten that divides `span` into at most `most` parts."""
    if not (math.isfinite(span) and span > 0.0 and most > 0):
        return 1.0
    power = 10.0 ** math.floor(math.log10(span / most))
    return next(power * f for f in (1.0, 2.0, 5.0, 10.0) if power * f * most >= span * (1.0 - 1e-12))


def ticks(low: float, high: float, most: int) -> list[float]:
    """Round values from `low` to `high`, some `most` of them."""
    step = nice_step(high - low, most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [i * step for i in range(first, last + 1)]


def span_of(lane: Lane) -> tuple[float, float]:
    """Lowest and highest value shown in a lane: those of both flights and some room, at least a few last digits."""
    values = np.concatenate([lane.values, lane.second_values])
    values = values[np.isfinite(values)]
    low, high = (float(values.min()), float(values.max())) if len(values) else (0.0, 1.0)
    least = 10.0 * 10.0**-lane.decimals
    room = max(0.08 * (high - low), (least - (high - low)) / 2)
    return low - room, high + room


def unbroken(times: np.ndarray, values: np.ndarray, turn: float) -> tuple[np.ndarray, np.ndarray]:
    """The line of an angle with a break wherever it jumps by more than half a turn."""
    if not turn or len(values) < 2:
        return times, values
    jumps = np.flatnonzero(np.abs(np.diff(values)) > turn / 2) + 1
    return np.insert(times, jumps, times[jumps]), np.insert(values, jumps, np.nan)


def in_lines(name: str, most: int) -> list[str]:
    """A name in lines of up to `most` letters, broken between words."""
    lines = [""]
    for word in name.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > most:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    return lines


class ChartPanel(TimeAxisPanel):
    """Lanes below each other; `draw_lanes` once a choice, `show` every frame."""

    def __init__(self) -> None:
        super().__init__()
        self.lanes: list[Lane] = []
        self.phases: Sequence[tuple[str, float, float]] = ()
        self.chosen: int | None = None

    def draw_lanes(self, lanes: list[Lane], start: float, end: float, phases=(), chosen: int | None = None) -> None:
        """Show these lanes from `start` to `end`, phases as (name, start, end); `chosen` is the lane keys act on."""
        self.lanes = lanes
        self.reach(start, end)
        self.phases, self.chosen = phases, chosen
        self.place(self.box, self.sizes)

    def in_plot(self, x: float, y: float) -> bool:
        """Whether a point lies where time can be pointed at."""
        slack = self.sizes.gap
        return self.visible and self.box.contains(x, y) and self._plot[0] - slack <= x <= self._plot[1] + slack

    def lane_at(self, x: float, y: float) -> int | None:
        """The lane whose name or values are at a point."""
        if not self.visible or not self.box.contains(x, y) or self.in_plot(x, y):
            return None
        return next((i for i, lane in enumerate(self._lane_boxes) if lane.y <= y < lane.top), None)

    def lay_out(self) -> None:
        """Bands, axes, lines, names."""
        sizes, sheet = self.sizes, self.sheet
        sheet.ground.rectangle(self.box, theme.PAPER)
        bands, rest = self.box.split_top(sizes.px(17))
        lanes, axis = rest.split_top(rest.height - sizes.px(18))
        self._lanes_box = lanes
        self._bands(bands, lanes)
        self._time_axis(axis, lanes)
        self._lane_boxes = lanes.rows(max(1, len(self.lanes)))
        self._spans = [span_of(lane) for lane in self.lanes]
        self._values = [self._lane(i, lane, box) for i, (lane, box) in enumerate(zip(self.lanes, self._lane_boxes))]

    def _bands(self, bands: Box, lanes: Box) -> None:
        sizes, sheet = self.sizes, self.sheet
        sheet.words("phase", bands.x + sizes.gap, bands.centre[1], sizes.tiny, theme.FAINT_TEXT)
        for i, (name, start, end) in enumerate(self.phases):
            x0, x1 = (round(self.x_at(min(max(t, self.start), self.end))) for t in (start, end))
            if x1 <= x0:
                continue
            if i % 2 == 0:
                sheet.ground.rectangle(Box(x0, lanes.y, x1 - x0, bands.top - lanes.y), theme.PAPER_2)
            sheet.ground.rectangle(Box(x0, lanes.y, 1, bands.top - lanes.y), theme.EDGE)
            if x1 - x0 > sizes.px(30):
                sheet.words(
                    name, x0 + sizes.px(4), bands.centre[1], sizes.tiny, theme.TEXT, within=x1 - x0 - sizes.px(6)
                )

    def _time_axis(self, axis: Box, lanes: Box) -> None:
        sizes, sheet = self.sizes, self.sheet
        left, right = self._plot
        y = axis.centre[1]
        for t in ticks(self.start, self.end, max(2, int((right - left) / sizes.px(80)))):
            x = round(self.x_at(t))
            sheet.ground.rectangle(Box(x, lanes.y - sizes.px(3), 1, lanes.height + sizes.px(3)), theme.GRID)
            sheet.words(f"{t:g}" if abs(t) > 1e-9 else "0", x, y, sizes.tiny, theme.TEXT, "center")
        sheet.words("time, s", axis.x + sizes.gap, y, sizes.tiny, theme.FAINT_TEXT)

    def _lane(self, index: int, lane: Lane, box: Box):
        sizes, sheet = self.sizes, self.sheet
        left, right = self._plot
        if index == self.chosen:
            sheet.ground.rectangle(Box(box.x, box.y + 2, sizes.px(4), box.height - 4), theme.ON)
        sheet.ground.rectangle(Box(box.x, round(box.y), box.width, 1), theme.EDGE)
        room = left - box.x - sizes.gap - sizes.px(40)
        letters = max(6, int(room / (0.60 * sizes.small)))
        lines = in_lines(f"{lane.name} ({lane.unit})" if lane.unit else lane.name, letters)
        pitch = sizes.px(14)
        y = box.centre[1] + pitch * (len(lines) - 1) / 2
        for i, words in enumerate(lines):
            sheet.words(words, box.x + sizes.gap, y - i * pitch, sizes.small, theme.TEXT, within=room)
        low, high = self._spans[index]
        half = 0.6 * sizes.tiny
        parts = max(2, min(5, int(box.height / sizes.px(14))))
        step, below = nice_step(high - low, parts), box.y - 2 * half
        for value in ticks(low, high, parts):
            y = self._y(value, low, high, box)
            shade = theme.EDGE if abs(value) < 1e-9 * (high - low) else theme.GRID
            sheet.ground.rectangle(Box(left, round(y), right - left, 1), shade)
            text = f"{value:.{max(0, -math.floor(math.log10(step) + 1e-9))}f}" if value else "0"
            y = min(max(y, box.y + half), box.top - half)
            if y - below >= 2 * half:
                sheet.words(text, left - sizes.px(5), y, sizes.tiny, theme.FAINT_TEXT, "right")
                below = y
        for times, values, colour, dash in (
            (lane.second_times, lane.second_values, theme.SECOND, sizes.px(5)),
            (lane.times, lane.values, theme.FIRST, 0.0),
        ):
            if len(times) > 1:
                sheet.ground.line(self._points(times, values, lane.turn, low, high, box), colour, sizes.line, dash)
        x, second = right + sizes.gap, len(lane.second_times) > 0
        shift = sizes.px(8) if second else 0.0
        values = [
            sheet.words("", box.right - sizes.gap, box.centre[1] + shift, sizes.small, theme.FIRST, "right", bold=True)
        ]
        if second:
            values.append(
                sheet.words("", box.right - sizes.gap, box.centre[1] - shift, sizes.small, theme.SECOND, "right")
            )
            for y, colour, dash in ((shift, theme.FIRST, 0.0), (-shift, theme.SECOND, sizes.px(4))):
                y += box.centre[1]
                sheet.ground.line([(x, y), (x + sizes.px(18), y)], colour, sizes.line, dash)
        return values

    def _y(self, value: float, low: float, high: float, box: Box) -> float:
        return box.y + 2 + (box.height - 4) * (value - low) / (high - low)

    def _points(self, times, values, turn: float, low: float, high: float, box: Box) -> np.ndarray:
        times, values = unbroken(np.asarray(times, float), np.asarray(values, float), turn)
        left, right = self._plot
        x = left + (right - left) * (times - self.start) / (self.end - self.start)
        y = box.y + 2 + (box.height - 4) * (values - low) / (high - low)
        inside = (x >= left - 1) & (x <= right + 1)
        x, y = mesh.thinned(x[inside], y[inside])
        return np.stack([x, y], 1)

    def show(self, time: float) -> None:
        """Put the line at `time` and say the values there."""
        if not self.changed(round(float(time), 4)):
            return
        sizes, moving = self.sizes, self.sheet.moving
        moving.wipe()
        width = max(2.0, sizes.px(2))
        x, lanes = self.x_at(time), self._lanes_box
        moving.rectangle(Box(round(x - width / 2), lanes.y, width, lanes.height), theme.CURSOR)
        for lane, box, words, (low, high) in zip(self.lanes, self._lane_boxes, self._values, self._spans):
            values = lane.at(time)
            for i, value in reversed(list(enumerate(values))):
                self.say(words[i], number(value, lane.unit, lane.decimals))
                if value is not None:
                    y = self._y(value, low, high, box)
                    if i:
                        moving.ring(x, y, sizes.px(5), theme.SECOND, sizes.line)
                    else:
                        moving.disk(x, y, sizes.px(4), theme.FIRST)
        moving.lay()
