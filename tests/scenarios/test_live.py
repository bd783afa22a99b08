"""A flight by hand: the same frames as any flight's, flown again to the last bit, changes in flight, and its record."""

import json

import numpy as np
import pytest
import yaml

from models.errors import OptionError, UserError
from models.loader import load as load_setup_texts
from models.loader import load_setup
from scenarios.account import loads_by_part
from scenarios.live import BY_HAND, MINUTE, MOST_CHANGES, ByHand, Change, again, start_text
from scenarios.manoeuvres import CgOutOfReach, fly_manoeuvre, manoeuvre_from_text
from scenarios.record import changes_of, fly_again, load, save, setup_of
from sim import layout as L
from sim.frames import body_to_earth
from sim.integration import FRAME
from sim.live import LiveFlight
from sim.recording import COMMAND_AT, INDEX, STATE_AT

WIND = """
  wind: {speed: 5 m/s, from: 270 deg, turbulence: light, seed: 7}
"""
OPEN_LOOP = """format: 1
kind: manoeuvre
name: open-loop
trim: 25 m/s
start:
  from: level flight
  airspeed: 25 m/s
  height: 120 m
{wind}
phases:
- {{name: pull, elevator: 60 %, within: 0.2 s, throttle: 90 %, for: 0.6 s}}
- {{name: roll, elevator: 10 %, aileron: -100 %, rudder: 30 %, within: 0.1 s, for: 1.2 s}}
- {{name: stop, aileron: {{doublet: 50 %, each: 0.3 s}}, release: [elevator, rudder], for: 1.2 s}}
"""
STICKS = slice(INDEX["aileron stick"], INDEX["aileron stick"] + 4)
BY_PHASE = [INDEX[name] for name in ("phase time", "rolled", "pitched", "turned")]


def by_hand(seconds=3.0, setup="precision", start=None, changes=(), before=()):
    """A flight with moving sticks; `changes` are (frame, what, value)."""
    flight = ByHand(load_setup(setup), start or start_text(), before)
    waiting = list(changes)
    for frame in range(round(seconds / FRAME)):
        while waiting and waiting[0][0] == frame:
            _, what, value = waiting.pop(0)
            flight.change(what, value)
        t = frame * FRAME
        flight.fly([0.3 * np.sin(3.0 * t), 0.1 + 0.2 * np.sin(2.0 * t), 0.2 * np.sin(t), 0.6])
    return flight


@pytest.mark.parametrize("setup, wind", [("precision", ""), ("extreme", WIND)], ids=["still air", "wind"])
def test_frames_are_those_of_every_other_flight(setup, wind):
    """The same sticks, the same numbers, bit for bit: the pilot's interpreter and the hand share one flight."""
    manoeuvre = manoeuvre_from_text(OPEN_LOOP.format(wind=wind))
    flown = fly_manoeuvre(load_setup(setup), manoeuvre)
    rows = flown.flight.rows
    assert np.ptp(rows[:, STICKS], axis=0).min() > 0.1  # all four sticks move
    live = LiveFlight(flown.plane, flown.x0, flown.sticks0)
    for row in rows:
        live.fly(row[STICKS])
    same = np.ones(rows.shape[1], dtype=bool)
    same[BY_PHASE] = False  # they count from the start of a phase
    assert live.rows[:, same].tobytes() == rows[:, same].tobytes()
    first = flown.flight.frames_of(0)
    assert live.rows[first].tobytes() == rows[first].tobytes()
    # and it is no coincidence: a thousandth of a stick for a hundredth of a second shows
    other = LiveFlight(flown.plane, flown.x0, flown.sticks0)
    for n, row in enumerate(rows):
        sticks = row[STICKS].copy()
        if n == 50:
            sticks[1] = sticks[1] + 1e-3
        other.fly(sticks)
    assert other.rows[:, same].tobytes() != rows[:, same].tobytes()


def test_a_flight_by_hand_is_flown_again_to_the_last_bit(tmp_path):
    changes = [
        (80, "cg", "30 %"),
        (120, "rates", "low"),
        (200, "elevator throw", "20 deg"),
        (260, "elevator centring", "1 deg"),
    ]
    flight = by_hand(changes=changes, before=[("aileron exponential", "35 %")])
    flown = flight.flown()
    folder = save(tmp_path / "hand", flown, load_setup_texts("precision").texts, flight.text())
    back, same = fly_again(folder)
    assert same is True
    assert back.flight.rows.tobytes() == flown.flight.rows.tobytes()
    assert back.skill == BY_HAND and len(back.later) == 3
    inputs, arrays = load(folder)
    assert changes_of(inputs, folder) == [Change(0, "aileron exponential", "35 %")] + [Change(*c) for c in changes]
    assert setup_of(inputs, folder).throws["aileron"].exponential == 0.35
    assert inputs["manoeuvre"] == "hands-on" and len(arrays["channels"]) == 300
    # what was changed matters: without it, or a frame later, it is another flight
    for edit in (
        lambda c: c[:1] + c[2:],
        lambda c: [{**one, "frame": one["frame"] + (one["what"] == "cg")} for one in c],
    ):
        spoilt = {**inputs, "changes": edit(inputs["changes"])}
        (folder / "inputs.json").write_text(json.dumps(spoilt))
        assert fly_again(folder)[1] is False


