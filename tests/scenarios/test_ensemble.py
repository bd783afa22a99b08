"""Studies: rows are single flights bit for bit, whoever flies them in whatever order; what cannot be flown is counted."""

import csv
import io
import itertools
import json
from dataclasses import replace

import numpy as np
import pytest

from models.errors import UserError
from scenarios.ballast import free_tray
from scenarios.draws import Uncertain
from scenarios.ensemble import ENDED, NOT_FLOWN, Work, cases_of, fly_draw, prepare, run, write_table
from scenarios.ensemble import work as work_module
from scenarios.ensemble.chunks import fly_chunk, ranges
from scenarios.ensemble.results import put_together
from scenarios.ensemble.work import DIVERGED
from scenarios.inputs import inputs_of
from scenarios.manoeuvres import fly_manoeuvre, flyable, load_manoeuvre, manoeuvre_from_text
from scenarios.measures import take_measures
from scenarios.reasons import of_a_kind
from scenarios.study import with_rows
from tests.scenarios.flying import setup_of
from tests.scenarios.studies import FLIGHT, GUSTY, HOVER, SHORT, same, work

BOTH = (("short", SHORT), ("short-hover", HOVER))
ALL = (*BOTH, ("gusty", GUSTY))


def row_of(flown) -> list[float]:
    return [float("nan") if t.value is None else t.value for t in take_measures(flown)]


@pytest.mark.parametrize("setup", ["precision", "corrie-310-precision"])
def test_a_row_is_single_flights_bit_for_bit(setup):
    study = work(4, *ALL, setup=setup, more=FLIGHT)
    like = flyable(setup_of(setup))
    for index in (1, 3):
        row = fly_draw(study, index)
        alone = []
        for case in cases_of(study, index):
            flown = fly_manoeuvre(case.setup, case.manoeuvre, skill=case.pilot, like=like, delay=case.delay)
            alone += row_of(flown)
        assert row.values.tobytes() == np.array(alone).tobytes()
    assert fly_draw(study, 1).values.tobytes() != fly_draw(study, 3).values.tobytes()


def test_the_first_draw_is_the_flight_as_everybody_flies_it():
    row = fly_draw(work(2, *BOTH), 0)
    alone = [row_of(fly_manoeuvre(setup_of("precision"), manoeuvre_from_text(text, name))) for name, text in BOTH]
    assert row.values.tobytes() == np.array(sum(alone, [])).tobytes()


def test_an_input_drawn_alone_is_the_input_set_by_hand():
    one = Uncertain("elevator up throw", "uniform", 0.05)
    study = work(3, uncertain=(one,))
    setup = setup_of("precision")
    throw = inputs_of(setup)["elevator up throw"]
    case = cases_of(study, 2)[0]
    own = prepare(study).cases[0]
    freed = replace(own, setup=free_tray(own.setup))  # errors of measuring are not bounded by a tray
    set_by_hand = throw.apply(freed, case.setup.throws["elevator"].positive).setup
    assert set_by_hand == case.setup != setup
    flown = fly_manoeuvre(set_by_hand, case.manoeuvre, like=flyable(setup))
    assert fly_draw(study, 2).values.tobytes() == np.array(row_of(flown)).tobytes()


def test_chunks_in_any_size_and_order_are_one_study():
    study = work(7, *BOTH)
    whole = run(study, workers=1)
    for size in (1, 3):
        pieces = [fly_chunk(study, *piece) for piece in reversed(ranges(7, size))]
        assert same(put_together(study, pieces), whole)
    assert same(
        put_together(replace(study, count=5), [fly_chunk(study, 0, 7)]), run(replace(study, count=5), workers=1)
    )


def test_processes_find_the_same_and_tell_how_far_they_are():
    study = work(120)
    told = []
    results = run(study, workers=2, progress=lambda done, total, left: told.append((done, total, left)))
    assert same(results, run(study, workers=1))
    assert [done for done, _, _ in told] == sorted(done for done, _, _ in told)
    assert told[0][0] == 0 and np.isnan(told[0][2]) and told[-1][:2] == (120, 120) and told[-1][2] == 0.0


