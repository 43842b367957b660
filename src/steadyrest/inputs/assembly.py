"""Several inputs as one toolpath, in the order given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from steadyrest.errors import InputError, Place, PluginError, SteadyrestError
from steadyrest.inputs.changes import NotTheStocksCylinder
from steadyrest.inputs.options import Input, InputOptions, PartOptions
from steadyrest.inputs.readers import Piece, Reader, bundled, reader_for
from steadyrest.inputs.units import in_units
from steadyrest.notices import Notice
from steadyrest.toolpath import RoundStock, Toolpath, Wrapped, parse_toolpath

SAME = 1e-6
"""How far two statements of one length may differ, in file units: finer than any least increment."""
SAME_DIAMETER = 1e-4
"""How far a wrap's diameter may differ from the stock's, as a part of it: the last digit of what is measured and typed in."""


@dataclass(slots=True)
class _Whole:
    """What is joined so far. `first`: axis, centre, stock and tools as the input that said them first says them, and its file."""

    units: str = ""
    name: str = ""
    first: dict[str, tuple[Any, str]] = field(default_factory=dict)
    clearance: float | None = None
    tools: dict[int, Mapping[str, Any]] = field(default_factory=dict)
    tool_files: dict[int, str] = field(default_factory=dict)
    tool_names: dict[int, str] = field(default_factory=dict)
    operations: list[Any] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)


def assembled(inputs: Sequence[Input], part: PartOptions, notices: list[Notice] | None = None) -> Toolpath:
    """One toolpath from inputs, in their order.

    part       what is said about the part: it goes before what inputs say
    notices    what was changed or left out is added to this list
    raises     InputError, or one of its kind, with file and place; never part of a toolpath
    """
    if not inputs:
        raise InputError("no input is given", cure="name at least one file")
    whole = _Whole()
    for each in inputs:
        piece = read_piece(each.file, each, part)
        if not whole.units:
            whole.units = part.units or piece.units
            part = part.model_copy(update={"units": whole.units})
        _add(whole, in_units(piece, whole.units), str(each.file), part)
    toolpath = _toolpath(whole, part, str(inputs[0].file) if len(inputs) == 1 else None)
    if notices is not None:
        notices += whole.notices
    return toolpath


def read_piece(path: Path, options: InputOptions, part: PartOptions) -> Piece:
    """One input as a piece, by the reader that its kind calls for."""
    reader = reader_for(path, options)
    try:
        piece = reader.read(path, options, part)
    except SteadyrestError as error:
        error.place = error.place.within(str(path))
        raise
    except (KeyboardInterrupt, MemoryError):
        raise
    except BaseException as error:
        if reader in bundled():
            raise
        raise _broken_reader(reader, path, f"{type(error).__name__}: {error}") from error  # a package may raise anything
    if not isinstance(piece, Piece):
        raise _broken_reader(reader, path, f"it gives {type(piece).__name__}, and not a steadyrest.inputs.Piece")
    return piece


def _broken_reader(reader: Reader, path: Path, wrong: str) -> PluginError:
    return PluginError(
        f"the reader '{reader.kind}' of an installed package fails: {wrong}",
        place=Place(file=str(path)),
        cure="repair the package, or name another reader with --kind",
    )


def _add(whole: _Whole, piece: Piece, file: str, part: PartOptions) -> None:
    if piece.axis is not None and part.axis not in (None, piece.axis):
        raise InputError(
            f"this toolpath turns about {piece.axis}, but the axis given for the part is {part.axis}",
            place=Place(file=file),
            cure="leave the axis out, or make the toolpath for the other axis",
        )
    whole.name = whole.name or piece.name
    for what, said in (("axis", piece.axis), ("centre", piece.centre), ("stock", piece.stock if part.stock is None else None)):
        if said is None:
            continue
        stated = (part.centre, "the settings of the part") if what == "centre" and part.centre is not None else None
        held, first = stated or whole.first.get(what, (said, file))
        if max(abs(a - b) for a, b in zip(held, said, strict=True)) > SAME if what == "centre" else held != said:
            raise InputError(
                f"the {what} is {said} here, but {held} in {first}",
                place=Place(file=file),
                cure=f"give the {what} once for the part; it then holds for all inputs",
            )
        whole.first.setdefault(what, (said, file))
    if piece.clearance is not None:
        whole.clearance = max(piece.clearance, whole.clearance or 0.0)
    mine = {tool.number for tool in part.tools}
    for number, tool in piece.tools.items():
        if number in mine:
            continue
        known = whole.tools.get(number)
        if known is not None and not _same_tool(known, tool):
            raise InputError(
                f"tool {number} here differs from tool {number} in {whole.tool_files[number]}",
                place=Place(file=file),
                cure="give each tool its own number, or describe the tool once for the part",
            )
        if known is None or len(tool) > len(known):
            whole.tools[number] = tool
        whole.tool_files.setdefault(number, file)
    whole.tool_names = {**piece.tool_names, **whole.tool_names}
    whole.operations += piece.operations
    whole.notices += [notice for notice in piece.notices if notice not in whole.notices]  # a file may be there twice


def _same_tool(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """What both say is the same; what only one says does not matter, nor what the tool is called."""
    for key in (one.keys() & other.keys()) - {"name"}:
        a, b = one[key], other[key]
        if a != b and not (isinstance(a, int | float) and isinstance(b, int | float) and abs(a - b) <= SAME):
            return False
    return True


def _toolpath(whole: _Whole, part: PartOptions, file: str | None) -> Toolpath:
    used = {operation["tool"] if isinstance(operation, Mapping) else operation.tool for operation in whole.operations}
    tools = {tool.number: tool.model_dump(exclude_none=True) for tool in part.tools} | whole.tools
    for number in tools.keys() & whole.tool_names.keys():
        tools[number] = {**tools[number], "name": tools[number].get("name") or whole.tool_names[number]}
    said = {what: held for what, (held, _) in whole.first.items()}
    data: dict[str, Any] = {
        "steadyrest_toolpath": 1,
        "name": part.name or whole.name,
        "units": whole.units,
        "axis": part.axis or said.get("axis", "X"),
        "centre": part.centre or said.get("centre", (0.0, 0.0, 0.0)),
        "stock": part.stock or said.get("stock"),
        "clearance": part.clearance if part.clearance is not None else whole.clearance,
        "tools": [tools[number] for number in sorted(tools) if number in used],
        "operations": whole.operations,
    }
    if data["stock"] is None and data["clearance"] is None:
        raise InputError(
            "no stock is given, in none of the inputs, so nobody knows how far the turning part reaches",
            place=Place(file=file),
            cure="give --stock round,diameter=40,from=-90,to=0 (in a job file: [stock]), or --clearance, the distance from the axis "
            "beyond which nothing turns",
        )
    if missing := sorted(used - tools.keys()):
        raise _missing_tools(missing, whole, file)
    toolpath = parse_toolpath({key: value for key, value in data.items() if value is not None})
    whole.notices += _other_cylinders(toolpath)
    return toolpath


def _missing_tools(missing: Sequence[int], whole: _Whole, file: str | None) -> InputError:
    """All of them at once, with a line to copy for each shape."""
    units, first, names = whole.units, missing[0], whole.tool_names
    named, *others = (f"{number} ({names[number]})" if names.get(number) else str(number) for number in missing)
    size, corner = ("0.25", "0.03") if units == "inch" else ("6", "1")
    shapes = (
        f"flat,diameter={size}",
        f"ball,diameter={size}",
        f"bullnose,diameter={size},corner_radius={corner}",
        f"drill,diameter={size},point_angle=118",
        f"chamfer,diameter={size},tip_diameter=0,included_angle=90",
    )
    listed = f"tools {', '.join([named, *others[:-1]])} and {others[-1]} are" if others else f"tool {named} is"
    return InputError(
        f"{listed} used, but {'their' if others else 'its'} shape and size are not given",
        place=Place(file=file),
        cure=f"give one of these for each tool, with its own number and sizes in {units} (in a job file under [[tools]]; in CL data "
        "CUTTER/diameter after LOADTL):" + "".join(f"\n    --tool-shape {first}={shape}" for shape in shapes),
    )


def _other_cylinders(toolpath: Toolpath) -> list[Notice]:
    """Operations that are wrapped round another diameter than a round stock's; one for each diameter."""
    stock = toolpath.stock
    if not isinstance(stock, RoundStock):
        return []
    found: dict[float, Notice] = {}
    for number, operation in enumerate(toolpath.operations, 1):
        rotary = operation.rotary
        if isinstance(rotary, Wrapped) and abs(rotary.diameter - stock.diameter) > SAME_DIAMETER * stock.diameter:
            notice = NotTheStocksCylinder.of(Place(operation=number), operation.name, rotary.diameter, stock.diameter, toolpath.units)
            found.setdefault(rotary.diameter, notice)
    return list(found.values())
