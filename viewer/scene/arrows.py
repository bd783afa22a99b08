"""Arrows of force by part, and the tube of the slipstream, as triangles."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from scenarios.playback import Pose
from sim import layout as L
from sim.build import Plane
from viewer.scene import colours as C
from viewer.scene.cameras import Camera

WEIGHT_LENGTH = 0.4  # of the span: how long the arrow of the plane's weight is
LONGEST = 1.5  # of the span
LEAST = 0.03  # of the weight: what is smaller is not drawn
HEAD = 0.045  # of the span


@dataclass(frozen=True)
class Arrow:
    """A force drawn from `start` to `end`, earth axes; `text` names its part and size."""

    start: np.ndarray
    end: np.ndarray
    head: float
    colour: C.Colour
    text: str

    def neck(self, eye: Camera) -> np.ndarray:
        """Where the shaft ends and the head begins."""
        way = self.end - self.start
        return self.end - way / max(np.linalg.norm(way), 1e-9) * self.head


def part_points(plane: Plane) -> dict[int, np.ndarray]:
    """Where the arrow of each part begins, body axes from the CG: middles of area at a quarter chord, the hub, bodies' middles."""
    m, points = plane.model, {L.WEIGHT: np.zeros(3), L.THRUST: plane.model[L.HUB : L.HUB + 3].copy()}
    points[L.OBLIQUE] = points[L.THRUST]
    n = int(m[L.N_STRIPS])
    place = np.stack([m[row : row + n] for row in (L.X, L.Y, L.Z)], axis=1)
    area, part = m[L.AREA : L.AREA + n], m[L.PART : L.PART + n].astype(int)
    for which in set(part):
        of_it = part == which
        points[which] = np.average(place[of_it], axis=0, weights=area[of_it])
    n, hull = int(m[L.N_BODIES]), int(m[L.N_FUSELAGE])
    place = np.stack([m[row : row + n] for row in (L.BODY_X, L.BODY_Y, L.BODY_Z)], axis=1)
    if hull:
        points[L.FUSELAGE] = np.average(place[:hull], axis=0, weights=m[L.BODY_LENGTH : L.BODY_LENGTH + hull])
    if n > hull:
        points[L.DRAG_BODIES] = place[hull:n].mean(axis=0)
    return points


def force_arrows(pose: Pose, points: dict[int, np.ndarray], weight: float, span: float) -> list[Arrow]:
    """One arrow a part that pushes with at least 3 % of the weight, longest first."""
    drawn = []
    for part, start in points.items():
        force = pose.forces[part]
        size = float(np.linalg.norm(force))
        if size < LEAST * weight:
            continue
        length = min(WEIGHT_LENGTH * size / weight, LONGEST) * span
        begin = pose.position + pose.turn @ start
        end = begin + pose.turn @ force / size * length
        colour, name = C.FORCES[L.PARTS[part]]
        drawn.append(Arrow(begin, end, min(HEAD * span, 0.6 * length), colour, f"{name} {size:.0f} N"))
    return sorted(drawn, key=lambda a: -float(np.linalg.norm(a.end - a.start)))


def head_rows(arrows: list[Arrow], eye: Camera) -> np.ndarray:
    """Heads of arrows, turned to the eye, (3 n, 7): place, colour and opacity."""
    rows = np.empty((3 * len(arrows), 7))
    for n, arrow in enumerate(arrows):
        way = arrow.end - arrow.start
        way = way / max(np.linalg.norm(way), 1e-9)
        across = np.cross(way, arrow.end - eye.eye)
        across = across / max(np.linalg.norm(across), 1e-9) * 0.42 * arrow.head
        neck = arrow.end - arrow.head * way
        for k, place in enumerate((arrow.end, neck - across, neck + across)):
            rows[3 * n + k] = (*place, *(c / 255.0 for c in arrow.colour), 1.0)
    return rows


def jet_rows(pose: Pose, colour: C.Colour, around: int) -> np.ndarray:
    """The edge of the slipstream as a tube with rings, (n, 7): place (earth axes), colour and opacity.

    Rings lie where the air is after equal times, so they stand wider where it is faster.
    """
    jet = pose.jet
    first, second = jet.centre[:-1], jet.centre[1:]
    length = np.linalg.norm(second - first, axis=1)
    s = np.r_[0.0, np.cumsum(length)]
    fine = np.linspace(0.0, s[-1], 49)
    centre = np.stack([np.interp(fine, s, jet.centre[:, axis]) for axis in range(3)], axis=1)
    radius, gained = np.interp(fine, s, jet.radius), np.interp(fine, s, jet.gained)
    way = np.gradient(centre, axis=0)
    way /= np.linalg.norm(way, axis=1)[:, None]
    side = np.cross(way, [0.0, 1.0, 0.0])
    side /= np.linalg.norm(side, axis=1)[:, None]
    over = np.cross(way, side)
    angle = np.linspace(0.0, 2.0 * math.pi, around + 1)
    ring = centre[:, None] + radius[:, None, None] * (
        np.cos(angle)[None, :, None] * side[:, None] + np.sin(angle)[None, :, None] * over[:, None]
    )
    ring = ring @ pose.turn.T + pose.position
    late = np.cumsum(np.r_[0.0, np.diff(fine) / np.maximum(0.5 * (gained[1:] + gained[:-1]), 0.5)])
    band = np.floor(late / late[-1] * 12.0).astype(int) % 2
    opacity = np.where(band == 0, 0.26, 0.09)
    a, b, c, d = ring[:-1, :-1], ring[:-1, 1:], ring[1:, :-1], ring[1:, 1:]
    place = np.stack([a, b, c, c, b, d], axis=2).reshape(-1, 3)
    paint = np.repeat(opacity[:-1], 6 * around)
    return np.c_[place, np.tile(np.array(colour) / 255.0, (len(place), 1)), paint]
