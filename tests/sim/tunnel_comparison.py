"""Measured against found, row by row, for the tunnel model; `python -m tests.sim.tunnel_comparison` prints it all.

Each group is a function that returns rows (what, measured, found).  Slopes are straight-line fits over
the same points on both sides, so that curvature and scatter act alike.
"""

from __future__ import annotations

import sys
from typing import NamedTuple

import numpy as np

from sim import layout as L
from tests.sim.reference import facts, table
from tests.sim.tunnel_model import (
    AREA,
    CHORD,
    FX,
    FY,
    FZ,
    ML,
    MM,
    MN,
    PROPULSION,
    coefficients,
    inertia,
    lift_drag_pitch,
    on_balance,
    parts_on_balance,
)

COLUMNS = ("dCX", "dCY", "dCZ", "dl_over_q_m3", "dCm", "dn_over_q_m3")
LOADS = ("T_net_N", "Y_N", "Z_N", "l_Nm", "m_Nm", "n_Nm")
SPEEDS = (10.0, 15.0, 20.0)


class Row(NamedTuple):
    """One line of the table: what it is, the measured value, the value found."""

    what: str
    measured: float
    found: float


def _slope(x, y) -> float:
    """Slope of the straight line through points."""
    return float(np.polyfit(x, y, 1)[0])


