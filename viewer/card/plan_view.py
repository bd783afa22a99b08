"""The plane from above, drawn from its own geometry: where the CG, the moved item and the measured edges are."""

from __future__ import annotations

from dataclasses import dataclass

from sim.build import Plane
from sim.description import Surface
from viewer.card.paper import PLAIN, SMALL, Paper, shortened, width

LETTERS = {"aileron": "A", "elevator": "E", "rudder": "R"}  # of the marks where a throw is measured
DOT = 2.0  # mm, radius of a mark
LEAST_THICK = 3.0  # mm of the real plane: a plate in plan view is still a shape


@dataclass(frozen=True)
class _Place:
    """From the plane to the paper: `scale` mm of paper a metre, the wing root leading edge at (`x`, `y`), nose up.

    `reach` mm are free to either side.
    """

    x: float
    y: float
    scale: float
    reach: float

    def at(self, station: float, across: float) -> tuple[float, float]:
        """A point `station` m aft of the wing root leading edge and `across` m to the right."""
        return self.x + self.scale * across, self.y + self.scale * station


def measured_at(surface: Surface) -> tuple[float, float]:
    """(station aft of the wing root leading edge, across), m: the trailing edge at the flap's end next to the root."""
    return _edge(surface, surface.flap.start, 1.0)


def draw_plan(paper: Paper, plane: Plane, x: float, y: float, wide: float, tall: float) -> None:
    """The plane in the rectangle from (x, y), nose up, with its marks."""
    airframe = plane.setup.airframe
    here = _placed(plane, x, y, wide, tall)
    for surface in airframe.surfaces:
        if surface.symmetric:
            for side in (1.0, -1.0):
                _surface(paper, here, surface, side)
    body = [(-s.x, 0.5 * s.width) for s in airframe.fuselage.stations]
    paper.shape([here.at(*p) for p in body] + [here.at(a, -b) for a, b in reversed(body)], thick=0.8)
    for surface in airframe.surfaces:
        if not surface.symmetric:
            _fin(paper, here, surface)
    nose, radius = -airframe.thrust_line.at[0], 0.5 * plane.setup.propeller.diameter
    paper.line(*here.at(nose, -radius), *here.at(nose, radius), thick=1.6)
    _item(paper, here, plane)
    _cg(paper, here, plane)
    for surface in airframe.surfaces:
        if surface.flap is not None:
            _mark(paper, here, surface)


def _placed(plane: Plane, x: float, y: float, wide: float, tall: float) -> _Place:
    """The largest scale at which the whole plane, its marks included, lies in the rectangle."""
    airframe = plane.setup.airframe
    stations = [-s.x for s in airframe.fuselage.stations] + [-airframe.thrust_line.at[0]]
    reach = [0.5 * plane.setup.propeller.diameter]
    for surface in airframe.surfaces:
        for share in (0.0, 1.0):
            for chord in (0.0, 1.0):
                station, across = _edge(surface, share, chord)
                stations.append(station)
                reach.append(abs(across))
    ahead, aft, half = min(stations), max(stations), max(reach)
    scale = min((tall - 2.0 * DOT - 2.0) / (aft - ahead), (wide - 2.0) / (2.0 * half))
    used = scale * (aft - ahead) + 2.0 * DOT + 2.0
    return _Place(x + 0.5 * wide, y + 1.0 + 0.5 * (tall - used) - scale * ahead, scale, 0.5 * wide)


def _edge(surface: Surface, share: float, chord: float) -> tuple[float, float]:
    """(station, across) at a share of the span, root to tip, and of the chord there, leading edge to trailing edge."""
    lead = [a + share * (b - a) for a, b in zip(surface.root, surface.tip)]
    local = surface.root_chord + share * (surface.tip_chord - surface.root_chord)
    return -lead[0] + chord * local, lead[1]


def _hinge(surface: Surface, share: float) -> float:
    """The share of the chord at which the flap begins there."""
    flap = surface.flap
    return 1.0 - (flap.chord_root + share * (flap.chord_tip - flap.chord_root))


def _surface(paper: Paper, here: _Place, surface: Surface, side: float) -> None:
    def at(share: float, chord: float) -> tuple[float, float]:
        station, across = _edge(surface, share, chord)
        return here.at(station, side * across)

    paper.shape([at(0.0, 0.0), at(1.0, 0.0), at(1.0, 1.0), at(0.0, 1.0)])
    if (flap := surface.flap) is not None:
        first, last = _hinge(surface, flap.start), _hinge(surface, flap.end)
        corners = [at(flap.start, first), at(flap.end, last), at(flap.end, 1.0), at(flap.start, 1.0)]
        paper.shape(corners, fill="0.8")


