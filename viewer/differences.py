"""What differs in the files, as rows of a table and, for what is too long for one, as lines."""

from __future__ import annotations

from collections.abc import Sequence

from scenarios.differences import Difference, joined
from viewer.text import with_inches, wrapped

LONGEST_CELL = 20


def file_rows(
    found: list[Difference], inches: bool = False
) -> tuple[list[list[str]], list[tuple[str, tuple[str, ...]]]]:
    """Rows of field and cells, and (field, cells) of those that would make the table too wide."""
    rows, long = [], []
    for difference in joined(found):
        cells = tuple(with_inches(cell) if inches else cell for cell in difference.cells)
        if max(map(len, cells)) > LONGEST_CELL:
            long.append((difference.field, cells))
        else:
            rows.append([difference.field, *(cell or "-" for cell in cells)])
    return rows, long


def in_words(field: str, heads: Sequence[str], cells: Sequence[str]) -> str:
    """A field and, line by line, what each file has there."""
    width = max(map(len, heads))
    lines = (
        wrapped(f"  {head.ljust(width)}  {cell or '-'}", " " * (width + 4), "") for head, cell in zip(heads, cells)
    )
    return "\n".join([field, *lines])
