"""A flight as a picture needs it: where the plane is at any time, how its surfaces stand, what is stalled, what pushes.

A `Playback` comes from a flight record on disk, from a flight just flown, or empty, to be fed frame by frame.  Loads and
slipstream are not kept: the rates are evaluated again at the frame that is looked at, which takes some microseconds.
Earth axes are north, east, down, body axes x forward, y right, z down about the CG; SI, angles in rad.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from models.errors import OptionError, Refused, UserError, nearest, printable, quoted
from models.loader import setup_from_texts
from models.units import parse
from scenarios.live import SWITCHES, with_changes
from scenarios.manoeuvres import Flown, enter_wind, flyable, manoeuvre_from_text
from scenarios.record import changes_of, load, setup_of
from scenarios.schema import ManoeuvreFile
from sim import layout as L
from sim.account import loads_of
from sim.build import Plane
from sim.description import Setup
from sim.equations_of_motion import derivatives
from sim.frames import body_to_earth
from sim.fuselage_aero import section_area
from sim.recording import COMMAND_AT, INDEX, ROW, STATE_AT
from sim.slipstream import jet_at

MOST_FRAMES = 2_000_000
JET_STATIONS = 17
JET_LENGTH = 8.0  # disk radii that the slipstream is shown over
FAINT = 0.5  # m/s of induced speed under which there is no jet to see


@dataclass(frozen=True)
class Phase:
    """A phase as it was flown: from `start` to `end`, s."""

    name: str
    start: float
    end: float


@dataclass(frozen=True)
class Jet:
    """The slipstream: points on its centre line (n, 3) in body axes from the CG, radius (n,), axial speed gained (n,) in m/s."""

    centre: np.ndarray
    radius: np.ndarray
    gained: np.ndarray


@dataclass(frozen=True)
class Pose:
    """The flight at one instant.

    `surfaces`: left aileron, right aileron, elevator, rudder; `sticks`: aileron, elevator, rudder, throttle; `separation`
    by strip, 1 attached to 0 separated; `velocity` over the ground, earth axes; `forces` (layout.N_PARTS, 3) in N, body
    axes; `turn` the matrix from body to earth axes; `jet` None where nothing blows aft.
    """

    time: float
    phase: str
    position: np.ndarray
    quaternion: np.ndarray
    turn: np.ndarray
    velocity: np.ndarray
    surfaces: np.ndarray
    sticks: np.ndarray
    rotor_angle: float
    rotor_speed: float
    separation: np.ndarray
    airspeed: float
    height: float
    forces: np.ndarray
    jet: Jet | None


class Playback:
    """A flight, whole or growing.  Arrays have one row a frame; they are views, valid until the next `append`."""

    def __init__(self, plane: Plane, title: str, manoeuvre: ManoeuvreFile | None = None, ending: str = "") -> None:
        self.plane, self.setup, self.title = plane, plane.setup, title
        self.manoeuvre, self.ending = manoeuvre, ending
        self.frames = 0
        self._rows = np.zeros((1024, ROW))
        self._angle = np.zeros(1024)
        self._begun: list[tuple[str, int]] = []  # phases and the frames that they begin at
        self._planes: list[tuple[int, Plane, np.ndarray]] = []  # the planes that flew it, and their first frames
        self._from(0, plane)
        self._rates = np.zeros(L.STATE)
        self._strips = int(plane.model[L.N_STRIPS])

    @classmethod
    def live(cls, plane: Plane, title: str) -> Playback:
        """An empty playback of `plane`, to be fed by `append`."""
        return cls(plane, title)

    @classmethod
    def of(cls, flown: Flown) -> Playback:
        """The playback of a flight just flown.  Raises `UserError` where there is nothing to show."""
        flight, manoeuvre = flown.flight, flown.manoeuvre
        title = f"{flown.setup.name}, {manoeuvre.name}"
        made = cls(flown.plane, title, manoeuvre, flight.ending)
        for first, plane in flown.later:
            made._from(first, plane)
        made._fill(title, flight.rows, [phase.name for phase in manoeuvre.phases], flight.phase_start)
        return made

    def change(self, plane: Plane) -> None:
        """What is appended from now on was flown by `plane`: the same one with another setup, or as it was."""
        if plane is not self._planes[-1][1]:
            self._from(self.frames, plane)

    def _from(self, frame: int, plane: Plane) -> None:
        model = plane.model.copy()
        model[L.QUICK] = 0.0  # what flows at the hub is then found in the model itself
        self._planes.append((frame, plane, model))

    def append(self, row: np.ndarray, phase: str = "") -> None:
        """One more frame, a row as `sim.recording` lays it out; another name of `phase` begins another phase."""
        if self.frames == len(self._rows):
            self._rows = np.vstack([self._rows, np.zeros_like(self._rows)])
            self._angle = np.concatenate([self._angle, np.zeros_like(self._angle)])
        n = self.frames
        self._rows[n] = row
        if n:
            speed = self._rows[n - 1 : n + 1, INDEX["rotor speed"]].mean()
            turned = speed * (row[INDEX["time"]] - self._rows[n - 1, INDEX["time"]])
            self._angle[n] = self._angle[n - 1] + self.plane.model[L.SENSE] * turned
        if not self._begun or self._begun[-1][0] != phase:
            self._begun.append((phase, n))
        self.frames = n + 1

    def _fill(self, shown: str, rows: np.ndarray, names: list[str], phase_start: np.ndarray) -> None:
        whole = np.isfinite(rows).all(axis=1)
        usable = len(rows) if whole.all() else int(np.argmin(whole))  # a flight that diverged is shown up to there
        if usable < 2:
            raise UserError(
                f"{shown}: found a flight of {usable} frame{'s' * (usable != 1)}; allowed: at least two frames to look at"
            )
        rows = rows[:usable]
        if not (np.diff(rows[:, INDEX["time"]]) > 0.0).all():
            raise UserError(f"{shown}: found times that do not rise; allowed: a folder written by --save")
        self._rows = np.ascontiguousarray(rows)
        speed, time = rows[:, INDEX["rotor speed"]], rows[:, INDEX["time"]]
        self._angle = self.plane.model[L.SENSE] * np.r_[0.0, np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(time))]
        self._begun = sorted(
            ((name, int(at)) for name, at in zip(names, phase_start) if 0 <= at < usable), key=lambda begun: begun[1]
        )
        self.frames = usable

    # ---- arrays, one row a frame ------------------------------------------------------------------------------
    @property
    def rows(self) -> np.ndarray:
        """Channels, commands and states, shape (n, recording.ROW)."""
        return self._rows[: self.frames]

    def channel(self, name: str) -> np.ndarray:
        """One channel over time, shape (n,); names and units: `sim.recording.CHANNELS`."""
        return self.rows[:, INDEX[name]]

    def _state(self, at: int, count: int) -> np.ndarray:
        return self.rows[:, STATE_AT + at : STATE_AT + at + count]

    @property
    def time(self) -> np.ndarray:
        """Time since the start, s."""
        return self.channel("time")

    @property
    def start(self) -> float:
        """Time of the first frame, s."""
        return float(self._rows[0, INDEX["time"]])

    @property
    def end(self) -> float:
        """Time of the last frame, s."""
        return float(self._rows[max(self.frames - 1, 0), INDEX["time"]])

    @property
    def position(self) -> np.ndarray:
        """Place of the CG, (n, 3), earth axes."""
        return self._state(L.POSITION, 3)

    @property
    def quaternion(self) -> np.ndarray:
        """Attitude, (n, 4), body to earth, scalar first."""
        return self._state(L.QUATERNION, 4)

    @property
    def surfaces(self) -> np.ndarray:
        """Left aileron, right aileron, elevator, rudder, (n, 4), rad (ISO 1151)."""
        return self._state(L.SERVO, L.CONTROLS)

    @property
    def sticks(self) -> np.ndarray:
        """Aileron, elevator, rudder -1..1, throttle 0..1, (n, 4)."""
        at = INDEX["aileron stick"]
        return self.rows[:, at : at + 4]

    @property
    def rotor_angle(self) -> np.ndarray:
        """Angle turned by the propeller since the start, (n,), positive clockwise seen from behind."""
        return self._angle[: self.frames]

    @property
    def separation(self) -> np.ndarray:
        """Separation point of every strip, (n, strips), 1 attached to 0 separated."""
        return np.clip(self._state(L.SEPARATION, self._strips), 0.0, 1.0)

    @property
    def phases(self) -> list[Phase]:
        """The phases that were flown, in order."""
        times = self.time
        ends = [times[at] for _, at in self._begun[1:]] + [self.end]
        return [Phase(name, float(times[at]), float(end)) for (name, at), end in zip(self._begun, ends)]

    def phase_at(self, time: float) -> str:
        """The name of the phase at `time`."""
        frame = int(np.searchsorted(self.time, time + 1e-9, side="right")) - 1
        return next((name for name, at in reversed(self._begun) if at <= max(frame, 0)), "")

    # ---- one instant ---------------------------------------------------------------------------------------------
    def last(self) -> Pose:
        """The newest frame."""
        return self.pose(self.end)

    def pose(self, time: float) -> Pose:
        """The flight at `time`, between frames where need be; before the start and after the end as it was there."""
        times = self.time
        right = int(np.clip(np.searchsorted(times, time), 1, max(self.frames - 1, 1)))
        left = right - 1
        right = min(right, self.frames - 1)
        span = times[right] - times[left]
        share = float(np.clip((time - times[left]) / span, 0.0, 1.0)) if span > 0.0 else 0.0
        row = (1.0 - share) * self._rows[left] + share * self._rows[right]
        attitude = self.quaternion
        row[STATE_AT + L.QUATERNION : STATE_AT + L.QUATERNION + 4] = _between(attitude[left], attitude[right], share)
        x = np.ascontiguousarray(row[STATE_AT : STATE_AT + L.STATE])
        quaternion = x[L.QUATERNION : L.QUATERNION + 4]
        turn = np.array(body_to_earth(*quaternion)).reshape(3, 3)
        forces, jet = self._evaluate(
            left if share < 1.0 else right, x, np.ascontiguousarray(row[COMMAND_AT : COMMAND_AT + L.COMMAND])
        )
        at = INDEX["aileron stick"]
        return Pose(
            time=float(row[INDEX["time"]]),
            phase=self.phase_at(float(row[INDEX["time"]])),
            position=x[:3],
            quaternion=quaternion,
            turn=turn,
            velocity=turn @ x[L.VELOCITY : L.VELOCITY + 3],
            surfaces=x[L.SERVO : L.SERVO + L.CONTROLS],
            sticks=row[at : at + 4],
            rotor_angle=float((1.0 - share) * self._angle[left] + share * self._angle[right]),
            rotor_speed=float(x[L.ROTOR]),
            separation=np.clip(x[L.SEPARATION : L.SEPARATION + self._strips], 0.0, 1.0),
            airspeed=float(row[INDEX["airspeed"]]),
            height=float(-x[2]),
            forces=forces,
            jet=jet,
        )

    def _evaluate(self, frame: int, x: np.ndarray, command: np.ndarray) -> tuple[np.ndarray, Jet | None]:
        """Forces by part, and the slipstream, of the state `x` under `command`, at or after `frame`."""
        plane, m = next((plane, model) for first, plane, model in reversed(self._planes) if first <= frame)
        derivatives(x, command, m, plane.table, self._rates)
        return loads_of(m)[:, :3], _jet(m, plane)


def _between(a: np.ndarray, b: np.ndarray, share: float) -> np.ndarray:
    """The attitude at `share` of the shorter way from `a` to `b`: a straight step, frames being close."""
    mixed = (1.0 - share) * a + share * (b if float(a @ b) >= 0.0 else -b)
    return mixed / math.sqrt(float(mixed @ mixed))


def _jet(m: np.ndarray, plane: Plane) -> Jet | None:
    """The slipstream as the strips met it in the last evaluation of `m`, along its centre line."""
    axial, w0 = (float(v) for v in m[L.AT_HUB + 3 : L.AT_HUB + 5])
    across = m[L.AT_HUB + 6 : L.AT_HUB + 9]
    if w0 < FAINT or axial + w0 <= 0.0:
        return None
    shaft, hub, radius = m[L.SHAFT : L.SHAFT + 3], m[L.HUB : L.HUB + 3], float(m[L.DISK_RADIUS])
    cross = tuple(-float(v) for v in across)
    behind = radius * JET_LENGTH * np.linspace(0.0, 1.0, JET_STATIONS) ** 1.5
    blocked = (
        section_area(plane.setup.airframe.fuselage, (hub - np.outer(behind, shaft))[:, 0] + plane.mass.cg[0]) / math.pi
    )
    at_a_point = getattr(jet_at, "py_func", jet_at)  # the text of the formula: a few calls do not deserve a compiler
    centre, local, gained = np.zeros((JET_STATIONS, 3)), np.zeros(JET_STATIONS), np.zeros(JET_STATIONS)
    for n, (s, filled) in enumerate(zip(behind, blocked)):
        point = -s * shaft
        jet, _, ox, oy, oz, local2, _ = at_a_point(
            *point, *shaft, *cross, radius, axial, w0, min(1.0, axial + w0), 0.0, float(filled)
        )
        centre[n] = hub + point - (ox, oy, oz)
        local[n], gained[n] = math.sqrt(local2), jet
    gained[0] = w0
    return Jet(centre, local, gained)


# ---- from a record ---------------------------------------------------------------------------------------------------
def load_playback(folder: Path | str) -> Playback:
    """The flight kept in `folder`.  Raises `UserError` when it is foreign, cut short, of another version or too short."""
    shown = printable(str(folder), 200)
    inputs, arrays = load(Path(folder))
    damaged = UserError(f"{shown}: found arrays that are not those of a flight; allowed: a folder written by --save")
    try:
        rows = np.hstack([arrays["channels"], arrays["commands"], arrays["states"]])
        starts = np.asarray(arrays["phase_start"], dtype=int).ravel()
    except (ValueError, TypeError):
        raise damaged from None
    if rows.dtype != np.float64 or rows.ndim != 2 or rows.shape[1] != ROW or len(rows) > MOST_FRAMES:
        raise damaged
    setup = setup_of(inputs, folder)
    manoeuvre = manoeuvre_from_text(inputs["files"]["manoeuvre"], str(inputs.get("manoeuvre")))

    def built(setup: Setup) -> Plane:
        plane = flyable(setup)
        if manoeuvre.start.wind is None or not len(rows) or not np.isfinite(rows[0]).all():
            return plane
        return _in_its_wind(plane, rows[0], manoeuvre)

    title = f"{setup.name}, {manoeuvre.name}"
    made = Playback(built(setup), title, manoeuvre, str(inputs.get("ended", "")))
    changes, asked = changes_of(inputs, folder), setup_from_texts(inputs["files"], inputs.get("cg override"))
    for n, change in enumerate(changes):
        if change.frame > 0 and change.what not in SWITCHES:
            made._from(change.frame, built(with_changes(asked, changes[: n + 1])))
    made._fill(shown, rows, [phase.name for phase in manoeuvre.phases], starts)
    return made


def _in_its_wind(plane: Plane, row: np.ndarray, manoeuvre: ManoeuvreFile) -> Plane:
    """`plane` in the wind that the flight began in: the recorded first state is carried by it, the wind asks for still air's."""
    x = row[STATE_AT : STATE_AT + L.STATE].copy()
    still = np.zeros_like(x)
    still[:7] = x[:7]
    drift = enter_wind(plane, still, manoeuvre.start.wind)[1][L.VELOCITY : L.VELOCITY + 3]
    x[L.VELOCITY : L.VELOCITY + 3] -= drift
    return enter_wind(plane, x, manoeuvre.start.wind)[0]


