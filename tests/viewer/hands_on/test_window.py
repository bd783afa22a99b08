"""The real window under Xvfb, with software OpenGL, flown by xdotool: what is seen, what is flown, what is kept."""

import json
import os
import re
import subprocess
import sys

import numpy as np
import pytest

from scenarios.record import changes_of, fly_again, load
from sim.recording import INDEX
from tests.viewer.window.screen import Screen, Shown
from viewer.window import theme
from viewer.window.layout import arrange

pytest.importorskip("pyglet", reason="the window needs pyglet")
SIZE = (1280, 720)
PLACES = arrange(*SIZE, chart=False)
UPLINE = [sys.executable, "-m", "viewer.command_line", "hands-on"]


@pytest.fixture(scope="module")
def screen(tmp_path_factory):
    made = Screen(tmp_path_factory.mktemp("screen"), (1600, 900))
    made.environment["XDG_CONFIG_HOME"] = str(tmp_path_factory.mktemp("config"))
    made.environment["PYTHONPATH"] = os.getcwd()
    yield made
    made.close()


@pytest.fixture
def opened(screen, tmp_path, monkeypatch):
    """Opens `upline hands-on` with options, in an empty folder; waits until it is drawn."""
    monkeypatch.chdir(tmp_path)
    windows = []

    def open_(*options):
        shown = Shown(screen, [*UPLINE, *options], "upline hands-on")
        windows.append(shown)
        shown.settled(paused)
        return shown

    yield open_
    for shown in windows:
        shown.end()


def lit(picture, box) -> float:
    """The share of a box, counted from the lower left of a window in the upper left of the screen, that is filled."""
    rows = slice(round(SIZE[1] - box.top), round(SIZE[1] - box.y))
    pixels = picture[rows, round(box.x) : round(box.right)]
    return float((np.abs(pixels.astype(int) - theme.ON) <= 6).all(axis=-1).mean())


def space(picture) -> float:
    """How much of the button of the space bar is filled: it is while time runs."""
    button = PLACES.buttons.inset(PLACES.sizes.gap, PLACES.sizes.px(6)).columns(8)[0].inset(8)
    return lit(picture, button)


def flies(picture) -> bool:
    return space(picture) > 0.5


def paused(picture) -> bool:
    return space(picture) < 0.2 and lit(picture, PLACES.switches) > 0.02  # and the panels are there


def plane_on(picture) -> int:
    """Pixels in the middle of the view that are as dark as the plane's lower side: nothing of the sky is."""
    view = PLACES.view
    x, y = round(view.centre[0]), round(SIZE[1] - view.centre[1])
    pixels = picture[y - 120 : y + 15, x - 160 : x + 160]  # above the sheet of paper
    return int((pixels.astype(int).sum(axis=-1) < 200).sum())


def hold(shown, key, seconds):
    shown.screen.hands("keydown", key, "sleep", str(seconds), "keyup", key)


def test_a_flight_with_keys_is_seen_flown_and_kept(opened, tmp_path):
    shown = opened("precision", "--save", "mine")
    assert plane_on(shown.screen.picture()) > 300
    shown.screen.key("space")
    shown.settled(flies)
    hold(shown, "Down", 0.8)  # pulled
    shown.screen.key("minus", "minus", "r")  # the CG two millimetres forward, middle rates
    hold(shown, "Right", 0.5)
    hold(shown, "w", 0.4)
    shown.screen.key("space")
    picture = shown.settled(paused)
    assert plane_on(picture) > 150  # it is still looked at
    shown.screen.key("q")
    out, errors = shown.process.communicate(timeout=60)
    assert shown.process.returncode == 0, errors
    assert "Kept: mine" in out and "A simulation clears nothing to fly" in out
    again, same = fly_again(tmp_path / "mine")
    assert same is True
    inputs, arrays = load(tmp_path / "mine")
    column = {
        name: arrays["channels"][:, INDEX[name]]
        for name in ("time", "elevator stick", "pitch", "aileron stick", "throttle")
    }
    assert np.allclose(np.diff(column["time"]), 0.01)
    pulled = np.flatnonzero(column["elevator stick"] > 0.9)
    assert len(pulled) > 20
    assert column["pitch"][pulled[-1]] > column["pitch"][0] + 0.15  # rad: the nose has come up
    assert column["aileron stick"].max() > 0.9 and column["elevator stick"][-1] == 0.0
    assert column["throttle"][-1] > column["throttle"][0] + 0.1
    changed = changes_of(inputs, tmp_path / "mine")
    assert [(c.what, c.value) for c in changed] == [("cg", "158 mm"), ("cg", "157 mm"), ("rates", "middle")]


def test_leaving_offers_to_keep_the_flight(opened, tmp_path):
    shown = opened("slow-3d", "--start", "hover", "--view", "chase")
    shown.screen.key("space")
    shown.settled(flies)
    shown.screen.key("q")
    shown.settled(paused)
    assert shown.process.poll() is None  # it asks first
    shown.screen.key("k")
    out, errors = shown.process.communicate(timeout=60)
    assert shown.process.returncode == 0, errors
    assert "Kept: by-hand-slow-3d-1" in out and fly_again(tmp_path / "by-hand-slow-3d-1")[1] is True


def test_a_window_closed_from_outside_asks_once(opened, tmp_path):
    shown = opened("precision")
    shown.screen.key("space")
    shown.settled(flies)
    shown.ask_to_close()
    shown.settled(paused)
    assert shown.process.poll() is None  # it offers to keep the flight
    shown.ask_to_close()
    out, errors = shown.process.communicate(timeout=60)
    assert shown.process.returncode == 0, errors
    assert re.search(r"flown by hand for \d+\.\d s", out) and "--save DIR" in out
    assert list(tmp_path.iterdir()) == []


def test_a_controller_is_assigned_by_moving_it_flown_with_and_unplugged(screen, tmp_path):
    program = [sys.executable, "-m", "tests.viewer.hands_on.with_controller", str(tmp_path / "controllers.yaml")]
    done = subprocess.run(program, env=screen.environment, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    seen = json.loads(done.stdout.splitlines()[-1])
    assert "press C" in seen["note"]  # it is there, and nobody knows its sticks yet
    assert seen["assigned"] == {"throttle": "z", "aileron": "x", "elevator": "y", "rudder": "rz"}
    assert seen["hands"] == "Invented Sticks" and seen["pulled"] == 1.0
    assert seen["paused"] and "plug it in again" in seen["why"]
    assert seen["with keys"] == pytest.approx([0.0, 0.0, 0.0, 1.0])  # centred, the throttle where it was
