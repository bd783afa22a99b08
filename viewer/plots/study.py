"""A tolerance study as a picture that also reads in grey: a row for each measure, its draws and what they hang on."""

from __future__ import annotations

import textwrap
from typing import BinaryIO

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from scenarios.ensemble import Results
from scenarios.study import Finding, Study, counted
from sim.description import Setup
from viewer.plots.figures import foot_at
from viewer.plots.style import (
    EDGE,
    FILL_DARK,
    FILL_LIGHT,
    GREY,
    INK,
    RANGE,
    WIDE,
    foot_lines,
    height_of,
    page,
    save,
    style,
    write,
)
from viewer.study import MOST_NAMED, NO_BREAK, conditions, figures, off_by, shares_of, title

ROW, HEAD = 0.64, 0.36  # in, of a measure, of a manoeuvre's name
MOST_DOTS = 400  # draws of a measure that are shown one by one
LEAVES = 3.0  # of the width between 5 and 95 %, beyond which a draw is not drawn


def draw(study: Study, setup: Setup, results: Results, file: BinaryIO, kind: str) -> None:
    """The picture of `study` written to `file` as `kind`: "png", "svg" or "pdf"."""
    save(figure_of(study, setup, results), file, kind)


def figure_of(study: Study, setup: Setup, results: Results, cautions: bool = True) -> Figure:
    """The figure of `study`; `cautions`: with them and the version at the foot."""
    values = counted(results)
    told = (_key(), f"{conditions(study)}; {off_by(study, setup)}".replace(NO_BREAK, " "))
    lines = foot_lines(WIDE - 2.0 * EDGE, *told, cautions=cautions)
    below = 0.35 + height_of(lines)
    tall = 0.6 + HEAD * len(study.endings) + ROW * len(study.findings) + below
    with style(font_size=8.5):
        figure = page(WIDE, tall)
        write(figure, EDGE, EDGE, title(study, setup), 11.0)
        top = tall - 0.6
        for endings in study.endings:
            ended = ", ".join(f"{name} {share.count}" for name, share in endings.shares.items())
            figure.text(
                EDGE / WIDE,
                (top - 0.06) / tall,
                f"{endings.manoeuvre}  ({ended})",
                fontsize=9.5,
                va="center",
                weight="bold",
            )
            top -= HEAD
            for finding in study.of(endings.manoeuvre):
                column = study.findings.index(finding)
                _row(figure, finding, values[1:, column], top / tall, ROW / tall)
                top -= ROW
        foot_at(figure, lines)
        return figure


def _key() -> str:
    return (
        "Grey bar: 5 to 95 % of the draws, white line: half of them; diamond: no errors; dots: draws (an arrow: some "
        "further out).  Dashed: nought.  On the right, shares of the variance by input, with their 95 % bounds; (+) rises with the "
        "input, (-) falls."
    )


def _row(figure: Figure, finding: Finding, values: np.ndarray, top: float, tall: float) -> None:
    """One measure: name and figures, its draws on a scale of their own, its inputs."""
    measure = finding.column.definition
    unit = f", {measure.unit}" if measure.unit else ""
    figure.text(EDGE / WIDE, top - 0.2 * tall, measure.name + unit, fontsize=8.5, va="center")
    signs = f"+ {measure.positive}\n- {measure.negative}" if measure.positive else ""
    figure.text(EDGE / WIDE, top - 0.38 * tall, signs, fontsize=6.5, va="top", color=GREY, linespacing=1.1)
    _draws(figure.add_axes((0.25, top - 0.62 * tall, 0.36, 0.5 * tall)), finding, values)
    _inputs(figure.add_axes((0.80, top - 0.72 * tall, 0.14, 0.66 * tall)), finding)


def _draws(panel: Axes, finding: Finding, values: np.ndarray) -> None:
    panel.set_yticks([])
    panel.spines["left"].set_visible(False)
    panel.tick_params(labelsize=7, length=2.5, pad=1.5)
    found = finding.distribution
    if found is None or found.constant:
        text = "not measured" if found is None else f"{figures(finding)[0]} in every draw"
        panel.set_xticks([])
        panel.spines["bottom"].set_visible(False)
        panel.text(0.0, 0.4, text, transform=panel.transAxes, fontsize=7.5, va="center")
        return
    low, half, high = (q.value for q in found.quantiles)
    width = max(high - low, 1e-12)
    known = values[np.isfinite(values)]
    shown = known[:MOST_DOTS]
    near = shown[(shown >= low - LEAVES * width) & (shown <= high + LEAVES * width)]
    panel.barh(0.5, high - low, left=low, height=0.62, color=RANGE, edgecolor=GREY, linewidth=0.7, zorder=1)
    panel.scatter(near, 0.5 + 0.5 * (_spread(len(near)) - 0.5), s=3.0, color=INK, linewidths=0.0, alpha=0.55, zorder=2)
    panel.plot([half, half], [0.19, 0.81], color="white", linewidth=2.6, zorder=3)
    panel.plot([half, half], [0.19, 0.81], color=INK, linewidth=0.8, zorder=3)
    if finding.nominal is not None and low - LEAVES * width <= finding.nominal <= high + LEAVES * width:
        panel.plot([finding.nominal], [0.5], "D", color="white", markeredgecolor="black", markersize=5.0, zorder=4)
    left, right = panel.get_xlim()
    for beyond, place, arrow in (
        (known.min() < low - LEAVES * width, left, "<"),
        (known.max() > high + LEAVES * width, right, ">"),
    ):
        if beyond:
            panel.plot([place], [0.5], arrow, color="black", markersize=4.0, clip_on=False, zorder=4)
    panel.set_xlim(left, right)
    panel.set_ylim(0.0, 1.0)
    if left < 0.0 < right:
        panel.axvline(0.0, color=GREY, linewidth=0.9, linestyle=(0, (4, 2)), zorder=0)
    panel.locator_params(axis="x", nbins=6)


def _spread(count: int) -> np.ndarray:
    """`count` places between 0 and 1 that fill it evenly and are the same every time (van der Corput, base 2)."""
    bits = (np.arange(count)[:, None] >> np.arange(16)) & 1
    return bits @ (0.5 ** np.arange(1, 17))


def _inputs(panel: Axes, finding: Finding) -> None:
    for spine in panel.spines.values():
        spine.set_visible(False)
    panel.set_xlim(0.0, 1.0)
    panel.set_ylim(MOST_NAMED - 0.5, -0.5)
    panel.set_xticks([])
    shares, why_not = shares_of(finding)
    panel.set_yticks(range(len(shares)), [one.words for one in shares], fontsize=6.8)
    panel.tick_params(length=0, pad=3)
    if not shares:
        panel.text(0.0, 1.0, textwrap.fill(why_not, 34), fontsize=6.8, va="center", ha="center")
        return
    panel.axvline(0.0, color=GREY, linewidth=0.8)
    for n, one in enumerate(shares):
        panel.barh(n, one.value, height=0.6, color=FILL_DARK if n == 0 else FILL_LIGHT, edgecolor=GREY, linewidth=0.6)
        panel.plot([one.low, one.high], [n, n], color="black", linewidth=0.9)
        panel.text(min(one.high, 1.0) + 0.03, n, f"{one.value:.2f}", fontsize=6.8, va="center", clip_on=False)
