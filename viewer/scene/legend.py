"""The words of a picture: what flight, when, how fast and how high; what its colours and patterns mean; names at places."""

from __future__ import annotations

from collections.abc import Sequence

import pyglet
from pyglet import shapes

from viewer.scene import colours as C
from viewer.scene.cameras import NAMED
from viewer.scene.scene import Label, Scene, Shown, Switches

FONT = ("DejaVu Sans", "Liberation Sans", "Arial")
KEY = {
    "stall": "hatched strip: flow separated, the wider the bars the more",
    "ribbon": "path, a band a second; faint: still to come",
    "ghost": "second flight",
    "slipstream": "edge of the slipstream, a ring each equal time",
    "forces": "force by part; the weight's arrow is 0.4 span long",
    "references": "line to be flown, height of the entry",
    "shadow": "down to the ground",
}
PAPER = (*C.PAPER, 205)
GROUND = "ground: squares of 10 m, heavy lines every 100 m"


class Legend:
    """Text over the drawing of `scene`.  Sizes go with the height of the viewport."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self._texts: list[pyglet.text.Label] = []
        self._used = 0
        self._paper = shapes.Rectangle(0, 0, 1, 1, color=PAPER)
        self._back = shapes.Rectangle(0, 0, 1, 1, color=(*C.PAPER, 130))
        self._known: tuple = ()
        self._key_batch = pyglet.graphics.Batch()
        self._key_pieces: list = []  # kept, or they would vanish from the batch

    def draw(
        self,
        viewport: tuple[int, int, int, int],
        shown: Shown,
        switches: Switches,
        view: str = "pilot",
        key: bool = True,
    ) -> None:
        """Draw the words for `shown` into `viewport` (pixels of the window); without `key`, no explanation of colours."""
        x, y, width, height = viewport
        size = max(9.0, min(0.0145 * height, 0.011 * width))
        self._used = 0
        self._names(shown.labels, size * 0.92, viewport)
        lines = self.lines(shown, view)
        self._panel(x + size, y + height - size, lines, size * 1.12)
        if key:
            self._key(x + size, y + size, size, switches, shown)

    def lines(self, shown: Shown, view: str) -> list[str]:
        """The head of the picture, one text a line."""
        scene, pose = self.scene, shown.pose
        lines = [
            scene.playback.title,
            f"{pose.time:.2f} s" + (f"   {pose.phase}" if pose.phase else ""),
            f"{pose.airspeed:.1f} m/s   height {pose.height:.1f} m",
        ]
        if scene.playback.ending and pose.time >= scene.playback.end:
            lines[1] += f"   ({scene.playback.ending})"
        if shown.ghost_pose is not None:
            other, laid = scene.ghost, scene.alignment
            moved = float((laid.shift @ laid.shift) ** 0.5)
            how = [f"{shown.ghost_pose.time:.2f} s"] + ([f"moved {moved:.1f} m"] if moved >= 0.05 else [])
            lines.append(f"second: {other.title}   {', '.join(how)}")
            lines.append(f"{shown.ghost_pose.airspeed:.1f} m/s   height {shown.ghost_pose.height:.1f} m")
        lines.append(f"seen {NAMED.get(view, view)}")
        return lines

    def delete(self) -> None:
        """Give the texts back."""
        for text in self._texts:
            text.delete()
        self._texts.clear()

    # ---- pieces --------------------------------------------------------------------------------------------------
    def _text(
        self, words: str, x: float, y: float, size: float, colour: C.Colour, bold: bool = False
    ) -> pyglet.text.Label:
        if self._used == len(self._texts):
            self._texts.append(pyglet.text.Label("", font_name=FONT, anchor_y="bottom"))
        label = self._texts[self._used]
        self._used += 1
        label.begin_update()
        if label.text != words:
            label.text = words
        if label.font_size != size:
            label.font_size = size
        weight = "bold" if bold else "normal"
        if label.weight != weight:
            label.weight = weight
        if tuple(label.color[:3]) != colour:
            label.color = (*colour, 255)
        label.end_update()
        self._move(label, x, y)
        return label

    @staticmethod
    def _move(label: pyglet.text.Label, x: float, y: float) -> None:
        if (label.x, label.y) != (x, y):
            label.position = (x, y, 0.0)

    def _names(self, labels: Sequence[Label], size: float, viewport) -> None:
        taken: list[tuple[float, float, float]] = []
        x, y, width, height = viewport
        for item in labels:
            wide, at_x, at_y = 0.62 * size * 1.34 * len(item.text), item.x + 0.5 * size, item.y + 0.4 * size
            if at_x + wide > x + width or at_y + 1.6 * size > y + height:
                continue
            if any(abs(at_y - b) < 1.7 * size and at_x < a + w and a < at_x + wide for a, b, w in taken):
                continue
            taken.append((at_x, at_y, wide))
            text = self._text(item.text, at_x, at_y, size, item.colour)
            self._back.position = (at_x - 0.3 * size, at_y)
            self._back.width, self._back.height = text.content_width + 0.6 * size, 1.62 * size
            self._back.draw()
            text.draw()

    def _panel(self, x: float, y: float, lines: list[str], size: float) -> None:
        step = 1.75 * size
        texts = [self._text(words, x + size, 0.0, size, C.INK, n == 0) for n, words in enumerate(lines)]
        wide = max(text.content_width for text in texts) + 2.0 * size
        tall = step * len(lines) + 0.6 * size
        self._paper.position, self._paper.width, self._paper.height = (x, y - tall), wide, tall
        self._paper.draw()
        for n, text in enumerate(texts):
            self._move(text, x + size, y - (n + 1) * step)
            text.draw()

    def _key(self, x: float, y: float, size: float, switches: Switches, shown: Shown) -> None:
        there = {"ghost": shown.ghost_pose is not None, "slipstream": shown.pose.jet is not None}
        wanted = [name for name in KEY if getattr(switches, name) and there.get(name, True)]
        known = (x, y, size, *wanted)
        if self._known != known:
            self._known, self._key_batch, self._key_pieces = known, pyglet.graphics.Batch(), []
            self._lay_key(x, y, size, [(name, KEY[name]) for name in wanted] + [("", GROUND)])
        self._key_batch.draw()

    def _lay_key(self, x: float, y: float, size: float, rows: list[tuple[str, str]]) -> None:
        batch, keep = self._key_batch, self._key_pieces.append
        back, front = pyglet.graphics.Group(0), pyglet.graphics.Group(1)
        step, wide = 1.8 * size, 2.6 * size
        across = 0.0
        for n, (name, words) in enumerate(rows):
            bottom = y + 0.5 * size + (len(rows) - 1 - n) * step
            text = pyglet.text.Label(
                words, x + wide + 1.5 * size, bottom, font_name=FONT, font_size=size * 0.92, anchor_y="bottom",
                color=(*C.INK, 255), batch=batch, group=pyglet.graphics.Group(2),
            )  # fmt: skip
            keep(text)
            across = max(across, text.content_width + wide + 2.5 * size)
            for shape in swatch(name, x + 0.7 * size, bottom + 0.15 * size, wide, 1.15 * size):
                shape.batch, shape.group = batch, front
                keep(shape)
        paper = shapes.Rectangle(x, y, across, step * len(rows) + 0.6 * size, color=PAPER, batch=batch, group=back)
        keep(paper)


def swatch(name: str, x: float, y: float, wide: float, tall: float) -> list:
    """The sample of what `name` looks like, as pyglet shapes in a box of `wide` by `tall`; the ground's where it is unknown."""
    middle = y + 0.5 * tall
    if name == "stall":
        made: list = [shapes.Rectangle(x, y, wide, tall, color=C.STALLED)]
        for n in range(4):
            at = x + (0.05 + 0.22 * n) * wide
            made.append(shapes.Line(at, y, at + 0.2 * wide, y + tall, thickness=0.18 * tall, color=C.HATCH))
    elif name == "ribbon":
        made = [
            shapes.Rectangle(x, y, 0.5 * wide, tall, color=C.RIBBON[0]),
            shapes.Rectangle(x + 0.5 * wide, y, 0.5 * wide, tall, color=C.RIBBON[1]),
        ]
    elif name == "ghost":
        made = [shapes.Rectangle(x, y, wide, tall, color=(*C.SECOND, 110))]
        for n in range(6):
            at = x + (n + 0.5) / 6.0 * wide
            made.append(shapes.Line(at, y, at, y + tall, thickness=max(1.0, 0.13 * tall), color=C.SECOND))
    elif name == "slipstream":
        made = [
            shapes.Rectangle(x + 0.2 * n * wide, y, 0.2 * wide, tall, color=(*C.JET, 150 if n % 2 == 0 else 50))
            for n in range(5)
        ]
    elif name == "forces":
        made = [
            shapes.Line(x, middle, x + 0.7 * wide, middle, thickness=0.2 * tall, color=C.INK),
            shapes.Triangle(x + wide, middle, x + 0.65 * wide, y, x + 0.65 * wide, y + tall, color=C.INK),
        ]
    elif name in ("references", "shadow"):
        colour, thick = (C.REFERENCE, 0.22) if name == "references" else (C.INK, 0.1)
        made = [
            shapes.Line(at, middle, at + 0.24 * wide, middle, thickness=max(1.0, thick * tall), color=colour)
            for at in (x, x + 0.36 * wide, x + 0.72 * wide)
        ]
    else:
        made = [shapes.Rectangle(x, y, wide, tall, color=C.GROUND)]
        for share, thick in ((0.0, 1.0), (0.5, 1.0), (1.0, max(1.0, 0.2 * tall))):
            made.append(shapes.Line(x + share * wide, y, x + share * wide, y + tall, thickness=thick, color=C.GRID))
    return made
