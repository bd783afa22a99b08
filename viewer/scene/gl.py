"""The little of OpenGL 3.3 core that the scene needs: programs, buffers of vertices, and a target to draw on and read from.

Everything here needs a current context.  Nothing is left bound, so that whoever draws text afterwards finds a clean state.
"""

from __future__ import annotations

import ctypes
from collections.abc import Sequence

import numpy as np
from pyglet import gl


class Program:
    """A linked pair of shaders.  Raises RuntimeError with the driver's words where it does not compile."""

    def __init__(self, vertex: str, fragment: str) -> None:
        kinds = ((gl.GL_VERTEX_SHADER, vertex), (gl.GL_FRAGMENT_SHADER, fragment))
        shaders = [_compiled(kind, text) for kind, text in kinds]
        self.id = gl.glCreateProgram()
        for shader in shaders:
            gl.glAttachShader(self.id, shader)
        gl.glLinkProgram(self.id)
        for shader in shaders:
            gl.glDeleteShader(shader)
        done = gl.GLint()
        gl.glGetProgramiv(self.id, gl.GL_LINK_STATUS, done)
        if not done.value:
            text = ctypes.create_string_buffer(4096)
            gl.glGetProgramInfoLog(self.id, 4096, None, text)
            raise RuntimeError(text.value.decode(errors="replace"))
        self._places: dict[str, int] = {}

    def use(self, **values) -> None:
        """Make this the program in use and set its uniforms: floats, vectors of 2 to 4, 4 by 4 matrices, longer arrays of floats."""
        gl.glUseProgram(self.id)
        for name, value in values.items():
            self.set(name, value)

    def set(self, name: str, value) -> None:
        """Set one uniform of the program in use."""
        if name not in self._places:
            self._places[name] = gl.glGetUniformLocation(self.id, name.encode())
        at = self._places[name]
        array = np.ascontiguousarray(value, dtype=np.float32)
        data = array.ctypes.data_as(ctypes.POINTER(gl.GLfloat))
        if array.shape == (4, 4):
            gl.glUniformMatrix4fv(at, 1, True, data)
        elif array.ndim == 2:
            {2: gl.glUniform2fv, 3: gl.glUniform3fv, 4: gl.glUniform4fv}[array.shape[1]](at, len(array), data)
        elif array.size in (2, 3, 4) and array.ndim:
            {2: gl.glUniform2fv, 3: gl.glUniform3fv, 4: gl.glUniform4fv}[array.size](at, 1, data)
        else:
            gl.glUniform1fv(at, array.size, data)

    def delete(self) -> None:
        """Give it back."""
        gl.glDeleteProgram(self.id)


def _compiled(kind: int, text: str) -> int:
    shader = gl.glCreateShader(kind)
    source = ctypes.create_string_buffer(("#version 330 core\n" + text).encode())
    pointer = ctypes.cast(ctypes.pointer(ctypes.pointer(source)), ctypes.POINTER(ctypes.POINTER(gl.GLchar)))
    gl.glShaderSource(shader, 1, pointer, None)
    gl.glCompileShader(shader)
    done = gl.GLint()
    gl.glGetShaderiv(shader, gl.GL_COMPILE_STATUS, done)
    if not done.value:
        log = ctypes.create_string_buffer(4096)
        gl.glGetShaderInfoLog(shader, 4096, None, log)
        raise RuntimeError(log.value.decode(errors="replace"))
    return shader


