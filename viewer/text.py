"""Plain-text tables and numbers as pilots read them."""

from __future__ import annotations

import math
import re
import sys
import textwrap
import time
from collections.abc import Callable

from models.units import in_unit, parse, written

WIDTH = 80
DECIMALS = {
    "deg": 1, "deg/s": 1, "deg/s per deg": 1, "%": 1, "% half-span": 0, "m": 1, "m/s": 1, "s": 2, "g": 2, "mm": 0,
    "kg": 2, "1/s": 2, "": 2, "N m": 2, "kg m2": 3, "kg/m2": 1, "% of MAC": 1, "deg/s2": 0,
}  # fmt: skip


def number(value: float | None, unit: str, decimals: int | None = None) -> str:
    """`value` with `decimals`, or those its unit deserves; a dash for None; never "-0.0"."""
    if value is None or not math.isfinite(value):
        return "-"
    text = f"{value:.{DECIMALS.get(unit, 2) if decimals is None else decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


# what people who measure in inches read a unit as: the factor is that of models.units, the decimals a rule's and a scale's
_INCHES = {"mm": ("length", "in", 2), "cm": ("length", "in", 2), "m": ("length", "ft", 1), "g": ("mass", "oz", 2),
           "kg": ("mass", "lb", 2), "m/s": ("speed", "mph", 1), "km/h": ("speed", "mph", 1), "N m": ("torque", "oz in", 0),
           "N": ("force", "lbf", 1), "m2": ("area", "in2", 0), "cm2": ("area", "in2", 1)}  # fmt: skip


def in_inches(cell: str) -> str:
    """A cell such as "152 mm" or "-1.42 kg" in inches, ounces or pounds ("5.98 in", "3 lb 2.1 oz"); "" for any other.

    It is made from what is shown, so that the two agree for whoever converts one by hand.
    """
    match = re.fullmatch(r"(-?)([0-9.]+) (.+)", cell)
    if match is None or match[3] not in _INCHES:
        return ""
    dimension, unit, decimals = _INCHES[match[3]]
    value = parse(f"{match[2]} {match[3]}", dimension)
    if unit == "lb":
        ounces = round(in_unit(value, "mass", "oz"), 1)
        return f"{match[1]}{int(ounces // 16)} lb {ounces % 16:.1f} oz"
    if unit == "oz in":
        decimals = 1 if value < 0.1 else 0
    return match[1] + written(value, dimension, unit, decimals)


def with_inches(cell: str) -> str:
    """The cell, with inches, ounces or pounds behind it in brackets where it is such a quantity."""
    return f"{cell} ({inches})" if (inches := in_inches(cell)) else cell


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


def time_left(seconds: float) -> str:
    """How long work will still take, in minutes and seconds."""
    return f"about {seconds // 60:.0f}:{seconds % 60:02.0f} left"


class Progress:
    """How far long work has come, on the error stream, only when a person watches."""

    def __init__(self) -> None:
        self.shown = sys.stderr.isatty()
        self.pace = (0.0, 0, 0)  # when counting began, with how many done, and how many are done

    def note(self, text: str) -> None:
        """One line that the next one replaces."""
        if self.shown:
            sys.stderr.write(f"\r{text[: WIDTH - 1].ljust(WIDTH - 1)}")
            sys.stderr.flush()

    def counted(self, done: int, total: int, what: str) -> None:
        """`done` of `total` things are done; `what` says so, and the pace since the first call what is left."""
        now = time.monotonic()
        since, first, before = self.pace
        if not since or done < before:
            since, first = now, done
        self.pace = (since, first, done)
        left = f", {time_left((now - since) / (done - first) * (total - done))}" if first < done < total else ""
        self.note("" if done == total else f"{what}{left}")

    def flights(self, done: int, total: int, what: str) -> None:
        """Progress over `total` flights."""
        self.counted(done, total, f"flight {done + 1} of {total}: {what}")

    def clear(self) -> None:
        """Leave a clean line behind."""
        if self.shown:
            sys.stderr.write(f"\r{' ' * (WIDTH - 1)}\r")
            sys.stderr.flush()
