"""How long a user waits: first run with kernels to compile, second run, comparison of two setups.

    python -m tests.benchmarks.start_up

Each line is a fresh process; the first uses an empty kernel cache in a temporary folder, the others that cache.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time

RUNS = (
    ("first run, compile included: fly stall", ["fly", "stall", "--setup", "precision"]),
    ("second run: fly stall", ["fly", "stall", "--setup", "precision"]),
    ("compare precision slow-3d, first: a propeller table", ["compare", "precision", "slow-3d"]),
    ("compare precision slow-3d, later", ["compare", "precision", "slow-3d"]),
    ("list", ["list"]),
    ("no command", []),
)


def main() -> None:
    with tempfile.TemporaryDirectory() as cache:
        environment = {**os.environ, "XDG_CACHE_HOME": cache, "LOCALAPPDATA": cache}
        for label, arguments in RUNS:
            start = time.perf_counter()
            command = [sys.executable, "-m", "viewer.command_line", *arguments]
            subprocess.run(command, env=environment, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            print(f"{label:54}{time.perf_counter() - start:7.2f} s")


if __name__ == "__main__":
    main()
