"""Studies held to closed forms: what a CG error does to a margin, errors that add, the linear law of propagation."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2

from models.errors import UserError
from models.loader import Loaded, load
from scenarios.accuracy import accuracies_of
from scenarios.balance import TRIM_HEIGHT, TRIM_SPEED, balance, margin_spreads
from scenarios.draws import Uncertain, draw, mixed, off_by, uncertain_of
from scenarios.ensemble import ENDED, NOTHING_FLOWN, Column, Results, Work, cases_of, run
from scenarios.inputs import Case, inputs_of
from scenarios.manoeuvres import load_manoeuvre
from scenarios.spread import spreads
from scenarios.study import counted, in_wind, study_of, to_measure_better, uncertain_inputs, with_rows
from scenarios.study.findings import ACROSS, ALONG, scores_of
from scenarios.study.uncertain import DELAY, said, standard_deviation
from sim.build import build
from sim.linearisation import pitch_stability
from sim.trim import level_trim

MM, DEG = 0.001, math.radians(1.0)
LOADED = load("precision")
LEVEL, LEVEL_TEXT = load_manoeuvre("level-trim")


def work_of(count: int, *uncertain: Uncertain, seed: int = 1, measures: tuple[str, ...] = ("elevator_trim",)) -> Work:
    """So many draws of level-trim with the nominal one besides."""
    return Work.of(
        LOADED, [("level-trim", LEVEL_TEXT)], count + 1, uncertain=uncertain, seed=seed,
        measures=(("level-trim", measures),),
    )  # fmt: skip


def made(
    values: np.ndarray, *uncertain: Uncertain, endings: np.ndarray | None = None, reasons=None, texts=("",)
) -> Results:
    """Results of one measure that was never flown: `values` (draws + 1,), draw 0 the nominal."""
    work = replace(work_of(len(values) - 1, *uncertain), files=())
    endings = np.zeros(len(values), dtype=int) if endings is None else endings
    reasons = np.zeros(len(values), dtype=int) if reasons is None else reasons
    return Results(
        work,
        (Column("level-trim", "elevator_trim", "deg"),),
        values[:, None],
        endings[:, None],
        reasons[:, None],
        texts,
    )


# ---- closed forms -------------------------------------------------------------------------------

CG = Uncertain("cg", "normal", 2 * MM)
MASS = Uncertain("mass scale", "normal", 0.005)
COUNT = 80


def margin(case: Case) -> float:
    plane = build(case.setup)
    return pitch_stability(plane, level_trim(plane, TRIM_SPEED, TRIM_HEIGHT)).static_margin


@pytest.fixture(scope="module")
def margins() -> np.ndarray:
    case = Case(LOADED.setup)
    return np.array([margin(off_by(case, draw((CG,), 1, index), inputs_of(case.setup))) for index in range(COUNT + 1)])


def test_an_error_of_the_cg_goes_into_the_margin_over_the_mean_chord(margins):
    """Static margin = (neutral point - CG) / MAC (Nelson, chapter 2, from memory), so every draw is off by its own error
    over MAC.  The neutral point is that about another trim, which moves it too: 2 % of the error (found 1.0)."""
    mac = build(LOADED.setup).mac
    errors = np.array([draw((CG,), 1, index)["cg"] for index in range(1, COUNT + 1)])
    assert margins[1:] - margins[0] == pytest.approx(-errors / mac, rel=0.02, abs=1e-6)
    found = study_of(made(margins, CG)).findings[0]
    sigma = CG.spread / mac
    low, high = np.sqrt(chi2.ppf((0.0005, 0.9995), COUNT - 1) / (COUNT - 1))  # chance of one in a thousand
    assert low * sigma < found.distribution.sd < high * sigma
    for quantile, z in zip(found.distribution.quantiles, (-1.6449, 0.0, 1.6449)):
        true = margins[0] + z * sigma
        assert (quantile.low is None or quantile.low <= true) and (quantile.high is None or true <= quantile.high)
    (cg,) = found.ranking.influences
    assert cg.input == "cg" and cg.share > 0.999 and cg.correlation == pytest.approx(-1.0, abs=1e-9)
    assert cg.per_sigma == pytest.approx(-sigma, rel=0.02)


def test_spread_is_that_of_the_linear_law(margins):
    """The law of propagation (JCGM 100:2008, 5.1.2) by central differences, as `upline balance` has it: another route
    to the same standard deviation, within what chance does to that of so many draws (one in a thousand)."""
    accuracy = [a for a in accuracies_of(LOADED.setup) if a.name == "cg"]
    law = spreads(Case(LOADED.setup), lambda case: {"margin": margin(case)}, accuracy)["margin"]
    low, high = np.sqrt(chi2.ppf((0.0005, 0.9995), COUNT - 1) / (COUNT - 1))
    assert low < study_of(made(margins, CG)).findings[0].distribution.sd / law.sigma < high


def at_rest(setup: Loaded, count: int, *uncertain: Uncertain, measures: tuple[str, ...]) -> Results:
    """So many draws of the balance."""
    work = Work.of(
        setup, [("balance", NOTHING_FLOWN)], count + 1, uncertain=uncertain, measures=(("balance", measures),)
    )
    return run(work, workers=1)


def test_a_study_of_the_balance_finds_the_margin_of_every_draw(margins):
    """Nothing is flown.  The standard deviation is that of the CG over MAC (closed form above), within what chance does to
    that of so many draws (one in a thousand); and each draw is the plane weighed by itself."""
    results = at_rest(LOADED, COUNT, CG, measures=("static_margin", "cg_mac"))
    assert results.values[:, 0] == pytest.approx(100.0 * margins, rel=1e-9)
    low, high = np.sqrt(chi2.ppf((0.0005, 0.9995), COUNT - 1) / (COUNT - 1))
    sigma = 100.0 * CG.spread / build(LOADED.setup).mac
    study = study_of(results)
    assert all(low * sigma < finding.distribution.sd < high * sigma for finding in study.findings)
    errors = np.array([draw((CG,), 1, index)["cg"] for index in range(1, COUNT + 1)])
    assert results.values[1:, 1] - results.values[0, 1] == pytest.approx(sigma * errors / CG.spread, abs=1e-9)
    assert results.ended(0) == {"completed": COUNT + 1}
    (cg,) = study.findings[0].ranking.influences
    assert cg.share > 0.999 and cg.correlation == pytest.approx(-1.0, abs=1e-9)


def test_spreads_of_the_balance_are_those_that_balance_prints():
    """Every input at once: the law of propagation of `upline balance`, another route, within chance (one in a thousand) and
    what the law leaves out (3 %)."""
    laws = margin_spreads(LOADED.setup)
    names = ("static_margin", "static_margin_power", "speed_margin", "manoeuvre_margin", "elevator_per_g")
    results = at_rest(LOADED, COUNT, *uncertain_of(LOADED.setup), measures=names)
    low, high = np.sqrt(chi2.ppf((0.0005, 0.9995), COUNT - 1) / (COUNT - 1))
    for finding in study_of(results).findings:
        name = finding.column.measure
        scale = -np.degrees(1.0) if name == "elevator_per_g" else 100.0
        assert finding.nominal == pytest.approx(scale * laws[name].value, rel=1e-6)
        assert 0.97 * low < finding.distribution.sd / (abs(scale) * laws[name].sigma) < 1.03 * high, name


def test_time_to_double_where_something_grows():
    """ln 2 over the growth of the motion in pitch that `upline balance` lists; not measured where nothing grows."""
    results = at_rest(LOADED, 12, Uncertain("cg", "uniform", 0.12), measures=("time_to_double", "pitch_growth"))
    growing = np.flatnonzero(results.values[:, 1] > 0.0)
    assert 1 <= len(growing) <= 10
    for index in range(13):
        if index not in growing:
            assert results.reason(index, 0) in ("not measured: nothing grows in pitch", results.reason(index, 1))
            assert np.isnan(results.values[index, 0])
    for index in growing:
        modes = balance(build(cases_of(results.work, int(index))[0].setup)).modes
        pitch = [
            m for m in modes if m.grows and m.participation.get("u", 0.0) + m.participation.get("theta", 0.0) > 0.3
        ]
        assert results.values[index, 0] == pytest.approx(min(m.time_to_half_or_double for m in pitch), rel=1e-9)


def test_the_balance_beside_flights_in_any_order():
    """Neither takes anything from the other, and what belongs to the air and the pilot passes the balance by."""
    pair = [("balance", NOTHING_FLOWN), ("level-trim", LEVEL_TEXT)]
    wind = (Uncertain("wind", "uniform", 2.0), DELAY, CG)
    rows = []
    for flown in (pair, pair[::-1], pair[:1], pair[1:]):
        results = run(Work.of(LOADED, flown, 3, fixed=(("wind", "3 m/s"),), uncertain=wind), workers=1)
        rows.append({column.name: results.values[:, n].tobytes() for n, column in enumerate(results.columns)})
    assert rows[0] == rows[1] == {**rows[2], **rows[3]} and len(rows[2]) > 20


def test_rounding_is_no_spread():
    """The lateral CG of a symmetrical plane is nought in every draw, but for the last digits of a sum."""
    results = at_rest(LOADED, 30, CG, MASS, measures=("cg_right",))
    assert 0.0 < np.ptp(results.values) < 1e-12
    (found,) = study_of(results).findings
    assert found.distribution.constant and not found.distribution.open
    assert found.ranking.why_not == "the same in every draw"


INCIDENCE = Uncertain("incidence of stabiliser", "uniform", 0.5 * DEG)


@pytest.fixture(scope="module")
def flown() -> dict[str, Results]:
    """The trim of the elevator with either error and with both."""
    pairs = {"cg": (CG,), "incidence": (INCIDENCE,), "both": (CG, INCIDENCE)}
    return {name: run(work_of(60, *uncertain), workers=1) for name, uncertain in pairs.items()}


def test_independent_errors_add(flown):
    """To first order what both do is the sum of what each does, draw by draw, for an error does not change when another is
    added; the trims' product term is some 1 % of them.  So variances add, and the shares are their ratios."""
    change = {name: results.values[1:, 0] - results.values[0, 0] for name, results in flown.items()}
    together = change["cg"] + change["incidence"]
    assert change["both"] == pytest.approx(together, abs=0.02 * together.std())
    found = study_of(flown["both"]).findings[0]
    parts = {
        name: change[name].var() / (change["cg"].var() + change["incidence"].var()) for name in ("cg", "incidence")
    }
    for one in found.ranking.influences:
        assert one.share == pytest.approx(parts[one.input.split()[0]], abs=0.02) and one.matters
    assert found.ranking.explained > 0.99