def _fin(paper: Paper, here: _Place, surface: Surface) -> None:
    """A surface that stands upright: as thick as it is, its flap filled."""
    for first, last, fill in ((0.0, 1.0, "white"), (_hinge(surface, 0.0) if surface.flap else 1.0, 1.0, "0.8")):
        (ahead, across), (aft, _) = _edge(surface, 0.0, first), _edge(surface, 0.0, last)
        half = max(0.5 * surface.thickness * surface.root_chord, LEAST_THICK / 1000.0) * (1.0 - 0.4 * first)
        if aft > ahead:
            points = [(ahead, half), (ahead, -half), (aft, -0.2 * half), (aft, 0.2 * half)]
            paper.shape([here.at(station, across + off) for station, off in points], fill=fill)


def _mark(paper: Paper, here: _Place, surface: Surface) -> None:
    """A letter where the throw is measured, behind the edge; a ring on the edge itself."""
    station, across = measured_at(surface)
    x, y = here.at(station, across)
    paper.disk(x, y, 0.55, fill="black")
    to_x, to_y = (x + DOT + 0.9, y + DOT + 0.6) if surface.symmetric else (x, y + DOT + 0.9)
    paper.disk(to_x, to_y, DOT)
    paper.text(to_x, to_y + 1.05, LETTERS.get(surface.flap.name, surface.flap.name[:1].upper()), SMALL, True, "center")


def _item(paper: Paper, here: _Place, plane: Plane) -> None:
    """The item that is moved for the CG, where it sits now."""
    item = next(i for i in plane.items if i.name == plane.setup.moved_item)
    station, long, broad = -float(item.at[0]), max(item.size[0], 0.03), max(item.size[1], 0.03)
    corners = [(station + a * long, b * broad) for a, b in ((-0.5, -0.5), (-0.5, 0.5), (0.5, 0.5), (0.5, -0.5))]
    paper.shape([here.at(*p) for p in corners], fill="0.9", dashes=(2.0, 1.2))
    x, y = here.at(station, 0.0)
    name, value = plane.setup.moved_item, _told(station)
    widest = 0.5 * here.scale * max(s.width for s in plane.setup.airframe.fuselage.stations) + 4.0
    wing = next(s for s in plane.setup.airframe.surfaces if s.symmetric)
    if station < _edge(wing, 0.0, 0.0)[0]:
        paper.line(x, y, here.x + widest, y, 0.5)
        _label(paper, here.x + widest + 0.8, y, shortened(name, paper.right - here.x - widest - 1.0), value)
        return
    # over the wing there is no room: behind it, on the side where no mark stands
    beside, room = here.at(_edge(wing, 0.0, 1.0)[0], 0.0)[1] + 9.0, here.reach - widest
    name = shortened(name, room)
    paper.line(x, y, here.x - widest, beside, 0.5)
    _label(paper, here.x - widest - 0.8 - max(width(name), width(value, PLAIN, True)), beside, name, value)


def _cg(paper: Paper, here: _Place, plane: Plane) -> None:
    """The quartered circle of the CG, and its distance from the root leading edge."""
    station = plane.cg_station
    x, y = here.at(station, 0.0)
    radius = 2.2
    paper.disk(x, y, radius)
    for first in (0.0, 90.0, 180.0, 270.0):
        paper.wedge(x, y, radius, first, fill="black" if first in (0.0, 180.0) else "white")
    name, value = "CG", _told(station)
    wide = max(width(name), width(value, PLAIN, True))
    out = here.x - min(0.275 * here.scale * plane.span, here.reach - wide - 2.0)
    _, root = here.at(0.0, 0.0)
    paper.line(out - 1.0, root, here.x, root, 0.5, (3.0, 1.5))
    paper.line(out - 1.0, y, x - radius, y, 0.5, (3.0, 1.5))
    paper.line(out, root, out, y, 1.0)
    _label(paper, out - 1.2 - wide, 0.5 * (root + y), name, value)


def _told(station: float) -> str:
    """A station as it is measured, "159 mm aft"; from the wing root leading edge."""
    return f"{1000.0 * abs(station):.0f} mm {'aft' if station >= 0.0 else 'ahead'}"


def _label(paper: Paper, x: float, y: float, name: str, value: str) -> None:
    """Two short lines about y on white, the value in bold."""
    wide = max(width(name, SMALL), width(value, PLAIN, True))
    paper.shape([(x - 0.5, y - 3.6), (x + wide + 0.5, y - 3.6), (x + wide + 0.5, y + 3.6), (x - 0.5, y + 3.6)], thick=0.0,
                over=4)  # fmt: skip
    paper.text(x, y - 0.5, name, SMALL)
    paper.text(x, y + 2.9, value, PLAIN, True)
