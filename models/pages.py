"""Every key of the files of a plane, and every message about a wrong one, as a page made from the schema and the sources:
`python -m models.pages > models/FILES.md`."""

from __future__ import annotations

import ast
import typing
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from models import bases, nodes
from models.entries import as_written, kind_of
from models.fields import CentreOfGravity, Count, OneOf, PlainName, PropellerSize, Quantity, Text, YesNo
from models.loader import document_schemas, load
from models.messages import CATALOGUE
from models.units import DIMENSIONS, SMALLER

# what holds where a key without a value of its own is left out; rules of `models.assemble` are called estimates
LEFT_OUT = {
    ("SurfacePart", "incidence"): "estimate: 0 deg",
    ("SurfacePart", "twist"): "estimate: 0 deg",
    ("SurfacePart", "thickness"): "estimate: 12 % of the chord",
    ("SurfacePart", "flap"): "no control surface",
    ("FuselagePart", "cross-flow drag"): "estimate: 1.2, a rounded square across the flow",
    ("DragPart", "side area"): "estimate: 0 cm2",
    ("DragPart", "top area"): "estimate: 0 cm2",
    ("DragPart", "drag coefficient"): "estimate: 1.0, a bluff body",
    ("Shaft", "down"): "estimate: 0 deg",
    ("Shaft", "right"): "estimate: 0 deg",
    ("ItemPart", "size"): "estimate: a cube of 1.5 g/cm3",
    ("ItemPart", "slides"): "it has no tray",
    ("ElectricPart", "cell resistance"): "estimate: 10 mohm Ah over the capacity",
    ("ElectricPart", "winding resistance"): "estimate: 5 % of 3.7 V a cell lost at the current limit",
    ("ElectricPart", "no-load current"): "estimate: 2 % of the current limit",
    ("ElectricPart", "rotor inertia"): "estimate: 2000 g cm2",
    ("PistonPart", "peak power"): "estimate: brake mean effective pressure of 5 bar (two-stroke) or 8.5 bar (four-stroke)",
    ("PistonPart", "peak power at"): "1.3 times the speed of peak torque",
    ("PistonPart", "peak torque at"): "estimate: 6000 rpm, or the speed of peak power over 1.3",
    ("PistonPart", "throttle lag"): "estimate: 0.12 s",
    ("PistonPart", "fuel consumption"): "estimate: 500 g/kWh (two-stroke) or 350 g/kWh (four-stroke)",
    ("PistonPart", "rotor inertia"): "estimate: 4000 g cm2 at 60 cm3 a cylinder, displacement to the power 5/3",
    ("SetupFile", "from"): "it stands for itself",
    ("SetupFile", "propeller mass"): "that of the blade family, with the cube of the diameter, per blade",
    ("SetupFile", "thrust line"): "the airframe's",
    ("SetupFile", "low rates"): "60 % of full throw",
    ("SetupFile", "trims"): "where level flight trims",
    ("SetupFile", "rates"): "100, 80 and 60 % of full throw, the throws' exponential",
    **{("Rates", rate): "as usual" for rate in ("high", "middle", "low")},
    **{("ControlRates", control): "as usual" for control in ("aileron", "elevator", "rudder")},
    ("RatePart", "share"): "100 % high, 80 % middle, 60 % or that of `low rates` low",
    ("RatePart", "exponential"): "that of the throw",
    ("MixPart", "gain"): "a curve stands for it",
    ("MixPart", "curve"): "straight, of the gain",
    ("MixPart", "only below"): "over the whole throttle",
    ("MixPart", "only above"): "over the whole throttle",
    ("SetupFile", "end points"): "stick and mixes go to the throws, trims beyond",
    **{("EndPoints", control): "stick and mixes go to its throw, trims beyond" for control in ("aileron", "elevator", "rudder")},
    ("SetupFile", "link"): "an ideal one: no delay, no steps",
    ("ModePart", "rates"): "the setup's",
    ("ModePart", "mixes"): "the setup's",
    ("ModePart", "trims"): "nothing added",
    ("ModePart", "throttle curve"): "the setup's",
    ("AirframeFile", "structure"): "loads are told without what carries them",
    ("AirframeFile", "wheels"): "scales say where they stand",
    ("WheelsPart", "tail"): "no wheel there",
    ("WheelsPart", "nose"): "no wheel there",
    ("JoinerPart", "root rib"): "the fuselage's side",
    ("JoinerPart", "pin"): "no pin",
    ("StructurePart", "load factor"): "no limit of your own",
    ("SetupFile", "linkages"): "straight and ideal ones",
    ("Linkages", "aileron"): "a straight and ideal one",
    ("Linkages", "elevator"): "a straight and ideal one",
    ("Linkages", "rudder"): "a straight and ideal one",
    ("LinkagePart", "horn offset"): "estimate: 0 mm",
    ("LinkagePart", "arm neutral"): "estimate: 0 deg",
    ("LinkagePart", "servo to hinge"): "estimate: four times the horn height; or from the rod length",
    ("LinkagePart", "rod length"): "from servo to hinge",
    ("LinkagePart", "hinge height"): "estimate: such that the rod lies along the chord at neutral",
    ("LinkagePart", "servo travel"): "estimate: 60 deg each way",
    ("LinkagePart", "rod play"): "estimate: 0.1 mm",
    ("LinkagePart", "gear play"): "estimate: 0.3 deg",
    ("HalfLinkagePart", "rod side"): "estimate: below",
    ("HalfLinkagePart", "other half"): "as this one",
    ("RudderLinkagePart", "rod side"): "estimate: right",
    **{("LinkageChange", key): "as on this half" for key in (
        "servo arm", "horn height", "horn offset", "arm neutral", "servo to hinge", "rod length", "hinge height",
        "servo travel", "rod play", "gear play")},
    ("ShaftChange", "at"): "the airframe's",
    ("ShaftChange", "down"): "the airframe's",
    ("ShaftChange", "right"): "the airframe's",
}  # fmt: skip
EXAMPLES_FROM = ("precision", "corrie-310-precision")
# what single values say, and checks between fields, which are written beside the fields
OF_VALUES = ("units", "fields")
HEAD = f"""\
# The files of a plane

Made from the schema by `python -m models.pages > models/FILES.md`. For editors: `upline schema setup --out setup.json`.

A setup, an airframe and a blade family are a YAML file each. They are named by the name of a built-in one, or by a path
that ends in .yaml (or .yml, or that has a / in it), which is relative to the file that it stands in.

* A value carries its unit: "152 mm", "62 oz", "28 deg". Also read: fractions ("14 1/2 in"), two units ("5 lb 6 oz").
* A "~" ahead of a number ("~620 g") says that it is an estimate; `upline balance` tells what that leaves open.
* Stations are x aft of the wing root leading edge, y to the right, z up.
* "Left out" says what holds where a key is left out; "needed" keys may not be. Estimates are listed by `upline balance`.
* A setup may build on another with `from:`. It then has only what differs. Groups are put together down to single values,
  lists are replaced whole, and `none` takes away what the other has. `name` and `about` are never taken over. At most
  {bases.DEEPEST} setups build on one another.
* A file has at most 1 MiB, {nodes.DEEPEST} levels and {nodes.MOST_NODES} values, no tabs before a key, no tags, anchors,
  aliases, and each key once."""


