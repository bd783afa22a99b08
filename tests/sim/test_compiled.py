"""Flights do not depend on which kernels were loaded before: shown in processes of their own.

A kernel compiled in a process is linked like one that was loaded first, so this covers a first run too.
"""

import os
import subprocess
import sys
import textwrap

SCRIPT = textwrap.dedent("""
    import hashlib, sys
    import numpy as np
    from models.loader import load_setup
    from sim import layout as L
    from sim.build import build
    from sim.equations_of_motion import derivatives
    from sim.integration import advance_frame
    from sim.trim import blank_state, level_trim

    plane = build(load_setup("precision"))
    if sys.argv[1] == "rates first":
        derivatives(blank_state(100.0), np.zeros(L.COMMAND), plane.model, plane.table, np.zeros(L.STATE))
    trim = level_trim(plane, 25.0, 100.0)
    x, k = trim.x.copy(), np.zeros((4, L.STATE))
    for _ in range(50):
        advance_frame(x, trim.command + 0.01, plane.model, plane.table, 0, k, np.zeros(L.STATE))
    print(hashlib.sha256(trim.x.tobytes() + x.tobytes()).hexdigest())
""")


def test_the_last_bit_does_not_tell_which_kernels_were_loaded_first():
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}
    processes = [
        subprocess.Popen([sys.executable, "-c", SCRIPT, first], env=environment, stdout=subprocess.PIPE, text=True)
        for first in ("trim first", "rates first")
    ]
    found = [process.communicate(timeout=120)[0] for process in processes]
    assert found[0] == found[1] and len(found[0]) == 65
