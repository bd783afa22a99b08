"""Files in SI, built-in files, files by path, the way back from texts, and the JSON Schema."""

import dataclasses
import math
import re
import subprocess
import sys
from pathlib import Path

import pytest

from models.assemble import propeller_mass
from models.errors import UserError
from models.loader import (
    json_schema,
    known_airframes,
    known_blade_families,
    known_setups,
    load,
    load_airframe,
    load_blade_family,
    load_setup,
    setup_from_texts,
)

deg = math.radians
FILES = Path(__file__).parent / "files"
SETUP = FILES / "setup.yaml"


def test_known_names():
    assert {"extreme", "precision", "slow-3d"} <= {name for name, _ in known_setups()}
    assert "tarn-220" in [name for name, _ in known_airframes()]
    assert [name for name, _ in known_blade_families()] == [
        "broad-sport",
        "narrow-carbon",
        "slow-broad",
        "stiff-wood",
        "thin-light",
    ]
    assert all(about for _, about in known_setups() + known_airframes() + known_blade_families())


@pytest.mark.parametrize("name", [name for name, _ in known_setups()])
def test_built_in_setups_load_and_rebuild_from_their_texts(name):
    loaded = load(name)
    assert loaded.setup.name == name
    assert loaded.setup == load_setup(name)
    assert setup_from_texts(loaded.texts) == loaded.setup
    assert setup_from_texts(loaded.texts, "150 mm") == load_setup(name, "150 mm")
    assert set(loaded.texts) - {"base 1"} == {"setup", "airframe", "blade family"}


def test_airframe_in_si_and_body_axes():
    plane = load_airframe(FILES / "plane.yaml")
    wing, stabiliser, fin = plane.surfaces
    assert (wing.name, wing.symmetric, wing.strips) == ("wing", True, 10)
    assert wing.root == (0.0, 0.0, 0.0)
    assert wing.tip == (-0.08, 1.1, 0.0)
    assert (wing.root_chord, wing.tip_chord, wing.thickness) == (0.5, 0.27, 0.13)
    assert dataclasses.astuple(wing.flap) == ("aileron", 0.25, 0.32, 0.12, 0.98)
    assert stabiliser.root == (-1.1, 0.0, -0.045)
    assert (fin.symmetric, fin.root, fin.tip) == (False, (-1.03, 0.0, 0.06), (-1.18, 0.0, -0.36))
    assert plane.fuselage.stations[0] == type(plane.fuselage.stations[0])(0.44, 0.11, 0.11, -0.025)
    xs = [station.x for station in plane.fuselage.stations]
    assert xs == sorted(xs, reverse=True)
    assert plane.drag_bodies[0].drag_area == pytest.approx((0.012, 0.009, 0.0), rel=1e-15)
    assert plane.thrust_line.at == (0.46, 0.0, -0.02)
    assert (plane.thrust_line.down, plane.thrust_line.right) == pytest.approx((deg(0.5), deg(2)), rel=1e-15)
    battery = next(item for item in plane.items if item.name == "battery")
    assert (battery.mass, battery.at, battery.slide) == (1.42, (0.04, 0.0, 0.02), (-0.16, 0.22))
    assert sum(item.mass for item in plane.items) == pytest.approx(6.49, abs=1e-12)
    assert (plane.power.cells, plane.power.capacity, plane.power.cell_resistance) == (12, 18000.0, 0.002)
    assert plane.power.kv == pytest.approx(178 * 2 * math.pi / 60, rel=1e-15)
    assert (plane.power.winding_resistance, plane.power.no_load_current, plane.power.current_limit) == (0.016, 2.5, 120)
    assert "surfaces > wing > thickness" not in plane.estimated
    assert "items > tail wheel > size" in plane.estimated
    assert "power > rotor inertia" in plane.estimated
    # A zero without a minus sign, so that equal planes print equal.
    assert "-0.0," not in repr(plane).replace("-0.0)", "-0.0,")


