"""The servo bench in words, tables and its document."""

from __future__ import annotations

import math
from typing import Any

from models.units import in_unit, written
from scenarios.bench.servos import BLOWN_SHARE, FACTOR, FLIGHT, SHARES, ControlBench, Energy, ServoBench, Times
from scenarios.measures.servos import SURFACES
from viewer.documents import quantity
from viewer.text import number, table, wrapped
from viewer.words import NO_TORQUE

WHY = (
    f"Asked for is {FACTOR:.0f} times what the air asks of one servo at full throw: at half of its stall torque a servo "
    "still moves at half of its speed, and simple hinge moments may be low by as much."
)
NOT_SEEN = (
    "Not seen: balance areas ahead of the hinge (they lower the moments), friction of gears and hinges, a servo that "
    "is warm, a pack that sags, flutter. Full throw at this speed is the worst that the stick can ask for."
)
SMOOTH = (
    "Still air and a steady hand: vibration and turbulence make servos work at rest, and packs are logged to give "
    "several times as much (common practice)."
)


def kg_cm(torque: float | None) -> str:
    """A torque in N m as kg cm, a dash for None."""
    return "-" if torque is None else f"{in_unit(torque, 'torque', 'kg cm'):.{0 if torque >= 2.0 else 1}f}"


def _deg(angle: float | None) -> str:
    return "-" if angle is None else number(math.degrees(angle), "deg")


def _speed(speed: float | None, last: float) -> str:
    if speed is None:
        return f"> {number(last, 'm/s')}"
    return "at rest" if speed <= 0.0 else number(speed, "m/s")


def servos_text(result: ServoBench, full: bool, pack: float | None) -> str:
    """What `upline bench servos` prints; `full` with the moments over speed and deflection, `pack` in A s."""
    setup = result.setup
    lines = [
        f"servos of {setup.name} on {setup.airframe.name}",
        wrapped(
            "straight ahead in still air at 100 m, full throttle, flow settled; level top speed "
            f"{number(result.top_speed, 'm/s')} m/s; judged at {number(result.at, 'm/s')} m/s and full throw"
        ),
        "",
        _summary(result),
    ]
    unknown = [b.control for b in result.controls if not b.servo.torque]
    if unknown:
        lines += ["", wrapped(f"{', '.join(unknown)}: {NO_TORQUE}; the last column is what to ask for.")]
    lines += ["", wrapped(WHY), "", _times_table(result)]
    straight = [b.control for b in result.controls if b.control not in setup.linkages]
    if straight:
        lines += ["", wrapped(f"No linkage given for {', '.join(straight)}: arm and horn taken as of one length.")]
    if full:
        for b in result.controls:
            lines += ["", _moments_table(b)]
    if result.energy is not None:
        lines += ["", *_energy(result, result.energy, pack)]
    return "\n".join([*lines, "", wrapped(NOT_SEEN)])


def _summary(result: ServoBench) -> str:
    rows = []
    for b in result.controls:
        last = float(b.speeds[-1])
        blown = ("-", "-") if b.loads is None else (_speed(b.blown, last), _speed(b.blown_share, last))
        rows.append([
            b.control,
            f"{b.servo.count} x {kg_cm(b.servo.torque)}",
            kg_cm(b.servo_torque),
            "-" if b.factor is None else f"{b.factor:.1f}",
            *blown,
            "-" if b.missing is None else f"{_deg(b.missing)} of {_deg(b.full)}",
            kg_cm(b.asked_torque),
        ])  # fmt: skip
    head = [
        "kg cm",
        "servos",
        "air asks",
        "factor",
        "1 deg off",
        f"{100 * BLOWN_SHARE:.0f} % off",
        "missing, deg",
        "ask for",
    ]
    return table(head, rows)


def _times_table(result: ServoBench) -> str:
    def cells(times: Times) -> list[str]:
        return ["never" if t is None else f"{t:.2f}" for t in (times.out, times.back, times.across)]

    rows = [[b.control, *cells(b.free), *cells(b.loaded)] for b in result.controls]
    head = ["seconds", "out", "back", "across", "out, loaded", "back, loaded", "across, loaded"]
    said = (
        "to within a degree of where it comes to rest: from neutral to full stick, back, and from stop to stop; "
        "without load and in the air"
    )
    return wrapped(said) + "\n" + table(head, rows)


def _moments_table(b: ControlBench) -> str:
    rows = []
    for i, speed in enumerate(b.speeds):
        rows.append([
            number(float(speed), "m/s"),
            *(number(abs(float(m)), "N m") for m in b.moments[i]),
            number(abs(float(b.without_slipstream[i])), "N m"),
            "-" if b.loads is None else f"{100.0 * b.loads[i]:.0f}",
            _deg(None if b.reached is None else float(b.reached[i])),
        ])  # fmt: skip
    head = ["m/s", *(f"{100 * s:.0f} %" for s in SHARES), "no slipstream", "load, %", "reached, deg"]
    of = "the worse aileron" if b.control == "aileron" else f"the {b.control}"
    said = (
        f"{b.control}: hinge moment of {of}, N m, at shares of the full throw of {_deg(b.full)} deg; at full throw also "
        "without slipstream, the load of its servos and where full stick brings it"
    )
    return wrapped(said) + "\n" + table(head, rows, left=0)


