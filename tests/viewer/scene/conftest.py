"""A context without a screen for the tests that draw; they are skipped where there is no OpenGL."""

import numpy as np
import pytest

from models.errors import UserError
from scenarios.playback import Playback
from tests.scenarios.flying import flown

SIZE = (640, 360)


@pytest.fixture(scope="session")
def gl_window():
    """A window of SIZE without a screen."""
    from viewer.scene.context import headless_window

    try:
        window = headless_window(*SIZE)
    except UserError as reason:
        pytest.skip(str(reason))
    yield window
    window.close()


@pytest.fixture
def picture(gl_window):
    """`picture(flight, time, view, switches, ghost, alignment)` gives the pixels, (height, width, 3) as int, and what was shown."""
    from viewer.scene.gl import Target
    from viewer.scene.looks import Switches
    from viewer.scene.scene import Scene

    made = []

    def draw(flight, time, view="chase", switches=None, ghost=None, alignment=None, samples=0):
        gl_window.switch_to()
        target, scene = Target(*SIZE, samples), Scene(flight, ghost, alignment)
        made.extend((target, scene))
        target.bind()
        shown = scene.draw((0, 0, *SIZE), time, view, switches or Switches())
        return target.pixels().astype(int), shown

    yield draw
    for thing in made:
        thing.delete()


@pytest.fixture(scope="session")
def stall():
    """A stall, played back."""
    return Playback.of(flown("precision", "stall"))


def posed(flight, frame, **changed):
    """A flight of one frame: `frame` of another one with parts of its state changed, by offset in `sim.layout`."""
    from sim import layout as L
    from sim.recording import STATE_AT

    row = flight.rows[frame].copy()
    for name, values in changed.items():
        values = np.atleast_1d(values)
        at = STATE_AT + getattr(L, name)
        row[at : at + len(values)] = values
    still = Playback.live(flight.plane, "posed")
    still.append(row)
    return still
