"""The traits of a setup: how they are judged, and that the built-in styles are best at what they are built for."""

import math
from dataclasses import replace

import pytest

from models.loader import load_setup
from scenarios.manoeuvres import fly_manoeuvre, flyable, load_manoeuvre
from scenarios.measures import MEASURES, STYLES, Taken
from scenarios.portrait import changes, fly_set, manoeuvres, references, taken
from scenarios.traits import DEFINING, FLOWN, TRAITS, Part, belongs, judge, judge_part
from sim.build import build
from sim.description import Throw

ROTATION = "rotation rates and stops"


def part(better, manoeuvre="stall"):
    judged = replace(MEASURES["height_lost"], better=dict.fromkeys(STYLES, better))
    return Part(manoeuvre, judged, "height lost")


def mark(value, references, better="less", manoeuvre="stall", way="extreme", beyond=0.0):
    of = part(better, manoeuvre)
    own, *others = (Taken(of.measure, v, "" if v is not None else "not held") for v in (value, *references))
    return judge_part(of, way, own, others, beyond).mark


# ---- the scale, by its definition ------------------------------------------------------------------------------------


def test_worst_of_the_references_is_0_best_is_1():
    assert [mark(v, (10.0, 4.0, 6.0)) for v in (10.0, 7.0, 4.0)] == [0.0, 0.5, 1.0]
    assert [mark(v, (10.0, 4.0, 6.0), "more") for v in (10.0, 7.0, 4.0)] == [1.0, 0.5, 0.0]
    assert [mark(v, (-8.0, 4.0, 0.0), "zero") for v in (-8.0, 8.0, -4.0, 0.0)] == [0.0, 0.0, 0.5, 1.0]


def test_marks_end_at_the_references_unless_they_may_go_beyond():
    assert mark(1.0, (10.0, 4.0, 6.0)) == 1.0 and mark(99.0, (10.0, 4.0, 6.0)) == 0.0
    assert mark(1.0, (10.0, 4.0, 6.0), beyond=0.5) == 1.5


def test_a_measure_that_was_not_taken_is_weak_where_the_manoeuvre_belongs():
    assert mark(None, (10.0, 4.0, 6.0)) == 0.0
    assert belongs("harrier") == ("extreme", "slow 3D") and belongs("roll-high-rates-right") == STYLES
    assert mark(None, (10.0, 4.0, 6.0), manoeuvre="harrier", way="slow 3D") == 0.0
    assert mark(None, (10.0, 4.0, 6.0), manoeuvre="harrier", way="precision") is None


def test_who_can_be_measured_at_all_beats_the_references_that_cannot():
    assert mark(10.0, (None, 10.0, 4.0)) == pytest.approx(1.0 / 3.0)
    assert mark(4.0, (None, 10.0, 4.0)) == 1.0
    assert mark(9.0, (None, None, 4.0)) == pytest.approx(2.0 / 3.0) and mark(4.0, (None, None, 4.0)) == 1.0


def test_what_does_not_tell_the_references_apart_does_not_count():
    assert mark(5.0, (10.0, 10.0, 9.9)) is None
    assert mark(5.0, (0.0, 0.0, 0.0)) is None
    assert mark(5.0, (None, None, None)) is None
    assert mark(5.0, (10.0, 4.0, 6.0), "") is None


def test_every_trait_names_two_to_five_measures_that_its_manoeuvre_can_be_asked_for():
    for parts in TRAITS.values():
        assert 2 <= len(parts) <= 5
    assert set(DEFINING.values()) <= set(TRAITS) and set(DEFINING) == set(STYLES)
    assert [m.name for m in manoeuvres()] == list(FLOWN)


# ---- flown -----------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def flights():
    return manoeuvres()


@pytest.fixture(scope="module")
def styles(flights):
    """(plane, outcomes) of the three built-in styles by way of flying."""
    chosen, scaled = references(load_setup("precision"))
    assert not scaled and list(chosen) == list(STYLES)
    return {way: fly_set(setup, flights)[:2] for way, setup in chosen.items()}


