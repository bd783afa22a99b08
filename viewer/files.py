"""Files that a command writes: whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

from models.errors import OptionError, Refused, UserError, nearest, printable, quoted

PICTURES = (".png", ".svg", ".pdf")


def check_writable(option: str, name: str, endings: tuple[str, ...]) -> Path:
    """The path of a file that can be written, before long work begins.  Raises `UserError`; leaves nothing behind."""
    path = Path(name)
    if path.suffix.lower() not in endings:
        near = " or ".join(name.removesuffix(path.suffix) + e for e in nearest(path.suffix, endings) or endings[:1])
        raise OptionError(option, Refused(quoted(name), f"the name of a file that ends in {', '.join(endings)}", near))
    if path.is_dir():
        raise OptionError(option, Refused(f"{quoted(name)}, which is a folder", "the name of a file"))
    write_whole(option, path, None)
    return path


def picture_path(option: str, name: str | None) -> Path | None:
    """As `check_writable`, of a picture that may be asked for; None where none is."""
    return None if name is None else check_writable(option, name, PICTURES)


def write_picture(option: str, path: Path, draw: Callable[[BinaryIO, str], None]) -> None:
    """What `draw` puts into a file of a kind, "png", "svg" or "pdf", as `path`.  Raises `UserError`."""
    write_whole(option, path, lambda file: draw(file, path.suffix.lower().removeprefix(".")))


def write_whole(option: str, path: Path, write: Callable[[BinaryIO], None] | None) -> None:
    """What `write` writes, as `path`, which appears when it is complete; None only tries.  Raises `UserError`."""
    beside = path.with_name(f".upline-{os.getpid()}{path.suffix}")
    try:
        try:
            with open(beside, "xb") as file:
                if write:
                    write(file)
            if write:
                os.replace(beside, path)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        raise UserError(f"{option}: {printable(str(path), 200)}: {error.strerror or error}") from None
