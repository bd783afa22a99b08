"""`upline schema`: for every kind of file, on stdout or as a whole file."""

import json

import pytest

from viewer.commands.schema import KINDS


@pytest.mark.parametrize("kind", KINDS)
def test_schema_on_stdout_and_in_a_file(upline, tmp_path, kind):
    code, out, err = upline("schema", kind)
    assert (code, err) == (0, "")
    assert json.loads(out)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    code, said, _ = upline("schema", kind, "--out", "mine.json")
    assert code == 0 and said.startswith("mine.json: the schema of ")
    assert (tmp_path / "mine.json").read_text(encoding="utf-8") == out
    assert json.loads(upline("schema", kind, "--json")[1]) == json.loads(out)


@pytest.mark.parametrize(
    "arguments, whole",
    [
        (
            ["airfram"],
            'kind of file: found "airfram"; allowed: airframe, setup, blade-family, manoeuvre, rules; try: airframe',
        ),
        (
            ["setup", "--out", "a.yaml"],
            '--out: found "a.yaml"; allowed: the name of a file that ends in .json; try: a.json',
        ),
        (["setup", "--out", "no/a.json"], "--out: no/a.json: No such file or directory"),
    ],
)
def test_what_cannot_be_given(upline, tmp_path, arguments, whole):
    assert upline("schema", *arguments) == (2, "", f"upline: {whole}\n")
    assert list(tmp_path.iterdir()) == []


def test_a_blade_family_in_two_words(upline):
    assert upline("schema", "blade family")[0] == 0
