"""Where the flight is looked at from: the pilot's station on the ground, behind the plane, its wing tip, above.

Earth axes north, east, down, m.  A camera depends on the flight and the instant alone, so any picture can be made again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from scenarios.playback import Playback, Pose

VIEWS = ("pilot", "chase", "tip", "top")
NAMED = {
    "pilot": "from the pilot's station",
    "chase": "from behind",
    "tip": "from the left wing tip",
    "top": "from above",
}
EYES = 1.7  # m, of the pilot
NEAREST, FURTHEST = 35.0, 150.0  # m from the flight line: hovering close, a box is flown at 150 m (common practice)
PLANE_SHARE = 0.17  # of the picture's width that the plane would fill broadside, as far as the zoom goes
TOGETHER = (math.radians(25.0), math.radians(35.0))  # how far apart two planes are kept in the pilot's sight
FIELD = (math.radians(2.0), math.radians(40.0))  # the pilot's zoom, vertical field of view
FAR = 6000.0


@dataclass(frozen=True)
class Camera:
    """An eye at `eye` that looks along `ahead`, `up` above;
    `field` its vertical field of view (rad), `aspect` width over height.
    """

    eye: np.ndarray
    ahead: np.ndarray
    up: np.ndarray
    field: float
    aspect: float
    near: float = 0.3

    @cached_property
    def axes(self) -> np.ndarray:
        """Right, up and back as rows, (3, 3)."""
        back = -self.ahead / np.linalg.norm(self.ahead)
        right = np.cross(self.up, back)
        right /= np.linalg.norm(right)
        return np.stack([right, np.cross(back, right), back])

    @cached_property
    def matrix(self) -> np.ndarray:
        """From earth axes to clip space, (4, 4)."""
        view = np.eye(4)
        view[:3, :3] = self.axes
        view[:3, 3] = -self.axes @ self.eye
        f = 1.0 / math.tan(0.5 * self.field)
        near, far = self.near, FAR
        lens = np.zeros((4, 4))
        lens[0, 0], lens[1, 1] = f / self.aspect, f
        lens[2, 2], lens[2, 3], lens[3, 2] = (far + near) / (near - far), 2.0 * far * near / (near - far), -1.0
        return lens @ view

    def halves(self) -> tuple[np.ndarray, np.ndarray]:
        """The picture above and below the horizon, as corners (n, 2) of convex polygons, -1 to 1; empty where there is none of it."""
        right, up, back = self.axes
        f = math.tan(0.5 * self.field)
        corners = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
        down = -back[2] + f * (self.aspect * right[2] * corners[:, 0] + up[2] * corners[:, 1])
        sky, ground = [], []
        for n in range(4):
            a, b, here, there = corners[n], corners[(n + 1) % 4], down[n], down[(n + 1) % 4]
            (ground if here > 0.0 else sky).append(a)
            if (here > 0.0) != (there > 0.0):
                edge = a + here / (here - there) * (b - a)
                sky.append(edge)
                ground.append(edge)
        return np.array(sky).reshape(-1, 2), np.array(ground).reshape(-1, 2)

    def seen_at(self, point: np.ndarray) -> tuple[float, float] | None:
        """Where a point is seen, as shares of the picture from its lower left corner; None when it lies behind or outside."""
        x, y, _, w = self.matrix @ np.append(point, 1.0)
        if w <= self.near:
            return None
        at = 0.5 + 0.5 * x / w, 0.5 + 0.5 * y / w
        return at if 0.0 <= at[0] <= 1.0 and 0.0 <= at[1] <= 1.0 else None


def heading_at_start(flight: Playback) -> np.ndarray:
    """The level unit vector that the flight begins along: its path, or where its nose or its belly points while it hovers."""
    turn = flight.pose(flight.start).turn
    moved = flight.position[min(flight.frames, 50) - 1] - flight.position[0]
    for way, least in ((moved, 1.0), (turn @ [1.0, 0.0, 0.0], 0.3), (turn @ [0.0, 0.0, 1.0], 0.0)):
        size = math.hypot(way[0], way[1])
        if size > least:
            return np.array([way[0], way[1], 0.0]) / size
    return np.array([1.0, 0.0, 0.0])


@dataclass(frozen=True)
class Station:
    """Where the pilot stands: his eyes, and the way the flight begins along."""

    eye: np.ndarray
    along: np.ndarray


def station(flight: Playback) -> Station:
    """A place beside the flight, from which it passes from left to right and stays in front."""
    along = heading_at_start(flight)
    right = np.array([-along[1], along[0], 0.0])
    s, t, height = flight.position @ along, flight.position @ right, -flight.position[:, 2]
    away = float(np.clip(max(0.55 * np.ptp(s), 1.5 * height.max()), NEAREST, FURTHEST))
    place = 0.5 * (s.min() + s.max()) * along + (t.max() + away) * right
    return Station(np.array([place[0], place[1], -EYES]), along)


def camera(
    view: str,
    flight: Playback,
    pose: Pose,
    stand: Station,
    span: float,
    aspect: float,
    zoom: float = 1.0,
    other: np.ndarray | None = None,
) -> Camera:
    """The camera of a view at an instant; `zoom` over 1 comes nearer.  The pilot keeps a second plane, at `other`, in sight."""
    up = np.array([0.0, 0.0, -1.0])
    if view == "pilot":
        ahead = pose.position - stand.eye
        if np.linalg.norm(ahead) < 0.1:
            ahead = stand.along
        wanted = 2.0 * math.atan(0.5 * span / (PLANE_SHARE * aspect * max(float(np.linalg.norm(ahead)), 1.0)))
        wanted = float(np.clip(wanted, *FIELD))
        if other is not None:
            ahead, apart = _between(ahead, other - stand.eye, aspect)
            wanted += apart
        field = wanted / zoom
        if abs(ahead @ up) > 0.999 * np.linalg.norm(ahead):
            up = stand.along
        return Camera(stand.eye, ahead, up, min(field, 2.6), aspect, near=1.0)
    if view == "chase":
        way = _way(flight, pose, stand.along)
        back = pose.position + span * (-2.6 * way + 0.75 * up) / zoom
        back[2] = min(back[2], -0.3)
        return Camera(back, pose.position + 0.15 * span * up - back, up, math.radians(42.0), aspect)
    if view == "tip":
        eye = np.array([0.05, -0.62, -0.2]) * span
        aim = np.array([-0.05, 0.1, 0.02]) * span
        roof = pose.turn @ [0.0, 0.0, -1.0]
        return Camera(
            pose.position + pose.turn @ eye, pose.turn @ (aim - eye), roof, math.radians(58.0) / zoom, aspect, 0.03
        )
    above = pose.position + 7.0 * span * up / zoom
    return Camera(above, -up, stand.along, math.radians(40.0), aspect)


def _between(one: np.ndarray, other: np.ndarray, aspect: float) -> tuple[np.ndarray, float]:
    """Where to look to have two places in sight, and the vertical field (rad) that lies between them.

    Beyond TOGETHER the second is let go, little by little.
    """
    one, other = (way / max(float(np.linalg.norm(way)), 1e-6) for way in (one, other))
    angle = math.acos(float(np.clip(one @ other, -1.0, 1.0)))
    kept = float(np.clip((TOGETHER[1] - angle) / (TOGETHER[1] - TOGETHER[0]), 0.0, 1.0))
    steep = abs(math.asin(np.clip(one[2], -1.0, 1.0)) - math.asin(np.clip(other[2], -1.0, 1.0)))
    level = math.sqrt(max(angle * angle - steep * steep, 0.0))
    return one + 0.5 * kept * (other - one), kept * max(steep, level / aspect)


def _way(flight: Playback, pose: Pose, along: np.ndarray) -> np.ndarray:
    """The level direction that a follower looks along: that of the last seconds' path, the start's where it stood still."""
    weighed = 2.0 * along
    for ago in (0.5, 1.0, 2.0):
        n = int(np.searchsorted(flight.time, pose.time - ago))
        moved = pose.position - flight.position[min(n, flight.frames - 1)]
        weighed = weighed + moved * [1.0, 1.0, 0.0] / ago
    size = np.linalg.norm(weighed)
    return weighed / size if size > 0.3 else along
