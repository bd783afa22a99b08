"""Small motions of the demo plane: two ways to the linear model, flights that follow it, and the handbook's short forms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import expm

from models.loader import load_setup
from sim import layout as L
from sim import linearisation
from sim.build import build, with_cg
from sim.frames import G, quaternion_from_euler
from sim.integration import advance_frame
from sim.linearisation import PLACE, Linear, NotSteady, jacobian, linearise, pitch_stability
from sim.modes import CLASSICAL, DUTCH_ROLL, PHUGOID, ROLL, SHORT_PERIOD, SPIRAL, Mode, body_share, modes, of_the_body
from sim.stability_derivatives import stability_derivatives
from sim.trim import Trim, level_trim, relax_flow

LONGITUDINAL, LATERAL = ["u", "w", "q", "theta"], ["v", "p", "r", "phi"]


def named(linear) -> dict[str, Mode]:
    return {mode.name: mode for mode in modes(linear)}


def at(linear, row: str, column: str) -> float:
    return float(linear.a[linear.states.index(row), linear.states.index(column)])


def plane_at(cg: float):
    """The precision setup with its CG `cg` m behind the root leading edge, on a tray longer than the plane's."""
    setup = load_setup("precision")
    items = tuple(
        replace(item, slide=(-2.0, 2.0)) if item.name == setup.moved_item else item for item in setup.airframe.items
    )
    return build(with_cg(replace(setup, airframe=replace(setup.airframe, items=items)), cg, "m"))


# ---- the linear model --------------------------------------------------------------------------------------------


def test_jacobian_of_a_known_function():
    found = jacobian(lambda y: np.array([y[0] * y[1], math.sin(y[1])]), np.array([2.0, 0.5]), np.array([1e-5, 1e-5]))
    # error: third derivative x step^2 / 6 = 1e-11, and rounding 1e-16 / 1e-5
    assert found == pytest.approx(np.array([[0.5, 2.0], [0.0, math.cos(0.5)]]), abs=1e-9)


@pytest.mark.parametrize("which, close", [("cruise", 1e-3), ("hover", 0.03)])
def test_the_settled_model_is_the_free_one_with_the_flow_eliminated(which, close, precision, slow_3d, request):
    # Two routes: flow settled at every displaced state, against the algebra of the whole Jacobian.  Cruise: the finite
    # steps of the settled model and the end of its settling, of entries up to 24.  Hover: a corner in the loads where
    # there is no sideways flow, met by steps of different size: 1 % of the largest entry beside gravity's, 3.2.
    plane = precision if which == "cruise" else slow_3d
    trim = request.getfixturevalue(which)
    settled, free = linearise(plane, trim), linearise(plane, trim, free=True)
    n = len(settled.states)
    assert free.states[:n] == settled.states
    flow = [i for i, name in enumerate(free.states) if name.startswith(("circulation", "separation"))]
    body = free.a[:n, :n] - free.a[:n, flow] @ np.linalg.solve(free.a[np.ix_(flow, flow)], free.a[flow, :n])
    assert np.abs(settled.a - body).max(axis=1) == pytest.approx(np.zeros(n), abs=close)


def test_step_sizes_do_not_matter(precision, cruise, monkeypatch):
    before = [named(linearise(precision, cruise, free)) for free in (False, True)]
    for steps in ("SETTLED_STEPS", "FREE_STEPS"):
        monkeypatch.setattr(linearisation, steps, {k: 0.5 * v for k, v in getattr(linearisation, steps).items()})
    after = [named(linearise(precision, cruise, free)) for free in (False, True)]
    # the curvature of the loads over 1e-3 rad and 0.02 m/s; rounding over the small steps of the free model
    for one, other, close in zip(before, after, (1e-3, 1e-6)):
        for name in set(one) & set(CLASSICAL):
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


@pytest.mark.parametrize("free", [False, True])
def test_level_flight_has_the_five_classical_modes(precision, cruise, free):
    found = named(linearise(precision, cruise, free).without(*PLACE))
    assert set(CLASSICAL) <= set(found)
    assert found[SHORT_PERIOD].natural_frequency > 5.0 * found[PHUGOID].natural_frequency
    for mode in found.values():
        assert sum(mode.participation.values()) == pytest.approx(1.0)


@pytest.mark.parametrize("cg", [0.14, 0.2, 0.23, 0.3])
def test_eight_roots_are_the_planes_own(cg):
    # where the short period has split, the flow takes most of one root: it is still counted
    plane = plane_at(cg)
    found = of_the_body(modes(linearise(plane, level_trim(plane, 25.0, 100.0), free=True).without(*PLACE)))
    assert sum(2 if mode.oscillates else 1 for mode in found) == 8
    assert {ROLL, DUTCH_ROLL} <= {mode.name for mode in found}
    assert min(body_share(mode) for mode in found) > 0.2
    pitching = sum((2 if mode.oscillates else 1) for mode in found if mode.takes_part()[0] in ("w", "q"))
    assert pitching >= 2


def test_flow_that_lags_leaves_what_is_slow(precision, cruise):
    # The flow takes some 30 ms to settle: a phugoid of many seconds does not feel it, 2 %; the Dutch roll, of one, a
    # little, 20 %.  Roll and short period are as fast as the flow and are not held to anything here.
    settled, free = (named(linearise(precision, cruise, free).without(*PLACE)) for free in (False, True))
    for name, close in ((PHUGOID, 0.02), (DUTCH_ROLL, 0.2)):
        assert abs(free[name].eigenvalue - settled[name].eigenvalue) < close * settled[name].natural_frequency


