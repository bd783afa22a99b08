"""How fast the scene is drawn: pictures a second without a screen, by view, plain and with everything switched on.

python -m tests.benchmarks.scene_frame_rate [WIDTHxHEIGHT]

Budget: 25 a second at 1280x720 by software rendering.  The time is that of drawing until it is finished, words included;
reading the picture back is counted apart, for a window does not.  In brackets: processor time of a picture in ms, the
renderer's threads included, which other work on the machine hardly touches.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from models.loader import load_setup
from scenarios.manoeuvres import fly_manoeuvre, load_manoeuvre
from scenarios.playback import Playback
from viewer.scene.context import headless_window

PICTURES = 40
BUDGET = 25.0


def main(size: tuple[int, int] = (1280, 720)) -> int:
    """Print the table; 1 where a plain view stays below the budget."""
    flights = [
        Playback.of(fly_manoeuvre(load_setup(name), load_manoeuvre("upline-45")[0]))
        for name in ("precision", "extreme")
    ]
    window = headless_window(*size)
    from pyglet import gl

    from viewer.scene.cameras import VIEWS
    from viewer.scene.gl import Target
    from viewer.scene.legend import Legend
    from viewer.scene.looks import Switches
    from viewer.scene.scene import Scene

    window.switch_to()
    renderer = gl.gl_info.get_renderer()
    target, smooth = Target(*size, 0), Target(*size, 4)
    plain, both = Scene(flights[0]), Scene(*flights)
    usual, everything = Switches(), Switches(slipstream=True, forces=True)
    print(f"{renderer}, {size[0]} x {size[1]}, pictures a second (median of {PICTURES})")
    slow = False
    for view in VIEWS:
        row = []
        for scene, switches, onto in ((plain, usual, target), (both, everything, target), (both, everything, smooth)):
            legend = Legend(scene)
            taken = [_one(scene, legend, onto, 2.0 + 0.04 * n, view, switches) for n in range(PICTURES)]
            clock, work = np.median(taken, axis=0)
            row.append((1.0 / clock, 1000.0 * work))
            legend.delete()
        slow = slow or row[0][0] < BUDGET
        named = zip(("one flight", "two, everything", "the same, edges smoothed"), row)
        print(f"{view:6s} " + "   ".join(f"{name} {rate:4.0f} ({work:.0f})" for name, (rate, work) in named))
    begin = time.perf_counter()
    for _ in range(10):
        smooth.bind()
        smooth.pixels()
    print(f"reading a smoothed picture back {(time.perf_counter() - begin) * 100.0:.1f} ms")
    return 1 if slow else 0


def _one(scene, legend, target, at: float, view: str, switches) -> tuple[float, float]:
    from pyglet import gl

    box = (0, 0, target.width, target.height)
    begin, work = time.perf_counter(), time.process_time()
    target.bind()
    shown = scene.draw(box, at, view, switches)
    legend.draw(box, shown, switches, view)
    gl.glFinish()
    return time.perf_counter() - begin, time.process_time() - work


if __name__ == "__main__":
    width, _, height = (sys.argv[1] if len(sys.argv) > 1 else "1280x720").partition("x")
    sys.exit(main((int(width), int(height))))
