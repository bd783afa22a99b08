"""Small motions of the demo plane: two ways to the linear model, flights that follow it, and the handbook's short forms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import expm
from scipy.optimize import newton

from models.loader import load_setup
from sim import layout as L
from sim import linearisation
from sim.account import loads_of
from sim.build import build, with_cg
from sim.equations_of_motion import derivatives
from sim.frames import G, quaternion_from_euler
from sim.integration import advance_frame
from sim.linearisation import (
    LAG_ORDER,
    PLACE,
    RIGID,
    Linear,
    NotSteady,
    jacobian,
    linearise,
    pitch_stability,
    steady_loads,
)
from sim.modes import CLASSICAL, DUTCH_ROLL, PHUGOID, ROLL, SHORT_PERIOD, SPIRAL, Mode, modes
from sim.stability_derivatives import stability_derivatives
from sim.trim import Trim, level_trim, relax_flow
from tests.sim.conftest import stiff
from tests.sim.isolated import NO_PROPELLER, Stream, straight

LONGITUDINAL, LATERAL = ["u", "w", "q", "theta"], ["v", "p", "r", "phi"]


def named(linear) -> dict[str, Mode]:
    return {mode.name: mode for mode in modes(linear)}


def at(linear, row: str, column: str) -> float:
    return float(linear.a[linear.states.index(row), linear.states.index(column)])


def whole_mass(plane, trim: Trim | None = None) -> np.ndarray:
    """Mass matrix (6, 6) with the added mass in it; body axes, or turned along the flight path of `trim`."""
    matrix = np.linalg.inv(plane.model[L.INVERSE_MASS : L.INVERSE_MASS + 36].reshape(6, 6))
    if trim is None:
        return matrix
    alpha = math.atan2(trim.x[L.VELOCITY + 2], trim.x[L.VELOCITY])
    turn = np.array([[math.cos(alpha), 0, math.sin(alpha)], [0, 1, 0], [-math.sin(alpha), 0, math.cos(alpha)]])
    both = np.kron(np.eye(2), turn)
    return both @ matrix @ both.T


def body(plane, trim: Trim, order: int = LAG_ORDER) -> Linear:
    """The model of the eight states of the body, the others following."""
    return linearise(plane, trim, free=True).without(*PLACE).reduced(RIGID, order)


def plane_at(cg: float):
    """The precision setup with its CG `cg` m behind the root leading edge, on a tray longer than the plane's."""
    setup = stiff(load_setup("precision"))
    items = tuple(
        replace(item, slide=(-2.0, 2.0)) if item.name == setup.moved_item else item for item in setup.airframe.items
    )
    return build(with_cg(replace(setup, airframe=replace(setup.airframe, items=items)), cg, "m"))


# ---- the linear model --------------------------------------------------------------------------------------------


def test_jacobian_of_a_known_function():
    found = jacobian(lambda y: np.array([y[0] * y[1], math.sin(y[1])]), np.array([2.0, 0.5]), np.array([1e-5, 1e-5]))
    # error: third derivative x step^2 / 6 = 1e-11, and rounding 1e-16 / 1e-5
    assert found == pytest.approx(np.array([[0.5, 2.0], [0.0, math.cos(0.5)]]), abs=1e-9)


