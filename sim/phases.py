"""The table of phases that a scenario is compiled to: the meaning of every column.

One row is one phase.  Angles in rad, times in s, speeds in m/s; a column that does not
apply is 0.  The kernel in `sim.flight` interprets the table; nothing calls back.
"""

from __future__ import annotations

# how the phase ends
LIMIT, NEEDS_CONDITION = 0, 1  # longest time; 1 when running out of time is a failure
CONDITIONS, MOST_CONDITIONS = 2, 4  # each channel, +1 (above) or -1 (below) or 0 (none), value
JOIN = 14  # 0 no condition, 1 any, 2 all
# sticks: aileron, elevator, rudder, six columns each (mode, value, time, first, last, sign), then three of the throttle
STICKS, STICK_COLUMNS = 15, 6
MODE, VALUE, TIME, FIRST, LAST, SIGN = range(STICK_COLUMNS)
THROTTLE = STICKS + 3 * STICK_COLUMNS
KEEP = 0
MOVE = 1  # to VALUE within TIME
PILOT = 2  # aims where the phase says
HOLD_SPEED, HOLD_HEIGHT = 3, 4  # throttle alone
DOUBLET = 5  # VALUE one way and the other, TIME each
SWEEP = 6  # VALUE to and fro, from FIRST to LAST Hz over the phase
HOLD_ANGLE, HOLD_PATH, HOLD_RATE, HOLD_FLOW = 7, 8, 9, 10  # the pilot holds channel FIRST at VALUE with this stick
STICK_HOLDS_HEIGHT, STICK_HOLDS_SPEED = 11, 12  # with the stick: the height of the phase's start, the airspeed VALUE
VERTICAL, HORIZONTAL = 2.0, 3.0  # SIGN of what moves it by the bank: up and down, or left and right; else +1 or -1
# what the pilot aims at
AIM = THROTTLE + 3  # 1 when the phase gives new targets
BANK, PITCH, HEADING = AIM + 1, AIM + 2, AIM + 3  # heading from that at the start
SLEW = AIM + 4  # rad/s with which the targets move
PATH = AIM + 5  # 0 attitude; 1 height and track; 2 path at the pitch given, and track; 3 place (hover)
RATES = AIM + 6  # the transmitter's switch for aileron, elevator, rudder: 0 high, 1 middle, 2 low
FLIGHT_MODE = AIM + 9  # index of the flight mode, 0 the setup as it stands
COLUMNS = AIM + 10
