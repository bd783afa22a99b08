"""Studies that are killed, crowded out of a folder or off a disk, or lose the processes that fly them."""

import errno
import json
import os
import signal
import threading
import time

import numpy as np
import pytest

from models.errors import UserError
from scenarios.ensemble import Stopped, chunks, local, read, run, store
from scenarios.ensemble.chunks import Job, chunk_size, fly_chunk, ranges
from scenarios.ensemble.local import Cores
from tests.scenarios.studies import HOVER, KEEP_FLYING, dask_cluster, die_at_once, same, started, work

COUNT, LONG = 24, 4000  # four chunks; longer than a test waits


@pytest.fixture(autouse=True)
def small_chunks(monkeypatch):
    monkeypatch.setattr(chunks, "FLIGHTS", 6)


@pytest.fixture(scope="module")
def whole():
    return run(work(COUNT), workers=1)


def wait_for(condition, timeout: float = 60.0):
    deadline = time.monotonic() + timeout
    while not condition():
        assert time.monotonic() < deadline, "it took too long"
        time.sleep(0.02)


def chunks_in(folder) -> list:
    return sorted(folder.glob("chunk-*.npz"))


def test_a_study_that_was_killed_goes_on_with_what_it_had(tmp_path, whole):
    folder = tmp_path / "study"
    process = started(KEEP_FLYING, str(LONG), str(folder), "1")
    wait_for(lambda: len(chunks_in(folder)) >= 2)
    process.kill()
    process.communicate()
    had = {file: file.stat().st_mtime_ns for file in chunks_in(folder)}
    told = []
    assert same(run(work(COUNT), folder, progress=lambda done, total, left: told.append(done)), whole)
    assert told[0] >= 12  # nothing that was kept is flown again
    assert all(file.stat().st_mtime_ns == when for file, when in had.items())
    assert {file.name for file in folder.iterdir()} == {"study.json", "lock", *(f.name for f in chunks_in(folder))}


def test_two_studies_in_one_folder_are_refused_and_a_dead_one_is_not_in_the_way(tmp_path):
    folder = tmp_path / "study"
    process = started(KEEP_FLYING, str(LONG), str(folder), "1")
    wait_for(lambda: chunks_in(folder))
    with pytest.raises(
        UserError, match=f"found a study that is running \\(process {process.pid} on .*try: another folder"
    ):
        run(work(LONG), folder)
    process.kill()
    process.communicate()
    with store.opened(folder, work(LONG)):
        pass


def test_ctrl_c_stops_a_study_and_its_processes(tmp_path, whole):
    folder = tmp_path / "study"
    process = started(KEEP_FLYING, str(LONG), str(folder), "2")
    wait_for(lambda: chunks_in(folder))
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert process.returncode != 0 and said.rstrip().endswith("KeyboardInterrupt")
    assert not [file for file in folder.iterdir() if file.name.startswith(".")]
    assert same(run(work(COUNT), folder, workers=1), whole)


def test_another_study_in_the_folder_is_refused_with_what_differs(tmp_path):
    folder = tmp_path / "study"
    run(work(2, cg="30 %"), folder, workers=1)
    for other, said in (
        (work(2, cg="30 %", seed=5), r"the seed \(1 there, 5 here\)"),
        (work(2), r"the CG \(30 % there, as in the file here\)"),
        (work(2, ("short-hover", HOVER), cg="30 %"), r"the manoeuvres \(short there, short-hover here\)"),
        (work(2, cg="30 %", setup="slow-3d"), "the setup file; what is uncertain|the setup file"),
        (work(2, cg="30 %", pilot="learner"), r"the pilot \(expert there, learner here\)"),
        (work(2, cg="30 %", uncertain=()), "what is uncertain"),
    ):
        with pytest.raises(UserError, match=f"found another study, which differs in .*{said}.*try: another folder"):
            run(other, folder)
    study = json.loads((folder / "study.json").read_text())
    study["versions"]["program"], study["key"] = "older", "older"
    (folder / "study.json").write_text(json.dumps(study))
    with pytest.raises(UserError, match="differs in the version of the program"):
        run(work(2, cg="30 %"), folder)


@pytest.mark.parametrize(
    "text", ["", "{", '{"kind": "other"}', '{"kind": "study of many flights", "format": 1}', "[1]"]
)
def test_a_damaged_study_is_refused(tmp_path, text):
    run(work(1), tmp_path / "study")
    (tmp_path / "study" / "study.json").write_text(text)
    with pytest.raises(UserError, match="found a file that is no study or is damaged"):
        run(work(1), tmp_path / "study")


def test_a_folder_with_other_things_is_refused(tmp_path):
    (tmp_path / "holiday.jpg").write_bytes(b"")
    with pytest.raises(UserError, match="found a folder with other things in it"):
        run(work(1), tmp_path)
    with pytest.raises(UserError, match="allowed: a folder that can be written"):
        run(work(1), tmp_path / "holiday.jpg")
    with pytest.raises(UserError, match="found no study"):
        read(tmp_path)


