"""Left and right: a CG beside the centre line, ailerons that do not travel alike, surfaces that do not centre."""

import math
from dataclasses import replace

import numpy as np
import pytest

from scenarios.accuracy import PRACTICE, SIDES, TIP_WEIGHT, accuracies_of
from scenarios.balance import TRIM_HEIGHT, TRIM_SPEED, lateral
from scenarios.draws import Uncertain, draw, off_by, uncertain_of
from scenarios.ensemble import Work, cases_of, prepare, run
from scenarios.inputs import Case, inputs_of
from scenarios.manoeuvres import fly_manoeuvre, flyable, load_manoeuvre
from sim import layout as L
from sim.build import build
from sim.frames import G
from sim.stability_derivatives import stability_derivatives
from sim.transmitter import transmit
from sim.trim import level_trim
from tests.scenarios.flying import setup_of
from tests.scenarios.studies import loaded

MM, DEG = 0.001, math.radians(1.0)
SETUP = setup_of("precision")
LATERAL, MATCH = "cg to the right", "aileron left over right"
LINE, LINE_TEXT = load_manoeuvre("upline-45")


def with_input(name: str, value: float, setup=SETUP):
    return inputs_of(setup)[name].apply(Case(setup), value).setup


def drawn(*uncertain: Uncertain, count: int = 40, measures=("roll_drift", "heading_drift")) -> np.ndarray:
    """So many draws (and the nominal one) of the up-line."""
    work = Work.of(loaded(), [("upline-45", LINE_TEXT)], count + 1, uncertain=uncertain,
                   measures=(("upline-45", measures),))  # fmt: skip
    return run(work, workers=1).values


# ---- the CG beside the centre line ----------------------------------------------------------------


def test_the_cg_goes_where_it_is_put_and_nothing_else_does():
    before = build(SETUP).mass
    for right in (-3 * MM, 2 * MM):
        case = inputs_of(SETUP)[LATERAL].apply(Case(SETUP), right)
        after = build(case.setup).mass
        assert after.cg == pytest.approx([before.cg[0], right, before.cg[2]], abs=1e-15)
        assert after.inertia == pytest.approx(before.inertia, abs=1e-14) and after.mass == before.mass
        assert inputs_of(SETUP)[LATERAL].value(case) == pytest.approx(right, abs=1e-15)


def test_roll_trim_of_a_cg_to_one_side():
    """Weight times arm is the moment of the ailerons, q S b Cl_da (definition: Nelson, chapter 3, from memory), to 1 % as
    rudder and sideslip take part (found 0.3).  What is commanded is that and what the air pushes back, as `upline balance` says of
    a weight at a tip, another route.  Both change sign with the side."""
    plane = build(SETUP)
    trim = level_trim(plane, TRIM_SPEED, TRIM_HEIGHT)
    derivatives = stability_derivatives(plane, trim)
    q = 0.5 * 1.225 * (1.0 - 2.25577e-5 * TRIM_HEIGHT) ** 4.2559 * TRIM_SPEED**2  # ISO 2533
    per_m = plane.mass.mass * G / (q * derivatives.area * derivatives.span * abs(derivatives.values["Cl_da"]))

    def rolled(right: float) -> tuple[float, float]:
        """Aileron rolling to the right beyond that of the plane as it is: of the surface, and as commanded."""
        moved = level_trim(build(with_input(LATERAL, right)), TRIM_SPEED, TRIM_HEIGHT)
        places = (L.SERVO + L.AILERON_LEFT, moved.x, trim.x), (L.AILERON_LEFT, moved.command, trim.command)
        return tuple(float(after[at] - before[at]) for at, after, before in places)

    (left, left_sent), (right, right_sent) = rolled(-4 * MM), rolled(4 * MM)
    assert right < 0.0 < left and left == pytest.approx(-right, rel=0.01)
    assert -right == pytest.approx(4 * MM * per_m, rel=0.01)
    tip = lateral(plane)
    assert right_sent == pytest.approx(4 * MM * tip.per_10_g / tip.cg_per_10_g, rel=0.02)
    assert left_sent == pytest.approx(-right_sent, rel=0.01)


def test_a_heavy_side_shows_on_the_line():
    """Trimmed in level flight, less of the weight hangs on the arm on the line: what it was trimmed with is left over and rolls
    to the light side.  The thrust that now carries weight pulls on the light side of the CG, and yaws to the heavy one."""
    error = Uncertain(LATERAL, "uniform", 4 * MM)
    values = drawn(error, count=20)
    right = np.array([draw((error,), 1, index)[LATERAL] for index in range(1, 21)])
    assert np.ptp(np.sign(right)) == 2.0
    for change, way in zip((values[1:] - values[0]).T, (-1.0, 1.0)):
        assert (np.sign(change) == way * np.sign(right)).all() and way * np.corrcoef(change, right)[0, 1] > 0.99


# ---- surfaces that do not centre ---------------------------------------------------------------------


@pytest.mark.parametrize(
    "control, at, sign", [("aileron", L.AILERON_LEFT, 1.0), ("elevator", L.ELEVATOR, -1.0), ("rudder", L.RUDDER, -1.0)]
)
def test_a_surface_let_go_stands_off_the_trim(control, at, sign):
    flown = fly_manoeuvre(with_input(f"{control} centring", 0.3 * DEG), LINE)
    command = np.zeros(L.COMMAND)
    transmit(np.array([0.0, 0.0, 0.0, 0.5]), flown.plane.chain, command)
    assert sign * (command[at] - flown.level.command[at]) == pytest.approx(0.3 * DEG, abs=1e-9)


