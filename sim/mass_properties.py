"""Mass, centre of gravity and inertia from a list of items, by the parallel-axis rule."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sim.description import Item


@dataclass(frozen=True)
class MassProperties:
    """`mass` kg, `cg` (3,) m in body directions from the wing root leading edge, `inertia` (3, 3) kg m2 about the CG."""

    mass: float
    cg: np.ndarray
    inertia: np.ndarray


class OutOfReach(ValueError):
    """The wanted CG needs the moved item outside its tray; `needed`, `slide` and `reach` (CG range) say where, in body x."""

    def __init__(self, item: Item, needed: float, reach: tuple[float, float]):
        super().__init__(f"{item.name} would have to sit at x = {needed} m")
        self.item, self.needed, self.reach = item, needed, reach


def mass_properties(items: tuple[Item, ...]) -> MassProperties:
    """Mass properties of `items`, each a homogeneous box of its size (a point where the size is zero)."""
    masses = np.array([item.mass for item in items])
    places = np.array([item.at for item in items])
    mass = masses.sum()
    cg = masses @ places / mass
    off = places - cg
    spread = off.T @ (masses[:, None] * off) + np.diag(masses @ np.square([item.size for item in items])) / 12.0
    return MassProperties(float(mass), cg, np.trace(spread) * np.eye(3) - spread)


def slide_to_cg(items: tuple[Item, ...], name: str, cg_x: float) -> tuple[Item, ...]:
    """`items` with the item called `name` slid along body x so that the CG lies at `cg_x` (m).

    Raises OutOfReach when its tray does not allow that, KeyError when there is no such
    item, ValueError when it has no tray.
    """
    moved = {item.name: item for item in items}[name]
    if moved.slide is None:
        raise ValueError(f"{name} has no tray")
    mass = sum(item.mass for item in items)
    others = sum(item.mass * item.at[0] for item in items if item.name != name)
    needed = (cg_x * mass - others) / moved.mass
    low, high = sorted(moved.slide)
    if not low - 1e-9 <= needed <= high + 1e-9:
        reach = ((others + moved.mass * low) / mass, (others + moved.mass * high) / mass)
        raise OutOfReach(moved, needed, reach)
    placed = replace(moved, at=(needed, *moved.at[1:]))
    return tuple(placed if item.name == name else item for item in items)
