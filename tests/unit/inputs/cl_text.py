"""CL data for tests: a head that sets everything, and what a body of statements becomes."""

from __future__ import annotations

from typing import Any

from steadyrest.inputs.cl import cl_piece
from steadyrest.inputs.options import InputOptions, PartOptions
from steadyrest.inputs.readers import Piece

HEAD = "UNITS/MM\nLOADTL/3\nCUTTER/6\nSPINDL/8000,RPM,CLW\nFEDRAT/900,PERMIN\n"


def piece_of(body: str, *, head: str = HEAD, tail: str = "FINI\n", part: PartOptions | None = None, **options: Any) -> Piece:
    text = head + body + ("" if body.endswith("\n") else "\n") + tail
    return cl_piece(text.encode(), "part.cl", InputOptions(**options), part if part is not None else PartOptions())


def operations_of(body: str, **options: Any) -> list[Any]:
    return list(piece_of(body, **options).operations)


def moves_of(body: str, **options: Any) -> list[Any]:
    """The moves of the only operation."""
    (operation,) = operations_of(body, **options)
    moves: list[Any] = operation["moves"]
    return moves
