"""How many frames of flight are due by the clock; where the machine cannot keep up, time runs slower and says so."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable

from sim.integration import FRAME

MOST_BEHIND = 0.25  # s: what the flight lags more than this behind the clock is given up, never caught up with
OVER = 2.0  # s that the factor is told over
SLOW = 0.97  # factor under which it is worth a word


class Pace:
    """Frames of 10 ms by a clock: `now` gives its seconds.  Every frame that is due is one to fly: none is skipped.

    Between two looks at most MOST_BEHIND of flight is due; a clock that went on for longer leaves the flight behind,
    and `factor` is then less than 1.
    """

    def __init__(self, now: Callable[[], float] = time.perf_counter) -> None:
        self._now = now
        self.start()

    def start(self) -> None:
        """From now on; what went by in a pause is nobody's debt."""
        self._last, self._owed = self._now(), 0.0
        self._seen: deque[tuple[float, int]] = deque([(self._last, 0)])

    def due(self) -> int:
        """Frames to fly before the next picture."""
        now = self._now()
        self._owed = min(self._owed + max(0.0, now - self._last), MOST_BEHIND)
        self._last = now
        frames = int(self._owed / FRAME + 1e-9)
        self._owed = max(0.0, self._owed - frames * FRAME)
        self._seen.append((now, frames))
        while len(self._seen) > 2 and now - self._seen[0][0] > OVER:
            self._seen.popleft()
        return frames

    @property
    def factor(self) -> float:
        """Flight time over clock time lately: 1 when it keeps up."""
        span = self._seen[-1][0] - self._seen[0][0]
        if span <= 0.0:
            return 1.0
        flown = sum(frames for _, frames in list(self._seen)[1:]) * FRAME
        return min(1.0, (flown + FRAME) / span) if flown + FRAME < span else 1.0

    @property
    def words(self) -> str:
        """What the screen says when the machine is too slow; "" when it keeps up."""
        span = self._seen[-1][0] - self._seen[0][0]
        if span < 0.5 * OVER or self.factor >= SLOW:
            return ""
        return f"too slow here: time runs at {self.factor:.2f} of real time"
