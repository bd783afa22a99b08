"""Section loads of a symmetrical aerofoil with a plain flap, over the whole circle of angles of attack.

Normal and chordwise force from three pieces that blend by the separation point f
(1 attached, 0 separated; Kirchhoff and Beddoes):

* attached flow: lift slope a0, leading-edge suction, Glauert's flap rotation;
* separated flow: a bent flat plate, each part loaded along its own normal (Hoerner);
* skin friction along the local flow.

Reversed flow uses the same pieces with a sharp leading edge, which makes no suction.  The
angle itself is never formed: sine and cosine come from the velocity components, so nothing
here branches and the strip loop compiles to vector code.

Sources: Leishman & Beddoes, J. Am. Helicopter Soc. 34(3), 1989 (separation law);
Hoerner, Fluid-Dynamic Drag, 1965 (plate normal force); Sheldahl & Klimas,
SAND80-2114, 1981, and UIUC Low-Speed Airfoil Tests vol. 1 and 3 (the constants
below were set on these).  Valid for Reynolds numbers 1e5 to 2e6, thickness 8 to 15 %.
"""

from __future__ import annotations

import functools
import math

import numpy as np

from sim.compiled import formula

LIFT_SLOPE = 0.98 * 2.0 * math.pi  # per rad, finite thickness and boundary layer in balance
BREAK_LOW = 0.138  # sin(alpha) where separation passes 70 % chord, Reynolds number towards zero
BREAK_RISE = 0.121  # its rise towards high Reynolds number
BREAK_HALF = 6.0e5  # Reynolds number of half that rise
CREEP_WIDTH = 0.075  # sin(alpha) scale of trailing-edge separation before the break
BREAK_WIDTH_PER_THICKNESS = 0.21  # thin sections let go abruptly
REVERSED_BREAK, REVERSED_CREEP, REVERSED_WIDTH = 0.15, 0.03, 0.03  # sharp edge forward
SUCTION = 0.98  # share of the leading-edge suction that attached flow realises; none with the sharp edge forward
FRICTION_CONSTANT, FRICTION_LAMINAR = 0.0040, 2.7  # cd0 = constant + laminar / sqrt(Re)
FRICTION_REVERSED = 2.0  # cd at 180 deg over that at 0, NACA TN-3361
PLATE_A, PLATE_B = 0.44, 0.56  # Hoerner plate: sin/(0.222 sin + 0.283), scaled to 1 broadside
PLATE_2D = 1.8  # broadside in two dimensions, SAND80-2114
FLAP_SHARE_OF_STALL = (
    0.35  # of the rotation that loads the leading edge: plain flaps at 60 deg stall some 5 deg earlier (from memory)
)
FLAP_DRAG = 1.15  # drag of a deflected flap on its own area, times sin^2 (NACA TN-2080)
HINGE_REALISED = 0.7  # of thin-aerofoil hinge moments; real sections 0.5 to 0.8 (trailing-edge angle, boundary layer)
FLAP_PLATE_ARM = 0.45  # of the flap's chord behind its hinge, separated (between 1/2 broadside and 1/4 edge-on)
VISCOSITY = 1.46e-5  # m2/s, kinematic, sea level


@formula
def exp_negative(x):
    """exp(-x) for x >= 0 within 2e-7 (zero beyond 16), without a library call: a fifth-order series, squared five times."""
    y = min(x, 16.0) * (-1.0 / 32.0)
    e = 1.0 + y * (1.0 + y * (0.5 + y * (1.0 / 6.0 + y * (1.0 / 24.0 + y * (1.0 / 120.0)))))
    e = e * e
    e = e * e
    e = e * e
    e = e * e
    return e * e


@formula
def attached_share(f):
    """How much of the attached-flow load is left at separation point f: Kirchhoff's factor, scaled to 0..1."""
    k = 0.5 * (1.0 + math.sqrt(f))
    return (k * k - 0.25) * (4.0 / 3.0)