def polar(speed: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Angles (deg), measured and found (n, 3) CL, CD, Cm at one speed."""
    rows = table("rc_aerobatic_mxs_longitudinal.csv", V_mps=speed)
    alpha = np.array([row["alpha_deg"] for row in rows])
    measured = np.array([[row["CL"], row["CD"], row["Cm_loadcell"]] for row in rows])
    return alpha, measured, np.array([lift_drag_pitch(speed, a) for a in alpha])


def longitudinal() -> list[Row]:
    """Lift slope and lift at 0, largest lift and where it stalls, pitch slope and level, rise of drag."""
    rows = []
    for speed in SPEEDS:
        alpha, *sides = polar(speed)
        measured, found = (_of_polar(alpha, side) for side in sides)
        rows += [Row(f"{what}, {speed:.0f} m/s", measured[what], found[what]) for what in measured]
    return rows


def _of_polar(alpha: np.ndarray, side: np.ndarray) -> dict[str, float]:
    """What is compared of one polar, by name."""
    lift, drag, pitch = side.T
    straight, attached = np.abs(alpha) < 8.0, np.abs(alpha) < 11.0
    # the data's drag is lopsided (tare, angle of the cell): the mean of both signs of lift
    rise = {cl: _drag_rise(lift[attached], drag[attached], cl) for cl in (0.5, 0.75)}
    return {
        "CL per rad": _slope(np.radians(alpha[straight]), lift[straight]),
        "CL at 0": float(np.interp(0.0, alpha, lift)),
        "CL largest to 15 deg": lift.max(),
        "CL at 12.5 deg": float(np.interp(12.5, alpha, lift)),
        "stall angle, deg": _leaves_line(alpha, lift),
        "dCm/dCL": _slope(lift[straight], pitch[straight]),
        "Cm at CL 0": float(np.polyval(np.polyfit(lift[straight], pitch[straight], 1), 0.0)),
        "CD least": drag.min(),
        "CD rise to CL 0.5, mean of both sides": rise[0.5],
        "CD rise to CL 0.75, mean of both sides": rise[0.75],
    }


def _drag_rise(lift: np.ndarray, drag: np.ndarray, cl: float) -> float:
    at = np.interp([-cl, 0.0, cl], lift, drag)
    return float(0.5 * (at[0] + at[2]) - at[1])


def _leaves_line(alpha: np.ndarray, cl: np.ndarray) -> float:
    """Angle where lift falls 0.1 below the straight line of the attached range (positive side), deg; 15 if it does not."""
    straight = np.abs(alpha) < 8.0
    line = np.polyval(np.polyfit(alpha[straight], cl[straight], 1), alpha)
    short = line - cl
    for i in range(len(alpha) - 1):
        if alpha[i] >= 5.0 and short[i] < 0.1 <= short[i + 1]:
            return float(alpha[i] + (0.1 - short[i]) / (short[i + 1] - short[i]) * (alpha[i + 1] - alpha[i]))
    return 15.0


def control_runs(surface: str, speed: float, alpha: float):
    """Angles (deg, half the difference for ailerons), measured and found increments (n, 6) of one run."""
    rows = table("rc_aerobatic_mxs_controls.csv", surface=surface, V_mps=speed, alpha_deg=alpha)
    before = on_balance(speed, alpha)
    found, angle = [], []
    for row in rows:
        given = {surface: row["delta_deg"]}
        if surface == "aileron":
            given["aileron2"] = row["delta2_deg"]
        angle.append(row["delta_deg"] if surface != "aileron" else 0.5 * (row["delta_deg"] - row["delta2_deg"]))
        found.append(coefficients(on_balance(speed, alpha, **given) - before, speed))
    measured = np.array([[row[c] for c in COLUMNS] for row in rows])
    return np.array(angle), measured, np.array(found)


MAIN = {"elevator": (MM, FZ), "rudder": (MN, FY, ML), "aileron": (ML, MN)}
UNITS = {FX: "CX", FY: "CY", FZ: "CZ", ML: "l/q", MM: "Cm", MN: "n/q"}


def controls() -> list[Row]:
    """Slopes per rad within 18 deg, what is left of them at 25 to 30 deg, drag of large throws, arms."""
    rows = []
    for surface, columns in MAIN.items():
        for speed in (15.0, 20.0):
            for alpha in (0.0, 10.0):
                angle, measured, found = control_runs(surface, speed, alpha)
                at = f"{speed:.0f} m/s, alpha {alpha:.0f}"
                small = np.abs(angle) < 18.0
                for c in columns:
                    pair = (_slope(np.radians(angle[small]), side[small, c]) for side in (measured, found))
                    rows.append(Row(f"{surface} {UNITS[c]} per rad, {at}", *pair))
                if surface != "aileron":
                    arm = CHORD if surface == "elevator" else 1.0 / AREA
                    pair = (
                        _slope(side[small, columns[1]], side[small, columns[0]]) * arm for side in (measured, found)
                    )
                    rows.append(Row(f"{surface} arm, m, {at}", *(abs(v) for v in pair)))
                    most, least = angle.max(), angle.min()
                    pair = (_kept(angle, side[:, columns[0]]) for side in (measured, found))
                    rows.append(Row(f"{surface} moment, share of slope kept at {most:.0f}/{least:.0f}, {at}", *pair))
                if np.abs(angle).max() > 20.0:
                    pair = (0.5 * (side[angle.argmax(), FX] + side[angle.argmin(), FX]) for side in (measured, found))
                    rows.append(Row(f"{surface} CX at full throw, mean of both, {at}", *pair))
    return rows


def _kept(angle: np.ndarray, moment: np.ndarray) -> float:
    """Moment over both full throws as a share of what the slope within 18 deg would give."""
    small = np.abs(angle) < 18.0
    return float(
        (moment[angle.argmax()] - moment[angle.argmin()]) / np.ptp(angle) / _slope(angle[small], moment[small])
    )


def sideslip_runs(speed: float):
    """Angles (deg), measured and found (n, 6) coefficients at one speed."""
    rows = table("rc_aerobatic_mxs_sideslip_power_off.csv", V_mps=speed)
    beta = np.array([row["beta_deg"] for row in rows])
    measured = np.array(
        [[row[c] for c in ("CX", "CY", "CZ", "l_over_q_m3")] + [0.0, row["n_over_q_m3"]] for row in rows]
    )
    found = np.array([coefficients(on_balance(speed, 0.0, b), speed) for b in beta])
    return beta, measured, found


def sideslip() -> list[Row]:
    """Odd part in sideslip at 10, 20 and the largest angle: side force, roll, yaw."""
    rows = []
    for speed in (10.0, 15.0, 20.0):
        beta, measured, found = sideslip_runs(speed)
        for angle in (6.0, 10.0, 20.0, beta.max()):
            for c in (FY, ML, MN):
                pair = (
                    0.5 * float(side[beta == angle, c][0] - side[beta == -angle, c][0]) for side in (measured, found)
                )
                rows.append(Row(f"{UNITS[c]} at beta {angle:.0f}, {speed:.0f} m/s", *pair))
    return rows


def static_thrust() -> list[Row]:
    """Net thrust coefficient and roll over thrust at the measured speeds of the propeller."""
    rows = []
    for row in table("rc_aerobatic_mxs_static_thrust.csv"):
        if (row["run"], row["rpm"]) not in (
            (1, 4905),
            (1, 7129),
            (1, 8270),
            (2, 6874),
            (2, 10470),
            (3, 10025),
            (3, 11988),
        ):
            continue
        found = on_balance(0.0, rpm=row["rpm"])
        at = f"run {row['run']:.0f}, {row['rpm']:.0f} rpm"
        rows.append(Row(f"net thrust, N, {at}", row["T_net_N"], found[FX]))
        rows.append(Row(f"roll over thrust, m, {at}", row["l_Nm"] / row["T_net_N"], found[ML] / found[FX]))
    return rows


def hover_runs(surface: str, rpm: float):
    """Angles (deg), measured and found (n, 6) loads of the run nearest `rpm`."""
    rows = [
        row
        for row in table("rc_aerobatic_mxs_static_slipstream_controls.csv", surface=surface)
        if abs(row["rpm"] - rpm) < 300.0
    ]
    angle = np.array([row["delta_deg"] for row in rows])
    measured = np.array([[row[c] for c in LOADS] for row in rows])
    neutral = {"elevator": -5.6, "rudder": -2.3, "aileron": 1.8}
    found = []
    for row in rows:
        given = {**neutral, surface: row["delta_deg"]}
        found.append(on_balance(0.0, rpm=row["rpm"], **given))
    return angle, measured, np.array(found)


def hover() -> list[Row]:
    """Moment per net thrust and deg, what is kept at full throw, thrust lost, swirl's yaw, side force and roll."""
    rows = []
    columns = {"elevator": (MM, FZ), "rudder": (MN, FY, ML), "aileron": (ML,)}
    for rpm in (5000.0, 6670.0, 8330.0):
        for surface, chosen in columns.items():
            angle, measured, found = hover_runs(surface, rpm)
            small = np.abs(angle) < 27.0
            at = f"{rpm:.0f} rpm"
            for c in chosen:
                pair = (_slope(angle[small], side[small, c] / side[small, FX]) for side in (measured, found))
                unit = "m" if c >= ML else "1"
                rows.append(Row(f"{surface} {'XYZlmn'[c]} per thrust, {unit}/deg, {at}", *pair))
            middle = np.abs(angle).argmin()
            if surface == "elevator":
                for end in (angle.argmax(), angle.argmin()):
                    pair = ((side[end, MM] - side[middle, MM]) / side[middle, FX] for side in (measured, found))
                    rows.append(
                        Row(f"elevator m over thrust, m, {angle[middle]:.0f} to {angle[end]:.0f} deg, {at}", *pair)
                    )
                    pair = (1.0 - side[end, FX] / side[middle, FX] for side in (measured, found))
                    rows.append(Row(f"thrust lost at elevator {angle[end]:.0f}, {at}", *pair))
            if surface == "rudder":
                for c in (MN, FY, ML):
                    pair = (side[middle, c] / side[middle, FX] for side in (measured, found))
                    rows.append(Row(f"{'XYZlmn'[c]} over thrust at rudder -2.3, {at}", *pair))
    return rows


def swung() -> list[Row]:
    """Moments of inertia by items against the torsion pendulum (air's share not taken off), kg m2."""
    data = facts("rc_aerobatic_mxs_inertia.yaml")
    rows = []
    for battery, key in ((True, "inertia_with_battery"), (False, "inertia_without_battery")):
        found = np.diag(inertia(battery).inertia)
        for axis, name in enumerate(("Ixx", "Iyy", "Izz")):
            rows.append(
                Row(f"{name} {'with' if battery else 'without'} battery", np.mean(data[key][name]), found[axis])
            )
    return rows


GROUPS = {
    "longitudinal": longitudinal,
    "controls": controls,
    "sideslip": sideslip,
    "static thrust": static_thrust,
    "hover": hover,
    "inertia": swung,
}


def by_part(beta: float = 10.0, speed: float = 15.0) -> str:
    """Side force, roll and yaw by part in sideslip, found."""
    loads = coefficients(parts_on_balance(speed, 0.0, beta), speed)
    lines = [f"by part at beta {beta:.0f}, {speed:.0f} m/s"]
    for part, row in zip(L.PARTS, loads):
        if part not in [L.PARTS[p] for p in PROPULSION] and part != "weight":
            lines.append(f"  {part:16s} CY {row[FY]:+.4f}  l/q {row[ML]:+.5f}  n/q {row[MN]:+.5f}")
    return "\n".join(lines)


def main() -> None:
    for name in sys.argv[1:] or GROUPS:
        print(f"\n{name}\n{'':62s} measured    found   found/measured")
        for row in GROUPS[name]():
            ratio = f"{row.found / row.measured:8.2f}" if row.measured else ""
            print(f"{row.what:60s} {row.measured:10.5f} {row.found:10.5f} {ratio}")
    print("\n" + by_part())


if __name__ == "__main__":
    main()
