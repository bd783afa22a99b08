"""One or two flights drawn at an instant: sky, ground, lines, planes, paths, slipstream, forces.

What does not change lies in buffers made once; a picture changes matrices, deflections and separation, and a few small
buffers.  Needs a current OpenGL 3.3 context (`viewer.scene.context`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from pyglet import gl

from scenarios.playback import Alignment, Playback, Pose, align
from sim import layout as L
from viewer.scene import arrows, shaders
from viewer.scene import colours as C
from viewer.scene.cameras import Camera, Station, camera, station
from viewer.scene.gl import Program, Vertices
from viewer.scene.looks import Switches
from viewer.scene.mesh import Mesh, plane_mesh
from viewer.scene.references import Line, Mark, references
from viewer.scene.references import field as field_lines

USUAL = Switches()
SUN = np.array([0.35, 0.45, -0.82])
RIBBON_HALF = 0.09  # of the span
AROUND = 90.0  # s of the path that are drawn before and after the instant
EXPOSURE = 1.0 / 50.0  # s that a propeller blade is seen over
JET_AROUND = 24
CLEAR = 0.17  # of the picture's height: the ground's words keep away from the plane by so much
HATCHES = 34.0  # hatch lines over the span


@dataclass(frozen=True)
class Label:
    """A word in the picture at `x`, `y`, pixels of the window from its lower left corner."""

    x: float
    y: float
    text: str
    colour: C.Colour


@dataclass(frozen=True)
class Shown:
    """What a picture shows: poses as drawn (the ghost's moved by the alignment), camera, and words that belong to places."""

    pose: Pose
    ghost_pose: Pose | None
    camera: Camera
    labels: list[Label] = field(default_factory=list)


class Scene:
    """The drawing of `playback`, and of `ghost` laid over it by `alignment` (both from the start where none is given).

    `stand` is where the pilot stands; None: beside the flight as far as it is known by now.
    """

    def __init__(
        self,
        playback: Playback,
        ghost: Playback | None = None,
        alignment: Alignment | None = None,
        stand: Station | None = None,
    ) -> None:
        self.playback, self.ghost = playback, ghost
        self.alignment = alignment or (align(playback, ghost) if ghost is not None else None)
        self.station = stand or station(playback)
        self._programs = {
            name: Program(getattr(shaders, f"{name}_VERTEX"), getattr(shaders, f"{name}_FRAGMENT"))
            for name in ("SKY", "GROUND", "PLANE", "RIBBON", "LINE", "PLAIN", "DISK")
        }
        self._half = Vertices((2,))
        self._plane = _Plane(playback)
        self._other = _Plane(ghost) if ghost is not None else None
        self._disk = Vertices((2,), np.array([[-1, -1], [1, -1], [-1, 1], [-1, 1], [1, -1], [1, 1]], float))
        self._jet = Vertices((3, 4))
        self._heads = Vertices((3, 4))
        self._moving = Vertices((3, 3, 3, 4, 1))
        lines, self._marks = references(playback)
        ground, self._ground_marks = field_lines(playback, self.station)
        self._lines = Vertices((3, 3, 3, 4, 1), line_rows(lines))
        self._field = Vertices((3, 3, 3, 4, 1), line_rows(ground))

    # ---- a picture -----------------------------------------------------------------------------------------------
    def draw(
        self,
        viewport: tuple[int, int, int, int],
        time: float,
        view: str | Camera = "pilot",
        switches: Switches = USUAL,
        zoom: float = 1.0,
    ) -> Shown:
        """Draw the flight at `time` into `viewport` (x, y, width, height, pixels from the lower left) of what is bound.

        `view` is one of `cameras.VIEWS` or a camera of one's own.  Leaves depth test and scissor off, blending on, and
        the viewport as it was, as pyglet's own drawing wants them.
        """
        pose, other = self.playback.pose(time), self._other_pose(time, switches)
        x, y, width, height = viewport
        eye = view if isinstance(view, Camera) else self._camera(view, pose, other, width / max(height, 1), zoom)
        before = (gl.GLint * 4)()
        gl.glGetIntegerv(gl.GL_VIEWPORT, before)
        gl.glViewport(x, y, width, height)
        gl.glScissor(x, y, width, height)
        gl.glEnable(gl.GL_SCISSOR_TEST)
        gl.glDepthMask(True)
        gl.glClear(gl.GL_DEPTH_BUFFER_BIT)
        gl.glBlendFunc(gl.GL_SRC_ALPHA, gl.GL_ONE_MINUS_SRC_ALPHA)
        gl.glDepthFunc(gl.GL_LEQUAL)
        matrix, size = eye.matrix, np.array([width, height], float)
        self._plane.follow()

        gl.glDisable(gl.GL_DEPTH_TEST)
        gl.glDisable(gl.GL_BLEND)
        self._beyond(eye)
        gl.glEnable(gl.GL_BLEND)
        if switches.references:
            self._draw_lines(self._field, matrix, size)
        if switches.shadow:
            for plane, at in ((self._plane, pose), (self._other, other)):
                if plane is not None and at is not None:
                    self._mesh(plane, at, matrix, eye, look=1.0, flat_colour=_unit(C.GROUND) * 0.55, flatten=1.0)
        gl.glEnable(gl.GL_DEPTH_TEST)
        gl.glDisable(gl.GL_BLEND)
        self._mesh(self._plane, pose, matrix, eye, look=0.0, show_stall=float(switches.stall))
        gl.glEnable(gl.GL_BLEND)
        if other is not None:
            gl.glColorMask(False, False, False, False)  # its nearest surface first, so that only that one shows
            self._mesh(self._other, other, matrix, eye, look=1.0)
            gl.glColorMask(True, True, True, True)
            self._mesh(
                self._other,
                other,
                matrix,
                eye,
                look=2.0,
                flat_colour=_unit(C.SECOND),
                opacity=0.4,
                ruling=height / 120.0,
            )
        gl.glDepthMask(False)
        if switches.ribbon:
            self._ribbon(self._plane, pose.time, matrix, C.RIBBON, np.zeros(3))
            if other is not None:
                self._ribbon(self._other, time + self.alignment.time, matrix, C.SECOND_RIBBON, self.alignment.shift)
        labels: list[Label] = []
        if switches.references:
            self._draw_lines(self._lines, matrix, size)
            labels += self._words(self._marks, eye, viewport, C.REFERENCE)
            ground = self._words(self._ground_marks, eye, viewport, C.INK)
            labels += clear_of(ground, self._words([Mark(pose.position, "")], eye, viewport, C.INK), CLEAR * height)
        if view == "pilot":
            labels += self._words(elevation_marks(eye), eye, viewport, C.SKY_INK, at_left=True)
        moving: list[Line] = []
        if switches.shadow:
            foot = pose.position * [1.0, 1.0, 0.0]
            moving.append(Line(pose.position, foot, C.INK, 1.0, 1.0))
        if switches.slipstream and pose.jet is not None:
            self._slipstream(pose, matrix)
        if switches.propeller:
            for plane, at in ((self._plane, pose), (self._other, other)):
                if plane is not None and at is not None:
                    self._propeller(plane, at, matrix)
        if moving:
            self._moving.put(line_rows(moving))
            self._draw_lines(self._moving, matrix, size)
        if switches.forces:
            gl.glDisable(gl.GL_DEPTH_TEST)
            labels += self._forces(pose, eye, matrix, size, viewport)
        gl.glDepthMask(True)
        gl.glDisable(gl.GL_DEPTH_TEST)
        gl.glDisable(gl.GL_SCISSOR_TEST)
        gl.glUseProgram(0)
        gl.glViewport(*before)
        return Shown(pose, other, eye, labels)

    def _camera(self, view: str, pose: Pose, other: Pose | None, aspect: float, zoom: float) -> Camera:
        place = None if other is None else other.position
        return camera(view, self.playback, pose, self.station, self._plane.mesh.span, aspect, zoom, place)

    def _other_pose(self, time: float, switches: Switches) -> Pose | None:
        if self.ghost is None or not switches.ghost:
            return None
        pose = self.ghost.pose(time + self.alignment.time)
        return replace(pose, position=pose.position + self.alignment.shift)

    def _beyond(self, eye: Camera) -> None:
        right, up, back = eye.axes
        f = math.tan(0.5 * eye.field)
        rays = {"right": right * f * eye.aspect, "up": up * f, "ahead": -back}
        sky, ground = eye.halves()
        if len(sky):
            self._half.put(sky)
            self._programs["SKY"].use(**rays, high=_unit(C.SKY_HIGH), low=_unit(C.SKY_LOW), step_up=elevation_step(eye))
            self._half.draw(gl.GL_TRIANGLE_FAN)
        if len(ground):
            self._half.put(ground)
            colours = {"near": _unit(C.GROUND), "far": _unit(C.GROUND_FAR), "grid": _unit(C.GRID)}
            self._programs["GROUND"].use(**rays, eye=eye.eye, **colours)
            self._half.draw(gl.GL_TRIANGLE_FAN)

    def _mesh(self, plane: _Plane, pose: Pose, matrix: np.ndarray, eye: Camera, **look) -> None:
        separation = np.ones(L.PAD)
        separation[: len(pose.separation)] = pose.separation
        usual = {
            "flatten": 0.0,
            "look": 0.0,
            "show_stall": 0.0,
            "opacity": 1.0,
            "ruling": 6.0,
            "flat_colour": np.zeros(3),
        }
        self._programs["PLANE"].use(
            pose=pose_matrix(pose), view=matrix, sine=np.sin(pose.surfaces), cosine=np.cos(pose.surfaces),
            separation=separation, eye=eye.eye, sun=SUN / np.linalg.norm(SUN),
            stall_colour=_unit(C.STALLED), hatch_colour=_unit(C.HATCH), hatch_width=plane.mesh.span / HATCHES,
            canopy=plane.mesh.glass, canopy_colour=_unit(C.CANOPY), **(usual | look),
        )  # fmt: skip
        plane.vertices.draw()

    def _ribbon(self, plane: _Plane, now: float, matrix: np.ndarray, pair: tuple, shift: np.ndarray) -> None:
        self._programs["RIBBON"].use(
            view=matrix, shift=shift, now=now, begin=plane.flight.start,
            even=_unit(pair[0]), odd=_unit(pair[1]), strength=1.0,
        )  # fmt: skip
        first, last = np.searchsorted(plane.flight.time, (now - AROUND, now + AROUND))
        plane.ribbon.draw(gl.GL_TRIANGLE_STRIP, 2 * int(first), 2 * int(last - first))
        plane.trace.draw(gl.GL_LINE_STRIP, int(first), int(last - first))

    def _draw_lines(self, lines: Vertices, matrix: np.ndarray, size: np.ndarray) -> None:
        self._programs["LINE"].use(view=matrix, size=size, shift=np.zeros(3))
        lines.draw()

    def _propeller(self, plane: _Plane, pose: Pose, matrix: np.ndarray) -> None:
        mesh, propeller = plane.mesh, plane.flight.setup.propeller
        across = np.cross(mesh.shaft, [0.0, 0.0, -1.0])
        across /= np.linalg.norm(across)
        sense = propeller.sense
        self._programs["DISK"].use(
            view=matrix, pose=pose_matrix(pose), hub=mesh.hub, across=across, over=np.cross(across, mesh.shaft) * sense,
            radius=mesh.disk_radius, angle=math.fmod(abs(pose.rotor_angle), 2.0 * math.pi),
            sweep=max(pose.rotor_speed, 0.0) * EXPOSURE, blades=propeller.blades, chord=max(propeller.family.chord),
            ink=_unit(C.INK),
        )  # fmt: skip
        self._disk.draw()

    def _slipstream(self, pose: Pose, matrix: np.ndarray) -> None:
        self._jet.put(arrows.jet_rows(pose, C.JET, JET_AROUND))
        self._programs["PLAIN"].use(view=matrix)
        self._jet.draw()

    def _forces(self, pose: Pose, eye: Camera, matrix: np.ndarray, size: np.ndarray, viewport) -> list[Label]:
        drawn = arrows.force_arrows(pose, self._plane.points, self._plane.weight, self._plane.mesh.span)
        self._moving.put(line_rows([Line(a.start, a.neck(eye), a.colour, 4.0) for a in drawn]))
        self._draw_lines(self._moving, matrix, size)
        self._heads.put(arrows.head_rows(drawn, eye))
        self._programs["PLAIN"].use(view=matrix)
        self._heads.draw()
        return [label for a in drawn for label in self._words([Mark(a.end, a.text)], eye, viewport, a.colour)]

    @staticmethod
    def _words(marks: list[Mark], eye: Camera, viewport, colour: C.Colour, at_left: bool = False) -> list[Label]:
        x, y, width, height = viewport
        seen = [(mark, eye.seen_at(mark.at)) for mark in marks]
        return [
            Label(x + (0.01 if at_left else at[0]) * width, y + at[1] * height, mark.text, colour)
            for mark, at in seen
            if at is not None
        ]

    def delete(self) -> None:
        """Give everything back."""
        for program in self._programs.values():
            program.delete()
        for vertices in (self._half, self._disk, self._jet, self._heads, self._moving, self._lines, self._field):
            vertices.delete()
        for plane in (self._plane, self._other):
            if plane is not None:
                plane.delete()


class _Plane:
    """One flight's buffers: the plane, its path, and where its parts are pushed."""

    def __init__(self, flight: Playback) -> None:
        self.flight, self.mesh = flight, plane_mesh(flight.plane)
        self.vertices = Vertices((3, 3, 3, 2, 3, 3, 1), self.mesh.rows())
        self.ribbon, self.trace = Vertices((3, 1)), Vertices((3, 1))
        self.points = arrows.part_points(flight.plane)
        self.weight = flight.plane.mass.mass * 9.80665
        self._drawn = 0
        self.follow()

    def follow(self) -> None:
        """Bring the path up to the newest frame."""
        n = self.flight.frames
        if n == self._drawn:
            return
        first = self._drawn if self.ribbon.holds(2 * n) and self.trace.holds(n) else 0
        self.ribbon.put(ribbon_rows(self.flight, self.mesh, first), 2 * first)
        self.trace.put(np.c_[self.flight.position[first:], self.flight.time[first:]], first)
        self._drawn = n

    def delete(self) -> None:
        for vertices in (self.vertices, self.ribbon, self.trace):
            vertices.delete()


def clear_of(labels: list[Label], plane: list[Label], away: float) -> list[Label]:
    """Those of the `labels` that are more than `away` pixels off the plane."""
    return [a for a in labels if all(math.hypot(a.x - b.x, a.y - b.y) > away for b in plane)]


def elevation_step(eye: Camera) -> float:
    """Degrees between the sky's level lines, so that some lie in the picture."""
    return next(step for step in (1.0, 2.0, 5.0, 10.0) if step >= 10.0 or 3.0 * step > math.degrees(eye.field))


def elevation_marks(eye: Camera) -> list[Mark]:
    """How high the sky's level lines are, where they cross the picture's middle."""
    ahead = eye.ahead / np.linalg.norm(eye.ahead)
    size = float(np.hypot(ahead[0], ahead[1]))
    if size < 0.05:
        return []
    level, step = np.array([ahead[0] / size, ahead[1] / size, 0.0]), elevation_step(eye)
    marks = []
    for number in range(0, int(80.0 / step) + 1):
        angle = math.radians(number * step)
        at = eye.eye + 1000.0 * (math.cos(angle) * level - math.sin(angle) * np.array([0.0, 0.0, 1.0]))
        marks.append(Mark(at, f"{number * step:.0f}° up" if number else "horizon"))
    return marks


def pose_matrix(pose: Pose) -> np.ndarray:
    """From body axes about the CG to earth axes, (4, 4)."""
    out = np.eye(4)
    out[:3, :3], out[:3, 3] = pose.turn, pose.position
    return out


def ribbon_rows(flight: Playback, mesh: Mesh, first: int = 0) -> np.ndarray:
    """Both edges of the path's ribbon from frame `first` on, along the wing, (2 n, 4): place and time."""
    q0, q1, q2, q3 = flight.quaternion[first:].T
    right = np.stack([2.0 * (q1 * q2 - q0 * q3), 1.0 - 2.0 * (q1 * q1 + q3 * q3), 2.0 * (q2 * q3 + q0 * q1)], axis=1)
    half = RIBBON_HALF * mesh.span * right
    place, time = flight.position[first:], flight.time[first:]
    rows = np.empty((2 * len(time), 4))
    rows[0::2, :3], rows[1::2, :3] = place - half, place + half
    rows[0::2, 3] = rows[1::2, 3] = time
    return rows


def line_rows(lines: list[Line]) -> np.ndarray:
    """Vertices of lines with a width in pixels, six a line, (6 n, 14)."""
    rows = np.empty((6 * len(lines), 14))
    for n, line in enumerate(lines):
        length = float(np.linalg.norm(line.end - line.start))
        paint = (*_unit(line.colour), 1.0)
        # the side counts from the end that a vertex knows as its own, so it changes sign at the other end
        a, b = (line.start, line.end, 0.0), (line.end, line.start, length)
        for k, ((here, there, along), side) in enumerate(
            ((a, 1.0), (a, -1.0), (b, -1.0), (b, -1.0), (b, 1.0), (a, 1.0))
        ):
            rows[6 * n + k] = (*here, *there, side, line.width, along, *paint, line.dash)
    return rows


def _unit(colour: C.Colour) -> np.ndarray:
    return np.array(colour, float) / 255.0
