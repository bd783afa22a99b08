"""What can be done in the hands-on window: one table for keys, buttons and the sheet that lists them."""

from __future__ import annotations

from viewer.window.actions import Action

# what is held, not pressed: stick and way (viewer.hands_on.keys.WAYS), keys as pyglet calls them, and as a pilot does
HELD = (
    ("nose up", ("DOWN",), "\u2193", "pull: nose up"),
    ("nose down", ("UP",), "\u2191", "push: nose down"),
    ("roll left", ("LEFT",), "\u2190", "roll left"),
    ("roll right", ("RIGHT",), "\u2192", "roll right"),
    ("yaw left", ("A",), "A", "rudder left"),
    ("yaw right", ("D",), "D", "rudder right"),
    ("more throttle", ("W",), "W", "more throttle"),
    ("less throttle", ("S",), "S", "less throttle"),
)
GENTLE = ("LSHIFT", "RSHIFT")
FLYING = (
    Action("go", ("SPACE",), "Space", "fly"),
    Action("anew", ("BACKSPACE",), "\u232b", "start anew"),
    Action("keep", ("K",), "K", "keep flight"),
    Action("rates", ("R",), "R", "rates"),
    Action("mode", ("M",), "M", "flight mode"),
    Action("less", ("MINUS", "NUM_SUBTRACT"), "\u2212", "less"),
    Action("more", ("PLUS", "EQUAL", "NUM_ADD"), "+", "more"),
    Action("before", ("PAGEUP",), "PgUp", "list up"),
    Action("next", ("PAGEDOWN",), "PgDn", "list down"),
)
LOOKING = (
    Action("pilot", ("_1", "NUM_1"), "1", "pilot's place"),
    Action("chase", ("_2", "NUM_2"), "2", "from behind"),
    Action("tip", ("_3", "NUM_3"), "3", "wing tip"),
    Action("top", ("_4", "NUM_4"), "4", "from above"),
    Action("ribbon", ("P",), "P", "path"),
    Action("forces", ("F",), "F", "forces"),
    Action("slipstream", ("J",), "J", "slipstream"),
    Action("hands", ("H",), "H", "stick mode"),
    Action("assign", ("C",), "C", "controller"),
    Action("leave", ("Q", "ESCAPE"), "Q", "leave"),
)
ALL = FLYING + LOOKING
BY_KEY = {key: action.name for action in ALL for key in action.keys}
WAY_BY_KEY = {key: way for way, keys, _, _ in HELD for key in keys}
