"""Several inputs as one toolpath, in the order given."""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Any

from steadyrest.errors import InputError, Place, PluginError, SteadyrestError
from steadyrest.inputs.options import Input, InputOptions, PartOptions
from steadyrest.inputs.readers import Piece, Reader, Told, bundled, in_units, reader_for, unheard
from steadyrest.notices import Notice, noticed
from steadyrest.progress import TAKING, Progress, Work
from steadyrest.toolpath import RoundStock, Toolpath, Wrapped, parse_toolpath

SAME = 1e-6
"""How far two statements of one length may differ, in file units: finer than any least increment."""
SAME_DIAMETER = 1e-4
"""How far a wrap's diameter may differ from the stock's, as a part of it: the last digit of what is measured and typed in."""
HALF = 0.02
"""How close to one half the ratio of two diameters has to be to look like a radius taken for a diameter."""

Pieces = Sequence[tuple[Piece, str]]
"""Inputs in one unit, in their order, each with its file."""


def take(
    inputs: Sequence[Input], options: PartOptions | None = None, notices: list[Notice] | None = None, *, progress: Progress | None = None
) -> Toolpath:
    """One neutral toolpath from inputs of any readable kind, in their order.

    options    what is said about the part (stock, axis, centre, tools, units): it goes before what inputs say
    notices    what was changed or left out on the way is added to this list
    progress   is told how much of the files is read
    raises     InputError, or one of its kind (ToolpathError, ProgramError): file, line, statement, what is allowed, and the cure
    """
    part = options if options is not None else PartOptions()
    if not inputs:
        raise InputError("no input is given", cure="name at least one file")
    pieces: list[tuple[Piece, str]] = []
    sizes = sizes_of(inputs)
    work = Work(progress, TAKING, sum(sizes))
    for each, size in zip(inputs, sizes, strict=True):
        piece = read_piece(each.file, each, part, within(work, size))
        part = part if part.units else part.model_copy(update={"units": piece.units})
        pieces.append((in_units(piece, part.units or piece.units), str(each.file)))
    work.end()
    toolpath = joined(pieces, part)
    if notices is not None:
        found = [notice for piece, _ in pieces for notice in piece.notices] + _other_cylinders(toolpath)
        notices += [notice for at, notice in enumerate(found) if notice not in found[:at]]  # a file may be there twice
    return toolpath


def sizes_of(inputs: Sequence[Input]) -> list[int]:
    """The bytes of each file; none of one that is not there."""
    return [os.path.getsize(each.file) if os.path.isfile(each.file) else 0 for each in inputs]


