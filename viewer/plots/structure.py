"""The structure bench as a picture: bending along the wing, peaks by manoeuvre, load factor over speed."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from scenarios.bench.structure import Loads, StructureBench, hardness
from sim import span_loads as S
from sim import structure as T
from viewer.bench.structure import not_seen
from viewer.plots.style import BAND, FAINT, FILL, INK, LIMIT, NOUGHT, SERIES, WIDE, foot, save, style, title

MOST_BARS = 24


def draw(bench: StructureBench, file: BinaryIO, kind: str) -> None:
    """The picture written to `file` as `kind`: "png", "svg" or "pdf"."""
    save(figure_of(bench), file, kind)


def figure_of(bench: StructureBench, cautions: bool = True) -> Figure:
    """The figure of the bench; `cautions`: with them and the version at the foot."""
    with style():
        flown = _shown(bench)
        heights = [2.7 * (bench.along is not None), (0.9 + 0.24 * len(flown)) * bool(flown), 2.9 * bool(bench.pulls)]
        draws = [panel for panel, height in zip((_along, _peaks, _pulls), heights) if height]
        heights = [height for height in heights if height]
        figure = Figure(figsize=(WIDE, 1.6 + sum(heights) + 0.5 * len(heights)), layout="constrained")
        panels = figure.subplots(len(draws), 1, squeeze=False, height_ratios=heights)[:, 0]
        for panel, fill in zip(panels, draws):
            fill(bench, panel)
            panel.grid()
        title(figure, f"{bench.setup.name} on {bench.setup.airframe.name}: loads at the wing root")
        foot(figure, not_seen(), cautions=cautions)
        figure.get_layout_engine().set(w_pad=0.08, h_pad=0.08)
        return figure


def allowed_bending_moment(bench: StructureBench) -> float | None:
    """Root bending (N m) at which the wing joiner's margin is gone, chordwise bending left out; None without one."""
    joiner = bench.joiners.get("wing")
    if joiner is None:
        return None
    return T.allowed_bending(joiner.material)[0] / float(T.bending_stress(joiner, np.array(1.0)))


def _along(bench: StructureBench, panel: Axes) -> None:
    along = bench.along
    for look, name in zip(SERIES, ("wing right", "wing left")):
        places = 1000.0 * along.places[name]
        panel.plot(places, along.loads[name][:, S.BENDING], label=f"{name} half", **look.line(len(places), 0, 1.8))
    joiner = bench.joiners.get("wing")
    if joiner is not None:
        rib = 1000.0 * bench.ribs["wing right"]
        panel.axvspan(rib, rib + 1000.0 * joiner.reach, color=BAND, zorder=0)
        panel.annotate(
            "joiner reaches to here", (rib + 1000.0 * joiner.reach, 0.0), xycoords=("data", "axes fraction"),
            xytext=(-3, 4), textcoords="offset points", ha="right", fontsize=8,
        )  # fmt: skip
    panel.set_xlim(left=0.0)
    panel.set_xlabel("from the middle along the span, mm")
    panel.set_ylabel("bending, N m")
    hardest = along.hardest
    panel.set_title(
        f'Hardest instant: {along.manoeuvre}, "{hardest.phase}", {hardest.time:.2f} s, {hardest.load_factor:.1f} g'
    )
    panel.legend(frameon=False, loc="upper right", fontsize=9)


def _shown(bench: StructureBench) -> list[Loads]:
    """The flights that the picture has room for, the hardest of them, in flying order."""
    flown = [f for f in bench.flights if f.hardest]
    kept = sorted(flown, key=lambda f: hardness(f.hardest["wing"]))[-MOST_BARS:]
    return [f for f in flown if f in kept]


def _peaks(bench: StructureBench, panel: Axes) -> None:
    flown = _shown(bench)[::-1]
    values = [f.hardest["wing"].bending for f in flown]
    panel.barh(range(len(flown)), values, color=FILL, height=0.7, zorder=2)
    for i, (flight, value) in enumerate(zip(flown, values)):
        margin = flight.hardest["wing"].margin
        words = f"{flight.peak:.1f} g" + ("" if margin is None else f", margin {margin:.2f}")
        panel.annotate(
            words, (max(value, 0.0), i), xytext=(4, 0), textcoords="offset points", va="center", fontsize=8, zorder=5,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
        )  # fmt: skip
    panel.set_yticks(range(len(flown)), [f.manoeuvre for f in flown], fontsize=8.5)
    allowed = allowed_bending_moment(bench)
    if allowed is not None:
        for way in [1.0] + [-1.0] * (min(values) < -0.5 * allowed):
            panel.axvline(way * allowed, zorder=3, **LIMIT)
    panel.axvline(0.0, **{**NOUGHT, "zorder": 3})
    low, high = panel.get_xlim()
    panel.set_xlim(low, high + 0.2 * (high - low))
    panel.set_xlabel("wing root bending at the hardest instant, N m (tips up positive)")
    heading = "By manoeuvre" if len(flown) == sum(bool(f.hardest) for f in bench.flights) else "The hardest manoeuvres"
    panel.set_title(heading + ("; the joiner's margin is gone at the dashed line" if allowed is not None else ""))


def _pulls(bench: StructureBench, panel: Axes) -> None:
    speed = np.array([p.speed for p in bench.pulls])
    panel.plot(speed, [p.load_factor for p in bench.pulls], "o-", color=INK, linewidth=1.8, label="full elevator")
    fine = np.linspace(speed[0], speed[-1], 60)
    panel.plot(
        fine,
        (fine / bench.stall_speed) ** 2,
        label="(V/Vs)^2, steady flow",
        color=SERIES[1].color,
        linestyle=SERIES[1].linestyle,
    )
    if bench.load_factor is not None:
        panel.axhline(bench.load_factor, label="the most you mean to fly (airframe file)", **LIMIT)
    for place, words in ((bench.limit_speed, "stated limit"), (bench.margin_speed, "margin gone")):
        if place is not None:
            panel.axvline(place, color=FAINT, linewidth=0.9)
            panel.annotate(
                f"{words}\n{place:.1f} m/s", (place, 1.0), xycoords=("data", "axes fraction"), xytext=(3, -20),
                textcoords="offset points", fontsize=8,
            )  # fmt: skip
    panel.set_xlabel("airspeed when the stick is pulled to its stop, m/s")
    panel.set_ylabel("peak load factor, g")
    panel.set_title(f"Full elevator from steady flight; Vs {bench.stall_speed:.1f} m/s")
    panel.legend(frameon=False, loc="lower right", fontsize=9)