def test_setup_in_si():
    setup = load_setup(SETUP)
    assert setup.cg == (0.31, "mac")
    assert (setup.way_of_flying, setup.moved_item) == ("precision", "battery")
    assert (setup.propeller.diameter, setup.propeller.pitch, setup.propeller.blades) == (0.508, 0.3302, 2)
    assert (setup.propeller.mass, setup.propeller.sense) == (0.09, 1.0)
    assert setup.propeller.family == load_blade_family(FILES / "blades.yml")
    assert setup.propeller.family.zero_lift == pytest.approx(deg(-3.5), rel=1e-15)
    elevator = setup.throws["elevator"]
    assert (elevator.positive, elevator.negative, elevator.exponential) == pytest.approx((deg(12), deg(12), 0.2))
    assert setup.servos["rudder"].speed == pytest.approx(deg(60) / 0.12, rel=1e-15)
    assert setup.servos["rudder"].lag == 0.02
    assert (setup.mixes, setup.throttle_curve, setup.thrust_line, setup.trims) == ((), (0.0, 1.0), None, {})
    assert load_setup(SETUP, "6 in").cg == (pytest.approx(0.1524), "m")


def test_propeller_mass_goes_with_the_cube_of_diameter_and_with_blades():
    assert propeller_mass(0.09, 0.508, 2) == pytest.approx(0.09)
    assert propeller_mass(0.09, 0.254, 2) == pytest.approx(0.09 / 8)
    assert propeller_mass(0.09, 0.508, 3) == pytest.approx(0.135)


OPTIONAL = """
mixes:
  - {from: rudder, to: elevator, gain: -3 %}
throttle curve: [0 %, 40 %, 100 %]
thrust line: {down: 1 deg}
incidence: {stabiliser: -0.5 deg}
trims: {elevator: 0.5 deg, rudder: -1 deg}
propeller turns: anticlockwise
propeller mass: 80 g
"""


def files_of(folder, setup="", plane="", **edits):
    """A setup, an airframe and a blade family as files of their own; returns the setup's path."""
    texts = load(SETUP).texts
    own = texts["setup"].replace("airframe: plane.yaml", "airframe: planes/own.yaml")
    for old, new in edits.items():
        own = own.replace(old, new)
    (folder / "planes").mkdir(exist_ok=True)
    (folder / "planes" / "own.yaml").write_text(texts["airframe"] + plane, encoding="utf-8")
    (folder / "blades.yml").write_text(texts["blade family"], encoding="utf-8")
    (folder / "own.yaml").write_text(own + setup, encoding="utf-8")
    return folder / "own.yaml"


def test_files_by_path_relative_to_the_setup(tmp_path):
    path = files_of(tmp_path)
    assert load_setup(path) == load_setup(SETUP)
    assert load_setup(str(path)) == load_setup(SETUP)
    texts = load(path).texts
    assert texts["setup"] == path.read_text(encoding="utf-8")
    assert setup_from_texts(texts) == load_setup(SETUP)


def test_optional_parts_of_a_setup(tmp_path):
    setup = load_setup(files_of(tmp_path, OPTIONAL))
    plain = load_airframe(FILES / "plane.yaml")
    (mix,) = setup.mixes
    assert dataclasses.astuple(mix) == ("rudder", "elevator", -0.03, ())
    assert setup.throttle_curve == (0.0, 0.4, 1.0)
    assert setup.thrust_line.at == plain.thrust_line.at
    assert setup.thrust_line.down == pytest.approx(deg(1))
    assert setup.thrust_line.right == plain.thrust_line.right
    assert setup.airframe.surfaces[1].incidence == pytest.approx(deg(-0.5))
    assert "surfaces > stabiliser > incidence" in plain.estimated
    assert "surfaces > stabiliser > incidence" not in setup.airframe.estimated
    assert setup.trims == pytest.approx({"elevator": deg(0.5), "rudder": deg(-1)})
    assert (setup.propeller.sense, setup.propeller.mass) == (-1.0, 0.08)
    assert setup_from_texts(load(tmp_path / "own.yaml").texts) == setup


