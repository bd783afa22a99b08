"""The file that keeps which axis of which controller is which stick: read with care, written whole."""

from __future__ import annotations

import math
import os
import platform
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, ClassVar

import yaml
from pydantic import Field

from models.errors import Refused, UserFileError, quoted
from models.fields import Document, Group, Location, OneOf, Text, Written
from models.reading import read_document
from sim.transmitter import STICKS
from viewer.files import write_whole
from viewer.hands_on.controllers import Assignment, Travel

HEAD = """\
# Which axis of a controller is which stick, written by: upline hands-on SETUP --assign
# low: what the axis reads with the stick at left, forward or idle; high: at right, back or full; centre: let go
"""


class Reading(Written):
    """What an axis reads: a plain number."""

    description = "a number, as the axis reads it"

    @property
    def sample(self) -> str:
        return "-32767"

    def read(self, value: object) -> float:
        try:
            number = float(str(value))
        except ValueError:
            number = math.nan
        if not abs(number) <= 1e9:
            raise Refused(quoted(value), "a number from -1e9 to 1e9, as the axis reads it")
        return number

    def json_schema(self) -> dict[str, Any]:
        return {"type": "number", "description": self.description}


class TravelPart(Group):
    """One stick."""

    axis: Annotated[str, Text(60, description="as the controller calls it")]
    low: Annotated[float, Reading()]
    centre: Annotated[float, Reading()]
    high: Annotated[float, Reading()]


class ControllerPart(Group):
    """One controller; a stick that is left out stays with the keys."""

    name: Annotated[str, Text(200)]
    throttle: TravelPart | None = None
    aileron: TravelPart | None = None
    elevator: TravelPart | None = None
    rudder: TravelPart | None = None


class ControllersFile(Document):
    """Every controller that sticks were ever assigned on."""

    KIND: ClassVar[str] = "controllers"

    kind: Annotated[str, OneOf("controllers")]
    controllers: Annotated[tuple[ControllerPart, ...], Field(max_length=50)] = ()

    def cross_check(self) -> Iterator[tuple[Location, Refused]]:
        names: set[str] = set()
        for n, part in enumerate(self.controllers):
            at: Location = ("controllers", n)
            if part.name in names:
                yield (*at, "name"), Refused(f"{quoted(part.name)} a second time", "each controller once")
            names.add(part.name)
            axes: set[str] = set()
            for stick in STICKS:
                travel = getattr(part, stick)
                if travel is None:
                    continue
                if travel.axis in axes:
                    yield (*at, stick, "axis"), Refused(f"{quoted(travel.axis)} a second time", "an axis for one stick")
                axes.add(travel.axis)
                if travel.low == travel.high:
                    yield (*at, stick, "high"), Refused("both ends at one reading", "two ends apart", "--assign")
                elif stick != "throttle" and not min(travel.low, travel.high) < travel.centre < max(
                    travel.low, travel.high
                ):
                    yield (*at, stick, "centre"), Refused("a centre beyond the ends", "one between them", "--assign")


def config_folder() -> Path:
    """Where the user's own settings of this program are kept; it need not exist."""
    if os.name == "nt":
        return Path(os.environ.get("APPDATA") or Path.home()) / "upline"
    if platform.system() == "Darwin":
        return Path.home() / "Library" / "Application Support" / "upline"
    return Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "upline"


def assignments_file() -> Path:
    """The file of assignments."""
    return config_folder() / "controllers.yaml"


def read_assignments(path: Path) -> dict[str, Assignment]:
    """The assignments in the file by the controller's name; none where there is no file.  Raises `UserFileError`."""
    if not path.exists():
        return {}
    found = {}
    for part in read_document(path, ControllersFile).controllers:
        given = {stick: getattr(part, stick) for stick in STICKS}
        sticks = {s: Travel(t.axis, t.low, t.centre, t.high) for s, t in given.items() if t is not None}
        found[part.name] = Assignment(part.name, sticks)
    return found


def write_assignment(path: Path, assignment: Assignment) -> None:
    """Put one controller's assignment into the file, the others left as they are.  Raises `UserError`.

    A file that cannot be understood is set aside as "controllers.yaml.old".
    """
    try:
        known = read_assignments(path)
    except UserFileError:
        known = {}
        os.replace(path, path.with_name(path.name + ".old"))
    known[assignment.name] = assignment
    parts = []
    for one in known.values():
        sticks = {
            name: {"axis": t.axis, "low": t.low, "centre": t.centre, "high": t.high} for name, t in one.sticks.items()
        }
        parts.append({"name": one.name, **sticks})
    data = {"format": 1, "kind": "controllers", "controllers": parts}
    text = HEAD + yaml.safe_dump(data, sort_keys=False, allow_unicode=True, width=110)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError:
        pass  # the writing itself says what is wrong
    write_whole("--assign", path, lambda file: file.write(text.encode("utf-8")) and None)