def page() -> str:
    """The page as Markdown."""
    examples = _examples()
    lines = [HEAD]
    done: set[type] = set()
    for kind, model in document_schemas().items():
        lines += ["", f"## {kind[:1].upper()}{kind[1:]}"]
        for path, group in groups_of(model, ()):
            if group in done:
                continue
            done.add(group)
            if path:
                lines += ["", f"### `{' > '.join(path)}`"]
            lines += ["", _plain(group.__doc__), "", *key_table(group, examples)]
    return "\n".join([*lines, *_units(), *_messages()]) + "\n"


def key_table(
    group: type[BaseModel],
    examples: dict[tuple[type, str], str],
    holds: dict[tuple[str, str], str] = LEFT_OUT,
    what: dict[tuple[str, str], str] | None = None,
) -> list[str]:
    """A row for every key of `group`; `what` it is and what `holds` where it is left out by names of group and key, where the
    schema does not say."""
    lines = ["| key | what it is | written | left out | example |", "|---|---|---|---|---|"]
    for name, info in group.model_fields.items():
        key = info.alias or name
        cells = (
            f"`{key}`",
            (what or {}).get((group.__name__, key))
            or info.description
            or getattr(kind_of(info), "description", "")
            or "",
            written_as(info),
            left_out(group, name, info, holds),
            examples.get((group, key), ""),
        )
        lines.append("| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |")
    return lines


