"""A session at the sticks: frames by the clock, a plug that is pulled, changes, new starts, and flights that are kept."""

import numpy as np
import pytest

from models.loader import load
from scenarios.live import start_text
from scenarios.record import fly_again
from sim.recording import INDEX
from tests.viewer.hands_on.fake_device import joystick
from viewer.hands_on.controllers import Assignment, Controller, Travel
from viewer.hands_on.keeping import Keeper
from viewer.hands_on.pace import Pace
from viewer.hands_on.session import Session

FULL = 32767
ALL_FOUR = Assignment("Invented Sticks", {
    "throttle": Travel("z", -FULL, 0.0, FULL), "aileron": Travel("x", -FULL, 0.0, FULL),
    "elevator": Travel("y", FULL, 0.0, -FULL), "rudder": Travel("rz", -FULL, 0.0, FULL),
})  # fmt: skip


class Clock:
    """A clock that a test turns."""

    time = 0.0

    def __call__(self):
        return self.time


@pytest.fixture(scope="module")
def loaded():
    return load("precision")


@pytest.fixture
def session(loaded, tmp_path, monkeypatch):
    """A session that has begun; `clock` is its clock, `rows` what it has flown."""
    monkeypatch.chdir(tmp_path)
    clock, rows = Clock(), []
    made = Session(
        loaded.setup, start_text(), Keeper(loaded.texts, None, None, loaded.setup.name), Pace(clock), flown=rows.append
    )
    made.clock, made.rows = clock, rows
    return made


def run(session, seconds, beat=1.0 / 60.0):
    for _ in range(round(seconds / beat)):
        session.clock.time += beat
        session.tick()


def test_it_begins_paused_and_flies_what_is_due(session):
    run(session, 1.0)
    assert session.paused and session.flight.live.frames == 0
    assert session.go_on()
    run(session, 2.0)
    assert session.flight.live.frames == pytest.approx(200, abs=1) and len(session.rows) == session.flight.live.frames
    session.pause()
    frames = session.flight.live.frames
    run(session, 5.0)
    session.go_on()
    run(session, 0.1)
    assert session.flight.live.frames == pytest.approx(frames + 10, abs=1)  # the pause is nobody's debt


def test_a_hover_says_what_holds_it(loaded):
    session = Session(loaded.setup, start_text("hover"), Keeper(loaded.texts, None, None, "x"), Pace(Clock()))
    aileron = round(100 * abs(session.flight.sticks0[0]))
    assert f"aileron {aileron} % right" in session.held_at_start  # against the torque of a clockwise propeller
    assert Session(loaded.setup, start_text(), session.keeper, Pace(Clock())).held_at_start == ""


def test_a_slow_machine_skips_no_frame_and_says_so(session):
    session.go_on()
    run(session, 10.0, beat=1.0)
    times = [row[INDEX["time"]] for row in session.rows]
    assert np.allclose(np.diff(times), 0.01)
    assert len(times) == pytest.approx(250, abs=1)  # a quarter of flight for every second
    assert "time runs at 0.2" in session.slow


def test_keys_fly(session):
    session.go_on()
    session.keys.held = {"nose up"}
    run(session, 1.0)
    row = session.rows[-1]
    assert row[INDEX["elevator stick"]] == 1.0 and row[INDEX["elevator"]] < -0.1  # trailing edge up
    assert row[INDEX["pitch"]] > session.rows[0][INDEX["pitch"]] + 0.5
    throttle = row[INDEX["throttle"]]
    session.keys.held = {"less throttle"}
    run(session, 0.5)
    assert session.rows[-1][INDEX["throttle"]] == pytest.approx(throttle - 0.3, abs=0.02)


def test_a_controller_flies_and_keys_take_what_it_does_not_have(session):
    device = joystick().device
    part = Assignment("Invented Sticks", {k: v for k, v in ALL_FOUR.sticks.items() if k != "rudder"})
    session.use(Controller(device), part)
    device.move(x=FULL, y=0, z=0)
    session.keys.held = {"yaw left"}
    session.go_on()
    run(session, 0.5)
    at = INDEX["aileron stick"]
    assert session.rows[-1][at : at + 4] == pytest.approx([1.0, 0.0, -1.0, 0.5])
    assert session.hands == "Invented Sticks"


def test_a_pulled_plug_pauses_and_loses_nothing(session):
    device = joystick().device
    session.use(Controller(device), ALL_FOUR)
    device.move(x=0, y=0, z=20000, rz=0)
    session.go_on()
    run(session, 1.0)
    frames, x = session.flight.live.frames, session.flight.live.x.copy()
    device.unplug()
    run(session, 3.0)
    assert session.paused and "Invented Sticks" in session.why and "Nothing is lost" in session.why
    assert session.flight.live.frames == frames and np.array_equal(session.flight.live.x, x)
    assert session.hands == "keys"
    session.go_on()  # with the keys: the throttle stands where the stick stood
    run(session, 0.1)
    assert session.rows[-1][INDEX["throttle"]] == pytest.approx((20000 + FULL) / (2 * FULL), abs=1e-6)
    again = joystick().device  # plugged in again
    again.move(z=-FULL)
    session.use(Controller(again), ALL_FOUR)
    run(session, 0.1)
    assert session.rows[-1][INDEX["throttle"]] == 0.0


