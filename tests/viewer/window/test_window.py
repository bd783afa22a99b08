"""The real window under Xvfb, with software OpenGL, driven by xdotool: what must be seen is looked for in the pixels."""

import os
import subprocess
import sys
import time

import numpy as np
import pytest

from scenarios.playback import load_playback
from tests.viewer.window.screen import Shown
from viewer.window import theme
from viewer.window.layout import Box, arrange

pytest.importorskip("pyglet", reason="the window needs pyglet")
SIZE = (1280, 720)
PLACES = arrange(*SIZE)
UPLINE = [sys.executable, "-m", "viewer.command_line"]


@pytest.fixture(scope="module")
def replay(screen, records):
    shown = Shown(screen, [*UPLINE, "replay", *map(str, records), "--view", "chase"], "upline replay")
    shown.settled(lambda p: is_colour(cut(p, PLACES.time_line), theme.CURSOR).sum() > 40)
    yield shown
    shown.end()


@pytest.fixture(scope="module")
def flight(records):
    return load_playback(records[0])


def cut(picture: np.ndarray, box: Box, size=SIZE) -> np.ndarray:
    """The pixels of a box that counts from the lower left corner of a window in the upper left one of the screen."""
    rows = slice(round(size[1] - box.top), round(size[1] - box.y))
    return picture[rows, round(box.x) : round(box.right)]


def is_colour(pixels: np.ndarray, colour, slack: int = 6) -> np.ndarray:
    return (np.abs(pixels.astype(int) - colour) <= slack).all(axis=-1)


def cursor(picture: np.ndarray, places=PLACES, size=SIZE) -> float | None:
    """The pixel column of the line in the chart: dark over most of the height, where no dot stands on it."""
    dark = is_colour(cut(picture, places.chart, size), theme.CURSOR).mean(axis=0)
    columns = np.flatnonzero(dark > 0.5)
    if not len(columns) or np.ptp(columns) > 3:
        return None
    return places.chart.x + columns.mean() + 0.5


def wait_for_cursor(replay, x: float, places=PLACES, size=SIZE) -> np.ndarray:
    """The picture in which the line stands at the column `x`; fails, and says where it stood, when that does not come."""

    def there(picture) -> bool:
        found = cursor(picture, places, size)
        return found is not None and abs(found - x) <= 1.6

    try:
        return replay.settled(there)
    except AssertionError:
        pytest.fail(f"the line should stand at {x:.1f}, and stands at {cursor(replay.screen.picture(), places, size)}")


def column(time_: float, flight, places=PLACES) -> float:
    share = (time_ - flight.start) / (flight.end - flight.start)
    return places.plot_left + share * (places.plot_right - places.plot_left)


def click(replay, x: float, y: float, size=SIZE) -> None:
    replay.screen.hands("mousemove", str(round(x)), str(round(size[1] - y)), "click", "1")


