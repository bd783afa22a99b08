"""Maps: known answers, the same numbers as single flights, and no cell without a value or a reason."""

import pytest

from models.errors import OptionError, UserError
from scenarios.axes import read_axis
from scenarios.balance import balance
from scenarios.inputs import Case, inputs_of
from scenarios.manoeuvres import CannotFly, fly_manoeuvre, load_manoeuvre, manoeuvre_from_text
from scenarios.maps import cases_of, measures_of, sweep
from scenarios.measures import take_measures
from scenarios.schema import WindPart
from tests.scenarios.flying import HEAD, plane_of, setup_of

WIND = ", wind: {speed: %s, from: 0 deg%s}"
SHORT = """start: {from: level flight, airspeed: 25 m/s, height: 100 m%s}
phases:
  - {name: hands off, release: [aileron, elevator, rudder], for: 2 s}
measures: [height_drift, bank_drift]
"""


def short(wind: str = ""):
    return manoeuvre_from_text(HEAD + SHORT % wind)


def mapped(manoeuvre, measures: list[str], *axes: str, setup: str = "precision", **keywords):
    case = Case(setup_of(setup), manoeuvre)
    inputs = inputs_of(case.setup)
    return sweep(case, tuple(read_axis(a, inputs, "--vary") for a in axes), measures_of(case, measures), **keywords)


def column(result, measure: int = 0):
    return [cell.values[measure] for cell in result.cells]


def test_mass_follows_the_mass_of_an_item_gram_by_gram():
    result = mapped(None, ["mass", "wing_loading"], "mass of battery: 1.3 kg to 1.5 kg by 0.05 kg")
    others = balance(plane_of("precision")).mass - 1.42
    assert column(result) == pytest.approx([others + m for m in result.axes[0].numbers], abs=1e-12)
    areas = [mass / loading for mass, loading in (cell.values for cell in result.cells)]
    assert areas == pytest.approx([areas[0]] * 5, rel=1e-12)


def test_mass_scale_scales_mass_and_inertia_alike():
    result = mapped(
        None, ["mass", "inertia_roll", "inertia_pitch", "inertia_yaw", "moved_item"], "mass scale: 100 %, 120 %"
    )
    one, more = (cell.values for cell in result.cells)
    assert [b / a for a, b in zip(one, more)] == pytest.approx([1.2] * 4 + [1.0], rel=1e-9)


def test_static_margin_falls_with_the_cg_one_to_one():
    # By definition (Nelson, Flight Stability and Automatic Control, from memory) the margin is the way from the CG to the
    # neutral point over the chord.  The neutral point itself is taken about the trim: with the CG 12 % aft the tail
    # carries more and it goes 0.2 % forward, so the slope is 1 to within 2 %.
    names = ["static_margin", "cg", "neutral_point", "cg_mac"]
    result = mapped(None, names, "cg: 28 % to 40 % by 2 %")
    margin, cg, neutral, cg_mac = (column(result, n) for n in range(4))
    mac = plane_of("precision").mac * 1000.0
    assert cg_mac == pytest.approx(result.axes[0].numbers, abs=1e-9)
    assert margin == pytest.approx([100.0 * (n - c) / mac for n, c in zip(neutral, cg)], abs=1e-9)
    for before, after in zip(margin, margin[1:]):
        assert before - after == pytest.approx(2.0, rel=0.02)


def test_balance_measures_are_those_of_the_balance():
    names = ["mass", "cg", "cg_mac", "neutral_point", "static_margin", "wing_loading", "moved_item", "inertia_yaw"]
    result = mapped(None, names, "cg: 35 %")
    b = balance(plane_of("precision", "35 %"))
    expected = (b.mass, 1000.0 * b.cg, 100.0 * b.cg_mac, 1000.0 * b.neutral_point, 100.0 * b.static_margin,
                b.wing_loading, 1000.0 * b.item_station, b.inertia[2])  # fmt: skip
    assert result.cells[0].values == expected


@pytest.mark.parametrize("name, measure", [("upline-45", "pitch_drift"), ("knife-edge-right", "pitch_coupling")])
def test_a_sweep_is_single_flights_bit_for_bit(name, measure):
    manoeuvre = load_manoeuvre(name)[0]
    result = mapped(manoeuvre, [measure, "static_margin"], "cg: 30 % to 38 % by 4 %")
    for text, cell in zip(result.axes[0].texts, result.cells):
        flown = fly_manoeuvre(setup_of("precision", text), manoeuvre)
        alone = {t.measure.name: t.value for t in take_measures(flown)}[measure]
        assert cell.values == (alone, 100.0 * balance(plane_of("precision", text)).static_margin)


