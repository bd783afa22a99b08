"""The page as text: whole by itself, safe, in order for who hears it, readable, and true to the flights."""

import math
import re

import numpy as np
import pytest

from models.loader import load
from scenarios.manoeuvres import fly_manoeuvre, flyable, load_manoeuvre
from scenarios.measures import MEASURES, take_measures
from scenarios.trust import OF_MEASURE, UNCHECKED, trust_in
from sim import layout as L
from sim.recording import STATE_AT
from tests.viewer.report.conftest import HOSTILE, MANOEUVRES
from tests.viewer.report.elements import elements
from viewer.report.page import LOOKS
from viewer.report.traces import STEPS, packed, unpacked
from viewer.text import number
from viewer.words import CAUTIONS

LOADS = ("src", "href", "srcset", "data", "action", "poster", "background", "xlink:href", "formaction")


@pytest.fixture(scope="module")
def found(page):
    return elements(page)


def of_tag(found, *tags):
    return [element for element in found if element.tag in tags]


# ---- by itself ----------------------------------------------------------------------------------------------------------


def test_nothing_is_loaded_from_anywhere(page, found):
    for element in found:
        for name in LOADS:
            value = element.of.get(name)
            assert value is None or value.startswith(("#", "data:")), f"{element.tag} {name}={value[:80]}"
    style = "".join(element.text for element in of_tag(found, "style"))
    assert "url(" not in style and "@import" not in style and "@font-face" not in style
    scripts = "".join(e.text for e in of_tag(found, "script") if e.of.get("type") != "application/json")
    assert len(scripts) > 50_000
    for word in ("fetch(", "XMLHttpRequest", "import(", "WebSocket", "sendBeacon", "Worker("):
        assert word not in scripts
    policy = next(e for e in of_tag(found, "meta") if e.of.get("http-equiv") == "Content-Security-Policy")
    assert policy.of["content"].startswith("default-src 'none'") and "http" not in policy.of["content"]


def test_size(page):
    assert len(page.encode()) < 1_000_000  # two setups, two manoeuvres; the limit is 5 MB for the whole set


def test_names_and_descriptions_of_setups_are_text_and_no_page(page, found):
    assert HOSTILE not in page and "<img src=x" not in page
    assert HOSTILE in next(e for e in of_tag(found, "h1")).text
    assert any("</style><img src=x onerror=alert(1)>" in e.text for e in of_tag(found, "li"))
    known = {"html", "head", "meta", "title", "style", "body", "a", "header", "p", "h1", "h2", "h3", "h4", "nav", "ul", "li",
             "main", "section", "svg", "line", "strong", "em", "div", "table", "caption", "thead", "tbody", "tr", "th", "td",
             "noscript", "label", "select", "option", "canvas", "button", "input", "output", "figure", "figcaption", "details",
             "summary", "span", "code", "pre", "footer", "script", "img"}  # fmt: skip
    assert {e.tag for e in found} <= known
    assert not any(name.startswith("on") for e in found for name in e.of)
    assert len(of_tag(found, "script")) == 8 and not of_tag(found, "img")


# ---- for everybody ------------------------------------------------------------------------------------------------------


