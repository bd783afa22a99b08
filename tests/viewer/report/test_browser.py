"""The page in a browser: nothing goes wrong, charts zoom, the replay moves by mouse and keyboard, it prints."""

import base64
import shutil
import subprocess
import time

import numpy as np
import pytest

from tests.viewer.report.test_page import contrast
from viewer.report.traces import unpacked
from viewer.words import CAUTIONS

LOADED = 2.0  # s, the most that opening may take
SCALE = "const c = document.querySelector('figure.chart').chart; return [c.scales.x.min, c.scales.x.max];"


def until(seen, most=3.0):
    """Wait for `seen()` to be true."""
    end = time.monotonic() + most
    while not (got := seen()):
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.02)
    return got


def complaints(browser):
    return [entry["message"] for entry in browser.get_log("browser")]


@pytest.fixture
def keys():
    return pytest.importorskip("selenium.webdriver.common.keys").Keys


@pytest.fixture
def hands(opened):
    from selenium.webdriver import ActionChains

    return ActionChains(opened)


def by_id(browser, name):
    return browser.find_element("id", name)


def choose(browser, name, text):
    from selenium.webdriver.support.ui import Select

    Select(by_id(browser, name)).select_by_visible_text(text)


def drawn(browser):
    """The picture of the replay as text."""
    return browser.execute_script("return document.getElementById('r-canvas').toDataURL()")


def clock(browser):
    return float(by_id(browser, "r-clock").text.split()[0])


def shown(browser, what, column=1):
    """What the replay's table says of `what` for flight A."""
    rows = browser.find_elements("css selector", "#r-numbers tbody tr")
    row = next(row for row in rows if row.find_element("tag name", "th").text.startswith(what))
    return row.find_elements("tag name", "td")[column - 1].text


def test_it_opens_quickly_without_a_word_from_the_console_or_the_network(opened):
    times = "const n = performance.getEntriesByType('navigation')[0]; return n.loadEventEnd;"
    took = until(lambda: opened.execute_script(times))
    assert took < 1000.0 * LOADED
    until(lambda: opened.execute_script("return document.querySelectorAll('canvas').length") >= 1)
    assert complaints(opened) == []
    loaded = opened.execute_script("return performance.getEntriesByType('resource').map(e => e.name)")
    assert [name for name in loaded if not name.startswith("data:")] == []


def chart(browser):
    """The first chart, in view and drawn."""
    figure = browser.find_element("css selector", "figure.chart")
    browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", figure)
    until(lambda: figure.find_elements("css selector", ".uplot canvas"))
    return figure


def test_a_chart_zooms_by_buttons_by_mouse_and_back(opened, hands, keys):
    figure = chart(opened)
    whole = opened.execute_script(SCALE)
    inside = figure.find_element("css selector", "[data-do='in']")
    inside.send_keys(keys.ENTER)
    low, high = until(lambda: (s := opened.execute_script(SCALE)) != whole and s)
    assert (high - low) == pytest.approx((whole[1] - whole[0]) / 1.6) and (low + high) == pytest.approx(sum(whole))
    figure.find_element("css selector", "[data-do='right']").click()
    assert until(lambda: (s := opened.execute_script(SCALE))[0] > low and s)[1] <= whole[1] + 1e-9
    figure.find_element("css selector", "[data-do='whole']").click()
    until(lambda: opened.execute_script(SCALE) == whole)
    over = figure.find_element("css selector", ".u-over")
    wide = over.size["width"]
    hands.move_to_element_with_offset(over, -wide // 4, 0).click_and_hold().move_by_offset(
        wide // 2, 0
    ).release().perform()
    low, high = until(lambda: (s := opened.execute_script(SCALE)) != whole and s)
    assert (high - low) / (whole[1] - whole[0]) == pytest.approx(0.5, abs=0.05)
    hands.double_click(over).perform()
    until(lambda: opened.execute_script(SCALE) == whole)
    assert complaints(opened) == []