def test_a_stabiliser_set_wrong_is_trimmed_out_degree_for_degree(flown):
    """Tail lift a_t (i + tau delta): one degree of incidence takes 1 / tau degrees of elevator (Nelson, chapter 2, from
    memory), the same in every draw; so the elevator's error is uniform as well, half its range at 0.5 deg / tau."""
    change = flown["incidence"].values[:, 0] - flown["incidence"].values[0, 0]
    errors = np.array([draw((INCIDENCE,), 1, index)["incidence of stabiliser"] for index in range(1, 61)])
    slope = change[1:] / np.degrees(errors)
    assert np.ptp(slope) < 0.03 * abs(slope.mean()) and 1.0 < abs(slope.mean()) < 2.5
    assert np.ptp(change) <= 1.0 * abs(slope.mean()) * 1.03


def test_indices_of_variance_of_flights(flown):
    """First-order and total indices of a sum are the shares of its variance; 95 % bounds of 30 rows, wide as they are."""
    work = flown["both"].work
    plan = run(with_rows(work), workers=1)
    assert len(plan.values) == 1 + 2 * 30
    change = {name: results.values[1:, 0].var() for name, results in flown.items()}
    found = study_of(flown["both"], plan)
    for name, share in (("cg", change["cg"]), ("incidence of stabiliser", change["incidence"])):
        share /= change["cg"] + change["incidence"]
        first, total = (getattr(found.findings[0].indices, order)[name] for order in ("first", "total"))
        assert first.low - 0.02 <= share <= first.high + 0.02 and total.low - 0.1 <= share <= total.high + 0.1
    assert found.more == 60