def test_it_is_flown_again_in_the_wind_and_out_of_a_hover(tmp_path):
    data = yaml.safe_load(start_text("hover"))
    data["start"]["wind"] = {"speed": "3 m/s", "from": "0 deg", "turbulence": "light", "seed": 3}
    flight = by_hand(1.5, "slow-3d", yaml.safe_dump(data), [(60, "cg", "190 mm")])
    folder = save(tmp_path / "h", flight.flown(), load_setup_texts("slow-3d").texts, flight.text())
    assert fly_again(folder)[1] is True
    assert np.ptp(flight.live.rows[:, INDEX["wind down"]]) > 0.0
    assert flight.live.plane.model[L.GUSTS] == 1.0  # the plane after the change is in the same air


@pytest.mark.parametrize(
    "changes",
    [None, "none", [1], [{"frame": "3", "what": "cg", "value": "30 %"}], [{"frame": 3, "what": "cg"}],
     [{"frame": 9, "what": "cg", "value": "30 %"}, {"frame": 3, "what": "cg", "value": "31 %"}],
     [{"frame": 3, "what": "cg", "value": "30 %"}] * (MOST_CHANGES + 1),
     [{"frame": 3, "what": "colour", "value": "red"}], [{"frame": 0, "what": "cg", "value": "900 mm"}]],
)  # fmt: skip
def test_changes_that_are_none_are_refused(tmp_path, changes):
    flight = by_hand(0.2)
    folder = save(tmp_path / "hand", flight.flown(), load_setup_texts("precision").texts, flight.text())
    inputs = json.loads((folder / "inputs.json").read_text())
    (folder / "inputs.json").write_text(json.dumps({**inputs, "changes": changes}))
    with pytest.raises(UserError) as caught:
        fly_again(folder)
    assert len(str(caught.value).splitlines()) == 1 and "allowed" in str(caught.value)


def test_a_record_before_flights_by_hand_has_another_version(tmp_path):
    flight = by_hand(0.2)
    folder = save(tmp_path / "hand", flight.flown(), load_setup_texts("precision").texts, flight.text())
    inputs = json.loads((folder / "inputs.json").read_text())
    (folder / "inputs.json").write_text(json.dumps({**inputs, "format": 3}))
    with pytest.raises(UserError, match="found record format 3; allowed: 4"):
        load(folder)


def test_a_moved_item_moves_cg_and_inertia_and_nothing_of_the_airframe():
    flight = by_hand(1.0)
    before, x = flight.live.plane, flight.live.x.copy()
    flight.change("cg", "150 mm")
    after, y = flight.live.plane, flight.live.x
    assert after.cg_station == pytest.approx(0.150, abs=1e-9) and before.cg_station == pytest.approx(0.159, abs=1e-3)
    assert after.mass.mass == before.mass.mass
    assert abs(after.mass.inertia[1, 1] / before.mass.inertia[1, 1] - 1.0) > 1e-3
    assert np.array_equal(x[L.QUATERNION : L.QUATERNION + 4], y[L.QUATERNION : L.QUATERNION + 4])
    assert np.array_equal(x[L.RATES :], y[L.RATES :])
    turn = np.array(body_to_earth(*x[3:7])).reshape(3, 3)
    for point in ([0.0, 0.0, 0.0], [-1.2, 0.8, -0.3]):  # of the airframe, m from the wing root leading edge
        a, b = (np.array(point) - plane.mass.cg for plane in (before, after))
        assert x[:3] + turn @ a == pytest.approx(y[:3] + turn @ b, abs=1e-12)
        spin = x[10:13]
        assert x[7:10] + np.cross(spin, a) == pytest.approx(y[7:10] + np.cross(spin, b), abs=1e-12)


def test_trims_stay_where_they_were_when_the_cg_moves():
    flight = ByHand(load_setup("precision"), start_text())
    steady = flight.sticks0
    for _ in range(50):
        flight.fly(steady)
    surfaces = flight.live.rows[-1, COMMAND_AT : COMMAND_AT + 4].copy()
    pitch = flight.live.rows[-1, INDEX["pitch"]]
    flight.change("cg", "140 mm")  # 19 mm forward of trim
    for _ in range(200):
        flight.fly(steady)
    assert flight.live.rows[-1, COMMAND_AT : COMMAND_AT + 4].tobytes() == surfaces.tobytes()
    assert flight.live.rows[-1, INDEX["pitch"]] < pitch - np.radians(2.0)  # nose-heavy: it goes down
    flight.change("elevator centring", "2 deg")  # up
    flight.fly(steady)
    elevator = COMMAND_AT + L.ELEVATOR
    assert flight.live.rows[-1, elevator] == pytest.approx(surfaces[L.ELEVATOR] - np.radians(2.0), abs=1e-3)


