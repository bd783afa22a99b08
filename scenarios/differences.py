"""What differs between the files of setups, field by field as their owners wrote it, before anything is flown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from models.bases import OWN
from models.entries import Entry, Path, entries
from models.loader import Loaded
from sim.build import mean_aerodynamic_chord
from sim.description import Airframe
from sim.lifting_surfaces import square_tipped

MOST_OF_A_PART = 12  # differences of airframes or blades that are listed; with more of them it is another one
LONGEST_JOINED = 42  # characters of a field's name, to leave room for two columns


@dataclass(frozen=True)
class Difference:
    """A field and what stands in each file: as written, in brackets what holds where it is left out, "" for nothing."""

    path: Path
    cells: tuple[str, ...]

    @property
    def field(self) -> str:
        return " > ".join(self.path)


def differences(loaded: Sequence[Loaded]) -> list[Difference]:
    """Every field in which the setups differ, then what tells their airframes and blade families apart."""
    found = _between([entries(one.documents["setup"]) for one in loaded])
    for kind in ("airframe", "blade family"):
        parts = _between([entries(one.documents[kind]) for one in loaded])
        if not parts:  # the same under two names
            found = [difference for difference in found if difference.path != (kind,)]
        elif len(parts) <= MOST_OF_A_PART:
            found += [Difference((kind, *part.path), part.cells) for part in parts]
        elif kind == "airframe":
            found += _summary([one.setup.airframe for one in loaded])
        elif not any(d.path == (kind,) for d in found):
            found.append(
                Difference(("shape of the blades",), _letters([repr(one.setup.propeller.family) for one in loaded]))
            )
    return found


def joined(found: list[Difference]) -> list[Difference]:
    """The differences with those taken together that have the same cells and differ in one key alone."""
    kept: list[tuple[list[list[str]], tuple[str, ...]]] = []
    for difference in found:
        path = [[key] for key in difference.path]
        for other, cells in kept:
            apart = [i for i, (a, b) in enumerate(zip(other, path)) if a != b]
            alike = cells == difference.cells and len(other) == len(path) and len(apart) == 1 and apart[0] > 0
            if alike and len(difference.field) + sum(len(key) + 2 for key in other[apart[0]]) <= LONGEST_JOINED:
                other[apart[0]] += path[apart[0]]
                break
        else:
            kept.append((path, difference.cells))
    if len(kept) < len(found):
        again = joined([Difference(tuple(", ".join(keys) for keys in path), cells) for path, cells in kept])
        return again
    return found


def _between(files: list[dict[Path, Entry]]) -> list[Difference]:
    paths = dict.fromkeys(path for entry in files for path in entry)
    tops = list(dict.fromkeys(path[0] for path in paths))
    found = []
    for path in sorted(paths, key=lambda path: tops.index(path[0])):
        here = [file.get(path) for file in files]
        values = [entry.value if entry else None for entry in here]
        if path[0] in OWN or all(value == values[0] for value in values) or not any(e and e.text for e in here):
            continue
        found.append(Difference(path, tuple(entry.shown if entry else "" for entry in here)))
    return found


def _letters(texts: list[str]) -> tuple[str, ...]:
    """The same letter for the same text."""
    kinds = list(dict.fromkeys(texts))
    return tuple(chr(ord("A") + kinds.index(text)) for text in texts)


def _summary(airframes: list[Airframe]) -> list[Difference]:
    """What tells one aeroplane from another at a glance."""
    rows: dict[str, list[str]] = {}
    for airframe in airframes:
        wing = square_tipped(next(surface for surface in airframe.surfaces if surface.name == "wing"))
        mac, _, area, span = mean_aerodynamic_chord(wing)
        stations = [station.x for station in airframe.fuselage.stations]
        mass = sum(item.mass for item in airframe.items)
        for what, text in (
            ("mass", f"{mass:.2f} kg"),
            ("wing span", f"{1000 * span:.0f} mm"),
            ("wing area", f"{area:.3f} m2"),
            ("wing loading", f"{mass / area:.1f} kg/m2"),
            ("mean chord (MAC)", f"{1000 * mac:.0f} mm"),
            ("fuselage length", f"{1000 * (max(stations) - min(stations)):.0f} mm"),
            ("wing incidence", f"{math.degrees(wing.incidence):.1f} deg"),
            ("power", "electric" if hasattr(airframe.power, "kv") else "piston"),
        ):
            rows.setdefault(what, []).append(text)
    return [Difference(("airframe", what), tuple(cells)) for what, cells in rows.items() if len(set(cells)) > 1]
