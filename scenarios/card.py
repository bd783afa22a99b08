"""What it takes to set the real plane up: every value of a setup as a row, with what a ruler reads at the trailing edge.

The rows come from the fields of the files, so that a field that this page has no own place for stands under
"Also in the setup", as it was written.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from models.bases import OWN
from models.entries import Entry, Path, entries
from models.loader import Loaded
from models.marks import is_marked
from scenarios.bench.linkage import servo_at
from sim.build import Plane
from sim.description import Airframe, Setup, Surface

BALANCE, THROWS, MIXES, POWER, RIGGING, SERVOS, ALSO = (
    "Balance", "Throws", "Mixes and trims", "Propeller and throttle", "Thrust line and incidence", "Servos",
    "Also in the setup",
)  # fmt: skip
WAYS = {"aileron": ("up", "down"), "elevator": ("up", "down"), "rudder": ("right", "left")}  # positive stick first
STICK_WORDS = {"aileron": "right stick", "elevator": "full pull", "rudder": "right rudder", "throttle": "full throttle"}
TOWARDS = {"aileron": ("for a right roll", "for a left roll"), "elevator": ("up", "down"), "rudder": ("right", "left")}


@dataclass(frozen=True)
class Row:
    """One line: `value` in `unit` (None: it is no number, `text` is shown); `travel` in m at the trailing edge.

    `path` leads to the field of the setup file that it is, () where it follows from others.  `to_check`: there is
    something to measure on the plane.
    """

    section: str
    label: str
    value: float | None = None
    unit: str = ""
    text: str = ""
    travel: float | None = None
    note: str = ""
    path: Path = ()
    to_check: bool = False


@dataclass(frozen=True)
class Card:
    """The rows, those of a section together; `file` is the whole setup as a document of its own, from which it can be read again."""

    setup: str
    airframe: str
    about: str
    way_of_flying: str
    rows: tuple[Row, ...]
    file: dict[str, Any]


def card(loaded: Loaded, plane: Plane, cg: str | None = None) -> Card:
    """The card of a setup; `plane` is what it was built to, `cg` what replaced the file's."""
    found = entries(loaded.documents["setup"])
    setup = loaded.setup
    rows = [
        *_balance(plane, found),
        *_throws(found, setup.airframe),
        *_mixes(found),
        *_power(found),
        *_rigging(loaded),
        *_servos(found, setup),
    ]
    shown = {row.path for row in rows} | {("airframe",), ("way of flying",)}
    # a mix is told whole by its row
    shown |= {(*row.path[:2], key) for row in rows if row.path[:1] == ("mixes",) for key in ("from", "to")}
    left = [entry for path, entry in found.items() if path not in shown and path[0] not in OWN and entry.text]
    rows += _left(left, {path[0] for path in shown if path})
    rows = [replace(row, note="estimated") if is_marked(_text(found, row)) and not row.note else row for row in rows]
    return Card(setup.name, setup.airframe.name, setup.about, setup.way_of_flying, tuple(rows), whole_file(loaded, cg))


def _text(found: dict[Path, Entry], row: Row) -> str:
    return found[row.path].text if row.path in found else ""


def _left(left: list[Entry], told: set[str]) -> Iterator[Row]:
    """What has no place of its own here: a group of which nothing was `told` as a section, other fields together."""
    for entry in left:
        section, label = ALSO, " > ".join(entry.path)
        if entry.path[0] not in told and len(entry.path) > 1:
            section = entry.path[0].capitalize()
            label = f"{entry.path[1]} {', '.join(entry.path[2:])}".strip()
        measured = getattr(entry.kind, "dimension", "") in ("length", "angle", "mass")
        yield Row(section, label, text=entry.text, path=entry.path, to_check=measured)