def test_seeds_and_fresh_draws(flown):
    """The same seed gives the same numbers, more draws keep those there; another seed other ones, of which the band of the
    first holds 90 %, less chance: the bounds of 5 and 95 % found from 60 draws hold 70 to 100 % (one in a thousand)."""
    work = flown["cg"].work
    again = run(replace(work, count=21), workers=1)
    assert (again.values == flown["cg"].values[:21]).all()
    other = run(replace(work, seed=2), workers=1)
    assert (other.values[0] == flown["cg"].values[0]).all() and not np.isin(
        other.values[1:], flown["cg"].values[1:]
    ).any()
    band = study_of(flown["cg"]).findings[0].distribution.quantiles
    inside = (other.values[1:, 0] >= band[0].value) & (other.values[1:, 0] <= band[2].value)
    assert 0.70 <= inside.mean() <= 1.0
    fresh = study_of(other).findings[0].distribution.quantiles
    for one, two in zip(band, fresh):  # bounds of 95 % each: they meet but for one in some hundreds
        reach = [
            (q.low if q.low is not None else -math.inf, q.high if q.high is not None else math.inf) for q in (one, two)
        ]
        assert reach[0][0] <= reach[1][1] and reach[1][0] <= reach[0][1]


# ---- the plan, scores, endings ------------------------------------------------------------------