def test_rates_scale_the_throw_from_the_next_frame_on():
    flight = ByHand(load_setup("precision"), start_text())
    full = [0.0, 0.0, 1.0, flight.sticks0[3]]
    flight.fly(full)
    flight.change("rates", "low")
    flight.fly(full)
    high, low = flight.live.rows[:, COMMAND_AT + L.RUDDER]
    assert flight.rates == "low"
    assert low == pytest.approx(0.6 * high, rel=0.02)  # the usual share of low rates; trim is a part of a degree


def test_a_change_before_the_first_frame_is_trimmed_for():
    flight = ByHand(load_setup("precision"), start_text())
    stick = flight.sticks0.copy()
    flight.change("cg", "140 mm")
    assert flight.changes == [Change(0, "cg", "140 mm")] and flight.live.frames == 0
    for _ in range(300):
        flight.fly(flight.sticks0)
    assert abs(flight.live.rows[-1, INDEX["climb rate"]]) < 0.3
    assert np.abs(stick[:3]).max() < 1e-6


def test_what_is_not_allowed_changes_nothing():
    flight = by_hand(0.5)
    x, plane = flight.live.x.copy(), flight.live.plane
    for what, value in (("cg", "900 mm"), ("cg", "here"), ("colour", "red"), ("rates", "lowest"), ("mode", "landing"),
                        ("pilot", "learner")):  # fmt: skip
        with pytest.raises(UserError):
            flight.change(what, value)
    assert np.array_equal(flight.live.x, x) and flight.live.plane is plane and flight.changes == []
    with pytest.raises(CgOutOfReach):
        flight.change("cg", "350 mm")


def test_the_loads_of_each_part_of_a_flight_are_those_of_its_own_plane():
    flown = by_hand(1.0, changes=[(50, "cg", "150 mm")]).flown()
    loads, _ = loads_by_part(flown, slice(0, 100))
    total = loads.sum(axis=1)
    for n, plane in ((20, flown.plane), (80, flown.later[0][1])):
        states = flown.flight.rows[:, STATE_AT:]
        rates = (states[n + 1, L.RATES : L.RATES + 3] - states[n - 1, L.RATES : L.RATES + 3]) / (2.0 * FRAME)
        v = (states[n + 1, 7:10] - states[n - 1, 7:10]) / (2.0 * FRAME)
        matrix = np.linalg.inv(plane.model[L.INVERSE_MASS : L.INVERSE_MASS + 36].reshape(6, 6))
        w = states[n, L.RATES : L.RATES + 3]
        moment = (matrix @ np.r_[v, rates])[3:] + np.cross(w, plane.mass.inertia @ w)
        assert total[n, 3:] == pytest.approx(moment, abs=0.05)


def test_the_ground_ends_a_flight_and_the_longest_is_bounded(monkeypatch):
    flight = ByHand(load_setup("precision"), start_text(height="2 m"))
    while not flight.live.ending:
        flight.fly([0.0, -0.5, 0.0, 0.0])
    assert flight.live.ending == "hit the ground"
    with pytest.raises(ValueError):
        flight.fly([0.0] * 4)
    monkeypatch.setattr("scenarios.live.MOST_MINUTES", 0.01)
    flight = ByHand(load_setup("precision"), start_text())
    while not flight.live.ending:
        flight.fly(flight.sticks0)
    assert flight.live.ending == "completed" and flight.live.frames == 60


def test_the_record_has_a_phase_for_every_minute():
    flight = ByHand(load_setup("precision"), start_text())
    flight.live.frames = 0
    for _ in range(MINUTE + 150):
        flight.fly(flight.sticks0)
    flown = flight.flown()
    assert flown.flight.phase_start.tolist() == [0, MINUTE]
    assert [(p.name, p.for_) for p in flown.manoeuvre.phases] == [("minute 1", 60.0), ("minute 2", pytest.approx(1.5))]
    back = again(load_setup("precision"), flight.text(), flight.changes, flown.flight.rows[:, STICKS])
    assert back.live.rows.tobytes() == flown.flight.rows.tobytes()


def test_starts():
    level = yaml.safe_load(start_text())
    assert level["start"] == {"from": "level flight", "height": "60 m", "airspeed": "25 m/s"}
    assert yaml.safe_load(start_text("hover", None, "30 m"))["start"] == {"from": "hover", "height": "30 m"}
    like = yaml.safe_load(start_text(like="stall", height="200 m"))
    assert like["start"]["from"] == "level flight" and like["start"]["height"] == "200 m"
    for wrong in (dict(kind="runway"), dict(kind="hover", airspeed="20 m/s"), dict(airspeed="fast"), dict(height="-3 m"),
                  dict(kind="hover", like="stall")):  # fmt: skip
        with pytest.raises(OptionError):
            start_text(**wrong)
    with pytest.raises(UserError):
        start_text(like="no such manoeuvre")
