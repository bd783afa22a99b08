"""The clock of a replay: which instant is shown, and what playing, stepping and scrubbing do to it."""

from __future__ import annotations

import bisect
from collections.abc import Sequence

SPEEDS = (1 / 8, 1 / 4, 1 / 2, 1.0, 2.0)
LONGEST_TICK = 0.25  # s: after a stall of the machine the replay goes on from where it was seen last
TOUCHING = 1e-9  # s: times closer than this are the same


class Clock:
    """The instant shown of frames at `times` (s, ascending), between `start` and `end`.  It does not loop."""

    def __init__(self, times: Sequence[float], start: float | None = None, end: float | None = None) -> None:
        self.times = [float(t) for t in times]
        self.start = self.times[0] if start is None else float(start)
        self.end = self.times[-1] if end is None else float(end)
        self.time = self.start
        self.playing = False
        self.speed = 1.0
        self._grabbed = False
        self._resume = False

    def reach(self, start: float, end: float) -> None:
        """Let time run from `start` to `end` (s)."""
        self.start, self.end = float(start), float(end)
        self.seek(self.time)

    @property
    def ended(self) -> bool:
        """Whether the last instant is shown."""
        return self.time >= self.end - TOUCHING

    @property
    def speed_words(self) -> str:
        """The speed as people write it: "1/8", "1", "2"."""
        return f"{self.speed:.0f}" if self.speed >= 1.0 else f"1/{1 / self.speed:.0f}"

    def advance(self, seconds: float) -> bool:
        """Let `seconds` of the wall clock pass; True where another instant is shown.  It pauses at the end."""
        if not self.playing or self._grabbed:
            return False
        before = self.time
        self.time = min(self.end, self.time + self.speed * min(max(seconds, 0.0), LONGEST_TICK))
        if self.ended:
            self.time, self.playing = self.end, False
        return self.time != before

    def play(self) -> None:
        """Go on; from the start where the end is shown."""
        if self.ended:
            self.time = self.start
        self.playing = True

    def pause(self) -> None:
        """Stand still."""
        self.playing = self._resume = False

    def toggle(self) -> None:
        """Play or pause."""
        self.pause() if self.playing else self.play()

    def faster(self) -> None:
        """The next higher speed, if there is one."""
        self.speed = next((s for s in SPEEDS if s > self.speed), SPEEDS[-1])

    def slower(self) -> None:
        """The next lower speed, if there is one."""
        self.speed = next((s for s in reversed(SPEEDS) if s < self.speed), SPEEDS[0])

    def seek(self, time: float) -> None:
        """Show the instant `time`, or the end of the flight that is nearest to it."""
        self.time = min(self.end, max(self.start, float(time)))

    def step(self, frames: int) -> None:
        """Pause and show the frame that lies `frames` ahead (negative: back); between frames, the next one that way."""
        self.pause()
        if frames > 0:
            at = bisect.bisect_right(self.times, self.time + TOUCHING) - 1 + frames
        else:
            at = bisect.bisect_left(self.times, self.time - TOUCHING) + frames
        if at < 0:
            self.seek(self.start)
        elif at >= len(self.times):
            self.seek(self.end)
        else:
            self.seek(self.times[at])

    def to_mark(self, marks: Sequence[float], ahead: bool) -> None:
        """Show the next of `marks` (s) ahead, or the one before; the start or the end where there is none."""
        if ahead:
            self.seek(min((m for m in marks if m > self.time + TOUCHING), default=self.end))
        else:
            self.seek(max((m for m in marks if m < self.time - TOUCHING), default=self.start))

    def grab(self) -> None:
        """The time line is held: time stands still until `let_go`."""
        self._grabbed, self._resume = True, self.playing

    def let_go(self) -> None:
        """The time line is let go: a flight that was playing goes on, unless it is held at its end."""
        self._grabbed = False
        self.playing = self._resume and not self.ended
