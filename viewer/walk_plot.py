"""A walk as a picture that also reads in grey: how sound each step is, and every limit with the band of the draws."""

from __future__ import annotations

import textwrap
from typing import BinaryIO

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from scenarios.walk.field import RANGE
from scenarios.walk.limits import MOST, WITHIN, Limit
from scenarios.walk.verdict import at_least
from scenarios.walk.walking import Walk
from viewer.map_plot import STYLE, UNDATED
from viewer.walk import SHORT, label, name_of
from viewer.words import CAUTIONS

WIDE, TALL = 8.3, 1.75  # in: the page, a row of panels
ACROSS = 2


def draw(walk: Walk, file: BinaryIO, kind: str) -> None:
    """The picture of `walk` written to `file` as `kind`: "png", "svg" or "pdf"."""
    limits = [n for n, limit in enumerate(walk.plan.limits) if limit.bound is not None]
    rows = -(-(len(limits) + 1) // ACROSS)
    with rc_context({**STYLE, "font.size": 8.5, "axes.titlesize": 9}):
        figure = Figure(figsize=(WIDE, 1.6 + TALL * rows), dpi=150, layout="constrained")
        panels = figure.subplots(rows, ACROSS, squeeze=False, sharex=True).ravel()
        x = _places(walk)
        _soundness(walk, x, panels[0])
        for panel, n in zip(panels[1:], limits):
            _limit(walk, x, n, panel)
        for panel in panels[len(limits) + 1 :]:
            panel.set_visible(False)
        for n, panel in enumerate(panels[: len(limits) + 1]):
            _marks(walk, x, panel, words=n == 0)
            if n + ACROSS > len(limits):
                panel.set_xlabel(_axis_name(walk))
                panel.tick_params(labelbottom=True)
        setup = walk.plan.loaded.setup
        figure.suptitle(
            f"Walking {name_of(walk)}: {setup.name} on {setup.airframe.name}", x=0.01, ha="left", fontsize=11.5
        )
        key = (
            "Line and dots: nominal flight. Band: nine of ten draws. Hatched: beyond the limit. Bars: draws that kept all"
            f" limits, tick: at least so many at {100.0 * walk.plan.confidence:.0f} % confidence."
        )
        foot = [line for text in (key, CAUTIONS) for line in textwrap.wrap(text, 150)]
        figure.supxlabel("\n".join(foot), x=0.01, ha="left", fontsize=7.5)
        figure.get_layout_engine().set(w_pad=0.08, h_pad=0.06)
        figure.savefig(file, format=kind, metadata=UNDATED[kind])


def _places(walk: Walk) -> np.ndarray:
    return np.array([flown.step.number for flown in walk.flown])


def _axis_name(walk: Walk) -> str:
    path = walk.plan.path
    return f"{name_of(walk)}, {path.unit}" if path.unit else name_of(walk)


def _marks(walk: Walk, x: np.ndarray, panel: Axes, words: bool) -> None:
    """Upright lines where the furthest sound step and the advised one are; the ticks of a list."""
    if not walk.plan.path.unit:
        panel.set_xticks(x, [label(walk, flown) for flown in walk.flown], rotation=30 if len(x) > 5 else 0)
    advised = walk.advised if walk.plan.path.backwards else None
    for n, style, name in ((walk.furthest, "-", "sound"), (advised, (0, (4, 3)), "advised")):
        if n is None or (name == "sound" and n == advised):
            continue
        panel.axvline(x[n], color="0.35", linewidth=1.0, linestyle=style, zorder=1)
        if words:
            panel.annotate(name, (x[n], 0.0), xycoords=panel.get_xaxis_transform(), xytext=(3, 4), textcoords="offset points",
                           fontsize=7.5, bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8}, zorder=5)  # fmt: skip
    panel.grid(color="0.9", linewidth=0.6, zorder=0)
    panel.set_axisbelow(True)
    room = 0.06 * (float(np.ptp(x)) or 1.0) if walk.plan.path.unit else 0.5
    panel.set_xlim(x.min() - room, x.max() + room)


def _soundness(walk: Walk, x: np.ndarray, panel: Axes) -> None:
    """Draws that kept all limits, in %, with what they show at the confidence."""
    width = 0.5 * float(np.min(np.diff(np.sort(x)))) if len(x) > 1 else 0.5
    for n, flown in enumerate(walk.flown):
        judged = flown.judged
        if judged.broken[0].any():
            panel.plot([x[n]], [3.0], "x", color="black", markersize=6)
            continue
        good = judged.count - judged.bad
        panel.bar(
            x[n],
            100.0 * good / judged.count,
            width,
            color="0.55" if walk.sound(n) else "0.85",
            edgecolor="0.2",
            linewidth=0.7,
        )
        low = 100.0 * at_least(good, judged.count, walk.plan.confidence)
        panel.plot([x[n] - 0.5 * width, x[n] + 0.5 * width], [low, low], color="black", linewidth=1.6)
    panel.axhline(100.0 * (1.0 - walk.plan.share), color="black", linewidth=0.9)
    panel.set_ylim(0.0, 105.0)
    panel.set_title("draws that kept all limits, % (x: nor did nominal)")


def _limit(walk: Walk, x: np.ndarray, n: int, panel: Axes) -> None:
    """One limit: what it looks at, nominal and drawn, and the side that is beyond it."""
    limit = walk.plan.limits[n]
    rooms = [flown.judged.headroom[:, n] for flown in walk.flown]
    nominal = np.array([_value(limit, room[0]) for room in rooms])
    low, high = np.full(len(x), np.nan), np.full(len(x), np.nan)
    for s, room in enumerate(rooms):
        drawn = _value(limit, room[1:][np.isfinite(room[1:])])
        if len(drawn) > 1:
            low[s], high[s] = np.quantile(drawn, RANGE)
    if walk.plan.path.unit:
        panel.fill_between(x, low, high, color="0.78", linewidth=0.0, zorder=2)
        panel.plot(x, nominal, "-", color="black", linewidth=1.2, zorder=3)
    else:
        panel.vlines(x, low, high, color="0.7", linewidth=7.0, zorder=2)
    panel.plot(x, nominal, "o", color="black", markersize=3.5, zorder=4)
    seen = np.concatenate([nominal, low, high, [limit.value]])
    seen = seen[np.isfinite(seen)]
    room = 0.15 * (float(np.ptp(seen)) or max(abs(limit.value), 1.0))
    bottom, top = float(seen.min()) - room, float(seen.max()) + room
    panel.set_ylim(bottom, top)
    beyond = (limit.value, top) if limit.side in (MOST, WITHIN) else (bottom, limit.value)
    panel.axhspan(*beyond, facecolor="none", edgecolor="0.6", hatch="////", linewidth=0.0, zorder=1)
    panel.axhline(limit.value, color="black", linewidth=1.4, zorder=2)
    unit = SHORT.get(limit.measure_unit, limit.measure_unit)
    less = f", less {limit.allowance:.1f}" if limit.allowance else ""
    growth = " (as growth)" if limit.written_as.dimension == "duration" else ""
    aside = " (set aside)" if walk.set_aside[n] else ""
    panel.set_title(f"{limit.name}{growth}{less}{', ' if unit else ''}{unit}{aside}")


def _value(limit: Limit, headroom: np.ndarray) -> np.ndarray:
    """What a limit looks at, from how far it stays off it."""
    return limit.value - headroom if limit.side in (MOST, WITHIN) else limit.value + headroom
