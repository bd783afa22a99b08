"""Walks that are flown: against the linear prediction, single flights, any number of workers, and hand-made steps.

Most fly with the limit on the static margin alone, so that a step is a trim and a dive.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from models.errors import UserError
from models.loader import load, load_setup, setup_from_texts
from scenarios.accuracy import MODEL
from scenarios.balance import own_modes
from scenarios.ballast import free_tray, place_named, wanted
from scenarios.compiler import compile_phases
from scenarios.ensemble import ENDED
from scenarios.ensemble.local import Cores
from scenarios.manoeuvres import fly_manoeuvre, flyable, load_manoeuvre
from scenarios.measures import take_measures
from scenarios.measures.stability import PITCH, fastest_growth
from scenarios.sticks import set_trims, sticks_for
from scenarios.walk import walking
from scenarios.walk.steps import general, rearward, with_line
from scenarios.walk.verdict import Judged, judge
from scenarios.walk.walking import Plan, walk
from sim import layout as L
from sim.flight import fly
from sim.frames import G
from sim.integration import FRAME
from sim.linearisation import RIGID, linearise
from sim.pilot import pilot_for
from sim.pitch_margins import pitch_margins
from sim.trim import level_trim
from tests.scenarios.walks import only_margin, planned, same


@pytest.fixture(scope="module")
def margins():
    """A walk of 9 mm steps with margins alone, no draws worth the name."""
    return walk(planned(by="9 mm", uncertain=()), workers=1)


def column(result, manoeuvre: str, measure: str) -> int:
    return next(n for n, (m, name, _) in enumerate(result.columns) if (m, name) == (manoeuvre, measure))


# ---- against the linear prediction ------------------------------------------------------------------------------------


def test_the_margin_falls_by_a_percent_for_each_percent_of_the_mean_chord(margins):
    # margin = (h_n - h), both of MAC (Nelson, Flight Stability and Automatic Control, chapter 2, from memory); what is
    # left is that the neutral point moves forward a little with alpha and elevator of the trim (1 % of the way)
    plane = flyable(load_setup("precision"))
    at = column(margins, "dive-test", "stick_fixed_margin")
    margin = np.array([flown.values[0, at] for flown in margins.flown])
    cg = np.array([flown.step.number for flown in margins.flown]) / 1000.0
    per_percent = np.diff(margin) / (100.0 * np.diff(cg) / plane.mac)
    np.testing.assert_allclose(per_percent, -1.0, atol=0.02)
    assert (np.diff(margin) < 0.0).all()


def test_the_walk_ends_where_the_margin_says(margins):
    plane = flyable(load_setup("precision"))
    at = column(margins, "dive-test", "stick_fixed_margin")
    start, cg = margins.flown[0].values[0, at], plane.cg_station
    # the CG at which the margin, less what the model may read too much, is down to 5 %
    end = cg + (start - 100.0 * MODEL - 5.0) / 100.0 * plane.mac
    assert margins.flown[margins.furthest].step.number <= 1000.0 * end < margins.flown[margins.tripped].step.number
    assert margins.furthest + 1 == margins.tripped
    gone = margins.trends()[0]
    assert gone.place == pytest.approx(1000.0 * end, abs=1.0)  # mm; the line is straight to a percent of 20 mm


def test_what_every_step_flies_gets_less_stable_in_one_direction():
    # dive and inverted, hands off: with the CG aft the pull toward the canopy gets less (Trimming charts, CG & the Dive
    # Test: trade sources); pitch per degree of elevator gets more
    drift, inverted, response = [], [], []
    for cg in ("159 mm", "174 mm", "189 mm", "204 mm"):
        setup = load_setup("precision", cg)
        taken = {}
        for name in ("dive-test", "inverted-flight", "level-trim"):
            flown = fly_manoeuvre(setup, load_manoeuvre(name)[0])
            taken |= {(name, t.measure.name): t.value for t in take_measures(flown)}
        drift.append(taken["dive-test", "pitch_drift"])
        inverted.append(taken["inverted-flight", "pitch_drift"])
        response.append(taken["level-trim", "pitch_response"])
    for falling in (drift, inverted, [-r for r in response]):
        assert (np.diff(falling) < 0.0).all(), falling


def test_static_instability_appears_where_the_trim_margin_ends():
    # A motion that neither grows nor dies: the constant term of the characteristic equation, the product of its roots,
    # passes through nothing where elevator trim no longer changes with speed (Etkin and Reid, Dynamics of Flight, chapter 6,
    # from memory: static stability).  With a propeller that loses thrust with speed this lies aft of the neutral point.
    setup = load_setup("slow-3d")
    here = wanted(setup).station

    def at(cg: float) -> tuple[float, float, float]:
        plane = flyable(free_tray(replace(setup, cg=(cg, "m"))))
        trim = level_trim(plane, 25.0, 100.0)
        linear = linearise(plane, trim)
        long = [linear.states.index(state) for state in (*PITCH, "rotor")]
        return pitch_margins(plane, trim, linear).speed, float(np.linalg.det(linear.a[np.ix_(long, long)])), plane.mac

    places = here + np.array([0.080, 0.086, 0.092, 0.098])
    found = [at(place) for place in places]
    speed, constant = (np.interp(0.0, *zip(*sorted(zip([f[k] for f in found], places)))) for k in (0, 1))
    assert speed == pytest.approx(
        constant, abs=0.002 * found[0][2] + 0.0005
    )  # m: half a per mille of the chord and 0.5 mm
    assert np.sign(found[0][1]) != np.sign(found[-1][1])


def test_a_growing_motion_grows_in_flight_as_the_modes_say():
    # Hands off from a trim that is unstable, with a little pitch rate either way: the difference of the two flights is
    # the motion alone, without what the stick's resolution leaves of the trim.  After two seconds only what grows is left;
    # found 1 % apart, which is the motion's size (8 deg/s) and the flow's lag beyond its second order.
    setup = load_setup("slow-3d")
    plane = flyable(free_tray(replace(setup, cg=(wanted(setup).station + 0.110, "m"))))
    trim = level_trim(plane, 25.0, 100.0)
    growth = fastest_growth(own_modes(plane, trim)[0])
    assert 0.2 < math.log(2.0) / growth < 2.0  # s, time to double: under the limit of slow 3D
    set_trims(plane, trim)
    manoeuvre, rates = load_manoeuvre("level-trim")[0], []
    for given in (1e-4, -1e-4):
        x0 = trim.x.copy()
        x0[L.RATES + 1] += given
        flight = fly(plane, x0, sticks_for(plane, trim), compile_phases(manoeuvre), pilot_for(plane, trim))
        rates.append(flight.channel("pitch rate")[flight.frames_of(0)])
    apart = rates[0] - rates[1]
    first, last = (int(round(seconds / FRAME)) for seconds in (2.0, 3.0))
    assert math.log(apart[last] / apart[first]) == pytest.approx(growth, rel=0.03)


def test_growth_with_the_cg_further_aft_is_the_growth_there():
    flown = fly_manoeuvre(load_setup("precision"), load_manoeuvre("dive-test")[0])
    taken = {t.measure.name: t.value for t in take_measures(flown)}
    there = flyable(free_tray(replace(flown.setup, cg=(flown.plane.cg_station + MODEL * flown.plane.mac, "m"))))
    expected = fastest_growth(own_modes(there, level_trim(there, 25.0, flown.manoeuvre.start.height))[0])
    assert taken["pitch_growth_aft"] == pytest.approx(expected, rel=1e-9)


# ---- draws ---------------------------------------------------------------------------------------------------------------


def test_the_first_step_is_the_setup_as_it_flies(margins):
    for name in ("dive-test", "level-trim"):
        flown = fly_manoeuvre(load_setup("precision"), load_manoeuvre(name)[0])
        for taken in take_measures(flown):
            at = column(margins, name, taken.measure.name)
            assert margins.flown[0].values[0, at] == taken.value


def test_a_later_step_is_the_setup_at_that_cg(margins):
    step = margins.flown[1]
    flown = fly_manoeuvre(load_setup("precision", step.step.text), load_manoeuvre("dive-test")[0])
    for taken in take_measures(flown):
        assert step.values[0, column(margins, "dive-test", taken.measure.name)] == taken.value
    plane = flyable(load_setup("precision", step.step.text))
    battery = next(item for item in plane.items if item.name == "battery")
    assert step.step.item == pytest.approx(-battery.at[0], abs=1e-9)


def test_the_same_seed_the_same_numbers_whatever_flies_them(tmp_path):
    plan = planned(by="12 mm", draws=6, seed=7)
    one, two = walk(plan, workers=1), walk(plan, tmp_path / "kept", workers=2)
    assert same(one, two)
    other = walk(replace(plan, seed=8), workers=1)
    assert (other.flown[0].values[1:] != one.flown[0].values[1:]).any()
    np.testing.assert_array_equal(other.flown[0].values[0], one.flown[0].values[0])  # nominal: no draw


def test_a_folder_is_gone_on_with(tmp_path, monkeypatch):
    plan, folder = planned(by="12 mm", draws=6), tmp_path / "kept"
    first = walk(plan, folder, workers=1)
    (folder / "note.json").write_text("not ours")
    asked = []
    fly = Cores.fly
    monkeypatch.setattr(Cores, "fly", lambda crew, jobs: asked.extend(jobs) or fly(crew, jobs))
    assert same(walk(plan, folder, workers=1), first) and not asked
    longer = walk(replace(plan, draws=8), folder, workers=1)
    assert asked[0][1:] == (6, 9)  # the sixth draw again, as its piece was cut short
    assert same(longer, walk(replace(plan, draws=8), workers=1))


def test_draws_of_the_cg_are_not_bounded_by_the_tray():
    # the last step leaves the battery a tenth of a millimetre of CG: half of the draws lie beyond
    plan = planned("slow-3d", "-30 %", draws=6, to="223.0 mm", by="28.4 mm")
    result = walk(plan, workers=1)
    assert len(result.flown) == 2 and result.tripped is None
    assert (result.flown[1].endings == ENDED.index("completed")).all()


# ---- the way of a walk, on steps made by hand ---------------------------------------------------------------------------------


class _MadeByHand(walking._Walker):
    """Steps whose draws break the limit as a table says: draw n of step s does where `bad[s]` holds n; 0 is nominal."""

    def __init__(self, plan: Plan, bad: list[set[int]]):
        plan = replace(plan, limits=plan.limits[:1])
        self.plan, self.bad, self.count, self.few, self.flown_of = plan, bad, {}, min(20, plan.draws), []
        self.works = [None] * len(bad)
        self.aside = np.zeros(2, dtype=bool)

    def fly(self, what, steps, draws, later):
        for n in steps:
            self.count[n] = max(self.count.get(n, 0), draws)

    def looked_at(self, n):
        broken = np.zeros((self.count[n] + 1, 2), dtype=bool)
        broken[[k for k in self.bad[n] if k <= self.count[n]], 0] = True
        judged = Judged(np.where(broken[:, :1], -1.0, 1.0), broken)
        return walking.Flown(self.plan.path.steps[min(n, 1)], judged, np.zeros((len(broken), 1)), np.zeros((1, 1)), [])


LATE = set(range(50, 60))  # 10 of 100, none among the first twenty


@pytest.mark.parametrize(
    "bad, expected",
    [
        ([set()] * 4, (3, None)),
        ([set(), set(), {0}, set()], (1, 2)),  # the nominal flight alone
        ([set(), {3}, LATE | {3}, set()], (1, 2)),  # in doubt from the first draws: 1 of 100 is sound, 11 are not
        ([set(), set(), LATE, {0}], (1, 2)),  # unseen by the first draws, found when the furthest is flown whole
        ([set(), LATE, LATE, {0}], (0, 1)),
        ([{0}, set()], (None, 0)),
        ([LATE | {3}, set()], (None, 0)),
        ([set(), {1, 2, 3, 4, 5}, {1, 2, 3, 4, 5, 6}], (1, 2)),  # 5 of 100 may, 6 may not
    ],
)
def test_which_step_is_the_furthest(bad, expected):
    walker = _MadeByHand(planned(by="12 mm", draws=100), bad)
    assert walker.to_the_limit() == expected
    furthest, tripped = expected
    if furthest is not None:
        assert walker.count[furthest] == 100  # what is called sound was flown with all draws
    if tripped is not None and 0 not in bad[tripped]:
        assert walker.count[tripped] == 100  # and what is not, too


def test_what_is_advised_leaves_room_to_go_back(margins):
    # 9 mm steps: two of them are more than 4 mm
    assert margins.advised == max(0, margins.furthest - 2)
    fine = walk(planned(by="1 mm", to="169 mm", bound="8 %", uncertain=()), workers=1)
    short = fine.flown[fine.furthest].step.number - fine.flown[fine.advised].step.number
    assert short == pytest.approx(4.0)


def test_what_could_not_be_measured_is_told_from_what_was_beyond(margins):
    step = margins.flown[0]
    at = column(margins, "dive-test", "stick_fixed_margin")
    values, reasons = step.values[[0, 0, 0, 0]].copy(), [[""] * len(margins.columns) for _ in range(4)]
    values[1, at], values[2, at], reasons[2][at] = 6.0, math.nan, "not measured: a reason"
    endings = np.full((4, 2), ENDED.index("completed"))
    endings[3, 0] = ENDED.index("lost control")
    pairs = [(manoeuvre, measure) for manoeuvre, measure, _ in margins.columns]
    judged = judge(margins.plan.limits, pairs, values, endings, reasons)
    found = replace(margins, flown=(walking.Flown(step.step, judged, values, endings, reasons),)).broke(0)
    assert [(b.limit, b.draws, b.nominal) for b in found] == [("static margin", 2, False), ("flight", 1, False)]
    assert found[0].why == "not measured: a reason" and found[1].why == "level-trim: lost control"


# ---- steps ------------------------------------------------------------------------------------------------------------------------


def test_steps_go_to_the_end_of_the_tray_and_no_further():
    loaded = load("moor-220-precision")
    path = rearward(loaded, "5 mm")
    reach = 1000.0 * wanted(loaded.setup).reach[1]
    assert path.steps[-1].number <= reach < path.steps[-1].number + 5.0 and "tray" in path.end
    assert np.diff([step.number for step in path.steps]) == pytest.approx(5.0, abs=0.051)


def test_ballast_goes_on_where_the_tray_ends():
    loaded = load("scree-270-slow-3d")
    path = rearward(loaded, "5 mm", at=place_named("tail post", loaded.setup.airframe))
    carried = [step for step in path.steps if step.ballast]
    assert carried and path.steps[1].ballast == 0.0 and np.diff([step.ballast for step in carried]).min() > 0.0
    step = carried[2]
    plane = flyable(
        replace(setup_from_texts({**loaded.texts, "setup": step.setup_text}), cg=(step.number / 1000.0, "m"))
    )
    before = flyable(loaded.setup)
    assert plane.cg_station == pytest.approx(step.number / 1000.0, abs=1e-9)
    assert plane.mass.mass - before.mass.mass == pytest.approx(step.ballast, abs=1e-9)
    # moments about the wanted CG, with the item at the end of its tray (whole grams bring it back a little)
    assert step.item <= wanted(loaded.setup).tray[1] + 1e-9 and step.item > wanted(loaded.setup).tray[1] - 0.02
    assert plane.mass.mass * G == pytest.approx((before.mass.mass + step.ballast) * G)


def test_a_line_of_ballast_joins_those_of_the_file():
    line = "- {mass: 20 g, at: [1 m, 0 mm, 0 mm]}"
    assert with_line("a: 1\n", line) == f"a: 1\nballast:\n  {line}\n"
    text = "ballast:   # lead\n    - {mass: 5 g, at: [1 m, 0 mm, 0 mm]}\nb: 2\n"
    assert with_line(text, line) == text.replace("# lead\n", f"# lead\n    {line}\n")
    with pytest.raises(UserError):
        with_line("ballast: [{mass: 5 g, at: [1 m, 0 mm, 0 mm]}]\n", line)


def test_a_range_may_go_down():
    path = general(load("extreme"), "elevator throw: 62 deg to 40 deg by 4 deg")
    assert [step.number for step in path.steps] == [62, 58, 54, 50, 46, 42] and path.stops


def test_a_list_of_values_is_judged_one_by_one():
    loaded = load("precision")
    path = general(loaded, "cg: 34 %, 31 %, 40 %")
    result = walk(Plan(loaded, path, only_margin("precision", "5 %"), 2), workers=1)
    assert [result.sound(n) for n in range(3)] == [True, True, False] and result.furthest is None


@pytest.mark.parametrize(
    "make, words",
    [
        (lambda: rearward(load("precision"), by="3"), "--by"),
        (lambda: rearward(load("precision"), by="0.1 mm"), "0.5 mm"),
        (lambda: rearward(load("precision"), to="100 mm"), "behind the present"),
        (lambda: rearward(load("precision"), to="there"), "--to"),
        (lambda: rearward(load("scree-270-slow-3d"), by="20 mm"), "ballast"),
        (lambda: rearward(load("scree-270-slow-3d"), at=place_named("100 mm", load("scree-270-slow-3d").setup.airframe)), "aft"),
        (lambda: general(load("precision"), "wind: 0 m/s to 4 m/s by 1 m/s"), "not of the air"),
        (lambda: general(load("precision"), "elevator throw: 12 deg"), "2 to 40"),
        (lambda: general(load("precision"), "elevator throws: 12 deg, 14 deg"), "elevator throw"),
    ],
)  # fmt: skip
def test_wrong_walks_are_refused(make, words):
    with pytest.raises(UserError) as caught:
        make()
    assert words in str(caught.value)


def test_the_modes_of_the_pitch_are_told_from_the_others():
    plane = flyable(load_setup("precision"))
    both = own_modes(plane, level_trim(plane, 25.0, 100.0))[0]
    assert fastest_growth(both) == max(m.eigenvalue.real for m in both if m.name in ("short period", "phugoid"))
    assert set(PITCH) < set(RIGID)
