"""Lanes of the strip chart from one or two flights."""

from __future__ import annotations

from viewer.window.channels import ALL
from viewer.window.panels.chart import Lane

_TURNING = ("bank", "heading", "track", "alpha")  # angles that jump by a whole turn


def lanes_of(flight, second, later: float, channels: list[str]) -> list[Lane]:
    """A lane for each of `channels` of `flight` and, if not None, of `second`, whose time is that of `flight` plus `later`."""
    lanes = []
    for name in channels:
        shown = ALL[name]
        more = {}
        if second is not None:
            more = {"second_times": second.time - later, "second_values": shown.values(second.channel(name))}
        lanes.append(
            Lane(
                shown.name,
                shown.unit,
                flight.time.copy(),
                shown.values(flight.channel(name)),
                **more,
                decimals=shown.decimals,
                turn=360.0 if name in _TURNING else 0.0,
            )
        )
    return lanes
