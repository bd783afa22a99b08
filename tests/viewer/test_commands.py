"""What the commands print, for people and as JSON."""

import json
import math
import os
import subprocess
import sys

import pytest

from viewer.text import number

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
    for command in ("list", "balance", "fly", "compare", "map", "portrait"):
        code, out, _ = upline(command, "--help")
        assert code == 0 and "example" in out and f":\n  upline {command}" in out


def test_list(upline):
    listed = document(upline("list", "--json"))
    assert {"extreme", "precision", "slow-3d"} <= {s["name"] for s in listed["setups"]}
    assert [m["name"] for m in listed["manoeuvres"]][: len(NAMES)] == NAMES
    assert "tarn-220" in [a["name"] for a in listed["airframes"]]
    assert all(e["about"] for key in ("airframes", "setups", "manoeuvres", "measures") for e in listed[key])
    assert {rules["name"]: bool(rules["about"]) for rules in listed["rules"]} == dict.fromkeys(
        ("precision", "extreme", "slow-3d"), True
    )
    assert "lines that stay" in upline("list")[1] and upline("list", "--rules")[1].startswith("rules\n  precision")
    assert "pitch_coupling" in upline("list", "--measures")[1] and "time_to_double" in upline("list", "--measures")[1]


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


def test_balance_says_how_the_plane_swings(upline):
    flight = document(upline("balance", "precision", "--json"))["level_flight"]
    for key in ("modes", "modes_with_settled_flow"):
        found = {mode["name"]: mode for mode in flight[key]}
        assert set(found) == {"short period", "phugoid", "Dutch roll", "roll", "spiral"}
        assert found["phugoid"]["period"]["unit"] == "s" and found["roll"]["period"]["value"] is None
        assert all(is_quantity(mode["damping_ratio"]) for mode in found.values())
        shares = found["roll"]["participation"]
        assert "time_to_half" in found["roll"] and max(shares, key=shares.get) == "p"
    assert flight["derivatives"]["power_off"]["CL_alpha"] == {"value": pytest.approx(4.8, abs=0.3), "unit": "1/rad"}
    assert flight["derivatives"]["reference"]["span"] == {"value": pytest.approx(2.2), "unit": "m"}
    out = upline("balance", "precision")[1]
    assert "Dutch roll" in out and "tail wags" in out and "Cn_beta" not in out
    more = upline("balance", "precision", "--derivatives")[1]
    assert "weathercock stability      Cn_beta" in more
    aft = upline("balance", "extreme", "--cg", "222 mm", "--derivatives")[1]
    assert max(len(line) for text in (out, more, aft) for line in text.splitlines()) <= 80


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
    assert code == 0 and "toward the gear" in out and "(1) precision: not measured" in out
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


def test_a_stream_that_knows_few_letters():
    run = subprocess.run(
        [sys.executable, "-m", "viewer.command_line", "balance", "pr\u00e9cision"],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )
    assert run.returncode == 2 and '"pr?cision"' in run.stderr and "Traceback" not in run.stderr


def test_json_stands_alone_on_standard_output(upline):
    code, out, err = upline("compare", "precision", "extreme", "--manoeuvre", "level-trim", "--json")
    assert code == 0 and "clears nothing to fly" in err and "clears nothing to fly" not in out
    json.loads(out)


def test_a_flight_into_the_ground_is_a_result(upline, manoeuvre):
    path = manoeuvre(
        "low", "height: 100 m", "height: 0.3 m", "hands off, for: 4 s", "hands off, throttle: 0 %, for: 4 s"
    )
    got = document(upline("fly", path, "--setup", "precision", "--json"))
    assert (got["ended"], got["ended_in"]) == ("hit the ground", "hands off")
    assert "hit the ground in" in got["measures"]["height_drift"]["reason"]
    assert 'ended: hit the ground in "hands off"' in upline("fly", path, "--setup", "precision")[1]
    out = upline("compare", "precision", "extreme", "--manoeuvre", path)[1]
    assert "how it ended: precision hit the ground, extreme hit the ground" in " ".join(out.split())


def test_an_end_that_never_comes_is_a_result(upline, manoeuvre):
    path = manoeuvre("patient", "for: 4 s", "until: {bank: above 80 deg}, at most: 1 s")
    code, out, _ = upline("fly", path, "--setup", "precision")
    assert code == 0 and 'ended: phase timed out in "hands off"' in out