def test_the_plan_changes_one_input_at_a_time():
    uncertain = uncertain_of(LOADED.setup)
    work = with_rows(replace(work_of(10, *uncertain), count=12))  # 11 draws: one is left over
    assert work.rows == 5 and work.count == 1 + 5 * len(uncertain) and work.errors(0) == {}
    for which, one in enumerate(uncertain):
        for row in range(5):
            errors = work.errors(1 + which * 5 + row)
            a, b = draw(uncertain, 1, 1 + row), draw(uncertain, 1, 6 + row)
            assert errors == {**a, one.input: b[one.input]} == mixed(uncertain, 1, 5, 1 + which * 5 + row)
            assert errors != a
    assert work.key != work_of(10, *uncertain).key and Work.read(work.document) == work


def test_scores_have_variance_one_whatever_the_kind():
    """Standard deviations: sigma, a / sqrt(3), a / sqrt(6) (JCGM 100:2008, 4.3.7 and 4.3.9); 4000 draws, four sigma."""
    kinds = [Uncertain("cg", "normal", 0.002), Uncertain("down thrust", "uniform", DEG)]
    kinds += [Uncertain("right thrust", "triangular", DEG), Uncertain("turbulence seed", "uniform", 1.0)]
    kinds += [Uncertain("wind direction", "uniform", math.pi)]
    found = scores_of(work_of(4000, *kinds), range(1, 4001))
    assert list(found) == ["cg", "down thrust", "right thrust", ALONG, ACROSS]
    for scores in found.values():
        assert scores.mean() == pytest.approx(0.0, abs=4 / math.sqrt(4000))
        assert scores.var() == pytest.approx(1.0, abs=4 * math.sqrt(2 / 4000))


def test_lost_flights_are_counted_and_never_averaged_in():
    """60 draws: 12 lost with wild numbers, 3 without one; the distribution is that of the 45."""
    values = np.arange(61.0)
    endings, reasons = np.zeros(61, dtype=int), np.zeros(61, dtype=int)
    lost = np.arange(1, 13)
    values[lost], endings[lost] = 1e6, ENDED.index("lost control")
    values[58:], reasons[58:] = math.nan, 1
    results = made(values, CG, endings=endings, reasons=reasons, texts=("", "not measured: too short"))
    study = study_of(results)
    (found,), (ended,) = study.findings, study.endings
    assert found.distribution.count == 45 and found.distribution.most == 57.0 and found.nominal == 0.0
    assert (found.missing.count, found.missing.of) == (15, 60)
    assert (found.reason, found.reason_count) == ("control was lost", 12)
    assert {name: share.count for name, share in ended.shares.items()} == {"completed": 48, "lost control": 12}
    assert ended.nominal == "completed" and not ended.ranking.why_not
    assert np.isfinite(counted(results)).sum() == 46 and results.values[1, 0] == 1e6
    few = study_of(made(values, CG, endings=np.where(np.arange(61) == 5, ENDED.index("diverged"), 0)))
    assert few.endings[0].ranking.why_not == "too few flights of either kind"


def test_what_decides_whether_control_is_lost():
    errors = np.array([draw((CG, INCIDENCE), 1, index).get("cg", 0.0) for index in range(101)])
    endings = np.where(errors > 1.5 * MM, ENDED.index("lost control"), 0)
    found = study_of(made(np.zeros(101), CG, INCIDENCE, endings=endings)).endings[0].ranking
    assert [one.input for one in found.found] == ["cg"] and found.found[0].correlation > 0.0


def test_what_to_measure_better():
    """A number that is the CG alone would not spread at all were it known; one with a quarter of its variance by it, by
    1 - sqrt(3/4) less."""
    errors = [draw((CG, INCIDENCE), 1, index) for index in range(401)]
    cg, incidence = (
        np.array([e.get(one.input, 0.0) for e in errors]) / standard_deviation(one) for one in (CG, INCIDENCE)
    )
    (better,) = to_measure_better(study_of(made(cg, CG, INCIDENCE)))
    assert better.input == "cg" and better.narrower[0][1] > 0.9
    (better,) = to_measure_better(study_of(made(cg + math.sqrt(3.0) * incidence, CG, INCIDENCE)))
    assert better.input == "incidence of stabiliser"
    assert better.narrower[0][1] == pytest.approx(1 - math.sqrt(1 / 4), abs=0.06)


