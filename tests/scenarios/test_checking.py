"""Setups checked: one flight a manoeuvre, the numbers of the other commands, the same numbers every time."""

import dataclasses

import numpy as np
import pytest

from models.errors import UserError
from models.loader import load
from scenarios.draws import draw, uncertain_of
from scenarios.inputs import Case, inputs_of
from scenarios.manoeuvres import CannotFly, fly_manoeuvre, load_manoeuvre
from scenarios.measures import take_measures
from scenarios.rules import Conditions, check, exit_code, named_apart, plan, readings
from scenarios.rules.checking import drawn_values
from scenarios.rules.loading import load_all
from scenarios.rules.readings import DIVERGED
from sim.build import build
from sim.linearisation import pitch_stability
from sim.trim import level_trim
from tests.scenarios.flying import value
from tests.scenarios.rules_by_hand import write

MARGIN = "name: margin, of: balance, measure: static_margin, limit: between 8 % and 15 %"
LEVEL = "name: level, of: level-trim, measure: bank_drift, limit: at most 5 deg either way"
RESPONSE = "name: response, of: level-trim, measure: pitch_response, limit: at least 10 deg/s per deg"
TRIM = "name: trim, of: level-trim, outcome: succeeds"


def checked(folder, *lines, setup="precision", **under):
    under = {**under}
    workers = under.pop("workers", 1)
    return check([plan(load(setup), [write(folder, *lines)])], Conditions(**under), workers)[0]


def test_one_flight_serves_all_the_rules_of_its_manoeuvre(tmp_path, monkeypatch):
    flown, built = [], []

    def building(setup):
        built.append(setup.name)
        return build(setup)

    monkeypatch.setattr(readings, "flyable", building)

    def counted(setup, manoeuvre, *rest, **more):
        flown.append((setup.name, manoeuvre.name))
        return real(setup, manoeuvre, *rest, **more)

    real = readings.fly_manoeuvre
    monkeypatch.setattr(readings, "fly_manoeuvre", counted)
    against = "name: b{}, of: level-trim, measure: bank_drift, limit: at most 1 deg more, against: slow-3d"
    path = write(tmp_path, LEVEL, RESPONSE, TRIM, against.format(1), against.format(2))
    check([plan(load(name), [path]) for name in ("precision", "slow-3d")], workers=1)
    assert sorted(flown) == [("precision", "level-trim"), ("slow-3d", "level-trim")]
    assert sorted(built) == ["precision", "slow-3d"]  # weighed once


def test_the_numbers_are_those_of_the_other_commands(tmp_path):
    one = checked(tmp_path, LEVEL, RESPONSE, MARGIN)
    for name in ("bank_drift", "pitch_response"):
        assert one.readings.measures["level-trim", name].value == value(name, "precision", "level-trim")
    plane = build(load("precision").setup)
    margin = 100.0 * pitch_stability(plane, level_trim(plane, 25.0, 100.0)).static_margin
    assert one.judgements[2].value == pytest.approx(margin, rel=1e-9)


def test_the_same_with_any_number_of_threads(tmp_path):
    lines = (LEVEL, "name: s, of: stall, measure: stall_speed, limit: at most 12 m/s", TRIM, MARGIN)
    a, b = (checked(tmp_path, *lines, workers=workers) for workers in (1, 3))
    assert a.readings.measures == b.readings.measures and a.judgements == b.judgements


def test_a_limit_at_the_number_flown_holds(tmp_path):
    found = checked(tmp_path, RESPONSE).judgements[0].value
    exact = f"name: response, of: level-trim, measure: pitch_response, limit: at least {found:.12g} deg/s per deg"
    bound = float(f"{found:.12g}")
    judged = checked(tmp_path, exact).judgements[0]
    assert judged.holds == (found >= bound) and abs(judged.headroom) <= 1e-11 * found
    more = checked(tmp_path, exact.replace(f"{found:.12g}", f"{found * (1 + 1e-9):.14g}")).judgements[0]
    assert not more.holds and -1e-7 < more.headroom < 0.0


