"""How far each measure is to be trusted, as "How far to trust this" in DEVELOPERS.md has it from the checks.

What stands there for a group of measures is kept here by measure, so that a number can be shown beside its trust.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Trust:
    """How far to trust a group of measures: `short` beside a number, `words` in full, and `why` (what decides it)."""

    short: str
    words: str
    why: str


TEN = Trust("within 10 %", "within 10 %, for a plane that was measured well", "largest lift, propeller: measured parts")
RESPONSE = Trust(
    "within 20 %", "within 20 %", "control power 0.95 to 1.2 of a measured plane; inertia by items 0.8 to 1.0"
)
MODES = Trust("within 25 %", "within 15 to 25 %", "lags, weathercock stability 0.75 to 0.9 of a measured plane")
MARGIN = Trust(
    "3 to 4 % MAC", "within 3 to 4 % of MAC, likely read too large: stay forward of what it says",
    "downwash, where the load lies on the chord; fuselage and thrust line are theory alone",
)  # fmt: skip
SIDE_FORCE = Trust("within 25 %", "within 25 %, read too large", "side force of the fuselage")
HOVER = Trust("within 30 %", "within 30 %", "slipstream: checked on one plane")
LINES = Trust(
    "order, not size", "direction and order over CG; zero crossings shift by several % of MAC",
    "small differences of trim, slipstream and side force",
)  # fmt: skip
BEYOND = Trust(
    "order, not size", "order between setups, not size",
    "separation and shadows: parts checked, no spin was measured",
)  # fmt: skip
DROP = Trust("yes or no", "that it drops or not", "which tip goes first hangs on the pilot's ailerons")
SNAPS = Trust("direction", "as a direction", "no leading-edge vortex, straight wakes")
BENDING = Trust("within 15 %", "within 15 %, an estimate", "largest lift; strength of a tube of unknown make")
HINGES = Trust("within 25 %", "within 20 to 25 %", "balance areas ahead of the hinge are not seen")
GUSTS = Trust("within 20 %", "within 20 %", "lag of the section, no shear across the plane")
UNCHECKED = Trust(
    "not checked", "not checked against anything outside: compare setups, do not take the size", "no data to hold it against"
)  # fmt: skip

OF_MEASURE: dict[str, Trust] = {
    **dict.fromkeys(("stall_speed", "hover_throttle", "thrust_over_weight", "throttle_trim", "climb_out"), TEN),
    **dict.fromkeys((
        "pitch_response", "time_to_90", "time_to_360", "steady_roll_rate", "peak_roll_rate", "elevator_trim", "alpha_trim",
    ), RESPONSE),
    **dict.fromkeys((
        "short_period_frequency", "short_period_damping", "phugoid_period", "phugoid_damping", "dutch_roll_frequency",
        "dutch_roll_damping", "roll_time_constant", "spiral_growth", "pitch_growth", "pitch_growth_aft",
    ), MODES),
    "stick_fixed_margin": MARGIN,
    **dict.fromkeys(("rudder_to_hold", "rudder_left", "sideslip", "aileron_to_hold"), SIDE_FORCE),
    **dict.fromkeys(("torque_roll_rate", "aileron_to_stop_roll", "elevator_left", "hover_rudder_left"), HOVER),
    **dict.fromkeys((
        "pitch_drift", "path_curvature", "roll_drift", "heading_drift", "bend_in_pitch", "bend_sideways", "roll_off_line",
        "line_elevator", "elevator_to_hold", "pitch_coupling", "alpha_after", "roll_coupling",
    ), LINES),
    **dict.fromkeys((
        "stall_alpha", "first_separation", "warning_speed", "warning_alpha", "nose_drop", "height_lost", "recovery_time",
        "spins", "spin_turn_rate", "spin_turns", "height_per_turn", "spin_pitch", "spin_alpha", "turns_to_stop", "time_to_stop",
        "harrier_alpha", "harrier_speed", "harrier_throttle", "harrier_sink", "wing_rock", "wing_rock_frequency",
        "harrier_roll_rate", "roll_unevenness", "descent",
    ), BEYOND),
    "wing_drop": DROP,
    **dict.fromkeys(("snap_alpha", "peak_pitch_rate", "tumble_turns"), SNAPS),
    **dict.fromkeys(("root_bending", "joiner_margin"), BENDING),
    **dict.fromkeys((
        f"{control}_{what}" for control in ("aileron", "elevator", "rudder")
        for what in ("hinge_moment", "servo_load", "blow_back")
    ), HINGES),
}  # fmt: skip

# manoeuvres of which every number is trusted no further than this, by how their names begin
OF_MANOEUVRE = {
    "snap-roll": SNAPS,
    "tumble": SNAPS,
    "knife-edge-spin": SNAPS,
    "flat-spin": BEYOND,
    "spin": BEYOND,
    "wall": BEYOND,
}

GROUPS = {
    "stall speed, hover throttle, static thrust, level speed over throttle": TEN,
    "static margin": MARGIN,
    "answer to controls at small angles": RESPONSE,
    "short period, roll, Dutch roll, phugoid": MODES,
    "rudder and sideslip in knife edge": SIDE_FORCE,
    "control left in the hover, torque roll": HOVER,
    "loads in gusts": GUSTS,
    "45-degree lines and knife edge, hands off": LINES,
    "stall and after: nose drop, height lost, spin": BEYOND,
    "wing drop": DROP,
    "snap rolls, tumbling": SNAPS,
    "bending at the wing root, stress in the joiner": BENDING,
    "hinge moments, servo margin, blow-back": HINGES,
    "every other measure": UNCHECKED,
}
NOT_SEEN = "flutter, the wing's own spar, glue, hinges, wear, flex of rods and horns, ground contact"
NOT_COMPARED = "No flight of a real aeroplane has been compared with this simulation yet."


def trust_in(manoeuvre: str, measure: str) -> Trust:
    """How far to trust `measure` taken in `manoeuvre`."""
    whole = next((trust for start, trust in OF_MANOEUVRE.items() if manoeuvre.startswith(start)), None)
    return whole or OF_MEASURE.get(measure, UNCHECKED)
