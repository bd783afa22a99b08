"""A portrait as a picture that also reads in grey: three ways of flying, six bars each."""

from __future__ import annotations

from typing import BinaryIO

from matplotlib.figure import Figure

from scenarios.portrait import Portrait
from scenarios.traits import STRONG, TRAITS, WEAK, Judgement
from viewer.plots.figures import foot_at
from viewer.plots.style import EDGE, FAINT, FILL, FILL_DARK, INK, foot_lines, page, save, style, write
from viewer.portrait import RELATIVE, put_on, valued

# one blue from dark to light: the order stays in grey and to colour-blind eyes, and the words say it too
SHADES = {"strong": FILL_DARK, "fair": FILL, "weak": "#e3e3e3", "not judged": "#ffffff"}
LONGEST_NOTE = 46  # characters below a bar


def draw(p: Portrait, file: BinaryIO, kind: str) -> None:
    """One page written to `file` as `kind`, "png", "svg" or "pdf": a panel for each way of flying, six bars each."""
    save(figure_of(p), file, kind)


def figure_of(p: Portrait, cautions: bool = True) -> Figure:
    """The figure of a portrait; `cautions`: with them and the version at the foot."""
    with style(font_size=10.0):
        return _page(p, cautions)


def _page(p: Portrait, cautions: bool) -> Figure:
    figure = page(11.0, 6.0)
    panels = figure.subplots(1, 3, sharey=True)
    traits = list(TRAITS)
    for panel, (way, judged) in zip(panels, p.ways.items()):
        for row, trait in enumerate(traits):
            j = judged[trait]
            score = j.score or 0.0
            panel.barh(row, score, 0.5, color=SHADES[j.word], edgecolor=INK, linewidth=0.8)
            text = j.word if j.score is None else f"{j.score:.2f} {j.word}"
            inside = score > 0.6
            panel.text(
                score - 0.02 if inside else score + 0.02, row, text, va="center", ha="right" if inside else "left",
                fontsize=9.5, color="white" if inside and j.word == "strong" else "black",
            )  # fmt: skip
            panel.text(0.012, row + 0.3, _deciding(j), va="top", fontsize=7.5)
        for limit in (WEAK, STRONG):
            panel.axvline(limit, color=FAINT, linewidth=0.6, linestyle=(0, (1, 3)), zorder=0)
        own = " (its own way)" if way == p.setup.way_of_flying else ""
        panel.set_title(f"flown as {way}{own}", fontsize=10.5, pad=14, fontweight="bold" if own else "normal")
        panel.set_xlim(0.0, 1.0)
        panel.set_xticks([0.0, 0.5, 1.0], ["0", "0.5", "1"], fontsize=9)
        panel.text(0.0, 1.005, "worst", fontsize=8, transform=panel.transAxes, va="bottom")
        panel.text(1.0, 1.005, "best", fontsize=8, transform=panel.transAxes, va="bottom", ha="right")
        panel.spines[["top", "right"]].set_visible(False)
    panels[0].set_yticks(range(len(traits)), traits, fontsize=10.5)
    panels[0].set_ylim(len(traits) - 0.4, -0.6)
    write(figure, EDGE, EDGE, f"{p.setup.name} on {p.setup.airframe.name}", 13.0)
    foot_at(figure, foot_lines(11.0 - 2.0 * EDGE, f"{RELATIVE}{put_on(p)}.", cautions=cautions))
    figure.subplots_adjust(left=0.19, right=0.985, top=0.84, bottom=0.16, wspace=0.1)
    return figure


def _deciding(judged: Judgement) -> str:
    """The measure that lies furthest from the middle, short enough to stand below a bar."""
    counted = [m for m in judged.marks if m.mark is not None]
    if not counted:
        return ""
    mark = max(counted, key=lambda m: abs(m.mark - 0.5))
    text = valued(mark) if mark.outcome.value is not None else mark.outcome.reason
    return text if len(text) <= LONGEST_NOTE else text[: LONGEST_NOTE - 3].rstrip() + "..."