def test_the_plane_is_seen_and_the_panels_around_it(replay):
    picture = replay.settled()
    view = cut(picture, PLACES.view)
    height, width = view.shape[:2]
    middle = view[height // 4 : 3 * height // 4, 3 * width // 8 : 5 * width // 8]
    # the plane is in the middle of this view and has parts much darker and much lighter than sky and ground
    assert (middle.max(axis=2) < 90).sum() > 150
    assert is_colour(cut(picture, PLACES.chart), theme.FIRST).sum() > 500
    assert is_colour(cut(picture, PLACES.chart), theme.SECOND).sum() > 250  # dashed
    for part in ("sticks", "surfaces"):
        assert is_colour(cut(picture, getattr(PLACES, part)), theme.FIRST).sum() > 30, part


def test_keys_put_the_line_where_the_time_is(replay, flight):
    replay.screen.key("End")
    wait_for_cursor(replay, PLACES.plot_right)
    replay.screen.key("Home")
    wait_for_cursor(replay, PLACES.plot_left)
    replay.screen.key("Next")  # the start of the second phase
    wait_for_cursor(replay, column(flight.phases[1].start, flight))
    replay.screen.key(*["Right"] * 12)
    replay.screen.key(*["Left"] * 2)
    there = flight.phases[1].start + 10 * 0.01
    wait_for_cursor(replay, column(there, flight))


def test_it_plays_at_the_pace_of_the_clock_and_the_plane_moves(replay, flight):
    replay.screen.key("Home")
    before = wait_for_cursor(replay, PLACES.plot_left)
    replay.screen.key("space")
    began = time.monotonic()
    time.sleep(1.5)
    replay.screen.key("space")
    took = time.monotonic() - began
    after = replay.settled()
    played = (cursor(after) - PLACES.plot_left) / (PLACES.plot_right - PLACES.plot_left) * (flight.end - flight.start)
    assert 0.3 * took < played < took + 0.4
    changed = (cut(before, PLACES.view) != cut(after, PLACES.view)).any(axis=2)
    assert changed.mean() > 0.02
    # slow motion
    replay.screen.key("Home", "Down", "Down", "Down", "space")
    time.sleep(1.5)
    replay.screen.key("space", "Up", "Up", "Up")
    slow = (
        (cursor(replay.settled()) - PLACES.plot_left)
        / (PLACES.plot_right - PLACES.plot_left)
        * (flight.end - flight.start)
    )
    assert 0.02 < slow < 0.4


def test_the_mouse_pulls_the_time_line_and_the_chart(replay, flight):
    y = PLACES.time_line.centre[1]
    for share in (0.25, 0.8):
        x = PLACES.plot_left + share * (PLACES.plot_right - PLACES.plot_left)
        click(replay, x, y)
        wait_for_cursor(replay, x)
    hands = replay.screen.hands
    hands("mousemove", "400", str(SIZE[1] - 150), "mousedown", "1")
    hands("mousemove", "500", str(SIZE[1] - 150))
    hands("mousemove", "640", str(SIZE[1] - 120))
    wait_for_cursor(replay, 640)
    hands("mouseup", "1")
    hands("mousemove", "300", str(SIZE[1] - 150))
    wait_for_cursor(replay, 640)


def test_surfaces_are_drawn_the_way_they_stand(replay, flight):
    row = PLACES.surfaces.inset(PLACES.sizes.gap, PLACES.sizes.px(5)).rows(4)
    pulled = int(np.argmin(flight.surfaces[:, 2]))  # most elevator up
    click(replay, column(flight.time[pulled], flight), PLACES.time_line.centre[1])
    picture = wait_for_cursor(replay, column(flight.time[pulled], flight))
    cell = row[2]
    flap = is_colour(cut(picture, Box(cell.x, cell.y, 0.4 * cell.width, cell.height)), theme.FIRST)
    low = np.flatnonzero(flap.any(axis=1))
    columns = np.flatnonzero(flap.any(axis=0))
    tip = np.flatnonzero(flap[:, columns[-4]]).mean()
    hinge = np.flatnonzero(flap[:, columns[2]]).mean()
    assert len(low) and hinge - tip > 2  # rows count downwards: the trailing edge stands above the hinge
    slope = np.degrees(np.arctan2(hinge - tip, columns[-4] - columns[2]))
    assert slope == pytest.approx(-np.degrees(flight.surfaces[pulled, 2]), abs=4.0)


def test_views_and_switches_by_key_and_by_mouse(replay):
    replay.screen.key("Home", "2")
    wait_for_cursor(replay, PLACES.plot_left)
    pictures = [cut(replay.settled(), PLACES.view)]
    for name in ("1", "3", "4", "plus", "f"):
        replay.screen.key(name)
        pictures.append(cut(replay.settled(), PLACES.view))
    for before, after in zip(pictures, pictures[1:]):
        assert (before != after).any(axis=2).mean() > 0.001
    replay.screen.key("f", "minus", "2")
    assert np.array_equal(cut(replay.settled(), PLACES.view), pictures[0])
    # the first button of the column is the first view
    box = PLACES.switches
    click(replay, box.x + 0.25 * box.width, box.top - PLACES.sizes.px(4 + 14 + 8))
    assert np.array_equal(cut(replay.settled(), PLACES.view), pictures[1])
    replay.screen.key("2")


def test_another_measure_is_chosen_from_the_list(replay):
    before = cut(replay.settled(), PLACES.chart)
    click(replay, PLACES.chart.x + 40, PLACES.chart.top - 0.25 * PLACES.chart.height)  # the name of the first lane
    listed = cut(replay.settled(), PLACES.view)
    assert is_colour(listed, theme.PAPER_2).mean() > 0.2
    replay.screen.key("Right", "q")
    after = cut(replay.settled(), PLACES.chart)
    top = slice(20, len(after) // 4)
    assert (before[top] != after[top]).any(axis=2).mean() > 0.01
    assert replay.process.poll() is None


def test_it_can_be_resized(replay, flight):
    size = (1500, 840)
    replay.screen.hands("windowsize", replay.window, *map(str, size))
    places = arrange(*size)
    replay.screen.key("End")
    picture = wait_for_cursor(replay, places.plot_right, places, size)
    assert is_colour(cut(picture, places.buttons, size), theme.PAPER_2).mean() > 0.5
    replay.screen.hands("windowsize", replay.window, *map(str, SIZE))
    replay.screen.key("Home")
    wait_for_cursor(replay, PLACES.plot_left)


def test_closed_while_it_plays_it_ends_cleanly(replay):
    replay.screen.key("space")
    time.sleep(0.3)
    replay.ask_to_close()
    assert replay.process.wait(timeout=20) == 0
    assert replay.process.stderr.read() == ""


def test_one_flight_alone_and_the_key_that_closes(screen, records):
    alone = Shown(screen, [*UPLINE, "replay", str(records[0]), "--at", "start of hands off"], "upline replay")
    try:
        flight = load_playback(records[0])
        picture = wait_for_cursor(alone, column(flight.phases[2].start, flight))
        assert is_colour(cut(picture, PLACES.chart), theme.SECOND).sum() == 0
        screen.key("q")
        assert alone.process.wait(timeout=20) == 0
    finally:
        alone.end()


def refused(environment: dict, records) -> str:
    command = [*UPLINE, "replay", str(records[0])]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=120)
    assert done.returncode == 2 and done.stdout == "" and done.stderr.count("\n") == 1
    return done.stderr


def test_without_a_screen_the_message_names_the_way_out(records):
    environment = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
    said = refused(environment, records)
    assert said.startswith("upline: replay: found no screen") and "--picture FILE.png" in said and "libegl1" in said


def test_with_an_old_opengl_the_message_names_the_packages(screen, records):
    old = {"LIBGL_ALWAYS_SOFTWARE": "1", "MESA_GL_VERSION_OVERRIDE": "2.1"}  # Mesa then has no context of 3.3
    said = refused({**screen.environment, **old}, records)
    assert said.startswith("upline: replay: found no OpenGL 3.3") and "libgl1-mesa-dri" in said
