"""The window of `upline replay`: the scene with its panels around it, driven by keys and mouse."""

from __future__ import annotations

import math
import time

import pyglet
from pyglet import gl
from pyglet.math import Mat4
from pyglet.window import key

from scenarios.playback import align
from viewer.scene.cameras import NAMED
from viewer.scene.scene import Scene
from viewer.window import actions, theme
from viewer.window.channels import ALL
from viewer.window.clock import Clock
from viewer.window.drawn_on_change import DrawnOnChange
from viewer.window.lanes import lanes_of
from viewer.window.layout import LEAST_WINDOW, Box, arrange
from viewer.window.panels.buttons import Button, ButtonsPanel
from viewer.window.panels.captions import NowPanel, PlacesPanel
from viewer.window.panels.chart import ChartPanel
from viewer.window.panels.heading import HeadingPanel
from viewer.window.panels.key import SENTENCES, KeyPanel
from viewer.window.panels.sticks import SticksPanel
from viewer.window.panels.surfaces import SurfacesPanel
from viewer.window.panels.time_line import TimeLinePanel
from viewer.window.state import State

FRAME_RATE = 60.0  # a second, at most
NUMBER_RATE = 10.0  # a second
_MOTIONS = {key.MOTION_LEFT: "frame back", key.MOTION_RIGHT: "frame ahead"}
DEGREES = math.degrees(1.0)


