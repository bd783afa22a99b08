"""The standard set: every manoeuvre flies to its end with each way of flying, and is what it says or says why not.

Which way of flying does what is common practice, no source.  What pilots do and this plane does not is marked as an
expected failure with the figure that stands against it.
"""

from __future__ import annotations

import numpy as np
import pytest

from scenarios.compiler import compile_phases
from scenarios.manoeuvres import SIDES, known_manoeuvres, load_manoeuvre
from scenarios.measures import MEASURES
from scenarios.outcomes import JUDGES, Outcome, outcome
from sim import phases as P
from sim.integration import FRAME
from sim.recording import INDEX
from tests.scenarios.flying import flown, value

NAMES = [name for name, _ in known_manoeuvres()]
BOTH = [name.removesuffix("-right") for name in NAMES if name.endswith("-right")]
SETUPS = ("precision", "extreme", "slow-3d")


def became(manoeuvre: str, setup: str) -> Outcome:
    return outcome(flown(setup, manoeuvre))


def test_the_set_is_whole():
    stems = {name.removesuffix("-right").removesuffix("-left") for name in NAMES}
    assert stems == set(JUDGES)
    assert len(stems) >= 38


@pytest.mark.parametrize("setup", SETUPS)
@pytest.mark.parametrize("name", NAMES)
def test_every_manoeuvre_flies_with_every_way_of_flying(name, setup):
    flight = flown(setup, name)
    record = flight.flight
    assert len(record.rows) * FRAME <= 120.0
    seen = became(name, setup)
    # a pilot may lose a figure that his setup is not made for; nothing hits the ground, diverges or times out
    assert record.ending == "completed" or (record.ending == "lost control" and not seen.was and not seen.expected)
    assert record.channel("height").min() > 20.0
    if record.ending == "completed" and flight.phase("level out") >= 0:
        bank, path = (abs(np.degrees(record.channel(angle)[-1])) for angle in ("bank", "path angle"))
        # precision is thrown over 35 deg by its parachute, on ailerons of 14 deg, and is still coming back
        assert bank < 15.0 and path < 20.0, (bank, path)
    assert seen.words.startswith(("not " if not seen.was else "") + seen.noun + ": ")
    assert len(seen.words) < 320


@pytest.mark.parametrize("stem", BOTH)
def test_left_is_the_mirror_of_right(stem):
    right, left = (load_manoeuvre(f"{stem}-{side}")[0] for side in SIDES)
    assert [m.name for m in (right, left)] == [f"{stem}-right", f"{stem}-left"]
    a, b = compile_phases(right, right.mirrored), compile_phases(left, left.mirrored)
    aileron, elevator, rudder = (P.STICKS + axis * P.STICK_COLUMNS for axis in range(3))
    handed = {INDEX[channel] for channel in ("bank", "rolled", "turned", "roll rate", "yaw rate", "heading", "beta")}
    for one, other in zip(a, b):
        assert other[P.BANK] == -one[P.BANK] and other[P.HEADING] == -one[P.HEADING]
        assert other[P.PITCH] == one[P.PITCH] and other[P.LIMIT] == one[P.LIMIT]
        for at in (aileron, rudder):
            assert other[at + P.MODE] == one[at + P.MODE] and other[at + P.VALUE] == -one[at + P.VALUE]
        assert (other[elevator : elevator + P.STICK_COLUMNS] == one[elevator : elevator + P.STICK_COLUMNS]).all()
        assert (other[P.THROTTLE : P.THROTTLE + 3] == one[P.THROTTLE : P.THROTTLE + 3]).all()
        for i in range(P.MOST_CONDITIONS):
            channel, sign, limit = one[P.CONDITIONS + 3 * i : P.CONDITIONS + 3 * i + 3]
            flip = -1.0 if sign and channel in handed else 1.0
            assert tuple(other[P.CONDITIONS + 3 * i : P.CONDITIONS + 3 * i + 3]) == (channel, flip * sign, flip * limit)


@pytest.mark.parametrize(
    "stem, phase, channel",
    [
        ("roll-high-rates", "roll", "rolled"),
        ("slow-roll", "roll", "rolled"),
        ("snap-roll", "snap", "rolled"),
        ("spin", "spin", "turned"),
        ("knife-edge-spin", "knife-edge spin", "turned"),
    ],
)
def test_left_goes_left(stem, phase, channel):
    # definition: right positive
    for side, way in zip(SIDES, (1.0, -1.0)):
        flight = flown("extreme", f"{stem}-{side}")
        end = flight.flight.frames_of(flight.phase(phase)).stop - 1
        assert way * flight.flight.channel(channel)[end] * (-1.0 if stem == "knife-edge-spin" else 1.0) > 1.0


def test_every_measure_of_the_set_is_registered():
    for name in NAMES:
        assert set(load_manoeuvre(name)[0].measures) <= set(MEASURES)