def whole_file(loaded: Loaded, cg: str | None = None) -> dict[str, Any]:
    """The setup as one file without a base: keys and texts as written, paths so that they hold from anywhere."""
    tree = loaded.documents["setup"].tree
    content = {key: value for key, value in tree.data.items() if key != "from"}
    for kind in ("airframe", "blade family"):
        folder = tree.values[(kind,)].source.folder
        if folder is not None and (folder / content[kind]).is_file():
            content[kind] = str((folder / content[kind]).resolve())
    return content | ({"cg": cg} if cg is not None else {})


def trailing_edge_travel(chord: float, deflection: float) -> float:
    """How far (m) the trailing edge of a flap of that chord moves for a deflection (rad): the straight way, 2 c sin(d/2)."""
    return 2.0 * chord * math.sin(0.5 * deflection)


def flap_chord(surface: Surface) -> float:
    """The chord (m) of a surface's flap at the end of it that is next to the root."""
    flap = surface.flap
    if flap is None:
        raise ValueError(f"{surface.name} has no flap")
    chord = surface.root_chord + flap.start * (surface.tip_chord - surface.root_chord)
    return chord * (flap.chord_root + flap.start * (flap.chord_tip - flap.chord_root))


def _side(station: float) -> str:
    return "behind it" if station >= 0.0 else "ahead of it"


def _balance(plane: Plane, found: dict[Path, Entry]) -> Iterator[Row]:
    cg, item = plane.cg_station, plane.setup.moved_item
    place = -float(next(i for i in plane.items if i.name == item).at[0])
    aft = place + next(i for i in plane.setup.airframe.items if i.name == item).at[0]
    yield Row(BALANCE, "centre of gravity", 1000.0 * abs(cg), "mm", note=_side(cg), to_check=True)
    yield Row(BALANCE, "  as a share of MAC", 100.0 * plane.mac_of_station(cg), "%", path=("cg",))
    yield Row(BALANCE, "item that is moved", text=item, path=("moved item",))
    yield Row(BALANCE, "  its middle", 1000.0 * abs(place), "mm", note=_side(place), to_check=True)
    if abs(aft) >= 0.0005:
        way = "aft" if aft > 0.0 else "forward"
        yield Row(BALANCE, f"  moved {way}", 1000.0 * abs(aft), "mm", note="from the file's place")
    yield Row(BALANCE, "mass ready to fly", plane.mass.mass, "kg", to_check=True)


def _throws(found: dict[Path, Entry], airframe: Airframe) -> Iterator[Row]:
    for control, ways in WAYS.items():
        surface = next(s for s in airframe.surfaces if s.flap is not None and s.flap.name == control)
        chord = flap_chord(surface)
        at = f"flap chord {1000.0 * chord:.0f} mm"
        low = found.get(("low rates", control))
        for way in ways:
            path = ("throws", control, way)
            if path not in found:
                continue
            full = found[path].value
            yield _angle(f"{control} {way}", full, chord, at, path)
            if low is not None and low.text:
                yield _angle("  on low rates", full * low.value, chord)
            at = ""
        if low is not None and low.text:
            yield Row(THROWS, f"{control} low rate", 100.0 * low.value, "%", note="of full throw", path=low.path)
        if (entry := found.get(("throws", control, "exponential"))) is not None:
            note = "softer at the middle" if entry.value else "linear"
            yield Row(THROWS, f"{control} exponential", 100.0 * entry.value, "%", note=note, path=entry.path)


def _angle(label: str, angle: float, chord: float, note: str = "", path: Path = ()) -> Row:
    travel = trailing_edge_travel(chord, angle)
    return Row(THROWS, label, math.degrees(angle), "deg", travel=travel, note=note, path=path, to_check=True)