class Vertices:
    """Rows of float32 on the graphics side; `widths` are the numbers of each attribute, in order of their locations."""

    def __init__(self, widths: Sequence[int], rows: np.ndarray | None = None) -> None:
        self.width, self.count, self._room = sum(widths), 0, 0
        self._vao, self._vbo = gl.GLuint(), gl.GLuint()
        gl.glGenVertexArrays(1, self._vao)
        gl.glGenBuffers(1, self._vbo)
        gl.glBindVertexArray(self._vao)
        gl.glBindBuffer(gl.GL_ARRAY_BUFFER, self._vbo)
        at = 0
        for location, width in enumerate(widths):
            gl.glEnableVertexAttribArray(location)
            gl.glVertexAttribPointer(location, width, gl.GL_FLOAT, gl.GL_FALSE, 4 * self.width, ctypes.c_void_p(4 * at))
            at += width
        gl.glBindVertexArray(0)
        gl.glBindBuffer(gl.GL_ARRAY_BUFFER, 0)
        if rows is not None:
            self.put(rows)

    def put(self, rows: np.ndarray, at: int = 0) -> None:
        """Write `rows` from row `at` on; what stood behind is gone.  More room is taken twofold, what stands before is then lost."""
        data = np.ascontiguousarray(rows, dtype=np.float32).reshape(-1, self.width)
        self.count = at + len(data)
        gl.glBindBuffer(gl.GL_ARRAY_BUFFER, self._vbo)
        if self.count > self._room:
            self._room = max(2 * self.count, 64)
            gl.glBufferData(gl.GL_ARRAY_BUFFER, 4 * self.width * self._room, None, gl.GL_DYNAMIC_DRAW)
        if len(data):
            gl.glBufferSubData(
                gl.GL_ARRAY_BUFFER, 4 * self.width * at, data.nbytes, data.ctypes.data_as(ctypes.c_void_p)
            )
        gl.glBindBuffer(gl.GL_ARRAY_BUFFER, 0)

    def holds(self, count: int) -> bool:
        """Whether `count` rows fit without losing what stands there."""
        return count <= self._room

    def draw(self, mode: int | None = None, first: int = 0, count: int | None = None) -> None:
        """Draw with the program in use; `mode` is a GL constant, triangles where it is left out."""
        count = self.count - first if count is None else count
        if count > 0:
            gl.glBindVertexArray(self._vao)
            gl.glDrawArrays(gl.GL_TRIANGLES if mode is None else mode, first, count)
            gl.glBindVertexArray(0)

    def delete(self) -> None:
        """Give it back."""
        gl.glDeleteBuffers(1, self._vbo)
        gl.glDeleteVertexArrays(1, self._vao)


class Target:
    """A picture to draw on, smoothed by `samples`, that can be read back."""

    def __init__(self, width: int, height: int, samples: int = 4) -> None:
        self.width, self.height = width, height
        most = gl.GLint()
        gl.glGetIntegerv(gl.GL_MAX_SAMPLES, most)
        samples = max(0, min(samples, most.value))
        self._names: list[gl.GLuint] = []
        self._drawn = self._frame(samples)
        self._plain = self._frame(0) if samples else self._drawn

    def _frame(self, samples: int) -> gl.GLuint:
        frame = gl.GLuint()
        gl.glGenFramebuffers(1, frame)
        gl.glBindFramebuffer(gl.GL_FRAMEBUFFER, frame)
        for kind, at in ((gl.GL_RGBA8, gl.GL_COLOR_ATTACHMENT0), (gl.GL_DEPTH_COMPONENT24, gl.GL_DEPTH_ATTACHMENT)):
            store = gl.GLuint()
            gl.glGenRenderbuffers(1, store)
            gl.glBindRenderbuffer(gl.GL_RENDERBUFFER, store)
            gl.glRenderbufferStorageMultisample(gl.GL_RENDERBUFFER, samples, kind, self.width, self.height)
            gl.glFramebufferRenderbuffer(gl.GL_FRAMEBUFFER, at, gl.GL_RENDERBUFFER, store)
            self._names.append(store)
        if gl.glCheckFramebufferStatus(gl.GL_FRAMEBUFFER) != gl.GL_FRAMEBUFFER_COMPLETE:
            raise RuntimeError(f"no picture of {self.width} x {self.height} can be drawn here")
        gl.glBindFramebuffer(gl.GL_FRAMEBUFFER, 0)
        return frame

    def bind(self) -> None:
        """Draw here from now on."""
        gl.glBindFramebuffer(gl.GL_FRAMEBUFFER, self._drawn)

    def pixels(self) -> np.ndarray:
        """What was drawn, (height, width, 3) of uint8, top row first; drawing goes back to the window."""
        if self._plain is not self._drawn:
            gl.glBindFramebuffer(gl.GL_READ_FRAMEBUFFER, self._drawn)
            gl.glBindFramebuffer(gl.GL_DRAW_FRAMEBUFFER, self._plain)
            box = (0, 0, self.width, self.height)
            gl.glBlitFramebuffer(*box, *box, gl.GL_COLOR_BUFFER_BIT, gl.GL_NEAREST)
        gl.glBindFramebuffer(gl.GL_READ_FRAMEBUFFER, self._plain)
        out = np.empty((self.height, self.width, 4), np.uint8)
        gl.glPixelStorei(gl.GL_PACK_ALIGNMENT, 1)
        gl.glReadPixels(
            0, 0, self.width, self.height, gl.GL_RGBA, gl.GL_UNSIGNED_BYTE, out.ctypes.data_as(ctypes.c_void_p)
        )
        gl.glBindFramebuffer(gl.GL_FRAMEBUFFER, 0)
        return out[::-1, :, :3].copy()

    def delete(self) -> None:
        """Give it back."""
        for store in self._names:
            gl.glDeleteRenderbuffers(1, store)
        for frame in {id(f): f for f in (self._drawn, self._plain)}.values():
            gl.glDeleteFramebuffers(1, frame)