def test_a_diverged_flight(upline, monkeypatch):
    import scenarios.manoeuvres as flying

    whole = flying.fly

    def diverging(*arguments):
        flight = whole(*arguments)
        flight.ending, flight.bad, flight.phase = "diverged", "pitch rate", 0
        return flight

    monkeypatch.setattr(flying, "fly", diverging)
    code, out, err = upline("fly", "level-trim", "--setup", "precision", "--json")
    got = json.loads(out)
    assert (code, got["ended"], got["first_bad"]) == (3, "diverged", "pitch rate")
    assert 'diverged in "hands off", first in pitch rate' in err


def test_an_edited_copy_of_the_same_name_is_told_apart(upline, own):
    path = own("setup.yaml", "cg: 31 %", "cg: 34 %")
    got = document(upline("compare", "precision", str(path), "--manoeuvre", "level-trim", "--json"))
    assert got["setups"] == ["precision", "setup"]
    values = next(row for row in got["rows"] if row["measure"] == "pitch_response")["values"]
    assert values["setup"] > values["precision"]


def test_what_differs_is_all_that_differs(upline, own):
    same = own("setup.yaml", "cg: 31 %", "cg: 31 %")
    assert what_differs(upline("compare", "precision", same, "--manoeuvre", "stall")) == ["nothing"]
    quick = own("setup.yaml", "speed: 0.12 s/60deg", "speed: 0.07 s/60deg")
    code, out, _ = upline("compare", "precision", quick, "--manoeuvre", "level-trim")
    rows = what_differs((code, out, ""))
    assert rows == ["servos > aileron > speed  0.12 s/60deg  0.07 s/60deg"]
    assert "at once" not in out
    mixed = own("setup.yaml", "servos:", "mixes: [{from: rudder, to: elevator, gain: 3 %}]\nservos:")
    code, out, _ = upline("compare", "precision", mixed, "--manoeuvre", "level-trim")
    assert [line.split() for line in what_differs((code, out, ""))][1:] == [
        ["mixes", ">", "rudder", "to", "elevator", ">", "gain", "-", "3", "%"]
    ]
    assert "differ in servos and mixes at once" in out


def what_differs(result) -> list[str]:
    """The rows of the first table."""
    code, out, _ = result
    assert code == 0
    block = out.split("\n\n")[1].splitlines()
    return [line for line in block[2:] if line] or block


def test_many_setups_and_long_names_fit_the_page(upline, own):
    path = own("setup.yaml", "name: precision", "name: a-long-name-for-a-setup-made-on-a-rainy-evening")
    code, out, _ = upline("compare", "precision", "slow-3d", "extreme", path, "--manoeuvre", "hover")
    assert code == 0 and max(map(len, out.splitlines())) <= 80
    assert "(D) a-long-name-for-a-setup-made-on-a-rainy-evening" in out
    assert out.count("way of flying") == 2  # in two blocks


def test_two_setups_stand_side_by_side_whatever_differs(upline):
    out = upline("compare", "precision", "corrie-310-precision", "--manoeuvre", "level-trim")[1]
    assert max(map(len, out.splitlines())) <= 80
    assert "precision  corrie-310-precision" in out.split("What that makes")[0]


def test_numbers_as_pilots_read_them():
    shown = [number(v, "deg") for v in (-0.04, 0.0, 1.25, None, math.nan, math.inf)]
    assert shown == ["0.0", "0.0", "1.2", "-", "-", "-"]
    assert (number(-0.4, "mm"), number(159.4, "mm"), number(-0.001, "g")) == ("0", "159", "0.00")


def test_nothing_heavy_is_imported_before_it_is_needed():
    code = "import sys, viewer.command_line as c; c.main([]); c.main(['--help']); print(sorted(sys.modules))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert not [name for name in ("numpy", "numba", "scipy", "pydantic", "yaml") if f"'{name}'" in out]


def test_fly_in_wind_says_what_it_takes_to_fly_it_again(upline, manoeuvre):
    """The wind in words and the seed; `upline fly` prints it and keeps it in the JSON."""
    gust = "gust: {speed: 3 m/s, from: below, length: 20 m, after distance: 30 m}"
    windy = f"start: {{wind: {{speed: 5 m/s, from: 270 deg, turbulence: light, seed: 7, {gust}}},"
    path = manoeuvre("windy", "start: {", windy + " ")
    out = upline("fly", path, "--setup", "precision")[1]
    assert "wind: 5.0 m/s from 270 deg at 10 m; turbulence of 7.7 m/s at 20 ft, seed 7;" in out
    assert max(map(len, out.splitlines())) <= 80
    assert document(upline("fly", path, "--setup", "precision", "--json"))["seed"] == 7


def test_warm_up_says_where_the_kernels_are(upline):
    code, out, err = upline("warm-up", "--json")
    assert code == 0 and err == ""
    found = json.loads(out)
    assert found["seconds"]["unit"] == "s" and "kernels-" in found["folder"]
