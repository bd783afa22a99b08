"""Setups, airframes and blade families as `sim` objects, by built-in name or by the path of a file.

A text that ends in .yaml or .yml, or that has a path separator in it, is a path; any
other is a built-in name.  A setup file names its airframe and blade family in the same
way, paths being relative to the file that names them, and perhaps a setup that it builds
on (`models.bases`).  Every fault of the user's is a `UserError`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from models.errors import (
    OptionError,
    Refused,
    UnknownName,
    UserFileError,
    nearest,
    quoted,
    unknown_name,
)
from models.messages import refused
from models.options import option_value

if TYPE_CHECKING:  # the schema brings pydantic, which is wanted only once a file is read
    from models.blade_schema import BladeFamilyFile
    from models.fields import Document
    from models.nodes import Source, Tree
    from models.reading import Read
    from models.schema import AirframeFile
    from models.setup_schema import SetupFile
    from sim.description import Airframe, BladeFamily, Setup

    D = TypeVar("D", bound=Document)

FOLDERS = {"setup": "setups", "airframe": "airframes", "blade family": "parts"}


@dataclass(frozen=True)
class Loaded:
    """A setup with the verbatim texts it came from, by kind: "setup", "airframe", "blade family", and "base 1" and
    further for the setups that it builds on, nearest first.

    The texts alone rebuild the same setup, see `setup_from_texts`.  `documents` are what was read, by kind.
    """

    setup: Setup
    texts: dict[str, str]
    documents: dict[str, Read[Any]]


def load_setup(name_or_path: str | Path, cg: str | None = None) -> Setup:
    """The setup of that name or path; `cg`, "150 mm" or "30 %", replaces the file's.  Raises `UserError`."""
    return load(name_or_path, cg).setup


def load(name_or_path: str | Path, cg: str | None = None) -> Loaded:
    """As `load_setup`, with the texts of the files."""
    from models.bases import read_with_bases
    from models.blade_schema import BladeFamilyFile
    from models.schema import AirframeFile
    from models.setup_schema import SetupFile

    wanted = _parse_cg(cg)
    setup = read_with_bases(*_source("setup", name_or_path), _base, SetupFile)
    airframe = _named_in(setup, "airframe", AirframeFile)
    blades = _named_in(setup, "blade family", BladeFamilyFile)
    return _loaded(setup, airframe, blades, wanted)


def setup_from_texts(texts: Mapping[str, str], cg: str | None = None) -> Setup:
    """The setup that `Loaded.texts` came with; the names of files in them are not looked at.  Raises `UserError`."""
    return loaded_from_texts(texts, cg).setup


def loaded_from_texts(texts: Mapping[str, str], cg: str | None = None) -> Loaded:
    """As `setup_from_texts`, with the documents."""
    from models.bases import read_with_bases
    from models.blade_schema import BladeFamilyFile
    from models.nodes import Source
    from models.reading import read_text
    from models.schema import AirframeFile
    from models.setup_schema import SetupFile

    def recorded(kind: str) -> Source:
        if not isinstance(texts.get(kind), str):
            what = "setup that it builds on" if kind.startswith("base") else f"{kind} file"
            raise OptionError(f"recorded {kind}", refused("not recorded", what=what))
        return Source(f"recorded {kind}", texts[kind])

    def base(_: str, tree: Tree) -> tuple[Source, str]:
        above = tree.sources[0].file.removeprefix("recorded base ")
        kind = f"base {int(above) + 1 if above.isdigit() else 1}"
        return recorded(kind), kind

    for kind in FOLDERS:
        recorded(kind)
    setup = read_with_bases(recorded("setup"), "setup", base, SetupFile)
    airframe = read_text(texts["airframe"], "recorded airframe", AirframeFile)
    blades = read_text(texts["blade family"], "recorded blade family", BladeFamilyFile)
    return _loaded(setup, airframe, blades, _parse_cg(cg))


def load_airframe(name_or_path: str | Path) -> Airframe:
    """The airframe of that name or path.  Raises `UserError`."""
    from models.schema import AirframeFile

    return _airframe(_read("airframe", name_or_path, AirframeFile))


