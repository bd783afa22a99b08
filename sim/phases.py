"""The table of phases that a scenario is compiled to: the meaning of every column.

One row is one phase.  Angles in rad, times in s, speeds in m/s; a column that does not
apply is 0.  The kernel in `sim.flight` interprets the table; nothing calls back.
"""

from __future__ import annotations

# how the phase ends
LIMIT, NEEDS_CONDITION = 0, 1  # longest time; 1 when running out of time is a failure
CONDITION_A, CONDITION_B = 2, 5  # channel, +1 (above) or -1 (below), value
JOIN = 8  # 0 no condition, 1 the first, 2 either, 3 both
# sticks: aileron, elevator, rudder, three columns each (mode, value, time), then throttle likewise
STICKS = 9
KEEP, MOVE, PILOT, HOLD_SPEED, HOLD_HEIGHT = range(5)  # modes; the last two for the throttle alone
THROTTLE = STICKS + 9
# what the pilot aims at
AIM = 21  # 1 when the phase gives new targets
BANK, PITCH, HEADING = 22, 23, 24  # heading from that at the start
SLEW = 25  # rad/s with which the targets move
PATH = 26  # 0 attitude; 1 height and track; 2 path at the pitch given, and track; 3 place (hover)
COLUMNS = 27
