"""How much estimates matter: exact for items, as a plane built anew for outlines, nothing where nothing can be."""

import math
from dataclasses import replace

import pytest

from models.loader import load, setup_from_texts
from scenarios.manoeuvres import flyable
from scenarios.sensitivity import BANDS, sensitivity, with_error
from sim.build import build, reshaped
from sim.linearisation import pitch_stability
from sim.mass_properties import mass_properties
from sim.trim import level_trim

TEXTS = load("precision").texts


def marked(*edits: tuple[str, str], setup: tuple[str, str] = ("", "")):
    text = TEXTS["airframe"]
    for old, new in edits:
        assert old in text
        text = text.replace(old, new, 1)
    return flyable(setup_from_texts({**TEXTS, "airframe": text, "setup": TEXTS["setup"].replace(*setup, 1)}))


def row(found, path):
    return next(e for e in found.estimates if e.path == path)


def test_an_items_mass_and_place_move_the_cg_by_its_moment_arm():
    plane = marked(("mass: 720 g, at: [-330 mm", "mass: ~720 g, at: [~-330 mm"), ("mass: 1.42 kg, at: [-40 mm",
                   "mass: ~1.42 kg, at: [~-40 mm"))  # fmt: skip
    found = sensitivity(plane)
    mass, cg = plane.mass.mass, plane.cg_station
    motor = row(found, "items > motor > mass")
    added = 0.1 * 0.72
    # statics: dm (x - xcg) / (m + dm)
    assert motor.cg == pytest.approx(added * (-0.33 - cg) / (mass + added), rel=1e-12)
    assert motor.margin == pytest.approx(-motor.cg / plane.mac, rel=1e-9) and motor.neutral_point == 0.0
    assert motor.margin > 0.0  # a heavier nose
    # the same by weighing everything again, the battery where it sits
    heavier = tuple(replace(i, mass=1.1 * i.mass) if i.name == "battery" else i for i in plane.items)
    shift = -float(mass_properties(heavier).cg[0]) - cg
    assert row(found, "items > battery > mass").cg == pytest.approx(shift, rel=1e-9)
    # 1 % of 2.2 m, of the motor's share of the weight
    assert row(found, "items > motor > at > x").cg == pytest.approx(0.022 * 0.72 / mass, rel=1e-12)
    assert "items > battery > at > x" in found.idle  # the CG decides where it sits


def test_a_cg_that_is_an_estimate():
    found = sensitivity(marked(setup=("cg: 31 %", "cg: ~31 %")))
    assert row(found, "cg").cg == 0.005 and row(found, "cg").margin < 0.0


CHANGES = [
    ("surfaces > stabiliser > root > chord", 0.05, True),
    ("surfaces > wing > tip > at > x", 0.03, False),
    ("surfaces > stabiliser > root > at > x", 0.03, False),
    ("surfaces > wing > thickness", 0.02, False),
    ("fuselage > stations > #5 > width", 0.1, True),
    ("fuselage > cross-flow drag", 0.2, True),
    ("drag bodies > landing gear > frontal area", 0.3, True),
]


@pytest.mark.parametrize("path, error, relative", CHANGES, ids=[c[0] for c in CHANGES])
def test_a_plane_reshaped_is_the_plane_built_anew(path, error, relative):
    plane = marked()
    trim = level_trim(plane, 25.0, 100.0)
    airframe = with_error(plane.setup.airframe, path.split(" > "), error, relative)
    assert airframe != plane.setup.airframe
    anew = build(replace(plane.setup, airframe=airframe, cg=(plane.cg_station, "m")))
    quick = reshaped(plane, airframe)
    assert (quick.mac, quick.wing_area) == (anew.mac, anew.wing_area)
    found, wanted = (pitch_stability(p, trim).neutral_point for p in (quick, anew))
    assert found == pytest.approx(wanted, abs=1e-9)  # the same numbers by the same kernels, flow settled to 1e-9


def test_directions_of_outlines():
    edits = [("root: {at: [1100 mm", "root: {at: [~1100 mm"), ("chord: 255 mm", "chord: ~255 mm"),
             ("tip: {at: [80 mm", "tip: {at: [~80 mm"), ("chord: 350 mm", "chord: ~350 mm"),
             ("width: 185 mm, height: 315 mm", "width: ~185 mm, height: 315 mm")]  # fmt: skip
    plane = marked(*edits)
    found = sensitivity(plane)
    # textbook statics: a tail that is larger or further aft, and a wing swept back, move the neutral point aft
    assert row(found, "surfaces > stabiliser > root > at > x").neutral_point > 0.0
    assert row(found, "surfaces > stabiliser > root > chord").neutral_point > 0.0
    assert row(found, "surfaces > wing > tip > at > x").neutral_point > 0.0
    assert "surfaces > fin > root > chord" in found.idle
    margins = [abs(e.margin) for e in found.estimates]
    assert margins == sorted(margins, reverse=True)
    assert found.margin == pytest.approx(math.sqrt(sum(m * m for m in margins)))
    assert set(e.path for e in found.estimates) | set(found.idle) == set(plane.setup.airframe.estimated)


def test_the_whole_stabiliser_goes_with_its_root():
    airframe = marked().setup.airframe
    moved = with_error(airframe, ["surfaces", "stabiliser", "root", "at", "x"], 0.02, False)
    old, new = (next(s for s in a.surfaces if s.name == "stabiliser") for a in (airframe, moved))
    assert new.root[0] == pytest.approx(old.root[0] - 0.02) and new.tip[0] == pytest.approx(old.tip[0] - 0.02)


def test_every_estimate_of_every_built_in_plane_is_looked_at():
    for name in ("precision", "beck-150-extreme", "scree-270-slow-3d"):
        plane = flyable(setup_from_texts(load(name).texts))
        found = sensitivity(plane)
        assert len(found.estimates) + len(found.idle) == len(plane.setup.airframe.estimated)
    assert len({band.path for band in BANDS}) == len(BANDS)