def _airframe(read: Read[AirframeFile]) -> Airframe:
    from models import assemble

    return assemble.airframe(read.value, read.estimated, read.measured)


def load_blade_family(name_or_path: str | Path) -> BladeFamily:
    """The blade family of that name or path.  Raises `UserError`."""
    return load_blades(name_or_path)[0]


def load_blades(name_or_path: str | Path) -> tuple[BladeFamily, float]:
    """As `load_blade_family`, and the mass in kg of the family's two-blade propeller of 20 in."""
    from models import assemble
    from models.blade_schema import BladeFamilyFile

    file = _read("blade family", name_or_path, BladeFamilyFile).value
    return assemble.blade_family(file), file.mass_at_20_in


def known_setups() -> list[tuple[str, str]]:
    """(name, about) of every built-in setup, by name."""
    return _known("setup")


def setup_bases() -> dict[str, str]:
    """The setup that a built-in setup builds on, for those that do."""
    return {name: str(data["from"]) for name, data in _contents("setup") if "from" in data}


def known_airframes() -> list[tuple[str, str]]:
    """(name, about) of every built-in airframe, by name."""
    return _known("airframe")


def known_blade_families() -> list[tuple[str, str]]:
    """(name, about) of every built-in blade family, by name."""
    return _known("blade family")


def built_in_text(kind: str, name: str) -> str:
    """The text of a built-in file (KeyError if there is none of that name)."""
    return _builtin(kind)[name].read_text(encoding="utf-8")


def json_schema(kind: str) -> dict[str, Any]:
    """The JSON Schema of a kind of file, for editors: "airframe", "setup" or "blade family".  Raises `UnknownName`."""
    from models.editors import schema_of

    kinds = document_schemas()
    if kind not in kinds:
        raise UnknownName("kind of file", kind, kinds)
    return schema_of(kinds[kind])


def document_schemas() -> dict[str, type[Document]]:
    """The schema of every kind of file."""
    from models.blade_schema import BladeFamilyFile
    from models.schema import AirframeFile
    from models.setup_schema import SetupFile

    return {file.KIND: file for file in (AirframeFile, SetupFile, BladeFamilyFile)}


def _builtin(kind: str) -> dict[str, Any]:
    """Built-in files of a kind by name, as readable resources."""
    folder = resources.files("models") / FOLDERS[kind]
    files = {entry.name.removesuffix(".yaml"): entry for entry in folder.iterdir() if entry.name.endswith(".yaml")}
    return dict(sorted(files.items()))


def _known(kind: str) -> list[tuple[str, str]]:
    """Names and lines about the built-in files of a kind."""
    return [(name, str(data.get("about") or "")) for name, data in _contents(kind) if data.get("kind") == kind]


def _contents(kind: str) -> list[tuple[str, dict[str, Any]]]:
    """Names and contents of the built-in files of a kind, without the cost of checking them."""
    from models.nodes import Source, read_tree

    files = _builtin(kind)
    return [(name, read_tree(Source(entry.name, entry.read_text("utf-8"))).data) for name, entry in files.items()]


def _is_path(name_or_path: str | Path) -> bool:
    text = str(name_or_path)
    return isinstance(name_or_path, Path) or text.lower().endswith((".yaml", ".yml")) or "/" in text or "\\" in text


def _read(kind: str, name_or_path: str | Path, model: type[D]) -> Read[D]:
    """The document of that name or path."""
    from models.reading import checked, tree_of

    return checked(tree_of(_source(kind, name_or_path)[0], model), model)


def _source(kind: str, name_or_path: str | Path) -> tuple[Source, Any]:
    """The file of that name or path, and what tells it from any other."""
    from models.nodes import Source
    from models.reading import source_of

    if _is_path(name_or_path):
        return source_of(name_or_path), _real(Path(name_or_path))
    name = str(name_or_path)
    files = _builtin(kind)
    if name not in files:
        raise UnknownName(kind, name, files, _file_of_that_name(name))
    entry = files[name]
    return Source(f"{FOLDERS[kind]}/{entry.name}", entry.read_text(encoding="utf-8")), name


