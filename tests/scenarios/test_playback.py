"""A flight played back: the record's own numbers at its frames, sensible ones between them, refusals, growth frame by frame."""

import json
import math
import shutil

import numpy as np
import pytest

from models.errors import UserError
from models.loader import load as load_setup
from scenarios.live import ByHand, start_text
from scenarios.manoeuvres import fly_manoeuvre, load_manoeuvre, manoeuvre_from_text
from scenarios.playback import Playback, align, instant, load_playback
from scenarios.record import save
from sim import layout as L
from sim.recording import INDEX, ROW, STATE_AT
from tests.scenarios.flying import flown, plane_of

LINE = ("precision", "upline-45")
WINDY = """\
format: 1
kind: manoeuvre
name: blown
start: {from: level flight, airspeed: 22 m/s, height: 60 m,
        wind: {speed: 6 m/s, from: 300 deg, turbulence: light, gust: {speed: 3 m/s, from: below, length: 30 m, after: 0.4 s}}}
phases:
  - {name: on, pilot: [aileron, elevator, rudder], hold: path, aim: {pitch: 0 deg}, for: 1.5 s}
"""


@pytest.fixture(scope="module")
def saved(tmp_path_factory):
    folder = tmp_path_factory.mktemp("played") / "line"
    return save(folder, flown(*LINE), load_setup(LINE[0]).texts, load_manoeuvre(LINE[1])[1])


@pytest.fixture(scope="module")
def line(saved):
    return load_playback(saved)


@pytest.fixture
def copy(saved, tmp_path):
    return shutil.copytree(saved, tmp_path / "copy")


def test_arrays_are_the_records(line):
    rows = flown(*LINE).flight.rows
    assert line.frames == len(rows) and line.title == "precision, upline-45" and line.ending == "completed"
    assert np.array_equal(line.position, rows[:, STATE_AT : STATE_AT + 3])
    assert np.array_equal(-line.position[:, 2], line.channel("height"))
    for column, name in enumerate(("left aileron", "right aileron", "elevator", "rudder")):
        assert np.array_equal(line.surfaces[:, column], line.channel(name))
    for column, name in enumerate(("aileron stick", "elevator stick", "rudder stick", "throttle")):
        assert np.array_equal(line.sticks[:, column], line.channel(name))
    assert line.separation.shape == (line.frames, 35) and line.separation.min() >= 0.0 and line.separation.max() <= 1.0


def test_a_pose_at_a_frame_is_that_frame(line):
    for frame in (0, 200, line.frames - 1):
        pose = line.pose(line.time[frame])
        assert np.array_equal(pose.position, line.position[frame])
        assert np.allclose(pose.quaternion, line.quaternion[frame], atol=1e-12)
        assert np.allclose(pose.turn @ pose.turn.T, np.eye(3), atol=1e-9)
        assert pose.airspeed == line.channel("airspeed")[frame] and pose.height == line.channel("height")[frame]
        # speed upwards from the attitude and the velocity in body axes: the record's channel came from the kernel
        assert -pose.velocity[2] == pytest.approx(line.channel("climb rate")[frame], abs=1e-6)


def test_between_two_frames_the_attitude_turns_evenly(line):
    frame = int(np.argmax(np.abs(line.channel("pitch rate"))))
    a, b = line.quaternion[frame], line.quaternion[frame + 1]
    middle = line.pose(0.5 * (line.time[frame] + line.time[frame + 1]))
    assert np.linalg.norm(middle.quaternion) == pytest.approx(1.0, abs=1e-12)
    halves = [2.0 * math.acos(min(1.0, abs(float(middle.quaternion @ q)))) for q in (a, b)]
    assert halves[0] == pytest.approx(halves[1], rel=1e-3) and halves[0] > 0.0
    assert np.allclose(middle.position, 0.5 * (line.position[frame] + line.position[frame + 1]))


def test_a_quaternion_of_the_other_sign_is_no_somersault(line):
    flipped = Playback.of(flown(*LINE))
    flipped._rows = flipped._rows.copy()  # the flight is shared with other tests
    flipped._rows[101::2, STATE_AT + L.QUATERNION : STATE_AT + L.QUATERNION + 4] *= -1.0
    time = 0.5 * (line.time[100] + line.time[101])
    assert np.allclose(flipped.pose(time).turn, line.pose(time).turn, atol=1e-9)


def test_before_and_after_the_flight_stands_still(line):
    assert np.array_equal(line.pose(-5.0).position, line.position[0])
    assert np.array_equal(line.pose(line.end + 5.0).position, line.position[-1])
    assert line.last().time == line.end


