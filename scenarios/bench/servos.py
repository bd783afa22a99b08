"""What the air asks of the servos on the bench: hinge moments over airspeed and deflection, blow-back, times, and energy.

The plane flies straight along its axis through still air at 100 m (no incidence of the
whole, no sideslip, no rotation) with the flow settled about the deflected surfaces: the moment after full stick, before
the plane answers.  In the slipstream the propeller turns as fast as full throttle turns it
there; without it there is none.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scenarios.manoeuvres import CannotFly, Flown, fly_manoeuvre, flyable, load_manoeuvre
from scenarios.measures.servos import SURFACES, channels_of
from sim import layout as L
from sim.build import Plane
from sim.description import Servo, Setup
from sim.equations_of_motion import derivatives
from sim.integration import FRAME
from sim.linkage import rate
from sim.servo import commanded_surfaces, servo_angles, servo_loads
from sim.servo_motor import VOLTS, Motor, motor_of, power_drawn
from sim.transmitter import TRIM, transmit
from sim.trim import LAPS, NoTrim, blank_state, level_trim, relax_flow, settle

CONTROLS = ("aileron", "elevator", "rudder")
HEIGHT = 100.0  # m
SHARES = (0.25, 0.5, 0.75, 1.0)  # of full throw
SPEEDS = tuple(np.linspace(0.0, 1.2, 7))  # of the level top speed: the last is a dive
# Torque to ask for over the largest that the air asks for: at half of its stall torque a servo still moves at half of
# its speed; and simple hinge-moment formulas may be low by two (trade talk).
FACTOR = 2.0
BLOWN, BLOWN_SHARE = math.radians(1.0), 0.1  # blow-back that is looked for
ARRIVED = math.radians(1.0)
STEP, LONGEST = 1e-3, 2.0  # s
FLIGHT = 8.0  # minutes of a flight
# what the energy is drawn in, unless asked otherwise: lines, rolls, a loop, a snap, hover and harrier
MIXED = (
    "level-trim", "knife-edge-right", "roll-high-rates-right", "loop-inside", "snap-roll-right", "hover", "harrier",
)  # fmt: skip


@dataclass(frozen=True)
class Times:
    """Seconds from neutral to full throw, back, and from stop to stop, to within a degree of where it comes to rest; None: never."""

    out: float | None
    back: float | None
    across: float | None


@dataclass(frozen=True)
class ControlBench:
    """One control.  Rows over `speeds` (m/s), columns over SHARES of full throw; angles in rad, moments in N m.

    Of both sides and both ways the one with the greatest load at full throw.  `loads` are torque of
    the air over stall torque at full throw, `reached` where the surface stands at full stick; both None without
    torque.  `blown` and `blown_share` are speeds at which full throw is missed by BLOWN and by BLOWN_SHARE of it
    (None: not up to the last speed), `missing` by how much at `at`; `servo_torque` what the air asks of one
    servo's shaft at full throw at `at`, and `asked_torque` what to ask for.
    """

    control: str
    servo: Servo
    throw: tuple[float, float]
    at: float
    speeds: np.ndarray
    moments: np.ndarray
    without_slipstream: np.ndarray
    loads: np.ndarray | None
    reached: np.ndarray | None
    blown: float | None
    blown_share: float | None
    missing: float | None
    servo_torque: float
    free: Times
    loaded: Times
    full: float

    @property
    def asked_torque(self) -> float:
        """N m of one servo: FACTOR times what the air asks for."""
        return FACTOR * self.servo_torque

    @property
    def factor(self) -> float | None:
        """Stall torque over what the air asks for at full throw."""
        return self.servo.torque / self.servo_torque if self.servo.torque else None


@dataclass(frozen=True)
class Draw:
    """Electrical power of all servos of one control over a flight, W: mean and peak; the motor behind the figures."""

    control: str
    servos: int
    mean: float
    peak: float
    motor: Motor


@dataclass(frozen=True)
class Energy:
    """What the servos draw in `seconds` of the flights `flown`: by control, all at once at most (`peak` A), charge (A s)
    over the flights, and why others were not flown."""

    flown: tuple[str, ...]
    left_out: tuple[str, ...]
    seconds: float
    draws: tuple[Draw, ...]
    peak: float
    charge: float

    @property
    def per_minute(self) -> float:
        """A s in a minute of such flying."""
        return 60.0 * self.charge / self.seconds


@dataclass(frozen=True)
class ServoBench:
    """Every control of a setup, judged at `at` m/s; `top_speed` is that of level flight at full throttle."""

    setup: Setup
    top_speed: float
    at: float
    controls: tuple[ControlBench, ...]
    energy: Energy | None


def level_top_speed(plane: Plane) -> float:
    """The fastest level flight, m/s, to 0.1.  Raises `CannotFly` where none is found."""
    low = next((float(v) for v in (25.0, 20.0, 16.0, 30.0, 12.0) if _holds(plane, v)), None)
    if low is None:
        raise CannotFly(f"{plane.setup.name}: no level flight was found between 12 and 30 m/s")
    high = low + 5.0
    while _holds(plane, high) and high < 120.0:
        low, high = high, high + 5.0
    while high - low > 0.1:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _holds(plane, middle) else (low, middle)
    return low


def _holds(plane: Plane, airspeed: float) -> bool:
    try:
        level_trim(plane, airspeed, HEIGHT)
        return True
    except NoTrim:
        return False


class Stream:
    """A plane held straight ahead in the air, at any speed, in the slipstream of full throttle or without one."""

    def __init__(self, plane: Plane):
        self.plane = plane
        self._none = np.zeros_like(plane.table)
        self._rotor: dict[float, float] = {}

    def state(self, airspeed: float, slipstream: bool) -> tuple[np.ndarray, np.ndarray]:
        """State and command at `airspeed` m/s, all controls at neutral."""
        x, command = blank_state(HEIGHT), np.zeros(L.COMMAND)
        x[L.VELOCITY] = airspeed
        if slipstream:
            x[L.ROTOR] = self._full_throttle(airspeed)
        return x, command

    def table(self, slipstream: bool) -> np.ndarray:
        """The propeller's table, or that of one that does nothing."""
        return self.plane.table if slipstream else self._none

    def _full_throttle(self, airspeed: float) -> float:
        """Rotor speed in rad/s that full throttle holds."""
        if airspeed not in self._rotor:
            x, command, dx = blank_state(HEIGHT), np.zeros(L.COMMAND), np.zeros(L.STATE)
            x[L.VELOCITY] = airspeed
            low, high = 1.0, 3000.0
            for _ in range(30):
                x[L.ROTOR] = 0.5 * (low + high)
                duty = settle(x, command, self.plane.model, self.plane.table, dx)
                low, high = (x[L.ROTOR], high) if duty < 1.0 else (low, x[L.ROTOR])
            self._rotor[airspeed] = 0.5 * (low + high)
        return self._rotor[airspeed]

    def hinge_moments(self, airspeed: float, slipstream: bool, surfaces: np.ndarray) -> np.ndarray:
        """Hinge moments (N m) by control with the surfaces held at angles (rad), both shape (CONTROLS,)."""
        x, command = self.state(airspeed, slipstream)
        x[L.SERVO : L.SERVO + L.CONTROLS] = surfaces
        relax_flow(x, command, self.plane.model, self.table(slipstream), np.zeros(L.STATE), LAPS)
        return self.plane.model[L.HINGE_MOMENT : L.HINGE_MOMENT + L.CONTROLS].copy()

    def reached(self, airspeed: float, commands: np.ndarray) -> np.ndarray:
        """Where the surfaces (rad) stand under `commands`, in the slipstream."""
        x, command = self.state(airspeed, True)
        command[: L.CONTROLS] = x[L.SERVO : L.SERVO + L.CONTROLS] = commands
        relax_flow(x, command, self.plane.model, self.plane.table, np.zeros(L.STATE), LAPS, True)
        return x[L.SERVO : L.SERVO + L.CONTROLS].copy()

    def stroke(self, airspeed: float, start: np.ndarray, goal: np.ndarray, control: int, free: bool) -> float | None:
        """Seconds that control `control` takes from resting under the commands `start` to a degree of its rest under `goal`.

        The plane is held; surfaces and flow move.  `free`: no load on the servos, only linkages.
        """
        model = self.plane.model.copy()
        if free:
            for row in (L.SERVO_GIVE, L.SERVO_PLAY, L.SERVO_YIELD, L.SERVO_PLAY_YIELD):
                model[row : row + L.CONTROLS] = 0.0
        x, command = self.state(airspeed, True)
        dx = np.zeros(L.STATE)
        rests = []
        for commands in (goal, start):
            command[: L.CONTROLS] = x[L.SERVO : L.SERVO + L.CONTROLS] = commands
            relax_flow(x, command, model, self.plane.table, dx, LAPS, True)
            rests.append(float(x[L.SERVO + control]))
        wanted = rests[0]
        command[: L.CONTROLS] = goal
        moving = slice(L.SERVO, L.SEPARATION + L.PAD)
        for step in range(round(LONGEST / STEP)):
            if abs(x[L.SERVO + control] - wanted) < ARRIVED:
                return step * STEP
            derivatives(x, command, model, self.plane.table, dx)
            x[moving] += STEP * dx[moving]
        return None


