"""Random edits of valid manoeuvre files are flown or refused in plain words, and nothing else."""

import json
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import scenarios
from tests.random_edits import PIECES, with_lines_exchanged, with_pieces
from viewer.command_line import main

TEXTS = [
    path.read_text(encoding="utf-8") for path in sorted((Path(scenarios.__file__).parent / "manoeuvres").glob("*.yaml"))
]
OWN = [
    *PIECES, "0 s", "60 s", "0 m", "1000 m", "80 m/s", "-100 %", "90 deg", "-360 deg", "720 deg/s", "any", "all",
    "above", "below", "hold: place", "hold: attitude", "throttle: hold height", "throttle: 100 %", "release: [rudder]",
    "pilot: [elevator]", "stalled", "hover", "level flight",
]  # fmt: skip
SLOW = settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def run(text, folder, capsys):
    """Fly the text for a setup; every outcome has its exit code and its words."""
    path = folder / "edited.yaml"
    path.write_text(text, encoding="utf-8")
    capsys.readouterr()
    code = main(["fly", str(path), "--setup", "slow-3d", "--json", "--why"])
    out = capsys.readouterr()
    assert code in (0, 2, 3) and "Traceback" not in out.err
    if code == 2:
        assert out.out == "" and all(line.isprintable() for line in out.err.splitlines())
    if code == 0:
        json.loads(out.out, parse_constant=lambda word: 1 / 0)


@settings(SLOW, max_examples=120)
@given(data=st.data())
def test_pieces_put_in_and_taken_out(data, tmp_path, capsys):
    run(data.draw(with_pieces(data.draw(st.sampled_from(TEXTS)), OWN, most=3)), tmp_path, capsys)


@settings(SLOW, max_examples=80)
@given(data=st.data())
def test_lines_exchanged(data, tmp_path, capsys):
    run(data.draw(with_lines_exchanged(data.draw(st.sampled_from(TEXTS)), OWN, first=3)), tmp_path, capsys)
