"""Flight records: flown again to the last bit, refused when damaged, never written over anything, loads that add up."""

import json
import shutil

import numpy as np
import pytest

from models.errors import UserError
from models.loader import load as load_setup_texts
from scenarios.manoeuvres import load_manoeuvre
from scenarios.record import fly_again, load, save
from sim import layout as L
from sim.integration import FRAME
from sim.recording import CHANNELS
from tests.scenarios.flying import flown, plane_of

PLACE = ("precision", "upline-45")


@pytest.fixture(scope="session")
def saved(tmp_path_factory):
    """A record of a 45-degree line, to be read only."""
    folder = tmp_path_factory.mktemp("records") / "line"
    setup, manoeuvre = PLACE
    return save(folder, flown(*PLACE), load_setup_texts(setup).texts, load_manoeuvre(manoeuvre)[1])


@pytest.fixture
def copy(saved, tmp_path):
    """A record that may be spoilt."""
    return shutil.copytree(saved, tmp_path / "copy")


def refusal(folder) -> str:
    with pytest.raises(UserError) as caught:
        fly_again(folder)
    message = str(caught.value)
    assert len(message.splitlines()) == 1
    assert "found" in message and "allowed" in message
    assert str(folder) in message
    return message


def test_a_record_is_flown_again_to_the_last_bit(saved):
    again, same = fly_again(saved)
    assert same is True
    assert again.flight.rows.tobytes() == flown(*PLACE).flight.rows.tobytes()


def test_a_record_with_another_cg_is_flown_again_with_it(tmp_path):
    flight = flown("precision", "level-trim", "35 %")
    texts = load_setup_texts("precision").texts
    folder = save(tmp_path / "cg", flight, texts, load_manoeuvre("level-trim")[1], "35 %")
    assert fly_again(folder)[1] is True
    wrong = save(tmp_path / "wrong", flight, texts, load_manoeuvre("level-trim")[1])  # the override left out
    assert fly_again(wrong)[1] is False


def test_one_changed_bit_is_noticed(copy):
    with np.load(copy / "flight.npz") as archive:
        arrays = dict(archive)
    arrays["states"][200, 8] = np.nextafter(arrays["states"][200, 8], 9.0)
    np.savez_compressed(copy / "flight.npz", **arrays)
    assert fly_again(copy)[1] is False


def test_a_changed_setup_text_is_noticed(copy):
    inputs = json.loads((copy / "inputs.json").read_text())
    assert "cg: 31 %" in inputs["files"]["setup"]
    inputs["files"]["setup"] = inputs["files"]["setup"].replace("cg: 31 %", "cg: 31.1 %")
    (copy / "inputs.json").write_text(json.dumps(inputs))
    assert fly_again(copy)[1] is False


@pytest.mark.parametrize("part", [0.0, 0.3, 0.9, 0.999])
def test_a_truncated_flight_is_refused(copy, part):
    data = (copy / "flight.npz").read_bytes()
    (copy / "flight.npz").write_bytes(data[: int(len(data) * part)])
    assert "flight.npz" in refusal(copy)


