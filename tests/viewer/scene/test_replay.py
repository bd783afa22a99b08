"""`upline replay` without a screen: pictures and movies that are there, refusals in one message, no traceback."""

import json
import os
import shutil
import subprocess
import sys

import numpy as np
import pytest

from models.loader import load as load_setup
from scenarios.manoeuvres import load_manoeuvre
from scenarios.record import save
from tests.scenarios.flying import flown
from viewer.command_line import main
from viewer.scene import colours as C
from viewer.scene.offscreen import movie_times

PIL = pytest.importorskip("PIL.Image")


@pytest.fixture(scope="module")
def records(tmp_path_factory):
    folder = tmp_path_factory.mktemp("replayed")
    for setup in ("precision", "extreme"):
        save(folder / setup, flown(setup, "upline-45"), load_setup(setup).texts, load_manoeuvre("upline-45")[1])
    return folder


@pytest.fixture
def upline(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        capsys.readouterr()
        code = main([str(a) for a in arguments])
        out = capsys.readouterr()
        assert "Traceback" not in out.err
        return code, out.out, out.err

    return run


def test_a_picture_of_two_flights(gl_window, upline, records, tmp_path):
    code, out, _ = upline(
        "replay", records / "precision", records / "extreme", "--align", "start of hands off", "--at", "start of hands off",
        "--picture", "both.png", "--size", "640x360", "--view", "chase", "--show", "forces", "--json",
    )  # fmt: skip
    assert code == 0 and sorted(os.listdir(tmp_path)) == ["both.png"]
    told = json.loads(out)
    assert told["flight"] == "precision, upline-45" and told["second flight"] == "extreme, upline-45"
    pixels = np.asarray(PIL.open("both.png"))
    assert pixels.shape == (360, 640, 3) and pixels.std() > 15.0
    key = pixels[200:, :60].reshape(-1, 3).astype(int)  # samples of the legend, lower left
    for colour in (C.STALLED, C.RIBBON[0], C.SECOND):
        assert (np.abs(key - colour).sum(axis=1) < 12).sum() > 3, colour


def test_a_gif_keeps_the_time(gl_window, upline, records):
    code, _, _ = upline(
        "replay",
        records / "precision",
        "--movie",
        "m.gif",
        "--from",
        "1 s",
        "--to",
        "1.5 s",
        "--speed",
        "0.5",
        "--size",
        "160x120",
    )
    assert code == 0
    with PIL.open("m.gif") as movie:
        assert movie.n_frames == 13 and movie.size == (160, 120)  # a second at 12.5 a second, both ends
        assert movie.info["duration"] == 80
        first = np.asarray(movie.convert("RGB"), int)
        movie.seek(12)
        assert np.abs(np.asarray(movie.convert("RGB"), int) - first).max() > 30


def test_an_mp4_keeps_the_time(gl_window, upline, records):
    encoder = pytest.importorskip("imageio_ffmpeg")
    code, _, _ = upline(
        "replay", records / "precision", "--movie", "m.mp4", "--from", "1 s", "--to", "2 s", "--size", "320x240"
    )
    assert code == 0
    frames, seconds = encoder.count_frames_and_secs("m.mp4")
    assert frames == 26 and seconds == pytest.approx(26 / 25.0, abs=0.05)


def test_a_movies_instants():
    assert np.allclose(movie_times(1.0, 2.0, 1.0, 25.0), np.linspace(1.0, 2.0, 26))
    assert np.allclose(np.diff(movie_times(0.0, 3.0, 0.25, 25.0)), 0.01)
    assert movie_times(0.0, 3.0, 0.25, 25.0)[-1] <= 3.0


def spoil_nothing(folder):
    return folder / "nowhere"


def spoil_short(folder):
    whole = (folder / "flight.npz").read_bytes()
    (folder / "flight.npz").write_bytes(whole[: len(whole) // 3])
    return folder


def spoil_version(folder):
    inputs = json.loads((folder / "inputs.json").read_text())
    (folder / "inputs.json").write_text(json.dumps(inputs | {"format": 1}))
    return folder


def spoil_foreign(folder):
    (folder / "inputs.json").write_text("to do: buy milk")
    return folder


def spoil_empty(folder):
    with np.load(folder / "flight.npz") as kept:
        arrays = {name: kept[name] if name == "phase_start" else kept[name][:0] for name in kept.files}
    np.savez_compressed(folder / "flight.npz", **arrays)
    return folder


@pytest.mark.parametrize("spoil", [spoil_nothing, spoil_short, spoil_version, spoil_foreign, spoil_empty])
def test_a_bad_record_is_one_message(upline, records, tmp_path, spoil):
    folder = spoil(shutil.copytree(records / "precision", tmp_path / "copy"))
    code, out, err = upline("replay", folder, "--picture", "p.png")
    assert code == 2 and not out and len(err.splitlines()) == 1
    assert err.startswith("upline: ") and "found" in err and "allowed" in err and str(folder) in err
    assert not (tmp_path / "p.png").exists()


@pytest.mark.parametrize(
    "arguments, said",
    [
        (["--view", "side"], "--view: found"),
        (["--picture", "p.jpg"], "--picture: found"),
        (["--movie", "m.avi"], "--movie: found"),
        (["--picture", "p.png", "--at", "start of hands of"], '"start of hands off"'),
        (["--picture", "p.png", "--at", "60 s"], "--at: found"),
        (["--picture", "p.png", "--align", "1 s"], "--align: found it with one record"),
        (["--picture", "p.png", "--size", "20x20"], "--size: found"),
        (["--picture", "p.png", "--size", "1280"], "--size: found"),
        (["--picture", "p.png", "--show", "smoke"], "--show: found"),
        (["--picture", "p.png", "--show", "forces", "--hide", "forces"], "--hide: found"),
        (["--picture", "p.png", "--to", "2 s"], "--to: found it without --movie"),
        (["--movie", "m.gif", "--speed", "0"], "--speed: found"),
        (["--movie", "m.gif", "--from", "3 s", "--to", "2 s"], "--to: found 2.00 s"),
        (["--picture", "nowhere/p.png"], "--picture: nowhere/p.png"),
    ],
)
def test_what_cannot_be_is_refused(upline, records, tmp_path, arguments, said):
    code, out, err = upline("replay", records / "precision", *arguments)
    assert code == 2 and not out and said in err and len(err.splitlines()) == 1
    assert not os.listdir(tmp_path)


def test_three_records_are_one_too_many(upline, records):
    code, _, err = upline("replay", *[records / "precision"] * 3)
    assert code == 2 and "3 records" in err


def test_without_opengl_it_says_what_to_install(records, tmp_path):
    """In a process of its own whose loader finds no EGL vendor."""
    empty = tmp_path / "no-vendors"
    empty.mkdir()
    done = subprocess.run(
        [sys.executable, "-m", "viewer.command_line", "replay", str(records / "precision"), "--picture", str(tmp_path / "p.png")],
        env=os.environ | {"__EGL_VENDOR_LIBRARY_DIRS": str(empty), "__EGL_VENDOR_LIBRARY_FILENAMES": ""},
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert done.returncode == 2, done.stderr
    assert len(done.stderr.splitlines()) == 1 and "found no OpenGL 3.3" in done.stderr
    assert "sudo apt-get install libgl1 libegl1 libegl-mesa0" in done.stderr
    assert not (tmp_path / "p.png").exists()


def test_a_missing_library_is_told_alike(upline, records, monkeypatch, tmp_path):
    import pyglet

    def missing(*_, **__):
        raise ImportError('Library "EGL" not found.')

    monkeypatch.setattr(pyglet.window, "Window", missing)
    code, _, err = upline("replay", records / "precision", "--picture", "p.png")
    assert code == 2 and 'Library "EGL" not found' in err and "apt-get install" in err and len(err.splitlines()) == 1
    assert not os.listdir(tmp_path)
