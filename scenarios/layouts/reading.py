"""What the tables say in words; every number in the words is taken from the tables."""

from __future__ import annotations

from scenarios.layouts.study import CGS, SIDES, Findings

PLATES = "beck-150"  # the plane with side-force plates
PITCH = [f"{side} pitch_coupling" for side in SIDES]
ROLL = [f"{side} roll_coupling" for side in SIDES]
FAST = [f"{side} elevator" for side in SIDES]
SLOW = [f"slow {side} elevator" for side in SIDES]
UPRIGHT, INVERTED = ["upright pitch_drift"], ["inverted pitch_drift"]


def signed(value: float, decimals: int) -> str:
    """`+1.2`, `-1.2`, and a plain zero where it rounds to that."""
    text = f"{value:+.{decimals}f}"
    return text[1:] if float(text) == 0.0 else text


def span(values: list[float], decimals: int = 1) -> str:
    """`-0.3 to +1.2`, or one number where both ends round to the same."""
    low, high = signed(min(values), decimals), signed(max(values), decimals)
    return low if low == high else f"{low} to {high}"


def size(values: list[float]) -> str:
    """The range of sizes in whole numbers, without a sign."""
    return span([abs(value) for value in values], 0).replace("+", "")


def reading(found: list[Findings], changes: list[tuple[str, Findings]]) -> str:
    """The words for the built-in planes at all CGs and for the changes of one of them."""
    first, middle, last = ([one for one in found if abs(one.cg - cg) < 0.005] for cg in CGS)
    plates = [one for one in middle if one.airframe == PLATES]
    others = [one for one in middle if one.airframe != PLATES]
    base, changed = changes[0][1].values, {label: one.values for label, one in changes[1:]}

    def of(group: list[Findings], names: list[str]) -> list[float]:
        return [one.values[name] for one in group for name in names if name in one.values]

    def rise(names: list[str]) -> list[float]:
        pairs = [(fore.values, aft.values) for fore, aft in zip(first, last)]
        return [aft[n] - fore[n] for fore, aft in pairs for n in names if n in fore and n in aft]

    def cause(name: str, group: list[Findings], sides: tuple[str, ...] = tuple(SIDES)) -> list[float]:
        return [one.causes[side][name] for one in group for side in sides]

    def by(label: str, names: list[str]) -> list[float]:
        return [changed[label][name] - base[name] for name in names]

    raised, small = rise(FAST + SLOW), ("wing 60 mm higher", "wing 60 mm lower", "fin 100 mm lower")
    return TEXT.format(
        fore=f"{100 * CGS[0]:.0f} %",
        aft=f"{100 * CGS[-1]:.0f} %",
        raised=sum(value > 0.0 for value in raised),
        cases=len(raised),
        rise=span(rise(FAST)),
        lift_fore=span(cause("lift gone", first)),
        lift_aft=span(cause("lift gone", last)),
        edges=len(of(first, PITCH)),
        canopy_fore=sum(value > 1.0 for value in of(first, PITCH)),
        canopy_aft=sum(value > 1.0 for value in of(last, PITCH)),
        gear_aft=sum(value < -1.0 for value in of(last, PITCH)),
        pitch_fore=span(of(first, PITCH), 0),
        pitch_aft=span(of(last, PITCH), 0),
        slow_right=span(of(others, SLOW[:1])),
        slow_left=span(of(others, SLOW[1:])),
        swirl_right=span(cause("swirl", middle, ("right",))),
        swirl_left=span(cause("swirl", middle, ("left",))),
        propeller_right=span(cause("propeller", middle, ("right",))),
        propeller_left=span(cause("propeller", middle, ("left",))),
        sideslip_plates=size(of(plates, ["right sideslip", "left sideslip"])),
        sideslip_others=size(of(others, ["right sideslip", "left sideslip"])),
        from_plates=span(cause("other surfaces", plates), 2),
        from_fuselage=span(cause("fuselage", middle), 2),
        dihedral=size(by("dihedral 2 deg", ROLL)),
        small_roll=size([value for label in small for value in by(label, ROLL)]),
        upright_rise=span(rise(UPRIGHT)),
        inverted_rise=span(rise(INVERTED)),
        upright_aft=span(of(last, UPRIGHT)),
        inverted_aft=span(of(last, INVERTED)),
        shaft_line=span(by("thrust line 40 mm higher", UPRIGHT + INVERTED)),
        shaft_edge=span(by("thrust line 40 mm higher", FAST), 2),
        shaft_slow=span(by("thrust line 40 mm higher", SLOW), 2),
        down_line=span(by("1 deg more down thrust", UPRIGHT + INVERTED)),
        down_edge=span(by("1 deg more down thrust", FAST), 2),
        tapered=span(by("taper 0.35", ["stall wing_drop"]), 0),
        straight=span(by("taper 0.80", ["stall wing_drop"]), 0),
        taper_edge=span(by("taper 0.35", FAST) + by("taper 0.80", FAST), 2),
        stall_speed=span(rise(["stall stall_speed"]), 2),
        nose_drop=span(rise(["stall nose_drop"]), 0),
        height_lost=span(rise(["stall height_lost"])),
        higher=" and ".join(signed(value, 2) for value in by("stabiliser 100 mm higher", FAST)),
        lower=" and ".join(signed(value, 2) for value in by("stabiliser 100 mm lower", FAST)),
        tail=span(by("tail 150 mm longer", FAST) + by("tail 150 mm shorter", FAST), 2),
    )


