"""What `upline balance` answers to a wanted CG: where the moved item goes, what ballast does, and side to side."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from models.units import written
from scenarios.accuracy import MODEL, TIP_WEIGHT
from scenarios.balance import TEN_GRAMS, TRIM_SPEED, Balance, Lateral
from scenarios.ballast import Ballast, Wanted
from sim.build import Plane
from viewer.balance import behind, mm, mm_quantity, share_quantity
from viewer.documents import quantity
from viewer.text import number, table, wrapped

LEAST_MARGIN = 0.05  # of MAC: a CG with less needs a word; half of it may be the model's own error
MOST_SHOWN = 4
LONGEST_PLACE = 18  # characters of its name in a table
MUCH = 0.1  # of the mass: more ballast than that is no cure
_THE = "the "
SIDES = {"right": "left", "left": "right"}


def grams(mass: float) -> str:
    """A mass in whole grams."""
    return written(mass, "mass", "g", 0)


@dataclass(frozen=True)
class Carried:
    """A plane as it would be: with a ballast (None: none, its CG where the tray ends)."""

    ballast: Ballast | None
    plane: Plane

    @property
    def mass(self) -> float:
        """kg."""
        return self.plane.mass.mass

    @property
    def inertia(self) -> tuple[float, float, float]:
        """kg m2 in roll, pitch and yaw."""
        return tuple(float(self.plane.mass.inertia[i, i]) for i in range(3))

    @property
    def loading(self) -> float:
        """kg/m2."""
        return self.mass / self.plane.wing_area

    def stall_against(self, other: Carried) -> float:
        """Stall speed over the other's: with the root of mass, the largest lift being the same."""
        return math.sqrt(self.mass / other.mass)


def wanted_text(asked: Wanted, before: Wanted, carried: list[Carried]) -> str:
    """The answer to a CG that was asked for; `before` is that of the setup's own, `carried` without ballast first."""
    item, place = asked.item.name, " ".join(behind(asked.needed))
    opening = f"CG {' '.join(behind(asked.station))}: "
    if asked.within:
        moved = asked.needed - before.needed
        text = f"{opening}the {item} goes {place}"
        if abs(moved) >= 0.0005:
            text += f", {mm(abs(moved))} further {'aft' if moved > 0.0 else 'forward'} than the setup has it"
        return wrapped(f"{text}. Its tray reaches; no ballast is needed.")
    last = asked.tray[0] if asked.station < asked.end else asked.tray[1]
    text = (
        f"{opening}the {item} would have to stand {mm(abs(asked.needed))} {_side(asked.needed)}, its tray ends "
        f"{mm(abs(last))} {_side(last)}: with it the CG gets to {mm(asked.end)} and no further."
    )
    if not asked.ballast:
        none = "No place on the aeroplane lies far enough beyond that CG for ballast lighter than the plane to do the rest."
        return wrapped(f"{text} {none}")
    lines = [wrapped(f"{text} With the {item} at that end, ballast does the rest, smallest first:"), ""]
    bare = carried[0]
    rows = [_row(each, bare) for each in carried]
    head = ["ballast", "", "kg", "kg/m2", "stall", "roll", "pitch", "yaw"]
    lines += [table(head, rows), ""]
    lines.append(
        wrapped(
            "The plane's mass and wing loading; stall speed (with the root of mass, the largest lift being the same) "
            "and moments of inertia (kg m2) against none."
        )
    )
    if asked.ballast[0].mass > MUCH * bare.mass:
        lines.append(
            wrapped(
                f"That is over {100.0 * MUCH:.0f} % of the plane: a lighter or heavier part, or another place for one, "
                "is the better cure."
            )
        )
    lines += ["", wrapped("What follows is with the first of them. To fly it, these lines in the setup file:"), ""]
    lines += [f"cg: {written(asked.station, 'length', 'mm')}", "ballast:", f"  {asked.ballast[0].line}"]
    return "\n".join(lines)


def little_margin(b: Balance) -> str:
    """The word for a wanted CG that is far aft."""
    margin = f"{number(100.0 * b.static_margin, '%')} % of MAC"
    if b.static_margin < 0.0:
        return f"Do not fly it: that CG lies behind the neutral point, with a static margin of {margin}."
    return (
        f"That CG leaves a static margin of {margin}, of which the model's own error may be "
        f"{number(100.0 * MODEL, '%')}: go there in small steps, if at all."
    )


def _side(station: float) -> str:
    return "behind the root leading edge" if station >= 0.0 else "ahead of it"


