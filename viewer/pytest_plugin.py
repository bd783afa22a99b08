"""Setups checked in a repository's own tests: the fixture `check_setup`.

    def test_my_setup(check_setup):
        check_setup("setups/mine.yaml", "club.yaml", baseline="mine.baseline.yaml")

Installed with upline, it adds this fixture to every run of pytest and nothing else; what takes time is imported on use.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest


@pytest.fixture
def check_setup(request: pytest.FixtureRequest) -> Callable[..., None]:
    """`check_setup(setup, *rules, baseline=None, strict=False, draws=100, seed=1, pilot="expert")` fails the test where a rule does.

    Files count from the folder of the test; rules left out are those of the setup's way of flying.
    """
    folder = request.path.parent

    def check(setup: str, *rules: str, baseline: str | None = None, strict: bool = False, **conditions) -> None:
        __tracebackhide__ = True
        from models.errors import UserError

        try:
            code, said = _check(
                _in(folder, setup), [_in(folder, r) for r in rules], baseline, folder, strict, conditions
            )
        except UserError as error:
            pytest.fail(f"upline: {error}", pytrace=False)
        if code:
            pytest.fail(said, pytrace=False)

    return check


def _in(folder: Path, name: str) -> str:
    """A name as it is, a path from `folder`."""
    from scenarios.rules.schema import is_path

    return str(folder / name) if is_path(str(name)) else str(name)


def _check(
    setup: str, names: list[str], baseline: str | None, folder: Path, strict: bool, conditions: dict
) -> tuple[int, str]:
    """Exit code and text, as `upline check` has them."""
    from models.loader import load
    from scenarios import rules as R
    from viewer.check import check_text, exit_code, held_against
    from viewer.words import cautions

    under = R.Conditions(**{"skill" if name == "pilot" else name: value for name, value in conditions.items()})
    plans = [R.plan(load(setup), names)]
    kept = None
    if baseline is not None:
        kept = R.read_baseline(folder / baseline)
        R.check_same(kept, [plans[0].loaded.setup.name], under, baseline)
    held = held_against(R.check(plans, under), kept)
    return exit_code(held, strict), f"{check_text(held, under)}\n\n{cautions()}"
