"""Small walks for the tests: with the limit on the static margin alone a step is a trim and a dive."""

from __future__ import annotations

from models.loader import load
from scenarios.walk.limits import NAMES, limits_of, with_limits
from scenarios.walk.steps import rearward
from scenarios.walk.walking import Plan, Walk

OTHERS = [name for name in NAMES if name != "static margin"]


def only_margin(way: str, bound: str):
    """The limits of a way of flying with all but the static margin off."""
    known = [limit.name for limit in limits_of(way)]
    off = [f"{name}: off" for name in OTHERS if name in known]
    return with_limits(limits_of(way), None, [f"static margin: {bound}", *off])


def planned(name: str = "precision", bound: str = "5 %", draws: int = 2, **more) -> Plan:
    """A walk of the CG of a built-in setup; `by`, `to` and `at` are those of `rearward`."""
    loaded = load(name)
    path = rearward(loaded, **{key: more.pop(key) for key in ("by", "to", "at") if key in more})
    return Plan(loaded, path, only_margin(loaded.setup.way_of_flying, bound), draws, **more)


def same(a: Walk, b: Walk) -> bool:
    """Whether two walks found the same, bit for bit."""
    return (
        (a.furthest, a.tripped, a.advised, len(a.flown)) == (b.furthest, b.tripped, b.advised, len(b.flown))
        and a.set_aside.tobytes() == b.set_aside.tobytes()
        and all(
            one.step == other.step
            and one.values.tobytes() == other.values.tobytes()
            and one.endings.tobytes() == other.endings.tobytes()
            and one.reasons == other.reasons
            and one.judged.headroom.tobytes() == other.judged.headroom.tobytes()
            and one.judged.broken.tobytes() == other.judged.broken.tobytes()
            for one, other in zip(a.flown, b.flown)
        )
    )


KEEP_WALKING = """\
import sys
from pathlib import Path
from scenarios.walk.walking import walk
from tests.scenarios.walks import planned
walk(planned(by="15 mm", to="189 mm", draws=1000), Path(sys.argv[1]), workers=1)
"""