def _row(each: Carried, bare: Carried) -> list[str]:
    if each.ballast is None:
        shown = [f"{value:.2f}" for value in each.inertia]
        return [f"none, CG at {mm(each.plane.cg_station)}", "-", f"{each.mass:.2f}", f"{each.loading:.1f}", "-", *shown]
    more = [f"{100.0 * (a / b - 1.0):+.1f}%" for a, b in zip(each.inertia, bare.inertia)]
    stall = f"{100.0 * (each.stall_against(bare) - 1.0):+.1f}%"
    place, station = each.ballast.place.name, mm(each.ballast.place.station)
    where = station if place.endswith(" mm") else f"{place.removeprefix(_THE)[:LONGEST_PLACE]}, {station}"
    return [where, grams(each.ballast.mass), f"{each.mass:.2f}", f"{each.loading:.1f}", stall, *more]


def wanted_document(asked: Wanted, carried: list[Carried]) -> dict[str, Any]:
    """The same as a document."""
    document: dict[str, Any] = {
        "cg": mm_quantity(asked.station),
        "moved_item": asked.item.name,
        "needed": mm_quantity(asked.needed),
        "tray": [mm_quantity(x) for x in asked.tray],
        "cg_reach": [mm_quantity(x) for x in asked.reach],
        "within_reach": asked.within,
    }
    if not asked.within:
        document["without"] = _carried_document(carried[0], carried[0])
        document["ballast"] = [_carried_document(each, carried[0]) for each in carried[1:]]
    return document


def _carried_document(each: Carried, bare: Carried) -> dict[str, Any]:
    document: dict[str, Any] = {}
    if each.ballast is not None:
        document |= {
            "place": each.ballast.place.name,
            "at": mm_quantity(each.ballast.place.station),
            "ballast": quantity(each.ballast.mass, "kg"),
            "setup_line": each.ballast.line,
        }
    return document | {
        "cg": mm_quantity(each.plane.cg_station),
        "mass": quantity(each.mass, "kg"),
        "wing_loading": quantity(each.loading, "kg/m2"),
        "stall_speed_change": share_quantity(each.stall_against(bare) - 1.0),
        "inertia": {axis: quantity(v, "kg m2") for axis, v in zip(("roll", "pitch", "yaw"), each.inertia)},
    }


# ---- side to side -------------------------------------------------------------------------------------------------------


def lateral_text(side: Lateral, b: Balance) -> str:
    """Which wing drops, what cures it and what it costs."""
    per_ten = (
        f"{grams(TEN_GRAMS)} at a wing tip move the CG {1000.0 * abs(side.cg_per_10_g):.1f} mm and take "
        f"{math.degrees(abs(side.per_10_g)):.2f} deg of aileron in level flight at {TRIM_SPEED:.0f} m/s; hung at "
        f"spinner and tail, a plane shows about {grams(TIP_WEIGHT)}."
    )
    if round(side.tip.mass * 1000.0) == 0:
        return wrapped(f"Side to side: balanced, no tip weight is needed. {per_ten}")
    light, heavy = side.tip.side, SIDES[side.tip.side]
    where = f"{light} wing tip, {' '.join(behind(-side.tip.at[0]))}"
    aileron = math.degrees(side.aileron)
    cost = (
        f"{abs(aileron):.2f} deg of aileron to the {'right' if aileron > 0.0 else 'left'}"
        if abs(aileron) >= 0.005
        else "hardly any aileron"
    )
    text = (
        f"Side to side: the CG lies {1000.0 * abs(side.right):.1f} mm to the {heavy}, so the {heavy} wing drops. "
        f"{grams(side.tip.mass)} at the {where}, balance it: mass {100.0 * side.tip.mass / b.mass:+.1f} %, inertia in "
        f"roll {side.tip.roll:+.3f} kg m2 ({100.0 * side.tip.roll / b.inertia[0]:+.1f} %). Without it, level flight at "
        f"{TRIM_SPEED:.0f} m/s takes {cost}, more when slower (with 1/speed squared)."
    )
    lines = ["To fly it, in the setup file:", "", "ballast:", f"  {side.tip.ballast.line}"]
    return "\n".join([wrapped(text), wrapped(per_ten), "", *lines])


def lateral_document(side: Lateral, b: Balance) -> dict[str, Any]:
    """The same as a document."""
    needed = round(side.tip.mass * 1000.0) > 0
    return {
        "cg_right": mm_quantity(side.right),
        "drops": SIDES[side.tip.side] if needed else None,
        "tip_weight": {
            "side": side.tip.side if needed else None,
            "mass": quantity(side.tip.mass, "kg"),
            "at": [mm_quantity(v) for v in (-side.tip.at[0], side.tip.at[1], 0.0 - side.tip.at[2])],
            "roll_inertia_added": quantity(side.tip.roll, "kg m2"),
            "mass_added": share_quantity(side.tip.mass / b.mass),
        },
        "aileron_in_level_flight": quantity(math.degrees(side.aileron), "deg"),
        "per_10_g_at_tip": {
            "cg_right": mm_quantity(side.cg_per_10_g),
            "aileron": quantity(math.degrees(side.per_10_g), "deg"),
        },
        "measured_to": quantity(TIP_WEIGHT, "kg"),
    }
