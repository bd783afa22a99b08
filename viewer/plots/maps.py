"""A map as a picture that also reads in grey: a line over one input, shaded numbers over two."""

from __future__ import annotations

import math
import textwrap
from typing import BinaryIO

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure

from scenarios.inputs import Input
from scenarios.maps import Map
from viewer.map_tables import Footnotes, held, signs, title
from viewer.plots.style import FAINT, GREY, INK, NOUGHT, SHADES, WIDE, foot, save, style
from viewer.plots.style import title as title_of
from viewer.text import number

MOST_NUMBERS = (16, 30)  # columns and rows up to which numbers stand in their cells


def draw(result: Map, fixed: list[tuple[Input, str]], file: BinaryIO, kind: str) -> None:
    """The picture of `result` written to `file` as `kind`: "png", "svg" or "pdf"."""
    save(figure_of(result, fixed), file, kind)


def figure_of(result: Map, fixed: list[tuple[Input, str]], cautions: bool = True) -> Figure:
    """The figure of `result` with the inputs `fixed`; `cautions`: with them and the version at the foot."""
    with style():
        notes = Footnotes()
        count = len(result.measures)
        tall = 3.2 if len(result.axes) == 1 else min(9.0, max(2.6, 1.2 + 0.33 * result.shape[0]))
        foot_at = 0.8
        figure = Figure(figsize=(WIDE, 1.2 + (tall + 0.5) * count + foot_at), layout="constrained")
        panels = figure.subplots(count, 1, squeeze=False)[:, 0]
        for n, panel in enumerate(panels):
            (_line if len(result.axes) == 1 else _shaded)(result, n, panel, notes)
        heading = [title(result), *held(fixed, result)]
        title_of(figure, "\n".join(heading[:1] + ["   ".join(heading[1:])]).rstrip())
        foot(figure, *notes.lines(), cautions=cautions)
        figure.get_layout_engine().set(w_pad=0.08, h_pad=0.08)
        return figure


def _line(result: Map, n: int, panel: Axes, notes: Footnotes) -> None:
    """One measure over one input; gaps, and a cross at the foot, where it was not measured."""
    axis, measure = result.axes[0], result.measures[n]
    column = [row[0] for row in result.grid(n)]
    y = np.array([math.nan if v is None else v for v, _ in column])
    x = np.arange(len(y), dtype=float) if axis.numbers is None else np.array(axis.numbers)
    order = np.argsort(x)
    if axis.numbers:
        panel.plot(x[order], y[order], "-", color=GREY, linewidth=1.6, zorder=2)
    panel.plot(x, y, "o", color=INK, markersize=5.5, zorder=3, clip_on=False)
    foot = panel.get_xaxis_transform()
    for place, (value, reason) in zip(x, column):
        if value is None:
            panel.plot([place], [0.05], "x", color="black", markersize=7, transform=foot, zorder=4)
            panel.annotate(
                notes.mark(reason), (place, 0.05), xycoords=foot, xytext=(0, 7), textcoords="offset points",
                ha="center", fontsize=8,
            )  # fmt: skip
    if axis.numbers is None:
        panel.set_xticks(x, axis.texts, rotation=30 if max(map(len, axis.texts)) * len(x) > 80 else 0)
        panel.margins(x=0.1)
    now = axis.place(result.case)
    if now is not None:
        panel.axvline(now, color=FAINT, linewidth=1.0, linestyle=(0, (4, 3)), zorder=1)
        panel.annotate("as it is", (now, 1.0), xycoords=foot, xytext=(3, -9), textcoords="offset points", fontsize=8)
    low, high = panel.get_ylim()
    if low < 0.0 < high:
        panel.axhline(0.0, **NOUGHT)
    panel.grid()
    panel.set_title(_title(result, n))
    panel.set_xlabel(axis.heading)
    panel.set_ylabel(", ".join(filter(None, (measure.name, measure.unit))))
    if n + 1 < len(result.measures):
        panel.set_xlabel("")


def _sign_turns(values: np.ndarray) -> list[list[tuple[int, int]]]:
    """The edges between measured cells of which one is over 0 and the other is not, as lines of two corners."""
    over, known = values > 0.0, np.isfinite(values)
    beside = (over[:, 1:] != over[:, :-1]) & known[:, 1:] & known[:, :-1]
    above = (over[1:] != over[:-1]) & known[1:] & known[:-1]
    upright = [[(int(j) + 1, int(i)), (int(j) + 1, int(i) + 1)] for i, j in np.argwhere(beside)]
    return upright + [[(int(j), int(i) + 1), (int(j) + 1, int(i) + 1)] for i, j in np.argwhere(above)]


def _title(result: Map, n: int) -> str:
    measure = result.measures[n]
    unit = f", {measure.unit}" if measure.unit else ""
    text = textwrap.fill(f"{measure.name}{unit}: {measure.about}", 90)
    return text + (f"\n{signs(measure)}" if signs(measure) else "")


def _shaded(result: Map, n: int, panel: Axes, notes: Footnotes) -> None:
    """One measure over two inputs: a shaded cell with its number, hatched where it was not measured."""
    down, across = result.axes
    unit = result.measures[n].unit
    grid = result.grid(n)
    values = np.array([[math.nan if v is None else v for v, _ in row] for row in grid])
    rows, columns = values.shape
    numbers = columns <= MOST_NUMBERS[0] and rows <= MOST_NUMBERS[1]
    shown = panel.pcolormesh(np.ma.masked_invalid(values), cmap=SHADES, edgecolors="white", linewidth=0.5 * numbers)
    for i, j in np.ndindex(rows, columns):
        value, reason = grid[i][j]
        if value is None:
            panel.fill_between([j, j + 1], i, i + 1, facecolor="white", edgecolor="0.6", hatch="////", linewidth=0.0)
        if numbers:
            text = notes.mark(reason) if value is None else number(value, unit)
            box = {"facecolor": "white", "edgecolor": "none", "pad": 1.0} if value is None else None
            panel.text(j + 0.5, i + 0.5, text, ha="center", va="center", fontsize=9, bbox=box)
        elif value is None:
            notes.mark(reason)
    turns = _sign_turns(values) if result.measures[n].positive else []
    panel.add_collection(LineCollection(turns, colors="black", linewidths=2.2, capstyle="projecting"))
    for axis, here in ((across, panel.xaxis), (down, panel.yaxis)):
        step = max(1, math.ceil(len(axis.texts) / 20))
        here.set_ticks(np.arange(0, len(axis.texts), step) + 0.5, axis.labels()[::step])
        now = axis.place(result.case)
        for i, label in zip(range(0, len(axis.texts), step), here.get_ticklabels()):
            same = axis.texts[i] == axis.input.now(result.case) if now is None else abs(axis.numbers[i] - now) < 1e-9
            label.set_fontweight("bold" if same else "normal")
    panel.tick_params(length=0)
    for spine in panel.spines.values():
        spine.set_visible(False)
    panel.set_title(_title(result, n) + ("; they meet at the heavy line" if turns else ""))
    panel.set_xlabel(across.heading)
    panel.set_ylabel(down.heading)
    if np.isfinite(values).any():
        bar = panel.figure.colorbar(shown, ax=panel, pad=0.01, aspect=25)
        bar.outline.set_visible(False)
        bar.set_label(", ".join(filter(None, (result.measures[n].name, unit))))