def written_as(info: FieldInfo) -> str:
    """What may stand behind a key, in words."""
    kind = kind_of(info)
    below = list(_below(info.annotation))
    if below:
        what = "one of the groups below" if len(below) > 1 else "a group, below"
        many = _many(info)
        return {"list": f"a list of groups, below{_bounds(info)}", "dict": f"{what}, for each name"}.get(many, what)
    words = {
        Quantity: lambda k: k.words,
        Count: lambda k: str(k.least) if k.least == k.most else f"a whole number from {k.least} to {k.most}",
        YesNo: lambda k: "yes or no",
        OneOf: lambda k: " or ".join(k.words),
        Text: lambda k: f"text of {k.least} to {k.longest} characters",
        PlainName: lambda k: f"a-z, 0-9 and hyphens, at most {k.longest}",
        CentreOfGravity: lambda k: "a share or a distance",
        PropellerSize: lambda k: "two or three numbers",
    }
    one = next(
        (text(kind) for type_, text in words.items() if isinstance(kind, type_)), getattr(kind, "description", "")
    )
    many = _many(info)
    return {"list": f"a list{_bounds(info)}: {one}", "dict": f"for each name: {one}", "point": f"three: {one}"}.get(
        many, one
    )


def left_out(group: type[BaseModel], name: str, info: FieldInfo, holds: dict[tuple[str, str], str] = LEFT_OUT) -> str:
    """What holds where a key is left out."""
    if info.is_required():
        return "needed"
    key = info.alias or name
    for form in group.__mro__:  # a form of a group is left out as that which it is a form of
        if (form.__name__, key) in holds:
            return holds[form.__name__, key]
    if info.default in (None, (), "") or not isinstance(info.default, float | int | str | tuple):
        return "-"
    return as_written(info.default, kind_of(info))


def _many(info: FieldInfo) -> str:
    """Whether a field is a list, a group by name, or a point."""
    for annotation in _parts(info.annotation):
        origin, arguments = typing.get_origin(annotation), typing.get_args(annotation)
        if origin is dict:
            return "dict"
        if origin is tuple:
            return "list" if Ellipsis in arguments else "" if not _same(arguments) else "point"
    return ""


def _same(arguments: tuple[Any, ...]) -> bool:
    return len({str(argument) for argument in arguments}) == 1


def _bounds(info: FieldInfo) -> str:
    least = next((m.min_length for m in info.metadata if hasattr(m, "min_length")), None)
    most = next((m.max_length for m in info.metadata if hasattr(m, "max_length")), None)
    if least and most:
        return f", {least} to {most}"
    return f", at most {most}" if most else ""


def _parts(annotation: Any) -> Iterator[Any]:
    """An annotation and those within it, through `Annotated` and `| None`."""
    yield annotation
    if typing.get_origin(annotation) not in (dict, tuple, list):
        for argument in typing.get_args(annotation):
            yield from _parts(argument)


def _below(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for argument in typing.get_args(annotation):
        yield from _below(argument)


def groups_of(model: type[BaseModel], path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], type[BaseModel]]]:
    """Every group of keys with where it stands, each before those within it."""
    yield path, model
    for name, info in model.model_fields.items():
        for group in _below(info.annotation):
            yield from groups_of(group, (*path, info.alias or name))


def _examples() -> dict[tuple[type, str], str]:
    """The first value that a built-in file has for a key of a group."""
    found: dict[tuple[type, str], str] = {}
    for setup in EXAMPLES_FROM:
        for read in load(setup).documents.values():
            collect(read.value, read.tree.data, found)
    return found


