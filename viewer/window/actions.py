"""What can be done in the replay window: one table for keys, buttons and legend."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Action:
    """Something to do: its name, the keys (as pyglet calls them), the cap drawn on its button, and the words beside it."""

    name: str
    keys: tuple[str, ...]
    cap: str
    words: str


PLAYING = (
    Action("start", ("HOME",), "Home", "start"),
    Action("phase back", ("PAGEUP",), "PgUp", "\u25c2 phase"),
    Action("frame back", ("LEFT",), "\u2190", "frame"),
    Action("play", ("SPACE",), "Space", "play"),
    Action("frame ahead", ("RIGHT",), "\u2192", "frame"),
    Action("phase ahead", ("PAGEDOWN",), "PgDn", "phase \u25b8"),
    Action("end", ("END",), "End", "end"),
    Action("slower", ("DOWN",), "\u2193", "slower"),
    Action("faster", ("UP",), "\u2191", "faster"),
)
VIEWS = (
    Action("pilot", ("_1", "NUM_1"), "1", "pilot's place"),
    Action("chase", ("_2", "NUM_2"), "2", "from behind"),
    Action("tip", ("_3", "NUM_3"), "3", "wing tip"),
    Action("top", ("_4", "NUM_4"), "4", "from above"),
    Action("closer", ("PLUS", "EQUAL", "NUM_ADD"), "+", "closer"),
    Action("wider", ("MINUS", "NUM_SUBTRACT"), "\u2212", "wider"),
)
# beside the buttons for playing, so that it can be reached when the side panels are hidden
PANELS = (Action("column", ("TAB",), "Tab", "panels"),)
# fields of viewer.scene.scene.Switches
SWITCHES = (
    Action("forces", ("F",), "F", "forces"),
    Action("slipstream", ("J",), "J", "slipstream"),
    Action("stall", ("S",), "S", "stalled strips"),
    Action("ribbon", ("R",), "R", "path ribbon"),
    Action("propeller", ("P",), "P", "propeller disk"),
    Action("shadow", ("D",), "D", "shadow"),
    Action("references", ("B",), "B", "box and lines"),
    Action("ghost", ("G",), "G", "second flight"),
)
WINDOW = (
    Action("legend", ("L",), "L", "legend"),
    Action("measure", ("M",), "M", "measures"),
    Action("chart", ("C",), "C", "chart"),
    Action("meet", ("A",), "A", "meet: as asked"),
    Action("hands", ("H",), "H", "stick mode"),
    Action("full", ("F11", "W"), "W", "whole screen"),
    Action("close", ("Q", "ESCAPE"), "Q", "close"),
)
ALL = PLAYING + PANELS + VIEWS + SWITCHES + WINDOW
BY_NAME = {action.name: action for action in ALL}
BY_KEY = {key: action.name for action in ALL for key in action.keys}
