"""Pictures and movies of a flight without a screen."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from models.errors import UserError
from scenarios.playback import Alignment, Playback
from viewer.scene.context import headless_window, no_gl
from viewer.scene.looks import Switches

MOVIE_RATE = 25.0  # pictures a second
GIF_RATE = 12.5  # hundredths of a second between two pictures, so that every browser keeps the time
MOST_PICTURES = 15_000


@dataclass(frozen=True)
class Look:
    """How a picture is taken: `view`, what is switched on, `size` in pixels, `zoom`."""

    view: str = "pilot"
    switches: Switches = Switches()
    size: tuple[int, int] = (1280, 720)
    zoom: float = 1.0


class Studio:
    """Draws instants of a flight, and of a second one laid over it, into arrays of pixels.  Raises `UserError` without OpenGL."""

    def __init__(
        self, flight: Playback, ghost: Playback | None, alignment: Alignment | None, look: Look, what: str
    ) -> None:
        self._window = headless_window(*look.size, what)
        from viewer.scene.gl import Target
        from viewer.scene.legend import Legend
        from viewer.scene.scene import Scene

        try:
            self._target = Target(*look.size)
            self._scene = Scene(flight, ghost, alignment)
        except RuntimeError as reason:
            self._window.close()
            raise no_gl(what, reason) from None
        self._legend = Legend(self._scene)
        self.look = look

    def picture(self, time: float) -> np.ndarray:
        """The flight at `time`, (height, width, 3) of uint8, top row first."""
        look, box = self.look, (0, 0, *self.look.size)
        self._window.switch_to()
        self._target.bind()
        shown = self._scene.draw(box, time, look.view, look.switches, look.zoom)
        self._legend.draw(box, shown, look.switches, look.view)
        return self._target.pixels()

    def close(self) -> None:
        """Give everything back."""
        self._legend.delete()
        self._scene.delete()
        self._target.delete()
        self._window.close()

    def __enter__(self) -> Studio:
        return self

    def __exit__(self, *_) -> None:
        self.close()


def movie_times(start: float, end: float, speed: float, rate: float) -> np.ndarray:
    """The instants of a movie from `start` to `end` that runs at `speed` times the flight's own pace."""
    count = int(np.floor((end - start) / speed * rate + 1e-9)) + 1
    return start + np.arange(count) * speed / rate


def write_png(studio: Studio, time: float, file) -> None:
    """One picture as PNG."""
    pillow().fromarray(studio.picture(time)).save(file, "PNG")


def write_gif(studio: Studio, times: np.ndarray, file, note: Callable[[int], None]) -> None:
    """A movie as GIF."""
    image = pillow()
    pictures = [image.fromarray(p).quantize(128, dither=0) for p in _taken(studio, times, note)]
    pictures[0].save(file, "GIF", save_all=True, append_images=pictures[1:], duration=round(1000.0 / GIF_RATE), loop=0)


def write_mp4(studio: Studio, times: np.ndarray, file, note: Callable[[int], None]) -> None:
    """A movie as H.264 in MP4, by the encoder that imageio-ffmpeg brings.  Raises `UserError` where it is missing or fails."""
    try:
        import imageio_ffmpeg
    except ImportError:
        raise UserError(
            '--movie: found no encoder for .mp4; allowed: .gif without one; try: pip install "upline[movie]", or .gif'
        ) from None
    folder = Path(tempfile.mkdtemp(prefix="upline-"))
    try:
        whole = folder / "movie.mp4"
        writer = imageio_ffmpeg.write_frames(
            str(whole), studio.look.size, fps=MOVIE_RATE, macro_block_size=2, quality=7, ffmpeg_log_level="error"
        )
        try:
            writer.send(None)
            for picture in _taken(studio, times, note):
                writer.send(np.ascontiguousarray(picture))
        finally:
            writer.close()
        with open(whole, "rb") as made:
            shutil.copyfileobj(made, file)
    except RuntimeError as reason:
        raise UserError(f"--movie: the encoder stopped: {' '.join(str(reason).split())[:200]}") from None
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _taken(studio: Studio, times: np.ndarray, note: Callable[[int], None]) -> Iterator[np.ndarray]:
    for n, time in enumerate(times):
        note(n)
        yield studio.picture(float(time))


def pillow():
    """Pillow's Image module.  Raises `UserError` where it is missing."""
    try:
        from PIL import Image
    except ImportError:
        raise UserError("--picture: found no Pillow to write pictures with; try: pip install pillow") from None
    return Image
