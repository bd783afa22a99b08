"""The fixture `check_setup` in a repository of one's own: a temporary folder with a test, rules and a baseline."""

from pathlib import Path

import pytest

import models
import viewer
from tests.scenarios.rules_by_hand import HEAD

pytest_plugins = "pytester"

RULES = (
    HEAD
    + """\
  - {name: margin, of: balance, measure: static_margin, limit: between 8 % and 15 %, reason: as agreed in the club}
"""
)
TEST = """\
def test_my_setup(check_setup):
    check_setup("mine.yaml", "club.yaml"{more})
"""


@pytest.fixture
def repository(pytester):
    place = models.__path__[0]
    read = {name: open(f"{place}/{name}", encoding="utf-8").read() for name in ("setups/precision.yaml",)}
    pytester.path.joinpath("sub").mkdir()

    def make(more="", rules=RULES, setup=("", "")):
        folder = pytester.path / "sub"  # files count from the test's own folder, wherever pytest is started
        (folder / "mine.yaml").write_text(read["setups/precision.yaml"].replace(*setup), encoding="utf-8")
        (folder / "club.yaml").write_text(rules, encoding="utf-8")
        (folder / "test_setups.py").write_text(TEST.format(more=more), encoding="utf-8")
        return pytester.runpytest_inprocess(
            "-p", "viewer.pytest_plugin", "-p", "no:cacheprovider", "-p", "no:hypothesispytest"
        )

    make.folder = pytester.path / "sub"
    return make


def test_a_setup_that_holds(repository):
    repository().assert_outcomes(passed=1)


def test_a_setup_that_does_not(repository):
    result = repository(rules=RULES.replace("15 %", "9 %"))
    result.assert_outcomes(failed=1)
    result.stdout.fnmatch_lines(["FAIL  margin*13.2*8 to 9 %*-4.2", "*clears nothing to fly*"])
    result.stdout.no_fnmatch_line("*Traceback*")


def test_wrong_input_fails_with_its_message(repository):
    result = repository(rules=RULES.replace("static_margin", "static_margn"))
    result.assert_outcomes(failed=1)
    result.stdout.fnmatch_lines(['*found "static_margn"*try: static_margin*'])


def test_should_and_strict(repository):
    rules = RULES.replace("15 %,", "9 %, severity: should,")
    repository(rules=rules).assert_outcomes(passed=1)
    repository(", strict=True", rules=rules).assert_outcomes(failed=1)


def test_a_baseline(repository, monkeypatch):
    from viewer.command_line import main

    repository()
    monkeypatch.chdir(repository.folder)
    assert main(["check", "mine.yaml", "--rules", "club.yaml", "--baseline", "kept.yaml", "--accept"]) == 0
    monkeypatch.chdir(repository.folder.parent)
    repository(', baseline="kept.yaml"').assert_outcomes(passed=1)
    result = repository(', baseline="kept.yaml"', setup=("cg: 31 %", "cg: 30 %"))
    result.assert_outcomes(failed=1)
    result.stdout.fnmatch_lines(["*Not as it was then: the setup file.*"])


def test_it_adds_nothing_else(pytester, monkeypatch):
    monkeypatch.setenv("PYTHONPATH", str(Path(viewer.__file__).parents[1]))
    pytester.makepyfile(
        """
        import sys
        def test_light(request):
            assert not {"numba", "scenarios", "sim", "pydantic"} & set(sys.modules)
            request.getfixturevalue("check_setup")
            assert "numba" not in sys.modules
        """
    )
    plain = ("-p", "no:cacheprovider", "-p", "no:hypothesispytest")
    pytester.runpytest_subprocess("-p", "viewer.pytest_plugin", *plain).assert_outcomes(passed=1)