def test_each_style_is_best_at_what_it_is_built_for(styles):
    # common practice, no source; a direction: no more is claimed than which of three scores is the largest
    outcomes = {way: flown[1] for way, flown in styles.items()}
    for way, trait in DEFINING.items():
        scores = {style: judge(way, outcomes[style], list(outcomes.values()))[trait].score for style in STYLES}
        assert max(scores, key=scores.get) == way, (trait, scores)


def test_half_the_throws_rotate_less(styles, flights):
    # common practice, no source; the rates fall with the throws by the linear theory of the roll
    outcomes = {way: flown[1] for way, flown in styles.items()}
    setup = load_setup("extreme")
    halved = {n: Throw(t.positive / 2.0, t.negative / 2.0, t.exponential) for n, t in setup.throws.items()}
    flown = fly_set(replace(setup, throws=halved), flights)[1]
    for way in ("extreme", "slow 3D"):
        before, after = (judge(way, o, list(outcomes.values()))[ROTATION].score for o in (outcomes["extreme"], flown))
        assert after < before


def test_states_shared_with_a_plane_that_differs_in_the_transmitter_change_nothing(styles, flights):
    setup = load_setup("slow-3d")
    like = styles["slow 3D"][0]
    for name, factor, exponential in (("elevator", 1.0, 0.6), ("aileron", 0.5, 0.4)):
        old = setup.throws[name]
        throws = {**setup.throws, name: Throw(factor * old.positive, factor * old.negative, exponential)}
        other = replace(setup, throws=throws)
        assert fly_set(other, flights, like)[1] == fly_set(other, flights)[1]


def test_a_flight_without_its_level_out_measures_the_same(styles):
    setup = load_setup("extreme")
    plane = flyable(setup)
    for name in FLOWN:
        flown = fly_manoeuvre(setup, load_manoeuvre(name)[0], plane)
        for p in (p for parts in TRAITS.values() for p in parts if p.manoeuvre == name):
            assert taken(p.measure, flown) == styles["extreme"][1][p.key]


# ---- references and changes ------------------------------------------------------------------------------------------


def test_styles_are_put_on_a_plane_that_has_no_setup_for_each():
    setup = load_setup("beck-150-extreme")
    chosen, scaled = references(setup)
    assert scaled
    for way, demo in (("precision", "precision"), ("extreme", "extreme"), ("slow 3D", "slow-3d")):
        style = load_setup(demo)
        assert chosen[way].throws == style.throws and chosen[way].airframe == setup.airframe
        assert chosen[way].propeller == setup.propeller and chosen[way].servos == setup.servos


def test_a_style_s_cg_ends_where_the_tray_does():
    setup = load_setup("beck-150-extreme")
    items = tuple(replace(i, slide=(i.at[0] - 0.001, i.at[0] + 0.001)) if i.name == setup.moved_item else i
                  for i in setup.airframe.items)  # fmt: skip
    setup = replace(setup, airframe=replace(setup.airframe, items=items))
    chosen, _ = references(setup)
    stations = [build(chosen[way]).cg_station for way in ("precision", "slow 3D")]
    assert stations[0] < stations[1] < stations[0] + 0.01  # precision's CG lies ahead of slow 3D's


def test_changes_stay_inside_what_a_file_allows():
    setup = load_setup("extreme")
    full = Throw(math.radians(70.0), math.radians(70.0), 0.9)
    tried = changes(replace(setup, throws={**setup.throws, "elevator": full}), 0.32)
    for change in tried:
        for throw in change.setup.throws.values():
            assert 0.0 < throw.positive <= math.radians(75.0) and 0.0 <= throw.exponential <= 1.0
    assert len({change.words for change in tried}) == len(tried)
    assert [c.words for c in tried if c.knob == "elevator throw"] == [
        "elevator throw 70 to 56 deg",
        "elevator throw 70 to 75 deg",
    ]
    assert [c.setup.cg for c in tried if c.knob == "CG"] == [(pytest.approx(0.30), "mac"), (pytest.approx(0.34), "mac")]
