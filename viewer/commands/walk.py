"""`upline walk`."""

from __future__ import annotations

import argparse

from viewer.commands import rearward

ABOUT = "any number of a setup walked step by step against the same limits: throws, exponential, propeller, incidence"
EXAMPLES = [
    'upline walk precision "elevator throw: 12 deg to 30 deg by 3 deg"',
    'upline walk slow-3d "propeller: 20x12, 21x12, 22x10, 23x8" --draws 50',
    'upline walk extreme "elevator exponential: 70 %, 50 %, 30 %"',
]
NOTES = """\
A range stops at the first step that is not sound; of a list each value is judged for itself. Inputs are those
of `upline map`; limits those of `upline rearward`."""


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("setup", metavar="SETUP")
    sub.add_argument("steps", metavar='"INPUT: FROM to TO by STEP"', help='or a list, "propeller: 20x12, 21x12"')
    rearward.walk_options(sub)


def run(options: argparse.Namespace) -> int:
    """Walk the input and show it."""
    from models.loader import load
    from scenarios.walk.steps import general

    loaded = load(options.setup)
    return rearward.run_walk(options, loaded, lambda: general(loaded, options.steps))