# ---- the words of a pilot -----------------------------------------------------------------------

CASES = [Case(LOADED.setup, LEVEL)]


def test_spreads_as_they_are_written():
    texts = ["cg: 3 mm, down thrust: +- 1 deg", "right thrust: triangular \u00b1 0.02 rad, mass of battery: 2 %"]
    cg, down, right, battery = uncertain_inputs(texts, CASES, only=True)
    assert cg == Uncertain("cg", "normal", 0.003) and down == Uncertain("down thrust", "uniform", DEG)
    assert right == Uncertain("right thrust", "triangular", 0.02)
    mass = next(item.mass for item in LOADED.setup.airframe.items if item.name == "battery")
    assert battery.spread == pytest.approx(0.02 * mass)
    assert [said(one, LOADED.setup) for one in (cg, down, right)] == ["3.0 mm", "+- 1.0 deg", "+- 1.1 deg, triangular"]
    (share,) = uncertain_inputs(["cg: 1 %"], CASES, only=True)
    assert share.spread == pytest.approx(0.01 * build(LOADED.setup).mac)


def test_what_is_given_takes_the_place_of_the_usual():
    usual = {one.input: one for one in uncertain_inputs([], CASES)}
    assert tuple(usual.values()) == (*uncertain_of(LOADED.setup), DELAY)
    found = {one.input: one for one in uncertain_inputs(["cg: 5 mm, mass scale: 0, aileron throw: 2 deg"], CASES)}
    assert found["cg"].spread == 0.005 and "mass scale" not in found
    assert "aileron throw" in found and not {"aileron up throw", "aileron down throw"} & set(found)
    assert len(found) == len(usual) - 2


def test_wind_is_any_up_to_a_speed():
    fixed, texts = in_wind("3 m/s")
    assert dict(fixed) == {"wind": "1.5 m/s", "turbulence": "as the wind"} and len(texts) == 1
    assert texts[0] == "wind: +- 1.5 m/s, wind direction: any, turbulence seed: any"


BAD = [
    ("cg: 3 mmm", '"cg": found "3 mmm", with an unknown unit'),
    ("cgg: 2 mm", "try: cg"),
    ("cg", 'found "cg"; allowed: INPUT: SPREAD'),
    ("cg: 2 mm, cg: 3 mm", "found it a second time"),
    ("elevator up throw: 1 deg, elevator throw: 2 deg", 'beside "elevator up throw"'),
    ("elevator throw: 60 deg", "a spread that reaches -"),
    ("pilot: 2", "for an input without a number"),
    ("propeller: 1 in", "for an input without a number"),
    ("wind: 2 m/s", "a spread that reaches -2.00 m/s (it is 0.00 m/s)"),
    (
        "wind direction: any",
        "with no wind, where it changes nothing; allowed: an input that changes something; try: --set",
    ),
    ("turbulence seed: any", "with no turbulence"),
    ("turbulence seed: 3", "allowed: any"),
    ("cg: -2 mm", "a spread from 0"),
    ("cg: 900 mm", "a spread of the CG up to 200 mm"),
    ("cg: normal +- 2 mm", "uniform +- SPREAD"),
    ("cg: nan mm", "finite"),
    ("cg: 2", "a number without a unit"),
    ("incidence of wing: 90 deg", "values from -15 deg to 15 deg"),
    ("", "an empty text"),
    ("cg: 2 mm,,", "with commas between"),
    ("cg: 2 mm" + ", " * 1500, "characters)"),
    ("cg: 0", "nothing that is uncertain"),
]


@pytest.mark.parametrize("text, words", BAD, ids=[text[:40] or "nothing" for text, _ in BAD])
def test_a_wrong_spread_is_refused(text, words):
    with pytest.raises(UserError) as refused:
        uncertain_inputs([text], CASES, only=True)
    assert str(refused.value).startswith("--uncertain") and words in str(refused.value)


def test_every_mistake_is_told_at_once():
    with pytest.raises(UserError) as refused:
        uncertain_inputs(["cg: 3 mmm, wing: 2", "pilot: 1"], CASES)
    assert len(str(refused.value).split("\n")) == 3