def test_a_truncated_description_is_refused(copy):
    text = (copy / "inputs.json").read_text()
    (copy / "inputs.json").write_text(text[: len(text) // 2])
    assert "inputs.json" in refusal(copy)


DEEP = '{"kind":' * 100_000
FOREIGN = ["[]", "{}", "12", '"text"', "null", '{"kind": "shopping list"}', "not json", DEEP, "\x00\x01"]


@pytest.mark.parametrize("text", FOREIGN, ids=range(len(FOREIGN)))
def test_foreign_json_is_refused(copy, text):
    (copy / "inputs.json").write_text(text)
    assert "inputs.json" in refusal(copy)


@pytest.mark.parametrize("number", [0, 1, "2", None, 2.5])
def test_another_format_number_is_refused(copy, number):
    inputs = json.loads((copy / "inputs.json").read_text())
    inputs["format"] = number
    (copy / "inputs.json").write_text(json.dumps(inputs))
    assert "format" in refusal(copy)


@pytest.mark.parametrize("name", ["setup", "airframe", "blade family", "manoeuvre"])
def test_a_record_without_a_text_is_refused(copy, name):
    inputs = json.loads((copy / "inputs.json").read_text())
    inputs["files"].pop(name)
    (copy / "inputs.json").write_text(json.dumps(inputs))
    assert "texts" in refusal(copy)


def test_a_missing_folder_or_file_is_refused(copy, tmp_path):
    assert "no flight record" in refusal(tmp_path / "nowhere")
    (copy / "flight.npz").unlink()
    assert "no flight record" in refusal(copy)


def test_objects_in_the_arrays_are_refused(copy):
    # a pickled object could run code when read
    with np.load(copy / "flight.npz") as archive:
        arrays = dict(archive)
    arrays["states"] = np.array([{"a": 1}], dtype=object)
    np.savez_compressed(copy / "flight.npz", **arrays)
    assert "flight.npz" in refusal(copy)


def test_nothing_is_written_over(tmp_path):
    flight, texts, text = flown(*PLACE), load_setup_texts("precision").texts, load_manoeuvre(PLACE[1])[1]
    taken = tmp_path / "taken"
    taken.mkdir()
    (taken / "mine.txt").write_text("mine")
    file = tmp_path / "file"
    file.write_text("mine")
    for place in (taken, file):
        with pytest.raises(UserError) as caught:
            save(place, flight, texts, text)
        assert len(str(caught.value).splitlines()) == 1 and str(place) in str(caught.value)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "taken"]
    assert [p.name for p in taken.iterdir()] == ["mine.txt"]
    assert (taken / "mine.txt").read_text() == file.read_text() == "mine"


def test_an_empty_folder_is_filled_and_nothing_else_is_left_behind(tmp_path, saved):
    empty = tmp_path / "empty"
    empty.mkdir()
    save(empty, flown("precision", "level-trim"), load_setup_texts("precision").texts, load_manoeuvre("level-trim")[1])
    assert [p.name for p in tmp_path.iterdir()] == ["empty"]
    assert sorted(p.name for p in empty.iterdir()) == ["channels.csv", "flight.npz", "inputs.json"]


def test_the_spreadsheet_has_every_channel_and_frame(saved):
    lines = (saved / "channels.csv").read_text().splitlines()
    flight = flown(*PLACE).flight
    assert len(lines) == len(flight.rows) + 1
    header = lines[0].split(",")
    assert [name.rsplit(" (", 1)[0] for name in header] == [name for name, _, _ in CHANNELS]
    pitch = header.index("pitch (deg)")
    written = [float(line.split(",")[pitch]) for line in lines[1:]]
    assert written == pytest.approx(np.degrees(flight.channel("pitch")), rel=1e-5, abs=1e-5)


def test_the_loads_of_a_record_move_the_plane_as_recorded(saved):
    """Newton and Euler: forces over mass, moments and inertia, against central differences of the recorded states."""
    inputs, arrays = load(saved)
    with np.load(saved / "flight.npz") as archive:
        loads = archive["loads"]
    assert inputs["arrays"]["loads"]["parts"] == list(L.PARTS)
    states, start = arrays["states"], int(arrays["phase_start"][2]) + 30  # hands off, surfaces at rest
    assert loads.shape == (len(states), L.N_PARTS, 6)
    mass = plane_of("precision").mass
    inertia = mass.inertia
    v, w = states[:, L.VELOCITY : L.VELOCITY + 3], states[:, L.RATES : L.RATES + 3]
    inside = slice(start, len(states) - 1)
    assert len(states) - 1 - start > 200

    def slope(a):
        return ((a[2:] - a[:-2]) / (2.0 * FRAME))[start - 1 :]

    total = loads.sum(axis=1)[inside]
    matrix = np.linalg.inv(plane_of("precision").model[L.INVERSE_MASS : L.INVERSE_MASS + 36].reshape(6, 6))
    pushed = np.hstack([slope(v), slope(w)]) @ matrix.T  # the air carried along in it
    force = pushed[:, :3] + mass.mass * np.cross(w[inside], v[inside])
    moment = pushed[:, 3:] + np.cross(w[inside], w[inside] @ inertia.T)
    assert total[:, :3] == pytest.approx(force, abs=0.002 * mass.mass * 9.80665)
    assert total[:, 3:] == pytest.approx(moment, abs=0.01)  # N m; a hundredth of what a degree of elevator gives
    # and the check can tell: leave out one part that matters and it does not hold
    assert np.abs(loads[inside, L.STABILISER, 4]).max() > 0.1