@pytest.mark.parametrize("which, close", [("cruise", 1e-3), ("hover", 0.03), ("piston", 1e-3)])
def test_the_settled_model_is_the_free_one_with_what_is_fast_eliminated(
    which, close, precision, slow_3d, piston, request, monkeypatch
):
    # Two routes: flow and servos settled at every displaced state, against the algebra of the whole Jacobian.  Level: the
    # finite steps of the settled model and the end of its settling, of entries up to 24.  Hover: a corner in the loads
    # where there is no sideways flow.  Over it the slope of the pitching moment with w is -0.98 to -1.09 by the step, 8 to
    # 0.5 cm/s, so that a quarter of the usual one is taken; 1 % of the largest entry beside gravity's, 3.2.  Controls: the
    # same as a share of each column.
    if which == "hover":
        finer = {kind: 0.25 * step for kind, step in linearisation.SETTLED_STEPS.items()}
        monkeypatch.setattr(linearisation, "SETTLED_STEPS", finer)
    plane = {"cruise": precision, "hover": slow_3d, "piston": piston}[which]
    trim = level_trim(piston, 22.0, 100.0) if which == "piston" else request.getfixturevalue(which)
    settled, free = linearise(plane, trim), linearise(plane, trim, free=True)
    assert ("acting throttle" in free.states) == (which == "piston")
    n = len(settled.states)
    quick = free.without(*PLACE).reduced(settled.states)
    assert free.states[:n] == settled.states == quick.states
    assert np.abs(settled.a - quick.a).max(axis=1) == pytest.approx(np.zeros(n), abs=close)
    assert np.abs((settled.b - quick.b) / np.abs(settled.b).max(axis=0)).max() < close


def test_step_sizes_do_not_matter(precision, cruise, monkeypatch):
    before = [named(linearise(precision, cruise)), named(body(precision, cruise))]
    for steps in ("SETTLED_STEPS", "FREE_STEPS"):
        monkeypatch.setattr(linearisation, steps, {k: 0.5 * v for k, v in getattr(linearisation, steps).items()})
    after = [named(linearise(precision, cruise)), named(body(precision, cruise))]
    # the curvature of the loads over 1e-3 rad and 0.02 m/s; rounding over the small steps of the free model
    for one, other, close in zip(before, after, (1e-3, 1e-6)):
        for name in CLASSICAL:
            assert abs(one[name].eigenvalue - other[name].eigenvalue) < close * abs(one[name].eigenvalue)


@pytest.mark.parametrize("which", ["cruise", "hover"])
def test_small_flights_follow_the_linear_model(which, precision, slow_3d, request):
    # Flights of the whole plane, displaced this way and that and integrated, against the exponential of the Jacobian; of
    # the two the half difference, for which the bending of the loads cancels.  0.5 %: displacements are 1 cm/s and
    # 1 mrad/s, and the hover has a corner where no air comes from the side.
    plane = precision if which == "cruise" else slow_3d
    trim = request.getfixturevalue(which)
    free = linearise(plane, trim, free=True)
    rng = np.random.default_rng(1)
    body = len(linearisation.RIGID)
    delta = np.zeros(len(free.states))
    delta[:6] = 1e-3 * rng.normal(size=6) * [10, 10, 10, 1, 1, 1]

    def flown(side):
        x, k, stage = trim.x.copy(), np.zeros((4, L.STATE)), np.zeros(L.STATE)
        x[L.VELOCITY : L.VELOCITY + 3] += side * delta[:3]
        x[L.RATES : L.RATES + 3] += side * delta[3:6]
        for _ in range(50):
            advance_frame(x, trim.command, plane.model, plane.table, 0, k, stage)
        return x

    moved = 0.5 * (flown(1.0) - flown(-1.0))
    expected = (expm(0.5 * free.a) @ delta)[:body]
    scale = np.abs(expected[:6]).max()
    assert np.abs(moved[L.VELOCITY : L.VELOCITY + 3] - expected[:3]).max() < 0.005 * scale
    assert np.abs(moved[L.RATES : L.RATES + 3] - expected[3:6]).max() < 0.005 * scale
    # attitude: the turn from the undisturbed to the displaced one, about the body axes
    angles = dict(zip(free.states, expm(0.5 * free.a) @ delta))
    q0 = trim.x[L.QUATERNION : L.QUATERNION + 4]
    dq = moved[L.QUATERNION : L.QUATERNION + 4]
    about_y = 2.0 * (q0[0] * dq[2] - q0[2] * dq[0] + q0[3] * dq[1] - q0[1] * dq[3])
    assert about_y == pytest.approx(angles["tilt" if which == "hover" else "theta"], abs=0.005 * scale)


