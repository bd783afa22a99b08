"""Servos: first-order approach to the command below a speed limit."""

from __future__ import annotations

from sim.compiled import kernel


@kernel
def servo_rate(position, command, speed, lag):
    """Rate (rad/s) of a surface at `position` asked to go to `command` (rad)."""
    return min(speed, max(-speed, (command - position) / lag))
