"""What the commands print, for people and as JSON."""

import json
import math
import subprocess
import sys

import pytest

NAMES = ["level-trim", "upline-45", "upline-45-inverted", "knife-edge-right", "knife-edge-left", "stall", "hover"]


def document(result):
    code, out, err = result
    assert code == 0, err
    return json.loads(out, parse_constant=lambda word: pytest.fail(f"{word} in JSON"))


def is_quantity(entry):
    return set(entry) >= {"value", "unit"} and (entry["value"] is None or math.isfinite(entry["value"]))


def test_upline_alone_says_what_to_do_first(upline):
    code, out, _ = upline()
    assert code == 0 and len(out.splitlines()) <= 12
    assert "upline compare precision slow-3d" in out and "clears nothing to fly" in out


def test_every_command_has_help_with_an_example(upline):
    for command in ("list", "balance", "fly", "compare"):
        code, out, _ = upline(command, "--help")
        assert code == 0 and f"example:\n  upline {command}" in out


def test_list(upline):
    listed = document(upline("list", "--json"))
    assert [s["name"] for s in listed["setups"]] == ["extreme", "precision", "slow-3d"]
    assert [m["name"] for m in listed["manoeuvres"]] == NAMES
    assert listed["airframes"][0]["name"] == "tarn-220"
    assert all(e["about"] for key in ("airframes", "setups", "manoeuvres", "measures") for e in listed[key])
    assert "pitch_coupling" in upline("list", "--measures")[1]


def test_balance(upline):
    got = document(upline("balance", "precision", "--json"))
    for key, unit in (("mass", "kg"), ("cg", "mm"), ("cg_mac", "%"), ("neutral_point", "mm"), ("static_margin", "%")):
        assert is_quantity(got[key]) and got[key]["unit"] == unit
    assert got["cg_mac"]["value"] == pytest.approx(31.0, abs=1e-6)
    margin = 100.0 * (got["neutral_point"]["value"] - got["cg"]["value"]) / got["mac"]["value"]
    assert got["static_margin"]["value"] == pytest.approx(margin, abs=1e-6)
    moved = document(upline("balance", "precision", "--cg", "170 mm", "--json"))
    assert moved["cg"]["value"] == pytest.approx(170.0, abs=1e-6)
    out = upline("balance", "precision")[1]
    assert "ahead of the wing root leading edge" in out and "clears nothing to fly" in out
    assert max(map(len, out.splitlines())) <= 80


def test_fly(upline):
    got = document(upline("fly", "knife-edge-right", "--setup", "slow-3d", "--why", "--json"))
    assert (got["manoeuvre"], got["setup"], got["airframe"]) == ("knife-edge-right", "slow-3d", "tarn-220")
    assert got["ended"] == "completed"
    assert {"elevator_to_hold", "pitch_coupling", "roll_coupling"} <= set(got["measures"])
    assert all(is_quantity(m) for m in got["measures"].values())
    parts = {p["part"] for p in got["why"]["parts"]}
    assert {"wing left", "wing right", "stabiliser", "fin", "fuselage", "propeller thrust line", "motor torque",
            "propeller oblique inflow", "gyroscopic"} <= parts  # fmt: skip
    assert got["why"]["swirl"]["pitch"]["unit"] == "N m"
    code, out, _ = upline("fly", "knife-edge-right", "--setup", "slow-3d", "--why")
    assert code == 0 and max(map(len, out.splitlines())) <= 80
    assert "toward the" in out and "stabiliser" in out


def test_a_measure_not_taken_has_its_reason(upline):
    got = document(upline("fly", "hover", "--setup", "precision", "--json"))
    entry = got["measures"]["aileron_to_stop_roll"]
    assert entry["value"] is None and "full aileron does not stop" in entry["reason"]


def test_save_and_fly_again(upline, tmp_path):
    assert upline("fly", "stall", "--setup", "extreme", "--cg", "34 %", "--save", "kept")[0] == 0
    assert sorted(p.name for p in (tmp_path / "kept").iterdir()) == ["channels.csv", "flight.npz", "inputs.json"]
    assert [p.name for p in tmp_path.iterdir()] == ["kept"]
    got = document(upline("fly", "--again", "kept", "--json"))
    assert got["identical"] is True and got["setup"] == "extreme"
    assert "identical, bit for bit" in upline("fly", "--again", "kept")[1]


def test_compare(upline):
    got = document(upline("compare", "precision", "slow-3d", "--json"))
    assert got["setups"] == ["precision", "slow-3d"]
    assert list(dict.fromkeys(r["manoeuvre"] for r in got["rows"])) == NAMES
    for row in got["rows"]:
        assert set(row) >= {"manoeuvre", "measure", "unit", "values"} and set(row["values"]) == set(got["setups"])
        for setup, value in row["values"].items():
            assert (value is None) == (setup in row.get("reasons", {}))
    code, out, _ = upline("compare", "precision", "slow-3d", "--manoeuvre", "upline-45", "--manoeuvre", "hover")
    assert code == 0 and "toward the canopy / toward the gear" in out and "(1) precision: not measured" in out
    assert "What changed" in out and "knife" not in out and "-0.0 " not in out
    assert max(map(len, out.splitlines())) <= 80


def test_the_flight_agrees_between_commands(upline):
    flown = document(upline("fly", "upline-45", "--setup", "precision", "--json"))["measures"]["pitch_drift"]["value"]
    rows = document(upline("compare", "precision", "extreme", "--manoeuvre", "upline-45", "--json"))["rows"]
    row = next(r for r in rows if r["measure"] == "pitch_drift")
    assert row["values"]["precision"] == flown


def test_as_a_program():
    run = subprocess.run(
        [sys.executable, "-m", "viewer.command_line", "balance", "nothing"], capture_output=True, text=True
    )
    assert run.returncode == 2 and run.stdout == "" and run.stderr.count("\n") == 1