def test_the_line_spreads_wider_with_left_and_right_apart():
    """Variances of independent errors add, so that the wider ones hold the others: bank by a factor of two at the least."""
    every = uncertain_of(SETUP)
    sides = {a.name for a in accuracies_of(SETUP, SIDES)}
    narrow, wide = (drawn(*u).std(axis=0) for u in (tuple(u for u in every if u.input not in sides), every))
    assert wide[0] > 2.0 * narrow[0] and wide[1] > 1.05 * narrow[1]
    rolled = drawn(Uncertain("aileron centring", "uniform", 0.3 * DEG), count=12)[:, 0]
    errors = [
        draw((Uncertain("aileron centring", "uniform", 0.3 * DEG),), 1, i)["aileron centring"] for i in range(1, 13)
    ]
    assert (np.sign(rolled[1:] - rolled[0]) == np.sign(errors)).all()


# ---- ailerons that do not travel alike --------------------------------------------------------------


def test_one_aileron_goes_further_both_ways():
    """At 80 % stick, before throws stop it: left less right, up and down, and as much of it as of the stick.  The mean of
    both stays, to the 1 % that commands up and down differ by through the linkage."""
    uneven, even = build(with_input(MATCH, 1.0 * DEG)), build(SETUP)
    share = 0.8
    for stick in (share, -share):
        both = []
        for plane in (uneven, even):
            command = np.zeros(L.COMMAND)
            transmit(np.array([stick, 0.0, 0.0, 0.5]), plane.chain, command)
            both.append(np.abs(command[[L.AILERON_LEFT, L.AILERON_RIGHT]]))
        further = both[0] - both[1]
        effect = both[1].mean() / SETUP.throws["aileron"].positive
        assert further[0] - further[1] == pytest.approx(effect * DEG, rel=1e-9)
        assert further.sum() == pytest.approx(0.0, abs=0.01 * effect * DEG)


def test_what_is_mixed_already_stays():
    from sim.description import Mix, Mode

    bent = Mix("aileron", "flaps", points=((-1.0, 0.1), (0.0, 0.0), (1.0, 0.1)))
    mixed = replace(SETUP, mixes=(Mix("aileron", "flaps", 0.05), bent), modes=(Mode("a", mixes=()), Mode("b")))
    what = inputs_of(mixed)[MATCH]
    now = what.value(Case(mixed))
    moved = what.apply(Case(mixed), now + DEG).setup
    throw = SETUP.throws["aileron"].positive + SETUP.throws["aileron"].negative
    assert now == pytest.approx(0.05 * throw) and bent in moved.mixes
    assert what.value(Case(moved)) == pytest.approx(now + DEG)
    assert (
        moved.modes[0].mixes == (Mix("aileron", "flaps", pytest.approx(DEG / throw)),) and moved.modes[1].mixes is None
    )
    assert what.apply(Case(SETUP), 0.0).setup is SETUP


def test_the_pilot_does_not_relearn_for_ailerons_that_differ():
    work = Work.of(loaded(), [("upline-45", LINE_TEXT)], 2, uncertain=(Uncertain(MATCH, "normal", DEG),))
    case, like = cases_of(work, 1)[0], prepare(work).plane
    drawn_plane, nominal = (fly_manoeuvre(s, LINE, like=like) for s in (case.setup, SETUP))
    assert case.setup.mixes and (drawn_plane.pilot == nominal.pilot).all()
    alone = fly_manoeuvre(case.setup, LINE, flyable(case.setup))
    assert drawn_plane.level.x == pytest.approx(alone.level.x, abs=3e-6)


# ---- by default ---------------------------------------------------------------------------------------


def test_what_is_uncertain_by_default():
    found = {a.name: a for a in accuracies_of(SETUP, SIDES)}
    assert set(found) == {LATERAL, "aileron centring", "elevator centring", "rudder centring"}
    assert all(a.source == PRACTICE for a in found.values())
    heavy = next(i for i in SETUP.airframe.items if i.name == "right wing half")
    tip = next(s for s in SETUP.airframe.surfaces if s.name == "wing").tip[1]
    items = (*SETUP.airframe.items, replace(heavy, name="at the tip", mass=TIP_WEIGHT, at=(0.0, tip, 0.0)))
    weighed = build(replace(SETUP, airframe=replace(SETUP.airframe, items=items))).mass.cg[1]
    assert found[LATERAL].sigma == pytest.approx(float(weighed), rel=0.002)  # 5 g of 6.5 kg
    names = [u.input for u in uncertain_of(SETUP)]
    assert [n for n in names if n not in found] == names[: -len(found)]  # those before them are as they were
    before = {u.input: u for u in uncertain_of(SETUP) if u.input not in found}
    errors = draw(uncertain_of(SETUP), 1, 7)
    assert {n: errors[n] for n in before} == draw(before.values(), 1, 7)
    assert off_by(Case(SETUP), errors, inputs_of(SETUP)).setup.trims["rudder"] == errors["rudder centring"]
