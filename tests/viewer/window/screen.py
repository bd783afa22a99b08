"""A screen without a monitor for tests of the real window: Xvfb, what it shows as an array, and xdotool's hands."""

from __future__ import annotations

import ctypes
import os
import shutil
import subprocess
import time
from pathlib import Path

import numpy as np
import pytest

PROGRAMS = ("Xvfb", "xdotool")
PATIENCE = 60.0  # s until a window must have come; a first start compiles


class Screen:
    """An X server with a framebuffer in a file (`Xvfb -fbdir`), read by `picture`."""

    def __init__(self, folder: Path, size: tuple[int, int]) -> None:
        for program in PROGRAMS:
            if shutil.which(program) is None:
                pytest.skip(f"needs {program} (Debian: apt-get install xvfb xdotool)")
        read, write = os.pipe()
        command = ["Xvfb", "-displayfd", str(write), "-screen", "0", f"{size[0]}x{size[1]}x24", "-fbdir", str(folder)]
        self._server = subprocess.Popen(command, pass_fds=[write], stderr=subprocess.DEVNULL)
        os.close(write)
        with os.fdopen(read) as answer:
            self.display = f":{answer.readline().strip()}"
        if self.display == ":":
            pytest.skip("Xvfb does not start here")
        self._file = folder / "Xvfb_screen0"
        self.environment = {**os.environ, "DISPLAY": self.display}

    def picture(self) -> np.ndarray:
        """What the screen shows, (height, width, 3) of uint8, top row first: an X window dump (XWDFile.h of the X11 headers)."""
        data = self._file.read_bytes()
        head = np.frombuffer(data[:100], dtype=">u4")
        width, height, row, colours = int(head[4]), int(head[5]), int(head[12]), int(head[19])
        start = int(head[0]) + 12 * colours
        pixels = np.frombuffer(data, dtype=np.uint8, count=row * height, offset=start).reshape(height, row)
        return pixels[:, : 4 * width].reshape(height, width, 4)[:, :, 2::-1].copy()

    def hands(self, *words: str) -> str:
        """What xdotool says to these words."""
        done = subprocess.run(["xdotool", *words], env=self.environment, capture_output=True, text=True, timeout=30)
        return done.stdout.strip()

    def key(self, *names: str) -> None:
        """Press keys, one after the other."""
        self.hands("key", "--delay", "30", *names)

    def close(self) -> None:
        """Take the screen away."""
        self._server.terminate()
        self._server.wait(timeout=10)


class Shown:
    """A command with a window on a screen."""

    def __init__(self, screen: Screen, command: list[str], title: str) -> None:
        self.screen = screen
        self.process = subprocess.Popen(
            command, env=screen.environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        until = time.monotonic() + PATIENCE
        self.window = ""
        while not self.window:
            if self.process.poll() is not None or time.monotonic() > until:
                self.process.kill()
                said = self.process.communicate()[1]
                if "OpenGL" in said:
                    pytest.skip(f"no OpenGL on this machine: {said[:200]}")
                raise AssertionError(f"no window came: {said[-2000:]}")
            time.sleep(0.1)
            self.window = screen.hands("search", "--onlyvisible", "--name", title).split("\n")[0]
        screen.hands("windowmove", self.window, "0", "0")
        screen.hands("windowfocus", self.window)

    def settled(self, until=None, patience: float = 15.0) -> np.ndarray:
        """The picture once `until` holds of it, or else once it has stopped changing."""
        time.sleep(0.0 if until else 0.3)  # what was done last has come to the window by then
        last, end = self.screen.picture(), time.monotonic() + patience
        while time.monotonic() < end:
            time.sleep(0.15)
            now = self.screen.picture()
            if until(now) if until else np.array_equal(now, last):
                return now
            last = now
        assert until is None, "what was waited for did not come"
        return last

    def ask_to_close(self) -> None:
        """What a window manager sends when the cross is clicked (WM_DELETE_WINDOW, ICCCM 4.2.8.1)."""
        x = ctypes.cdll.LoadLibrary("libX11.so.6")
        x.XOpenDisplay.restype = ctypes.c_void_p
        x.XInternAtom.restype = ctypes.c_ulong
        x.XInternAtom.argtypes = [ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int]
        x.XSendEvent.argtypes = [ctypes.c_void_p, ctypes.c_ulong, ctypes.c_int, ctypes.c_long, ctypes.c_void_p]
        display = x.XOpenDisplay(self.screen.display.encode())
        event = _ClientMessage(33, 0, 1, display, int(self.window), x.XInternAtom(display, b"WM_PROTOCOLS", 0), 32)
        event.data[0] = x.XInternAtom(display, b"WM_DELETE_WINDOW", 0)
        x.XSendEvent(display, int(self.window), 0, 0, ctypes.byref(event))
        x.XCloseDisplay(ctypes.c_void_p(display))

    def end(self) -> None:
        """Stop it if it still runs."""
        if self.process.poll() is None:
            self.process.kill()
        self.process.communicate()


class _ClientMessage(ctypes.Structure):
    _fields_ = [("type", ctypes.c_int), ("serial", ctypes.c_ulong), ("send_event", ctypes.c_int), ("display", ctypes.c_void_p),
                ("window", ctypes.c_ulong), ("message_type", ctypes.c_ulong), ("format", ctypes.c_int),
                ("data", ctypes.c_long * 5), ("room", ctypes.c_long * 16)]  # fmt: skip
