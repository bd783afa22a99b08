"""What is drawn of flights, read back from the figures and held against the records as NumPy reads them."""

import io
import json
import re
import shutil
import subprocess
import xml.etree.ElementTree
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from models.errors import UserError
from sim import layout as L
from sim.recording import CHANNELS, INDEX
from viewer.plots import moments, path, stall
from viewer.plots.figures import figure_of
from viewer.plots.flights import aligned, cut, named, read_flight
from viewer.plots.sheet import sheet
from viewer.plots.style import save
from viewer.plots.words import ABOUT, OVER_TIME, WHAT, description
from viewer.version import version

UNITS = ("deg", "deg/s", "m/s", "m", "%", "g", "A", "rpm", "N", "N m", "s")
ANGLES = ("rad", "rad/s")
# what stands on an axis: the channel of the record, and what it is multiplied with to be in the unit of the axis
DRAWN = {
    "airspeed, m/s": ("airspeed", 1.0), "height, m": ("height", 1.0), "climb rate, m/s": ("climb rate", 1.0),
    "bank, deg": ("bank", 180 / np.pi), "pitch, deg": ("pitch", 180 / np.pi), "heading, deg": ("heading", 180 / np.pi),
    "roll rate, deg/s": ("roll rate", 180 / np.pi), "pitch rate, deg/s": ("pitch rate", 180 / np.pi),
    "yaw rate, deg/s": ("yaw rate", 180 / np.pi), "alpha, deg": ("alpha", 180 / np.pi), "beta, deg": ("beta", 180 / np.pi),
    "wing stalled, %": ("stalled", 100.0), "aileron stick, %": ("aileron stick", 100.0),
    "elevator stick, %": ("elevator stick", 100.0), "rudder stick, %": ("rudder stick", 100.0),
    "throttle, %": ("throttle", 100.0), "left aileron, deg": ("left aileron", 180 / np.pi),
    "right aileron, deg": ("right aileron", 180 / np.pi), "elevator, deg": ("elevator", 180 / np.pi),
    "rudder, deg": ("rudder", 180 / np.pi), "load factor, g": ("load z", 1.0), "side load, g": ("load y", 1.0),
    "load along, g": ("load x", 1.0), "propeller, rpm": ("rotor speed", 30 / np.pi),
    "battery current, A": ("current", 1.0), "thrust, N": ("thrust", 1.0),
}  # fmt: skip


def panels(figure):
    """The axes of a figure by the name and unit on them."""
    return {" ".join((axes.get_ylabel() or axes.get_title(loc="left")).split()): axes for axes in figure.axes}


def line(axes, name):
    """The points of the line called `name`."""
    found = [one for one in axes.get_lines() if one.get_label() == name]
    assert len(found) == 1, [one.get_label() for one in axes.get_lines()]
    return found[0].get_xdata(), found[0].get_ydata()


def texts(figure):
    """All text of a figure, as one."""
    import matplotlib.text

    return " ".join(" ".join(t.get_text().split()) for t in figure.findobj(matplotlib.text.Text) if t.get_text())


@pytest.mark.parametrize("what", [what for what in OVER_TIME if what != "servos"])
def test_lines_over_time_are_the_channels_of_the_record(what, pair, arrays):
    found = panels(figure_of(what, pair))
    drawn = {label: axes for label, axes in found.items() if label in DRAWN}
    assert len(drawn) >= 3 or what == "flow"
    for label, axes in drawn.items():
        channel, scale = DRAWN[label]
        for name in ("precision", "slow-3d"):
            record = arrays[name]["channels"]
            time, values = line(axes, name)
            assert np.array_equal(time, record[:, INDEX["time"]])
            shown = np.isfinite(values)  # gaps where an angle wraps
            assert shown.mean() > 0.99 and np.allclose(values[shown], scale * record[shown, INDEX[channel]])


def test_every_channel_that_pilots_read_is_drawn_in_its_own_unit():
    known = {name: unit for name, unit, _ in CHANNELS}
    assert {channel for channel, _ in DRAWN.values()} <= set(known)
    for label, (channel, scale) in DRAWN.items():
        assert (scale == 180 / np.pi) == (known[channel] in ANGLES and label.split(", ")[1] in ("deg", "deg/s"))


