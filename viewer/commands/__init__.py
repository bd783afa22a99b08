"""The commands of `upline`, a module each, and the benches below `upline bench`.

A module gives `ABOUT` (one line, no full stop), `EXAMPLES` (whole command lines), `add_to(parser)` for its arguments
and `run(options)`, which does the work and returns the exit code.  All are imported at every start, so they import
what takes time inside `run`.
"""

from __future__ import annotations

from types import ModuleType

from viewer.commands import (
    balance,
    bench,
    card,
    check,
    compare,
    completion,
    cures,
    fly,
    hands_on,
    list_,
    map_,
    new,
    plot,
    portrait,
    rearward,
    replay,
    report,
    schema,
    study,
    walk,
    warm_up,
)

COMMANDS: dict[str, ModuleType] = {
    "list": list_,
    "new": new,
    "balance": balance,
    "bench": bench,
    "card": card,
    "fly": fly,
    "hands-on": hands_on,
    "replay": replay,
    "plot": plot,
    "compare": compare,
    "report": report,
    "check": check,
    "study": study,
    "rearward": rearward,
    "walk": walk,
    "portrait": portrait,
    "cures": cures,
    "map": map_,
    "schema": schema,
    "warm-up": warm_up,
    "completion": completion,
}
