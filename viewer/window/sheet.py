"""What a panel is drawn on: shapes that stay, shapes that move, and words; a few calls to OpenGL for all of them."""

from __future__ import annotations

import ctypes

import numpy as np
import pyglet
from pyglet import gl

from viewer.window import mesh

FONTS = ("DejaVu Sans", "Liberation Sans", "Segoe UI", "Helvetica Neue", "Arial")
_VERTEX = """#version 330 core
in vec2 position;
in vec4 colour;
out vec4 shade;
uniform vec2 size;
void main() { gl_Position = vec4(2.0 * position / size - 1.0, 0.0, 1.0); shade = colour; }
"""
_FRAGMENT = """#version 330 core
in vec4 shade;
out vec4 final;
void main() { final = shade; }
"""
_CORNER = np.dtype([("position", np.float32, 2), ("colour", np.uint8, 4)])


def _program():
    return pyglet.gl.current_context.create_program((_VERTEX, "vertex"), (_FRAGMENT, "fragment"))


class Ink:
    """Shapes that are drawn together: wipe, add, lay; until they are laid again, drawing them is one call."""

    def __init__(self) -> None:
        self._meshes: list[mesh.Mesh] = []
        self._count = 0
        self._program = _program()
        self._array, self._buffer = gl.GLuint(), gl.GLuint()
        gl.glGenVertexArrays(1, self._array)
        gl.glGenBuffers(1, self._buffer)
        gl.glBindVertexArray(self._array)
        gl.glBindBuffer(gl.GL_ARRAY_BUFFER, self._buffer)
        stride = _CORNER.itemsize
        at = self._program.attributes["position"]["location"]
        gl.glEnableVertexAttribArray(at)
        gl.glVertexAttribPointer(at, 2, gl.GL_FLOAT, gl.GL_FALSE, stride, ctypes.c_void_p(0))
        at = self._program.attributes["colour"]["location"]
        gl.glEnableVertexAttribArray(at)
        gl.glVertexAttribPointer(at, 4, gl.GL_UNSIGNED_BYTE, gl.GL_TRUE, stride, ctypes.c_void_p(8))
        gl.glBindVertexArray(0)

    def wipe(self) -> None:
        """Begin anew; what was laid stays until the next `lay`."""
        self._meshes = []

    def rectangle(self, box, colour) -> None:
        """As `mesh.rectangle`."""
        self._meshes.append(mesh.rectangle(box, colour))

    def frame(self, box, colour, width: float) -> None:
        """As `mesh.frame`."""
        self._meshes.append(mesh.frame(box, colour, width))

    def polygon(self, points, colour) -> None:
        """As `mesh.polygon`."""
        self._meshes.append(mesh.polygon(points, colour))

    def line(self, points, colour, width: float, dash: float = 0.0) -> None:
        """As `mesh.line`."""
        self._meshes.append(mesh.line(points, colour, width, dash))

    def disk(self, x: float, y: float, radius: float, colour) -> None:
        """As `mesh.disk`."""
        self._meshes.append(mesh.disk(x, y, radius, colour))

    def ring(self, x: float, y: float, radius: float, colour, width: float) -> None:
        """As `mesh.ring`."""
        self._meshes.append(mesh.ring(x, y, radius, colour, width))

    def lay(self) -> None:
        """Hand what was added to the graphics card."""
        corners, colours = mesh.joined(self._meshes)
        data = np.empty(len(corners), dtype=_CORNER)
        data["position"], data["colour"] = corners, colours
        self._count = len(data)
        gl.glBindBuffer(gl.GL_ARRAY_BUFFER, self._buffer)
        gl.glBufferData(gl.GL_ARRAY_BUFFER, data.nbytes, data.ctypes.data_as(ctypes.c_void_p), gl.GL_DYNAMIC_DRAW)
        gl.glBindBuffer(gl.GL_ARRAY_BUFFER, 0)

    def draw(self, size: tuple[float, float]) -> None:
        """Draw what was laid into a framebuffer of `size` pixels."""
        if self._count:
            self._program.use()
            self._program["size"] = size
            gl.glEnable(gl.GL_BLEND)
            gl.glBlendFunc(gl.GL_SRC_ALPHA, gl.GL_ONE_MINUS_SRC_ALPHA)
            gl.glBindVertexArray(self._array)
            gl.glDrawArrays(gl.GL_TRIANGLES, 0, self._count)
            gl.glBindVertexArray(0)
            self._program.stop()

    def delete(self) -> None:
        """Give the memory back."""
        gl.glDeleteVertexArrays(1, self._array)
        gl.glDeleteBuffers(1, self._buffer)


