"""Whether a flown manoeuvre was the manoeuvre, in words: "a spin: 3.0 turns ...", "not a flat spin: nose 64 deg down ...".

One judge a manoeuvre, by its name: it looks at the record and says yes or no, and what it saw.  `EXPECTED` says which
ways of flying usually do it.  Limits and expectations are common practice, no source, unless one is named.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scenarios.measures.registry import (
    DEG,
    STYLES,
    NotMeasured,
    body_axes,
    flow_angle,
    from_to,
    later_half,
    mean,
    turn_about_vertical,
    turned,
    window,
)
from sim import phases as P
from sim.flight import fly
from sim.integration import FRAME

if TYPE_CHECKING:
    from scenarios.manoeuvres import Flown

EVERYBODY = STYLES
FREE = ("extreme", "slow 3D")  # flown for figures beyond the stall
STALLED = 0.4  # share of the wing separated: an aeroplane beyond its stall
SPIN_TURN = 120.0  # deg/s about the vertical
BEGUN = 60.0  # deg/s about the vertical, of a spin that is stopped while it still gathers speed
STOPPED = 30.0  # deg/s about the vertical
FLAT = 25.0  # deg that the nose of a flat spin hangs at most
SNAP = 1.5  # times the roll rate that ailerons alone give
LEAST_ALPHA, USUAL_ALPHA = 25.0, 35.0  # deg between nose and air: beyond the stall; a harrier as usually flown


@dataclass(frozen=True)
class Outcome:
    """Whether the flight was the manoeuvre, what it is called with its article, and what was seen."""

    was: bool
    noun: str
    seen: str
    expected: bool
    way: str

    @property
    def words(self) -> str:
        """One line: what it was, or was not, why, and whether that was to be expected of this way of flying."""
        line = f"{self.noun}: {self.seen}" if self.was else f"not {self.noun}: {self.seen}"
        if self.was and not self.expected:
            return f"{line}; more than is usual for {self.way}"
        if not self.was:
            return f"{line}; {'as expected of' if not self.expected else 'unusual for'} {self.way}"
        return line


Seen = tuple[bool, str]


@dataclass(frozen=True)
class _Judge:
    noun: str
    ways: tuple[str, ...]
    look: Callable[[Flown], Seen]


JUDGES: dict[str, _Judge] = {}


def _judges(noun: str, ways: tuple[str, ...], *names: str):
    def register(look):
        for name in names:
            JUDGES[name] = _Judge(noun, ways, look)
        return look

    return register


def outcome(flown: Flown) -> Outcome | None:
    """What became of the manoeuvre; None where there is no judge for its name."""
    name = flown.manoeuvre.name.removesuffix("-right").removesuffix("-left")
    judge = JUDGES.get(name)
    if judge is None:
        return None
    way = flown.setup.way_of_flying
    try:
        was, seen = judge.look(flown)
    except NotMeasured as reason:
        was, seen = False, str(reason)
    return Outcome(was, judge.noun, seen, way in judge.ways, way)


def _share_stalled(flown: Flown, frames: slice) -> float:
    return mean(flown, "stalled", frames)


def _height(flown: Flown, frames: slice) -> float:
    """Highest less lowest height, m."""
    return float(np.ptp(flown.flight.channel("height")[frames]))


# ---- level flight and lines --------------------------------------------------------------------------------


@_judges("level flight", EVERYBODY, "level-trim", "level-trim-slow")
def _level(flown: Flown) -> Seen:
    frames = window(flown, "hands off")
    bank = abs(float(flown.flight.channel("bank")[frames.stop - 1])) * DEG
    gained = _height(flown, frames)
    return gained < 2.0 and bank < 5.0, f"{gained:.1f} m of height and {bank:.0f} deg of bank in 4 s hands off"


@_judges("level flight", EVERYBODY, "power-change")
def _power(flown: Flown) -> Seen:
    path = [mean(flown, "path angle", window(flown, phase, 0.5)) * DEG for phase in ("idle", "full power")]
    held = max(abs(angle) for angle in path)
    return held < 8.0, f"path {path[0]:.0f} deg at the end of idle, {path[1]:.0f} deg at the end of full power"


@_judges("inverted level flight", EVERYBODY, "inverted-flight")
def _inverted(flown: Flown) -> Seen:
    frames = window(flown, "set the line", 1.0)
    bank, path = abs(mean(flown, "bank", frames)) * DEG, mean(flown, "path angle", frames) * DEG
    return bank > 168.0 and abs(path) < 6.0, f"bank {bank:.0f} deg, path at {path:.0f} deg when the elevator was let go"


@_judges("slow flight", EVERYBODY, "slow-flight")
def _slow_flight(flown: Flown) -> Seen:
    frames = window(flown, "held")
    path = np.abs(flown.flight.channel("climb rate")[frames]).max()
    bank = float(np.abs(flown.flight.channel("bank")[frames]).max()) * DEG
    seen = f"{mean(flown, 'airspeed', frames):.0f} m/s, within {path:.1f} m/s up or down, bank within {bank:.0f} deg"
    return path < 4.0 and bank < 20.0, seen  # gusts carry it along


def _line(flown: Flown, wanted: float) -> Seen:
    frames = window(flown, "set the line", 0.5)
    path, speed = mean(flown, "path angle", frames) * DEG, mean(flown, "airspeed", frames)
    rate = abs(mean(flown, "pitch rate", frames)) * DEG
    seen = f"path at {path:.0f} deg, {speed:.0f} m/s, turning at {rate:.0f} deg/s when the sticks were let go"
    return abs(path - wanted) < 6.0 and rate < 5.0, seen


for _name, _wanted in (("upline-45", 45.0), ("upline-45-inverted", 45.0), ("downline-45", -45.0),
                       ("downline-45-inverted", -45.0), ("dive-test", -30.0), ("vertical-up", 90.0),
                       ("vertical-down", -90.0)):  # fmt: skip
    _judges("a line", EVERYBODY, _name)(lambda flown, wanted=_wanted: _line(flown, wanted))


@_judges("a knife edge", EVERYBODY, "knife-edge")
def _knife_edge(flown: Flown) -> Seen:
    frames = window(flown, "held", 1.5)
    bank, climb = mean(flown, "bank", frames) * DEG, mean(flown, "climb rate", frames)
    slip = abs(mean(flown, "beta", frames)) * DEG
    drift = "climbing" if climb > 0.0 else "sinking"
    seen = f"bank {abs(bank):.0f} deg, sideslip {slip:.0f} deg, {drift} at {abs(climb):.1f} m/s"
    return abs(abs(bank) - 90.0) < 12.0 and abs(climb) < 2.5, seen


_judges("a knife edge", FREE, "knife-edge-slow")(_knife_edge)


# ---- stalls and spins -----------------------------------------------------------------------------------------


@_judges("a stall", EVERYBODY, "stall", "stall-turning", "stall-aileron")
def _stall(flown: Flown, phase: str = "slow down") -> Seen:
    frames = window(flown, phase)
    share = float(flown.flight.channel("stalled")[frames].max())
    speed, load = (float(flown.flight.channel(name)[frames.stop - 1]) for name in ("airspeed", "load z"))
    alpha = float(flown.flight.channel("alpha")[frames].max()) * DEG
    seen = f"{100.0 * share:.0f} % of the wing separated at {speed:.1f} m/s and {load:.1f} g, alpha {alpha:.0f} deg"
    return share >= 0.1, seen


@_judges("a stall under load", FREE, "stall-accelerated")
def _stall_under_load(flown: Flown) -> Seen:
    was, seen = _stall(flown, "pull")
    return was, seen if was else f"full elevator reaches no stall; {seen}"


def _spin(flown: Flown, phase: str, least: float) -> Seen:
    frames = later_half(flown, phase)
    turn = turn_about_vertical(flown, frames) * DEG
    all_turns = float(np.abs(turn_about_vertical(flown, window(flown, phase)).sum())) * FRAME * DEG / 360.0
    way = math.copysign(1.0, float(turn.mean()))
    wanted = -1.0 if flown.manoeuvre.mirrored else 1.0
    if phase == "spin" and float(flown.flight.channel("alpha")[frames].mean()) < 0.0:
        wanted = -wanted  # inverted, right rudder turns left seen from above
    alpha, pitch = mean(flown, "alpha", frames) * DEG, mean(flown, "pitch", frames) * DEG
    share, slowest = _share_stalled(flown, frames), float((way * turn).min())
    flow = float(flow_angle(flown, frames).mean()) * DEG
    seen = (
        f"{all_turns:.1f} turns at {abs(float(turn.mean())):.0f} deg/s, nose {-pitch:.0f} deg down, alpha {alpha:.0f} deg,"
        f" {100.0 * share:.0f} % of the wing separated"
    )
    if way != wanted:
        seen += ", turning away from the rudder"
    return slowest >= least and share >= STALLED and flow >= 15.0 and way == wanted, seen


def _stopped(flown: Flown) -> str:
    """How the spin stopped, from the start of the recovery to the end of the flight."""
    start = int(flown.flight.phase_start[flown.phase("recover")])
    if start < 0:
        return "no recovery flown"
    turn = np.abs(turn_about_vertical(flown, slice(start, len(flown.flight.rows)))) * DEG
    if not (turn < STOPPED).any():
        return "never stopped"
    return f"stopped in {turn[: int(np.argmax(turn < STOPPED))].sum() * FRAME / 360.0:.1f} turns"


@_judges("a spin", EVERYBODY, "spin", "spin-opposite", "spin-inverted")
def _spins(flown: Flown) -> Seen:
    was, seen = _spin(flown, "spin", SPIN_TURN)
    return was, f"{seen}; {_stopped(flown)}" if was else seen


@_judges("a spin", EVERYBODY, "spin-one-turn")
def _one_turn(flown: Flown) -> Seen:
    was, seen = _spin(flown, "spin", BEGUN)
    return was, f"{seen}; {_stopped(flown)}" if was else seen


@_judges("a flat spin", FREE, "flat-spin")
def _flat_spin(flown: Flown) -> Seen:
    was, seen = _spin(flown, "flat spin", 60.0)
    pitch = mean(flown, "pitch", later_half(flown, "flat spin")) * DEG
    return was and pitch > -FLAT, f"{seen}; {_stopped(flown)}" if was else seen


# ---- rolls, snap rolls, loops, stall turn -----------------------------------------------------------------------


def _ailerons_alone(flown: Flown) -> float:
    """Largest roll rate, deg/s, of the snap flown again with elevator and rudder left where they were."""
    table = flown.table[: flown.phase("snap") + 1].copy()
    for axis in (1, 2):
        table[-1, P.STICKS + P.STICK_COLUMNS * axis] = P.KEEP
    flight = fly(flown.plane, flown.x0, flown.sticks0, table, flown.pilot)
    return float(np.abs(flight.channel("roll rate")[flight.frames_of(len(table) - 1)]).max()) * DEG


@_judges("a snap roll", EVERYBODY, "snap-roll", "snap-roll-negative")
def _snap(flown: Flown) -> Seen:
    frames = window(flown, "snap")
    peak = float(np.abs(flown.flight.channel("roll rate")[frames]).max()) * DEG
    rolled = abs(turned(flown, "roll rate", from_to(flown, "snap", "stop"))) * DEG
    times, share = peak / _ailerons_alone(flown), _share_stalled(flown, frames)
    alpha = float(np.abs(flown.flight.channel("alpha")[frames]).max()) * DEG
    seen = (
        f"rolled {rolled:.0f} deg at up to {peak:.0f} deg/s, {times:.2f} times what ailerons alone give"
        f" ({SNAP} make a snap), alpha up to {alpha:.0f} deg, {100.0 * share:.0f} % of the wing separated"
    )
    return times >= SNAP and rolled > 300.0, seen


@_judges("a roll", EVERYBODY, "roll-low-rates", "roll-high-rates")
def _roll(flown: Flown) -> Seen:
    frames = window(flown, "roll")
    time, height = (frames.stop - frames.start) * FRAME, _height(flown, frames)
    rolled = abs(turned(flown, "roll rate", frames)) * DEG
    return rolled > 350.0, f"a whole turn in {time:.2f} s, {height:.1f} m of height"


@_judges("a roll in a straight line", EVERYBODY, "slow-roll", "four-point-roll")
def _slow_roll(flown: Flown) -> Seen:
    names = [phase.name for phase in flown.manoeuvre.phases]
    frames = from_to(flown, "roll", names[names.index("level out") - 1])
    rolled, height = abs(turned(flown, "roll rate", frames)) * DEG, _height(flown, frames)
    track = np.unwrap(flown.flight.channel("track")[frames])
    aside = float(np.abs(track - track[0]).max()) * DEG
    seen = f"{rolled:.0f} deg within {height:.0f} m of height and {aside:.0f} deg of track"
    return abs(rolled - 360.0) < 20.0 and height < 20.0 and aside < 25.0, seen


@_judges("a loop", EVERYBODY, "loop-inside", "loop-outside")
def _loop(flown: Flown) -> Seen:
    frames = window(flown, "loop")
    turns, high = abs(turned(flown, "pitch rate", frames)) * DEG, _height(flown, frames)
    height = flown.flight.channel("height")[frames]
    back = float(height[-1] - height[0])
    bank = float(flown.flight.channel("bank")[frames.stop - 1]) * DEG
    seen = f"{high:.0f} m high, ended {abs(back):.0f} m {'higher' if back > 0.0 else 'lower'}, bank {bank:.0f} deg"
    return turns > 345.0 and abs(back) < 0.6 * high and abs(bank) < 45.0, seen


@_judges("a stall turn", EVERYBODY, "stall-turn")
def _stall_turn(flown: Flown) -> Seen:
    frames = window(flown, "turn")
    axes = body_axes(flown, frames)
    through = math.acos(float(np.clip(axes[0, 0] @ axes[-1, 0], -1.0, 1.0))) * DEG
    off = math.acos(float(np.clip(axes[0, 2] @ axes[-1, 2], -1.0, 1.0))) * DEG
    slowest = float(flown.flight.channel("airspeed")[frames].min())
    seen = f"nose through {through:.0f} deg, slowest {slowest:.1f} m/s, canopy turned {off:.0f} deg away"
    return through > 120.0 and off < 60.0, seen


# ---- hover and far beyond the stall ---------------------------------------------------------------------------


@_judges("a hover", EVERYBODY, "hover")
def _hover(flown: Flown) -> Seen:
    frames = window(flown, "held", 3.0)
    pitch = float(flown.flight.channel("pitch")[frames].min()) * DEG
    climb = float(np.abs(flown.flight.channel("climb rate")[frames]).max())
    return pitch > 60.0 and climb < 3.0, f"nose at least {pitch:.0f} deg up, within {climb:.1f} m/s up or down"


@_judges("a climb out of the hover", EVERYBODY, "hover-climb-out")
def _climb_out(flown: Flown) -> Seen:
    frames = window(flown, "climb out")
    climb = float(flown.flight.channel("climb rate")[frames.stop - 1])
    pitch = float(flown.flight.channel("pitch")[frames].min()) * DEG
    return climb > 4.0 and pitch > 60.0, f"climbing at {climb:.1f} m/s after 2.5 s, nose at least {pitch:.0f} deg up"


@_judges("a harrier", FREE, "harrier", "harrier-inverted")
def _harrier(flown: Flown) -> Seen:
    frames = window(flown, "harrier")
    flow, speed = float(flow_angle(flown, frames).mean()) * DEG, mean(flown, "airspeed", frames)
    height = _height(flown, frames)
    bank = flown.flight.channel("bank")[frames]
    rock = 2.0 * float(np.unwrap(bank).std()) * DEG
    used = abs(mean(flown, "elevator stick", frames))
    seen = (
        f"nose {flow:.0f} deg off the air at {speed:.0f} m/s, height within {height:.0f} m, wings rocking by"
        f" {rock:.0f} deg, {100.0 * used:.0f} % of the elevator"
    )
    if LEAST_ALPHA <= flow < USUAL_ALPHA:
        seen += "; shallower than the usual 40 to 50 deg"
    return flow >= LEAST_ALPHA and height < 6.0, seen


@_judges("a rolling harrier", FREE, "rolling-harrier")
def _rolling_harrier(flown: Flown) -> Seen:
    frames = window(flown, "harrier")
    flow, rolled = float(flow_angle(flown, frames).mean()) * DEG, abs(turned(flown, "roll rate", frames)) * DEG
    height, speed = _height(flown, frames), mean(flown, "airspeed", frames)
    seen = (
        f"{rolled / 360.0:.1f} rolls, nose {flow:.0f} deg off the air, {speed:.0f} m/s, within {height:.0f} m of height"
    )
    return rolled > 360.0 and flow > 20.0 and height < 20.0, seen


@_judges("a wall", FREE, "wall")
def _wall(flown: Flown) -> Seen:
    frames = window(flown, "wall")
    pitch = float(flown.flight.channel("pitch")[frames].max()) * DEG
    time, height = (frames.stop - frames.start) * FRAME, _height(flown, frames)
    return pitch > 75.0 and height < 10.0, f"nose {pitch:.0f} deg up in {time:.1f} s, {height:.0f} m higher"


@_judges("a parachute", FREE, "parachute")
def _parachute(flown: Flown) -> Seen:
    frames = later_half(flown, "parachute")
    alpha, sink = mean(flown, "alpha", frames) * DEG, -mean(flown, "climb rate", frames)
    share = _share_stalled(flown, frames)
    pitch, bank = (float(np.abs(flown.flight.channel(angle)[frames]).max()) * DEG for angle in ("pitch", "bank"))
    seen = (
        f"sinking at {sink:.1f} m/s, alpha {alpha:.0f} deg, {100.0 * share:.0f} % of the wing separated, pitch within"
        f" {pitch:.0f} deg, bank within {bank:.0f} deg"
    )
    return share > 0.8 and pitch < 35.0 and bank < 30.0, seen


@_judges("a tumble", FREE, "tumble")
def _tumble(flown: Flown) -> Seen:
    frames = window(flown, "tumble")
    pitched, rolled, yawed = (
        turned(flown, rate, frames) * DEG / 360.0 for rate in ("pitch rate", "roll rate", "yaw rate")
    )
    seen = f"{abs(pitched):.1f} turns about the wing, {abs(rolled):.1f} in roll, {abs(yawed):.1f} in yaw"
    return abs(pitched) >= 1.0 and abs(pitched) > abs(rolled), seen


@_judges("a knife-edge spin", FREE, "knife-edge-spin")
def _knife_edge_spin(flown: Flown) -> Seen:
    frames = later_half(flown, "knife-edge spin")
    bank = np.abs(flown.flight.channel("bank")[frames]) * DEG
    share = float((np.abs(bank - 90.0) < 45.0).mean())
    pitch_rate, roll_rate = (abs(mean(flown, rate, frames)) * DEG for rate in ("pitch rate", "roll rate"))
    turn, slip = abs(float(turn_about_vertical(flown, frames).mean())) * DEG, abs(mean(flown, "beta", frames)) * DEG
    seen = (
        f"turning at {turn:.0f} deg/s, sideslip {slip:.0f} deg, wings upright {100.0 * share:.0f} % of the time,"
        f" {pitch_rate:.0f} deg/s about the wing against {roll_rate:.0f} in roll"
    )
    return share > 0.5 and pitch_rate > roll_rate and slip > 25.0 and turn > 60.0, seen


# ---- loads and identification ------------------------------------------------------------------------------------


@_judges("a pass", EVERYBODY, "high-speed-pass")
def _pass(flown: Flown) -> Seen:
    frames, level = window(flown, "full stick"), window(flown, "pass", 1.0)
    load, speed = float(flown.flight.channel("load z")[frames].max()), mean(flown, "airspeed", level)
    climb = abs(mean(flown, "climb rate", level))
    return climb < 2.0, f"{speed:.0f} m/s level, {load:.1f} g at full elevator"


@_judges("a sweep", EVERYBODY, "frequency-sweep")
def _sweep(flown: Flown) -> Seen:
    frames = window(flown, "sweep")
    rate = float(np.abs(flown.flight.channel("pitch rate")[frames]).max()) * DEG
    bank = float(np.abs(flown.flight.channel("bank")[frames]).max()) * DEG
    height = _height(flown, frames)
    return bank < 15.0, f"pitch rate up to {rate:.0f} deg/s, bank within {bank:.0f} deg, height within {height:.0f} m"
