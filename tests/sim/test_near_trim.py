"""Trims found from a neighbour's are those of the long search; the hover and static thrust by their own equations."""

import numpy as np
import pytest

from models.loader import load_setup
from scenarios.draws import draw, off_by, uncertain_of
from scenarios.inputs import Case, inputs_of
from sim import layout as L
from sim.build import build
from sim.equations_of_motion import derivatives
from sim.near_trim import NearTrim
from sim.trim import (
    NoRoom,
    NoTrim,
    accelerations,
    blank_state,
    hover_trim,
    level_trim,
    relax_flow,
    settle,
    static_thrust_ratio,
)

HEIGHT = 100.0


def level(plane):
    return level_trim(plane, 20.0, HEIGHT)


FLOW = slice(L.SEPARATION, L.SEPARATION + L.PAD)


def steady_to(plane, trim) -> float:
    """The worst acceleration left in a trim, in g or 10 rad/s2."""
    dx = np.zeros(L.STATE)
    derivatives(trim.x.copy(), trim.command, plane.model, plane.table, dx)
    left = accelerations(dx)
    return float(np.abs(np.delete(left, 3) if trim.rolls else left).max())


def hover(plane):
    return hover_trim(plane, HEIGHT)


@pytest.mark.parametrize("name", ["precision", "slow-3d", "corrie-310-precision"])
@pytest.mark.parametrize("long_search", [level, hover])
def test_near_is_the_long_search(name, long_search):
    # both leave less than 1e-6 g; the worst found is 1e-6 (rotor speed, rad/s, of about 500), angles 1e-9
    setup = load_setup(name)
    plane, known = build(setup), inputs_of(setup)
    near = NearTrim(plane, long_search(plane))
    found = 0
    for index in range(1, 7):
        other = build(off_by(Case(setup), draw(uncertain_of(setup), 3, index), known).setup)
        quick = near.of(other)
        if quick is None:
            continue  # beyond a limit, or two flows: the long search says which
        slow = long_search(other)
        assert quick.rolls == slow.rolls
        if np.abs(quick.x[FLOW] - slow.x[FLOW]).max() > 1e-3:
            assert steady_to(other, quick) < 1e-6 and steady_to(other, slow) < 1e-6
            continue  # two flows, both steady
        found += 1
        assert quick.x[: L.SERVO + L.CONTROLS] == pytest.approx(slow.x[: L.SERVO + L.CONTROLS], abs=3e-6)
        assert quick.command == pytest.approx(slow.command, abs=1e-7)
    assert found >= 4


def test_near_itself_is_the_same_state():
    plane = build(load_setup("precision"))
    trim = level(plane)
    assert NearTrim(plane, trim).of(plane).x == pytest.approx(trim.x, abs=1e-7)


def test_what_lies_beyond_a_limit_is_left_to_the_long_search():
    setup = load_setup("precision")
    plane = build(setup)
    near = NearTrim(plane, level(plane))
    throw = inputs_of(setup)["elevator throw"]
    short = build(throw.apply(Case(setup), 1e-5).setup)
    assert near.of(short) is None
    with pytest.raises(NoRoom):
        level(short)


@pytest.mark.parametrize("name", ["beck-150-extreme", "moor-220-precision", "scree-270-slow-3d", "extreme"])
def test_a_hover_stands_still_with_the_flow_that_began_attached(name):
    # 1e-6 g and 1e-5 rad/s2 is what the search asks of itself; nothing here knows how it went about it
    plane = build(load_setup(name))
    trim = hover(plane)
    x, dx = trim.x.copy(), np.zeros(L.STATE)
    x[L.CIRCULATION : L.SEPARATION], x[L.SEPARATION : L.SEPARATION + L.PAD] = 0.0, 1.0
    relax_flow(x, trim.command, plane.model, plane.table, dx, 4000)
    held = np.delete(dx[L.VELOCITY : L.RATES + 3], 3) if trim.rolls else dx[L.VELOCITY : L.RATES + 3]
    assert np.abs(held).max() < 2e-5
    if trim.rolls:  # the torque turns it, against full aileron
        assert dx[L.RATES] * plane.model[L.SENSE] < 0.0


def test_flow_that_circles_comes_to_rest():
    """Strips in the slow flow of a hover overshoot; they are calmed until every rate is gone (2000 laps did not do it)."""
    plane = build(load_setup("slow-3d"))
    trim = hover(plane)
    x, dx = trim.x.copy(), np.zeros(L.STATE)
    x[L.CIRCULATION : L.SEPARATION], x[L.SEPARATION : L.SEPARATION + L.PAD] = 0.0, 1.0
    relax_flow(x, trim.command, plane.model, plane.table, dx, 500)
    assert np.abs(dx[L.SEPARATION : L.SEPARATION + int(plane.model[L.N_STRIPS])]).max() < 1e-6


@pytest.mark.parametrize("name", ["precision", "corrie-310-precision"])
def test_static_thrust_is_that_of_the_whole_plane_at_rest(name):
    # the shaft alone gives the same number as the right-hand side with all surfaces: bisected there to 3000 / 2^40 rad/s
    plane = build(load_setup(name))
    x, command, dx = blank_state(0.0), np.zeros(L.COMMAND), np.zeros(L.STATE)
    low, high = 10.0, 3000.0
    for _ in range(40):
        x[L.ROTOR] = 0.5 * (low + high)
        duty = settle(x, command, plane.model, plane.table, dx) if low == 10.0 else _duty(plane, x, command, dx)
        low, high = (x[L.ROTOR], high) if duty < 1.0 else (low, x[L.ROTOR])
    thrust = plane.model[L.ACCOUNT + 6 * L.THRUST :][:3]
    assert static_thrust_ratio(plane) == pytest.approx(np.sqrt(thrust @ thrust) / (plane.mass.mass * 9.80665), rel=1e-6)


def _duty(plane, x, command, dx):
    from sim.trim import balance_rotor

    derivatives(x, command, plane.model, plane.table, dx)
    return balance_rotor(x, command, plane.model, plane.table, dx)


def test_no_hover_says_why():
    setup = load_setup("precision")
    with pytest.raises(NoTrim, match="the hover"):
        hover_trim(build(inputs_of(setup)["mass scale"].apply(Case(setup), 2.0).setup), HEIGHT)
