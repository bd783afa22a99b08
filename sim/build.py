"""A flyable model from a setup: mass, surfaces, bodies, propeller and power, packed for the kernels."""

from __future__ import annotations

import hashlib
import math
import os
import tempfile
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from sim import layout as L
from sim.added_mass import added_mass, set_mass
from sim.compiled import cache_folder
from sim.description import Airframe, Propeller, Setup, Surface
from sim.fuselage_aero import place_bodies
from sim.lifting_surfaces import aspect_ratio, place_surfaces, square_tipped
from sim.mass_properties import MassProperties, mass_properties, slide_to_cg
from sim.powerplant import place_power
from sim.propeller import blade_stations, propeller_table
from sim.servo import place_servos
from sim.transmitter import CURVE, CURVE_COUNT, transmitter_chain


@dataclass
class Plane:
    """One setup, ready to fly.

    `model` (layout.SIZE,), `table` the propeller's, `chain` the transmitter's;
    `mass` its mass properties; `mac` (m) and `mac_leading_edge` (m aft of the wing root
    leading edge); `strips` the strips of each surface; `items` as placed for the CG.
    """

    setup: Setup
    model: np.ndarray
    table: np.ndarray
    chain: np.ndarray
    mass: MassProperties
    mac: float
    mac_leading_edge: float
    wing_area: float
    span: float
    strips: dict[str, slice]
    items: tuple
    flaps: float = 0.0  # rad that both ailerons stand down together in steady states
    known: dict = field(default_factory=dict)  # steady states and pilots found before, by what was asked

    @property
    def cg_station(self) -> float:
        """CG in m aft of the wing root leading edge."""
        return -float(self.mass.cg[0])

    def station_of_mac(self, fraction: float) -> float:
        """Station (m aft of the wing root leading edge) of a fraction of the mean aerodynamic chord."""
        return self.mac_leading_edge + fraction * self.mac

    def mac_of_station(self, station: float) -> float:
        """Fraction of the mean aerodynamic chord at a station in m aft of the wing root leading edge."""
        return (station - self.mac_leading_edge) / self.mac

    def throttle_for_duty(self, duty: float) -> float:
        """The throttle stick that gives a controller duty, through the throttle curve that acts (it has to rise)."""
        curve = self.chain[CURVE : CURVE + int(self.chain[CURVE_COUNT])]
        return float(np.interp(duty, curve, np.linspace(0.0, 1.0, curve.size)))


def mean_aerodynamic_chord(wing: Surface) -> tuple[float, float, float, float]:
    """Chord (m), station of its leading edge (m aft of the root's), area and span of a straight-tapered wing."""
    taper = wing.tip_chord / wing.root_chord
    mac = 2.0 / 3.0 * wing.root_chord * (1.0 + taper + taper * taper) / (1.0 + taper)
    fraction = (1.0 + 2.0 * taper) / (3.0 * (1.0 + taper))
    half = math.hypot(wing.tip[1] - wing.root[1], wing.tip[2] - wing.root[2])
    leading = -(wing.root[0] + fraction * (wing.tip[0] - wing.root[0]))
    return mac, leading, half * (wing.root_chord + wing.tip_chord), 2.0 * half


