"""One page made by the command for all tests here, and a browser to look at it with."""

import json
import pathlib
import shutil
import tempfile

import pytest

import models
from viewer.command_line import main
from viewer.report.asked import read_page

CHROMEDRIVER, CHROMIUM = "/usr/bin/chromedriver", "/usr/bin/chromium"
FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
HOSTILE = "<script>alert('x')</script> & co"
MANOEUVRES = ("stall", "upline-45")


@pytest.fixture(scope="session")
def hostile_setup(tmp_path_factory):
    """The precision setup under the name of the other one, so that it is called by its path, which is a piece of a page."""
    path = tmp_path_factory.mktemp("own") / f"{HOSTILE}.yaml"
    path.parent.mkdir()
    text = (pathlib.Path(models.__file__).parent / "setups" / "precision.yaml").read_text(encoding="utf-8")
    for old, new in (("name: precision", "name: slow-3d"), ("about: ", "about: </style><img src=x onerror=alert(1)> ")):
        assert old in text
        text = text.replace(old, new, 1)
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def page_path(tmp_path_factory, hostile_setup):
    """The page of two setups and two manoeuvres."""
    path = tmp_path_factory.mktemp("page") / "report.html"
    asked = [word for name in MANOEUVRES for word in ("--manoeuvre", name)]
    assert main(["report", str(hostile_setup), "slow-3d", *asked, "--no-cures", "--to", str(path)]) == 0
    return path


@pytest.fixture(scope="session")
def page(page_path):
    """The text of the page."""
    return page_path.read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def flights(page):
    """The document that the page's scripts draw from."""
    text = page.split('<script type="application/json" id="flights">', 1)[1].split("</script>", 1)[0]
    return json.loads(text)


@pytest.fixture(scope="session")
def numbers(page_path):
    """The numbers that the page keeps."""
    return read_page(page_path)[1]


@pytest.fixture(scope="session")
def chrome():
    """A browser without a window; skips where there is none."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")
    for program in (CHROMEDRIVER, CHROMIUM):
        if not pathlib.Path(program).exists():
            pytest.skip(f"{program} is missing: apt-get install chromium chromium-driver")
    from selenium.webdriver.chrome.service import Service

    profile = tempfile.mkdtemp()
    options = webdriver.ChromeOptions()
    for flag in (*FLAGS, "--window-size=1280,900", f"--user-data-dir={profile}"):
        options.add_argument(flag)
    options.binary_location = CHROMIUM
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    browser = webdriver.Chrome(options=options, service=Service(CHROMEDRIVER))
    yield browser
    browser.quit()
    shutil.rmtree(profile, ignore_errors=True)


@pytest.fixture
def opened(chrome, page_path):
    """The page in the browser, freshly opened, 1280 wide."""
    chrome.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride", {"width": 1280, "height": 900, "deviceScaleFactor": 1, "mobile": False}
    )
    chrome.get(page_path.as_uri())
    return chrome
