"""A controller that is not there: a device of pyglet whose axes a test moves."""

import importlib.util
import pathlib

import pyglet

# the module alone: the package around it looks for a screen when it is imported
_spec = importlib.util.spec_from_file_location(
    "pyglet_input_base", pathlib.Path(pyglet.__file__).parent / "input" / "base.py"
)
base = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(base)
AbsoluteAxis, Button, Joystick = base.AbsoluteAxis, base.Button, base.Joystick


class FakeDevice(base.Device):
    """Axes x, y, z, rz from -32767 to 32767 (y turned over, as they mostly come), a direction pad and a button."""

    def __init__(self, name="Invented Sticks", axes=("x", "y", "z", "rz"), least=-32767, most=32767):
        super().__init__(None, name)
        self.axes = {axis: AbsoluteAxis(axis, least, most, axis) for axis in axes}
        self.button = Button("a")
        self.pad = AbsoluteAxis("hat_x", -1, 1, "hat_x")
        self.connected = True

    def get_controls(self):
        return [*self.axes.values(), self.pad, self.button]

    def move(self, **readings):
        for axis, reading in readings.items():
            self.axes[axis].value = reading

    def unplug(self):
        self.connected = False
        self.close()


def joystick(**keywords):
    return Joystick(FakeDevice(**keywords))