def test_forces_are_those_that_the_record_keeps(line, saved):
    with np.load(saved / "flight.npz") as kept:
        for frame in (0, 150, 600):
            weight = line.plane.mass.mass * 9.80665
            assert np.allclose(line.pose(line.time[frame]).forces, kept["loads"][frame, :, :3], atol=1e-5 * weight)


def test_forces_in_wind_gust_and_turbulence_are_the_records(tmp_path):
    manoeuvre = manoeuvre_from_text(WINDY)
    flight = fly_manoeuvre(load_setup("precision").setup, manoeuvre)
    folder = save(tmp_path / "blown", flight, load_setup("precision").texts, WINDY)
    blown = load_playback(folder)
    with np.load(folder / "flight.npz") as kept:
        for frame in (0, 60, 120):
            weight = blown.plane.mass.mass * 9.80665
            assert np.allclose(blown.pose(blown.time[frame]).forces, kept["loads"][frame, :, :3], atol=1e-4 * weight)


def test_a_flight_by_hand_has_the_forces_of_the_planes_that_flew_it(tmp_path):
    hand = ByHand(load_setup("precision").setup, start_text(), [("cg", "150 mm")])
    live = Playback.live(hand.plane, "by hand")
    for frame in range(160):
        if frame in (60, 110):
            hand.change("cg", "165 mm" if frame == 60 else "140 mm")
            live.change(hand.live.plane)
        live.append(hand.fly((0.1, 0.2, 0.0, 0.6)))
    folder = save(tmp_path / "hand", hand.flown(), load_setup("precision").texts, hand.text())
    kept = load_playback(folder)
    with np.load(folder / "flight.npz") as arrays:
        loads = arrays["loads"]
    weight = kept.plane.mass.mass * 9.80665
    for frame in (0, 59, 60, 109, 110, 159):
        for flight in (kept, live, Playback.of(hand.flown())):
            assert np.allclose(flight.pose(flight.time[frame]).forces, loads[frame, :, :3], atol=1e-4 * weight)
    assert kept.plane.cg_station == pytest.approx(0.150, abs=1e-6)
    assert [phase.name for phase in kept.phases] == ["minute 1"]


def test_the_jet_contracts_as_momentum_theory_has_it():
    """In the hover: w0 (1 + s / sqrt(s^2 + R^2)) on the axis, the section half as large far behind (Rankine and Froude;
    McCormick 1967).  The edge's mixing takes some speed, most far behind; the fuselage that the jet flows round, section."""
    hover = Playback.of(flown("precision", "hover"))
    jet = hover.pose(2.0).jet
    assert jet.radius[0] == pytest.approx(hover.plane.model[L.DISK_RADIUS], rel=0.01)
    assert jet.radius[-1] == pytest.approx(math.sqrt(0.5) * jet.radius[0], rel=0.05)
    radius = hover.plane.model[L.DISK_RADIUS]
    behind = np.linalg.norm(jet.centre - jet.centre[0], axis=1)
    ideal = jet.gained[0] * (1.0 + behind / np.hypot(behind, radius))
    assert np.allclose(jet.gained[behind < radius], ideal[behind < radius], rtol=0.05)
    assert (jet.gained <= ideal).all() and jet.gained[-1] > 0.7 * ideal[-1]
    along = (jet.centre[0] - jet.centre[-1]) @ hover.plane.model[L.SHAFT : L.SHAFT + 3]
    assert along == pytest.approx(8.0 * hover.plane.model[L.DISK_RADIUS], rel=0.01)


def test_the_jet_bends_with_the_cross_flow():
    """At high alpha the air comes from below: it carries the jet up, towards the canopy (body z down, so less z)."""
    flight = Playback.of(flown("precision", "harrier"))
    frame = int(np.argmax(np.where(flight.channel("throttle") > 0.3, flight.channel("alpha"), 0.0)))
    pose = flight.pose(flight.time[frame])
    assert flight.channel("alpha")[frame] > 0.4
    straight = pose.jet.centre[0] - 8.0 * flight.plane.model[L.DISK_RADIUS] * flight.plane.model[L.SHAFT : L.SHAFT + 3]
    assert pose.jet.centre[-1][2] < straight[2] - 0.1


def test_phases_and_instants(line):
    names = [phase.name for phase in line.phases]
    assert names == ["pull up", "set the line", "hands off"]
    assert all(a.end == b.start for a, b in zip(line.phases, line.phases[1:]))
    middle = line.phases[1]
    assert line.phase_at(middle.start) == "set the line" and line.phase_at(middle.start - 0.005) == "pull up"
    assert instant(line, "start of hands off") == middle.end == instant(line, 'end of "set the line"')
    assert instant(line, "2.5 s") == 2.5


