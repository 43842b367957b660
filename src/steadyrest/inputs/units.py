"""A piece in one unit of length as one in the other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from steadyrest.conventions import MM_PER_INCH
from steadyrest.errors import Place
from steadyrest.inputs.readers import Piece
from steadyrest.toolpath import Operation, RectangularStock, RoundStock, Table

DECIMALS = 10
"""Converted lengths are written to 1e-10: what was 0.5 inch is 0.5 inch again."""
_LENGTHS = {
    "tools": {"diameter", "cutting_length", "length", "corner_radius", "tip_diameter"},
    "operations": {"rapid", "cut", "arc", "centre", "hole", "retract", "bottom", "peck", "pitch", "feed", "diameter"},
    "stock": {"diameter", "across", "from", "to", "offset", "length"},
}
"""Per part of a piece: the keys under which lengths and feeds stand; a tap's lead and a tool's numbers of edges stay out by their names."""
_COLUMNS = ("x", "y", "z", "feed")


def in_units(piece: Piece, units: str) -> Piece:
    """The same piece with every length and feed in `units`, mm or inch. A long table is converted while it is read."""
    if piece.units == units:
        return piece
    factor = MM_PER_INCH if units == "mm" else 1 / MM_PER_INCH
    stock = piece.stock
    return replace(
        piece,
        units=units,
        tools=_scaled(piece.tools, "tools", factor),
        operations=tuple(_scaled(operation, "operations", factor) for operation in piece.operations),
        centre=None if piece.centre is None else _scaled(piece.centre, "stock", factor, length=True),
        stock=None if stock is None else type(stock).model_validate(_scaled(stock, "stock", factor)),
        clearance=None if piece.clearance is None else piece.clearance * factor,
    )


def _scaled(value: Any, part: str, factor: float, *, length: bool = False) -> Any:
    """A part of a piece as plain objects, its lengths times the factor."""
    if isinstance(value, Operation | RoundStock | RectangularStock):
        table = getattr(value, "table", None)
        value = value.model_dump(by_alias=True, exclude_none=True, exclude={"table"}) | ({"table": table} if table is not None else {})
    if isinstance(value, Table):
        return _table(value, factor)
    if isinstance(value, Mapping):
        return {key: _scaled(each, part, factor, length=key in _LENGTHS[part]) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_scaled(each, part, factor, length=length) for each in value]
    return round(value * factor, DECIMALS) if length else value


def _table(table: Table, factor: float) -> Table:
    def read(place: Place) -> Iterator[dict[str, Any]]:
        for block in table.blocks(place):
            yield {name: np.round(column * factor, DECIMALS) if name in _COLUMNS else column for name, column in block.items()}

    return Table(read, in_memory=table.in_memory)
