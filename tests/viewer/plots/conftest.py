"""Records of short flights, flown once for all tests of plots."""

import numpy as np
import pytest

from models.loader import load
from scenarios.manoeuvres import fly_manoeuvre, load_manoeuvre
from scenarios.record import save

STALL = ("stall", "precision", None), ("stall", "slow-3d", None)


@pytest.fixture(scope="session")
def records(tmp_path_factory):
    """Folders of records by setup: the stall of precision and of slow-3d."""
    folder, found = tmp_path_factory.mktemp("records"), {}
    for manoeuvre_name, setup_name, cg in STALL:
        loaded = load(setup_name, cg)
        manoeuvre, text = load_manoeuvre(manoeuvre_name)
        flown = fly_manoeuvre(loaded.setup, manoeuvre)
        found[setup_name] = save(folder / setup_name, flown, loaded.texts, text, cg)
    return found


@pytest.fixture(scope="session")
def arrays(records):
    """What stands in the record of each, as NumPy reads it."""
    return {name: dict(np.load(folder / "flight.npz")) for name, folder in records.items()}


@pytest.fixture(scope="session")
def pair(records):
    """Both flights, under their names."""
    from viewer.plots.flights import named, read_flight

    return named([read_flight(records[name]) for name in ("precision", "slow-3d")])
