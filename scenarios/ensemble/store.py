"""A study kept in a folder, so that it can be stopped at any moment and gone on with.

study.json         what is done: the work, its key, draws of a chunk, versions
chunk-000123.npz   what one chunk found, written beside its place and moved there whole
lock               held by the process that flies; the system lets go of it when that dies
"""

from __future__ import annotations

import json
import os
import platform
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from models.errors import Refused, UserError, printable
from scenarios.ensemble.chunks import Chunk, chunk_size
from scenarios.ensemble.work import Work, program_version

FORMAT, KIND = 1, "study of many flights"
STUDY, LOCK = "study.json", "lock"
LARGEST = 64 * 1024 * 1024  # bytes of a study.json that will be read


class Stopped(UserError):
    """A study or a walk that could not go on."""


class Folder:
    """The folder of a study at `path`; `size` draws make a chunk."""

    def __init__(self, path: Path, size: int):
        self.path, self.size = path, size

    def file(self, first: int) -> Path:
        """The file of the chunk that begins with draw `first`."""
        return self.path / f"chunk-{first // self.size:06d}.npz"

    def load(self, first: int, last: int) -> Chunk | None:
        """The chunk of draws `first` to `last` (not included); None where it is missing, too short or damaged."""
        return load_chunk(self.file(first), first, last)

    def save(self, chunk: Chunk) -> None:
        """Write a chunk, whole or not at all.  Raises `Stopped`."""
        save_chunk(self.file(chunk.first), chunk)


def load_chunk(file: Path, first: int, last: int) -> Chunk | None:
    """The chunk of draws `first` to `last` (not included) in `file`; None where it is missing, too short or damaged."""
    try:
        with np.load(file, allow_pickle=False) as kept:
            chunk = Chunk(first, kept["values"], kept["endings"], kept["gaps"], tuple(map(str, kept["texts"])))
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None
    return chunk if len(chunk.values) >= last - first else None


def save_chunk(file: Path, chunk: Chunk) -> None:
    """Write a chunk, whole or not at all.  Raises `Stopped`."""
    texts = np.array(chunk.texts, dtype=np.str_)
    _write_whole(
        file, lambda to: np.savez(to, values=chunk.values, endings=chunk.endings, gaps=chunk.gaps, texts=texts)
    )


def made(path: Path) -> set[str]:
    """Make the folder at `path` if need be: the names of what is in it.  Raises `UserError`."""
    try:
        path.mkdir(parents=True, exist_ok=True)
        return {file.name for file in path.iterdir()}
    except OSError as error:
        shown = printable(str(path), 200)
        raise UserError(f"{shown}: {error.strerror or error}; allowed: a folder that can be written") from None


@contextmanager
def opened(path: Path, work: Work) -> Iterator[Folder]:
    """The folder at `path` for `work` alone, made if need be.  Raises `UserError`."""
    shown = printable(str(path), 200)
    names = made(path)
    if STUDY not in names and names - {LOCK}:
        raise UserError(f"{shown}: {Refused('a folder with other things in it', 'a new or empty folder, or a study')}")
    with _locked(path / LOCK, shown):
        yield _begun(path, work)


def _begun(path: Path, work: Work) -> Folder:
    if not (path / STUDY).exists():
        size = chunk_size(work)
        _write_study(path, work, size)
        return Folder(path, size)
    before, study = read_study(path)
    if study["key"] != work.key:
        differs = "; ".join(differences(study, before, work))
        refused = Refused(f"another study, which differs in {differs}", "the same work", "another folder")
        raise UserError(f"{printable(str(path), 200)}: {refused}")
    if work.count > before.count:
        _write_study(path, work, study["draws of a chunk"])
    return Folder(path, study["draws of a chunk"])