def test_more_draws_and_inputs_leave_the_others_as_they_were():
    few, many = work(3), work(5)
    assert run(few).values.tobytes() == run(many).values[:3].tobytes()
    assert few.key == many.key and work(3, seed=2).key != few.key and work(3, cg="30 %").key != few.key
    assert Work.read(json.loads(json.dumps(many.document))) == many


def test_draws_that_cannot_be_flown_are_counted_with_their_reasons():
    study = work(12, *BOTH, uncertain=(Uncertain("cg", "uniform", 0.06), Uncertain("elevator throw", "uniform", 0.9)))
    results = run(study, workers=1)
    ended = results.ended(0)
    assert ended["completed"] >= 2 and ended["not flown"] >= 2 and sum(ended.values()) == 12
    for draw, column in itertools.product(range(12), range(len(results.columns))):
        taken = not np.isnan(results.values[draw, column])
        assert (results.reason(draw, column) == "") == taken
        if results.endings[draw, 0 if column < 4 else 1] == NOT_FLOWN:
            assert not taken and results.reason(draw, column).startswith("not flown: ")
    assert "more than its throw" in " ".join(results.texts)
    assert len(results.taken(0)) == 12 - ended["not flown"]


def test_a_draw_that_diverges_is_counted_and_never_averaged(monkeypatch):
    def some_diverge(*arguments, **more):
        flown = fly_manoeuvre(*arguments, **more)
        if flown.setup.throws["aileron"].positive > setup_of("precision").throws["aileron"].positive:
            flown.flight.ending, flown.flight.phase = "diverged", 1
        return flown

    monkeypatch.setattr(work_module, "fly_manoeuvre", some_diverge)
    results = run(work(12, uncertain=(Uncertain("aileron up throw", "normal", 0.02),)), workers=1)
    gone = results.endings[:, 0] == DIVERGED
    assert 2 <= gone.sum() <= 10 and results.ended(0)["diverged"] == gone.sum()
    assert (np.isnan(results.values).all(axis=1) == gone).all()
    assert results.reason(int(np.argmax(gone)), 0) == 'not measured: the flight diverged in "small pull"'


def test_a_real_flight_that_diverges_is_told_from_one_that_crashes():
    # two metres over the ground, the elevator kept full down: it hits the ground, and its measures say so
    text = SHORT.replace("height: 100 m", "height: 2 m").replace(
        "elevator: 10 %, for: 0.6 s", "elevator: -100 %, for: 3 s"
    )
    results = run(work(3, ("short", text)), workers=1)
    assert results.ended(0) == {"hit the ground": 3}
    assert "hit the ground" in results.reason(1, 3) and not np.isnan(results.values[1, 0])


def test_reasons_are_of_a_kind():
    assert of_a_kind("needs 31 deg of rudder, more than its throw of 25.5 deg") == (
        "needs .. deg of rudder, more than its throw of .. deg"
    )


@pytest.mark.parametrize(
    "reason",
    [
        "not flown: upline-45 with corrie-310-slow-3d: no steady state found for level flight",
        'not measured: hit the ground in "point 2", before the end of "4 points"',
        "not flown: battery-2 would sit off its tray",
    ],
)
def test_a_reason_keeps_its_names(reason):
    assert of_a_kind(reason) == reason
    assert of_a_kind(f"{reason} at -3.5 m/s, 1e-05 deg or 12.") == f"{reason} at .. m/s, .. deg or ..."


def test_measures_and_inputs_can_be_chosen():
    study = work(2, measures=(("short", ("alpha_trim",)),), fixed=(("cg", "30 %"), ("pilot", "learner")))
    results = run(study)
    assert [c.name for c in results.columns] == ["short alpha_trim (deg)"]
    flown = fly_manoeuvre(setup_of("precision", "30 %"), manoeuvre_from_text(SHORT), skill="learner")
    assert results.values[0, 0] == {t.measure.name: t.value for t in take_measures(flown)}["alpha_trim"]