def collect(value: Any, data: Any, found: dict[tuple[type, str], str]) -> None:
    """Add to `found` what the document `value`, whose file says `data`, has for each key of a group, the first that has one."""
    if isinstance(value, BaseModel):
        for name, info in type(value).model_fields.items():
            key = info.alias or name
            here = data.get(key) if isinstance(data, dict) else None
            if isinstance(here, str):
                found.setdefault((type(value), key), f"`{' '.join(here.split())}`")
            elif isinstance(here, list) and all(isinstance(part, str) for part in here):
                found.setdefault((type(value), key), f"`[{', '.join(here)}]`")
            collect(getattr(value, name), here, found)
    elif isinstance(value, dict):
        for key, part in value.items():
            collect(part, data.get(key) if isinstance(data, dict) else None, found)
    elif isinstance(value, tuple) and isinstance(data, list):
        for part, below in zip(value, data):
            collect(part, below, found)


def _plain(text: str | None) -> str:
    return " ".join((text or "").split())


def _units() -> list[str]:
    lines = ["", "## Units", "", "| quantity | units | also spelt | sample |", "|---|---|---|---|"]
    for name, kind in DIMENSIONS.items():
        units = ", ".join(u for u in (*kind.units, *kind.inverse) if u not in kind.rare) or "none"
        aliases = ", ".join(f"{alias} ({unit})" for alias, unit in kind.aliases.items())
        lines.append(
            f"| {name}{', also plain' if kind.bare and kind.units else ''} | {units} | {aliases} | `{kind.sample}` |"
        )
    pairs = ", ".join(f"{big} and {small}" for big, (small, _) in SMALLER.items())
    return [*lines, "", f"One behind the other: {pairs}. The degree, micro, ohm and square signs are read too."]


def _messages() -> list[str]:
    """The catalogue, and what stands in the sources of fields and schemas."""
    lines = [
        "", "## What is said about a wrong file", "",
        "Every message is `FILE:LINE:COLUMN: KEY > KEY: found ...; allowed: ...; try: ...`, up to ten at once, one for a"
        " field, and ends the command with exit code 2. Words in braces, and dots, are filled in.",
        "", "| name | found | allowed | try |", "|---|---|---|---|",
    ]  # fmt: skip
    lines += [
        f"| {name} | {m.found} | {m.allowed} | {m.advice} |".replace("|  |", "| |") for name, m in CATALOGUE.items()
    ]
    modules = sorted(path.stem for path in Path(__file__).parent.glob("*.py"))
    between = [name for name in modules if name.endswith("schema") or name == "linkages"]
    for title, modules in (("Single values", OF_VALUES), ("Between fields", between)):
        rows = [row for module in modules for row in _refusals(module)]
        lines += ["", f"### {title}", "", "| found | allowed | try |", "|---|---|---|"]
        lines += [f"| {' | '.join(row)} |".replace("|  |", "| |") for row in dict.fromkeys(rows)]
    return lines


def _refusals(module: str) -> list[tuple[str, str, str]]:
    """The parts of every refusal in the source of a module, in its order."""
    tree = ast.parse(Path(__file__).with_name(f"{module}.py").read_text(encoding="utf-8"))
    rows = {}
    for function in (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)):
        texts: dict[str, ast.expr] = {}  # what a local name stands for
        for node in sorted((n for n in ast.walk(function) if hasattr(n, "lineno")), key=lambda n: n.lineno):
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
                texts[node.targets[0].id] = node.value
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Refused":
                parts = [_template(texts.get(p.id, p) if isinstance(p, ast.Name) else p) for p in node.args]
                rows[node.lineno, node.col_offset] = (*parts, "", "")[:3]
    return [row for _, row in sorted(rows.items()) if row[:2] != ("...", "...")]


def _template(node: ast.expr) -> str:
    """A text in the source, with dots for what is computed."""
    if isinstance(node, ast.Constant):
        text = str(node.value)
    elif isinstance(node, ast.JoinedStr):
        text = "".join(str(part.value) if isinstance(part, ast.Constant) else "..." for part in node.values)
    else:
        text = "..."
    return " ".join(text.replace("|", "/").split())


if __name__ == "__main__":
    print(page(), end="")
