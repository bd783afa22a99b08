"""`upline balance`."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any, NamedTuple, NoReturn

from models.errors import OptionError, Refused
from models.options import Gathered, option_value
from viewer.commands.shared import cg_option, inches_option, prepare, show

if TYPE_CHECKING:
    from scenarios.ballast import Place
    from sim.description import Setup

ABOUT = "mass, CG, margins and inertia, the ballast for a wanted CG, the CG from scales, and how the plane swings"
EXAMPLES = [
    'upline balance precision --cg "150 mm"',
    'upline balance precision --cg "240 mm" --ballast-at "tail post"',
    'upline balance precision --scales "main 5.9 kg, tail 0.62 kg"',
]
NOTES = """\
A CG beyond the tray of the moved item is answered with the ballast that does it. Scales go under both main
wheels (one reading, "main", or "left" and "right") and the tail or nose wheel, the fuselage level as flown."""


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setup", metavar="SETUP")
    cg_option(sub)
    inches_option(sub)
    sub.add_argument(
        "--ballast-at",
        metavar="PLACE",
        help='where ballast goes if the tray ends: "1250 mm" behind the wing root leading edge, "tail post", an item',
    )
    sub.add_argument(
        "--scales", metavar="READINGS", help='what scales say: "main 5.9 kg, tail 0.62 kg", or left, right and tail'
    )
    sub.add_argument(
        "--wheels",
        metavar="AXLES",
        help='instead of the airframe\'s: "main [50 mm, 230 mm, -245 mm], tail [1260 mm, 0 mm, -80 mm]"',
    )
    sub.add_argument(
        "--tail-low", metavar="ANGLE", help='how far the tail hung below level on the scales, "8.9 deg" (default 0)'
    )
    sub.add_argument(
        "--derivatives", action="store_true", help="stability and control derivatives too (always in --json)"
    )


def run(options: argparse.Namespace) -> int:
    """Do the work and return the exit code."""
    from models.loader import load_setup

    own = load_setup(options.setup)
    read = _read(options, own)
    setup = read.setup
    progress = prepare()
    from scenarios.balance import balance, lateral, margin_spreads
    from scenarios.ballast import wanted, with_ballast
    from scenarios.manoeuvres import CannotFly, flyable
    from scenarios.sensitivity import sensitivity
    from scenarios.weighing import weigh
    from sim.build import with_cg
    from viewer.balance import balance_document, balance_table, derivatives_table, modes_table
    from viewer.ballast import (
        LEAST_MARGIN,
        MOST_SHOWN,
        Carried,
        lateral_document,
        lateral_text,
        little_margin,
        wanted_document,
        wanted_text,
    )
    from viewer.estimates import estimates_document, estimates_table
    from viewer.text import wrapped
    from viewer.weighing import weighed_document, weighed_text
    from viewer.words import NO_TORQUE

    asked = wanted(setup, read.place)
    if read.place is not None and not asked.within and not asked.ballast:
        raise _wrong_side(read.place, asked)
    carried = []
    if not asked.within:
        few = asked.ballast[:MOST_SHOWN]
        loaded = [with_cg(setup, asked.end, "m"), *(with_ballast(setup, each) for each in few)]
        carried = [Carried(each, flyable(one)) for each, one in zip((None, *few), loaded)]
        setup = loaded[min(1, len(few))]
    names = setup.name, setup.airframe.name
    blocks, document = [f"{names[0]} on {names[1]}"], {"setup": names[0], "airframe": names[1]}
    if options.cg or not asked.within:
        blocks.append(wanted_text(asked, wanted(own), carried))
        document["wanted"] = wanted_document(asked, carried)
    try:
        plane = flyable(setup)
        result, spread, side = balance(plane), margin_spreads(setup), lateral(plane)
    except CannotFly as stop:
        if asked.within or read.scales is not None:
            raise
        progress.clear()
        document["not_flown"] = str(stop)
        show(
            "\n\n".join([*blocks, wrapped(f"Balanced there it cannot be looked at in flight: {stop}.")]),
            document,
            options.json,
        )
        return 0
    if (options.cg or not asked.within) and result.static_margin < LEAST_MARGIN:
        blocks[-1] += "\n\n" + wrapped(little_margin(result))
    if read.scales is not None:
        weighed = weigh(read.scales, read.wheels, result.cg_height, read.tail_low)
        blocks.append(weighed_text(weighed, result, plane))
        document["weighed"] = weighed_document(weighed, result, plane)
    document |= balance_document(*names, result, spread)
    document["side_to_side"] = lateral_document(side, result)
    blocks += [balance_table(result, spread, options.also_inches), lateral_text(side, result), modes_table(result)]
    if options.derivatives:
        blocks.append(derivatives_table(result))
    estimates = sensitivity(plane)
    blocks.append(estimates_table(estimates))
    if result.no_torque:
        blocks.append(wrapped(f"{', '.join(result.no_torque)}: {NO_TORQUE}", "  ", ""))
    document |= estimates_document(estimates)
    progress.clear()
    show("\n\n".join(blocks), document, options.json)
    return 0


def _wrong_side(place, asked) -> OptionError:
    """The refusal of a place from which ballast cannot bring the CG where it is wanted."""
    from models.units import written
    from scenarios.ballast import least_arm

    way = "behind" if asked.station > asked.end else "ahead of"
    cg, here = (written(x, "length", "mm", 0) for x in (asked.station, place.station))
    found = f"{place.name}" if place.name.endswith("mm") else f"{place.name}, at {here}"
    least = written(least_arm(asked.station - asked.end), "length", "mm", 0)
    return OptionError("--ballast-at", Refused(found, f"a place at least {least} {way} the wanted CG at {cg}"))


class _Asked(NamedTuple):
    """What the options say: the setup (at the wanted CG), a place for ballast, scales, their wheels, how low the tail hung."""

    setup: Setup
    place: Place | None
    scales: Any
    wheels: Any
    tail_low: float


def _read(options: argparse.Namespace, own: Setup) -> _Asked:
    """The options read for the setup as it stands.  Raises `UserError` with all that is wrong."""
    from models.fields import Quantity
    from models.loader import load_setup
    from scenarios.ballast import place_named
    from scenarios.weighing import read_scales, read_wheels

    gathered = Gathered()
    read, low = gathered.read, Quantity("angle", least="-20 deg", most="30 deg").read
    setup = own if options.cg is None else read(load_setup, options.setup, options.cg)
    place = None if options.ballast_at is None else read(place_named, options.ballast_at, own.airframe)
    wheels = own.airframe.wheels if options.wheels is None else read(read_wheels, options.wheels)
    scales = None
    if options.scales is not None and (options.wheels is None or wheels is not None):
        scales = read(_no_wheels, own) if wheels is None else read(read_scales, options.scales, wheels)
    tail_low = read(option_value, "--tail-low", low, options.tail_low, 0.0)
    if options.scales is None:
        for option, value in (("--wheels", options.wheels), ("--tail-low", options.tail_low)):
            if value is not None:
                read(_alone, option)
    gathered.check()
    return _Asked(setup, place, scales, wheels, tail_low)


def _no_wheels(own: Setup) -> NoReturn:
    from scenarios.weighing import WHEELS_SAMPLE

    found = f"{own.airframe.name}, whose file does not say where its wheels stand"
    raise OptionError("--scales", Refused(found, 'a group "wheels:" in the airframe file, or --wheels', WHEELS_SAMPLE))


def _alone(option: str) -> NoReturn:
    sample = '--scales "main 5.9 kg, tail 620 g"'
    raise OptionError(option, Refused("it without readings", "together with --scales", sample))
