"""Flights by hand put away as records: where they were asked for, or saved from a program that broke."""

from __future__ import annotations

import tempfile
from pathlib import Path

from models.errors import UserError
from scenarios.live import ByHand
from scenarios.record import check_free, save

LEAST = 2  # frames: less is no flight


class Keeper:
    """Writes flights of one session: the first as `folder`, further ones as "folder-2" and so on.

    `texts` are those of the setup's files, `cg` the CG override they were read with.  Without a `folder` they go to
    "by-hand-SETUP-1" and further in the present folder, and only when `keep` is called for.
    """

    def __init__(self, texts: dict[str, str], cg: str | None, folder: str | None, setup: str) -> None:
        self.texts, self.cg, self.setup = texts, cg, setup
        self.folder = Path(folder) if folder else None
        self.written: list[Path] = []
        self._kept: dict[int, tuple[int, Path]] = {}  # frames that were kept of a flight, and where

    @property
    def always(self) -> bool:
        """Whether every flight is kept without asking."""
        return self.folder is not None

    def keep(self, flight: ByHand) -> Path | None:
        """Write `flight` and return its folder; None when there is none to speak of, or nothing new in it.

        Raises `UserError` when it cannot be written.
        """
        frames, before = flight.live.frames, self._kept.get(id(flight))
        if frames < LEAST or (before and before[0] == frames):
            return None
        place = self._free(self.folder or Path(f"by-hand-{_plain(self.setup)}"), self.folder is not None)
        save(place, flight.flown(), self.texts, flight.text(), self.cg)
        self._kept[id(flight)] = (frames, place)
        self.written.append(place)
        return place

    def kept_as(self, flight: ByHand) -> Path | None:
        """Where the whole of `flight` stands; None when it, or its end, has not been kept."""
        frames, place = self._kept.get(id(flight), (0, None))
        return place if frames == flight.live.frames else None

    def rescue(self, flight: ByHand) -> Path | None:
        """As `keep`, to a temporary folder when the usual place cannot be written."""
        try:
            return self.keep(flight)
        except UserError:
            self.folder = Path(tempfile.mkdtemp(prefix="upline-")) / "by-hand"
            return self.keep(flight)

    def next_place(self) -> Path:
        """Where the next flight would go."""
        return self._free(self.folder or Path(f"by-hand-{_plain(self.setup)}"), self.folder is not None)

    def _free(self, first: Path, bare: bool) -> Path:
        n = 1
        while True:
            place = first if bare and n == 1 else first.with_name(f"{first.name}-{n}")
            try:
                return check_free(place)
            except UserError:
                if not place.exists() or n > 9999:
                    raise
            n += 1


def _plain(name: str) -> str:
    """A setup's name as part of a folder's name."""
    kept = "".join(c if c.isalnum() or c in "-_" else "-" for c in Path(name).stem)
    return kept.strip("-")[:60] or "setup"