def test_a_longer_study_goes_on_and_an_unfinished_one_is_not_read(tmp_path):
    folder = tmp_path / "study"
    run(work(8), folder, workers=1)
    told = []
    longer = run(work(15), folder, workers=1, progress=lambda done, total, left: told.append(done))
    assert told[0] == 6 and same(longer, run(work(15), workers=1))
    chunks_in(folder)[1].unlink()
    with pytest.raises(UserError, match="found 9 of 15 draws; allowed: a study that is complete"):
        read(folder)
    assert same(run(work(8), folder, workers=1), run(work(8), workers=1))


@pytest.mark.parametrize("damage", [b"", b"PK\x03\x04 cut", None])
def test_a_damaged_chunk_is_flown_again(tmp_path, whole, damage):
    folder = tmp_path / "study"
    run(work(COUNT), folder, workers=1)
    file = chunks_in(folder)[1]
    content = bytearray(file.read_bytes())
    content[len(content) // 2] ^= 0xFF
    file.write_bytes(content if damage is None else damage)
    assert same(run(work(COUNT), folder, workers=1), whole)


@pytest.mark.parametrize(
    "code, said", [(errno.ENOSPC, "No space left on device"), (errno.EROFS, "Read-only file system")]
)
def test_a_full_or_read_only_disk_stops_it_and_keeps_what_it_had(tmp_path, monkeypatch, whole, code, said):
    folder, fsync, written = tmp_path / "study", os.fsync, []

    def full(file):
        written.append(file)
        if len(written) == 4:  # study.json, two chunks, and no more
            raise OSError(code, os.strerror(code))
        fsync(file)

    monkeypatch.setattr(store.os, "fsync", full)
    with pytest.raises(
        Stopped, match=f"{said}; what was flown before is kept; try: room for it, then the same command"
    ):
        run(work(COUNT), folder, workers=1)
    assert len(chunks_in(folder)) == 2 and not [file for file in folder.iterdir() if file.name.startswith(".")]
    assert same(run(work(COUNT), folder, workers=1), whole)


def test_a_folder_that_cannot_be_written_is_refused_before_anything_is_flown(tmp_path, monkeypatch):
    def refused(*arguments, **more):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr("builtins.open", refused)
    with pytest.raises(UserError, match="Permission denied; allowed: a folder that can be written"):
        with store.opened(tmp_path, work(1)):
            pytest.fail("it was opened")


def test_processes_that_die_are_replaced(whole, monkeypatch):
    alive = []
    begin = local._started
    monkeypatch.setattr(local, "_started", lambda: alive.append(begin()) or alive[-1])

    def kill_two():
        wait_for(lambda: len(alive) == 2)
        for process in alive[:2]:
            process.kill()

    killer = threading.Thread(target=kill_two)
    killer.start()
    assert same(run(work(COUNT), workers=2), whole)
    killer.join()
    assert len(alive) >= 3 and all(process.poll() is not None for process in alive)


def test_a_chunk_that_kills_every_process_is_given_up(tmp_path, monkeypatch):
    die_at_once(monkeypatch)
    died = r"draws \d+ to \d+: the process that flew them died 3 times \(SIGKILL\);"
    with pytest.raises(Stopped, match=f"{died} nothing was kept; try: .* fewer workers, with --folder to keep"):
        run(work(COUNT), workers=2)
    with pytest.raises(Stopped, match=f"{died} what was .* is kept; try: .* fewer workers, which goes on from there"):
        run(work(COUNT), tmp_path / "study", workers=2)


def test_a_fault_of_the_program_is_not_hidden():
    study = work(3)
    object.__setattr__(study, "seed", "not a number")
    with pytest.raises(RuntimeError, match="a fault of the program in draws 0 to 2:"):
        with Cores(2) as crew:
            list(crew.fly([Job(work(3), 0, 1), Job(study, 0, 3)]))


def test_another_machine_can_fly_it_and_one_may_die(tmp_path, whole):
    pytest.importorskip("distributed", reason="the cluster extra")
    study, folder = work(COUNT), tmp_path / "study"
    with dask_cluster(tmp_path) as (address, workers):

        def kill_one(done, total, left):
            if done >= 6 and workers[0].poll() is None:
                workers[0].kill()

        assert same(run(study, folder, cluster=address, progress=kill_one), whole)
        assert workers[0].poll() is not None and workers[1].poll() is None
    assert same(read(folder), whole)


def test_no_scheduler_and_no_dask_say_what_to_do(monkeypatch):
    pytest.importorskip("distributed", reason="the cluster extra")
    monkeypatch.setattr("scenarios.ensemble.cluster.WAIT", 0.5)
    with pytest.raises(UserError, match="where no scheduler answers.*allowed: the address of a Dask scheduler"):
        run(work(1), cluster="tcp://127.0.0.1:9")
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(UserError, match='found no Dask on this machine; allowed: Dask; try: pip install "dask'):
        run(work(1), cluster="tcp://127.0.0.1:9")


def test_chunks_are_of_about_a_hundred_flights_and_not_too_many_files(monkeypatch):
    monkeypatch.undo()
    assert chunk_size(work(10)) == 100 and chunk_size(work(10, *[("short", "")] * 7)) == 15
    assert chunk_size(work(1_000_000)) == 500 and len(ranges(1_000_000, 500)) == 2000
    assert fly_chunk(work(2), 0, 2).values.dtype == np.float64
