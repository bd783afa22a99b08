"""Controllers: what an axis says of a stick, the wizard that finds out which is which, and the file that keeps it."""

from types import SimpleNamespace

import pyglet
import pytest

from models.errors import UserFileError
from tests.viewer.hands_on.fake_device import joystick
from viewer.hands_on import controllers as C
from viewer.hands_on.assignments import assignments_file, read_assignments, write_assignment
from viewer.hands_on.controllers import Assignment, Controller, Travel, sticks_of
from viewer.hands_on.wizard import ORDER, Wizard

FULL = 32767


@pytest.fixture
def plugged():
    """A device at rest, its throttle (z) half way, and the controller that reads it."""
    device = joystick().device
    device.move(x=0, y=0, z=0, rz=0)
    return device, Controller(device)


def sweep(wizard, device, axis, hold, ends=(-FULL, FULL)):
    """Move an axis to both ends and hold it at one."""
    for end in ends:
        device.move(**{axis: end})
        wizard.look()
    device.move(**{axis: hold})


def through(wizard, device):
    """The whole wizard: z is the throttle, x aileron, y elevator with back at the low end, rz rudder, not as far."""
    for axis, hold, ends in (
        ("z", FULL, (-FULL, FULL)),
        ("x", 30000, (-31000, 30000)),
        ("y", -FULL, (-FULL, FULL)),
        ("rz", 20000, (-20000, 20000)),
    ):
        sweep(wizard, device, axis, hold, ends)
        assert wizard.accept(), wizard.note
        device.move(**({axis: 400} if axis != "z" else {axis: -FULL}))
    assert wizard.accept(), wizard.note
    return wizard.result


def test_an_axis_is_a_stick_between_its_own_ends():
    right = Travel("x", -31000.0, 400.0, 30000.0)
    assert [right.position(r, True) for r in (-31000, 400, 30000)] == [-1.0, 0.0, 1.0]
    assert right.position(40000, True) == 1.0 and right.position(-40000, True) == -1.0
    back = Travel("y", 32767.0, 0.0, -32767.0)  # turned over
    assert [back.position(r, True) for r in (32767, 0, -32767)] == [-1.0, 0.0, 1.0]
    # a worn centre is centred, and there is no step at the edge of that
    edge = C.DEAD * 32767
    assert back.position(0.9 * edge, True) == 0.0
    assert abs(back.position(1.02 * edge, True)) < 0.001
    half = back.position(-16384, True)
    assert half == pytest.approx((0.5 - C.DEAD) / (1 - C.DEAD), abs=1e-3)


def test_a_throttle_goes_from_idle_to_full():
    throttle = Travel("z", 32767.0, 0.0, -32767.0)
    assert [throttle.position(r, False) for r in (32767, 0, -32767)] == [0.0, 0.5, 1.0]


def test_the_wizard_finds_axis_direction_and_ends(plugged):
    device, controller = plugged
    found = through(Wizard([controller]), device)
    assert found.name == "Invented Sticks"
    assert found.sticks == {
        "throttle": Travel("z", -FULL, 0.0, FULL),
        "aileron": Travel("x", -31000, 400, 30000),
        "elevator": Travel("y", FULL, 400, -FULL),
        "rudder": Travel("rz", -20000, 400, 20000),
    }
    device.move(x=30000, y=-FULL, z=0, rz=-20000)  # right, pulled, half throttle, left rudder
    assert sticks_of(controller, found, [0.0] * 4) == [1.0, 1.0, -1.0, 0.5]


def test_the_wizard_says_what_is_wrong(plugged):
    device, controller = plugged
    wizard = Wizard([controller])
    device.move(z=2000)  # hardly moved
    assert not wizard.accept() and "moved far enough" in wizard.note
    sweep(wizard, device, "z", 0)
    assert not wizard.accept() and "between its ends" in wizard.note
    for end in (-FULL, FULL):
        device.move(z=end, x=end)
        wizard.look()
    assert not wizard.accept() and "Two axes" in wizard.note
    assert wizard.step == 0 and wizard.result is None
    sweep(wizard, device, "z", FULL)
    assert wizard.accept() and wizard.note == ""
    assert "aileron" in wizard.heading and wizard.progress == "step 2 of 5"
    assert "z" not in [seen.axis for seen in wizard.seen()]  # it is taken
    wizard.back()
    assert "throttle" in wizard.heading


def test_a_stick_left_to_the_keys_and_a_stick_that_is_not_let_go(plugged):
    device, controller = plugged
    wizard = Wizard([controller])
    wizard.skip()
    sweep(wizard, device, "x", FULL)
    assert wizard.accept()
    wizard.skip()
    wizard.skip()
    assert not wizard.accept() and "Let it go" in wizard.note  # x still at its end
    device.move(x=0)
    assert wizard.accept()
    assert list(wizard.result.sticks) == ["aileron"]
    assert sticks_of(controller, wizard.result, [0.2, 0.3, 0.4, 0.5]) == [0.0, 0.3, 0.4, 0.5]


def test_nothing_assigned_is_no_result(plugged):
    wizard = Wizard([plugged[1]])
    for _ in ORDER:
        wizard.skip()
    assert not wizard.accept() and wizard.result is None