def test_wind_in_a_sweep_is_the_wind_of_a_file_bit_for_bit():
    result = mapped(short(), ["height_drift", "bank_drift"], "wind: 0 m/s, 5 m/s", "turbulence: 0 m/s, light")
    for (wind, turbulence), cell in zip(((w, t) for w in ("0", "5") for t in ("0 m/s", "light")), result.cells):
        said = WIND % (f"{wind} m/s", f", turbulence: {turbulence}") if (wind, turbulence) != ("0", "0 m/s") else ""
        flown = fly_manoeuvre(setup_of("precision"), short(said))
        assert cell.values == tuple(t.value for t in take_measures(flown)), (wind, turbulence)
    assert len({cell.values for cell in result.cells}) == 4


@pytest.mark.parametrize("side", ["right", "left"])
def test_who_flies_and_to_which_side_bit_for_bit(side):
    manoeuvre = load_manoeuvre(f"knife-edge-{side}")[0]
    result = mapped(manoeuvre, ["rudder_to_hold", "stick_work"], "pilot: expert, learner", "wind: 3 m/s")
    windy = manoeuvre.model_copy(
        update={"start": manoeuvre.start.model_copy(update={"wind": WindPart().model_copy(update={"speed": 3.0})})}
    )
    for skill, cell in zip(("expert", "learner"), result.cells):
        taken = {
            t.measure.name: (t.value, t.reason)
            for t in take_measures(fly_manoeuvre(setup_of("precision"), windy, skill=skill))
        }
        assert list(zip(cell.values, cell.reasons)) == [taken["rudder_to_hold"], taken["stick_work"]]
    assert (result.cells[0].values[0] > 0.0) == (side == "right")
    assert result.cells[0].values != result.cells[1].values


def test_neither_the_workers_nor_their_order_show():
    axes = "cg: 30 % to 38 % by 2 %", "elevator throw: 10 deg, 20 deg"
    results = [mapped(short(), ["height_drift"], *axes, workers=n) for n in (1, 2, 7)]
    assert results[0].cells == results[1].cells == results[2].cells
    swapped = mapped(short(), ["height_drift"], *axes[::-1], workers=3)
    assert column(swapped) == [v for n in range(2) for v in column(results[0])[n::2]]
    assert results[0].grid(0)[2][1] == (column(results[0])[5], "")


def test_progress_counts_every_cell():
    seen = []
    mapped(None, ["mass"], "cg: 30 % to 38 % by 2 %", progress=lambda done, total: seen.append((done, total)))
    assert seen == [(n, 5) for n in range(1, 6)]


def test_a_cell_out_of_reach_says_so_and_the_others_stand():
    result = mapped(short(), ["height_drift", "static_margin"], "cg: 10 %, 31 %")
    off, on = result.cells
    assert off.values == (None, None) and off.reasons[0].startswith("CG out of reach: battery would sit at -")
    assert None not in on.values and on.reasons == ("", "") and on.ended == "completed"
    with pytest.raises(UserError, match="its tray"):
        mapped(short(), ["height_drift"], "cg: 10 %, 12 %")


def test_a_flight_that_cannot_start_says_so():
    hover = load_manoeuvre("hover")[0]
    result = mapped(hover, ["hover_throttle", "mass"], "propeller: 10x4")
    (cell,) = result.cells
    assert cell.values[0] is None and cell.reasons[0].startswith("not flown: ") and cell.values[1] > 6.0
    with pytest.raises(CannotFly, match="no steady state"):
        mapped(hover, ["hover_throttle"], "propeller: 10x4")


@pytest.mark.parametrize(
    "measures, axes, words",
    [
        (["mass"], ["cg: 30 % to 70 % by 1 %", "elevator throw: 1 deg to 50 deg by 1 deg"], "2050 cells"),
        (["mass"], ["cg: 30 %", "cg: 31 %"], '"cg" twice'),
        (["mass"], [], "0 inputs"),
        (["mass"], ["cg: 30 %", "elevator throw: 9 deg", "rudder throw: 9 deg"], "3 inputs"),
        (["mass"], ["turbulence seed: 1 to 3 by 1"], '--set "turbulence: light"'),
        (["mass"], ["wind direction: 0 deg, 90 deg"], '--set "wind: 5 m/s"'),
        (["stall_speed"], ["cg: 30 %"], "a measure of a-test (height_drift"),
        (["mass", "mass"], ["cg: 30 %"], "a second time"),
    ],
)
def test_a_map_that_cannot_be_made(measures, axes, words):
    with pytest.raises(OptionError) as caught:
        mapped(short(), measures, *axes)
    assert words in str(caught.value)


def test_no_wind_where_nothing_is_flown():
    setup = setup_of("precision")
    with pytest.raises(OptionError, match='"wind" with balance'):
        cases_of(Case(setup), (read_axis("wind: 1 m/s", inputs_of(setup), "--vary"),))