def test_rudder_right_and_left_are_not_exchanged(tmp_path):
    path = files_of(tmp_path, **{"left: 28 deg, right: 28 deg": "left: 20 deg, right: 30 deg"})
    rudder = load_setup(path).throws["rudder"]
    assert (rudder.positive, rudder.negative) == pytest.approx((deg(30), deg(20)))


def test_values_left_out_of_an_airframe_are_estimated_and_listed(tmp_path):
    text = load(SETUP).texts["airframe"]
    gone = [
        r"    thickness: 9 %\n",
        r"  cell resistance: .*\n",
        r"  winding resistance: .*\n",
        r"  no-load current: .*\n",
        r", drag coefficient: 1.0",
        r", down: 0.5 deg",
    ]
    for pattern in gone:
        assert re.search(pattern, text)
        text = re.sub(pattern, "\n" if pattern.endswith("n") else "", text)
    path = tmp_path / "plane.yaml"
    path.write_text(text, encoding="utf-8")
    plane = load_airframe(path)
    assert plane.surfaces[1].thickness == 0.12
    assert plane.power.cell_resistance == pytest.approx(0.002)
    assert plane.power.winding_resistance == pytest.approx(0.05 * 3.7 * 12 / 120)
    assert plane.power.no_load_current == pytest.approx(2.4)
    for field in (
        "surfaces > stabiliser > thickness",
        "surfaces > fin > thickness",
        "power > cell resistance",
        "power > winding resistance",
        "power > no-load current",
        "drag bodies > landing gear > drag coefficient",
        "thrust line > down",
    ):
        assert field in plane.estimated


def test_windows_line_ends_and_a_byte_order_mark_are_read(tmp_path):
    path = files_of(tmp_path)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert load_setup(path) == load_setup(SETUP)


def test_missing_text_in_a_record():
    with pytest.raises(UserError) as caught:
        setup_from_texts({"setup": ""})
    assert str(caught.value) == "recorded airframe: found nothing; allowed: the text of the airframe file"


@pytest.mark.parametrize("kind", ["airframe", "setup", "blade family"])
def test_json_schema_patterns_accept_the_built_in_values(kind):
    schema = json_schema(kind)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert "null" not in str(schema)
    samples = []

    def walk(part):
        if isinstance(part, dict):
            for shape in (part, *part.get("anyOf", ())) if isinstance(part.get("anyOf", ()), list) else (part,):
                if isinstance(shape, dict) and isinstance(shape.get("pattern"), str):
                    samples.extend((shape["pattern"], sample) for sample in part.get("examples", ()))
            for value in part.values():
                walk(value)
        elif isinstance(part, list):
            for value in part:
                walk(value)

    walk(schema)
    assert samples
    for pattern, sample in samples:
        assert re.search(pattern, sample), (pattern, sample)


def test_unknown_kind_of_schema():
    with pytest.raises(UserError) as caught:
        json_schema("airfame")
    assert "try: airframe" in str(caught.value)


def test_nothing_heavy_is_imported_before_a_file_is_read():
    code = (
        "import sys, models, models.loader, models.units; print([m for m in ('pydantic', 'yaml') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_wheels_and_ballast_in_body_axes():
    wheels = load_airframe("tarn-220").wheels
    assert (wheels.main, wheels.third, wheels.third_is) == ((-0.05, 0.23, 0.245), (-1.26, 0.0, 0.08), "tail")
    assert wheels.diameters == (0.09, 0.04)
    assert load_airframe(FILES / "plane.yaml").wheels is None
    texts = dict(load("precision").texts)
    lines = "ballast:\n- {mass: 40 g, at: [1.3 m, 0 mm, 10 mm]}\n- {mass: 2 oz, at: [0 mm, 1.1 m, 0 mm]}\n"
    ballast = setup_from_texts({**texts, "setup": texts["setup"] + lines}).ballast
    assert [b.name for b in ballast] == ["ballast", "ballast 2"]
    assert (ballast[0].mass, ballast[0].at, ballast[0].slide) == (0.04, (-1.3, 0.0, -0.01), None)
    assert ballast[1].mass == pytest.approx(0.0566990, abs=1e-7)
