"""A window of OpenGL 3.3 that is drawn again only when something has changed."""

from __future__ import annotations

import pyglet
from pyglet import gl

from viewer.window.layout import LEAST_WINDOW


class DrawnOnChange(pyglet.window.Window):
    """`_dirty` asks for another picture; none is made once the window `is_over`."""

    def __init__(self, width: int, height: int, caption: str) -> None:
        config = gl.Config(major_version=3, minor_version=3, double_buffer=True, depth_size=24)
        super().__init__(width, height, caption=caption, resizable=True, config=config, vsync=False)
        self.set_minimum_size(*LEAST_WINDOW)
        self._dirty = True

    def is_over(self) -> bool:
        """Whether the window has been left."""
        raise NotImplementedError

    def draw(self, dt: float) -> None:
        """Called by the event loop at every beat; draws when something has changed."""
        if self._dirty and not self.is_over():
            super().draw(dt)

    def on_resize(self, width: int, height: int) -> None:
        """Everything is laid out anew at the next picture."""
        self._dirty = True

    def on_expose(self) -> None:
        """Something that covered the window has gone."""
        self._dirty = True

    def on_show(self) -> None:
        """The window appears."""
        self._dirty = True