def test_a_symmetric_plane_without_power_does_not_mix_pitch_with_roll_and_yaw(precision, cruise):
    # Mirror symmetry: exact but for the sums' rounding (1e-9) over steps of 1e-3 and the end of the settling flow.
    plane = replace(precision, table=np.zeros_like(precision.table), known={})
    x, command = cruise.x.copy(), np.zeros(L.COMMAND)
    command[L.ELEVATOR] = cruise.command[L.ELEVATOR]
    x[L.VELOCITY + 1] = x[L.ROTOR] = 0.0
    x[L.SERVO : L.SERVO + L.CONTROLS] = command[: L.CONTROLS]
    x[L.QUATERNION : L.QUATERNION + 4] = quaternion_from_euler(0.0, math.atan2(x[L.VELOCITY + 2], x[L.VELOCITY]), 0.0)
    relax_flow(x, command, plane.model, plane.table, np.zeros(L.STATE), 6000)
    linear = linearise(plane, Trim(x, command, 0.0)).without("rotor")
    for rows, columns in ((LONGITUDINAL, LATERAL), (LATERAL, LONGITUDINAL)):
        assert max(abs(at(linear, row, column)) for row in rows for column in columns) < 1e-5
    assert set(named(linear)) == set(CLASSICAL)
    for mode in modes(linear):
        share = sum(mode.participation[state] for state in LONGITUDINAL)
        assert min(share, 1.0 - share) < 1e-6


# ---- names --------------------------------------------------------------------------------------------------------


ORDERS = (0, 1, 2)  # of the lag: flow at rest at every instant, and following with it


@pytest.mark.parametrize("order", ORDERS)
def test_level_flight_has_the_five_classical_modes(precision, cruise, order):
    found = named(body(precision, cruise, order))
    assert set(found) == set(CLASSICAL)
    assert found[SHORT_PERIOD].natural_frequency > 5.0 * found[PHUGOID].natural_frequency
    for mode in found.values():
        assert sum(mode.participation.values()) == pytest.approx(1.0)


@pytest.mark.parametrize("speed", [14.0, 20.0, 25.0, 30.0])
@pytest.mark.parametrize("cg", [0.14, 0.18, 0.2, 0.22])
def test_names_do_not_hang_on_speed_and_cg(cg, speed):
    # Eight states, eight roots: whatever roots the flow has, roll, Dutch roll, spiral and phugoid are found, and of pitch
    # a short period or, with the CG aft, the two roots that it splits into (Nelson 4.4, from memory).  Nearer to the
    # manoeuvre point, 0.235 m and beyond, the slow one of these takes part in the phugoid.
    plane = plane_at(cg)
    trim = level_trim(plane, speed, 100.0)
    found = modes(body(plane, trim))
    names = {mode.name for mode in found}
    assert {ROLL, DUTCH_ROLL, SPIRAL, PHUGOID} <= names
    rest = [mode for mode in found if mode.name not in (ROLL, DUTCH_ROLL, SPIRAL, PHUGOID)]
    assert [mode.name for mode in rest] in ([SHORT_PERIOD], ["convergence"] * 2)
    assert min(mode.participation["w"] + mode.participation["q"] for mode in rest) > 0.75


def test_order_by_order_the_reduced_model_tends_to_slow_roots_of_the_whole(precision, cruise):
    # Phugoid, spiral and Dutch roll are slow beside the flow (30 ms), whose lag is a small number for them: each order
    # leaves a part of the last one's error, down to the rounding of the Jacobian (1e-4).
    whole = np.linalg.eigvals(linearise(precision, cruise, free=True).without(*PLACE).a)
    for name in (PHUGOID, DUTCH_ROLL, SPIRAL):
        own = [named(body(precision, cruise, order))[name].eigenvalue for order in ORDERS]
        error = [min(abs(whole - value)) / abs(value) for value in own]
        assert all(after < max(0.5 * before, 1e-4) for before, after in zip(error, error[1:])), (name, error)
        assert error[2] < 1e-3


