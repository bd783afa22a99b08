"""pyglet with a window system or without one, and what to say where there is no OpenGL."""

from __future__ import annotations

import warnings

from models.errors import UserError

SYSTEM_PACKAGES = "libgl1 libegl1 libegl-mesa0 libgl1-mesa-dri libfontconfig1 libfreetype6 fonts-dejavu-core"


def no_gl(what: str, reason: object) -> UserError:
    """The refusal to draw where OpenGL 3.3 is missing, with the packages that bring it."""
    words = " ".join(str(reason).split())[:160] or type(reason).__name__
    return UserError(
        f"{what}: found no OpenGL 3.3 to draw with ({words}); allowed: a graphics driver, or software rendering; "
        f"try, on Debian or Ubuntu: sudo apt-get install {SYSTEM_PACKAGES}"
    )


def headless_window(width: int, height: int, what: str = "replay"):
    """A context of `width` by `height` without a screen, current.  Raises `UserError` where none can be made."""
    try:
        import pyglet
    except ImportError:
        raise UserError(
            f"{what}: found no pyglet; allowed: pyglet 2.1 or later; try: pip install 'pyglet>=2.1'"
        ) from None
    pyglet.options.headless, pyglet.options.debug_gl = True, False  # asking for errors after every call takes longest
    try:
        with warnings.catch_warnings():  # what they say is in the reason
            warnings.simplefilter("ignore")
            from pyglet import gl

            config = gl.Config(major_version=3, minor_version=3, double_buffer=True, depth_size=24)
            window = pyglet.window.Window(width, height, config=config)
        window.switch_to()
        return window
    except Exception as reason:  # pyglet raises many kinds: missing libraries, no display, no such configuration
        raise no_gl(what, reason) from None
