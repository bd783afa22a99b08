"""The whole aeroplane against a measured one: the tunnel model of tests/sim/tunnel_model.py.

Sources: tests/reference/rc_aerobatic_mxs_*.csv and .yaml (open wind-tunnel data set of a 1.1 m aerobatic model).  The
stand-in's areas, chords and fuselage are guesses of 10 to 15 %; slopes and shares are compared, not levels.
"""

from __future__ import annotations

import re

import pytest

from tests.sim.tunnel_comparison import GROUPS

# What is claimed: rows whose name begins with the pattern, and where found/measured ("x") or found - measured ("-") lies.
# A band that leaves out agreement (1 or 0) is a departure: it says how far off, so that an improvement shows as a failure.
RATIO, LESS = "x", "-"
CLAIMS = [
    # --- propeller removed, controls neutral -------------------------------------------------------------------------
    # 7 % by the notes on quality; the measured slope falls by 9 % from 10 to 20 m/s (as if 9 Pa of dynamic pressure were
    # missing in the reading; side force falls alike), and no wall correction is applied (about 5 % in a 2.1 x 1.5 m tunnel)
    ("longitudinal", "CL per rad", RATIO, 0.83, 1.07),
    ("longitudinal", "CL largest to 15 deg", LESS, -0.12, 0.08),
    ("longitudinal", "CL at 12.5 deg", LESS, -0.08, 0.08),
    # points are 2.5 deg apart; thickness and section are guessed; below Re 2e5 sections differ by 2 deg
    ("longitudinal", "stall angle", LESS, -1.5, 3.0),
    # the load cell's place along the chord is known to 15 mm (0.06 of the chord); the elevator's linkage gives way
    ("longitudinal", "dCm/dCL", LESS, -0.09, 0.06),
    # drag is a small difference of large balance loads: 0.002 to 0.006
    ("longitudinal", "CD rise", LESS, -0.015, 0.010),
    # --- control increments ------------------------------------------------------------------------------------------
    # 15 %, and tail area by guess 15 %; at 20 m/s the measured elevator is 12 % weaker than at 15 (linkage)
    ("controls", "elevator Cm", RATIO, 0.85, 1.30),
    ("controls", "elevator CZ", RATIO, 0.85, 1.42),
    ("controls", "elevator arm", RATIO, 0.83, 1.17),
    ("controls", "elevator moment, share", RATIO, 0.85, 1.15),
    ("controls", "elevator CX", RATIO, 0.60, 0.80),  # departure: a third of the drag of large throws is missing
    ("controls", "rudder n/q", RATIO, 0.85, 1.22),
    ("controls", "rudder CY", RATIO, 0.85, 1.15),
    # at alpha 10 the flow along the fin's span loads its vortices' legs; the root's, which goes on in the fuselage, too much
    ("controls", "rudder l/q", RATIO, 0.7, 1.15),
    ("controls", "rudder arm", RATIO, 0.85, 1.15),
    ("controls", "rudder moment, share", RATIO, 0.85, 1.15),
    ("controls", "rudder CX", RATIO, 0.75, 1.15),
    ("controls", "aileron l/q per rad, 15 m/s, alpha 0", RATIO, 0.85, 1.15),
    ("controls", "aileron l/q per rad, 20 m/s, alpha 0", RATIO, 0.85, 1.25),  # 17 % weaker than at 15 m/s
    ("controls", "aileron l/q per rad, 20 m/s, alpha 10", RATIO, 0.85, 1.50),
    ("controls", "aileron CX", RATIO, 0.80, 1.70),
    # --- sideslip ----------------------------------------------------------------------------------------------------
    # Departures: a fifth to a quarter of the side force is missing.  Of that 6 to 9 % is the tunnel's speed reading (above);
    # the fuselage's depth and corners are guessed (10 to 15 %), and a fin in front of which a body widens carries more.
    ("sideslip", "CY at beta (6|10)", RATIO, 0.72, 0.85),
    ("sideslip", "CY at beta (20|25|30)", RATIO, 0.67, 0.86),
    ("sideslip", "n/q at beta (6|10)", RATIO, 0.7, 0.92),
    # departure: the fin loses its root from 20 deg on, measured not by 30
    ("sideslip", "n/q at beta (20|25|30)", RATIO, 0.5, 0.8),
    ("sideslip", "l/q", RATIO, 0.6, 0.78),
    # --- no stream, propeller turning --------------------------------------------------------------------------------
    ("static thrust", "net thrust", RATIO, 0.9, 1.28),
    # 25 % by the notes on quality; the runs scatter by 60 % among themselves, the largest value is that over the smallest
    ("static thrust", "roll over thrust", RATIO, 0.75, 1.4),
    # 15 to 20 % by the notes on quality; small throws of the elevator, whose linkage gives way in the tunnel, 35 %
    ("hover", "elevator m per thrust", RATIO, 0.85, 1.35),
    ("hover", "elevator Z per thrust", RATIO, 0.85, 1.4),
    ("hover", "elevator m over thrust, m, -6 to 37", RATIO, 0.85, 1.2),
    ("hover", "elevator m over thrust, m, -6 to -42", RATIO, 0.77, 1.15),
    ("hover", "rudder n per thrust", RATIO, 0.85, 1.25),
    ("hover", "rudder Y per thrust", RATIO, 0.85, 1.15),
    ("hover", "rudder l per thrust", RATIO, 0.8, 1.15),
    # the share of aileron in the jet hangs on its guessed inner end (55 mm from the middle in a jet of 100 to 150 mm)
    ("hover", "aileron l per thrust", RATIO, 0.85, 1.2),
    # departure: the fin meets half the swirl that the measured yaw asks for
    ("hover", "n over thrust at rudder -2.3", LESS, 0.011, 0.024),
    ("hover", "l over thrust at rudder -2.3", RATIO, 0.8, 1.25),
    # --- mass --------------------------------------------------------------------------------------------------------
    ("inertia", "Ixx", RATIO, 0.75, 1.25),
    ("inertia", "I(yy|zz)", RATIO, 0.85, 1.15),
]
# Printed, not held, and why.
LEFT_OUT = [
    ("longitudinal", "CL at 0|Cm at CL 0|CD least"),  # zero of the rig, tare, mount: levels of the data set
    # the measured X and n carry an odd share of roll that no aileron makes (0.6 to 0.7 N per N m)
    ("controls", "aileron n/q"),
    ("controls", "aileron l/q per rad, 15 m/s, alpha 10"),  # halved by the stall at low Reynolds number, see the file
    ("hover", "thrust lost"),  # likewise odd in the pitching moment; the mean of both throws is 0.13, here 0.11
    ("hover", "Y over thrust"),  # a tare of -0.2 to -0.27 N; its slope over thrust is 0.04 to 0.055
]


@pytest.fixture(scope="module", params=GROUPS)
def group(request):
    """The name of a group and its rows."""
    return request.param, GROUPS[request.param]()


def test_every_row_of_the_comparison_is_within_its_claim(group):
    name, rows = group
    claims = [claim[1:] for claim in CLAIMS if claim[0] == name]
    unused = {claim[0] for claim in claims}
    wrong = []
    for row in rows:
        if any(left == name and re.match(pattern, row.what) for left, pattern in LEFT_OUT):
            continue
        pattern, kind, low, high = next(claim for claim in claims if re.match(claim[0], row.what))
        unused.discard(pattern)
        value = row.found / row.measured if kind == RATIO else row.found - row.measured
        if not low <= value <= high:
            wrong.append(f"{row.what}: measured {row.measured:.5f}, found {row.found:.5f}, {kind} {value:.3f}")
    assert not wrong, "\n".join(wrong)
    assert not unused