def test_control_columns_of_the_reduced_model_are_those_of_a_slow_answer():
    # x' = -x + z, z' = (u - z) / lag.  After a step of u the slow part is z = u: order 0 has b = 1, and as z does not
    # depend on x no order changes it.  With z' = (x + u - z) / lag the root is that of s (s + 1 / lag + 1) = 0 next to 0
    # and x rises by u / (1 + lag) = u (1 - lag + lag2 ...).
    lag = 0.01
    free = Linear(("x", "z"), np.array([[-1.0, 1.0], [0.0, -1.0 / lag]]), ("u",), np.array([[0.0], [1.0 / lag]]))
    bound = replace(free, a=np.array([[-1.0, 1.0], [1.0 / lag, -1.0 / lag]]))
    for order in ORDERS:
        assert free.reduced(("x",), order).b[0, 0] == pytest.approx(1.0, abs=1e-12)
        assert bound.reduced(("x",), order).a[0, 0] == pytest.approx(0.0, abs=1e-12)
    found = [bound.reduced(("x",), order).b[0, 0] for order in ORDERS]
    assert found == pytest.approx([1.0, 1.0 - lag, 1.0 - lag + lag**2], abs=1e-12)


def test_flow_that_lags_leaves_what_is_slow(precision, cruise):
    # The flow takes some 30 ms to settle: phugoid and Dutch roll (19 s and 1 s) do not feel it.  Nor does the roll, for
    # another reason: half of the load of a strip without downwash, which is there at once, is by chance that of the
    # settled wing.  3 %.  The short period does: see below.
    settled, lagging = (named(body(precision, cruise, order)) for order in (0, 2))
    for name in (PHUGOID, DUTCH_ROLL, ROLL):
        assert abs(lagging[name].eigenvalue - settled[name].eigenvalue) < 0.03 * settled[name].natural_frequency


# R. T. Jones, NACA TR-681 (from memory): lift after a sudden change of incidence is 1 - a exp(-b s) of what it becomes,
# s in semi-chords travelled; a and b by aspect ratio
JONES = {3: (0.283, 0.540), 6: (0.361, 0.381)}


@pytest.mark.parametrize("aspect, at_first, later", [(3, 0.26, 0.06), (6, 0.1, 0.04)])
def test_lift_of_a_wing_after_a_sudden_change_of_incidence(aspect, at_first, later):
    # Of the section's load half comes at once, of aspect ratio 3 nearly all of the wing's (0.97 for 0.72): the lag has one
    # state a strip and knows no aspect ratio.  From two semi-chords on within 0.06.
    stream = Stream((straight(aspect),))
    before, x, dx = stream.flow(0.0), stream.flow(0.02), np.zeros(L.STATE)
    final = stream.loads(0.02)[2]
    x[L.CIRCULATION :] = before[L.CIRCULATION :]
    travel = 0.01  # semi-chords a step
    step = travel * 0.5 * stream.area / stream.span / stream.speed
    a, b = JONES[aspect]
    for n in range(1001):
        derivatives(x, np.zeros(L.COMMAND), stream.model, NO_PROPELLER, dx)
        lift = loads_of(stream.model)[: L.FUSELAGE, 2].sum() / final
        close = later if n * travel >= 2.0 else at_first
        assert lift == pytest.approx(1.0 - a * math.exp(-b * n * travel), abs=close)
        x[L.CIRCULATION :] += step * dx[L.CIRCULATION :]


