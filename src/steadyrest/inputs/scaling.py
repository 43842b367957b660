"""How does a piece in one unit of length become one in the other?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from steadyrest.errors import Place
from steadyrest.inputs.model import Piece
from steadyrest.toolpath import Operation, Stock, Table

MM_PER_INCH = 25.4
DECIMALS = 10
"""Converted lengths are written to 1e-10: what was 0.5 inch is 0.5 inch again."""
_TOOL_LENGTHS = ("diameter", "cutting_length", "length", "corner_radius", "tip_diameter")
_MOVE_LENGTHS = ("rapid", "cut", "arc", "centre", "hole", "retract", "bottom", "peck", "pitch", "feed")
_COLUMNS = ("x", "y", "z", "feed")


def in_units(piece: Piece, units: str) -> Piece:
    """The same piece with every length and feed in `units`, mm or inch. A long table is converted while it is read."""
    if piece.units == units:
        return piece
    factor = MM_PER_INCH if units == "mm" else 1 / MM_PER_INCH
    return replace(
        piece,
        units=units,
        tools={number: _scaled(tool, _TOOL_LENGTHS, factor) for number, tool in piece.tools.items()},
        operations=tuple(_operation(operation, factor) for operation in piece.operations),
        centre=None if piece.centre is None else _point(piece.centre, factor),
        stock=None if piece.stock is None else _stock(piece.stock, factor),
        clearance=None if piece.clearance is None else piece.clearance * factor,
    )


def _operation(operation: Mapping[str, Any] | Operation, factor: float) -> Mapping[str, Any]:
    found: dict[str, Any]
    if isinstance(operation, Operation):
        found = operation.model_dump(by_alias=True, exclude_none=True, exclude={"table"})
        if operation.table is not None:
            found["table"] = operation.table
    else:
        found = dict(operation)
    found["rotary"] = _scaled(found["rotary"], ("diameter",), factor)
    if found.get("moves") is not None:
        found["moves"] = [_scaled(move, _MOVE_LENGTHS, factor) for move in found["moves"]]
    if found.get("table") is not None:
        found["table"] = _table(found["table"], factor)
    return found


def _scaled(found: Mapping[str, Any], lengths: tuple[str, ...], factor: float) -> dict[str, Any]:
    """A plain object with these keys scaled; a tap's lead and a tool's numbers of edges stay out of it by their names."""
    return {key: _times(value, factor) if key in lengths else value for key, value in found.items()}


def _times(value: Any, factor: float) -> Any:
    if isinstance(value, list | tuple):
        return [round(each * factor, DECIMALS) for each in value]
    return round(value * factor, DECIMALS)


def _point(point: tuple[float, float, float], factor: float) -> tuple[float, float, float]:
    x, y, z = _times(point, factor)
    return x, y, z


def _table(table: Table, factor: float) -> Table:
    def read(place: Place) -> Iterator[dict[str, Any]]:
        for block in table.blocks(place):
            yield {name: np.round(column * factor, DECIMALS) if name in _COLUMNS else column for name, column in block.items()}

    return Table(read, in_memory=table.in_memory)


def _stock(stock: Stock, factor: float) -> Stock:
    found = stock.model_dump(by_alias=True, exclude_none=True)
    if stock.held is not None:
        found["held"] = _scaled(found["held"], ("length",), factor)
    return type(stock).model_validate(_scaled(found, ("diameter", "across", "from", "to", "offset"), factor))
