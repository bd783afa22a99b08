"""Two kept flights, and a screen to show them on."""

import pytest

from scenarios.manoeuvres import fly_manoeuvre, load_manoeuvre
from scenarios.record import save
from tests.viewer.window.screen import Screen


@pytest.fixture(scope="session")
def records(tmp_path_factory):
    """The folders of one manoeuvre flown with two setups."""
    from models.loader import load

    folder = tmp_path_factory.mktemp("flights")
    made = []
    for setup in ("precision", "slow-3d"):
        loaded = load(setup)
        manoeuvre, text = load_manoeuvre("upline-45")
        made.append(save(folder / setup, fly_manoeuvre(loaded.setup, manoeuvre), loaded.texts, text))
    return made


@pytest.fixture(scope="session")
def screen(tmp_path_factory):
    """A screen of 1600x900."""
    made = Screen(tmp_path_factory.mktemp("screen"), (1600, 900))
    yield made
    made.close()
