"""The words of a picture: what flight, when, how fast and how high; what its colours and patterns mean; names at places."""

from __future__ import annotations

import math
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
GROUND = "ground: squares of 10 m, heavy lines every 100 m"


class Legend:
    """Text over the drawing of `scene`.  Sizes go with the height of the viewport."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self._texts: list[pyglet.text.Label] = []
        self._used = 0

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
        self._panel(x + size, y + height - size, lines, size * 1.12, top=True)
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
        if shown.ghost_pose is not None:
            other, laid = scene.ghost, scene.alignment
            moved = float((laid.shift @ laid.shift) ** 0.5)
            how = [f"{shown.ghost_pose.time:.2f} s"] + ([f"moved {moved:.1f} m"] if moved >= 0.05 else [])
            lines.append(f"second: {other.title}   {', '.join(how)}")
            lines.append(
                f"{shown.ghost_pose.airspeed:.1f} m/s   height {shown.ghost_pose.height - moved_up(laid):.1f} m"
            )
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
        if (label.x, label.y) != (x, y):
            label.position = (x, y, 0.0)
        return label

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
            for dx, dy in ((-1.0, -1.0), (1.0, 1.0)):  # a light rim, so that it reads on any ground
                self._text(item.text, at_x + dx, at_y + dy, size, C.PAPER).draw()
            self._text(item.text, at_x, at_y, size, item.colour).draw()

    def _panel(self, x: float, y: float, lines: list[str], size: float, top: bool) -> None:
        step = 1.75 * size
        texts = [self._text(words, x + size, 0.0, size, C.INK, n == 0) for n, words in enumerate(lines)]
        wide = max(text.content_width for text in texts) + 2.0 * size
        tall = step * len(lines) + 0.6 * size
        bottom = y - tall if top else y
        shapes.Rectangle(x, bottom, wide, tall, color=(*C.PAPER, 205)).draw()
        for n, text in enumerate(texts):
            text.position = (x + size, bottom + tall - (n + 1) * step, 0.0)
            text.draw()

    def _key(self, x: float, y: float, size: float, switches: Switches, shown: Shown) -> None:
        wanted = [name for name in KEY if getattr(switches, name)]
        if shown.ghost_pose is None and "ghost" in wanted:
            wanted.remove("ghost")
        if shown.pose.jet is None and "slipstream" in wanted:
            wanted.remove("slipstream")
        step, wide = 1.8 * size, 2.6 * size
        rows = [(name, KEY[name]) for name in wanted] + [("", GROUND)]
        texts = [self._text(words, x + wide + 1.5 * size, 0.0, size * 0.92, C.INK) for _, words in rows]
        across = max(text.content_width for text in texts) + wide + 2.5 * size
        shapes.Rectangle(x, y, across, step * len(rows) + 0.6 * size, color=(*C.PAPER, 205)).draw()
        for n, ((name, _), text) in enumerate(zip(rows, texts)):
            bottom = y + 0.5 * size + (len(rows) - 1 - n) * step
            text.position = (x + wide + 1.5 * size, bottom, 0.0)
            text.draw()
            self._swatch(name, x + 0.7 * size, bottom + 0.15 * size, wide, 1.15 * size)

    @staticmethod
    def _swatch(name: str, x: float, y: float, wide: float, tall: float) -> None:
        middle = y + 0.5 * tall
        if name == "stall":
            shapes.Rectangle(x, y, wide, tall, color=C.STALLED).draw()
            for n in range(4):
                at = x + (0.05 + 0.22 * n) * wide
                shapes.Line(at, y, at + 0.2 * wide, y + tall, thickness=0.18 * tall, color=C.HATCH).draw()
        elif name == "ribbon":
            shapes.Rectangle(x, y, 0.5 * wide, tall, color=C.RIBBON[0]).draw()
            shapes.Rectangle(x + 0.5 * wide, y, 0.5 * wide, tall, color=C.RIBBON[1]).draw()
            shapes.Box(x, y, wide, tall, thickness=1, color=C.RIBBON[0]).draw()
        elif name == "ghost":
            shapes.Rectangle(x, y, wide, tall, color=(*C.GHOST, 110)).draw()
            shapes.Box(x, y, wide, tall, thickness=max(1.0, 0.12 * tall), color=C.GHOST).draw()
        elif name == "slipstream":
            for n in range(5):
                shapes.Rectangle(
                    x + 0.2 * n * wide, y, 0.2 * wide, tall, color=(*C.JET, 150 if n % 2 == 0 else 50)
                ).draw()
        elif name == "forces":
            shapes.Line(x, middle, x + 0.7 * wide, middle, thickness=0.2 * tall, color=C.INK).draw()
            shapes.Triangle(x + wide, middle, x + 0.65 * wide, y, x + 0.65 * wide, y + tall, color=C.INK).draw()
        elif name in ("references", "shadow"):
            colour, thick = (C.REFERENCE, 0.22) if name == "references" else (C.INK, 0.1)
            for n in range(3):
                at = x + 0.36 * n * wide
                shapes.Line(at, middle, at + 0.24 * wide, middle, thickness=max(1.0, thick * tall), color=colour).draw()
        else:
            shapes.Rectangle(x, y, wide, tall, color=C.GROUND).draw()
            for share in (0.0, 0.5):
                shapes.Line(x + share * wide, y, x + share * wide, y + tall, thickness=1, color=C.GRID).draw()
            shapes.Line(x + wide, y, x + wide, y + tall, thickness=max(1.0, 0.2 * tall), color=C.GRID).draw()


def moved_up(laid) -> float:
    """How much higher a flight is drawn than it was flown, m."""
    return -float(laid.shift[2]) if math.isfinite(laid.shift[2]) else 0.0
