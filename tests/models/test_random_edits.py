"""Random edits of valid files give a value or a `UserError`, and nothing else."""

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from models.errors import UserError
from models.loader import load, setup_from_texts

TEXTS = load(Path(__file__).parent / "files" / "setup.yaml").texts
PIECES = [
    "", "\n", "\t", " ", ":", ": ", "- ", "[", "]", "{", "}", ",", "#", "'", '"', "|", ">", "!", "!!map ", "&a ", "*a",
    "%", "? ", "<<: ", "---\n", "...\n", "null", "~", "nan", ".inf", "1e999", "-1", "0", "0 mm", "1 kg", "1e-300 m",
    "5 m", "\u2212", "\u00b5", "\x00", "\x1b", "\ud7ff", "\ufeff", "\U0001f6e9", "yes", "[a]: b", "{a: b}", "name",
    "symmetric: no", "from: 90 %", "x" * 300, "9" * 80, "[[[[[[[[[[[[[[[[[[[[[[[",
]  # fmt: skip


def run(texts):
    """Build a setup from texts; a `UserError` must have a printable message."""
    try:
        setup_from_texts(texts)
    except UserError as error:
        assert all(line.isprintable() for line in str(error).splitlines())
        assert "Input should be" not in str(error)


@settings(deadline=None, max_examples=300)
@given(st.data())
def test_pieces_put_in_and_taken_out(data):
    kind = data.draw(st.sampled_from(sorted(TEXTS)))
    text = TEXTS[kind]
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        gone = data.draw(st.integers(0, 12))
        text = text[:at] + data.draw(st.sampled_from(PIECES)) + text[at + gone :]
    run({**TEXTS, kind: text})


@settings(deadline=None, max_examples=200)
@given(st.data())
def test_values_exchanged(data):
    kind = data.draw(st.sampled_from(sorted(TEXTS)))
    lines = TEXTS[kind].splitlines(keepends=True)
    here, there = (data.draw(st.integers(0, len(lines) - 1)) for _ in range(2))
    cut = lines[here].find(":")
    how = data.draw(st.sampled_from(["swap", "drop", "double", "value"]))
    if how == "swap":
        lines[here], lines[there] = lines[there], lines[here]
    elif how == "drop":
        del lines[here]
    elif how == "double":
        lines.insert(there, lines[here])
    elif cut >= 0:
        lines[here] = lines[here][: cut + 1] + " " + data.draw(st.sampled_from(PIECES)) + "\n"
    run({**TEXTS, kind: "".join(lines)})


@settings(deadline=None, max_examples=100)
@given(st.text(max_size=200))
def test_any_text(text):
    run({**TEXTS, "setup": text})