def test_servo_loads_are_hinge_moments_over_stall_torque(pair, arrays):
    """Through a linkage at neutral the share is hinge moment over stall torque at the surface; signs are the air's."""
    axes = panels(figure_of("servos", pair))["elevator servo, %"]
    for name in ("precision", "slow-3d"):
        _, values = line(axes, name)
        hinge = arrays[name]["channels"][:, INDEX["elevator hinge moment"]]
        assert np.array_equal(np.sign(values), np.sign(hinge)) and np.abs(values).max() < 100.0
        assert np.corrcoef(values, hinge)[0, 1] > 0.99


def test_the_path_keeps_its_shape_and_scale(pair, arrays):
    """Distances between drawn points are those of the record: both views are turned, never stretched."""
    figure = figure_of("path", pair)
    found = panels(figure)
    side, above = found["height, m"], found["to the right, m"]
    for name in ("precision", "slow-3d"):
        record = arrays[name]["channels"]
        north, east, height = (record[:, INDEX[channel]] for channel in ("north", "east", "height"))
        along, up = line(side, name)
        _, right = line(above, name)
        assert np.allclose(up, height)
        assert np.allclose(np.hypot(along, right), np.hypot(north - north[0], east - east[0]), atol=1e-9)
    wide, tall = figure.get_size_inches()
    for axes in (side, above):
        box = axes.get_position()
        across = abs(np.subtract(*axes.get_xlim())) / (box.width * wide)
        down = abs(np.subtract(*axes.get_ylim())) / (box.height * tall)
        assert across == pytest.approx(down, rel=1e-6)
    assert np.subtract(*above.get_ylim()) > 0.0  # right is down the page, as seen from above


def test_arrows_point_where_the_noses_do(pair, arrays):
    """By pitch and heading of the record, both flights on the first one's line of flight."""
    found = panels(figure_of("path", pair))
    line_of_flight = arrays["precision"]["channels"][0, INDEX["track"]]
    for n, name in enumerate(("precision", "slow-3d")):
        side, above = (
            [c for c in found[label].collections if hasattr(c, "U")][n] for label in ("height, m", "to the right, m")
        )
        record = arrays[name]["channels"]
        frames = [
            np.argmin(np.abs(record[:, INDEX["time"]] - time)) for time in range(int(record[-1, INDEX["time"]]) + 1)
        ]
        pitch, heading = (record[frames, INDEX[channel]] for channel in ("pitch", "heading"))
        assert np.allclose(side.V, np.sin(pitch), atol=1e-9)
        assert np.allclose(side.U, np.cos(pitch) * np.cos(heading - line_of_flight), atol=1e-9)
        assert np.allclose(
            above.V, -np.cos(pitch) * np.sin(heading - line_of_flight), atol=1e-9
        )  # right is down the page


@pytest.mark.parametrize("line, page", [(0.0, (0.0, -1.0)), (np.pi / 2, (1.0, 0.0)), (np.pi, (0.0, 1.0))])
def test_the_wind_arrow_blows_as_the_air_moves(line, page):
    """Air that moves east blows down the page when the plane flies north, and along it when it flies east."""
    from types import SimpleNamespace

    from viewer.plots.style import page as paper
    from viewer.plots.style import place

    channels = {"wind north": np.zeros(3), "wind east": np.full(3, 5.0)}
    axes = place(paper(4.0, 2.0), 0.5, 0.5, 3.0, 1.0)
    path._wind(axes, [SimpleNamespace(name="a", channel=channels.get)], line)
    assert axes.texts[0].get_text() == "wind 5.0 m/s"
    tail = np.array(axes.texts[1].xyann)  # from the arrow's head, points
    assert np.allclose(-tail / np.linalg.norm(tail), page, atol=1e-9)


def test_the_path_is_drawn_to_the_right_of_where_it_starts():
    """A plane that flies east and then turns south has turned right."""
    from types import SimpleNamespace

    channels = {"path angle": [0.0, 0.0, 0.0], "north": [0.0, 0.0, -10.0], "east": [0.0, 10.0, 20.0],
                "track": [np.pi / 2] * 3, "height": [50.0] * 3}  # fmt: skip
    flight = SimpleNamespace(time=np.array([0.0, 1.0, 2.0]), channel=lambda name: np.array(channels[name]))
    track = path.tracks([flight])[0]
    assert np.allclose(track.along, [0.0, 10.0, 20.0]) and np.allclose(track.right, [0.0, 0.0, 10.0])