@formula
def plate_force(sin_a, broadside):
    """Normal force coefficient of a separated plate: Hoerner's two-dimensional one, sin / (0.222 + 0.283 sin), for small
    angles, `broadside` (what its aspect ratio makes of it) at 90 deg."""
    level = PLATE_2D + (broadside - PLATE_2D) * sin_a * sin_a
    return level * sin_a / (PLATE_A * abs(sin_a) + PLATE_B)


@formula
def steady_separation(sin_a, cos_a, speed_chord, break_width, flap_turn):
    """Separation point that a steady flow would settle at (0..1).

    `speed_chord` is speed times chord (m2/s), `break_width` a sine, `flap_turn` the
    flap's rotation of the zero-lift line (rad, trailing edge down positive).
    """
    turn = FLAP_SHARE_OF_STALL * flap_turn
    sin_t = turn * (1.0 - turn * turn * (1.0 / 6.0))
    cos_t = 1.0 - 0.5 * turn * turn
    reynolds = speed_chord * (1.0 / VISCOSITY)
    forward = cos_a > 0.0
    s = abs(sin_a * cos_t + cos_a * sin_t) if forward else abs(sin_a)
    at = BREAK_LOW + BREAK_RISE * reynolds / (reynolds + BREAK_HALF) if forward else REVERSED_BREAK
    before = CREEP_WIDTH if forward else REVERSED_CREEP
    after = break_width if forward else REVERSED_WIDTH
    e = exp_negative(abs(s - at) / (before if s < at else after))
    return 1.0 - 0.3 * e if s < at else 0.7 * e


@formula
def section_loads(
    sin_a, cos_a, sin_s, f, speed_chord, lift_slope, plate_normal, flap_turn, flap_chord, flap_sin, flap_cos
):
    """Normal force, chordwise force (forward), drag along the flow, and moment about c/4 (coefficients on chord).

    `sin_s` is the sine of the angle at the bound vortex, where leading-edge suction is
    made (`sin_a` itself in two dimensions); `f` is the separation point as it is now; `flap_chord` is flap chord over chord,
    `flap_sin` and `flap_cos` belong to the flap's true deflection.
    """
    forward = cos_a > 0.0
    turn_sin = flap_turn * (1.0 - flap_turn * flap_turn * (1.0 / 6.0))
    share = attached_share(f)
    loose = 1.0 - share
    # attached: the flap turns the zero-lift line only when it trails
    circulatory = lift_slope * (sin_a + (cos_a * turn_sin if forward else 0.0))
    suction = circulatory * sin_s * (SUCTION if forward else 0.0)
    # separated: main plate and flap plate, each along its own normal
    sin_f = sin_a * flap_cos + cos_a * flap_sin
    straight = plate_force(sin_a, plate_normal)
    flap = flap_chord * plate_force(sin_f, plate_normal)
    plate = (1.0 - flap_chord) * straight + flap * flap_cos
    # the flap bends the flow ahead of it as well, the less the more broadside the plate stands
    bent = sin_a * (1.0 - 0.5 * flap_turn * flap_turn) + cos_a * turn_sin
    plate += (cos_a * cos_a if forward else 0.0) * (plate_force(bent, plate_normal) - plate)
    normal = share * circulatory + loose * plate
    chordwise = share * suction - loose * flap * flap_sin
    reynolds = speed_chord * (1.0 / VISCOSITY)
    friction = FRICTION_CONSTANT + FRICTION_LAMINAR / math.sqrt(reynolds + 2.0e4)
    drag = friction * (1.0 if forward else FRICTION_REVERSED) + share * FLAP_DRAG * flap_chord * flap_sin * flap_sin
    # centre of pressure: c/4 attached (3c/4 reversed), to mid-chord as the plate comes broadside
    arm_plate = 0.25 * abs(sin_a) if forward else 0.5 - 0.25 * abs(sin_a)
    arm_attached = 0.0 if forward else 0.5
    # Glauert's flap moment about c/4 over flap lift, -(1 - E)^1.36 / 4 within 1 % of his closed form
    flap_arm = 0.25 * (1.0 - flap_chord * (1.36 - 0.28 * flap_chord))
    flap_moment = -flap_arm * lift_slope * flap_turn if forward else 0.0
    moment = share * (flap_moment - arm_attached * circulatory) - loose * (
        arm_plate * straight + (0.75 - 0.5 * flap_chord) * (flap - flap_chord * straight)
    )
    return normal, chordwise, drag, moment


