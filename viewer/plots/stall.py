"""Where on the span the flow has left the wing and every other surface, over time."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from sim import layout as L
from viewer.plots.flights import Flight
from viewer.plots.style import GREY, INK, SEPARATION, SMALL

LONGEST = 14  # letters of a line beside an axis
MOST_COLUMNS = 600  # of a picture; more frames are averaged
HALF = 50.0  # %: what the share of the wing that is stalled counts from


def separated(flight: Flight, surface: str) -> np.ndarray:
    """Share of each strip's chord behind the point where the flow leaves it, %, shape (n, strips)."""
    return 100.0 * (1.0 - np.clip(flight.attached(surface), 0.0, 1.0))


def edges(flight: Flight, surface: str) -> tuple[np.ndarray, bool]:
    """Ends of the strips in their order, (strips + 1,) m, and True where left and right halves lie on it.

    Right of the middle is positive; a single surface counts from its lower end up.
    """
    model, strips = flight.plane.model, flight.plane.strips[surface]
    widths = 2.0 * model[L.HALF_WIDTH + strips.start : L.HALF_WIDTH + strips.stop]
    y, z = (model[row + strips.start : row + strips.stop] for row in (L.Y, L.Z))
    both = bool(np.ptp(y) > np.ptp(z))
    if both:
        return np.concatenate([[0.0], np.cumsum(widths)]) - 0.5 * widths.sum(), True
    ends = np.concatenate([[0.0], np.cumsum(widths)])  # strips run from tip to root
    return (ends[-1] - ends if z[0] < z[-1] else ends), False


def draw(axes: Axes, flight: Flight, surface: str):
    """The map of one surface on `axes`: time across, span up, dark where separated; the drawn mesh."""
    found, (ends, both) = separated(flight, surface), edges(flight, surface)
    every = max(1, -(-len(found) // MOST_COLUMNS))
    count = len(found) // every
    shown = found[: count * every].reshape(count, every, -1).mean(axis=1)
    time = flight.time[: count * every : every]
    middles = np.append(time, time[-1] + (time[-1] - time[-2] if count > 1 else 0.01))
    mesh = axes.pcolormesh(middles, ends, shown.T, cmap=SEPARATION, vmin=0.0, vmax=100.0, rasterized=True)
    if (shown >= HALF).any() and (shown < HALF).any():
        inside = np.stack([ends[:-1], ends[1:]], axis=1) + 0.01 * np.diff(ends)[:, None] * [1.0, -1.0]
        axes.contour(time, inside.ravel(), np.repeat(shown, 2, axis=1).T, levels=[HALF], colors=[INK], linewidths=0.8)
    axes.set_ylim(ends.min(), ends.max())
    axes.set_xlim(flight.time[0], flight.time[-1])
    for phase in flight.phases[1:]:
        axes.axvline(phase.start, color=GREY, linewidth=0.5, linestyle=(0, (1, 2)))
    if both:
        axes.axhline(0.0, color=GREY, linewidth=0.5)
    axes.spines[["top", "right"]].set_visible(True)
    axes.set_ylabel(textwrap.fill(f"{surface.replace('-', ' ')}, m", LONGEST))
    tip, root = ("right tip", "left tip") if both else ("tip", "root")
    axes.text(1.008, 1.0, tip, transform=axes.transAxes, fontsize=SMALL, color=GREY, va="top")
    axes.text(1.008, 0.0, root, transform=axes.transAxes, fontsize=SMALL, color=GREY, va="bottom")
    return mesh


def surfaces_of(flights: Sequence[Flight]) -> list[str]:
    """The surfaces of all flights' planes, the wing first."""
    return list(dict.fromkeys(name for flight in flights for name in flight.plane.strips))