def test_a_new_start_keeps_the_changes_and_is_trimmed_for_them(session):
    session.go_on()
    run(session, 0.5)
    session.turn(-4)  # the first knob is the CG, a millimetre a step
    assert session.knobs[0].text == "155 mm" and session.note == "cg: 155 mm"
    assert session.next_rates() and session.flight.rates == "middle"
    run(session, 0.5)
    begun = []
    session.begun = begun.append
    session.turn(1)
    session.turn(-1)
    session.reset()
    assert [(c.frame, c.what, c.value) for c in session.flight.changes] == [(0, "rates", "middle"), (0, "cg", "155 mm")]
    assert begun == [session.flight] and session.flight.live.frames == 0 and session.paused
    assert session.flight.plane.cg_station == pytest.approx(0.155) and session.flight.rates == "middle"
    session.go_on()
    run(session, 2.0)
    assert abs(session.rows[-1][INDEX["climb rate"]]) < 0.3


def test_a_change_that_is_not_allowed_is_said_and_changes_nothing(session):
    session.go_on()
    run(session, 0.2)
    assert not session.turn(-200)
    assert "found" in session.note and session.knobs[0].text == "159 mm"
    assert not session.next_mode() and "no flight modes" in session.note


def test_every_knob_turns_and_turns_back(session):
    session.go_on()
    run(session, 0.1)
    for n, knob in enumerate(session.knobs):
        session.knob = n
        assert session.turn(1), session.note
        assert session.knobs[n].value == pytest.approx(float(knob.turned(1).split()[0]), abs=1e-6), knob.name
        assert session.turn(-1)
        assert session.knobs[n].value == pytest.approx(knob.value, abs=0.51 * knob.step)
    run(session, 0.1)


def test_the_ground_ends_a_flight_and_a_new_start_goes_on(session):
    session.go_on()
    session.keys.held = {"nose down"}
    run(session, 0.8)
    session.keys.held = set()
    run(session, 8.0)  # it dives in
    assert session.paused and session.why == "Hit the ground."
    assert not session.go_on() and "start anew" in session.note
    session.keys.held = set()
    session.reset()
    assert session.go_on()


def test_flights_are_kept_when_asked_for_and_fly_again(session, tmp_path):
    session.keep()
    assert session.note == "Nothing has been flown yet." and list(tmp_path.iterdir()) == []
    session.go_on()
    run(session, 0.5)
    session.keep()
    first = tmp_path / "by-hand-precision-1"
    assert session.note == "Kept as by-hand-precision-1" and fly_again(first)[1] is True
    session.keep()  # nothing new: not twice
    assert [p.name for p in tmp_path.iterdir()] == ["by-hand-precision-1"]
    run(session, 0.5)
    assert session.keeper.kept_as(session.flight) is None  # its end is not in it
    session.keep()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["by-hand-precision-1", "by-hand-precision-2"]


def test_with_a_folder_every_flight_is_kept(loaded, tmp_path):
    clock = Clock()
    session = Session(loaded.setup, start_text(), Keeper(loaded.texts, None, str(tmp_path / "mine"), "x"), Pace(clock))
    session.clock = clock
    for _ in range(2):
        session.go_on()
        run(session, 0.3)
        session.reset()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["mine", "mine-2"]
    session.reset()  # nothing was flown since
    assert len(list(tmp_path.iterdir())) == 2


def test_the_flight_before_a_new_start_can_still_be_kept(session, tmp_path):
    session.go_on()
    run(session, 0.5)
    before = session.flight
    session.reset()
    assert session.note == "K keeps the flight before."
    session.keep()
    assert session.note == "Kept as by-hand-precision-1"
    assert len(fly_again(tmp_path / "by-hand-precision-1")[0].flight.rows) == before.live.frames


def test_there_is_no_new_start_where_the_flight_cannot_be_kept(loaded, tmp_path):
    (tmp_path / "file").write_text("mine")
    clock = Clock()
    keeper = Keeper(loaded.texts, None, str(tmp_path / "file" / "below"), "precision")
    session = Session(loaded.setup, start_text(), keeper, Pace(clock))
    session.clock = clock
    session.go_on()
    run(session, 0.3)
    flight = session.flight
    session.reset()
    assert session.flight is flight and session.paused and "file" in session.note


def test_a_place_that_cannot_be_written_is_said_and_a_rescue_finds_another(session, tmp_path):
    (tmp_path / "file").write_text("mine")
    session.keeper.folder = tmp_path / "file" / "below"
    session.go_on()
    run(session, 0.3)
    session.keep()
    assert "file" in session.note and "\n" not in session.note
    place = session.keeper.rescue(session.flight)
    assert place is not None and fly_again(place)[1] is True
