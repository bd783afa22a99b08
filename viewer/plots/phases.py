"""Phases of flights beside what is drawn over time: a strip with their names, and bands behind the panels."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from scenarios.playback import Phase
from viewer.plots.flights import Flight
from viewer.plots.style import BAND, GREY, SERIES, SMALL, width_of

ROW = 0.17  # in, of one flight
SHADES = ("#ffffff", "#e6e4dc")


def span_of(flights: Sequence[Flight]) -> tuple[float, float]:
    """From the earliest to the latest time of all flights, s."""
    return min(float(f.time[0]) for f in flights), max(float(f.time[-1]) for f in flights)


def strip(
    axes: Axes, flights: Sequence[Flight], wide: float, span: tuple[float, float] | None = None, size: float = SMALL
) -> None:
    """Fill `axes`, `wide` inches, with a row of named phases for each flight; numbers where a name has no room."""
    start, end = span or span_of(flights)
    inch = wide / max(end - start, 1e-9)
    for row, flight in enumerate(flights):
        for n, phase in enumerate(flight.phases):
            length = phase.end - phase.start
            axes.barh(row, length, 0.86, left=phase.start, color=SHADES[n % 2], edgecolor=GREY, linewidth=0.4)
            text = phase.name if _fits(phase.name, length * inch) else str(n + 1)
            if _fits(text, length * inch + 0.05):
                axes.text(phase.start + 0.5 * length, row, text, ha="center", va="center", fontsize=size, clip_on=True)
        if len(flights) > 1:
            look = SERIES[row]
            axes.plot(
                [-0.075, -0.04, -0.005], [row, row, row], transform=axes.get_yaxis_transform(), clip_on=False,
                color=look.color, linestyle=look.linestyle, linewidth=1.5, marker=look.marker, markevery=[1],
                markersize=4.0, markerfacecolor="white",
            )  # fmt: skip
    axes.set_xlim(start, end)
    axes.set_ylim(len(flights) - 0.5, -0.5)
    axes.set_axis_off()


def _fits(text: str, room: float) -> bool:
    return width_of(text, SMALL) + 0.04 <= room


def left_out(flights: Sequence[Flight], wide: float) -> str:
    """The phases that `strip` names by number, with their names; empty when all have room."""
    start, end = span_of(flights)
    inch = wide / max(end - start, 1e-9)
    said = [
        f"{n + 1} {phase.name}"
        for flight in flights
        for n, phase in enumerate(flight.phases)
        if not _fits(phase.name, (phase.end - phase.start) * inch)
    ]
    return f"Phases too short for their names: {', '.join(dict.fromkeys(said))}." if said else ""


def bands(axes: Axes, phases: Sequence[Phase]) -> None:
    """Every second phase shaded, and a line where each begins."""
    for n, phase in enumerate(phases):
        if n % 2:
            axes.axvspan(phase.start, phase.end, facecolor=BAND, edgecolor="none", zorder=0)
        if n:
            axes.axvline(phase.start, color="#cfccc2", linewidth=0.6, zorder=0.5)
