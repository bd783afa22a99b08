"""A walk in words: the verdict, headroom by step, what to see at each step and in which order to fly it."""

from __future__ import annotations

from scenarios.accuracy import MODEL
from scenarios.walk.field import LAST, checks_of, rows_of, seen
from scenarios.walk.verdict import Trend
from scenarios.walk.walking import IN_HAND, RETREAT, SCREENING, Broke, Flown, Walk
from sim.build import mean_aerodynamic_chord
from viewer.text import WIDTH, in_blocks, number, table, wrapped

STEADY = 0.98  # of the headroom of the start: what keeps more goes nowhere
FLOWN_SO = "low rates, 150 m up, nobody below; nothing else is changed"
ON_ANY_SIGN = (
    f"On any sign to go back: land, {RETREAT} steps forward (or to the start), weigh, and fly that first. Also on any"
    " buzz of a surface: throttle off, land, do not fly it again before the cause is found."
)
SHORT = {"deg/s per deg": "deg/s/deg"}


def walk_text(walk: Walk) -> str:
    """What the commands print, without the cautions."""
    blocks = [opening(walk), steps_table(walk), "\n".join(wrapped(line, "  ", "") for line in verdict(walk))]
    blocks += ["What is left of each limit\n\n" + headroom_tables(walk)]
    blocks += ["What each step changes, and what to see at it\n\n" + seen_tables(walk)]
    if walk.plan.path.backwards and walk.furthest is not None:
        blocks.append(field_order(walk))
    return "\n\n".join(blocks)


# ---- what was done ------------------------------------------------------------------------------------------------------


def opening(walk: Walk) -> str:
    """What was walked, with what, and what was drawn."""
    plan, path = walk.plan, walk.plan.path
    setup = plan.loaded.setup
    title = f"Walking the CG of {setup.name} on {setup.airframe.name} aft"
    if not path.backwards:
        title = f"Walking {name_of(walk)} of {setup.name} on {setup.airframe.name}"
    held = f"{len(plan.manoeuvres)} manoeuvres a step: {', '.join(plan.manoeuvres)}."
    what = "CG, mass, throws, incidences, thrust line, gusts, the pilot's delay"
    drawn = (
        f"Up to {plan.draws} draws of what nobody knows exactly ({what}), the same for every step, seed {plan.seed}, pilot"
        f" {plan.pilot}; {walk.flights} flights."
    )
    ends = [limit for limit in plan.limits if limit.bound is not None]
    limits = "; ".join(f"{limit.name} {limit.side} {limit.text}" for limit in ends)
    off = [limit.name for limit in plan.limits if limit.bound is None]
    said = f"Limits for {setup.way_of_flying}: {limits}; every flight to its end."
    said += f" Switched off: {', '.join(off)}." if off else ""
    lines = [title, "", *(wrapped(line) for line in (held, drawn, said))]
    return "\n".join(lines)


def name_of(walk: Walk) -> str:
    """What is walked, as a pilot calls it."""
    return "CG" if walk.plan.path.input == "cg" else walk.plan.path.input


def label(walk: Walk, flown: Flown) -> str:
    """A step as it heads a column."""
    return flown.step.text.removesuffix(walk.plan.path.unit).strip() if walk.plan.path.unit else flown.step.text


def steps_table(walk: Walk) -> str:
    """A row for each step."""
    path = walk.plan.path
    items = any(f.step.item is not None for f in walk.flown)
    ballast = any(f.step.ballast for f in walk.flown)
    head = [f"{name_of(walk)}, {path.unit}" if path.unit else name_of(walk)]
    head += [f"{moved(walk)}, mm"] * items + ["ballast, g"] * ballast
    rows = []
    said = []
    for n, flown in enumerate(walk.flown):
        row = [label(walk, flown)]
        row += ["-" if flown.step.item is None else f"{1000.0 * flown.step.item:.0f}"] * items
        row += [f"{1000.0 * flown.step.ballast:.0f}"] * ballast
        judged = flown.judged
        broke = walk.broke(n)
        if judged.broken[0].any():
            told, words = ["no", "", ""], f"nominally {_few([b.limit for b in broke if b.nominal])}"
        else:
            told = ["yes" if walk.sound(n) else "no", f"{judged.count - judged.bad} of {judged.count}"]
            told, words = [*told, f"{100.0 * walk.least(n):.0f}"], _few([f"{b.limit} {b.draws}" for b in broke]) or "-"
        rows.append([*row, *told])
        said.append(words)
    grid = table([*head, "sound", "kept all", "least %*"], rows).split("\n")
    wide = max(map(len, grid))
    words = ["broke", "-" * max(map(len, ("broke", *said))), *said]
    grid = [f"{line.ljust(wide)}{'--' if set(line) == {'-'} else '  '}{word}" for line, word in zip(grid, words)]
    note = f"* kept by at least so many of all draws like these, at {100.0 * walk.plan.confidence:.0f} % confidence"
    notes = [wrapped(note)]
    if items:
        where = f"{moved(walk)}: place of the {walk.plan.loaded.setup.moved_item} behind the wing root leading edge"
        notes.append(wrapped(where))
    if walk.plan.path.stops and SCREENING < walk.plan.draws:
        few = f"{SCREENING} draws where none of them broke a limit; all {walk.plan.draws} where any did, and at the furthest"
        notes.append(wrapped(f"{few} sound step; none where the nominal flight breaks one already"))
    return "\n".join([*(_cut(line) for line in grid), *notes])


