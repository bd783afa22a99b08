"""Wing and stabiliser of the demo aeroplane by three routes: this model, a vortex lattice, and the textbook formula.

Lifting surfaces only: no fuselage, no fin, no propeller.  The lattice is a general-purpose
library's (`tests.sim.lattice`), with twice the panels to extrapolate in 1/n.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from models.loader import load_setup
from sim import layout as L
from sim.account import loads_of
from sim.build import build, mean_aerodynamic_chord
from sim.description import Fuselage, FuselageStation
from sim.linearisation import pitch_stability
from sim.trim import Trim, blank_state
from tests.sim.isolated import RHO, Stream, straight
from tests.sim.lattice import Cut, Lattice, even
from tests.sim.reference import facts

SETUP = load_setup("precision")
SURFACES = {surface.name: surface for surface in SETUP.airframe.surfaces}
WING, TAIL = SURFACES["wing"], SURFACES["stabiliser"]
MAC, MAC_EDGE, AREA, SPAN = mean_aerodynamic_chord(WING)
TAIL_MAC, TAIL_MAC_EDGE, TAIL_AREA, TAIL_SPAN = mean_aerodynamic_chord(TAIL)
SPEED = 25.0  # m/s
PRESSURE = 0.5 * RHO * SPEED**2
STEP = math.radians(0.5)


def mac_fraction(slopes: np.ndarray) -> float:
    """Neutral point in MAC from slopes (6,) of force and moment about the wing root's leading edge."""
    return (slopes[4] / slopes[2] - MAC_EDGE) / MAC


def summary(whole: np.ndarray, tail: np.ndarray, tail_alone: np.ndarray, wing_alone: np.ndarray) -> dict[str, float]:
    """Lift slopes, neutral points and downwash gradient from slopes (6,) over dynamic pressure."""
    return dict(
        lift_slope=-whole[2] / AREA,
        wing_slope=-wing_alone[2] / AREA,
        tail_slope=-tail_alone[2] / TAIL_AREA,
        neutral_point=mac_fraction(whole),
        wing_centre=mac_fraction(wing_alone),
        downwash=1.0 - tail[2] / tail_alone[2],  # by the lift that the stabiliser loses
    )


@pytest.fixture(scope="module")
def model() -> dict[str, float]:
    def slopes(*surfaces):
        stream, found = Stream(surfaces, speed=SPEED), []
        for alpha in (-STEP, STEP):
            stream.flow(alpha)
            found.append(loads_of(stream.model))
        return (found[1] - found[0]) / (2.0 * STEP) / PRESSURE

    both = slopes(WING, TAIL)
    return summary(both.sum(axis=0), both[L.STABILISER], slopes(TAIL).sum(axis=0), slopes(WING).sum(axis=0))


def extrapolated(of_panels) -> dict[str, float]:
    """Results for endlessly many panels from those of 50 and 25 mm across: a lattice's error goes with 1/n."""
    coarse, fine = of_panels(0.050), of_panels(0.025)
    return {name: 2.0 * fine[name] - coarse[name] for name in fine}


def cuts(width: float, ahead: int = 4, flap: int = 0) -> dict[str, Cut]:
    """Panels of equal width (m) on wing and stabiliser, in line with one another along the flow."""
    return {s.name: Cut(even(round(s.tip[1] / width)), ahead, flap) for s in (WING, TAIL)}


@pytest.fixture(scope="module")
def lattice() -> dict[str, float]:
    def of_panels(width):
        def slopes(*surfaces, name=None):
            panels = Lattice(surfaces, cuts(width))
            return panels.loads(panels.pressure([0.0, 0.0, 1.0]), name=name)

        return summary(slopes(WING, TAIL), slopes(WING, TAIL, name="stabiliser"), slopes(TAIL), slopes(WING))

    return extrapolated(of_panels)


def test_the_library_reproduces_the_textbook_lattice():
    # Bertin and Smith's example: 4 by 1 panels a side, 0.1 %, and 20 by 8, its converged value's digits
    published = facts("wing_bertin_smith_swept.yaml")
    wing = straight(published["aspect_ratio"], sweep_quarter=math.radians(published["sweep_deg"]))
    for spanwise, chordwise, expected, tolerance in ((4, 1, "CL_alpha_per_rad", 1e-3), (20, 8, None, 2e-3)):
        panels = Lattice((wing,), {"wing": Cut(even(spanwise), chordwise)})
        slope = -panels.loads(panels.pressure([0.0, 0.0, 1.0]))[2] / 0.8
        assert slope == pytest.approx(published[expected or "CL_alpha_converged_lattice"], rel=tolerance)


