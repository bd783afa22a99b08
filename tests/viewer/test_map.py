"""The command `upline map`: its table, files and refusals."""

import csv
import io
import json
import xml.etree.ElementTree

import numpy as np
import pytest
from matplotlib.image import imread

ONE = ("map", "precision", "balance", "static_margin", "mass", "--vary", "cg: 10 % to 40 % by 10 %")
TWO = ("map", "precision", "balance", "static_margin", "--vary", "cg: 20 % to 44 % by 8 %",
       "--vary", "blade family: broad-sport, thin-light")  # fmt: skip


def done(result):
    code, out, err = result
    assert code == 0, err
    return out


def test_a_table_over_one_input(upline):
    out = done(upline(*ONE))
    lines = out.splitlines()
    assert lines[0] == "balance with precision on tarn-220" and "as it is: cg 31 %" in lines[1]
    rows = {line.split()[0]: line.split()[1:] for line in lines if line[:5].strip().isdigit()}
    assert list(rows) == ["10", "20", "30", "40"] and rows["10"] == ["-", "(1)", "-", "(1)"]
    assert float(rows["30"][0]) - float(rows["40"][0]) == pytest.approx(10.0, rel=0.02)
    notes = " ".join(out.split())
    assert (
        "(1) CG out of reach: battery would sit at -" in notes
        and "off its tray; 4 times, figures of the first" in notes
    )
    assert "clears nothing to fly" in out and max(map(len, lines)) <= 80


def test_a_table_over_two_inputs(upline):
    out = done(upline(*TWO, "--set", "mass of battery: 1.5 kg"))
    assert "set: mass of battery 1.5 kg" in out and "across: blade family" in out
    assert "cg, %  broad-sport  thin-light" in out and "- (1)" in out and max(map(len, out.splitlines())) <= 80


def test_wide_maps_are_cut_into_blocks(upline):
    out = done(upline(*ONE[:4], "--vary", "cg: 30 %, 31 %", "--vary", "mass scale: 90 % to 110 % by 1 %"))
    assert out.count("across: mass scale, %") > 1 and max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize("arguments, shape", [(ONE, (4,)), (TWO, (4, 2))])
def test_json_and_csv_hold_the_same_numbers(upline, tmp_path, arguments, shape):
    document = json.loads(done(upline(*arguments, "--csv", "a.csv", "--json")))
    assert document["files"] == ["a.csv"] and document["axes"][0]["unit"] == "%"
    rows = list(csv.DictReader(io.StringIO((tmp_path / "a.csv").read_text(encoding="utf-8"))))
    assert len(rows) == np.prod(shape)
    for measure in document["measures"]:
        values, reasons = (np.array(measure[key], dtype=object) for key in ("values", "reasons"))
        assert values.shape == reasons.shape == shape
        for value, reason, row in zip(values.ravel(), reasons.ravel(), rows):
            assert (value is None) == bool(reason)
            written = row[f"{measure['name']} ({measure['unit']})"]
            assert (float(written) if written else None) == value
            assert row[f"{measure['name']}: why not"] == (reason or "")
    assert [row["cg (%)"] for row in rows][:: len(rows) // 4] == [
        str(int(value)) for value in document["axes"][0]["values"]
    ]


def test_flights_are_named_with_their_endings(upline):
    document = json.loads(
        done(upline("map", "precision", "level-trim", "height_drift", "mass", "--vary", "wind: 0 m/s, 3 m/s", "--json"))
    )
    assert document["endings"] == ["completed"] * 2 and document["axes"][0]["as_it_is"] == "0 m/s"
    assert document["measures"][0]["values"][0] != document["measures"][0]["values"][1]


