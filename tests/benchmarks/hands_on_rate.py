"""Pictures a second of the hands-on window at 1280x720, and whether the flight keeps time beside them.

`python -m tests.benchmarks.hands_on_rate [VIEW] [SECONDS]`, on a screen or under Xvfb (xvfb-run -s "-screen 0 1280x720x24").
"""

import sys
import tempfile
import time
from pathlib import Path

import pyglet

from models.loader import load
from scenarios.live import ByHand, start_text
from sim.integration import FRAME
from viewer.hands_on.keeping import Keeper
from viewer.hands_on.session import Session


def measure(view: str = "pilot", seconds: float = 8.0) -> tuple[float, float, float]:
    """Pictures a second, flight time over clock time, and microseconds of a frame without a window."""
    pyglet.options.debug_gl = False
    from viewer.hands_on.window import HandsOnWindow

    loaded, start = load("precision"), start_text()
    alone = ByHand(loaded.setup, start)
    alone.fly(alone.sticks0)
    begun = time.perf_counter()
    for _ in range(2000):
        alone.fly(alone.sticks0)
    frame = (time.perf_counter() - begun) / 2000
    session = Session(loaded.setup, start, Keeper(loaded.texts, None, None, "precision"))
    window = HandsOnWindow(session, Path(tempfile.gettempdir()) / "no-such-file.yaml", view)
    counted: list[float] = []

    def begin(_: float) -> None:
        session.go_on()
        counted.append(time.perf_counter())
        window.pictures = 0

    def end(_: float) -> None:
        counted.append(time.perf_counter())
        window.on_close()

    pyglet.clock.schedule_once(begin, 1.0)
    pyglet.clock.schedule_once(end, 1.0 + seconds)
    window.activate()
    pyglet.app.run(1.0 / 60.0)
    span = counted[1] - counted[0]
    return window.pictures / span, session.flight.live.frames * FRAME / span, 1e6 * frame


if __name__ == "__main__":
    pictures, kept, frame = measure(*(kind(word) for kind, word in zip((str, float), sys.argv[1:])))
    print(f"{pictures:.1f} pictures a second, {kept:.2f} of real time, {frame:.0f} us a frame without a window")