class ReplayWindow(DrawnOnChange):
    """One or two flights; drawn again only when something has changed."""

    def __init__(self, flight, second, alignment, look, at: float | None = None) -> None:
        title = f"upline replay: {flight.title}" + (f" and {second.title}" if second is not None else "")
        size = [max(given, least) for given, least in zip(look.size, LEAST_WINDOW)]
        super().__init__(*size, title)
        self.flight, self.second = flight, second
        phases = [(p.name, p.start, p.end) for p in flight.phases]
        its = {p.name for p in second.phases} if second is not None else set()
        meetings = [name for name, _, _ in phases if name in its]
        clock = Clock(flight.time)
        self.state = State(clock, look.switches, phases, second is not None, meetings, view=look.view)
        self.state.zoom[look.view] = look.zoom
        self.scene = Scene(flight, second, alignment)
        self._asked = self.scene.alignment
        self._make_panels()
        self._meet()
        clock.seek(clock.start if at is None else at)
        self._held: str | None = None  # what the mouse holds: "time", "chart" or nothing
        self._placed = None
        self.frames_drawn, self._said = 0, 0.0
        pyglet.clock.schedule_interval(self._tick, 1.0 / FRAME_RATE)

    def _make_panels(self) -> None:
        state = self.state
        self.heading, self.sticks, self.surfaces = HeadingPanel(), SticksPanel(), SurfacesPanel()
        self.time_line, self.chart = TimeLinePanel(), ChartPanel()
        below = [*_buttons(actions.PLAYING), Button("", "speed 1", "speed"), *_buttons(actions.PANELS)]
        self.transport = ButtonsPanel(columns=len(below), tallest=28)
        self.switches, self.measures = ButtonsPanel(columns=2), ButtonsPanel(columns=3)
        self.now, self.places_named, self.key = NowPanel(1 if self.second is None else 2), PlacesPanel(), KeyPanel()
        self.panels = [
            self.places_named, self.now, self.key, self.time_line, self.chart, self.transport, self.sticks, self.surfaces,
            self.switches, self.heading, self.measures,
        ]  # fmt: skip
        self.heading.name(
            [f.title for f in (self.flight, self.second) if f is not None], "drag the time line; wheel: closer"
        )
        self.transport.offer([("", below)])
        self.switches.offer([
            ("VIEW", _buttons(actions.VIEWS)),
            ("SHOWN", [b for b in _buttons(actions.SWITCHES) if state.offered(b.name)]),
            ("WINDOW", [b for b in _buttons(actions.WINDOW) if state.offered(b.name)]),
        ])  # fmt: skip

    def _meet(self) -> None:
        """Lay the second flight over the first where the state says; time then reaches as far as either flies."""
        state, flight, second = self.state, self.flight, self.second
        self._met = state.meeting
        spans = [(flight.start, flight.end)]
        self.later = 0.0
        if second is not None:
            laid = self._asked
            if state.meeting is not None:
                laid = align(flight, second, f"start of {state.meetings[state.meeting]}")
            self.scene.alignment, self.later = laid, laid.time
            spans.append((second.start - self.later, second.end - self.later))
        state.clock.reach(min(s for s, _ in spans), max(e for _, e in spans))
        self.time_line.mark(state.clock.start, state.clock.end, spans, [start for _, start, _ in state.phases])
        self._drawn_lanes = None

    # ---- what is shown ------------------------------------------------------------------------------------------
    def _tick(self, seconds: float) -> None:
        if self.state.clock.advance(seconds):
            self._dirty = True

    def is_over(self) -> bool:
        """Whether it was closed."""
        return self.state.closed

    def _arrange(self) -> None:
        state = self.state
        size = self.get_framebuffer_size()
        wanted = (size, self.get_pixel_ratio(), state.chart, state.column)
        if wanted == self._placed:
            return
        self._placed = wanted
        places = self.places = arrange(*size, *wanted[1:])
        sizes, ends = places.sizes, (places.plot_left, places.plot_right)
        self.heading.place(places.header, sizes)
        self.time_line.place_plot(places.time_line, sizes, *ends)
        self.chart.place_plot(places.chart, sizes, *ends)
        self.transport.place(places.buttons, sizes)
        for panel in (self.now, self.places_named, self.key):
            panel.place(places.view, sizes)
        for name in ("sticks", "surfaces", "switches"):
            getattr(self, name).place(getattr(places, name), sizes)
        self._drawn_list = None

    def _show_measures(self) -> None:
        """The lanes as chosen, and the list to choose from while it is open."""
        state = self.state
        second = self.second if state.switches.ghost else None
        wanted = (tuple(state.channels), state.choosing, second is None)
        if wanted != self._drawn_lanes:
            self._drawn_lanes = wanted
            lanes = lanes_of(self.flight, second, self.later, state.channels)
            self.chart.draw_lanes(lanes, state.clock.start, state.clock.end, state.phases, state.choosing)
        listed = (self._placed, state.choosing is None)
        if listed != self._drawn_list:
            self._drawn_list = listed
            view, sizes = self.places.view, self.places.sizes
            listed_measures = [Button("", shown.name, name) for name, shown in ALL.items()]
            self.measures.offer([("measure of the marked lane: click, or arrows and Q", listed_measures)])
            wide = min(view.width, sizes.px(620))
            box = Box(view.x, view.y, wide, view.height) if state.choosing is not None else Box(0, 0, 0, 0)
            self.measures.place(box, sizes)
        if state.choosing is not None:
            self.measures.show({state.channels[state.choosing]})

    def on_draw(self) -> None:
        """Draw the scene and every panel."""
        state = self.state
        self._dirty = False
        self._arrange()
        if self._met != state.meeting:
            self._meet()
        self._show_measures()
        clock, view = state.clock, self.places.view
        size = self.get_framebuffer_size()
        gl.glViewport(0, 0, *size)
        gl.glClearColor(*(c / 255 for c in theme.PAPER), 1.0)
        gl.glClear(gl.GL_COLOR_BUFFER_BIT)
        place = tuple(round(v) for v in (view.x, view.y, view.width, view.height))
        shown = self.scene.draw(place, clock.time, state.view, state.switches, state.zoom[state.view])
        gl.glViewport(0, 0, *size)
        self.projection = Mat4.orthogonal_projection(0, size[0], 0, size[1], -255, 255)
        self._let_numbers_follow()
        poses = [p for p in (shown.pose, shown.ghost_pose) if p is not None]
        if self.sticks.hands != state.hands:
            self.sticks.hold(state.hands)
        self.sticks.show(*(p.sticks for p in poses))
        self.surfaces.show(*(p.surfaces * DEGREES for p in poses))
        self._write_captions(shown, poses)
        self.time_line.show(clock.time, self._time_words())
        self.chart.show(clock.time)
        self.transport.relabel("play", "pause" if clock.playing else "play")
        self.transport.relabel("speed", f"speed {clock.speed_words}")
        on = state.on()
        self.transport.show(on)
        met = "as asked" if state.meeting is None else state.meetings[state.meeting]
        self.switches.relabel("meet", f"meet: {met}")
        self.switches.relabel("hands", f"stick mode {state.hands}")
        self.switches.show(on)
        for panel in self.panels:
            panel.draw(size)
        self.frames_drawn += 1

    def _write_captions(self, shown, poses) -> None:
        """The words over the scene."""
        state = self.state
        self.places_named.show(shown.labels, (self.now.paper, self.key.paper))
        numbers = [said or f"{p.airspeed:.1f} m/s, height {p.height:.1f} m" for p, said in zip(poses, self._outside())]
        ended = state.clock.time >= self.flight.end - 1e-6 and self.flight.ending
        seen = f"seen {NAMED[state.view]}" + (f"; ended: {ended}" if ended else "")
        self.now.fly(len(poses))
        self.now.show(shown.pose.phase, numbers, seen)
        self.key.name(_explained(state, shown) if state.legend else ())

    def _let_numbers_follow(self) -> None:
        """Always while the flight stands still, `NUMBER_RATE` times a second while it plays: text costs most of all."""
        now = time.monotonic()
        says = not self.state.clock.playing or now - self._said > 1.0 / NUMBER_RATE
        if says:
            self._said = now
        for panel in (self.sticks, self.surfaces, self.time_line, self.chart, self.now, self.places_named):
            panel.says = says

    def _outside(self) -> list[str]:
        """What is said of a flight that has not begun or is over at the instant shown, "" of one that flies."""
        said = []
        for flight, later in ((self.flight, 0.0), (self.second, self.later)):
            if flight is not None:
                its = self.state.clock.time + later
                over = f"over: {flight.ending}" if flight.ending else "over"
                said.append(over if its > flight.end + 1e-6 else "not begun" if its < flight.start - 1e-6 else "")
        return said

    def _time_words(self) -> str:
        clock = self.state.clock
        return "the end" if clock.ended else f"of {clock.end:.2f} s"

    # ---- keys and mouse -------------------------------------------------------------------------------------------
    def _do(self, name: str) -> None:
        before = self.state.full
        self.state.do(name)
        self._dirty = True
        if self.state.full != before:
            self.set_fullscreen(self.state.full)
        if self.state.closed:
            self.close()

    def on_key_press(self, symbol: int, modifiers: int) -> None:
        """The action of the key."""
        name = actions.BY_KEY.get(key.symbol_string(symbol))
        if name and name not in _MOTIONS.values() and not modifiers & (key.MOD_CTRL | key.MOD_ALT):
            self._do(name)

    def on_text_motion(self, motion: int) -> None:
        """Arrows to the side step, and go on stepping while they are held."""
        if motion in _MOTIONS:
            self._do(_MOTIONS[motion])

    def _pixels(self, *lengths: float) -> tuple[float, ...]:
        ratio = self.get_framebuffer_size()[0] / self.width
        return tuple(v * ratio for v in lengths)

    def on_mouse_press(self, x: int, y: int, button: int, modifiers: int) -> None:
        """Buttons, the time line, the chart, the list of measures."""
        if not hasattr(self, "places"):
            return
        x, y = self._pixels(x, y)
        state = self.state
        if state.choosing is not None and self.measures.box.contains(x, y):
            state.choose(self.measures.name_at(x, y) or "")
            self._dirty = True
        elif name := self.transport.name_at(x, y) or self.switches.name_at(x, y):
            self._do("faster" if name == "speed" else name)
        elif self.places.time_line.contains(x, y) or self.chart.in_plot(x, y):
            self._held = "time"
            state.clock.grab()
            self._seek(x)
        elif (lane := self.chart.lane_at(x, y)) is not None:
            state.choosing = lane if state.choosing != lane else None
            self._dirty = True

    def on_mouse_drag(self, x: int, y: int, dx: int, dy: int, buttons: int, modifiers: int) -> None:
        """Pull the instant along."""
        if self._held == "time":
            self._seek(*self._pixels(x))

    def on_mouse_release(self, x: int, y: int, button: int, modifiers: int) -> None:
        """Let the instant go."""
        if self._held == "time":
            self.state.clock.let_go()
        self._held, self._dirty = None, True

    def on_mouse_scroll(self, x: int, y: int, scroll_x: float, scroll_y: float) -> None:
        """The wheel comes closer in the view, and steps frames over chart and time line."""
        if not hasattr(self, "places") or not scroll_y:
            return
        px, py = self._pixels(x, y)
        if self.places.view.contains(px, py):
            self._do("closer" if scroll_y > 0 else "wider")
        elif self.places.time_line.contains(px, py) or self.places.chart.contains(px, py):
            self._do("frame ahead" if scroll_y > 0 else "frame back")

    def _seek(self, x: float) -> None:
        self.state.clock.seek(self.time_line.time_at(x))
        self._dirty = True

    # ---- the window itself ------------------------------------------------------------------------------------------
    def on_close(self) -> None:
        """The window is closed from outside."""
        self.state.closed = True
        self.close()

    def close(self) -> None:
        """Stop and give everything back."""
        pyglet.clock.unschedule(self._tick)
        super().close()


def _explained(state: State, shown) -> tuple[str, ...]:
    """What of the scene's colours and patterns is seen now, in the order of the key."""
    missing = set() if shown.ghost_pose is not None else {"ghost"}
    if shown.pose.jet is None:
        missing.add("slipstream")
    return tuple(n for n in SENTENCES if n not in missing and getattr(state.switches, n, True))


def _buttons(group) -> list[Button]:
    return [Button(action.cap, action.words, action.name) for action in group]