class Words:
    """A line of text; saying the same again costs nothing."""

    def __init__(
        self, batch, text: str, x: float, y: float, size: float, colour, anchor: str, bold: bool, group
    ) -> None:
        self._label = pyglet.text.Label(
            text, font_name=FONTS, font_size=size, dpi=72, weight="bold" if bold else "normal", color=(*colour, 255),
            x=round(x), y=round(y), anchor_x=anchor, anchor_y="center", batch=batch,
            group=group,
        )  # fmt: skip

    @property
    def text(self) -> str:
        """What it says."""
        return self._label.text

    @property
    def width(self) -> float:
        """Its width in pixels."""
        return self._label.content_width

    def say(self, text: str) -> None:
        """Show `text`."""
        if text != self._label.text:
            self._label.text = text

    def fit(self, width: float) -> None:
        """Leave out what does not fit into `width` pixels, and say so by dots."""
        text = self._label.text
        while len(text) > 1 and self._label.content_width > width:
            most = min(len(text) - 1, int(len(text) * width / self._label.content_width) + 1)
            text = text[:most]
            self._label.text = text.rstrip() + "\u2026"

    def move(self, x: float, y: float) -> None:
        """Put it elsewhere."""
        place = (round(x), round(y), 0)
        if place != self._label.position:
            self._label.position = place

    def turn_up(self) -> None:
        """Turn it by a quarter, to be read from below upwards, about its own place."""
        self._label.rotation = -90

    def tint(self, colour) -> None:
        """Its colour."""
        if tuple(self._label.color[:3]) != tuple(colour):
            self._label.color = (*colour, 255)

    def delete(self) -> None:
        """Take it away."""
        self._label.delete()


class Sheet:
    """The drawing of a panel: `ground` below, `moving` above it, words on top."""

    def __init__(self) -> None:
        self.ground, self.moving = Ink(), Ink()
        self._batch = pyglet.graphics.Batch()
        self._behind, self._before = pyglet.graphics.Group(order=0), pyglet.graphics.Group(order=1)
        self._words: list = []  # and shapes

    def words(self, text: str, x: float, y: float, size: float, colour, anchor: str = "left", bold: bool = False,
              within: float | None = None, behind: bool = False) -> Words:  # fmt: skip
        """A line of text whose middle is at height y, `anchor` "left", "center" or "right" of x; `behind` all others, or not."""
        group = self._behind if behind else self._before
        words = Words(self._batch, text, x, y, size, colour, anchor, bold, group)
        if within is not None:
            words.fit(within)
        self._words.append(words)
        return words

    def shapes(self, made: list) -> None:
        """Shapes of pyglet, below the words."""
        for shape in made:
            shape.batch, shape.group = self._batch, self._behind
        self._words += made

    def clear(self) -> None:
        """Take everything away."""
        self._take_words_away()
        for ink in (self.ground, self.moving):
            ink.wipe()
            ink.lay()

    def draw(self, size: tuple[float, float]) -> None:
        """Draw it into a framebuffer of `size` pixels."""
        self.ground.draw(size)
        self.moving.draw(size)
        self._batch.draw()

    def delete(self) -> None:
        """Give the memory back."""
        self._take_words_away()
        self.ground.delete()
        self.moving.delete()

    def _take_words_away(self) -> None:
        for words in self._words:
            words.delete()
        self._words = []
