"""The path from the side and from above, on one scale in all directions, with the field below and the wind."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from sim import layout as L
from sim.frames import body_to_earth
from sim.recording import STATE_AT
from viewer.plots.flights import Flight
from viewer.plots.style import GREY, INK, SERIES, SMALL, place, width_of

LEAST = 12.0  # m: no view is narrower
STILL = 2.0  # m/s over the ground, level, under which a flight has no line of its own
NOSE = 0.24  # in: the bar that shows which way the nose points
MOST_MARKS = 13
NEAR = 0.6  # of the view's width: a field no further below is drawn
ROOM = 0.07
LOWEST = 0.6  # in, of a view
CALM = 0.05  # m/s
GAP, BESIDE = 0.5, 0.75  # in, between the views, one below the other and side by side
RIGHT, UP = 1, 2  # of a nose
ABOVE = 0.26  # in, free above a path for the times beside it


@dataclass(frozen=True)
class Track:
    """A path as it is drawn, m, shape (n,): `along` the line of flight, `right` of it, `height` above the field."""

    along: np.ndarray
    right: np.ndarray
    height: np.ndarray


def line_of_flight(flight: Flight) -> float | None:
    """The direction (rad from north) of the path at the first frame; None where it hangs or goes straight up."""
    rise = float(flight.channel("path angle")[0])
    north, east = (np.diff(flight.channel(name)[:2])[0] / np.diff(flight.time[:2])[0] for name in ("north", "east"))
    level = math.hypot(float(north), float(east))
    return float(flight.channel("track")[0]) if level > STILL and abs(rise) < math.radians(80.0) else None


def tracks(flights: Sequence[Flight]) -> list[Track]:
    """The paths on the first flight's line (north without one); all go through 0 along and across at 0 of their clocks.

    A flight that has no frame at 0 goes through it at its first frame.
    """
    line = line_of_flight(flights[0]) or 0.0
    c, s = math.cos(line), math.sin(line)
    out = []
    for flight in flights:
        zero = int(np.clip(np.searchsorted(flight.time, -1e-9), 0, len(flight.time) - 1))
        north, east = (flight.channel(name) - flight.channel(name)[zero] for name in ("north", "east"))
        out.append(Track(c * north + s * east, c * east - s * north, flight.channel("height")))
    return out


@dataclass(frozen=True)
class _Views:
    """How both views are laid out: one below the other (`stacked`) or side by side, `scale` (m an inch), what each shows (m)."""

    stacked: bool
    scale: float
    along: tuple[float, float]
    height: tuple[float, float]
    right: tuple[float, float]


def _views(paths: Sequence[Track], width: float, tall: float) -> _Views:
    """The layout that shows more in so many inches."""
    along, height, right = (_span([getattr(path, name) for path in paths]) for name in ("along", "height", "right"))
    if 0.0 < height[0] and height[1] < NEAR * (along[1] - along[0]):
        height = (-0.03 * (along[1] - along[0]), height[1])  # the field is near enough to be seen
    long, high, broad = (span[1] - span[0] for span in (along, height, right))
    half = 0.5 * (width - BESIDE)
    one_below = max(long / width, (high + broad) / (tall - GAP - 2.0 * ABOVE))
    beside = max(long / half, max(high, broad) / (tall - ABOVE))
    stacked, scale = one_below <= beside, min(one_below, beside)
    free = ABOVE * scale
    high, broad = max(high, LOWEST * scale), max(broad, LOWEST * scale)
    if not stacked:
        high = broad = max(high, broad)
    height, right = _widened(height, high), _widened(right, broad)
    along = _widened(along, (width if stacked else half) * scale)
    return _Views(stacked, scale, along, (height[0], height[1] + free), (right[0] - free, right[1]))


def draw(figure: Figure, left: float, top: float, width: float, flights: Sequence[Flight], tall: float) -> float:
    """Both views on `figure` from `left` and `top` (inches), at most `tall` together; returns how tall they are."""
    paths, line = tracks(flights), line_of_flight(flights[0])
    views = _views(paths, width, tall)
    scale, stacked = views.scale, views.stacked
    wide, high, broad = (span[1] - span[0] for span in (views.along, views.height, views.right))
    side = place(figure, left, top, wide / scale, high / scale)
    if stacked:
        above = place(figure, left, top + high / scale + GAP, wide / scale, broad / scale)
    else:
        above = place(figure, left + wide / scale + BESIDE, top, wide / scale, broad / scale)
    step = _every(flights)
    for n, (flight, path) in enumerate(zip(flights, paths)):
        look = SERIES[n]
        for axes, across, noses in ((side, path.height, UP), (above, path.right, RIGHT)):
            axes.plot(path.along, across, color=look.color, linestyle=look.linestyle, linewidth=1.3, label=flight.name)
            _marks(axes, flight, path.along, across, noses, line or 0.0, look, step, None if n else 0.3 * scale)
    _begun(side, flights[0], paths[0], scale)
    for axes, limit, label in ((side, views.height, "height, m"), (above, views.right, _across(line))):
        axes.set_xlim(*views.along)
        axes.set_ylim(*limit)
        axes.set_ylabel(label)
        axes.yaxis.set_major_locator(MaxNLocator(5, steps=[1, 2, 5, 10], min_n_ticks=2))
        axes.grid()
    above.invert_yaxis()  # seen from above: right of the line of flight is down the page
    side.tick_params(labelbottom=not stacked)
    for axes in (above,) if stacked else (side, above):
        axes.set_xlabel("along the line of flight at the start, m" if line is not None else "to the north, m")
    side.set_title("from the side", fontsize=8.5)
    above.set_title("from above", fontsize=8.5)
    _field(side, views.height)
    _wind(above, flights, line or 0.0)
    return (high + broad) / scale + GAP if stacked else high / scale


def _across(line: float | None) -> str:
    return "to the right, m" if line is not None else "to the east, m"


def _span(values: list[np.ndarray]) -> tuple[float, float]:
    """From least to most of all, with some room, no less than LEAST."""
    finite = np.concatenate([one[np.isfinite(one)] for one in values])
    low, high = float(finite.min()), float(finite.max())
    return _widened((low, high), max(LEAST, (1.0 + 2.0 * ROOM) * (high - low)))


def _widened(span: tuple[float, float], size: float) -> tuple[float, float]:
    middle = 0.5 * (span[0] + span[1])
    return middle - 0.5 * size, middle + 0.5 * size


def _every(flights: Sequence[Flight]) -> float:
    """Seconds between the marks along the paths."""
    longest = max(float(f.time[-1] - f.time[0]) for f in flights)
    return next(step for step in (0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 60.0, 1e9) if longest / step < MOST_MARKS)


def _marks(
    axes: Axes, flight: Flight, along, across, axis: int, line: float, look, step: float, apart: float | None
) -> None:
    """An arrow along the fuselage every `step` seconds; the time beside those that are `apart` (m), None for no times."""
    first = math.ceil(flight.time[0] / step - 1e-6)
    times = step * np.arange(first, math.floor(flight.time[-1] / step + 1e-6) + 1)
    frames = np.unique(np.clip(np.searchsorted(flight.time, times - 1e-6), 0, len(flight.time) - 1))
    noses = noses_of(flight, frames, line)
    up = noses[:, axis] if axis == UP else -noses[:, axis]  # on the page, where right of the line is down
    axes.quiver(
        along[frames], across[frames], noses[:, 0], up, color=look.color, angles="uv", scale_units="inches",
        scale=1.0 / NOSE, units="inches", width=0.016, headwidth=5.0, headlength=6.0, headaxislength=5.6, minlength=0.0,
        pivot="mid", zorder=4,
    )  # fmt: skip
    axes.plot(
        along[frames], across[frames], look.marker, color=look.color, markerfacecolor="white", markersize=3.6, zorder=5
    )
    if apart is None:
        return
    told: list[tuple[float, float]] = []
    for frame in frames:
        here = (float(along[frame]), float(across[frame]))
        if all(math.dist(here, other) > apart for other in told):
            told.append(here)
            axes.annotate(
                f"{flight.time[frame]:.3g} s", here, xytext=(0, 9), textcoords="offset points",
                ha="center", fontsize=SMALL, color=GREY, annotation_clip=True, zorder=6,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.4, "alpha": 0.8},
            )  # fmt: skip


def _begun(side: Axes, flight: Flight, path: Track, scale: float) -> None:
    """Where the first flight's phases begin, with their names below the path where there is room."""
    told: list[tuple[float, float]] = []
    for phase in flight.phases:
        frame = int(np.clip(np.searchsorted(flight.time, phase.start - 1e-9), 0, len(flight.time) - 1))
        here = (float(path.along[frame]), float(path.height[frame]))
        side.plot(*here, "+", color=INK, markersize=8.0, markeredgewidth=0.8, zorder=3.5)
        room = scale * (width_of(phase.name, SMALL) + 0.1)
        if all(abs(here[0] - x) > room or abs(here[1] - y) > 0.15 * scale for x, y in told):
            told.append(here)
            side.annotate(phase.name, here, xytext=(0, -9), textcoords="offset points", ha="center", va="top",
                          fontsize=SMALL, zorder=6, annotation_clip=True,
                          bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.4, "alpha": 0.8})  # fmt: skip


