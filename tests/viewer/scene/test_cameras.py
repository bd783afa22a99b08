"""Where the eyes are, what they see, and the lines a manoeuvre is judged by: arithmetic alone, no drawing."""

import math

import numpy as np
import pytest

from scenarios.playback import Playback
from tests.scenarios.flying import flown
from viewer.scene.cameras import EYES, FIELD, VIEWS, camera, station
from viewer.scene.references import field, references

ASPECT, SPAN = 16.0 / 9.0, 2.2


@pytest.fixture(scope="module", params=["upline-45", "stall", "hover", "loop-inside", "vertical-up"])
def flight(request):
    return Playback.of(flown("precision", request.param))


def looked(flight, view, time, zoom=1.0):
    return camera(view, flight, flight.pose(time), station(flight), SPAN, ASPECT, zoom)


@pytest.mark.parametrize("view", VIEWS)
def test_every_view_has_the_plane_near_its_middle(flight, view):
    for time in np.linspace(flight.start, flight.end, 9):
        eye, pose = looked(flight, view, time), flight.pose(time)
        at = eye.seen_at(pose.position)
        assert at is not None and abs(at[0] - 0.5) < 0.2 and abs(at[1] - 0.5) < 0.25
        assert np.allclose(eye.axes @ eye.axes.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(eye.axes) == pytest.approx(1.0)  # nothing is mirrored


def test_up_is_up_and_right_is_right(flight):
    eye = looked(flight, "chase", 0.5 * (flight.start + flight.end))
    middle = eye.seen_at(eye.eye + 50.0 * eye.ahead)
    higher = eye.seen_at(eye.eye + 50.0 * eye.ahead + [0.0, 0.0, -5.0])
    to_the_right = np.cross(eye.ahead, [0.0, 0.0, -1.0])
    righter = eye.seen_at(eye.eye + 50.0 * eye.ahead + 5.0 * to_the_right)
    assert higher[1] > middle[1] and righter[0] > middle[0]


def area(polygon):
    x, y = polygon.T
    return 0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) if len(polygon) else 0.0


@pytest.mark.parametrize("view", VIEWS)
def test_sky_and_ground_share_the_picture_along_the_horizon(flight, view):
    for time in np.linspace(flight.start, flight.end, 5):
        eye = looked(flight, view, time)
        sky, ground = eye.halves()
        assert area(sky) + area(ground) == pytest.approx(4.0)
        right, up, back = eye.axes
        f = math.tan(0.5 * eye.field)
        for polygon, sign in ((sky, -1.0), (ground, 1.0)):
            rays = [-back + f * (eye.aspect * x * right + y * up) for x, y in polygon]
            assert all(sign * ray[2] > -1e-9 for ray in rays)
        shared = [p for p in sky if any(np.array_equal(p, q) for q in ground)]
        assert len(shared) in (0, 2)


def test_the_pilot_stands_still_beside_the_flight(flight):
    stand = station(flight)
    assert stand.eye[2] == -EYES
    eyes = [looked(flight, "pilot", t).eye for t in np.linspace(flight.start, flight.end, 5)]
    assert all(np.array_equal(eye, stand.eye) for eye in eyes)
    beside = np.array([-stand.along[1], stand.along[0], 0.0])
    assert ((stand.eye - flight.position) @ beside).min() >= 34.9  # never overhead, never behind him


def test_flights_pass_from_left_to_right():
    flight = Playback.of(flown("precision", "stall"))
    first, later = (looked(flight, "pilot", t) for t in (1.0, 3.0))
    assert first.seen_at(flight.pose(1.2).position)[0] > 0.5
    turned = np.cross(first.ahead, later.ahead)[2]
    assert turned > 0.0  # clockwise from above: to the right


def test_the_zoom_holds_the_plane_at_a_size_and_no_more(flight):
    for time in np.linspace(flight.start, flight.end, 7):
        eye = looked(flight, "pilot", time)
        away = np.linalg.norm(flight.pose(time).position - eye.eye)
        wide = 2.0 * math.atan(0.5 * SPAN / away) / (2.0 * math.atan(math.tan(0.5 * eye.field) * ASPECT))
        assert FIELD[0] - 1e-9 <= eye.field <= FIELD[1] + 1e-9
        assert 0.09 < wide < 0.2  # of the picture's width: 115 to 250 pixels of 1280
        assert looked(flight, "pilot", time, zoom=2.0).field == pytest.approx(0.5 * eye.field)


