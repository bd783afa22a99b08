"""`upline bench linkage`."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from models.errors import OptionError, Refused, UserError, nearest, quoted
from models.options import one_of, option_value
from viewer.commands.shared import reading, show

if TYPE_CHECKING:
    from models.linkage_schema import LinkagePart
    from models.loader import Loaded
    from sim.description import Setup

ABOUT = "arm, rod and horn: surface over stick, steps, torque, play, left-right mismatch, and the best holes"
EXAMPLES = [
    "upline bench linkage extreme",
    "upline bench linkage extreme --control elevator --picture elevator.png",
    'upline bench linkage extreme --control elevator --try "servo arm: 30 mm, horn height: 24 mm"',
    'upline bench linkage precision --control elevator --wanted "45 deg" --arms "20 mm, 25 mm, 30 mm"',
]
NOTES = (
    "--try and --other-half take the keys of a linkage in a setup file: servo arm, horn height, horn offset,\n"
    "arm neutral, servo to hinge or rod length, hinge height, servo travel, rod play, gear play."
)
CONTROLS = ("aileron", "elevator", "rudder")
MOST_HOLES = 20


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setup", metavar="SETUP")
    sub.add_argument("--control", metavar="CONTROL", help="aileron, elevator or rudder in full (default: all in brief)")
    sub.add_argument("--try", dest="change", metavar="CHANGES", help='other values: "servo arm: 30 mm, rod play: 0 mm"')
    sub.add_argument("--other-half", metavar="CHANGES", help="what differs on the other aileron or elevator half")
    sub.add_argument("--torque", metavar="TORQUE", help='torque of one servo, "2.5 N m", instead of the setup\'s')
    sub.add_argument("--steps", metavar="N", help="steps of the link over the servo's whole travel (default 2048)")
    sub.add_argument("--picture", metavar="FILE", help="draw it: a .png, .svg or .pdf file")
    sub.add_argument("--wanted", metavar="ANGLE", help='the way back: holes of arm and horn for "45 deg" both ways')
    sub.add_argument("--arms", metavar="LENGTHS", help='holes of the arm for --wanted, "20 mm, 25 mm, 30 mm"')
    sub.add_argument("--horns", metavar="LENGTHS", help="holes of the horn for --wanted")


def run(options: argparse.Namespace) -> int:
    """Do the work and return the exit code."""
    reading()
    from models.fields import Count, Quantity
    from models.loader import load
    from scenarios.bench.linkage import STEPS

    _check_together(options)
    torque = option_value("--torque", Quantity("torque", over="0 N m", most="100 N m").read, options.torque)
    steps = option_value("--steps", Count(64, 1_000_000).read, options.steps, STEPS)
    loaded = load(options.setup)
    if options.wanted is not None:
        return _holes(options, loaded, torque, steps)
    return _bench(options, loaded, torque, steps)


def _bench(options: argparse.Namespace, loaded: Loaded, torque: float | None, steps: int) -> int:
    """The linkages as they are, or as they would be with a change."""
    from scenarios.bench.linkage import bench
    from viewer.bench.linkage import bench_text, summary_text
    from viewer.bench.linkage_documents import bench_document
    from viewer.files import picture_path, write_picture

    setup = _as_tried(options, loaded)
    if options.control is not None and options.control not in setup.linkages:
        raise _none_there(setup, f"no linkage for the {options.control}", list(setup.linkages))
    if not setup.linkages:
        raise _none_there(setup, "no linkages", [])
    picture = picture_path("--picture", options.picture)
    controls = [options.control] if options.control else list(setup.linkages)
    benches = [bench(setup, control, torque, steps) for control in controls]
    names = setup.name, setup.airframe.name
    if picture is not None:
        from viewer.plots.linkage import draw

        title = f"linkage{'s' if len(benches) > 1 else ''} of {names[0]} on {names[1]}"
        write_picture("--picture", picture, lambda file, kind: draw(title, benches, file, kind))
    text = bench_text(*names, benches[0]) if options.control else summary_text(*names, benches)
    document = {"setup": names[0], "airframe": names[1], "linkages": [bench_document(b) for b in benches]}
    show(text, document, options.json)
    return 0


def _holes(options: argparse.Namespace, loaded: Loaded, torque: float | None, steps: int) -> int:
    """The way back: from a wanted throw to holes."""
    from models.fields import Quantity
    from models.linkage_schema import PARTS
    from models.linkages import changed
    from scenarios.bench.linkage import drive_of, largest_flap_chord
    from scenarios.bench.linkage_holes import ARMS, HORNS, holes_for
    from viewer.bench.linkage import holes_text
    from viewer.bench.linkage_documents import holes_document

    setup, control = loaded.setup, options.control
    wanted = option_value("--wanted", Quantity("angle", over="0 deg", most="75 deg").read, options.wanted)
    arms = option_value("--arms", _lengths, options.arms, ARMS)
    horns = option_value("--horns", _lengths, options.horns, HORNS)
    part = _parts(loaded).get(control) or PARTS[control].model_construct(servo_arm=arms[0], horn_height=horns[0])
    if options.change is not None:
        part = changed(part, _change("--try", options.change))
    can, cannot = holes_for(part, wanted, arms, horns, drive_of(setup, control, torque, steps))
    chord, _ = largest_flap_chord(setup.airframe, control)
    about = f"{control} of {setup.name} on {setup.airframe.name}"
    usual = options.arms is None or options.horns is None
    document = {"setup": setup.name, "airframe": setup.airframe.name} | holes_document(
        control, wanted, chord, can, cannot
    )
    show(holes_text(about, wanted, chord, can, cannot, usual, steps), document, options.json)
    return 0


def _check_together(options: argparse.Namespace) -> None:
    """Refuse options that do not go with each other.  Raises `OptionError`."""
    if options.control is not None:
        one_of("--control", options.control, CONTROLS)
    for option, value in (
        ("--wanted", options.wanted),
        ("--try", options.change),
        ("--other-half", options.other_half),
    ):
        if value is not None and options.control is None:
            raise OptionError(option, Refused("no --control", "one control", f"--control {CONTROLS[1]}"))
    if options.other_half is not None and options.control == "rudder":
        raise OptionError("--other-half", Refused("--control rudder", "aileron or elevator, which have two halves"))
    if options.wanted is None:
        for option, value in (("--arms", options.arms), ("--horns", options.horns)):
            if value is not None:
                raise OptionError(option, Refused("no --wanted", "a wanted throw beside it", '--wanted "45 deg"'))
    else:
        for option, value in (("--picture", options.picture), ("--other-half", options.other_half)):
            if value is not None:
                raise OptionError(option, Refused("--wanted beside it", "one of the two"))


def _parts(loaded: Loaded) -> dict[str, LinkagePart]:
    """The linkages as the setup file has them, by control."""
    linkages = loaded.documents["setup"].value.linkages
    return {name: part for name, part in linkages or () if part is not None}


def _as_tried(options: argparse.Namespace, loaded: Loaded) -> Setup:
    """The setup with --try and --other-half put on the control's linkage.  Raises `UserError`."""
    from dataclasses import replace

    from models.linkage_schema import PARTS, Linkages
    from models.linkages import changed, linkage, linkage_problems

    setup, control = loaded.setup, options.control
    if options.change is None and options.other_half is None:
        return setup
    part = _parts(loaded).get(control)
    other = getattr(part, "other_half", None)
    if options.change is not None:
        change = _change("--try", options.change)
        if part is None:
            if change.servo_arm is None or change.horn_height is None:
                found = f"no linkage for the {control} in {setup.name}, and not all of one here"
                allowed = "servo arm and horn height at least"
                raise OptionError("--try", Refused(found, allowed, '--try "servo arm: 30 mm, horn height: 30 mm"'))
            part = PARTS[control].model_construct(servo_arm=change.servo_arm, horn_height=change.horn_height)
        part = changed(part, change)
    if part is None:
        raise _none_there(setup, f"no linkage for the {control}", list(setup.linkages))
    if options.other_half is not None:
        other = _change("--other-half", options.other_half)
    if other is not None:
        part = part.model_copy(update={"other_half": other})
    throws = {name: dict(t) for name, t in loaded.documents["setup"].value.throws}
    problems = []
    for where, refused in linkage_problems(Linkages.model_construct(**{control: part}), throws):
        option = "--other-half" if options.other_half is not None and "other half" in f"{where} {refused}" else "--try"
        problems.append(f"{option}: {' > '.join(map(str, where))}: {refused}")
    if problems:
        raise UserError("\n".join(problems))
    return replace(setup, linkages={**setup.linkages, control: linkage(part)})


