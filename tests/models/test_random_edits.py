"""Random edits of valid files give a value or a `UserError`, and nothing else."""

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from models.errors import UserError
from models.loader import load, setup_from_texts
from tests.random_edits import PIECES, with_lines_exchanged, with_pieces

FILES = Path(__file__).parent / "files"
TEXTS = load(FILES / "setup.yaml").texts
# the same plane through a setup that builds on another
BASED = TEXTS | {
    "base 1": TEXTS["setup"],
    "setup": "format: 1\nkind: setup\nname: mine\nfrom: setup.yaml\ncg: 33 %\n"
    "throws:\n  elevator: {up: 15 deg}\n  rudder: {exponential: none}\nmixes: [{from: rudder, to: elevator, gain: 3 %}]\n",
}
OWN = [*PIECES, "0 mm", "1 kg", "1e-300 m", "5 m", "symmetric: no", "from: 90 %", "from: setup.yaml\n", "5 lb 6 oz"]


def run(texts):
    """Build a setup from texts; a `UserError` must have a printable message."""
    try:
        setup_from_texts(texts)
    except UserError as error:
        assert all(line.isprintable() for line in str(error).splitlines())
        assert "Input should be" not in str(error)


def one_of(data):
    texts = data.draw(st.sampled_from([TEXTS, BASED]))
    kind = data.draw(st.sampled_from(sorted(texts)))
    return texts, kind


@settings(deadline=None, max_examples=200)
@given(st.data())
def test_pieces_put_in_and_taken_out(data):
    texts, kind = one_of(data)
    run({**texts, kind: data.draw(with_pieces(texts[kind], OWN))})


@settings(deadline=None, max_examples=150)
@given(st.data())
def test_lines_exchanged(data):
    texts, kind = one_of(data)
    run({**texts, kind: data.draw(with_lines_exchanged(texts[kind], OWN))})


@settings(deadline=None, max_examples=100)
@given(st.text(max_size=200))
def test_any_text(text):
    run({**TEXTS, "setup": text})
    run({**BASED, "base 1": text})


def test_the_texts_are_right_to_begin_with():
    assert setup_from_texts(TEXTS).cg == (0.31, "mac") and setup_from_texts(BASED).cg == (0.33, "mac")