def test_pitch_stability_is_that_of_the_surfaces_alone(model):
    # the very function that pilots' numbers come from, on a plane of wing and stabiliser: the same slopes
    specks = Fuselage(tuple(FuselageStation(x, 1e-6, 1e-6) for x in (1e-3, -1e-3)))
    airframe = replace(SETUP.airframe, surfaces=(WING, TAIL), fuselage=specks, drag_bodies=())
    plane = build(replace(SETUP, airframe=airframe))
    x = blank_state(100.0)  # m: out of ground effect
    x[L.VELOCITY] = SPEED
    found = pitch_stability(plane, Trim(x, np.zeros(L.COMMAND), 0.0))
    assert plane.mac_of_station(found.neutral_point) == pytest.approx(
        model["neutral_point"], abs=5e-4
    )  # drag off the CG
    assert found.lift_slope == pytest.approx(model["lift_slope"], rel=2e-3)  # 1 - cos, and drag in the lift
    assert found.static_margin == pytest.approx(model["neutral_point"] - 0.31, abs=5e-4)


def test_this_model_against_the_vortex_lattice(model, lattice):
    # What the model has more or less than linear theory, each seen by changing that one thing:
    # - slopes: 10 and 5 strips a side of equal width (a lattice of 50 mm panels reads 1 and 4 % high),
    #   section slope 0.97 to 0.98 of 2 pi
    assert model["wing_slope"] / lattice["wing_slope"] == pytest.approx(1.005, abs=0.015)
    assert model["tail_slope"] / lattice["tail_slope"] == pytest.approx(1.05, abs=0.02)
    assert model["lift_slope"] / lattice["lift_slope"] == pytest.approx(1.018, abs=0.015)
    # - wing alone: one vortex along the chord puts the load at c/4, lifting-surface theory 1 % ahead of it
    assert model["wing_centre"] - lattice["wing_centre"] == pytest.approx(0.011, abs=0.004)
    # - downwash: 8 % less, of which 3 % is the core in which other surfaces see trailing legs, half a strip wide
    assert model["downwash"] / lattice["downwash"] == pytest.approx(0.92, abs=0.03)
    # - so the neutral point lies 3.3 % MAC (13 mm) further aft: 1.1 the wing's own centre, 0.7 the tail's slope, the rest
    #   the downwash.  Margins read that much larger than linear theory's, on the unsafe side.
    assert model["neutral_point"] - lattice["neutral_point"] == pytest.approx(0.033, abs=0.01)


def helmbold(aspect: float) -> float:
    """Lift slope per rad, section slope 2 pi."""
    return 2.0 * math.pi * aspect / (2.0 + math.sqrt(aspect**2 + 4.0))


def downwash_by_datcom(aspect, taper, sweep_quarter, arm_over_span, height_over_span) -> float:
    """Formula (b) of wing_downwash_gradient.yaml."""
    k_a = 1.0 / aspect - 1.0 / (1.0 + aspect**1.7)
    k_taper = (10.0 - 3.0 * taper) / 7.0
    k_h = (1.0 - abs(height_over_span)) / (2.0 * arm_over_span) ** (1.0 / 3.0)
    return 4.44 * (k_a * k_taper * k_h * math.sqrt(math.cos(sweep_quarter))) ** 1.19


def test_downwash_formulas_as_published():
    for e in facts("wing_downwash_gradient.yaml")["examples"]:
        if e["formula"] == "a":
            found = 2.0 * e["CLa"] / (math.pi * e["A"])
        else:
            found = downwash_by_datcom(e["A"], e["taper"], math.radians(e["sweep_deg"]), e["l_over_b"], e["h_over_b"])
        assert found == pytest.approx(e["de_da"], rel=1e-3)