def _change(option: str, text: str):
    """Values of a linkage from "key: value, key: value".  Raises `OptionError`."""
    from models.linkage_schema import FIELDS, LinkageChange

    values = {}
    for piece in text.split(","):
        key, colon, value = (part.strip() for part in piece.partition(":"))
        if not colon:
            raise OptionError(option, Refused(quoted(piece), '"key: value", with commas between', '"servo arm: 30 mm"'))
        if key not in FIELDS:
            raise OptionError(option, Refused(quoted(key), ", ".join(FIELDS), " or ".join(nearest(key, FIELDS))))
        field, kind = FIELDS[key]
        if field in values:
            raise OptionError(option, Refused(f"{quoted(key)} a second time", "each key once"))
        values[field] = option_value(f"{option}: {key}", kind.read, value)
    return LinkageChange.model_construct(**values)


def _lengths(text: str) -> list[float]:
    """Lengths of arms or horns, rising.  Raises `Refused`."""
    from typing import get_args

    from models.linkage_schema import Radius

    pieces = text.split(",")
    if len(pieces) > MOST_HOLES:
        raise Refused(f"{len(pieces)} lengths", f"at most {MOST_HOLES}")
    return sorted({get_args(Radius)[1].read(piece.strip()) for piece in pieces})


def _none_there(setup: Setup, found: str, have: list[str]) -> UserError:
    advice = f"--control {' or '.join(have)}" if have else 'a group "linkages:" in a copy of the setup'
    tried = '--control elevator --try "servo arm: 30 mm, horn height: 30 mm"'
    return UserError(f"{setup.name}: {Refused(found, 'a setup with linkages', f'{advice}, or {tried}')}")
