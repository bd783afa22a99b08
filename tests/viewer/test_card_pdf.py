"""The field card as a page: its size, its numbers against those of the card in the terminal, nothing cut off or too small."""

import io
import re
import shutil
import subprocess
import zlib

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Polygon
from matplotlib.text import Text
from PIL import Image

from models.loader import load
from scenarios.card import ALSO, MIXES, THROWS, card
from scenarios.first_flights import first_flights
from scenarios.manoeuvres import flyable
from viewer.card import paper, plan_view
from viewer.card.page import ITEM, draw
from viewer.card.paper import SMALL, Paper, filled, width
from viewer.card.text import travel_of, value_of
from viewer.words import CAUTIONS

# ISO 216 and ANSI/ASME Y14.1, in points of 1/72 in
SIZES = {"a4": (595.276, 841.890), "letter": (612.0, 792.0)}
CASES = [("precision", "a4"), ("scree-270-slow-3d", "letter"), ("corrie-310-precision", "letter"), ("extreme", "a4")]
WHITE = 8.0  # mm that stay white on every side

needs = {name: pytest.mark.skipif(shutil.which(name) is None, reason=f"{name} is not installed (apt: poppler-utils)")
         for name in ("pdftotext", "pdftoppm", "pdfinfo")}  # fmt: skip


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Loaded setups with their planes, each built once; "crowded" is the fullest that a file may describe."""
    found = {}
    path = crowded(tmp_path_factory.mktemp("crowded"))

    def get(name):
        if name not in found:
            loaded = load(path if name == "crowded" else name)
            found[name] = (loaded, flyable(loaded.setup))
        return found[name]

    get.pages = {}
    return get


def page_of(built, name, size) -> bytes:
    """The page of a setup, drawn once."""
    if (name, size) not in built.pages:
        built.pages[name, size] = drawn(built, name, size)
    return built.pages[name, size]


def drawn(built, name, size) -> bytes:
    loaded, plane = built(name)
    file = io.BytesIO()
    draw(card(loaded, plane), plane, size, file)
    return file.getvalue()


def run(program: str, data: bytes, *arguments: str) -> bytes:
    return subprocess.run([program, *arguments], input=data, capture_output=True, check=True).stdout


def tight(words: str) -> str:
    """Words with one space between them, and degrees as on the page."""
    return re.sub(r" ?deg\b", "\N{DEGREE SIGN}", " ".join(words.split()))


def read_back(data: bytes) -> str:
    """The words of a page in the order in which they were set."""
    return tight(run("pdftotext", data, "-raw", "-", "-").decode())


def crowded(tmp_path) -> str:
    """A setup with the longest names, and as many mixes, modes and weights as a file may have."""
    mixes = "".join(
        "  - {from: rudder, to: elevator, gain: {left: -33.33 %, right: -77.77 %}}\n"
        "  - {from: throttle, to: aileron, curve: [1 %, 2 %, 3 %, 4 %, 5 %, 6 %, 7 %, 8 %, 9 %]}\n"
        for _ in range(10)
    )
    ballast = "".join(f"  - {{name: {'b' * 58}{n:02d}, mass: 5 g, at: [187 mm, 0 mm, 0 mm]}}\n" for n in range(20))
    modes = "".join(f"  - {{name: {'m' * 59}{n}, switch time: 1 s}}\n" for n in range(8))
    curve = ", ".join(f"{100 * n / 16:.4f} %" for n in range(17))
    path = tmp_path / "crowded.yaml"
    path.write_text(
        f"format: 1\nkind: setup\nname: {'n' * 60}\nfrom: slow-3d\nabout: {'W$' * 99}\u98de\n"
        "low rates: {aileron: 50 %, elevator: 40 %, rudder: 66 %}\n"
        f"throttle curve: [{curve}]\nmixes:\n{mixes}modes:\n{modes}ballast:\n{ballast}",
        encoding="utf-8",
    )
    return str(path)


@needs["pdfinfo"]
@pytest.mark.parametrize("name, size", CASES)
def test_one_page_of_that_paper(built, name, size):
    about = run("pdfinfo", page_of(built, name, size), "-").decode()
    assert re.search(r"Pages: +1\n", about)
    found = [float(number) for number in re.search(r"Page size: +([0-9.]+) x ([0-9.]+) pts", about).groups()]
    assert found == pytest.approx(SIZES[size], abs=0.5)


def test_the_file_itself_says_one_page_and_the_same_again(built):
    data = page_of(built, "precision", "letter")
    assert data == drawn(built, "precision", "letter") and data.startswith(b"%PDF-")
    assert len(re.findall(rb"/Type */Page\b", data)) == 1 and b"/MediaBox [ 0 0 612 792 ]" in data
    assert len(zlib.decompress(re.search(rb"stream\r?\n(.*?)\r?\nendstream", data, re.S)[1])) > 1000


@needs["pdftotext"]
@pytest.mark.parametrize("name, size", CASES)
def test_every_number_is_that_of_the_card_in_the_terminal(built, name, size):
    text = read_back(page_of(built, name, size))
    loaded, plane = built(name)
    made = card(loaded, plane)
    assert "NOT ALL IS HERE" not in text and len(made.rows) > 25
    for row in made.rows:
        label = row.label.strip().removeprefix("mix ")
        if row.section == THROWS and row.travel is None or row.section in (ALSO, "Linkages"):
            label = label.split()[-1]  # what it belongs to stands further ahead
        value = "" if row.label == ITEM else f" {tight(value_of(row))}"
        words = row.text if row.label == ITEM else f"{label}{value} {travel_of(row)}".strip()
        assert words in text, (row.label, words)
    assert f"CG {value_of(made.rows[0])} aft" in text


@needs["pdftotext"]
def test_what_to_fly_and_the_cautions_are_on_it(built):
    text = read_back(page_of(built, "extreme", "a4"))
    assert CAUTIONS in text
    for words in ("date", "place", "wind", "Range check", "Failsafe", "common practice, no source"):
        assert words in text
    titles = [flight.check.title for flight in first_flights("extreme")]
    places = [text.index(f" {n} {title} " if n > 1 else f"1 {title} ") for n, title in enumerate(titles, 1)]
    assert places == sorted(places) and titles[0] == "Take-off" and titles[-1] == "Hover"
    assert "Hover" not in [flight.check.title for flight in first_flights("precision")]


@needs["pdftotext"]
def test_the_way_a_setup_has_low_rates_and_mixes(built, tmp_path):
    path = tmp_path / "mine.yaml"
    path.write_text(
        "format: 1\nkind: setup\nname: mine\nfrom: precision\nlow rates: {aileron: 50 %, elevator: 40 %, rudder: 66 %}\n"
        "mixes:\n  - {from: rudder, to: elevator, gain: -8 %}\n",
        encoding="utf-8",
    )
    text = read_back(page_of(built, str(path), "letter"))
    # 40 % of 12 deg, and of a flap of 113 mm: 2 * 113 * sin(2.4 deg) = 9.5 mm
    assert tight("elevator up 12.0 deg 24 mm 4.8 deg 9 mm") in text
    assert tight("rudder to elevator -8.0 % right rudder: elevator 1.0 deg down") in text


@needs["pdftotext"]
@pytest.mark.parametrize("size", list(SIZES))
def test_what_does_not_fit_is_said(built, size):
    text = read_back(page_of(built, "crowded", size))
    loaded, plane = built("crowded")
    assert re.search(r"NOT ALL IS HERE, for want of room: .*Mixes and trims \([0-9]+\)", text)
    assert f"upline card {loaded.setup.name} --text has it." in text and "W$W$" in text
    assert "propeller 23x8" in text and "Local rules, your club" in text and "Take-off" in text
    mixes = [row for row in card(loaded, plane).rows if row.section == MIXES]
    left_out = int(re.search(r"Mixes and trims \(([0-9]+)\)", text)[1])
    assert 0 < left_out <= len(mixes)


@needs["pdftoppm"]
@pytest.mark.parametrize("name, size", [*CASES[:2], ("crowded", "a4"), ("crowded", "letter")])
def test_nothing_is_drawn_at_the_edges(built, name, size):
    data = page_of(built, name, size)
    sheet = Image.open(io.BytesIO(run("pdftoppm", data, "-r", "100", "-gray", "-png", "-")))
    grey = np.asarray(sheet.convert("L"))
    rows, columns = np.nonzero(grey < 250)
    white = WHITE / 25.4 * 100.0
    assert rows.min() >= white and columns.min() >= white
    assert rows.max() < grey.shape[0] - white and columns.max() < grey.shape[1] - white
    assert 0.02 < np.mean(grey < 128) < 0.2  # black on white, printed and not blotted


@pytest.mark.parametrize("name", ["precision", "crowded"])
def test_nothing_is_set_too_small_or_over_anything_else(built, monkeypatch, name):
    kept = []
    monkeypatch.setattr(Paper, "save", lambda self, file, title: kept.append(self))
    drawn(built, name, "letter")
    texts = [artist for artist in kept[0].figure.artists if isinstance(artist, Text)]
    assert len(texts) > 100 and min(text.get_fontsize() for text in texts) >= SMALL == 8.0
    kept[0].figure.savefig(io.BytesIO(), format="png")
    boxes = [(text.get_text(), text.get_window_extent()) for text in texts if text.get_text().strip()]
    for n, (words, box) in enumerate(boxes):
        for other, over in boxes[:n]:
            wide = min(box.x1, over.x1) - max(box.x0, over.x0)
            tall = min(box.y1, over.y1) - max(box.y0, over.y0)
            assert wide <= 1.0 or tall <= 0.35 * min(box.height, over.height), (words, other)


def test_the_plane_is_drawn_to_scale_where_the_throws_are_measured(built):
    _, plane = built("precision")
    wing, stabiliser, fin = plane.setup.airframe.surfaces
    # tarn-220, by hand: 8 % of 1100 mm out, the leading edge there 6.4 mm aft, chord 500 - 0.08 * 230 = 481.6 mm
    assert plan_view.measured_at(wing) == pytest.approx((0.0064 + 0.4816, 0.088))
    # the stabiliser at 8 %: leading edge 1104 mm, chord 255 - 0.08 * 90 = 247.8 mm; the rudder at 2 %
    assert plan_view.measured_at(stabiliser) == pytest.approx((1.104 + 0.2478, 0.032))
    assert plan_view.measured_at(fin) == pytest.approx((1.0526 + 0.3469, 0.0))
    here = plan_view._placed(plane, 0.0, 0.0, 80.0, 70.0)
    assert here.at(0.0, 1.1)[0] <= 80.0 and here.at(0.0, -1.1)[0] >= 0.0
    assert 0.0 <= here.at(-0.46, 0.0)[1] and here.at(1.4, 0.0)[1] <= 70.0
    (x0, y0), (x1, y1) = here.at(0.0, 0.0), here.at(0.159, 0.0)
    assert x0 == x1 and y1 - y0 == pytest.approx(here.scale * 0.159)


def test_every_surface_is_drawn_where_it_stands(built):
    _, plane = built("beck-150-extreme")  # it has plates at the wing tips, 752 mm out
    page = Paper("a4")
    plan_view.draw_plan(page, plane, 100.0, 20.0, 90.0, 80.0)
    drawn = [patch.get_xy() for patch in page.figure.patches + page.figure.artists if isinstance(patch, Polygon)]
    here = plan_view._placed(plane, 100.0, 20.0, 90.0, 80.0)
    for side in (1.0, -1.0):
        x, y = here.at(0.11, side * 0.752)  # the plates' root, 110 mm aft
        assert any(abs(points[:, 0].mean() - x) < 1.0 and abs(points[:, 1].min() - y) < 0.5 for points in drawn), side
    for points in drawn:
        assert points[:, 0].min() >= 100.0 and points[:, 0].max() <= 190.0
        assert points[:, 1].min() >= 20.0 and points[:, 1].max() <= 100.0


def test_words_are_measured_before_they_are_set():
    figure = Figure(dpi=72)
    words = figure.text(0, 0, "wing incidence 0.25", fontproperties=paper._font(8.0, True))
    box = words.get_window_extent(FigureCanvasAgg(figure).get_renderer())
    assert width("wing incidence 0.25", 8.0, True) == pytest.approx(box.width * 25.4 / 72.0, rel=0.04)  # whole pixels
    assert filled("up to 150 m", width("up to 150"), 8.0) == ["up to", "150 m"]
    assert all(width(line) <= 20.0 for line in filled("x" * 60 + " and more", 20.0))


def test_the_command(upline, tmp_path):
    code, out, err = upline("card", "precision", "--to", "mine.pdf", "--paper", "letter", "--json")
    assert code == 0 and '"files": [\n  "mine.pdf"\n ]' in out and "clears nothing to fly" in err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.pdf"]
    assert b"/MediaBox [ 0 0 612 792 ]" in (tmp_path / "mine.pdf").read_bytes()
    code, out, err = upline("card", "precision", "--to", "mine.pdf")
    assert code == 0 and "written: mine.pdf, one page on a4 paper" in out and "Balance" not in out
    assert "Balance" in upline("card", "precision", "--to", "mine.pdf", "--text")[1]
    (tmp_path / "mine.pdf").unlink()
    plain, asked = upline("card", "precision"), upline("card", "precision", "--text")
    assert plain == asked and plain[0] == 0 and list(tmp_path.iterdir()) == []


def test_what_the_command_refuses(upline, tmp_path):
    code, out, err = upline("card", "precision", "--to", "mine.txt", "--paper", "a5")
    assert (code, out) == (2, "") and '--paper: found "a5"; allowed: a4, letter' in err and "ends in .pdf" in err
    code, out, err = upline("card", "precision", "--to", "no/such/mine.pdf")
    assert (code, out) == (2, "") and "No such file" in err and list(tmp_path.iterdir()) == []
