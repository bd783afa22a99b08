"""A flight kept on disk: every state, input and load with units, and the exact inputs, enough to fly it again bit for bit.

A record is a folder: `flight.npz` (arrays), `inputs.json` (the texts of the setup,
airframe, blade family and manoeuvre files, the CG override, versions) and `channels.csv`
for a spreadsheet.  It is written beside its place and moved there when it is whole.
"""

from __future__ import annotations

import csv
import json
import math
import os
import platform
import shutil
import tempfile
import zipfile
from pathlib import Path

import numpy as np

from models.errors import UserError, printable
from models.loader import setup_from_texts
from scenarios.account import loads_by_part
from scenarios.live import BY_HAND, MOST_CHANGES, STICK_CHANNELS, again, with_changes
from scenarios.manoeuvres import Change, Flown, fly_manoeuvre, manoeuvre_from_text
from sim import layout as L
from sim.description import Setup
from sim.pilot import SKILLS
from sim.recording import CHANNELS, COMMAND_AT, NAMES, STATE_AT

FORMAT = 4  # 4: flights by hand
LARGEST = 512 * 1024 * 1024  # bytes of a record's file that will be read
WRITTEN_UNITS = {"rad": "deg", "rad/s": "deg/s"}


def state_names() -> list[str]:
    """Names of the columns of the state, in order."""
    names = [
        "north",
        "east",
        "down",
        "q0",
        "q1",
        "q2",
        "q3",
        "u",
        "v",
        "w",
        "p",
        "q",
        "r",
        "rotor speed",
        "charge or fuel used",
        "acting throttle",
    ]
    names += ["left aileron", "right aileron", "elevator", "rudder"]
    names += [f"circulation {i}" for i in range(L.PAD)] + [f"separation {i}" for i in range(L.PAD)]
    names.append("distance through the air")
    return names


def save(folder: Path, flown: Flown, loaded_texts: dict[str, str], manoeuvre_text: str, cg: str | None = None) -> Path:
    """Write the record of `flown` as `folder` and return it.

    Raises `UserError` when the folder exists and is not empty, or cannot be written.
    """
    folder = check_free(folder)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=".upline-", dir=folder.parent))
    except OSError as error:
        raise UserError(f"--save: {printable(str(folder), 200)}: {error.strerror or error}") from None
    try:
        _write(work, flown, loaded_texts, manoeuvre_text, cg)
        if folder.exists():
            folder.rmdir()
        os.replace(work, folder)
    except OSError as error:
        raise UserError(f"--save: {printable(str(folder), 200)}: {error.strerror or error}") from None
    finally:
        shutil.rmtree(work, ignore_errors=True)
    return folder


def check_free(folder: Path | str) -> Path:
    """`folder` as a path, where nothing stands yet.  Raises `UserError` when it exists and is not empty."""
    folder = Path(folder)
    name = printable(str(folder), 200)
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise UserError(f"--save: found {name}, which exists; allowed: a new or empty folder; try: another name")
        above = next((part for part in folder.parents if part.exists()), None)
        if above is not None and not above.is_dir():
            raise UserError(
                f"--save: found {printable(str(above), 200)}, which is a file; allowed: a folder to put {name} in"
            )
    except OSError as error:
        raise UserError(f"--save: {printable(str(folder), 200)}: {error.strerror or error}") from None
    return folder