def read_study(path: Path) -> tuple[Work, dict]:
    """The work that a study's folder is about, and all that `study.json` says.  Raises `UserError`."""
    file = path / STUDY
    shown = printable(str(file), 200)
    allowed = "the folder of a study"
    try:
        if file.stat().st_size > LARGEST:
            raise ValueError
        study = json.loads(file.read_text(encoding="utf-8"))
        if study["kind"] != KIND or study["format"] != FORMAT or not 1 <= int(study["draws of a chunk"]):
            raise ValueError
        return Work.read(study["work"]), study
    except OSError as error:
        raise UserError(f"{shown}: found no study ({error.strerror}); allowed: {allowed}") from None
    except (ValueError, KeyError, TypeError, RecursionError):
        raise UserError(f"{shown}: found a file that is no study or is damaged; allowed: {allowed}") from None


def differences(study: dict, before: Work, work: Work) -> list[str]:
    """What differs between a study that was begun and `work`, in words."""
    found = []
    files, now = dict(before.files), dict(work.files)
    found += [f"the {kind} file" for kind in now if files.get(kind) != now[kind]]
    names, wanted = [name for name, _ in before.manoeuvres], [name for name, _ in work.manoeuvres]
    if names != wanted:
        found.append(f"the manoeuvres ({', '.join(names)} there, {', '.join(wanted)} here)")
    elif before.manoeuvres != work.manoeuvres:
        found.append("the text of a manoeuvre")
    for word, a, b in (
        ("the CG", before.cg, work.cg),
        ("the pilot", before.pilot, work.pilot),
        ("the seed", before.seed, work.seed),
    ):
        if a != b:
            found.append(
                f"{word} ({'as in the file' if a is None else a} there, {'as in the file' if b is None else b} here)"
            )
    for word, a, b in (
        ("the measures", before.measures, work.measures),
        ("the inputs that are set", before.fixed, work.fixed),
        ("what is uncertain", before.uncertain, work.uncertain),
    ):
        if a != b:
            found.append(word)
    if study["versions"].get("program") != program_version():
        found.append("the version of the program")
    return [printable(text, 200) for text in found]


def _write_study(path: Path, work: Work, size: int) -> None:
    versions = {"program": program_version(), "python": platform.python_version(), "machine": platform.machine()}
    study = {
        "kind": KIND,
        "format": FORMAT,
        "key": work.key,
        "draws of a chunk": size,
        "work": work.document,
        "versions": versions,
    }
    text = json.dumps(study, indent=1)
    _write_whole(path / STUDY, lambda file: file.write(text.encode()))


def _write_whole(path: Path, write) -> None:
    beside = path.with_name(f".{path.name}-{os.getpid()}")
    try:
        try:
            with open(beside, "wb") as file:
                write(file)
                file.flush()
                os.fsync(file.fileno())
            os.replace(beside, path)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        raise Stopped(
            f"{printable(str(path.parent), 200)}: {error.strerror or error}; what was flown before is kept;"
            " try: room for it, then the same command again, which goes on from there"
        ) from None


@contextmanager
def _locked(path: Path, shown: str) -> Iterator[None]:
    try:
        file = open(path, "a+", encoding="utf-8")  # noqa: SIM115 - held until the study ends
    except OSError as error:
        raise UserError(f"{shown}: {error.strerror or error}; allowed: a folder that can be written") from None
    with file:
        try:
            _take(file)
        except OSError as error:
            file.seek(0)
            who = printable(file.read(100).strip()) or "another process"
            if isinstance(error, BlockingIOError | PermissionError):
                refused = Refused(
                    f"a study that is running ({who})", "one study in a folder at a time", "another folder"
                )
                raise UserError(f"{shown}: {refused}") from None
            raise UserError(f"{shown}: it cannot be locked: {error.strerror or error}") from None
        try:
            file.truncate(0)
            file.write(f"process {os.getpid()} on {platform.node()}\n")
            file.flush()
        except OSError:
            pass  # a full disk: who holds the lock is not said, the first chunk will tell
        yield


def _take(file) -> None:
    """Lock an open file, or raise OSError at once; the system lets go of it with the process."""
    if os.name == "nt":
        import msvcrt

        file.seek(1000)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
