"""The drawn plane against the text of its airframe file, read here with a YAML reader alone; surfaces turned the right way."""

import math
import pathlib

import numpy as np
import pytest
import yaml

import models
from models.loader import load_setup
from scenarios.manoeuvres import flyable
from sim import layout as L
from viewer.scene.mesh import FIXED, plane_mesh

AIRFRAMES = pathlib.Path(models.__file__).parent / "airframes"
SETUPS = {"tarn-220": "precision", "corrie-310": "corrie-310-precision", "moor-220": "moor-220-precision",
          "scree-270": "scree-270-slow-3d", "beck-150": "beck-150-extreme"}  # fmt: skip
CLOSE = 1e-6


def metres(text: str) -> float:
    value, unit = text.split()
    return float(value) * {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": 0.0254}[unit]


def share(text: str) -> float:
    return float(text.rstrip(" %")) / 100.0


@pytest.fixture(scope="module", params=SETUPS)
def drawn(request):
    """File, plane, mesh, and vertices from the wing root leading edge in the file's axes (x aft, y right, z up)."""
    plane = flyable(load_setup(SETUPS[request.param]))
    mesh = plane_mesh(plane)
    file = yaml.safe_load((AIRFRAMES / f"{request.param}.yaml").read_text(encoding="utf-8"))
    places = {part.name: (part.vertices + plane.mass.cg) * [-1.0, 1.0, -1.0] for part in mesh.parts}
    return file, plane, mesh, places


def surface_points(places, name):
    return np.vstack([points for part, points in places.items() if part.startswith(name)])


def test_spans_and_chords_are_the_files(drawn):
    file, _, mesh, places = drawn
    for name, surface in file["surfaces"].items():
        points = surface_points(places, name)
        root, tip = surface["root"], surface["tip"]
        tip_y, tip_z = metres(tip["at"][1]), metres(tip["at"][2])
        if surface.get("symmetric"):
            assert points[:, 1].max() == pytest.approx(tip_y, abs=CLOSE)
            assert points[:, 1].min() == pytest.approx(-tip_y, abs=CLOSE)
        else:
            assert points[:, 2].max() == pytest.approx(tip_z, abs=0.01)
            assert points[:, 2].min() == pytest.approx(metres(root["at"][2]), abs=0.01)
        inboard = points[np.abs(points[:, 1]) < 1e-9] if surface.get("symmetric") else points
        assert inboard[:, 0].min() == pytest.approx(
            metres(root["at"][0]), abs=0.002
        )  # incidence turns the chord a little
        if surface.get("symmetric"):
            assert np.ptp(inboard[:, 0]) == pytest.approx(metres(root["chord"]), rel=0.002)
            if "tip rounding" not in tip and "tip rounding" not in surface:
                outboard = points[points[:, 1] > tip_y - 1e-9]
                assert np.ptp(outboard[:, 0]) == pytest.approx(metres(tip["chord"]), rel=0.002)
    wing = file["surfaces"]["wing"]
    assert mesh.span == pytest.approx(2.0 * metres(wing["tip"]["at"][1]))


def test_thickness_is_the_files(drawn):
    file, _, _, places = drawn
    wing = file["surfaces"]["wing"]
    inboard = np.vstack([p[np.abs(p[:, 1]) < 1e-9] for part, p in places.items() if part.startswith("wing")])
    ratio = np.ptp(inboard[:, 2]) / metres(wing["root"]["chord"])
    assert ratio == pytest.approx(share(wing["thickness"]), rel=0.12)  # incidence tilts the section


def test_hinge_lines_lie_where_the_file_has_them(drawn):
    file, plane, mesh, _ = drawn
    for part in mesh.parts:
        if part.hinge is None:
            continue
        surface = file["surfaces"][part.name.split()[0]]
        flap = surface["flap"]
        start, end = share(flap.get("from", "0 %")), share(flap.get("to", "100 %"))
        root, tip = (np.array([metres(v) for v in surface[k]["at"]]) for k in ("root", "tip"))
        ends = []
        for f in (start, end):
            chord = metres(surface["root"]["chord"]) * (1.0 - f) + metres(surface["tip"]["chord"]) * f
            part_of = share(flap["chord at root"]) * (1.0 - f) + share(flap["chord at tip"]) * f
            ends.append(root + f * (tip - root) + [(1.0 - part_of) * chord, 0.0, 0.0])
        side = np.array([1.0, -1.0 if "left" in part.name else 1.0, 1.0])
        point = (part.hinge.point + plane.mass.cg) * [-1.0, 1.0, -1.0]
        axis = part.hinge.axis * [-1.0, 1.0, -1.0]
        for wanted in ends:
            away = np.cross(wanted * side - point, axis)
            assert np.linalg.norm(away) < 0.02 * metres(surface["root"]["chord"])  # incidence and twist turn the chord
        span = part.vertices @ (np.array([0.0, 1.0, 0.0]) if surface.get("symmetric") else np.array([0.0, 0.0, 1.0]))
        assert np.ptp(span) == pytest.approx(abs((ends[1] - ends[0])[1 if surface.get("symmetric") else 2]), abs=0.012)


def test_the_propeller_disk_is_the_setups(drawn):
    file, plane, mesh, _ = drawn
    assert 2.0 * mesh.disk_radius == pytest.approx(plane.setup.propeller.diameter)
    hub = (mesh.hub + plane.mass.cg) * [-1.0, 1.0, -1.0]
    if plane.setup.thrust_line is None:
        assert np.allclose(hub, [metres(v) for v in file["thrust line"]["at"]], atol=CLOSE)
    assert np.linalg.norm(mesh.shaft) == pytest.approx(1.0) and mesh.shaft[0] > 0.99


def test_the_fuselage_passes_through_its_stations(drawn):
    file, _, _, places = drawn
    hull = places["fuselage"]
    for station in file["fuselage"]["stations"]:
        ring = hull[np.abs(hull[:, 0] - metres(station["x"])) < 1e-6]
        assert np.ptp(ring[:, 1]) == pytest.approx(metres(station["width"]), rel=0.02)
        assert np.ptp(ring[:, 2]) == pytest.approx(metres(station["height"]), rel=1e-6)
        assert 0.5 * (ring[:, 2].min() + ring[:, 2].max()) == pytest.approx(metres(station["z"]), abs=1e-6)


def test_wheels_stand_at_their_axles(drawn):
    file, _, _, places = drawn
    wheels = file.get("wheels")
    if wheels is None:
        assert "wheels and legs" not in places
        return
    points = places["wheels and legs"]
    x, y, z = (metres(v) for v in wheels["main"])
    radius = 0.5 * metres(wheels["main diameter"])
    assert points[:, 2].min() == pytest.approx(z - radius, abs=CLOSE)
    assert points[:, 1].max() == pytest.approx(y + 0.16 * 2.0 * radius, abs=CLOSE)  # half the width that is drawn


def test_positive_deflections_take_the_trailing_edge_down_or_left(drawn):
    """ISO 1151, as scenarios and records have it."""
    _, _, mesh, _ = drawn
    for part in (p for p in mesh.parts if p.hinge is not None):
        aft = int(np.argmin(part.vertices[:, 0]))
        for angle in (0.4, -0.4):
            deflected = np.zeros(L.CONTROLS)
            deflected[part.control] = angle
            moved = mesh.posed(deflected)[part.name][aft] - part.vertices[aft]
            toward = moved[1] if part.control == L.RUDDER else moved[2]  # y right, z down
            assert toward * angle * (-1.0 if part.control == L.RUDDER else 1.0) > 0.0, part.name
            arm = np.cross(part.vertices[aft] - part.hinge.point, part.hinge.axis)
            assert np.linalg.norm(moved) == pytest.approx(2.0 * np.linalg.norm(arm) * math.sin(0.2), rel=1e-6)


def test_each_control_turns_its_own_part_alone(drawn):
    _, _, mesh, _ = drawn
    assert {p.control for p in mesh.parts} == {FIXED, L.AILERON_LEFT, L.AILERON_RIGHT, L.ELEVATOR, L.RUDDER}
    for control in range(L.CONTROLS):
        deflected = np.zeros(L.CONTROLS)
        deflected[control] = 0.3
        moved = {name for name, points in mesh.posed(deflected).items() if not np.allclose(points, dict_of(mesh)[name])}
        assert moved == {p.name for p in mesh.parts if p.control == control}
    left = next(p for p in mesh.parts if p.control == L.AILERON_LEFT)
    assert (left.vertices[:, 1] < 0.0).all()


def dict_of(mesh):
    return {part.name: part.vertices for part in mesh.parts}


def test_every_strip_is_drawn_where_it_acts(drawn):
    _, plane, mesh, _ = drawn
    count = int(plane.model[L.N_STRIPS])
    numbers = np.concatenate([p.strip for p in mesh.parts])
    assert set(numbers[numbers >= 0.0]) == set(range(count))
    places = np.vstack([p.vertices for p in mesh.parts])
    for strip in range(count):
        points = places[numbers == strip]
        at = np.array([plane.model[row + strip] for row in (L.X, L.Y, L.Z)])  # its quarter-chord point
        assert (points.min(axis=0) - 2e-3 <= at).all() and (at <= points.max(axis=0) + 2e-3).all()


def test_the_buffer_holds_every_vertex_once_and_nothing_but_numbers(drawn):
    _, _, mesh, _ = drawn
    rows = mesh.rows()
    assert rows.shape == (sum(len(p.vertices) for p in mesh.parts), 18) and np.isfinite(rows).all()
    lengths = np.linalg.norm(rows[:, 3:6], axis=1)  # 0 where a face has shrunk to a line
    assert ((np.abs(lengths - 1.0) < 1e-3) | (lengths < 1e-6)).all() and (lengths > 0.5).mean() > 0.95
