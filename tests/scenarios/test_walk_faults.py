"""Walks that are killed, lose the processes that fly them, or are flown by other machines: the numbers stay."""

from __future__ import annotations

import json
import time

import pytest

from models.errors import UserError
from scenarios.ensemble import Stopped, local
from scenarios.walk.walking import walk
from tests.scenarios.studies import dask_cluster, die_at_once, started
from tests.scenarios.walks import KEEP_WALKING, OTHERS, planned, same
from viewer.command_line import main

DRAWS = 12  # of three steps: the nominal flight, two pieces of five draws and one that two are left for


@pytest.fixture(scope="module")
def plan():
    return planned(by="15 mm", to="189 mm", draws=DRAWS)


@pytest.fixture(scope="module")
def whole(plan):
    return walk(plan, workers=1)


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    """The address of a scheduler with two workers, and these."""
    pytest.importorskip("distributed", reason="the cluster extra")
    with dask_cluster(tmp_path_factory.mktemp("cluster")) as found:
        yield found


def test_processes_that_die_are_replaced(plan, whole, monkeypatch):
    alive = []
    begin = local._started
    monkeypatch.setattr(local, "_started", lambda: alive.append(begin()) or alive[-1])

    def kill_both(what, done, total, left):
        if len(alive) == 2 and done > 5:
            for process in alive:
                process.kill()

    assert same(walk(plan, workers=2, progress=kill_both), whole)
    assert len(alive) >= 3 and all(process.poll() is not None for process in alive)


def test_a_walk_that_cannot_be_flown_says_what_is_kept(plan, tmp_path, monkeypatch):
    die_at_once(monkeypatch)
    with pytest.raises(Stopped, match=r"died 3 times \(SIGKILL\); nothing was kept; try: .* with --folder"):
        walk(plan, workers=2)
    with pytest.raises(Stopped, match="what was flown before is kept; try: .*, which goes on from there"):
        walk(plan, tmp_path / "kept", workers=2)


def test_a_walk_that_was_killed_goes_on_with_what_it_had(plan, whole, tmp_path):
    folder = tmp_path / "kept"
    process = started(KEEP_WALKING, str(folder))
    deadline = time.monotonic() + 60.0
    while len(list(folder.glob("*.npz"))) < 3 and process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.02)
    process.kill()
    assert "Error" not in process.communicate()[1]
    had = {file: file.stat().st_mtime_ns for file in folder.glob("*.npz")}
    assert len(had) >= 3
    damaged = next(folder.glob("*-1.npz"))
    damaged.write_bytes(b"PK\x03\x04 cut")
    assert same(walk(plan, folder, workers=1), whole)
    assert damaged.stat().st_size > 100 and all(file.stat().st_mtime_ns == had[file] for file in had if file != damaged)
    assert not list(folder.glob(".*"))


def test_other_machines_can_fly_it_and_one_may_die(plan, whole, cluster, tmp_path):
    address, workers = cluster

    def kill_one(what, done, total, left):
        if done > 5 and workers[0].poll() is None:
            workers[0].kill()

    assert same(walk(plan, tmp_path / "kept", progress=kill_one, cluster=address), whole)
    assert workers[0].poll() is not None and workers[1].poll() is None
    assert same(walk(plan, tmp_path / "kept", workers=1), whole)


@pytest.mark.parametrize(
    "command",
    [
        ("rearward", "precision", "--by", "15 mm", "--to", "174 mm"),
        ("walk", "precision", "elevator throw: 20 deg, 24 deg"),
    ],
    ids=["rearward", "walk"],
)
def test_the_commands_say_the_same_from_a_cluster(command, cluster, capsys):
    off = [part for name in OTHERS if name != "hover" for part in ("--limit", f"{name}: off")]

    def said(*more):
        assert main([*command, "--draws", "3", "--json", *off, *more]) == 0
        return json.loads(capsys.readouterr().out)

    assert said("--cluster", cluster[0]) == said("--workers", "1")


def test_no_scheduler_is_said_before_anything_flies(plan, monkeypatch):
    pytest.importorskip("distributed", reason="the cluster extra")
    monkeypatch.setattr("scenarios.ensemble.cluster.WAIT", 0.5)
    told = []
    with pytest.raises(UserError, match="where no scheduler answers.*allowed: the address of a Dask scheduler"):
        walk(plan, progress=lambda *far: told.append(far), cluster="tcp://127.0.0.1:9")
    assert not told
