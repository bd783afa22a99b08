"""What a replay window shows, and what each action changes; no window is needed for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from viewer.window import actions
from viewer.window.channels import ALL, USUAL
from viewer.window.clock import Clock

CLOSER = 1.2  # how much a step of zoom changes
WIDEST, CLOSEST = 0.2, 8.0
VIEW_NAMES = ("pilot", "chase", "tip", "top")


@dataclass
class State:
    """The instant, the view, and what is switched on.  `switches` is a frozen dataclass of flags."""

    clock: Clock
    switches: Any
    phases: Sequence[tuple[str, float, float]] = ()
    two: bool = False
    meetings: Sequence[str] = ()  # phases that both flights have: they can be laid over each other where one begins
    meeting: int | None = None  # which of them; None as the window was opened
    view: str = "pilot"
    zoom: dict[str, float] = field(default_factory=lambda: dict.fromkeys(VIEW_NAMES, 1.0))
    channels: list[str] = field(default_factory=lambda: list(USUAL))
    legend: bool = True
    chart: bool = True
    column: bool = True
    full: bool = False
    hands: int = 2
    choosing: int | None = None  # the lane whose measure is being chosen
    closed: bool = False

    def offered(self, name: str) -> bool:
        """Whether an action makes sense for these flights."""
        return self.two or name not in ("ghost", "meet")

    def do(self, name: str) -> None:
        """Do what the action of this name says."""
        clock = self.clock
        begins = [start for _, start, _ in self.phases]
        if self.choosing is not None and name in _IN_LIST:
            self._in_list(name)
        elif name in VIEW_NAMES:
            self.view = name
        elif name in _FLAGS:
            setattr(self, name, not getattr(self, name))
        elif name in ("closer", "wider"):
            factor = CLOSER if name == "closer" else 1.0 / CLOSER
            self.zoom[self.view] = min(CLOSEST, max(WIDEST, self.zoom[self.view] * factor))
        elif name == "meet":
            following = 0 if self.meeting is None else self.meeting + 1
            self.meeting = following if following < len(self.meetings) else None
        elif name == "hands":
            self.hands = self.hands % 4 + 1
        elif name == "measure":
            self.choosing = 0 if self.choosing is None else self.choosing + 1
            self.chart = True
            if self.choosing >= len(self.channels):
                self.choosing = None
        elif name == "close":
            self.closed = self.choosing is None
            self.choosing = None
        elif name == "play":
            clock.toggle()
        elif name in ("slower", "faster"):
            getattr(clock, name)()
        elif name in ("frame back", "frame ahead"):
            clock.step(1 if name == "frame ahead" else -1)
        elif name in ("phase back", "phase ahead"):
            clock.to_mark(begins, name == "phase ahead")
        elif name in ("start", "end"):
            clock.seek(getattr(clock, name))
        elif self.offered(name):
            self.switches = replace(self.switches, **{name: not getattr(self.switches, name)})

    def _in_list(self, name: str) -> None:
        """The arrows pick the measure before or after the one that the lane shows."""
        names = list(ALL)
        step = 1 if name in ("slower", "frame ahead") else -1
        at = names.index(self.channels[self.choosing])
        self.channels[self.choosing] = names[(at + step) % len(names)]

    def choose(self, channel: str) -> None:
        """Show `channel` in the lane that is being chosen for."""
        if self.choosing is not None and channel in ALL:
            self.channels[self.choosing] = channel
            self.choosing = None

    def on(self) -> set[str]:
        """The names of the actions that are switched on."""
        lit = {self.view} | {name for name in _FLAGS if getattr(self, name)}
        lit |= {action.name for action in actions.SWITCHES if getattr(self.switches, action.name, False)}
        if self.clock.playing:
            lit.add("play")
        if self.choosing is not None:
            lit.add("measure")
        return lit


_FLAGS = ("legend", "chart", "column", "full")
_IN_LIST = ("frame back", "frame ahead", "slower", "faster")