def test_a_chart_shows_another_channel_and_says_so(opened, flights):
    from selenium.webdriver.support.ui import Select

    figure = chart(opened)
    Select(figure.find_element("css selector", "select")).select_by_value("load z")
    said = figure.find_element("css selector", ".plot").get_attribute("aria-label")
    load = unpacked(flights["manoeuvres"][0]["flights"][1]["channels"]["load z"])
    assert said.startswith("load factor in g over time in stall, toward the canopy positive:")
    assert f"slow-3d from {load.min():.1f} to {load.max():.1f}" in said
    data = opened.execute_script("return document.querySelector('figure.chart').chart.data[2].filter(v => v !== null)")
    np.testing.assert_allclose(data, load, atol=1e-9)


def test_stall_maps_are_light_before_the_stall_and_dark_in_it(opened, flights):
    stall = flights["manoeuvres"][0]["flights"][1]["stall"]
    dark = [max(int(row[n], 16) for row in stall["rows"]) for n in range(len(stall["rows"][0]))]
    worst = int(np.argmax(dark))
    strip = int(np.argmax([int(row[worst], 16) for row in stall["rows"]]))
    canvas = opened.find_element("css selector", "figure.stall[data-flight='1'] canvas")
    opened.execute_script("arguments[0].scrollIntoView({block: 'center'})", canvas)
    pixel = """const c = arguments[0], x = 72 + (c.clientWidth - 84 - 72) * arguments[1];
    const y = 8 + (c.clientHeight - 34 - 8) * arguments[2];
    const k = c.width / c.clientWidth; return [...c.getContext("2d").getImageData(x * k, y * k, 1, 1).data].slice(0, 3);"""
    height = (stall["span"][strip] + 1.0) / 2.0
    until(lambda: opened.execute_script("return arguments[0].width", canvas) != 300)
    early = opened.execute_script(pixel, canvas, 0.02, height)
    late = opened.execute_script(pixel, canvas, (worst + 0.5) / len(dark), height)
    assert min(early) > 200 and max(late) < 130
    assert [one for one in complaints(opened) if "getImageData" not in one] == []  # this test's own reading of pixels


def test_the_replay_moves_with_the_slider_and_shows_the_flight_of_that_time(opened, flights, keys):
    choose(opened, "r-manoeuvre", "stall")
    before = drawn(opened)
    slider = by_id(opened, "r-time")
    slider.send_keys(keys.END)
    assert clock(opened) == pytest.approx(float(slider.get_attribute("max")), abs=0.03) and drawn(opened) != before
    slider.send_keys(keys.HOME)
    assert clock(opened) == pytest.approx(float(slider.get_attribute("min")), abs=0.03)
    opened.execute_script("arguments[0].value = 3; arguments[0].dispatchEvent(new Event('input'))", slider)
    flight = flights["manoeuvres"][0]["flights"][0]
    at = (3.0 + dict(map(tuple, flight["phases"]))["slow down"] - flight["begin"]) / flight["step"]
    for name, what, decimals in (
        ("airspeed", "airspeed", 1),
        ("elevator", "elevator, deg", 1),
        ("height", "height", 1),
    ):
        row = unpacked(flight["channels"][name])
        value = np.interp(at, np.arange(len(row)), row)
        assert float(shown(opened, what)) == pytest.approx(value, abs=0.51 * 10.0**-decimals)
    assert shown(opened, "phase") == "slow down"
    assert complaints(opened) == []


def test_the_replay_plays_stops_turns_and_zooms_by_keyboard(opened, keys):
    canvas = by_id(opened, "r-canvas")
    start = clock(opened)
    canvas.send_keys(keys.SPACE)
    assert by_id(opened, "r-play").text == "Pause"
    until(lambda: clock(opened) > start + 0.2)
    canvas.send_keys(keys.SPACE)
    stopped = clock(opened)
    time.sleep(0.15)
    assert clock(opened) == stopped and by_id(opened, "r-play").text == "Play"
    for key in (keys.ARROW_LEFT, keys.ARROW_UP, "+", "-"):
        before = drawn(opened)
        canvas.send_keys(key)
        assert drawn(opened) != before, key