def test_the_textbook_formula_lies_with_both(model, lattice):
    # Nelson, Flight Stability and Automatic Control: x_NP = x_ac + V_H a_t (1 - de/da) / a, here with the lift of the
    # stabiliser in a, slopes by Helmbold and de/da by DATCOM
    aspect, taper = SPAN**2 / AREA, WING.tip_chord / WING.root_chord
    quarter_wing = MAC_EDGE + 0.25 * MAC
    quarter_tail = TAIL_MAC_EDGE + 0.25 * TAIL_MAC
    arm, height = quarter_tail - quarter_wing, WING.root[2] - TAIL.root[2]
    sweep = math.atan((-WING.tip[0] + 0.25 * WING.tip_chord - 0.25 * WING.root_chord) / WING.tip[1])
    downwash = downwash_by_datcom(aspect, taper, sweep, arm / SPAN, height / SPAN)
    tail_share = helmbold(TAIL_SPAN**2 / TAIL_AREA) * TAIL_AREA / AREA * (1.0 - downwash)
    slope = helmbold(aspect) + tail_share
    neutral_point = 0.25 + tail_share / slope * arm / MAC
    # DATCOM's downwash is an empirical mean (20 %): this model lies on it, the lattice, whose wake stays in the
    # wing's plane 45 mm under the stabiliser, 10 % above.
    assert downwash < lattice["downwash"]
    assert model["downwash"] == pytest.approx(downwash, rel=0.05)
    assert lattice["downwash"] == pytest.approx(downwash, rel=0.15)
    # 0 and 3 % MAC: 0.05 of downwash is 2 % MAC, and the wing's centre is c/4 here as in the model
    assert model["neutral_point"] - neutral_point == pytest.approx(0.005, abs=0.01)
    assert neutral_point - lattice["neutral_point"] == pytest.approx(0.030, abs=0.01)
    # Helmbold's slopes lie 5 % above lattices, as the table of short wings has it
    assert slope == pytest.approx(model["lift_slope"], rel=0.05)
    assert slope == pytest.approx(lattice["lift_slope"], rel=0.06)


def damping(loads: np.ndarray, helix: float) -> float:
    """C_lp of a rolling moment over dynamic pressure at helix angle p b / 2V."""
    return loads[3] / (AREA * SPAN) / helix


def test_roll_damping(lattice):
    def of_panels(width):
        panels = Lattice((WING, TAIL), cuts(width))
        rolling = panels.pressure(lambda at: np.cross([2.0 / SPAN, 0.0, 0.0], at))  # p b / 2V = 1
        return dict(damping=damping(panels.loads(rolling), 1.0))

    stream = Stream((WING, TAIL), speed=SPEED)
    rate = 0.1
    found = damping(stream.loads(0.0, rates=(rate, 0.0, 0.0)) / PRESSURE, 0.5 * rate * SPAN / SPEED)
    # ten strips of equal width a side: a lattice of 50 mm panels reads 4 % high, this one 7 %
    assert found / extrapolated(of_panels)["damping"] == pytest.approx(1.07, abs=0.02)
    assert found < 0.0


def flap_cut(surface, strips_between: int, ahead: int, flap: int) -> Cut:
    """Span edges that meet the ends of the surface's flap."""
    start, end = surface.flap.start, surface.flap.end
    edges = [np.linspace(0.0, start, 2), np.linspace(start, end, strips_between + 1)[1:]]
    if end < 1.0:
        edges.append(np.array([1.0]))
    return Cut(np.concatenate(edges), ahead, flap)


@pytest.mark.parametrize("control, ratio", [("aileron", 1.028), ("elevator", 1.080)])
def test_control_power(control, ratio):
    # 1 deg; ailerons against each other.  Strips that a flap covers in part carry it in part, and strips of equal width
    # read high as with the slopes above (5 a side on the stabiliser: 5.5 %; 10 on the wing).
    turn = math.radians(1.0)
    surface, axis = (WING, 3) if control == "aileron" else (TAIL, 4)
    deflection = (turn, -turn, 0.0, 0.0) if control == "aileron" else (0.0, 0.0, turn, 0.0)
    found = Stream((WING, TAIL), speed=SPEED).loads(0.0, deflection=deflection)[axis] / PRESSURE / turn

    def of_panels(width):
        count = round(0.8 / width)
        both = {s.name: flap_cut(s, count if s is WING else count // 2, 4, 3) for s in (WING, TAIL)}
        panels = Lattice((WING, TAIL), both)
        sense = -np.sign(panels.fraction) if control == "aileron" else 1.0
        turned = np.where(panels.owner == surface.name, sense, 0.0)
        return dict(moment=panels.loads(panels.pressure_of_flap(turned))[axis])

    assert found / extrapolated(of_panels)["moment"] == pytest.approx(ratio, abs=0.02)
    assert (
        found > 0.0 if control == "aileron" else found < 0.0
    )  # left down, right up rolls right; elevator down, nose down