def test_headings_come_in_order(found):
    levels = [int(e.tag[1]) for e in found if re.fullmatch("h[1-6]", e.tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(levels, levels[1:]))
    titles = [e.text for e in of_tag(found, "h2")]
    assert titles == ["What was asked", "Verdict", "Cautions", "What differs", "Replay", "Balance", "Rules", "Manoeuvres",
                      "How far to trust it", "Inputs, to run it again"]  # fmt: skip


def test_what_is_seen_is_also_said(found):
    assert of_tag(found, "html")[0].of["lang"] == "en"
    assert of_tag(found, "title")[0].text.strip()
    for picture in of_tag(found, "svg", "canvas"):
        assert picture.of["role"] == "img" and len(picture.of["aria-label"]) > 8
    plots = [e for e in found if e.of.get("class") == "plot"]
    assert len(plots) == 2 * len(MANOEUVRES)
    for plot in plots:
        assert plot.of["role"] == "img" and re.search(r"slow-3d from -?[\d.]+ to -?[\d.]+", plot.of["aria-label"])
    for control in of_tag(found, "select", "input"):
        assert "label" in control.inside
    for button in of_tag(found, "button"):
        assert button.text.strip() and button.of["type"] == "button"
    ids = [e.of["id"] for e in found if "id" in e.of]
    assert len(ids) == len(set(ids))
    for link in of_tag(found, "a"):
        assert link.of["href"].removeprefix("#") in ids and link.text.strip()


def test_tables_have_captions_and_heads_with_a_scope(found):
    tables = of_tag(found, "table")
    assert len(tables) > 10
    for table in tables:
        assert sum(e.tag == "caption" and bool(e.text.strip()) for e in table.parts) == 1
        heads = [e for e in table.parts if e.tag == "th"]
        assert heads and all(e.of.get("scope") in ("col", "row") for e in heads)
        assert all(e.text.strip() for e in heads)
        for row in (e for e in table.parts if e.tag == "tr" and "tbody" in e.inside):
            assert row.parts[0].tag == "th" and row.parts[0].of["scope"] == "row"


def luminance(colour: str) -> float:
    """Relative luminance of "#rrggbb" (WCAG 2.2, definition of relative luminance)."""
    parts = [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2, definition of contrast ratio)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_against_known_pairs():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(
        4.48, abs=0.01
    )  # the grey that just fails, WCAG's own example


def test_every_colour_of_text_is_dark_enough_on_every_ground_of_the_page(found):
    style = "".join(e.text for e in of_tag(found, "style"))
    own = style[style.index(":root") :]
    rules = re.findall(r"([^{}]+)\{([^{}]*)\}", own)
    texts = {m for _, body in rules for m in re.findall(r"(?:^|[;\s])color:\s*(#[0-9a-f]{6})", body)}
    grounds = {m for _, body in rules for m in re.findall(r"background:\s*(#[0-9a-f]{6})", body)}
    assert len(texts) >= 4 and len(grounds) >= 3
    for text in texts:
        for ground in grounds:
            assert contrast(text, ground) >= 4.5, (text, ground)


def test_lines_of_setups_are_dark_enough_and_differ_by_dash():
    assert len({tuple(look["dash"]) for look in LOOKS}) == len(LOOKS) == len({look["colour"] for look in LOOKS})
    assert all(contrast(look["colour"], "#fdfcf8") >= 4.5 for look in LOOKS)


# ---- what it says -------------------------------------------------------------------------------------------------------


def test_the_verdict_names_what_the_rules_found(found, numbers, hostile_setup):
    verdict = next(e for e in found if e.of.get("class") == "verdict").text
    for name in (str(hostile_setup), "slow-3d"):
        judged = {rule: entry for rule, entry in numbers["rules"].items() if rule.startswith(f"{name} > ")}
        held = sum(entry["verdict"] == "pass" for entry in judged.values())
        assert f"{name}: {held} of {len(judged)} rules" in verdict
        failed = [rule.split(" > ", 1)[1] for rule, entry in judged.items() if entry["verdict"] == "fail"]
        assert failed and all(rule in verdict for rule in failed)
    assert "No flight of a real aeroplane has been compared" in verdict and "3.3 % too large" in verdict
    margins = [numbers["margins"][f"{name} > static_margin"]["value"] for name in (str(hostile_setup), "slow-3d")]
    for margin in margins:
        assert f"{100.0 * margin:.1f} % of MAC" in verdict


def test_the_cautions_stand_after_the_verdict_and_at_the_end(page, found):
    places = [e.text.strip() for e in of_tag(found, "p")]
    assert places.count(CAUTIONS) == 2


def test_measures_are_those_of_a_flight_flown_here(found):
    setup = load("slow-3d").setup
    flown = fly_manoeuvre(setup, load_manoeuvre("stall")[0], flyable(setup))
    table = next(e for e in of_tag(found, "table") if "Measures of stall" in e.text)
    rows = [e for e in table.parts if e.tag == "tr" and "tbody" in e.inside]
    taken = take_measures(flown)
    assert len(rows) == len(taken)
    for row, one in zip(rows, taken):
        cells = [e.text for e in row.parts]
        word = one.measure.positive if one.value > 0.0 else one.measure.negative
        shown = number(one.value, one.measure.unit)
        word = "" if float(shown) == 0.0 else word
        assert cells[0] == one.measure.about and cells[1] == (one.measure.unit or "-")
        assert cells[3] == f"{shown.removeprefix('-') if word else shown} {word}".strip()
        assert cells[4] == trust_in("stall", one.measure.name).short


def test_every_measure_that_is_trusted_exists_and_snaps_are_trusted_as_a_direction():
    assert set(OF_MEASURE) <= set(MEASURES)
    assert trust_in("snap-roll-right", "steady_roll_rate").short == "direction"
    assert trust_in("loop-inside", "loop_radius") is UNCHECKED


# ---- what the scripts draw from -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("values", [np.linspace(-3.0, 5.0, 50), np.zeros(4), np.array([1.0, np.nan, -2.0])])
def test_packing_keeps_values_to_half_a_step(values):
    half = 0.5 * np.nanmax(np.ptp(values[np.isfinite(values)])) / STEPS
    np.testing.assert_allclose(unpacked(packed(values)), values, atol=half + 1e-12)


def test_flights_in_the_page_are_those_flown(flights):
    setup = load("slow-3d").setup
    flown = fly_manoeuvre(setup, load_manoeuvre("upline-45")[0], flyable(setup))
    entry = next(m for m in flights["manoeuvres"] if m["name"] == "upline-45")["flights"][1]
    start = round(entry["begin"] / 0.01)
    kept = slice(start, None, round(entry["step"] / 0.01))
    pitch = np.degrees(flown.flight.channel("pitch rate")[kept])
    np.testing.assert_allclose(unpacked(entry["channels"]["pitch rate"]), pitch, atol=np.ptp(pitch) / STEPS)
    height = flown.flight.channel("height")[kept]
    np.testing.assert_allclose(unpacked(entry["place"][2]), height, atol=np.ptp(height) / STEPS)
    q = np.array([unpacked(row) for row in entry["attitude"]])
    nose = 2.0 * (q[1] * q[3] - q[0] * q[2])  # down component of body x (ISO 1151, quaternion scalar first)
    np.testing.assert_allclose(np.arcsin(np.clip(-nose, -1.0, 1.0)), flown.flight.channel("pitch")[kept], atol=1e-3)
    names = [phase.name for phase in flown.manoeuvre.phases]
    assert [name for name, _ in entry["phases"]] == names and entry["zero"] == entry["phases"][2][1]


def test_the_stall_map_is_the_separation_of_the_wing(flights, found):
    setup = load("slow-3d").setup
    flown = fly_manoeuvre(setup, load_manoeuvre("stall")[0], flyable(setup))
    entry = next(m for m in flights["manoeuvres"] if m["name"] == "stall")["flights"][1]["stall"]
    shades = np.array([[int(digit, 16) for digit in row] for row in entry["rows"]]) / 15.0
    wing = flown.plane.strips["wing"]
    assert len(entry["rows"]) == wing.stop - wing.start == len(entry["span"])
    kept = flown.flight.rows[
        :: round(entry["step"] / 0.01), STATE_AT + L.SEPARATION + wing.start : STATE_AT + L.SEPARATION + wing.stop
    ]
    np.testing.assert_allclose(shades.T, 1.0 - np.clip(kept, 0.0, 1.0), atol=0.5 / 15.0 + 1e-9)
    np.testing.assert_allclose(entry["span"], -np.array(entry["span"])[::-1], atol=1e-3)  # from tip to tip
    first = next(one.value for one in take_measures(flown) if one.measure.name == "first_separation")
    words = next(e.text for e in of_tag(found, "figcaption") if "Stall over the wing" in e.text and "slow-3d" in e.text)
    assert f"lies at {first:.0f} % of " in words
    lines = next(m for m in flights["manoeuvres"] if m["name"] == "upline-45")["flights"]
    assert all("stall" not in flight for flight in lines)  # nothing to show there


def test_the_plane_is_drawn_from_its_airframe_file(flights):
    """Against models/airframes/tarn-220.yaml: wing tip at 1100 mm, propeller of 23 in, hinge lines and their sense."""
    plane = flyable(load("slow-3d").setup)
    faces = flights["setups"][1]["faces"]
    wing = [p for f in faces if f["kind"] == "wing" for p in f["points"]]
    assert max(p[1] for p in wing) == pytest.approx(1.100, abs=1e-3) and min(p[1] for p in wing) == pytest.approx(
        -1.100, abs=1e-3
    )
    tip = next(p for p in wing if p[1] == max(q[1] for q in wing))
    assert max(p[0] for p in wing if p[1] == tip[1]) == pytest.approx(plane.cg_station - 0.080, abs=1e-3)
    disk = np.array(next(f for f in faces if f["kind"] == "propeller")["points"])
    assert np.ptp(disk[:, 1]) == pytest.approx(23 * 0.0254, rel=0.01)
    flaps = [f for f in faces if f["kind"] == "flap"]
    assert sorted(f["moves"] for f in flaps) == ["elevator", "elevator", "left aileron", "right aileron", "rudder"]
    for flap in flaps:
        points, hinge, swing = (np.array(flap[key]) for key in ("points", "hinge", "swing"))
        turned = hinge + (points - hinge) * math.cos(0.3) + swing * math.sin(0.3)
        moved = (turned - points)[2:].mean(axis=0)  # of the trailing edge
        lever = np.linalg.norm(points - hinge, axis=1)
        np.testing.assert_allclose(np.linalg.norm(turned - hinge, axis=1), lever, atol=3e-4)
        way = -moved[1] if flap["moves"] == "rudder" else moved[2]
        assert way == pytest.approx(lever[2:].mean() * math.sin(0.3), rel=0.02)  # left, or down (ISO 1151)
        assert (points[2:, 1] > 0.0).all() == (flap["moves"] == "right aileron") or flap["moves"] not in (
            "right aileron",
        )