def _energy(result: ServoBench, e: Energy, pack: float | None) -> list[str]:
    rows = []
    for draw in e.draws:
        motor = draw.motor
        guessed = " (est.)" if "stall current" in motor.estimated else ""
        rows.append([
            draw.control, str(draw.servos), f"{motor.volts:.1f}" + (" (est.)" if "voltage" in motor.estimated else ""),
            f"{motor.stall_current:.1f}{guessed}", f"{draw.mean:.2f}", f"{draw.peak:.0f}",
        ])  # fmt: skip
    minute = e.per_minute / 3.6
    lines = [
        wrapped(f"electrical draw of all servos over {e.seconds:.0f} s of {', '.join(e.flown)}"),
        table(["", "servos", "V", "stall current, A", "mean W", "peak W"], rows),
        wrapped(
            f"{minute:.1f} mAh a minute, {FLIGHT * minute:.0f} mAh in {FLIGHT:.0f} minutes; all at once at most "
            f"{e.peak:.0f} A for a hundredth of a second. {SMOOTH}"
        ),
    ]
    if pack is not None:
        lines.append(
            wrapped(
                f"A pack of {written(pack, 'charge', 'mAh', 0)}: {FLIGHT:.0f} minutes take "
                f"{100.0 * FLIGHT * e.per_minute / pack:.1f} % of it."
            )
        )
    wrong = [d.control for d in e.draws if not d.motor.agrees]
    if wrong:
        lines.append(
            wrapped(
                f"{', '.join(wrong)}: torque times speed is more than voltage times stall current can be; one of the "
                "four is wrong, and the draw is too low."
            )
        )
    lines += [wrapped(f"left out: {'; '.join(e.left_out)}")] if e.left_out else []
    return lines


# ---- document ----------------------------------------------------------------------------------------------------


def servos_document(result: ServoBench, pack: float | None) -> dict[str, Any]:
    """The document of `upline bench servos`."""
    document: dict[str, Any] = {
        "setup": result.setup.name,
        "airframe": result.setup.airframe.name,
        "level_top_speed": quantity(result.top_speed, "m/s"),
        "judged_at": quantity(result.at, "m/s"),
        "factor_asked_for": FACTOR,
        "controls": [_control(b, b.control in result.setup.linkages) for b in result.controls],
    }
    if result.energy is not None:
        document["energy"] = _energy_document(result.energy, pack)
    return document


def _angle(value: float | None) -> dict[str, Any]:
    return quantity(None if value is None else math.degrees(value), "deg")


def _control(b: ControlBench, linked: bool) -> dict[str, Any]:
    def times(t: Times) -> dict[str, Any]:
        return {name: quantity(getattr(t, name), "s") for name in ("out", "back", "across")}

    out: dict[str, Any] = {
        "control": b.control,
        "servos_on_each_surface": b.servo.count,
        "surfaces": len(SURFACES[b.control]),
        "linkage_given": linked,
        "stall_torque_of_one": quantity(b.servo.torque, "N m"),
        "full_throw": _angle(b.full),
        "air_asks_of_one_servo": quantity(b.servo_torque, "N m"),
        "factor": quantity(b.factor, ""),
        "ask_for_at_least": quantity(b.asked_torque, "N m"),
        "one_degree_off_from": quantity(b.blown, "m/s"),
        "a_tenth_off_from": quantity(b.blown_share, "m/s"),
        "missing": _angle(b.missing),
        "times_without_load": times(b.free),
        "times_in_the_air": times(b.loaded),
        "over_airspeed": [],
    }
    if not b.servo.torque:
        out["note"] = NO_TORQUE
    for i, speed in enumerate(b.speeds):
        row = {
            "airspeed": quantity(float(speed), "m/s"),
            "hinge_moment": [{"share_of_throw": s, **quantity(float(m), "N m")} for s, m in zip(SHARES, b.moments[i])],
            "without_slipstream": quantity(float(b.without_slipstream[i]), "N m"),
            "load": quantity(None if b.loads is None else 100.0 * float(b.loads[i]), "%"),
            "reached": _angle(None if b.reached is None else float(b.reached[i])),
        }
        out["over_airspeed"].append(row)
    return out


def _energy_document(e: Energy, pack: float | None) -> dict[str, Any]:
    out: dict[str, Any] = {
        "manoeuvres": list(e.flown),
        "left_out": list(e.left_out),
        "seconds": quantity(e.seconds, "s"),
        "per_minute": quantity(e.per_minute / 3.6, "mAh"),
        "peak_current": quantity(e.peak, "A"),
        "controls": [
            {
                "control": d.control,
                "servos": d.servos,
                "mean_power": quantity(d.mean, "W"),
                "peak_power": quantity(d.peak, "W"),
                "voltage": quantity(d.motor.volts, "V"),
                "stall_current": quantity(d.motor.stall_current, "A"),
                "estimated": list(d.motor.estimated),
                "catalogue_values_agree": d.motor.agrees,
            }
            for d in e.draws
        ],
    }
    if pack is not None:
        out["share_of_pack"] = quantity(100.0 * FLIGHT * e.per_minute / pack, "%")
        out["flight"] = quantity(FLIGHT, "min")
    return out
