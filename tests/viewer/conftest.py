"""The command run in this process, and setups of one's own under a temporary folder."""

import pathlib
import shutil

import pytest

import models
from viewer.command_line import main

MODELS = pathlib.Path(models.__file__).parent


@pytest.fixture
def upline(capsys, tmp_path, monkeypatch):
    """Run `upline` with arguments in an empty folder; returns exit code, standard output, standard error."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments: str) -> tuple[int, str, str]:
        capsys.readouterr()
        code = main([str(a) for a in arguments])
        out = capsys.readouterr()
        return code, out.out, out.err

    return run


@pytest.fixture
def own(tmp_path):
    """A folder with copies of the precision setup, its airframe and blades; `own(file, old, new)` edits one of them."""
    folder = tmp_path / "own"
    folder.mkdir()
    shutil.copy(MODELS / "airframes" / "tarn-220.yaml", folder / "plane.yaml")
    text = (MODELS / "setups" / "precision.yaml").read_text(encoding="utf-8")
    (folder / "setup.yaml").write_text(text.replace("airframe: tarn-220", "airframe: plane.yaml"), encoding="utf-8")

    def edit(file: str, old: str, new: str) -> pathlib.Path:
        path = folder / file
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        return folder / "setup.yaml"

    edit.folder = folder
    return edit


@pytest.fixture
def manoeuvre(tmp_path):
    """`manoeuvre(name, old, new, ...)` writes level-trim with edits under another name; returns its path."""

    def write(name: str, *edits: str) -> str:
        text = (MODELS.parent / "scenarios" / "manoeuvres" / "level-trim.yaml").read_text(encoding="utf-8")
        for old, new in zip(("name: level-trim", *edits[::2]), (f"name: {name}", *edits[1::2])):
            assert old in text
            text = text.replace(old, new, 1)
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
        return f"{name}.yaml"

    return write