def full_commands(plane: Plane, control: str, way: float) -> np.ndarray:
    """Commands of full stick one way (1 or -1), trims and mixes at nothing, shape (CONTROLS,)."""
    chain, sticks, command = plane.chain.copy(), np.zeros(4), np.zeros(L.COMMAND)
    chain[TRIM : TRIM + 3] = 0.0
    axis = CONTROLS.index(control)
    sticks[axis] = way
    transmit(sticks, chain, command)
    out = np.zeros(L.CONTROLS)
    moved = list(SURFACES[control])
    out[moved] = command[moved]
    return out


def bench_control(stream: Stream, control: str, top_speed: float, at: float) -> ControlBench:
    """Loads, blow-back and times of one control; `at` is the speed (m/s) that it is judged at."""
    plane, setup = stream.plane, stream.plane.setup
    servo, throw = setup.servos[control], setup.throws[control]
    speeds = top_speed * np.array(SPEEDS)
    ways = [full_commands(plane, control, way) for way in (1.0, -1.0)]
    cases = [(commands, c) for commands in ways for c in SURFACES[control]]

    def moment(speed: float, slipstream: bool, case, share: float) -> tuple[float, float]:
        """Hinge moment (N m), and torque (N m) at the shaft of one servo."""
        commands, c = case
        surfaces = share * commanded_surfaces(plane.model, commands)
        hinge = stream.hinge_moments(speed, slipstream, surfaces)
        return float(hinge[c]), float(_at_shaft(setup, control, plane, surfaces, hinge)[c])

    def worst(speed: float):
        return max(cases, key=lambda case: abs(moment(speed, True, case, 1.0)[1]))

    chosen = [worst(float(speed)) for speed in speeds]
    moments = np.array([[moment(float(v), True, case, s)[0] for s in SHARES] for v, case in zip(speeds, chosen)])
    without = np.array([moment(float(v), False, case, 1.0)[0] for v, case in zip(speeds, chosen)])
    asked = abs(moment(at, True, worst(at), 1.0)[1])
    full = max(float(np.abs(commanded_surfaces(plane.model, commands)).max()) for commands in ways)
    loads = reached = blown = share = missing = None
    if servo.torque:
        torques = np.array([moment(float(v), True, case, 1.0)[1] for v, case in zip(speeds, chosen)])
        loads = np.abs(torques) / servo.torque
        reached = np.array([_least_reached(stream, float(v), cases)[0] for v in speeds])

        def behind(speed: float) -> float:
            return _least_reached(stream, speed, cases)[1]

        blown = _speed_where(lambda v: behind(v) - BLOWN, float(speeds[-1]))
        share = _speed_where(lambda v: behind(v) - BLOWN_SHARE * full, float(speeds[-1]))
        missing = behind(at)
    return ControlBench(
        control, servo, (throw.positive, throw.negative), at, speeds, moments, without, loads, reached, blown, share,
        missing, asked, _times(stream, 0.0, cases[0], True), _times(stream, at, worst(at), False), full,
    )  # fmt: skip