def build(setup: Setup) -> Plane:
    """The flyable plane of `setup`.

    Raises `mass_properties.OutOfReach` when the moved item cannot bring the CG where the
    setup wants it, ValueError when there are too many strips or bodies, or the engine cannot
    turn the propeller at its idle speed.
    """
    airframe = setup.airframe
    surfaces = tuple(square_tipped(s) for s in sorted(airframe.surfaces, key=lambda s: s.name != "wing"))
    mac, leading, area, span = mean_aerodynamic_chord(surfaces[0])
    value, kind = setup.cg
    station = value if kind == "m" else leading + value * mac
    items = slide_to_cg((*airframe.items, *setup.ballast), setup.moved_item, -station)
    mass = mass_properties(items)

    model = _aligned(L.SIZE)
    model[L.SWIRL_ON] = 1.0
    strips = place_surfaces(surfaces, mass.cg, model)
    place_bodies(airframe.fuselage, airframe.drag_bodies, mass.cg, model)
    aspect = np.repeat(
        [aspect_ratio(s) for s in surfaces], [strips[s.name].stop - strips[s.name].start for s in surfaces]
    )
    set_mass(model, mass.mass, mass.inertia, added_mass(model, aspect))
    model[L.WING_SPAN] = span

    line = setup.thrust_line or airframe.thrust_line
    propeller = setup.propeller
    model[L.HUB : L.HUB + 3] = np.asarray(line.at) - mass.cg
    shaft = np.array(
        [math.cos(line.down) * math.cos(line.right), math.cos(line.down) * math.sin(line.right), math.sin(line.down)]
    )
    model[L.SHAFT : L.SHAFT + 3] = shaft
    model[L.DISK_RADIUS] = 0.5 * propeller.diameter
    model[L.SENSE] = propeller.sense
    table = cached_table(propeller)
    model[L.ROTOR_INERTIA] = airframe.power.rotor_inertia + propeller_inertia(propeller)
    place_power(airframe.power, propeller, table, model)
    chain, flaps = transmitter_chain(setup), setup.trims.get("flaps", 0.0)
    place_servos(setup, model, chain)
    return Plane(setup, model, table, chain, mass, mac, leading, area, span, strips, items, flaps)


def reshaped(plane: Plane, airframe: Airframe) -> Plane:
    """`plane` with the surfaces, fuselage and drag bodies of `airframe`, weighed as before: for its loads, not for flights.

    Cheaper than `build`, the more so where the surfaces are the same.  Raises ValueError as `build` does.
    """
    surfaces = tuple(square_tipped(s) for s in sorted(airframe.surfaces, key=lambda s: s.name != "wing"))
    model, strips = _aligned(L.SIZE), plane.strips
    model[:] = plane.model
    if airframe.surfaces == plane.setup.airframe.surfaces:
        model[L.N_PANELS] = float((model[L.PANEL_SURFACE :][: int(model[L.N_PANELS])] >= 0.0).sum())
    else:
        model[L.N_PANELS] = 0.0
        strips = place_surfaces(surfaces, plane.mass.cg, model)
    place_bodies(airframe.fuselage, airframe.drag_bodies, plane.mass.cg, model)
    mac, leading, area, span = mean_aerodynamic_chord(surfaces[0])
    setup = replace(plane.setup, airframe=airframe)
    return Plane(setup, model, plane.table, plane.chain, plane.mass, mac, leading, area, span, strips, plane.items)


def with_cg(setup: Setup, value: float, kind: str) -> Setup:
    """`setup` with another CG target: metres aft of the wing root leading edge ("m") or fraction of MAC ("mac")."""
    return replace(setup, cg=(value, kind))


def propeller_inertia(propeller: Propeller) -> float:
    """Moment of inertia about the shaft (kg m2): blade mass spread as chord times thickness along the radius."""
    family = propeller.family
    radius = np.linspace(family.radius[0], 1.0, 60)
    spread = np.interp(radius, family.radius, family.chord) ** 2 * np.interp(radius, family.radius, family.thickness)
    return propeller.mass * (0.5 * propeller.diameter) ** 2 * float((spread * radius**2).sum() / spread.sum())


def _aligned(size: int) -> np.ndarray:
    raw = np.zeros(size + 8)
    start = (-raw.ctypes.data // 8) % 8
    return raw[start : start + size]


@lru_cache(maxsize=32)
def cached_table(propeller: Propeller) -> np.ndarray:
    """The propeller's table, from the cache folder where it has been made before."""
    key = np.append(blade_stations(propeller), float(propeller.blades))
    path = cache_folder() / f"propeller-{hashlib.sha256(key.tobytes()).hexdigest()[:20]}.npy"
    try:
        return np.load(path, allow_pickle=False)
    except (OSError, ValueError):
        table = propeller_table(propeller)
        _write_atomically(path, table)
        return table


def _write_atomically(path: Path, array: np.ndarray) -> None:
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, suffix=".npy")
        with os.fdopen(handle, "wb") as file:
            np.save(file, array)
        os.replace(name, path)
    except OSError:
        pass  # a cache that cannot be written costs time, nothing else
