"""Finding out which axis is which stick: move one stick at a time, hold it at an end, say so.

No window and no clock in here: `look` is called whenever the axes may have moved, `accept` when the pilot says that the
stick stands where it was asked to stand.
"""

from __future__ import annotations

from dataclasses import dataclass

from viewer.hands_on.controllers import LEAST_TRAVEL, Assignment, Controller, Travel

# stick, and where it is held when the pilot says so: the end that counts as positive
ORDER = (
    ("throttle", "fully up"),
    ("aileron", "fully right"),
    ("elevator", "fully back, as to pull"),
    ("rudder", "fully right"),
)
AT_END = 0.25  # of the travel seen: nearer to an end than this is at the end
OFF_CENTRE = 0.3  # of the travel seen: a stick that is let go lies this far from both ends


@dataclass(frozen=True)
class Seen:
    """An axis as it has moved in the present step: `travel` as a share of its announced range, `place` 0..1 in it."""

    controller: Controller
    axis: str
    travel: float
    place: float


class Wizard:
    """The steps: each stick to its ends and held at one, then all let go.  `result` is None until `done`."""

    def __init__(self, controllers: list[Controller]) -> None:
        self.controllers = controllers
        self.step, self.note = 0, ""
        self._kept: list[
            tuple[str, Controller, str, float, float] | None
        ] = []  # stick, axis, reading at low and high end
        self._forget()

    def _forget(self) -> None:
        self._low: dict[tuple[int, str], float] = {}
        self._high: dict[tuple[int, str], float] = {}
        self.look()

    @property
    def done(self) -> bool:
        """Whether every step has been taken."""
        return self.step > len(ORDER)

    @property
    def heading(self) -> str:
        """What is asked for now, in one sentence."""
        if self.done:
            return "Done."
        if self.step == len(ORDER):
            return "Let go of all sticks; the throttle may stay where it is."
        stick, end = ORDER[self.step]
        return f"Move the {stick} stick to both of its ends, then hold it {end}."

    @property
    def progress(self) -> str:
        """Which step this is."""
        return f"step {min(self.step + 1, len(ORDER) + 1)} of {len(ORDER) + 1}"

    def look(self) -> None:
        """Take note of where every axis stands."""
        for n, controller in enumerate(self.controllers):
            for axis in controller.axes:
                reading = controller.reading(axis)
                if reading is not None:
                    at = (n, axis)
                    self._low[at] = min(reading, self._low.get(at, reading))
                    self._high[at] = max(reading, self._high.get(at, reading))

    def seen(self) -> list[Seen]:
        """Every axis that is still free, the one that has moved furthest first."""
        taken = {(id(kept[1]), kept[2]) for kept in self._kept if kept is not None}
        chosen = next((kept[1] for kept in self._kept if kept is not None), None)
        out = []
        for n, controller in enumerate(self.controllers):
            if chosen is not None and controller is not chosen:
                continue
            for axis in controller.axes:
                if (id(controller), axis) in taken:
                    continue
                least, most = controller.range(axis)
                low, high = self._low.get((n, axis)), self._high.get((n, axis))
                reading = controller.reading(axis)
                if low is None or high is None or reading is None:
                    out.append(Seen(controller, axis, 0.0, 0.5))
                else:
                    out.append(
                        Seen(controller, axis, (high - low) / (most - least), (reading - least) / (most - least))
                    )
        return sorted(out, key=lambda one: -one.travel)

    def accept(self) -> bool:
        """The pilot says that it is done; False, and a `note` why, when it is not."""
        self.look()
        self.note = ""
        if self.done:
            return True
        if self.step == len(ORDER):
            return self._let_go()
        stick, end = ORDER[self.step]
        seen = self.seen()
        if not seen or seen[0].travel < LEAST_TRAVEL:
            self.note = f"No axis has moved far enough. Move the {stick} stick to both ends, or leave it to the keys."
            return False
        first = seen[0]
        if len(seen) > 1 and seen[1].travel > 0.8 * first.travel:
            self.note = f"Two axes moved alike ({first.axis} and {seen[1].axis}). Move the {stick} stick alone."
            self._forget()
            return False
        at = (self.controllers.index(first.controller), first.axis)
        low, high, now = self._low[at], self._high[at], first.controller.reading(first.axis)
        place = (now - low) / (high - low)
        if AT_END < place < 1.0 - AT_END:
            self.note = f"The stick on axis {first.axis} stands between its ends. Hold it {end}."
            return False
        ends = (low, high) if place > 0.5 else (high, low)
        self._next((stick, first.controller, first.axis, *ends))
        return True

    def skip(self) -> None:
        """Leave the stick that is asked for to the keys."""
        if self.step < len(ORDER):
            self._next(None)

    def back(self) -> None:
        """Ask for the stick before once more."""
        if self.step > 0 and not self.done:
            self.step -= 1
            self._kept.pop()
            self.note = ""
            self._forget()

    def _next(self, kept: tuple[str, Controller, str, float, float] | None) -> None:
        self._kept.append(kept)
        self.step += 1
        self.note = ""
        self._forget()

    def _let_go(self) -> bool:
        kept = [one for one in self._kept if one is not None]
        if not kept:
            self.note = "No stick was assigned. Go back, or leave without assigning."
            return False
        for stick, controller, axis, low, high in kept:
            place = (controller.reading(axis) - low) / (high - low)
            if stick != "throttle" and not OFF_CENTRE < place < 1.0 - OFF_CENTRE:
                self.note = f"The {stick} stick (axis {axis}) does not stand near the middle. Let it go."
                return False
        self._centres = {stick: float(controller.reading(axis)) for stick, controller, axis, _, _ in kept}
        self.step += 1
        return True

    @property
    def controller(self) -> Controller | None:
        """The controller that was chosen by moving it."""
        return next((kept[1] for kept in self._kept if kept is not None), None)

    @property
    def result(self) -> Assignment | None:
        """The assignment; None until all is done."""
        if not self.done:
            return None
        kept = [one for one in self._kept if one is not None]
        sticks = {
            stick: Travel(axis, low, 0.5 * (low + high) if stick == "throttle" else self._centres[stick], high)
            for stick, _, axis, low, high in kept
        }
        return Assignment(kept[0][1].name, sticks)
