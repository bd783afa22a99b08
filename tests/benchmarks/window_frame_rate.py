"""Pictures a second of the replay window in software rendering: two flights, every panel, numbers and cursor following.

    python -m tests.benchmarks.window_frame_rate

The budget is 25 at 1280x720 on two cores (60 on ordinary hardware).  Runs on a screen of its own (Xvfb) with Mesa's
software renderer; each line is the mean over `FRAMES` pictures, a hundredth of a second of flight apart, and what share of
the time the processor worked for this process: where it is well under 100 %, others were using the machine.
"""

from __future__ import annotations

import os
import tempfile
import time
from pathlib import Path

FRAMES = 60
BUDGET = 25.0
LOOKS = (("pilot", ""), ("chase", ""), ("tip", ""), ("top", ""), ("chase", "forces slipstream"))
SIZES = ((1280, 720), (1920, 1080))


def main() -> None:
    from tests.viewer.window.screen import Screen

    with tempfile.TemporaryDirectory() as folder:
        screen = Screen(Path(folder), SIZES[-1])
        os.environ.update(DISPLAY=screen.display, LIBGL_ALWAYS_SOFTWARE="1")
        try:
            _measure()
        finally:
            screen.close()


def _measure() -> None:
    import pyglet

    pyglet.options.debug_gl = False  # as `viewer.window.replay` does
    from pyglet import gl

    from models.loader import load
    from scenarios.manoeuvres import fly_manoeuvre, load_manoeuvre
    from scenarios.playback import Playback, align
    from viewer.scene.offscreen import Look
    from viewer.window.replay_window import ReplayWindow

    manoeuvre, _ = load_manoeuvre("upline-45")
    first, second = (Playback.of(fly_manoeuvre(load(s).setup, manoeuvre)) for s in ("precision", "slow-3d"))
    for size in SIZES:
        window = ReplayWindow(first, second, align(first, second), Look(size=size))
        if size == SIZES[0]:
            print(window.context.get_info().get_renderer())
        for view, extra in LOOKS:
            for name in (view, *extra.split()):
                window.state.do(name)
            window.state.clock.seek(0.5)
            _draw(window)
            window.state.clock.play()
            began, worked = time.perf_counter(), time.process_time()
            for _ in range(FRAMES):
                window.state.clock.advance(0.01)
                _draw(window)
            gl.glFinish()
            took = time.perf_counter() - began
            window.state.clock.pause()
            rate, share = FRAMES / took, (time.process_time() - worked) / took
            label = f"{size[0]}x{size[1]}, {view}{', ' + extra if extra else ''}"
            print(
                f"{label:44}{rate:6.1f} a second   {100 * share:4.0f} % processor   {rate / BUDGET:5.2f} of the budget"
            )
        window.on_close()


def _draw(window) -> None:
    window.switch_to()
    window.dispatch_events()
    window.on_draw()
    window.flip()


if __name__ == "__main__":
    main()
