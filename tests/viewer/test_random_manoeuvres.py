"""Random edits of valid manoeuvre files are flown or refused in plain words, and nothing else."""

import json
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import scenarios
from viewer.command_line import main

TEXTS = [
    path.read_text(encoding="utf-8") for path in sorted((Path(scenarios.__file__).parent / "manoeuvres").glob("*.yaml"))
]
PIECES = [
    "", "\n", "\t", " ", ": ", "- ", "[", "]", "{", "}", ",", "#", '"', "!!map ", "&a ", "*a", "? ", "---\n", "null", "nan",
    ".inf", "1e999", "-1", "0 s", "60 s", "0 m", "1000 m", "80 m/s", "-100 %", "90 deg", "-360 deg", "720 deg/s", "any", "all",
    "above", "below", "hold: place", "hold: attitude", "throttle: hold height", "throttle: 100 %", "release: [rudder]",
    "pilot: [elevator]", "stalled", "x" * 300, "\x1b", "hover", "level flight", "[[[[[[[[[[[[[[[[[[[[[[[",
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
    text = data.draw(st.sampled_from(TEXTS))
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(text)))
        text = text[:at] + data.draw(st.sampled_from(PIECES)) + text[at + data.draw(st.integers(0, 12)) :]
    run(text, tmp_path, capsys)


@settings(SLOW, max_examples=80)
@given(data=st.data())
def test_values_exchanged(data, tmp_path, capsys):
    lines = data.draw(st.sampled_from(TEXTS)).splitlines(keepends=True)
    here, there = (data.draw(st.integers(3, len(lines) - 1)) for _ in range(2))
    how = data.draw(st.sampled_from(["swap", "drop", "double", "number"]))
    if how == "swap":
        lines[here], lines[there] = lines[there], lines[here]
    elif how == "drop":
        del lines[here]
    elif how == "double":
        lines.insert(there, lines[here])
    else:  # another size of a number that stands there: these edits are mostly flown
        words = lines[here].split(" ")
        at = [i for i, word in enumerate(words) if word.lstrip("-").isdigit()]
        if at:
            words[data.draw(st.sampled_from(at))] = str(data.draw(st.integers(-100, 200)))
            lines[here] = " ".join(words)
    run("".join(lines), tmp_path, capsys)