def lagging_pair(plane, trim: Trim, start: complex) -> tuple[complex, complex]:
    """The two roots near `start` of alpha and pitch rate with the lags of TR-681, and downwash that takes its way to the tail."""
    airspeed = float(np.linalg.norm(trim.x[L.VELOCITY : L.VELOCITY + 3]))

    def slope(state: int, step: float) -> np.ndarray:
        ends = []
        for side in (step, -step):
            x = trim.x.copy()
            x[state] += side
            ends.append(steady_loads(plane, x, trim.command)[:, [2, 4]])
        return (ends[0] - ends[1]) / (2.0 * step)

    by = np.stack([slope(L.VELOCITY + 2, 0.1), slope(L.RATES + 1, 0.02)], axis=2)  # part, load, motion
    wing, tail = by[L.WING_LEFT] + by[L.WING_RIGHT], by[L.STABILISER]
    rest = by.sum(axis=0) - wing - tail
    rest[0, 1] += plane.mass.mass * airspeed
    strips = plane.strips["stabiliser"]
    arm = -float(np.mean(plane.model[L.VX :][strips]))
    alone = tail[:, 1] / arm  # the tail per w, without downwash
    washed = alone - tail[:, 0]

    def left(root: complex) -> complex:
        def share(aspect: int, chord: float) -> complex:
            a, b = JONES[aspect]
            return 1.0 - a * root / (root + b * 2.0 * airspeed / chord)

        on_wing, on_tail = share(6, plane.mac), share(3, float(np.mean(plane.model[L.CHORD :][strips])))
        fresh = alone - washed * on_wing * np.exp(-root * arm / airspeed)
        loads = rest + wing * on_wing + np.stack([fresh, tail[:, 1]], axis=1) * on_tail
        return np.linalg.det(root * whole_mass(plane)[np.ix_([2, 4], [2, 4])] - loads)

    one = newton(left, start, tol=1e-9)
    if abs(one.imag) > 1e-4:
        return one, one.conjugate()
    other = newton(lambda root: left(root) / (root - one), start.conjugate(), tol=1e-9)
    assert abs(other.imag) < 1e-4 and abs(left(other)) < 1e-6
    return one, other


def swing(roots) -> np.ndarray:
    """Undamped frequency (rad/s) and damping ratio of two roots; the latter is above 1 where they are real."""
    frequency = math.sqrt(np.prod(roots).real)
    return np.array([frequency, -0.5 * np.sum(roots).real / frequency])


@pytest.mark.parametrize("cg", [0.14, None, 0.18, 0.2])
@pytest.mark.parametrize("speed", [16.0, 25.0, 30.0])
def test_short_period_of_the_lagging_flow(precision, cg, speed):
    # The same slopes of loads with textbook lags on them: wing of aspect ratio 6 for 5.7, tail of 3 for 3.8.  Frequency
    # and damping are compared, sum and product of two roots: near the CG where the pair splits, roots move with the
    # square root of either.  9 % in both: the lag taken to second order, where it is no small
    # number (found 4 to 9 % low, order 1 up to 13, order 0 up to 24; the whole state up to 9 high); those lags themselves;
    # and a downwash that here reaches the tail without a delay of its own.
    plane = precision if cg is None else plane_at(cg)
    trim = level_trim(plane, speed, 100.0)
    pitching = []
    for order in ORDERS:
        own = [m for m in modes(body(plane, trim, order)) if m.participation["w"] + m.participation["q"] > 0.75]
        pitching.append([root for m in own for root in {m.eigenvalue, m.eigenvalue.conjugate()}])
    truth = swing(lagging_pair(plane, trim, pitching[1][0] + 0.5j))
    errors = [swing(roots) / truth - 1.0 for roots in pitching]
    assert np.abs(errors[2]).max() < 0.09
    for less, more in zip(errors, errors[1:]):
        assert (np.abs(more) < np.abs(less)).all()


def test_the_hover_has_no_classical_mode(slow_3d, hover):
    linear = linearise(slow_3d, hover)
    found = modes(linear)
    assert not {mode.name for mode in found} & set(CLASSICAL)
    assert any(mode.grows for mode in found)  # nobody holds it
    # gravity: leaning by a rad accelerates sideways by one g, whatever else, less what the air beside the plane resists:
    # weight is that of the mass alone
    weight = slow_3d.mass.mass * G * np.linalg.inv(whole_mass(slow_3d))
    assert at(linear, "v", "lean") == pytest.approx(weight[1, 1], rel=0.01)
    assert at(linear, "w", "tilt") == pytest.approx(-weight[2, 2], rel=0.01)
    assert {"neutral"} <= {mode.name for mode in modes(linearise(slow_3d, hover, free=True))}


