"""`upline hands-on`: what it refuses, where there is no screen, and a window that breaks."""

import os
import subprocess
import sys
from types import SimpleNamespace

import pytest

from models.loader import load
from scenarios.live import start_text
from scenarios.record import fly_again
from viewer.command_line import main
from viewer.hands_on import flying
from viewer.hands_on.keeping import Keeper
from viewer.hands_on.session import Session
from viewer.hands_on.summary import summary_document, summary_text


@pytest.mark.parametrize(
    "options, said",
    [
        (["no-such-setup"], "setup"),
        (["precision", "--view", "cockpit"], "--view"),
        (["precision", "--start", "runway"], "there is no ground to start from"),
        (["precision", "--start", "hover", "--airspeed", "20 m/s"], "--airspeed"),
        (["precision", "--airspeed", "20"], "--airspeed"),
        (["precision", "--height", "0 m"], "--height"),
        (["precision", "--like", "upline-4"], "manoeuvre"),
        (["precision", "--cg", "900 mm"], "CG"),
        (["precision", "--save", ""], "--save"),
        (["precision", "--save", "."], "--save"),
    ],
)
def test_what_is_wrong_is_said_in_one_line_before_a_window_opens(options, said, capsys, monkeypatch, tmp_path):
    monkeypatch.setattr(flying, "_opened", lambda *_: pytest.fail("a window was opened"))
    monkeypatch.setattr(flying, "check_screen", lambda: None)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert main(["hands-on", *options]) == 2
    out, error = capsys.readouterr()
    assert out == "" and len(error.strip().splitlines()) == 1
    assert said in error and ("found" in error or "no item" in error or "reach" in error)


@pytest.mark.skipif(os.name == "nt", reason="the user's folder is another one")
def test_a_wrong_file_of_controllers_is_said_before_a_window_opens(capsys, monkeypatch, tmp_path):
    monkeypatch.setattr(flying, "_opened", lambda *_: pytest.fail("a window was opened"))
    monkeypatch.setattr(flying, "check_screen", lambda: None)
    monkeypatch.setattr("platform.system", lambda: "Linux")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    (tmp_path / "upline").mkdir()
    (tmp_path / "upline" / "controllers.yaml").write_text("format: 1\nkind: controllers\ncontrollers: 3\n")
    assert main(["hands-on", "precision"]) == 2
    assert "controllers.yaml:3:" in capsys.readouterr().err


def test_without_a_screen_it_says_so():
    without = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
    done = subprocess.run([sys.executable, "-m", "viewer.command_line", "hands-on", "precision"], env=without,
                          capture_output=True, text=True, timeout=120)  # fmt: skip
    assert done.returncode == 2, done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert "found no" in done.stderr and "allowed" in done.stderr


class Broken(SimpleNamespace):
    """A window that breaks after some frames."""

    def activate(self):
        self.session.go_on()
        for _ in range(30):
            self.session.flight.fly(self.session.flight.sticks0)
        raise RuntimeError("the driver is gone")

    def close(self):
        pass


@pytest.mark.parametrize("folder", [None, "mine"])
def test_a_window_that_breaks_loses_no_flight(folder, monkeypatch, tmp_path, capsys):
    monkeypatch.chdir(tmp_path)
    loaded = load("precision")
    session = Session(loaded.setup, start_text(), Keeper(loaded.texts, None, folder, "precision"))
    monkeypatch.setattr(flying, "_opened", lambda *_: Broken(session=session))
    with pytest.raises(RuntimeError):
        flying.fly_by_hand(session, tmp_path / "controllers.yaml", "pilot", False)
    kept = folder or "by-hand-precision-1"
    assert f"kept as {kept}" in capsys.readouterr().err
    again, same = fly_again(tmp_path / kept)
    assert same is True and len(again.flight.rows) == 30


def test_the_summary_says_how_long_between_what_and_what_was_changed():
    loaded = load("precision")
    session = Session(loaded.setup, start_text(), Keeper(loaded.texts, None, None, "precision"))
    flight = session.flight
    for n in range(150):
        if n == 100:
            flight.change("cg", "155 mm")
        flight.fly([0.0, 0.3, 0.0, 0.7])
    text = summary_text(flight.flown())
    assert "flown by hand for 1.5 s" in text and "at 1.00 s: cg 155 mm" in text
    document = summary_document(flight.flown())
    airspeed = flight.live.rows[:, 5]
    assert document["ranges"]["airspeed"]["greatest"]["value"] == pytest.approx(airspeed.max(), rel=1e-3)
    assert document["changes"] == [{"time": {"value": 1.0, "unit": "s"}, "what": "cg", "value": "155 mm"}]
    assert max(map(len, text.splitlines())) <= 80
