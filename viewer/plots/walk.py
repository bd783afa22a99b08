"""A walk as a page that also reads in grey: how sound each step is, every limit with its source and the band of the draws,
the step where it trips, and what to fly on the field at each."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from scenarios.walk.field import RANGE, checks_of
from scenarios.walk.limits import MOST, WITHIN, Limit
from scenarios.walk.verdict import at_least
from scenarios.walk.walking import RETREAT, Walk
from viewer.plots.figures import foot_at
from viewer.plots.style import (
    ALARM,
    EDGE,
    FILL,
    GREY,
    INK,
    LIMIT,
    WIDE,
    filled,
    foot_lines,
    height_of,
    page,
    place,
    save,
    style,
    write,
)
from viewer.plots.style import (
    RANGE as SHADE,
)
from viewer.text import number
from viewer.walk import SHORT, label, name_of

ACROSS = 3
LEFT, GUTTER, PANEL = 0.4, 0.45, 1.05  # in: room for figures, between columns, a panel
SOURCE, NAME, AXIS = 0.48, 0.2, 0.24  # in: a limit's source over its panel, its name, the figures of the steps
FIELD, SOURCE_SIZE = 7.5, 6.2  # pt, what to fly, where a limit is from


def draw(walk: Walk, file: BinaryIO, kind: str) -> None:
    """The picture of `walk` written to `file` as `kind`: "png", "svg" or "pdf"."""
    save(figure_of(walk), file, kind)


def figure_of(walk: Walk, cautions: bool = True) -> Figure:
    """The figure of `walk`; `cautions`: with them and the version at the foot."""
    with style(axes_titlesize=8.5, xtick_labelsize=7.5, ytick_labelsize=7.5):
        return _figure(walk, cautions)


def _figure(walk: Walk, cautions: bool) -> Figure:
    limits = [n for n, limit in enumerate(walk.plan.limits) if limit.bound is not None]
    rows = -(-(len(limits) + 1) // ACROSS)
    wide = WIDE - 2.0 * EDGE
    width = (wide - LEFT - (ACROSS - 1) * GUTTER) / ACROSS
    setup = walk.plan.loaded.setup
    heads = filled(f"Walking {name_of(walk)}: {setup.name} on {setup.airframe.name}", wide, 11.0)
    field = _field(walk, wide)
    lines = foot_lines(wide, _key(walk), cautions=cautions)
    top = EDGE + height_of(heads, 11.0) + 0.08
    each = NAME + SOURCE + PANEL + AXIS
    below = height_of(field, FIELD) + 0.15 * bool(field)
    figure = page(WIDE, top + rows * each + 0.3 + below + height_of(lines) + 0.12 + EDGE)
    write(figure, EDGE, EDGE, "\n".join(heads), 11.0)
    x = _places(walk)
    for cell, n in enumerate([None, *limits]):
        left = EDGE + LEFT + cell % ACROSS * (width + GUTTER)
        at = top + cell // ACROSS * each
        axes = place(figure, left, at + NAME + SOURCE, width, PANEL)
        if n is None:
            name, source = _soundness(walk, x, axes)
        else:
            name, source = _limit(walk, x, n, axes)
        _marks(walk, x, axes, words=n is None)
        write(figure, left, at + 0.03, name, 8.5, weight="bold")
        write(figure, left, at + NAME, "\n".join(filled(source, width, SOURCE_SIZE)[:4]), SOURCE_SIZE, color=GREY)
        if cell + ACROSS > len(limits):
            axes.set_xlabel(_axis_name(walk))
    if field:
        write(figure, EDGE, top + rows * each + 0.3, "\n".join(field), FIELD)
    foot_at(figure, lines)
    return figure


def _key(walk: Walk) -> str:
    return (
        "Line and dots: nominal flight. Band: nine of ten draws. Dashed: the limit; hatched: beyond it. Bars: draws that kept all"
        f" limits, light where too few; tick: at least so many at {100.0 * walk.plan.confidence:.0f} % confidence; cross: the"
        " nominal flight did not keep them."
    )


def _field(walk: Walk, wide: float) -> list[str]:
    """What to fly at each step, in which order, and the sign to go back; the verdict above it."""
    lines = [verdict_line(walk)]
    if walk.plan.path.backwards and walk.furthest is not None:
        places = ", ".join(label(walk, f) for f in walk.flown[: walk.advised + 1])
        lines.append(
            f"On the field, at each of {places} {walk.plan.path.unit}, in this order (BACK: {RETREAT} steps forward):"
        )
        lines += [f"{n}  {check.title}: {check.how}. BACK: {check.back}." for n, check in enumerate(checks_of(walk), 1)]
    return [line for text in lines for line in filled(text, wide, FIELD)]


def verdict_line(walk: Walk) -> str:
    """Which step is the furthest sound one, which one trips, and on what."""
    if not walk.plan.path.stops:
        good = [f.step.text for n, f in enumerate(walk.flown) if walk.sound(n)]
        return f"Sound: {', '.join(good) or 'none'}."
    said = (
        "No step is sound." if walk.furthest is None else f"Furthest sound step: {walk.flown[walk.furthest].step.text}."
    )
    if walk.tripped is not None:
        broke = ", ".join(f"{b.limit} ({_how_often(walk, b)})" for b in walk.broke(walk.tripped)[:3])
        said += f" {walk.flown[walk.tripped].step.text} trips: {broke}."
    else:
        said += f" No limit tripped: {walk.plan.path.end}."
    if walk.advised is not None and walk.plan.path.backwards:
        said += f" Advised: no further than {walk.flown[walk.advised].step.text}."
    return said


def _how_often(walk: Walk, broke) -> str:
    return "nominal flight" if broke.nominal else f"{broke.draws} of {walk.flown[walk.tripped].judged.count} draws"


def _places(walk: Walk) -> np.ndarray:
    return np.array([flown.step.number for flown in walk.flown])


def _axis_name(walk: Walk) -> str:
    path = walk.plan.path
    return f"{name_of(walk)}, {path.unit}" if path.unit else name_of(walk)


def _marks(walk: Walk, x: np.ndarray, axes: Axes, words: bool) -> None:
    """Upright lines where the furthest sound step, the advised one and the first that trips are; the ticks of a list."""
    if not walk.plan.path.unit:
        axes.set_xticks(x, [label(walk, flown) for flown in walk.flown], rotation=30 if len(x) > 5 else 0)
    advised = walk.advised if walk.plan.path.backwards else None
    for n, dash, name, colour in (
        (walk.furthest, "-", "sound", GREY), (advised, (0, (4, 3)), "advised", GREY), (walk.tripped, (0, (1, 1)), "trips", ALARM),
    ):  # fmt: skip
        if n is None or (name == "sound" and n == advised):
            continue
        axes.axvline(x[n], color=colour, linewidth=1.6 if name == "trips" else 1.0, linestyle=dash, zorder=1)
        if words:
            axes.annotate(name, (x[n], 0.0), xycoords=axes.get_xaxis_transform(), xytext=(2, 4), rotation=90,
                          textcoords="offset points", fontsize=7.5, color=colour, zorder=5,
                          bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8})  # fmt: skip
    axes.grid(axis="y")
    room = 0.06 * (float(np.ptp(x)) or 1.0) if walk.plan.path.unit else 0.5
    axes.set_xlim(x.min() - room, x.max() + room)


def _soundness(walk: Walk, x: np.ndarray, axes: Axes) -> tuple[str, str]:
    """Draws that kept all limits, in %, with what they show at the confidence; its name and what the line is."""
    width = 0.5 * float(np.min(np.diff(np.sort(x)))) if len(x) > 1 else 0.5
    for n, flown in enumerate(walk.flown):
        judged = flown.judged
        if judged.broken[0].any():
            axes.plot([x[n]], [6.0], "x", color=INK, markersize=6)
            continue
        good = judged.count - judged.bad
        fill = FILL if walk.sound(n) else "#ffffff"
        axes.bar(x[n], 100.0 * good / judged.count, width, color=fill, edgecolor=INK, linewidth=0.7)
        low = 100.0 * at_least(good, judged.count, walk.plan.confidence)
        axes.plot([x[n] - 0.5 * width, x[n] + 0.5 * width], [low, low], color=INK, linewidth=1.6)
    axes.axhline(100.0 * (1.0 - walk.plan.share), **LIMIT)
    axes.set_ylim(0.0, 105.0)
    return (
        "draws that kept all limits, %",
        f"sound: at least {100.0 * (1.0 - walk.plan.share):.0f} % of the draws keep all limits",
    )


def _limit(walk: Walk, x: np.ndarray, n: int, axes: Axes) -> tuple[str, str]:
    """One limit: what it looks at, nominal and drawn, and the side that is beyond it; its name and its source in words."""
    limit = walk.plan.limits[n]
    rooms = [flown.judged.headroom[:, n] for flown in walk.flown]
    nominal = np.array([_value(limit, room[0]) for room in rooms])
    low, high = np.full(len(x), np.nan), np.full(len(x), np.nan)
    for s, room in enumerate(rooms):
        drawn = _value(limit, room[1:][np.isfinite(room[1:])])
        if len(drawn) > 1:
            low[s], high[s] = np.quantile(drawn, RANGE)
    if walk.plan.path.unit:
        axes.fill_between(x, low, high, color=SHADE, linewidth=0.0, zorder=2)
        axes.plot(x, nominal, "-", color=INK, linewidth=1.2, zorder=3)
    else:
        axes.vlines(x, low, high, color=SHADE, linewidth=7.0, zorder=2)
    axes.plot(x, nominal, "o", color=INK, markersize=3.5, zorder=4)
    seen = np.concatenate([nominal, low, high, [limit.value]])
    seen = seen[np.isfinite(seen)]
    room = 0.15 * (float(np.ptp(seen)) or max(abs(limit.value), 1.0))
    bottom, top = float(seen.min()) - room, float(seen.max()) + room
    axes.set_ylim(bottom, top)
    beyond = (limit.value, top) if limit.side in (MOST, WITHIN) else (bottom, limit.value)
    axes.axhspan(*beyond, facecolor="none", edgecolor=ALARM, alpha=0.45, hatch="////", linewidth=0.0, zorder=1)
    axes.axhline(limit.value, zorder=2, **LIMIT)
    unit = SHORT.get(limit.measure_unit, limit.measure_unit)
    less = f", less {number(limit.allowance, unit)}" if limit.allowance else ""
    growth = " (as growth)" if limit.written_as.dimension == "duration" else ""
    aside = " (set aside)" if walk.set_aside[n] else ""
    return (
        f"{limit.name}{growth}{less}{', ' if unit else ''}{unit}{aside}",
        f"{limit.side} {limit.text} ({limit.source}); {limit.about}",
    )


def _value(limit: Limit, headroom: np.ndarray) -> np.ndarray:
    """What a limit looks at, from how far it stays off it."""
    return limit.value - headroom if limit.side in (MOST, WITHIN) else limit.value + headroom