def test_a_hover_that_rolls_is_refused(slow_3d, hover):
    with pytest.raises(NotSteady, match="roll"):
        linearise(slow_3d, replace(hover, rolls=True))


def test_a_climb_has_the_classical_modes(precision):
    trim = level_trim(precision, 22.0, 100.0, climb=math.radians(10.0))
    assert set(CLASSICAL) <= set(named(linearise(precision, trim)))


def test_a_swing_of_speed_and_alpha_has_no_classical_name():
    swing = Linear(("u", "w"), np.array([[-1.0, 2.0], [-2.0, -1.0]]))
    assert [mode.name for mode in modes(swing)] == ["oscillation"]


def test_a_root_that_no_state_has_for_itself_gets_no_name():
    one = modes(Linear(("p", "r", "phi"), np.array([[-3.0, 0.0, 0.0], [0.0, -2.0, 0.0], [3.0, 0.0, 0.5]])))
    assert [mode.name for mode in one] == [ROLL, "convergence", SPIRAL]
    # roots of pitch as fast as the roll, that swing with it: no mode has more than 0.4 of the roll rate
    mixed = np.array([[-2.0, 0.7, 0.7, 0.0], [0.7, -2.5, 0.0, 0.0], [0.7, 0.0, -1.5, 0.0], [0.0, 0.0, 0.0, -0.1]])
    two = modes(Linear(("p", "q", "w", "phi"), mixed))
    assert [mode.name for mode in two] == ["convergence"] * 3 + [SPIRAL]


def test_participation_is_counted_along_the_flight_path():
    # the same plane in axes turned by 0.4 rad: names and shares stay, for the angle of attack goes with the model
    rng = np.random.default_rng(2)
    a = rng.normal(size=(4, 4))
    turn = np.eye(4)
    turn[:2, :2] = [
        [math.cos(0.4), -math.sin(0.4)],
        [math.sin(0.4), math.cos(0.4)],
    ]  # body u, w from those along the path
    states = ("u", "w", "q", "theta")
    for one, other in zip(modes(Linear(states, a)), modes(Linear(states, turn @ a @ turn.T, alpha=0.4))):
        assert one.eigenvalue == pytest.approx(other.eigenvalue)
        assert one.participation == pytest.approx(other.participation)


def test_times_of_a_mode():
    swing = Mode("", complex(-0.3, 0.4), {})
    assert (swing.natural_frequency, swing.damping_ratio) == pytest.approx((0.5, 0.6))
    assert (swing.period, swing.time_to_half_or_double) == pytest.approx((2 * math.pi / 0.4, math.log(2) / 0.3))
    creep = Mode("", complex(0.1, 0.0), {})
    assert creep.grows and creep.period is None and creep.damping_ratio is None


# ---- short forms of the handbook ---------------------------------------------------------------------------------


def pitch_loads(plane, d) -> np.ndarray:
    """Force down and pitching moment (rows) per u, w and q along the flight path, from the derivatives `d`."""
    c, force = d.values, 0.5 * d.density * d.airspeed**2 * d.area
    half = 0.5 * d.chord / d.airspeed
    return force * np.array(
        [
            [
                -(2.0 * c["CL"] + c["CL_u"]) / d.airspeed,
                -(c["CL_alpha"] + c["CD"]) / d.airspeed,
                -c["CL_q"] * half + plane.mass.mass * d.airspeed / force,
            ],
            [d.chord * c["Cm_u"] / d.airspeed, d.chord * c["Cm_alpha"] / d.airspeed, d.chord * c["Cm_q"] * half],
        ]
    )


