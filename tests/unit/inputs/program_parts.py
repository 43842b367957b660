"""Plain programs taken as toolpaths, for the tests of their reader, layout and motion."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from steadyrest.inputs import Input, PartOptions, take
from steadyrest.notices import Notice
from steadyrest.toolpath import FlatTool, Operation, Toolpath

START = "G21 G17 G90 G94 G40 G49 G80 G54\nT3 M6\nS3000 M3\n"
TOOLS = (FlatTool(number=3, shape="flat", diameter=6.0), FlatTool(number=4, shape="flat", diameter=4.0))


def toolpath_of(
    tmp_path: Path, body: str, notices: list[Notice] | None = None, *, start: str = START, axis: Any = None, **options: Any
) -> Toolpath:
    file = tmp_path / "face.nc"
    file.write_text(f"{start}{body}M2\n")
    part = PartOptions(clearance=200.0, tools=TOOLS, axis=axis)
    return take([Input(file=file, **options)], part, notices)


def moves_of(operation: Operation) -> list[dict[str, Any]]:
    return [move.model_dump(exclude_defaults=True) for move in operation.moves or ()]