DONE = {  # by everybody
    "level-trim", "level-trim-slow", "upline-45", "upline-45-inverted", "downline-45", "downline-45-inverted", "vertical-up",
    "vertical-down", "knife-edge-right", "knife-edge-left", "stall", "stall-turning-right", "stall-turning-left",
    "stall-aileron-right", "stall-aileron-left", "spin-right", "spin-left", "spin-opposite-right", "spin-opposite-left",
    "spin-inverted-right", "spin-inverted-left", "roll-low-rates-right", "roll-high-rates-right", "slow-roll-right",
    "slow-roll-left", "four-point-roll-right", "four-point-roll-left", "loop-inside", "loop-outside", "stall-turn-left",
    "hover", "hover-climb-out", "high-speed-pass", "frequency-sweep", "power-change",
}  # fmt: skip


@pytest.mark.parametrize("setup", SETUPS)
@pytest.mark.parametrize("name", sorted(DONE))
def test_what_every_way_of_flying_does(name, setup):
    # common practice
    if (name, setup) == ("knife-edge-spin-right", "slow-3d"):
        # 44 % of aileron against the roll still gives one; at the 45 % of the file its linkage lets the roll run away
        pytest.xfail("on the edge of a roll that runs away")
    assert became(name, setup).was, became(name, setup).words


FIGURES = ("harrier", "harrier-inverted", "rolling-harrier-right", "rolling-harrier-left", "wall", "parachute",
           "stall-accelerated-right", "stall-accelerated-left", "knife-edge-spin-right", "knife-edge-spin-left",
           "tumble-right")  # fmt: skip


@pytest.mark.parametrize("setup", ["extreme", "slow-3d"])
@pytest.mark.parametrize("name", FIGURES)
def test_what_setups_for_free_figures_do(name, setup):
    # common practice
    if (name, setup) == ("knife-edge-spin-right", "slow-3d"):
        # 44 % of aileron against the roll still gives one; at the 45 % of the file its linkage lets the roll run away
        pytest.xfail("on the edge of a roll that runs away")
    assert became(name, setup).was, became(name, setup).words


@pytest.mark.parametrize(
    "name",
    ["harrier", "harrier-inverted", "wall", "parachute", "stall-accelerated-right", "flat-spin-left", "flat-spin-right",
     "tumble-right", "tumble-left"],
)  # fmt: skip
def test_what_a_precision_setup_does_not_do(name):
    # common practice: a tenth to a fifth of the elevator throw that free figures take
    seen = became(name, "precision")
    assert not seen.was and not seen.expected
    assert seen.words.endswith("as expected of precision")


def test_extreme_rolls_first():
    # common practice: extreme setups enter rotations fastest, precision slowest
    for measure in ("time_to_90", "time_to_360"):
        times = [value(measure, setup, "roll-high-rates-right") for setup in ("extreme", "slow-3d", "precision")]
        assert times[0] <= times[1] < times[2]
    assert times[0] < times[1]


def test_low_rates_roll_slower():
    # definition: less throw
    for setup in SETUPS:
        low, high = (value("steady_roll_rate", setup, f"roll-{rates}-rates-right") for rates in ("low", "high"))
        assert low < 0.98 * high


def test_a_good_spin_stops_within_a_turn():
    # common practice: under one extra turn
    for setup in SETUPS:
        for side in SIDES:
            assert value("turns_to_stop", setup, f"spin-{side}") < 1.0


def test_full_elevator_at_speed_pulls_what_the_wing_carries():
    # arithmetic: (V / Vs)^2, up to two thirds more where a fast pull carries lift past the steady stall
    loads = {}
    for setup in SETUPS:
        loads[setup] = value("peak_load", setup, "high-speed-pass")
        limit = (value("pass_speed", setup, "high-speed-pass") / value("stall_speed", setup, "stall")) ** 2
        assert 0.85 < loads[setup] / limit < 1.67
    # common practice: extreme setups load the airframe most and soonest
    assert loads["extreme"] > 1.1 * loads["precision"]
    times = [value("time_to_peak_load", setup, "high-speed-pass") for setup in ("extreme", "precision")]
    assert times[0] < times[1]


@pytest.mark.xfail(strict=True, reason="deepest about 46 deg of alpha with the nose 38 deg down, not level")
@pytest.mark.parametrize("setup", ["extreme", "slow-3d"])
def test_a_flat_spin_lies_flat(setup):
    # common practice: fuselage level, half a turn to two turns a second
    assert became("flat-spin-left", setup).was


@pytest.mark.xfail(strict=True, reason="1.0 to 1.5 times the ailerons' rate: the stalled wing hardly drives the roll")
@pytest.mark.parametrize("name", ["snap-roll-right", "snap-roll-negative-right"])
@pytest.mark.parametrize("setup", SETUPS)
def test_a_snap_roll_is_faster_than_the_ailerons(name, setup):
    # common practice: twice the rate of the ailerons; here one and a half
    assert became(name, setup).was


@pytest.mark.xfail(strict=True, reason="29 to 32 deg with the elevator at its stop")
@pytest.mark.parametrize("setup", ["extreme", "slow-3d"])
def test_a_harrier_is_flown_at_forty_degrees(setup):
    # common practice: 40 to 50 deg
    assert value("harrier_alpha", setup, "harrier") > 40.0