@pytest.mark.parametrize("speed", [16.0, 22.0, 30.0])
def test_short_period_and_roll_follow_from_their_own_derivatives(precision, speed):
    # Nelson, sections 4.4 and 5.4 (from memory): two states, heave and pitch rate, and roll rate alone, with the whole
    # mass matrix where the book divides by mass and inertia (it couples heave and pitch: added mass lies behind the CG).
    # Flow settled.  Our own slopes in stability axes; 3 %: speed takes no part in the one, sideslip and yaw little in the
    # other.
    trim = level_trim(precision, speed, 100.0)
    found, d = named(linearise(precision, trim)), stability_derivatives(precision, trim)
    mass = whole_mass(precision, trim)
    block = np.linalg.solve(mass[np.ix_([2, 4], [2, 4])], pitch_loads(precision, d)[:, 1:])
    assert found[SHORT_PERIOD].natural_frequency == pytest.approx(math.sqrt(np.linalg.det(block)), rel=0.03)
    assert -2.0 * found[SHORT_PERIOD].eigenvalue.real == pytest.approx(-np.trace(block), rel=0.03)
    force = 0.5 * d.density * d.airspeed**2 * d.area
    l_p = d.values["Cl_p"] * force * d.span**2 / (2.0 * d.airspeed) * np.linalg.inv(mass)[3, 3]
    assert found[ROLL].eigenvalue.real == pytest.approx(l_p, rel=0.03)


@pytest.mark.parametrize("speed", [14.0, 18.0, 22.0])
def test_phugoid_against_its_short_form(precision, speed):
    # Lanchester, Aerodonetics (1908): period pi sqrt2 V/g at constant angle of attack, an upper bound here.  The angle of
    # attack is not constant but what the loads of heave and pitch, at rest at every instant, make of the speed: q = k u and
    # wn2 = g k (the four-state determinant with the short period settled, from memory; masses cancel).  Found 0.72 to 0.73
    # of Lanchester's: pitch damping resists the turning path, and against that the nose comes up with speed, for the
    # thrust, which passes above the CG, falls off (7, 12 and 17 % of the stiffness).  2 %: the rotor, and the yaw that
    # pitching sets off.
    trim = level_trim(precision, speed, 100.0)
    found = named(linearise(precision, trim))[PHUGOID]
    loads = pitch_loads(precision, stability_derivatives(precision, trim))
    turning = -np.linalg.solve(loads[:, 1:], loads[:, 0])[1]  # pitch rate per m/s of speed
    assert found.natural_frequency < math.sqrt(2.0) * G / speed
    assert found.natural_frequency == pytest.approx(math.sqrt(G * turning), rel=0.02)


def test_phugoid_tends_to_lanchester_as_the_cg_goes_forward():
    # A forward CG holds the angle of attack, as Lanchester has it.  At most as fast as his; 0.7 to 1 of it with the CG
    # 0.6 of MAC ahead of the wing's quarter chord: pitch damping and thrust that falls with speed take their share.
    share = []
    for cg in (-0.1, 0.05, 0.16):
        plane = plane_at(cg)
        found = named(linearise(plane, level_trim(plane, 20.0, 100.0)))[PHUGOID]
        share.append(found.natural_frequency * 20.0 / (math.sqrt(2.0) * G))
    assert share[2] < share[1] < share[0] < 1.0
    assert share[0] > 0.7


def test_short_period_at_the_neutral_point(precision, cruise):
    # With no pitch stiffness the two roots are those of lift and of pitch damping: their product is Zw Mq (Nelson 4.4).
    # Neutral point with power, from the slope of our own moments, to 5 %: two states of eight.
    d = stability_derivatives(precision, cruise).values
    point = precision.cg_station - d["Cm_alpha"] / d["CL_alpha"] * precision.mac
    plane = plane_at(point)
    trim = level_trim(plane, 22.0, 100.0)
    there = stability_derivatives(plane, trim).values
    assert there["Cm_alpha"] == pytest.approx(
        0.0, abs=0.02 * there["CL_alpha"]
    )  # 2 % of MAC: another trim, other slopes
    linear = linearise(plane, trim)
    fast = [m for m in modes(linear) if m.participation["w"] + m.participation["q"] > 0.75]
    product = math.prod(m.natural_frequency ** (2 if m.oscillates else 1) for m in fast)
    stiffness = at(linear, "w", "w") * at(linear, "q", "q") - at(linear, "w", "q") * at(linear, "q", "w")
    assert product == pytest.approx(stiffness, rel=0.05)
    assert stiffness == pytest.approx(at(linear, "w", "w") * at(linear, "q", "q"), rel=0.1)


