"""How does a neutral toolpath become a piece of another one?"""

from __future__ import annotations

import re
from pathlib import Path

from steadyrest.errors import Place, ToolpathError
from steadyrest.inputs.model import Piece, Reader
from steadyrest.inputs.options import PROGRAMS_ONLY, InputOptions, PartOptions, first_said
from steadyrest.toolpath import load_toolpath

_BEGINS = re.compile(rb"\s*\{")


def recognises(head: bytes) -> bool:
    """Whether these first bytes of a file are a JSON object that may be a toolpath."""
    return _BEGINS.match(head.removeprefix(b"\xef\xbb\xbf")) is not None


def read_neutral(path: Path, options: InputOptions, part: PartOptions) -> Piece:
    """A toolpath file as a piece; ToolpathError as from load_toolpath, or for an option that it has no use for."""
    name = first_said(options, (*PROGRAMS_ONLY, "words", "units"))
    if name is not None:
        raise ToolpathError(
            f"'{name}' is said about a neutral toolpath, which says it itself", place=Place(file=str(path)), cure="leave it out"
        )
    toolpath = load_toolpath(path)
    return Piece(
        name=toolpath.name,
        units=toolpath.units,
        tools={tool.number: tool.model_dump(exclude_none=True) for tool in toolpath.tools},
        operations=toolpath.operations,
        axis=toolpath.axis,
        centre=toolpath.centre,
        stock=toolpath.stock,
        clearance=toolpath.clearance,
    )


NEUTRAL = Reader(
    kind="toolpath",
    speaks="the neutral toolpath of steadyrest, version 1 (JSON)",
    endings=(".json",),
    recognises=recognises,
    read=read_neutral,
)