def _write(work: Path, flown: Flown, texts: dict[str, str], manoeuvre_text: str, cg: str | None) -> None:
    flight, wind = flown.flight, flown.manoeuvre.start.wind
    loads, swirl = loads_by_part(flown, slice(0, len(flight.rows)))
    np.savez_compressed(
        work / "flight.npz",
        channels=flight.rows[:, :COMMAND_AT],
        commands=flight.rows[:, COMMAND_AT:STATE_AT],
        states=flight.rows[:, STATE_AT:],
        loads=loads,
        swirl=swirl,
        phase_start=flight.phase_start,
    )
    inputs = {
        "format": FORMAT,
        "kind": "flight record",
        "manoeuvre": flown.manoeuvre.name,
        "setup": flown.setup.name,
        "airframe": flown.setup.airframe.name,
        "ended": flight.ending,
        "cg override": cg,
        "pilot": flown.skill,
        "changes": [{"frame": c.frame, "what": c.what, "value": c.value} for c in flown.changes],
        "seed": wind.seed if wind and wind.turbulence else None,
        "files": {**texts, "manoeuvre": manoeuvre_text},
        "versions": versions(),
        "arrays": {
            "channels": [{"name": name, "unit": unit, "about": about} for name, unit, about in CHANNELS],
            "commands": [
                "left aileron, rad",
                "right aileron, rad",
                "elevator, rad",
                "rudder, rad",
                "throttle, 1",
            ],
            "states": state_names(),
            "loads": {"parts": list(L.PARTS), "columns": "Fx Fy Fz (N), Mx My Mz (N m), body axes, about the CG"},
            "swirl": "share of the loads due to the slipstream's swirl, columns as loads",
        },
    }
    (work / "inputs.json").write_text(json.dumps(inputs, indent=1), encoding="utf-8")
    with open(work / "channels.csv", "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow([f"{name} ({WRITTEN_UNITS.get(unit, unit)})" for name, unit, _ in CHANNELS])
        scale = np.array([180.0 / math.pi if unit in WRITTEN_UNITS else 1.0 for _, unit, _ in CHANNELS])
        for row in flight.rows[:, :COMMAND_AT] * scale:
            writer.writerow([f"{value:.6g}" for value in row])


def versions() -> dict[str, str]:
    """Of this program and of what its numbers hang on."""
    from importlib.metadata import PackageNotFoundError, version

    found = {"python": platform.python_version(), "machine": platform.machine()}
    for package in ("upline", "numpy", "numba", "llvmlite", "scipy"):
        try:
            found[package] = version(package)
        except PackageNotFoundError:
            found[package] = "not installed as a package"
    return found


def load(folder: Path) -> tuple[dict, dict[str, np.ndarray]]:
    """The inputs and the arrays of a record.  Raises `UserError` when it is foreign, cut short or of another version."""
    folder = Path(folder)
    inputs_file, flight_file = folder / "inputs.json", folder / "flight.npz"
    shown, inputs_shown, flight_shown = (printable(str(path), 200) for path in (folder, inputs_file, flight_file))
    try:
        for file in (inputs_file, flight_file):
            if file.stat().st_size > LARGEST:
                raise UserError(
                    f"{printable(str(file), 200)}: found {file.stat().st_size} bytes; allowed: at most {LARGEST}"
                )
        inputs = json.loads(inputs_file.read_text(encoding="utf-8"))
    except OSError as error:
        raise UserError(
            f"{shown}: found no flight record ({error.strerror}); allowed: a folder written by --save"
        ) from None
    except (ValueError, RecursionError):
        raise UserError(
            f"{inputs_shown}: found text that is not a flight record; allowed: a folder written by --save"
        ) from None
    if not isinstance(inputs, dict) or inputs.get("kind") != "flight record":
        raise UserError(f"{inputs_shown}: found another kind of file; allowed: a folder written by --save")
    if type(inputs.get("format")) is not int or inputs["format"] != FORMAT:
        raise UserError(f"{inputs_shown}: found record format {inputs.get('format')!r:.40}; allowed: {FORMAT}")
    files = inputs.get("files")
    wanted = ("setup", "airframe", "blade family", "manoeuvre")
    if not isinstance(files, dict) or not all(isinstance(files.get(name), str) for name in wanted):
        raise UserError(f"{inputs_shown}: found a record without the texts of its files; allowed: {', '.join(wanted)}")
    try:
        with np.load(flight_file, allow_pickle=False) as archive:
            arrays = {name: archive[name] for name in ("channels", "commands", "states", "loads", "phase_start")}
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        raise UserError(
            f"{flight_shown}: found a file that is cut short or damaged; allowed: a folder written by --save"
        ) from None
    return inputs, arrays


def fly_again(folder: Path) -> tuple[Flown, bool]:
    """Fly the record in `folder` again from its own inputs; the second value is True when every state is identical."""
    inputs, arrays = load(folder)
    cg = inputs.get("cg override")
    if cg is not None and not isinstance(cg, str):
        raise UserError(f"{printable(str(folder), 200)}: found a CG override that is not text")
    setup = setup_from_texts(inputs["files"], cg)
    text, skill = inputs["files"]["manoeuvre"], inputs.get("pilot")
    if skill == BY_HAND:
        flown = again(setup, text, changes_of(inputs, folder), arrays["channels"][:, STICK_CHANNELS]).flown()
    elif skill in SKILLS:
        flown = fly_manoeuvre(setup, manoeuvre_from_text(text, str(inputs.get("manoeuvre"))), skill=skill)
    else:
        known = ", ".join((*SKILLS, BY_HAND))
        raise UserError(f"{printable(str(folder), 200)}: found a pilot {skill!r:.40}; allowed: {known}")
    rows = flown.flight.rows
    same = (
        np.array_equal(rows[:, STATE_AT:], arrays["states"], equal_nan=True)
        and np.array_equal(rows[:, COMMAND_AT:STATE_AT], arrays["commands"], equal_nan=True)
        and np.array_equal(rows[:, : len(NAMES)], arrays["channels"], equal_nan=True)
    )
    return flown, bool(same)


def changes_of(inputs: dict, folder: Path | str) -> list[Change]:
    """What was changed in a flight by hand, from the inputs of its record.  Raises `UserError`."""
    found = inputs.get("changes")
    kinds = {"frame": int, "what": str, "value": str}
    whole = isinstance(found, list) and all(
        isinstance(c, dict) and all(type(c.get(key)) is kind for key, kind in kinds.items()) for c in found
    )
    if not whole or len(found) > MOST_CHANGES or any(a["frame"] > b["frame"] for a, b in zip(found, found[1:])):
        allowed = f"up to {MOST_CHANGES} of a frame, what and value, in the order of their frames"
        raise UserError(f"{printable(str(folder), 200)}: found changes that are none; allowed: {allowed}")
    return [Change(c["frame"], c["what"], c["value"]) for c in found]


def setup_of(inputs: dict, folder: Path | str) -> Setup:
    """The setup that the flight of a record began with, what was changed before its start included.  Raises `UserError`."""
    cg = inputs.get("cg override")
    if cg is not None and not isinstance(cg, str):
        raise UserError(f"{printable(str(folder), 200)}: found a CG override that is not text")
    first = [change for change in changes_of(inputs, folder) if change.frame == 0]
    return with_changes(setup_from_texts(inputs["files"], cg), first)
