"""Prandtl's lifting line by Glauert's series, for any chord and any spread of incidence: a route of its own.

H. Glauert, The Elements of Aerofoil and Airscrew Theory, 1926, chapters X and XI: circulation
2 b V sum A_n sin(n theta), y = -(b/2) cos(theta), solved at as many points as there are terms.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np


class LiftingLine:
    """A straight wing of span 1 and speed 1; `chord(y)` over the span (y -0.5 to 0.5), section slope `slope` per rad."""

    def __init__(self, chord: Callable, slope: float = 2.0 * math.pi, terms: int = 80):
        self.theta = math.pi * (np.arange(terms) + 0.5) / terms
        self.y = -0.5 * np.cos(self.theta)
        self.n = np.arange(1, terms + 1)
        self.chord = chord(self.y)
        self.sines = np.sin(np.outer(self.theta, self.n))
        self.turned = self.sines * self.n / np.sin(self.theta)[:, None]  # downwash over speed for unit A_n
        self.width = 0.5 * math.pi / terms * np.sin(self.theta)  # dy of each point: sums over them are integrals
        self.area = float((self.chord * self.width).sum())
        self.aspect = 1.0 / self.area
        self.matrix = 4.0 / (slope * self.chord[:, None]) * self.sines + self.turned

    def solve(self, angle) -> tuple[np.ndarray, np.ndarray]:
        """Circulation and downwash at the points for local angles (rad) there: over span and speed, and over speed."""
        series = np.linalg.solve(self.matrix, np.broadcast_to(angle, self.y.shape).astype(float))
        return 2.0 * self.sines @ series, self.turned @ series

    def lift(self, circulation: np.ndarray) -> float:
        """Lift coefficient."""
        return float(2.0 * (circulation * self.width).sum() / self.area)

    def roll(self, load: np.ndarray) -> float:
        """Rolling moment coefficient (right wing down positive) of a lift per span `load` over rho V^2."""
        return float(-2.0 * (load * self.y * self.width).sum() / self.area)

    def yaw(self, thrust: np.ndarray) -> float:
        """Yawing moment coefficient (nose right positive) of a forward force per span `thrust` over rho V^2."""
        return float(-2.0 * (thrust * self.y * self.width).sum() / self.area)


def tapered(aspect: float, taper: float) -> Callable:
    """Chord of a straight-tapered wing of span 1."""
    root = 2.0 / (aspect * (1.0 + taper))
    return lambda y: root * (1.0 - (1.0 - taper) * 2.0 * np.abs(y))