def within(work: Work, size: int) -> Told:
    """What the reader of the next file, of so many bytes, tells: how far it is, of how much, in whatever it counts."""
    before = work.done

    def told(done: int, whole: int) -> None:
        work.to(before + size * done // max(whole, 1))

    return told


def read_piece(path: Path, options: InputOptions, part: PartOptions, told: Told = unheard) -> Piece:
    """One input as a piece, by the reader that its kind calls for; `told` hears now and then how far it is, and that it is done."""
    reader = reader_for(path, options)
    try:
        piece = reader.read(path, options, part, told) if reader.tells else reader.read(path, options, part)
        told(1, 1)
    except SteadyrestError as error:
        error.place = error.place.within(str(path))
        raise
    except (KeyboardInterrupt, MemoryError):
        raise
    except BaseException as error:
        if reader not in bundled():  # a package may raise anything
            raise _broken_reader(reader, path, f"{type(error).__name__}: {error}") from error
        if not isinstance(error, OSError):
            raise
        wrong, cure = f"cannot be read: {error.strerror}", "check the name and the permissions"
        raise InputError(wrong, place=Place(file=str(path)), cure=cure) from None
    if not isinstance(piece, Piece):
        raise _broken_reader(reader, path, f"it gives {type(piece).__name__}, and not a steadyrest.inputs.Piece")
    return piece


def _broken_reader(reader: Reader, path: Path, wrong: str) -> PluginError:
    return PluginError(
        f"the reader '{reader.kind}' of an installed package fails: {wrong}",
        place=Place(file=str(path)),
        cure="repair the package, or name another reader with --kind",
    )


def joined(pieces: Pieces, part: PartOptions) -> Toolpath:
    """Inputs in one unit as one toolpath. InputError where they contradict each other, or what all need is said by none."""
    stated = _stated(pieces, part)
    given = {tool.number: tool.model_dump(exclude_none=True) for tool in part.tools}
    tools = _tools(pieces, given) | given
    used, names, _ = used_tools(pieces, part)
    for number in tools.keys() & names.keys():
        tools[number] = {**tools[number], "name": tools[number].get("name") or names[number]}
    operations = [operation for piece, _ in pieces for operation in piece.operations]
    clearances = [piece.clearance for piece, _ in pieces if piece.clearance is not None]
    data: dict[str, Any] = {
        "steadyrest_toolpath": 1,
        "name": part.name or next((piece.name for piece, _ in pieces if piece.name), ""),
        "units": part.units,
        "axis": part.axis or stated.get("axis", "X"),
        "centre": part.centre or stated.get("centre", (0.0, 0.0, 0.0)),
        "stock": part.stock or stated.get("stock"),
        "clearance": part.clearance if part.clearance is not None else max(clearances, default=None),
        "tools": [tools[number] for number in sorted(tools) if number in used],
        "operations": operations,
    }
    place = Place(file=pieces[0][1] if len(pieces) == 1 else None)
    if data["stock"] is None and data["clearance"] is None:
        raise InputError(
            "no stock is given, in none of the inputs, so nobody knows how far the turning part reaches",
            place=place,
            cure="give --stock round,diameter=40,from=-90,to=0 (in a job file: [stock]), or --clearance, the distance from the axis "
            "beyond which nothing turns",
        )
    if missing := sorted(used - tools.keys()):
        raise _missing_tools([(number, names.get(number, "")) for number in missing], data["units"], place)
    return parse_toolpath({key: value for key, value in data.items() if value is not None})


def used_tools(pieces: Pieces, part: PartOptions) -> tuple[set[int], dict[int, str], set[int]]:
    """The numbers of the tools that operations use, the names that inputs have for tools, and the numbers of those that are described."""
    used = {each["tool"] if isinstance(each, Mapping) else each.tool for piece, _ in pieces for each in piece.operations}
    names = {number: name for piece, _ in reversed(pieces) for number, name in piece.tool_names.items()}
    return used, names, {tool.number for tool in part.tools}.union(*(piece.tools for piece, _ in pieces))


def _stated(pieces: Pieces, part: PartOptions) -> dict[str, Any]:
    """Axis, centre and stock as the input that says them first says them; InputError where another, or the part, says otherwise."""
    first: dict[str, tuple[Any, str]] = {}
    for piece, file in pieces:
        if piece.axis is not None and part.axis not in (None, piece.axis):
            raise InputError(
                f"this toolpath turns about {piece.axis}, but the axis given for the part is {part.axis}",
                place=Place(file=file),
                cure="leave the axis out, or make the toolpath for the other axis",
            )
        for what, said in (("axis", piece.axis), ("centre", piece.centre), ("stock", piece.stock if part.stock is None else None)):
            if said is None:
                continue
            held, where = first.setdefault(what, (said, file))
            if what == "centre" and part.centre is not None:
                held, where = part.centre, "the settings of the part"
            if max(abs(a - b) for a, b in zip(held, said, strict=True)) > SAME if what == "centre" else held != said:
                raise InputError(
                    f"the {what} is {said} here, but {held} in {where}",
                    place=Place(file=file),
                    cure=f"give the {what} once for the part; it then holds for all inputs",
                )
    return {what: said for what, (said, _) in first.items()}


def _tools(pieces: Pieces, given: Collection[int]) -> dict[int, Mapping[str, Any]]:
    """The tools that inputs describe, by number, of several descriptions the fullest; those given for the part need not be the same."""
    found: dict[int, Mapping[str, Any]] = {}
    files: dict[int, str] = {}
    for piece, file in pieces:
        for number, tool in piece.tools.items():
            known = found.setdefault(number, tool)
            if number not in given and not _same_tool(known, tool):
                raise InputError(
                    f"tool {number} here differs from tool {number} in {files[number]}",
                    place=Place(file=file),
                    cure="give each tool its own number, or describe the tool once for the part",
                )
            found[number] = max(known, tool, key=len)
            files.setdefault(number, file)
    return found


def _same_tool(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """What both say is the same; what only one says does not matter, nor what the tool is called."""
    pairs = [(one[key], other[key]) for key in (one.keys() & other.keys()) - {"name"}]
    return all(a == b or (isinstance(a, int | float) and isinstance(b, int | float) and abs(a - b) <= SAME) for a, b in pairs)


def _missing_tools(missing: Sequence[tuple[int, str]], units: str, place: Place) -> InputError:
    """All of them at once, with a line to copy for each shape. `missing`: numbers and names, where they have one."""
    named, *others = (f"{number} ({name})" if name else str(number) for number, name in missing)
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
        place=place,
        cure=f"give one of these for each tool, with its own number and sizes in {units} (in a job file under [[tools]]; in CL data "
        "CUTTER/diameter after LOADTL):" + "".join(f"\n    --tool-shape {missing[0][0]}={shape}" for shape in shapes),
    )


def _other_cylinders(toolpath: Toolpath) -> list[Notice]:
    """Operations that are wrapped round another diameter than a round stock's; one for each diameter."""
    found: dict[float, Notice] = {}
    round_stock = toolpath.stock.diameter if isinstance(toolpath.stock, RoundStock) else None
    for number, operation in enumerate(toolpath.operations, 1):
        if round_stock is None or not isinstance(operation.rotary, Wrapped):
            continue
        diameter = operation.rotary.diameter
        if abs(diameter - round_stock) <= SAME_DIAMETER * round_stock or diameter in found:
            continue
        asked = "; is that the radius for the diameter?" if abs(diameter / round_stock - 0.5) < HALF else ""
        asked = "; is the stock's diameter its radius?" if abs(round_stock / diameter - 0.5) < HALF else asked
        what, where = repr(operation.name) if operation.name else "an operation", "outside" if diameter > round_stock else "inside"
        facts = {"diameter": diameter, "stock": round_stock, "units": toolpath.units, "apart": abs(diameter - round_stock) / 2}
        found[diameter] = noticed("NotTheStocksCylinder", Place(operation=number), what=what, where=where, asked=asked, **facts)
    return list(found.values())