def _cut(line: str) -> str:
    if set(line) == {"-"}:
        return line[:WIDTH]
    return line if len(line) <= WIDTH else line[: WIDTH - 3] + "..."


def _few(names: list[str], most: int = 2) -> str:
    """The first of `names`, and how many there are besides."""
    return _listed(names) if len(names) <= most else f"{', '.join(names[:most])} and {len(names) - most} more"


def moved(walk: Walk) -> str:
    """The item that moves, in a word that fits a table."""
    name = walk.plan.loaded.setup.moved_item
    return name if len(name) <= 10 else "item"


def verdict(walk: Walk) -> list[str]:
    """The verdict, a paragraph each."""
    plan = walk.plan
    lines = []
    for n, aside in enumerate(walk.set_aside):
        if aside:
            lines.append(
                f"Set aside: {walk.names[n]}. It is beyond its limit at the start already, so the walk is not judged by it."
            )
    if not plan.path.stops:
        good = [f.step.text for n, f in enumerate(walk.flown) if walk.sound(n)]
        bad = [f.step.text for n, f in enumerate(walk.flown) if not walk.sound(n)]
        lines.append(f"Sound: {_listed(good) or 'none'}. Not sound: {_listed(bad) or 'none'}.")
        lines += [f"{f.step.text}: {_broken(walk, n)}." for n, f in enumerate(walk.flown) if not walk.sound(n)]
        return lines
    what = f"{name_of(walk)} "
    if walk.furthest is None:
        start = walk.flown[0]
        lines.append(
            f"No step is sound: {what}{start.step.text}, where the walk starts, breaks a limit already"
            f" ({_broken(walk, 0)}). Do not go aft; bring it forward, or say with --limit what you accept."
            if plan.path.backwards
            else f"No step is sound: {what}{start.step.text}, where the walk starts, breaks a limit already ({_broken(walk, 0)})."
        )
        return lines
    last = walk.flown[walk.furthest]
    judged = last.judged
    lines.append(
        f"{what}{last.step.text} is sound: {judged.count - judged.bad} of {judged.count} draws broke no limit, at least"
        f" {100.0 * walk.least(walk.furthest):.0f} % at {100.0 * plan.confidence:.0f} % confidence."
    )
    if walk.tripped is not None:
        lines.append(f"{what}{walk.flown[walk.tripped].step.text} is not: {_broken(walk, walk.tripped)}.")
    else:
        beyond = ' (with ballast: --ballast-at "tail post")' if plan.path.end.startswith("the tray") else ""
        lines.append(f"No limit tripped: {plan.path.end}. What lies beyond was not looked at{beyond}.")
    lines += _advice(walk)
    found = [trend for trend in walk.trends() if trend.left < STEADY]
    if found:
        lines.append("What goes first: " + _gone(walk, found[0]) + ".")
        if len(found) > 1:
            lines.append("Then: " + "; ".join(_gone(walk, trend) for trend in found[1:3]) + ".")
    if any(limit.allowance for limit in plan.limits if limit.bound is not None):
        lines.append(
            f"Static margin is counted {100.0 * MODEL:.1f} % of MAC ({1000.0 * MODEL * _chord(walk):.0f} mm of CG) less than this"
            " model says, and time to double with the CG that much further aft: its neutral point lies that far behind a"
            " vortex lattice's. Flights are as the model has them."
        )
    return lines


def _chord(walk: Walk) -> float:
    wing = next(s for s in walk.plan.loaded.setup.airframe.surfaces if s.name == "wing")
    return mean_aerodynamic_chord(wing)[0]


def _broken(walk: Walk, n: int) -> str:
    judged, broke = walk.flown[n].judged, walk.broke(n)
    nominal = [b.limit + _why(b) for b in broke if b.nominal]
    if nominal:
        return f"even without any error it breaks {_few(nominal)}"
    parts = ", ".join(f"{b.limit} {b.draws}{_why(b)}" for b in broke)
    return f"{judged.bad} of {judged.count} draws broke a limit ({parts})"


def _why(broke: Broke) -> str:
    parts = broke.why.split(": ")
    if parts[0] == "not flown":
        return f", not flown: {parts[-1]}"
    return ", " + ": ".join(parts[:2]) if broke.why else ""