def test_the_controller_that_was_moved_is_the_one(plugged):
    device, controller = plugged
    other = joystick(name="Something Else").device
    second = Controller(other)
    wizard = Wizard([second, controller])
    assert through(wizard, device).name == "Invented Sticks"
    assert wizard.controller is controller


def test_an_axis_that_has_not_moved_yet_leaves_the_stick_where_it_was():
    device = joystick().device
    controller = Controller(device)
    assignment = Assignment("Invented Sticks", {"throttle": Travel("z", -FULL, 0.0, FULL)})
    assert sticks_of(controller, assignment, [0.0, 0.0, 0.0, 0.37]) == [0.0, 0.0, 0.0, 0.37]
    device.move(z=FULL)
    assert sticks_of(controller, assignment, [0.0, 0.0, 0.0, 0.37])[3] == 1.0


def test_a_pulled_plug_is_seen(plugged):
    device, controller = plugged
    assert controller.connected
    device.unplug()
    assert not controller.connected
    controller.close()  # nothing to close any more, and no complaint


def test_direction_pads_are_no_axes(plugged):
    assert sorted(plugged[1].axes) == ["rz", "x", "y", "z"]


def test_a_system_without_input_devices_has_no_controllers(monkeypatch):
    def none():
        raise FileNotFoundError("/dev/input")

    monkeypatch.setattr(pyglet, "input", SimpleNamespace(get_joysticks=none), raising=False)
    found, why = C.plugged_in()
    assert found == [] and "cannot be looked for" in why


# ---- the file -----------------------------------------------------------------------------------------------------
ASSIGNED = Assignment("Invented Sticks", {"throttle": Travel("z", -32767.0, 0.0, 32767.0),
                                          "elevator": Travel("y", 32767.0, 400.0, -32767.0)})  # fmt: skip


def test_what_is_written_is_read(tmp_path):
    file = tmp_path / "new" / "controllers.yaml"
    assert read_assignments(file) == {}
    write_assignment(file, ASSIGNED)
    other = Assignment("Another: with a colon", {"rudder": Travel("x", 0.0, 128.0, 255.0)})
    write_assignment(file, other)
    assert read_assignments(file) == {ASSIGNED.name: ASSIGNED, other.name: other}
    changed = Assignment(ASSIGNED.name, {"throttle": Travel("rz", 1.0, 2.0, 3.0)})
    write_assignment(file, changed)
    assert read_assignments(file) == {ASSIGNED.name: changed, other.name: other}
    assert [p.name for p in file.parent.iterdir()] == ["controllers.yaml"]  # nothing half written is left


def test_it_is_kept_in_the_users_own_folder(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setattr("platform.system", lambda: "Linux")
    assert assignments_file() == tmp_path / "upline" / "controllers.yaml"


GOOD = """format: 1
kind: controllers
controllers:
- name: Invented Sticks
  throttle: {axis: z, low: -32767, centre: 0, high: 32767}
  aileron: {axis: x, low: -32767, centre: 0, high: 32767}
"""


@pytest.mark.parametrize(
    "old, new, said",
    [
        ("format: 1", "format: 2", "format"),
        ("kind: controllers", "kind: setup", "kind"),
        ("axis: x,", "axis: z,", "an axis for one stick"),
        ("low: -32767, centre: 0, high: 32767}\n  a", "low: 5, centre: 0, high: 5}\n  a", "two ends apart"),
        ("{axis: x, low: -32767, centre: 0", "{axis: x, low: -32767, centre: 40000", "one between them"),
        ("centre: 0, high: 32767}\n", "centre: nought, high: 32767}\n", "a number"),
        ("aileron:", "airelon:", "aileron"),
    ],
)
def test_a_file_that_is_wrong_is_refused_with_the_place(tmp_path, old, new, said):
    file = tmp_path / "controllers.yaml"
    assert old in GOOD
    file.write_text(GOOD.replace(old, new, 1))
    with pytest.raises(UserFileError) as caught:
        read_assignments(file)
    message = str(caught.value)
    assert said in message and f"{file}:" in message and "allowed" in message


def test_a_file_that_is_wrong_is_set_aside_when_another_is_written(tmp_path):
    file = tmp_path / "controllers.yaml"
    file.write_text("!!python/object/apply:os.system ['true']")
    write_assignment(file, ASSIGNED)
    assert read_assignments(file) == {ASSIGNED.name: ASSIGNED}
    assert (tmp_path / "controllers.yaml.old").read_text().startswith("!!python")


def test_controllers_are_found_each_once_and_a_mouse_is_none(monkeypatch):
    stick, taken = joystick(), joystick(name="Taken")
    mouse = joystick(name="One Wheel", axes=("x",))

    def refuse(*_):
        raise OSError("another program has it")

    taken.device.open = refuse
    asked = SimpleNamespace(get_joysticks=lambda: [stick, taken, mouse], get_controllers=lambda: [stick])
    monkeypatch.setattr(pyglet, "input", asked, raising=False)
    found, why = C.plugged_in()
    assert [one.name for one in found] == ["Invented Sticks"] and why == ""
    assert stick.device.is_open and not mouse.device.is_open