def test_draws_are_flights_with_errors(tmp_path):
    """Each weighed and flown apart; the state that a draw is trimmed to is searched from another start."""
    loaded, under = load("precision"), Conditions(draws=4, seed=5)
    path = write(tmp_path, MARGIN + ", sure: 50 %", RESPONSE + ", sure: 50 %")
    found = drawn_values(plan(loaded, [path]), under, 1)
    uncertain, level = uncertain_of(loaded.setup), load_manoeuvre("level-trim")[0]
    margins, responses = [], []
    for index in range(1, 5):
        case = Case(loaded.setup, level)
        for name, error in draw(uncertain, 5, index).items():
            what = inputs_of(case.setup)[name]
            now = what.read(what.now(case))
            if isinstance(now, tuple):  # the CG, a share of the mean aerodynamic chord
                now, error = (now[0] + error / build(loaded.setup).mac, now[1]), 0.0
            case = what.apply(case, now if isinstance(now, tuple) else now + error)
        plane = build(case.setup)
        margins.append(100.0 * pitch_stability(plane, level_trim(plane, 25.0, 100.0)).static_margin)
        responses.append(
            {t.measure.name: t.value for t in take_measures(fly_manoeuvre(case.setup, level))}["pitch_response"]
        )
    assert found["balance", "static_margin"] == pytest.approx(margins, rel=1e-9)
    assert found["level-trim", "pitch_response"] == pytest.approx(responses, rel=1e-4)
    assert len(set(margins)) == len(set(responses)) == 4


def test_a_share_of_draws_is_judged(tmp_path):
    """A limit at the median of an odd number of draws holds for half of them and one more; the same every time."""
    loaded, under = load("precision"), {"draws": 7, "seed": 5}
    values = drawn_values(plan(loaded, [write(tmp_path, MARGIN + ", sure: 50 %")]), Conditions(**under), 1)
    middle = float(np.median(values["balance", "static_margin"]))
    line = f"name: margin, of: balance, measure: static_margin, limit: at least {middle - 1e-9!r} %, sure: {{}} %"
    half = checked(tmp_path, line.format(57), **under).judgements[0]
    assert (half.share.held, half.share.draws, half.verdict) == (4, 7, "pass")
    assert checked(tmp_path, line.format(58), **under).judgements[0].verdict == "fail"


def test_rules_for_other_ways_of_flying_are_left_out(tmp_path):
    path = write(tmp_path, MARGIN + ", for: extreme", LEVEL + ", for: [precision, slow 3D]")
    made = plan(load("precision"), [path])
    assert [r.name for r in made.rules] == ["level"] and [r.name for r in made.skipped] == ["margin"]


def test_two_files_with_the_same_rule(tmp_path):
    a, b = write(tmp_path, MARGIN, name="a.yaml"), write(tmp_path, MARGIN, name="b.yaml")
    with pytest.raises(UserError) as error:
        load_all([a, b])
    assert str(error.value) == f'--rules: found "margin" in {a} and in {b}; allowed: different names'
    assert len(load_all([a, a])) == 1


def test_what_cannot_be_flown(tmp_path, monkeypatch):
    def stop(*_, **__):
        raise CannotFly("no trim at this speed")

    monkeypatch.setattr(readings, "fly_manoeuvre", stop)
    one = checked(tmp_path, LEVEL, TRIM, MARGIN)
    assert [(j.verdict, j.reason) for j in one.judgements] == [
        ("not flown", "not flown: no trim at this speed"),
        ("not flown", "not flown: no trim at this speed"),
        ("pass", ""),
    ]
    assert exit_code([one]) == 3
    assert exit_code([checked(tmp_path, LEVEL + ", severity: should", MARGIN)]) == 0
    tight = MARGIN.replace("15 %", "9 %")
    assert exit_code([checked(tmp_path, LEVEL, tight)]) == 1  # a rule that fails says more than one that was not flown


def test_a_flight_that_diverges(tmp_path, monkeypatch):
    def diverging(*rest, **more):
        flown = real(*rest, **more)
        flown.flight = dataclasses.replace(flown.flight, ending="diverged")
        return flown

    real = readings.fly_manoeuvre
    monkeypatch.setattr(readings, "fly_manoeuvre", diverging)
    one = checked(tmp_path, LEVEL, TRIM)
    assert one.readings.flights["level-trim"].state == DIVERGED and exit_code([one]) == 3
    assert "diverged in" in one.judgements[0].reason and one.judgements[0].value is None


def test_exit_codes_of_should_and_strict(tmp_path):
    one = checked(tmp_path, MARGIN.replace("15 %", "9 %") + ", severity: should")
    assert one.judgements[0].verdict == "warning"
    assert (exit_code([one]), exit_code([one], strict=True)) == (0, 1)


def test_setups_of_one_name_are_told_apart():
    a = load("precision")
    assert [one.setup.name for one in named_apart([a, a, load("extreme")], ["x.yaml", "y.yaml", "z"])] == [
        "x.yaml", "y.yaml", "extreme",
    ]  # fmt: skip


def test_a_centre_of_gravity_out_of_reach_is_the_users_matter(tmp_path):
    with pytest.raises(UserError) as error:
        check([plan(load("precision", "240 mm"), [write(tmp_path, MARGIN)])])
    assert "its tray" in str(error.value)
