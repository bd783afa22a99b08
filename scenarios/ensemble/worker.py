"""The process that flies chunks for another: `python -m scenarios.ensemble.worker`.

It reads jobs from its standard input and writes a chunk for each to its standard output, until the input ends, as it
does when the process that asks dies.
"""

from __future__ import annotations

import os
import pickle
import sys
import traceback

from scenarios.ensemble.chunks import fly_chunk


def main() -> None:
    """Fly what is asked for."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever else is printed goes to the error stream
    asked = sys.stdin.buffer
    try:
        while True:
            job = pickle.load(asked)
            try:
                answer = fly_chunk(*job)
            except Exception:
                answer = traceback.format_exc()
            pickle.dump(answer, answers)
            answers.flush()
    except (EOFError, BrokenPipeError):
        pass


if __name__ == "__main__":
    main()
