"""What a study survives, tried for real: twenty kills at random moments, a full disk, a read-only one.

    python -m tests.benchmarks.study_faults

Disks are small ones in memory, which only root may mount; without that they are left out.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from models.errors import UserError
from scenarios.ensemble import chunks, read, run
from tests.scenarios.studies import KEEP_FLYING, same, started, work

COUNT, KILLS = 1200, 20


@contextmanager
def disk(options: str) -> Iterator[Path | None]:
    """A disk of its own in memory; None where it cannot be had."""
    with tempfile.TemporaryDirectory() as folder:
        got = (
            subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", folder], capture_output=True).returncode
            == 0
        )
        try:
            yield Path(folder) if got else None
        finally:
            if got:
                subprocess.run(["umount", folder], check=True)


def killed(folder: Path, chance: random.Random) -> tuple[int, int]:
    """Kill a study (two processes and the one that asks) until it has been killed so often; how often, and chunks kept."""
    kills = 0
    while kills < KILLS:
        process = started(KEEP_FLYING, str(COUNT), str(folder), "2")
        time.sleep(chance.uniform(2.0, 8.0))
        if process.poll() is not None:
            break
        os.kill(process.pid, signal.SIGKILL)
        process.communicate()
        kills += 1
    return kills, len(list(folder.glob("chunk-*.npz")))


def main() -> None:
    chunks.FLIGHTS = 6
    whole = run(work(COUNT), workers=2)
    chance = random.Random(1)
    with tempfile.TemporaryDirectory() as place:
        total, kept = 0, []
        while total < KILLS:
            folder = Path(place) / f"study-{len(kept)}"
            kills, there = killed(folder, chance)
            total += kills
            kept.append(there)
            assert same(run(work(COUNT), folder, workers=1), whole) and same(read(folder), whole)
        print(
            f"killed {total} times in {len(kept)} studies, {kept} of {COUNT // 6} chunks kept: ends with identical numbers"
        )
    with disk("size=40k") as small:
        if small is None:
            print("no disk to fill: mounting is not allowed here")
        else:
            try:
                run(work(COUNT), small / "study", workers=2)
            except UserError as error:
                print(f"a disk of 40 kB: {error}")
            there = sorted((small / "study").glob("chunk-*.npz"))
            assert there and not [file for file in (small / "study").iterdir() if file.name.startswith(".")]
            subprocess.run(["mount", "-o", "remount,size=4m", str(small)], check=True)
            assert same(run(work(COUNT), small / "study", workers=2), whole)
            print(f"  {len(there)} chunks kept; with room it goes on and ends with identical numbers")
            subprocess.run(["mount", "-o", "remount,ro", str(small)], check=True)
            try:
                run(work(COUNT + 6), small / "study")
            except UserError as error:
                print(f"a read-only disk: {error}")
            assert same(read(small / "study"), whole)
            print("  what it holds can be read all the same")


if __name__ == "__main__":
    main()