def test_the_stall_map_is_the_separation_of_the_record(pair, arrays):
    flight = pair[0]
    figure = figure_of("stall", pair[:1])
    for axes, surface in zip(figure.axes[1:], flight.plane.strips):
        strips = flight.plane.strips[surface]
        at = L.SEPARATION
        record = arrays["precision"]["states"][:, at + strips.start : at + strips.stop]
        mesh = axes.collections[0]
        shown = np.asarray(mesh.get_array()).reshape(strips.stop - strips.start, -1).T
        every = -(-len(record) // stall.MOST_COLUMNS)
        count = len(record) // every
        means = record[: count * every].reshape(count, every, -1).mean(axis=1)
        assert np.allclose(shown, 100.0 * (1.0 - np.clip(means, 0.0, 1.0)), atol=1e-9)
    wing = figure.axes[1]
    assert "right tip" in [t.get_text() for t in wing.texts] and wing.get_ylim()[1] == pytest.approx(
        flight.plane.span / 2
    )


def test_strips_run_from_the_left_tip_to_the_right_one_and_a_fin_from_its_root(pair):
    flight = pair[0]
    for surface, strips in flight.plane.strips.items():
        ends, both = stall.edges(flight, surface)
        middles = 0.5 * (ends[1:] + ends[:-1])
        places = flight.plane.model[L.Y if both else L.Z :][strips]
        assert both == (surface != "fin")
        if both:
            assert np.allclose(middles, places, atol=1e-6)
        else:
            assert np.all(
                np.diff(middles) * np.diff(places) < 0.0
            )  # up is negative z: higher strips further from the root


def test_moments_are_those_of_the_record_and_add_up(pair, arrays):
    found = panels(figure_of("moments", pair[:1]))
    loads = arrays["precision"]["loads"]
    for name, column in (("roll", 3), ("pitch", 4), ("yaw", 5)):
        axes = found[f"{name}, N m"]
        drawn = {one.get_label(): one.get_ydata() for one in axes.get_lines() if not one.get_label().startswith("_")}
        assert np.allclose(drawn[moments.ALL], loads[:, :, column].sum(axis=1))
        parts = {n: v for n, v in drawn.items() if n != moments.ALL}
        assert np.allclose(sum(parts.values()), drawn[moments.ALL], atol=1e-9)
        for part, values in parts.items():
            if part in L.PARTS:
                assert np.allclose(values, loads[:, L.PARTS.index(part), column])
        if moments.WING in parts:
            both = loads[:, L.WING_LEFT, column] + loads[:, L.WING_RIGHT, column]
            assert np.allclose(parts[moments.WING], both)


def test_two_records_are_laid_over_one_another_at_a_phase(pair, arrays):
    moved = aligned(pair, "start of released")
    for flight in moved:
        record = arrays[flight.setup]
        start = record["channels"][record["phase_start"][1], INDEX["time"]]
        assert np.allclose(flight.time, record["channels"][:, INDEX["time"]] - start)
        assert [p.name for p in flight.phases if abs(p.start) < 1e-9] == ["released"]
    figure = figure_of("speed", moved)
    times = [line(panels(figure)["height, m"], flight.name)[0] for flight in moved]
    assert times[0][0] != times[1][0] and all(0.0 == np.abs(t).min() for t in times)
    assert "time from the instant that they share, s" in texts(figure)
    tracks = path.tracks(moved)
    for flight, track in zip(moved, tracks):
        assert abs(track.along[np.argmin(np.abs(flight.time))]) < 1e-9
    only = cut(moved, "released")
    for flight in only:
        frames = np.diff(arrays[flight.setup]["phase_start"])[1] + 1  # to the first of the next phase
        assert len(flight.time) == len(flight.rows) == len(flight.loads) == frames and abs(flight.time[0]) < 1e-9


@pytest.mark.parametrize("what", [*WHAT, "sheet"])
def test_every_panel_has_its_unit_and_every_line_its_own_dash_or_marker(what, pair, everything):
    figure = everything if what == "sheet" else figure_of(what, pair)
    shown = [axes for axes in figure.axes if axes.axison and axes.get_lines()]
    assert shown or what == "stall"
    for axes in shown:
        label = " ".join((axes.get_ylabel() or axes.get_title(loc="left")).split())
        if label:
            assert re.search(rf", ({'|'.join(map(re.escape, UNITS))})( |$)", label), label
        named_lines = [one for one in axes.get_lines() if not one.get_label().startswith("_")]
        looks = [(str(one._unscaled_dash_pattern), one.get_marker(), one.get_linewidth()) for one in named_lines]
        assert len(set(looks)) == len(looks), label
    said = texts(figure)
    assert "precision" in said and "slow-3d" in said and "tarn-220" in said and "stall" in said
    assert "A simulation clears nothing to fly" in said and version() in said and ", s" in said or what == "path"


def test_phases_have_bands_and_names(pair):
    figure = figure_of("attitude", pair[:1])
    strip = figure.axes[0]
    assert [bar.get_x() for bar in strip.patches] == pytest.approx([p.start for p in pair[0].phases])
    said = texts(figure)
    assert all(p.name in said for p in pair[0].phases)  # on the strip, or below by their numbers


def test_limits_are_drawn_with_their_source(records):
    """The demo airframe states 8 g; a flight near it shows the line, one far from it does not."""
    from viewer.plots import over_time
    from viewer.plots.traces import CURRENT, LOAD

    flight = read_flight(records["precision"])
    airframe = flight.plane.setup.airframe
    assert over_time.limits_of(LOAD, [flight]) == [
        (airframe.structure.load_factor, "8 g: the most you mean to fly (airframe file)")
    ]
    assert over_time.limits_of(CURRENT, [flight])[0][0] == airframe.power.current_limit
    harder = flight.rows.copy()
    harder[:, INDEX["load z"]] *= 3.0
    assert "8 g: the most you mean to fly (airframe file)" in texts(figure_of("loads", [replace(flight, rows=harder)]))
    assert "the most you mean" not in texts(figure_of("loads", [flight]))


def test_descriptions_for_those_who_do_not_see_name_what_is_most(pair, arrays):
    said = description("loads", pair)
    assert said.startswith(f"{ABOUT['loads']}: precision, slow-3d on tarn-220, stall.")
    most = arrays["precision"]["channels"][:, INDEX["load z"]]
    assert f"precision: load factor {most.min():.2f} to {most.max():.2f} g" in said
    assert all(len(description(what, pair)) > 40 for what in WHAT)


@pytest.fixture(scope="session")
def everything(pair):
    """The page with everything of both flights."""
    return sheet(pair)


def written(figure, kind):
    """The bytes of a figure as a file of a kind."""
    file = io.BytesIO()
    save(figure, file, kind)
    return file.getvalue()


def test_a_png_opens_and_is_a_page_of_a4(everything):
    picture = Image.open(io.BytesIO(written(everything, "png")))
    assert picture.size == (1240, 1753) and np.asarray(picture.convert("L")).std() > 10.0


def test_an_svg_parses_and_its_text_is_text(everything):
    found = written(everything, "svg")
    root = xml.etree.ElementTree.fromstring(found)
    said = " ".join("".join(one.itertext()) for one in root.iter("{http://www.w3.org/2000/svg}text"))
    assert "precision, slow-3d on tarn-220, stall" in said and "elevator stick, %" in said and "clears nothing" in said
    assert len(found) < 500_000


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext (poppler-utils) is not installed")
def test_a_pdf_is_one_page_and_its_text_is_text(everything, tmp_path):
    (tmp_path / "a.pdf").write_bytes(written(everything, "pdf"))
    done = subprocess.run(
        ["pdftotext", "-layout", "a.pdf", "-"], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert "slow-3d on tarn-220, stall" in done.stdout and "pitch rate, deg/s" in done.stdout
    assert done.stdout.count("\f") == 1


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_the_same_flight_is_the_same_file(kind, pair):
    assert written(figure_of("rates", pair), kind) == written(figure_of("rates", pair), kind)


def test_a_phase_of_one_frame_is_refused(pair):
    last = replace(pair[0].phases[-1], start=float(pair[0].time[-1]))
    with pytest.raises(
        UserError, match='found "recovery", which ended as it began in precision; allowed: a phase of at least'
    ):
        cut([replace(pair[0], phases=(last,))], "recovery")


def test_names_tell_flights_apart(pair):
    assert [f.name for f in pair] == ["precision", "slow-3d"]
    assert [f.name for f in named([pair[0], pair[0]])] == ["precision, stall (1)", "precision, stall (2)"]


# ---- the command ---------------------------------------------------------------------------------------------------------


def done(result):
    code, out, err = result
    assert code == 0, err
    return out


def test_the_command_draws_and_says_what(upline, records, tmp_path):
    pair = (str(records["precision"]), str(records["slow-3d"]))
    asked = ("--of", "path,flow", "--align", "start of released", "--picture", "a.svg")
    out = done(upline("plot", *pair, *asked))
    assert "drawn: path, flow" in out and "slow-3d: stall" in out and "clears nothing to fly" in out
    assert xml.etree.ElementTree.parse(tmp_path / "a.svg") and max(map(len, out.splitlines())) <= 80
    document = json.loads(
        done(upline("plot", pair[0], "--phase", "released", "--picture", "b.pdf", "--json", "--of", "speed"))
    )
    assert document["of"] == ["speed"] and document["flights"][0]["to"] > document["flights"][0]["from"]
    assert (tmp_path / "b.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    "asked, found",
    [
        (("--of", "pats"), "--of: found \"pats\"; allowed: path, speed"),
        (("--phase", "relased"), 'allowed: a phase of precision: "slow down", "released", "recovery"; try: "released"'),
        (("--align", "sometime"), '--align: found "sometime"; allowed: a time such as "3.2 s"'),
        (("--align", "99 s"), "--align: found"),
        (("--picture", "a.txt"), "--picture: found"),
    ],
)  # fmt: skip
def test_what_cannot_be_drawn_is_refused(upline, records, tmp_path, asked, found):
    picture = () if "--picture" in asked else ("--picture", "a.png")
    code, out, err = upline("plot", str(records["precision"]), *asked, *picture)
    assert code == 2 and out == "" and found in err and "Traceback" not in err and not list(tmp_path.iterdir())


def spoilt(folder, kind, tmp_path):
    """A copy of a record, spoilt in one way."""
    copy = tmp_path.parent / f"{tmp_path.name}-{kind}"
    shutil.copytree(folder, copy)
    inputs, flight = copy / "inputs.json", copy / "flight.npz"
    if kind == "truncated":
        flight.write_bytes(flight.read_bytes()[:20_000])
    elif kind == "foreign":
        inputs.write_text('{"kind": "logbook"}', encoding="utf-8")
    elif kind == "another version":
        document = json.loads(inputs.read_text(encoding="utf-8"))
        inputs.write_text(json.dumps({**document, "format": 99}), encoding="utf-8")
    elif kind in ("no frames", "strange loads"):
        table = dict(np.load(flight))
        changed = ("loads",) if kind == "strange loads" else ("channels", "commands", "states", "loads", "swirl")
        np.savez(flight, **{name: v[:0] if name in changed else v for name, v in table.items()})
    elif kind == "no arrays":
        np.savez(flight, channels=np.zeros((5, 5)))
    return copy


@pytest.mark.parametrize(
    "kind, words",
    [
        ("truncated", "cut short or damaged"),
        ("foreign", "found another kind of file"),
        ("another version", "found record format 99"),
        ("no frames", "found a flight of 0 frames"),
        ("strange loads", "found loads that are not those of a flight"),
        ("no arrays", "cut short or damaged"),
    ],
)
def test_a_spoilt_record_is_one_clear_message(upline, records, tmp_path, kind, words):
    folder = spoilt(records["precision"], kind, tmp_path)
    code, out, err = upline("plot", str(folder), "--picture", "a.png")
    assert code == 2 and out == "" and words in err and len(err.strip().splitlines()) == 1
    assert not list(tmp_path.iterdir())


def test_five_records_are_too_many(upline, records):
    code, _, err = upline("plot", *[str(records["precision"])] * 5, "--picture", "a.png")
    assert code == 2 and "found 5 records; allowed: one to 4" in err
