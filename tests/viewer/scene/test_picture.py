"""What is on a picture, by its pixels: the plane where arithmetic has it, surfaces turned, stall, ghost, forces, words.

Skipped where there is no OpenGL.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from scenarios.playback import Playback, align
from sim import layout as L
from tests.scenarios.flying import flown
from tests.viewer.scene.conftest import SIZE, posed
from viewer.scene import colours as C
from viewer.scene.cameras import Camera
from viewer.scene.looks import Switches
from viewer.scene.mesh import plane_mesh

BARE = Switches(*[False] * 8)
ASPECT = SIZE[0] / SIZE[1]
UP = np.array([0.0, 0.0, -1.0])


def beside(pose, span, away=2.2, side=1.0, over=0.0):
    """A camera that stands still beside the plane at `pose`: at its right, `away` spans off, level with it."""
    right = pose.turn @ [0.0, 1.0, 0.0]
    eye = pose.position + away * span * (side * right * [1.0, 1.0, 0.0] / np.linalg.norm(right[:2]) + over * UP)
    return Camera(eye, pose.position - eye, UP, math.radians(34.0), ASPECT)


def places(camera, points):
    """Pixels (column, row from the top) of points in earth axes."""
    clip = np.c_[points, np.ones(len(points))] @ camera.matrix.T
    seen = clip[:, :2] / clip[:, 3:]
    return np.c_[(0.5 + 0.5 * seen[:, 0]) * SIZE[0], (0.5 - 0.5 * seen[:, 1]) * SIZE[1]]


def drawn_over(picture, flight, camera, switches=BARE):
    """Where the plane covers what is behind it, (height, width) of bool: the picture against one of the sky alone."""
    whole, _ = picture(flight, flight.start, camera, switches)
    gone = Playback.live(flight.plane, "gone")
    row = flight.rows[0].copy()
    from sim.recording import STATE_AT

    row[STATE_AT : STATE_AT + 3] += 1e5
    gone.append(row)
    empty, _ = picture(gone, gone.start, camera, switches)
    return np.abs(whole - empty).sum(axis=2) > 12


def shade(pixels):
    return pixels @ [0.299, 0.587, 0.114]


@pytest.fixture(scope="module")
def level():
    """Level flight at the start of the 45-degree line."""
    return posed(Playback.of(flown("precision", "upline-45")), 0)


@pytest.mark.parametrize("deflections", [(0.0, 0.0, 0.0, 0.0), (0.5, -0.4, -0.5, 0.4), (-0.3, 0.3, 0.5, -0.5)])
def test_what_is_drawn_is_the_mesh_as_arithmetic_turns_it(picture, level, deflections):
    """The graphics side turns the flaps by itself; their outline has to be that of `Mesh.posed`."""
    flight = posed(level, 0, SERVO=deflections)
    pose, mesh = flight.pose(0.0), plane_mesh(flight.plane)
    for camera in (
        beside(pose, mesh.span),
        beside(pose, mesh.span, over=0.8),
        beside(pose, mesh.span, side=-1.0, over=-0.7),
    ):
        covered = drawn_over(picture, flight, camera)
        points = np.vstack(list(mesh.posed(pose.surfaces).values())) @ pose.turn.T + pose.position
        at = places(camera, points)
        rows, columns = np.nonzero(covered)
        assert columns.min() == pytest.approx(at[:, 0].min(), abs=3.0) and columns.max() == pytest.approx(
            at[:, 0].max(), abs=3.0
        )
        assert rows.min() == pytest.approx(at[:, 1].min(), abs=3.0) and rows.max() == pytest.approx(
            at[:, 1].max(), abs=3.0
        )
        inside = at[(at > 2).all(axis=1) & (at[:, 0] < SIZE[0] - 2) & (at[:, 1] < SIZE[1] - 2)].round().astype(int)
        near = np.zeros(len(inside), bool)
        for dx in (-1, 0, 1):
            for dy in (-1, 0, 1):
                near |= covered[inside[:, 1] + dy, inside[:, 0] + dx]
        assert near.mean() > 0.97  # every vertex lies on the plane that was drawn, its thinnest edges apart


def test_a_positive_elevator_goes_down_on_the_picture(picture, level):
    """Seen from the side, what an elevator changes lies below its hinge line for a positive deflection, above for a negative."""
    pose, mesh = level.pose(0.0), plane_mesh(level.plane)
    camera = beside(pose, mesh.span, away=1.6)
    part = next(p for p in mesh.parts if p.name == "stabiliser right elevator")
    hinge = places(camera, (pose.turn @ part.hinge.point + pose.position)[None])[0, 1]
    plain = picture(posed(level, 0, SERVO=np.zeros(4)), 0.0, camera, BARE)[0]
    for angle in (0.5, -0.5):
        turned = picture(posed(level, 0, SERVO=(0.0, 0.0, angle, 0.0)), 0.0, camera, BARE)[0]
        rows = np.nonzero(np.abs(turned - plain).sum(axis=2) > 30)[0]
        assert len(rows) > 50
        assert (rows.mean() - hinge) * angle > 1.0  # rows count downwards


def test_the_plane_moves_between_two_instants(picture):
    flight = Playback.of(flown("precision", "upline-45"))
    camera = Camera(flight.position[0] + [11.0, 26.0, -3.0], np.array([0.0, -1.0, 0.0]), UP, math.radians(45.0), ASPECT)
    middles = []
    for time in (0.2, 0.8):
        covered = drawn_over(picture, posed(flight, int(np.searchsorted(flight.time, time))), camera)
        assert covered.sum() > 100
        rows, columns = np.nonzero(covered)
        middles.append((columns.mean(), rows.mean()))
        wanted = places(camera, flight.pose(time).position[None])[0]
        assert np.hypot(*(np.array(middles[-1]) - wanted)) < 8.0
    assert np.hypot(*np.subtract(*middles)) > 30.0


@pytest.mark.parametrize("view", ["pilot", "chase", "tip", "top"])
def test_every_view_shows_the_plane(picture, stall, view):
    pixels, shown = picture(stall, 3.0, view, BARE)
    row = posed(stall, int(np.searchsorted(stall.time, 3.0)))
    covered = drawn_over(picture, row, shown.camera)
    assert covered.mean() > (0.002 if view in ("pilot", "top") else 0.008)
    assert len(np.unique(pixels.reshape(-1, 3)[covered.ravel()], axis=0)) > 20  # lit and painted, not a blot


def test_attitude_reads_by_light_and_dark(picture, level):
    """Seen from above the wing is light, from below dark: also in grey."""
    span, pose = 2.2, level.pose(0.0)
    seen = {}
    for name, over in (("above", 1.6), ("below", -1.6)):
        camera = beside(pose, span, away=0.8, over=over / 0.8)
        covered = drawn_over(picture, level, camera)
        seen[name] = np.median(shade(picture(level, 0.0, camera, BARE)[0])[covered])
    assert seen["above"] > seen["below"] + 80


def test_stalled_strips_differ_and_only_they(picture, level):
    """The left wing separated, the right one attached: colour and hatching on the left, nothing on the right."""
    strips = int(level.plane.model[L.N_STRIPS])
    left = np.ones(strips)
    left[level.plane.strips["wing"].start : level.plane.strips["wing"].start + 10] = 0.0
    attached, half = posed(level, 0, SEPARATION=np.ones(strips)), posed(level, 0, SEPARATION=left)
    pose = level.pose(0.0)
    behind = pose.position - pose.turn @ [2.0, 0.0, 0.0] * 1.0 + 2.6 * UP
    camera = Camera(behind, pose.position - behind, UP, math.radians(40.0), ASPECT)
    stall = replace(BARE, stall=True)
    before, after = picture(attached, 0.0, camera, stall)[0], picture(half, 0.0, camera, stall)[0]
    changed = np.abs(after - before).sum(axis=2) > 40
    columns = np.nonzero(changed)[1]
    assert changed.sum() > 1500 and (columns < SIZE[0] / 2 + 8).all()
    assert np.abs(picture(half, 0.0, camera, BARE)[0] - picture(attached, 0.0, camera, BARE)[0]).max() == 0
    # hatching: dark bars in grey print, none where the flow is attached
    dark = (shade(after) < 60) & changed
    assert 0.15 < dark.sum() / changed.sum() < 0.6
    yellow = np.abs(after[changed & ~dark] / np.array(C.STALLED) - 1.0).mean(axis=0)
    assert yellow[0] < 0.35 and yellow[1] < 0.35


def test_more_separation_makes_wider_bars(picture, level):
    strips = int(level.plane.model[L.N_STRIPS])
    pose = level.pose(0.0)
    behind = pose.position - pose.turn @ [2.0, 0.0, 0.0] + 2.6 * UP
    camera = Camera(behind, pose.position - behind, UP, math.radians(40.0), ASPECT)
    dark = []
    for point in (1.0, 0.5, 0.0):
        flight = posed(level, 0, SEPARATION=np.full(strips, point))
        pixels = picture(flight, 0.0, camera, replace(BARE, stall=True))[0]
        dark.append(int((shade(pixels) < 50).sum()))
    assert dark[0] < dark[1] < dark[2]


def test_the_second_flight_is_at_its_own_instant(picture):
    first, second = Playback.of(flown("precision", "upline-45")), Playback.of(flown("extreme", "upline-45"))
    laid = align(first, second, "start of hands off")
    for time in (4.0, 7.5):
        pixels, shown = picture(first, time, "chase", Switches(), second, laid)
        its = time + laid.time
        frame = int(np.argmin(np.abs(second.time - its)))
        assert shown.ghost_pose.time == pytest.approx(its)
        wanted = np.array([np.interp(its, second.time, second.position[:, axis]) for axis in range(3)])
        assert np.allclose(shown.ghost_pose.position, wanted + laid.shift, atol=1e-9)
        assert np.allclose(shown.ghost_pose.surfaces, second.surfaces[frame], atol=0.02)
        alone = picture(first, time, "chase", BARE, second, laid)[0]
        both = picture(first, time, "chase", replace(BARE, ghost=True), second, laid)[0]
        rows, columns = np.nonzero(np.abs(both - alone).sum(axis=2) > 8)
        pose, mesh = shown.ghost_pose, plane_mesh(second.plane)
        at = places(shown.camera, np.vstack(list(mesh.posed(pose.surfaces).values())) @ pose.turn.T + pose.position)
        assert columns.min() > at[:, 0].min() - 2 and columns.max() < at[:, 0].max() + 2
        assert rows.min() > at[:, 1].min() - 2 and rows.max() < at[:, 1].max() + 2
        assert np.ptp(columns) > 0.8 * np.ptp(at[:, 0]) and len(rows) > 300


def test_past_path_is_strong_and_what_is_to_come_faint(picture):
    flight = Playback.of(flown("precision", "loop-inside"))
    ribbon = replace(BARE, ribbon=True)
    camera = Camera(
        flight.position[len(flight.time) // 2] + [0.0, 90.0, 0.0], np.array([0.0, -1.0, 0.0]), UP, 1.0, ASPECT
    )
    empty = picture(flight, flight.start, camera, BARE)[0]
    amounts = [np.abs(picture(flight, t, camera, ribbon)[0] - empty).sum() for t in (flight.start, flight.end)]
    assert amounts[1] > 1.5 * amounts[0] > 0


def test_forces_have_arrows_with_their_names(picture, level):
    pixels, shown = picture(level, 0.0, "chase", replace(BARE, forces=True))
    plain = picture(level, 0.0, "chase", BARE)[0]
    assert np.abs(pixels - plain).sum() > 10_000
    words = " ".join(label.text for label in shown.labels)
    weight = level.plane.mass.mass * 9.80665
    assert f"weight {weight:.0f} N" in words and "wing, left" in words and "wing, right" in words


def test_slipstream_is_drawn_behind_the_disk_alone(picture):
    hover = Playback.of(flown("precision", "hover"))
    frame = int(np.searchsorted(hover.time, 2.0))
    still = posed(hover, frame)
    pose = still.pose(still.start)
    camera = beside(pose, 2.2, away=2.0)
    changed = np.abs(
        picture(still, still.start, camera, replace(BARE, slipstream=True))[0]
        - picture(still, still.start, camera, BARE)[0]
    ).sum(axis=2)
    rows = np.nonzero(changed > 8)[0]
    hub = places(camera, (pose.turn @ still.plane.model[L.HUB : L.HUB + 3] + pose.position)[None])[0, 1]
    assert len(rows) > 500 and rows.min() > hub - 12.0  # nose up: the disk is the highest of it


def test_the_legend_says_when_how_fast_how_high_and_what_is_second(gl_window):
    from viewer.scene.legend import Legend
    from viewer.scene.scene import Scene

    gl_window.switch_to()
    first, second = Playback.of(flown("precision", "upline-45")), Playback.of(flown("extreme", "upline-45"))
    scene = Scene(first, second, align(first, second, "start of hands off"))
    legend = Legend(scene)
    shown = scene.draw((0, 0, *SIZE), 7.5, "pilot")
    lines = legend.lines(shown, "pilot")
    row = first.rows[int(np.argmin(np.abs(first.time - 7.5)))]
    assert lines[0] == "precision, upline-45" and lines[1].startswith("7.50 s") and lines[1].endswith("hands off")
    assert lines[2] == f"{row[5]:.1f} m/s   height {row[4]:.1f} m"
    assert lines[3].startswith("second: extreme, upline-45") and f"{7.5 + scene.alignment.time:.2f} s" in lines[3]
    its = np.interp(7.5 + scene.alignment.time, second.time, second.channel("height"))
    assert lines[4].endswith(f"height {its:.1f} m")  # as flown, not as moved
    legend.draw((0, 0, *SIZE), shown, Switches())
    legend.delete()
    scene.delete()


def test_a_growing_flight_is_drawn_as_it_grows(gl_window):
    from viewer.scene.gl import Target
    from viewer.scene.scene import Scene

    gl_window.switch_to()
    whole = Playback.of(flown("precision", "loop-inside"))
    growing = Playback.live(whole.plane, "by hand")
    growing.append(whole.rows[0])
    scene, target = Scene(growing), Target(*SIZE, 0)
    full = Scene(whole, stand=scene.station)
    for row in whole.rows[1:]:
        growing.append(row)
        if growing.frames % 97 == 0:
            scene.draw((0, 0, *SIZE), growing.end, "chase")
    target.bind()
    scene.draw((0, 0, *SIZE), growing.end, "chase", replace(BARE, ribbon=True))
    seen = target.pixels()
    target.bind()
    full.draw((0, 0, *SIZE), whole.end, "chase", replace(BARE, ribbon=True))
    assert np.array_equal(seen, target.pixels())
    for thing in (scene, full, target):
        thing.delete()


def test_drawing_leaves_the_state_that_text_wants(gl_window):
    from pyglet import gl

    from viewer.scene.scene import Scene

    gl_window.switch_to()
    scene = Scene(Playback.of(flown("precision", "upline-45")))
    before = (gl.GLint * 4)()
    gl.glGetIntegerv(gl.GL_VIEWPORT, before)
    scene.draw((40, 30, 200, 100), 1.0)
    after = (gl.GLint * 4)()
    gl.glGetIntegerv(gl.GL_VIEWPORT, after)
    assert list(before) == list(after)
    assert (
        not gl.glIsEnabled(gl.GL_DEPTH_TEST) and not gl.glIsEnabled(gl.GL_SCISSOR_TEST) and gl.glIsEnabled(gl.GL_BLEND)
    )
    assert gl.glGetError() == 0
    scene.delete()