def _at_shaft(setup: Setup, control: str, plane: Plane, surfaces: np.ndarray, hinges: np.ndarray) -> np.ndarray:
    """Torque (N m) that hinge moments put on the shaft of one servo of a control."""
    linkage = setup.linkages.get(control)
    neutral = 1.0 if linkage is None else float(rate(linkage, 0.0))
    model = plane.model.copy()
    model[L.SERVO_GIVE : L.SERVO_GIVE + L.CONTROLS] = neutral / setup.servos[control].count
    return servo_loads(model, surfaces, hinges)


def _least_reached(stream: Stream, speed: float, cases) -> tuple[float, float]:
    """The angle (rad) of the surface that misses most of its throw at full stick, and what it misses, of `cases`."""
    found = []
    for commands, c in cases:
        wanted = float(commanded_surfaces(stream.plane.model, commands)[c])
        stands = float(stream.reached(speed, commands)[c]) * math.copysign(1.0, wanted)
        found.append((abs(wanted) - stands, stands))
    missing, stands = max(found)
    return stands, missing


def _speed_where(over: Callable[[float], float], last: float) -> float | None:
    """The speed (m/s, to 0.1) at which `over` passes zero for the first time, None if it does not up to `last`."""
    low = 0.0
    for high in np.linspace(0.0, last, 13):
        if over(float(high)) >= 0.0:
            break
        low = float(high)
    else:
        return None
    high = float(high)
    while high - low > 0.1:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if over(middle) >= 0.0 else (middle, high)
    return high


