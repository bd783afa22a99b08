"""Baselines: what is written reads back to the bit, drift is told where it is, and only there."""

import dataclasses
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import models
from models.errors import UserError
from models.loader import load
from models.reading import read_text
from scenarios.rules import (
    BaselineFile,
    Check,
    Conditions,
    Reading,
    baseline_text,
    changed,
    check,
    check_replaceable,
    check_same,
    drifts,
    plan,
    read_baseline,
)
from scenarios.rules.baseline import INTEGRATION, LEAST, StoredText, allowed_drift
from scenarios.rules.schema import KNOWN
from tests.scenarios.rules_by_hand import write

MARGIN = "name: margin, of: balance, measure: static_margin, limit: at least 5 %"
LEVEL = "name: level, of: level-trim, measure: bank_drift, limit: at most 5 deg either way"
PASS = "name: pass, of: high-speed-pass, measure: peak_load, limit: at most 40 g either way"
UNDER = Conditions()


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("rules")
    path = write(folder, MARGIN, LEVEL, PASS)
    return check([plan(load("precision"), [path])])[0], path


def baseline_of(one: Check, under=UNDER, version="0.0") -> BaselineFile:
    return read_text(baseline_text([one], under, version), "b.yaml", BaselineFile).value


def with_value(one: Check, of: str, name: str, reading: Reading | None) -> Check:
    """The check with another reading; None takes it out."""
    measures = {k: r for k, r in one.readings.measures.items() if k != (of, name) or reading}
    if reading:
        measures[of, name] = reading
    return dataclasses.replace(one, readings=dataclasses.replace(one.readings, measures=measures))


def test_what_is_written_reads_back_to_the_bit(made):
    one, _ = made
    stored = baseline_of(one).setups[0].measures
    for (of, name), reading in one.readings.measures.items():
        assert stored[of][name].value == reading.value
        assert reading.value is None or stored[of][name].unit == KNOWN[name].unit
    assert stored["level-trim"]["outcome"] == "succeeds"
    assert {(of, n) for of, group in stored.items() for n in group if n != "outcome"} == set(one.readings.measures)
    assert all(d.state == "same" for d in drifts(baseline_of(one), one))


@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(sorted(LEAST)))
def test_every_number_reads_back(number, unit):
    stored = StoredText().read(f"{number!r} {unit}".strip())
    assert (stored.value, stored.unit) == (number, unit)


def test_drift_up_to_what_is_allowed(made):
    one, path = made
    of, name = "level-trim", "throttle_trim"
    was = one.readings.measures[of, name].value
    allowed = INTEGRATION * was  # 0.3 of 64 %, more than the tenth that its unit makes
    for change, state in (
        (allowed, "same"),
        (-allowed, "same"),
        (1.01 * allowed, "drifted"),
        (-1.01 * allowed, "drifted"),
    ):
        moved = with_value(one, of, name, Reading(was + change))
        found = [d for d in drifts(baseline_of(one), moved) if (d.of, d.measure) == (of, name)]
        assert [d.state for d in found] == [state] and found[0].change == pytest.approx(change)
        assert found[0].allowed == pytest.approx(allowed) and found[0].counts == (state == "drifted")
        others = [d for d in drifts(baseline_of(one), moved) if d.state != "same" and (d.of, d.measure) != (of, name)]
        assert not others


def test_what_is_allowed_by_unit_and_by_rule(made, tmp_path):
    assert allowed_drift("level-trim", "bank_drift", 0.0) == LEAST["deg"]
    assert allowed_drift("stall", "stall_speed", 20.0) == pytest.approx(0.1)  # half a percent
    assert allowed_drift("balance", "mass", 20.0) == LEAST["kg"]  # arithmetic, no integration
    assert set(LEAST) >= {measure.unit for measure in KNOWN.values()}
    one, _ = made
    rules = plan(load("precision"), [write(tmp_path, LEVEL + ", drift: 3 deg")])
    loose = dataclasses.replace(one, plan=rules)
    moved = with_value(
        loose, "level-trim", "bank_drift", Reading(one.readings.measures["level-trim", "bank_drift"].value + 2.9)
    )
    found = next(d for d in drifts(baseline_of(one), moved) if d.measure == "bank_drift")
    assert (found.state, found.allowed) == ("same", 3.0)


def test_new_and_vanished_measures(made):
    one, _ = made
    less = with_value(one, "level-trim", "bank_drift", None)
    (gone,) = [d for d in drifts(baseline_of(one), less) if d.state != "same"]
    assert (gone.measure, gone.state, gone.counts, gone.unit) == ("bank_drift", "vanished", True, "deg")
    (new,) = [d for d in drifts(baseline_of(less), one) if d.state != "same"]
    assert (new.measure, new.state, new.counts) == ("bank_drift", "new", False)
    failed = with_value(one, "level-trim", "bank_drift", Reading(None, "not measured: short"))
    for before, after in ((one, failed), (failed, one)):
        (drift,) = [d for d in drifts(baseline_of(before), after) if d.state != "same"]
        assert (drift.state, drift.change, drift.allowed) == ("drifted", None, None)
    assert all(d.state == "same" for d in drifts(baseline_of(failed), failed))


def test_an_outcome_that_changes(made):
    one, _ = made
    told = {**one.readings.flights, "level-trim": dataclasses.replace(one.readings.flights["level-trim"], was=False)}
    other = dataclasses.replace(one, readings=dataclasses.replace(one.readings, flights=told))
    (drift,) = [d for d in drifts(baseline_of(one), other) if d.state != "same"]
    assert (drift.measure, drift.was, drift.now, drift.counts) == ("outcome", "succeeds", "does not succeed", True)


