"""Planes that nobody has measured: every template balances and flies, and a built-in plane comes out near itself."""

import numpy as np
import pytest

from models.loader import load_setup
from models.proportions import SPANS
from models.questions import BY_KEY, read_answer
from models.sketch import sketch
from scenarios.balance import balance
from scenarios.first_setup import FURTHEST_AFT, LEAST_MARGIN, MARGIN, first_setup
from scenarios.manoeuvres import fly_manoeuvre, flyable, load_manoeuvre
from scenarios.outcomes import outcome
from sim.build import build, with_cg
from sim.linearisation import pitch_stability
from sim.trim import level_trim
from tests.sim.reference import facts

SWUNG_SPAN = 1.094  # m, area over chord of the measured aeroplane: rc_aerobatic_mxs_inertia.yaml
FLOWN = [(1.5, "electric"), (1.9, "piston"), (2.2, "electric"), (2.7, "piston"), (3.1, "electric")]


def written(**texts: str):
    return first_setup(sketch({key: read_answer(BY_KEY[key], text) for key, text in texts.items()}), "plane.yaml")


@pytest.mark.parametrize("kind", ["electric", "piston"])
@pytest.mark.parametrize("span", SPANS)
def test_every_template_balances_trims_and_flies(span, kind):
    first = written(span=f"{span} m", power=kind)
    plane, found = first.plane, balance(first.plane)
    assert found.cg == pytest.approx(first.wanted_cg, abs=5e-4)  # reached with the item on its tray
    assert found.tray[0] < found.item_station < found.tray[1]
    assert found.static_margin >= MARGIN - 0.002 and found.cg_mac <= FURTHEST_AFT + 0.002
    # static thrust over weight of such planes is 1.4 to 2.2 (common practice, no source), computed at most 5 % more
    assert 1.4 <= first.thrust <= 2.32
    # Inertia over mass and span squared against a 1.1 m aeroplane on a swing.  Swing and fit 15 %, air that swings along up
    # to 25 % (so that the measured ones read high), and a length that stands in for its span, 5 %: 0.6 to 1.25.
    # Raymer's table 16.1 (from memory; light aircraft) is met in roll; in pitch and yaw these planes, the measured one
    # too, have 1.2 to 1.4 times its radii: engine and tail are the ends of a light body.
    swing = facts("rc_aerobatic_mxs_inertia.yaml")
    for have, want in zip(found.inertia[:3], swing["radii_m"].values()):
        assert 0.6 <= have / found.mass / span**2 / (want / SWUNG_SPAN) ** 2 <= 1.25
    table = facts("inertia_radii.yaml")
    roll = np.sqrt(found.inertia[0] / found.mass) / (0.5 * span * table["single_engine_prop"]["Rx"])
    assert roll == pytest.approx(1.0, abs=table["tolerance"])
    assert 0.9 <= found.inertia[2] / (found.inertia[0] + found.inertia[1]) < 1.0  # flat layout (the same table)
    if (span, kind) in FLOWN:
        for name in ("stall", "hover"):
            flown = fly_manoeuvre(plane.setup, load_manoeuvre(name)[0], plane)
            assert flown.flight.ending == "completed" and outcome(flown).was


BUILT_IN = {"precision": "20x13", "moor-220-precision": "21x13", "corrie-310-precision": "31x12",
            "scree-270-slow-3d": "28x9", "beck-150-extreme": "15x10"}  # fmt: skip
ASKED = {"corrie-310-precision": "168 cm3", "scree-270-slow-3d": "112 cm3"}
# In roll, pitch, yaw.  The outline is given, where masses sit along the span is a rule; beck-150 has plates at its
# wing tips that nobody is asked about.
INERTIA = {"beck-150-extreme": (0.20, 0.10, 0.10)}


def told(name: str) -> dict[str, str]:
    """What the pilot of a built-in plane would answer with a ruler and a scale."""
    setup = load_setup(name)
    plane = setup.airframe
    wing, tail, fin = ({s.name: s for s in plane.surfaces}[n] for n in ("wing", "stabiliser", "fin"))
    stations, masses = plane.fuselage.stations, {i.name: i.mass for i in plane.items}

    def mm(length: float) -> str:
        return f"{1000 * length:.0f} mm"

    answers = {
        "name": plane.name, "span": mm(2 * wing.tip[1]), "weight": f"{1000 * sum(masses.values()):.0f} g",
        "wing_root_chord": mm(wing.root_chord), "wing_tip_chord": mm(wing.tip_chord), "wing_sweep": mm(-wing.tip[0]),
        "stabiliser_span": mm(2 * tail.tip[1]), "stabiliser_root_chord": mm(tail.root_chord),
        "stabiliser_tip_chord": mm(tail.tip_chord), "stabiliser_at": mm(-tail.root[0]),
        "stabiliser_height": mm(-tail.root[2]), "fin_height": mm(fin.root[2] - fin.tip[2]),
        "fin_root_chord": mm(fin.root_chord), "fin_tip_chord": mm(fin.tip_chord),
        "fuselage_length": mm(stations[0].x - stations[-1].x), "fuselage_depth": mm(max(s.height for s in stations)),
        "thrust_height": mm(-plane.thrust_line.at[2]), "propeller": BUILT_IN[name],
    }  # fmt: skip
    for key, item in (("battery_mass", "battery"), ("motor_mass", "motor"), ("engine_mass", "engine with ignition")):
        if item in masses:
            answers[key] = f"{1000 * masses[item]:.0f} g"
    if name in ASKED:
        answers["displacement"] = ASKED[name]
    else:
        answers |= {"cells": str(plane.power.cells), "motor_kv": f"{plane.power.kv * 30 / np.pi:.0f}"}
    return answers


@pytest.mark.parametrize("name", BUILT_IN)
def test_a_built_in_plane_from_its_outline_comes_out_near_itself(name):
    """Found: neutral point within 0.6 % MAC, inertia within 8 % (without the plates of beck-150 17 % in roll)."""
    own = flyable(load_setup(name))
    first = written(**told(name))
    neutral = pitch_stability(own, level_trim(own, 25.0, 100.0)).neutral_point
    # the outline is the same; sections, fuselage shape and control chords are rules: 1 % of MAC
    assert first.neutral_point == pytest.approx(neutral, abs=0.01 * own.mac)
    assert first.plane.mass.mass == pytest.approx(own.mass.mass, abs=1e-3)  # grams as answered
    same = build(with_cg(first.plane.setup, own.cg_station, "m"))  # a CG within reach of both
    for have, want, within in zip(np.diag(same.mass.inertia), np.diag(own.mass.inertia), INERTIA.get(name, (0.1,) * 3)):
        assert have == pytest.approx(want, rel=within)


def test_places_move_only_where_the_battery_would_not_reach():
    plain = written(span="2.2 m", power="electric")
    assert "where the plane balances" not in plain.airframe
    long = written(span="2.2 m", weight="7.5 kg", fuselage_length="2.05 m", motor_mass="1.5 kg", battery_mass="1 kg")
    assert "but fuselage, rudder servo, receiver and its packs where the plane balances" in long.airframe.replace(
        "\n  #  ", ""
    )
    assert long.plane.cg_station == pytest.approx(long.wanted_cg, abs=5e-4)


def test_a_tail_heavy_plane_is_refused_with_what_to_look_at():
    from models.errors import UserError

    with pytest.raises(UserError, match="tail-heavy") as caught:
        written(span="2.2 m", fuselage_length="1.5 m", motor_mass="300 g")
    assert f"{100 * LEAST_MARGIN:.0f} % of MAC ahead" in str(caught.value)