def _times(stream: Stream, speed: float, case, free: bool) -> Times:
    commands, c = case
    still = np.zeros(L.CONTROLS)
    return Times(
        stream.stroke(speed, still, commands, c, free),
        stream.stroke(speed, commands, still, c, free),
        stream.stroke(speed, _other_way(stream.plane, commands), commands, c, free),
    )


def _other_way(plane: Plane, commands: np.ndarray) -> np.ndarray:
    """The commands of the opposite full stick."""
    for control in CONTROLS:
        for way in (1.0, -1.0):
            if np.array_equal(full_commands(plane, control, way), commands):
                return full_commands(plane, control, -way)
    return -commands


def bench(
    setup: Setup,
    controls: tuple[str, ...] = CONTROLS,
    at: float | None = None,
    manoeuvres: tuple[str, ...] = MIXED,
    note: Callable[[str], None] = lambda what: None,
) -> ServoBench:
    """The servos of `setup`; `at` m/s (None: level top speed) is where they are judged, `manoeuvres` what the energy is
    drawn in.  Raises `CannotFly`, `UserError`."""
    plane = flyable(setup)
    note("level top speed")
    top = level_top_speed(plane)
    stream = Stream(plane)
    judged = top if at is None else at
    found = []
    for control in controls:
        note(control)
        found.append(bench_control(stream, control, top, judged))
    energy = None
    if all(setup.servos[control].torque for control in CONTROLS):
        energy = energy_of(setup, manoeuvres, note)
    return ServoBench(setup, top, judged, tuple(found), energy)


# ---- energy ------------------------------------------------------------------------------------------------------


def energy_of(
    setup: Setup, manoeuvres: tuple[str, ...] = MIXED, note: Callable[[str], None] = lambda what: None
) -> Energy:
    """What the servos draw over `manoeuvres`, by name.  Raises `CannotFly` where none can be flown."""
    plane = flyable(setup)
    seconds, charge, peak = 0.0, 0.0, 0.0
    joules = dict.fromkeys(CONTROLS, 0.0)
    peaks = dict.fromkeys(CONTROLS, 0.0)
    flown_names, left_out = [], []
    for name in manoeuvres:
        note(name)
        try:
            flown = fly_manoeuvre(setup, load_manoeuvre(name)[0], plane)
        except CannotFly as stop:
            left_out.append(str(stop))
            continue
        if len(flown.flight.rows) < 3:
            left_out.append(f"{name}: {flown.flight.ending} at once")
            continue
        flown_names.append(name)
        powers = power_of(flown)
        seconds += len(flown.flight.rows) * FRAME
        currents = 0.0
        for control in CONTROLS:
            joules[control] += float(powers[control].sum()) * FRAME
            peaks[control] = max(peaks[control], float(powers[control].max()))
            currents = currents + powers[control] / volts_of(setup.servos[control])
        charge += float(currents.sum()) * FRAME
        peak = max(peak, float(currents.max()))
    if not flown_names:
        raise CannotFly(f"{setup.name}: none of the manoeuvres could be flown: {'; '.join(left_out)}")
    draws = tuple(
        Draw(
            control, _count(setup, control), joules[control] / seconds, peaks[control], motor_of(setup.servos[control])
        )
        for control in CONTROLS
    )
    return Energy(tuple(flown_names), tuple(left_out), seconds, draws, peak, charge)


def volts_of(servo: Servo) -> float:
    """The voltage that a servo runs on."""
    return VOLTS if servo.volts is None else servo.volts


def _count(setup: Setup, control: str) -> int:
    return setup.servos[control].count * len(SURFACES[control])


def power_of(flown: Flown) -> dict[str, np.ndarray]:
    """Electrical power (W) of all servos of each control over the frames of a flight.  Torques have to be given."""
    setup, model = flown.setup, flown.plane.model
    every = slice(0, len(flown.flight.rows))
    surfaces, hinges = (channels_of(flown, name, every) for name in ("left aileron", "left aileron hinge moment"))
    loads, angles = servo_loads(model, surfaces, hinges), servo_angles(model, surfaces)
    out = {}
    for control in CONTROLS:
        servo, linkage = setup.servos[control], setup.linkages.get(control)
        neutral = 1.0 if linkage is None else float(rate(linkage, 0.0))
        motor, total = motor_of(servo), 0.0
        for c in SURFACES[control]:
            turning = np.gradient(angles[:, c], FRAME) / neutral
            turning = np.clip(turning, -2.0 * servo.speed, 2.0 * servo.speed)
            total = total + servo.count * power_drawn(motor, loads[:, c], turning, np.gradient(turning, FRAME))
        out[control] = total
    return out