def test_a_battery_50_g_heavier_is_found_where_it_must_be(made, tmp_path):
    """Mass by 50 g, wing loading by that over the wing's area; the CG is held by moving the battery; no control changes."""
    one, path = made
    folder = tmp_path / "own"
    folder.mkdir()
    place = models.__path__[0]
    plane = open(f"{place}/airframes/tarn-220.yaml", encoding="utf-8").read()
    setup = open(f"{place}/setups/precision.yaml", encoding="utf-8").read()
    assert "name: battery, mass: 1.42 kg" in plane
    (folder / "plane.yaml").write_text(plane.replace("name: battery, mass: 1.42 kg", "name: battery, mass: 1.47 kg"))
    (folder / "setup.yaml").write_text(setup.replace("airframe: tarn-220", "airframe: plane.yaml"))
    heavier = check([plan(load(folder / "setup.yaml"), [path])])[0]
    baseline = baseline_of(one)
    found = {(d.of, d.measure): d for d in drifts(baseline, heavier)}
    drifted = {key for key, d in found.items() if d.counts}
    assert found["balance", "mass"].change == pytest.approx(0.05, abs=1e-9)
    area = one.readings.measures["balance", "mass"].value / one.readings.measures["balance", "wing_loading"].value
    assert found["balance", "wing_loading"].change == pytest.approx(0.05 / area, rel=1e-6)
    assert {("balance", n) for n in ("mass", "wing_loading", "moved_item", "inertia_pitch")} <= drifted
    assert not {("balance", n) for n in ("cg", "cg_mac", "neutral_point", "inertia_roll")} & drifted
    assert found["balance", "cg"].change == pytest.approx(0.0, abs=1e-9)
    assert ("level-trim", "outcome") not in drifted
    assert changed(baseline, heavier, "0.0") == ["the setup file", "the airframe file"]
    assert changed(baseline, one, "0.0") == [] and changed(baseline, one, "9") == ["the version of upline"]


def test_a_share_of_draws_is_kept(tmp_path):
    path = write(tmp_path, MARGIN.replace("5 %", "13.2 %") + ", sure: 40 %")
    under = Conditions(draws=20, seed=2)
    one = check([plan(load("precision"), [path])], under)[0]
    baseline = baseline_of(one, under)
    held = one.judgements[0].share.held
    assert baseline.setups[0].sure == {"margin": (held, 20)} and (baseline.draws, baseline.seed) == (20, 2)
    (share,) = [d for d in drifts(baseline, one) if d.measure == "share held"]
    assert share.state == "same" and 0 < held < 20
    never = dataclasses.replace(one.judgements[0], share=dataclasses.replace(one.judgements[0].share, held=0))
    (share,) = [d for d in drifts(baseline, dataclasses.replace(one, judgements=(never,))) if d.measure == "share held"]
    assert share.state == "drifted" and share.now == 0.0


def test_a_baseline_of_other_setups_or_another_pilot(made, tmp_path):
    one, _ = made
    path = tmp_path / "b.yaml"
    path.write_text(baseline_text([one], UNDER, "0.0"), encoding="utf-8")
    kept = read_baseline(path)
    check_same(kept, ["precision"], UNDER, "b.yaml")
    with pytest.raises(UserError) as error:
        check_same(kept, ["extreme", "precision"], UNDER, "b.yaml")
    assert str(error.value) == (
        '--baseline: found in b.yaml a baseline of "precision"; allowed: one of "extreme", "precision"; try: --accept with '
        "another file, or a check of the setups that it is of"
    )
    with pytest.raises(UserError) as error:
        check_same(kept, ["precision"], Conditions("learner"), "b.yaml")
    assert str(error.value) == (
        '--baseline: found in b.yaml a baseline flown by the pilot "expert"; allowed: "learner"; try: --pilot expert'
    )
    check_replaceable(tmp_path / "new.yaml", ["extreme"])
    check_replaceable(path, ["precision", "extreme"])
    with pytest.raises(UserError) as error:
        check_replaceable(path, ["extreme"])
    assert f'--accept: found in {path} a baseline of "precision" too, which would be lost' in str(error.value)
    with pytest.raises(UserError) as error:
        check_replaceable(Path(write(tmp_path, MARGIN)), ["precision"])
    assert 'kind: found "rules"; allowed: baseline' in str(error.value)


@pytest.mark.parametrize(
    "old, new, words",
    [
        ("mass: 6.", "mass: six", 'measures > balance > mass: found "six'),
        ("mass: 6.", "mass: nan ", "found \"nan"),
        ("pilot: expert", "pilot: exprt", 'pilot: found "exprt"; allowed: expert, practised, learner; try: expert'),
        ("draws: 100", "draws: 0", 'draws: found "0"; allowed: a whole number'),
        ("format: 1", "format: 2", 'format: found "2"; allowed: 1'),
        ("setups:\n", "setups:\n  - {name: precision, files: {}, measures: {}}\n", 'found "precision" a second time'),
        (" kg\n", " stone\n", "found \"6."),
    ],
)  # fmt: skip
def test_a_baseline_that_was_meddled_with(made, old, new, words):
    text = baseline_text([made[0]], UNDER, "0.0")
    assert old in text
    with pytest.raises(UserError) as error:
        read_text(text.replace(old, new, 1), "b.yaml", BaselineFile)
    assert words in str(error.value) and str(error.value).startswith("b.yaml:")