TEXT = """## Reading the tables

**Knife edge and CG.** Going from {fore} to {aft} raised `E` in {raised} of {cases} cases, by {rise} deg at the higher
speed. The CG acts through the trim: a nose-heavy plane carries up elevator, and in knife edge there is no lift left
for it to balance (`lift gone`: {lift_fore} deg at {fore}, {lift_aft} at {aft}). Forward, {canopy_fore} of {edges}
knife edges go to the canopy; aft, {canopy_aft} still do and {gear_aft} go to the gear.

**Fast shows the trim, slow shows the layout.** What grows with sideslip takes over when slow: the right knife edge
asks for {slow_right} deg, the left one for {slow_left} (without the plane that has plates). One mix from rudder to elevator
cannot suit both sides and both speeds. Among the planes without plates, those that need most sideslip are the first
to go to the gear.

**Right and left differ by the propeller, twice.** Its swirl meets a stabiliser that sideslip has taken out of the middle of
the slipstream ({swirl_right} deg right, {swirl_left} left); its own oblique inflow pushes the other way ({propeller_right}
right, {propeller_left} left). The small difference of two large things is uncertain on any plane. Without swirl the stabiliser
asks for up elevator on both sides.

**Plates at the wing tips** let a plane fly knife edge with {sideslip_plates} deg of sideslip where the others need
{sideslip_others}. All that comes from sideslip is small then, and `E` is nearly the trim alone. The plates
themselves: {from_plates} deg of elevator.

**Roll in knife edge** is decided by dihedral: 2 deg make {dihedral} deg in a second on the plane of the last table;
wing height (60 mm) and fin height (100 mm) make {small_roll}. Every plane here rolls with the rudder, toward
upright, the flat ones too.

**45-degree line.** CG aft takes the pull to the canopy off: upright {upright_rise} deg/s, inverted {inverted_rise}.
The inverted line is the sharper test of the CG; upright, the height of the shaft (40 mm: {shaft_line} deg/s) and
down thrust (1 deg: {down_line}) count as much.

**Stall.** Taper makes the wing drop larger (0.35 instead of 0.54: {tapered} deg; 0.80: {straight}; the side is chance) and
moves the place where the wing goes first outboard; it does next to nothing to the knife edge ({taper_edge} deg). CG aft
changes the stall speed by {stall_speed} m/s: nothing a pilot would feel.

**What one would not expect**

* The fuselage makes most of the side force that carries a plane without plates, and no pitch ({from_fuselage} deg).
* The stabiliser's height, right and left: 100 mm higher {higher} deg, lower {lower}. That is not one way up and the other
  way down, and it is less than what the CG does.
* Down thrust bends the line and leaves the knife edge alone ({down_edge} deg for 1 deg); the height of the shaft does both
  (40 mm: {shaft_edge} deg, and {shaft_slow} when slow).
* A tail 150 mm longer or shorter, at the same static margin: {tail} deg. The margin counts, not the arm.
* CG aft made the stall shorter: nose drop {nose_drop} deg, height lost {height_lost} m. All these CGs lie ahead of the neutral point,
  and the pilot here lets go at the break and recovers at once.

**Against common practice** (hobby sources, no measurements)

| they say | here |
|---|---|
| nose-heavy: knife edge to the canopy | yes: {pitch_fore} deg at {fore} |
| tail-heavy: knife edge to the canopy (sources disagree) | no: {pitch_aft} deg at {aft}, less to the canopy the further aft |
| high tail to the gear, low tail to the canopy (one report) | not so by itself, see above |
| left and right want different mixes | yes, and slow and fast too |
| rolls with the rudder: less dihedral | yes |
| 45-degree line: tail-heavy to the gear | upright {upright_aft} deg/s at {aft}; inverted still {inverted_aft} |
| tapered wings drop a tip | yes |
| CG aft: lower stall speed, worse recovery | hardly; worse recovery not seen ahead of the neutral point |"""
