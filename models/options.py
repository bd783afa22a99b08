"""What is given on the command line: read, held to what is allowed, and complained of all at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from models.errors import OptionError, Refused, UserError, nearest, quoted

T = TypeVar("T")


def option_value(option: str, read: Callable[[str], T], text: str | None, default: T | None = None) -> T | None:
    """What `read` makes of the text of an option, `default` where it was not given.  Raises `OptionError`."""
    if text is None:
        return default
    try:
        return read(text)
    except Refused as refused:
        raise OptionError(option, refused) from None


def one_of(option: str, text: str, allowed: Sequence[str]) -> str:
    """`text`, one of the words that are `allowed`.  Raises `OptionError` with the nearest."""
    if text not in allowed:
        raise OptionError(option, Refused(quoted(text), ", ".join(allowed), " or ".join(nearest(text, allowed))))
    return text


class Gathered:
    """What is wrong with several things read one after the other, said at once."""

    def __init__(self) -> None:
        self.wrong: list[str] = []

    def read(self, reader: Callable[..., T], *arguments: Any) -> T | None:
        """What `reader` gives, or None and its complaint kept."""
        try:
            return reader(*arguments)
        except UserError as error:
            self.wrong.append(str(error))
            return None

    def check(self) -> None:
        """Raises `UserError` with every complaint, each once."""
        if self.wrong:
            raise UserError("\n".join(dict.fromkeys(self.wrong)))
