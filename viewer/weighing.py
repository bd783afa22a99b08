"""What scales under the wheels say against the model, and what to do about it."""

from __future__ import annotations

import math
from typing import Any

from models.units import written
from scenarios.accuracy import LEVEL
from scenarios.balance import Balance
from scenarios.ballast import tip_weight_for
from scenarios.weighing import Weighed, missing_mass, nearest_items
from sim.build import Plane
from viewer.balance import behind, mm, mm_quantity
from viewer.ballast import grams
from viewer.documents import quantity
from viewer.text import table, wrapped

FAR_OFF = 0.1  # share of the mass by which scales and items differ that is no longer a matter of accuracy


def weighed_text(w: Weighed, b: Balance, plane: Plane) -> str:
    """Measured and modelled CG side by side, what to do, and how the plane has to stand."""
    readings = ", ".join(f"{name} {mass:.2f} kg" for name, mass in w.readings.items())
    stood = "level" if w.tail_low == 0.0 else f"its tail {math.degrees(w.tail_low):.1f} deg low"
    rows = [
        _row("mass, kg", w.mass, w.mass_sigma, b.mass, 2),
        _row("CG behind root leading edge, mm", 1e3 * w.cg, 1e3 * w.cg_sigma, 1e3 * b.cg, 1),
        _row("CG, % of MAC", *(100.0 * x for x in _in_mac(w, b)), 100.0 * b.cg_mac, 1),
    ]
    if w.right is not None:
        rows.append(_row("CG to the right, mm", 1e3 * w.right, 1e3 * w.right_sigma, 1e3 * b.cg_right, 1))
    head = ["", "weighed", "", "model", "difference"]
    lines = [wrapped(f"On the scales ({stood}): {readings}"), "", table(head, rows), ""]
    lines += [wrapped(s, "  ", "- ") for s in advice(w, b, plane)]
    parts = (
        f"scales {1e3 * w.by_scales:.1f} mm, ruler {1e3 * w.by_ruler:.1f} mm, level ({math.degrees(LEVEL):.1f} deg) "
        f"{1e3 * w.by_level:.1f} mm"
    )
    lines += ["", wrapped(f"One standard deviation of the weighed CG is made of: {parts}.")]
    lines.append(wrapped(_standing(w)))
    return "\n".join(lines)


def _in_mac(w: Weighed, b: Balance) -> tuple[float, float]:
    return (w.cg - b.mac_leading_edge) / b.mac, w.cg_sigma / b.mac


def _row(label: str, value: float, sigma: float, model: float, decimals: int) -> list[str]:
    return [
        label,
        f"{value:.{decimals}f}",
        f"+-{sigma:.{decimals}f}",
        f"{model:.{decimals}f}".replace("-0.0", "0.0") if abs(model) < 0.05 else f"{model:.{decimals}f}",
        f"{value - model:+.{decimals}f}",
    ]


def _standing(w: Weighed) -> str:
    text = "Readings hold with the fuselage level, as flown"
    if w.tail_low:
        text = (
            f"The tail hung {math.degrees(w.tail_low):.1f} deg low, which is taken out by the CG's height in the model"
        )
    way = "aft" if w.per_degree >= 0.0 else "forward"
    text += f"; a degree of tail low that goes unnoticed puts the CG {1e3 * abs(w.per_degree):.1f} mm too far {way}"
    if w.on_wheels is not None and w.tail_low == 0.0 and abs(w.on_wheels) > math.radians(0.5):
        way = "aft" if w.on_wheels_error >= 0.0 else "forward"
        text += (
            f". Did it stand on its own wheels on a flat floor? Then its tail hung {math.degrees(w.on_wheels):.1f} deg "
            f"low and the CG above is {1e3 * abs(w.on_wheels_error):.0f} mm too far {way}: weigh it level, or say "
            f'--tail-low "{math.degrees(w.on_wheels):.1f} deg"'
        )
    return text + "."


