"""Steady states of planes that are nearly one whose steady state is known, found from there in a few steps."""

from __future__ import annotations

import numpy as np

from sim import layout as L
from sim.build import Plane
from sim.trim import CLOSE, LAPS, NoTrim, Trim, accelerations, balance_rotor, relax, relax_flow, within_limits

SETTLED = 1e-9  # worst acceleration left, in g or 10 rad/s2
STEPS = 25
NUDGE = 1e-6
HALF = 0.5  # share of its step that separation takes: it begins close to where it ends


_SERVOS = slice(L.SERVO, L.SERVO + L.CONTROLS)


class NearTrim:
    """What is known of `plane`'s steady state `trim`, for planes with the same strips.

    Newton's rule with the known plane's slopes, which learn from every step (Broyden's rule).
    """

    def __init__(self, plane: Plane, trim: Trim):
        self.trim = trim
        x, command, at = trim.x.copy(), trim.command.copy(), trim.unknowns
        here = self._left(plane, at, x, command)[0]
        nudges = np.eye(at.size) * NUDGE
        slopes = [(self._left(plane, at + nudge, x, command)[0] - here) / NUDGE for nudge in nudges]
        self.inverse = np.linalg.inv(np.array(slopes).T)

    def of(self, plane: Plane) -> Trim | None:
        """The steady state of `plane`; None where it is not found so, or lies beyond a limit: then it takes the long search."""
        x, command, at = self.trim.x.copy(), self.trim.command.copy(), self.trim.unknowns.copy()
        inverse = self.inverse.copy()
        left, duty = self._left(plane, at, x, command)
        for _ in range(STEPS):
            error = np.abs(left).max()
            if not error < 10.0:
                return None
            if error < SETTLED:
                left, dx = self._afresh(plane, x, command)
                if np.abs(left).max() < CLOSE:
                    return self._allowed(plane, at, x, command, duty, dx)
            step = -(inverse @ left)
            at = at + step
            before, (left, duty) = left, self._left(plane, at, x, command)
            learnt = inverse @ (left - before)
            inverse += np.outer(step - learnt, step @ inverse) / (step @ learnt)
        return None

    def _left(self, plane: Plane, at: np.ndarray, x: np.ndarray, command: np.ndarray) -> tuple[np.ndarray, float]:
        """The accelerations left at the unknowns `at`, and the throttle that it takes; the flow goes on from that in `x`."""
        given = x[_SERVOS] - command[: L.CONTROLS]  # how far the air holds the surfaces off
        self.trim.pose(plane, x, command, at)
        x[_SERVOS] += given
        dx = np.zeros(L.STATE)
        relax(x, command, plane.model, plane.table, dx, LAPS, True, 0, HALF)
        duty = balance_rotor(x, command, plane.model, plane.table, dx)
        return self._kept(accelerations(dx)), duty

    def _afresh(self, plane: Plane, x: np.ndarray, command: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The accelerations left with the flow that began attached, which is written into `x`, and all rates."""
        dx = np.zeros(L.STATE)
        x[L.CIRCULATION : L.SEPARATION] = 0.0
        x[L.SEPARATION : L.SEPARATION + L.PAD] = 1.0
        relax_flow(x, command, plane.model, plane.table, dx, LAPS, True)
        return self._kept(accelerations(dx)), dx

    def _kept(self, rates: np.ndarray) -> np.ndarray:
        return np.delete(rates, 3) if self.trim.rolls else rates

    def _allowed(self, plane, at, x, command, duty, dx) -> Trim | None:
        try:
            within_limits(plane, command, duty, "")
        except NoTrim:
            return None
        if self.trim.rolls and dx[L.RATES] * plane.model[L.SENSE] > 0.0:
            return None  # the ailerons would stop this one
        return Trim(x, command, float(np.abs(self._kept(accelerations(dx))).max()), self.trim.rolls, at, self.trim.pose)
