"""What a large aerobatic aeroplane is like when nobody has measured it: every rule in one table, with its source.

A rule gives a value as a factor times something known, the factor read off between spans of 1.5, 1.9, 2.2, 2.7 and
3.1 m (held beyond them).  None is a law: they are common practice without a source unless the rule says otherwise,
many of them as the five built-in planes have them, and every value made from one belongs to be measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

SPANS = (1.5, 1.9, 2.2, 2.7, 3.1)  # m
PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Rule:
    """`factors` at SPANS times the quantity called `of` ("" for the number itself); `words` say it, with {factor} or {percent}."""

    factors: tuple[float, ...]
    of: str
    words: str
    source: str = PRACTICE

    def said(self, span: float) -> str:
        """The rule in words at a span in m, and its source where it has one: files say that all others are practice."""
        factor = self.factor(span)
        words = self.words.format(factor=factor, percent=100.0 * factor)
        return words if self.source == PRACTICE else f"{words} ({self.source})"

    def factor(self, span: float) -> float:
        """The factor at a span in m."""
        return between(self.factors, span)


def between(values: tuple[float, ...], span: float) -> float:
    """The value at `span` (m) on straight lines between those at SPANS; a single value is the same everywhere."""
    if len(values) == 1 or span <= SPANS[0]:
        return values[0]
    for (low, a), (high, b) in pairwise(zip(SPANS, values)):
        if span <= high:
            return a + (b - a) * (span - low) / (high - low)
    return values[-1]


RULES: dict[str, Rule] = {
    # weight in kg and mean chord are the middle of what planes of that span have
    "weight": Rule((2.6, 4.7, 7.5, 12.5, 18.0), "", "{factor:.1f} kg, the middle of planes of this span"),
    "mean_chord": Rule((0.229, 0.180, 0.205, 0.197, 0.200), "span", "mean chord {factor:.3f} of the span"),
    "wing_taper": Rule((0.84, 0.60, 0.54, 0.57, 0.64), "wing_root_chord", "tip {factor:.2f} of the root chord"),
    "wing_sweep": Rule((0.40,), "chord_lost", "{factor:.2f} of the chord lost from root to tip"),
    "dihedral": Rule((0.0,), "", "a straight wing"),
    "wing_thickness": Rule((0.13,), "", "13 % thick"),
    "stabiliser_span": Rule((0.43, 0.38, 0.38, 0.39, 0.38), "span", "{factor:.2f} of the span"),
    "stabiliser_root_chord": Rule((0.62, 0.55, 0.52, 0.57, 0.54), "wing_root_chord", "{factor:.2f} of the wing root's"),
    "stabiliser_tip_chord": Rule((0.70, 0.66, 0.65, 0.70, 0.71), "stabiliser_root_chord", "{factor:.2f} of its root's"),
    "stabiliser_sweep": Rule((0.58,), "stabiliser_chord_lost", "{factor:.2f} of the chord lost from root to tip"),
    "stabiliser_at": Rule((0.445, 0.53, 0.51, 0.475, 0.51), "span", "{factor:.3f} of the span"),
    "stabiliser_height": Rule((0.0, 0.015, 0.02, 0.02, 0.03), "span", "{factor:.3f} of the span above the wing"),
    "stabiliser_thickness": Rule((0.065, 0.09, 0.09, 0.09, 0.09), "", "6 to 9 % thick"),
    "fin_height": Rule((0.215, 0.20, 0.195, 0.20, 0.20), "span", "{factor:.3f} of the span"),
    "fin_root_chord": Rule((0.82,), "fin_height", "{factor:.2f} of its height"),
    "fin_tip_chord": Rule((0.61, 0.56, 0.55, 0.57, 0.57), "fin_root_chord", "{factor:.2f} of its root's"),
    "fin_at": Rule((0.013,), "span", "its root {factor:.3f} of the span ahead of the stabiliser's"),
    "fin_sweep": Rule((0.87,), "fin_chord_lost", "{factor:.2f} of the chord lost from root to tip"),
    "fin_foot": Rule((0.27,), "fin_height", "{factor:.2f} of its height below the stabiliser"),
    "aileron": Rule((0.31,), "", "{percent:.0f} % of the chord"),
    "elevator": Rule((0.50, 0.45, 0.46, 0.47, 0.46), "", "{percent:.0f} % of the chord"),
    "rudder": Rule((0.64, 0.58, 0.60, 0.61, 0.60), "", "{percent:.0f} % of the chord"),
    "nose": Rule((0.205, 0.20, 0.20, 0.175, 0.195), "span", "nose {factor:.3f} of the span ahead of the wing"),
    "tail_end": Rule(
        (0.85,), "stabiliser_root_chord", "tail end {factor:.2f} of its root chord behind the stabiliser's"
    ),
    "fuselage_depth": Rule((0.16, 0.17, 0.175, 0.17, 0.17), "span", "{factor:.3f} of the span"),
    "fuselage_width": Rule((0.48,), "fuselage_depth", "{factor:.2f} of the depth"),
    "cross-flow drag": Rule((1.7,), "", "flat sides with rounded corners"),
    "thrust_height": Rule((0.009,), "span", "{factor:.3f} of the span above the wing"),
    "hub": Rule((0.011,), "span", "propeller {factor:.3f} of the span ahead of the nose"),
    "gear_area": Rule((25e-4,), "square_of_span", "25 cm2 for each square metre of span squared"),
    "openings_electric": Rule((9.3e-4,), "square_of_span", "9 cm2 for each square metre of span squared"),
    "openings_piston": Rule((18e-4,), "square_of_span", "18 cm2 for each square metre of span squared"),
    # electric power
    "cells": Rule((6, 10, 12, 14, 14), "", "as packs of this size"),
    "battery_mass": Rule((0.22,), "weight", "{percent:.0f} % of the weight"),
    "battery_density": Rule((0.024 / 3600.0,), "", "24 g for each Ah and cell"),
    "motor_mass": Rule((0.115,), "weight", "{percent:.1f} % of the weight"),
    "motor_power": Rule((780.0,), "weight", "780 W a kilogram"),
    # static rpm is about 0.85 of what the motor would turn unloaded on 3.7 V a cell
    "static_rpm": Rule(
        (7000, 4900, 5800, 5700, 5150), "", "{factor:.0f} rpm at rest, 0.85 of unloaded on 3.7 V a cell"
    ),
    # piston power
    "displacement": Rule((6.5e-6, 7.8e-6, 9.0e-6, 9.3e-6, 9.3e-6), "weight", "6.5 to 9.3 cm3 for each kilogram"),
    "engine_mass": Rule((0.0385,), "", "38.5 g times (cm3) to the power 0.905, with ignition"),
    "tank": Rule((3.0,), "displacement", "{factor:.0f} times the displacement"),
    "peak_power": Rule((48e6,), "displacement", "48 W a cm3"),
    "peak_power_at": Rule((9000, 8500, 7500, 7000, 6800), "", "as engines of this size"),
    "idle": Rule((2000, 1900, 1700, 1500, 1400), "", "as engines of this size"),
    # propeller in inches, two blades
    "diameter": Rule((15.0, 20.0, 22.0, 27.0, 31.0), "", "as planes of this span turn"),
    "pitch": Rule((8.0, 12.0, 10.0, 11.0, 12.0), "", "as planes of this span turn"),
    # the first setup
    "servo": Rule((0.10, 0.11, 0.12, 0.12, 0.13), "", "{factor:.2f} s/60deg, servos of this size"),
}
