"""The window with a controller that is not there, for `test_window`: assigned by moving it, flown with, its plug pulled.

Run as a program on a screen; it prints what it saw.
"""

import json
import sys
import time
from pathlib import Path

import pyglet

from models.loader import load
from scenarios.live import start_text
from tests.viewer.hands_on.fake_device import joystick
from viewer.hands_on import window as W
from viewer.hands_on.assignments import read_assignments
from viewer.hands_on.controllers import Controller
from viewer.hands_on.keeping import Keeper
from viewer.hands_on.session import Session

FULL = 32767


def main(file: Path) -> dict:
    """Assign, fly, unplug, go on with the keys; what was seen on the way."""
    from pyglet.window import key

    device = joystick().device
    W.plugged_in = lambda: ([Controller(device)], "") if device.connected else ([], "")
    loaded = load("precision")
    session = Session(loaded.setup, start_text(), Keeper(loaded.texts, None, None, "precision"))
    window = W.HandsOnWindow(session, file)
    seen = {"note": session.note}

    def press(symbol):
        window.on_key_press(symbol, 0)
        window.on_key_release(symbol, 0)

    def picture():
        time.sleep(1.5 * W.BEAT)
        pyglet.clock.tick()
        window.switch_to()
        window.on_draw()
        window.flip()

    picture()
    device.move(x=0, y=0, z=0, rz=0)
    press(key.C)
    for axis, hold in (("z", FULL), ("x", FULL), ("y", -FULL), ("rz", FULL)):
        for end in (-hold, hold):
            device.move(**{axis: end})
            picture()
        if axis == "x":  # with a button of its own instead of a key
            device.button.value = True
            picture()
            device.button.value = False
            picture()
        else:
            press(key.RETURN)
        if axis != "z":
            device.move(**{axis: 0})
    press(key.RETURN)
    seen["assigned"] = {name: travel.axis for name, travel in read_assignments(file)["Invented Sticks"].sticks.items()}
    seen["hands"] = session.hands
    press(key.SPACE)
    device.move(y=-FULL)
    while session.flight.live.frames < 40:
        picture()
    seen["pulled"] = float(session.row[21])
    device.unplug()
    picture()
    picture()
    seen["why"], seen["paused"] = session.why, session.paused
    press(key.SPACE)
    frames = session.flight.live.frames
    while session.flight.live.frames < frames + 40:
        picture()
    seen["with keys"] = [float(v) for v in session.row[20:24]]
    window.on_close()
    return seen


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1]))))