def _real(path: Path) -> Path:
    try:
        return path.resolve()
    except (OSError, RuntimeError):  # a link that leads to itself
        return path


def _base(name: str, tree: Tree) -> tuple[Source, Any]:
    """The setup that `tree` builds on."""
    return _named("setup", name, tree.sources[0].folder)


def _file_of_that_name(name: str) -> str:
    """A hint for who left ".yaml" out; "" if there is no such file."""
    try:
        for suffix in (".yaml", ".yml"):
            if Path(name + suffix).is_file():
                return name + suffix
    except (OSError, ValueError):
        pass
    return ""


def _named(kind: str, name: str, folder: Path | None) -> tuple[Source, Any]:
    """The file that another one in `folder` names, and what tells it from any other.  Raises `Refused`."""
    if not _is_path(name):
        files = _builtin(kind)
        if name not in files:
            raise unknown_name(kind, name, files)
        return _source(kind, name)
    if folder is None:
        raise refused("not built in", name=quoted(name), kind=kind)
    try:
        return _source(kind, folder / name)
    except UserFileError as error:  # the file as such cannot be read: what must be mended is the line that names it
        why = error.problems[0].refused
        raise refused("named file", name=quoted(name), found=why.found, allowed=why.allowed, near=why.advice) from None


def _named_in(setup: Read[SetupFile], kind: str, model: type[D]) -> Read[D]:
    """The airframe or blade family that a setup file names."""
    from models.reading import checked, tree_of

    name = setup.value.airframe if kind == "airframe" else setup.value.blade_family
    try:
        source, _ = _named(kind, name, setup.tree.values[(kind,)].source.folder)
    except Refused as why:
        raise setup.error((kind,), why) from None
    return checked(tree_of(source, model), model)


def _parse_cg(cg: str | None) -> tuple[float, str] | None:
    if cg is None:
        return None
    from models.fields import CentreOfGravity

    return option_value("--cg", CentreOfGravity().read, cg)


def _loaded(
    setup: Read[SetupFile],
    airframe: Read[AirframeFile],
    blades: Read[BladeFamilyFile],
    cg: tuple[float, str] | None,
) -> Loaded:
    documents: dict[str, Read[Any]] = {"setup": setup, "airframe": airframe, "blade family": blades}
    texts = {kind: read.text for kind, read in documents.items()}
    texts |= {f"base {n}": source.text for n, source in enumerate(setup.tree.sources[1:], 1)}
    return Loaded(_assemble(setup, airframe, blades, cg), texts, documents)


def _assemble(
    setup: Read[SetupFile],
    airframe: Read[AirframeFile],
    blades: Read[BladeFamilyFile],
    cg: tuple[float, str] | None,
) -> Setup:
    """The setup from its three documents, after the checks that need two of them."""
    from models import assemble

    items = {item.name: item for item in airframe.value.items}
    moved = setup.value.moved_item
    movable = [name for name, item in items.items() if item.slides is not None]
    listed = ", ".join(movable) or "none on this airframe has one"
    if moved not in items or items[moved].slides is None:
        which, near = "no tray" if moved in items else "no such item", " or ".join(nearest(moved, movable))
        raise setup.error(("moved item",), refused(which, item=quoted(moved), movable=listed, near=near))
    taken = set(items)
    for index, part in enumerate(setup.value.ballast):
        if part.name in taken:
            raise setup.error(("ballast", index, "name"), refused("name taken", name=quoted(part.name)))
        taken |= {part.name} - {""}
    surfaces = list(airframe.value.surfaces)
    for name in setup.value.incidence:
        if name not in surfaces:
            near = " or ".join(nearest(name, surfaces))
            why = refused("no such surface", name=quoted(name), surfaces=", ".join(surfaces), near=near)
            raise setup.error(("incidence", name), why)
    return assemble.setup(setup.value, _airframe(airframe), blades.value, cg, setup.estimated)