def _advice(walk: Walk) -> list[str]:
    if not walk.plan.path.backwards:
        return []
    step, last = walk.flown[walk.advised].step, walk.flown[walk.furthest].step
    if walk.advised == 0:
        left = f"{last.number - step.number:.0f} mm are left before the first limit"
        what = "this CG is as far aft as these limits go" if walk.furthest == 0 else f"only {left}"
        return [f"Stay where you are: {what}, and {RETREAT} steps and {1000.0 * IN_HAND:.0f} mm are wanted in hand."]
    item = f" ({walk.plan.loaded.setup.moved_item} at {1000.0 * step.item:.0f} mm)" if step.item is not None else ""
    short = last.number - step.number
    how = "One step a flight, each flown through before the next; weigh again after each."
    if short < 1e-6:
        return [f"Go no further than {step.text}{item}; by its trend the first limit lies well beyond. {how}"]
    return [
        f"Go no further than {step.text}{item}: {short:.0f} mm short of it, because a CG is known to within"
        f" {1000.0 * IN_HAND:.0f} mm and a sign is seen only once it is there. {how}"
    ]


def _gone(walk: Walk, trend: Trend) -> str:
    limit = walk.plan.limits[trend.limit]
    unit, per = SHORT.get(limit.measure_unit, limit.measure_unit), walk.plan.path.unit or "step"
    text = f"{limit.name}, {number(trend.start, unit)} to {number(trend.end, unit)} {unit} left".replace("  ", " ")
    if not walk.plan.path.unit and not walk.plan.path.stops:
        return text
    text += f" ({trend.slope:+.2g} {unit} per {per})".replace("  ", " ")
    steps = walk.flown
    reach = abs(steps[-1].step.number - steps[0].step.number)
    near = trend.place is not None and abs(trend.place - steps[-1].step.number) < 2.0 * reach
    return text + (f", gone at {trend.place:.0f} {per} if it goes on straight" if near else "")


def _listed(names: list[str]) -> str:
    return ", ".join(names[:-1]) + (" and " if len(names) > 1 else "") + names[-1] if names else ""


# ---- tables by step ---------------------------------------------------------------------------------------------------------


def headroom_tables(walk: Walk) -> str:
    """What 19 of 20 draws still have of every limit: a row a limit, a column a step."""
    limits = [(n, limit) for n, limit in enumerate(walk.plan.limits) if limit.bound is not None]
    least = [flown.judged.least_headroom(walk.plan.share) for flown in walk.flown]

    def block(steps: range) -> str:
        rows = []
        for n, limit in limits:
            unit = limit.measure_unit
            cells = [_room(least[s][n], walk, s, n, unit) for s in steps]
            rows.append([limit.name + (" (aside)" if walk.set_aside[n] else ""), SHORT.get(unit, unit), *cells])
        return table(["headroom", "", *(label(walk, walk.flown[s]) for s in steps)], rows, 2)

    share = 100.0 * (1.0 - walk.plan.share)
    note = f"Of {share:.0f} % of the draws; below 0 is beyond the limit, ! trips it, - was not taken."
    note += " Of a step without draws, the nominal flight's. Time to double as growth: 0.69 over it."
    return "\n\n".join([*in_blocks(len(walk.flown), block), wrapped(note)])


def _room(value: float, walk: Walk, step: int, limit: int, unit: str) -> str:
    flown = walk.flown[step]
    mark = (
        "!"
        if flown.judged.broken[0, limit] or flown.judged.breaks[limit] > walk.plan.share * flown.judged.count
        else ""
    )
    return number(value, unit) + mark


def seen_tables(walk: Walk) -> str:
    """What is measured at every step: the nominal flight, and half of what nine of ten draws span."""
    rows = rows_of(walk)

    def block(steps: range) -> str:
        out = []
        for _, manoeuvre, measure, name, unit in rows:
            cells = [with_spread(walk, walk.flown[s], manoeuvre, measure, unit) for s in steps]
            out.append([name, SHORT.get(unit, unit), *cells])
        return table(["", "", *(label(walk, walk.flown[s]) for s in steps)], out, 2)

    note = (
        "Nominal flight +- half of what nine of ten draws span. Look for the direction and the change from step to step:"
        " sizes are the model's."
    )
    return "\n\n".join([*in_blocks(len(walk.flown), block), wrapped(note)])


def with_spread(walk: Walk, flown: Flown, manoeuvre: str, measure: str, unit: str) -> str:
    """A measure at a step, and half of what nine of ten draws span."""
    here = seen(walk, flown, manoeuvre, measure)
    if here.value is None or here.low is None:
        return number(here.value, unit)
    return f"{number(here.value, unit)}+-{number(0.5 * (here.high - here.low), unit)}"


# ---- on the field -------------------------------------------------------------------------------------------------------------


def field_order(walk: Walk) -> str:
    """What to fly at every step and the signs to go back."""
    steps = walk.flown[: walk.advised + 1]
    places = ", ".join(label(walk, f) for f in steps[1:])
    each = f"at each of {places} mm" if walk.advised > 1 else f"at {places} mm"
    where = each if walk.advised else f"at the present {steps[0].step.text}"
    first = f"Field order, {where}: {FLOWN_SO}."
    lines = [wrapped(first), ""]
    for n, check in enumerate(checks_of(walk), 1):
        lines.append(
            wrapped(f"{check.title}: {check.how}. Well: {check.well_at_a_step}. BACK: {check.back}.", "   ", f"{n:2d} ")
        )
    lines += ["", wrapped(LAST), wrapped(ON_ANY_SIGN)]
    return "\n".join(lines)