@pytest.mark.parametrize("arguments", [ONE, TWO])
def test_a_picture_opens_and_is_not_blank(upline, tmp_path, arguments):
    for ending in ("png", "svg", "pdf"):
        assert f"written: a.{ending}" in done(upline(*arguments, "--picture", f"a.{ending}"))
    picture = imread(tmp_path / "a.png")[:, :, :3]
    height, width, _ = picture.shape
    assert height > 500 and width > 1000
    dark = picture.mean(axis=2) < 0.3  # ink
    for part in (dark[: height // 8], dark[-height // 10 :], dark[height // 4 : 3 * height // 4]):
        assert 0.0005 < part.mean() < 0.5  # heading, caution and the map itself
    if arguments is TWO:  # shades as well, and they differ
        inside = picture[height // 4 : 3 * height // 4].reshape(-1, 3)
        colours, count = np.unique((inside * 255).astype(int), axis=0, return_counts=True)
        large = colours[count > 0.03 * len(inside)]
        assert len([c for c in large if 60 < c.min() < 250 or c.max() - c.min() > 30]) >= 3  # white paper apart
    root = xml.etree.ElementTree.parse(tmp_path / "a.svg").getroot()
    assert root.tag.endswith("svg") and len(list(root.iter())) > 100
    assert (tmp_path / "a.pdf").read_bytes().startswith(b"%PDF") and (tmp_path / "a.pdf").stat().st_size > 5000
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.pdf", "a.png", "a.svg"]


def test_the_same_map_is_the_same_file(upline, tmp_path):
    for ending in ("svg", "png", "pdf", "csv"):
        option = "--csv" if ending == "csv" else "--picture"
        for name in "ab":
            done(upline(*TWO, option, f"{name}.{ending}"))
        assert (tmp_path / f"a.{ending}").read_bytes() == (tmp_path / f"b.{ending}").read_bytes()


BAD = [
    (["--vary", "cgg: 1 %"], ["--vary", '"cgg"', "try: cg"]),
    (["--vary", "elevator up throw: 10 mm to 20 mm by 1 mm"], ['"10 mm"', "a length", "an angle in deg"]),
    (["--vary", "cg: 28 % to 40 % by 0 %"], ["a step over 0"]),
    (["--vary", "cg: 40 % to 28 % by 2 %"], ["an empty range"]),
    (["--vary", "cg: 28 % to 40 % by 0.1 %", "--vary", "mass scale: 90 % to 110 % by 1 %"], ["2541 cells", "2000"]),
    (["--vary", "cg: 20 % to 90 % by 0.01 %"], ["7001 values"]),
    (["--vary", "cg: 1 %, 2 %"], ["battery", "its tray"]),
    (["--vary", "turbulence: light"], ['"turbulence" with balance']),
    (["--vary", "cg: 31 %", "--set", "wind: 3 m/s"], ["--set", '"wind" with balance']),
    (["--vary", "cg: 31 %", "--set", "mass scale: 9"], ['--set "mass scale"', '"9"', "from 50 % to 200 %"]),
    (["--vary", "cg: 31 %", "--csv", "map.txt"], ["--csv", '"map.txt"', "ends in .csv", "try: map.csv"]),
    (["--vary", "cg: 31 %", "--picture", "map"], ["--picture", "ends in .png, .svg, .pdf", "try: map.png"]),
    (["--vary", "cg: 31 %", "--picture", "no/map.png"], ["--picture", "No such file or directory"]),
    (["--vary", "cg: 31 %", "--csv", "file/map.csv"], ["--csv", "Not a directory"]),
    (["--vary", "cg: 31 %", "--csv", "folder.csv"], ["--csv", "which is a folder"]),
    (["--vary", "cg: 31 %", "--csv", ""], ["--csv", "an empty text"]),
    ([], ["--vary", "upline map --help"]),
]


@pytest.mark.parametrize("more, words", BAD, ids=[" ".join(more)[:60] or "nothing" for more, _ in BAD])
def test_a_mistake_is_one_message_and_writes_nothing(upline, tmp_path, more, words):
    (tmp_path / "file").write_text("x")
    (tmp_path / "folder.csv").mkdir()
    out_files = [] if "--csv" in more or "--picture" in more else ["--csv", "a.csv", "--picture", "a.png"]
    code, out, err = upline("map", "precision", "balance", "mass", *more, *out_files)
    assert code == 2 and out == "" and err.startswith("upline: ") and err.count("upline: ") == 1
    for word in words:
        assert word in err, err
    assert sorted(p.name for p in tmp_path.rglob("*")) == ["file", "folder.csv"]


def test_nothing_that_can_be_flown_is_code_3(upline, tmp_path):
    code, out, err = upline(
        "map", "precision", "hover", "hover_throttle", "--vary", "propeller: 10x4", "--csv", "a.csv"
    )
    assert code == 3 and out == "" and err.startswith("upline: cannot be flown: hover with precision")
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_cannot_be_finished_is_not_begun(upline, tmp_path, monkeypatch):
    (tmp_path / "a.csv").write_text("before")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("viewer.map_tables.map_csv", full)
    code, out, err = upline(*ONE, "--csv", "a.csv")
    assert code == 2 and "--csv: a.csv: No space left on device" in err and out == ""
    assert [p.name for p in tmp_path.iterdir()] == ["a.csv"] and (tmp_path / "a.csv").read_text() == "before"


def test_progress_says_what_is_left(upline, monkeypatch):
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    code, out, err = upline(*ONE)
    assert code == 0 and "cell 4 of 4, about 0:00 left" in err and "left" not in out