def test_from_the_tip_the_horizon_banks_with_the_plane():
    flight = Playback.of(flown("precision", "knife-edge-right"))
    frame = int(np.argmax(flight.channel("bank")))
    pose, eye = flight.pose(flight.time[frame]), looked(flight, "tip", flight.time[frame])
    assert eye.up @ (pose.turn @ [0.0, 0.0, -1.0]) == pytest.approx(1.0)
    tip = pose.position + pose.turn @ [0.0, -0.5 * SPAN, 0.0]
    assert np.linalg.norm(eye.eye - tip) < 0.35 * SPAN


def test_the_45_degree_line_is_one_and_begins_on_the_path():
    flight = Playback.of(flown("precision", "upline-45"))
    lines, marks = references(flight)
    slanted = [line for line in lines if abs(line.end[2] - line.start[2]) > 5.0]
    assert len(slanted) == 1
    way = slanted[0].end - slanted[0].start
    assert math.degrees(math.atan2(-way[2], math.hypot(way[0], way[1]))) == pytest.approx(45.0, abs=1e-6)
    assert np.linalg.norm(flight.position - slanted[0].start, axis=1).min() < 1e-9
    # the flown path stays within a few metres of it while the line is set
    inside = (flight.time > 2.5) & (flight.time < 5.9)
    unit = way / np.linalg.norm(way)
    off = np.linalg.norm(np.cross(flight.position[inside] - slanted[0].start, unit), axis=1)
    assert off.max() < 5.0
    assert {mark.text for mark in marks} == {"45° line", "entry height"}


def test_the_vertical_line_is_vertical_and_the_place_held_is_marked():
    up, _ = references(Playback.of(flown("precision", "vertical-up")))
    steep = [line for line in up if np.allclose((line.end - line.start)[:2], 0.0, atol=1e-9)]
    assert len(steep) == 1 and steep[0].end[2] < steep[0].start[2] - 20.0
    hover = Playback.of(flown("precision", "hover"))
    lines, marks = references(hover)
    assert [mark.text for mark in marks] == ["place to hold"]
    assert np.allclose(lines[0].start[:2], hover.position[0, :2]) and lines[0].start[2] == 0.0


def test_entry_height_is_the_starts():
    flight = Playback.of(flown("precision", "stall"))
    lines, _ = references(flight)
    assert lines[-1].start[2] == lines[-1].end[2] == flight.position[0, 2]


def test_field_marks_stand_every_fifty_metres_on_the_centre_line(flight):
    stand = station(flight)
    lines, marks = field(flight, stand)
    assert all(abs(line.start[2]) < 0.05 and abs(line.end[2]) < 0.05 for line in lines)
    metres = [mark for mark in marks if mark.text.endswith(" m")]
    middle = next(mark for mark in marks if mark.text == "middle")
    for mark in metres:
        assert np.linalg.norm(mark.at - middle.at) == pytest.approx(float(mark.text[:-2]), abs=1e-6)
        assert np.linalg.norm(np.cross(mark.at - middle.at, stand.along)) < 1e-6
    ends = [line for line in lines if line.dash]
    for line in ends:  # FAI Sporting Code, class F3A (from memory): 60 degrees to both sides of the middle
        way, ahead = line.end - line.start, (middle.at - line.start) * [1.0, 1.0, 0.0]
        angle = math.acos(way @ ahead / np.linalg.norm(way) / np.linalg.norm(ahead))
        assert math.degrees(angle) == pytest.approx(60.0, abs=0.2)
    assert len(ends) == 2


def test_a_flight_without_a_manoeuvre_has_no_lines():
    whole = Playback.of(flown("precision", "stall"))
    growing = Playback.live(whole.plane, "by hand")
    growing.append(whole.rows[0])
    assert references(growing) == ([], [])
    assert len(field(growing, station(growing))[0]) > 4


def test_the_pilot_keeps_a_second_plane_in_sight_while_it_is_near(flight):
    stand = station(flight)
    for time in np.linspace(flight.start, flight.end, 5):
        pose = flight.pose(time)
        far = float(np.linalg.norm(pose.position - stand.eye))
        for degrees in (0.0, 2.0, 10.0, 24.0):
            for way in (np.array([0.0, 0.0, -1.0]), stand.along):
                other = pose.position + far * math.radians(degrees) * way
                eye = camera("pilot", flight, pose, stand, SPAN, ASPECT, other=other)
                for place in (pose.position, other):
                    x, y = eye.seen_at(place)
                    assert 0.0 < x < 1.0 and 0.0 < y < 1.0
        gone = camera("pilot", flight, pose, stand, SPAN, ASPECT, other=stand.eye - (pose.position - stand.eye))
        assert gone.field == looked(flight, "pilot", time).field  # it is let go