def test_the_hover_has_no_classical_mode(slow_3d, hover):
    linear = linearise(slow_3d, hover)
    found = modes(linear)
    assert not {mode.name for mode in found} & set(CLASSICAL)
    assert any(mode.grows for mode in found)  # nobody holds it
    # gravity: leaning by a rad accelerates sideways by one g, whatever else
    assert at(linear, "v", "lean") == pytest.approx(G, rel=0.01)
    assert at(linear, "w", "tilt") == pytest.approx(-G, rel=0.01)
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


def test_two_modes_that_fit_one_name_get_none():
    one = modes(Linear(("p", "r", "phi"), np.array([[-3.0, 0.0, 0.0], [0.0, -2.0, 0.0], [3.0, 0.0, 0.5]])))
    assert [mode.name for mode in one] == [ROLL, "convergence", SPIRAL]
    # a lag as fast as the roll: half of both modes is roll rate
    two = modes(Linear(("p", "lag", "phi"), np.array([[-2.0, 1.0, 0.0], [1.0, -2.0, 0.0], [0.0, 0.0, -0.1]])))
    assert [mode.name for mode in two] == ["convergence", "convergence", SPIRAL]


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


@pytest.mark.parametrize("speed", [16.0, 22.0, 30.0])
def test_short_period_and_roll_follow_from_their_own_derivatives(precision, speed):
    # Nelson, sections 4.4 and 5.4 (from memory): wn2 = Zw Mq - V Mw, 2 z wn = -(Zw + Mq); roll = Lp.  Our own slopes in
    # stability axes; 3 %: speed takes no part in the one, sideslip and yaw little in the other.
    trim = level_trim(precision, speed, 100.0)
    found, d = named(linearise(precision, trim)), stability_derivatives(precision, trim)
    c, force = d.values, 0.5 * d.density * d.airspeed**2 * d.area
    mass, (ix, iy, iz) = precision.mass.mass, np.diag(precision.mass.inertia)
    z_w = -(c["CL_alpha"] + c["CD"]) * force / (mass * d.airspeed)
    m_alpha = c["Cm_alpha"] * force * d.chord / iy
    m_q = c["Cm_q"] * force * d.chord**2 / (2.0 * d.airspeed * iy)
    z_q = -c["CL_q"] * force * d.chord / (2.0 * d.airspeed * mass)
    stiffness = z_w * m_q - m_alpha * (1.0 + z_q / d.airspeed)
    assert found[SHORT_PERIOD].natural_frequency == pytest.approx(math.sqrt(stiffness), rel=0.03)
    assert -2.0 * found[SHORT_PERIOD].eigenvalue.real == pytest.approx(-(z_w + m_q), rel=0.03)
    ixz = precision.mass.inertia[0, 2]
    l_p = c["Cl_p"] * force * d.span**2 / (2.0 * d.airspeed * (ix - ixz**2 / iz))
    assert found[ROLL].eigenvalue.real == pytest.approx(l_p, rel=0.03)


@pytest.mark.parametrize("speed", [14.0, 18.0, 22.0])
def test_phugoid_against_lanchester(precision, speed):
    # Lanchester, Aerodonetics (1908): period pi sqrt2 V/g at constant angle of attack.  Here the angle of attack is not
    # constant: pitch damping resists the turning path as much as stability resists alpha, which multiplies the square of
    # the frequency by static over manoeuvre stiffness, V Mw / (V Mw - Zw Mq) (about 0.45 at 14 % of static margin).
    # Short form of the four-state determinant, from memory; 15 %: thrust falls with speed, which is damping, not stiffness.
    linear = linearise(precision, level_trim(precision, speed, 100.0))
    found = named(linear)[PHUGOID]
    lanchester = math.sqrt(2.0) * G / speed  # rad/s
    static, damped = speed * at(linear, "q", "w"), at(linear, "w", "w") * at(linear, "q", "q")
    assert found.natural_frequency < lanchester
    assert found.natural_frequency == pytest.approx(lanchester * math.sqrt(static / (static - damped)), rel=0.15)


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
    # ISO 1151: positive deflections give negative moments.  Elevator: the rate of pitch per rad against Cm_de, 1 %: the
    # steps differ.  The servos of the free model stand between command and surface, so nothing answers at once there.
    linear, d = linearise(precision, cruise), stability_derivatives(precision, cruise)
    column = {name: linear.b[:, i] for i, name in enumerate(linear.controls)}
    row = {state: i for i, state in enumerate(linear.states)}
    pressure = 0.5 * d.density * d.airspeed**2 * d.area
    expected = d.values["Cm_de"] * pressure * d.chord / precision.mass.inertia[1, 1]
    assert column["elevator"][row["q"]] == pytest.approx(expected, rel=0.01)
    assert column["elevator"][row["q"]] < 0.0 < -column["aileron"][row["p"]]
    assert column["rudder"][row["r"]] < 0.0 < column["throttle"][row["rotor"]]
    free = linearise(precision, cruise, free=True)
    assert np.abs(free.b[: row["rotor"], :3]).max() == 0.0
    assert free.b[free.states.index("elevator servo"), 0] > 0.0