def noses_of(flight: Flight, frames: np.ndarray, line: float) -> np.ndarray:
    """Unit vectors along the fuselage at `frames`, shape (n, 3): along `line` (rad from north), right of it, up."""
    c, s = math.cos(line), math.sin(line)
    attitude = flight.rows[frames, STATE_AT + L.QUATERNION : STATE_AT + L.QUATERNION + 4]
    r = np.array([body_to_earth(*(float(v) for v in q)) for q in attitude]).reshape(-1, 9)
    north, east, down = r[:, 0], r[:, 3], r[:, 6]
    return np.stack([c * north + s * east, c * east - s * north, -down], axis=1)


def _field(side: Axes, limit: tuple[float, float]) -> None:
    """The field as a line with the ground below it, or how far it lies below the view."""
    if limit[0] < 0.0:
        side.axhspan(limit[0], 0.0, facecolor="none", edgecolor=GREY, hatch="////", linewidth=0.0, zorder=0.6)
        side.axhline(0.0, color=INK, linewidth=1.2)
        side.annotate("field", (1.0, 0.0), xycoords=side.get_yaxis_transform(), xytext=(-2, 2),
                      textcoords="offset points", ha="right", fontsize=SMALL)  # fmt: skip
    else:
        side.annotate(f"the field is {limit[0]:.0f} m below the lower edge", (0.995, 1.0), xycoords="axes fraction",
                      xytext=(0, 4), textcoords="offset points", ha="right", fontsize=8.0)  # fmt: skip


def _wind(above: Axes, flights: Sequence[Flight], line: float) -> None:
    """An arrow the way the wind blows over the first flight, with its speed; words where it is calm."""
    means = [(float(f.channel("wind north").mean()), float(f.channel("wind east").mean())) for f in flights]
    north, east = means[0]
    speed = math.hypot(north, east)
    other = any(math.hypot(n - north, e - east) > 0.5 for n, e in means[1:])
    said = "calm" if speed < CALM else f"wind {speed:.1f} m/s"
    if other:
        said += f" ({flights[0].name}; not the same for all)"
    above.annotate(said, (0.995, 1.0), xycoords="axes fraction", xytext=(0, 4), textcoords="offset points", ha="right",
                   fontsize=8.0)  # fmt: skip
    if speed >= CALM:
        c, s = math.cos(line), math.sin(line)
        along, right = (c * north + s * east) / speed, (c * east - s * north) / speed
        above.annotate(
            "", (0.94, 0.7), xycoords="axes fraction", xytext=(-34.0 * along, 34.0 * right), textcoords="offset points",
            arrowprops={"arrowstyle": "-|>,head_width=0.35,head_length=0.6", "color": INK, "linewidth": 1.6},
        )  # fmt: skip