@formula
def hinge_moment(sin_a, cos_a, f, hinge_alpha, hinge_delta, plate_normal, flap_sin, flap_cos):
    """Hinge moment coefficient on flap chord squared, positive trailing edge down.

    Attached: the thin-aerofoil slopes as realised, linear in the sines; separated: the flap's own plate
    load at 0.45 of its chord.  In reversed flow the flap leads and is a plate at any separation.
    """
    share = attached_share(f) if cos_a > 0.0 else 0.0
    sin_f = sin_a * flap_cos + cos_a * flap_sin
    return share * (hinge_alpha * sin_a + hinge_delta * flap_sin) - (1.0 - share) * FLAP_PLATE_ARM * plate_force(
        sin_f, plate_normal
    )


@formula
def flap_rotation(deflection, load):
    """The part of a plain flap's deflection (rad) that still acts like Glauert's small-angle flap.

    Full up to 17 deg / `load`, then its growth slows to about a quarter, without a peak to 75 deg.  `load`
    says how hard the deflection loads the section, for that is what separates it: 1 on a wing of aspect ratio 3
    (NACA TN-2080), 1.25 in two dimensions (DATCOM 6.1.1.1, chart values from memory), 0.8 on a fin of 1.3 (the rudder of
    tests/reference/rc_aerobatic_mxs_controls.csv); see `flap_load`.
    """
    d = abs(deflection) * load
    over = (d - 0.30) * (1.0 / 0.68)
    late = 0.5 * (over + math.sqrt(over * over + 0.02))
    return deflection / (1.0 + late - 0.0110)


def flap_load(aspect_ratio: float) -> float:
    """`load` of `flap_rotation`: Helmbold's lift slope over that of aspect ratio 3.1, to a power that joins its three sources."""

    def slope(aspect):
        return aspect / (2.0 + math.sqrt(aspect * aspect + 4.0))

    return (slope(aspect_ratio) / slope(3.1)) ** 0.37


def glauert_effectiveness(chord_fraction: float) -> float:
    """Glauert's flap effectiveness tau = d(alpha)/d(delta) for flap chord over chord (0..1); ARC R&M 1095, 1927."""
    if chord_fraction <= 0.0:
        return 0.0
    theta = math.acos(2.0 * min(1.0, chord_fraction) - 1.0)
    return 1.0 - (theta - math.sin(theta)) / math.pi


@functools.cache
def glauert_hinge_moment(chord_fraction: float) -> tuple[float, float]:
    """Slopes (per rad) of the hinge moment over angle of attack and deflection as real sections have them:
    HINGE_REALISED times Glauert's, from the thin-aerofoil loading (ARC R&M 1095, 1927) by the midpoint rule."""
    hinge = math.acos(2.0 * chord_fraction - 1.0)  # from the leading edge: x = (1 - cos theta) / 2
    edges = np.linspace(hinge, math.pi, 4001)
    theta = 0.5 * (edges[1:] + edges[:-1])
    arm = 0.5 * (math.cos(hinge) - np.cos(theta)) / chord_fraction**2
    width = 0.5 * np.sin(theta) * (edges[1] - edges[0])
    angle = 4.0 / np.tan(0.5 * theta)
    log = np.log(np.abs(np.sin(0.5 * (theta + hinge)) / np.sin(0.5 * (theta - hinge))))
    flap = angle * (1.0 - hinge / math.pi) + 4.0 / math.pi * log
    return -HINGE_REALISED * float((angle * arm * width).sum()), -HINGE_REALISED * float((flap * arm * width).sum())