def test_the_replay_turns_by_mouse_and_has_its_views(opened, hands):
    pictures = {drawn(opened)}
    hands.move_to_element(by_id(opened, "r-canvas")).click_and_hold().move_by_offset(80, 30).release().perform()
    pictures.add(drawn(opened))
    for view in ("whole path, from above", "beside the plane", "from the ground"):
        choose(opened, "r-view", view)
        pictures.add(drawn(opened))
    assert len(pictures) == 5
    choose(opened, "r-b", "none")
    assert by_id(opened, "r-head-b").text == "B" and shown(opened, "airspeed", 2) == "-"
    assert complaints(opened) == []


def test_two_flights_are_shown_at_the_chosen_instant_of_each(opened, flights):
    """Both at the start of the phase, by their own clocks."""
    choose(opened, "r-manoeuvre", "upline-45")
    choose(opened, "r-align", 'start of "hands off"')
    assert clock(opened) == pytest.approx(0.0, abs=0.03)
    assert shown(opened, "phase", 1) == shown(opened, "phase", 2) == "hands off"
    heights = [float(shown(opened, "height", n)) for n in (1, 2)]
    for height, flight in zip(heights, flights["manoeuvres"][1]["flights"]):
        start = dict(map(tuple, flight["phases"]))["hands off"]
        row = unpacked(flight["place"][2])
        assert height == pytest.approx(
            np.interp((start - flight["begin"]) / flight["step"], np.arange(len(row)), row), abs=0.06
        )


COLOURS = """
const rgb = (text) => text.match(/[\\d.]+/g).map(Number);
const out = new Set();
for (const element of document.querySelectorAll("body *")) {
  const own = [...element.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
  if (!own || ["SCRIPT", "STYLE", "NOSCRIPT"].includes(element.tagName) || !element.checkVisibility()) continue;
  let ground = element, back;
  do { back = rgb(getComputedStyle(ground).backgroundColor); ground = ground.parentElement; }
  while (ground && back.length === 4 && back[3] === 0);
  out.add(JSON.stringify([rgb(getComputedStyle(element).color).slice(0, 3), back.slice(0, 3)]));
}
return [...out].map((text) => JSON.parse(text));
"""


def test_everything_written_has_contrast_as_the_browser_shows_it(opened):
    pairs = opened.execute_script(COLOURS)
    assert len(pairs) >= 5
    for text, ground in pairs:
        one, other = ("#" + "".join(f"{int(c):02x}" for c in colour) for colour in (text, ground))
        assert contrast(one, other) >= 4.5, (one, other)


def test_it_fits_a_phone(opened):
    opened.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride", {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": True}
    )
    until(lambda: opened.execute_script("return innerWidth") == 390)
    assert opened.execute_script("return document.documentElement.scrollWidth") <= 390
    figure = chart(opened)
    until(lambda: figure.find_element("css selector", ".uplot").size["width"] <= 390)
    assert complaints(opened) == []


def test_it_prints_with_its_verdict_its_cautions_and_stills(opened, tmp_path):
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is missing: apt-get install poppler-utils")
    verdict = opened.find_element("css selector", ".verdict").text
    paper = {"paperWidth": 8.27, "paperHeight": 11.69, "printBackground": False}
    printed = opened.execute_cdp_cmd("Page.printToPDF", paper)
    path = tmp_path / "page.pdf"
    path.write_bytes(base64.b64decode(printed["data"]))
    text = " ".join(subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True).stdout.split())
    assert text.count(CAUTIONS) == 2
    for line in verdict.split("\n"):
        words = line.split()
        assert " ".join(words[:6]).replace("‐", "-") in text, line
    assert "Mean moments in N m" in text  # what is folded on screen is open on paper
    assert "Zoom in" not in text and "Play" not in text
    stills = "return [...document.querySelectorAll('img.still')].map(i => [i.naturalWidth, i.alt.length])"
    pictures = opened.execute_script(stills)
    assert len(pictures) == 5 and all(wide > 200 and alt > 20 for wide, alt in pictures)
    assert opened.execute_script("return document.querySelectorAll('details[open]').length") == 0
    assert complaints(opened) == []