@pytest.mark.parametrize("text", ["start of hands of", "99 s", "-1 s", "soon", "", "start of "])
def test_an_instant_that_is_none_is_refused_with_what_there_is(line, text):
    with pytest.raises(UserError) as caught:
        instant(line, text)
    message = str(caught.value)
    assert message.startswith("--align: found") and "allowed" in message and "\n" not in message
    assert "hands off" in message or "8.9" in message


def test_two_flights_meet_at_the_instant_they_are_aligned_at(line):
    other = Playback.of(flown("extreme", "upline-45"))
    laid = align(line, other, "start of hands off")
    mine, its = instant(line, "start of hands off"), instant(other, "start of hands off")
    assert mine + laid.time == pytest.approx(its)
    assert np.allclose(other.pose(its).position + laid.shift, line.pose(mine).position)
    at_start = align(line, other)
    assert at_start.time == 0.0 and np.allclose(at_start.shift, line.position[0] - other.position[0])


def test_a_flight_that_grows_frame_by_frame_is_the_whole_one(line):
    growing = Playback.live(line.plane, line.title)
    for row, time in zip(line.rows, line.time):
        growing.append(row, line.phase_at(time))
        if growing.frames in (1, 2, 500):
            assert np.array_equal(growing.last().position, row[STATE_AT : STATE_AT + 3])
    assert np.array_equal(growing.rows, line.rows)
    assert np.allclose(growing.rotor_angle, line.rotor_angle)
    assert [(p.name, p.start) for p in growing.phases] == [(p.name, p.start) for p in line.phases]


def test_the_propeller_turns_as_far_as_its_speed_says(line):
    mean = line.channel("rotor speed").mean()
    assert line.rotor_angle[-1] == pytest.approx(mean * (line.end - line.start), rel=2e-3)


# ---- refusals ------------------------------------------------------------------------------------------------------
def refusal(folder) -> str:
    with pytest.raises(UserError) as caught:
        load_playback(folder)
    message = str(caught.value)
    assert "\n" not in message and "found" in message and "allowed" in message and str(folder) in message
    return message


def rewrite(folder, **changed):
    with np.load(folder / "flight.npz") as kept:
        arrays = {name: kept[name] for name in kept.files} | changed
    np.savez_compressed(folder / "flight.npz", **arrays)


def test_a_record_that_is_cut_short_is_refused(copy):
    whole = (copy / "flight.npz").read_bytes()
    (copy / "flight.npz").write_bytes(whole[: len(whole) // 2])
    assert "cut short or damaged" in refusal(copy)


def test_a_foreign_folder_is_refused(tmp_path):
    (tmp_path / "inputs.json").write_text('{"kind": "shopping list"}')
    (tmp_path / "flight.npz").write_bytes(b"milk")
    assert "another kind of file" in refusal(tmp_path)
    assert "no flight record" in refusal(tmp_path / "nowhere")


def test_a_record_of_another_version_is_refused(copy):
    inputs = json.loads((copy / "inputs.json").read_text())
    (copy / "inputs.json").write_text(json.dumps(inputs | {"format": 99}))
    assert "format 99" in refusal(copy)


@pytest.mark.parametrize("frames", [0, 1])
def test_a_flight_without_length_is_refused(copy, frames):
    with np.load(copy / "flight.npz") as kept:
        short = {name: kept[name][:frames] for name in ("channels", "commands", "states", "loads", "swirl")}
    rewrite(copy, **short)
    assert f"a flight of {frames} frame" in refusal(copy)


def test_arrays_of_another_shape_are_refused(copy, saved):
    with np.load(saved / "flight.npz") as kept:
        states = kept["states"]
    for wrong in (states[:, :-1], states[:-3], states.astype("U8"), states[0]):
        rewrite(copy, states=wrong)
        assert "not those of a flight" in refusal(copy)


def test_times_that_do_not_rise_are_refused(copy, saved):
    with np.load(saved / "flight.npz") as kept:
        channels = kept["channels"]
    channels[10, INDEX["time"]] = channels[9, INDEX["time"]]
    rewrite(copy, channels=channels)
    assert "times that do not rise" in refusal(copy)


def test_a_flight_that_diverged_is_shown_as_far_as_it_has_numbers(copy, saved):
    with np.load(saved / "flight.npz") as kept:
        states = kept["states"]
    states[400:] = np.nan
    rewrite(copy, states=states)
    shown = load_playback(copy)
    assert shown.frames == 400 and shown.rows.shape == (400, ROW) and np.isfinite(shown.last().position).all()


def test_plane_and_cg_are_those_that_flew(line):
    assert np.array_equal(line.plane.mass.cg, plane_of("precision").mass.cg)