# ---- two flights -------------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Alignment:
    """How a second flight is laid over the first: it is shown at the first one's time plus `time` (s), moved by `shift` (m)."""

    time: float
    shift: np.ndarray


def instant(flight: Playback, text: str, option: str = "--align") -> float:
    """The time, s, that `text` means in `flight`: "start of PHASE", "end of PHASE" or "3.2 s".  Raises `OptionError`."""
    phases = {phase.name: phase for phase in flight.phases}
    words = text.strip()
    for lead, which in (("start of ", "start"), ("end of ", "end")):
        if words.startswith(lead):
            name = words[len(lead) :].strip().strip('"')
            if name in phases:
                return float(getattr(phases[name], which))
            near = " or ".join(f'"{lead}{known}"' for known in nearest(name, phases))
            allowed = "a phase: " + ", ".join(map(quoted, phases))
            raise OptionError(option, Refused(f"{quoted(name)} in {flight.title}", allowed, near))
    try:
        time = parse(words, "duration")
    except Refused:
        allowed = f'a time such as "3.2 s", or "start of" or "end of" a phase: {", ".join(map(quoted, phases))}'
        raise OptionError(option, Refused(quoted(text), allowed)) from None
    if not flight.start <= time <= flight.end:
        allowed = f"{flight.start:.2f} s to {flight.end:.2f} s in {flight.title}"
        raise OptionError(option, Refused(quoted(text), allowed, f'"{flight.end:.2f} s"'))
    return time


def align(flight: Playback, ghost: Playback, text: str | None = None, option: str = "--align") -> Alignment:
    """`ghost` laid over `flight` so that both are at one place at the instant that `text` means in each; None: at the start."""
    mine, its = (f.start if text is None else instant(f, text, option) for f in (flight, ghost))
    shift = flight.pose(mine).position - ghost.pose(its).position
    return Alignment(its - mine, shift)
