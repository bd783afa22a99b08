"""Quantities over time, one below the other: every flight a line in each, phases behind them."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from sim.description import ElectricPower
from viewer.plots import phases
from viewer.plots.flights import Flight
from viewer.plots.style import FAINT, GREY, LIMIT, NOUGHT, SERIES, SMALL
from viewer.plots.traces import CURRENT, LEAST, LOAD, Trace

LONGEST = 18  # letters of a line beside an axis


def draw(
    axes: Axes, trace: Trace, flights: Sequence[Flight], width: float = 1.4, ticks: int = 5, small: bool = False
) -> None:
    """One quantity of all flights on `axes`; its unit on the axis, the words for its sign at the right.

    In a `small` panel both stand above it.
    """
    phases.bands(axes, flights[0].phases)
    if trace.also and len(flights) == 1:
        also = np.where(np.isfinite(values := trace.also(flights[0])), values, np.nan)
        axes.plot(
            flights[0].time, also, color=FAINT, linewidth=0.9, linestyle=(0, (3, 2)), label=trace.also_name, zorder=1.8
        )
    for n, flight in enumerate(flights):
        values = trace.values(flight)
        look = SERIES[n].line(len(values), n, width)
        if len(flights) == 1:
            look["marker"] = ""
        axes.plot(flight.time, values, label=flight.name, **look)
    _range(axes, trace, flights)
    for limit, words in limits_of(trace, flights):
        _limit(axes, limit, words, 5.5 if small else SMALL)
    finish(axes, flights, ticks)
    name(axes, trace.label, trace.up, trace.down, small)


def finish(axes: Axes, flights: Sequence[Flight], ticks: int = 5) -> None:
    """Time axis, grid and nought, as all panels over time have them."""
    axes.set_xlim(*phases.span_of(flights))
    low, high = axes.get_ylim()
    if low < 0.0 < high:
        axes.axhline(0.0, **NOUGHT)
    axes.yaxis.set_major_locator(MaxNLocator(ticks, steps=[1, 2, 2.5, 5, 10], min_n_ticks=2))
    axes.grid(axis="y")


def name(axes: Axes, label: str, up: str, down: str, small: bool = False) -> None:
    """What is drawn, in which unit; what positive and negative mean, at the right, where the axis has such values."""
    if small:
        axes.set_title(f"{label} (+ {up})" if up else label, pad=1.8)
        return
    axes.set_ylabel(textwrap.fill(label, LONGEST))
    low, high = axes.get_ylim()
    for text, seen, at, va in ((up, high > 0.0, 1.0, "top"), (down, low < 0.0, 0.0, "bottom")):
        if text and seen:
            axes.text(1.008, at, text, transform=axes.transAxes, fontsize=SMALL, color=GREY, va=va)


def _range(axes: Axes, trace: Trace, flights: Sequence[Flight]) -> None:
    """No narrower than what is worth looking at, and not below nought where nothing is."""
    low, high = axes.get_ylim()
    least = LEAST.get(trace.unit, 0.0)
    if high - low < least:
        middle = 0.5 * (low + high)
        low, high = middle - 0.5 * least, middle + 0.5 * least
    if low < 0.0 and all(np.nanmin(trace.values(f), initial=0.0) >= 0.0 for f in flights):
        low, high = 0.0, max(high, least)
    axes.set_ylim(low, high)


def limits_of(trace: Trace, flights: Sequence[Flight]) -> list[tuple[float, str]]:
    """Limits of a quantity, in its unit, each with where it is from."""
    airframes = [flight.plane.setup.airframe for flight in flights]
    found: set[tuple[float, str]] = set()
    if trace is LOAD:
        stated = {airframe.structure.load_factor for airframe in airframes if airframe.structure}
        found = {(limit, f"{limit:g} g: the most you mean to fly (airframe file)") for limit in stated if limit}
    if trace is CURRENT:
        powers = [airframe.power for airframe in airframes if isinstance(airframe.power, ElectricPower)]
        stated = {power.current_limit for power in powers}
        found = {(limit, f"{limit:g} A: current limit (airframe file)") for limit in stated if np.isfinite(limit)}
    return sorted(found)


def _limit(axes: Axes, limit: float, words: str, size: float) -> None:
    """A line with its words below it, where what was flown comes near."""
    low, high = axes.get_ylim()
    if limit < 1.6 * high:
        axes.set_ylim(low, max(high, limit + 0.05 * (limit - low)))
        axes.axhline(limit, **LIMIT)
        axes.annotate(words, (0.005, limit), xycoords=axes.get_yaxis_transform(), xytext=(0, -2), va="top",
                      textcoords="offset points", fontsize=size)  # fmt: skip
