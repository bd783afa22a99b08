"""The window of `upline hands-on`: the view, the panels around it, keys and controllers; what flies is the session."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyglet
from pyglet import gl
from pyglet.math import Mat4
from pyglet.window import key

from models.errors import UserError
from scenarios.live import STICK_CHANNELS, ByHand
from scenarios.playback import Playback
from sim.integration import FRAME
from viewer.hands_on import actions
from viewer.hands_on.assignments import read_assignments, write_assignment
from viewer.hands_on.controllers import Controller, plugged_in
from viewer.hands_on.panels import KnobsPanel, NotePanel, ReadingsPanel, SheetOver, readings
from viewer.hands_on.session import Session
from viewer.hands_on.wizard import Wizard
from viewer.scene.cameras import EYES, Station, heading_at_start
from viewer.scene.looks import Switches
from viewer.scene.scene import Scene
from viewer.window import theme
from viewer.window.drawn_on_change import DrawnOnChange
from viewer.window.layout import DESIGN, Box, arrange
from viewer.window.panels.buttons import Button, ButtonsPanel
from viewer.window.panels.captions import PlacesPanel
from viewer.window.panels.heading import HeadingPanel
from viewer.window.panels.sticks import SticksPanel
from viewer.window.panels.surfaces import SurfacesPanel
from viewer.words import CAUTIONS

BEAT = 1.0 / 120.0  # s: how often time is looked at; pictures come as fast as they can be drawn
NO_CONTROLLER = "No controller is plugged in, or none that may be read: the keys fly."
DEGREES = math.degrees(1.0)
VIEWS = ("pilot", "chase", "tip", "top")
SHOWN = Switches(ribbon=False)
LAYERS = ("ribbon", "forces", "slipstream")
CLOSER, WIDEST, CLOSEST = 1.15, 0.25, 6.0  # a step of the wheel over the view, and how far it goes
BESIDE, AHEAD = 100.0, 40.0  # m: where the pilot stands, from the start of level flight
BESIDE_A_HOVER = 45.0


class HandsOnWindow(DrawnOnChange):
    """`session` is flown in it; `assignments` is the file of controllers, `assign` opens the wizard at once."""

    def __init__(self, session: Session, assignments: Path, view: str = "pilot", assign: bool = False,
                 size: tuple[int, int] = DESIGN) -> None:  # fmt: skip
        super().__init__(*size, f"upline hands-on: {session.setup.name}")
        self.session, self.assignments, self.seen_from = session, assignments, view
        self.shown, self.zoom = SHOWN, dict.fromkeys(VIEWS, 1.0)
        self.wizard: Wizard | None = None
        self.leaving = self.left = False
        self.pictures = 0
        self._placed, self._pressed, self._said = None, False, 0.0
        self._seen: tuple = ()
        self.scene: Scene | None = None
        self._make_panels()
        session.begun, session.flown = self._begun, self._flown
        self._begun(session.flight)
        self._find_controllers()
        if assign:
            self._assign()
        pyglet.clock.schedule_interval(self._tick, BEAT)

    def _make_panels(self) -> None:
        self.heading, self.sticks, self.surfaces = HeadingPanel(), SticksPanel(), SurfacesPanel()
        self.readings, self.knobs, self.named = ReadingsPanel(), KnobsPanel(), PlacesPanel()
        self.flying, self.looking = (
            ButtonsPanel(columns=len(group), tallest=28) for group in (actions.FLYING, actions.LOOKING)
        )
        self.over, self.note, self.slow = SheetOver(), NotePanel(), NotePanel()
        self.panels = [self.named, self.heading, self.readings, self.flying, self.looking, self.sticks, self.surfaces, self.knobs,
                       self.note, self.slow, self.over]  # fmt: skip
        for panel, group in ((self.flying, actions.FLYING), (self.looking, actions.LOOKING)):
            offered = [a for a in group if a.name != "mode" or self.session.setup.modes]
            panel.columns = len(offered)
            panel.offer([("", [Button(action.cap, action.words, action.name) for action in offered])])

    # ---- flights ------------------------------------------------------------------------------------------------
    def _begun(self, flight: ByHand) -> None:
        """Another flight: a path of its own, seen from a place beside its start."""
        self.playback = Playback.live(flight.plane, flight.setup.name)
        self.playback.append(flight.live.start)
        self._waiting_row = True
        self._fresh_scene = True

    def _flown(self, row: np.ndarray) -> None:
        if self._waiting_row:  # it is the row that the path began with
            self._waiting_row = False
            return
        self.playback.change(self.session.flight.live.plane)  # forces and slipstream of the plane as it is now
        self.playback.append(row)

    def _tick(self, seconds: float) -> None:
        """Fly what is due, and look at the controller's buttons while it is being assigned."""
        if self.wizard is not None:
            self.wizard.look()
            pressed = any(controller.pressed for controller in self.wizard.controllers)
            if pressed and not self._pressed:
                self._accept()
            self._pressed = pressed
        self.session.tick()
        seen = (self.session.paused, self.session.why, self.session.note, self.session.flight.live.frames)
        if seen != self._seen or self.wizard is not None:
            self._seen, self._dirty = seen, True

    def is_over(self) -> bool:
        """Whether the pilot has left."""
        return self.left

    # ---- controllers ---------------------------------------------------------------------------------------------
    def _find_controllers(self) -> None:
        """Fly with the first controller that was assigned; the others are let go."""
        controllers, _ = plugged_in()
        try:
            known = read_assignments(self.assignments)
        except UserError as error:
            known, self.session.note = {}, str(error).splitlines()[0]
        chosen = next((one for one in controllers if one.name in known), None)
        for one in controllers:
            if one is not chosen:
                one.close()
        if chosen is not None:
            self.session.use(chosen, known[chosen.name])
        elif controllers:
            self.session.note = f"{controllers[0].name} is plugged in: press C to say which stick is which."

    def _assign(self) -> None:
        self._let_go_of(self.session.controller)
        self.session.use(None)
        controllers, why = plugged_in()
        if not controllers:
            self.session.note = why[:1].upper() + why[1:] if why else NO_CONTROLLER
            return
        self.session.pause()
        self.wizard, self._pressed = Wizard(controllers), True

    def _accept(self) -> None:
        """The stick stands where the wizard asked for it."""
        wizard = self.wizard
        if not wizard.accept() or not wizard.done:
            return
        assignment, chosen = wizard.result, wizard.controller
        try:
            write_assignment(self.assignments, assignment)
            self.session.note = f"{assignment.name}: kept in {self.assignments}"
        except UserError as error:
            self.session.note = f"Assigned for this session alone: {error}"
        for one in wizard.controllers:
            if one is not chosen:
                one.close()
        self.session.use(chosen, assignment)
        self.wizard = None

    def _stop_assigning(self) -> None:
        for one in self.wizard.controllers:
            one.close()
        self.wizard = None
        self._find_controllers()

    @staticmethod
    def _let_go_of(controller: Controller | None) -> None:
        if controller is not None:
            controller.close()

    # ---- the picture ----------------------------------------------------------------------------------------------
    def _arrange(self) -> None:
        size = self.get_framebuffer_size()
        wanted = (size, self.get_pixel_ratio())
        if wanted == self._placed:
            return
        self._placed = wanted
        places = arrange(*size, wanted[1], chart=False)
        sizes = places.sizes
        strip = sizes.px(46)
        self.view_box, readings_box = places.view.split_top(places.view.height - strip)
        self.heading.place(places.header, sizes)
        self.readings.place(readings_box, sizes)
        self.looking.place(places.time_line, sizes)
        self.flying.place(places.buttons, sizes)
        self.sticks.place(places.sticks, sizes)
        self.surfaces.place(places.surfaces, sizes)
        self.knobs.place(places.switches, sizes)
        self.named.place(self.view_box, sizes)
        self.over.place(self.view_box.inset(sizes.gap), sizes)
        band = sizes.px(26)
        upper = self.view_box.inset(sizes.gap).split_top(band)[0]
        self.note.place(Box(upper.x, self.view_box.y + sizes.gap, upper.width, band), sizes)
        self.slow.place(upper, sizes)
        self._headed = None

    def on_draw(self) -> None:
        """Draw the scene and every panel."""
        self._dirty = False
        self._arrange()
        session, view = self.session, self.view_box
        if self._fresh_scene:
            if self.scene is not None:
                self.scene.delete()
            self.scene, self._fresh_scene = Scene(self.playback, stand=_stand(self.playback, session.flight)), False
        size = self.get_framebuffer_size()
        gl.glViewport(0, 0, *size)
        gl.glClearColor(*(c / 255 for c in theme.PAPER), 1.0)
        gl.glClear(gl.GL_COLOR_BUFFER_BIT)
        place = tuple(round(v) for v in (view.x, view.y, view.width, view.height))
        shown = self.scene.draw(place, self.playback.end, self.seen_from, self.shown, self.zoom[self.seen_from])
        gl.glViewport(0, 0, *size)
        self.projection = Mat4.orthogonal_projection(0, size[0], 0, size[1], -255, 255)
        self._show(shown)
        for panel in self.panels:
            panel.draw(size)
        self.pictures += 1

    def _let_numbers_follow(self) -> None:
        """Always while time stands still, else ten times a second: text takes longest to draw."""
        now = time.monotonic()
        says = self.session.paused or now - self._said > 0.1
        if says:
            self._said = now
        for panel in (self.sticks, self.surfaces, self.readings, self.named):
            panel.says = says

    def _show(self, shown) -> None:
        session, flight = self.session, self.session.flight
        self._let_numbers_follow()
        self.named.show(shown.labels)
        plane = flight.live.plane
        cg = f"CG {100.0 * plane.mac_of_station(plane.cg_station):.1f} % of MAC"
        note = ", ".join(
            [cg, f"sticks: {session.hands}", *(["in wind"] if flight.manoeuvre.start.wind is not None else [])]
        )
        if note != self._headed:
            self._headed = note
            self.heading.name([f"{flight.setup.name} on {flight.setup.airframe.name}"], note)
        row = session.row if session.row is not None else flight.live.start
        self.sticks.show(row[STICK_CHANNELS])
        self.surfaces.show(shown.pose.surfaces * DEGREES)
        self.readings.show(flight.live.frames * FRAME, readings(row))
        switches = [("rates", flight.rates)] + ([("flight mode", flight.mode)] if flight.setup.modes else [])
        self.knobs.show(session.knobs, session.knob, switches)
        self.flying.relabel("go", "fly" if session.paused else "pause")
        self.flying.show(set() if session.paused else {"go"})
        self.looking.show({self.seen_from} | {name for name in LAYERS if getattr(self.shown, name)})
        self.slow.show(session.slow, loud=True)
        self.note.show("" if session.paused else session.note)
        self._show_over()

    def _show_over(self) -> None:
        session, wizard = self.session, self.wizard
        if wizard is not None:
            lines = [wizard.heading, *([wizard.note] if wizard.note else [])]
            self.over.show(f"Which stick is which: {wizard.progress}", lines, _WIZARD_KEYS, bars=wizard.seen()[:8])
        elif self.leaving:
            seconds = session.last.live.frames * FRAME
            keys = [("K", f"keep it as {session.keeper.next_place()}"), ("Q", "leave without it"), ("Space", "stay")]
            lines = [session.note] if session.note else []
            self.over.show(f"This flight of {seconds:.1f} s is not kept yet", lines, keys)
        elif session.paused:
            said = [text for text in (session.note, session.held_at_start) if text]
            if session.flight.live.frames == 0:
                keys = [(cap, words) for _, _, cap, words in actions.HELD]
                keys += [("Shift", "gently, while it is held"), ("Space", "fly, pause")]
                self.over.show(session.why, said, keys, CAUTIONS)
                return
            keys = [] if session.flight.live.ending else [("Space", "go on")]
            keys += [("\u232b", "start anew"), ("K", "keep this flight"), ("Q", "leave")]
            self.over.show(session.why, said, keys)
        else:
            self.over.show("")

    # ---- keys and mouse -------------------------------------------------------------------------------------------
    def on_key_press(self, symbol: int, modifiers: int) -> None:
        """A stick that is moved while the key is held, or an action."""
        name, self._dirty = key.symbol_string(symbol), True
        if self.wizard is not None:
            self._in_wizard(name)
        elif self.leaving:
            self._in_leaving(name)
        elif name in actions.WAY_BY_KEY:
            self.session.keys.held.add(actions.WAY_BY_KEY[name])
        elif name in actions.GENTLE:
            self.session.keys.gentle = True
        elif name in actions.BY_KEY:
            self._do(actions.BY_KEY[name])

    def on_key_release(self, symbol: int, modifiers: int) -> None:
        """The stick goes back."""
        name = key.symbol_string(symbol)
        self.session.keys.held.discard(actions.WAY_BY_KEY.get(name, ""))
        if name in actions.GENTLE:
            self.session.keys.gentle = False

    def _in_wizard(self, name: str) -> None:
        if name in ("RETURN", "ENTER", "NUM_ENTER"):
            self._accept()
        elif name == "TAB":
            self.wizard.skip()
        elif name == "BACKSPACE":
            self.wizard.back()
        elif name in ("ESCAPE", "Q"):
            self._stop_assigning()

    def _in_leaving(self, name: str) -> None:
        if name == "K":
            self.session.keep()
            if self.session.kept:
                self._leave()
        elif name in ("Q", "ESCAPE"):
            self._leave()
        elif name == "SPACE":
            self.leaving = False

    def _do(self, name: str) -> None:
        session = self.session
        if name == "go":
            if session.paused:
                if session.controller is None:
                    self._find_controllers()
                session.go_on()
            else:
                session.pause()
        elif name == "anew":
            session.reset()
        elif name == "keep":
            session.pause()
            session.keep()
        elif name == "rates":
            session.next_rates()
        elif name == "mode":
            session.next_mode()
        elif name in ("less", "more"):
            session.turn(1 if name == "more" else -1)
        elif name in ("before", "next"):
            session.choose(1 if name == "next" else -1)
        elif name in VIEWS:
            self.seen_from = name
        elif name in LAYERS:
            self.shown = replace(self.shown, **{name: not getattr(self.shown, name)})
        elif name == "hands":
            self.sticks.hold(self.sticks.hands % 4 + 1)
        elif name == "assign":
            self._assign()
        elif name == "leave":
            session.pause()
            if session.keeper.always or session.kept:
                self._leave()
            else:
                self.leaving, session.note = True, ""

    def on_mouse_press(self, x: int, y: int, button: int, modifiers: int) -> None:
        """The buttons, and the knobs."""
        if self._placed is None or self.wizard is not None or self.leaving:
            return
        self._dirty = True
        ratio = self.get_framebuffer_size()[0] / self.width
        x, y = x * ratio, y * ratio
        knob = self.knobs.knob_at(x, y, len(self.session.knobs))
        if name := self.flying.name_at(x, y) or self.looking.name_at(x, y):
            self._do(name)
        elif knob is not None:
            self.session.knob = knob

    def on_mouse_scroll(self, x: int, y: int, scroll_x: float, scroll_y: float) -> None:
        """The wheel turns the knob that is chosen, and comes closer over the view."""
        ratio = self.get_framebuffer_size()[0] / self.width
        if self._placed is None or not scroll_y:
            return
        self._dirty = True
        if self.knobs.box.contains(x * ratio, y * ratio):
            self.session.turn(1 if scroll_y > 0 else -1)
        elif self.view_box.contains(x * ratio, y * ratio):
            zoom = self.zoom[self.seen_from] * (CLOSER if scroll_y > 0 else 1.0 / CLOSER)
            self.zoom[self.seen_from] = min(CLOSEST, max(WIDEST, zoom))

    def on_deactivate(self) -> None:
        """Keys that are let go elsewhere are not seen here, so they are let go, and time stops."""
        self.session.keys.held.clear()
        self.session.keys.gentle = False
        if not self.session.paused:
            self.session.pause("Paused: another window has the keys.")

    # ---- the end ----------------------------------------------------------------------------------------------------
    def _leave(self) -> None:
        self.left = True
        self.close()

    def on_close(self) -> None:
        """The window is closed from outside: asked once whether the flight is to be kept, as by Q; the second time it goes."""
        if self.leaving:
            self._leave()
            return
        if self.wizard is not None:
            self._stop_assigning()
        self._do("leave")
        self._dirty = True

    def close(self) -> None:
        """Stop and give everything back."""
        pyglet.clock.unschedule(self._tick)
        self._let_go_of(self.session.controller)
        for one in self.wizard.controllers if self.wizard else ():
            one.close()
        super().close()


_WIZARD_KEYS = [
    ("Enter", "it stands there (or any button)"),
    ("Tab", "leave it to the keys"),
    ("Backspace", "the one before"),
    ("Q", "stop, keep nothing"),
]


def _stand(playback: Playback, flight: ByHand) -> Station:
    """Where the pilot stands: right of the start, so that the plane passes in front of him from left to right."""
    along = heading_at_start(playback)
    right = np.array([-along[1], along[0], 0.0])
    hovers = flight.manoeuvre.start.from_ == "hover"
    eye = playback.position[0] + (BESIDE_A_HOVER if hovers else BESIDE) * right + (0.0 if hovers else AHEAD) * along
    return Station(np.array([eye[0], eye[1], -EYES]), along)