def test_behind_the_manoeuvre_point_the_plane_diverges_at_the_rate_of_two_states():
    # Nelson 4.4 (from memory): static margin at which wn2 = Zw Mq - V Mw vanishes.  Behind it one root of the two states
    # grows; ahead of it and behind the neutral point only what is slow (speed and path) may.
    ahead, behind = plane_at(0.235), plane_at(0.30)
    for plane, beyond in ((ahead, False), (behind, True)):
        trim = level_trim(plane, 25.0, 100.0)
        assert pitch_stability(plane, trim).static_margin < 0.0
        linear = linearise(plane, trim)
        trace = at(linear, "w", "w") + at(linear, "q", "q")
        stiffness = at(linear, "w", "w") * at(linear, "q", "q") - at(linear, "w", "q") * at(linear, "q", "w")
        assert (stiffness < 0.0) == beyond
        growing = [m for m in modes(linear) if m.grows and m.participation["w"] + m.participation["q"] > 0.5]
        assert bool(growing) == beyond
        if beyond:
            assert SHORT_PERIOD not in named(linear) and PHUGOID not in named(linear)
            root = 0.5 * trace + math.sqrt(0.25 * trace**2 - stiffness)
            # speed and path take up to a fifth of this mode: 15 %
            assert growing[0].time_to_half_or_double == pytest.approx(math.log(2.0) / root, rel=0.15)


def test_spiral_and_dutch_roll_follow_from_the_lateral_block(precision, cruise):
    # Nelson 5.4 (from memory): wn2 of the Dutch roll = N_v V + Y_v N_r; 10 %: bank is left out.
    linear = linearise(precision, cruise)
    short = at(linear, "v", "v") * at(linear, "r", "r") - at(linear, "v", "r") * at(linear, "r", "v")
    found = named(linear)
    assert found[DUTCH_ROLL].natural_frequency == pytest.approx(math.sqrt(short), rel=0.1)
    assert abs(found[SPIRAL].eigenvalue) < 0.1 * found[DUTCH_ROLL].natural_frequency


def test_the_neutral_points_lift_slope_is_that_of_the_derivatives(precision, cruise):
    # the same loads by two functions, both on the density at the trim's height (1 % below that at sea level at 100 m)
    slope = stability_derivatives(precision, cruise, power=False).values["CL_alpha"]
    assert pitch_stability(precision, cruise).lift_slope == pytest.approx(slope, rel=2e-3)


def test_control_columns_are_the_control_derivatives(precision, cruise):
    # ISO 1151: positive deflections give negative moments.  Elevator: the rate of pitch per rad against Cm_de and CL_de
    # through the whole mass matrix, 1 %: the steps differ.  The servos of the free model stand between command and
    # surface, so nothing answers at once there.
    linear, d = linearise(precision, cruise), stability_derivatives(precision, cruise)
    column = {name: linear.b[:, i] for i, name in enumerate(linear.controls)}
    row = {state: i for i, state in enumerate(linear.states)}
    pressure = 0.5 * d.density * d.airspeed**2 * d.area
    loads = np.zeros(6)
    loads[[0, 2, 4]] = pressure * np.array([-d.values["CD_de"], -d.values["CL_de"], d.values["Cm_de"] * d.chord])
    expected = np.linalg.solve(whole_mass(precision, cruise), loads)[4]
    assert column["elevator"][row["q"]] == pytest.approx(expected, rel=0.01)
    assert column["elevator"][row["q"]] < 0.0 < -column["aileron"][row["p"]]
    assert column["rudder"][row["r"]] < 0.0 < column["throttle"][row["rotor"]]
    free = linearise(precision, cruise, free=True)
    assert np.abs(free.b[: row["rotor"], :3]).max() == 0.0
    assert free.b[free.states.index("elevator servo"), 0] > 0.0
