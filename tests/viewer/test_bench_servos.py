"""`upline bench servos` as a user sees it."""

from __future__ import annotations

import json

FAST = ("--manoeuvre", "level-trim")


def test_summary_and_document(upline):
    code, out, _ = upline("bench", "servos", "moor-220-precision", *FAST, "--pack", "2500 mAh")
    assert code == 0 and max(len(line) for line in out.splitlines()) <= 80
    assert "ask for" in out and "A pack of 2500 mAh" in out and "A simulation clears nothing to fly" in out
    assert "No linkage given for aileron, elevator, rudder" in out
    code, out, _ = upline("bench", "servos", "moor-220-precision", *FAST, "--control", "rudder", "--json")
    document = json.loads(out)
    (control,) = document["controls"]
    assert code == 0 and control["control"] == "rudder" and control["factor"]["value"] > 0.5
    assert control["over_airspeed"][-1]["airspeed"]["value"] > 1.19 * document["level_top_speed"]["value"]
    assert {d["control"] for d in document["energy"]["controls"]} == {"aileron", "elevator", "rudder"}


def test_one_control_in_full_with_its_picture(upline, tmp_path):
    code, out, _ = upline(
        "bench", "servos", "extreme", *FAST, "--control", "elevator", "--at", "30 m/s", "--picture", "servos.svg"
    )
    assert code == 0 and "judged at 30.0 m/s" in out and max(len(line) for line in out.splitlines()) <= 80
    assert "no slipstream" in out and (tmp_path / "servos.svg").read_text(encoding="utf-8").startswith("<?xml")


def test_without_torque_it_says_so(upline, own):
    path = own("setup.yaml", ", torque: 25 kg cm, voltage: 8.4 V", "")
    code, out, _ = upline("bench", "servos", path, *FAST)
    said = " ".join(out.split())
    assert code == 0 and "aileron: servo torque not given: blow-back is not seen" in said
    assert "electrical draw" not in said
    code, out, _ = upline("balance", path)
    assert "aileron: servo torque not given: blow-back is not seen" in " ".join(out.split())
    code, out, _ = upline("balance", path, "--json")
    assert json.loads(out)["servo_torque_not_given"] == ["aileron"]


def test_wrong_input_is_refused_in_words(upline, own):
    for options, words in (
        (("--control", "ailron"), "try: aileron"),
        (("--at", "fast"), "--at: found"),
        (("--at", "500 m/s"), "from 1 m/s to 120 m/s"),
        (("--pack", "2500"), "--pack: found"),
        (("--manoeuvre", "levl-trim"), "try: level-trim"),
        (("--picture", "servos.txt"), "--picture: found"),
    ):
        code, out, error = upline("bench", "servos", "extreme", *options)
        assert code == 2 and out == "" and words in error and "Traceback" not in error, (options, error)
    for old, new, words in (
        ("torque: 25 kg cm", "torque: 25", "servos > aileron > torque"),
        ("torque: 25 kg cm", "torque: 2500 kg cm", "from 0.2 kg cm to 200 kg cm"),
        ("count: 2", "count: 0", "a whole number from 1 to 6"),
        ("torque: 25 kg cm", "torqe: 25 kg cm", "torque"),
    ):
        path = own("setup.yaml", old, new)
        code, _, error = upline("bench", "servos", path)
        assert code == 2 and words in error, error
        own("setup.yaml", new, old)
