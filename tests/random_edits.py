"""Edits of valid files at random, for whatever reads them: pieces of text put in and taken out, lines exchanged."""

from hypothesis import strategies as st

# what YAML, numbers and people trip over
PIECES = [
    "", "\n", "\t", " ", ":", ": ", "- ", "[", "]", "{", "}", ",", "#", "'", '"', "|", ">", "!", "!!map ", "&a ", "*a",
    "%", "? ", "<<: ", "---\n", "...\n", "null", "~", "none", "nan", ".inf", "1e999", "-1", "0", "\u2212", "\u00b5", "\x00",
    "\x1b", "\ud7ff", "\ufeff", "\U0001f6e9", "yes", "[a]: b", "{a: b}", "name", "x" * 300, "9" * 80, "1/2", "1/0 in",
    "[[[[[[[[[[[[[[[[[[[[[[[",
]  # fmt: skip


@st.composite
def with_pieces(draw, text: str, pieces: list[str], most: int = 4) -> str:
    """`text` with up to `most` pieces put in anywhere, some over what stood there."""
    for _ in range(draw(st.integers(1, most))):
        at = draw(st.integers(0, len(text)))
        gone = draw(st.integers(0, 12))
        text = text[:at] + draw(st.sampled_from(pieces)) + text[at + gone :]
    return text


@st.composite
def with_lines_exchanged(draw, text: str, pieces: list[str], first: int = 0) -> str:
    """`text` with a line (from the number `first` on) swapped, dropped, doubled, or given another value or number."""
    lines = text.splitlines(keepends=True)
    here, there = (draw(st.integers(first, len(lines) - 1)) for _ in range(2))
    how = draw(st.sampled_from(["swap", "drop", "double", "value", "number"]))
    if how == "swap":
        lines[here], lines[there] = lines[there], lines[here]
    elif how == "drop":
        del lines[here]
    elif how == "double":
        lines.insert(there, lines[here])
    elif how == "value":
        if (cut := lines[here].find(":")) >= 0:
            lines[here] = f"{lines[here][: cut + 1]} {draw(st.sampled_from(pieces))}\n"
    else:  # another size of a number that stands there: most of these are read
        words = lines[here].split(" ")
        numbers = [i for i, word in enumerate(words) if word.strip("-[{,").isdigit()]
        if numbers:
            words[draw(st.sampled_from(numbers))] = str(draw(st.integers(-100, 200)))
            lines[here] = " ".join(words)
    return "".join(lines)