def _mixes(found: dict[Path, Entry]) -> Iterator[Row]:
    for path, entry in found.items():
        if path[0] == "mixes" and path[2:3] == ("gain",):
            note = f"{_stick_words(path, found)}: {_mixed(path, entry.value, found)}"
            yield Row(MIXES, f"mix {path[1]}{''.join(f', {side}' for side in path[3:])}", 100.0 * entry.value, "%",
                      note=note, path=path)  # fmt: skip
        elif path[0] == "trims" and entry.text:
            words = {
                "aileron": "rolls right",
                "elevator": "pulls",
                "rudder": "yaws right",
                "flaps": "both ailerons down",
            }
            note = f"positive {words.get(path[-1], '')}"
            yield Row(MIXES, f"{path[-1]} trim", math.degrees(entry.value), "deg", note=note, path=path)


def _stick_words(path: Path, found: dict[Path, Entry]) -> str:
    """Where the source stands that a gain is said for."""
    source = path[1].partition(" to ")[0]
    if path[3:]:
        return f"full {path[3]} {source}"
    return "throttle closed" if (*path[:2], "only below") in found else STICK_WORDS[source]


def _mixed(path: Path, gain: float, found: dict[Path, Entry]) -> str:
    """What a gain does to its target, in deg where the throw is known."""
    target = path[1].partition(" (")[0].partition(" to ")[2]
    if target == "flaps":
        control, name, towards = "aileron", "both ailerons", ("down", "up")
        way = ("down", "up")[0 if gain >= 0.0 else 1]
    else:
        control, name, towards = target, target, TOWARDS[target]
        way = WAYS[target][0 if gain >= 0.0 else 1]
    full = found.get(("throws", control, way))
    angle = f"{abs(math.degrees(gain * full.value)):.1f} deg " if full else ""
    return f"{name} {angle}{towards[0 if gain >= 0.0 else 1]}"


def _power(found: dict[Path, Entry]) -> Iterator[Row]:
    turns = found[("propeller turns",)]
    yield Row(POWER, "propeller", text=found[("propeller",)].text, note="diameter x pitch, in", path=("propeller",))
    yield Row(POWER, "blade family", text=found[("blade family",)].text, path=("blade family",))
    yield Row(POWER, "propeller turns", text=turns.value, note="seen from behind", path=("propeller turns",))
    curve = found[("throttle curve",)]
    sticks = ", ".join(f"{100.0 * n / (len(curve.value) - 1):.0f}" for n in range(len(curve.value)))
    text = ", ".join(f"{100.0 * value:.4g}" for value in curve.value)
    yield Row(POWER, "throttle curve", text=f"{text} %", note=f"at stick {sticks} %", path=curve.path)


def _rigging(loaded: Loaded) -> Iterator[Row]:
    setup = loaded.setup
    line = setup.thrust_line or setup.airframe.thrust_line
    for way in ("down", "right"):
        note = _estimated(setup.airframe, f"thrust line > {way}") if setup.thrust_line is None else ""
        yield Row(RIGGING, f"{way} thrust", math.degrees(getattr(line, way)), "deg", note=note,
                  path=("thrust line", way), to_check=True)  # fmt: skip
    for surface in setup.airframe.surfaces:
        if surface.symmetric or surface.incidence:
            note = _estimated(setup.airframe, f"surfaces > {surface.name} > incidence")
            yield Row(RIGGING, f"{surface.name} incidence", math.degrees(surface.incidence), "deg", note=note,
                      path=("incidence", surface.name), to_check=True)  # fmt: skip


def _estimated(airframe: Airframe, path: str) -> str:
    return "estimated" if path in airframe.estimated else ""


def _servos(found: dict[Path, Entry], setup: Setup) -> Iterator[Row]:
    for control, ways in WAYS.items():
        if (entry := found.get(("servos", control, "speed"))) is not None:
            seconds = math.radians(60.0) / entry.value
            yield Row(SERVOS, f"{control} servo", seconds, "s/60deg", path=entry.path)
        if (linkage := setup.linkages.get(control)) is not None:
            throw = setup.throws[control]
            for way, surface in zip(ways, (throw.positive, -throw.negative)):
                turned = abs(math.degrees(servo_at(linkage, surface)))
                yield Row(SERVOS, f"  full {way}", turned, "deg")
