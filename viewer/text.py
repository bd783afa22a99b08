"""Plain-text tables and numbers as pilots read them."""

from __future__ import annotations

import math
import sys
import textwrap
from collections.abc import Callable

WIDTH = 80
DECIMALS = {
    "deg": 1, "deg/s": 1, "deg/s per deg": 1, "%": 1, "% half-span": 0, "m": 1, "m/s": 1, "s": 2, "g": 2, "mm": 0,
    "kg": 2, "1/s": 2, "": 2, "N m": 2, "kg m2": 3, "kg/m2": 1, "% of MAC": 1, "deg/s2": 0,
}  # fmt: skip


def number(value: float | None, unit: str) -> str:
    """`value` with the decimals its unit deserves; a dash for None; never "-0.0"."""
    if value is None or not math.isfinite(value):
        return "-"
    text = f"{value:.{DECIMALS.get(unit, 2)}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def table(head: list[str], rows: list[list[str]], left: int = 1) -> str:
    """Columns padded to their widest cell, the first `left` of them to the left, the others to the right."""
    cells = [head, *rows]
    widths = [max(len(row[i]) for row in cells) for i in range(len(head))]
    out = []
    for n, row in enumerate(cells):
        parts = [c.ljust(widths[i]) if i < left else c.rjust(widths[i]) for i, c in enumerate(row)]
        out.append("  ".join(parts).rstrip())
        if n == 0:
            out.append("-" * (sum(widths) + 2 * (len(widths) - 1)))
    return "\n".join(out)


def wrapped(text: str, indent: str = "", first: str | None = None) -> str:
    """`text` filled to WIDTH, later lines with `indent`."""
    first = indent if first is None else first
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False)


def in_blocks(count: int, block: Callable[[range], str]) -> list[str]:
    """`block` of all `count` columns, or of fewer at a time, as many as fit the width."""
    texts: list[str] = []
    for most in range(count, 0, -1):
        texts = [block(range(start, min(start + most, count))) for start in range(0, count, most)]
        if all(len(line) <= WIDTH for text in texts for line in text.split("\n")):
            break
    return texts


def say(text: str = "", stream=None) -> None:
    """Print `text`, with characters that the stream cannot show replaced."""
    stream = stream or sys.stdout
    encoding = getattr(stream, "encoding", None) or "utf-8"
    stream.write(text.encode(encoding, "replace").decode(encoding) + "\n")


class Progress:
    """How far long work has come, on the error stream, only when a person watches."""

    def __init__(self) -> None:
        self.shown = sys.stderr.isatty()

    def note(self, text: str) -> None:
        """One line that the next one replaces."""
        if self.shown:
            sys.stderr.write(f"\r{text[: WIDTH - 1].ljust(WIDTH - 1)}")
            sys.stderr.flush()

    def flights(self, done: int, total: int, what: str) -> None:
        """Progress over `total` flights."""
        self.note("" if done == total else f"flight {done + 1} of {total}: {what}")

    def clear(self) -> None:
        """Leave a clean line behind."""
        if self.shown:
            sys.stderr.write(f"\r{' ' * (WIDTH - 1)}\r")
            sys.stderr.flush()
