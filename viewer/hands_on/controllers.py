"""Controllers that are plugged in: their axes, whether they are still there, and what their sticks say.

`pyglet.input` fails without a screen and where the system has no input devices; then there are no controllers.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from sim.transmitter import STICKS

DEAD = 0.02  # of half the travel about the centre that counts as centred: worn sticks (common practice, no source)
LEAST_TRAVEL = 0.2  # of an axis' whole range: less is no stick that was moved to its ends


@dataclass(frozen=True)
class Travel:
    """One stick on one axis: what the axis reads at the `low` end (left, forward, idle), let go, and at the `high` end."""

    axis: str
    low: float
    centre: float
    high: float

    def position(self, reading: float, sprung: bool) -> float:
        """Where the stick stands: -1..1 where it is `sprung` to its centre, else 0..1 from low to high."""
        if not sprung:
            return min(1.0, max(0.0, (reading - self.low) / (self.high - self.low)))
        end = self.high if (reading - self.centre) * (self.high - self.centre) >= 0.0 else self.low
        share = (reading - self.centre) / (end - self.centre)
        share = max(0.0, (min(1.0, share) - DEAD) / (1.0 - DEAD))
        return share if end == self.high else -share


@dataclass(frozen=True)
class Assignment:
    """Which axis of the controller called `name` is which stick; a stick that is left out stays with the keys."""

    name: str
    sticks: dict[str, Travel] = field(default_factory=dict)


class Controller:
    """A device of `pyglet.input` with axes, opened."""

    def __init__(self, device: Any) -> None:
        self.device = device
        self.name = str(device.name or "controller").strip() or "controller"
        self.axes, self.buttons = _controls(device)
        if not device.is_open:
            device.open()

    def reading(self, axis: str) -> float | None:
        """What an axis reads; None until it has moved for the first time, and when there is no such axis."""
        control = self.axes.get(axis)
        return None if control is None or control.value is None else float(control.value)

    def range(self, axis: str) -> tuple[float, float]:
        """Least and greatest reading that the device announces."""
        return float(self.axes[axis].min), float(self.axes[axis].max)

    @property
    def pressed(self) -> bool:
        """Whether any button is held."""
        return any(button.value for button in self.buttons)

    @property
    def connected(self) -> bool:
        """Whether it is still plugged in."""
        try:
            return bool(self.device.is_open and getattr(self.device, "connected", True))
        except (OSError, ValueError):
            return False

    def close(self) -> None:
        """Let go of the device, which may have gone."""
        try:
            if self.device.is_open:
                self.device.close()
        except (OSError, ValueError, KeyError):
            pass


def sticks_of(controller: Controller, assignment: Assignment, before: list[float]) -> list[float]:
    """The four sticks; one that is not assigned, or has not moved yet, stays as it was `before`."""
    sticks = list(before)
    for n, name in enumerate(STICKS):
        travel = assignment.sticks.get(name)
        reading = controller.reading(travel.axis) if travel else None
        if travel is not None and reading is not None:
            sticks[n] = travel.position(reading, sprung=name != "throttle")
    return sticks


def plugged_in() -> tuple[list[Controller], str]:
    """The controllers that are there, opened, and why there are none where looking for them failed."""
    found: dict[Any, Any] = {}
    try:
        import pyglet

        for ask in (pyglet.input.get_joysticks, pyglet.input.get_controllers):
            for one in ask():
                device = getattr(one, "device", one)
                found.setdefault(getattr(device, "_filename", device), device)
    except Exception as error:  # a missing folder, no display, no driver: every system has its own
        if not found:
            return [], f"controllers cannot be looked for on this system ({type(error).__name__}: {error})"
    out = []
    for device in found.values():
        try:
            controller = Controller(device)
        except Exception:  # another program has it, or no permission: as if it were not there
            continue
        if len(controller.axes) >= 2:
            out.append(controller)
        else:
            controller.close()
    return out, ""


def _controls(device: Any) -> tuple[dict[str, Any], list[Any]]:
    """Axes by a name that no other has, and buttons; direction pads are left out."""
    axes: dict[str, Any] = {}
    buttons = []
    for control in device.get_controls():
        kinds = {kind.__name__ for kind in type(control).__mro__}  # `pyglet.input` cannot be imported everywhere
        if "Button" in kinds:
            buttons.append(control)
        elif "AbsoluteAxis" in kinds and not str(control.name).startswith("hat") and control.max > control.min:
            name, n = str(control.name or control.raw_name or "axis"), 2
            while name in axes:
                name, n = f"{control.name or control.raw_name or 'axis'} {n}", n + 1
            axes[name] = control
    return axes, buttons