def advice(w: Weighed, b: Balance, plane: Plane) -> list[str]:
    """What to do about the differences, in sentences."""
    said = []
    if abs(w.mass / b.mass - 1.0) > FAR_OFF:
        said.append(
            f"Scales and items differ by {100.0 * abs(w.mass / b.mass - 1.0):.0f} % of the mass: check readings and units, "
            "and that nothing was missing or aboard (fuel as the items say, battery in)."
        )
    shift = w.cg - b.cg
    item = next(i for i in plane.items if i.name == b.moved_item)
    if abs(shift) <= 2.0 * w.cg_sigma:
        said.append("The CG agrees with the setup's as well as it was weighed: nothing to correct.")
    else:
        now = b.item_station + shift * b.mass / item.mass
        margin = 100.0 * (b.neutral_point - w.cg) / b.mac
        said.append(
            f'To fly what was weighed, write "cg: {written(w.cg, "length", "mm", 0)}" in the setup: static margin '
            f"{margin:.1f} instead of {100.0 * b.static_margin:.1f} % of MAC, propeller off. The model then puts the "
            f"{item.name} {' '.join(behind(now))}; if yours stands elsewhere, the masses or places of items are wrong."
        )
        back = shift * w.mass / item.mass
        said.append(
            f"To have the setup's CG instead, move the {item.name} {mm(abs(back))} {'forward' if back > 0.0 else 'aft'} "
            "and weigh again."
        )
    lacking = missing_mass(w, b.mass, b.cg)
    if lacking is None:
        said.append("The mass agrees with the sum of the items as well as it was weighed.")
    else:
        more, station = lacking
        ends = [s.x for s in plane.setup.airframe.fuselage.stations] + [plane.setup.airframe.thrust_line.at[0]]
        text = f"The scales find {grams(abs(more))} {'more' if more > 0.0 else 'less'} than the items add up to"
        if min(ends) <= -station <= max(ends):
            named = ", ".join(f"{i.name} ({mm(-i.at[0])})" for i in nearest_items(plane.items, station))
            text += (
                f": if one thing alone {'is missing from' if more > 0.0 else 'is too heavy in'} the list, it stands "
                f"{' '.join(behind(station))}. Nearest items, to be weighed first: {named}."
            )
        else:
            text += "; no one item on the plane can explain that and the CG together, so weigh the heaviest ones again."
        said.append(text)
    if w.right is not None:
        tip = tip_weight_for(plane.setup.airframe, w.mass, w.right)
        sure = 2.0 * w.right_sigma
        if abs(w.right) <= sure:
            said.append(f"Side to side it balances as well as it was weighed ({1e3 * sure:.1f} mm, two sigma).")
        else:
            heavy = "right" if w.right > 0.0 else "left"
            said.append(
                f"It is heavy on the {heavy}: {grams(tip.mass)} at the {tip.side} wing tip balance it "
                f"({mm(-tip.at[0])} behind the wing root leading edge)."
            )
    return said


def weighed_document(w: Weighed, b: Balance, plane: Plane) -> dict[str, Any]:
    """The same as a document."""
    lacking = missing_mass(w, b.mass, b.cg)
    in_mac, sigma_mac = _in_mac(w, b)
    return {
        "readings": {name: quantity(mass, "kg") for name, mass in w.readings.items()},
        "tail_low": quantity(math.degrees(w.tail_low), "deg"),
        "mass": {**quantity(w.mass, "kg"), "sigma": quantity(w.mass_sigma, "kg")},
        "cg": {
            **mm_quantity(w.cg),
            "sigma": mm_quantity(w.cg_sigma),
            "from": {
                "scales": mm_quantity(w.by_scales),
                "ruler": mm_quantity(w.by_ruler),
                "level": mm_quantity(w.by_level),
            },
        },
        "cg_mac": {**quantity(100.0 * in_mac, "%"), "sigma": quantity(100.0 * sigma_mac, "%")},
        "cg_right": None if w.right is None else {**mm_quantity(w.right), "sigma": mm_quantity(w.right_sigma)},
        "model": {"mass": quantity(b.mass, "kg"), "cg": mm_quantity(b.cg), "cg_right": mm_quantity(b.cg_right)},
        "difference": {"mass": quantity(w.mass - b.mass, "kg"), "cg": mm_quantity(w.cg - b.cg)},
        "too_far_aft_per_degree_of_tail_low": mm_quantity(w.per_degree),
        "on_its_own_wheels": None
        if w.on_wheels is None
        else {"tail_low": quantity(math.degrees(w.on_wheels), "deg"), "too_far_aft": mm_quantity(w.on_wheels_error)},
        "missing_mass": None
        if lacking is None
        else {
            "mass": quantity(lacking[0], "kg"),
            "at": mm_quantity(lacking[1]),
            "nearest_items": [i.name for i in nearest_items(plane.items, lacking[1])],
        },
        "advice": advice(w, b, plane),
    }
