"""From a session to its window and back: opened, waited for, and what was flown put away whatever happens."""

from __future__ import annotations

import sys
from pathlib import Path

from models.errors import UserError
from viewer.hands_on.session import Session
from viewer.text import say

NO_SCREEN = (
    "hands-on: found no screen to open a window on; allowed: a desktop session; "
    "try: upline fly MANOEUVRE --setup SETUP, where a simulated pilot flies"
)


def fly_by_hand(session: Session, assignments: Path, view: str, assign: bool) -> None:
    """Open the window on `session` and wait until it is closed.  Raises `UserError` where none can be opened.

    What has been flown and is to be kept is kept when this returns or raises; a window that breaks keeps the flight
    where no flight was asked to be kept, too, and says where.
    """
    window = _opened(session, assignments, view, assign)
    import pyglet

    try:
        window.activate()
        pyglet.app.run(1.0 / 60.0)
    except BaseException:
        place = session.keeper.rescue(session.last)
        if place is not None:
            say(f"upline: the flight so far is kept as {place}", sys.stderr)
        window.close()
        raise
    if session.keeper.always:
        session.keeper.rescue(session.last)


def check_screen() -> None:
    """Raises `UserError` where there is no pyglet, no screen or no OpenGL to open a window with."""
    from viewer.scene.context import no_gl

    try:
        import pyglet
    except ImportError:
        advice = "pip install 'pyglet>=2.1'"
        raise UserError(f"hands-on: found no pyglet; allowed: pyglet 2.1 or later; try: {advice}") from None
    pyglet.options.debug_gl = False  # asking for errors after every call takes longest
    try:
        import pyglet.window  # noqa: F401  which makes a window already, one that is not seen
    except Exception as reason:  # pyglet raises many kinds: missing libraries, no display, no such configuration
        if type(reason).__name__ == "NoSuchDisplayException":
            raise UserError(NO_SCREEN) from None
        raise no_gl("hands-on", reason) from None


def _opened(session: Session, assignments: Path, view: str, assign: bool):
    """The window.  Raises `UserError` where there is no OpenGL that is good enough."""
    from pyglet.window import NoSuchConfigException

    from viewer.hands_on.window import HandsOnWindow
    from viewer.scene.context import no_gl

    try:
        return HandsOnWindow(session, assignments, view, assign)
    except NoSuchConfigException as reason:
        raise no_gl("hands-on", reason) from None
