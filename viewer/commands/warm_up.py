"""`upline warm-up`."""

from __future__ import annotations

import argparse
import time

from viewer.commands.shared import prepare, show

ABOUT = "compile the flight kernels now, once on this machine, so that the first flight does not wait"
EXAMPLES = ["upline warm-up"]
FLOWN = ("stall", "hover")  # between them they call every kernel of a flight, its trims and its measures


def add_to(sub: argparse.ArgumentParser) -> None:
    """It takes none."""


def run(options: argparse.Namespace) -> int:
    """Fly what calls every kernel, and say where the compiled ones are kept."""
    from models.loader import load_setup

    setup, begun = load_setup("precision"), time.monotonic()
    progress = prepare()
    from scenarios.balance import balance
    from scenarios.live import ByHand, start_text
    from scenarios.manoeuvres import fly_manoeuvre, flyable, load_manoeuvre
    from scenarios.measures import take_measures
    from sim.compiled import cache_folder
    from viewer.documents import quantity
    from viewer.text import wrapped

    plane = flyable(setup)
    balance(plane)
    for name in FLOWN:
        take_measures(fly_manoeuvre(setup, load_manoeuvre(name)[0], plane))
    by_hand = ByHand(setup, start_text())
    by_hand.fly(by_hand.sticks0)
    by_hand.change("rates", "low")
    progress.clear()
    seconds, folder = time.monotonic() - begun, str(cache_folder())
    text = f"Kernels are ready ({seconds:.0f} s), and kept in {folder}."
    show(wrapped(text), {"seconds": quantity(seconds, "s"), "folder": folder}, options.json, advice=False)
    return 0