@pytest.mark.parametrize(
    "changes, said",
    [
        (dict(measures=(("short", ("bank_drift",)),)), 'found "bank_drift"'),
        (dict(uncertain=(Uncertain("cgg", "normal", 1.0),)), "try: cg"),
        (dict(cg="300 %"), "--cg: found"),
        (dict(count=0), "draws: found 0; allowed: a whole number from 1"),
    ],
)
def test_what_cannot_be_done_is_refused(changes, said):
    with pytest.raises(UserError, match=said):
        run(replace(work(2), **changes))


def test_no_workers_are_refused():
    with pytest.raises(UserError, match="--workers: found 0"):
        run(work(2), workers=0)


def test_the_table_is_read_by_any_spreadsheet_and_by_parquet_readers(tmp_path):
    arrow = pytest.importorskip("pyarrow.parquet", reason="the parquet extra")
    study = work(
        9, *ALL, uncertain=(Uncertain("elevator throw", "uniform", 0.9), Uncertain("cg", "normal", 0.01), *FLIGHT)
    )
    results = run(study, workers=1)
    file = io.BytesIO()
    write_table(results, tmp_path / "a.csv", file)
    rows = list(csv.DictReader(io.StringIO(file.getvalue().decode("utf-8"))))
    with open(tmp_path / "a.parquet", "wb") as file:
        write_table(results, tmp_path / "a.parquet", file)
    table = arrow.read_table(tmp_path / "a.parquet")
    assert list(rows[0]) == table.column_names and len(rows) == table.num_rows == 9
    for n, column in enumerate(results.columns):
        numbers = [None if np.isnan(v) else v for v in results.values[:, n]]
        assert table[column.name].to_pylist() == numbers
        assert [float(row[column.name]) if row[column.name] else None for row in rows] == numbers
        assert table.schema.field(column.name).metadata[b"unit"].decode() == column.unit
    for draw in range(9):
        assert rows[draw]["short ended"] == ENDED[results.endings[draw, 0]] == table["short ended"][draw].as_py()
    errors = [float(row["error of elevator throw (deg)"]) for row in rows]
    throws = [np.degrees(cases_of(study, i)[0].setup.throws["elevator"].positive) for i in range(9)]
    inside = [0.0 < errors[i] + throws[0] < 75.0 for i in range(9)]
    assert [errors[i] for i in range(9) if inside[i]] == pytest.approx(
        [throws[i] - throws[0] for i in range(9) if inside[i]], abs=1e-9
    )
    assert Work.read(json.loads(table.schema.metadata[b"study"])) == study
    assert {"error of cg (mm)", "error of wind (m/s)", "error of pilot delay (ms)", "error of turbulence seed"} <= set(
        rows[0]
    )


def test_the_table_of_a_plan_for_indices_of_variance_has_the_inputs_that_were_flown(tmp_path):
    uncertain = (Uncertain("elevator up throw", "uniform", 0.05), Uncertain("elevator down throw", "uniform", 0.05))
    plan = with_rows(work(9, uncertain=uncertain))  # draws 1 to 4 mix the first input, 5 to 8 the second
    file = io.BytesIO()
    write_table(run(plan, workers=1), tmp_path / "a.csv", file)
    rows = list(csv.DictReader(io.StringIO(file.getvalue().decode("utf-8"))))
    throws = [cases_of(plan, index)[0].setup.throws["elevator"] for index in range(9)]
    for name, side in (("elevator up throw", "positive"), ("elevator down throw", "negative")):
        flown = [np.degrees(getattr(throw, side) - getattr(throws[0], side)) for throw in throws]
        assert [float(row[f"error of {name} (deg)"]) for row in rows] == pytest.approx(flown, abs=1e-9)


def test_without_pyarrow_the_message_says_what_to_install(monkeypatch, tmp_path):
    monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)
    with pytest.raises(UserError, match="try: pip install pyarrow, or a .csv file"):
        write_table(run(work(1)), tmp_path / "a.parquet", io.BytesIO())


def test_builtin_manoeuvres_on_both_sides_keep_their_names():
    study = work(1, *[(name, load_manoeuvre(name)[1]) for name in ("knife-edge-right", "knife-edge-left")])
    assert [case.manoeuvre.name for case in cases_of(study, 0)] == ["knife-edge-right", "knife-edge-left"]
    assert {c.manoeuvre for c in prepare(study).columns} == {"knife-edge-right", "knife-edge-left"}
