"""A rearward walk as one page for the field: the steps, what to see at each, what to fly and when to go back."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np

from scenarios.walk.field import LAST, checks_of, rows_of
from scenarios.walk.walking import Walk
from viewer.card.entries import in_degrees
from viewer.card.order import order_table
from viewer.card.page import GAP, cautions, heading, notes, title_line
from viewer.card.paper import PLAIN, SMALL, Paper, filled, pitch, shortened, width
from viewer.walk import FLOWN_SO, ON_ANY_SIGN, SHORT, label, verdict, with_spread

MOST = 7  # steps side by side
NAMED = 58.0  # mm, of the names of what is seen
ROW = 3.7  # mm


def draw_walk(walk: Walk, paper: str, file: BinaryIO) -> None:
    """The field page of a rearward `walk` of which a step is sound, on a sheet "a4" or "letter", as a PDF."""
    page = Paper(paper)
    setup = walk.plan.loaded.setup
    title = f"CG aft: {setup.name} on {setup.airframe.name}"
    y = heading(page, title, f"from {walk.flown[0].step.text} to {walk.flown[walk.advised].step.text}; {FLOWN_SO}")
    for line in filled(" ".join(verdict(walk)[:3]), page.right - page.left):
        y += pitch()
        page.text(page.left, y, line)
    y = _steps(page, y + GAP, walk) + GAP
    flights = [(c.title, c.how, c.well_at_a_step, c.back, ("",)) for c in checks_of(walk)]
    order = order_table(page, flights, "At every step, in this order")
    y = order.draw(y) + 1.0
    for words, bold in ((ON_ANY_SIGN, True), (LAST, False)):
        for line in filled(words, page.right - page.left, SMALL, bold):
            y += pitch()
            page.text(page.left, y, line, SMALL, bold)
    notes(page, y + GAP, cautions(page))
    page.save(file, f"Field card: {title}")


def _steps(page: Paper, y: float, walk: Walk) -> float:
    """A column for each step, up to the one that is advised: where the CG and the item stand, and what to see."""
    shown = sorted({int(n) for n in np.linspace(0, walk.advised, min(MOST, walk.advised + 1)).round()})
    steps = [walk.flown[n] for n in shown]
    few = len(shown) <= walk.advised
    y = title_line(page, page.left, y, f"What to see at {'some of the steps' if few else 'each step'}", page.right)
    each = (page.right - page.left - NAMED) / len(steps)
    ends = [page.left + NAMED + each * (n + 1) for n in range(len(steps))]
    rows = [("CG, mm behind the root leading edge", [label(walk, step) for step in steps], True)]
    if any(step.step.item is not None for step in steps):
        places = ["-" if step.step.item is None else f"{1000.0 * step.step.item:.0f}" for step in steps]
        rows.append((f"{walk.plan.loaded.setup.moved_item}, mm behind it (- ahead)", places, True))
    if any(step.step.ballast for step in steps):
        rows.append(("ballast, g", [f"{1000.0 * step.step.ballast:.0f}" for step in steps], True))
    rows.append(("flown on (date)", ["_" * int(each / width("_") - 2)] * len(steps), False))
    for _, manoeuvre, measure, name, unit in rows_of(walk):
        cells = [with_spread(walk, step, manoeuvre, measure, unit) for step in steps]
        unit = SHORT.get(unit, unit)
        rows.append((f"{name}, {in_degrees(f'0 {unit}')[1:].strip()}" if unit else name, cells, False))
    for name, cells, bold in rows:
        y += ROW + (0.5 if bold else 0.0)
        page.text(page.left, y, shortened(name, NAMED), SMALL, bold)
        for end, cell in zip(ends, cells):
            page.text(end, y, cell.replace("+-", " \N{PLUS-MINUS SIGN}"), PLAIN if bold else SMALL, bold, "right")
    y += pitch() + 0.6
    page.text(page.left, y, "Nominal flight \N{PLUS-MINUS SIGN} half of what nine of ten draws span. "
              "Look for the direction and the change: sizes are the model's.")  # fmt: skip
    if few:
        y += pitch()
        every = ", ".join(label(walk, step) for step in walk.flown[: walk.advised + 1])
        page.text(page.left, y, shortened(f"All steps, CG in mm: {every}", page.right - page.left))
    return y + 1.0
