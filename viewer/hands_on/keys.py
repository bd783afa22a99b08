"""Sticks moved by keys: out while a key is held, back to the centre when it is let go; the throttle stays."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from sim.integration import FRAME

OUT, BACK = 4.0, 6.0  # half-travels a second; a practised thumb moves at 4 to 5 (common practice, no source)
THROTTLE = 0.6  # travels a second
GENTLE = 0.4  # share of travel and of speed with the gentle key held
# what a key can ask for: stick and direction
WAYS = {
    "roll left": (0, -1.0), "roll right": (0, 1.0), "nose down": (1, -1.0), "nose up": (1, 1.0), "yaw left": (2, -1.0),
    "yaw right": (2, 1.0), "less throttle": (3, -1.0), "more throttle": (3, 1.0),
}  # fmt: skip


class KeySticks:
    """Four sticks (aileron, elevator, rudder -1..1, throttle 0..1) that keys move, a frame at a time."""

    def __init__(self) -> None:
        self.sticks = np.zeros(4)
        self.held: set[str] = set()
        self.gentle = False

    def stand_at(self, sticks: Iterable[float]) -> None:
        """Put the sticks somewhere, as at the start of a flight."""
        self.sticks[:] = list(sticks)

    def frame(self) -> np.ndarray:
        """Where the sticks stand one frame later, shape (4,)."""
        share = GENTLE if self.gentle else 1.0
        pushed = np.zeros(4)
        for way in self.held:
            stick, direction = WAYS[way]
            pushed[stick] += direction
        for stick in range(3):
            goal = share * float(np.sign(pushed[stick]))
            now = float(self.sticks[stick])
            outward = goal != 0.0 and abs(goal) > abs(now) and now * goal >= 0.0
            step = (share * OUT if outward else BACK) * FRAME
            self.sticks[stick] = now + min(step, max(-step, goal - now))
        moved = self.sticks[3] + share * THROTTLE * FRAME * float(np.sign(pushed[3]))
        self.sticks[3] = min(1.0, max(0.0, moved))
        return self.sticks.copy()
