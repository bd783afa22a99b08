"""Modes of small motions: eigenvalues, what they mean in time, and the classical names where they apply.

A mode is named by the states that take part in it, never by its place in a list.  The share
of state k in mode i is |w_k v_k| of its left and right eigenvector, scaled to a sum of 1
(participation factors: Perez-Arriaga, Verghese and Schweppe, IEEE Trans. PAS-101, 1982, from
memory); it does not depend on the units of the states.  Which states belong to which
classical mode: Nelson, Flight Stability and Automatic Control, chapters 4 and 5; Stevens
and Lewis, Aircraft Control and Simulation, section 4.2 (both from memory).  Names are for
models of the body's own states: among the many roots of flow and servos one as fast as the
roll or the short period would swing with it and take its name (`Linear.reduced` leaves them out).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import eig

from sim.linearisation import Linear

SHORT_PERIOD, PHUGOID, DUTCH_ROLL, ROLL, SPIRAL = "short period", "phugoid", "Dutch roll", "roll", "spiral"
CLASSICAL = (SHORT_PERIOD, PHUGOID, DUTCH_ROLL, ROLL, SPIRAL)
MOST = 0.75  # share that makes a mode the one of these states
HALF = 0.5
NEUTRAL = 1e-6  # 1/s: slower than eight days counts as no motion of its own


@dataclass(frozen=True)
class Mode:
    """One mode: `name`, `eigenvalue` (1/s; of a pair the one above the real axis), `participation` (shares of 1)."""

    name: str
    eigenvalue: complex
    participation: dict[str, float]

    @property
    def oscillates(self) -> bool:
        """Whether it is one of a conjugate pair."""
        return self.eigenvalue.imag > 0.0

    @property
    def natural_frequency(self) -> float:
        """Undamped natural frequency in rad/s, the eigenvalue's distance from zero."""
        return abs(self.eigenvalue)

    @property
    def damping_ratio(self) -> float | None:
        """Damping over critical damping; None where nothing oscillates."""
        return -self.eigenvalue.real / abs(self.eigenvalue) if self.oscillates else None

    @property
    def period(self) -> float | None:
        """Time of one swing in s (damped); None where nothing oscillates."""
        return 2.0 * math.pi / self.eigenvalue.imag if self.oscillates else None

    @property
    def grows(self) -> bool:
        """Whether it grows."""
        return self.eigenvalue.real > 0.0

    @property
    def time_to_half_or_double(self) -> float:
        """Time in s to half of a mode that dies away, to double of one that grows; infinite if it does neither."""
        rate = abs(self.eigenvalue.real)
        return math.log(2.0) / rate if rate > 0.0 else math.inf

    def takes_part(self, least: float = 0.1) -> list[str]:
        """States with a share of `least` or more, the largest first."""
        return sorted((s for s, v in self.participation.items() if v >= least), key=lambda s: -self.participation[s])


def modes(linear: Linear) -> list[Mode]:
    """The modes of `linear`, fastest first, one for each real eigenvalue or conjugate pair.

    Classical names are given where the steady state is wing-borne and exactly one mode fits;
    all else is "oscillation", "growing oscillation", "convergence", "divergence" or "neutral".
    """
    turn = _to_stability_axes(linear)
    values, left, right = eig(turn @ linear.a @ turn.T, left=True, right=True)
    found = []
    for n, value in enumerate(values):
        if value.imag < 0.0:
            continue
        share = np.abs(left[:, n].conj() * right[:, n])
        share = share / max(float(share.sum()), 1e-300)
        taking = dict(zip(linear.states, share.tolist()))
        mode = Mode("", complex(value), taking)
        found.append(replace(mode, name=_classical_name(mode)) if linear.wing_borne else mode)
    names = [mode.name for mode in found]
    # in a plane that diverges in pitch the swing of speed and pitch is the third oscillation, no phugoid
    if any(mode.grows and not mode.oscillates and _share(mode, "u", "w", "q", "theta") > HALF for mode in found):
        names = ["" if name == PHUGOID else name for name in names]
    found = [
        mode if name and names.count(name) == 1 else replace(mode, name=_plain_name(mode))
        for mode, name in zip(found, names)
    ]
    return sorted(found, key=lambda mode: -mode.natural_frequency)


def _to_stability_axes(linear: Linear) -> np.ndarray:
    """The turn of u, w and of p, r by the angle of attack, so that u is along the flight path."""
    turn = np.eye(len(linear.states))
    cosine, sine = math.cos(linear.alpha), math.sin(linear.alpha)
    for forward, down in (("u", "w"), ("p", "r")):
        if forward in linear.states and down in linear.states:
            i, k = linear.states.index(forward), linear.states.index(down)
            turn[i, i], turn[i, k], turn[k, i], turn[k, k] = cosine, sine, -sine, cosine
    return turn


def _share(mode: Mode, *states: str) -> float:
    """What `states` take of a mode."""
    return sum(mode.participation.get(state, 0.0) for state in states)


def _classical_name(mode: Mode) -> str:
    """The classical name of a mode, or nothing."""
    if mode.oscillates:
        if _share(mode, "w", "q") > MOST:
            return SHORT_PERIOD
        if _share(mode, "u", "theta") > MOST:
            return PHUGOID
        if _share(mode, "v", "p", "r", "phi") > MOST and _share(mode, "v", "r") > HALF:
            return DUTCH_ROLL
        return ""
    if _share(mode, "p") > HALF and not mode.grows:
        return ROLL
    if _share(mode, "phi", "r") > MOST and _share(mode, "phi") > HALF:
        return SPIRAL
    return ""


def _plain_name(mode: Mode) -> str:
    if abs(mode.eigenvalue) < NEUTRAL:
        return "neutral"
    if mode.oscillates:
        return "growing oscillation" if mode.grows else "oscillation"
    return "divergence" if mode.grows else "convergence"
