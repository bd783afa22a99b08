"""The window of a replay.  Imports pyglet, and what needs a screen, when it is opened."""

from __future__ import annotations

from models.errors import UserError

NO_SCREEN = (
    "replay: found no screen to open a window on; allowed: a desktop session; "
    "try: --picture FILE.png --at TIME or --movie FILE.mp4, which need none, only OpenGL "
    "(on Debian or Ubuntu: sudo apt-get install {packages})"
)


def replay(flight, second=None, alignment=None, look=None, at: float | None = None) -> int:
    """Open the window on one or two flights and wait until it is closed; returns the exit code.

    `alignment` lays `second` over `flight` (`scenarios.playback.align`); `look` (`viewer.scene.offscreen.Look`) is how it
    begins, `at` the instant, s.  Raises `UserError` where there is no screen or no OpenGL.
    """
    from viewer.scene.context import SYSTEM_PACKAGES, no_gl

    try:
        import pyglet

        pyglet.options.debug_gl = False  # or each of some 700 calls a picture is followed by a question for errors
        from viewer.scene.offscreen import Look
        from viewer.window.replay_window import ReplayWindow

        window = ReplayWindow(flight, second, alignment, look or Look(), at)
    except ModuleNotFoundError as missing:
        if missing.name != "pyglet":
            raise
        raise UserError(
            "replay: found no pyglet; allowed: pyglet 2.1 or later; try: pip install 'pyglet>=2.1'"
        ) from None
    except Exception as reason:
        # pyglet has a class of this name a window system, and connects as soon as it is imported
        if type(reason).__name__ == "NoSuchDisplayException":
            raise UserError(NO_SCREEN.format(packages=SYSTEM_PACKAGES)) from None
        if isinstance(reason, ImportError | RuntimeError) or type(reason).__module__.startswith("pyglet."):
            raise no_gl("replay", reason) from None
        raise
    window.activate()
    pyglet.app.run(1.0 / 60.0)
    return 0
